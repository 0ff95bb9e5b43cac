"""Long work in the background: started, watched, cancelled; each in a process of its own.

A process can be ended at once wherever it is, and leaves the page's own answers as quick as
before. What it did so far is lost then, and nothing else.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections import OrderedDict
from collections.abc import Callable
from multiprocessing.connection import Connection
from threading import Lock, Thread
from typing import Final, Literal

from bondwright.page.wire import JobAnswer, Result
from bondwright.page.work import Failure, Order, Outcome, Progress, work

AT_ONCE: Final = 2
"""Jobs that run side by side."""
_KEPT: Final = 20

OF_ALL: Final = max(4, os.cpu_count() or 1)
"""Jobs of all working copies of a server that run side by side."""

Status = Literal["running", "done", "failed", "cancelled"]


class BusyError(RuntimeError):
    """As many jobs are running as may."""


class Crew:
    """Those who may work in the background at the same time, for all working copies of a server.

    Args:
        most: in all.
        of_one: for one person.
    """

    def __init__(self, most: int = OF_ALL, of_one: int = AT_ONCE) -> None:
        self._most, self._of_one = most, of_one
        self._at_work: list[str] = []
        self._lock = Lock()

    def join(self, who: str) -> None:
        """Begin to work for somebody.

        Raises:
            BusyError: as many are at work as may.
        """
        with self._lock:
            if self._at_work.count(who) >= self._of_one:
                raise BusyError(f"{self._of_one} jobs are running already; wait, or cancel one")
            if len(self._at_work) >= self._most:
                raise BusyError(
                    f"the server works on {self._most} long studies already; try again in a while"
                )
            self._at_work.append(who)

    def leave(self, who: str) -> None:
        """Stop working for somebody."""
        with self._lock:
            self._at_work.remove(who)


class Job:
    """One job, watched by a thread.

    Args:
        name: its id.
        order: what is to be done.
        ready: called with the outcome when it is there.
        over: called when its process has ended.

    Attributes:
        status: how it stands.
    """

    def __init__(
        self,
        name: str,
        order: Order,
        ready: Callable[[Order, Outcome], None],
        over: Callable[[], None],
    ) -> None:
        self.name, self.order = name, order
        self.status: Status = "running"
        self._ready, self._over = ready, over
        self._progress = Progress("starting", 0, 1)
        self._result: Result | None = None
        self._problem = ""
        self._began = time.monotonic()
        self._took: float | None = None
        self._lock = Lock()
        context = multiprocessing.get_context("spawn")
        here, there = context.Pipe(duplex=False)
        self._process = context.Process(target=work, args=(order, there), daemon=True)
        self._process.start()
        there.close()
        self._thread = Thread(target=self._watch, args=(here,), daemon=True)
        self._thread.start()

    def _watch(self, wire: Connection) -> None:
        try:
            self._listen(wire)
            self._process.join()
        finally:
            self._over()

    def _listen(self, wire: Connection) -> None:
        with wire:
            while True:
                try:
                    said = wire.recv()
                except (EOFError, OSError):
                    self._end("failed", problem="the work stopped by itself; try it again")
                    break
                if isinstance(said, Progress):
                    with self._lock:
                        self._progress = said
                elif isinstance(said, Outcome):
                    if self.status == "running":
                        self._ready(self.order, said)
                    self._end("done", result=said.result)
                    break
                elif isinstance(said, Failure):
                    self._end("failed", problem=said.problem)
                    break

    def _end(
        self,
        status: Status,
        *,
        problem: str = "",
        result: Result | None = None,
    ) -> None:
        with self._lock:
            if self.status == "running":
                self.status, self._problem, self._result = status, problem, result
                self._took = time.monotonic() - self._began

    def cancel(self) -> None:
        """End it where it is. What is over stays as it is."""
        self._end("cancelled")
        if self._process.is_alive():
            self._process.terminate()

    @property
    def alive(self) -> bool:
        """Whether its process is still there."""
        return self._process.is_alive()

    def answer(self) -> JobAnswer:
        """Say how it stands."""
        with self._lock:
            took = self._took
            return JobAnswer(
                id=self.name,
                kind=self.order.kind,
                status=self.status,
                what=self._progress.what,
                done=self._progress.done,
                of=self._progress.of,
                seconds=round(time.monotonic() - self._began if took is None else took, 1),
                problem=self._problem,
                result=self._result,
            )


class Jobs:
    """All jobs of a server.

    Args:
        ready: called with the order and the outcome of every job that is done.
        crew: those who may work at the same time; None for a server of one working copy.
        who: they work for.
    """

    def __init__(
        self, ready: Callable[[Order, Outcome], None], crew: Crew | None = None, who: str = ""
    ) -> None:
        self._ready = ready
        self._crew, self._who = crew or Crew(), who
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._count = 0
        self._lock = Lock()

    def start(self, order: Order) -> Job:
        """Start a job.

        Raises:
            BusyError: as many are running as may.
        """
        with self._lock:
            self._crew.join(self._who)
            self._count += 1
            name = f"job-{self._count}"
            try:
                job = Job(name, order, self._ready, lambda: self._crew.leave(self._who))
            except BaseException:
                self._crew.leave(self._who)
                raise
            self._jobs[name] = job
            for old in list(self._jobs)[: max(0, len(self._jobs) - _KEPT)]:
                if self._jobs[old].status != "running":
                    del self._jobs[old]
            return job

    def get(self, name: str) -> Job:
        """Return a job by its id.

        Raises:
            KeyError: there is none.
        """
        return self._jobs[name]

    @property
    def busy(self) -> bool:
        """Whether something runs."""
        return any(job.status == "running" for job in list(self._jobs.values()))

    def close(self) -> None:
        """Cancel whatever runs."""
        for job in list(self._jobs.values()):
            job.cancel()
