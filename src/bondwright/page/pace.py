"""How much one person may ask of a server that others use too, and how much it does at once.

Whoever asks too often is told when to come back (429); where the server has more to do than it
can, everybody waits in turn, and is told so when the turn doesn't come (503). What waits holds no
thread.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass, field
from typing import Final

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from bondwright.page.doors import is_open
from bondwright.page.guard import refuse
from bondwright.page.who import KEY
from bondwright.store.users import User

AT_ONCE: Final = 4
"""Answers that are worked out at the same time; more would only make each of them later."""
OF_ONE: Final = 3
"""Of these, those of one person."""
WAITING: Final = 12
"""Questions of one person that may wait for their turn: more is no page but a program."""
PATIENCE_S: Final = 20.0
"""A question waits so long for its turn, s."""
STREAMS: Final = 8
"""Reports of work as it goes on that one person may follow at the same time."""
BODY_S: Final = 30.0
"""A question has to arrive within so long, s."""


@dataclass(frozen=True, slots=True)
class Rate:
    """So many in a while.

    Attributes:
        most: how many at once, after a pause.
        within: seconds in which as many come anew.
        what: they are, for a person.
    """

    most: int
    within: float
    what: str


BUNDLES: Final = Rate(12, 600.0, "bundles")
LONG: Final = Rate(20, 120.0, "long studies")
FILES: Final = Rate(60, 60.0, "texts and tables sent in")
CHANGES: Final = Rate(240, 60.0, "changes")
LOOKS: Final = Rate(1200, 60.0, "questions")


def kind_of(method: str, path: str) -> Rate:
    """Return what a question counts as."""
    if path == "/house/bundle":
        return BUNDLES
    if method in {"GET", "HEAD"}:
        return LOOKS
    if path.endswith(("/api/jobs", "/api/hunt/ranking")):
        return LONG
    if path.endswith(("/api/text", "/api/text/check", "/api/schedule/read", "/api/schedule/add")):
        return FILES
    if path == "/house/jobs":
        return FILES
    return CHANGES


@dataclass(slots=True)
class _Person:
    """What somebody asked lately."""

    left: dict[Rate, tuple[float, float]] = field(default_factory=dict)
    waiting: int = 0
    streams: int = 0
    turn: asyncio.Semaphore = field(default_factory=lambda: asyncio.Semaphore(OF_ONE))
    used: float = 0.0


class Pace:
    """Keeps everybody's questions within what the server can do.

    Args:
        app: what answers; stands behind the doors, which say who asks.
        clock: seconds that only go up.
    """

    def __init__(self, app: ASGIApp, clock: Callable[[], float] = time.monotonic) -> None:
        self._app, self._clock = app, clock
        self._people: dict[str, _Person] = {}
        self._turn = asyncio.Semaphore(AT_ONCE)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a question on when its turn comes, or refuse it."""
        if scope["type"] != "http" or not isinstance(scope.get(KEY), User):
            await self._app(scope, receive, send)
            return
        path = str(scope["path"])
        if is_open(path):
            whole = await _arrived(receive)
            await (_late(send) if whole is None else self._app(scope, whole, send))
            return
        person = self._person(scope[KEY].name)
        wait = self._wait(person, kind_of(scope["method"], path))
        if wait:
            text = f"too many {kind_of(scope['method'], path).what} in a short time"
            await refuse(send, 429, text, f"try again in {wait} s", wait=wait)
        elif path.endswith("/events"):
            await self._stream(person, scope, receive, send)
        elif person.waiting >= WAITING:
            await refuse(send, 429, "too many questions at once", "wait for the answers", wait=1)
        else:
            await self._in_turn(person, scope, receive, send)

    async def _stream(self, person: _Person, scope: Scope, receive: Receive, send: Send) -> None:
        if person.streams >= STREAMS:
            await refuse(send, 429, "too many reports are followed at once", "close one", wait=5)
            return
        person.streams += 1
        try:
            await self._app(scope, receive, send)
        finally:
            person.streams -= 1

    async def _in_turn(self, person: _Person, scope: Scope, receive: Receive, send: Send) -> None:
        whole = await _arrived(receive)  # before the turn: a slow line holds up nobody
        if whole is None:
            await _late(send)
            return
        person.waiting += 1
        try:
            async with _turns(person.turn, self._turn) as mine:
                if mine:
                    await self._app(scope, whole, send)
                    return
        finally:
            person.waiting -= 1
        text = "the server has more to do than it can"
        await refuse(send, 503, text, "try again in a few seconds", wait=5)

    def _person(self, name: str) -> _Person:
        now = self._clock()
        if len(self._people) > 2000:
            for old in [k for k, p in self._people.items() if _idle(p, now)]:
                del self._people[old]
        person = self._people.setdefault(name, _Person())
        person.used = now
        return person

    def _wait(self, person: _Person, rate: Rate) -> int:
        """Count a question; return the seconds until it may be asked, 0 for now."""
        now = self._clock()
        left, before = person.left.get(rate, (float(rate.most), now))
        left = min(float(rate.most), left + (now - before) * rate.most / rate.within)
        if left < 1.0:
            person.left[rate] = (left, now)
            return max(1, round((1.0 - left) * rate.within / rate.most))
        person.left[rate] = (left - 1.0, now)
        return 0


def _idle(person: _Person, now: float) -> bool:
    return not person.waiting and not person.streams and person.used < now - BUNDLES.within


@asynccontextmanager
async def _turns(*gates: asyncio.Semaphore) -> AsyncIterator[bool]:
    """Pass one gate after the other; say whether all were passed in time."""
    passed: list[asyncio.Semaphore] = []
    try:
        try:
            async with asyncio.timeout(PATIENCE_S):
                for gate in gates:
                    await gate.acquire()
                    passed.append(gate)
        except TimeoutError:
            yield False
            return
        yield True
    finally:
        for gate in passed:
            gate.release()


async def _late(send: Send) -> None:
    await refuse(send, 408, "the question didn't arrive in time", "send it again")


async def _arrived(receive: Receive) -> Receive | None:
    """Take in the whole of a question; return what gives it out again, or None where it's late."""
    messages: list[Message] = []
    try:
        async with asyncio.timeout(BODY_S):
            while True:
                message = await receive()
                messages.append(message)
                if message["type"] != "http.request" or not message.get("more_body", False):
                    break
    except TimeoutError:
        return None
    messages.reverse()

    async def again() -> Message:
        return messages.pop() if messages else await receive()

    return again
