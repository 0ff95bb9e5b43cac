"""Faults of arrays: what is seen, what stops, what stays live.

Ohm's law by hand is in ``tests/network/test_pv.py``; here the numbers that follow from it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from bondwright.catalog.pv import pv_data
from bondwright.plan.model import PlannedArray
from bondwright.rules.answer import Verdict
from bondwright.site.model import Pole
from bondwright.studies.pv import (
    ArrayFault,
    ArrayFaultKind,
    ArrayFaultResult,
    Seen,
    Spot,
    possible_array_faults,
    study_array_fault,
)
from tests.network.arrays import by_inverter, planned_array, solid, ungrounded
from tests.outside import outside, published

POSITIVE, NEGATIVE = ArrayFaultKind.POSITIVE, ArrayFaultKind.NEGATIVE
BETWEEN, SECOND = ArrayFaultKind.BETWEEN, ArrayFaultKind.SECOND


def study(array: PlannedArray, kind: ArrayFaultKind, at: Spot = "array") -> ArrayFaultResult:
    (fault,) = (f for f in possible_array_faults(array) if f.kind is kind and f.at == at)
    return study_array_fault(array, fault, 75.0)


def test_every_conductor_and_both_at_each_end_and_a_second_fault() -> None:
    faults = possible_array_faults(planned_array())
    assert len(faults) == len(set(faults)) == 7
    assert faults[-1] == ArrayFault("roof", SECOND, "inverter", Pole.NEGATIVE)
    assert possible_array_faults(planned_array(pole=Pole.POSITIVE))[-1].first is Pole.POSITIVE


def test_a_fault_of_another_array_is_refused() -> None:
    fault = possible_array_faults(planned_array())[0]
    with pytest.raises(ValueError, match="the fault is of 'roof', the array is 'barn'"):
        study_array_fault(planned_array(id="barn"), fault, 75.0)


def test_the_fuse_finds_a_fault_on_the_other_conductor() -> None:
    found = study(planned_array(), POSITIVE)
    assert (found.seen, found.stopped, found.verdict) == (Seen.YES, True, Verdict.HOLDS)
    # 120 s at twice the rating, constant current squared times time above it (from memory).
    assert found.stop_s == pytest.approx(120 * (2 / found.by_join) ** 2)
    # Its blowing grounds nothing any more: both conductors can be at the whole voltage.
    assert found.live_after == pytest.approx(420, rel=1e-3)


def test_the_blind_spot_of_the_fuse() -> None:
    """20 A in 0.0992 ohm of conductor drive at most 2 V round the fault: the rest is Ohm's law."""
    far = study(planned_array(), NEGATIVE)
    line, fuse = 0.0992, 0.2
    least = 20 * line / 1.35 - 2 * line - fuse
    assert far.sees_up_to == pytest.approx(least, rel=0.01)
    near = study(planned_array(), NEGATIVE, "inverter")
    assert near.by_join < 1e-3
    assert (near.seen, near.sees_up_to, near.verdict) == (Seen.NO, None, Verdict.FALLS_SHORT)


def test_a_short_circuit_hides_even_a_bolted_fault() -> None:
    short = study(planned_array(length=10 * 0.3048), NEGATIVE)
    # 20 A x 0.0124 ohm over 0.0124 + 0.0124 + 0.2 ohm: 1.10 A, between 1 A and 1.35 A.
    assert short.by_join == pytest.approx(1.10, rel=0.01)
    assert short.seen is Seen.PERHAPS
    assert math.isinf(short.stop_s)


def test_the_blown_fuse_does_not_stop_the_second_fault() -> None:
    second = study(planned_array(), SECOND, "inverter")
    assert second.seen is Seen.YES
    assert not second.stopped
    assert second.after == pytest.approx(22, rel=1e-3)
    assert second.verdict is Verdict.FALLS_SHORT


def test_the_monitor_of_an_inverter_sees_both_conductors() -> None:
    for kind in (POSITIVE, NEGATIVE):
        for at in ("array", "inverter"):
            found = study(by_inverter(), kind, at)
            assert (found.seen, found.verdict) == (Seen.YES, Verdict.HOLDS)
            assert found.stop_s == pv_data().monitor_s
            assert found.sees_up_to is not None
            assert found.sees_up_to > 500  # 300 mA from some 350 V


def test_nothing_stops_a_fault_of_a_solidly_grounded_array() -> None:
    found = study(solid(), POSITIVE)
    assert (found.seen, found.stopped, found.verdict) == (
        Seen.NOBODY, False, Verdict.FALLS_SHORT,
    )  # fmt: skip
    assert found.after == pytest.approx(22, rel=0.01)


def test_a_first_fault_of_an_ungrounded_array_draws_nothing() -> None:
    found = study(ungrounded(), POSITIVE)
    assert found.stopped
    assert found.verdict is Verdict.CANNOT_TELL
    watched = study(ungrounded(insulation_alarm=1e5), POSITIVE)
    assert (watched.seen, watched.verdict) == (Seen.YES, Verdict.HOLDS)
    assert watched.live_after == pytest.approx(350, rel=1e-3)
    second = study(ungrounded(), SECOND, "inverter")
    assert second.by_ground == pytest.approx(22, rel=0.01)
    assert not second.stopped


@pytest.mark.parametrize("make", [planned_array, solid, by_inverter, ungrounded])
def test_between_the_conductors_no_metal_takes_part(make: object) -> None:
    array = make(egc=planned_array().egc)  # type: ignore[operator]
    found = study(array, BETWEEN)
    assert found.current == pytest.approx(22, rel=1e-6)
    assert found.by_ground < 1e-3
    assert found.frame < 1
    assert found.verdict is Verdict.CANNOT_TELL


@pytest.mark.parametrize("make", [planned_array, solid, by_inverter])
def test_frames_without_a_ground_wire_are_live(make: object) -> None:
    """A person of 1000 ohm in series with the array: hardly less than its voltage at work."""
    array = make(egc=None)  # type: ignore[operator]
    found = study(array, POSITIVE)
    assert found.frame == pytest.approx(348, rel=0.01)
    assert found.verdict is Verdict.FALLS_SHORT
    bonded = study(replace(array, egc=planned_array().egc), POSITIVE)
    assert bonded.frame < 5


def test_the_ground_wire_drops_little() -> None:
    """22 A in 0.0992 ohm."""
    assert study(planned_array(), POSITIVE).frame == pytest.approx(22 * 0.0992, rel=0.03)


def test_a_fuse_on_the_positive_conductor_mirrors_it() -> None:
    one, other = (
        study(planned_array(), POSITIVE),
        study(planned_array(pole=Pole.POSITIVE), NEGATIVE),
    )
    assert one.current == pytest.approx(other.current)
    assert one.verdict is other.verdict


@pytest.mark.parametrize(
    ("power", "amps"), [(5e3, 1), (25e3, 1), (26e3, 2), (60e3, 3), (200e3, 4), (1e6, 5)]
)
@outside("UL 1741, ground-fault fuses of arrays", "memory", unit="A")
def test_largest_ground_fuse(power: float, amps: float) -> None:
    """UL 1741, from memory; a trade journal has 1 A for house inverters, 2 A to 5 A above."""
    assert pv_data().ground_fuse(power) == published(amps)


@pytest.mark.parametrize(("power", "amps"), [(5e3, 0.3), (30e3, 0.3), (36e3, 0.36), (100e3, 1.0)])
@outside("IEC 62109-2, residual monitors", "memory", unit="A")
def test_monitor_of_an_inverter(power: float, amps: float) -> None:
    """IEC 62109-2, from memory: 300 mA up to 30 kVA, 10 mA for each kVA above."""
    assert pv_data().monitor(power) == published(amps, rel=1e-6)


@pytest.mark.parametrize(
    ("current", "time"), [(1.0, math.inf), (1.34, math.inf), (1.35, 3600), (2, 120), (20, 1.2)]
)
@outside("UL 248-14", "memory", unit="s")
def test_ground_fuse_opens(current: float, time: float) -> None:
    """UL 248-14, from memory: an hour at 135 %, two minutes at 200 %."""
    assert pv_data().fuse_time(1.0, current) == published(time, rel=1e-6)
