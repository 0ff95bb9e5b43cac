"""IEEE Std 80 annex B: its formulas, and how far the segment method is from them."""

from typing import Any

import numpy as np
import pytest

from bondwright.earth.grid_forms import (
    GridShape,
    grid_resistance_laurent,
    grid_resistance_schwarz,
    grid_resistance_sverak,
    mesh_voltage,
    step_voltage,
)
from bondwright.earth.shapes import Electrode, grid, rod
from bondwright.earth.soil import Soil
from bondwright.earth.surface import surface_map, worst_of
from bondwright.earth.system import solve
from tests.earth.reference import electrodes
from tests.outside import outside, published

RHO, CURRENT = 400.0, 1908.0
CASES = electrodes()["ieee_80_annex_B"]["cases"]
SHAPES = {
    "B.1": GridShape(1540, 280, 4900, (70, 70), 7, 0.5, 0.01),
    "B.2": GridShape(1540, 280, 4900, (70, 70), 7, 0.5, 0.01, 20, 7.5),
    "B.3": GridShape(1617, 294, 5292, (63, 84), 7, 0.5, 0.01, 38, 10),
    "B.4": GridShape(1575, 350, 4900, (70, 105), 7, 0.5, 0.01, 24, 7.5),
}


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["case"][:3]))
@outside("IEEE Std 80, annex B", "memory", unit="ohm, V")
def test_the_standard_s_formulas(case: dict[str, Any]) -> None:
    # inputs and printed results from memory, every result recomputed from the printed formulas
    shape = SHAPES[case["case"][:3]]
    found = grid_resistance_sverak(RHO, shape)
    assert found == published(case["Rg"], rel=0.005)
    assert found == pytest.approx(case["Rg_calc"], rel=2e-4)
    assert found * CURRENT == published(case["GPR"], rel=0.002)
    assert shape.parallels == published(case["n"], rel=0.01)
    within = 0.015 if case["case"].startswith(("B.3", "B.4")) else 0.005
    assert mesh_voltage(RHO, shape, CURRENT) == published(case["Em"], rel=within)
    assert mesh_voltage(RHO, shape, CURRENT) == pytest.approx(case["Em_calc"], rel=2e-4)
    if "Es_calc" in case:
        assert step_voltage(RHO, shape, CURRENT) == pytest.approx(case["Es_calc"], rel=2e-4)
    if "Es" in case:
        assert step_voltage(RHO, shape, CURRENT) == published(case["Es"], rel=0.002)


def edge(wide: float, high: float, count: int) -> list[tuple[float, float]]:
    around = 2 * (wide + high)
    places = []
    for at in np.arange(count) * around / count:
        if at <= wide:
            places.append((at, 0.0))
        elif at <= wide + high:
            places.append((wide, at - wide))
        elif at <= 2 * wide + high:
            places.append((2 * wide + high - at, high))
        else:
            places.append((0.0, around - at))
    return places


def metal(name: str) -> Electrode:
    if name == "B.1":
        return grid("grid", (0, 0), (70, 70), (10, 10), 0.5, 0.01)
    if name == "B.2":
        plain = grid("grid", (0, 0), (70, 70), (10, 10), 0.5, 0.01)
        rods = [rod("rod", place, 7.5, 0.016, 0.5) for place in edge(70, 70, 20)]
        return plain.joined(*rods)
    plain = grid("grid", (0, 0), (63, 84), (9, 12), 0.5, 0.01)
    return plain.joined(*[rod("rod", place, 10, 0.016, 0.5) for place in edge(63, 84, 38)])


@pytest.mark.parametrize(
    ("name", "resistance", "mesh", "step"),
    # what the segment method finds, over the standard's simplified formulas: they are on the
    # high side of all three, most where many long rods stand at the edge
    [
        ("B.1", 0.954, 0.972, 0.924),
        ("B.2", 0.906, 0.963, 0.888),
        ("B.3", 0.851, 0.824, 0.817),
    ],
)
def test_segments_beside_the_standard(
    name: str, resistance: float, mesh: float, step: float
) -> None:
    system = solve(Soil.uniform(RHO), [metal(name)])
    shape = SHAPES[name]
    found = system.joined().resistance_ohm
    assert found / grid_resistance_sverak(RHO, shape) == pytest.approx(resistance, abs=0.01)
    currents = system.currents(CURRENT)
    drawn = surface_map(system, currents, (0, 0), shape.size_m, 1.0)
    worst = worst_of(drawn, drawn.touch_v(found * CURRENT))
    assert worst.voltage_v / mesh_voltage(RHO, shape, CURRENT) == pytest.approx(mesh, abs=0.02)
    # the worst is in a corner mesh or at the edge, where the standard looks for it
    assert min(worst.x_m, shape.size_m[0] - worst.x_m) <= 7
    assert min(worst.y_m, shape.size_m[1] - worst.y_m) <= 7
    # a pace outward from the corner
    corner = surface_map(system, currents, (-2, -2), (1, 1), 0.25)
    pace = worst_of(corner, corner.step_v()).voltage_v
    assert pace / step_voltage(RHO, shape, CURRENT) == pytest.approx(step, abs=0.02)


def test_schwarz_lies_between() -> None:
    # S. J. Schwarz 1954 for grid and rods (from memory), nearer to the segments
    system = solve(Soil.uniform(RHO), [metal("B.2")])
    parts = grid_resistance_schwarz(RHO, SHAPES["B.2"], 0.016)
    found = system.joined().resistance_ohm
    assert found == pytest.approx(parts.resistance_ohm, rel=0.03)
    assert found < parts.resistance_ohm < grid_resistance_sverak(RHO, SHAPES["B.2"])
    assert max(parts.mutual_ohm, parts.resistance_ohm) < min(parts.grid_ohm, parts.rods_ohm)


def test_laurent_is_sverak_at_no_depth() -> None:
    shape = GridShape(1540, 280, 4900, (70, 70), 7, 1e-9, 0.01)
    laurent = grid_resistance_laurent(RHO, shape)
    # 1/4 sqrt(pi) and 2/sqrt(20) are within 1 % of each other
    assert grid_resistance_sverak(RHO, shape) == pytest.approx(laurent, rel=0.01)


def test_finer_meshes_help_touch_more_than_resistance() -> None:
    soil = Soil.uniform(RHO)
    ohms, touches = [], []
    for meshes in (2, 4, 8):
        system = solve(soil, [grid("g", (0, 0), (20, 20), (meshes, meshes), 0.5, 0.01)])
        currents = system.currents(1.0)
        drawn = surface_map(system, currents, (0, 0), (20, 20), 0.5)
        ohms.append(system.joined().resistance_ohm)
        touches.append(worst_of(drawn, drawn.touch_v(ohms[-1])).voltage_v)
    assert ohms[0] > ohms[1] > ohms[2] > 0.75 * ohms[0]
    assert touches[2] < touches[1] < 0.65 * touches[0]


@pytest.mark.parametrize(
    ("change", "match"), [({"area_m2": 0.0}, "measure of a grid"), ({"rods": 3}, "3 rods of 0.0 m")]
)
def test_impossible(change: dict[str, Any], match: str) -> None:
    good: dict[str, Any] = {
        "horizontal_m": 100, "perimeter_m": 40, "area_m2": 100, "size_m": (10, 10),
        "spacing_m": 2, "depth_m": 0.5, "wire_diameter_m": 0.01,
    }  # fmt: skip
    with pytest.raises(ValueError, match=match):
        GridShape(**{**good, **change})


def test_schwarz_needs_rods() -> None:
    with pytest.raises(ValueError, match="with rods"):
        grid_resistance_schwarz(RHO, SHAPES["B.1"], 0.016)
