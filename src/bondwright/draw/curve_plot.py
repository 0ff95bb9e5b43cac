"""Readings of a field test as a plot: what was read, and the curve that is held against it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.draw.axes import GRID, SIZE, Axis, frame, round_step, upright
from bondwright.draw.drawing import Drawing
from bondwright.draw.lettering import fit, width
from bondwright.draw.svg import ALARM, INK, SOFT, Canvas
from bondwright.units import FOOT, Dimension, UnitSystem, show

LEAST_WIDTH: Final = 240.0
LEAST_HEIGHT: Final = 200.0
_HALO: Final = ' paint-order="stroke" stroke="#ffffff" stroke-width="3" stroke-linejoin="round"'
_CURVE: Final = "#0b4a8f"
_POINT: Final = "#16202a"
STRIP: Final = 74.0
"""Room for how far the readings are off, px."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Readings:
    """What is plotted, in SI units.

    Attributes:
        points: each reading.
        curve: what it is held against; empty for none.
        x: words and dimension to the right.
        y: words and dimension upward.
        logarithmic: whether both scales are.
        doubtful: numbers of readings to look at again.
        uprights: places marked along x, with words.
        levels: values marked along y, with words.
        off: how far each reading is from the curve, as a part of it; empty leaves them out.
    """

    points: tuple[Point, ...]
    curve: tuple[Point, ...]
    x: tuple[str, Dimension]
    y: tuple[str, Dimension]
    logarithmic: bool = False
    doubtful: frozenset[int] = frozenset()
    uprights: tuple[tuple[str, float], ...] = ()
    levels: tuple[tuple[str, float], ...] = ()
    off: tuple[float, ...] = ()


def curve_plot(
    readings: Readings,
    wide: float = 520.0,
    high: float = 300.0,
    *,
    title: str = "Readings",
    prefix: str = "",
    system: UnitSystem = "metric",
) -> Drawing:
    """Plot the readings of a test.

    Args:
        readings: what to plot.
        wide: px.
        high: px.
        title: name of the picture.
        prefix: put before every id.
        system: units of lengths.

    Returns:
        The drawing.

    Raises:
        ValueError: no reading, or a picture too small to read.
    """
    if not readings.points:
        raise ValueError("there is nothing to plot; give at least one reading")
    if not (wide >= LEAST_WIDTH and high >= LEAST_HEIGHT):
        raise ValueError(
            f"a plot of {wide:g} by {high:g} px is too small; give at least {LEAST_WIDTH:g} by "
            f"{LEAST_HEIGHT:g}"
        )
    shown_y = [y for _, y in (*readings.points, *readings.curve)]
    # a goal far above everything would flatten the curve; it is named at the edge instead
    near = [v for _, v in readings.levels if v <= 2.5 * max(shown_y)]
    xs = [x for x, _ in (*readings.points, *readings.curve)] + [x for _, x in readings.uprights]
    ys = shown_y + near
    texts = [show(v, readings.y[1], system) for v in (min(ys), max(ys))]
    left = 34.0 + max(48.0, *(width(text, SIZE) for text in texts))
    top = 14.0 + (16.0 if readings.uprights else 0.0)
    in_feet = system == "us" and readings.x[1] is Dimension.LENGTH
    x = _axis(xs, left, wide - 16, readings.logarithmic, FOOT if in_feet else 1.0)
    floor = high - 44 - (STRIP if readings.off else 0.0)
    y = _axis(ys, floor, top, readings.logarithmic)
    canvas = Canvas(prefix)
    frame(
        canvas,
        x,
        y,
        (readings.x[0], readings.y[0]),
        (lambda v: show(v, readings.x[1], system), lambda v: show(v, readings.y[1], system)),
    )
    last = -math.inf
    for words, value in readings.uprights:
        at = x.at(value)
        canvas.line(
            [(at, y.start), (at, y.end)],
            f'stroke="{SOFT}" stroke-width="1" stroke-dasharray="5 3"',
        )
        half = width(words, SIZE) / 2
        if at - half > last + 4:
            canvas.text(min(at, x.end - half), y.end - 5, words, SIZE, anchor="middle", fill=SOFT)
            last = at + half
    for words, value in readings.levels:
        _level(canvas, words, value, x, y)
    if readings.curve:
        canvas.line(
            [(x.at(a), y.at(b)) for a, b in readings.curve],
            f'stroke="{_CURVE}" stroke-width="1.8"',
        )
    for number, (a, b) in enumerate(readings.points):
        odd = number in readings.doubtful
        fill, edge = ("#ffffff", ALARM) if odd else (_POINT, _POINT)
        canvas.add(
            f'<circle cx="{x.at(a):.1f}" cy="{y.at(b):.1f}" r="{5 if odd else 3.4}" '
            f'fill="{fill}" stroke="{edge}" stroke-width="1.6"/>'
        )
    if readings.off:
        _strip(canvas, readings, x, floor + 44)
    alt = _alt(readings, system)
    svg = canvas.finish(wide, high, title, alt, "bondwright-curve")
    return Drawing(svg, wide, high, alt, canvas.ids)


def _axis(
    values: Sequence[float], start: float, end: float, logarithmic: bool, unit: float = 1.0
) -> Axis:
    if logarithmic:
        low, high = min(values) / 1.25, max(values) * 1.25
        return Axis(low, high, start, end, logarithmic=True, unit=unit)
    return Axis(0.0, max(values) * 1.1 or 1.0, start, end, unit=unit)


def _level(canvas: Canvas, words: str, value: float, x: Axis, y: Axis) -> None:
    above = value > y.high
    at = y.at(value)
    shown = fit(f"{words}, above the plot" if above else words, x.end - x.start - 12, SIZE)
    if not above:
        canvas.line(
            [(x.start, at), (x.end, at)],
            f'stroke="{ALARM}" stroke-width="1.2" stroke-dasharray="7 3"',
        )
    base = at + 13 if above or at < y.end + 14 else at - 4
    canvas.text(x.end - 5, base, shown, SIZE, anchor="end", fill=ALARM, extra=_HALO)


def _strip(canvas: Canvas, readings: Readings, x: Axis, top: float) -> None:
    """Draw how far each reading is from the curve, as bars up and down."""
    high = STRIP - 12
    most = round_step(max(0.02, *(abs(part) for part in readings.off)))
    middle = top + high / 2
    per = high / 2 / most
    for part in (-most, 0.0, most):
        at = middle - part * per
        canvas.line(
            [(x.start, at), (x.end, at)],
            f'stroke="{INK if not part else GRID}" stroke-width="{1.2 if not part else 0.9}"',
        )
        words = f"{100 * part:+.0f} %" if part else "0"
        canvas.text(x.start - 6, at + 4, words, SIZE, anchor="end")
    upright(canvas, "off", Axis(0, 1, top, top + high))
    for number, ((at_x, _), part) in enumerate(zip(readings.points, readings.off, strict=True)):
        odd = number in readings.doubtful
        end = middle - part * per
        y, tall = min(middle, end), max(abs(end - middle), 0.8)
        fill = "#ffffff" if odd else _CURVE
        edge = f' stroke="{ALARM}" stroke-width="1.6"' if odd else ""
        canvas.rect(x.at(at_x) - 3.5, y, 7, tall, f'fill="{fill}"{edge}')


def _alt(readings: Readings, system: UnitSystem) -> str:
    pairs = "; ".join(
        f"{show(a, readings.x[1], system)}: {show(b, readings.y[1], system)}"
        for a, b in readings.points
    )
    text = f"{readings.y[0].capitalize()} by {readings.x[0]}: {pairs}."
    if readings.off:
        text += f" Off the curve: {', '.join(f'{100 * part:+.1f} %' for part in readings.off)}."
    return text
