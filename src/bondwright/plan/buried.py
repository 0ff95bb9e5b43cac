"""Electrodes of a site as metal of a shape in the ground, with what had to be assumed of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from bondwright.catalog.earth_data import earth_data
from bondwright.catalog.sizes import Conductor
from bondwright.earth import shapes
from bondwright.earth.shapes import Place
from bondwright.plan.defaults import Defaults, defaults
from bondwright.site.ground import Buried, ElectrodeKind
from bondwright.site.ground_checks import geometry_given
from bondwright.units import INCH, Dimension, UnitSystem, show, wanted_units

_THIN_M: Final = 0.1
"""Below this a measure is told in inches or millimetres, as people measure it."""


@dataclass(frozen=True, slots=True)
class Laid:
    """An electrode as metal in the ground.

    Attributes:
        shape: its wires.
        taken: what was assumed of it, as clauses.
        placed: whether its place is known; if not, it stands where x and y are 0, and what it
            does to others can't be told.
    """

    shape: shapes.Electrode
    taken: tuple[str, ...]
    placed: bool


def has_shape(electrode: Buried) -> bool:
    """Whether enough is said of an electrode to work it out by its shape."""
    upright = {ElectrodeKind.ROD, ElectrodeKind.WELL}
    return electrode.kind in upright or bool(geometry_given(electrode))


def lay(
    name: str, electrode: Buried, usual: Defaults | None = None, system: UnitSystem | None = None
) -> Laid:
    """Return an electrode as metal in the ground.

    Args:
        name: its id.
        electrode: as described; what is missing is taken from the defaults and told.
        usual: the defaults; None takes those of the United States.
        system: units in which it is told.

    Raises:
        ValueError: there can be no such metal (thicker than long, above the ground, ...).
    """
    measures = _Measures(name, electrode, [], usual or defaults(), system)
    shape = _MAKERS[electrode.kind](measures)
    placed = bool(electrode.along) or electrode.position is not None
    return Laid(shape, tuple(measures.taken), placed)


@dataclass(frozen=True, slots=True)
class _Measures:
    """The measures of one electrode; every default that is taken is noted."""

    name: str
    given: Buried
    taken: list[str]
    usual: Defaults
    system: UnitSystem | None

    def long(self, metres: float) -> str:
        """Write a length for the reader."""
        return show(metres, Dimension.LENGTH, self.system)

    def of(self, key: str, value: float | None, words: str) -> float:
        if value is not None:
            return value
        found = self.usual.geometry[self.given.kind][key]
        if key != "diameter" and found >= _THIN_M:
            text = self.long(found)
        else:
            us = (self.system or wanted_units()) == "us"
            text = f"{found / INCH:.4g} in" if us else f"{1000 * found:.4g} mm"
        self.taken.append(words.format(text))
        return found

    @property
    def length(self) -> float:
        return self.of("length", self.given.length, "{} long")

    @property
    def diameter(self) -> float:
        return self.of("diameter", self.given.diameter, "{} thick")

    @property
    def depth(self) -> float:
        return self.of("depth", self.given.depth, "{} deep")

    @property
    def concrete(self) -> tuple[float, float]:
        """Thickness and resistivity of the concrete."""
        thick = self.of("concrete", self.given.concrete, "concrete {} thick around it")
        rho = self.given.concrete_resistivity
        if rho is None:
            rho = earth_data().concrete["usual"]
            self.taken.append(f"concrete of {show(rho, Dimension.RESISTIVITY)}")
        return thick, rho

    @property
    def origin(self) -> Place:
        spot = self.given.position
        return (spot[0], spot[1]) if spot is not None else (0.0, 0.0)

    def standing(self) -> list[Place]:
        """Return where each of several stands."""
        given = self.given
        count = given.count
        if len(given.along) > 1 or (given.along and count == 1):
            return [(x, y) for x, y in given.along]
        x, y = given.along[0] if given.along else self.origin
        if count == 1:
            return [(x, y)]
        apart = given.spacing
        if apart is None:
            apart = self.usual.rod_spacing
            self.taken.append(f"{self.long(apart)} apart")
        self.taken.append("in a line toward growing x")
        return [(x + k * apart, y) for k in range(count)]

    def corners(self) -> list[Place]:
        """Return the corners of a line in the ground."""
        if self.given.along:
            return [(x, y) for x, y in self.given.along]
        x, y = self.origin
        length = self.length
        self.taken.append("straight, toward growing x")
        return [(x, y), (x + length, y)]


def wire_diameter(wire: Conductor) -> float:
    """Return the diameter of a solid round wire of a conductor's area, m."""
    return math.sqrt(wire.area_cmil) / 1000 * INCH


def _together(m: _Measures, make: Callable[[Place], shapes.Electrode]) -> shapes.Electrode:
    first, *others = [make(at) for at in m.standing()]
    return first.joined(*others, name=m.name)


def _rod(m: _Measures) -> shapes.Electrode:
    length, thick = m.length, m.diameter
    top = m.given.depth or 0.0
    return _together(m, lambda at: shapes.rod(m.name, at, length, thick, top))


def _pipe(m: _Measures) -> shapes.Electrode:
    corners = m.corners()
    return shapes.buried_wire(m.name, corners, m.depth, m.diameter)


def _footing(m: _Measures) -> shapes.Electrode:
    corners, depth, bar = m.corners(), m.depth, m.diameter
    thick, rho = m.concrete
    one = shapes.concrete_bar(m.name, corners, max(depth, thick / 2), bar, thick, rho)
    if m.given.count == 1:
        return one
    apart = m.given.spacing
    if apart is None:
        apart = m.usual.rod_spacing
        m.taken.append(f"{m.long(apart)} apart")
    m.taken.append("side by side toward growing y")
    return one.joined(*(one.moved(0.0, k * apart) for k in range(1, m.given.count)))


def _wire(m: _Measures) -> float:
    """Return the diameter of the wire of a grid or strip."""
    wire = m.given.wire
    if wire is None:
        wire = m.usual.ring_wire
        m.taken.append(f"of {wire}")
    return wire_diameter(wire)


def _strip(m: _Measures) -> shapes.Electrode:
    corners, depth, wide = m.corners(), m.depth, m.given.width
    if wide is None and m.given.wire is None:
        wide = m.of("width", None, "{} wide")
    if wide is not None:
        return shapes.strip(m.name, corners, depth, wide)
    return shapes.buried_wire(m.name, corners, depth, _wire(m))


def _grid(m: _Measures) -> shapes.Electrode:
    given, long = m.given, m.length
    wide = given.width
    if wide is None:
        wide = long
        m.taken.append("square")
    if given.meshes is not None:
        meshes = (given.meshes[0], given.meshes[1])
    else:
        side = m.of("mesh", None, "meshes of about {}")
        meshes = (max(1, round(long / side)), max(1, round(wide / side)))
    return shapes.grid(m.name, m.origin, (long, wide), meshes, m.depth, _wire(m))


def _pile_cap(m: _Measures) -> shapes.Electrode:
    """Return piles, and beams of the cap from head to head around them.

    The steel of the beams is taken as far across as that of the piles, as a part of the concrete.
    """
    places, length, thick = m.standing(), m.length, m.diameter
    (concrete, rho), top = m.concrete, m.depth
    piles = [shapes.pile(m.name, at, length, thick, concrete, rho, top) for at in places]
    if len(places) < 2:
        return piles[0]
    high = m.of("width", m.given.width, "a cap {} thick")
    way = [*places, places[0]] if len(places) > 2 else places
    beams = shapes.concrete_bar(m.name, way, top - high / 2, high * thick / concrete, high, rho)
    return piles[0].joined(*piles[1:], beams, name=m.name)


def _ring(m: _Measures) -> shapes.Electrode:
    given = m.given
    depth = m.depth
    if given.width is not None:
        thick = given.width / 2  # a strip acts as a round wire of half its width
    else:
        wire = given.ring_conductor
        if wire is None:
            wire = m.usual.ring_wire
            m.taken.append(f"of {wire}")
        thick = wire_diameter(wire)
    if given.along:
        corners = [(x, y) for x, y in given.along]
        return shapes.buried_wire(m.name, corners, depth, thick, closed=True)
    across = given.across
    if across is None:
        across = m.length / math.pi
        m.taken.append("round")
    return shapes.ring(m.name, m.origin, across, depth, thick)


def _plate(m: _Measures) -> shapes.Electrode:
    given = m.given
    depth = m.depth
    round_plate = given.diameter is not None and given.length is None
    if round_plate and given.diameter is not None:
        long = wide = given.diameter
    else:
        long = m.length
        wide = given.width if given.width is not None else long
    if not given.upright:
        m.taken.append("level")
    return _together(
        m,
        lambda at: shapes.plate(
            m.name, (*at, depth), (long, wide), upright=given.upright, round_plate=round_plate
        ),
    )


def _steel(m: _Measures) -> shapes.Electrode:
    given = m.given
    length, thick, top = m.length, m.diameter, given.depth or 0.0
    if given.concrete is None and given.concrete_resistivity is None:
        m.taken.append("bare")
        return _together(m, lambda at: shapes.rod(m.name, at, length, thick, top))
    concrete, rho = m.concrete
    return _together(m, lambda at: shapes.pile(m.name, at, length, thick, concrete, rho, top))


_MAKERS: Final[Mapping[ElectrodeKind, Callable[[_Measures], shapes.Electrode]]] = {
    ElectrodeKind.ROD: _rod,
    ElectrodeKind.WATER_PIPE: _pipe,
    ElectrodeKind.CONCRETE: _footing,
    ElectrodeKind.RING: _ring,
    ElectrodeKind.PLATE: _plate,
    ElectrodeKind.STEEL: _steel,
    ElectrodeKind.GRID: _grid,
    ElectrodeKind.STRIP: _strip,
    ElectrodeKind.WELL: _rod,
    ElectrodeKind.PILE_CAP: _pile_cap,
}
