"""Steel raceways that aren't joined at both ends: no conductor, yet they choke what is inside."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from bondwright.network.build import Network, build
from bondwright.network.circuit import Circuit
from bondwright.network.raceways import settled, wall_changes
from bondwright.network.runs import run_impedance, strands
from bondwright.network.solve import Change, Solver
from bondwright.network.steel import TubeSurfaces
from tests.network.test_ngspice_faults import works


def loose(sets: int, *, bonded: bool = False) -> Network:
    """Return the works with the feeder's rigid conduit joined at one end only, or at both."""
    made = works("rmc", egc="8 AWG Cu", system="480Y/277 V", sets=sets).plan
    feeder = replace(made.runs["feeder"], raceway_bonded=bonded)
    return build(replace(made, runs={**made.runs, "feeder": feeder}), loads=False)


def anew(network: Network, walls: dict[tuple[str, int], TubeSurfaces]) -> Solver:
    """Return the same circuit made with every wall as it is at its current."""
    old, made = network.circuit, network.plan
    circuit = Circuit(old.frequency, old.leakage)
    for section in old.sections:
        z = section.impedance
        kind, _, name = section.id.partition(" ")
        if kind == "run" and name in network.steel:
            run = made.runs[name]
            quiet = network.steel[name].surfaces(0, 0, old.frequency)
            triples = {k: walls.get((name, k), quiet).triple for k in range(run.lines.sets)}
            _, z = run_impedance(run, old.frequency, made.soil, made.temperature, triples)
        circuit.add_section(section.id, section.names, section.starts, section.ends, z)
    circuit.sources, circuit.switches = old.sources, old.switches
    circuit.transformers, circuit.loose = old.transformers, old.loose
    return Solver(circuit)


def outside(network: Network) -> list[Change]:
    """Return a fault whose current comes home outside the conduit, over other metal."""
    return [network.solver.join("panel:L1", "service:G", 0.01)]


@pytest.mark.parametrize("bonded", [False, True])
@pytest.mark.parametrize("sets", [1, 2, 3])
def test_the_settled_circuit_is_the_one_made_with_those_walls(sets: int, *, bonded: bool) -> None:
    """Changes of a factored circuit equal the circuit made anew (Schelkunoff's surfaces)."""
    network = loose(sets, bonded=bonded)
    solution, report = settled(network, outside(network))
    assert report is not None
    assert report.converged
    assert {key[1] for key in report.currents if key[0] == "feeder"} == set(range(sets))
    solver = anew(network, dict(report.surfaces))
    again = solver.solve([solver.join("panel:L1", "service:G", 0.01)])
    largest = max(abs(again.voltage(node)) for node in solver.nodes)
    for node in solver.nodes:
        assert abs(again.voltage(node) - solution.voltage(node)) < 1e-7 * largest, node
    assert solution.residuals.kirchhoff < 1e-7


@pytest.mark.parametrize("bonded", [False, True])
def test_what_is_enclosed_is_the_sum_of_the_wires(*, bonded: bool) -> None:
    """By its definition; a wall that isn't joined at both ends carries nothing."""
    network = loose(1, bonded=bonded)
    solution, report = settled(network, outside(network))
    assert report is not None
    at = report.currents["feeder", 0]
    assert (at.tube == 0) is not bonded
    parts = strands(network.plan.runs["feeder"])
    amps = solution.section_currents("run feeder")
    inside = [i for part, i in zip(parts, amps, strict=True) if part.conductor is not None]
    assert at.enclosed == pytest.approx(complex(sum(inside)))
    assert abs(at.enclosed) > 10


def test_steel_chokes_a_current_that_comes_home_outside() -> None:
    """Steel around a lone conductor takes volts that plastic doesn't (common knowledge of the
    trade, which is why codes want both ends joined)."""
    steel = loose(1)
    plastic = works("pvc", egc="8 AWG Cu", system="480Y/277 V")
    drawn = [abs(settled(one, outside(one))[0].change_current(0)) for one in (steel, plastic)]
    assert drawn[0] < 0.8 * drawn[1]


def test_every_wall_has_changes_of_its_own() -> None:
    """A column is kept by a change's label, so no two sets may share one."""
    for bonded in (False, True):
        network = loose(3, bonded=bonded)
        quiet = network.steel["feeder"].surfaces(0, 0, 60.0)
        wall = replace(quiet, z_aa=2 * quiet.z_aa, z_bb=3 * quiet.z_bb)
        changes = [c for k in range(3) for c in wall_changes(network, ("feeder", k), wall)]
        assert len({change.label for change in changes}) == len(changes)
        for change in changes:
            assert {label for label, _ in change.partners} <= {c.label for c in changes}


@pytest.mark.parametrize("bonded", [False, True])
def test_what_a_wall_adds_by_hand(*, bonded: bool) -> None:
    """Wires: change of z_bb - 2 z_ab + z_aa; wall: of z_bb; between: of z_bb - z_ab (per metre,
    times the length), the combinations of a conductor inside a tube (Schelkunoff 1934)."""
    network = loose(1, bonded=bonded)
    tube = network.steel["feeder"]
    quiet = tube.surfaces(0, 0, 60.0)
    wall = replace(quiet, z_aa=quiet.z_aa + 1e-4, z_ab=quiet.z_ab + 2e-5j, z_bb=quiet.z_bb + 3e-4)
    length = network.plan.runs["feeder"].length
    changes = wall_changes(network, ("feeder", 0), wall)
    assert len(changes) == (2 if bonded else 1)
    added = np.linalg.inv(-_corner(changes))
    wires = (3e-4 - 4e-5j + 1e-4) * length
    between, own = (3e-4 - 2e-5j) * length, 3e-4 * length
    expected = [[wires, between], [between, own]] if bonded else [[wires]]
    assert added == pytest.approx(np.array(expected))
    assert wall_changes(network, ("feeder", 0), quiet) == ()


def _corner(changes: tuple[Change, ...]) -> np.ndarray:
    place = {change.label: k for k, change in enumerate(changes)}
    found = np.diag([change.d for change in changes]).astype(np.complex128)
    for k, change in enumerate(changes):
        for label, value in change.partners:
            found[k, place[label]] += value
    return found
