"""Where things of the earth begin and end: least shapes, goals, searches and fits."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy import optimize

from bondwright.catalog.earth_data import Accuracy
from bondwright.earth import closed_forms, grid_forms, sounding
from bondwright.earth.clamp import judge_clamp
from bondwright.earth.closed_forms import round_plate
from bondwright.earth.design import Goal, Plot, Proposal, _least, _on_edge
from bondwright.earth.grid_forms import GridShape
from bondwright.earth.judged import Verdict
from bondwright.earth.least_squares import minimise, robust_spread
from bondwright.earth.matrix import piece_matrix
from bondwright.earth.pieces import cut
from bondwright.earth.readings import (
    Asked,
    BondReading,
    judge_bond,
    judge_soil_box,
    judge_tt,
    judge_two_point,
)
from bondwright.earth.shapes import Electrode, Wire, ring, rod
from bondwright.earth.soil import Soil
from bondwright.earth.surface import SurfaceMap, rod_step_ratio, worst_of

EXACT = Accuracy(0.0, 0.0)


@pytest.mark.parametrize("sides", [3, 4, 7, 24])
def test_a_ring_of_few_sides_has_the_length_of_the_round_one(sides: int) -> None:
    found = ring("loop", (3.0, -1.0), 10.0, 0.8, 0.008, sides)
    assert found.name == "loop"
    assert len(found.wires) == sides
    lengths = [math.dist(wire.start, wire.end) for wire in found.wires]
    assert sum(lengths) == pytest.approx(10 * math.pi)
    assert max(lengths) == pytest.approx(min(lengths))
    middle = np.mean([wire.start for wire in found.wires], axis=0)
    assert middle == pytest.approx([3.0, -1.0, 0.8])
    assert {wire.radius_m for wire in found.wires} == {0.004}


@pytest.mark.parametrize("sides", [2, 1, 0])
def test_a_ring_of_two_sides_is_none(sides: int) -> None:
    with pytest.raises(ValueError, match=f"a ring of {sides} sides is none"):
        ring("loop", (0.0, 0.0), 10.0, 0.8, 0.008, sides)


def test_what_can_be_a_goal() -> None:
    """A fence of two corners is enough to be touched, one corner isn't."""
    line = ((0.0, 0.0), (5.0, 0.0))
    assert Goal(touch_v=50.0, current_a=100.0, outline=line).outline == line
    assert Goal(resistance_ohm=5.0).reach_m == 1.0
    one, two, none = "takes the current into the earth", "give one of the two", "goal"
    wrong: list[tuple[dict[str, Any], str]] = [
        ({"touch_v": 50.0, "current_a": 100.0, "outline": line[:1]}, one),
        ({"touch_v": 50.0, "outline": line}, one),
        ({}, two),
        ({"touch_v": 50.0, "resistance_ohm": 5.0}, two),
        ({"resistance_ohm": 0.0}, none),
        ({"resistance_ohm": -1.0}, none),
    ]
    for given, problem in wrong:
        with pytest.raises(ValueError, match=problem):
            Goal(**given)


@pytest.mark.parametrize("count", [1, 2, 3, 8, 9])
def test_the_first_of_a_family_that_holds(count: int) -> None:
    """Against asking every one: from the one that holds on, all do."""
    metal = rod("rod", (0.0, 0.0), 3.0, 0.016)
    for first in range(count + 1):
        asked: list[int] = []

        def tried(layout: Any, first: int = first, asked: list[int] = asked) -> Proposal:
            asked.append(layout)
            verdict = Verdict.HOLDS if layout >= first else Verdict.FALLS_SHORT
            return Proposal(f"{layout}", metal, 1, 3.0, 0.0, 1.0, 1.0, verdict, None)

        family: Any = [lambda k=k: k for k in range(count)]
        found = _least(family, tried)
        assert found is not None
        assert found.words == str(min(first, count - 1))
        assert len(asked) <= 2 + math.log2(count)
    assert _least([], lambda _: pytest.fail("nothing to try")) is None


@pytest.mark.parametrize(
    ("start", "low", "high"),
    [
        ((-1.2, 1.0), (-5, -5), (5, 5)),
        ((4.0, 4.0), (-5, -5), (5, 5)),
        ((-4.9, -4.9), (-5, -5), (5, 5)),
        ((-1.2, 1.0), (-5, -5), (0.5, 5)),
        ((3.0, 4.0), (1.5, -5), (5, 5)),
        ((9.0, 9.0), (-5, -5), (5, 5)),
    ],
)
def test_the_least_squares_are_those_of_scipy(
    start: tuple[float, float], low: tuple[float, float], high: tuple[float, float]
) -> None:
    """Rosenbrock's function, from both sides, with bounds that hold and bounds that don't."""

    def one(x: Any) -> Any:
        return np.array([10 * (x[1] - x[0] ** 2), 1 - x[0]])

    def many(points: Any) -> Any:
        return np.array([one(x) for x in points])

    found = minimise(many, np.array(start), np.array(low, float), np.array(high, float), np.ones(2))
    inside = np.clip(np.array(start), low, high)
    due = optimize.least_squares(one, inside, bounds=(low, high), xtol=1e-14, ftol=1e-14)
    # Where a bound stops it, it goes along the bound by clipped steps: a thousandth is near enough.
    assert found.loss == pytest.approx(2 * due.cost, rel=1e-3, abs=1e-6)
    assert found.point == pytest.approx(due.x, abs=2e-3)
    assert found.residual == pytest.approx(one(found.point))


def test_a_parameter_that_is_held_stays_and_weights_count() -> None:
    """A straight line through four readings: normal equations (NumPy's least squares)."""
    x, y = np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 2.5, 3.1, 5.2])

    def line(points: Any) -> Any:
        return points[:, :1] + points[:, 1:] * x - y

    low, high, start = np.full(2, -9.0), np.full(2, 9.0), np.array([0.5, 0.5])
    for weight in (np.ones(4), np.array([1.0, 4.0, 0.25, 1.0])):
        root = np.sqrt(weight)
        table = np.stack([np.ones(4), x], axis=1)
        due = np.linalg.lstsq(table * root[:, None], y * root, rcond=None)[0]
        found = minimise(line, start, low, high, weight)
        assert found.point == pytest.approx(due, abs=1e-5)
        assert found.loss == pytest.approx(float(weight @ (table @ due - y) ** 2))
        (slope,) = np.linalg.lstsq(x[:, None] * root[:, None], (y - 0.5) * root, rcond=None)[0]
        held = minimise(line, start, low, high, weight, held=0)
        assert held.point == pytest.approx([0.5, slope], abs=1e-5)


def test_a_spread_that_one_wild_reading_does_not_spoil() -> None:
    """1.4826 times the median, for as many readings more than parameters."""
    readings = np.array([1.0, -2.0, 3.0, -4.0, 500.0])
    assert robust_spread(readings, 0) == pytest.approx(1.4826 * 3)
    assert robust_spread(readings, 3) == pytest.approx(1.4826 * 3 * math.sqrt(5 / 2))
    assert robust_spread(readings, 9) == pytest.approx(1.4826 * 3 * math.sqrt(5))


@pytest.mark.parametrize(
    ("value", "more", "kept", "verdict"),
    [
        (0.3, {}, 0.3, Verdict.HOLDS),
        (3.0, {}, 3.0, Verdict.FALLS_SHORT),
        (30.0, {"electrode_ohm": 25.0}, 30.0, Verdict.FALLS_SHORT),
        (3.5, {"leads_ohm": 3.2}, 0.3, Verdict.HOLDS),
    ],
)
def test_what_was_read_is_kept_where_joints_were_asked_for(
    value: float, more: dict[str, float], kept: float, verdict: Verdict
) -> None:
    found = judge_two_point(value, Asked.JOINED, accuracy=EXACT, **more)
    assert (found.verdict, found.uncertainty_ohm) == (verdict, 0.0)
    assert found.value_ohm == pytest.approx(kept)
    half = judge_two_point(value, Asked.JOINED, accuracy=Accuracy(0.1, 0.0), **more)
    assert half.uncertainty_ohm == pytest.approx(0.1 * value)


def test_the_highest_place_of_a_map() -> None:
    """Where nothing is known or nobody stands doesn't count; both axes are told in metres."""
    drawn = SurfaceMap(np.array([0.0, 2.0, 4.0]), np.array([10.0, 11.0]), np.zeros((2, 3)))
    volts = np.array([[1.0, np.nan, 3.0], [9.0, 5.0, np.nan]])
    found = worst_of(drawn, volts)
    assert (found.voltage_v, found.x_m, found.y_m) == (9.0, 0.0, 11.0)
    near = np.array([[True, True, True], [False, False, True]])
    found = worst_of(drawn, volts, near)
    assert (found.voltage_v, found.x_m, found.y_m) == (3.0, 4.0, 10.0)
    for nobody in (np.isnan(volts), np.zeros((2, 3), dtype=bool)):
        with pytest.raises(ValueError, match="no place of the map is within reach"):
            worst_of(drawn, volts, nobody)


def test_a_warm_bond_is_brought_to_20_degrees_with_its_error() -> None:
    """Copper at 75 degC has 1.216 of its resistance; so has what the instrument errs by."""
    found = judge_bond(BondReading((0.1216,), metal_c=75), 0.2, Accuracy(0.1, 0.0))
    assert found.value_ohm == pytest.approx(0.1, rel=1e-3)
    assert found.uncertainty_ohm == pytest.approx(0.01, rel=1e-3)


def quadrature(one: Wire, other: Wire, rho: float, points: int = 60) -> float:
    """Mean of ``rho / 4 pi (1/r + 1/r')`` over both wires, the image above ground (elementary)."""
    nodes, weights = np.polynomial.legendre.leggauss(points)
    part, weight = (nodes + 1) / 2, weights / 2
    at = [
        np.array(w.start) + part[:, None] * (np.array(w.end) - np.array(w.start))
        for w in (one, other)
    ]
    mirror = at[1] * np.array([1, 1, -1])
    total = np.zeros((points, points))
    for source in (at[1], mirror):
        total += 1 / np.linalg.norm(at[0][:, None] - source[None], axis=2)
    return float(weight @ total @ weight) * rho / (4 * math.pi)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (((0, 0, 1), (2, 1, 3)), ((4, 0, 0.5), (4, 3, 2))),
        (((0, 0, 3), (2, 1, 1)), ((4, 0, 0.5), (4, 3, 2))),
        (((0, 0, 1), (0, 0, 4)), ((3, 0, 1), (6, 2, 1))),
        (((0, 0, 1), (1, 0, 4)), ((5, 1, 4), (3, 3, 1))),
        (((0, 0, 0.6), (3, 0, 0.6)), ((0, 4, 0.6), (3, 4, 2.6))),
    ],
)
def test_wires_at_a_slope_against_sums_over_both(one: Any, other: Any) -> None:
    """Flat, upright and sloping ones, either end up; each way round the same (reciprocity)."""
    wires = [Wire(ends[0], ends[1], 0.005) for ends in (one, other)]
    metal = [Electrode(name, (wire,)) for name, wire in zip("ab", wires, strict=True)]
    soil = Soil.uniform(100.0)
    pieces = cut(metal, soil)
    matrix = piece_matrix(pieces, soil)
    share = pieces.length / np.array([math.dist(w.start, w.end) for w in wires])[pieces.owner]
    first, second = (np.where(pieces.owner == k, share, 0.0) for k in (0, 1))
    due = quadrature(wires[0], wires[1], 100.0)
    assert first @ matrix @ second == pytest.approx(due, rel=2e-3)
    assert second @ matrix @ first == pytest.approx(due, rel=2e-3)


def test_a_round_plate_by_its_series() -> None:
    """Dwight, half as wide as twice its depth: 1 - 7/12 / 4 + 33/40 / 16 and so on, by hand."""
    assert round_plate(1.0, 1.0, 1.0) == pytest.approx(0.125 + 0.905729 / (8 * math.pi), rel=1e-6)
    assert round_plate(1.0, 1.0, 1.0, upright=True) == pytest.approx(
        0.125 + 1.092253 / (8 * math.pi), rel=1e-6
    )


def test_places_round_the_edge_of_a_plot() -> None:
    """A plot of 10 by 6 m: once round are 32 m; a half of it lies in its middle."""
    plot = Plot(10.0, 6.0, (3.0,), 0.016)
    for along, place in (
        (0, (0, 0)), (4, (4, 0)), (10, (10, 0)), (13, (10, 3)), (16, (10, 6)), (21, (5, 6)),
        (26, (0, 6)), (29, (0, 3)), (32, (0, 0)), (36, (4, 0)),
    ):  # fmt: skip
        assert _on_edge(plot, 1.0, along) == pytest.approx(place)
    for along, spot in ((0, (2.5, 1.5)), (5, (7.5, 1.5)), (8, (7.5, 4.5)), (13, (2.5, 4.5))):
        assert _on_edge(plot, 0.5, along) == pytest.approx(spot)


def test_a_clamp_reads_one_electrode_and_the_others_in_parallel() -> None:
    """Five alike of R: R + R/4 = 10 ohm, so each has 8 ohm (Ohm's law)."""
    found = judge_clamp(10.0, 25.0, 5)
    assert found.verdict is Verdict.HOLDS
    assert "this electrode plus 4 others in parallel; one of 5 alike has about 8 ohm" in (
        " ".join(found.words)
    )


GRID = GridShape(1540, 280, 4900, (70, 70), 7, 0.5, 0.01, 20, 7.5)


@pytest.mark.parametrize("value", [0.0, -2.0, math.inf, math.nan])
@pytest.mark.parametrize(
    ("ask", "what"),
    [
        (lambda x: closed_forms.hemisphere(x, 1), "soil resistivity"),
        (lambda x: closed_forms.hemisphere(100, x), "radius"),
        (lambda x: closed_forms.star(x, 3, 10, 0.01, 1), "soil resistivity"),
        (lambda x: closed_forms.star(100, 3, x, 0.01, 1), "arm"),
        (lambda x: closed_forms.star(100, 3, 10, x, 1), "radius"),
        (lambda x: closed_forms.star(100, 3, 10, 0.01, x), "depth"),
        (lambda x: closed_forms.ring_of_wire(x, 10, 0.01, 1), "soil resistivity"),
        (lambda x: closed_forms.ring_of_wire(100, x, 0.01, 1), "ring diameter"),
        (lambda x: closed_forms.ring_of_wire(100, 10, x, 1), "wire diameter"),
        (lambda x: closed_forms.ring_of_wire(100, 10, 0.01, x), "depth"),
        (lambda x: closed_forms.buried_strip(x, 10, 0.04, 0.003, 1), "soil resistivity"),
        (lambda x: closed_forms.buried_strip(100, x, 0.04, 0.003, 1), "length"),
        (lambda x: closed_forms.buried_strip(100, 10, x, 0.003, 1), "width"),
        (lambda x: closed_forms.buried_strip(100, 10, 0.04, x, 1), "thickness"),
        (lambda x: closed_forms.buried_strip(100, 10, 0.04, 0.003, x), "depth"),
        (lambda x: closed_forms.surface_disc(100, x), "radius"),
        (lambda x: closed_forms.encased_rod(100, x, 3, 0.01, 0.2), "concrete resistivity"),
        (lambda x: closed_forms.encased_rod(100, 30, 3, x, 0.2), "rod diameter"),
        (lambda x: round_plate(x, 1, 1), "soil resistivity"),
        (lambda x: round_plate(100, x, 1), "radius"),
        (lambda x: round_plate(100, 1, x), "depth"),
        (lambda x: grid_forms.grid_resistance_laurent(x, GRID), "soil resistivity"),
        (lambda x: grid_forms.grid_resistance_sverak(x, GRID), "soil resistivity"),
        (lambda x: grid_forms.grid_resistance_schwarz(x, GRID, 0.016), "soil resistivity"),
        (lambda x: grid_forms.grid_resistance_schwarz(100, GRID, x), "rod diameter"),
        (lambda x: grid_forms.mesh_voltage(x, GRID, 100), "soil resistivity"),
        (lambda x: grid_forms.step_voltage(x, GRID, 100), "soil resistivity"),
        (lambda x: sounding.wenner_resistivity(x, 3), "reading"),
        (lambda x: sounding.wenner_resistivity(3, x), "pin spacing"),
        (lambda x: sounding.schlumberger_resistivity(x, 9, 3), "reading"),
        (lambda x: rod_step_ratio(x, 0.01, 1), "rod length"),
        (lambda x: rod_step_ratio(3, x, 1), "rod radius"),
        (lambda x: rod_step_ratio(3, 0.01, x), "pace"),
        (lambda x: judge_tt(x, 0.03), "electrode resistance"),
        (lambda x: judge_tt(100, x), "residual current"),
        (lambda x: judge_tt(100, 0.03, touch_v=x), "touch voltage limit"),
        (lambda x: judge_soil_box((9.0,), x, 0.1), "cross-section"),
        (lambda x: judge_soil_box((9.0,), 0.01, x), "pin distance"),
        (lambda x: judge_soil_box((9.0, x), 0.01, 0.1), "reading"),
        (lambda x: judge_bond(BondReading((0.1,)), x), "limit"),
        (lambda x: ring("r", (0, 0), x, 0.8, 0.01), "ring diameter"),
        (lambda x: rod("r", (0, 0), x, 0.016), "rod length"),
        (lambda x: Wire((0, 0, 1), (0, 0, 4), x), "conductor radius"),
        (lambda x: Goal(resistance_ohm=x), "goal"),
        (lambda x: Plot(10, x, (3.0,), 0.016), "measure of a plot"),
        (lambda x: Soil.uniform(x), "soil resistivity"),
    ],
)
def test_an_impossible_number_is_named(ask: Any, what: str, value: float) -> None:
    with pytest.raises(ValueError, match=f"^a {what} of {value} is not possible; give a positive"):
        ask(value)
