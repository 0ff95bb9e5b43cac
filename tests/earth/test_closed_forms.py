"""Formulas of H. B. Dwight (1936) and IEEE Std 142, and the segment method beside them."""

import math
from typing import Any

import pytest

from bondwright.earth.closed_forms import (
    buried_straight_wire,
    buried_strip,
    encased_rod,
    hemisphere,
    ring_of_wire,
    round_plate,
    star,
    surface_disc,
)
from bondwright.earth.rods import rod_resistance, rods_in_line_resistance
from bondwright.earth.shapes import (
    Electrode,
    buried_wire,
    concrete_bar,
    pile,
    plate,
    ring,
    rod,
    strip,
)
from bondwright.earth.soil import Soil
from bondwright.earth.system import solve
from tests.earth.reference import electrodes
from tests.outside import between, outside, published

WORKED = {case["case"].split(",")[0]: case for case in electrodes()["computed_examples"]}
UNIFORM = Soil.uniform(100)
WHOLE = 1e-4
"""A fineness that leaves every wire in one piece: then the method is Howe's, and Dwight's."""


def by_segments(electrode: Electrode, fineness: float = 1.0) -> float:
    return solve(UNIFORM, [electrode], fineness).joined().resistance_ohm


def star_of(arms: int) -> Electrode:
    angles = [0.0, 90.0] if arms == 2 else [360 / arms * i for i in range(arms)]
    parts = [
        buried_wire(
            "arm",
            [(0, 0), (10 * math.cos(math.radians(a)), 10 * math.sin(math.radians(a)))],
            0.6,
            0.01,
        )
        for a in angles
    ]
    return parts[0].joined(*parts[1:])


def formula(case: dict[str, Any]) -> float:
    name, given = case["case"], case["inputs"]
    rho, length = given["rho"], given.get("L", 0.0)
    radius, depth = given.get("a", 0.0), given.get("s", 0.0) / 2
    if name.startswith("hemisphere"):
        return hemisphere(rho, radius)
    if name.startswith("rod"):
        return rod_resistance(rho, length, 2 * radius)
    if name.startswith("two rods"):
        pair = rods_in_line_resistance(rho, length, 2 * radius, 2, given["s"])
        return pair.resistance_ohm
    if name.startswith("horizontal wire"):
        return buried_straight_wire(rho, 2 * length, radius, depth)
    if name.startswith("right-angle"):
        return star(rho, 2, length, radius, depth)
    if "point star" in name:
        return star(rho, int(name[0]), length, radius, depth)
    if name.startswith("ring"):
        return ring_of_wire(rho, given["D"], given["d"], depth)
    if name.startswith("strip"):
        return buried_strip(rho, 2 * length, radius, given["b"], depth)
    return round_plate(rho, radius, depth, upright=name.startswith("vertical"))


@pytest.mark.parametrize(
    "case", electrodes()["computed_examples"], ids=lambda case: str(case["case"])
)
@outside("H. B. Dwight 1936 and IEEE Std 142, formulas", "computed", unit="ohm")
def test_every_formula(case: dict[str, Any]) -> None:
    # computed from the printed formulas; two rods are exact here where Dwight has a series
    within = 1e-3 if case["case"].startswith("two rods") else 2e-5
    assert formula(case) == published(case["R_ohm"], rel=within)


def test_every_example_is_known() -> None:
    assert len(electrodes()["computed_examples"]) == 16


@pytest.mark.parametrize(
    ("arms", "closer"), [(2, 0.02), (3, 0.03), (4, 0.05), (6, 0.08), (8, 0.11)]
)
@outside("H. B. Dwight 1936, stars", "computed", unit="ohm")
def test_stars(arms: int, closer: float) -> None:
    printed = star(100, arms, 10, 0.005, 0.6)
    # one piece to an arm is what Dwight's constants stand for
    assert by_segments(star_of(arms), WHOLE) == published(printed, rel=3e-3)
    # with current free to leave where it likes, the arms' outer ends take more of it
    assert printed * (1 - closer) < by_segments(star_of(arms)) < printed


@pytest.mark.parametrize(
    ("made", "printed", "low", "high"),
    [
        (rod("r", (0, 0), 2.4384, 0.015875), 39.9049, 0.985, 1.0),
        (rod("r", (0, 0), 3.048, 0.01905), 32.1371, 0.985, 1.0),
        (buried_wire("w", [(-10, 0), (10, 0)], 0.6, 0.01), 8.3977, 0.985, 1.0),
        (ring("g", (0, 0), 20, 0.6, 0.01), 3.5159, 0.995, 1.005),
        # a strip's width in the ground is only nearly a wire's
        (strip("s", [(-10, 0), (10, 0)], 0.6, 0.025), 8.1103, 0.985, 1.01),
        (plate("p", (0, 0, 0.9), (0.914, 0.914), round_plate=True), 31.6222, 0.975, 1.0),
        (
            plate("p", (0, 0, 0.9), (0.914, 0.914), round_plate=True, upright=True),
            31.8621,
            0.975,
            1.0,
        ),
        (plate("p", (0, 0, 1e-4), (2, 2), round_plate=True), surface_disc(100, 1), 0.975, 1.0),
    ],
    ids=["8 ft rod", "10 ft rod", "wire", "ring", "strip", "plate", "upright plate", "disc"],
)
@outside("H. B. Dwight 1936, formulas", "computed", unit="ohm")
def test_segments_beside_formulas(made: Electrode, printed: float, low: float, high: float) -> None:
    # free current makes less resistance than even current, never more
    assert by_segments(made) == between(low * printed, high * printed)


def test_one_piece_is_the_formula() -> None:
    made = rod("r", (0, 0), 2.4384, 0.015875)
    assert by_segments(made, WHOLE) == pytest.approx(39.9049, rel=1.5e-3)
    wire = buried_wire("w", [(-10, 0), (10, 0)], 0.6, 0.01)
    assert by_segments(wire, WHOLE) == pytest.approx(8.3977, rel=1e-3)


@outside("capacity of a square plate, literature", "memory", unit="ohm")
def test_square_plate() -> None:
    # capacity of a square plate 0.3667 side (J. C. Maxwell gave 0.36; literature value from
    # memory), half of the whole space: R = rho / (2 pi 0.3667 side) / 1 lying on the surface
    made = plate("p", (0, 0, 1e-4), (1, 1))
    assert by_segments(made, 2) == published(100 / (2 * math.pi * 0.3667), rel=0.025)


@pytest.mark.parametrize("concrete", [30.0, 100.0, 300.0])
@outside("IEEE Std 80 and 142, bar in concrete", "memory", unit="ohm")
def test_bar_in_concrete(concrete: float) -> None:
    # IEEE Std 80 and 142, upright bar in a round column (formula from memory)
    printed = encased_rod(100, concrete, 6, 0.016, 0.3)
    made = pile("p", (0, 0), 6, 0.016, 0.3, concrete)
    assert by_segments(made, WHOLE) == published(printed, rel=0.02)
    assert by_segments(made) == published(printed, rel=0.04)


def test_concrete_like_the_soil_is_the_bare_bar() -> None:
    lying = concrete_bar("c", [(0, 0), (8, 0)], 0.75, 0.016, 0.3, 100)
    bare = buried_wire("b", [(0, 0), (8, 0)], 0.75, 0.016)
    assert by_segments(lying) == pytest.approx(by_segments(bare), rel=0.02)
    dry = concrete_bar("c", [(0, 0), (8, 0)], 0.75, 0.016, 0.3, 500)
    assert by_segments(dry) > 1.5 * by_segments(bare)


@pytest.mark.parametrize(
    ("call", "match"),
    [
        (lambda: star(100, 5, 10, 0.005, 0.6), "5 arms"),
        (lambda: buried_strip(100, 20, 0.02, 0.01, 0.6), "eighth"),
        (lambda: encased_rod(100, 50, 3, 0.3, 0.2), "thinner than the concrete"),
        (lambda: hemisphere(0, 1), "soil resistivity of 0"),
        (lambda: ring_of_wire(100, -1, 0.01, 0.5), "ring diameter of -1"),
    ],
)
def test_impossible(call: Any, match: str) -> None:
    with pytest.raises(ValueError, match=match):
        call()
