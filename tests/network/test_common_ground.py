"""Electrodes that share the ground, in the circuit: exact, passive, and the same in ngspice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from bondwright.network.build import Network, build
from bondwright.network.changes import Injection
from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.electrodes import common_ground, electrode_node
from bondwright.network.solve import Solver
from bondwright.network.spice import netlist
from bondwright.plan.build import plan
from bondwright.plan.ground import coupled_groups
from bondwright.site.reader import load
from bondwright.studies.faults import FaultKind, possible_faults
from tests.network.test_ngspice import assert_agrees
from tests.outside import outside

BARN = Path(__file__).parents[1] / "cases" / "earth-press-barn.yaml"


@pytest.fixture(scope="module")
def barn() -> Network:
    return build(plan(load(BARN)), loads=False)


def common(network: Network) -> int:
    return network.solver.section_index["common ground 1"]


def test_the_circuit_has_the_very_matrix(barn: Network) -> None:
    section = barn.circuit.sections[common(barn)]
    assert section.names == ("rods", "footing", "well", "cottage rod")
    assert section.impedance.real == pytest.approx(np.array(barn.plan.ground.resistance))
    assert np.linalg.eigvalsh(section.impedance.real)[0] > 0


def test_each_electrode_is_lifted_by_all_others(barn: Network) -> None:
    # U = R I, from the solved circuit
    for fault in possible_faults(barn, [FaultKind.LINE_TO_METAL]):
        join = barn.solver.join(f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}")
        solution = barn.solver.solve([join])
        names = barn.plan.ground.names
        current = solution.section_currents("common ground 1")
        volts = np.array([solution.voltage(electrode_node(name)) for name in names])
        assert volts == pytest.approx(np.array(barn.plan.ground.resistance) @ current)
        assert abs(current[names.index("cottage rod")]) < 1e-4 * np.abs(current).max()
        lift = abs(volts[names.index("cottage rod")])
        assert 0.1 * np.abs(volts).max() < lift < 0.5 * np.abs(volts).max()


@outside("ngspice, electrodes that share the ground", "computed", unit="V")
def test_in_ngspice_as_resistors(ngspice: Path, tmp_path: Path, barn: Network) -> None:
    fault = possible_faults(barn, [FaultKind.LINE_TO_METAL])[-1]
    join = barn.solver.join(f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}")
    off = barn.solver.open_conductor("electrode conductor well", "metal")
    port = barn.solver.open_conductor("common ground 1", "footing")
    for changes in ([], [join], [off, join], [port, join]):
        assert_agrees(ngspice, tmp_path, barn.circuit, barn.solver, changes)
    text = netlist(barn.circuit, "barn")
    assert text.count("\nRg") == 4 + 6


def shadowed() -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Resistances of a passive body whose inverse has a positive pair (from memory: not every
    inverse of a positive matrix is that of resistors alone)."""
    return np.array([[10.0, 6.0, 1.0], [6.0, 9.0, 6.0], [1.0, 6.0, 10.0]])


@outside("ngspice, electrodes that share the ground", "computed", unit="V")
def test_negative_resistors_in_ngspice(ngspice: Path, tmp_path: Path) -> None:
    matrix = shadowed()
    assert np.linalg.eigvalsh(matrix)[0] > 0
    assert np.linalg.inv(matrix)[0, 2] > 0
    circuit = Circuit(60.0, 0j)
    circuit.add_source("s", "up", EARTH, 100)
    for k, name in enumerate("abc"):
        circuit.add_impedance(f"lead {name}", "up" if k == 0 else f"e{k - 1}", f"e{k}", 1 + k)
    nodes = ["e0", "e1", "e2"]
    circuit.add_section("common ground 1", list("abc"), nodes, [EARTH] * 3, matrix)
    text = netlist(circuit, "shadowed")
    assert any(line.split()[-1].startswith("-") for line in text.splitlines() if line[:2] == "Rg")
    assert_agrees(ngspice, tmp_path, circuit, Solver(circuit), [])


def test_a_body_that_gives_power_is_refused() -> None:
    circuit = Circuit(60.0, 0j)
    bad = np.array([[1.0, 2.0], [2.0, 1.0]])
    with pytest.raises(ValueError, match="not that of a passive element"):
        circuit.add_section("common ground 1", ["a", "b"], ["x", "y"], [EARTH] * 2, bad)
    made = plan(load(BARN))
    rows = [list(row) for row in made.ground.resistance]
    rows[0][1] = rows[1][0] = 90.0
    spoiled = replace(
        made, ground=replace(made.ground, resistance=tuple(tuple(row) for row in rows))
    )
    with pytest.raises(ValueError, match="resistance matrix of rods, footing"):
        common_ground(spoiled, ("rods", "footing", "well", "cottage rod"))


def test_groups_by_who_lifts_whom() -> None:
    made = plan(load(BARN))
    assert coupled_groups(made.ground, made.ground.names) == (made.ground.names,)
    site = load(BARN)
    lone = site.electrodes["well"].model_copy(update={"position": None})
    apart = plan(site.model_copy(update={"electrodes": {**site.electrodes, "well": lone}}))
    groups = coupled_groups(apart.ground, apart.ground.names)
    assert groups == (("rods", "footing", "cottage rod"), ("well",))
    circuit = build(apart, loads=False).circuit
    assert "electrode well" in {section.id for section in circuit.sections}


def test_loop_through_two_electrodes_is_less_for_near_ones(barn: Network) -> None:
    # What one reads round rods and footing: R11 + R22 - 2 R12, by the definition of the matrix
    solver = barn.solver
    off = [
        solver.open_conductor(f"electrode conductor {name}", "metal")
        for name in ("rods", "footing", "well")
    ]
    through = Injection(electrode_node("footing"), electrode_node("rods"), 1.0)
    solution = solver.solve(off, [through], dead=True)
    read = solution.between(electrode_node("rods"), electrode_node("footing"))
    ground = barn.plan.ground
    expected = (
        ground.between("rods", "rods")
        + ground.between("footing", "footing")
        - 2 * ground.between("rods", "footing")
    )
    assert abs(read) == pytest.approx(expected, rel=1e-4)
