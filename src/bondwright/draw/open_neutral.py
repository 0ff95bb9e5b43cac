"""An open supply neutral as a plot: volts on metal over the electrodes' ohms, a curve a load."""

from __future__ import annotations

import math
from typing import Final

from bondwright.draw.axes import SIZE, Axis, frame
from bondwright.draw.drawing import Drawing
from bondwright.draw.lettering import width
from bondwright.draw.svg import ALARM, INK, Canvas
from bondwright.explain.open_neutral import ohms, power, tell_open_neutral
from bondwright.explain.words import amps, volts
from bondwright.studies.open_neutral import OpenNeutral

LEAST_WIDTH: Final = 300.0
LEAST_HEIGHT: Final = 320.0
_STRIP: Final = 92.0
"""Room for the residual current, px."""
_ASIDE: Final = 66.0
"""Room for the names of the curves, px."""
_LOOKS: Final = (
    ("#0b4a8f", ""),
    ("#8a4a00", "8 3"),
    ("#1b5e20", "3 3"),
    ("#5b2a86", "10 3 2 3"),
    ("#37424d", "1 3"),
    ("#8c1d18", "14 4"),
)
_HALO: Final = ' paint-order="stroke" stroke="#ffffff" stroke-width="3" stroke-linejoin="round"'
_USUAL_A: Final = 0.03
"""What the scale of residual current reaches where no device says: 30 mA."""


def open_neutral_plot(
    study: OpenNeutral, wide: float = 620.0, high: float = 430.0, prefix: str = ""
) -> Drawing:
    """Plot the metal's voltage over the electrodes' resistance, and what residual devices see.

    Args:
        study: the study.
        wide: px.
        high: px.
        prefix: put before every id, so that several pictures can share a page.

    Returns:
        The drawing: resistance of all electrodes to the right, logarithmic; volts upwards, a
        curve for each load; below, the largest residual current on the same scale of resistance.

    Raises:
        ValueError: the size is too small to read.
    """
    if not (wide >= LEAST_WIDTH and high >= LEAST_HEIGHT):
        msg = (
            f"a plot of {wide:g} by {high:g} px is too small to read; give at least "
            f"{LEAST_WIDTH:g} by {LEAST_HEIGHT:g}"
        )
        raise ValueError(msg)
    ohm = study.resistances
    most = max(float(study.metal.max()), study.limit, study.now.metal if study.now else 0.0)
    x = Axis(float(ohm[0]), float(ohm[-1]), 74, wide - _ASIDE, logarithmic=True)
    floor = high - 48 - _STRIP
    y = Axis(0.0, most * 1.08, floor, 14)
    canvas = Canvas(prefix)
    frame(canvas, x, y, ("", "metal to earth"), (ohms, volts))
    _level(canvas, x, y, study.limit, f"{volts(study.limit)}: the most that may stand for long")
    names: list[tuple[float, str, str]] = []
    for k, row in enumerate(study.points):
        colour, dash = _LOOKS[k % len(_LOOKS)]
        points = [(x.at(r), y.at(p.metal)) for r, p in zip(ohm.tolist(), row, strict=True)]
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        label = power(study.powers[k])
        canvas.open(f'{canvas.mark("load", label)} class="curve"', label)
        thick = 2.6 if k == study.described else 1.7
        canvas.line(points, f'stroke="{colour}" stroke-width="{thick}"{dashes}')
        canvas.close()
        names.append((points[-1][1], label, colour))
    _names(canvas, names, x.end + 5, y)
    _now(canvas, study, x, y)
    _residual(canvas, study, x, floor + 22, high)
    alt = " ".join(tell_open_neutral(study).sentences)
    svg = canvas.finish(wide, high, "Open supply neutral", alt, "bondwright-open-neutral")
    return Drawing(svg, wide, high, alt, canvas.ids)


def _level(canvas: Canvas, x: Axis, y: Axis, value: float, words: str) -> None:
    at = y.at(value)
    look = f'stroke="{ALARM}" stroke-width="1.2" stroke-dasharray="7 3"'
    canvas.line([(x.start, at), (x.end, at)], look)
    canvas.text(x.start + 6, at - 5, words, SIZE, fill=ALARM, extra=_HALO)


def _names(canvas: Canvas, names: list[tuple[float, str, str]], left: float, y: Axis) -> None:
    """Write the loads beside their curves' ends, apart from each other."""
    under = -math.inf
    placed = []
    for at, label, colour in sorted(names):
        under = max(at, under + 14)
        placed.append((under, label, colour))
    over = max(0.0, placed[-1][0] - y.start)
    for at, label, colour in placed:
        canvas.text(left, at - over + 4, label, SIZE, bold=True, fill=colour)


def _now(canvas: Canvas, study: OpenNeutral, x: Axis, y: Axis) -> None:
    if study.now is None or not x.low <= study.resistance <= x.high:
        return
    at, up = x.at(study.resistance), y.at(study.now.metal)
    canvas.line([(at, y.start), (at, up)], f'stroke="{INK}" stroke-width="1"')
    canvas.add(
        f'<circle cx="{at:.1f}" cy="{up:.1f}" r="5" fill="#ffffff" stroke="{INK}" '
        'stroke-width="2"/>'
    )
    words = f"as described: {ohms(study.resistance)}, {volts(study.now.metal)}"
    start = max(x.start + 4, min(at + 10, x.end - width(words, SIZE, True) - 4))
    canvas.text(start, up + 19, words, SIZE, bold=True, extra=_HALO)


def _residual(canvas: Canvas, study: OpenNeutral, x: Axis, top: float, high: float) -> None:
    seen = 0.0 if math.isnan(study.residual) else study.residual
    trips = study.trips if math.isfinite(study.trips) else _USUAL_A
    scale = max(trips, seen) * 1.3
    y = Axis(0.0, scale, high - 48, top)
    frame(canvas, x, y, ("all electrodes together, to earth", "residual"), (ohms, amps))
    words = f"opens at {amps(trips)}" if study.residual_devices else f"{amps(trips)}"
    _level(canvas, x, y, trips, words)
    for k, row in enumerate(study.points):
        colour, dash = _LOOKS[k % len(_LOOKS)]
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        line = [
            (x.at(r), y.at(0.0 if math.isnan(p.residual) else p.residual))
            for r, p in zip(study.resistances.tolist(), row, strict=True)
        ]
        canvas.line(line, f'stroke="{colour}" stroke-width="1.7"{dashes}')
