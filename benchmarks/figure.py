"""What a benchmark prints: one line a figure, ``name: value unit, goal G, met|short``."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One figure.

    Attributes:
        name: what was measured.
        value: what came out.
        unit: its unit.
        goal: what it should be.
        more: whether more is better.
    """

    name: str
    value: float
    unit: str
    goal: float
    more: bool = False

    def __str__(self) -> str:
        met = self.value >= self.goal if self.more else self.value <= self.goal
        word = "met" if met else "short"
        return f"{self.name}: {self.value:,.3g} {self.unit}, goal {self.goal:g}, {word}"


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """Return the least time of some runs, s."""
    found = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        found.append(time.perf_counter() - start)
    return min(found)
