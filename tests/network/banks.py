"""Transformers of every connection on a supply, tied and not, for tests to fault."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.solve import Solution, Solver
from bondwright.network.sources import add_generator, add_source
from bondwright.network.windings import add_transformer, primary_terminals
from bondwright.site.model import Generator, Source, Transformer

LEAKAGE = 2j * math.pi * 60 * 1e-9
TURN = complex(-0.5, -math.sqrt(3) / 2)


def source(system: str, **facts: Any) -> Source:
    """Return a supply; a very strong one where nothing else is said."""
    strength = facts or {"available": {"current": "20000 kA"}}
    return Source.model_validate({"system": system, **strength})


def generator(system: str, rating: str, **facts: Any) -> Generator:
    return Generator.model_validate({"system": system, "rating": rating, **facts})


def transformer(primary: str, secondary: str, **facts: Any) -> Transformer:
    """Return a transformer of 75 kVA and 4 % where nothing else is said."""
    given = {"rating": "75 kVA", "impedance": "4 %", "x/r": 2.0, **facts}
    return Transformer.model_validate({"primary": primary, "secondary": secondary, **given})


@dataclass(frozen=True)
class Bank:
    """A transformer T on a supply U.

    ``lines`` are those that its run brings; ``tie`` is the terminal joined to its metal.
    """

    supply: str
    primary: str
    secondary: str
    form: str = "isolating"
    lines: tuple[str, ...] = ("L1", "L2", "L3")
    neutral: bool = False
    tie: str | None = "N"
    facts: dict[str, Any] = field(default_factory=dict)

    @property
    def unit(self) -> Transformer:
        return transformer(self.primary, self.secondary, form=self.form, **self.facts)

    def __str__(self) -> str:
        way = "" if self.form == "isolating" else f", {self.form}"
        brought = " with neutral" if self.neutral else ""
        return f"{self.primary}{brought} to {self.secondary}{way}"


CONNECTIONS: tuple[Bank, ...] = (
    Bank("480Y/277 V", "480 V", "120/240 V", lines=("L1", "L2")),
    Bank("480Y/277 V", "277 V", "120/240 V", lines=("L2",), neutral=True),
    Bank("480Y/277 V", "480 V", "240 V", lines=("L3", "L1")),
    Bank("480Y/277 V", "277 V", "120 V", lines=("L1",), neutral=True),
    Bank("480Y/277 V", "480 V delta", "208Y/120 V"),
    Bank("208Y/120 V", "208 V delta", "480Y/277 V"),
    Bank("480Y/277 V", "480Y/277 V", "208Y/120 V", neutral=True),
    Bank("480Y/277 V", "480Y/277 V", "208Y/120 V"),
    Bank("480Y/277 V", "480Y/277 V", "240 V delta", tie=None),
    Bank("480Y/277 V", "480Y/277 V", "240 V delta", tie="L2"),
    Bank("480Y/277 V", "480 V delta", "240 V delta", tie="L3"),
    Bank("480Y/277 V", "480 V delta", "480 V delta", tie=None),
    Bank("480Y/277 V", "480 V delta", "120/240 V delta"),
    Bank("480Y/277 V", "480Y/277 V", "120/240 V delta"),
    Bank("208Y/120 V", "208Y/120 V", "240/480 V delta"),
    Bank("480Y/277 V", "480 V delta", "240 V delta", "open delta", tie="L1"),
    Bank("480Y/277 V", "480 V delta", "120/240 V delta", "open delta"),
    Bank("480Y/277 V", "480Y/277 V", "120/240 V delta", "open delta", neutral=True),
    Bank("480Y/277 V", "480Y/277 V", "208Y/120 V", "auto", neutral=True, tie=None),
    Bank("208Y/120 V", "208Y/120 V", "480Y/277 V", "auto", neutral=True, tie=None),
    Bank("480Y/277 V", "480 V delta", "240 V delta", "auto", tie=None),
    Bank("208Y/120 V", "208 V", "240 V", "auto", lines=("L1", "L2"), tie=None),
    Bank("480Y/277 V", "277 V", "120 V", "auto", lines=("L1",), neutral=True, tie=None),
    Bank("480 V delta", "480 V delta", "480 V delta", "zigzag"),
    Bank("120/240 V delta", "240 V delta", "208Y/120 V"),
    Bank("120/240 V", "240 V", "120/240 V", "auto", lines=("L1", "L2"), tie=None),
)


def bank(
    what: Bank,
    *,
    tied: bool = True,
    supply: Source | None = None,
    loads: bool = False,
    magnetise: bool = False,
    run: complex = 5e-6 + 5e-6j,
    farads: float = 1e-9,
) -> Circuit:
    """Return the circuit of a transformer on its supply, with an equipment grounding conductor.

    The conductors of its run have next to no impedance where nothing else is said; ``farads``
    is the capacitance of every node to earth.
    """
    circuit = Circuit(60.0, 2j * math.pi * 60 * farads)
    add_source(circuit, "U", supply or source(what.supply))
    unit = what.unit
    add_transformer(circuit, "T", unit, magnetise=magnetise)
    land = primary_terminals(unit, what.lines, neutral=what.neutral)
    for here, there in land.items():
        circuit.add_impedance(f"run {here}", f"U:{here}", f"T:{there}", run)
    circuit.add_impedance("run metal", "U:G", "T:G", 1e-3 + 1e-3j)
    circuit.add_impedance("rod", "T:G", EARTH, 5.0)
    if what.tie is not None:
        circuit.add_switch("tie", f"T:{what.tie}", "tie", closed=tied)
        circuit.add_impedance("join", "tie", "T:G", 1e-6)
    if loads:
        for k, line in enumerate(lines_of(what), start=1):
            circuit.add_impedance(f"load {k}", line, other_end(what), (3 + k) * (1 + 0.1j * k))
    return circuit


def lines_of(what: Bank) -> tuple[str, ...]:
    """Return the nodes of the lines on the load side."""
    letter = "H" if what.form == "zigzag" else "L"
    return tuple(f"T:{letter}{line[1]}" for line in what.unit.secondary.lines)


def other_end(what: Bank) -> str:
    """Return the neutral of the load side, or another line where there is none."""
    has_neutral = what.unit.secondary.has_neutral or what.form == "zigzag"
    return "T:N" if has_neutral else lines_of(what)[-1]


def generating(machine: Generator, *, tied: bool = True, loads: bool = False) -> Circuit:
    """Return a generator by itself, with an equipment grounding conductor to a panel P."""
    circuit = Circuit(60.0, LEAKAGE)
    add_generator(circuit, "A", machine)
    circuit.add_impedance("rod", "A:G", EARTH, 25.0)
    if machine.system.has_neutral:
        circuit.add_switch("tie", "A:N", "A:G", closed=tied)
    lines = machine.system.lines
    for line in lines:
        circuit.add_impedance(f"run {line}", f"A:{line}", f"P:{line}", 1e-4)
    circuit.add_impedance("run metal", "A:G", "P:G", 1e-4)
    if loads:
        end = "A:N" if machine.system.has_neutral else f"P:{lines[-1]}"
        for k, line in enumerate(lines, start=1):
            if f"P:{line}" != end:
                circuit.add_impedance(f"load {k}", f"P:{line}", end, (3 + k) * (1 + 0.1j * k))
    return circuit


def bolted(solver: Solver, a: str, b: str) -> tuple[complex, Solution]:
    """Return the current of a bolted fault, and the solution."""
    solution = solver.solve([solver.join(a, b)])
    return solution.change_current(0), solution


def primary_currents(what: Bank, solution: Solution) -> list[complex]:
    """Return the current in each line of the run to the transformer, A."""
    return [solution.conductor_current(f"run {line}", "z") for line in what.lines]
