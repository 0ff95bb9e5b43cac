"""Who is let in where the jobs are served to others: sessions, and how often one may try."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections import deque
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from threading import BoundedSemaphore, Lock
from typing import Final
from urllib.parse import quote

from starlette.requests import cookie_parser
from starlette.types import ASGIApp, Receive, Scope, Send

from bondwright.page.guard import PLAIN, refuse
from bondwright.page.who import KEY
from bondwright.store.errors import StoreError
from bondwright.store.store import Store
from bondwright.store.users import Role, User, known, let_in

IDLE_S: Final = 8 * 3600.0
"""A session ends when nobody used it for so long, s."""
LONGEST_S: Final = 24 * 3600.0
"""No session is longer, s."""
LOOK_S: Final = 10.0
"""What a session may do is looked up again after so long, s: users are changed elsewhere too."""
MOST_TRIES: Final = 8
"""Wrong passwords for one name within :data:`TRIES_S`: 48 an hour. The address from which a name
was let in last is counted by itself, so that a stranger who tries can't shut its owner out; both
together stay below the 100 an hour of ASVS 4.0, 2.2.1."""
MOST_OF_ADDRESS: Final = 24
"""Wrong passwords from one address, whatever the names: several people may sit behind one."""
TRIES_S: Final = 600.0
_MOST_SESSIONS: Final = 2000
_MOST_OF_ONE: Final = 20
"""Sessions of one person; the one that wasn't used for longest ends where there would be more."""
AT_DOOR: Final = 60
"""Tries that may wait for their turn."""
MOST_ASKED: Final = 65_536
"""Bytes of what may be sent by somebody who isn't in."""
_AT_ONCE: Final = BoundedSemaphore(2)
"""A try costs 32 MiB and a tenth of a second of a processor."""
OPEN: Final = ("/login", "/static/", "/font.otf", "/house/login")
"""What everybody may have: nothing of a job."""


_NOBODY: Final = User("nobody", Role.LOOK)


class TooManyError(PermissionError):
    """Too many wrong passwords.

    Attributes:
        wait: seconds until one may try again.
    """

    def __init__(self, wait: float) -> None:
        self.wait = max(1, round(wait))
        super().__init__(
            f"too many wrong passwords; try again in {self.wait} s"
            if self.wait < 90
            else f"too many wrong passwords; try again in {round(self.wait / 60)} minutes"
        )


class Tries:
    """Counts wrong passwords.

    A try is counted when it begins, so that many at once are no way round.

    Args:
        clock: seconds that only go up.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._lock = Lock()
        self._began: dict[str, deque[float]] = {}

    def begin(self, keys: Mapping[str, int]) -> None:
        """Count a try, or refuse it where there were too many.

        Args:
            keys: what it counts for, and how many may count for that.

        Raises:
            TooManyError: there were.
        """
        now = self._clock()
        with self._lock:
            recent = {key: self._recent(key, now) for key in keys}
            for key, most in keys.items():
                if len(recent[key]) >= most:
                    raise TooManyError(recent[key][0] + TRIES_S - now)
            for times in recent.values():
                times.append(now)
            if len(self._began) > 10_000:
                for key in [k for k, t in self._began.items() if not t or t[-1] < now - TRIES_S]:
                    del self._began[key]

    def right(self, keys: Iterable[str]) -> None:
        """Take the last try back: its password was right."""
        with self._lock:
            for key in keys:
                if times := self._began.get(key):
                    times.pop()

    def _recent(self, key: str, now: float) -> deque[float]:
        times = self._began.setdefault(key, deque())
        while times and times[0] <= now - TRIES_S:
            times.popleft()
        return times


@dataclass(slots=True)
class _Session:
    user: User
    mark: str
    began: float
    used: float
    looked: float


class Sessions:
    """Those who are in.

    Args:
        store: has the users.
        clock: seconds that only go up.
    """

    def __init__(self, store: Store, clock: Callable[[], float] = time.monotonic) -> None:
        self._store, self._clock = store, clock
        self._lock = Lock()
        self._open: dict[str, _Session] = {}
        self._last: dict[str, str] = {}
        self._tries = Tries(clock)

    def log_in(self, name: str, password: str, address: str) -> str | None:
        """Let somebody in.

        Returns:
            A token that is told to nobody else, or None where name or password are wrong.

        Raises:
            TooManyError: there were too many wrong ones.
        """
        keys = self._keys(name, address)
        self._tries.begin(keys)
        with _AT_ONCE:
            user = let_in(self._store, name, password)
        found = known(self._store, name) if user is not None else None
        if found is None:
            return None
        self._tries.right(keys)
        token, now = secrets.token_urlsafe(32), self._clock()
        with self._lock:
            self._last[name] = address
            self._open = {k: s for k, s in self._open.items() if self._lives(s, now)}
            self._make_room([k for k, s in self._open.items() if s.user.name == name], _MOST_OF_ONE)
            self._make_room(list(self._open), _MOST_SESSIONS)
            self._open[_hash(token)] = _Session(*found, now, now, now)
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
        key, now = _hash(token), self._clock()
        with self._lock:
            session = self._open.get(key)
            if session is None or not self._lives(session, now):
                self._open.pop(key, None)
                return None
            session.used = now
            fresh = now - session.looked < LOOK_S
        if fresh:
            return session.user
        found = known(self._store, session.user.name)
        with self._lock:
            if found is None or found[1] != session.mark:
                self._open.pop(key, None)
                return None
            session.user, session.looked = found[0], now
        return session.user

    def log_out(self, token: str) -> None:
        """End a session."""
        with self._lock:
            self._open.pop(_hash(token), None)

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
            user = self._sessions.user(token) if token else None
        except StoreError as error:  # who they are can't be looked up: nobody, for now
            await refuse(send, 503, str(error), "try again in a while", wait=5)
            return
        if user is None and not is_open(str(scope["path"])):
            await _to_the_door(scope, send)
            return
        if user is None and _length(scope) > MOST_ASKED:
            await refuse(send, 413, "that is too much for somebody who isn't in", "log in first")
            return
        scope[KEY] = user if user is not None else _NOBODY
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


async def _to_the_door(scope: Scope, send: Send) -> None:
    path = str(scope["path"])
    page = scope["method"] == "GET" and "/api/" not in path and not path.startswith("/house/")
    if not page:
        await refuse(send, 401, "you are not logged in", "log in and try again")
        return
    where = f"/login?to={quote(path)}".encode()
    headers = [(b"location", where), (b"content-length", b"0"), PLAIN]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})
