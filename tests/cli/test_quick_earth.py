"""Electrodes by formula, typical soils, and what to put in the ground for a touch voltage."""

from __future__ import annotations

import json
import math

import pytest
from click.testing import CliRunner, Result

from bondwright.cli import main
from tests.outside import outside, published


def run(*arguments: str) -> Result:
    result = CliRunner(env={"COLUMNS": "120"}).invoke(main, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def ohms(*arguments: str) -> float:
    result = run("quick", "electrode", *arguments, "--json")
    assert result.exit_code == 0, result.output
    return float(json.loads(result.stdout)["answer"]["resistance_ohm"])


@outside("IEEE Std 80, annex B, and IEEE Std 142", "memory", unit="ohm")
def test_formulas_by_hand() -> None:
    # H. B. Dwight 1936 (from memory): ring, rho / 2 pi^2 D (ln 8 D / d + ln 4 D / s), s = 2 depth
    by_hand = 100 / (2 * math.pi**2 * 6) * (math.log(8 * 6 / 0.008) + math.log(4 * 6 / 1.6))
    ring = ("ring", "--soil", "100 ohm m", "--across", "6 m", "--diameter", "8 mm")
    assert ohms(*ring, "--depth", "0.8 m") == published(
        by_hand, rel=1e-9, source="H. B. Dwight 1936, ring"
    )
    # IEEE Std 80 annex B.1 (inputs from memory): 2.776 ohm by Sverak's formula
    grid = ("grid", "--soil", "400 ohm m", "--length", "70 m", "--width", "70 m", "--meshes")
    more = ("10", "10", "--depth", "0.5 m", "--diameter", "10 mm")
    assert ohms(*grid, *more) == published(2.776, abs=0.001)
    # IEEE Std 142 (from memory): (rho_c ln D/d + rho (ln 8 L/D - 1)) / 2 pi L
    bar = ("footing", "--soil", "100 ohm m", "--length", "3 m", "--diameter", "12 mm")
    encased = (60 * math.log(0.3 / 0.012) + 100 * (math.log(80) - 1)) / (2 * math.pi * 3)
    assert ohms(*bar, "--concrete", "0.3 m") == published(encased, rel=1e-9)


@pytest.mark.parametrize(
    "measures",
    [
        ("wire", "--length", "20 m", "--diameter", "8 mm", "--depth", "0.8 m"),
        ("strip", "--length", "20 m", "--width", "30 mm", "--depth", "0.8 m"),
        ("plate", "--across", "0.9 m", "--depth", "1.5 m"),
        ("plate", "--across", "0.9 m", "--depth", "1.5 m", "--upright"),
    ],
)
def test_each_kind_is_in_proportion_to_the_soil(measures: tuple[str, ...]) -> None:
    one, two = (ohms(*measures, "--soil", soil) for soil in ("100 ohm m", "200 ohm m"))
    assert two == pytest.approx(2 * one)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("wire", "--length", "20 m", "--depth", "1 m"), "needs --diameter"),
        (("grid", "--length", "9 m"), "needs --width"),
        (
            ("plate", "--across", "1 m", "--depth", "1 m", "--width", "2 m"),
            "--width doesn't belong to a plate",
        ),
    ],
)
def test_what_is_missing_or_too_much_is_said(arguments: tuple[str, ...], words: str) -> None:
    result = run("quick", "electrode", *arguments, "--soil", "100 ohm m")
    assert result.exit_code == 2
    assert words in result.output


def test_typical_soils_are_marked_as_such() -> None:
    text = " ".join(run("earth", "soils").stdout.split())
    # NBS Technical Report 108: loams and clays average 40.6 ohm m
    assert "clay, shale, gumbo, loam 40.6 3.4 to 163 confirmed" in text
    assert "Typical, not measured" in text
    data = json.loads(run("earth", "soils", "--json").stdout)
    assert data["format"] == "bondwright/earth"
    assert all(row["least_ohm_m"] <= row["most_ohm_m"] for row in data["soils"])


PLOT = ("earth", "propose", "--soil", "100 ohm m", "--plot", "12 m", "10 m")


def test_a_touch_voltage_is_a_goal_too() -> None:
    data = json.loads(run(*PLOT, "--touch", "30 V", "--current", "2 A", "--json").stdout)
    assert data["arrangements"]
    for one in data["arrangements"]:
        assert one["touch_v"] <= 30
        # nobody touches more than the whole rise
        assert one["touch_v"] <= 2 * one["resistance_ohm"] * (1 + 1e-9)
    near = json.loads(
        run(*PLOT, "--touch", "30 V", "--current", "2 A", "--corner", "0 m", "0 m", "--corner",
            "1 m", "0 m", "--json").stdout
    )  # fmt: skip
    assert near["verdict"] == "holds"


@pytest.mark.parametrize(
    "arguments", [(), ("--touch", "30 V"), ("--goal", "25 ohm", "--touch", "30 V")]
)
def test_one_goal_and_all_of_it(arguments: tuple[str, ...]) -> None:
    result = run(*PLOT, *arguments)
    assert result.exit_code == 2
    assert "--touch with --current" in result.output
