"""The conductors of one run as a section of the circuit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import numpy as np

from bondwright.catalog.conductors import properties, pulled_spacing, resistance_dc
from bondwright.catalog.raceways import RacewayDimensions
from bondwright.catalog.sizes import Conductor
from bondwright.network.circuit import Complex
from bondwright.network.converge import RacewayCurrents
from bondwright.network.geometry import SET_DISTANCE, LaidWire, distances
from bondwright.network.impedance import (
    Surfaces,
    bundle_impedance,
    enclose,
    internal_impedance,
    tube_impedances,
)
from bondwright.network.magnetism import STEEL_RESISTIVITY, steel_resistivity
from bondwright.network.steel import SteelTube
from bondwright.plan.model import PlannedRun
from bondwright.units import FOOT

__all__ = [
    "ALUMINIUM_RESISTIVITY",
    "METAL_DISTANCE",
    "METAL_RADIUS",
    "SET_DISTANCE",
    "STEEL_PERMEABILITY",
    "STEEL_RESISTIVITY",
    "Strand",
    "lead_impedance",
    "metal_mutual",
    "metal_section",
    "raceway_currents",
    "run_impedance",
    "steel_tube",
    "strands",
    "wall_extra",
    "wall_temperature",
    "wire_constants",
]

METAL_DISTANCE: Final = 3.0
"""Assumed distance between a run and a pipe or frame that goes the same way, m."""

METAL_RADIUS: Final = 0.011
"""Geometric mean radius taken for such metal, m (a 3/4 in tube)."""

STEEL_PERMEABILITY: Final = 300.0
"""Relative permeability taken for steel raceway where its current isn't known yet. It depends
on the current: see :mod:`bondwright.network.steel`."""

ALUMINIUM_RESISTIVITY: Final = 2.8264e-8
"""Aluminium at 20 degC, ohm m (IEC 60949)."""

ALUMINIUM_ALPHA: Final = 0.00403
"""Temperature coefficient of aluminium's resistance referred to 20 degC, 1/K (IEC 60949)."""

STEEL_REACTANCE: Final = 0.25
"""Part by which steel raceway raises the reactance among the wires inside.

The mean of NEC chapter 9 table 9: reactance in steel over reactance in plastic is 1.23 to 1.27,
1.25 on average."""

WALL_RESISTANCE: Final = {True: 0.0018 / (1000 * FOOT), False: 0.0050 / (1000 * FOOT)}
"""Resistance that a wall adds among the wires inside, ohm/m at 60 Hz: steel, other metal.

The mean differences of NEC chapter 9 table 9 to plastic, over the rows that it prints with three
decimals (3/0 AWG and larger, copper)."""

_TABLE_FREQUENCY: Final = 60.0


@dataclass(frozen=True, slots=True)
class Strand:
    """One conductor of a run.

    Attributes:
        terminal: the terminal it joins at both ends: L1, L2, L3, N or G.
        name: unique within the run: "L1", "N", "metal", "raceway"; ".2" and so on for sets.
        conductor: its size and metal; None for a raceway.
        set: number of the parallel set, from 0.
    """

    terminal: str
    name: str
    conductor: Conductor | None
    set: int


@lru_cache(maxsize=16384)
def strands(run: PlannedRun) -> tuple[Strand, ...]:
    """Return the conductors of a run, set by set, raceways last in each set.

    Every parallel set is separate: its conductors share current as their impedances say. A
    bonding conductor or neutral with fewer sets than the lines is in the first sets only.
    """
    return tuple(_strands(run))


def _strands(run: PlannedRun) -> Iterator[Strand]:
    for number in range(run.lines.sets):
        tail = f".{number + 1}" if run.lines.sets > 1 else ""
        for line in run.on:
            yield Strand(line, line + tail, run.lines, number)
        for terminal, name, conductor in (("N", "N", run.neutral), ("G", "metal", run.metal)):
            if conductor is not None and number < conductor.sets:
                yield Strand(terminal, name + tail, conductor, number)
        if run.raceway is not None and run.raceway.kind.is_metal and run.raceway_bonded:
            yield Strand("G", "raceway" + tail, None, number)


def run_impedance(
    run: PlannedRun,
    frequency: float,
    soil: float,
    temperature: float,
    surfaces: Mapping[int, Surfaces] | None = None,
) -> tuple[tuple[Strand, ...], Complex]:
    """Return the conductors of a run and their series impedance over its whole length.

    A metal raceway that isn't joined at both ends carries no current and is no conductor of the
    run, yet it is around the wires: a net current in them magnetises steel (the choke effect).

    Args:
        run: what lies there.
        frequency: Hz.
        soil: resistivity, ohm m.
        temperature: of the conductors, degC.
        surfaces: impedances of steel raceways at their currents, by number of the set; where
            they aren't given, steel has :data:`STEEL_PERMEABILITY`.

    Returns:
        The n conductors and the (n, n) matrix in ohm. Conductors of different sets are coupled
        through the distance of their raceways; a steel raceway also screens them.

    Raises:
        ValueError: the run lies in a way that isn't known.
    """
    # Buildings are made of many runs of few sorts: what only the sort decides is worked out once.
    sort = replace(run, id="", from_="", to="", length=1.0, supply_side=False)
    given = None if surfaces is None else tuple(sorted(surfaces.items()))
    parts, per_metre = _per_metre(sort, frequency, soil, temperature, given)
    return parts, per_metre * run.length


@lru_cache(maxsize=4096)
def _per_metre(
    run: PlannedRun,
    frequency: float,
    soil: float,
    temperature: float,
    surfaces: tuple[tuple[int, Surfaces], ...] | None,
) -> tuple[tuple[Strand, ...], Complex]:
    parts = strands(run)
    wires = [part for part in parts if part.conductor is not None]
    n = len(parts)
    z = _wire_matrix(wires, run, frequency, soil, temperature)
    out = np.zeros((n, n), dtype=np.complex128)
    place = {part.name: k for k, part in enumerate(parts)}
    wire_at = [place[part.name] for part in wires]
    out[np.ix_(wire_at, wire_at)] = z
    if run.raceway is not None and run.raceway.kind.is_metal:
        known = dict(surfaces or ())
        linear = _linear_surfaces(run.raceway, frequency, temperature)
        for number in range(run.lines.sets):
            wall = known.get(number, linear)
            _enclose_set(out, parts, number, run.raceway, wall, frequency, soil)
        _couple_sets(out, parts, frequency, soil)
    out.flags.writeable = False
    return parts, out


def steel_tube(run: PlannedRun, temperature: float) -> SteelTube | None:
    """Return the steel wall around each set of a run; None if there is none.

    Args:
        run: the run.
        temperature: of the conductors, degC.
    """
    if run.raceway is None or not run.raceway.kind.is_magnetic:
        return None
    rho = steel_resistivity(wall_temperature(temperature))
    return SteelTube(run.raceway.inside_m / 2, run.raceway.outside_m / 2, rho)


def raceway_currents(
    parts: Sequence[Strand], currents: Sequence[complex]
) -> dict[int, RacewayCurrents]:
    """Return the currents at the raceway of each set.

    Args:
        parts: the conductors of a run, from :func:`strands`.
        currents: of each, A rms, from the run's start to its end.
    """
    if len(parts) != len(currents):
        msg = f"{len(parts)} conductors need {len(parts)} currents, not {len(currents)}"
        raise ValueError(msg)
    enclosed: dict[int, complex] = {}
    tube: dict[int, complex] = {}
    for part, current in zip(parts, currents, strict=True):
        kind = tube if part.conductor is None else enclosed
        kind[part.set] = kind.get(part.set, 0) + current
    return {k: RacewayCurrents(enclosed[k], tube.get(k, 0)) for k in enclosed}


def wall_temperature(temperature: float) -> float:
    """Return the temperature of a raceway, degC: half the wires' rise over 20 degC is taken."""
    return 20 + max(0.0, temperature - 20) / 2


def _wire_matrix(
    wires: Sequence[Strand], run: PlannedRun, frequency: float, soil: float, temperature: float
) -> Complex:
    resistance, extra, gmr = [], [], []
    for wire in wires:
        r, x, radius = wire_constants(_wire(wire), frequency, temperature)
        resistance.append(r)
        extra.append(x)
        gmr.append(radius)
    laid = [LaidWire(wire.terminal, _wire(wire), wire.set) for wire in wires]
    return bundle_impedance(resistance, extra, gmr, distances(run.lie, laid), frequency, soil)


def _wire(part: Strand) -> Conductor:
    if part.conductor is None:
        msg = f"{part.name} is no wire"
        raise TypeError(msg)
    return part.conductor


def wire_constants(
    conductor: Conductor, frequency: float, temperature: float
) -> tuple[float, float, float]:
    """Return ac resistance (ohm/m), extra reactance (ohm/m) and GMR (m) of one wire."""
    facts = properties(conductor.size, conductor.material)
    r_dc = resistance_dc(conductor.size, conductor.material, temperature)
    r, x = internal_impedance(r_dc, math.sqrt(conductor.size.area_m2 / math.pi), frequency)
    return r, x, facts.gmr_m


def _linear_surfaces(raceway: RacewayDimensions, frequency: float, temperature: float) -> Surfaces:
    warm = wall_temperature(temperature)
    if raceway.kind.is_magnetic:
        rho, mu = steel_resistivity(warm), STEEL_PERMEABILITY
    else:
        rho, mu = ALUMINIUM_RESISTIVITY * (1 + ALUMINIUM_ALPHA * (warm - 20)), 1.0
    return tube_impedances(raceway.inside_m / 2, raceway.outside_m / 2, rho, mu, frequency)


def _enclose_set(
    out: Complex,
    parts: Sequence[Strand],
    number: int,
    raceway: RacewayDimensions,
    wall: Surfaces,
    frequency: float,
    soil: float,
) -> None:
    inside = [k for k, p in enumerate(parts) if p.set == number and p.conductor is not None]
    tube = [k for k, p in enumerate(parts) if p.set == number and p.conductor is None]
    block = out[np.ix_(inside, inside)]
    block = block + wall_extra([_wire(parts[k]) for k in inside], raceway, frequency)
    whole = enclose(block, raceway.inside_m / 2, raceway.outside_m / 2, wall, frequency, soil)
    at = [*inside, *tube]
    out[np.ix_(at, at)] = whole[: len(at), : len(at)]


def wall_extra(wires: Sequence[Conductor], raceway: RacewayDimensions, frequency: float) -> Complex:
    """Return what a metal wall adds to wires that don't lie in its axis, ohm/m.

    A tube around wires in its axis does nothing to currents that sum to zero inside. Wires
    that lie as they fall are not in the axis: NEC chapter 9 table 9 has a higher reactance in
    steel and a higher resistance in any metal. The difference d is added as
    ``J diag(d) J`` with ``J = 1 - 1/n``: in full to balanced currents, not at all to a current
    that is the same in all wires and returns through the tube, which is the tube's own affair.
    The reactance grows with frequency, the resistance (a skin effect in the wall) with its
    square root.

    Args:
        wires: n wires in one raceway.
        raceway: the raceway.
        frequency: Hz.

    Returns:
        Shape (n, n), ohm/m.
    """
    n = len(wires)
    magnetic = raceway.kind.is_magnetic
    part = STEEL_REACTANCE if magnetic else 0.0
    extra = np.empty(n, dtype=np.complex128)
    for k, wire in enumerate(wires):
        spread = pulled_spacing(wire.size) / properties(wire.size, wire.material).gmr_m
        x = part * 2 * math.pi * frequency * 2e-7 * math.log(spread)
        extra[k] = WALL_RESISTANCE[magnetic] * math.sqrt(frequency / _TABLE_FREQUENCY) + 1j * x
    centre = np.eye(n) - 1 / n
    return np.asarray(centre @ np.diag(extra) @ centre, dtype=np.complex128)


def _couple_sets(out: Complex, parts: Sequence[Strand], frequency: float, soil: float) -> None:
    between = bundle_impedance([0.0], [0.0], [1.0], [[1.0]], frequency, soil)[0, 0]
    reactance = 2 * math.pi * frequency * 2e-7
    for i, a in enumerate(parts):
        for j, b in enumerate(parts):
            if a.set != b.set:
                apart = SET_DISTANCE * abs(a.set - b.set)
                out[i, j] = between - 1j * reactance * math.log(apart)


def lead_impedance(
    conductor: Conductor, length: float, frequency: float, temperature: float
) -> complex:
    """Return the impedance of a single conductor whose return is far away, ohm.

    Its inductance is that of a straight wire of this length by itself,
    ``mu0 l/(2 pi) (ln(2 l/r) - 3/4)`` (E. B. Rosa, Bull. Bureau of Standards 4 (1908) 301),
    with the geometric mean radius for the internal part.

    Args:
        conductor: size and metal; sets share evenly.
        length: m.
        frequency: Hz.
        temperature: degC.
    """
    r, x, gmr = wire_constants(conductor, frequency, temperature)
    loop = 2e-7 * (math.log(2 * length / gmr) - 1) if length > 2 * gmr else 0.0
    z = (r + 1j * (x + 2 * math.pi * frequency * loop)) * length
    return z / conductor.sets


def metal_section(length: float, resistance: float, frequency: float, soil: float) -> complex:
    """Return the self impedance of a pipe or frame with earth return, ohm.

    Args:
        length: m.
        resistance: end to end, ohm.
        frequency: Hz.
        soil: ohm m.
    """
    z = bundle_impedance([0.0], [0.0], [METAL_RADIUS], [[1.0]], frequency, soil)[0, 0]
    return complex(z) * length + resistance


def metal_mutual(length: float, frequency: float, soil: float) -> complex:
    """Return the mutual impedance of such metal and a run beside it, ohm."""
    pair = bundle_impedance(
        [0.0] * 2,
        [0.0] * 2,
        [1.0] * 2,
        [[1.0, METAL_DISTANCE], [METAL_DISTANCE, 1.0]],
        frequency,
        soil,
    )
    return complex(pair[0, 1]) * length
