"""Studies in pieces for tests: what they do is plain, so that what happened to it is too."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from bondwright.studies.many.work import Arrays, Work


@dataclass(frozen=True)
class Squares:
    """The square of each number; every piece that is done leaves a file behind."""

    count: int
    folder: str = ""
    title: str = "squares"

    @property
    def fingerprint(self) -> str:
        return f"squares of {self.count} {self.folder}"

    def open(self) -> Callable[[int], Arrays]:
        def do(number: int) -> Arrays:
            if self.folder:
                with (Path(self.folder) / str(number)).open("a") as file:
                    file.write("x")
            if number == 13 and self.folder:
                raise ValueError("thirteen is refused")
            return {"square": np.array([number * number])}

        return do


@dataclass(frozen=True)
class Deadly:
    """Another study, one piece of which kills the process that does it, the first time."""

    inner: Work
    number: int
    marker: str
    title: str = "deadly"

    @property
    def fingerprint(self) -> str:
        return f"deadly {self.inner.fingerprint}"

    @property
    def count(self) -> int:
        return self.inner.count

    def open(self) -> Callable[[int], Arrays]:
        do = self.inner.open()

        def deadly(number: int) -> Arrays:
            if number == self.number and not Path(self.marker).exists():
                Path(self.marker).touch()
                os.kill(os.getpid(), signal.SIGKILL)
            return do(number)

        return deadly
