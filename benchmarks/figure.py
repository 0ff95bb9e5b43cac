"""What a benchmark prints: one line a figure, ``name: value unit, goal G, met|short``."""

from __future__ import annotations

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
