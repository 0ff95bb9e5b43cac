"""Loads in the circuit: what they draw, also where it depends on the voltage, and at harmonics.

Every load is an impedance in the circuit. What a constant-current or constant-power load draws
beyond that is an injection, found by fixed-point iteration. At a harmonic a load that makes
harmonics is a source of current and nothing else; the others are impedances.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from bondwright.catalog.systems import VoltageSystem
from bondwright.network.circuit import Circuit
from bondwright.network.solve import Injection, Solution
from bondwright.site.model import Draws, Load

LEAST_VOLTAGE: Final = 0.7
"""Below this part of nominal a load is taken as an impedance whatever it is (common practice:
controls drop out and power electronics stop)."""

CONVERGED: Final = 1e-9
"""Largest relative change of an injection at which iteration stops."""

MOST_STEPS: Final = 60


@dataclass(frozen=True, slots=True)
class LoadBranch:
    """One phase of one load.

    Attributes:
        id: name of its impedance in the circuit.
        a: node of its line.
        b: node of its other end.
        impedance: at nominal voltage and the system frequency, ohm.
        volts: nominal, V.
        draws: how its current follows its voltage.
        harmonics: currents in part of the fundamental, by order.
    """

    id: str
    a: str
    b: str
    impedance: complex
    volts: float
    draws: Draws
    harmonics: Mapping[int, float] = field(default_factory=dict)

    @property
    def current(self) -> float:
        """Fundamental current at nominal voltage, A."""
        return self.volts / abs(self.impedance)


def load_branches(
    place: str, number: int, load: Load, system: VoltageSystem
) -> Iterator[LoadBranch]:
    """Yield the branches of one load.

    A load of power P and power factor pf draws ``S = V^2 / conj(Z)`` at nominal voltage, so
    ``Z = V^2 pf (pf + j sqrt(1 - pf^2)) / P``. A three-phase load is three between lines.
    """
    ends = load.on.value.split("-")
    pairs = [(ends[0], ends[1])] if len(ends) == 2 else [("L1", "L2"), ("L2", "L3"), ("L3", "L1")]
    per_phase = load.power / len(pairs)
    for a, b in pairs:
        volts = nominal(system, a, b)
        z = volts**2 * load.pf / per_phase * complex(load.pf, math.sqrt(1 - load.pf**2))
        yield LoadBranch(
            f"load {place} {number} {a}-{b}",
            f"{place}:{a}",
            f"{place}:{b}",
            z,
            volts,
            load.draws,
            dict(load.harmonics),
        )


def nominal(system: VoltageSystem, a: str, b: str) -> float:
    """Return the nominal voltage between two terminals of a system, V."""
    phasors = dict(zip(system.lines, system.phase_voltages(), strict=True))
    return abs(phasors.get(a, 0j) - phasors.get(b, 0j))


def add_load(
    circuit: Circuit,
    branch: LoadBranch,
    *,
    order: int = 1,
    leakage: tuple[str, float] | None = None,
) -> None:
    """Add a load's impedance to the circuit at a harmonic order.

    Args:
        circuit: to add to.
        branch: the load.
        order: harmonic order; above 1 a load with harmonics of its own is left out.
        leakage: (metal node, A) that its filters let through from its line, as a capacitance.
    """
    if order == 1 or not branch.harmonics:
        z = complex(branch.impedance.real, branch.impedance.imag * order)
        circuit.add_impedance(branch.id, branch.a, branch.b, z)
    if leakage is not None:
        metal, current = leakage
        circuit.add_impedance(
            f"leakage {branch.id}", branch.a, metal, complex(0, -branch.volts / current / order)
        )


def injections(branches: Sequence[LoadBranch], solution: Solution) -> list[Injection]:
    """Return what voltage-dependent loads draw beyond their impedance, at these voltages."""
    found = []
    for branch in branches:
        if branch.draws is Draws.IMPEDANCE:
            continue
        v = solution.between(branch.a, branch.b)
        linear = v / branch.impedance
        size = abs(v) / branch.volts
        if size < LEAST_VOLTAGE:
            wanted = linear
        elif branch.draws is Draws.CURRENT:
            wanted = linear / size
        else:
            wanted = linear / size**2
        found.append(Injection(branch.a, branch.b, wanted - linear))
    return found


@dataclass(frozen=True, slots=True)
class Settled:
    """A solution with voltage-dependent loads.

    Attributes:
        solution: the last one.
        steps: iterations taken.
        converged: whether the injections stood still.
    """

    solution: Solution
    steps: int
    converged: bool


def settle(
    branches: Sequence[LoadBranch],
    solve: Callable[[Sequence[Injection]], Solution],
    others: Callable[[Solution], Sequence[Injection]] | None = None,
) -> Settled:
    """Iterate voltage-dependent loads (and other sources of current) to a fixed point.

    Args:
        branches: the loads.
        solve: solves the circuit with injections.
        others: further injections that depend on the solution.
    """
    solution = solve(())
    last: list[complex] = []
    for step in range(1, MOST_STEPS + 1):
        drawn = injections(branches, solution)
        if others is not None:
            drawn += others(solution)
        now = [item.current for item in drawn]
        if not drawn:
            return Settled(solution, 0, converged=True)
        scale = max((branch.current for branch in branches), default=1.0)
        if last and max(abs(a - b) for a, b in zip(now, last, strict=True)) <= CONVERGED * scale:
            return Settled(solution, step, converged=True)
        last = now
        solution = solve(drawn)
    return Settled(solution, MOST_STEPS, converged=False)


def harmonic_injections(
    branches: Sequence[LoadBranch], fundamental: Solution, order: int
) -> list[Injection]:
    """Return the currents that loads inject at a harmonic order.

    Each leads or lags ``order`` times as far as its load's voltage, as the current of a
    rectifier does: triplen currents of the three phases are then in step in the neutral.
    """
    found = []
    for branch in branches:
        share = branch.harmonics.get(order)
        if share:
            angle = cmath.phase(fundamental.between(branch.a, branch.b))
            current = cmath.rect(share * branch.current, order * angle)
            found.append(Injection(branch.a, branch.b, current))
    return found


def orders(branches: Sequence[LoadBranch]) -> tuple[int, ...]:
    """Return the harmonic orders that any load makes, ascending."""
    return tuple(sorted({order for branch in branches for order in branch.harmonics}))
