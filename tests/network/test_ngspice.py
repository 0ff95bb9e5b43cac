"""Our solve against ngspice, a general circuit simulator, on the netlists that we write.

Every network is solved whole and with changes made to it (faults, broken conductors, ties
lifted); every node voltage must agree to 1e-6 of the largest.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.solve import Change, Solver
from bondwright.network.spice import netlist, node_numbers
from tests.network.circuits import centre_tapped, delta_wye, random_network
from tests.network.ngspice import node_voltages
from tests.outside import outside, same_circuit

AGREE = 1e-6


def assert_agrees(
    ngspice: Path, folder: Path, circuit: Circuit, solver: Solver, changes: list[Change]
) -> None:
    """Compare every node voltage, in units of the largest."""
    ours = solver.solve(changes)
    theirs = node_voltages(ngspice, netlist(circuit, "test", changes), folder)
    same_circuit(theirs, ours.voltage, node_numbers(circuit), AGREE)


@pytest.mark.parametrize("seed", range(12))
@outside("ngspice, random meshed networks", "computed", unit="V")
def test_meshed_networks_with_double_ties(ngspice: Path, tmp_path: Path, seed: int) -> None:
    """Random trees of runs with second ties, pipes and electrodes: whole, faulted, broken."""
    circuit, pairs = random_network(seed)
    solver = Solver(circuit)
    fault = solver.join(*pairs[-1])
    cases: list[list[Change]] = [
        [],
        [fault],
        [fault, solver.open_switch("tie p0")],
        [solver.open_conductor("run 1", "N")],
        [solver.open_conductor("run 1", "N"), solver.open_conductor("run 1", "G"), fault],
        [solver.join(*pairs[0], 0.5 + 0.2j)],
    ]
    for changes in cases:
        assert_agrees(ngspice, tmp_path, circuit, solver, changes)


@pytest.mark.parametrize(
    "circuit",
    [delta_wye(tied=True), delta_wye(tied=False), centre_tapped()],
    ids=["tied wye", "floating wye", "centre tap"],
)
@outside("ngspice, transformers", "computed", unit="V")
def test_transformers(ngspice: Path, tmp_path: Path, circuit: Circuit) -> None:
    """Coupled windings, grounded and floating."""
    assert_agrees(ngspice, tmp_path, circuit, Solver(circuit), [])


@pytest.mark.parametrize("tied", [True, False])
@outside("ngspice, transformers", "computed", unit="V")
def test_fault_behind_a_delta_wye_transformer(ngspice: Path, tmp_path: Path, *, tied: bool) -> None:
    """With the tie a line-to-metal fault drives current; without it the system floats."""
    circuit = delta_wye(tied=tied)
    solver = Solver(circuit)
    assert_agrees(ngspice, tmp_path, circuit, solver, [solver.join("X2", "G")])
    current = abs(solver.solve([solver.join("X2", "G")]).change_current(0))
    assert current > 1000 if tied else current < 1e-3


def test_a_negative_reactance_is_written_as_a_capacitor() -> None:
    """C = 1/(w X): -26.5258 ohm at 60 Hz are 100 uF, at 50 Hz 120 uF (by hand)."""
    for frequency, farad in ((60.0, 100e-6), (50.0, 120e-6)):
        circuit = Circuit(frequency, 1e-9j)
        circuit.add_source("emf", "a", EARTH, 120)
        circuit.add_impedance("filter", "a", EARTH, 2 - 26.525823848649225j)
        lines = [line.split() for line in netlist(circuit, "filter").splitlines()]
        found = [float(words[3]) for words in lines if words and words[0].startswith("C")]
        (given,) = [value for value in found if value > 1e-9]  # what leaks to earth is far less
        assert given == pytest.approx(farad, rel=1e-9)
        assert 2.0 in [float(w[3]) for w in lines if w and w[0].startswith("R")]
