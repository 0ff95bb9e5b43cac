"""Scales of plots, and the frame with its grid and words that several plots share."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from bondwright.draw.lettering import width
from bondwright.draw.svg import INK, Canvas

SIZE: Final = 11.0
GRID: Final = "#dfe4ea"


@dataclass(frozen=True, slots=True)
class Axis:
    """A scale from ``low`` to ``high`` on pixels ``start`` to ``end``, plain or logarithmic."""

    low: float
    high: float
    start: float
    end: float
    logarithmic: bool = False
    unit: float = 1.0

    def at(self, value: float) -> float:
        """Return where a value lies, px; what is beyond an end lies on it."""
        inside = min(max(value, self.low), self.high)
        if self.logarithmic:
            part = math.log(inside / self.low) / math.log(self.high / self.low)
        else:
            part = (inside - self.low) / (self.high - self.low)
        return self.start + part * (self.end - self.start)

    def ticks(self) -> Iterator[float]:
        """Yield round numbers of the unit that is shown, in SI: 1, 2, 5 of a decade, or some five.

        A scale in feet is marked at round feet, whose size in metres is ``unit``.
        """
        low, high = self.low / self.unit, self.high / self.unit
        if self.logarithmic:
            for power in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
                for digit in (1, 2, 5):
                    value = digit * 10.0**power
                    if low * 0.999 <= value <= high * 1.001:
                        yield value * self.unit
            return
        step = round_step((high - low) / 5)
        for k in range(math.ceil(low / step), math.floor(high / step) + 1):
            yield k * step * self.unit


def round_step(rough: float) -> float:
    """Return 1, 2 or 5 times a power of ten, at least as much as asked for."""
    power = 10 ** math.floor(math.log10(rough))
    return float(next(s * power for s in (1, 2, 5, 10) if s * power >= rough * (1 - 1e-9)))


def frame(
    canvas: Canvas,
    x: Axis,
    y: Axis,
    words: tuple[str, str],
    write: tuple[Callable[[float], str], Callable[[float], str]],
) -> None:
    """Draw the frame of a plot with grid, values and what they are.

    Args:
        canvas: to draw on.
        x: scale to the right.
        y: scale upwards.
        words: what goes to the right, and upwards; none where a text is empty.
        write: how a value of each is written.
    """
    stroke = f'stroke="{GRID}" stroke-width="0.9"'
    last = -math.inf
    for value in x.ticks():
        at, text = x.at(value), write[0](value)
        canvas.line([(at, y.start), (at, y.end)], stroke)
        half = width(text, SIZE) / 2
        if words[0] and at - half > last + 6 and at + half < x.end + 14:
            canvas.text(at, y.start + 15, text, SIZE, anchor="middle")
            last = at + half
    under = math.inf
    for value in y.ticks():
        at = y.at(value)
        canvas.line([(x.start, at), (x.end, at)], stroke)
        if at < under - 13:
            canvas.text(x.start - 6, at + 4, write[1](value), SIZE, anchor="end")
            under = at
    box = f'fill="none" stroke="{INK}" stroke-width="1.2"'
    canvas.rect(x.start, y.end, x.end - x.start, y.start - y.end, box)
    if words[0]:
        middle = (x.start + x.end) / 2
        canvas.text(middle, y.start + 32, words[0], SIZE, bold=True, anchor="middle")
    upright(canvas, words[1], y)


def upright(canvas: Canvas, words: str, y: Axis) -> None:
    """Write what a scale upwards shows, from below upwards, at the left edge."""
    side = (y.start + y.end) / 2
    turn = f' transform="rotate(-90 13 {side:.1f})"'
    canvas.text(13, side, words, SIZE, bold=True, anchor="middle", extra=turn)
