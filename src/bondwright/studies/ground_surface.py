"""The ground to be drawn: all of a small site, or around each group of electrodes of a large one.

A pace is a metre. A map that holds the whole of a large site has its points further apart than
that, and finds neither the worst pace nor the edge of a rod. So electrodes that stand near each
other are drawn together, and those far away in a map of their own.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from bondwright.earth.shapes import Electrode
from bondwright.earth.soil import Array
from bondwright.earth.surface import PACE_M, SurfaceMap
from bondwright.earth.system import ElectrodeSystem
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.studies.ground_model import GroundMap

MARGIN_M: Final = 4.0
AROUND_M: Final = 6.0
"""Ground that is drawn around electrodes in a map of their own."""
SPACING_M: Final = 0.25
PART_SPACING_M: Final = 1 / 3
"""The same, of one part of a large site, of which there are several."""
WIDEST_M: Final = 0.5
"""Points of a map further apart than this make it one of the parts of a site."""
MOST_POINTS: Final = 12_000
MOST_WINDOWS: Final = 12
_AFAR_M: Final = 1.5
_FLUSH_M: Final = 0.3
_PACES: Final = 24
_MOST_HEADS: Final = 200
_QUIET_V: Final = 1e-3

Grid = NDArray[np.complex128]
Box = tuple[Array, Array]
"""The corner of least x and y, and the one opposite, each of shape (2,) [m]."""


@dataclass(frozen=True, slots=True, eq=False)
class Window:
    """A part of the ground to be drawn.

    Attributes:
        names: electrodes in it.
        x_m: shape (nx,) [m].
        y_m: shape (ny,) [m].
        lift: what an ampere into each electrode does there, shape (ny, nx, electrodes) [ohm].
        heads: where metal comes up to the surface, shape (heads, 2) [m].
        beside: as ``lift``, at each head and at the ends of paces from it, shape
            (heads, 1 + paces, electrodes) [ohm].
    """

    names: tuple[str, ...]
    x_m: Array
    y_m: Array
    lift: Array
    heads: Array
    beside: Array


def windows(plan: Plan, system: ElectrodeSystem) -> tuple[Window, ...]:
    """Return the ground to be drawn, in one piece where the points come near enough.

    Args:
        plan: the plan; places and metal that leads away belong to a site in one piece.
        system: its electrodes, solved.
    """
    shapes = plan.ground.shapes
    low, top = _whole(plan, shapes.values())
    if float(np.prod(top - low)) <= MOST_POINTS * WIDEST_M**2:
        return (_window(system, shapes, tuple(shapes), (low, top), SPACING_M),)
    groups = _groups({name: _box([one], AROUND_M) for name, one in shapes.items()})
    return tuple(
        _window(system, shapes, names, box, PART_SPACING_M) for names, box in groups[:MOST_WINDOWS]
    )


def _box(shapes: Sequence[Electrode], margin: float) -> Box:
    ends = [end[:2] for one in shapes for wire in one.wires for end in (wire.start, wire.end)]
    spots = np.array(ends)
    return spots.min(axis=0) - margin, spots.max(axis=0) + margin


def _whole(plan: Plan, shapes: Iterable[Electrode]) -> Box:
    low, top = _box(list(shapes), MARGIN_M)
    site = plan.site
    spots = [p.position for p in site.places.values() if p.position is not None]
    spots += [spot for metal in site.metal.values() for spot in metal.along]
    if not spots:
        return low, top
    more = np.array(spots, dtype=float)
    return (
        np.minimum(low, more.min(axis=0) - MARGIN_M),
        np.maximum(top, more.max(axis=0) + MARGIN_M),
    )


def _groups(boxes: Mapping[str, Box]) -> list[tuple[tuple[str, ...], Box]]:
    """Put electrodes whose boxes meet together, until no two boxes do."""
    groups: list[tuple[tuple[str, ...], Box]] = []
    for name, box in boxes.items():
        names: tuple[str, ...] = (name,)
        low, top = box
        while True:
            near = [g for g in groups if np.all(low <= g[1][1]) and np.all(g[1][0] <= top)]
            if not near:
                break
            groups = [g for g in groups if g not in near]
            names = (*(other for g in near for other in g[0]), *names)
            low = np.minimum.reduce([low, *(g[1][0] for g in near)])
            top = np.maximum.reduce([top, *(g[1][1] for g in near)])
        groups.append((names, (low, top)))
    return groups


def _window(
    system: ElectrodeSystem,
    shapes: Mapping[str, Electrode],
    names: tuple[str, ...],
    box: Box,
    finest: float,
) -> Window:
    low, top = box
    spacing = max(finest, math.sqrt(float(np.prod(top - low)) / MOST_POINTS))
    xs, ys = (
        np.linspace(low[k], top[k], math.ceil((top[k] - low[k]) / spacing) + 1) for k in (0, 1)
    )
    lift = system.lift(_points(xs, ys), names)
    away = [name for name in system.names if name not in names]
    if away:
        lift = lift + _from_afar(system, away, xs, ys)
    heads = _heads([shapes[name] for name in names])
    turn = 2 * math.pi * np.arange(_PACES) / _PACES
    ends = PACE_M * np.column_stack([np.cos(turn), np.sin(turn)])
    spots = heads[:, None, :] + np.vstack([np.zeros((1, 2)), ends])
    beside = system.lift(spots.reshape(-1, 2)) if heads.size else np.zeros((0, lift.shape[-1]))
    return Window(
        names,
        xs,
        ys,
        lift.reshape(ys.size, xs.size, -1),
        heads,
        beside.reshape(len(heads), 1 + _PACES, lift.shape[-1]),
    )


def _points(xs: Array, ys: Array) -> Array:
    yy, xx = np.meshgrid(ys, xs, indexing="ij")
    value: Array = np.column_stack([xx.ravel(), yy.ravel()])
    return value


def _from_afar(system: ElectrodeSystem, names: Sequence[str], xs: Array, ys: Array) -> Array:
    """Return what the metal of electrodes outside a window does in it, as ``lift``.

    None of it is nearer than :data:`AROUND_M`, so it is even enough to be worked out at a few
    points and drawn out between them by cubic splines.
    """
    from scipy.interpolate import RectBivariateSpline  # slow to load

    few_x, few_y = (
        np.linspace(axis[0], axis[-1], max(4, math.ceil((axis[-1] - axis[0]) / _AFAR_M) + 1))
        for axis in (xs, ys)
    )
    coarse = system.lift(_points(few_x, few_y), names).reshape(few_y.size, few_x.size, -1)
    fine = [
        RectBivariateSpline(few_y, few_x, coarse[:, :, k])(ys, xs).ravel()
        for k in range(coarse.shape[-1])
    ]
    value: Array = np.column_stack(fine)
    return value


def _heads(shapes: Sequence[Electrode]) -> Array:
    """Return where upright metal comes up to the surface: there a map is always too coarse."""
    found = {
        wire.start[:2]
        for one in shapes
        for wire in one.wires
        if wire.start[:2] == wire.end[:2] and min(wire.start[2], wire.end[2]) < _FLUSH_M
    }
    value: Array = np.array(sorted(found)[:_MOST_HEADS], dtype=float).reshape(-1, 2)
    return value


def ground_maps(
    parts: Sequence[Window],
    into: Array | Grid,
    rises: Mapping[str, complex],
    limit_v: float,
) -> tuple[GroundMap, ...]:
    """Return the ground in one fault, window by window, the one whose metal rises most first.

    Args:
        parts: what is to be drawn.
        into: current into each electrode, in the order of the system, shape (electrodes,) [A].
        rises: voltage of each electrode's metal [V].
        limit_v: the step voltage that is borne for as long as the fault lasts [V].
    """
    highest = max((abs(volts) for volts in rises.values()), default=0.0)
    if highest < _QUIET_V or not np.any(into):
        return ()
    found = [_map(part, into, rises, highest, limit_v) for part in parts]
    return tuple(sorted(found, key=lambda one: -one.metal_v))


def _map(
    part: Window,
    into: Array | Grid,
    rises: Mapping[str, complex],
    highest: float,
    limit: float,
) -> GroundMap:
    volts = cast(Grid, part.lift @ np.asarray(into, dtype=np.complex128))
    # No ground is higher than the metal that lifts it; near the end of a piece, whose current is
    # taken as even along it, the sum can come out a little above.
    volts = _held(volts, highest)
    # The map's own methods take magnitudes of differences, which phasors have as well.
    step = np.abs(SurfaceMap(part.x_m, part.y_m, cast(Array, volts)).step_v(PACE_M))
    for (x, y), pace in zip(part.heads, _paces(part, into, highest), strict=True):
        here = int(np.argmin(np.abs(part.y_m - y))), int(np.argmin(np.abs(part.x_m - x)))
        step[here] = max(step[here], pace)
    row, column = np.unravel_index(int(np.nanargmax(step)), step.shape)
    metal = max(part.names, key=lambda name: abs(rises[name]))
    worst = float(step[row, column])
    return GroundMap(
        names=part.names,
        x_m=part.x_m,
        y_m=part.y_m,
        ground_v=np.abs(volts),
        touch_v=np.abs(rises[metal] - volts),
        step_v=step,
        metal=metal,
        metal_v=abs(rises[metal]),
        step_worst_v=worst,
        step_at_m=(float(part.x_m[column]), float(part.y_m[row])),
        step_limit_v=limit,
        step_verdict=Verdict.HOLDS if worst <= limit else Verdict.FALLS_SHORT,
    )


def _held(volts: Grid, highest: float) -> Grid:
    """Return phasors no larger than a voltage."""
    return volts * np.minimum(1.0, highest / np.maximum(np.abs(volts), 1e-30))


def _paces(part: Window, into: Array | Grid, highest: float) -> Array:
    """Return the worst pace from each head, shape (heads,) [V]."""
    volts = _held(cast(Grid, part.beside @ np.asarray(into, dtype=np.complex128)), highest)
    value: Array = np.abs(volts[:, 1:] - volts[:, :1]).max(axis=1)
    return value
