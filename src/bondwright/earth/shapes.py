"""Electrodes by their geometry: every one is a set of straight round wires in the ground.

x and y lie on the surface, z is the depth below it, all in metres. A flat strip of width w acts as
a round wire of radius w/4; a plate is strips side by side, each with current even across it (self
distance ``w exp(-3/2)``). A bar in concrete is a wire as thick as
the concrete, with the concrete's own resistance around the steel in series (the two-term formula
of IEEE Std 80 and IEEE Std 142 for encased electrodes).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from bondwright.earth.soil import check_positive

Point = tuple[float, float, float]
Place = tuple[float, float]

RING_SIDES: Final = 24
"""Straight pieces that a ring is made of."""
PLATE_STRIPS: Final = 12
"""Strips that a plate is made of."""
_EVEN_STRIP: Final = math.exp(-1.5)
"""Geometric mean distance of a strip to itself, over its width (J. C. Maxwell)."""


@dataclass(frozen=True, slots=True)
class Wire:
    """A straight round conductor in the ground.

    Attributes:
        start: one end (x, y, depth) [m].
        end: the other [m].
        radius_m: its radius [m].
        coat_ohm_m: resistance of what wraps it, times its length [ohm m]; 0 for bare metal.

    Raises:
        ValueError: an end above ground, no length, or thicker than long.
    """

    start: Point
    end: Point
    radius_m: float
    coat_ohm_m: float = 0.0

    def __post_init__(self) -> None:
        check_positive(self.radius_m, "conductor radius")
        for value in (*self.start, *self.end, self.coat_ohm_m):
            if not math.isfinite(value):
                raise ValueError(f"{value} is no place in the ground; give numbers")
        if min(self.start[2], self.end[2]) < 0:
            raise ValueError("an electrode above the ground is none; depths count downward from 0")
        if self.coat_ohm_m < 0:
            raise ValueError("a coat of less than nothing is not possible; give 0 for bare metal")
        if self.length_m <= 2 * self.radius_m:
            raise ValueError(
                f"a conductor {self.length_m:g} m long and {2 * self.radius_m:g} m thick is too "
                "thick for a wire; describe it as a plate, or as several wires"
            )

    @property
    def length_m(self) -> float:
        """Length, m."""
        return math.dist(self.start, self.end)


@dataclass(frozen=True, slots=True)
class Electrode:
    """Metal at one potential in the ground.

    Attributes:
        name: a label.
        wires: what it is made of.
    """

    name: str
    wires: tuple[Wire, ...]

    def __post_init__(self) -> None:
        if not self.wires:
            raise ValueError(f"electrode {self.name!r} has no metal")

    @property
    def length_m(self) -> float:
        """Length of all its wires, m."""
        return sum(wire.length_m for wire in self.wires)

    def moved(self, dx_m: float, dy_m: float) -> Electrode:
        """Return the same electrode elsewhere."""
        return Electrode(
            self.name,
            tuple(
                replace(
                    wire,
                    start=(wire.start[0] + dx_m, wire.start[1] + dy_m, wire.start[2]),
                    end=(wire.end[0] + dx_m, wire.end[1] + dy_m, wire.end[2]),
                )
                for wire in self.wires
            ),
        )

    def joined(self, *others: Electrode, name: str | None = None) -> Electrode:
        """Return this and others as one electrode."""
        wires = itertools.chain(self.wires, *(other.wires for other in others))
        return Electrode(name or self.name, tuple(wires))


def rod(name: str, at: Place, length_m: float, diameter_m: float, top_m: float = 0.0) -> Electrode:
    """Return a driven rod, or a pipe, or a well casing.

    Args:
        name: a label.
        at: where, (x, y), m.
        length_m: length in the ground, m.
        diameter_m: outer diameter, m.
        top_m: depth of its upper end, m.
    """
    wire = Wire((*at, top_m), (*at, top_m + check_positive(length_m, "rod length")), diameter_m / 2)
    return Electrode(name, (wire,))


def buried_wire(
    name: str,
    corners: Sequence[Place],
    depth_m: float,
    diameter_m: float,
    *,
    closed: bool = False,
) -> Electrode:
    """Return a horizontal wire or pipe along a line of corners.

    Args:
        name: a label.
        corners: two or more places, (x, y), m.
        depth_m: depth of its axis, m.
        diameter_m: outer diameter, m.
        closed: whether it returns to the first corner.

    Raises:
        ValueError: fewer than two corners, or a wire that is not all in the ground.
    """
    if len(corners) < 2:
        raise ValueError(f"wire {name!r} has {len(corners)} corners; give two or more")
    if depth_m < diameter_m / 2:
        raise ValueError(
            f"wire {name!r} at {depth_m:g} m depth and {diameter_m:g} m thick is not buried"
        )
    legs = list(itertools.pairwise(corners))
    if closed:
        legs.append((corners[-1], corners[0]))
    return Electrode(
        name, tuple(Wire((*a, depth_m), (*b, depth_m), diameter_m / 2) for a, b in legs)
    )


def strip(
    name: str, corners: Sequence[Place], depth_m: float, width_m: float, *, closed: bool = False
) -> Electrode:
    """Return a flat strip; it acts as a wire of half its width across.

    Args:
        name: a label.
        corners: two or more places, (x, y), m.
        depth_m: depth, m.
        width_m: width of the strip, m.
        closed: whether it returns to the first corner.

    Raises:
        ValueError: as :func:`buried_wire`.
    """
    return buried_wire(name, corners, depth_m, width_m / 2, closed=closed)


def ring(
    name: str,
    centre: Place,
    diameter_m: float,
    depth_m: float,
    wire_diameter_m: float,
    sides: int = RING_SIDES,
) -> Electrode:
    """Return a round ring of buried wire, as a polygon of the same length.

    Args:
        name: a label.
        centre: (x, y), m.
        diameter_m: of the ring, m.
        depth_m: depth, m.
        wire_diameter_m: of the wire, m.
        sides: straight pieces, three or more.

    Raises:
        ValueError: fewer than three sides, or as :func:`buried_wire`.
    """
    if sides < 3:
        raise ValueError(f"a ring of {sides} sides is none; give three or more")
    check_positive(diameter_m, "ring diameter")
    turn = 2 * math.pi / sides
    radius = math.pi * diameter_m / (2 * sides * math.sin(turn / 2))
    corners = [
        (centre[0] + radius * math.cos(turn * i), centre[1] + radius * math.sin(turn * i))
        for i in range(sides)
    ]
    return buried_wire(name, corners, depth_m, wire_diameter_m, closed=True)


def grid(
    name: str,
    corner: Place,
    size_m: Place,
    meshes: tuple[int, int],
    depth_m: float,
    wire_diameter_m: float,
) -> Electrode:
    """Return a rectangular grid, its conductors parted at the crossings.

    Args:
        name: a label.
        corner: lowest (x, y), m.
        size_m: lengths along x and y, m.
        meshes: number of meshes along x and y.
        depth_m: depth, m.
        wire_diameter_m: of its wire, m.

    Raises:
        ValueError: no mesh, or as :func:`buried_wire`.
    """
    if min(meshes) < 1:
        raise ValueError(f"a grid of {meshes[0]} x {meshes[1]} meshes is not possible")
    check_positive(min(size_m), "grid size")
    xs = [corner[0] + size_m[0] * i / meshes[0] for i in range(meshes[0] + 1)]
    ys = [corner[1] + size_m[1] * i / meshes[1] for i in range(meshes[1] + 1)]
    legs = [((x, low), (x, high)) for x in xs for low, high in itertools.pairwise(ys)]
    legs += [((low, y), (high, y)) for y in ys for low, high in itertools.pairwise(xs)]
    parts = [buried_wire(name, leg, depth_m, wire_diameter_m) for leg in legs]
    return parts[0].joined(*parts[1:])


def plate(
    name: str,
    centre: Point,
    size_m: Place,
    *,
    upright: bool = False,
    round_plate: bool = False,
    strips: int = PLATE_STRIPS,
) -> Electrode:
    """Return a thin plate, level or upright, as strips side by side.

    Args:
        name: a label.
        centre: (x, y, depth) of its middle, m.
        size_m: along x, and along y (level) or down (upright), m; a round plate: its diameter
            twice.
        upright: whether it stands.
        round_plate: whether it is round.
        strips: how many.

    Raises:
        ValueError: impossible numbers, or a plate that sticks out of the ground.
    """
    check_positive(min(size_m), "plate size")
    if strips < 2:
        raise ValueError(f"a plate of {strips} strips is none; give two or more")
    wide = size_m[1] / strips
    wires = []
    for index in range(strips):
        off = -size_m[1] / 2 + (index + 0.5) * wide
        half = size_m[0] / 2
        if round_plate:
            half *= math.sqrt(max(1 - (2 * off / size_m[1]) ** 2, 0.0))
        x, y, z = centre
        here = (y, z + off) if upright else (y + off, z)
        wires.append(Wire((x - half, *here), (x + half, *here), wide * _EVEN_STRIP))
    return Electrode(name, tuple(wires))


def concrete_bar(
    name: str,
    corners: Sequence[Place],
    depth_m: float,
    bar_diameter_m: float,
    concrete_diameter_m: float,
    concrete_ohm_m: float,
) -> Electrode:
    """Return a bar or bare wire lying in concrete, as in a footing.

    Args:
        name: a label.
        corners: two or more places, (x, y), m.
        depth_m: depth of its axis, m.
        bar_diameter_m: of the metal, m.
        concrete_diameter_m: of a round beam with the footing's circumference or area, m.
        concrete_ohm_m: resistivity of the concrete, ohm m.

    Raises:
        ValueError: metal thicker than the concrete, or as :func:`buried_wire`.
    """
    coat = _coat(bar_diameter_m, concrete_diameter_m, concrete_ohm_m)
    bare = buried_wire(name, corners, depth_m, concrete_diameter_m)
    return Electrode(name, tuple(replace(wire, coat_ohm_m=coat) for wire in bare.wires))


def pile(
    name: str,
    at: Place,
    length_m: float,
    steel_diameter_m: float,
    concrete_diameter_m: float,
    concrete_ohm_m: float,
    top_m: float = 0.0,
) -> Electrode:
    """Return a concrete pile with its steel (the cage counts as one bar of its diameter).

    Args:
        name: a label.
        at: where, (x, y), m.
        length_m: length, m.
        steel_diameter_m: across the cage or bar, m.
        concrete_diameter_m: of the pile, m.
        concrete_ohm_m: resistivity of the concrete, ohm m.
        top_m: depth of its head, m.

    Raises:
        ValueError: metal thicker than the concrete, or impossible numbers.
    """
    coat = _coat(steel_diameter_m, concrete_diameter_m, concrete_ohm_m)
    bare = rod(name, at, length_m, concrete_diameter_m, top_m)
    return Electrode(name, tuple(replace(wire, coat_ohm_m=coat) for wire in bare.wires))


def _coat(inner_m: float, outer_m: float, rho_ohm_m: float) -> float:
    check_positive(inner_m, "diameter of the metal")
    check_positive(rho_ohm_m, "resistivity of the concrete")
    if not inner_m < outer_m < math.inf:
        raise ValueError(f"metal {inner_m:g} m across doesn't lie in concrete {outer_m:g} m across")
    return rho_ohm_m * math.log(outer_m / inner_m) / (2 * math.pi)
