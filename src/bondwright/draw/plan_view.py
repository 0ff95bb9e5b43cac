"""The ground from above: electrodes where they stand, and touch or step voltage around them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bondwright.draw.drawing import Drawing
from bondwright.draw.lettering import width
from bondwright.draw.plan_labels import SIZE, Frame, Labels
from bondwright.draw.svg import INK, SOFT, Canvas
from bondwright.earth.shapes import Electrode, Place
from bondwright.units import Dimension, UnitSystem, show, wanted_units

LEAST_WIDTH: Final = 260.0
_MOST_CELLS: Final = 200
_MARGIN_M: Final = 2.0
_METAL: Final = "#0b3d73"
_OTHERS: Final = "#5b2a86"
_WAY: Final = "#37424d"
# Growing voltage grows darker, so that it reads in grey as well.
_TINTS: Final = (
    "#ffffff",
    "#fdf0dc",
    "#fbdcb3",
    "#f5bf86",
    "#e79d5c",
    "#d2773a",
    "#b25324",
    "#8a3716",
)

Grid = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Shade:
    """A voltage over the ground.

    Attributes:
        name: what it is, such as "touch voltage".
        x_m: shape (nx,), rising [m].
        y_m: shape (ny,), rising [m].
        volts: shape (ny, nx) [V].
        worst: the worst place and its voltage, to be marked; None for none.
    """

    name: str
    x_m: Grid
    y_m: Grid
    volts: Grid
    worst: tuple[Place, float] | None = None


@dataclass(frozen=True, slots=True)
class Ground:
    """What is on the plan.

    Attributes:
        electrodes: metal in the ground, by label.
        others: labels of those that are a neighbour's.
        places: places whose position is known, by label.
        ways: metal that leads away over the ground, by label.
    """

    electrodes: Mapping[str, Electrode]
    others: frozenset[str] = frozenset()
    places: Mapping[str, Place] | None = None
    ways: Mapping[str, Sequence[Place]] | None = None


def plan_view(
    ground: Ground,
    shade: Shade | None = None,
    wide: float = 640.0,
    *,
    title: str = "Electrodes from above",
    prefix: str = "",
    system: UnitSystem | None = None,
) -> Drawing:
    """Draw the ground from above.

    Args:
        ground: what stands there.
        shade: voltage over it; None for the bare plan.
        wide: width, px.
        title: name of the picture.
        prefix: put before every id, so that several pictures can share a page.
        system: units of the scale.

    Returns:
        The drawing; x of the description to the right, y up.

    Raises:
        ValueError: nothing stands there, or the picture is too narrow to read.
    """
    system = system or wanted_units()
    if not ground.electrodes:
        raise ValueError("there is nothing to draw; give at least one electrode")
    if not wide >= LEAST_WIDTH:
        raise ValueError(f"a plan {wide:g} px wide is too small; give at least {LEAST_WIDTH:g}")
    if shade is not None:
        ground = within(ground, _corners(shade))
    frame = _frame(ground, shade, wide)
    canvas = Canvas(prefix)
    bands = [] if shade is None else levels(float(np.nanmax(shade.volts)))
    if shade is not None:
        _fill(canvas, frame, shade, bands)
    canvas.rect(
        frame.left, frame.top, frame.wide, frame.high,
        f'fill="none" stroke="{INK}" stroke-width="1.2"',
    )  # fmt: skip
    _scale(canvas, frame, system)
    labels = Labels(frame, [])
    for name, way in (ground.ways or {}).items():
        _way(canvas, frame, name, way)
    for name, electrode in ground.electrodes.items():
        _electrode(canvas, frame, name, electrode, name in ground.others)
    for name, spot in (ground.places or {}).items():
        _place(canvas, frame, name, spot)
    for electrode in ground.electrodes.values():
        for wire in electrode.wires:
            if wire.start[:2] == wire.end[:2]:
                labels.keep_free(wire.start)
            else:
                labels.keep_clear(wire.start, wire.end)
    for spot in (ground.places or {}).values():
        labels.keep_free(spot)
    if shade is not None and shade.worst is not None:
        _worst(canvas, frame, labels, shade.worst)
    for name, electrode in ground.electrodes.items():
        colour = _OTHERS if name in ground.others else _METAL
        spot, upright = _middle(electrode)
        labels.put(canvas, spot, name, colour, beside=upright)
    for name, spot in (ground.places or {}).items():
        labels.put(canvas, spot, name, INK)
    for name, way in (ground.ways or {}).items():
        labels.put(canvas, _halfway(way), name, _WAY, beside=False)
    bottom = frame.top + frame.high + 34
    if shade is not None:
        bottom = _key(canvas, shade, bands, frame.left, bottom, wide - 2 * frame.left)
    alt = _alt(ground, shade, system)
    svg = canvas.finish(wide, bottom + 8, title, alt, "bondwright-plan")
    return Drawing(svg, wide, bottom + 8, alt, canvas.ids)


def _corners(shade: Shade) -> tuple[Place, Place]:
    """Return the corner of least x and y of what is shaded, and the one opposite."""
    return (
        (float(shade.x_m[0]), float(shade.y_m[0])),
        (float(shade.x_m[-1]), float(shade.y_m[-1])),
    )


def within(ground: Ground, corners: tuple[Place, Place]) -> Ground:
    """Return what of the ground lies within two corners; a way is cut off where it leaves them.

    An electrode that lies there only in part is left whole.
    """
    low, top = corners

    def inside(spot: Sequence[float]) -> bool:
        return low[0] <= spot[0] <= top[0] and low[1] <= spot[1] <= top[1]

    ways = {}
    for name, way in (ground.ways or {}).items():
        legs = list(itertools.pairwise(way)) or [(way[0], way[0])]
        kept = [leg for leg in (_cut(a, b, corners) for a, b in legs) if leg is not None]
        if kept:
            ways[name] = [kept[0][0], *(end for _, end in kept)]
    return Ground(
        {
            name: one
            for name, one in ground.electrodes.items()
            if any(inside(end[:2]) for wire in one.wires for end in (wire.start, wire.end))
        },
        ground.others,
        {name: spot for name, spot in (ground.places or {}).items() if inside(spot)},
        ways,
    )


def _cut(a: Place, b: Place, corners: tuple[Place, Place]) -> tuple[Place, Place] | None:
    """Return the part of a line within two corners (Liang and Barsky), or None."""
    first, last = 0.0, 1.0
    for axis in (0, 1):
        along = b[axis] - a[axis]
        for sign, edge in ((-1, corners[0][axis]), (1, corners[1][axis])):
            room = sign * (edge - a[axis])
            if sign * along == 0:
                if room < 0:
                    return None
            elif sign * along > 0:
                last = min(last, room / (sign * along))
            else:
                first = max(first, room / (sign * along))
    if first > last:
        return None
    start, end = (
        (a[0] + part * (b[0] - a[0]), a[1] + part * (b[1] - a[1])) for part in (first, last)
    )
    return start, end


def levels(highest: float) -> list[float]:
    """Return the lower edges of bands of voltage, round numbers from 0 on."""
    if not highest > 0:
        return [0.0]
    rough = highest / (len(_TINTS) - 1)
    power = 10 ** math.floor(math.log10(rough))
    step = next(s * power for s in (1, 2, 2.5, 5, 10) if s * power >= rough * (1 - 1e-9))
    return [k * step for k in range(min(len(_TINTS), math.ceil(highest / step - 1e-9)))] or [0.0]


def _frame(ground: Ground, shade: Shade | None, wide: float) -> Frame:
    spots = [
        end[:2] for e in ground.electrodes.values() for w in e.wires for end in (w.start, w.end)
    ]
    spots += [*(ground.places or {}).values()]
    spots += [spot for way in (ground.ways or {}).values() for spot in way]
    xs, ys = [s[0] for s in spots], [s[1] for s in spots]
    low = (min(xs) - _MARGIN_M, min(ys) - _MARGIN_M)
    top = (max(xs) + _MARGIN_M, max(ys) + _MARGIN_M)
    if shade is not None:
        low, top = _corners(shade)
    # a plan much longer than wide would leave the page
    room = wide - 20
    across, up = top[0] - low[0], top[1] - low[1]
    if up > 1.1 * across:
        more = (up / 1.1 - across) / 2
        low, top = (low[0] - more, low[1]), (top[0] + more, top[1])
    elif across > 2.6 * up:
        more = (across / 2.6 - up) / 2
        low, top = (low[0], low[1] - more), (top[0], top[1] + more)
    return Frame(low, top, 10.0, 10.0, room / (top[0] - low[0]))


def _fill(canvas: Canvas, frame: Frame, shade: Shade, bands: Sequence[float]) -> None:
    every = max(1, math.ceil(max(shade.volts.shape) / _MOST_CELLS))
    volts = shade.volts[::every, ::every]
    xs, ys = shade.x_m[::every], shade.y_m[::every]
    if max(volts.shape) <= _MOST_CELLS / 2:  # between the points, so that edges are no stairs
        xs, ys, volts = _finer(xs, ys, volts)
    band = np.searchsorted(np.array(bands), volts, side="right") - 1
    half_x, half_y = (float(np.diff(axis).mean()) / 2 for axis in (xs, ys))
    data: dict[int, list[str]] = {}
    for row, y in enumerate(ys):
        begin = 0
        for column in range(1, xs.size + 1):
            if column < xs.size and band[row, column] == band[row, begin]:
                continue
            left, top = frame.at((float(xs[begin]) - half_x, float(y) + half_y))
            right, bottom = frame.at((float(xs[column - 1]) + half_x, float(y) - half_y))
            data.setdefault(int(band[row, begin]), []).append(
                f"M{left:.1f} {top:.1f}H{right:.1f}V{bottom:.1f}H{left:.1f}Z"
            )
            begin = column
    canvas.open(' class="shade"', shade.name)
    for number, parts in sorted(data.items()):
        tint = _tint(number, len(bands))
        # a hair of its own colour closes the seams between rows
        canvas.path("".join(parts), f'fill="{tint}" stroke="{tint}" stroke-width="0.4"')
    canvas.close()


def _finer(xs: Grid, ys: Grid, volts: Grid) -> tuple[Grid, Grid, Grid]:
    """Return a grid with points halfway between, by straight lines."""
    fine_x, fine_y = (np.linspace(axis[0], axis[-1], 2 * axis.size - 1) for axis in (xs, ys))
    across = np.array([np.interp(fine_x, xs, row) for row in volts])
    return fine_x, fine_y, np.array([np.interp(fine_y, ys, line) for line in across.T]).T


def _tint(number: int, count: int) -> str:
    if count < 2:
        return _TINTS[1]
    return _TINTS[round(max(number, 0) * (len(_TINTS) - 1) / (count - 1))]


def _scale(canvas: Canvas, frame: Frame, system: UnitSystem) -> None:
    """Draw a bar of a round length below the frame."""
    unit = 0.3048 if system == "us" else 1.0
    room = frame.wide * 0.3 / frame.per_m / unit
    power = 10 ** math.floor(math.log10(room))
    length = next(s * power for s in (5, 2, 1) if s * power <= room * (1 + 1e-9)) * unit
    x, y = frame.left, frame.top + frame.high + 12
    end = x + length * frame.per_m
    canvas.line([(x, y - 4), (x, y + 4)], f'stroke="{INK}" stroke-width="1.2"')
    canvas.line([(end, y - 4), (end, y + 4)], f'stroke="{INK}" stroke-width="1.2"')
    canvas.line([(x, y), (end, y)], f'stroke="{INK}" stroke-width="1.6"')
    canvas.text(end + 6, y + 4, show(length, Dimension.LENGTH, system), SIZE)
    words = "x to the right, y up"
    canvas.text(frame.left + frame.wide, y + 4, words, SIZE, anchor="end", fill=SOFT)


def _way(canvas: Canvas, frame: Frame, name: str, way: Sequence[Place]) -> None:
    points = [frame.at(spot) for spot in way]
    if len(points) < 2:
        points = [points[0], points[0]]
    canvas.open(f'{canvas.mark("way", name)} class="way"', name)
    canvas.line(points, f'stroke="{_WAY}" stroke-width="1.8" stroke-dasharray="8 3 2 3"')
    canvas.close()


def _electrode(canvas: Canvas, frame: Frame, name: str, electrode: Electrode, others: bool) -> None:
    colour = _OTHERS if others else _METAL
    dash = ' stroke-dasharray="4 3"' if others else ""
    canvas.open(f'{canvas.mark("electrode", name)} class="electrode"', name)
    for wire in electrode.wires:
        a, b = frame.at(wire.start), frame.at(wire.end)
        if math.dist(a, b) < 1.0:  # upright: a dot in a ring
            canvas.add(
                f'<circle cx="{a[0]:.1f}" cy="{a[1]:.1f}" r="5" fill="#ffffff" stroke="{colour}" '
                f'stroke-width="1.6"{dash}/>'
                f'<circle cx="{a[0]:.1f}" cy="{a[1]:.1f}" r="2" fill="{colour}"/>'
            )
            continue
        thick = min(max(2 * wire.radius_m * frame.per_m, 2.6), 14.0)
        if wire.coat_ohm_m:  # concrete around steel
            canvas.line([a, b], f'stroke="#8d99a6" stroke-width="{max(thick, 6):.1f}"')
            thick = 2.0
        canvas.line([a, b], f'stroke="{colour}" stroke-width="{thick:.1f}"{dash}')
    canvas.close()


def _place(canvas: Canvas, frame: Frame, name: str, spot: Place) -> None:
    x, y = frame.at(spot)
    canvas.open(f'{canvas.mark("place", name)} class="place"', name)
    canvas.rect(x - 4, y - 4, 8, 8, f'fill="#ffffff" stroke="{INK}" stroke-width="1.6"')
    canvas.close()


def _worst(canvas: Canvas, frame: Frame, labels: Labels, worst: tuple[Place, float]) -> None:
    (x, y), volts = frame.at(worst[0]), worst[1]
    for turn in (1, -1):
        canvas.line(
            [(x - 6, y - 6 * turn), (x + 6, y + 6 * turn)],
            'stroke="#ffffff" stroke-width="4.5"',
        )
    for turn in (1, -1):
        canvas.line(
            [(x - 6, y - 6 * turn), (x + 6, y + 6 * turn)], f'stroke="{INK}" stroke-width="2"'
        )
    labels.put(canvas, worst[0], f"worst: {show(volts, Dimension.VOLTAGE)}", INK)


def _middle(electrode: Electrode) -> tuple[Place, bool]:
    """Return where a label belongs, and whether beside a mark rather than along a line."""
    standing = [wire for wire in electrode.wires if wire.start[:2] == wire.end[:2]]
    if standing:
        last = max(standing, key=lambda wire: wire.start[0])
        return last.start[:2], True
    longest = max(electrode.wires, key=lambda wire: (round(wire.length_m, 6), wire.start[1]))
    ends = (longest.start, longest.end)
    return (sum(e[0] for e in ends) / 2, sum(e[1] for e in ends) / 2), False


def _halfway(way: Sequence[Place]) -> Place:
    if len(way) < 2:
        return way[0][0], way[0][1]
    k = (len(way) - 1) // 2
    return (way[k][0] + way[k + 1][0]) / 2, (way[k][1] + way[k + 1][1]) / 2


def _key(
    canvas: Canvas, shade: Shade, bands: Sequence[float], left: float, top: float, room: float
) -> float:
    """Draw the bands with their voltages; return where they end."""
    canvas.text(left, top + 4, f"{shade.name}:", SIZE, bold=True)
    x, y = left + width(f"{shade.name}:", SIZE, True) + 10, top
    for number, edge in enumerate(bands):
        upper = bands[number + 1] if number + 1 < len(bands) else None
        text = (
            f"from {show(edge, Dimension.VOLTAGE)}"
            if upper is None
            else f"{edge:g}–{show(upper, Dimension.VOLTAGE)}"
        )
        need = 26 + width(text, SIZE) + 12
        if x + need > left + room:
            x, y = left, y + 19
        tint = _tint(number, len(bands))
        canvas.rect(x, y - 7, 20, 13, f'fill="{tint}" stroke="{SOFT}" stroke-width="0.7"')
        canvas.text(x + 26, y + 4, text, SIZE)
        x += need
    return y + 12


def _alt(ground: Ground, shade: Shade | None, system: UnitSystem) -> str:
    text = f"Plan of the ground with {', '.join(ground.electrodes)}."
    if shade is None:
        return text
    text += f" {shade.name[:1].upper()}{shade.name[1:]} up to {float(np.nanmax(shade.volts)):.3g} V"
    if shade.worst is not None:
        (x, y), volts = shade.worst
        across, up = (show(round(v, 1) + 0.0, Dimension.LENGTH, system) for v in (x, y))
        text += f"; the worst, {volts:.3g} V, at x {across}, y {up}"
    return f"{text}."
