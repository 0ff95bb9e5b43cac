"""All faults of a site too large to follow each by itself, against each followed by itself."""

from __future__ import annotations

import pytest

from bondwright.explain.faults import openers, returns_by, times
from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site.generator import large_site
from bondwright.studies.fault_brief import follow_all
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.faults import possible_faults, study_fault

SITE = build(plan(large_site(30, 2)), loads=False)
FAULTS = possible_faults(SITE)
BRIEF = follow_all(SITE, FAULTS, many=1, in_full=10, within=1e-7)


def test_what_matters_is_told_in_full() -> None:
    full = [r for r in BRIEF if r.in_full]
    assert 0 < len(full) < len(FAULTS)
    assert all(r.path for r in full if r.current > 1)
    bad = {(r.fault.place, r.fault.kind) for r in BRIEF if r.verdict is Verdict.FALLS_SHORT}
    told = {(r.fault.place, r.fault.kind) for r in full if r.verdict is Verdict.FALLS_SHORT}
    assert len(bad) > 9 or bad == told


@pytest.mark.parametrize("k", range(0, len(FAULTS), 7))
def test_the_figures_are_those_of_a_fault_followed_by_itself(k: int) -> None:
    one, brief = study_fault(SITE, FAULTS[k]), BRIEF[k]
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
        assert returns_by(brief, SITE.plan) == "–"


def test_few_are_followed_each_by_itself() -> None:
    few = follow_all(SITE, FAULTS[:5])
    assert all(r.in_full for r in few)


def test_an_interrupt_stops_it() -> None:
    def stop(done: int, of: int) -> None:
        assert of == len(FAULTS)
        if done:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        follow_all(SITE, FAULTS, stop, many=1)


def test_who_opens_is_told_as_by_itself() -> None:
    told = 0
    for brief in BRIEF:
        if brief.in_full or not brief.openings:
            continue
        one = study_fault(SITE, brief.fault)
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
        for r in BRIEF
        if r.fault.kind is FaultKind.LINE_TO_METAL
        and r.fault.a.startswith("L")
        and not r.supply_side
    ]
    assert max(loops, key=lambda r: r.loop).in_full
