"""Interrupting ratings against what is available, and devices in a row."""

from __future__ import annotations

import math

import pytest

from bondwright.studies.available import available_current
from bondwright.studies.by_state import study_states
from bondwright.studies.faults import FaultKind, possible_faults, study_faults
from bondwright.studies.protection import duties, in_series
from tests.outside import outside, published
from tests.plan.sites import described, planned
from tests.studies.sites import BENCH, BENCH_SOURCE_OHM, DERIVED, OHM_PER_FT, WYE_SERVICE, network


@outside("NEC chapter 9, table 8, and Ohm's law by hand", "computed", unit="A")
def test_available_current_by_hand() -> None:
    """120 V / (source + there and back), NEC Chapter 9 Table 8."""
    site = network(BENCH)
    there = available_current(site, "main/in", "main")
    by_hand = 120 / (BENCH_SOURCE_OHM + 2 * OHM_PER_FT["6 AWG Cu"])
    assert there.current == published(by_hand, rel=2e-3)
    assert there.between.startswith("L1 and ")


def test_three_lines_have_most_on_a_wye() -> None:
    there = available_current(network(WYE_SERVICE), "main/in", "main")
    assert there.between == "three lines"
    assert 10_000 < there.current < 14_000


def test_interrupting_ratings() -> None:
    """NEC 110.9: the rating at least what is available."""
    base = described(
        WYE_SERVICE,
        places__main__main="200 A breaker, interrupts 22 kA",
        places__panel__main="100 A breaker, interrupts 1 kA",
    )
    found = {duty.device: duty for duty in duties(network(base))}
    assert found["main main"].judgement.verdict == "holds"
    assert found["main panel"].judgement.verdict == "falls short"
    assert found["device branch"].judgement.verdict == "cannot tell"
    assert found["main main"].available > found["main panel"].available > 1000
    # A feeder's device and a main on one bus see the same.
    assert found["device branch"].available == pytest.approx(
        found["main panel"].available, rel=1e-3
    )


def test_pairs_follow_the_supply_and_end_at_a_transformer() -> None:
    pairs = {(s.upstream, s.downstream) for s in in_series(network(DERIVED))}
    assert pairs == {("main main", "device primary"), ("main LP", "device branch")}
    pairs = {(s.upstream, s.downstream) for s in in_series(network(WYE_SERVICE))}
    assert pairs == {
        ("main main", "device feeder"),
        ("device feeder", "main panel"),
        ("main panel", "device branch"),
    }


def test_two_alike_are_not_selective_and_a_fuse_far_smaller_is() -> None:
    """A device is never selective with its like (common practice)."""
    found = {(s.upstream, s.downstream): s for s in in_series(network(WYE_SERVICE))}
    same = found["device feeder", "main panel"].judgement
    assert same is not None
    assert not same.total
    base = described(
        WYE_SERVICE,
        places__panel__main="400 A class RK5 fuse",
        runs__branch__device="20 A class J fuse",
    )
    found = {(s.upstream, s.downstream): s for s in in_series(network(base))}
    apart = found["main panel", "device branch"].judgement
    assert apart is not None
    assert apart.limit_a > 5 * same.limit_a


GENSET = described(
    WYE_SERVICE,
    generators={"genset": {"system": "208Y/120 V", "rating": "60 kVA", "subtransient": "15 %"}},
    transfers={"switch": {"normal": "feeder", "standby": "from genset", "neutral": "solid"}},
    runs__feeder__to="switch",
    runs__from_genset={
        "from": "genset",
        "to": "switch",
        "length": "20 ft",
        "lines": "3 AWG Cu",
        "device": "100 A",
    },
    runs__onward={"from": "switch", "to": "panel", "length": "10 ft", "lines": "3 AWG Cu"},
)


def test_every_state_is_studied() -> None:
    """A generator of 60 kVA and 15 % gives 60 kVA / (3 x 120 V x 0.15) = 1.1 kA at most; the
    utility several times as much."""
    answers = study_states(
        planned(GENSET),
        lambda site: {
            str(r.fault): r.current
            for r in study_faults(site, possible_faults(site, [FaultKind.LINE_TO_LINE]))
        },
    )
    assert list(answers) == ["normal", "on genset"]
    normal, standby = (answers[name]["L1 to L2 at panel"] for name in answers)
    most = 60_000 / (3 * 120 * 0.15) * math.sqrt(3) / 2
    assert 0.8 * most < standby < most
    assert normal > 2 * standby
    # What the open side of the transfer switch leaves dead has no faults.
    assert not [name for name in answers["on genset"] if name.endswith("at main")]
