"""Steel walls as faults side by side see them, against circuits that are made anew with them."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import numpy.typing as npt
import pytest

from bondwright.network.build import Network, build
from bondwright.network.circuit import Circuit
from bondwright.network.raceways import wall_changes
from bondwright.network.solution import Solution
from bondwright.network.solve import Solver
from bondwright.network.steel import TubeSurfaces
from bondwright.studies.fault_parts import Parts
from bondwright.studies.fault_table import study_many
from bondwright.studies.faults import FaultKind, possible_faults, study_fault
from bondwright.studies.wall_settling import _currents as currents_of_walls
from bondwright.studies.walls import Walls
from tests.plan.sites import Described, planned
from tests.studies.test_fault_table import EXACT, STEEL, differences

FEET = 0.3048

SHORTED: Described = {
    "site": "old mill",
    "describes": "as found",
    "sources": {"utility": {"system": "480 V delta", "available": {"current": "10 kA"}}},
    "places": {
        "main": {"kind": "service", "main": "200 A"},
        "mill": {"kind": "panel", "main": "100 A"},
        "yard": {"kind": "panel"},
        "saw": {"kind": "equipment"},
        "lamp": {"kind": "equipment"},
    },
    "runs": {
        "service": {
            "from": "utility",
            "to": "main",
            "length": "30 ft",
            "lines": "3/0 AWG Cu",
            "raceway": {"kind": "rmc", "size": "2 in"},
        },
        "feeder": {
            "from": "main",
            "to": "mill",
            "length": "150 ft",
            "lines": "2 x 1/0 AWG Cu",
            "egc": "raceway",
            "raceway": {"kind": "emt", "size": "2 in"},
            "device": "200 A",
        },
        "spur": {
            "from": "mill",
            "to": "yard",
            "length": "70 ft",
            "lines": "6 AWG Cu",
            "egc": "10 AWG Cu",
            "raceway": {"kind": "emt", "size": "1 in"},
            "device": "60 A",
        },
        "branch": {
            "from": "mill",
            "to": "saw",
            "length": "90 ft",
            "lines": "10 AWG Cu",
            "egc": "raceway",
            "raceway": {"kind": "emt", "size": "3/4 in"},
            "device": "30 A",
        },
        "light": {
            "from": "mill",
            "to": "lamp",
            "length": "20 ft",
            "lines": "12 AWG Cu",
            "egc": "raceway",
            "raceway": {"kind": "emt", "size": "3/4 in"},
            "device": "20 A",
        },
    },
    "ties": {
        "corner": {"at": "main", "line": "L2", "by": "strap"},
        "wrong corner": {"at": "yard", "line": "L3", "by": "strap"},
    },
    "metal": {
        "pipe": {
            "kind": "water pipe",
            "from": "main",
            "to": "yard",
            "length": "220 ft",
            "resistance": "20 mohm",
        }
    },
    "electrodes": {"ring": {"kind": "ring", "at": "main", "resistance": "4 ohm"}},
}
"""A delta whose second corner is on metal too: 1.9 kA go round through steel before any fault."""


@cache
def mill() -> tuple[Network, Walls]:
    """Return the mill, the spur's tubing joined at one end only, and its walls."""
    made = planned(SHORTED)
    spur = replace(made.runs["spur"], raceway_bonded=False)
    network = build(replace(made, runs={**made.runs, "spur": spur}), loads=False)
    return network, Walls(Parts(network))


RUNS = ["service", "feeder", "feeder", "spur", "branch", "light"]
"""Run of each wall of the mill; the feeder has two sets."""


def by_pattern(network: Network, solution: Solution) -> list[complex]:
    """Add up the currents of wires and wall of every raceway, by the names of conductors."""
    found = []
    for run in network.steel:
        names = network.circuit.sections[network.solver.section_index[f"run {run}"]].names
        amps = dict(zip(names, solution.section_currents(f"run {run}"), strict=True))
        for tail in (".1", ".2") if run == "feeder" else ("",):
            here = {n: i for n, i in amps.items() if run != "feeder" or n.endswith(tail)}
            wall = here.pop(f"raceway{tail}", 0j)
            found += [sum(here.values()), wall]
    return found


def anew(network: Network, added: dict[int, npt.NDArray[np.complex128]]) -> Solution:
    """Make the circuit again with more impedance along some walls, and solve it."""
    old = network.circuit
    circuit = Circuit(old.frequency, old.leakage)
    for section in old.sections:
        z = section.impedance.copy()
        for wall, more in added.items():
            if section.id != f"run {RUNS[wall]}":
                continue
            tail = f".{wall}" if RUNS[wall] == "feeder" else ""
            mine = [n.endswith(tail) for n in section.names]
            for i, one in enumerate(section.names):
                for j, other in enumerate(section.names):
                    if mine[i] and mine[j]:
                        z[i, j] += more[int("raceway" in one), int("raceway" in other)]
        circuit.add_section(section.id, section.names, section.starts, section.ends, z)
    circuit.sources, circuit.switches = old.sources, old.switches
    circuit.transformers, circuit.loose = old.transformers, old.loose
    return Solver(circuit).solve()


def some_impedance(wall: int) -> npt.NDArray[np.complex128]:
    dice = np.random.default_rng(wall)
    z = (dice.uniform(1, 5, (2, 2)) + 1j * dice.uniform(1, 5, (2, 2))) * 1e-3
    return np.asarray(z + z.T)


def test_the_walls_of_the_mill() -> None:
    """Lengths, sorts and joins as described; the ends that hold no source and no tie are blocks."""
    network, walls = mill()
    assert len(walls) == 6
    assert walls.length == pytest.approx(np.array([30, 150, 150, 70, 90, 20]) * FEET)
    assert walls.sort.tolist() == [0, 1, 1, 2, 3, 3]
    assert [tube.inner for tube in walls.many.tubes] == [
        network.steel[run].inner for run in ("service", "feeder", "spur", "branch")
    ]
    assert walls.many.frequency == 60
    assert walls.bonded.tolist() == [True, True, True, False, True, True]
    ends = walls.parts.condensed.ends
    assert ends == ("saw", "lamp")
    assert walls.home.tolist() == [-1, -1, -1, -1, 0, 1]
    assert walls.kept.tolist() == [0, 1, 2, 3]
    assert walls.of_block == {0: [4], 1: [5]}
    assert walls.kept_patterns.tolist() == list(range(8))


def test_currents_before_any_fault_are_those_of_the_circuit() -> None:
    network, walls = mill()
    due = by_pattern(network, network.solver.solve())
    assert max(map(abs, due[:8])) > 1000
    assert walls.base == pytest.approx(np.array(due[:8]), rel=1e-7, abs=1e-6)
    # At two sets of the same build half of it each; the spur's tubing carries nothing itself.
    assert walls.base[2] == pytest.approx(walls.base[4], rel=0.01)
    assert walls.base[7] == 0


@pytest.mark.parametrize("which", [(0,), (1,), (2,), (3,), (1, 2), (0, 1, 2, 3)])
def test_more_impedance_along_walls_is_the_circuit_made_with_it(which: tuple[int, ...]) -> None:
    """``i = t + K A i`` and every answer, against a circuit whose sections have A in them."""
    network, walls = mill()
    added = {k: some_impedance(k) for k in which}
    if 3 in which:  # no conductor: nothing runs in the wall
        added[3][:, 1] = added[3][1, :] = 0
    a = np.zeros((8, 8), dtype=complex)
    for k, z in added.items():
        a[2 * k : 2 * k + 2, 2 * k : 2 * k + 2] = z
    with_it = anew(network, added)
    i = np.linalg.solve(np.eye(8) - walls.couplings @ a, walls.base)
    assert i == pytest.approx(np.array(by_pattern(network, with_it)[:8]), rel=1e-6, abs=1e-4)
    assert which == (0,) or np.max(np.abs(i - walls.base)) > 1
    # What the wires and the wall drop is a voltage against them.
    volts, parts = -a @ i, walls.parts
    switched, conductors, metal = (
        before - change @ volts
        for before, change in zip(parts.kept_bases, walls.answers, strict=True)
    )
    poles = [with_it.switch_current(name) for name in parts.pole_name]
    at = [k for k in parts.kept_outputs.tolist() if k < len(poles)]
    assert switched[: len(at)] == pytest.approx([poles[k] for k in at], rel=1e-6, abs=1e-4)
    at = [k for k in parts.kept_outputs.tolist() if k >= parts.first[1]]
    due = [
        sum(sign * with_it.conductor_current(s, c) for s, c, sign in parts.carriers[k]) for k in at
    ]
    assert len(due) > 10
    assert conductors == pytest.approx(due, rel=1e-6, abs=1e-4)
    told = [parts.places[k] for k in parts.told_metal.tolist()]
    assert "mill" in told
    assert metal == pytest.approx([with_it.voltage(f"{n}:G") for n in told], rel=1e-6, abs=1e-4)


def test_walls_of_one_set_act_on_the_other_and_on_no_other_run() -> None:
    """A volt along one pattern sends the admittance between the two along another (definition)."""
    network, walls = mill()
    k = network.solver.section_index["run feeder"]
    names, y = network.circuit.sections[k].names, np.linalg.inv(
        network.circuit.sections[k].impedance
    )  # fmt: skip
    groups = [
        [n for n in names if n.endswith(tail) and ("raceway" in n) is wall]
        for tail in (".1", ".2")
        for wall in (False, True)
    ]
    for i, one in enumerate(groups):
        for j, other in enumerate(groups):
            due = sum(y[names.index(a), names.index(b)] for a in one for b in other)
            assert walls.direct(2 + i, 2 + j) == pytest.approx(due, rel=1e-9)
    assert walls.direct(1, 2) == walls.direct(2, 8) == 0


def test_where_a_voltage_enters_and_a_current_is_read() -> None:
    """Of a branch to a saw: its own current by its lines, read from the voltages at its ends."""
    network, walls = mill()
    solution = network.solver.solve([network.solver.join("saw:L1", "saw:G")])
    due = by_pattern(network, solution)
    assert abs(due[8]) > 100
    for pattern, amps in enumerate(due):
        u, v = walls.change(pattern)
        read = sum(value * solution.voltage(network.solver.nodes[row]) for row, value in v)
        assert read == pytest.approx(amps, rel=1e-7, abs=1e-5)
        # What a volt sends in at one end comes out at the other.
        assert sum(value for _, value in u) == pytest.approx(0, abs=1e-6)
        assert dict(u) == pytest.approx(dict(v))  # wires are reciprocal


@pytest.mark.parametrize("wall", range(6))
def test_a_wall_adds_what_takes_its_power(wall: int) -> None:
    """With wires at I and the wall at W it takes ``z_aa I2 - 2 z_ab I(I+W) + z_bb (I+W)2``."""
    _, walls = mill()
    base = walls.many.base[:, walls.sort[wall]]
    more = np.array([0.3 + 0.1j, 0.2 - 0.1j, 0.5 + 0.4j]) * 1e-3
    (found,) = walls.added(np.array([wall]), (base + more)[:, None])
    wires, steel = 120.0, -70.0 if walls.bonded[wall] else 0.0
    i = np.array([wires, -70.0])  # what isn't a conductor takes nothing whatever is asked
    a, b = wires, wires + steel
    due = walls.length[wall] * (more[0] * a * a - 2 * more[1] * a * b + more[2] * b * b)
    assert i @ found @ i == pytest.approx(due)
    assert found[0, 1] == found[1, 0]
    if not walls.bonded[wall]:
        assert found[0, 1] == found[1, 1] == 0


def test_what_two_walls_add_is_what_each_adds_in_the_study_of_one_fault() -> None:
    network, walls = mill()
    some = np.array([1, 4])
    z = walls.many.base[:, walls.sort[some]] * (1 + np.array([0.2, 0.4]))
    found = walls.added(some, z)
    for row, (wall, key) in enumerate(((1, ("feeder", 0)), (4, ("branch", 0)))):
        z_aa, z_ab, z_bb = (complex(value) for value in z[:, row])
        state = TubeSurfaces(z_aa, z_ab, z_bb, 1.0, (), 1, 0.0, converged=True)
        changes = wall_changes(network, key, state)
        inverse = -np.array([[changes[0].d, 0], [0, changes[1].d]])
        inverse[0, 1] = inverse[1, 0] = -changes[0].partners[0][1]
        assert found[row] == pytest.approx(np.linalg.inv(inverse), rel=1e-3), wall


def test_the_most_that_walls_of_several_sorts_can_take() -> None:
    """Any shape of question; the field of the wires at the inside, of both together outside."""
    _, walls = mill()
    numbers = np.array([[0, 1, 3], [4, 5, 5]])
    inner = np.array([[10, 500, 40], [0, 3, 9000]]) + 0j
    outer = np.array([[20j, 2, 40], [0, 7, 1]]) + 0j
    found = walls.weight(numbers, inner, outer)
    assert found.shape == (2, 3)
    for at in np.ndindex(2, 3):
        alone = walls.weight(numbers[at].reshape(1), inner[at].reshape(1), outer[at].reshape(1))
        assert found[at] == pytest.approx(float(alone[0]))
    assert found[1, 0] == 0
    # A wall of 90 ft takes 4.5 times what one of 20 ft takes of the same sort.
    (both,) = {
        round(float(np.divide(*walls.weight(np.array([4, 5]), inner_ + 0j, inner_ + 0j))), 9)
        for inner_ in (np.array([60.0, 60.0]), np.array([900.0, 900.0]))
    }
    assert both == pytest.approx(4.5)
    # It never falls as the current grows, and counts what the wall can do at any lesser field.
    amps = np.geomspace(0.1, 5e4, 60)
    phasors = amps.astype(np.complex128)
    every = walls.weight(np.full(60, 4), phasors, phasors) / amps**2
    assert np.all(np.diff(every) > -1e-12)
    assert every[-1] > 2 * every[0]
    tube = walls.many.tubes[walls.sort[4]]
    for current in (30.0, 300.0):
        mu = walls.many.at_field(walls.sort[[4]], np.array([current / (2 * math.pi * tube.inner)]))
        z = walls.many.impedances(walls.sort[[4]], np.repeat(mu[None], 32, axis=0))[1][:, 0]
        z = z - walls.many.base[:, walls.sort[4]]
        wires_only = walls.weight(np.array([4]), np.array([current + 0j]), np.array([0j]))
        assert 90 * FEET * abs(z[0]) * current**2 <= float(wires_only[0]) * (1 + 1e-9)


def test_currents_of_walls_at_given_impedances_solve_their_equations() -> None:
    """``i - K A i = t`` with A of each wall by itself, for two faults of three walls."""
    dice = np.random.default_rng(4)
    t = dice.normal(size=(2, 6)) + 1j * dice.normal(size=(2, 6))
    k = dice.normal(size=(2, 6, 6)) + 1j * dice.normal(size=(2, 6, 6))
    a = dice.normal(size=(2, 3, 2, 2)) + 1j * dice.normal(size=(2, 3, 2, 2))
    found = currents_of_walls(t, k, a)
    for f in range(2):
        full = np.zeros((6, 6), dtype=complex)
        for w in range(3):
            full[2 * w : 2 * w + 2, 2 * w : 2 * w + 2] = a[f, w]
        assert found[f] - k[f] @ full @ found[f] == pytest.approx(t[f])


def test_faults_beside_a_standing_short_and_in_ends_of_their_own() -> None:
    """Walls that carry current before the fault, loose ones and those of an end by itself."""
    network, _ = mill()
    faults = possible_faults(network, [FaultKind.LINE_TO_METAL, FaultKind.LINE_TO_LINE])
    table = study_many(network, faults, within=EXACT)
    for k, fault in enumerate(faults):
        found = differences(table, k, study_fault(network, fault), STEEL, 1e-3)
        # The loop is told by the volts before the fault: here with steel as it is without current,
        # there with steel at the current that goes round before it.
        assert set(found) <= {"loop"}, str(fault)
