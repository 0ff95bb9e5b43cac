"""All faults of a site too large to follow each by itself, against each followed by itself."""

from __future__ import annotations

import math
from functools import cache

import pytest

from bondwright.explain.faults import openers, returns_by, times
from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site.generator import large_site
from bondwright.studies.fault_brief import follow_all
from bondwright.studies.fault_model import Fault, FaultKind, FaultResult
from bondwright.studies.fault_table import VERDICTS, study_many
from bondwright.studies.faults import possible_faults, study_fault

HOLDS = Verdict.HOLDS
COUNT = 142
"""Faults of the site."""


@cache
def site() -> Network:
    return build(plan(large_site(30, 2)), loads=False)


@cache
def faults() -> tuple[Fault, ...]:
    return tuple(possible_faults(site()))


@cache
def briefly() -> tuple[FaultResult, ...]:
    """Worked out when it is asked for: tests that collect it would reach none of the code."""
    return follow_all(site(), faults(), many=1, in_full=10, within=1e-7)


def test_what_matters_is_told_in_full() -> None:
    full = [r for r in briefly() if r.in_full]
    assert 0 < len(full) < len(faults())
    assert all(r.path for r in full if r.current > 1)
    bad = {(r.fault.place, r.fault.kind) for r in briefly() if r.verdict is Verdict.FALLS_SHORT}
    told = {(r.fault.place, r.fault.kind) for r in full if r.verdict is Verdict.FALLS_SHORT}
    assert len(bad) > 9 or bad == told


@pytest.mark.parametrize("k", range(0, COUNT, 7))
def test_the_figures_are_those_of_a_fault_followed_by_itself(k: int) -> None:
    one, brief = study_fault(site(), faults()[k]), briefly()[k]
    assert brief.fault == one.fault
    assert brief.verdict is one.verdict
    assert brief.current == pytest.approx(one.current, rel=1e-6, abs=1e-3)
    assert brief.loop == pytest.approx(one.loop, rel=1e-6) or one.current < 0.01
    assert brief.clearing == pytest.approx(one.clearing, rel=1e-5)
    assert brief.fastest == pytest.approx(one.fastest, rel=1e-5)
    assert brief.touch_verdict.verdict == one.touch_verdict.verdict
    assert brief.touch_verdict.voltage_v == pytest.approx(
        one.touch_verdict.voltage_v, rel=1e-6, abs=1e-3
    )
    assert (openers(brief), times(brief)) == (openers(one), times(one))
    assert [o.current for o in brief.openings] == pytest.approx(
        [o.current for o in one.openings], rel=1e-6
    )
    if not brief.in_full and brief.current > 1:
        assert returns_by(brief, site().plan) == "–"


def test_few_are_followed_each_by_itself() -> None:
    few = follow_all(site(), faults()[:5])
    assert all(r.in_full for r in few)


def test_an_interrupt_stops_it() -> None:
    def stop(done: int, of: int) -> None:
        assert of == len(faults())
        if done:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        follow_all(site(), faults(), stop, many=1)


def test_who_opens_is_told_as_by_itself() -> None:
    told = 0
    for brief in briefly():
        if brief.in_full or not brief.openings:
            continue
        one = study_fault(site(), brief.fault)
        for mine, its in zip(brief.openings, one.openings, strict=True):
            assert (mine.device, mine.at, mine.rating) == (its.device, its.at, its.rating)
            assert set(its.lines) <= set(mine.lines)
            assert mine.fastest == pytest.approx(its.fastest, rel=1e-5)
            assert mine.slowest == pytest.approx(its.slowest, rel=1e-5)
            told += 1
        if told > 12:
            break
    assert told > 5


def test_the_largest_loop_to_metal_is_told_in_full() -> None:
    loops = [
        r
        for r in briefly()
        if r.fault.kind is FaultKind.LINE_TO_METAL
        and r.fault.a.startswith("L")
        and not r.supply_side
    ]
    assert max(loops, key=lambda r: r.loop).in_full


def test_every_field_of_one_told_briefly() -> None:
    """What a table has is what the fault followed by itself has; what it hasn't says so."""
    assert len(faults()) == COUNT
    told = 0
    for brief in briefly():
        if brief.in_full:
            continue
        one = study_fault(site(), brief.fault)
        assert (brief.path, brief.flows, brief.pair, brief.heat) == ((), (), None, None)
        assert (brief.unknown, brief.missing, brief.first_of_two) == ((), (), False)
        assert (brief.settled, brief.resistance) == (True, brief.fault.impedance)
        assert (brief.ahead, brief.utility) == (one.ahead, one.utility)
        assert (brief.cleared, brief.supply_side) == (one.cleared, one.supply_side)
        assert list(brief.touch) == [brief.worst_place]
        assert brief.touch[brief.worst_place] == brief.touch_verdict.voltage_v
        assert brief.live_after == pytest.approx(one.live_after, rel=1e-5, abs=1e-3)
        if one.current > 1:
            assert one.touch[brief.worst_place] == pytest.approx(
                max(one.touch.values()), rel=1e-6, abs=1e-3
            )
            assert brief.angle == pytest.approx(one.angle, abs=1e-4)
        whole = site().solver.solve().residuals
        assert (brief.residuals.kirchhoff, brief.residuals.power) == (whole.kirchhoff, whole.power)
        told += 1
        if told == 24:
            break
    assert told == 24


def test_the_worst_of_each_kind_at_a_place_and_no_more_than_asked_for() -> None:
    """Twelve in all: the largest loop, then what doesn't hold, the worst first, no kind twice."""
    table = study_many(site(), faults(), within=1e-7)
    order = [k for k in table.worst_first().tolist() if VERDICTS[table.verdict[k]] is not HOLDS]
    loops = [
        abs(table.loop[k]) if each.kind is FaultKind.LINE_TO_METAL and each.a.startswith("L") else 0
        for k, each in enumerate(faults())
    ]
    assert not table.supply_side[loops.index(max(loops))]
    due = [loops.index(max(loops))]
    seen = set()
    for k in order:
        key = (faults()[k].place, faults()[k].kind)
        if key not in seen and len(due) < 12:
            seen.add(key)
            due.append(k)
    found = follow_all(site(), faults(), many=1, in_full=12, within=1e-7)
    several = {
        k
        for k in range(COUNT)
        if table.openings[k] > 1 or (table.openings[k] > 0 and math.isinf(table.clearing[k]))
    }
    assert {k for k, each in enumerate(found) if each.in_full} == {*due, *several}


def test_progress_is_told_up_to_the_end() -> None:
    told: list[tuple[int, int]] = []
    follow_all(site(), faults(), lambda *each: told.append(each), many=1, in_full=3, within=1e-3)
    assert told[-1] == (COUNT, COUNT)
    assert {of for _, of in told} == {COUNT}
    few: list[tuple[int, int]] = []
    follow_all(site(), faults()[:3], lambda *each: few.append(each))
    assert few == [(0, 3), (1, 3), (2, 3), (3, 3)]
    # As many as are too many are followed side by side.
    assert not all(each.in_full for each in follow_all(site(), faults()[:40], many=40, in_full=1))
    assert all(each.in_full for each in follow_all(site(), faults()[:10], many=11, in_full=1))
