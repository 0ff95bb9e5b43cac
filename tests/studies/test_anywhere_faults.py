"""What must hold for faults on any site: balance, monotony, and one answer by every way."""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import replace

import numpy as np
import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor, standard_sizes
from bondwright.network.build import Network, build
from bondwright.network.circuit import Circuit
from bondwright.network.solution import Solution
from bondwright.network.solve import Change, Injection, Solver
from bondwright.plan.model import Plan, PlannedRun
from bondwright.studies.defects.sweep import Sweeper
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import USUAL, Fault, FaultKind
from bondwright.studies.fault_table import VERDICTS, study_many
from bondwright.studies.faults import study_fault
from bondwright.studies.scene import joins_of
from tests.studies.anywhere import plan_of, quiet, seeds, some_faults
from tests.studies.defects.rebuilt import FAULT, rebuilt
from tests.studies.defects.test_sweep import answered, differences, drawn

STEADY = 1e-9
FLOATS_OHM = 1e5
"""Beyond it only the capacitance of wires holds a piece of metal."""
CHARGED_V = 1e-3
"""What that capacitance may lift metal to which nothing else holds, taken two ways."""


def unbalanced(solver: Solver, solution: Solution) -> float:
    """Return the current that is lost at the worst node, over the largest; by a sum of our own."""
    circuit = solver.circuit
    net: dict[str, complex] = defaultdict(complex)
    most = 0.0
    touched = {"earth"}

    def carry(a: str, b: str, amps: complex) -> None:
        nonlocal most
        net[a] -= amps
        net[b] += amps
        most = max(most, abs(amps))

    for section in circuit.sections:
        each = solution.section_currents(section.id)
        for a, b, i in zip(section.starts, section.ends, each, strict=True):
            carry(a, b, complex(i))
    for switch in circuit.switches:
        carry(switch.a, switch.b, solution.switch_current(switch.id))
    for source in circuit.sources:
        carry(source.minus, source.plus, solution.source_current(source.id))
    for winding in circuit.transformers:
        touched |= {winding.p1, winding.p2, winding.s1, winding.s2}
    for node, amps in net.items():
        if node in solver.index and node not in touched:
            net[node] = amps - circuit.leakage * solution.voltage(node)
    lost = [abs(i) for node, i in net.items() if node not in touched]
    return max(lost, default=0.0) / max(most, 1e-9)


@pytest.mark.parametrize("seed", seeds(3))
def test_every_current_that_comes_goes(seed: int) -> None:
    """Kirchhoff's first law, summed here and not by the solver, on a circuit with the fault in."""
    network = quiet(seed)
    for fault in some_faults(network, 3, random.Random(seed)):
        solver = Solver(rebuilt(network, None, fault))
        assert unbalanced(solver, solver.solve()) < 1e-6
        assert study_fault(network, fault, settle=False).residuals.power < 1e-6


@pytest.mark.parametrize("seed", [12, *seeds(3)])
def test_a_fault_followed_alone_in_a_table_and_in_a_circuit_built_anew(seed: int) -> None:
    """At seed 12 all steel is in the branches at whose ends the faults are."""
    network = quiet(seed)
    faults = some_faults(network, 8, random.Random(seed), *USUAL)
    table = study_many(network, faults)
    for k, fault in enumerate(faults):
        alone = study_fault(network, fault)
        if alone.resistance or network.inverters:
            continue
        assert table.current[k] == pytest.approx(alone.current, rel=1e-3, abs=1e-5), fault
        assert VERDICTS[table.verdict[k]] is alone.verdict, fault
        assert table.touch[k] == pytest.approx(alone.touch[alone.worst_place], rel=2e-3, abs=0.05)
        assert alone.clearing == pytest.approx(table.clearing[k], rel=0.02)
        unsettled = study_fault(network, fault, settle=False)
        anew = Solver(rebuilt(network, None, fault)).solve()
        if len(joins_of(fault)) == 1:
            drawn_there = abs(anew.switch_current(FAULT))
            assert drawn_there == pytest.approx(unsettled.current, rel=1e-6, abs=1e-5), fault


@pytest.mark.parametrize("seed", seeds(2))
def test_defects_swept_are_circuits_built_anew(seed: int) -> None:
    """Pairs of a defect and a fault by low-rank changes, against a circuit made by hand."""
    network = quiet(seed, ("made up", "works"))
    sweeper = Sweeper(network, faults=possible_faults(network, USUAL))
    pairs = drawn(sweeper, random.Random(seed), 20)
    out = answered(sweeper, pairs)
    for k, (d, f) in enumerate(pairs):
        defect, fault = sweeper.defects[d], sweeper.faults.faults[f]
        found = set(differences(network, defect, fault, out, k))
        anew = Solver(rebuilt(network, defect, fault)).solve()
        if abs(out.at_fault[k] - abs(anew.voltage(f"{fault.place}:G"))) < CHARGED_V:
            found -= {"at fault", "live after"}
        assert not found, f"{defect.id}, {fault}: {found}"


# --- monotony ----------------------------------------------------------------------------------


def direct(network: Network) -> Solver:
    """Return the circuit as direct current would see it: resistances only.

    There Rayleigh's theorem is strict (J. W. S. Rayleigh, 1899): no resistance that is lowered
    raises any other. With reactance beside resistance it isn't: 1 ohm beside j1 ohm has more
    resistance than j1 ohm alone.
    """
    old = network.circuit
    sections = [replace(s, impedance=s.impedance.real.astype(complex)) for s in old.sections]
    return Solver(
        Circuit(
            old.frequency, 1e-12 + 0j, sections, list(old.sources), list(old.switches),
            list(old.transformers), list(old.loose),
        )
    )  # fmt: skip


def loop(solver: Solver, fault: Fault, *beside: Change) -> float:
    """Return the resistance seen at a fault, ohm."""
    a, b = f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}"
    ampere = Injection(b, a, 1.0)
    return solver.solve(beside, [ampere], dead=True).between(a, b).real


def to_metal(network: Network, count: int, dice: random.Random) -> list[Fault]:
    return some_faults(network, count, dice, FaultKind.LINE_TO_METAL)


def up(wire: Conductor) -> Conductor:
    """Return the next standard conductor but one, or itself."""
    sizes = list(standard_sizes())
    if wire.size not in sizes:
        return replace(wire, sets=wire.sets + 1)
    return replace(wire, size=sizes[min(sizes.index(wire.size) + 2, len(sizes) - 1)])


def with_run(made: Plan, run: PlannedRun) -> Solver:
    return direct(build(replace(made, runs={**made.runs, run.id: run}), loads=False))


@pytest.mark.parametrize("seed", seeds(3))
def test_shorter_thicker_and_more_never_raise_a_loop(seed: int) -> None:
    """Of resistances, strictly: by Rayleigh's theorem."""
    made, network, dice = plan_of(seed), quiet(seed), random.Random(seed)
    every = [(f, loop(direct(network), f)) for f in to_metal(network, 6, dice)]
    faults = [fault for fault, ohms in every if ohms < FLOATS_OHM]
    was = [ohms for _, ohms in every if ohms < FLOATS_OHM]
    metal = [f"{p}:G" for p, t in network.terminals.items() if "G" in t]
    for name in dice.sample(sorted(made.runs), min(3, len(made.runs))):
        run = made.runs[name]
        shorter = with_run(made, replace(run, length=run.length / 2))
        wires = with_run(
            made,
            replace(
                run,
                lines=up(run.lines),
                metal=None if run.metal is None else up(run.metal),
                neutral=None if run.neutral is None else up(run.neutral),
            ),
        )
        for solver in (shorter, wires):
            for fault, before in zip(faults, was, strict=True):
                assert loop(solver, fault) <= before * (1 + STEADY), (name, fault)
    solver = direct(network)
    for _ in range(4):
        a, b = dice.sample(metal, 2) if len(metal) > 1 else (metal[0], "earth")
        join = solver.join(a, b, dice.choice([0.01, 0.3, 5.0]))
        for fault, before in zip(faults, was, strict=True):
            assert loop(solver, fault, join) <= before * (1 + STEADY) + 1e-12, (a, b, fault)


@pytest.mark.parametrize("seed", seeds(3))
def test_a_path_beside_hardly_ever_takes_from_a_fault(seed: int) -> None:
    """With reactance it may, by little; and the metal's own voltage stays below the source's."""
    network, dice = quiet(seed), random.Random(seed)
    metal = [f"{p}:G" for p, t in network.terminals.items() if "G" in t]
    most = max(
        max((abs(network.solver.solve().voltage(f"{p}:{t}")) for t in ts), default=0.0)
        for p, ts in network.terminals.items()
    )
    for fault in to_metal(network, 4, dice):
        alone = study_fault(network, fault, settle=False)
        assert max(alone.touch.values()) <= most * 1.001
        if len(metal) > 1:
            a, b = dice.sample(metal, 2)
            join = network.solver.join(a, b, 0.05)
            beside = study_fault(network, fault, [join], settle=False)
            assert beside.current >= alone.current * (1 - 0.05)


def larger(rating: DeviceRating) -> DeviceRating:
    """Return a device twice as large, its settings in amperes with it."""

    def twice(amps: float | None) -> float | None:
        return None if amps is None else 2 * amps

    return replace(
        rating,
        rating_a=2 * rating.rating_a,
        instantaneous_a=twice(rating.instantaneous_a),
        short_pickup_a=twice(rating.short_pickup_a),
        ground_pickup_a=twice(rating.ground_pickup_a),
    )


@pytest.mark.parametrize("seed", seeds(3))
def test_a_larger_device_never_opens_sooner(seed: int) -> None:
    """Devices one after the other made twice as large, for whatever fault."""
    network, dice = quiet(seed), random.Random(seed)
    faults = to_metal(network, 4, dice)
    before = [study_fault(network, fault, settle=False) for fault in faults]
    for name in dice.sample(sorted(network.devices), min(4, len(network.devices))):
        device = network.devices[name]
        if device.rating.curve_name is not None:
            continue
        changed = {**network.devices, name: replace(device, rating=larger(device.rating))}
        other = replace(network, devices=changed)
        for fault, was in zip(faults, before, strict=True):
            now = study_fault(other, fault, settle=False)
            # Two alike in a row: which of them opens is a matter of the last digits.
            assert now.clearing >= was.clearing * (1 - 1e-6), (name, fault)


def test_the_sum_of_our_own_finds_what_is_lost() -> None:
    network = quiet(0)
    fault = to_metal(network, 1, random.Random(0))[0]
    solver = Solver(rebuilt(network, None, fault))
    solution = solver.solve()
    most = max(
        range(len(solver.circuit.sections)),
        key=lambda k: np.abs(solution.section_currents(solver.circuit.sections[k].id)).max(),
    )
    del solver.circuit.sections[most]
    assert unbalanced(solver, solution) > 0.1
