"""Disconnection times, loop limits and verdicts on loops, against tables and worked examples."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sources import CatalogError, Status
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.electrode_loops import electrode_stability, judge_tt
from bondwright.rules.iec.isolated import it_second_limit, judge_it_first, judge_it_second
from bondwright.rules.iec.loops import Loop, judge_loop
from bondwright.rules.iec.ruleset import RULE_SETS
from bondwright.rules.iec.sizing import Insulation
from bondwright.rules.iec.times import disconnection_time, loop_at_end, loop_limit
from bondwright.rules.inputs import CannotTellError
from tests.outside import outside, published, sureness
from tests.rules.iec.reference import EXAMPLES, FACTS, rows

IEC, BS = "iec-60364-2017", "bs-7671-2018"
TN, TT = Earthing.TN_S, Earthing.TT


def device(text: str) -> DeviceRating:
    return DeviceRating.parse(text)


def _sureness(earthing: Earthing, seconds: float) -> str:
    if earthing is TT:
        return "memory" if seconds == 1 else "one-source"
    return "confirmed"


# --- iec-disconnection-time -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("earthing", "rating", "final", "sockets", "expected"),
    [
        # IEC 60364-4-41 411.3.2: TN 0.4 s and 5 s confirmed, TT one-source, 1 s memory.
        (TN, 32, True, True, 0.4),
        (TN, 63, True, True, 0.4),
        (TN, 80, True, True, 5),
        (TN, 32, True, False, 0.4),
        (TN, 40, True, False, 5),
        (TN, 16, False, True, 5),
        (TT, 32, True, True, 0.2),
        (TT, 80, True, True, 1),
        (TT, 16, False, True, 1),
        (Earthing.TN_C_S, 32, True, True, 0.4),
        (Earthing.MEN, 32, True, True, 0.4),
        (Earthing.IT, 32, True, True, 0.4),
    ],
)
@outside("IEC 60364-4-41, 411.3.2", unit="s")
def test_disconnection_time(
    earthing: Earthing, rating: float, final: bool, sockets: bool, expected: float
) -> None:
    found = disconnection_time(230, earthing, rating, final=final, sockets=sockets)
    assert found.time_s == published(expected, status=_sureness(earthing, expected))
    assert found.clause == "IEC 60364-4-41 411.3.2"


@outside("worked example, IEC 60364-4-41 table 41.1", "confirmed", unit="s")
def test_disconnection_time_worked_example() -> None:
    # Worked example iec-411-01: TN, 277 V -> 0.2 s (older tables: 0.4 s).
    example = EXAMPLES["iec-411-01"]
    found = disconnection_time(example["inputs"]["U0"], TN, 16)
    assert found.time_s == published(example["expected"]["t_s"])
    assert found.status is Status.CONFIRMED


def test_disconnection_time_status_and_doubts() -> None:
    assert disconnection_time(230, TN, 40).status is Status.ONE_SOURCE  # 63 A limit of 2017
    assert disconnection_time(230, TT, 16).status is Status.ONE_SOURCE
    assert disconnection_time(230, TT, 16, final=False).status is Status.MEMORY
    relaxed = disconnection_time(230, TT, 16, tt_by_overcurrent=True)
    assert relaxed.time_s == 0.4
    assert "as TN" in relaxed.because[0]
    assert "second fault" in disconnection_time(230, Earthing.IT, 16).because[0]
    with pytest.raises(CannotTellError, match="asks for no disconnection time at 50 V") as error:
        disconnection_time(50, TN, 16)
    assert error.value.rule == "iec-disconnection-time"
    with pytest.raises(CannotTellError, match="no disconnection time at 100 V dc"):
        disconnection_time(100, TN, 16, current="dc")
    with pytest.raises(CannotTellError, match="no row"):
        disconnection_time(230, TN, 16, current="pulsed")
    with pytest.raises(ValueError, match="rating of 0"):
        disconnection_time(230, TN, 0)


# --- iec-loop -------------------------------------------------------------------------------


@pytest.mark.parametrize("row", rows("bs7671_max_zs_breakers.csv"), ids=lambda r: r["in_a"])
@outside("BS 7671, table 41.3", unit="ohm")
def test_loop_limit_of_breakers(row: dict[str, str]) -> None:
    # BS 7671 table 41.3; the computed limit of IEC 60364 has no Cmin, so it lies 1/0.95 higher.
    for curve in "BCD":
        printed = row[f"{curve.lower()}_0_4s"]
        if not printed:
            continue
        found = loop_limit(device(f"{curve}{row['in_a']}"), 0.4, rules=BS)
        assert (found.ohm, found.basis) == (float(printed), "table")
        assert found.status.value == row["status"]
        computed = loop_limit(device(f"{curve}{row['in_a']}"), 0.4, rules=IEC, cmin=0.95)
        assert computed.basis == "computed"
        assert computed.ohm == published(float(printed), abs=0.0051, status=row["status"])
        plain = loop_limit(device(f"{curve}{row['in_a']}"), 0.4, rules=IEC)
        assert plain.ohm == pytest.approx(computed.ohm / 0.95)


@pytest.mark.parametrize("name", ["bs-zs-01", "bs-zs-03"])
@outside("worked examples of BS 7671", "confirmed", unit="ohm")
def test_loop_limit_worked_examples(name: str) -> None:
    example = EXAMPLES[name]
    text, expected = example["inputs"]["device"], example["expected"]
    found = loop_limit(device(text), 0.4, example["inputs"]["U0"], IEC, cmin=0.95)
    assert found.operating_a == published(expected["Ia_A"], rel=1e-6, unit="A")
    assert found.ohm == published(expected["Zs_ohm"], abs=0.0005)
    assert loop_limit(device(text), 0.4, rules=BS).ohm == published(expected["printed"])


@pytest.mark.parametrize(
    "row", rows("bs7671_max_zs_fuses.csv"), ids=lambda r: f"{r['standard']} {r['in_a']}"
)
@outside("BS 7671, tables 41.2 and 41.4", unit="ohm")
def test_loop_limit_of_fuses(row: dict[str, str]) -> None:
    # BS 7671 tables 41.2 and 41.4.
    name = row["standard"].removesuffix(" gG")
    name = name if name.startswith("BS ") else f"BS {name[2:]}"
    fuse = device(f"{row['in_a']} A {name} fuse")
    for time, column in ((0.4, "zs_0_4s"), (5, "zs_5s")):
        if row[column]:
            found = loop_limit(fuse, time, rules=BS)
            assert (found.ohm, found.basis) == (float(row[column]), "table")
            again = loop_limit(fuse, time, rules=IEC, cmin=0.95)
            assert again.ohm == published(
                float(row[column]), rel=0.002, status=sureness(row["status"], f"{time:g} s")
            )


@outside("IEC 60364-4-41, 411.4.4", "computed", unit="ohm")
def test_loop_limit_off_the_printed_tables_is_computed() -> None:
    # 120 V: 120 x 0.95 / 160 A; another time: from the band.
    assert loop_limit(device("B32"), 0.4, 120, BS).ohm == published(0.7125, rel=1e-6)
    assert loop_limit(device("B32"), 1, rules=BS).basis == "computed"
    assert loop_limit(device("B32"), 0.4, rules=BS, cmin=1.0).ohm == published(230 / 160, rel=1e-6)
    # gG gates, IEC 60269-1 table 3, memory: 32 A opens within 5 s from 150 A on.
    assert loop_limit(device("32 A gG fuse"), 5).ohm == published(
        230 / 150, rel=1e-6, status="memory", source="IEC 60269-1, table 3"
    )
    with pytest.raises(CannotTellError, match="does not open on overcurrent") as error:
        loop_limit(device("40 A RCD 30 mA"), 0.4)
    assert (error.value.rule, error.value.clause) == ("iec-loop", "IEC 60364-4-41 411.4.4")
    with pytest.raises(CannotTellError, match="no curve 'own'"):
        loop_limit(device("100 A breaker, curve own"), 0.4)
    with pytest.raises(ValueError, match=r"factor of 1\.1"):
        loop_limit(device("B32"), 0.4, cmin=1.1)
    with pytest.raises(ValueError, match="time of 0"):
        loop_limit(device("B32"), 0)


@given(
    st.sampled_from(["B", "C", "D"]),
    st.sampled_from([6, 10, 16, 20, 25, 32, 40, 50, 60]),
    st.floats(60, 400),
    st.sampled_from(list(RULE_SETS)),
)
def test_loop_limit_falls_with_rating_and_rises_with_voltage(
    curve: str, amps: int, volts: float, rules: str
) -> None:
    here = loop_limit(device(f"{curve}{amps}"), 0.4, volts, rules).ohm
    assert loop_limit(device(f"{curve}{amps}"), 0.4, volts * 1.1, rules).ohm > here
    assert loop_limit(device(f"{curve}{2 * amps}"), 0.4, volts, rules).ohm < here
    assert loop_limit(device(f"{curve}{amps}"), 5, volts, rules).ohm >= here * 0.99


# --- the loop at the end of a circuit -------------------------------------------------------


@outside("worked examples, guide to BS 7671", "one-source", unit="ohm")
def test_loop_at_end_worked_examples() -> None:
    # bs-r1r2-01 and bs-loop-02 (guide to BS 7671, published and computed).
    example = EXAMPLES["bs-r1r2-01"]
    given_, expected = example["inputs"], example["expected"]
    cold = loop_at_end(0, given_["line"], given_["cpc"], given_["length_m"], None)
    assert cold == published(expected["R1R2_ohm"], rel=0.01)
    example = EXAMPLES["bs-loop-02"]
    given_, expected = example["inputs"], example["expected"]
    loop = loop_at_end(given_["Ze"], given_["line"], given_["cpc"], given_["length_m"])
    assert loop == published(expected["Zs_ohm"], rel=0.005, status="computed")
    judged = judge_loop("x", Loop(loop), device(given_["device"]), TN, BS)
    assert (judged.disconnection is Verdict.HOLDS) is expected["ok"]
    assert judged.limit is not None
    assert judged.limit.ohm == expected["max_Zs"]


def test_loop_at_end_refuses_what_it_cannot() -> None:
    hot = loop_at_end(0, 2.5, 1.5, 10, Insulation.XLPE_90)
    assert hot == pytest.approx(0.01951 * 10 * 1.28)
    with pytest.raises(CatalogError, match="no pair"):
        loop_at_end(0.35, 2.5, 4, 10)
    with pytest.raises(ValueError, match="length of -1"):
        loop_at_end(0.35, 2.5, 1.5, -1)


# --- judge_loop: iec-loop, iec-loop-by-residual-device, iec-loop-high, iec-site-test --------


def test_loop_that_holds() -> None:
    judged = judge_loop("sockets", Loop(0.9), device("B32"), TN, BS)
    assert judged.disconnection is judged.overcurrent is Verdict.HOLDS
    assert judged.residual is None
    assert judged.findings == ()
    assert judged.current_a == pytest.approx(255.6, abs=0.1)
    assert "0.9 ohm is within 1.37 ohm." in judged.because


def test_loop_too_high_without_residual_device() -> None:
    judged = judge_loop("cooker", Loop(1.9), device("B32"), TN, BS)
    assert judged.disconnection is Verdict.FALLS_SHORT
    assert [f.rule for f in judged.findings] == ["iec-loop", "iec-loop-high"]
    assert judged.findings[0].severity is Severity.DANGER
    assert judged.findings[0].clause == "BS 7671 411.4.4"
    assert "electrode doesn't mend it" in judged.findings[0].text


def test_loop_by_residual_device_is_two_messages() -> None:
    for own, ahead in (("B32, RCD 30 mA", None), ("B32", "63 A RCD 30 mA")):
        judged = judge_loop(
            "ring",
            Loop(1.9, ring=True),
            device(own),
            TN,
            BS,
            ahead=device(ahead) if ahead else None,
        )
        assert judged.disconnection is judged.residual is Verdict.HOLDS
        assert judged.overcurrent is Verdict.FALLS_SHORT
        assert [f.rule for f in judged.findings] == [
            "iec-loop-high",
            "iec-loop-by-residual-device",
        ]
        assert "broken ring" in judged.findings[0].text


def test_site_test_at_80_percent() -> None:
    # Guidance to BS 7671, confirmed: measured cold at most 0.8 of the limit; 0.8 x 1.37 = 1.096.
    def verdict(ohm: float, **how: float) -> Verdict:
        loop = Loop(ohm, measured_cold=True, **how)  # type: ignore[arg-type]
        return judge_loop("x", loop, device("B32"), TN, BS).disconnection

    assert verdict(1.09) is Verdict.HOLDS
    assert verdict(1.10) is Verdict.CANNOT_TELL
    assert verdict(1.37) is Verdict.CANNOT_TELL
    assert verdict(1.38) is Verdict.FALLS_SHORT
    assert verdict(1.38, uncertainty=0.05) is Verdict.CANNOT_TELL
    assert verdict(1.09, uncertainty=0.05) is Verdict.CANNOT_TELL
    judged = judge_loop("x", Loop(1.2, measured_cold=True), device("B32"), TN, BS)
    (found,) = judged.findings
    assert (found.rule, found.severity) == ("iec-site-test", Severity.CANNOT_TELL)
    assert found.clause == "BS 7671 643.7.3"


def test_loop_far_above_what_its_conductors_have() -> None:
    # A loop within the limit of a small device may still be a poor joint (common practice).
    loop = Loop(1.5, expected_ohm=0.6)
    judged = judge_loop("lights", loop, device("B6"), TN, BS)
    assert judged.disconnection is Verdict.HOLDS
    (found,) = judged.findings
    assert (found.rule, found.severity) == ("iec-loop-high", Severity.FALLS_SHORT)
    assert "let expect 0.6 ohm" in found.text
    assert found.clause == ""
    assert judge_loop("x", Loop(0.8, expected_ohm=0.6), device("B6"), TN, BS).findings == ()


def test_tn_c_makes_a_residual_device_blind() -> None:
    judged = judge_loop("x", Loop(1.9), device("B32, RCD 30 mA"), Earthing.TN_C)
    assert judged.disconnection is Verdict.FALLS_SHORT
    assert [f.rule for f in judged.findings] == [
        "iec-loop",
        "iec-pen-residual-device",
        "iec-loop-high",
    ]
    held = judge_loop("x", Loop(0.5), device("B32, RCD 30 mA"), Earthing.TN_C)
    assert held.disconnection is Verdict.HOLDS
    assert [f.rule for f in held.findings] == ["iec-pen-residual-device"]


def test_devices_without_a_band_are_left_open() -> None:
    judged = judge_loop("x", Loop(0.2), device("100 A breaker, curve own"), TN)
    assert judged.disconnection is judged.overcurrent is Verdict.CANNOT_TELL
    assert judged.limit is None
    with pytest.raises(ValueError, match="judge_tt"):
        judge_loop("x", Loop(0.2), device("B32"), TT)
    with pytest.raises(ValueError, match="judge_it"):
        judge_loop("x", Loop(0.2), device("B32"), Earthing.IT)


@pytest.mark.parametrize(
    ("values", "match"),
    [
        ({"ohm": 0}, "loop of 0"),
        ({"ohm": 1, "uncertainty": 1}, "5 %"),
        ({"ohm": 1, "expected_ohm": -1}, "expected loop"),
    ],
)
def test_impossible_loops_are_refused(values: dict[str, float], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        Loop(**values)  # type: ignore[arg-type]


@given(st.floats(0.05, 20), st.floats(1, 3), st.sampled_from(["B16", "C32", "B32, RCD 30 mA"]))
def test_a_higher_loop_is_never_better(ohm: float, more: float, text: str) -> None:
    order = [Verdict.HOLDS, Verdict.CANNOT_TELL, Verdict.FALLS_SHORT]
    low = judge_loop("x", Loop(ohm), device(text), TN, BS).overcurrent
    high = judge_loop("x", Loop(ohm * more), device(text), TN, BS).overcurrent
    assert low is not None
    assert high is not None
    assert order.index(low) <= order.index(high)


# --- iec-tt-residual-device, iec-electrode-unstable -----------------------------------------


@pytest.mark.parametrize(("rated_a", "most_ohm"), FACTS["tt_rcd_condition"]["max_RA_ohm"].items())
def test_tt_electrode_limits(rated_a: float, most_ohm: float) -> None:
    # RA x IdeltaN <= 50 V (411.5.3), from memory; the last ohm is rounding.
    rcd = device(f"40 A RCD {1000 * rated_a:g} mA")
    held = judge_tt("x", most_ohm - 1, rcd, BS)
    assert held.residual is Verdict.HOLDS
    short = judge_tt("x", most_ohm + 1, rcd, BS)
    assert short.disconnection is Verdict.FALLS_SHORT
    assert short.findings[0].rule == "iec-tt-residual-device"
    assert short.findings[0].severity is Severity.DANGER
    # In special locations 25 V: half of it.
    assert judge_tt("x", most_ohm / 2 - 1, rcd, BS, special=True).residual is Verdict.HOLDS
    assert judge_tt("x", most_ohm / 2 + 1, rcd, BS, special=True).residual is Verdict.FALLS_SHORT


def test_tt_stability_above_200_ohm() -> None:
    # BS 7671 table 41.5, memory.
    assert electrode_stability("rod", 200, BS) == ()
    (found,) = electrode_stability("rod", 201, BS)
    assert (found.rule, found.severity) == ("iec-electrode-unstable", Severity.NOTE)
    assert "dry or frozen" in found.text


def test_tt_without_residual_device_is_a_danger() -> None:
    judged = judge_tt("x", 20, device("B16"), BS)
    assert judged.disconnection is judged.overcurrent is Verdict.FALLS_SHORT
    assert judged.findings[0].severity is Severity.DANGER
    assert "no path to clear a fault by" in judged.findings[0].text
    assert judge_tt("x", 20, device("100 A breaker, curve own")).overcurrent is Verdict.CANNOT_TELL
    # A very low electrode could open a small fuse: 0.2 s for a B6 needs 30 A.
    assert judge_tt("x", 5, device("B6")).disconnection is Verdict.HOLDS


def test_tt_selective_device_may_be_too_slow() -> None:
    # Type S opens within 0.5 s at its rating (confirmed); 0.2 s are allowed, 1 s in distribution.
    rcd = device("40 A RCD 100 mA S")
    slow = judge_tt("x", 400, rcd, source_ohm=1700)  # 110 mA
    assert slow.disconnection is Verdict.FALLS_SHORT
    assert "not quick enough" in slow.findings[0].title
    assert judge_tt("x", 400, rcd, source_ohm=1700, final=False).disconnection is Verdict.HOLDS
    with pytest.raises(ValueError, match="electrode of -1"):
        judge_tt("x", -1, rcd)


@given(st.floats(1, 3000), st.floats(1, 3))
def test_a_higher_electrode_is_never_better(ohm: float, more: float) -> None:
    rcd = device("40 A RCD 30 mA")
    if judge_tt("x", ohm * more, rcd).disconnection is Verdict.HOLDS:
        assert judge_tt("x", ohm, rcd).disconnection is Verdict.HOLDS


# --- iec-it-first-fault, iec-it-monitor, iec-it-second-fault --------------------------------


def test_it_first_fault() -> None:
    # RA x Id <= 50 V (411.6.2), from memory: 50 ohm x 1 A.
    assert judge_it_first("ward", 50, 1, monitored=True) == (Verdict.HOLDS, ())
    verdict, found = judge_it_first("ward", 51, 1, monitored=True)
    assert verdict is Verdict.FALLS_SHORT
    assert [f.rule for f in found] == ["iec-it-first-fault"]
    assert judge_it_first("x", 119, 1, monitored=True, current="dc")[0] is Verdict.HOLDS
    assert judge_it_first("x", 121, 1, monitored=True, current="dc")[0] is Verdict.FALLS_SHORT
    with pytest.raises(CatalogError, match="no number"):
        judge_it_first("x", 1, 1, current="hf")
    with pytest.raises(ValueError, match="not possible"):
        judge_it_first("x", math.inf, 1)


def test_it_needs_monitoring() -> None:
    _, asked = judge_it_first("ward", 10, 0.1)
    assert [(f.rule, f.severity) for f in asked] == [("iec-it-monitor", Severity.CANNOT_TELL)]
    _, lacking = judge_it_first("ward", 10, 0.1, monitored=False)
    assert [f.severity for f in lacking] == [Severity.FALLS_SHORT]


@outside("IEC 60364-4-41, 411.6.4", "memory", unit="ohm")
def test_it_second_fault() -> None:
    # 411.6.4, memory. C16 opens from 160 A: 230 / 320 = 0.719 with neutral, x sqrt 3 without.
    c16 = device("C16")
    assert it_second_limit(c16, 0.4, 230, neutral=True) == published(230 / 320, rel=1e-6)
    assert it_second_limit(c16, 0.4, 230, neutral=False) == published(398.4 / 320, rel=1e-3)
    assert it_second_limit(c16, 0.4, 230, neutral=True, rules=BS) == published(
        0.95 * 230 / 320, rel=0.01
    )
    assert judge_it_second("x", Loop(0.7), c16) == (Verdict.HOLDS, ())
    verdict, found = judge_it_second("x", Loop(0.75), c16)
    assert verdict is Verdict.FALLS_SHORT
    assert [(f.rule, f.severity) for f in found] == [("iec-it-second-fault", Severity.DANGER)]
    assert judge_it_second("x", Loop(0.75), c16, neutral=False)[0] is Verdict.HOLDS
    near = judge_it_second("x", Loop(0.72, uncertainty=0.05), c16)
    assert near == (Verdict.CANNOT_TELL, ())
