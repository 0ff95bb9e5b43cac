import math

import numpy as np
import pytest

from bondwright.earth.shapes import buried_wire, grid, ring, rod
from bondwright.earth.soil import Soil
from bondwright.earth.surface import (
    MAX_POINTS,
    map_around,
    profile,
    rod_step_ratio,
    surface_map,
    transferred,
    worst_of,
)
from bondwright.earth.system import solve
from bondwright.units import FOOT, INCH
from tests.earth.reference import electrodes
from tests.outside import outside, published

HANDBOOK = electrodes()["mil_hdbk_419a"]["volume_1_table_2_7_step_voltage_ratio"]
PAIRS = list(
    zip(HANDBOOK["rod_ft"], HANDBOOK["ratio"], HANDBOOK["closed_form_values"], strict=True)
)


@pytest.mark.parametrize(("feet", "printed", "exact"), PAIRS)
@outside("MIL-HDBK-419A volume I, table 2-7", "confirmed")
def test_step_beside_a_rod(feet: float, printed: float, exact: float) -> None:
    # MIL-HDBK-419A volume I table 2-7 (confirmed): flush rod 1 in thick, a pace of 3 ft
    found = rod_step_ratio(feet * FOOT, INCH / 2, 3 * FOOT)
    assert found == pytest.approx(exact, abs=6e-4)
    assert found == published(printed, rel=0.02)
    system = solve(Soil.uniform(100), [rod("rod", (0, 0), feet * FOOT, INCH)])
    ground = system.ground_potential({"rod": 1.0}, np.array([[3 * FOOT, 0.0]]))[0]
    # the handbook's current is even; free current leaves more at the tip
    assert printed * 0.99 < 1 - ground / system.alone("rod") < printed * 1.05


@pytest.mark.parametrize(
    "soil", [Soil.uniform(100), Soil.two_layer(300, 50, 2), Soil.two_layer(50, 300, 2)]
)
def test_far_away_it_is_a_point(soil: Soil) -> None:
    system = solve(soil, [grid("g", (-5, -5), (10, 10), (2, 2), 0.5, 0.01)])
    far = system.ground_potential({"g": 10.0}, np.array([[3000.0, 0.0]]))[0]
    assert far == pytest.approx(10 * soil.rho_ohm_m[-1] / (2 * math.pi * 3000), rel=0.01)


@pytest.mark.parametrize(
    "soil", [Soil.uniform(100), Soil.two_layer(300, 50, 0.4), Soil.two_layer(50, 300, 0.4)]
)
def test_ground_at_the_metal_is_at_its_potential(soil: Soil) -> None:
    # the boundary condition that was solved for, seen by the other code
    system = solve(soil, [buried_wire("w", [(-10, 0), (10, 0)], 0.6, 0.02)], 2)
    along = np.linspace(-9, 9, 37)
    beside = np.column_stack([along, np.full(37, 0.01), np.full(37, 0.6)])
    ground = system.ground_potential({"w": 1.0}, beside)
    assert np.mean(ground) == pytest.approx(system.alone("w"), rel=0.02)


def test_profile_and_steps() -> None:
    system = solve(Soil.uniform(100), [rod("r", (0, 0), 3, 0.016)])
    line = profile(system, {"r": 10.0}, (1, 0), (21, 0), 201)
    assert np.all(np.diff(line.potential_v) < 0)
    steps = line.step_v()
    assert np.isnan(steps[-1])
    assert steps[0] == pytest.approx(line.potential_v[0] - line.potential_v[10])
    assert np.nanmax(steps) == pytest.approx(steps[0])


def test_map_agrees_with_profile_and_symmetry() -> None:
    system = solve(Soil.two_layer(300, 50, 2), [grid("g", (0, 0), (6, 6), (2, 2), 0.6, 0.01)])
    drawn = surface_map(system, {"g": 5.0}, (-2, -2), (8, 8), 0.5)
    assert drawn.potential_v.shape == (21, 21)
    assert drawn.potential_v == pytest.approx(drawn.potential_v.T)
    assert drawn.potential_v == pytest.approx(drawn.potential_v[::-1, ::-1])
    line = profile(system, {"g": 5.0}, (-2, 3), (8, 3), 21)
    assert drawn.potential_v[10] == pytest.approx(line.potential_v)
    around = map_around(system, {"g": 5.0}, 2.0, 0.5)
    assert around.potential_v == pytest.approx(drawn.potential_v)
    # nowhere is ground above the metal
    assert np.all(drawn.potential_v < 5 * system.alone("g"))


def test_a_grading_ring_calms_the_ground() -> None:
    # a house of 10 m by 8 m with a rod, then with a ring a metre outside
    soil = Soil.two_layer(200, 80, 3)
    wall = [(0.0, 0.0), (10.0, 0.0), (10.0, 8.0), (0.0, 8.0), (0.0, 0.0)]
    outside = [(-1.0, -1.0), (11.0, -1.0), (11.0, 9.0), (-1.0, 9.0)]
    bare = rod("rod", (0, -0.5), 3, 0.016)
    loop = buried_wire("loop", outside, 0.6, 0.01, closed=True)
    touches = []
    for metal in (bare, bare.joined(loop)):
        system = solve(soil, [metal])
        currents = system.currents(20.0)
        drawn = surface_map(system, currents, (-3, -3), (13, 11), 0.5)
        reach = drawn.near([wall])
        assert 0 < reach.sum() < reach.size
        metal_v = system.potentials(currents)["rod"]
        touches.append(worst_of(drawn, drawn.touch_v(metal_v), reach).voltage_v / metal_v)
    # against the rise itself, the far corner of the house sees nearly all of it without the ring
    assert touches[0] > 0.85
    assert touches[1] < 0.65


def test_transferred_potential() -> None:
    system = solve(
        Soil.uniform(100), [ring("ring", (0, 0), 10, 0.6, 0.01), rod("far", (80, 0), 2, 0.016)]
    )
    currents = {"ring": 100.0}
    rise = system.potentials(currents)["ring"]
    fence = transferred(system, currents, rise, [(6.0, 0.0), (30.0, 0.0), (200.0, 0.0)])
    # along a fence joined to the ring the touch voltage grows to the whole rise
    assert [t.touch_v for t in fence] == sorted(t.touch_v for t in fence)
    assert fence[-1].touch_v > 0.97 * rise
    # metal grounded far away brings zero in
    brought = transferred(system, currents, 0.0, [(0.0, 0.0)])[0]
    assert brought.touch_v == pytest.approx(brought.ground_v)
    assert brought.touch_v > 0.5 * rise
    assert transferred(system, currents, 0.0, []) == ()


def test_superposition() -> None:
    system = solve(
        Soil.two_layer(50, 300, 2), [rod("a", (0, 0), 3, 0.016), rod("b", (5, 0), 3, 0.016)]
    )
    points = np.array([[2.0, 1.0], [7.0, -3.0]])
    both = system.ground_potential({"a": 2.0, "b": -3.0}, points)
    apart = 2 * system.ground_potential({"a": 1.0}, points)
    apart -= 3 * system.ground_potential({"b": 1.0}, points)
    assert both == pytest.approx(apart)


def test_impossible() -> None:
    system = solve(Soil.uniform(100), [rod("r", (0, 0), 3, 0.016)])
    with pytest.raises(ValueError, match="length of the line"):
        profile(system, {"r": 1}, (1, 1), (1, 1))
    with pytest.raises(ValueError, match="1 points"):
        profile(system, {"r": 1}, (1, 1), (2, 1), 1)
    with pytest.raises(ValueError, match="second corner"):
        surface_map(system, {"r": 1}, (0, 0), (-1, 1), 0.1)
    with pytest.raises(ValueError, match=f"more than {MAX_POINTS}"):
        surface_map(system, {"r": 1}, (0, 0), (1000, 1000), 0.1)
    drawn = surface_map(system, {"r": 1}, (0, 0), (1, 1), 0.5)
    with pytest.raises(ValueError, match="no place of the map"):
        worst_of(drawn, drawn.touch_v(1.0), drawn.near([[(50.0, 50.0)]]))
    with pytest.raises(ValueError, match="pace of 0"):
        drawn.step_v(0)
