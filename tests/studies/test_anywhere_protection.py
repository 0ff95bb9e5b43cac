"""What must hold for protection on any site: what is available, how long a run may be, in time."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from bondwright.network.build import build
from bondwright.rules.answer import Verdict
from bondwright.studies.available import available_current, available_everywhere
from bondwright.studies.disconnection import study_disconnection
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.faults import study_fault
from bondwright.studies.lengths import FARTHEST_M, longest_run
from bondwright.studies.protection import duties, in_series
from bondwright.studies.protective import study_withstand
from bondwright.studies.pv import ArrayFaultKind, possible_array_faults, study_array_fault
from bondwright.studies.whatif import farthest_fault, main_ties, tie_removed
from tests.studies.anywhere import plan_of, quiet, seeds, some_faults

IEC = ("shipped cider", "shipped cooperage", "shipped flat", "shipped iec-house")


@pytest.mark.parametrize("seed", seeds(3))
def test_a_longer_way_never_has_more_available(seed: int) -> None:
    """By both ways of asking; and no fault draws more than what is said to be available there."""
    made, network, dice = plan_of(seed), quiet(seed), random.Random(seed)
    every = available_everywhere(network)
    places = [p for p in every if "/" not in p and every[p].current > 0]
    for place in dice.sample(places, min(4, len(places))):
        alone = available_current(network, place, place)
        assert every[place].current == pytest.approx(alone.current, rel=1e-6)
        assert every[place].peak >= math.sqrt(2) * every[place].current
    # What is available at a transformer is told of its secondary.
    faults = [f for f in possible_faults(network) if f.place in places and f.a.startswith("L")]
    faults = [f for f in faults if not f.also]
    for fault in dice.sample(faults, min(6, len(faults))):
        drawn = study_fault(network, fault, settle=False)
        if drawn.resistance == 0:
            assert drawn.current <= every[fault.place].current * (1 + 1e-6) + 1e-6, fault
    name = dice.choice(sorted(made.runs))
    run = made.runs[name]
    longer = replace(made, runs={**made.runs, name: replace(run, length=2 * run.length)})
    there = available_everywhere(build(longer, loads=False))
    for place in places:
        assert there[place].current <= every[place].current * (1 + 1e-3)


@pytest.mark.parametrize("seed", seeds(3))
def test_every_device_is_asked_for_what_is_available_ahead_of_it(seed: int) -> None:
    network = quiet(seed)
    found = {duty.device: duty for duty in duties(network)}
    assert set(found) <= set(network.devices)
    for pair in in_series(network):
        assert pair.upstream != pair.downstream
        up, down = found.get(pair.upstream), found.get(pair.downstream)
        if up is not None and down is not None and not (up.of_motors or down.of_motors):
            assert down.available <= up.available * (1 + 1e-3) or network.state.parallel


@pytest.mark.parametrize("seed", seeds(3))
def test_a_circuit_built_anew_at_the_longest_length_just_clears(seed: int) -> None:
    made, network, dice = plan_of(seed), quiet(seed), random.Random(seed)
    for name in dice.sample(sorted(made.runs), min(2, len(made.runs))):
        found = longest_run(network, name, settle=False)
        if found is None or not 0.05 < found.longest < FARTHEST_M * 0.98:
            continue
        assert found.at_best >= found.longest
        assert found.clears is (found.longest >= found.length)
        for factor, clears in ((0.98, True), (1.02, False)):
            run = replace(made.runs[name], length=found.longest * factor)
            anew = build(replace(made, runs={**made.runs, name: run}), loads=False)
            result = study_fault(anew, found.fault, settle=False)
            assert (result.clearing <= found.within) is clears, (name, factor, found.longest)


@pytest.mark.parametrize("seed", seeds(3))
def test_without_its_main_tie_no_fault_to_metal_draws_more(seed: int) -> None:
    network = quiet(seed)
    for tie in main_ties(network)[:2]:
        fault = farthest_fault(network, tie)
        if fault is None:
            continue
        found = tie_removed(network, tie, fault)
        assert found.without_tie.current <= found.with_tie.current * (1 + 1e-2)
        assert found.without_tie.clearing >= found.with_tie.clearing * (1 - 1e-2)


@pytest.mark.parametrize("seed", seeds(3))
def test_what_is_disconnected_in_time_is_so_by_both_ways(seed: int) -> None:
    """By the loop and its limit, and by the time of the fault as it was followed."""
    network = quiet(seed, IEC)
    found = study_disconnection(network)
    assert found
    for one in found:
        if one.verdict is Verdict.HOLDS:
            assert one.allowed_s is not None
            if one.earth_ohm is None:
                assert one.takes_s <= one.allowed_s * (1 + 1e-9)
                assert one.limit_ohm is not None
                assert one.loop_ohm <= one.limit_ohm * (1 + 1e-9)
        if one.earth_ohm is None and math.isfinite(one.loop_ohm) and one.current_a > 1:
            assert one.current_a * one.loop_ohm == pytest.approx(one.u0_v, rel=0.15)
    # Twice as long everywhere, no loop is lower and nothing holds that didn't.
    made = plan_of(seed, IEC)
    longer = {n: replace(run, length=2 * run.length) for n, run in made.runs.items()}
    worse = study_disconnection(build(replace(made, runs=longer), loads=False))
    for near, far in zip(found, worse, strict=True):
        assert far.loop_ohm >= near.loop_ohm * (1 - 1e-3)
        if near.verdict is not Verdict.HOLDS:
            assert far.verdict is not Verdict.HOLDS


@pytest.mark.parametrize("seed", seeds(3))
def test_a_conductor_that_bears_every_fault_is_borne_out_by_each(seed: int) -> None:
    """Of protective conductors settled by heat, and of the one worst off in each fault."""
    network = quiet(seed, ("made up", *IEC))
    for one in study_withstand(network):
        assert one.because
        assert (one.verdict is Verdict.FALLS_SHORT) is (one.asked is not None) or one.asked is None
    for fault in some_faults(network, 4, random.Random(seed), FaultKind.LINE_TO_METAL):
        result = study_fault(network, fault)
        if result.verdict is Verdict.HOLDS:
            assert result.cleared
            assert result.heat is None or result.heat.verdict is Verdict.HOLDS
            assert not result.missing


@pytest.mark.parametrize("seed", seeds(2))
def test_array_faults_balance_and_never_give_more_than_the_sun(seed: int) -> None:
    """Arrays of any length and insulation, grounded or not."""
    made, dice = plan_of(seed, ("shipped sun",)), random.Random(seed)
    for known in made.arrays.values():
        array = replace(
            known,
            length=known.length * dice.uniform(0.1, 5),
            insulation=10 ** dice.uniform(4, 7),
            lines=dice.choice([known.lines, replace(known.lines, sets=2)]),
        )
        for fault in possible_array_faults(array):
            found = study_array_fault(array, fault, made.temperature)
            assert found.residuals.kirchhoff < 1e-6
            volts = abs(found.state.solution.voltage(found.network.node(fault.at, "+")))
            volts += abs(found.state.solution.voltage(found.network.node(fault.at, "-")))
            assert found.residuals.power < 1e-6 or volts < 1e-3, fault
            # Beside the short-circuit current only insulation leaks.
            leaks = 2 * array.open_circuit / array.insulation
            assert found.current <= array.short_circuit + leaks + 1e-6
            assert not found.stopped or found.after <= found.current + leaks
            if found.verdict is Verdict.HOLDS:
                assert found.stopped or found.fault.kind is ArrayFaultKind.BETWEEN
                assert max(found.frame, found.frame_after) <= found.limit_v
