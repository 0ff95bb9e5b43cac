"""Calibration plots: how often something was right, against the probability it was given."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.draw.drawing import Drawing
from bondwright.draw.svg import INK, SOFT, Canvas

SIZE: Final = 12.0
_SIDE: Final = 360.0
_LEFT: Final = 64.0
_TOP: Final = 18.0
_GRID: Final = "#dfe4ea"
_Z: Final = 1.96
"""Half width of a 95 % interval of the standard normal distribution."""

_COLOURS: Final = ("#0b4a8f", "#8a4a00", "#1b5e20", "#5b2a86")


@dataclass(frozen=True, slots=True)
class Said:
    """Cases that were given about the same probability.

    Attributes:
        mean: of the probabilities given.
        right: in how many it came true.
        count: of the cases.
    """

    mean: float
    right: int
    count: int

    @property
    def part(self) -> float:
        """Part of the cases in which it came true."""
        return self.right / self.count


def interval(right: int, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a proportion.

    E. B. Wilson, Journal of the American Statistical Association 22 (1927) 209-212.

    Args:
        right: how many came true.
        count: of how many.

    Raises:
        ValueError: there is no case, or more came true than there are.
    """
    if not 0 <= right <= count or count < 1:
        msg = f"{right} of {count} is no proportion; give at least one case"
        raise ValueError(msg)
    p, spread = right / count, _Z**2 / count
    middle = (p + spread / 2) / (1 + spread)
    half = _Z / (1 + spread) * math.sqrt(p * (1 - p) / count + _Z**2 / (4 * count**2))
    return max(0.0, middle - half), min(1.0, middle + half)


def calibration_plot(series: Sequence[tuple[str, Sequence[Said]]]) -> Drawing:
    """Plot how often something was right against the probability that it was given.

    Args:
        series: words and classes of each; every class is a mark with its 95 % interval.

    Returns:
        The drawing: what was said to the right, what came true upwards, both from 0 to 100 %.

    Raises:
        ValueError: there is no series.
    """
    if not series:
        msg = "there is nothing to plot; give at least one series"
        raise ValueError(msg)
    canvas = Canvas()
    right, bottom = _LEFT + _SIDE, _TOP + _SIDE
    for k in range(0, 101, 20):
        x, y = _x(k / 100), _y(k / 100)
        canvas.line([(x, _TOP), (x, bottom)], f'stroke="{_GRID}" stroke-width="1"')
        canvas.line([(_LEFT, y), (right, y)], f'stroke="{_GRID}" stroke-width="1"')
        canvas.text(x, bottom + 17, f"{k} %", SIZE, anchor="middle")
        canvas.text(_LEFT - 7, y + 4, f"{k} %", SIZE, anchor="end")
    canvas.line([(_LEFT, bottom), (right, _TOP)], f'stroke="{SOFT}" stroke-dasharray="5 4"')
    canvas.rect(_LEFT, _TOP, _SIDE, _SIDE, f'fill="none" stroke="{INK}" stroke-width="1.2"')
    for number, (words, points) in enumerate(series):
        _marks(canvas, number, words, points, len(series))
    middle = (_LEFT + right) / 2
    canvas.text(middle, bottom + 36, "probability said", SIZE, bold=True, anchor="middle")
    half = (_TOP + bottom) / 2
    turn = f' transform="rotate(-90 16 {half:.1f})"'
    canvas.text(16, half, "was right", SIZE, bold=True, anchor="middle", extra=turn)
    below = bottom + 60
    for number, (words, points) in enumerate(series):
        cases = sum(p.count for p in points)
        _sign(canvas, number, _LEFT + 6, below + 20 * number - 4)
        canvas.text(_LEFT + 18, below + 20 * number, f"{words} ({cases} cases)", SIZE)
    height = below + 20 * len(series)
    wide = right + 40
    alt = _alt(series)
    svg = canvas.finish(wide, height, "Said and right", alt, "bondwright-calibration")
    return Drawing(svg, wide, height, alt, canvas.ids)


def _x(part: float) -> float:
    return _LEFT + _SIDE * part


def _y(part: float) -> float:
    return _TOP + _SIDE * (1 - part)


def _marks(canvas: Canvas, number: int, words: str, points: Sequence[Said], series: int) -> None:
    colour = _COLOURS[number % len(_COLOURS)]
    aside = 3.0 * (number - (series - 1) / 2)
    canvas.open(f'{canvas.mark("series", words)} class="series"', words)
    places = [(_x(p.mean) + aside, _y(p.part)) for p in points]
    if len(places) > 1:
        canvas.line(places, f'stroke="{colour}" stroke-width="1" stroke-opacity="0.5"')
    for (x, y), point in zip(places, points, strict=True):
        low, high = interval(point.right, point.count)
        canvas.line([(x, _y(low)), (x, _y(high))], f'stroke="{colour}" stroke-width="1.6"')
        _sign(canvas, number, x, y)
    canvas.close()


def _sign(canvas: Canvas, number: int, x: float, y: float) -> None:
    """Draw the mark of a series; its shape tells it apart as its colour does."""
    colour = _COLOURS[number % len(_COLOURS)]
    shapes = (
        [(x - 4, y - 4), (x + 4, y - 4), (x + 4, y + 4), (x - 4, y + 4)],
        [(x, y - 5.5), (x + 5.5, y), (x, y + 5.5), (x - 5.5, y)],
        [(x, y - 5), (x + 5, y + 4), (x - 5, y + 4)],
    )
    canvas.polygon(shapes[number % len(shapes)], f'fill="{colour}"')


def _alt(series: Sequence[tuple[str, Sequence[Said]]]) -> str:
    told = []
    for words, points in series:
        each = "; ".join(f"said {p.mean:.0%}, right {p.right} of {p.count}" for p in points)
        told.append(f"{words}: {each}")
    return "How often the first cause was right against the probability given. " + ". ".join(told)
