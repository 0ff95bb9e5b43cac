"""Who is let in where the jobs are served to others: sessions, how far one is in, and tries."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass
from threading import BoundedSemaphore, Lock
from typing import Final
from urllib.parse import quote

from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Receive, Scope, Send

from bondwright.page.guard import PLAIN, refuse
from bondwright.page.tries import Tries
from bondwright.page.who import KEY
from bondwright.page.wire_people import InAnswer, Stage
from bondwright.store.errors import StoreError
from bondwright.store.factor import check_code, new_secret
from bondwright.store.store import Store
from bondwright.store.users import Known, Role, User, known, let_in

IDLE_S: Final = 8 * 3600.0
"""A session ends when nobody used it for so long, s."""
LONGEST_S: Final = 24 * 3600.0
"""No session is longer, s."""
LOOK_S: Final = 10.0
"""What a session may do is looked up again after so long, s: users are changed elsewhere too."""
MOST_TRIES: Final = 8
"""Wrong passwords and codes for one name in ten minutes: 48 an hour. The address from which a name
was let in last is counted by itself, so that a stranger who tries can't shut its owner out; both
together stay below the 100 an hour of ASVS 4.0, 2.2.1."""
MOST_OF_ADDRESS: Final = 24
"""Wrong passwords from one address, whatever the names: several people may sit behind one."""
_MOST_SESSIONS: Final = 2000
_MOST_OF_ONE: Final = 20
"""Sessions of one person; the one that wasn't used for longest ends where there would be more."""
AT_DOOR: Final = 60
"""Tries that may wait for their turn."""
MOST_ASKED: Final = 65_536
"""Bytes of what may be sent by somebody who isn't in."""
_AT_ONCE: Final = BoundedSemaphore(2)
"""A try costs 32 MiB and a tenth of a second of a processor."""
OPEN: Final = (
    "/login", "/kept", "/static/", "/font.otf", "/house/login", "/house/door", "/house/kept",
)  # fmt: skip
"""What everybody may have: nothing of a job."""
BEFORE_AGREEING: Final = ("/house/agree", "/house/logout")
"""What somebody may have besides who has not agreed to what is kept of them."""
IN: Final = "bondwright.in"
"""Under this the doors leave how far somebody is in, in the scope of a request."""


_NOBODY: Final = User("nobody", Role.LOOK)


class CodeNeededError(PermissionError):
    """The password is right, and the code of the second factor is asked for."""


class WrongCodeError(PermissionError):
    """The password is right, and the code is not."""


@dataclass(frozen=True, slots=True)
class In:
    """How far somebody is in.

    Attributes:
        user: who they are, with what they may do now: who keeps the users may do so with a
            second factor only, and may save until then.
        stage: "agree" where they have to agree to what is kept of them before anything else,
            "factor" where they lack the second factor that they need, else "in".
        wrong_codes: wrong codes that came with their right password before they logged in.
    """

    user: User
    stage: Stage
    wrong_codes: int = 0


def entry_of(scope: Scope) -> In | None:
    """Return how far whoever asks is in, or None where they aren't."""
    found = scope.get(IN)
    return found if isinstance(found, In) else None


def in_answer(found: In | None) -> InAnswer:
    """Say who is in, and how far."""
    return InAnswer() if found is None else InAnswer(who=found.user.name, stage=found.stage)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is kept of somebody in memory.

    Attributes:
        sessions: how many are open.
        address: they were let in from last, or "".
        wrong: tries with their name that count now.
    """

    sessions: int
    address: str
    wrong: int


@dataclass(slots=True)
class _Session:
    known: Known
    began: float
    used: float
    looked: float
    wrong_codes: int = 0
    secret: bytes = b""


class Sessions:
    """Those who are in.

    Args:
        store: has the users.
        clock: seconds that only go up.
        agree_to: mark of the text that everybody has to agree to; "" asks nobody.
    """

    def __init__(
        self, store: Store, clock: Callable[[], float] = time.monotonic, agree_to: str = ""
    ) -> None:
        self._store, self._clock, self._agree_to = store, clock, agree_to
        self._lock = Lock()
        self._open: dict[str, _Session] = {}
        self._last: dict[str, str] = {}
        self._tries = Tries(clock)
        self._wrong_codes: dict[str, int] = {}

    def log_in(self, name: str, password: str, address: str, code: str = "") -> str | None:
        """Let somebody in.

        Returns:
            A token that is told to nobody else, or None where name or password are wrong.

        Raises:
            TooManyError: there were too many wrong ones.
            CodeNeededError: all is right, and they have a second factor: its code is asked for.
            WrongCodeError: all is right but the code.
        """
        found = self.check(name, password, address, code)
        if found is None:
            return None
        with self._lock:
            self._last[name] = address
            wrong = self._wrong_codes.pop(name, 0)
        return self.enter(found, wrong)

    def check(self, name: str, password: str, address: str, code: str = "") -> Known | None:
        """Return who has that name and password, and that code where they have a second factor.

        A wrong code counts as a wrong password does.

        Raises:
            TooManyError: there were too many wrong ones.
            CodeNeededError: a code is needed, and there is none.
            WrongCodeError: the code is wrong, or was used.
        """
        keys = self._keys(name, address)
        self._tries.begin(keys)
        with _AT_ONCE:
            user = let_in(self._store, name, password)
            found = known(self._store, name) if user is not None else None
            if found is None:
                return None
            if found.factor and code and not check_code(self._store, name, code):
                with self._lock:
                    self._wrong_codes[name] = self._wrong_codes.get(name, 0) + 1
                raise WrongCodeError("the code is wrong or was used; wait for the next one")
        self._tries.right(keys)
        if found.factor and not code:
            raise CodeNeededError("the code of your second factor is asked for")
        return found

    def enter(self, found: Known, wrong_codes: int = 0) -> str:
        """Begin a session of somebody who was let in; return its token."""
        token, now, name = secrets.token_urlsafe(32), self._clock(), found.user.name
        with self._lock:
            self._open = {k: s for k, s in self._open.items() if self._lives(s, now)}
            own = [k for k, s in self._open.items() if s.known.user.name == name]
            self._make_room(own, _MOST_OF_ONE)
            self._make_room(list(self._open), _MOST_SESSIONS)
            self._open[_hash(token)] = _Session(found, now, now, now, wrong_codes)
        return token

    def _keys(self, name: str, address: str) -> dict[str, int]:
        usual = self._last.get(name) == address
        return {
            f"address {address}": MOST_OF_ADDRESS,
            f"name {name} from where it was last" if usual else f"name {name}": MOST_TRIES,
        }

    def _make_room(self, keys: list[str], most: int) -> None:
        oldest = sorted(keys, key=lambda k: self._open[k].used)
        for key in oldest[: max(0, len(oldest) - most + 1)]:
            del self._open[key]

    def user(self, token: str) -> User | None:
        """Return whose token it is, with what they may do now."""
        found = self.entry(token)
        return found.user if found is not None else None

    def entry(self, token: str) -> In | None:
        """Return whose token it is, and how far they are in."""
        key, now = _hash(token), self._clock()
        with self._lock:
            session = self._open.get(key)
            if session is None or not self._lives(session, now):
                self._open.pop(key, None)
                return None
            session.used = now
            fresh = now - session.looked < LOOK_S
        if not fresh:
            found = known(self._store, session.known.user.name)
            with self._lock:
                if found is None or found.mark != session.known.mark:
                    self._open.pop(key, None)
                    return None
                session.known, session.looked = found, now
        return self._far(session)

    def _far(self, session: _Session) -> In:
        user, has = session.known.user, session.known.factor
        lacks = user.role is Role.KEEP and not has
        if lacks:
            user = User(user.name, Role.EDIT)
        if self._agree_to and session.known.agreed_to != self._agree_to:
            return In(user, "agree")
        return In(user, "factor" if lacks else "in", session.wrong_codes)

    def new_secret(self, token: str) -> bytes:
        """Return a secret for an app, which this session may set up as a second factor."""
        secret = new_secret()
        with self._lock:
            if session := self._open.get(_hash(token)):
                session.secret = secret
        return secret

    def secret(self, token: str) -> bytes:
        """Return the secret that this session may set up, or none."""
        with self._lock:
            session = self._open.get(_hash(token))
            return session.secret if session is not None else b""

    def log_out(self, token: str) -> None:
        """End a session."""
        with self._lock:
            self._open.pop(_hash(token), None)

    def end(self, name: str) -> None:
        """End all sessions of somebody."""
        with self._lock:
            self._open = {k: s for k, s in self._open.items() if s.known.user.name != name}

    def forget(self, name: str) -> None:
        """End the sessions of somebody who is let in no more, and keep nothing of them."""
        self.end(name)
        with self._lock:
            self._last.pop(name, None)
            self._wrong_codes.pop(name, None)

    def of(self, name: str) -> Memory:
        """Return what is kept of somebody in memory."""
        wrong = self._tries.count([f"name {name}", f"name {name} from where it was last"])
        with self._lock:
            open_ = sum(s.known.user.name == name for s in self._open.values())
            return Memory(open_, self._last.get(name, ""), wrong)

    def look_again(self) -> None:
        """Look up what everybody may do before they do anything more."""
        with self._lock:
            for session in self._open.values():
                session.looked = -LOOK_S

    @staticmethod
    def _lives(session: _Session, now: float) -> bool:
        return now - session.used < IDLE_S and now - session.began < LONGEST_S


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


class Doors:
    """Lets nobody in who hasn't logged in, and says who asks to what is behind.

    Args:
        app: what is behind.
        sessions: those who are in.
        cookie: name of the cookie that holds a token.
    """

    def __init__(self, app: ASGIApp, sessions: Sessions, cookie: str) -> None:
        self._app, self._sessions, self._cookie = app, sessions, cookie

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on with who asks, or send to the door."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        token = token_of(scope, self._cookie)
        try:
            found = self._sessions.entry(token) if token else None
        except StoreError as error:  # who they are can't be looked up: nobody, for now
            await refuse(send, 503, str(error), "try again in a while", wait=5)
            return
        path = str(scope["path"])
        if found is None and not is_open(path):
            await _to_the_door(scope, send)
            return
        if found is None and _length(scope) > MOST_ASKED:
            await refuse(send, 413, "that is too much for somebody who isn't in", "log in first")
            return
        agreed = found is None or found.stage != "agree" or path in BEFORE_AGREEING
        if not (agreed or is_open(path)):
            await _to_the_door(scope, send, agree=True)
            return
        scope[KEY] = found.user if found is not None else _NOBODY
        scope[IN] = found
        await self._app(scope, receive, send)


def is_open(path: str) -> bool:
    """Tell whether everybody may have what is there."""
    return any(path == one or (one.endswith("/") and path.startswith(one)) for one in OPEN)


def _length(scope: Scope) -> int:
    return max((int(v) for k, v in scope["headers"] if k == b"content-length"), default=0)


def token_of(scope: Scope, cookie: str) -> str:
    """Return the token in the cookies of a request, or ""."""
    for name, value in scope["headers"]:
        if name == b"cookie":
            found = cookie_parser(value.decode("latin-1")).get(cookie)
            if found:
                return found
    return ""


async def _to_the_door(scope: Scope, send: Send, *, agree: bool = False) -> None:
    path = str(scope["path"])
    page = scope["method"] == "GET" and "/api/" not in path and not path.startswith("/house/")
    if agree and not page:
        await refuse(
            send, 403, "you have not agreed to what is kept of you", "open the page, and read it"
        )
        return
    if not page:
        await refuse(send, 401, "you are not logged in", "log in and try again")
        return
    where = f"/login?to={quote(path)}".encode()
    headers = [(b"location", where), (b"content-length", b"0"), PLAIN]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})
