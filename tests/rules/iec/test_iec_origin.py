"""Readings at the origin, a broken PEN, and outbuildings. Common practice where not named."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceRating
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.loops import Loop
from bondwright.rules.iec.origin import (
    OriginReadings,
    judge_origin,
    open_pen_finding,
    open_pen_voltage,
)
from bondwright.rules.iec.outbuildings import outbuilding_options

RULES = "bs-7671-2018"


def device(text: str) -> DeviceRating:
    return DeviceRating.parse(text)


@pytest.mark.parametrize(
    ("earthing", "ohm", "verdict", "rule"),
    [
        # Distributors in Great Britain declare 0.35 and 0.8 ohm (common practice).
        (Earthing.TN_C_S, 0.35, Verdict.HOLDS, None),
        (Earthing.TN_C_S, 0.5, Verdict.CANNOT_TELL, "iec-supply-earth-high"),
        (Earthing.TN_C_S, 3.5, Verdict.FALLS_SHORT, "iec-supply-earth-open"),
        (Earthing.TN_S, 0.8, Verdict.HOLDS, None),
        (Earthing.TN_S, 1.2, Verdict.CANNOT_TELL, "iec-supply-earth-high"),
        (Earthing.TN_S, 8, Verdict.FALLS_SHORT, "iec-supply-earth-open"),
        (Earthing.MEN, 0.8, Verdict.HOLDS, None),
        (Earthing.TN_C_S, math.inf, Verdict.FALLS_SHORT, "iec-supply-earth-open"),
    ],
)
def test_supply_earth(earthing: Earthing, ohm: float, verdict: Verdict, rule: str | None) -> None:
    found = judge_origin("origin", earthing, OriginReadings(ohm), RULES)
    assert found.earth_joined is verdict
    assert [f.rule for f in found.findings] == ([rule] if rule else [])
    assert found.common is None
    if rule == "iec-supply-earth-open":
        assert found.findings[0].severity is Severity.DANGER
        assert "Don't open the cut-out" in found.findings[0].cure


def test_where_the_cause_lies() -> None:
    far = OriginReadings(14, {"kitchen": 14.1, "hall": 14.4})
    assert judge_origin("x", Earthing.TN_S, far, RULES).common is True
    near = OriginReadings(14, {"kitchen": 14.1, "hall": 40})
    assert judge_origin("x", Earthing.TN_S, near, RULES).common is False


def test_pipework_as_the_only_earth() -> None:
    readings = OriginReadings(14, supply_alone_ohm=2000)
    rules = [f.rule for f in judge_origin("x", Earthing.TN_S, readings, RULES).findings]
    assert rules == ["iec-supply-earth-open", "iec-earth-by-pipework"]
    readings = OriginReadings(14, supply_alone_ohm=20)
    rules = [f.rule for f in judge_origin("x", Earthing.TN_S, readings, RULES).findings]
    assert rules == ["iec-supply-earth-open"]


def test_residual_device_meanwhile() -> None:
    readings = OriginReadings(900)
    low = judge_origin("x", Earthing.TN_S, readings, RULES, devices=[device("40 A RCD 30 mA")])
    assert low.opens == ("40 A RCD 30 mA",)
    assert "iec-tt-residual-device" not in {f.rule for f in low.findings}
    high = judge_origin("x", Earthing.TN_S, readings, RULES, devices=[device("40 A RCD 300 mA")])
    assert "iec-tt-residual-device" in {f.rule for f in high.findings}


def test_origin_refuses_what_it_cannot() -> None:
    with pytest.raises(ValueError, match="no metal earth"):
        judge_origin("x", Earthing.TT, OriginReadings(20), RULES)
    with pytest.raises(ValueError, match="above zero"):
        OriginReadings(0)
    with pytest.raises(ValueError, match="above zero"):
        OriginReadings(1, supply_alone_ohm=-1)
    with pytest.raises(ValueError, match="voltage of 0"):
        judge_origin("x", Earthing.TN_S, OriginReadings(1), RULES, u0_v=0)
    unknown = judge_origin(
        "x", Earthing.TN_S, OriginReadings(20), RULES, devices=[device("9 A breaker, curve own")]
    )
    assert unknown.opens == ()


# --- iec-pen-open ---------------------------------------------------------------------------


def test_open_pen_voltage() -> None:
    # A divider: 230 x 50 / (50 + 22) = 159.7 V, by hand.
    assert open_pen_voltage(230, 22, 50) == pytest.approx(159.7, abs=0.1)
    assert open_pen_voltage(230, 22, math.inf) == 230
    assert open_pen_voltage(230, 22, 0) == 0
    with pytest.raises(ValueError, match="not possible"):
        open_pen_voltage(230, 0, 50)


@given(st.floats(1, 1000), st.floats(0.1, 1000), st.floats(1, 3))
def test_a_better_electrode_lowers_the_voltage(load: float, earth: float, more: float) -> None:
    assert 0 <= open_pen_voltage(230, load, earth) <= 230
    assert open_pen_voltage(230, load, earth) <= open_pen_voltage(230, load, earth * more) + 1e-9
    assert open_pen_voltage(230, load * more, earth) <= open_pen_voltage(230, load, earth) + 1e-9


def test_open_pen_finding() -> None:
    found = open_pen_finding("origin", Earthing.TN_C_S, 230, 22, 50, RULES)
    assert found is not None
    assert (found.rule, found.severity, found.clause) == ("iec-pen-open", Severity.DANGER, "")
    mild = open_pen_finding("origin", Earthing.TN_C_S, 230, 200, 5, RULES)
    assert mild is not None
    assert mild.severity is Severity.NOTE
    assert open_pen_finding("origin", Earthing.TN_S, 230, 22, 50, RULES) is None
    assert open_pen_finding("origin", Earthing.TT, 230, 22, 50, RULES) is None


# --- iec-outbuilding ------------------------------------------------------------------------


def test_tn_outbuilding_by_its_feeder_or_as_tt() -> None:
    feeder, own = outbuilding_options(
        "shed",
        Earthing.TN_C_S,
        Loop(0.6),
        device("32 A BS 88-2 fuse"),
        RULES,
        metal_between=False,
        electrode_ohm=90,
        own_device=device("40 A RCD 30 mA"),
    )
    assert feeder.verdict is own.verdict is Verdict.HOLDS
    assert feeder.findings == ()
    assert "TT" in own.title


def test_outbuilding_with_metal_between_cannot_be_tt() -> None:
    feeder, own = outbuilding_options(
        "shed", Earthing.TN_S, Loop(0.6), device("B32"), RULES, metal_between=True
    )
    assert own.verdict is Verdict.FALLS_SHORT
    assert {f.rule for f in feeder.findings} == {"iec-outbuilding"}
    assert feeder.findings[0].severity is Severity.NOTE


def test_outbuilding_with_unknowns_is_left_open() -> None:
    feeder, own = outbuilding_options("shed", Earthing.TN_S, Loop(0.6), device("B32"), RULES)
    assert own.verdict is Verdict.CANNOT_TELL
    assert feeder.findings[0].severity is Severity.CANNOT_TELL
    _, own = outbuilding_options(
        "shed",
        Earthing.TN_S,
        Loop(0.6),
        device("B32"),
        RULES,
        electrode_ohm=90,
        own_device=device("40 A RCD 30 mA"),
    )
    assert own.verdict is Verdict.CANNOT_TELL
    (own,) = outbuilding_options(
        "shed",
        Earthing.TT,
        Loop(90),
        device("B32"),
        RULES,
        metal_between=False,
        electrode_ohm=1700,
        own_device=device("40 A RCD 30 mA"),
    )
    assert own.verdict is Verdict.FALLS_SHORT
    with pytest.raises(ValueError, match="IT system"):
        outbuilding_options("shed", Earthing.IT, Loop(90), device("B32"), RULES)
