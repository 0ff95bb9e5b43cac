"""Selectivity, interrupting rating, and curves by points."""

import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import Edge, TimeBand
from bondwright.devices.bands import band
from bondwright.devices.curves import UserCurve
from bondwright.devices.interrupting import interrupting_verdict
from bondwright.devices.selectivity import selectivity
from tests.outside import outside, published


def of(text: str) -> TimeBand:
    return band(DeviceRating.parse(text))


# --- selectivity -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ahead", "near"), [(25, 16), (32, 20), (63, 40), (100, 63), (160, 100), (400, 250)]
)
def test_gg_fuses_1_6_to_1(ahead: float, near: float) -> None:
    # IEC 60269-1: gG fuses from 16 A on are selective at a ratio of 1.6 : 1 (from memory)
    found = selectivity(of(f"{ahead} A gG fuse"), of(f"{near} A gG fuse"), 50_000)
    assert found.total, found.because
    assert "melt" in found.because
    closer = selectivity(of(f"{near * 1.25} A gG fuse"), of(f"{near} A gG fuse"), 50_000)
    assert not closer.total


@outside("UL 489, tolerance of the setting", "memory", unit="A")
def test_instantaneous_trips_overlap() -> None:
    # 250 A set to 2 kA may trip from 1.6 kA (UL 489, -20 %, from memory); a 20 A breaker is done
    found = selectivity(of("250 A breaker, instantaneous 2 kA"), of("20 A breaker"), 10_000)
    assert not found.total
    assert found.limit_a == published(1600, rel=1e-6)
    assert "25 ms" in found.because
    assert "4 ms" in found.because
    assert selectivity(of("250 A breaker, instantaneous 2 kA"), of("20 A breaker"), 1600).total


def test_short_time_delay_is_there_for_selectivity() -> None:
    main = "1200 A electronic breaker, long 1 12 s, short 5 kA 0.3 s"
    assert selectivity(of(main), of("60 A breaker"), 30_000).total
    with_instantaneous = selectivity(of(f"{main}, instantaneous 10 kA"), of("60 A breaker"), 3e4)
    assert with_instantaneous.limit_a == pytest.approx(9000)


def test_same_device_twice() -> None:
    found = selectivity(of("60 A breaker"), of("60 A breaker"), 5000)
    assert not found.total
    assert found.limit_a == pytest.approx(1.05 * 60)
    assert "may not open at all" in found.because


def test_crossing_inside_a_stretch() -> None:
    # near: I2t = 1e4, ahead: flat 4 s from 10 A on; they meet at 50 A, below which near is later
    flat, line = Edge(((20.0, 4.0),)), Edge(((10.0, 100.0), (1000.0, 0.01)))
    assert selectivity(TimeBand(flat, flat), TimeBand(line, line), 500).limit_a == 20.0
    early = Edge(((10.0, 1.0), (1000.0, 0.9)))
    steep = Edge(((10.0, 100.0), (1000.0, 0.01)))
    found = selectivity(TimeBand(steep, steep), TimeBand(early, early), 900)
    at = found.limit_a
    assert 10 < at < 900
    assert steep.at(at) == pytest.approx(early.at(at), rel=1e-6)


texts = st.sampled_from(
    ["20 A", "60 A", "250 A", "B16", "C32", "D20", "32 A gG fuse", "100 A fuse", "60 A RK5 fuse"]
)


@settings(deadline=None)
@given(texts, texts, st.floats(10, 50_000), st.floats(0, 1))
def test_selective_means_in_time(ahead: str, near: str, up_to: float, share: float) -> None:
    upstream, downstream = of(ahead), of(near)
    found = selectivity(upstream, downstream, up_to)
    assert found.limit_a <= up_to
    at = 1.0 * (found.limit_a / 1.0) ** share * (1 - 1e-9)
    by_energy = "melt" in found.because
    if math.isfinite(upstream.fastest(at)) and not by_energy:
        assert downstream.slowest(at) <= upstream.fastest(at) * (1 + 1e-6)


@pytest.mark.parametrize("up_to", [0.0, -1.0, math.inf, math.nan])
def test_impossible_available_current(up_to: float) -> None:
    with pytest.raises(ValueError, match="positive"):
        selectivity(of("60 A"), of("20 A"), up_to)


# --- interrupting rating ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "available", "verdict"),
    [
        ("20 A breaker, interrupts 10 kA", 10_000, "holds"),
        ("20 A breaker, interrupts 10 kA", 10_001, "falls short"),
        ("20 A breaker", 5_000, "cannot tell"),
        ("20 A breaker", 100, "cannot tell"),
        ("100 A class J fuse", 150_000, "holds"),  # 200 kA (one-source)
        ("30 A class G fuse", 150_000, "falls short"),  # 100 kA (one-source)
        ("100 A class J fuse, interrupts 100 kA", 150_000, "falls short"),
        ("100 A fuse", 1_000, "cannot tell"),
        ("B16", 3_000, "cannot tell"),
        ("63 A RCD 30 mA", 3_000, "cannot tell"),
    ],
)
def test_interrupting(text: str, available: float, verdict: str) -> None:
    found = interrupting_verdict(DeviceRating.parse(text), available)
    assert found.verdict == verdict
    assert (found.rating_a is None) == (verdict == "cannot tell")


def test_interrupting_asks() -> None:
    because = interrupting_verdict(DeviceRating.parse("20 A breaker"), 5000).because
    assert "10 kA usual for branch breakers" in because
    assert because.endswith("?")
    with pytest.raises(ValueError, match="magnitude"):
        interrupting_verdict(DeviceRating.parse("20 A breaker"), math.inf)


# --- curves by points ------------------------------------------------------------------------


def test_own_curve_goes_before_the_standard() -> None:
    mine = UserCurve("my relay", ((120, 100), (1000, 0.5)), ((150, 200), (1000, 1.0)))
    rating = DeviceRating.parse("100 A breaker, curve my relay")
    found = band(rating, {"my relay": mine})
    assert found.slowest(1000) == 1.0
    assert found.fastest(119) == math.inf
    with pytest.raises(CatalogError, match="no curve 'my relay' was given; did you mean"):
        band(rating, {"my relays": mine})
    with pytest.raises(CatalogError, match="give its points"):
        band(rating)


@pytest.mark.parametrize(
    ("quick", "slow", "match"),
    [
        ([], [(1, 1)], "'x', quick edge: has no points"),
        ([(1, 1)], [(1, 1), (2, 3)], "'x', slow edge: the edge turns back"),
        ([(1, 1), (0.5, 0.5)], [(2, 1)], "turns back"),
        ([(1, 1)], [(-1, 1)], "not positive"),
        ([(1, 5)], [(2, 1)], "'x': the quick edge is slower"),
        ([(1, 1, 1)], [(2, 1)], "point 1 has 3 numbers"),
    ],
)
def test_bad_curve(quick: Any, slow: Any, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        UserCurve("x", quick, slow)
    with pytest.raises(ValueError, match="needs a name"):
        UserCurve(" ", ((1, 1),), ((1, 1),))


def test_device_without_overcurrent_part() -> None:
    found = of("63 A RCD 30 mA")
    assert found.slowest(1e5) == math.inf
    assert "device ahead" in found.assumptions[0]
    # an AFCI is its breaker, and says what is not relied on
    plain, afci = of("20 A breaker"), of("20 A AFCI breaker")
    assert (plain.quick, plain.slow) == (afci.quick, afci.slow)
    assert any("not relied on" in line for line in afci.assumptions)
    assert DeviceKind.RCD.value == "RCD"
