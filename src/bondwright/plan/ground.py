"""What stands in the ground of a site: the resistance matrix of all its electrodes.

Electrodes whose place is known go into one computation, with a neighbour's metal: each is at one
potential, and every ampere into one lifts all the others (:mod:`bondwright.earth.system`). One
whose place isn't known stands alone. A resistance that was measured replaces the computed one: its
row and column are scaled by the root of the ratio, so that the coupling of two electrodes, as a
part of the geometric mean of their own resistances, stays what geometry says, and the matrix stays
that of a passive body.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from bondwright.earth import shapes
from bondwright.earth.soil import Soil
from bondwright.plan.buried import Laid, has_shape, lay
from bondwright.plan.defaults import Defaults, electrode_assumption
from bondwright.plan.model import GroundMatrix, PlannedGround
from bondwright.site.ground import Buried, ElectrodeKind
from bondwright.site.model import Site
from bondwright.units import Dimension, UnitSystem, show

if TYPE_CHECKING:
    from bondwright.earth.system import ElectrodeSystem

Matrix = NDArray[np.float64]

LEAST_OHM: Final = 1e-3
"""An electrode that is said to have less counts as having this much."""
_CLOSE: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Said:
    """What is to be said of one electrode in the ground.

    Attributes:
        assumed: what was assumed or worked out.
        failed: why its shape can't be, or "".
    """

    assumed: tuple[str, ...] = ()
    failed: str = ""


def plan_ground(
    site: Site,
    soil: Soil,
    electrode_resistance: Callable[[Buried, float], float],
    others: Mapping[str, Soil] = MappingProxyType({}),
    taken: Defaults | None = None,
    system: UnitSystem | None = None,
) -> tuple[PlannedGround, Mapping[str, Said], str]:
    """Work out everything that stands in the ground.

    Args:
        site: the description.
        soil: its layers.
        electrode_resistance: resistance of an electrode that has no shape, in soil of so many
            ohm m, ohm.
        others: what the soil may be instead, by name (the ends of what a survey leaves open).
        taken: sizes taken where none is given; None takes the usual ones.
        system: units of what is said.

    Returns:
        The ground; what is to be said of each electrode; and why the electrodes can't be worked
        out together, or "".
    """
    every: dict[str, Buried] = {**site.electrodes, **site.neighbours}
    laid, failed = dict[str, Laid](), dict[str, str]()
    for name, one in every.items():
        try:
            if has_shape(one):
                laid[name] = lay(name, one, taken, system)
        except ValueError as error:
            failed[name] = str(error)
    placed = {name: metal for name, metal in laid.items() if metal.placed}
    problem = ""
    try:
        base = _together(soil, placed)
    except ValueError as error:
        problem, placed = str(error), {}
        base = _together(soil, placed)
    own: dict[str, float] = {}
    for name, one in every.items():
        try:
            own[name] = (
                base.own[name]
                if name in placed
                else _own_in(one, laid.get(name), soil, electrode_resistance)
            )
        except ValueError as error:
            failed[name] = str(error)
            laid.pop(name, None)
            own[name] = electrode_resistance(_usual(one), soil.rho_ohm_m[0])
    said = {
        name: _said(name, one, laid.get(name), soil, own[name], failed.get(name, ""), taken, system)
        for name, one in every.items()
    }
    names = tuple(every)
    factors = _factors(every, base)
    seasons = {}
    changed = {name: soil.with_top(s.down_to, s.factor) for name, s in site.seasons.items()}
    for season, there in {**others, **changed}.items():
        single = {
            name: _given_or(
                one,
                own[name]
                if name in failed
                else _own_in(one, laid.get(name), there, electrode_resistance),
            )
            for name, one in every.items()
            if name not in placed
        }
        made = _together(there, placed)
        # a season changes what was measured; what a survey leaves open doesn't
        scaled = factors if season in changed else _factors(every, made)
        seasons[season] = GroundMatrix(there, _matrix(names, made, scaled, single))
    single = {name: _given_or(one, own[name]) for name, one in every.items() if name not in placed}
    ground = PlannedGround(
        soil=soil,
        names=names,
        resistance=_matrix(names, base, factors, single),
        shapes=MappingProxyType({name: metal.shape for name, metal in placed.items()}),
        computed=MappingProxyType(own),
        factors=MappingProxyType(factors),
        neighbours=frozenset(site.neighbours),
        seasons=MappingProxyType(seasons),
    )
    return ground, said, problem


def _factors(every: Mapping[str, Buried], made: _Made) -> dict[str, float]:
    """Return measured over computed resistance of the electrodes that have both."""
    return {
        name: max(one.resistance, LEAST_OHM) / made.own[name]
        for name, one in every.items()
        if one.resistance is not None and name in made.own
    }


def _given_or(one: Buried, computed: float) -> float:
    return computed if one.resistance is None else max(one.resistance, LEAST_OHM)


def _said(
    name: str,
    one: Buried,
    laid: Laid | None,
    soil: Soil,
    ohms: float,
    failed: str,
    taken: Defaults | None,
    system: UnitSystem | None,
) -> Said:
    """Return what is to be said of an electrode."""
    if one.resistance is None:
        return Said((_words(name, one, laid, soil, ohms, failed, taken, system),), failed)
    if laid is None or not laid.placed or not laid.taken:
        return Said(failed=failed)
    return Said((f"in the ground: {', '.join(laid.taken)}",), failed)


def _usual(one: Buried) -> Buried:
    """Return an electrode of the same kind and usual size."""
    return Buried(kind=one.kind)


def _plain(one: Buried, laid: Laid | None, soil: Soil) -> bool:
    """Whether the closed form does: rods at no known place in uniform soil, or no shape at all."""
    return laid is None or (
        one.kind is ElectrodeKind.ROD
        and not laid.placed
        and one.depth is None
        and len(soil.rho_ohm_m) == 1
    )


def _own_in(
    one: Buried,
    laid: Laid | None,
    soil: Soil,
    electrode_resistance: Callable[[Buried, float], float],
) -> float:
    """Return what an electrode has by itself in some soil, ohm."""
    if laid is None or _plain(one, laid, soil):
        return electrode_resistance(one, soil.rho_ohm_m[0])
    return system_of(soil, (laid.shape,)).alone(laid.shape.name)


def _words(
    name: str,
    one: Buried,
    laid: Laid | None,
    soil: Soil,
    ohms: float,
    failed: str,
    taken: Defaults | None,
    system: UnitSystem | None,
) -> str:
    if laid is None or _plain(one, laid, soil):
        shown = _usual(one) if failed else one
        text = electrode_assumption(name, shown, soil.rho_ohm_m[0], ohms, taken, system).text
        return text if len(soil.rho_ohm_m) == 1 else f"{text}; the lower layers are left out"
    sizes = f" (taken: {', '.join(laid.taken)})" if laid.taken else ""
    where = "" if laid.placed else "; its place isn't given, so it stands apart from all others"
    return (
        f"resistance to earth {show(ohms, Dimension.RESISTANCE)}, worked out from its "
        f"shape{sizes} in soil of {soil_text(soil)}{where}; measure it"
    )


def soil_text(soil: Soil) -> str:
    """Write a soil as in a site file, rounded for a person."""
    parts = [show(soil.rho_ohm_m[0], Dimension.RESISTIVITY)]
    for thick, rho in zip(soil.thickness_m, soil.rho_ohm_m[1:], strict=True):
        parts += [show(thick, Dimension.LENGTH), show(rho, Dimension.RESISTIVITY)]
    return " / ".join(parts)


@dataclass(frozen=True, slots=True)
class _Made:
    names: tuple[str, ...]
    matrix: Matrix
    own: Mapping[str, float]


def _together(soil: Soil, placed: Mapping[str, Laid]) -> _Made:
    if not placed:
        return _Made((), np.zeros((0, 0)), {})
    system = system_of(soil, tuple(laid.shape for laid in placed.values()))
    own = {name: system.alone(name) for name in placed}
    return _Made(tuple(placed), system.resistance_ohm, own)


def _matrix(
    names: Sequence[str], made: _Made, factors: Mapping[str, float], single: Mapping[str, float]
) -> tuple[tuple[float, ...], ...]:
    whole = np.zeros((len(names), len(names)))
    at = [names.index(name) for name in made.names]
    root = np.array([math.sqrt(factors.get(name, 1.0)) for name in made.names])
    whole[np.ix_(at, at)] = made.matrix * np.outer(root, root)
    for name, ohms in single.items():
        k = names.index(name)
        whole[k, k] = ohms
    return tuple(tuple(float(v) for v in row) for row in whole)


@lru_cache(maxsize=64)
def system_of(soil: Soil, metal: tuple[shapes.Electrode, ...]) -> ElectrodeSystem:
    """Return electrodes solved in a soil; the same ones are solved once.

    Raises:
        ValueError: they lie in one another, or are too many.
    """
    from bondwright.earth.system import solve  # slow to load, and needed for shapes only

    return solve(soil, metal)


def coupled_groups(ground: PlannedGround, among: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Return the electrodes that lift each other, in groups; one that stands alone is a group.

    Args:
        ground: what stands in the ground.
        among: ids that count.
    """
    matrix = np.array(ground.resistance)
    left, groups = list(among), list[tuple[str, ...]]()
    while left:
        group, frontier = [left.pop(0)], 0
        while frontier < len(group):
            row = matrix[ground.names.index(group[frontier])]
            near = [n for n in left if abs(row[ground.names.index(n)]) > _CLOSE]
            group += near
            left = [n for n in left if n not in near]
            frontier += 1
        groups.append(tuple(sorted(group, key=ground.names.index)))
    return tuple(groups)
