"""Inverters as current-limited sources.

Two laws (simplified from what such equipment does; common practice, no maker's data):

- **Forming** (makes a system of its own): nominal voltage behind its own impedance in each
  line. Where a line would carry more than the limit, the impedance of all lines is raised
  alike in magnitude, at its angle, until the most loaded line carries the limit.
- **Following** (works beside what feeds it): balanced currents in phase with the
  positive-sequence voltage at its terminals, of constant power up to the limit and of the
  limit's magnitude below that; its neutral carries nothing. Without a voltage to follow it
  delivers nothing.

A forming inverter is a section with voltages behind it in the circuit; its limit is a change of
that section. A following inverter is nothing but an injection of current. So any state of
either is answered from the one factored circuit. :mod:`bondwright.network.limits` finds it.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.network.circuit import Circuit
from bondwright.network.common_windings import raise_order, with_angle
from bondwright.network.solve import Change, Injection, Solution, Solver
from bondwright.network.sources import common_node, source_switch
from bondwright.site.model import Inverter

LIMIT: Final = 1.2
"""Assumed largest current of an inverter in parts of its rated current (common practice)."""

OWN_IMPEDANCE: Final = 0.05
"""Assumed impedance of a forming inverter below its limit, per unit (its filter; common
practice)."""

OWN_X_OVER_R: Final = 5.0
"""Assumed ratio of reactance to resistance of it."""

LEAST_VOLTAGE: Final = 0.01
"""Part of nominal voltage below which there is nothing to follow."""


@dataclass(frozen=True, slots=True)
class InverterState:
    """What an inverter does at the moment.

    Attributes:
        raised: of a forming inverter, the impedance of its lines over that below the limit.
        current: for each line of a following inverter, the current it delivers, A.
        limited: lines at the limit.
    """

    raised: float
    current: tuple[complex, ...]
    limited: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InverterModel:
    """An inverter and its law.

    Attributes:
        name: its id.
        system: its nominal system.
        rating: rated apparent power, VA.
        limit: largest current over rated current.
        forming: whether it makes a system of its own.
        output: power delivered over rating, of a following inverter.
    """

    name: str
    system: VoltageSystem
    rating: float
    limit: float = LIMIT
    forming: bool = True
    output: float = 1.0

    @property
    def rated_current(self) -> float:
        """Rated current of a line, A."""
        volts = self.system.line_to_line
        return self.rating / volts / (math.sqrt(3) if self.system.three_phase else 1)

    @property
    def largest_current(self) -> float:
        """Largest current of a line, A."""
        return self.limit * self.rated_current

    @property
    def impedance(self) -> complex:
        """Impedance of a line of a forming inverter below the limit, ohm."""
        lines = len(self.system.lines)
        volts = self.system.line_to_line / {1: 1.0, 2: 2.0, 3: math.sqrt(3)}[lines]
        return with_angle(OWN_IMPEDANCE * volts**2 / (self.rating / lines), OWN_X_OVER_R)

    @property
    def terminals(self) -> tuple[str, ...]:
        """Nodes behind its switches, one for each line."""
        return tuple(f"{self.name}/out:{line}" for line in self.system.lines)

    @property
    def common(self) -> str:
        """The node that its line voltages stand on."""
        return common_node(self.name, self.system)

    @property
    def start(self) -> InverterState:
        """The state below the limit; a following inverter at nominal voltage."""
        following = self._following(self.system.phase_voltages())
        return InverterState(1.0, following, ())

    def voltages(self, solution: Solution) -> tuple[complex, ...]:
        """Return the voltage of each line to the common node in a solution, V."""
        return tuple(solution.between(node, self.common) for node in self.terminals)

    def admittance_and_emf(self, state: InverterState) -> tuple[tuple[complex, complex], ...]:
        """Return admittance in S and voltage behind it in V of each line of a forming inverter."""
        y = 1 / (self.impedance * state.raised)
        return tuple((y, emf) for emf in self.system.phase_voltages())

    def currents(self, state: InverterState, voltages: Sequence[complex]) -> tuple[complex, ...]:
        """Return the current out of each line in a state at given terminal voltages, A."""
        if not self.forming:
            return state.current
        pairs = zip(self.admittance_and_emf(state), voltages, strict=True)
        return tuple(y * (emf - v) for (y, emf), v in pairs)

    def next_state(self, state: InverterState, voltages: Sequence[complex]) -> InverterState:
        """Return the state that the law asks for at the voltages a state led to.

        Args:
            state: the state the circuit was solved with.
            voltages: terminal voltages to the common node that came out, V.
        """
        lines = self.system.lines
        if not self.forming:
            balanced = self._following(voltages)
            full = abs(balanced[0]) >= self.largest_current * (1 - 1e-12)
            return replace(state, current=balanced, limited=lines if full else ())
        needed = []
        emfs = self.system.phase_voltages()
        currents = self.currents(state, voltages)
        for emf, volts, current in zip(emfs, voltages, currents, strict=True):
            # What the line sees, were it a passive impedance; at the fixed point it need not be.
            seen = volts / current if current else complex(math.inf)
            needed.append(self._raised(abs(emf) / self.largest_current, seen))
        raised = max(needed)
        loaded = [m > 1 and m >= raised * (1 - 1e-6) for m in needed]
        limited = tuple(line for line, at in zip(lines, loaded, strict=True) if at)
        return replace(state, raised=raised, limited=limited)

    def _raised(self, total: float, seen: complex) -> float:
        """Solve ``|m z + seen| = total`` for m, 1 at least."""
        own = self.impedance
        if not cmath.isfinite(seen) or abs(seen + own) >= total:
            return 1.0
        along = (seen * own.conjugate()).real / abs(own)
        return max(1.0, (math.sqrt(along**2 + total**2 - abs(seen) ** 2) - along) / abs(own))

    def _following(self, voltages: Sequence[complex]) -> tuple[complex, ...]:
        turns = self._turns()
        aligned = [v * turn.conjugate() for v, turn in zip(voltages, turns, strict=True)]
        positive = sum(aligned) / len(turns)
        nominal = abs(self._centred()[0])
        if abs(positive) < LEAST_VOLTAGE * nominal:
            return (0j,) * len(turns)
        wanted = self.output * self.rating / len(turns) / abs(positive)
        amount = min(wanted, self.largest_current) * positive / abs(positive)
        return tuple(amount * turn for turn in turns)

    def _centred(self) -> tuple[complex, ...]:
        phasors = self.system.phase_voltages()
        if len(phasors) == 1:
            return phasors
        middle = sum(phasors) / len(phasors)
        return tuple(v - middle for v in phasors)

    def _turns(self) -> tuple[complex, ...]:
        return tuple(v / abs(v) for v in self._centred())

    def changes(self, solver: Solver, state: InverterState) -> list[Change]:
        """Return the changes of the circuit that make the state of a forming inverter."""
        if not self.forming or state.raised == 1:
            return []
        added = self.impedance * (state.raised - 1)
        return [solver.insert(f"source {self.name}", line, added) for line in self.system.lines]

    def injections(self, state: InverterState) -> list[Injection]:
        """Return the currents that make the state of a following inverter."""
        if self.forming:
            return []
        return [
            Injection(self.common, node, current)
            for node, current in zip(self.terminals, state.current, strict=True)
            if current
        ]


def inverter_model(
    name: str, inverter: Inverter, *, forming: bool, output: float = 1.0
) -> InverterModel:
    """Return the model of a described inverter."""
    limit = LIMIT if inverter.limit is None else inverter.limit
    return InverterModel(name, inverter.system, inverter.rating, limit, forming, output)


def add_inverter(circuit: Circuit, model: InverterModel, *, order: int = 1) -> None:
    """Add an inverter: its nodes, the switches ``source name L1`` and so on, its frame.

    A forming inverter also gets its voltages behind the section ``source name``. Nothing joins
    neutral and frame here: a tie says so where it is.
    """
    name, lines = model.name, model.system.lines
    if model.forming:
        inner = [f"{name}/emf:{line}" for line in lines]
        emfs = model.system.phase_voltages()
        for line, node, volts in zip(lines, inner, emfs, strict=True):
            circuit.add_source(f"emf {name} {line}", node, model.common, volts)
        first = len(circuit.sections)
        z = np.eye(len(lines)) * model.impedance
        circuit.add_section(f"source {name}", lines, inner, model.terminals, z)
        raise_order(circuit, first, order)
    else:
        circuit.add_node(model.common)
    for line, node in zip(lines, model.terminals, strict=True):
        circuit.add_switch(source_switch(name, line), node, f"{name}:{line}")
    circuit.add_node(f"{name}:G")


def inverter_terminals(
    system: VoltageSystem, lines: tuple[str, ...], *, neutral: bool
) -> dict[str, str]:
    """Return which terminal each conductor of the run to something in parallel lands on.

    Args:
        system: of the inverter or generator that works in parallel.
        lines: line terminals that arrive, in order.
        neutral: whether a neutral arrives.

    Returns:
        Arriving terminal to terminal; a two-wire one fed by two lines has its second line
        on N. What it has no terminal for is not in it.
    """
    if system.winding is Winding.SINGLE_TWO_WIRE:
        found = dict(zip(lines, ("L1", "N"), strict=False))
    else:
        found = dict(zip(lines, system.lines, strict=False))
    if neutral and system.has_neutral and "N" not in found.values():
        found["N"] = "N"
    return found


def inverter_assumptions(inverter: Inverter, *, forming: bool) -> list[str]:
    """Return what the circuit takes for granted about an inverter, for people."""
    told = []
    if inverter.limit is None:
        told.append(f"The inverter gives {LIMIT:g} times its rated current at most.")
    if forming:
        told.append(
            f"Up to that it is a voltage behind {OWN_IMPEDANCE * 100:g} %; at the limit all its "
            "lines weaken alike. It does not switch off by itself in a fault, as many do."
        )
    else:
        told.append(
            "It delivers its rated power as balanced currents in phase with the voltage, and "
            "nothing in its neutral; in a fault it goes on doing so up to its limit."
        )
    return told
