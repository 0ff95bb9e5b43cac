"""Single answers of the family, each whole: which rule, where, how severe, with which numbers.

Numbers are worked out by hand beside each; limits are those of the tables tested elsewhere.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import CatalogError, Status
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.bonding import (
    main_bonding,
    pme_main_bonding,
    supplementary_bonding,
    supplementary_resistance,
)
from bondwright.rules.iec.conductors import area_needed, pen_conductor, protective_conductor
from bondwright.rules.iec.earthing import Burial, earthing_conductor, electrode_finding
from bondwright.rules.iec.electrode_loops import electrode_stability, judge_tt
from bondwright.rules.iec.family import (
    Supply,
    bonding_conductor,
    electrode_conductor,
    supply_neutral,
    supply_protective_conductor,
)
from bondwright.rules.iec.family import protective_conductor as of_a_run
from bondwright.rules.iec.heat import Fault, bears, by_heat
from bondwright.rules.iec.installation import line_finding, location_findings
from bondwright.rules.iec.isolated import judge_it_first, judge_it_second
from bondwright.rules.iec.loops import Loop, by_residual_device, judge_loop, pen_residual_finding
from bondwright.rules.iec.origin import OriginReadings, judge_origin, open_pen_finding
from bondwright.rules.iec.outbuildings import outbuilding_options
from bondwright.rules.iec.ruleset import UnknownFamilyRulesError, clause
from bondwright.rules.iec.sizing import Insulation, Laid, factor, made, strength
from bondwright.rules.iec.times import disconnection_time, loop_at_end, loop_limit
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from tests.iec_sites import FLAT, plan_of, site_of
from tests.outside import outside, published

IEC, BS, AS = "iec-60364-2017", "bs-7671-2018", "as-nzs-3000-2018"
CU, AL = Material.CU, Material.AL
HOLDS, SHORT, CANNOT = Verdict.HOLDS, Verdict.FALLS_SHORT, Verdict.CANNOT_TELL
DANGER, NOTE = Severity.DANGER, Severity.NOTE


def device(text: str) -> DeviceRating:
    return DeviceRating.parse(text)


def line(text: str) -> Conductor:
    return Conductor.parse(text)


def told(found: Finding) -> tuple[str, Severity, str, str, str]:
    return (found.rule, found.severity, found.where, found.title, found.clause)


def has(text: str, *parts: str) -> bool:
    return all(part in text for part in parts)


# --- readings at the origin --------------------------------------------------------------------


def test_an_open_supply_earth() -> None:
    """230 V / 20 ohm = 11.5 A: more than 0.3 A, less than a B32 needs."""
    devices = [device("B32"), device("40 A RCD 300 mA")]
    found = judge_origin("intake", Earthing.TN_S, OriginReadings(20), BS, devices=devices)
    (first,) = found.findings
    assert told(first) == (
        "iec-supply-earth-open",
        DANGER,
        "intake",
        "the supply's earth is not joined",
        clause("iec-supply-earth-open", BS),
    )
    assert has(first.text, "20 ohm is no metal path", "11.5 A", "only 40 A RCD 300 mA would open")
    assert has(first.text, "sheath or earth conductor")
    assert has(first.cure, "network operator", "not earthed")
    assert found.current_a == pytest.approx(11.5)
    said = " ".join(found.because)
    assert has(said, "230 V / 20 ohm = 11.5 A.", "at most 0.8 ohm", "B32 does not open within 5 s")
    assert has(said, "20 ohm x 300 mA = 6 V; at most 50 V")
    assert (found.earth_joined, found.common) == (SHORT, None)


def test_an_open_supply_earth_without_devices() -> None:
    found = judge_origin("intake", Earthing.TN_C, OriginReadings(40), IEC, u0_v=120)
    (first,) = found.findings
    assert has(first.text, "A fault draws 3 A. Look at the PEN conductor")
    assert "devices described" not in first.text
    assert has(" ".join(found.because), "40 ohm x 30 mA = 1.2 V", "TN-S supplies")
    none = judge_origin("x", Earthing.MEN, OriginReadings(40), AS, devices=[device("B32")])
    assert has(none.findings[0].text, "opens none of the devices described", "MEN link")
    assert has(none.findings[0].cure, "licensed installer")
    all_of_them = judge_origin("x", Earthing.TN_S, OriginReadings(8), BS, devices=[device("B1")])
    assert all_of_them.opens == ("B1",)
    assert has(" ".join(all_of_them.because), "B1 opens within 5 s at 28.8 A")
    assert "would open" not in all_of_them.findings[0].text


def test_a_supply_earth_above_what_is_declared() -> None:
    (found,) = judge_origin("intake", Earthing.TN_C_S, OriginReadings(0.5), BS).findings
    assert told(found) == (
        "iec-supply-earth-high",
        Severity.CANNOT_TELL,
        "intake",
        "external loop higher than declared",
        clause("iec-supply-earth-high", BS),
    )
    assert "0.5 ohm is above 0.35 ohm" in found.text
    assert "Don't open the cut-out" in found.cure


@pytest.mark.parametrize(("alone", "said"), [(2000.0, "2000 ohm"), (math.inf, "over range")])
def test_pipework_is_told_with_its_readings(alone: float, said: str) -> None:
    readings = OriginReadings(14, supply_alone_ohm=alone)
    found = judge_origin("intake", Earthing.TN_S, readings, BS).findings[1]
    assert told(found) == (
        "iec-earth-by-pipework",
        DANGER,
        "intake",
        "pipework is the only way to earth",
        clause("iec-earth-by-pipework", BS),
    )
    assert has(found.text, f"alone reads {said}", "the 14 ohm")
    assert "supply is on" in found.cure


def test_as_a_tt_system_meanwhile() -> None:
    """900 ohm x 300 mA = 270 V, 900 ohm x 30 mA = 27 V."""
    both = [device("40 A RCD 30 mA"), device("40 A RCD 300 mA")]
    found = judge_origin("intake", Earthing.TN_S, OriginReadings(900), BS, devices=both)
    late = found.findings[-1]
    assert told(late)[:4] == (
        "iec-tt-residual-device",
        DANGER,
        "intake",
        "electrode too high for the residual-current device",
    )
    assert has(late.text, "270 V", "300 mA")
    assert "lower rating" in late.cure
    assert "900 ohm x 300 mA = 270 V; at most 50 V." in found.because[-1]
    # At the limit it holds: 50 V / 0.1 A = 500 ohm.
    at = judge_origin(
        "x", Earthing.TN_S, OriginReadings(500), BS, devices=[device("40 A RCD 100 mA")]
    )
    assert len(at.findings) == 1


@pytest.mark.parametrize(
    ("elsewhere", "common"),
    [({"a": 16.7, "b": 11.3}, True), ({"a": 16.9}, False), ({"a": 11.1}, False)],
)
def test_the_same_everywhere(elsewhere: dict[str, float], common: bool) -> None:
    """Within 20 % of the reading at the origin, 14 ohm: 11.2 to 16.8 (our own line)."""
    found = judge_origin("x", Earthing.TN_S, OriginReadings(14, elsewhere), BS)
    assert found.common is common
    word = "common to all" if common else "within the installation"
    assert any(word in text for text in found.because)


def test_limits_of_a_declared_loop() -> None:
    """0.35 and 0.8 ohm hold; ten times as much is no metal path (our own line)."""
    for ohm, verdict in ((0.35, HOLDS), (0.36, CANNOT), (3.4, CANNOT), (3.5, SHORT)):
        assert judge_origin("x", Earthing.TN_C_S, OriginReadings(ohm), BS).earth_joined is verdict


def test_a_broken_pen_is_told() -> None:
    """A divider: 230 V x 50 / (50 + 22) = 160 V; at 50 V and below it is a note."""
    found = open_pen_finding("origin", Earthing.TN_C_S, 230, 22, 50, BS)
    assert found is not None
    assert told(found)[:4] == (
        "iec-pen-open",
        DANGER,
        "origin",
        "what a broken supply neutral would do",
    )
    assert "about 160 V" in found.text
    assert has(found.cure, "keep off", "call the network operator")
    # 200 V x 5 / (5 + 15) = 50 V exactly.
    at = open_pen_finding("origin", Earthing.MEN, 200, 15, 5, IEC)
    assert at is not None
    assert at.severity is NOTE


# --- loops -------------------------------------------------------------------------------------


def test_a_loop_close_to_its_limit() -> None:
    """B32 under IEC: 230 V / 160 A = 1.4375 ohm; measured cold 80 % of it, 1.15 ohm."""
    judged = judge_loop("ring", Loop(1.3, measured_cold=True), device("B32"), Earthing.TN_S, IEC)
    assert (judged.disconnection, judged.overcurrent) == (CANNOT, CANNOT)
    (found,) = judged.findings
    assert told(found) == (
        "iec-site-test",
        Severity.CANNOT_TELL,
        "ring",
        "loop close to its limit",
        clause("iec-site-test", IEC),
    )
    assert has(found.text, "1.3 ohm was read", "1.438 ohm")
    assert "full-load temperature" in found.cure
    assert any("at most 80 % of the limit: 1.15 ohm" in text for text in judged.because)
    assert judged.current_a == pytest.approx(230 / 1.3)
    assert any("230 V / 1.3 ohm = 176.9 A." in text for text in judged.because)


@pytest.mark.parametrize(
    ("loop", "verdict"),
    [
        (Loop(1.15, measured_cold=True), HOLDS),
        (Loop(1.16, measured_cold=True), CANNOT),
        (Loop(1.43), HOLDS),
        (Loop(1.44), SHORT),
        (Loop(1.45, uncertainty=0.02), CANNOT),  # from 1.421 to 1.479 ohm
        (Loop(1.40, uncertainty=0.02), HOLDS),  # to 1.428 ohm
        (Loop(1.42, uncertainty=0.02), CANNOT),  # to 1.448 ohm
        (Loop(1.5, uncertainty=0.02), SHORT),  # from 1.47 ohm
    ],
)
def test_loops_about_a_limit(loop: Loop, verdict: Verdict) -> None:
    judged = judge_loop("x", loop, device("B32"), Earthing.TN_S, IEC)
    assert judged.overcurrent is verdict


def test_only_the_residual_device_opens() -> None:
    judged = judge_loop("shower", Loop(3), device("B32, RCD 30 mA"), Earthing.TN_S, IEC)
    assert (judged.disconnection, judged.overcurrent, judged.residual) == (HOLDS, SHORT, HOLDS)
    high, note = judged.findings
    assert told(note) == (
        "iec-loop-by-residual-device",
        NOTE,
        "shower",
        "only the residual-current device disconnects in time",
        clause("iec-loop-by-residual-device", IEC),
    )
    assert has(note.text, "3 ohm is above the limit of 1.438 ohm of B32", "76.7 A", "within 0.4 s")
    assert "why the loop is so high" in note.cure
    assert told(high) == (
        "iec-loop-high",
        Severity.FALLS_SHORT,
        "shower",
        "the loop is suspect",
        clause("iec-loop-high", IEC),
    )
    assert has(high.text, "A loop of 3 ohm", "too long a circuit")
    assert "protective conductor from joint to joint" in high.cure.replace("\n", " ")


def test_nothing_opens() -> None:
    judged = judge_loop("pump", Loop(3), device("B32"), Earthing.TN_S, IEC)
    danger, high = judged.findings
    assert told(danger) == (
        "iec-loop",
        DANGER,
        "pump",
        "a fault is not disconnected in time",
        clause("iec-loop", IEC),
    )
    assert has(danger.text, "3 ohm is above the limit of 1.438 ohm", "electrode doesn't mend it")
    assert "Keep the circuit off" in danger.cure
    assert (high.rule, high.where) == ("iec-loop-high", "pump")


def test_a_suspect_loop_that_holds() -> None:
    """One and a half times what is expected is the line (our own): 0.4 x 1.5 = 0.6 ohm."""
    within, beyond = (
        judge_loop(
            "ring", Loop(ohm, expected_ohm=0.4, ring=True), device("B32"), Earthing.TN_S, IEC
        )
        for ohm in (0.6, 0.61)
    )
    assert within.disconnection is beyond.disconnection is HOLDS
    assert within.findings == ()
    (found,) = beyond.findings
    assert found.title == "a broken ring or poor joint is probable"
    assert has(found.text, "0.61 ohm", "a broken ring", "let expect 0.4 ohm")
    assert has(found.cure, "(r1)", "(rn)", "(r2)")
    # With the error of the reading it has to be above for sure: 0.62 x 0.95 = 0.589.
    sure = Loop(0.62, uncertainty=0.05, expected_ohm=0.4)
    assert judge_loop("x", sure, device("B32"), Earthing.TN_S, IEC).findings == ()


def test_a_device_without_a_band_says_why() -> None:
    judged = judge_loop("x", Loop(0.2), device("100 A breaker, curve own"), Earthing.TN_S)
    assert any("no curve 'own'" in text for text in judged.because)
    assert (judged.residual, judged.limit, judged.findings) == (None, None, ())
    ahead = judge_loop(
        "x", Loop(0.2), device("100 A breaker, curve own"), Earthing.TN_S,
        ahead=device("100 A RCD 300 mA"),
    )  # fmt: skip
    assert (ahead.residual, ahead.disconnection) == (HOLDS, HOLDS)
    # Its own element counts before one ahead.
    own = judge_loop(
        "x", Loop(200), device("B32, RCD 30 mA"), Earthing.TN_S, ahead=device("63 A RCD 3000 mA")
    )
    assert own.residual is HOLDS


def test_residual_devices_in_words() -> None:
    """IEC 61008-1: 0.3 s at its rating, 0.04 s at five times (confirmed)."""
    because: list[str] = []
    assert by_residual_device(device("B32"), 5, 0.4, because) is None
    assert by_residual_device(device("20 A GFCI"), 5, 0.4, because) is None
    assert because == []
    assert by_residual_device(device("B32, RCD 30 mA"), 1, 0.4, because) is HOLDS
    assert because[-1] == "The residual-current device of 30 mA opens within 0.04 s at 1 A."
    assert by_residual_device(device("B32, RCD 30 mA"), 0.03, 0.2, because) is SHORT
    assert because[-1].startswith("The residual-current device of 30 mA needs 0.3 s at 0.03 A")
    assert because[-1].endswith("0.2 s is allowed.")
    assert by_residual_device(device("B32, RCD 30 mA"), 0.02, 0.4, because) is SHORT
    assert because[-1] == "0.02 A does not open the residual-current device of 30 mA for sure."


def test_a_residual_device_with_a_pen_conductor() -> None:
    found = pen_residual_finding("board", BS)
    assert told(found) == (
        "iec-pen-residual-device",
        Severity.FALLS_SHORT,
        "board",
        "residual-current device with a PEN conductor",
        clause("iec-pen-residual-device", BS),
    )
    assert "upstream of the device" in found.cure
    judged = judge_loop("board", Loop(3), device("B32, RCD 30 mA"), Earthing.TN_C)
    assert judged.disconnection is SHORT  # the residual element isn't counted
    assert "iec-pen-residual-device" in {f.rule for f in judged.findings if f.where == "board"}


# --- TT and IT ---------------------------------------------------------------------------------


def test_tt_answers_whole() -> None:
    """700 ohm x 100 mA = 70 V; 50 V allow 71.4 mA or 500 ohm."""
    judged = judge_tt("barn", 700, device("40 A RCD 100 mA"), BS)
    short, unstable = judged.findings
    assert told(short) == (
        "iec-tt-residual-device",
        DANGER,
        "barn",
        "electrode too high for the residual-current device",
        clause("iec-tt-residual-device", BS),
    )
    assert has(short.text, "700 ohm x 100 mA = 70 V", "50 V is the limit")
    assert has(short.cure, "at most 71.4 mA", "500 ohm or less")
    assert told(unstable) == (
        "iec-electrode-unstable",
        NOTE,
        "barn",
        "electrode too high to be relied on",
        clause("iec-electrode-unstable", BS),
    )
    assert has(unstable.text, "700 ohm is above 200 ohm")
    assert "dry season" in unstable.cure
    assert any("RA x IdeltaN = 700 ohm x 100 mA = 70 V; at most 50 V." in t for t in judged.because)
    assert judged.current_a == pytest.approx(230 / 700)
    assert (judged.overcurrent, judged.limit) == (None, None)


def test_tt_without_a_residual_device_whole() -> None:
    judged = judge_tt("barn", 20, device("B16"), BS, source_ohm=3)
    (found,) = judged.findings
    assert told(found) == (
        "iec-tt-residual-device",
        DANGER,
        "barn",
        "TT system without a residual-current device",
        clause("iec-tt-residual-device", BS),
    )
    assert "10 A at most" in found.text  # 230 V / 23 ohm
    assert "with the supply off" in found.cure
    assert judged.residual is None
    gfci = judge_tt("barn", 20, device("20 A GFCI"), BS)
    assert gfci.residual is None
    # B6 opens for sure from 30 A on: 230 / 30 = 7.67 ohm, with Cmin 0.95 7.28 ohm.
    for ohm, verdict in ((7.28, HOLDS), (7.3, SHORT)):
        assert judge_tt("x", ohm, device("B6"), BS).overcurrent is verdict


def test_tt_slow_whole() -> None:
    judged = judge_tt("barn", 400, device("40 A RCD 100 mA S"), BS, source_ohm=1700)
    found = judged.findings[0]
    assert told(found) == (
        "iec-tt-residual-device",
        Severity.FALLS_SHORT,
        "barn",
        "residual-current device not quick enough",
        clause("iec-tt-residual-device", BS),
    )
    assert has(found.text, "0.11 A", "within 0.2 s")  # 230 / 2100
    assert "without delay" in found.cure


def test_tt_times_follow_the_circuit() -> None:
    rcd = device("40 A RCD 30 mA")
    assert judge_tt("x", 100, rcd).time_s == 0.2  # with sockets up to 63 A
    assert judge_tt("x", 100, device("B32, RCD 30 mA")).time_s == 0.2
    assert judge_tt("x", 100, device("B32, RCD 30 mA"), final=False).time_s == 1
    assert judge_tt("x", 100, device("B40, RCD 30 mA"), sockets=False).time_s == 1


def test_stability_at_its_line() -> None:
    assert electrode_stability("rod", 200.0, IEC) == ()
    assert len(electrode_stability("rod", 200.1, IEC)) == 1


def test_it_first_fault_whole() -> None:
    """60 ohm x 1 A = 60 V."""
    verdict, found = judge_it_first("ward", 60, 1, BS, monitored=False)
    danger, monitor = found
    assert verdict is SHORT
    assert told(danger) == (
        "iec-it-first-fault",
        DANGER,
        "ward",
        "touch voltage of the first fault too high",
        clause("iec-it-first-fault", BS),
    )
    assert has(danger.text, "60 ohm x 1 A = 60 V", "50 V is the limit")
    assert danger.cure
    assert told(monitor) == (
        "iec-it-monitor",
        Severity.FALLS_SHORT,
        "ward",
        "no monitoring",
        clause("iec-it-monitor", BS),
    )
    assert "heard or seen" in monitor.cure
    unknown = judge_it_first("ward", 1, 1, BS)[1][0]
    assert unknown.title == "insulation monitoring not described"
    assert judge_it_first("ward", 0, 0, monitored=True) == (HOLDS, ())


def test_it_second_fault_whole() -> None:
    """C16: 230 V / (2 x 160 A) = 0.71875 ohm within 0.4 s."""
    verdict, (found,) = judge_it_second("mill", Loop(1), device("C16"), IEC)
    assert verdict is SHORT
    assert told(found) == (
        "iec-it-second-fault",
        DANGER,
        "mill",
        "a second fault is not disconnected in time",
        clause("iec-it-second-fault", IEC),
    )
    assert has(found.text, "1 ohm is above 0.7188 ohm", "C16 within 0.4 s")
    assert "larger conductors" in found.cure
    assert judge_it_second("x", Loop(0.71875), device("C16"), IEC) == (HOLDS, ())
    at = Loop(0.71875 / 0.95, uncertainty=0.05)  # its lower end is the limit itself
    assert judge_it_second("x", at, device("C16"), IEC)[0] is CANNOT
    # A fuse opens sooner for more: 5 s of a distribution circuit are easier to keep than 0.4 s.
    fuse = device("32 A gG fuse")
    tight, loose = (judge_it_second("x", Loop(0.5), fuse, IEC, final=f)[0] for f in (True, False))
    assert (tight, loose) == (SHORT, HOLDS)
    fixed = judge_it_second("x", Loop(0.5), device("40 A gG fuse"), IEC, sockets=False)[0]
    assert fixed is judge_it_second("x", Loop(0.5), device("40 A gG fuse"), IEC, final=False)[0]


# --- times and limits --------------------------------------------------------------------------


def test_times_in_words() -> None:
    fixed = disconnection_time(230, Earthing.TN_S, 16, sockets=False)
    assert has(fixed.because[-1], "with fixed equipment only, 16 A", "0.4 s")
    sockets = disconnection_time(230, Earthing.TN_S, 16)
    assert has(sockets.because[-1], "with sockets, 16 A", "0.4 s")
    large = disconnection_time(230, Earthing.TN_S, 80)
    assert large.because == ("Final circuit of more than 63 A with sockets: 5 s in TN.",)
    feeder = disconnection_time(230, Earthing.TT, 80, final=False)
    assert feeder.because == ("Distribution circuit: 1 s in TT.",)


def test_limits_in_words() -> None:
    printed = loop_limit(device("B32"), 0.4, rules=BS)
    assert has(printed.because[0], "B32 for 0.4 s: the printed limit is 1.37 ohm", "230 V x 0.95")
    assert printed.time_s == 0.4
    assert printed.operating_a == pytest.approx(230 * 0.95 / 1.37)
    worked = loop_limit(device("B32"), 0.4)
    assert has(worked.because[0], "B32 has opened for sure within 0.4 s from 160 A on")
    assert has(worked.because[0], "230 V x 1 / 160 A = 1.438 ohm")
    assert worked.sources
    with pytest.raises(CannotTellError) as error:
        loop_limit(device("40 A RCD 30 mA"), 0.4)
    assert "overcurrent device ahead" in error.value.missing


def test_a_pair_that_is_not_in_the_table() -> None:
    with pytest.raises(CatalogError) as error:
        loop_at_end(0, 3, 2, 10)
    assert error.value.text == "3 mm2 with 2 mm2"
    assert error.value.problem == "is no pair of the table"
    assert error.value.hint == "work it out from both resistances"
    with pytest.raises(ValueError, match="a length of -1"):
        loop_at_end(0, 2.5, 1.5, -1)
    with pytest.raises(ValueError, match="an impedance of -1"):
        loop_at_end(-1, 2.5, 1.5, 1)


def test_an_unknown_rule_set_names_the_known_ones() -> None:
    assert UnknownFamilyRulesError("zzz").hint == f"known are {IEC}, {BS}, {AS}"
    assert UnknownFamilyRulesError("bs-7671-2008").hint == f"did you mean {BS!r}?"


# --- conductors --------------------------------------------------------------------------------


@outside("IEC 60364-5-54, table A.54.6", "memory", unit="A s^0.5/mm2")
def test_factors_of_bare_conductors_need_no_insulation() -> None:
    """Table A.54.6 (from memory): bare copper in normal conditions 159, with fire risk 138."""
    assert factor(Laid.BARE, "Cu").k == published(159)
    assert factor(Laid.BARE, "Cu", Insulation.XLPE_90).k == published(159)
    assert factor(Laid.BARE_FIRE_RISK, "Cu").k == published(138)
    assert factor(Laid.BARE_VISIBLE, "Cu").k == published(228)
    with pytest.raises(CatalogError):
        factor(Laid.SHEATH, "wood")


def test_strength_outside_a_cable() -> None:
    because: list[str] = []
    assert strength(CU, Laid.IN_CABLE, False, because)[0] == 0
    assert because == []
    assert strength(CU, Laid.BARE, True, because)[0] == 2.5
    assert "at least 2.5 mm2 Cu with protection" in because[0]
    assert strength(CU, Laid.SEPARATE, False, because)[0] == 4
    assert "at least 4 mm2 Cu without protection" in because[1]


def test_protective_conductors_with_other_insulation() -> None:
    """16 mm2 of copper for aluminium XLPE lines (k 94), in a PVC cable (115): 13.08 mm2."""
    area, _, said = area_needed(line("25 mm2 Al"), "Cu", line_insulation=Insulation.XLPE_90)
    assert area == pytest.approx(16 * 94 / 115, abs=0.001)
    assert "16 mm2 x 94 / 115 = 13.08 mm2" in said[1]
    mixed = protective_conductor(line("25 mm2 Al"), CU, line_insulation=Insulation.XLPE_90)
    assert str(mixed.size) == "16 mm2 Cu"
    assert any("94 / 115" in text for text in mixed.because)
    assert dict(mixed.inputs) == {
        "line conductor": "25 mm2 Al",
        "conductor metal": "Cu",
        "laid": "in cable",
    }
    assert has(mixed.because[0], "25 mm2 Al")
    assert "heat of the fault" in mixed.because[-2]
    assert "is 16 mm2 Cu" in mixed.because[-1]


def test_no_answer_says_where_and_what_would_help() -> None:
    with pytest.raises(CannotTellError) as error:
        protective_conductor(line("10 mm2 Al"), CU, AS)
    assert error.value.clause == "AS/NZS 3000 5.3.3.1 and table 5.1"
    assert error.value.problem == "table 5.1 has no row for 10 mm2 Al"
    assert error.value.missing == "size it by the heat of the fault"
    with pytest.raises(CannotTellError) as error:
        protective_conductor(line("16 mm2 Cu"), AL, AS)
    assert error.value.clause == "AS/NZS 3000 5.3.3.1 and table 5.1"
    assert "give copper" in error.value.missing
    with pytest.raises(CannotTellError) as error:
        made("iec-pen", IEC, 5000, 0, CU, ("because",), (), Status.CONFIRMED)
    assert error.value.rule == "iec-pen"
    assert error.value.clause == clause("iec-pen", IEC)


def test_made_sizes() -> None:
    status = Status.CONFIRMED
    found = made("iec-pen", IEC, 12, 0, CU, ("because",), (("a", "b"),), status, 3)
    assert (str(found.size), found.because[0]) == ("3 x 16 mm2 Cu", "because")
    assert found.inputs == (("a", "b"),)
    # Stranded aluminium from 10 mm2 on (IEC 60228, from memory).
    assert str(made("iec-pen", IEC, 4, 0, AL, ("x",), (), status).size) == "10 mm2 Al"
    assert str(made("iec-pen", IEC, 4, 6, CU, ("x",), (), status).size) == "6 mm2 Cu"


@outside("IEC 60364-5-54, 543.4.1", "confirmed")
def test_pen_conductors() -> None:
    """At least 10 mm2 copper or 16 mm2 aluminium (543.4.1, confirmed)."""
    assert str(pen_conductor(line("4 mm2 Cu")).size) == published("10 mm2 Cu")
    assert str(pen_conductor(line("10 mm2 Al"), AL).size) == published("16 mm2 Al")
    large = pen_conductor(line("2 x 70 mm2 Cu"))
    assert str(large.size) == published("2 x 35 mm2 Cu")
    assert has(" ".join(large.because), "at least 10 mm2 Cu", "neutral current")
    assert large.rule == "iec-pen"
    assert dict(large.inputs) == {"line conductor": "2 x 70 mm2 Cu", "conductor metal": "Cu"}


def test_by_heat_follows_insulation_and_laying() -> None:
    """2000 A for 0.2 s: 894.4 / k. PVC in a cable 115, XLPE 143, separate PVC 143, XLPE 176."""
    fault = Fault(2000, 0.2)
    wanted = {
        (Laid.IN_CABLE, Insulation.PVC_70): "10 mm2 Cu",  # 7.78
        (Laid.IN_CABLE, Insulation.XLPE_90): "10 mm2 Cu",  # 6.25
        (Laid.SEPARATE, Insulation.XLPE_90): "6 mm2 Cu",  # 5.08
    }
    for (laid, insulation), size in wanted.items():
        found = by_heat(fault, laid=laid, insulation=insulation)
        assert str(found.size) == size
        assert dict(found.inputs)["laid"] == laid.value
        same = of_a_run(None, CU, IEC, line("16 mm2 Cu"), laid=laid, insulation=insulation,
                        fault=fault)  # fmt: skip
        assert str(same.size) == size
        assert same.because == found.because
    assert has(by_heat(fault).because[1], "2000 A for 0.2 s: 800,000 A2 s", "k = 115", "70 to 160")
    known = by_heat(Fault(3000, 0.01, 12_000))
    assert "The device lets through 12,000 A2 s" in known.because[1]
    assert ("energy let through", "12000 A2 s") in known.inputs
    assert ("fault current", "3000 A") in known.inputs
    assert ("disconnection time", "0.01 s") in known.inputs
    # The maker's figure counts below 0.1 s only.
    slow = by_heat(Fault(3000, 0.1, 12_000))
    assert "900,000 A2 s" in slow.because[1]


@pytest.mark.parametrize("energy", [0.0, -1.0, math.inf])
def test_impossible_energies(energy: float) -> None:
    with pytest.raises(ValueError, match="energy"):
        Fault(1, 1, energy)


def test_small_energies_are_possible() -> None:
    assert Fault(1, 0.01, 0.5).let_through_i2t == 0.5


def test_conductors_bear_what_they_bear() -> None:
    """2.5 mm2 of PVC copper: (115 x 2.5)^2 = 82,656 A2 s."""
    wire = line("2.5 mm2 Cu")
    held = bears(wire, Fault(900, 0.1, 80_000))
    assert (held.verdict, held.basis, held.energy_i2t) == (HOLDS, "let-through", 80_000)
    assert held.allowed_i2t == pytest.approx(82_656.25)
    assert has(held.because[0], "115^2 x 2.5^2 = 82,656 A2 s")
    assert bears(wire, Fault(900, 0.05, 83_000)).verdict is SHORT
    slow = bears(wire, Fault(400, 1))
    assert (slow.verdict, slow.basis, slow.energy_i2t) == (SHORT, "adiabatic", 160_000)
    assert bears(wire, Fault(280, 1)).verdict is HOLDS  # 78,400
    assert bears(wire, Fault(290, 1)).verdict is SHORT  # 84,100
    assert slow.clause == clause("iec-withstand", IEC)
    assert slow.sources


# --- bonding and earthing ----------------------------------------------------------------------


@outside("IEC 60364-5-54, 544.1", "one-source")
def test_main_bonding_says_what_it_follows() -> None:
    iec = main_bonding(line("35 mm2 Cu"), CU, IEC)
    assert str(iec.size) == published("25 mm2 Cu")  # 17.5
    assert "half of the largest protective conductor (35 mm2 Cu): 17.5 mm2" in iec.because[1]
    assert dict(iec.inputs) == {
        "largest protective conductor": "35 mm2 Cu",
        "conductor metal": "Cu",
        "earthing": "TN-S",
    }
    bs = main_bonding(line("35 mm2 Cu"), CU, BS)
    assert "half of the earthing conductor (35 mm2 Cu)" in bs.because[1]
    assert "earthing conductor" in dict(bs.inputs)
    assert (iec.status, bs.status) == ("one-source", "confirmed")
    least = main_bonding(line("6 mm2 Cu"), CU, IEC)
    assert (str(least.size), "at least 6 mm2 Cu" in " ".join(least.because)) == ("6 mm2 Cu", True)
    most = main_bonding(line("95 mm2 Cu"), CU, IEC)
    assert str(most.size) == "25 mm2 Cu"
    assert "need not exceed 25 mm2" in " ".join(most.because)
    two = main_bonding(line("2 x 16 mm2 Cu"), CU, IEC)
    assert str(two.size) == "16 mm2 Cu"
    # Aluminium of the same worth: 17.5 x 143 / 95 = 26.3 mm2 (table A.54.2, confirmed).
    other = main_bonding(line("35 mm2 Cu"), AL, IEC)
    assert str(other.size) == "35 mm2 Al"
    assert any("17.5 x 143 / 95 = 26.34 mm2" in text for text in other.because)
    # The most for it is the equal of 25 mm2 copper: 25 x 28.264 / 17.241 = 41 mm2.
    assert str(main_bonding(line("150 mm2 Cu"), AL, IEC).size) == "50 mm2 Al"


@outside("BS 7671, table 54.8", "confirmed")
def test_bonding_of_a_tn_c_s_supply() -> None:
    """BS 7671 table 54.8 (confirmed): neutral to 35 mm2 10, to 50 16, to 95 25, to 150 35 mm2."""
    for neutral, size in (("35", "10"), ("50", "16"), ("95", "25"), ("150", "35")):
        found = pme_main_bonding(line(f"{neutral} mm2 Cu"))
        assert str(found.size) == published(f"{size} mm2 Cu")
        assert found.status == "confirmed"
        assert has(found.because[0], "follows the supply neutral")
        assert has(" ".join(found.because), "network operator may ask for more")
    # 95 mm2 of aluminium is worth 95 x 17.241 / 28.264 = 57.95 mm2 of copper.
    al = pme_main_bonding(line("95 mm2 Al"))
    assert (str(al.size), al.status) == ("25 mm2 Cu", "computed")
    assert any("worth 57.95 mm2 of copper" in text for text in al.because)
    # 10 mm2 of copper in aluminium: 16.39 mm2.
    into = pme_main_bonding(line("35 mm2 Cu"), AL)
    assert (str(into.size), into.status) == ("25 mm2 Al", "computed")
    assert any("In Al of the same conductance: 16.39 mm2" in text for text in into.because)
    assert dict(into.inputs) == {"supply neutral": "35 mm2 Cu", "conductor metal": "Al"}
    with pytest.raises(CannotTellError) as error:
        pme_main_bonding(None)
    assert error.value.clause == clause("iec-pme-bonding", BS)
    assert "network operator" in error.value.missing
    with pytest.raises(CannotTellError) as error:
        main_bonding(line("16 mm2 Cu"), AL, AS)
    assert (error.value.rule, error.value.clause) == (
        "iec-main-bonding",
        clause("iec-main-bonding", AS),
    )


@outside("BS 7671, 544.2", "memory")
def test_supplementary_bonding_in_all_three_cases() -> None:
    """544.2, from memory: the smaller of two; half; 2.5 or 4 mm2 for strength."""
    two = supplementary_bonding(line("6 mm2 Cu"), line("10 mm2 Cu"))
    assert str(two.size) == published("6 mm2 Cu")
    assert "as the smaller of the two, 6 mm2 Cu" in two.because[0]
    half = supplementary_bonding(line("16 mm2 Cu"), None)
    assert str(half.size) == published("10 mm2 Cu")
    assert "16 mm2 Cu, 8 mm2" in half.because[0]
    assert dict(half.inputs)["second part"] == "extraneous"
    assert dict(half.inputs)["first part"] == "16 mm2 Cu"
    none = supplementary_bonding(None, None)
    assert str(none.size) == published("2.5 mm2 Cu")
    assert "where it is protected" in " ".join(none.because)
    bare = supplementary_bonding(None, None, protected=False)
    assert str(bare.size) == published("4 mm2 Cu")
    assert "where it is unprotected" in " ".join(bare.because)
    small = supplementary_bonding(line("1.5 mm2 Cu"), line("2.5 mm2 Cu"))
    assert str(small.size) == published("2.5 mm2 Cu")
    assert supplementary_resistance(0.03) == published(
        50 / 0.03, rel=1e-6, status="computed", source="IEC 60364-4-41, 415.2.2", unit="ohm"
    )
    assert supplementary_resistance(160, special=True) == published(
        25 / 160, rel=1e-6, status="computed", source="IEC 60364-4-41, 415.2.2", unit="ohm"
    )
    with pytest.raises(ValueError, match="current of 0"):
        supplementary_resistance(0)


def test_earthing_conductors_of_parallel_sets() -> None:
    found = earthing_conductor(line("2 x 70 mm2 Cu"))
    assert str(found.size) == "70 mm2 Cu"
    assert "for 2 parallel sets: 70 mm2" in " ".join(found.because)
    assert "parallel sets" not in " ".join(earthing_conductor(line("70 mm2 Cu")).because)
    assert has(found.because[0], "main earthing terminal to the means of earthing")
    assert dict(found.inputs) == {
        "line conductor": "2 x 70 mm2 Cu",
        "conductor metal": "Cu",
        "earthing": "TN-S",
        "buried": "no",
    }


@pytest.mark.parametrize(
    ("corrosion", "mechanical", "size", "words"),
    [
        (False, False, "25 mm2 Cu", "unprotected"),
        (False, True, "25 mm2 Cu", "protected against damage"),
        (True, False, "16 mm2 Cu", "protected against corrosion"),
        (True, True, "6 mm2 Cu", "protected against corrosion and damage"),
    ],
)
@outside("BS 7671, table 54.1", "memory")
def test_buried_conductors(corrosion: bool, mechanical: bool, size: str, words: str) -> None:
    """542.3.1 table 54.1 (BS 7671), from memory."""
    buried = Burial(corrosion=corrosion, mechanical=mechanical)
    found = earthing_conductor(line("6 mm2 Cu"), buried=buried)
    assert str(found.size) == published(size)
    assert dict(found.inputs)["buried"] == words
    said = " ".join(found.because)
    asked = f"Buried, {words}: at least {size.removesuffix(' Cu')} copper"
    assert (asked if not (corrosion and mechanical) else "no further minimum") in said
    with pytest.raises(CannotTellError) as error:
        earthing_conductor(line("6 mm2 Cu"), AL, buried=buried)
    assert (error.value.rule, error.value.missing) == ("iec-earthing-conductor", "use copper")
    assert error.value.clause == clause("iec-earthing-conductor", IEC)


def test_earthing_conductors_elsewhere() -> None:
    # AS/NZS 3000 5.3.3.2, from memory: 4 to 120 mm2.
    small = earthing_conductor(line("2.5 mm2 Cu"), CU, AS)
    assert str(small.size) == "4 mm2 Cu"
    assert "At least 4 mm2, and not above 120 mm2" in " ".join(small.because)
    assert str(earthing_conductor(line("800 mm2 Cu"), CU, AS).size) == "120 mm2 Cu"
    bs = earthing_conductor(
        line("16 mm2 Cu"), CU, BS, supply_neutral=line("95 mm2 Cu"), earthing=Earthing.TN_C_S
    )
    assert str(bs.size) == "25 mm2 Cu"  # as its bonding, table 54.8
    assert "not below its main bonding, 25 mm2 Cu" in " ".join(bs.because)
    tn_s = earthing_conductor(line("16 mm2 Cu"), CU, BS, supply_neutral=line("95 mm2 Cu"))
    assert str(tn_s.size) == "16 mm2 Cu"
    assert "at least 6 mm2 Cu" in " ".join(earthing_conductor(line("1.5 mm2 Cu")).because)


def test_electrodes_by_their_sizes() -> None:
    small = electrode_finding("rod 1", "copper-clad steel", "rod", diameter_mm=9.0)
    assert small is not None
    assert told(small) == (
        "iec-electrode-size",
        Severity.FALLS_SHORT,
        "rod 1",
        "electrode too small",
        clause("iec-electrode-size", IEC),
    )
    assert has(small.text, "A rod of copper-clad steel: diameter 9 mm where", "is asked")
    assert small.cure == "Use a larger one."
    bare = electrode_finding("rod 1", "copper-clad steel", "rod")
    assert bare is not None
    assert told(bare)[1:4] == (
        Severity.CANNOT_TELL,
        "rod 1",
        "size of the electrode not known",
    )
    assert has(bare.text, "diameter", "rod of copper-clad steel")
    assert bare.cure == "Measure it."
    for concrete, soil in ((True, "concrete"), (False, "soil")):
        none = electrode_finding("x", "lead", "rope", in_concrete=concrete)
        assert none is not None
        assert none.title == "no least size known for this electrode"
        assert f"a rope of lead in {soil}" in none.text
        assert none.cure


# --- the installation --------------------------------------------------------------------------


def test_lines_compared_with_what_is_needed() -> None:
    found = line_finding("feed", line("6 mm2 Cu"), line("10 mm2 Cu"), BS)
    assert found is not None
    assert told(found) == (
        "iec-line-small",
        Severity.FALLS_SHORT,
        "feed",
        "line conductors smaller than needed",
        clause("iec-line-small", BS),
    )
    assert has(found.text, "'feed' has 6 mm2 Cu", "10 mm2 Cu is needed")
    assert has(found.cure, "10 mm2 Cu or larger")
    assert line_finding("feed", line("10 mm2 Cu"), line("10 mm2 Cu"), BS) is None
    assert line_finding("feed", line("2 x 6 mm2 Cu"), line("10 mm2 Cu"), BS) is None
    assert line_finding("feed", line("10 mm2 Cu"), line("2 x 6 mm2 Cu"), BS) is not None
    assert line_finding("feed", line("6 mm2 Cu"), line("10 mm2 Al"), BS) is None
    assert line_finding("feed", line("6 mm2 Cu"), None, BS) is None


def test_areas_whole() -> None:
    site = site_of(FLAT, areas={"bath": {"kind": "pool", "at": "consumer unit"}})
    (found,) = location_findings(site, BS)
    assert told(found) == (
        "iec-special-location",
        Severity.CANNOT_TELL,
        "bath",
        "rules of their own for this area (pool)",
        clause("iec-special-location", BS),
    )
    assert found.cure


WHOLE: dict[str, tuple[dict[str, Any], str, str, str]] = {
    "iec-exposed-part": (
        {"runs__lighting circuit__pe": "none"},
        "lighting circuit",
        "exposed metal without a protective conductor",
        "This concerns: lights.",
    ),
    "iec-earth-missing": (
        {"runs__tails__pe": "none"},
        "consumer unit",
        "main earthing terminal without its means of earthing",
        "The metal of consumer unit is not joined to",
    ),
    "iec-additional-protection": (
        {"runs__kitchen circuit__device": "B16"},
        "kitchen sockets",
        "sockets without additional protection",
        "no residual-current device of at most 30 mA",
    ),
}


@pytest.mark.parametrize("rule", WHOLE)
def test_findings_on_a_flat_whole(rule: str) -> None:
    changes, where, title, part = WHOLE[rule]
    made = plan_of(FLAT, **changes)
    (found,) = [one for one in made.findings if one.rule == rule and one.where == where]
    assert (found.title, found.clause) == (title, clause(rule, IEC))
    assert part in found.text
    assert found.cure


def test_neutrals_are_no_path_for_an_exposed_part() -> None:
    """Past a join downstream the neutral is joined to metal, and still no protective conductor."""
    changes: dict[str, Any] = {"runs__lighting circuit__pe": "none"}
    ties = {"link": {"at": "cut-out"}, "wrong": {"at": "lights"}}
    made = plan_of(FLAT, **changes, ties=ties)
    (found,) = [one for one in made.findings if one.rule == "iec-exposed-part"]
    assert found.severity is DANGER


def test_many_places_are_counted() -> None:
    changes: dict[str, Any] = {"runs__lighting circuit__pe": "none"}
    for number in range(1, 8):
        changes[f"places__lamp {number}"] = {"kind": "equipment"}
        changes[f"runs__lamp {number} cable"] = {
            "from": "lights" if number == 1 else f"lamp {number - 1}", "to": f"lamp {number}",
            "length": "3 m", "lines": "1.5 mm2 Cu",
        }  # fmt: skip
    made = plan_of(FLAT, **changes)
    (found,) = [one for one in made.findings if one.where == "lighting circuit"]
    assert "and 2 more" in found.text  # the light and five lamps by name, of eight places


# --- supply side and outbuildings --------------------------------------------------------------


def test_supply_side_by_its_lines() -> None:
    supply = SupplyConductors.parse("70 mm2 Cu")
    found = supply_protective_conductor(supply, Supply(Earthing.TN_S))
    assert found is not None
    assert str(found.size) == "35 mm2 Cu"
    two = SupplyConductors.of(line("50 mm2 Cu"), line("35 mm2 Cu"))
    both = supply_protective_conductor(two, Supply(Earthing.TN_S), AL)
    assert both is not None
    assert both.size.material is AL


def test_outbuildings_keep_times_of_a_feeder() -> None:
    """A 63 A fuse gives 5 s to a feeder: 0.9 ohm holds for it, and not for 0.4 s."""
    fuse = device("63 A gG fuse")
    feeder, own = outbuilding_options("shed", Earthing.TN_S, Loop(0.6), fuse, IEC)
    assert feeder.title == "protective conductor with the feeder"
    assert (
        feeder.verdict
        is judge_loop("shed", Loop(0.6), fuse, Earthing.TN_S, final=False).disconnection
    )
    assert feeder.verdict is HOLDS
    assert judge_loop("shed", Loop(0.6), fuse, Earthing.TN_S).disconnection is SHORT
    assert has(feeder.because[0], "no electrode")
    assert told(feeder.findings[-1]) == (
        "iec-outbuilding",
        Severity.CANNOT_TELL,
        "shed",
        "main protective bonding at the outbuilding",
        clause("iec-outbuilding", IEC),
    )
    assert feeder.findings[-1].cure
    assert own.title.startswith("electrode of its own")
    assert has(" ".join(own.because), "ends insulated", "Measure the electrode")


def test_outbuildings_by_their_own_voltage() -> None:
    fuse = device("63 A gG fuse")
    low = outbuilding_options("shed", Earthing.TN_S, Loop(0.6), fuse, IEC, u0_v=120)[0]
    assert any("120 V / 0.6 ohm = 200 A" in text for text in low.because)


def test_outbuilding_of_an_men_supply() -> None:
    feeder, men = outbuilding_options(
        "shed", Earthing.MEN, Loop(0.6), device("B32"), AS, metal_between=True
    )
    assert feeder.findings == ()
    assert (men.title, men.verdict) == ("separate MEN installation", SHORT)
    (found,) = men.findings
    assert told(found) == (
        "iec-outbuilding",
        Severity.CANNOT_TELL,
        "shed",
        "a separate MEN installation",
        clause("iec-outbuilding", AS),
    )
    assert found.cure
    assert has(" ".join(men.because), "is a PEN", "carry neutral current")
    apart = outbuilding_options(
        "shed", Earthing.MEN, Loop(0.6), device("B32"), AS, metal_between=False
    )[1]
    assert (apart.verdict, len(apart.because)) == (CANNOT, 1)


def test_outbuildings_as_tt() -> None:
    given: dict[str, Any] = {"electrode_ohm": 90.0, "own_device": device("40 A RCD 30 mA")}
    args: tuple[Any, ...] = ("shed", Earthing.TN_S, Loop(0.6), device("B32"), IEC)
    known = outbuilding_options(*args, metal_between=False, **given)[1]
    assert known.verdict is HOLDS
    assert any("90 ohm x 30 mA = 2.7 V" in text for text in known.because)
    unknown = outbuilding_options(*args, **given)[1]
    assert (unknown.verdict, any("Look first" in text for text in unknown.because)) == (
        CANNOT,
        True,
    )
    metal = outbuilding_options(*args, metal_between=True, **given)[1]
    assert (metal.verdict, metal.findings) == (SHORT, ())
    assert any("can't be kept apart" in text for text in metal.because)
    for one in ("electrode_ohm", "own_device"):
        half = {key: value for key, value in given.items() if key != one}
        assert outbuilding_options(*args, metal_between=False, **half)[1].verdict is CANNOT


# --- every answer under its own rule set -------------------------------------------------------


@pytest.mark.parametrize("rules", [IEC, BS, AS])
def test_clauses_are_those_of_the_rule_set_asked(rules: str) -> None:
    supply = SupplyConductors.parse("25 mm2 Cu")
    tn_s = Supply(Earthing.TN_S)
    asked = {
        "iec-protective-conductor": protective_conductor(line("16 mm2 Cu"), CU, rules),
        "iec-protective-adiabatic": by_heat(Fault(1000, 0.2), CU, rules),
        "iec-pen": pen_conductor(line("16 mm2 Cu"), CU, rules),
        "iec-earthing-conductor": earthing_conductor(line("16 mm2 Cu"), CU, rules),
        "iec-main-bonding": main_bonding(line("16 mm2 Cu"), CU, rules),
        "iec-supplementary-bonding": supplementary_bonding(None, None, CU, rules),
    }
    for rule, answer in asked.items():
        assert (answer.rule, answer.rules, answer.clause) == (rule, rules, clause(rule, rules))
    of_run = of_a_run(None, CU, rules, line("16 mm2 Cu"))
    assert of_run.clause == clause("iec-protective-conductor", rules)
    heated = of_a_run(None, CU, rules, line("16 mm2 Cu"), fault=Fault(1000, 0.2))
    assert heated.clause == clause("iec-protective-adiabatic", rules)
    own = electrode_conductor(supply, tn_s, CU, rules)
    assert own.clause == clause("iec-earthing-conductor", rules)
    bond = bonding_conductor(supply, tn_s, CU, rules)
    assert bond.clause == clause("iec-main-bonding", rules)
    ahead = supply_protective_conductor(supply, tn_s, CU, rules)
    assert ahead is not None
    assert ahead.clause == clause("iec-protective-conductor", rules)
    pen = supply_neutral(supply, Supply(Earthing.TN_C_S), CU, rules)
    assert pen is not None
    assert pen.clause == clause("iec-pen", rules)
    assert bears(line("6 mm2 Cu"), Fault(100, 1), None, rules).clause == clause(
        "iec-withstand", rules
    )
    limit = loop_limit(device("B32"), 0.4, 230, rules)
    assert limit.clause == clause("iec-loop", rules)
    assert limit.status
    time = disconnection_time(230, Earthing.TN_S, 16, rules)
    assert time.clause == clause("iec-disconnection-time", rules)
    for fault in (Fault(100, 6), Fault(100, 0.01)):
        with pytest.raises(CannotTellError) as error:
            by_heat(fault, CU, rules)
        assert error.value.clause == clause("iec-protective-adiabatic", rules)
    with pytest.raises(CannotTellError) as error:
        disconnection_time(50, Earthing.TN_S, 16, rules)
    assert error.value.clause == clause("iec-disconnection-time", rules)
    none = electrode_finding("x", "lead", "rope", rules=rules)
    assert none is not None
    assert none.clause == clause("iec-electrode-size", rules)
    small = electrode_finding("x", "copper-clad steel", "rod", diameter_mm=1, rules=rules)
    assert small is not None
    assert small.clause == clause("iec-electrode-size", rules)


@outside("BS 7671, table 54.8", "confirmed")
def test_electrode_conductors_know_their_supply() -> None:
    """BS 7671 and TN-C-S: not below the bonding by table 54.8, 25 mm2 with a 95 mm2 neutral."""
    supply = SupplyConductors.parse("16 mm2 Cu")
    pme = Supply(Earthing.TN_C_S, line("95 mm2 Cu"))
    assert str(electrode_conductor(supply, pme, CU, BS).size) == published("25 mm2 Cu")
    buried = Burial(corrosion=False, mechanical=False)
    soil = electrode_conductor(
        SupplyConductors.parse("6 mm2 Cu"), Supply(Earthing.TT), CU, BS, buried=buried
    )
    assert str(soil.size) == "25 mm2 Cu"
    assert dict(soil.inputs)["earthing"] == "TT"


def test_sure_statuses_are_the_least_sure_of_their_parts() -> None:
    """2.5 mm2 for strength (from memory) decides; 16 mm2 by table 54.2 alone is confirmed."""
    strong = protective_conductor(line("1.5 mm2 Cu"), laid=Laid.SEPARATE)
    assert strong.status != "confirmed"
    assert protective_conductor(line("16 mm2 Cu"), laid=Laid.SEPARATE).status == "confirmed"


def test_pen_conductors_by_their_insulation() -> None:
    """Copper for 35 mm2 aluminium XLPE lines: 16 x 94 / 143 = 10.52 mm2; PVC 16 x 76 / 115."""
    xlpe = pen_conductor(line("35 mm2 Al"), insulation=Insulation.XLPE_90)
    assert any("16 mm2 x 94 / 143 = 10.52 mm2" in text for text in xlpe.because)
    pvc = pen_conductor(line("35 mm2 Al"))
    assert any("16 mm2 x 76 / 115 = 10.57 mm2" in text for text in pvc.because)


def test_supplementary_bonding_names_both_parts() -> None:
    found = supplementary_bonding(None, line("4 mm2 Cu"))
    assert dict(found.inputs) == {
        "first part": "extraneous",
        "second part": "4 mm2 Cu",
        "conductor metal": "Cu",
    }
    other = supplementary_bonding(line("16 mm2 Cu"), line("25 mm2 Cu"), AL)
    # As tables A.54.2: 16 x 143 / 95 = 24.08 mm2 of aluminium.
    assert any("16 x 143 / 95 = 24.08 mm2" in text for text in other.because)
    assert str(other.size) == "25 mm2 Al"


def test_a_sound_supply_earth_says_its_sum() -> None:
    found = judge_origin("x", Earthing.TN_S, OriginReadings(0.5), BS)
    assert found.because[0] == "230 V / 0.5 ohm = 460 A."
    assert (found.findings, found.opens) == ((), ())


def test_tt_by_overcurrent_says_why_it_cannot() -> None:
    judged = judge_tt("x", 20, device("100 A breaker, curve own"))
    assert any("curve 'own'" in text for text in judged.because)


def test_beyond_the_reach_of_the_formula() -> None:
    """2.5 mm2: 82,656 A2 s; 100 A for 9 s is 90,000, and heat is lost meanwhile."""
    found = bears(line("2.5 mm2 Cu"), Fault(100, 9))
    assert found.verdict is CANNOT
    assert "Beyond 5 s heat is lost meanwhile" in found.because[-1]
    assert bears(line("2.5 mm2 Cu"), Fault(100, 8)).verdict is HOLDS
    # What would be too much within 5 s already is too much: 130^2 x 5 = 84,500.
    assert bears(line("2.5 mm2 Cu"), Fault(130, 9)).verdict is SHORT


def test_factors_of_voltage_have_their_range() -> None:
    for factor_ in (0.0, 1.01):
        with pytest.raises(ValueError, match="factor of"):
            loop_limit(device("B32"), 0.4, cmin=factor_)
    assert loop_limit(device("B32"), 0.4, cmin=1).ohm == pytest.approx(230 / 160)
    assert UnknownFamilyRulesError("bs-7671-2008").name == "bs-7671-2008"
