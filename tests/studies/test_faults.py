"""Faults against hand calculation: Ohm's law on thin wires, and the bookkeeping of what opens."""

from __future__ import annotations

import math
from typing import Any

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.devices.bands import band
from bondwright.network.build import Network
from bondwright.rules.answer import Verdict
from bondwright.safety.touch import touch_limit
from bondwright.studies.faults import (
    Fault,
    FaultKind,
    FaultResult,
    possible_faults,
    study_fault,
    study_faults,
)
from bondwright.studies.flows import Carrier
from tests.outside import outside, published
from tests.plan.sites import described
from tests.studies.sites import (
    BENCH,
    BENCH_SOURCE_OHM,
    DELTA_SOURCE,
    DERIVED,
    OHM_PER_FT,
    PIPE_BESIDE,
    SUBPANEL,
    UNGROUNDED,
    WHOLE_SITES,
    WYE_SERVICE,
    example,
    network,
)

FAR = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G")
SUPPLY_OHM = OHM_PER_FT["6 AWG Cu"] * 1
WIRE_OHM = OHM_PER_FT["12 AWG Cu"] * 100
LOOP_OHM = BENCH_SOURCE_OHM + 2 * SUPPLY_OHM + 2 * WIRE_OHM


def bench(**changes: Any) -> Network:
    return network(BENCH, **changes)


# --- Ohm's law ---------------------------------------------------------------------------------


@outside("NEC chapter 9, table 8, and Ohm's law by hand", "computed", unit="A")
def test_current_by_hand() -> None:
    """120 V / (0.01 + 2 x 0.000491 + 2 x 0.198 ohm) = 294.9 A (NEC Chapter 9 Table 8)."""
    result = study_fault(bench(), FAR)
    assert pytest.approx(294.9, rel=1e-3) == 120 / LOOP_OHM
    assert result.current == published(120 / LOOP_OHM, rel=2e-3)
    assert result.loop == pytest.approx(LOOP_OHM, rel=2e-3)
    # 2 x 100 ft of touching 12 AWG have about 0.01 ohm of reactance: a few degrees.
    assert 0 < result.angle < 5


def test_line_to_neutral_by_hand() -> None:
    """The neutral is as thick as the line: the same loop."""
    site = network(BENCH, places__far__kind="outlet")
    result = study_fault(site, Fault("far", FaultKind.LINE_TO_NEUTRAL, "L1", "N"))
    assert result.current == pytest.approx(120 / LOOP_OHM, rel=2e-3)


def test_a_fault_through_an_impedance_by_hand() -> None:
    """Two ohm at the fault: 120 / (0.407 + 2)."""
    result = study_fault(bench(), Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", 2.0))
    assert result.current == pytest.approx(120 / (LOOP_OHM + 2), rel=2e-3)


def test_touch_voltage_is_the_ground_conductors_share_of_the_loop() -> None:
    """I x R of the equipment grounding conductor, and of the supply neutral's earth share."""
    result = study_fault(bench(), FAR)
    amperes = 120 / LOOP_OHM
    # The supply neutral's small drop divides between the rod (25 ohm) and the pole (10 ohm).
    at_main = amperes * SUPPLY_OHM * 25 / 35
    assert result.worst_place == "far"
    assert result.touch["far"] == pytest.approx(amperes * WIRE_OHM + at_main, rel=2e-3)
    assert result.touch["main"] == pytest.approx(at_main, rel=2e-2)
    assert result.touch_verdict.limit_v == touch_limit(result.clearing)


def test_a_thinner_ground_conductor_takes_the_larger_share() -> None:
    """14 AWG back, 12 AWG out: 120 x 0.314 / (0.314 + 0.198 + ...)."""
    result = study_fault(bench(runs__branch__egc="14 AWG Cu"), FAR)
    back = OHM_PER_FT["14 AWG Cu"] * 100
    loop = BENCH_SOURCE_OHM + 2 * SUPPLY_OHM + WIRE_OHM + back
    assert result.current == pytest.approx(120 / loop, rel=3e-3)
    assert result.touch["far"] == pytest.approx(120 * back / loop, rel=3e-3)


def test_every_answer_carries_its_residuals() -> None:
    for result in study_faults(example()):
        assert result.residuals.kirchhoff < 1e-9
        assert result.residuals.power < 1e-9


# --- the tie -----------------------------------------------------------------------------------


def test_without_the_tie_nothing_trips_and_the_metal_stays_live() -> None:
    """By hand: 120 V over the rod (25 ohm and its lead) and the pole's ground (10 ohm).

    3.4 A open no 20 A breaker; the metal stands at 120 x 25 / 35 = 86 V for good.
    """
    site = bench()
    result = study_fault(site, FAR, [site.solver.open_switch("tie bond")])
    lead = OHM_PER_FT["6 AWG Cu"] * 20
    path = 35 + lead + BENCH_SOURCE_OHM + SUPPLY_OHM + 2 * WIRE_OHM
    assert result.current == pytest.approx(120 / path, rel=1e-3)
    assert not result.cleared
    assert result.openings == ()
    assert math.isinf(result.clearing)
    assert math.isinf(result.fastest)
    assert result.verdict is Verdict.FALLS_SHORT
    far = 120 / path * (25 + lead + WIRE_OHM)
    assert result.live_after == pytest.approx(far, rel=1e-3)
    assert result.touch["far"] == pytest.approx(far, rel=1e-3)
    assert result.touch_verdict.verdict == "dangerous"


def test_with_the_tie_the_breaker_opens_and_the_metal_is_dead() -> None:
    result = study_fault(bench(), FAR)
    assert result.cleared
    assert result.verdict is Verdict.HOLDS
    assert result.live_after < 0.1
    assert [opening.device for opening in result.openings] == ["device branch"]


@pytest.mark.parametrize("rod", [5, 25, 100])
@outside("Ohm's law by hand", "computed", unit="V")
def test_a_rod_is_no_fault_path(rod: float) -> None:
    """However good the rod, the breaker stays closed (common practice; Ohm's law)."""
    site = bench(electrodes__rod__resistance=f"{rod} ohm")
    result = study_fault(site, FAR, [site.solver.open_switch("tie bond")])
    assert not result.cleared
    assert result.live_after == published(120 * rod / (rod + 10), rel=0.02)


def test_an_ungrounded_system_draws_no_current_at_the_first_fault() -> None:
    """Delta source: the lines stand at 277 V to earth, the faulted line comes to the metal."""
    site = network(DELTA_SOURCE)
    result = study_fault(site, Fault("motor", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert result.current < 0.01
    assert result.openings == ()
    assert result.live_after < 1


def test_a_forgotten_system_bonding_jumper() -> None:
    """The derived system floats: a line-to-metal fault draws next to nothing; nothing opens."""
    fault = Fault("saw", FaultKind.LINE_TO_METAL, "L1", "G")
    assert study_fault(network(UNGROUNDED), fault).current < 0.01
    with_jumper = study_fault(network(DERIVED), fault)
    assert with_jumper.current > 300
    assert with_jumper.verdict is Verdict.HOLDS


# --- who opens, when ---------------------------------------------------------------------------


def test_times_are_those_of_the_devices_band() -> None:
    """20 A at 295 A: over 1.25 x 10 x 20 A, so at once (common practice, UL 489 breakers)."""
    result = study_fault(bench(), FAR)
    (opening,) = result.openings
    curve = band(DeviceRating.parse("20 A breaker"))
    assert opening.slowest == curve.slowest(opening.current) == result.clearing
    assert opening.fastest == curve.fastest(opening.current) == result.fastest
    assert opening.current == pytest.approx(result.current, rel=1e-6)


def test_a_slow_clearing_falls_short() -> None:
    """30 A breaker, 700 ft of 10 AWG: about 68 A, over a minute by the slow edge."""
    site = bench(
        runs__branch__length="700 ft",
        runs__branch__lines="10 AWG Cu",
        runs__branch__egc="10 AWG Cu",
        runs__branch__device="30 A breaker",
    )
    result = study_fault(site, FAR)
    loop = BENCH_SOURCE_OHM + 2 * SUPPLY_OHM + 2 * 700 * OHM_PER_FT["10 AWG Cu"]
    assert result.current == pytest.approx(120 / loop, rel=3e-3)
    assert result.cleared
    assert result.clearing > 5
    assert result.verdict is Verdict.FALLS_SHORT


def test_of_equals_the_device_nearest_the_fault_opens() -> None:
    """A big fault: main and branch both trip at once by their bands; the branch is told."""
    site = bench(runs__branch__length="5 ft", places__main__main="20 A breaker")
    result = study_fault(site, FAR)
    assert [opening.device for opening in result.openings] == ["device branch"]


def test_of_equals_in_different_panels_the_one_farthest_out_opens() -> None:
    """Three 20 A breakers in a row all trip at once by their bands; a fault past the last."""
    site = network(
        SUBPANEL,
        places__main__main="20 A breaker",
        runs__feeder__device="20 A breaker",
        places__sub__main="20 A breaker",
        ties={"bond": {"at": "main", "by": "screw"}},
    )
    result = study_fault(site, Fault("sub", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert result.current > 250
    assert [opening.device for opening in result.openings] == ["main sub"]


def test_the_quicker_upstream_device_opens_first() -> None:
    """A main smaller than its branch device opens before it."""
    site = bench(places__main__main="15 A breaker", runs__branch__device="60 A breaker")
    result = study_fault(site, FAR)
    assert [opening.device for opening in result.openings] == ["main main"]


def test_a_breaker_opens_all_its_poles_and_a_fuse_one() -> None:
    fault = Fault("motor", FaultKind.LINE_TO_LINE, "L1", "L2")
    (fuse,) = study_fault(network(DELTA_SOURCE), fault).openings
    assert len(fuse.lines) == 1
    (breaker,) = study_fault(
        network(DELTA_SOURCE, runs__branch__device="60 A breaker"), fault
    ).openings
    assert breaker.lines == ("L1", "L2", "L3")


WYE_DELTA = described(
    DERIVED,
    sources__utility__available={"current": "500 kA"},
    transformers__T1={
        "primary": "480Y/277 V",
        "secondary": "240 V delta",
        "rating": "45 kVA",
        "impedance": "5 %",
    },
    runs__primary={
        "from": "main",
        "to": "T1",
        "length": "1 ft",
        "lines": "2 AWG Cu",
        "device": "100 A fuse",
    },
    runs__service__length="1 ft",
    places__LP={"kind": "panel", "main": "125 A"},
    places__saw={"kind": "equipment"},
)
"""A grounded wye primary feeds a short circuit on its delta through the other two legs too."""


def test_the_time_a_fuse_has_already_spent_counts() -> None:
    """Three windings behind fuses, one shorted: its fuse carries twice what the others do.

    Hand calculation on a stiff supply: the shorted leg takes S / (3 V z), the two others in
    series half of it each. When the first fuse has gone the others drive on, and have used up
    t1 / t of their own time; the second fuse is not credited with the first one's melting.
    """
    result = study_fault(network(WYE_DELTA), Fault("T1", FaultKind.LINE_TO_LINE, "L1", "L2"))
    leg = 45_000 / 3 / 240 / 0.05 * 240 / (480 / math.sqrt(3))
    first, second = result.openings
    assert first.lines == ("L1",)
    assert first.current == pytest.approx(leg, rel=0.03)
    assert second.current == pytest.approx(leg / 2, rel=0.03)
    assert second.lines in {("L2",), ("L3",)}
    curve = band(DeviceRating.parse("100 A fuse"))
    t1 = curve.slowest(first.current)
    assert first.slowest == pytest.approx(t1, rel=1e-9)
    assert t1 > 0.2
    # Its current hardly changes when the first one opens, so the whole melting time stands.
    assert second.slowest == pytest.approx(curve.slowest(second.current), rel=0.05)
    assert second.slowest > 5
    assert first.fastest <= second.fastest <= second.slowest
    assert result.cleared
    assert result.clearing == second.slowest


def test_openings_are_in_order_and_no_quick_edge_is_slower_than_the_slow_one() -> None:
    for name, base in WHOLE_SITES.items():
        for result in study_faults(network(base)):
            times = [opening.slowest for opening in result.openings]
            assert times == sorted(times), name
            assert all(o.fastest <= o.slowest for o in result.openings), name
            assert result.cleared == math.isfinite(result.clearing), name


# --- what can't be told ------------------------------------------------------------------------


def test_a_device_without_known_limits_is_no_verdict() -> None:
    """Fuses beyond the table of gates (1250 A): it may open, nobody here can say."""
    site = network(
        BENCH,
        sources__bench__available={"current": "50 kA", "x/r": 0.001},
        runs__branch={
            "from": "main",
            "to": "far",
            "length": "10 ft",
            "lines": "500 kcmil Cu",
            "egc": "500 kcmil Cu",
            "device": "2000 A fuse",
        },
        runs__supply__lines="500 kcmil Cu",
        places__main__main="2000 A fuse",
    )
    result = study_fault(site, FAR)
    assert result.current > 2000
    assert not result.cleared
    assert set(result.unknown) == {"main main", "device branch"}
    assert result.verdict is Verdict.CANNOT_TELL


def test_ahead_of_every_device_nothing_can_be_told() -> None:
    """Between pole and main only the utility's device opens; its curve is not ours to know."""
    for result in study_faults(example(), possible_faults(example())):
        ahead = result.fault.place == "meter"
        assert result.supply_side is ahead
        if ahead:
            assert result.verdict is Verdict.CANNOT_TELL
            assert result.openings == ()


def test_a_tie_off_is_no_excuse_past_the_main() -> None:
    """A load-side fault that doesn't clear falls short; it isn't 'cannot tell'."""
    site = bench()
    result = study_fault(site, FAR, [site.solver.open_switch("tie bond")])
    assert not result.supply_side
    assert result.unknown == ()


# --- the way told ------------------------------------------------------------------------------


def steps(result: FaultResult, way: str) -> list[tuple[str, str]]:
    return [(step.id, step.conductor) for step in result.path if step.way == way]


def test_the_way_out_and_the_way_back() -> None:
    result = study_fault(bench(), FAR)
    assert steps(result, "out") == [("supply", "L1"), ("branch", "L1")]
    assert steps(result, "back") == [("branch", "metal"), ("bond", "tie"), ("supply", "N")]
    ways = [step.way for step in result.path]
    assert ways == sorted(ways, key=["out", "back"].index)
    assert all(step.share == pytest.approx(1, abs=1e-3) for step in result.path)


def test_the_way_back_without_a_tie_is_the_rod() -> None:
    site = bench()
    result = study_fault(site, FAR, [site.solver.open_switch("tie bond")])
    assert steps(result, "back") == [("branch", "metal"), ("rod", "electrode conductor")]


def test_the_way_back_of_a_line_to_line_fault_is_the_other_line() -> None:
    result = study_fault(example(), Fault("well pump", FaultKind.LINE_TO_LINE, "L1", "L2"))
    runs = ["service drop", "service entrance", "pump house feeder", "pump branch"]
    assert steps(result, "out") == [(run, "L1") for run in runs]
    assert steps(result, "back") == [(run, "L2") for run in reversed(runs)]


def test_parallel_ways_back_are_all_told_and_add_up() -> None:
    """Kirchhoff: wire, pipe and frame bring the fault current home together."""
    site = network(PIPE_BESIDE)
    result = study_fault(site, Fault("panel", FaultKind.LINE_TO_METAL, "L1", "G"))
    back = {id for id, _ in steps(result, "back")}
    assert {"feeder", "pipe"} <= back
    home = sum(
        flow.current
        for flow in result.flows
        if (flow.id == "feeder" and flow.terminal == "G")
        or (flow.id, flow.carrier) == ("pipe", Carrier.METAL)
    )
    # The frame goes past the panel to the press, and back along the branch's own ground.
    branch = next(f for f in result.flows if f.id == "branch" and f.terminal == "G")
    assert abs(home - branch.current) == pytest.approx(result.current, rel=1e-6)


# --- heat --------------------------------------------------------------------------------------


def icea(wire: str, i2t: float, start: float = 75.0) -> float:
    """Return the end temperature by ICEA P-32-382, degC (copper constants confirmed)."""
    c, k = {"Cu": (0.0297, 234), "Al": (0.0125, 228)}[wire[-2:]]
    area = Conductor.parse(wire).area_cmil
    return float((start + k) * 10 ** (i2t / (area**2 * c)) - k)


def test_heat_by_the_published_formula() -> None:
    result = study_fault(bench(runs__branch__egc="14 AWG Cu", runs__branch__length="50 ft"), FAR)
    assert result.heat is not None
    assert (result.heat.id, result.heat.conductor) == ("branch", "metal")
    i2t = result.current**2 * result.clearing
    assert result.heat.i2t == pytest.approx(i2t, rel=1e-6)
    assert result.heat.temperature == pytest.approx(icea("14 AWG Cu", i2t), rel=1e-6)
    assert result.heat.verdict is Verdict.HOLDS


def test_a_conductor_that_may_get_too_hot_is_no_verdict() -> None:
    """6 AWG for 25 ms at 10.9 kA: about 200 degC, over the 150 degC of its insulation; but in so
    short a time a breaker that limits the current lets less through (common practice)."""
    result = study_fault(bench(), Fault("main", FaultKind.LINE_TO_NEUTRAL, "L1", "N"))
    assert result.heat is not None
    assert result.heat.temperature == pytest.approx(icea("6 AWG Cu", result.heat.i2t), rel=1e-6)
    assert 150 < result.heat.temperature < 250
    assert result.heat.verdict is result.verdict is Verdict.CANNOT_TELL


def test_a_conductor_that_melts_falls_short() -> None:
    """A ground far too thin behind a big slow fuse: past the 1083 degC at which copper melts,
    where a temperature would mean nothing any more."""
    site = bench(
        runs__branch={
            "from": "main",
            "to": "far",
            "length": "40 ft",
            "lines": "2 AWG Cu",
            "egc": "14 AWG Cu",
            "device": "100 A fuse",
        },
        places__main__main="400 A breaker",
    )
    result = study_fault(site, FAR)
    assert result.cleared
    assert result.heat is not None
    assert result.heat.size == "14 AWG Cu"
    assert icea("14 AWG Cu", result.heat.i2t) > 1083
    assert math.isinf(result.heat.temperature)
    assert result.heat.verdict is Verdict.FALLS_SHORT
    assert result.verdict is Verdict.FALLS_SHORT


# --- which faults ------------------------------------------------------------------------------


def test_every_fault_of_every_kind_is_asked() -> None:
    """208Y/120 V: at a place with neutral 3 + 3 + 3 faults; the source's own place has none."""
    faults = possible_faults(network(WYE_SERVICE))
    at_main = [fault for fault in faults if fault.place == "main"]
    assert len(at_main) == 9
    assert len(set(faults)) == len(faults)
    assert {fault.place for fault in faults} == {"main", "panel", "press"}
    assert str(at_main[-1]) == "L3 to metal at main"


def test_symmetry_of_the_two_halves() -> None:
    """120/240 V: L1 and L2 are alike, so are their faults."""
    of = {(r.fault.place, r.fault.a): r for r in study_faults(
        example(), possible_faults(example(), [FaultKind.LINE_TO_METAL]))}  # fmt: skip
    for (place, line), result in of.items():
        other = of[place, "L2" if line == "L1" else "L1"]
        assert result.current == pytest.approx(other.current, rel=1e-3)


def test_electrodes_carry_only_a_little_of_a_fault() -> None:
    """Earth is no fault path: under 1 % of the current at the example's pump."""
    result = study_fault(example(), Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
    for flow in result.flows:
        if flow.carrier is Carrier.ELECTRODE:
            assert flow.amperes < 0.01 * result.current
