"""Field tests: what the readings say, and what they don't."""

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.earth_data import Accuracy
from bondwright.earth.clamp import clamp_accuracy, clamp_reading, judge_clamp
from bondwright.earth.fall import (
    GOLDEN,
    FallTest,
    expected_curve,
    judge_fall,
    slope_place,
    true_place,
)
from bondwright.earth.judged import CAUTION, Judged, Verdict, against, said
from bondwright.earth.readings import (
    Asked,
    BondReading,
    LoopTester,
    judge_bond,
    judge_loop,
    judge_soil_box,
    judge_tt,
    judge_two_point,
    temperature_factor,
)
from bondwright.earth.shapes import grid, rod
from bondwright.earth.soil import Soil
from bondwright.earth.system import solve
from tests.outside import outside, published

PLACES = np.array([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9])


def half_ball(rho: float, radius: float, far: float, x: Any) -> Any:
    """R + rho / 2 pi (1/(D-x) - 1/x - 1/D): elementary; MIL-HDBK-419A vol. I 2.7 has the same."""
    true = rho / (2 * math.pi * radius)
    return true + rho / (2 * math.pi) * (1 / (far - x) - 1 / x - 1 / far)


def fall(far: float, curve: Any, widest: float | None = None) -> FallTest:
    return FallTest(tuple(PLACES * far), tuple(map(float, curve)), far, widest)


# --- fall of potential ------------------------------------------------------------------------


@outside("fall of potential beside a half ball", "computed", unit="ohm")
def test_golden_place() -> None:
    # 1/(D-x) = 1/x + 1/D at x/D = (sqrt 5 - 1)/2 (derived)
    assert pytest.approx(0.61803, abs=1e-5) == GOLDEN
    # half ball of 1 m, 100 ohm m, D 100 m: at 50 m the reading is 0.1592 ohm low (computed)
    error = half_ball(100, 1, 100, 50) - 100 / (2 * math.pi)
    assert error == published(-0.1592, rel=0.01)
    assert half_ball(100, 1, 100, 100 * GOLDEN) == pytest.approx(100 / (2 * math.pi))


@given(st.floats(10, 2000), st.floats(0.1, 1.0), st.floats(40, 200))
def test_a_good_curve_gives_the_truth(rho: float, radius: float, far: float) -> None:
    true = rho / (2 * math.pi * radius)
    found = judge_fall(fall(far, half_ball(rho, radius, far, PLACES * far)))
    assert found.fitted_ohm == pytest.approx(true)
    if found.plateau_real:
        judged = found.judged
        assert judged.value_ohm == pytest.approx(true, rel=0.01)
        assert judged.uncertainty_ohm is not None
        assert abs((judged.value_ohm or 0) - true) < judged.uncertainty_ohm
    assert found.slope_ohm == pytest.approx(true, rel=0.02)


def test_plateau_is_checked() -> None:
    good = judge_fall(fall(50, half_ball(100, 0.5, 50, PLACES * 50)), 40)
    assert good.plateau_real
    assert good.judged.verdict is Verdict.HOLDS
    near = judge_fall(fall(20, half_ball(100, 2, 20, PLACES * 20)), 40)
    assert not near.plateau_real
    assert near.judged.value_ohm is None
    assert near.judged.verdict is Verdict.CANNOT_TELL
    assert "Take it farther out" in " ".join(near.judged.words)
    assert near.judged.caution == CAUTION


@pytest.mark.parametrize(
    ("goal", "verdict"),
    [
        (25, Verdict.FALLS_SHORT),
        (32, Verdict.CANNOT_TELL),
        (40, Verdict.HOLDS),
        (None, Verdict.CANNOT_TELL),
    ],
)
def test_fall_against_a_goal(goal: float | None, verdict: Verdict) -> None:
    # 31.8 ohm
    found = judge_fall(fall(50, half_ball(100, 0.5, 50, PLACES * 50)), goal)
    assert found.judged.verdict is verdict


def test_falling_curve_has_no_value() -> None:
    readings = [5.0, 9, 11, 12, 12.2, 12, 11.8, 11.9, 13]
    readings[5] = 10.5
    found = judge_fall(fall(50, readings))
    assert found.judged.value_ohm is None
    assert "buried metal" in " ".join(found.judged.words)


def test_wide_electrode_near_pin_is_told() -> None:
    found = judge_fall(fall(50, half_ball(100, 0.5, 50, PLACES * 50), 20))
    assert any("2.5 times" in word for word in found.judged.words)


def test_three_readings_on_one_side() -> None:
    found = judge_fall(FallTest((5, 10, 15), (8, 9, 9.5), 50))
    assert found.judged.verdict is Verdict.CANNOT_TELL
    assert found.plateau is None
    assert found.at_golden_ohm is None


@pytest.mark.parametrize(
    ("soil", "low", "high"),
    [
        (Soil.uniform(100), 0.612, 0.619),
        # over rock or over wet ground 61.8 % is wrong
        (Soil.two_layer(100, 1000, 3), 0.67, 0.80),
        (Soil.two_layer(1000, 100, 6), 0.40, 0.60),
    ],
)
def test_where_the_rule_does_not_hold(soil: Soil, low: float, high: float) -> None:
    system = solve(soil, [rod("r", (0, 0), 3, 0.016)])
    place = true_place(system, ["r"], (0, 0), (1, 0), 30)
    assert place is not None
    assert low < place < high
    curve = expected_curve(system, ["r"], (0, 0), (1, 0), 30, [place * 30])
    assert curve[0] == pytest.approx(system.alone("r"), rel=1e-3)


def test_simulated_curve_is_judged_right() -> None:
    system = solve(Soil.uniform(150), [rod("r", (0, 0), 2.4, 0.016)])
    curve = expected_curve(system, ["r"], (0, 0), (0, 1), 40, PLACES * 40)
    found = judge_fall(fall(40, curve, 2.4))
    assert found.judged.value_ohm == pytest.approx(system.alone("r"), rel=0.005)
    # a grid measured from its edge with a near pin: the plateau check refuses it
    wide = solve(Soil.uniform(150), [grid("g", (0, 0), (20, 20), (4, 4), 0.5, 0.01)])
    curve = expected_curve(wide, ["g"], (20, 10), (100, 10), 30, PLACES * 30)
    assert not judge_fall(fall(30, curve, 28)).plateau_real


@outside("G. F. Tagg, slope method", "memory")
def test_slope_method() -> None:
    # a half ball whose centre is where distances start: 61.8 %
    def at(x: float) -> float:
        return 1 / (1 - x) - 1 / x

    slope = (at(0.6) - at(0.4)) / (at(0.4) - at(0.2))
    assert slope_place(slope) == pytest.approx(GOLDEN)
    # G. F. Tagg's printed table begins with 0.643 at a slope of 0.40 (from memory)
    assert slope_place(0.40) == published(0.643, abs=1e-3)
    assert slope_place(0.0) is None
    assert slope_place(9.0) is None
    # a wide electrode clamped at its edge: the method finds its way where 61.8 % is wrong
    wide = solve(Soil.uniform(150), [grid("g", (0, 0), (20, 20), (4, 4), 0.5, 0.01)])
    true = wide.alone("g")
    curve = expected_curve(wide, ["g"], (20, 10), (100, 10), 100, PLACES * 100)
    found = judge_fall(fall(100, curve, 28))
    assert found.slope_ohm is not None
    assert found.at_golden_ohm is not None
    assert abs(found.slope_ohm - true) < abs(found.at_golden_ohm - true)
    assert found.slope_ohm == pytest.approx(true, rel=0.02)


@pytest.mark.parametrize(
    ("args", "match"),
    [
        (((5, 10), (1, 2), 50), "three readings"),
        (((5, 10, 15), (1, 2), 50), "3 distances but 2 readings"),
        (((5, 15, 10), (1, 2, 3), 50), "rising order"),
        (((5, 10, 60), (1, 2, 3), 50), "between the electrode and the current pin"),
        (((5, 10, 20), (1, -2, 3), 50), "reading of -2"),
        (((5, 10, 20), (1, math.nan, 3), 50), "reading of nan"),
        (((5, 10, 20), (1, 2, 3), 0), "current pin of 0"),
    ],
)
def test_bad_fall(args: tuple[Any, ...], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        FallTest(*args)


# --- stakeless clamp --------------------------------------------------------------------------


@outside("published article on the stakeless method", "one-source", unit="ohm")
def test_six_rods_and_two() -> None:
    # published article on the stakeless method: six rods of 10 ohm read 12, two read 20
    assert clamp_reading(10, [10] * 5) == published(12, rel=1e-6)
    assert clamp_reading(10, [10]) == published(20, rel=1e-6)
    assert clamp_reading(10, []) == math.inf


@pytest.mark.parametrize(
    ("reading", "part"),
    # calibration table of a stakeless clamp (one-source): 21.5 % at 0.1 ohm, 11.7 % at 600 ohm,
    # about 2.7 % at 25 ohm
    [(0.1, 0.215), (1, 0.065), (10, 0.025), (24.6, 0.0272), (50, 0.021), (100, 0.02), (200, 0.035),
     (400, 0.0625), (600, 0.1167), (1000, 0.2)],
)  # fmt: skip
@outside("calibration table of a stakeless clamp", "one-source", unit="of the reading")
def test_clamp_accuracy(reading: float, part: float) -> None:
    assert clamp_accuracy(reading).of(reading) / reading == published(part, rel=0.01)


def test_24_6_ohm_is_no_proof_of_25() -> None:
    found = judge_clamp(24.6, 25)
    assert found.verdict is Verdict.CANNOT_TELL
    assert "Not proven under 25 ohm" in " ".join(found.words)
    assert judge_clamp(24.0, 25).verdict is Verdict.HOLDS


@pytest.mark.parametrize("reading", [0.05, 0.3, 0.99])
def test_metal_loop(reading: float) -> None:
    found = judge_clamp(reading, 25)
    assert found.value_ohm is None
    assert found.verdict is Verdict.CANNOT_TELL
    assert "a loop of metal, not earth" in found.words[0]


def test_one_rod_alone_is_over_range() -> None:
    for reading in (math.inf, clamp_reading(10, []), 5000.0):
        found = judge_clamp(reading, 25)
        assert found.value_ohm is None
        assert "Over range" in found.words[0]
    assert "nobody listed" in " ".join(judge_clamp(30, 25, 1).words)


def test_clamp_reads_high_so_high_proves_nothing() -> None:
    assert judge_clamp(27, 25).verdict is Verdict.CANNOT_TELL
    # of six alike, 27 is 22.5
    assert judge_clamp(27, 25, 6).verdict is Verdict.CANNOT_TELL
    # of six alike, 60 is 50: more than 25 however it is read
    assert judge_clamp(60, 25, 6).verdict is Verdict.FALLS_SHORT
    assert judge_clamp(12, None, 6).verdict is Verdict.CANNOT_TELL
    assert "about 10 ohm" in " ".join(judge_clamp(12, 25, 6).words)


@given(st.floats(1, 500), st.lists(st.floats(1, 500), min_size=1, max_size=8))
def test_clamp_never_reads_low(own: float, others: list[float]) -> None:
    reading = clamp_reading(own, others)
    assert reading > own
    found = judge_clamp(reading, own * 0.5)
    assert found.verdict is not Verdict.HOLDS


# --- two points -------------------------------------------------------------------------------


def test_two_point_in_a_server_room() -> None:
    # public Q&A thread: rod 1 0.3 ohm, rod 2 3 ohm to the busbar
    metal = judge_two_point(0.3, Asked.EARTH, goal_ohm=25)
    assert metal.value_ohm is None
    assert "not an earth-resistance value" in metal.words[0]
    joined = judge_two_point(0.3, Asked.JOINED)
    assert joined.verdict is Verdict.HOLDS
    assert "continuity test" in joined.words[1]
    apart = judge_two_point(3, Asked.JOINED)
    assert apart.verdict is Verdict.FALLS_SHORT
    assert "poor or accidental connection" in apart.words[0]
    assert "all electrodes of a building are bonded together" in apart.words[1]
    assert "current flowed on the conductor during the test" in apart.words[1]
    as_earth = judge_two_point(3, Asked.EARTH, electrode_ohm=25, goal_ohm=25)
    assert as_earth.verdict is Verdict.CANNOT_TELL
    assert as_earth.value_ohm is None


def test_two_point_as_earth() -> None:
    sum_of_both = judge_two_point(20, Asked.EARTH, goal_ohm=25)
    assert sum_of_both.verdict is Verdict.HOLDS
    # As much as the electrode has by itself is not less than it: it may be the value of both.
    exact = Accuracy(0.0, 0.0)
    assert judge_two_point(25, Asked.EARTH, electrode_ohm=25, accuracy=exact).value_ohm == 25
    assert judge_two_point(24.9, Asked.EARTH, electrode_ohm=25, accuracy=exact).value_ohm is None
    high = judge_two_point(40, Asked.EARTH, goal_ohm=25)
    assert high.verdict is Verdict.CANNOT_TELL
    known = judge_two_point(40, Asked.EARTH, reference_ohm=5, goal_ohm=25)
    assert known.value_ohm == pytest.approx(35)
    assert known.verdict is Verdict.FALLS_SHORT
    with pytest.raises(ValueError, match="more than the reading"):
        judge_two_point(4, Asked.EARTH, reference_ohm=5)
    with pytest.raises(ValueError, match="leads of 9 ohm"):
        judge_two_point(4, Asked.EARTH, leads_ohm=9)
    soil = judge_two_point(30, Asked.JOINED, electrode_ohm=25)
    assert "not bonded" in soil.words[0]
    coarse = judge_two_point(0.95, Asked.JOINED)
    assert coarse.verdict is Verdict.CANNOT_TELL


def test_an_electrode_elsewhere_is_the_same_one() -> None:
    """Every wire by as much, at the depth it had, under the name it had."""
    here = grid("mesh", (1.0, 2.0), (4.0, 6.0), (2, 3), 0.5, 0.01)
    there = here.moved(3.0, -2.0)
    assert there.name == here.name
    assert len(there.wires) == len(here.wires)
    for before, after in zip(here.wires, there.wires, strict=True):
        for one, other in ((before.start, after.start), (before.end, after.end)):
            assert other == (one[0] + 3.0, one[1] - 2.0, one[2])
        assert after.radius_m == before.radius_m


# --- bonds, boxes, loops ----------------------------------------------------------------------


@outside("IEC 60228, temperature of copper", "memory")
def test_copper_warms() -> None:
    # IEC 60228: 0.00393 per kelvin (from memory): 75 degC copper has 1.216 of its resistance
    assert temperature_factor(75, "Cu") == published(1.216, abs=1e-3)
    assert temperature_factor(20, "Al") == 1
    warm = judge_bond(BondReading((0.1216,), metal_c=75), 0.2)
    assert warm.value_ohm == pytest.approx(0.1, abs=1e-4)


@outside("acceptance practice, 0.5 ohm from point to point", "common practice", unit="ohm")
def test_bond_verdicts() -> None:
    # US acceptance practice: 0.5 ohm point to point (common practice)
    assert judge_bond(BondReading((0.03, 0.032)), 0.5).verdict == published(Verdict.HOLDS)
    assert judge_bond(BondReading((0.9,)), 0.5).verdict is Verdict.FALLS_SHORT
    assert judge_bond(BondReading((0.505,)), 0.5).verdict is Verdict.CANNOT_TELL
    assert judge_bond(BondReading((0.55,), leads_ohm=0.5), 0.5).value_ohm == pytest.approx(0.05)
    fine = judge_bond(BondReading((0.0012,)), 0.001, Accuracy(0.01, 0.00001))
    assert fine.verdict is Verdict.FALLS_SHORT
    odd = judge_bond(BondReading((0.1, 0.4)), 0.5)
    assert "polarities differ" in " ".join(odd.words)
    assert odd.uncertainty_ohm is not None
    assert odd.uncertainty_ohm > 0.14


def test_a_bond_read_in_both_polarities_has_their_mean() -> None:
    found = judge_bond(BondReading((0.1, 0.3)), 0.5, Accuracy(0.0, 0.0))
    assert found.value_ohm == pytest.approx(0.2)
    assert found.uncertainty_ohm == pytest.approx(0.1)
    assert judge_bond(BondReading((0.4, 0.4)), 0.5).value_ohm == pytest.approx(0.4)
    three = judge_bond(BondReading((0.1, 0.2, 0.6)), 0.5, Accuracy(0.0, 0.0))
    assert three.value_ohm == pytest.approx(0.3)


@pytest.mark.parametrize(
    ("value", "uncertainty", "words"),
    [
        (0.05, 0.002, "50 ± 2 mohm (4 %)"),
        (0.5, 0.1, "500 ± 100 mohm (20 %)"),
        (0.5, 1.234, "500 ± 1200 mohm (250 %)"),
        (1.0, 0.1, "1 ± 0.1 ohm (10 %)"),
        (12.3, 0.618, "12.3 ± 0.62 ohm (5 %)"),
        (1500.0, 30.0, "1500 ± 30 ohm (2 %)"),
        (0.0, 0.02, "0 ± 0.02 ohm"),
        # A little less than nothing, once the leads are taken off: in one unit all the same.
        (-0.1, 0.2, "-100 ± 200 mohm"),
    ],
)
def test_a_value_is_written_in_one_unit_with_its_uncertainty(
    value: float, uncertainty: float, words: str
) -> None:
    assert said(value, uncertainty) == words


@pytest.mark.parametrize(
    ("reading", "match"),
    [
        (BondReading(()), "no reading"),
        (BondReading((-1.0,)), "reading of -1"),
        (BondReading((0.1,), leads_ohm=0.5), "null them"),
        (BondReading((0.1,), material="Fe"), "'Fe'; give Cu or Al"),
        (BondReading((0.1,), metal_c=900), "900 degC"),
    ],
)
def test_bad_bonds(reading: BondReading, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        judge_bond(reading, 0.5)


def test_soil_box() -> None:
    # R A / d: 250 ohm, 40 cm2, 10 cm make 10 ohm m (elementary)
    found = judge_soil_box([250], 40e-4, 0.1)
    assert found.value_ohm == pytest.approx(10)
    assert found.words[0].startswith("10 ± 0.3 ohm m")
    assert "four-pin survey" in found.words[1]
    with pytest.raises(ValueError, match="no reading"):
        judge_soil_box([], 40e-4, 0.1)


@pytest.mark.parametrize(
    ("reading", "limit", "tester", "verdict"),
    [
        # BS 7671 practice: 80 % of 1.37 ohm is 1.096 on site
        (0.90, 1.37, LoopTester.HIGH_CURRENT, Verdict.HOLDS),
        (1.08, 1.37, LoopTester.HIGH_CURRENT, Verdict.CANNOT_TELL),
        (1.86, 1.37, LoopTester.HIGH_CURRENT, Verdict.FALLS_SHORT),
        (0.95, 1.37, LoopTester.NO_TRIP, Verdict.CANNOT_TELL),
    ],
)
def test_loops(reading: float, limit: float, tester: LoopTester, verdict: Verdict) -> None:
    assert judge_loop(reading, limit, tester).verdict is verdict


def test_bad_loops() -> None:
    with pytest.raises(ValueError, match="no part of a limit"):
        judge_loop(0.5, 1, site_part=80)
    assert "below 0.1 ohm" in " ".join(judge_loop(0.05, 1).words)


def test_a_rod_in_granite() -> None:
    # public Q&A thread: 1000 ohm x 30 mA = 30 V passes, 100 mA fails, above 200 ohm unstable
    passes = judge_tt(1000, 0.03)
    assert passes.verdict is Verdict.HOLDS
    assert "= 30 V" in passes.words[0]
    assert "may not be stable" in passes.words[-1]
    assert judge_tt(1000, 0.1).verdict is Verdict.FALLS_SHORT
    assert judge_tt(150, 0.03).words[-1].startswith("The residual-current device")
    # 50 V / 30 mA = 1667 ohm
    assert judge_tt(1600, 0.03, 100).verdict is Verdict.CANNOT_TELL


@given(st.floats(0, 1e4), st.floats(0, 1e3), st.floats(0.01, 1e4))
def test_verdicts_never_contradict(value: float, half: float, goal: float) -> None:
    found = against(value, half, goal)
    if found is Verdict.HOLDS:
        assert value <= goal
    if found is Verdict.FALLS_SHORT:
        assert value > goal
    assert against(value, half * 2, goal) in {found, Verdict.CANNOT_TELL}
    assert against(value, half, None) is Verdict.CANNOT_TELL


@pytest.mark.parametrize(
    "judged",
    [
        judge_clamp(12, 25),
        judge_tt(100, 0.03),
        judge_loop(0.5, 1),
        judge_bond(BondReading((0.1,)), 1),
    ],
)
def test_every_result_carries_its_caution(judged: Judged) -> None:
    assert "no path that opens a breaker" in judged.caution
    assert all(word.endswith((".", "?")) for word in judged.words)
