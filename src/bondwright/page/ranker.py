"""Ranking in a process that stays: quick from the second reading on, and ended by a cancel.

The page's own answers don't wait for it. Whatever is asked last is answered last; what was asked
in between and not begun is left out.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from threading import Condition, Lock, Thread
from typing import Final, Literal

from bondwright.page.hunted import Cells, ranked
from bondwright.page.wire_field import HuntResult
from bondwright.site.model import Site

_PATIENCE_S: Final = 3.0
"""A ranking that has taken longer is broken off when the next is asked for."""
_IDLE_S: Final = 900.0
"""A process that was not needed for so long is ended."""

MOST_ALIVE: Final = max(4, os.cpu_count() or 1)
"""Processes of all rankers of a server; the longest idle one makes room."""

Status = Literal["ranking", "ready", "failed", "cancelled"]


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be ranked: the site as described, and the readings as cells of the table."""

    site: Site
    readings: tuple[Cells, ...]


@dataclass(frozen=True, slots=True)
class Failure:
    """Why there is no answer."""

    problem: str


def answer_questions(wire: Connection) -> None:
    """Answer questions until nobody asks any more: the work of a process."""
    with suppress(KeyboardInterrupt, EOFError, OSError):
        while True:
            question: Question = wire.recv()
            try:
                wire.send(ranked(question.site, question.readings))
            except Exception as error:  # whatever it is has to reach the page, or it waits for ever
                wire.send(Failure(str(error) or type(error).__name__))


class _Alive:
    """The rankers that have a process."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._rankers: dict[Ranker, None] = {}

    def make_room(self, ranker: Ranker) -> None:
        """Wait until there is room for one more process, and take it."""
        while True:
            with self._lock:
                self._rankers.pop(ranker, None)
                for other in list(self._rankers):
                    if len(self._rankers) < MOST_ALIVE:
                        break
                    if other.rest():
                        del self._rankers[other]
                if ranker.closed:
                    return
                if len(self._rankers) < MOST_ALIVE:
                    self._rankers[ranker] = None
                    return
            time.sleep(0.1)

    def left(self, ranker: Ranker) -> None:
        """Give room back."""
        with self._lock:
            self._rankers.pop(ranker, None)


_ALIVE: Final = _Alive()


class Ranker:
    """Asks one question after the other, and knows how the last one stands.

    Attributes:
        status: of the last question.
        result: the last answer there was; None before the first.
        problem: why the last question has no answer.
    """

    def __init__(self) -> None:
        self.status: Status = "ready"
        self.result: HuntResult | None = None
        self.problem = ""
        self._asked: Question | None = None
        self._wanted: Question | None = None
        self._since = self._took = 0.0
        self._begun = 0.0
        self._door = Condition()
        self._closed = False
        self._process: BaseProcess | None = None
        self._thread: Thread | None = None

    def ask(self, question: Question) -> None:
        """Have something ranked, unless it is being ranked or was already."""
        with self._door:
            known = self._asked is not None and _same(self._asked, question)
            if self._closed or (known and self.status in {"ranking", "ready"}):
                return
            self._asked = self._wanted = question
            self.status, self.problem = "ranking", ""
            self._since = time.monotonic()
            if self._begun and time.monotonic() - self._begun > _PATIENCE_S:
                self._stop()
            if self._thread is None:
                self._thread = Thread(target=self._run, daemon=True)
                self._thread.start()
            self._door.notify_all()

    def cancel(self) -> None:
        """Break off what is being ranked; the last answer stays."""
        with self._door:
            if self.status == "ranking":
                self.status, self._wanted = "cancelled", None
                self._took = time.monotonic() - self._since
                self._stop()

    def rest(self) -> bool:
        """End its process unless it is at work; say whether it wasn't."""
        with self._door:
            free = self._wanted is None and not self._begun
            if free:
                self._stop()
            return free

    @property
    def closed(self) -> bool:
        """Whether it was ended for good."""
        return self._closed

    def close(self) -> None:
        """End it for good."""
        self.cancel()
        with self._door:
            self._closed = True
            self._stop()
            self._door.notify_all()
        _ALIVE.left(self)

    @property
    def seconds(self) -> float:
        """How long the last question has taken so far, or took."""
        now = time.monotonic() - self._since if self.status == "ranking" else self._took
        return round(now, 1)

    def _stop(self) -> None:
        """End the process; whatever is asked next gets another, even if this one still dies."""
        process, self._process = self._process, None
        if process is not None:
            process.terminate()

    def _run(self) -> None:
        wire: Connection | None = None
        while True:
            with self._door:
                while self._wanted is None and not self._closed:
                    if not self._door.wait(_IDLE_S) and self._wanted is None:
                        self._stop()
                if self._closed:
                    break
                question, self._wanted = self._wanted, None
                self._begun = time.monotonic()
            said: HuntResult | Failure | None = None
            try:
                process = self._process
                if process is None or not process.is_alive() or wire is None:
                    wire = self._start(wire)
                wire.send(question)
                said = wire.recv()
            except (EOFError, OSError):
                said = None
            except Exception as error:  # else the page would wait for ever
                said = Failure(str(error) or type(error).__name__)
            with self._door:
                self._begun = 0.0
                if self._asked is question and self.status == "ranking":
                    self._settle(said)
        if wire is not None:
            wire.close()

    def _settle(self, said: HuntResult | Failure | None) -> None:
        self._took = time.monotonic() - self._since
        if isinstance(said, HuntResult):
            self.status, self.result = "ready", said
        else:
            self.status = "failed"
            self.problem = said.problem if said else "the work stopped by itself; try it again"

    def _start(self, old: Connection | None) -> Connection:
        if old is not None:
            old.close()
        _ALIVE.make_room(self)
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe()
        process = context.Process(target=answer_questions, args=(there,), daemon=True)
        process.start()
        there.close()
        self._process = process
        return here


def _same(one: Question, other: Question) -> bool:
    same_site = one.site is other.site or one.site == other.site
    return one.readings == other.readings and same_site
