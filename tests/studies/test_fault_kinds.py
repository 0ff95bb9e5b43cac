"""Every kind of fault against hand calculation, and what must not be called a failure."""

from __future__ import annotations

import math
from typing import Any

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.bands import band
from bondwright.devices.let_through import let_through
from bondwright.devices.residual import residual_band
from bondwright.network.build import Network
from bondwright.rules.answer import Verdict
from bondwright.studies.fault_table import study_many
from bondwright.studies.faults import (
    ARC_V,
    EARTH_FAULT_OHM,
    Fault,
    FaultKind,
    arcing,
    possible_faults,
    study_fault,
    study_faults,
)
from bondwright.studies.reach import farthest
from tests.outside import outside, published
from tests.plan.sites import described
from tests.studies.sites import (
    BENCH,
    BENCH_SOURCE_OHM,
    DELTA_SOURCE,
    DERIVED,
    EMT_AS_EGC,
    OHM_PER_FT,
    UNGROUNDED,
    WHOLE_SITES,
    WYE_SERVICE,
    example,
    network,
)

FAR = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G")
WIRE_OHM = OHM_PER_FT["12 AWG Cu"] * 100
LOOP_OHM = BENCH_SOURCE_OHM + 2 * OHM_PER_FT["6 AWG Cu"] + 2 * WIRE_OHM


def bench(**changes: Any) -> Network:
    return network(BENCH, **changes)


# --- three lines -------------------------------------------------------------------------------


def test_three_lines_at_the_source_by_hand() -> None:
    """14 kA available three-phase, 40 ft of 3/0: every line carries E / |Z1|, and a fault of two
    lines sqrt(3)/2 of it (symmetrical components, C. L. Fortescue 1918)."""
    site = network(WYE_SERVICE)
    three = study_fault(site, Fault("main", FaultKind.THREE_LINES, "L1", "L2", also="L3"))
    two = study_fault(site, Fault("main", FaultKind.LINE_TO_LINE, "L1", "L2"))
    # The three wires lie touching: their loops differ by a few parts in a thousand.
    assert two.current / three.current == pytest.approx(math.sqrt(3) / 2, rel=0.02)
    assert 10_000 < three.current < 14_000
    assert {step.conductor for step in three.path if step.way == "back"} == {"L2", "L3"}


def test_three_lines_through_a_resistance_by_hand() -> None:
    """A star of three resistances far above the source: 120 V / R in every line."""
    site = network(WYE_SERVICE)
    fault = Fault("main", FaultKind.THREE_LINES, "L1", "L2", impedance=10.0, also="L3")
    assert study_fault(site, fault).current == pytest.approx(208 / math.sqrt(3) / 10, rel=5e-3)


# --- earth, and neutral --------------------------------------------------------------------------


@outside("Ohm's law by hand", "computed", unit="A")
def test_earth_is_no_fault_path() -> None:
    """120 V over 25 ohm, the pole's 10 ohm and the rod's 25 ohm side by side with it: no breaker
    opens on the few amperes (NEC 250.4(A)(5): earth is no effective fault path)."""
    result = study_fault(bench(), Fault("far", FaultKind.LINE_TO_EARTH, "L1", "earth", 25.0))
    back = 1 / (1 / 10 + 1 / (25 + OHM_PER_FT["6 AWG Cu"] * 20))
    assert result.current == published(120 / (25 + back + 0.2), rel=3e-3)
    assert result.openings == ()
    assert not result.cleared
    listed = possible_faults(bench(), [FaultKind.LINE_TO_EARTH])
    assert {fault.impedance for fault in listed} == {EARTH_FAULT_OHM}


def test_neutral_on_metal_without_load_is_quiet() -> None:
    """Both are at one potential: nothing flows, nothing opens, and it is no verdict of its own."""
    site = network(WYE_SERVICE)
    result = study_fault(site, Fault("panel", FaultKind.NEUTRAL_TO_METAL, "N", "G"))
    assert result.current < 0.01
    assert result.cleared
    assert result.verdict is Verdict.HOLDS


# --- arcs --------------------------------------------------------------------------------------


@pytest.mark.parametrize("volts", [40.0, 50.0, 80.0])
def test_an_arc_by_hand(volts: float) -> None:
    """A resistance across which the arc's voltage stands, on a loop that is all but resistive:
    I = (E - V) / R."""
    (fault,) = arcing([FAR], volts)
    result = study_fault(bench(), fault)
    assert result.current == pytest.approx((120 - volts) / LOOP_OHM, rel=3e-3)
    assert result.resistance * result.current == pytest.approx(volts, rel=1e-9)


def test_an_arc_goes_out_where_the_circuit_can_not_hold_it() -> None:
    result = study_fault(bench(), Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", arc=130.0))
    assert result.current < 1e-6
    assert math.isinf(result.resistance)


def test_an_arc_in_steel_settles_with_the_wall() -> None:
    site = network(EMT_AS_EGC)
    fault = Fault("panel", FaultKind.LINE_TO_METAL, "L1", "G", arc=ARC_V)
    result = study_fault(site, fault)
    assert result.settled
    assert result.resistance * result.current == pytest.approx(ARC_V, rel=1e-6)
    bolted = study_fault(site, Fault("panel", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert result.current < bolted.current


def test_a_steel_wall_at_its_own_current_changes_the_loop() -> None:
    """It saturates: the current is another than with the wall of weak fields."""
    site = network(EMT_AS_EGC)
    fault = Fault("panel", FaultKind.LINE_TO_METAL, "L1", "G")
    settled, quiet = study_fault(site, fault), study_fault(site, fault, settle=False)
    assert settled.settled
    assert settled.current != pytest.approx(quiet.current, rel=1e-3)
    assert settled.current == pytest.approx(quiet.current, rel=0.5)


# --- ungrounded systems --------------------------------------------------------------------------


def test_the_first_fault_of_an_ungrounded_system_is_no_failure() -> None:
    """It draws next to nothing by intention and is to be reported (NEC 250.21(B): detectors)."""
    site = network(DELTA_SOURCE)
    result = study_fault(site, Fault("motor", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert result.first_of_two
    assert result.cleared
    assert result.verdict is Verdict.HOLDS


def test_a_forgotten_jumper_is_a_failure() -> None:
    """A wye with a neutral isn't ungrounded by intention."""
    result = study_fault(network(UNGROUNDED), Fault("saw", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert not result.first_of_two
    assert result.verdict is Verdict.FALLS_SHORT


def test_the_second_fault_is_a_short_circuit_through_the_metal() -> None:
    """480 V drive it out on one line of 150 ft of 6 AWG and home on its ground conductor; Ohm's
    law with the loop's resistance is an upper bound, the reactance takes a little."""
    site = network(DELTA_SOURCE)
    faults = possible_faults(site, [FaultKind.SECOND_TO_METAL])
    assert {fault.place for fault in faults} == {"main", "motor"}
    fault = next(f for f in faults if f.place == "motor" and (f.a, f.also) == ("L2", "L1"))
    assert fault.also_at == "main"
    result = study_fault(site, fault)
    ground = site.plan.runs["branch"].metal
    assert ground is not None
    loop = 150 * (OHM_PER_FT["6 AWG Cu"] + OHM_PER_FT[f"{ground.size} {ground.material}"])
    assert 0.8 * 480 / loop < result.current < 480 / loop
    assert result.openings
    assert result.cleared
    assert result.touch["motor"] > 50


def test_grounded_systems_have_no_second_faults() -> None:
    assert possible_faults(network(WYE_SERVICE), [FaultKind.SECOND_TO_METAL]) == []
    assert possible_faults(example(), [FaultKind.SECOND_TO_METAL]) == []


# --- transformers --------------------------------------------------------------------------------


def test_primaries_are_listed() -> None:
    faults = [f for f in possible_faults(network(DERIVED)) if f.place == "T1"]
    assert {f.a for f in faults if f.b == "G"} == {"H1", "H2", "H3", "L1", "L2", "L3"}
    assert not [f for f in faults if f.b == "N" and f.a.startswith("H")]


def test_a_fault_at_the_primary_goes_home_on_the_primary_side() -> None:
    """277 V through the primary run's line and ground conductor; the secondary is out of it."""
    result = study_fault(network(DERIVED), Fault("T1", FaultKind.LINE_TO_METAL, "H1", "G"))
    assert [o.device for o in result.openings] == ["device primary"]
    out = [(s.id, s.conductor) for s in result.path if s.way == "out"]
    assert out == [("service", "L1"), ("primary", "L1")]
    assert ("primary", "metal") in {(s.id, s.conductor) for s in result.path if s.way == "back"}
    assert result.cleared


@outside("ampere-turns of a delta-wye transformer", "computed", unit="A")
def test_a_fault_behind_a_transformer_is_seen_by_the_primary() -> None:
    """Delta-wye, one line to the neutral: 1/sqrt(3) of the ratio times the current in two primary
    lines (common practice; ampere-turns of one leg)."""
    site = network(DERIVED)
    result = study_fault(site, Fault("T1", FaultKind.LINE_TO_NEUTRAL, "L1", "N"))
    primary = {f.conductor: f.amperes for f in result.flows if f.id == "primary"}
    lines = sorted(primary[line] for line in ("L1", "L2", "L3"))
    assert lines[0] < 0.01 * lines[2]
    assert lines[1] == published(result.current * 208 / 480 / math.sqrt(3), rel=1e-3)
    assert lines[2] == pytest.approx(lines[1], rel=1e-3)
    out = [s for s in result.path if s.way == "out" and s.id == "primary"]
    assert len(out) == 2


# --- residual devices ----------------------------------------------------------------------------


@outside("UL 943, class A", "confirmed", unit="s")
def test_a_gfci_opens_on_what_a_breaker_never_sees() -> None:
    """120 V through 2 kilohm: 60 mA to metal; the GFCI by UL 943's (20 / I)^1.43, the breaker
    never."""
    fault = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", 2000.0)
    site = bench(runs__branch__device="20 A GFCI breaker", places__far__kind="outlet")
    result = study_fault(site, fault)
    (opening,) = result.openings
    assert opening.residual
    assert opening.current == pytest.approx(0.06, rel=0.01)
    leak = residual_band(DeviceRating.parse("20 A GFCI breaker"))
    assert leak is not None
    assert result.clearing == leak.slowest(opening.current)
    assert result.clearing == published((20 / 60) ** 1.43, rel=0.02)
    assert study_fault(bench(), fault).openings == ()


def test_a_gfci_does_not_see_a_fault_to_the_neutral() -> None:
    """What goes out comes back through the device."""
    fault = Fault("far", FaultKind.LINE_TO_NEUTRAL, "L1", "N", 2000.0)
    site = bench(runs__branch__device="20 A GFCI breaker", places__far__kind="outlet")
    assert study_fault(site, fault).openings == ()


def test_ground_fault_protection_of_a_service_sees_past_its_own_tie() -> None:
    """The fault comes home by the tie and the service's neutral; a sensor ahead of the tie would
    see it cancel out."""
    main = (
        "1200 A electronic breaker, long 1 12 s, short 9 kA 0.3 s, instantaneous 12 kA, "
        "ground fault 400 A 0.1 s"
    )
    site = network(
        WYE_SERVICE,
        places__main__main=main,
        places__panel__main="600 A fuse",
        runs__feeder__device="600 A fuse",
    )
    fault = Fault("panel", FaultKind.LINE_TO_METAL, "L1", "G")
    result = study_fault(site, fault)
    assert result.current > 800
    assert result.openings[0].device == "main main"
    assert result.openings[0].residual
    assert result.openings[0].current == pytest.approx(result.current, rel=0.05)
    neutral = study_fault(site, Fault("panel", FaultKind.LINE_TO_NEUTRAL, "L1", "N"))
    assert not neutral.openings[0].residual


# --- what can't be told --------------------------------------------------------------------------


SLOW = {"runs__branch__length": "300 ft"}
"""12 AWG, 600 ft there and back: about 100 A, five times the rating of a 20 A breaker."""


def test_a_breaker_of_unknown_curve_that_may_be_quick_is_no_verdict() -> None:
    result = study_fault(bench(**SLOW), FAR)
    curve = band(DeviceRating.parse("20 A breaker"))
    assert curve.fastest(result.current) < 5 < curve.slowest(result.current)
    assert result.clearing > 5
    assert result.verdict is Verdict.CANNOT_TELL
    assert any("20 A breaker at main" in text for text in result.missing)


@pytest.mark.parametrize("device", ["20 A fuse", "C20", "20 A breaker, instantaneous 200 A"])
def test_devices_with_gates_of_their_own_fall_short(device: str) -> None:
    """Gates of IEC 60898-1 and IEC 60269-1, or a known setting: slow is slow."""
    length = {"20 A fuse": "500 ft", "C20": "300 ft"}.get(device, "300 ft")
    result = study_fault(bench(runs__branch__device=device, runs__branch__length=length), FAR)
    assert result.clearing > 5
    assert result.missing == ()
    assert result.verdict is Verdict.FALLS_SHORT


def test_a_fuse_that_limits_is_judged_by_what_it_lets_through() -> None:
    """A class J fuse at 10 kA: the class's limit of energy (UL 248-8), not the current that would
    flow without it."""
    site = bench(
        runs__branch={
            "from": "main",
            "to": "far",
            "length": "1 ft",
            "lines": "12 AWG Cu",
            "egc": "12 AWG Cu",
            "device": "30 A class J fuse",
        },
        sources__bench__available={"current": "50 kA", "x/r": 0.001},
        runs__supply__lines="500 kcmil Cu",
    )
    result = study_fault(site, FAR)
    limit = let_through(DeviceRating.parse("30 A class J fuse"), result.openings[0].current)
    assert limit is not None
    assert result.heat is not None
    assert result.heat.basis == "let-through"
    assert result.heat.i2t == pytest.approx(limit.i2t, rel=1e-6)
    assert result.heat.verdict is Verdict.HOLDS


# --- touch ---------------------------------------------------------------------------------------


def test_the_most_between_two_pieces_of_metal() -> None:
    """The bench's ground conductor has its two ends at two places: the drop along it."""
    result = study_fault(bench(), FAR)
    assert result.pair is not None
    assert {result.pair.a, result.pair.b} == {"main", "far"}
    assert result.pair.verdict.voltage_v == pytest.approx(120 / LOOP_OHM * WIRE_OHM, rel=3e-3)


def test_the_farthest_points_are_those_of_all_pairs() -> None:
    points = [(str(k), complex(math.cos(k * 2.4) * k, math.sin(k * 1.7) * 3)) for k in range(60)]
    found = farthest(points)
    assert found is not None
    by_hand = max(abs(a - b) for _, a in points for _, b in points)
    assert found[0] == pytest.approx(by_hand, rel=1e-12)
    assert farthest(points[:1]) is None
    assert farthest([("a", 1j), ("b", 1j)]) == (0.0, "a", "b")


@pytest.mark.parametrize("name", WHOLE_SITES)
def test_no_pair_has_more_than_both_have_to_earth(name: str) -> None:
    """Triangle inequality."""
    for result in study_faults(network(WHOLE_SITES[name]), settle=False):
        if result.pair is not None:
            ends = result.touch[result.pair.a] + result.touch[result.pair.b]
            assert result.pair.verdict.voltage_v <= ends * (1 + 1e-9) + 1e-9


# --- errors --------------------------------------------------------------------------------------


def test_a_terminal_that_is_not_there_is_named() -> None:
    with pytest.raises(ValueError, match="there is no terminal 'far:L3'"):
        study_fault(bench(), Fault("far", FaultKind.LINE_TO_METAL, "L3", "G"))


def test_a_place_without_metal_has_faults_between_lines() -> None:
    base = described(BENCH, places__far={"kind": "box", "enclosure": "nonmetallic"})
    base["runs"]["branch"]["egc"] = "none"
    site = network(base)
    result = study_fault(site, Fault("far", FaultKind.LINE_TO_NEUTRAL, "L1", "N"))
    assert result.live_after == 0
    assert result.current == pytest.approx(120 / LOOP_OHM, rel=5e-3)


# --- a site's own curves -------------------------------------------------------------------------


def test_a_device_with_its_makers_curve_is_judged_by_it() -> None:
    """The same slow loop as above: by the sheet the breaker opens at five times its rating within
    40 ms, so nothing is left open."""
    edge = {
        "quick": [
            {"current": "30 A", "time": "60 s"},
            {"current": "70 A", "time": "10 s"},
            {"current": "70 A", "time": "4 ms"},
        ],
        "slow": [
            {"current": "40 A", "time": "300 s"},
            {"current": "90 A", "time": "20 s"},
            {"current": "90 A", "time": "40 ms"},
        ],
    }
    site = bench(curves={"sheet": edge}, runs__branch__device="20 A breaker, curve sheet", **SLOW)
    result = study_fault(site, FAR)
    assert result.clearing == 0.04
    assert result.missing == ()
    assert result.verdict is Verdict.HOLDS
    assert study_many(site, [FAR]).clearing.tolist() == [0.04]
