"""Sweep answers against circuits changed by hand and solved from scratch, and against ngspice."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.network.build import Network, build
from bondwright.network.solve import Solver
from bondwright.network.spice import netlist, node_numbers
from bondwright.plan.build import plan
from bondwright.site import generator
from bondwright.site.generator import large_site
from bondwright.studies.defects.catalogue import Defect, changes_of, defects
from bondwright.studies.defects.course import Followed
from bondwright.studies.defects.pairs import both, doubles, follow_pairs
from bondwright.studies.defects.sweep import Harm, Sweeper, harm, sweep
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import USUAL, Fault, FaultKind
from bondwright.studies.faults import study_fault
from tests.network.ngspice import node_voltages
from tests.outside import outside, published
from tests.studies.defects.rebuilt import FAULT, rebuilt, ten_sites
from tests.studies.sites import BENCH, example, network

EACH = 100
"""Pairs tried on each of ten sites: a thousand in all."""

CLOSE = 1e-8
FLOATING = 1e-7
"""Where a whole system is joined to metal by nothing but the capacitance of its wires, an ampere
pushed into it makes a megavolt: seven digits of sixteen are gone before anything is solved."""

CHARGING_V = 2e-5
AMPS, VOLTS = 1e-6, 1e-5
"""Below these a number is what floating parts were rounded to."""


def alike(one: float, other: float, noise: float = 0.0, close: float = CLOSE) -> bool:
    return one == other or abs(one - other) <= close * max(abs(one), abs(other)) + noise


def floats(site: Network) -> bool:
    topology = site.plan.topology
    tied = {topology.systems[tie.at].origin for tie in site.plan.ties if tie.at in topology.systems}
    return any(system.origin not in tied for system in topology.systems.values())


def answered(sweeper: Sweeper, pairs: Sequence[tuple[int, int]]) -> Followed:
    d, f = (np.array(side, dtype=np.int64) for side in zip(*pairs, strict=True))
    return follow_pairs(sweeper.faults, sweeper.faulty, d, f)


def drawn(sweeper: Sweeper, dice: random.Random, count: int) -> list[tuple[int, int]]:
    """Draw pairs of a defect and a fault, half of them at one place."""
    found: list[tuple[int, int]] = []
    lost = set(sweeper.faulty.lost)
    by_place: dict[str, list[int]] = {}
    for k, fault in enumerate(sweeper.faults.faults):
        by_place.setdefault(fault.place, []).append(k)
    while len(found) < count:
        d = dice.randrange(len(sweeper.defects))
        there = by_place.get(sweeper.defects[d].at, [])
        f = dice.choice(there) if there and dice.random() < 0.5 else None
        if d not in lost:
            found.append((d, dice.randrange(len(sweeper.faults.faults)) if f is None else f))
    return found


def differences(site: Network, defect: Defect, fault: Fault, out: Followed, k: int) -> list[str]:
    """Return what differs from the circuit built anew, and from the fault followed alone."""
    solver = Solver(rebuilt(site, defect, fault))
    solution = solver.solve()
    metal = {
        name: abs(solution.voltage(f"{name}:G"))
        for name, terminals in site.terminals.items()
        if "G" in terminals
    }
    places = [n for n, terminals in site.terminals.items() if "G" in terminals]
    alone = study_fault(site, fault, changes_of(site, defect), settle=False)
    current = abs(solution.switch_current(FAULT))
    # Both ways lose digits where parts float; nobody can agree better than they do.
    close = FLOATING if floats(site) else CLOSE
    volts = close * max(abs(solution.voltage(node)) for node in solver.nodes)
    volts += 4 * abs(max(metal.values()) - alone.touch_verdict.voltage_v)
    amps = AMPS + 4 * abs(current - alone.current)
    pairs = {
        "current": alike(out.current[k], current, amps),
        # Ends of branches that the pair isn't in are taken as their panel's metal: charging
        # currents of their wires move them by some microvolts.
        "touch": alike(out.touch[k], max(metal.values()), 3 * volts + CHARGING_V),
        "touch there": alike(out.touch[k], metal[places[out.touch_place[k]]], volts),
        "at fault": alike(out.at_fault[k], metal[fault.place], volts),
        # A time follows its current by the steepness of a curve.
        "clearing": alike(out.clearing[k], alone.clearing, 0.0, 10 * CLOSE),
        "openings": int(out.openings[k]) == len(alone.openings),
        "live after": alike(
            out.live_after[k], alone.live_after, 10 * volts + 5 * CHARGING_V, 10 * CLOSE
        ),
        "limit": alike(out.limit[k], alone.touch_verdict.limit_v, 0.0, 10 * CLOSE),
        "first of two": bool(out.first_of_two[k]) is alone.first_of_two,
    }
    return [name for name, same in pairs.items() if not same]


@pytest.mark.parametrize("number", range(10))
def test_pairs_equal_the_site_built_anew(number: int) -> None:
    name, site = ten_sites()[number]
    dice = random.Random(number)
    sweeper = Sweeper(site, faults=possible_faults(site, USUAL))
    pairs = drawn(sweeper, dice, EACH)
    out = answered(sweeper, pairs)
    for k, (d, f) in enumerate(pairs):
        defect, fault = sweeper.defects[d], sweeper.faults.faults[f]
        found = differences(site, defect, fault, out, k)
        assert found == [], f"{name}: {defect.id}, {fault}"


def test_buildings_that_share_nothing_are_solved_one_by_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(generator, "PER_BUILDING", 14)
    site = build(plan(large_site(42, 8)), loads=False)
    sweeper = Sweeper(site, faults=possible_faults(site, USUAL))
    condensed = sweeper.ports.condensed
    assert len(set(condensed.region.tolist())) >= 3
    # What is kept of a column is as long as its own building: memory doesn't grow with the others.
    at = np.arange(len(condensed.kept))
    columns = condensed.columns(at)
    assert not columns[condensed.region[:, None] != condensed.region[at]].any()
    matrix = condensed._matrix
    right = np.eye(len(at))[:, at].astype(complex)
    paired = at[condensed._other >= 0]
    right[condensed._other[paired], paired] -= 1
    assert np.abs(matrix @ columns - right).max() < 1e-9
    pairs = drawn(sweeper, random.Random(8), EACH)
    out = answered(sweeper, pairs)
    for k, (d, f) in enumerate(pairs):
        found = differences(site, sweeper.defects[d], sweeper.faults.faults[f], out, k)
        assert not found, f"{sweeper.defects[d].name}, {sweeper.faults.faults[f]}: {found}"


def test_faults_through_a_resistance_and_without_a_defect() -> None:
    site = ten_sites()[3][1]
    usual = possible_faults(site, [FaultKind.LINE_TO_METAL, FaultKind.NEUTRAL_TO_METAL])
    faults = [Fault(f.place, f.kind, f.a, f.b, 0.3) for f in usual]
    sweeper = Sweeper(site, faults=faults)
    out = answered(sweeper, [(-1, k) for k in range(len(faults))])
    for k, fault in enumerate(faults):
        alone = study_fault(site, fault, settle=False)
        assert alike(out.current[k], alone.current, AMPS)
        assert alike(out.clearing[k], alone.clearing, 0.0, 10 * CLOSE)
        assert alike(out.touch[k], alone.touch_verdict.voltage_v, VOLTS)


@outside("ngspice, defect and fault together", "computed", unit="V")
def test_pairs_equal_ngspice(ngspice: Path, tmp_path: Path) -> None:
    """56 pairs; ngspice knows nothing of ports or low-rank changes."""
    count = 0
    for number, (name, site) in enumerate(ten_sites()[:8]):
        sweeper = Sweeper(site)
        pairs = drawn(sweeper, random.Random(100 + number), 7)
        out = answered(sweeper, pairs)
        for k, (d, f) in enumerate(pairs):
            defect, fault = sweeper.defects[d], sweeper.faults.faults[f]
            circuit = rebuilt(site, defect, fault)
            volts = node_voltages(ngspice, netlist(circuit, defect.id), tmp_path)
            node = node_numbers(circuit)
            metal = max(
                abs(volts[node[f"{place}:G"]])
                for place, terminals in site.terminals.items()
                if "G" in terminals
            )
            scale = max(abs(v) for v in volts.values())
            assert out.touch[k] == published(metal, abs=1e-6 * scale), (
                f"{name}: {defect.id}, {fault}"
            )
            at = abs(volts[node[f"{fault.place}:G"]])
            assert out.at_fault[k] == published(at, abs=1e-6 * scale)
            count += 1
    assert count >= 50


@pytest.mark.parametrize("number", [2, 3, 6, 7])
def test_nothing_that_matters_is_left_out(number: int) -> None:
    """What is kept after choosing pairs is the worst of all pairs."""
    _, site = ten_sites()[number]
    sweeper = Sweeper(site)
    swept = sweep(site, daily=False)
    plain = harm(swept.plain)
    faults = np.arange(len(sweeper.faults.faults))
    lost = set(sweeper.faulty.lost)
    assert swept.scenarios == (len(sweeper.defects) - len(lost)) * len(faults)
    for d in range(len(sweeper.defects)):
        if d in lost:
            continue
        out = follow_pairs(sweeper.faults, sweeper.faulty, np.full(len(faults), d), faults)
        code = harm(out)
        worse = code > plain
        if worse.any():
            assert swept.harm[d] == code[worse].max(), sweeper.defects[d].id
            assert swept.worsened[d] >= worse.sum()


def test_openings_follow_each_other_with_a_defect() -> None:
    """Every pair of a small site, outcomes and all."""
    site = example()
    sweeper = Sweeper(site)
    pairs = [
        (d, f)
        for d in range(len(sweeper.defects))
        for f in range(len(sweeper.faults.faults))
        if d not in sweeper.faulty.lost
    ]
    out = answered(sweeper, pairs)
    for k, (d, f) in enumerate(pairs):
        found = differences(site, sweeper.defects[d], sweeper.faults.faults[f], out, k)
        assert found == [], f"{sweeper.defects[d].id}, {sweeper.faults.faults[f]}"


def test_open_equipment_ground_by_hand() -> None:
    """Nothing comes home: the metal takes the line's voltage and nothing opens."""
    site = network(BENCH)
    swept = sweep(site)
    at = [d.id for d in swept.defects].index("egc-open/branch")
    assert swept.harm[at] == Harm.LIVE
    assert swept.faults[swept.worst[at]].place == "far"
    assert math.isinf(swept.outcome.clearing[at])
    assert swept.outcome.touch[at] == pytest.approx(120, rel=1e-3)


def test_missing_tie_by_hand() -> None:
    """120 V through rods of 10 ohm and 25 ohm: 3.43 A, and 85.7 V on the metal."""
    site = network(BENCH)
    swept = sweep(site)
    at = [d.id for d in swept.defects].index("tie-missing/bond")
    assert swept.harm[at] == Harm.LIVE
    assert swept.outcome.current[at] == pytest.approx(120 / 35, rel=0.01)
    assert swept.outcome.touch[at] == pytest.approx(120 * 25 / 35, rel=0.01)


def test_blocks_in_any_order_give_the_same() -> None:
    site = ten_sites()[4][1]
    sweeper = Sweeper(site)
    count = len(sweeper.faults.faults)
    spans = [(0, 7), (7, 40), (40, count)]
    one = sweeper.gather([sweeper.block(*span) for span in spans])
    other = sweeper.gather([sweeper.block(*span) for span in reversed(spans)])
    whole = sweep(site, daily=False)
    for swept in (one, other):
        assert (swept.harm == whole.harm).all()
        assert (swept.worsened == whole.worsened).all()
        assert (swept.place_harm == whole.place_harm).all()
        there = whole.worst >= 0
        np.testing.assert_allclose(swept.outcome.touch[there], whole.outcome.touch[there], 1e-9)


@settings(max_examples=15, deadline=None)
@given(st.integers(2, 30), st.integers(0, 1000), st.data())
def test_two_defects_don_t_mind_their_order(places: int, seed: int, data: st.DataObject) -> None:
    site = build(plan(large_site(places, seed)), loads=False)
    singles = defects(site)
    k = data.draw(st.integers(0, len(singles) - 1))
    m = data.draw(st.integers(0, len(singles) - 1))
    one, other = singles[k], singles[m]
    if one.thing == other.thing:
        return
    sweeper = Sweeper(site, [both(one, other), both(other, one)])
    if sweeper.faulty.lost:
        return
    faults = np.arange(len(sweeper.faults.faults))
    first = follow_pairs(sweeper.faults, sweeper.faulty, np.zeros(len(faults), int), faults)
    second = follow_pairs(sweeper.faults, sweeper.faulty, np.ones(len(faults), int), faults)
    np.testing.assert_allclose(first.touch, second.touch, rtol=1e-6, atol=1e-4)
    np.testing.assert_allclose(first.current, second.current, rtol=1e-6, atol=1e-4)


def test_double_defects_equal_the_site_built_anew() -> None:
    site = ten_sites()[6][1]
    chosen = list(doubles(defects(site)))
    assert len({d.id for d in chosen}) == len(chosen)
    dice = random.Random(7)
    sweeper = Sweeper(site, dice.sample(chosen, min(60, len(chosen))))
    pairs = drawn(sweeper, dice, 40)
    out = answered(sweeper, pairs)
    for k, (d, f) in enumerate(pairs):
        defect, fault = sweeper.defects[d], sweeper.faults.faults[f]
        solution = Solver(rebuilt(site, defect, fault)).solve()
        current = abs(solution.switch_current(FAULT))
        assert alike(out.current[k], current, 1e-5), f"{defect.id}, {fault}"


def test_what_a_sweep_does_not_take() -> None:
    with pytest.raises(ValueError, match="loads off"):
        Sweeper(example(loads=True))
    site = network(BENCH)
    with pytest.raises(ValueError, match="by itself"):
        Sweeper(site, faults=[Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", arc=40.0)])
    with pytest.raises(ValueError, match="no terminal"):
        Sweeper(site, faults=[Fault("far", FaultKind.LINE_TO_METAL, "L3", "G")])
