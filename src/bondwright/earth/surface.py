"""Potential on the ground around electrodes: touch and step voltages, and what metal carries away.

All are prospective voltages: between metal and ground, or two places on the ground, with nobody
there. Limits (IEEE Std 80, IEC TS 60479) and the effect of a surface layer on them are in
:mod:`bondwright.safety`.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bondwright.earth.shapes import Place
from bondwright.earth.soil import Array, check_positive
from bondwright.earth.system import ElectrodeSystem

Mask = NDArray[np.bool_]

PACE_M: Final = 1.0
"""Length of a step, as IEEE Std 80 and IEC 61936-1 take it."""
REACH_M: Final = 1.0
"""How far a hand reaches, as they take it."""
MAX_POINTS: Final = 40_000
"""Most points of a map."""
_DIRECTIONS: Final = 48
_SMALLER: Final = 4


@dataclass(frozen=True, slots=True)
class Profile:
    """Potential along a straight line on the ground.

    Attributes:
        distance_m: from the start, shape (n,) [m].
        x_m: shape (n,) [m].
        y_m: shape (n,) [m].
        potential_v: against remote earth, shape (n,) [V].
    """

    distance_m: Array
    x_m: Array
    y_m: Array
    potential_v: Array

    def step_v(self, pace_m: float = PACE_M) -> Array:
        """Return the voltage across a pace that begins at each point, shape (n,) [V].

        NaN where the line ends before the pace does.
        """
        check_positive(pace_m, "pace")
        ahead = np.interp(
            self.distance_m + pace_m, self.distance_m, self.potential_v, right=math.nan
        )
        value: Array = np.abs(ahead - self.potential_v)
        return value


@dataclass(frozen=True, slots=True)
class SurfaceMap:
    """Potential over a rectangle of ground.

    Attributes:
        x_m: shape (nx,), rising [m].
        y_m: shape (ny,), rising [m].
        potential_v: against remote earth, shape (ny, nx) [V].
    """

    x_m: Array
    y_m: Array
    potential_v: Array

    def touch_v(self, metal_v: float) -> Array:
        """Return metal's potential minus the ground's, shape (ny, nx), magnitudes [V].

        Args:
            metal_v: potential of the metal against remote earth, V.
        """
        value: Array = np.abs(metal_v - self.potential_v)
        return value

    def step_v(self, pace_m: float = PACE_M) -> Array:
        """Return the highest voltage across a pace from each point in any direction [V].

        Args:
            pace_m: length of the pace, m.

        Returns:
            Shape (ny, nx); paces that leave the map don't count.
        """
        from scipy.interpolate import RegularGridInterpolator  # slow to load

        check_positive(pace_m, "pace")
        lookup = RegularGridInterpolator(
            (self.y_m, self.x_m), self.potential_v, bounds_error=False, fill_value=math.nan
        )
        yy, xx = np.meshgrid(self.y_m, self.x_m, indexing="ij")
        worst = np.zeros_like(self.potential_v)
        for index in range(_DIRECTIONS):
            turn = 2 * math.pi * index / _DIRECTIONS
            there = lookup(
                np.stack([yy + pace_m * math.sin(turn), xx + pace_m * math.cos(turn)], axis=-1)
            )
            worst = np.fmax(worst, np.abs(there - self.potential_v))
        return worst

    def near(self, outlines: Sequence[Sequence[Place]], reach_m: float = REACH_M) -> Mask:
        """Return where a person can touch metal, shape (ny, nx), true within reach.

        Args:
            outlines: lines of corners along which metal can be touched (a fence, a wall of steel),
                or single places.
            reach_m: m.
        """
        yy, xx = np.meshgrid(self.y_m, self.x_m, indexing="ij")
        nearest = np.full(xx.shape, math.inf)
        for line in outlines:
            legs = list(itertools.pairwise(line)) or [(line[0], line[0])]
            for (ax, ay), (bx, by) in legs:
                square = (bx - ax) ** 2 + (by - ay) ** 2
                along = ((xx - ax) * (bx - ax) + (yy - ay) * (by - ay)) / (square or 1.0)
                along = np.clip(along, 0.0, 1.0)
                here = np.hypot(xx - ax - along * (bx - ax), yy - ay - along * (by - ay))
                nearest = np.minimum(nearest, here)
        value: Mask = nearest <= reach_m
        return value


@dataclass(frozen=True, slots=True)
class Worst:
    """The worst place of a map.

    Attributes:
        voltage_v: [V].
        x_m: [m].
        y_m: [m].
    """

    voltage_v: float
    x_m: float
    y_m: float


def worst_of(drawn: SurfaceMap, voltage_v: Array, where: Mask | None = None) -> Worst:
    """Return the highest of some voltages over a map.

    Args:
        drawn: the map.
        voltage_v: shape (ny, nx), V.
        where: true where a place counts, shape (ny, nx); None for all.

    Raises:
        ValueError: no place counts.
    """
    masked = np.where(np.isnan(voltage_v), -math.inf, voltage_v)
    if where is not None:
        masked = np.where(where, masked, -math.inf)
    row, column = np.unravel_index(int(np.argmax(masked)), masked.shape)
    if masked[row, column] == -math.inf:
        raise ValueError("no place of the map is within reach; widen it or make it finer")
    return Worst(float(masked[row, column]), float(drawn.x_m[column]), float(drawn.y_m[row]))


def profile(
    system: ElectrodeSystem,
    currents: Mapping[str, float],
    start: Place,
    end: Place,
    points: int = 101,
) -> Profile:
    """Return the potential along a line on the ground.

    Args:
        system: the electrodes.
        currents: into each electrode, A.
        start: (x, y), m.
        end: (x, y), m.
        points: how many, two or more.

    Raises:
        ValueError: fewer than two points or too many, or a line of no length.
    """
    if not 2 <= points <= MAX_POINTS:
        raise ValueError(f"{points} points is not possible; give 2 to {MAX_POINTS}")
    length = check_positive(math.dist(start, end), "length of the line")
    part = np.linspace(0.0, 1.0, points)
    x, y = (start[k] + part * (end[k] - start[k]) for k in (0, 1))
    potential = system.ground_potential(currents, np.column_stack([x, y]))
    return Profile(part * length, x, y, potential)


def surface_map(
    system: ElectrodeSystem,
    currents: Mapping[str, float],
    lower: Place,
    upper: Place,
    spacing_m: float,
) -> SurfaceMap:
    """Return the potential over a rectangle of ground.

    Args:
        system: the electrodes.
        currents: into each electrode, A.
        lower: corner with the smaller (x, y), m.
        upper: corner opposite, m.
        spacing_m: greatest distance of neighbouring points, m.

    Raises:
        ValueError: corners in the wrong order, or too many points.
    """
    check_positive(spacing_m, "spacing of a map")
    wide, high = upper[0] - lower[0], upper[1] - lower[1]
    if wide <= 0 or high <= 0:
        raise ValueError("the second corner of a map must lie right of and above the first")
    nx, ny = math.ceil(wide / spacing_m) + 1, math.ceil(high / spacing_m) + 1
    if nx * ny > MAX_POINTS:
        raise ValueError(
            f"a map of {nx} x {ny} points is more than {MAX_POINTS}; make it smaller or coarser"
        )
    xs, ys = np.linspace(lower[0], upper[0], nx), np.linspace(lower[1], upper[1], ny)
    yy, xx = np.meshgrid(ys, xs, indexing="ij")
    flat = system.ground_potential(currents, np.column_stack([xx.ravel(), yy.ravel()]))
    return SurfaceMap(xs, ys, flat.reshape(ny, nx))


def map_around(
    system: ElectrodeSystem, currents: Mapping[str, float], margin_m: float, spacing_m: float
) -> SurfaceMap:
    """Return the potential around all electrodes, with a margin.

    Args:
        system: the electrodes.
        currents: into each electrode, A.
        margin_m: ground beyond the outermost metal, m.
        spacing_m: greatest distance of neighbouring points, m; coarser if there'd be too many.

    Raises:
        ValueError: numbers that are not positive.
    """
    check_positive(margin_m, "margin of a map")
    half = np.abs(system.pieces.along[:, :2]) * system.pieces.length[:, None] / 2
    low = (system.pieces.middle[:, :2] - half).min(axis=0) - margin_m
    top = (system.pieces.middle[:, :2] + half).max(axis=0) + margin_m
    least = math.sqrt(float(np.prod(top - low)) / (MAX_POINTS / _SMALLER))
    return surface_map(
        system,
        currents,
        (float(low[0]), float(low[1])),
        (float(top[0]), float(top[1])),
        max(check_positive(spacing_m, "spacing of a map"), least),
    )


@dataclass(frozen=True, slots=True)
class Transfer:
    """What metal that leads away brings with it.

    Attributes:
        metal_v: potential of the metal against remote earth [V].
        ground_v: of the ground where it can be touched [V].
        touch_v: between the two [V].
        x_m: where [m].
        y_m: [m].
    """

    metal_v: float
    ground_v: float
    touch_v: float
    x_m: float
    y_m: float


def transferred(
    system: ElectrodeSystem,
    currents: Mapping[str, float],
    metal_v: float,
    places: Sequence[Place],
) -> tuple[Transfer, ...]:
    """Return the touch voltage along metal that carries a potential away, or brings one in.

    A pipe, fence or cable shield joined to the electrodes carries their whole rise
    (:meth:`ElectrodeSystem.potentials`) to ground that has stayed near zero; one grounded only
    far away brings zero to ground that has risen (``metal_v`` 0).

    Args:
        system: the electrodes.
        currents: into each electrode, A.
        metal_v: potential of the metal, V.
        places: where it can be touched, (x, y), m.
    """
    if not places:
        return ()
    ground = system.ground_potential(currents, np.array(places, dtype=float))
    return tuple(
        Transfer(metal_v, float(v), abs(metal_v - float(v)), x, y)
        for (x, y), v in zip(places, ground, strict=True)
    )


def rod_step_ratio(length_m: float, radius_m: float, pace_m: float) -> float:
    """Return the step voltage beside a flush rod over the rod's rise, uniform soil.

    ``1 - ln((L + sqrt(L^2 + p^2)) / p) / (ln(4L/a) - 1)``, the form behind the table of
    MIL-HDBK-419A volume I, 2.7; one foot on the rod, the other a pace away.

    Args:
        length_m: rod length, m.
        radius_m: rod radius, m.
        pace_m: m.
    """
    check_positive(length_m, "rod length")
    check_positive(radius_m, "rod radius")
    check_positive(pace_m, "pace")
    return 1 - math.asinh(length_m / pace_m) / (math.log(4 * length_m / radius_m) - 1)
