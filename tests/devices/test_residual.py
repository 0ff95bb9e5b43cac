"""Residual elements against the published times."""

import math
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.devices.band import TimeBand
from bondwright.devices.residual import residual_band
from tests.outside import outside, published

REFERENCE: Any = yaml.safe_load(
    (Path(__file__).parents[1] / "reference" / "protective_devices.yaml").read_text("utf-8")
)


def of(text: str) -> TimeBand:
    found = residual_band(DeviceRating.parse(text))
    assert found is not None
    return found


@pytest.mark.parametrize("row", REFERENCE["ul_943_gfci"]["rows"], ids=str)
@outside("UL 943, class A", "confirmed", unit="s")
def test_gfci(row: list[float]) -> None:
    # UL 943 Class A (confirmed)
    gfci = of("20 A GFCI breaker")
    assert gfci.slowest(row[0] / 1e3) == published(row[1], rel=2e-3)


@outside("UL 943, class A", "confirmed", unit="s")
def test_gfci_ends() -> None:
    # UL 943 Class A: does not trip below 4 mA, trips from 6 mA (confirmed)
    gfci = of("20 A GFCI breaker")
    assert gfci.fastest(0.0039) == math.inf
    assert not gfci.operates_for_sure(0.0059)
    assert gfci.operates_for_sure(0.006)
    assert gfci.slowest(10.0) == published(0.025, rel=2e-3)


@pytest.mark.parametrize("rated_ma", [100, 300, 500])
@pytest.mark.parametrize("row", REFERENCE["iec_61008_general"]["rows"], ids=str)
@outside("IEC 61008-1, table 1", unit="s")
def test_rcd_general(row: list[float], rated_ma: float) -> None:
    # IEC 61008-1 table 1 (0.3 s and 0.04 s confirmed, 0.15 s one-source)
    rcd = of(f"63 A RCD {rated_ma} mA type A")
    rated = rated_ma / 1e3
    assert rcd.slowest(row[0] * rated) == published(
        row[1], status="one-source" if row[0] == 2 else "confirmed"
    )
    assert not rcd.operates_for_sure(0.99 * rated)
    assert rcd.fastest(0.49 * rated) == math.inf  # holds up to half its rating
    assert rcd.slowest(500.0) == published(0.04, status="confirmed")


@outside("IEC 61008-1, table 1", "one-source", unit="s")
def test_rcd_of_30_ma() -> None:
    # IEC 61008-1: up to 30 mA, 0.25 A may stand for 5 times the rated residual current
    rcd = of("B16, RCD 30 mA")
    assert (rcd.slowest(0.03), rcd.slowest(0.06)) == published((0.3, 0.15))
    assert (rcd.slowest(0.15), rcd.slowest(0.25)) == published((0.15, 0.04))


@pytest.mark.parametrize("row", REFERENCE["iec_61008_selective"]["rows"], ids=str)
@outside("IEC 61008-1, table 1, type S", unit="s")
def test_rcd_selective(row: list[float]) -> None:
    # IEC 61008-1 table 1, type S (at 1 and 5 times confirmed, at 2 times from memory)
    rcd = of("63 A RCD 300 mA type A S")
    times, longest, least = row
    assert rcd.slowest(times * 0.3) == published(
        longest, status="memory" if times == 2 else "confirmed"
    )
    assert rcd.fastest(times * 0.3) == published(
        least, status="memory" if times == 2 else "confirmed"
    )


def test_selective_waits_for_general() -> None:
    # the pair that the standard means to be selective: S of three times the residual current
    ahead, near = of("63 A RCD 100 mA S"), of("40 A RCD 30 mA")
    for residual in (0.1, 0.2, 0.25, 0.5, 1.0, 10.0, 500.0):
        if residual >= 0.25:
            assert near.slowest(residual) <= ahead.fastest(residual)


@outside("NEC 230.95, time at 3000 A", "confirmed", unit="s")
def test_ground_fault_element() -> None:
    # pickup -10/+10 %, flat delay (common practice)
    found = of("1200 A electronic breaker, short 4 kA, ground fault 1.2 kA 0.3 s")
    assert found.fastest(1079) == math.inf
    assert found.slowest(1319) == math.inf
    assert found.slowest(1321) == pytest.approx(0.3 * 1.2 + 0.06)
    assert found.fastest(1321) == pytest.approx(0.3 * 0.8)
    # NEC 230.95: at most 1 s at 3000 A; a delay of 0.3 s keeps it
    assert found.slowest(3000) <= published(1.0)
    # ground-fault protection of equipment at 30 mA, no delay
    assert of("30 A breaker, GFPE 30 mA").slowest(0.034) < 0.1


def test_two_elements_and_none() -> None:
    both = of("400 A breaker, RCD 1 A, ground fault 5 A 0.01 s")
    assert both.slowest(1.0) == 0.3
    assert both.slowest(6.0) == 0.04
    for text in ("60 A breaker", "20 A AFCI breaker", "C32", "100 A fuse"):
        assert residual_band(DeviceRating.parse(text)) is None


@settings(deadline=None)
@given(
    st.floats(0.001, 30),
    st.sampled_from([None, "AC", "A", "S", "A S", "F", "B S"]),
    st.floats(0.1, 1e3),
    st.floats(1, 10),
)
def test_any_rcd(rated: float, kind: str | None, times: float, more: float) -> None:
    found = residual_band(DeviceRating(DeviceKind.RCD, 63, residual_a=rated, residual_type=kind))
    assert found is not None
    current = times * rated
    assert found.fastest(current) <= found.slowest(current)
    assert found.slowest(current * more) <= found.slowest(current)
    assert found.operates_for_sure(current) == (current >= rated)
