"""The conductors of one run as a section of the circuit."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.catalog.conductors import (
    insulated_diameter,
    properties,
    pulled_spacing,
    resistance_dc,
)
from bondwright.catalog.raceways import RacewayDimensions
from bondwright.catalog.sizes import Conductor, Size
from bondwright.network.circuit import Complex
from bondwright.network.impedance import (
    bundle_impedance,
    enclose,
    internal_impedance,
    tube_impedances,
)
from bondwright.plan.model import PlannedRun

SET_DISTANCE: Final = 0.20
"""Assumed distance between the raceways or cables of neighbouring parallel sets, m."""

METAL_DISTANCE: Final = 3.0
"""Assumed distance between a run and a pipe or frame that goes the same way, m."""

METAL_RADIUS: Final = 0.011
"""Geometric mean radius taken for such metal, m (a 3/4 in tube)."""

STEEL_PERMEABILITY: Final = 300.0
"""Relative permeability taken for steel raceway. It depends on the current; see docs/physics."""

STEEL_RESISTIVITY: Final = 13.8e-8
"""Steel at 20 degC, ohm m (IEC 60949)."""

ALUMINIUM_RESISTIVITY: Final = 2.8264e-8
"""Aluminium at 20 degC, ohm m (IEC 60949)."""


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
    run: PlannedRun, frequency: float, soil: float, temperature: float
) -> tuple[tuple[Strand, ...], Complex]:
    """Return the conductors of a run and their series impedance over its whole length.

    Args:
        run: what lies there.
        frequency: Hz.
        soil: resistivity, ohm m.
        temperature: of the conductors, degC.

    Returns:
        The n conductors and the (n, n) matrix in ohm. Conductors of different sets are coupled
        through the distance of their raceways; a steel raceway also screens them.
    """
    parts = strands(run)
    wires = [part for part in parts if part.conductor is not None]
    n = len(parts)
    z = _wire_matrix(wires, run, frequency, soil, temperature)
    out = np.zeros((n, n), dtype=np.complex128)
    place = {part.name: k for k, part in enumerate(parts)}
    wire_at = [place[part.name] for part in wires]
    out[np.ix_(wire_at, wire_at)] = z
    if run.raceway is not None and len(wires) < n:
        _add_raceways(out, parts, run.raceway, frequency, soil, temperature)
    return parts, out * run.length


def _wire_matrix(
    wires: Sequence[Strand], run: PlannedRun, frequency: float, soil: float, temperature: float
) -> Complex:
    resistance, extra, gmr = [], [], []
    for wire in wires:
        r, x, radius = wire_constants(_wire(wire), frequency, temperature)
        resistance.append(r)
        extra.append(x)
        gmr.append(radius)
    distance = np.array([[_distance(a, b, run) for b in wires] for a in wires])
    return bundle_impedance(resistance, extra, gmr, distance, frequency, soil)


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


def _distance(a: Strand, b: Strand, run: PlannedRun) -> float:
    if a is b:
        return 1.0
    if a.set != b.set:
        return SET_DISTANCE * abs(a.set - b.set)
    one, other = _wire(a).size, _wire(b).size
    if run.lie == "pulled":
        return math.sqrt(_pulled(one) * _pulled(other))
    return (insulated_diameter(one) + insulated_diameter(other)) / 2


def _pulled(size: Size) -> float:
    # Two wires can't lie closer than touching, whatever the table's average says.
    return max(pulled_spacing(size), insulated_diameter(size))


def _add_raceways(
    out: Complex,
    parts: Sequence[Strand],
    raceway: RacewayDimensions,
    frequency: float,
    soil: float,
    temperature: float,
) -> None:
    inner, outer = raceway.inside_m / 2, raceway.outside_m / 2
    if raceway.kind.is_magnetic:
        rho, mu, alpha = STEEL_RESISTIVITY, STEEL_PERMEABILITY, 0.0045
    else:
        rho, mu, alpha = ALUMINIUM_RESISTIVITY, 1.0, 0.00403
    # The raceway itself runs cooler than the wires; half their rise over 20 degC is taken.
    rho *= 1 + alpha * max(0.0, temperature - 20) / 2
    surfaces = tube_impedances(inner, outer, rho, mu, frequency)
    sets = {part.set for part in parts}
    for number in sets:
        inside = [k for k, p in enumerate(parts) if p.set == number and p.conductor is not None]
        tube = next(k for k, p in enumerate(parts) if p.set == number and p.conductor is None)
        at = [*inside, tube]
        block = out[np.ix_(inside, inside)]
        out[np.ix_(at, at)] = enclose(block, inner, outer, surfaces, frequency, soil)
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
