"""Sources in parallel: synchronised, sharing the load as they are set to.

Every source is an ideal voltage behind its impedances. Of those that are joined one leads: a
utility, else the first generator; its voltage is the nominal one (or its set-point), at angle
zero. The others follow it:

- **synchronised** (nothing drawn): each has the voltage that it finds at its terminals before
  its breaker closes, turned by whatever transformer lies between, so that no current flows. One
  with a voltage set-point has that size at that angle, and magnetising current circulates.
- **sharing** (loads on): among generators each takes its part of real and reactive power, by
  ``share`` or else by rating; beside a utility each gives its ``output`` (none stated: nothing)
  at its power factor. One with a voltage set-point keeps its voltage and shares real power only.
  So governors and regulators do with a common load-sharing control (common practice); droop and
  what happens in between are left out.

Only positive-sequence voltages are set; what unbalance and triplen voltages drive through two
grounded neutrals follows from the circuit. The set-points are found by Newton's method on
voltages and currents, which are linear in the source voltages (superposition).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.network.circuit import Circuit, Complex
from bondwright.network.impedance import Floats
from bondwright.network.solve import Injection, Solution, Solver
from bondwright.network.sources import common_node, generator_matrix, source_switch
from bondwright.site.model import Generator, Site
from bondwright.units import Dimension, show

LEAST_VOLTAGE: Final = 0.01
"""Part of nominal voltage below which there is nothing to synchronise with."""

CLOSE: Final = 1e-10
"""Mismatch of power, in parts of rating, at which a set-point counts as met."""

ROUNDS: Final = 40


@dataclass(frozen=True, slots=True)
class Machine:
    """A generator that works beside a leading source.

    Attributes:
        name: its id.
        generator: its description.
    """

    name: str
    generator: Generator

    @property
    def system(self) -> VoltageSystem:
        """Its nominal system."""
        return self.generator.system

    @property
    def part(self) -> float:
        """Its part of the load, over those of others."""
        own = self.generator
        return own.rating if own.share is None else own.share

    def nominal(self) -> Complex:
        """Return the nominal voltages of its lines, V."""
        return np.array(self.system.phase_voltages(), dtype=np.complex128)

    def size(self) -> float | None:
        """Return its voltage set-point over the nominal voltage, None where it has none."""
        own = self.generator
        return None if own.voltage is None else own.voltage / own.system.line_to_line


def sequence(system: VoltageSystem, volts: Sequence[complex] | Complex) -> complex:
    """Return the positive sequence of line voltages over that of the nominal ones.

    Args:
        system: nominal system.
        volts: of the lines, in order, to any one point, V.
    """
    nominal = np.array(system.phase_voltages(), dtype=np.complex128)
    now = np.array(volts, dtype=np.complex128)
    if len(nominal) > 1:
        nominal, now = nominal - nominal.mean(), now - now.mean()
    return complex(now @ nominal.conj() / (nominal @ nominal.conj()))


def machines(site: Site, group: Sequence[str]) -> tuple[Machine, ...]:
    """Return the generators of a group that don't lead it."""
    return tuple(Machine(n, site.generators[n]) for n in group[1:] if n in site.generators)


def emf_of(name: str, line: str) -> str:
    """Return the id of the ideal voltage of a line of a source."""
    return f"emf {name} {line}"


def scaled(system: VoltageSystem, name: str, factor: complex) -> dict[str, complex]:
    """Return the ideal voltages of a source whose nominal ones are multiplied by a factor."""
    pairs = zip(system.lines, system.phase_voltages(), strict=True)
    return {emf_of(name, line): volts * factor for line, volts in pairs}


def set_voltages(circuit: Circuit, solver: Solver, emfs: Mapping[str, complex]) -> None:
    """Give ideal voltages of a circuit and its solver other values; nothing is factored anew."""
    for k, source in enumerate(circuit.sources):
        if source.id in emfs:
            circuit.sources[k] = replace(source, emf=emfs[source.id])
    solver.set_emfs(emfs)


def synchronise(
    circuit: Circuit, solver: Solver, site: Site, groups: Sequence[Sequence[str]]
) -> None:
    """Give every generator that works beside a source the voltage it finds at its terminals.

    Args:
        circuit: with every generator of the groups switched in.
        solver: its solver.
        site: what the generators are.
        groups: ids of sources that are joined, the one that leads first.
    """
    emfs: dict[str, complex] = {}
    for group in groups:
        first = site.generators.get(group[0])
        if first is not None and first.voltage is not None:
            emfs |= scaled(first.system, group[0], first.voltage / first.system.line_to_line)
    set_voltages(circuit, solver, emfs)
    every = [machine for group in groups for machine in machines(site, group)]
    off = [
        solver.open_switch(source_switch(machine.name, line))
        for machine in every
        for line in machine.system.lines
    ]
    # Another utility of the group has the angle of its own supply, which is taken to be the same.
    bus = solver.solve(off)
    for machine in every:
        found = sequence(machine.system, terminal_voltages(bus, machine))
        size = machine.size()
        if abs(found) < LEAST_VOLTAGE:
            found = 1.0 + 0j
        factor = found if size is None else size * found / abs(found)
        emfs |= scaled(machine.system, machine.name, factor)
    set_voltages(circuit, solver, emfs)


def terminal_voltages(solution: Solution, machine: Machine) -> Complex:
    """Return the voltages of a generator's lines to its common point, V."""
    common = common_node(machine.name, machine.system)
    return np.array(
        [solution.between(f"{machine.name}:{line}", common) for line in machine.system.lines]
    )


def line_currents(solution: Solution, name: str, system: VoltageSystem) -> Complex:
    """Return the currents out of a source's lines, A."""
    return np.array([solution.switch_current(source_switch(name, line)) for line in system.lines])


def power(solution: Solution, name: str, system: VoltageSystem) -> complex:
    """Return what a source gives at its terminals: watts and vars."""
    common = common_node(name, system)
    volts = np.array([solution.between(f"{name}:{line}", common) for line in system.lines])
    return complex(volts @ line_currents(solution, name, system).conj())


def share(
    circuit: Circuit,
    solver: Solver,
    site: Site,
    groups: Sequence[Sequence[str]],
    settle: Callable[[], Solution],
) -> None:
    """Set the voltages of generators so that each gives what it is set to.

    Args:
        circuit: synchronised, with loads.
        solver: its solver.
        site: what the generators are.
        groups: as for :func:`synchronise`.
        settle: solves the circuit as it stands, with what its loads draw.
    """
    for group in groups:
        _Sharing(circuit, solver, site, group).solve(settle)


class _Sharing:
    """The set-points of one group of sources."""

    def __init__(self, circuit: Circuit, solver: Solver, site: Site, group: Sequence[str]) -> None:
        self.circuit, self.solver = circuit, solver
        self.machines = machines(site, group)
        first = site.generators.get(group[0])
        self.lead = None if first is None else Machine(group[0], first)
        # The answers to each generator's nominal voltages alone, all else at rest.
        self.waves = [solver.alone(scaled(m.system, m.name, 1.0)) for m in self.machines]

    def solve(self, settle: Callable[[], Solution]) -> None:
        """Repeat until the loads, which may follow the voltage, and the set-points agree."""
        if not self.machines:
            return
        for _ in range(ROUNDS):
            solution = settle()
            factors = np.array([self._factor(m) for m in self.machines])
            step = self._step(solution, factors)
            emfs: dict[str, complex] = {}
            for machine, factor in zip(self.machines, factors + step, strict=True):
                emfs |= scaled(machine.system, machine.name, complex(factor))
            set_voltages(self.circuit, self.solver, emfs)
            if np.max(np.abs(step)) <= CLOSE:
                break

    def _factor(self, machine: Machine) -> complex:
        volts = {source.id: source.emf for source in self.circuit.sources}
        line = machine.system.lines[0]
        return volts[emf_of(machine.name, line)] / machine.system.phase_voltages()[0]

    def _step(self, solution: Solution, factors: Complex) -> Complex:
        """Return the change of the factors that brings all powers to where they belong."""
        sources = [*([self.lead] if self.lead else []), *self.machines]
        at = [
            (
                terminal_voltages(solution, m),
                line_currents(solution, m.name, m.system),
                [
                    (terminal_voltages(wave, m), line_currents(wave, m.name, m.system))
                    for wave in self.waves
                ],
            )
            for m in sources
        ]

        def powers(step: Complex) -> Complex:
            found = []
            for volts, amps, waves in at:
                v = volts + sum(x * wave[0] for x, wave in zip(step, waves, strict=True))
                i = amps + sum(x * wave[1] for x, wave in zip(step, waves, strict=True))
                found.append(complex(v @ i.conj()))
            return np.array(found)

        def mismatch(x: Floats) -> Floats:
            step = x[: len(factors)] + 1j * x[len(factors) :]
            return np.array(list(self._wrong(powers(step), factors + step)))

        x = np.zeros(2 * len(factors))
        for _ in range(ROUNDS):
            wrong = mismatch(x)
            if np.max(np.abs(wrong)) <= CLOSE:
                break
            h = 1e-7
            slope = np.array([(mismatch(x + h * e) - mismatch(x - h * e)) / (2 * h)
                              for e in np.eye(len(x))]).T  # fmt: skip
            move = np.linalg.lstsq(slope, -wrong, rcond=None)[0]
            x = x + move * min(1.0, 0.2 / max(float(np.max(np.abs(move))), 1e-12))
        return x[: len(factors)] + 1j * x[len(factors) :]

    def _wrong(self, powers: Complex, factors: Complex) -> Iterator[float]:
        """Yield what every set-point is off by, in parts of rating."""
        own = powers[1:] if self.lead else powers
        total = powers.sum()
        parts = sum(m.part for m in self.machines) + (self.lead.part if self.lead else 0.0)
        for machine, now, factor in zip(self.machines, own, factors, strict=True):
            if self.lead is None:
                watts = machine.generator.output or 0.0
                pf = machine.generator.pf
                due = complex(watts, watts * math.sqrt(1 - pf**2) / pf)
            else:
                due = total * machine.part / parts
            off = (now - due) / machine.generator.rating
            yield off.real
            size = machine.size()
            yield off.imag if size is None else abs(factor) - size


# --- harmonics of the machines themselves ----------------------------------------------------


def own_orders(site: Site, on: frozenset[str]) -> tuple[int, ...]:
    """Return the orders of harmonic voltage that a generator which is on makes, ascending."""
    every = (g for name, g in site.generators.items() if name in on)
    return tuple(sorted({order for generator in every for order in generator.harmonics}))


def own_harmonics(circuit: Circuit, site: Site, on: frozenset[str], order: int) -> list[Injection]:
    """Return the currents that stand for the harmonic voltages of generators at an order.

    Line k of a machine has the angle ``order`` times that of its fundamental, so triplen
    voltages are alike in all lines. The voltage behind the impedance Z is the current ``V/Z``
    beside it (Norton). A machine that is turned to the bus turns its harmonics too.

    Args:
        circuit: at the system frequency, its voltages set.
        site: what the generators are.
        on: ids of what runs.
        order: harmonic order.
    """
    fundamental = {source.id: source.emf for source in circuit.sources}
    found = []
    for name, generator in site.generators.items():
        size = generator.harmonics.get(order)
        if not size or name not in on:
            continue
        system = generator.system
        z = generator_matrix(generator)
        lossy = (z.real + z.real.T) / 2
        z = lossy + order * (z.real - lossy + 1j * z.imag)
        emf = []
        for line in system.lines:
            first = fundamental[emf_of(name, line)]
            emf.append(size * abs(first) * (first / abs(first)) ** order)
        current = np.linalg.solve(z, np.array(emf))
        common = common_node(name, system)
        found += [
            Injection(common, f"{name}/out:{line}", complex(i))
            for line, i in zip(system.lines, current, strict=True)
        ]
    return found


def parallel_assumptions(site: Site, groups: Sequence[Sequence[str]]) -> dict[str, list[str]]:
    """Return what is taken for granted about generators in parallel, for people, by generator."""
    told: dict[str, list[str]] = {}
    for group in groups:
        beside_utility = group[0] in site.sources
        for name in group:
            generator = site.generators.get(name)
            if generator is None:
                continue
            said = told.setdefault(name, [])
            if beside_utility and generator.output is None:
                said.append(
                    f"Beside {group[0]} it is synchronised and gives nothing: no 'output' is given."
                )
            if beside_utility and generator.output is not None:
                watts = show(generator.output, Dimension.REAL_POWER)
                said.append(
                    f"Beside {group[0]} it gives {watts} at a power factor of {generator.pf:g}."
                )
            if not beside_utility and generator.share is None and name != group[0]:
                said.append(
                    f"Beside {group[0]} it takes load in proportion to its rating, real and "
                    "reactive alike."
                )
            if generator.system.winding is Winding.WYE and not generator.harmonics:
                said.append(
                    "Its own voltage is taken as a pure sine. Where two neutrals are grounded or "
                    "joined, third-harmonic voltage drives current through them: ask its maker "
                    "for it, and for the pitch of its winding."
                )
    return told
