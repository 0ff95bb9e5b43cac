"""What any answer of the page has to be, whatever was asked."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Final

from bondwright.page.doors import is_open
from bondwright.page.guard import HEADERS
from bondwright.store.users import Role
from scripts.fuzz_web import ROOT
from scripts.web_pages import NOBODY, ORIGIN, PEOPLE, Answer, Page

LONGEST_S: Final = 5.0
_ODD: Final = re.compile(r"[{\[]|<(?!pasted>)")
"""What begins with this is no words."""
_GIVES: Final = ("/house/login", "/house/logout", "/house/leave", "/house/factor/confirm")
"""What gives a browser a token, or takes it."""
_MAY: Final = {
    ("POST", "/house/jobs"): Role.EDIT,
    ("POST", "/house/bundle"): Role.EDIT,
    ("GET", "/house/users"): Role.KEEP,
    ("POST", "/house/users"): Role.KEEP,
    ("DELETE", "/house/users"): Role.KEEP,
}
_TELLING: Final = (
    b"Traceback (most", b"site-packages", b"sqlalchemy", b"pydantic", b" object at 0x", b"asyncio",
    b"sqlite3", str(ROOT).encode(),
)  # fmt: skip


class BadAnswerError(AssertionError):
    """An answer that should not be."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked.

    Attributes:
        page: which of the pages.
        who: asks.
        method: of HTTP.
        address: path and query.
        body: what is sent.
        origin: of the page that asks, or "".
    """

    page: str
    who: str
    method: str
    address: str
    body: str
    origin: str

    @property
    def path(self) -> str:
        """The address without its query."""
        return self.address.partition("?")[0].partition("#")[0]

    @property
    def changes(self) -> bool:
        """Whether something may be different afterwards."""
        return self.method not in {"GET", "HEAD"}


def look_at(page: Page, question: Question, answer: Answer, seconds: float) -> None:
    """Look at what any answer has to be.

    Raises:
        BadAnswerError: it isn't.
    """
    status, headers, body = answer
    if seconds > LONGEST_S:
        raise BadAnswerError(f"it took {seconds:.1f} s")
    kept = dict(headers)
    _look_at_words(status, kept.get(b"content-type", b""), body)
    _look_at_headers(page, question, status, headers)
    sent = question.address.encode() + question.body.encode()
    known = b"".join(k + v for k, v in headers if k != b"set-cookie") + body
    for telling in (*_TELLING, *page.secrets):
        if telling in known and telling not in sent:
            raise BadAnswerError(f"it tells {telling!r}")
    _look_at_role(page, question, status)
    if logged := page.logged:
        raise BadAnswerError(f"the log says {logged[0][-600:]}")


def _look_at_words(status: int, kind: bytes, body: bytes) -> None:
    if status >= 500 and status != 503:
        raise BadAnswerError(f"{status}: {body[:300]!r}")
    if status >= 400:
        told = json.loads(body) if kind.startswith(b"application/json") else {}
        if told.get("format") != "bondwright/problems" or not told["problems"]:
            raise BadAnswerError(f"{status} in another form: {body[:200]!r}")
        for one in told["problems"]:
            if len(one["problem"].split()) < 2 or _ODD.match(one["problem"]):
                raise BadAnswerError(f"{status} without words: {one['problem']!r}")


def _look_at_headers(
    page: Page, question: Question, status: int, headers: list[tuple[bytes, bytes]]
) -> None:
    names = [name.decode() for name, _ in headers]
    kept = {name.decode(): value.decode("latin-1") for name, value in headers}
    for name, value in HEADERS.items():
        if kept.get(name) != value:
            raise BadAnswerError(f"without its header {name}")
    if len(set(names)) != len(names):
        raise BadAnswerError(f"with a header twice: {names}")
    if {"server", "x-powered-by", "access-control-allow-origin"} & set(names):
        raise BadAnswerError(f"with a header too many: {names}")
    if "set-cookie" in names and question.path not in _GIVES:
        raise BadAnswerError("with a cookie")
    if status == 200 and page.guarded and kept.get("cache-control") != "no-store":
        raise BadAnswerError("browsers would keep a copy")


def _look_at_role(page: Page, question: Question, status: int) -> None:
    if question.changes and question.origin != ORIGIN and status < 400:
        raise BadAnswerError("another site's page could do this")
    if not page.guarded or status >= 300:
        return
    if question.who == NOBODY and not is_open(question.path):
        raise BadAnswerError("somebody who isn't in may do this")
    needed = _MAY.get((question.method, question.path), Role.LOOK)
    if question.path.endswith(("/api/save", "/name")) and question.changes:
        needed = Role.EDIT
    order = list(Role)
    has = PEOPLE.get(question.who, Role.LOOK)
    if order.index(has) < order.index(needed):
        raise BadAnswerError(f"{question.who} has the role '{has}' and may do this")
