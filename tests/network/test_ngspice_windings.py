"""Every transformer connection, supply, generator and inverter against ngspice."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.inverters import add_inverter, inverter_model
from bondwright.network.limits import solve_with_inverters
from bondwright.network.solve import Change, Injection, Solution, Solver
from bondwright.network.sources import add_source
from bondwright.network.spice import netlist, node_numbers
from bondwright.site.model import Inverter
from tests.network.banks import (
    CONNECTIONS,
    LEAKAGE,
    Bank,
    bank,
    generating,
    generator,
    lines_of,
    other_end,
    source,
)
from tests.network.ngspice import node_voltages
from tests.outside import outside, same_circuit

AGREE = 1e-6


def compare(
    ngspice: Path,
    folder: Path,
    circuit: Circuit,
    ours: Solution,
    changes: list[Change],
    injections: list[Injection] | None = None,
) -> None:
    """Compare every node voltage, in units of the largest."""
    text = netlist(circuit, "test", changes, injections or [])
    theirs = node_voltages(ngspice, text, folder)
    same_circuit(theirs, ours.voltage, node_numbers(circuit), AGREE)


RUN = 2e-3 + 1e-3j
FARADS = 1e-7
"""So that what floats is no matter of rounding in ngspice either."""

CASES = ["no fault", "line to metal", "line to line", "line to neutral", "tie off, line to metal"]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("what", CONNECTIONS, ids=str)
@outside("ngspice, every transformer connection", "computed", unit="V")
def test_every_connection(ngspice: Path, tmp_path: Path, what: Bank, case: str) -> None:
    """Loaded, whole and faulted, on a supply of 30 kA."""
    supply = source(what.supply, available={"current": "30 kA", "x/r": 3})
    circuit = bank(what, supply=supply, loads=True, run=RUN, farads=FARADS)
    solver = Solver(circuit)
    lines = lines_of(what)
    metal = solver.join(lines[-1], "T:G")
    changes: list[Change] = []
    match case:
        case "line to metal":
            changes = [metal]
        case "line to line":
            other = lines[1] if len(lines) > 1 else "U:L3"
            changes = [solver.join(lines[0], other, 0.01 + 0.02j)]
        case "line to neutral":
            changes = [solver.join(lines[0], other_end(what))]
        case "tie off, line to metal" if what.tie is not None:
            changes = [solver.open_switch("tie"), metal]
        case "tie off, line to metal":
            changes = [solver.open_switch("source ground U"), metal] if has_neutral(what) else []
    compare(ngspice, tmp_path, circuit, solver.solve(changes), changes)


def has_neutral(what: Bank) -> bool:
    return source(what.supply).system.has_neutral


@pytest.mark.parametrize("what", [w for w in CONNECTIONS if "L1" in w.lines], ids=str)
@outside("ngspice, every transformer connection", "computed", unit="V")
def test_magnetised_with_a_primary_line_open(ngspice: Path, tmp_path: Path, what: Bank) -> None:
    """Single-phased: the cores divide the voltage."""
    supply = source(what.supply, available={"current": "9 kA"})
    circuit = bank(what, magnetise=True, supply=supply, run=RUN, farads=FARADS)
    solver = Solver(circuit)
    changes = [solver.open_conductor("run L1", "z")]
    compare(ngspice, tmp_path, circuit, solver.solve(changes), changes)


MACHINES: list[dict[str, Any]] = [
    {"subtransient": "12 %", "negative": "18 %", "zero": "6 %"},
    {"subtransient": "22 %", "negative": "14 %", "zero": "2 %", "x/r": 20},
    {},
]
SYSTEMS = ["120 V", "120/240 V", "480Y/277 V", "480 V delta", "120/240 V delta"]


@pytest.mark.parametrize("facts", MACHINES, ids=str)
@pytest.mark.parametrize("system", SYSTEMS)
@outside("ngspice, generators", "computed", unit="V")
def test_generators(ngspice: Path, tmp_path: Path, system: str, facts: dict[str, Any]) -> None:
    """Unequal sequence impedances (a matrix that isn't symmetric), faults, a broken winding."""
    machine = generator(system, "60 kVA", **facts)
    circuit = generating(machine, loads=True)
    solver = Solver(circuit)
    lines = machine.system.lines
    cases = [[], [solver.join("P:L1", "P:G")], [solver.join(f"P:{lines[-1]}", EARTH, 2.0)]]
    if len(lines) > 1:
        fault = solver.join("P:L1", f"P:{lines[1]}")
        cases += [[fault], [solver.open_conductor("source A", lines[-1]), fault]]
        cases += [[solver.open_switch("source A L1"), solver.join(f"P:{lines[1]}", "P:G")]]
    for changes in cases:
        compare(ngspice, tmp_path, circuit, solver.solve(changes), changes)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("forming", [True, False], ids=["forming", "following"])
@outside("ngspice, inverters", "computed", unit="V")
def test_inverters_at_their_settled_state(
    ngspice: Path, tmp_path: Path, system: str, *, forming: bool
) -> None:
    """The very circuit that the iteration ended with, faulted and not."""
    described = Inverter.model_validate({"system": system, "rating": "20 kVA"})
    model = inverter_model("V", described, forming=forming)
    circuit = Circuit(60.0, LEAKAGE)
    add_inverter(circuit, model)
    lines = described.system.lines
    end = "V:N" if described.system.has_neutral else f"V:{lines[-1]}"
    circuit.add_impedance("rod", "V:G", EARTH, 10.0)
    circuit.add_impedance("tie", end, "V:G", 1e-3)
    for k, line in enumerate(lines):
        if f"V:{line}" != end:
            circuit.add_impedance(f"load {line}", f"V:{line}", end, 9 + k)
    if not forming:
        add_source(circuit, "U", source(system, available={"current": "2 kA"}))
        for line in lines:
            circuit.add_impedance(f"run {line}", f"U:{line}", f"V:{line}", 0.02 + 0.01j)
        if described.system.has_neutral:
            circuit.add_impedance("run N", "U:N", "V:N", 0.02 + 0.01j)
    solver = Solver(circuit)
    # At a line-to-metal fault the grounded line of a delta is faulted through the tie.
    for fault in ([], [solver.join("V:L1", "V:G", 0.05)]):
        ours, states, told = solve_with_inverters(solver, [model], fault)
        assert told.converged
        changes = [*fault, *model.changes(solver, states["V"])]
        compare(ngspice, tmp_path, circuit, ours, changes, model.injections(states["V"]))
