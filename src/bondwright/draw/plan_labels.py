"""Where things fall on a plan of the ground, and labels that lie beside them and not on another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

from bondwright.draw.lettering import fit, width
from bondwright.draw.svg import Canvas
from bondwright.earth.shapes import Place

SIZE: Final = 11.0
_CLOSE: Final = 15
"""How far up or down a label may go for the sake of a line, px."""
HALO: Final = ' paint-order="stroke" stroke="#ffffff" stroke-width="3" stroke-linejoin="round"'


@dataclass(frozen=True, slots=True)
class Frame:
    """Where metres fall on the picture.

    Attributes:
        low: the corner with the smaller (x, y) [m].
        high_m: the corner opposite [m].
        left: left edge of the plan [px].
        top: its upper edge [px].
        per_m: how many px a metre is.
    """

    low: Place
    high_m: Place
    left: float
    top: float
    per_m: float

    @property
    def wide(self) -> float:
        """Width of the plan, px."""
        return (self.high_m[0] - self.low[0]) * self.per_m

    @property
    def high(self) -> float:
        """Height of the plan, px."""
        return (self.high_m[1] - self.low[1]) * self.per_m

    def at(self, spot: Sequence[float]) -> tuple[float, float]:
        """Return where a place (x, y) [m] falls, px, held within the plan."""
        x = self.left + (spot[0] - self.low[0]) * self.per_m
        y = self.top + (self.high_m[1] - spot[1]) * self.per_m
        return (
            min(max(x, self.left), self.left + self.wide),
            min(max(y, self.top), self.top + self.high),
        )


@dataclass(frozen=True, slots=True)
class Labels:
    """Labels beside what they name, none on another."""

    frame: Frame
    boxes: list[tuple[float, float, float, float]]
    lines: list[tuple[float, float, float, float]] = field(default_factory=list)

    def keep_free(self, spot: Sequence[float]) -> None:
        """Let no label fall on a mark."""
        x, y = self.frame.at(spot)
        self.boxes.append((x - 6, y - 6, x + 6, y + 6))

    def keep_clear(self, start: Sequence[float], end: Sequence[float]) -> None:
        """Let no label fall on a line, where there is room close by."""
        a, b = self.frame.at(start), self.frame.at(end)
        pieces = math.ceil(math.dist(a, b) / 6) or 1
        for k in range(pieces + 1):
            x, y = (p + (q - p) * k / pieces for p, q in zip(a, b, strict=True))
            self.lines.append((x - 3, y - 3, x + 3, y + 3))

    def put(
        self,
        canvas: Canvas,
        spot: Sequence[float],
        text: str,
        colour: str,
        *,
        beside: bool = True,
    ) -> None:
        """Write a label beside a mark, or above or below the middle of a line."""
        frame = self.frame
        shown = fit(text, frame.wide * 0.6, SIZE, True)
        wide = width(shown, SIZE, True)
        x, y = frame.at(spot)
        right, floor = frame.left + frame.wide - 4, frame.top + frame.high - 4
        best = free = clear = None
        around = (x + 9, x - 9 - wide)
        for down in (0, -15, 15, -30, 30, -45, 45, -60, 60):
            if not down and not beside:
                continue
            middle = (x - wide / 2,) if down else ()
            for start in (*around, *middle) if beside else (*middle, *around):
                left = min(max(start, frame.left + 4), right - wide)
                base = min(max(y + 4 + down, frame.top + 13), floor)
                box = (left - 2, base - 11, left + wide + 2, base + 4)
                if best is None:
                    best = (left, base, box)
                if any(_meet(box, other) for other in self.boxes):
                    continue
                free = free or (left, base, box)
                if abs(down) <= _CLOSE and not any(_meet(box, line) for line in self.lines):
                    clear = clear or (left, base, box)
        best = clear or free or best
        if best is None:
            return
        left, base, box = best
        self.boxes.append(box)
        canvas.text(left, base, shown, SIZE, bold=True, fill=colour, extra=HALO)


def _meet(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
