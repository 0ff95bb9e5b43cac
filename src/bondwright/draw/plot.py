"""Time-current plots: how soon devices open at which current, on logarithmic scales."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.devices.band import Point, TimeBand
from bondwright.draw.axes import GRID, SIZE, Axis, upright
from bondwright.draw.drawing import Drawing
from bondwright.draw.lettering import fit, width, wrap
from bondwright.draw.svg import ALARM, INK, SOFT, Canvas, element_id, line_path
from bondwright.units import Dimension, show

LEAST_WIDTH: Final = 260.0
LEAST_HEIGHT: Final = 220.0
NEVER_S: Final = 1e4
"""Longest time shown, s."""
SOONEST_S: Final = 1e-3
"""Shortest time shown, s."""
_DECADE: Final = "#b4bdc8"

# Fill, edge, dashes of the edges, slope of the hatch (px right per px down; None: dots).
_STYLES: Final = (
    ("#9cc3ec", "#0b4a8f", "", 1.0),
    ("#f5c48a", "#8a4a00", "6 3", -1.0),
    ("#b5d8b0", "#1b5e20", "2 3", 0.0),
    ("#d9bfe8", "#5b2a86", "9 3 2 3", None),
    ("#d5d9de", "#37424d", "1 2", 2.5),
    ("#f2b8b5", "#8c1d18", "12 3", -2.5),
)


def _marks(axis: Axis) -> Iterator[tuple[float, bool]]:
    """Yield every mark of a scale over decades, and whether it begins one."""
    for power in range(round(math.log10(axis.low)), round(math.log10(axis.high)) + 1):
        for digit in range(1, 10):
            value = digit * 10.0**power
            if axis.low * 0.999 <= value <= axis.high * 1.001:
                yield value, digit == 1


def time_current_plot(
    bands: Sequence[tuple[str, TimeBand]],
    markers: Sequence[tuple[str, float]] = (),
    width: float = 640.0,
    height: float = 480.0,
    *,
    title: str = "Time and current",
    prefix: str = "",
) -> Drawing:
    """Plot the time bands of devices, with the currents of faults.

    Args:
        bands: label and band of each device; the band is filled between its quick and slow edge.
        markers: label and current of each fault, A; drawn as upright lines.
        width: px.
        height: px.
        title: name of the picture.
        prefix: put before every id, so that several pictures can share a page.

    Returns:
        The drawing: current in A to the right, time in s upwards, both logarithmic.

    Raises:
        ValueError: there is nothing to plot, the size is too small, or a current isn't positive.
    """
    _check(bands, markers, width, height)
    points = [p for _, band in bands for edge in band.edges() for p in edge]
    amps = [current for current, _ in points] + [current for _, current in markers]
    times = [min(max(t, SOONEST_S), NEVER_S) for _, t in points] or [0.01, 100.0]
    key = _Key.of(bands, width - 20)
    left, right, top = 58.0, width - 18.0, 16.0 + (18 * len(markers) if markers else 0)
    bottom = max(height - 44 - key.height, top + 90)
    height = bottom + 44 + key.height
    x = Axis(*_decades(min(amps), max(amps)), left, right, logarithmic=True)
    y = Axis(*_decades(min(times), max(times)), bottom, top, logarithmic=True)
    canvas = Canvas(prefix)
    _axes(canvas, x, y)
    for number, (label, band) in enumerate(bands):
        _band(canvas, number, label, band, x, y)
    _markers(canvas, markers, x, y)
    key.paint(canvas, bottom + 44)
    alt = _alt(bands, markers)
    svg = canvas.finish(width, height, title, alt, "bondwright-plot")
    return Drawing(svg, width, height, alt, canvas.ids)


def _check(
    bands: Sequence[tuple[str, TimeBand]],
    markers: Sequence[tuple[str, float]],
    width: float,
    height: float,
) -> None:
    if not bands and not markers:
        msg = "there is nothing to plot; give at least one band or one marker"
        raise ValueError(msg)
    if not (width >= LEAST_WIDTH and height >= LEAST_HEIGHT):
        msg = (
            f"a plot of {width:g} by {height:g} px is too small to read; give at least "
            f"{LEAST_WIDTH:g} by {LEAST_HEIGHT:g}"
        )
        raise ValueError(msg)
    for label, current in markers:
        if not 0 < current < math.inf:
            msg = f"the current of {label!r} is {current:g} A; give one above zero"
            raise ValueError(msg)


def _decades(low: float, high: float) -> tuple[float, float]:
    """Return the decades that hold a range, at least one of them."""
    first, last = math.floor(math.log10(low) + 1e-9), math.ceil(math.log10(high) - 1e-9)
    return 10.0**first, 10.0 ** max(last, first + 1)


def _axes(canvas: Canvas, x: Axis, y: Axis) -> None:
    minor: list[str] = []
    major: list[str] = []
    for value, decade in _marks(x):
        (major if decade else minor).append(f"M{x.at(value):.1f} {y.start:.1f}V{y.end:.1f}")
    for value, decade in _marks(y):
        (major if decade else minor).append(f"M{x.start:.1f} {y.at(value):.1f}H{x.end:.1f}")
    canvas.path("".join(minor), f'fill="none" stroke="{GRID}" stroke-width="0.7"')
    canvas.path("".join(major), f'fill="none" stroke="{_DECADE}" stroke-width="1"')
    frame = f'fill="none" stroke="{INK}" stroke-width="1.2"'
    canvas.rect(x.start, y.end, x.end - x.start, y.start - y.end, frame)
    last = -math.inf
    for value, decade in _marks(x):
        text = show(value, Dimension.CURRENT)
        half = width(text, SIZE) / 2
        at = x.at(value)
        if decade and at - half > last + 6 and at + half < x.end + 16:
            canvas.text(at, y.start + 15, text, SIZE, anchor="middle")
            last = at + half
    last = math.inf
    for value, decade in _marks(y):
        at = y.at(value)
        if decade and at < last - 13:
            canvas.text(x.start - 6, at + 4, _seconds(value), SIZE, anchor="end")
            last = at
    canvas.text((x.start + x.end) / 2, y.start + 31, "current", SIZE, bold=True, anchor="middle")
    upright(canvas, "time", y)


def _seconds(value: float) -> str:
    """Write a decade of time without minutes and hours, which are no decades."""
    return f"{value:g} s" if value > 0.05 else f"{value * 1000:g} ms"


def _style(number: int) -> tuple[str, str, str, float | None]:
    return _STYLES[number % len(_STYLES)]


def _band(canvas: Canvas, number: int, label: str, band: TimeBand, x: Axis, y: Axis) -> None:
    fill, edge, dash, slope = _style(number)
    quick, slow = (_pixels(points, x, y) for points in band.edges(x.high))
    if not (quick and slow):
        # It never opens on overcurrent, or never for sure: no field, only the edge it has.
        canvas.open(f'{canvas.mark("band", label, str(number))} class="band"', label)
        for points in (quick, slow):
            if points:
                canvas.line([(points[0][0], y.end), *points], f'stroke="{edge}" stroke-width="1.6"')
        canvas.close()
        return
    # Left of its first point an edge is endless: the band is open upwards there.
    outline = [(quick[0][0], y.end), *quick, *reversed(slow), (slow[0][0], y.end)]
    data = line_path(outline) + "Z"
    clip = canvas.prefix + element_id("clip", str(number))
    canvas.open(f'{canvas.mark("band", label, str(number))} class="band"', label)
    canvas.path(data, f'fill="{fill}" fill-opacity="0.6"')
    canvas.add(f'<clipPath id="{clip}"><path d="{data}"/></clipPath>')
    canvas.add(f'<g clip-path="url(#{clip})">')
    xs = [px for px, _ in outline]
    hatch = _hatch((min(xs), y.end, max(xs), y.start), slope)
    canvas.path(hatch, f'fill="none" stroke="{edge}" stroke-width="0.9" stroke-opacity="0.7"')
    canvas.close()
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    for points in (quick, slow):
        canvas.line([(points[0][0], y.end), *points], f'stroke="{edge}" stroke-width="1.6"{dashes}')
    canvas.close()


def _pixels(points: Sequence[Point], x: Axis, y: Axis) -> list[tuple[float, float]]:
    return [(x.at(current), y.at(time)) for current, time in points]


def _hatch(box: tuple[float, float, float, float], slope: float | None) -> str:
    """Return strokes over a field (left, top, right, bottom), leaning or as dots."""
    left, top, right, bottom = box
    tall = bottom - top
    if slope is None:
        return "".join(
            f"M{px:.1f} {py:.1f}h1.4"
            for row, py in enumerate(_steps(top + 3, bottom, 8))
            for px in _steps(left + (4 if row % 2 else 0), right, 8)
        )
    if slope == 0.0:
        return "".join(f"M{left:.1f} {py:.1f}H{right:.1f}" for py in _steps(top + 4, bottom, 7))
    lean = tall * slope
    step = 8 * max(1.0, abs(slope) * 0.8)
    first, last = left - max(lean, 0), right - min(lean, 0)
    return "".join(
        f"M{px:.1f} {top:.1f}L{px + lean:.1f} {bottom:.1f}" for px in _steps(first, last, step)
    )


def _steps(start: float, end: float, step: float) -> Iterator[float]:
    for k in range(max(0, math.ceil((end - start) / step))):
        yield start + k * step


def _markers(canvas: Canvas, markers: Sequence[tuple[str, float]], x: Axis, y: Axis) -> None:
    """Draw each fault current as a line with its words on a row of its own above the plot."""
    room = x.end - x.start
    for number, (label, current) in enumerate(sorted(markers, key=lambda pair: pair[1])):
        at = x.at(current)
        row = y.end - 8 - 18 * (len(markers) - 1 - number)
        text = fit(f"{label}: {show(current, Dimension.CURRENT)}", room, SIZE, True)
        wide = width(text, SIZE, True)
        start = min(max(at - wide / 2, x.start), x.end - wide)
        canvas.open(f'{canvas.mark("marker", label, str(number))} class="marker"', label)
        canvas.line(
            [(at, row + 3), (at, y.start)],
            f'stroke="{ALARM}" stroke-width="1.6" stroke-dasharray="7 3"',
        )
        canvas.rect(start - 3, row - 10, wide + 6, 14, 'fill="#ffffff"', 3)
        canvas.text(start, row, text, SIZE, bold=True, fill=ALARM)
        canvas.close()


@dataclass(frozen=True, slots=True)
class _Key:
    """The list of devices below the plot."""

    rows: tuple[tuple[int, tuple[str, ...]], ...]
    room: float

    @classmethod
    def of(
        cls,
        bands: Sequence[tuple[str, TimeBand]],
        room: float,
    ) -> _Key:
        rows = tuple(
            (number, wrap(label, room - 44, SIZE, 2)) for number, (label, _) in enumerate(bands)
        )
        return cls(rows, room)

    @property
    def height(self) -> float:
        return sum(8 + 13 * len(lines) for _, lines in self.rows) + 6

    def paint(self, canvas: Canvas, top: float) -> None:
        for number, lines in self.rows:
            fill, edge, dash, slope = _style(number)
            dashes = f' stroke-dasharray="{dash}"' if dash else ""
            clip = canvas.prefix + element_id("key-clip", str(number))
            canvas.rect(14, top, 30, 13, f'fill="{fill}" fill-opacity="0.6"')
            canvas.add(
                f'<clipPath id="{clip}"><rect x="14" y="{top:.1f}" width="30" height="13"/>'
                "</clipPath>"
            )
            canvas.add(f'<g clip-path="url(#{clip})">')
            hatch = _hatch((14, top, 44, top + 13), slope)
            canvas.path(hatch, f'fill="none" stroke="{edge}" stroke-width="0.9"')
            canvas.close()
            canvas.rect(14, top, 30, 13, f'fill="none" stroke="{edge}" stroke-width="1.6"{dashes}')
            for k, line in enumerate(lines):
                canvas.text(52, top + 10.5 + 13 * k, line, SIZE, fill=INK if k == 0 else SOFT)
            top += 8 + 13 * len(lines)


def _alt(bands: Sequence[tuple[str, TimeBand]], markers: Sequence[tuple[str, float]]) -> str:
    text = "Time-current plot of " + (", ".join(label for label, _ in bands) or "no device") + "."
    for label, current in markers:
        told = "; ".join(f"{name} {band.tell(current)}" for name, band in bands)
        said = f"{label[:1].upper()}{label[1:]}, {show(current, Dimension.CURRENT)}"
        text += f" {said}: {told or 'no device'}."
    return text
