import math

import pytest

from bondwright.earth.design import Goal, Plot, UnitCosts, propose
from bondwright.earth.judged import Verdict
from bondwright.earth.soil import Soil
from bondwright.earth.system import solve

PLOT = Plot(20, 30)
PRICES = UnitCosts(rod=100, rod_metre=20, trench_metre=30, wire_metre=10)


def test_easy_ground_takes_one_rod() -> None:
    # 50 ohm m: an 8 ft rod has about 20 ohm
    found = propose([Soil.uniform(50)], Goal(25), PLOT, PRICES)
    assert found[0].rods == 1
    assert found[0].trench_m == 0
    assert found[0].rod_m == pytest.approx(2.4384)
    assert found[0].cost == pytest.approx(100 + 20 * 2.4384)


def test_cheapest_first_and_all_hold() -> None:
    soil = Soil.uniform(200)
    found = propose([soil], Goal(25), PLOT, PRICES)
    assert all(one.verdict is Verdict.HOLDS and one.value <= 25 for one in found)
    costs = [one.cost for one in found]
    assert costs == sorted(costs, key=lambda c: c or 0.0)
    best = found[0]
    assert best.cost == pytest.approx(best.rods * (100 + 20 * best.rod_m) + best.trench_m * 40)
    # what is said is what is computed
    assert solve(soil, [best.electrode]).joined().resistance_ohm == pytest.approx(
        best.value, rel=0.01
    )
    # one rod less would not do
    assert best.rods >= 2


def test_without_prices_nothing_is_beaten() -> None:
    found = propose([Soil.uniform(200)], Goal(25), PLOT)
    assert found
    for one in found:
        assert one.cost is None
        for other in found:
            if other is not one:
                assert (
                    other.rods > one.rods
                    or other.rod_metres > one.rod_metres
                    or other.trench_m > one.trench_m
                )


def test_deep_rods_where_the_lower_layer_is_better() -> None:
    found = propose([Soil.two_layer(600, 60, 4)], Goal(10), PLOT, PRICES)
    assert found[0].rod_m > 4


def test_the_worst_soil_counts() -> None:
    wet = Soil.two_layer(150, 60, 3)
    dry = wet.with_top(1.5, 3)
    both = propose([wet, dry], Goal(15), PLOT, PRICES)[0]
    only = propose([wet], Goal(15), PLOT, PRICES)[0]
    assert (both.cost or 0) >= (only.cost or 0)
    values = [solve(soil, [both.electrode]).joined().resistance_ohm for soil in (wet, dry)]
    assert both.value == pytest.approx(max(values), rel=0.01)


def test_when_nothing_holds_it_says_so() -> None:
    found = propose([Soil.uniform(5000)], Goal(25), Plot(10, 10), PRICES)
    assert found
    assert all(one.verdict is Verdict.FALLS_SHORT for one in found)
    assert [one.value for one in found] == sorted(one.value for one in found)


def test_touch_voltage_goal() -> None:
    wall = ((5.0, 5.0), (15.0, 5.0), (15.0, 20.0), (5.0, 20.0), (5.0, 5.0))
    goal = Goal(touch_v=100, current_a=50, outline=wall)
    found = propose([Soil.uniform(100)], goal, PLOT, PRICES)
    assert found[0].verdict is Verdict.HOLDS
    assert found[0].value <= 100
    # the rise itself is far more than the touch voltage
    assert found[0].resistance_ohm * 50 > found[0].value


def test_a_small_plot_holds_few_rods() -> None:
    found = propose([Soil.uniform(300)], Goal(5), Plot(4, 4), PRICES)
    assert all(one.rods <= 8 for one in found)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: Goal(), "one of the two"),
        (lambda: Goal(25, 50), "one of the two"),
        (lambda: Goal(touch_v=50), "outline of the metal"),
        (lambda: Goal(-3), "goal of -3"),
        (lambda: Plot(0, 5), "measure of a plot of 0"),
        (lambda: Plot(5, 5, ()), "rod lengths"),
        (lambda: UnitCosts(-1, 0, 0, 0), "price of -1"),
        (lambda: UnitCosts(math.nan, 0, 0, 0), "price of nan"),
        (lambda: propose([], Goal(25), PLOT), "no soil"),
    ],
)
def test_impossible(call: object, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        call()  # type: ignore[operator]
