"""Judging field tests at the command line, and printing what the earth commands say."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bondwright.cli.common import (
    FALLS_SHORT,
    HOLDS,
    echo_caution,
    echo_text,
    finite,
    json_option,
    plain_errors,
    print_json,
    stop,
)

if TYPE_CHECKING:
    from bondwright.earth.judged import Judged
    from bondwright.explain.story import Story
    from bondwright.units import Dimension

FORMAT: Final = "bondwright/earth"
VERSION: Final = 1
FILE: Final = click.Path(path_type=Path, dir_okay=False)
GOAL: Final = click.option("--goal", help="The most it may have, like '25 ohm'.")


def quantity(text: str | None, dimension: Dimension) -> float | None:
    """Return a quantity that may be missing."""
    from bondwright.units import parse

    return None if text is None else parse(text, dimension)


def ohms(text: str | None) -> float | None:
    """Return a resistance that may be missing."""
    from bondwright.units import Dimension

    return quantity(text, Dimension.RESISTANCE)


def metres(text: str | None) -> float | None:
    """Return a length that may be missing."""
    from bondwright.units import Dimension

    return quantity(text, Dimension.LENGTH)


def print_story(story: Story, data: dict[str, object], as_json: bool) -> None:
    """Print a story or its structure, and leave with its exit code."""
    from bondwright.explain.words import MARKS

    if as_json:
        head = {"format": FORMAT, "version": VERSION, "verdict": story.verdict.value}
        print_json({**head, **data, "words": list(story.sentences)})
    else:
        click.echo(f"{MARKS[story.verdict]} {story.title}")
        for sentence in story.sentences:
            echo_text(sentence)
        echo_caution()
    stop(FALLS_SHORT if story.verdict.value == "falls short" else HOLDS)


@click.group()
def judge() -> None:
    """Judge a field test: result, uncertainty, verdict, words for the test sheet."""


def _judged(judged: Judged, as_json: bool, extra: dict[str, object] | None = None) -> None:
    from bondwright.explain.earth import tell_judged

    data: dict[str, object] = {
        "test": judged.test,
        "value": judged.value_ohm,
        "uncertainty": judged.uncertainty_ohm,
        "goal": finite(judged.goal_ohm),
        **(extra or {}),
    }
    print_story(tell_judged(judged), data, as_json)


@judge.command("fall")
@click.argument("readings", type=FILE)
@click.option("--far", required=True, help="Distance of the current pin, like '50 m'.")
@click.option("--widest", help="Widest reach of the electrode, like '3 m'.")
@GOAL
@json_option
@plain_errors
def fall_command(
    readings: Path, far: str, widest: str | None, goal: str | None, as_json: bool
) -> None:
    """Judge a fall-of-potential test.

    READINGS is a CSV table with the columns 'distance' (of the potential pin) and 'reading'.
    """
    from bondwright.cli.earth_files import Column, EarthFileError, read_columns
    from bondwright.earth.fall import FallTest, judge_fall
    from bondwright.units import Dimension, parse

    known = [Column("distance", Dimension.LENGTH), Column("reading", Dimension.RESISTANCE)]
    found = read_columns(readings, known)
    if len(found) < 2:
        raise EarthFileError(f"{readings}: there must be the columns 'distance' and 'reading'")
    test = FallTest(
        found["distance"], found["reading"], parse(far, Dimension.LENGTH), metres(widest)
    )
    result = judge_fall(test, ohms(goal))
    _judged(
        result.judged,
        as_json,
        {
            "at_61_8_ohm": result.at_golden_ohm,
            "slope_method_ohm": result.slope_ohm,
            "slope_method_place": result.slope_place,
            "fitted_ohm": result.fitted_ohm,
            "plateau": result.plateau,
            "plateau_real": result.plateau_real,
        },
    )


@judge.command("clamp")
@click.argument("reading")
@click.option("--electrodes", type=click.IntRange(1), help="How many, thought alike.")
@GOAL
@json_option
@plain_errors
def clamp_command(reading: str, electrodes: int | None, goal: str | None, as_json: bool) -> None:
    """Judge a stakeless clamp reading, like '24.6 ohm', or 'over range'."""
    from bondwright.earth.clamp import judge_clamp
    from bondwright.units import Dimension, parse

    over = reading.strip().lower() in {"over range", "over", "ol"}
    value = math.inf if over else parse(reading, Dimension.RESISTANCE)
    _judged(judge_clamp(value, ohms(goal), electrodes), as_json)


@judge.command("two-point")
@click.argument("reading")
@click.option(
    "--asked", type=click.Choice(["joined", "earth"]), required=True,
    help="What it is to show: that both are joined by metal, or an electrode's resistance.",
)  # fmt: skip
@click.option("--other", help="Resistance of the other end to earth, if known.")
@click.option("--own", help="What the electrode has by itself, if known.")
@click.option("--leads", default="0 ohm", show_default=True, help="Leads that were not nulled.")
@GOAL
@json_option
@plain_errors
def two_point_command(
    reading: str,
    asked: str,
    other: str | None,
    own: str | None,
    leads: str,
    goal: str | None,
    as_json: bool,
) -> None:
    """Judge a two-point reading, like '3 ohm'."""
    from bondwright.earth.readings import Asked, judge_two_point
    from bondwright.units import Dimension, parse

    judged = judge_two_point(
        parse(reading, Dimension.RESISTANCE),
        Asked(asked),
        reference_ohm=ohms(other),
        electrode_ohm=ohms(own),
        leads_ohm=parse(leads, Dimension.RESISTANCE),
        goal_ohm=ohms(goal),
    )
    _judged(judged, as_json)


@judge.command("bond")
@click.argument("readings", nargs=-1, required=True)
@click.option("--limit", required=True, help="The most at 20 degC, like '0.5 ohm'.")
@click.option("--leads", default="0 ohm", show_default=True, help="Leads that were not nulled.")
@click.option("--metal", default="20 degC", show_default=True, help="Temperature of the metal.")
@click.option("--material", type=click.Choice(["Cu", "Al"]), default="Cu", show_default=True)
@json_option
@plain_errors
def bond_command(
    readings: tuple[str, ...], limit: str, leads: str, metal: str, material: str, as_json: bool
) -> None:
    """Judge the continuity of a bond: one reading, or one for each polarity."""
    from bondwright.earth.readings import BondReading, judge_bond
    from bondwright.units import Dimension, parse

    reading = BondReading(
        tuple(parse(text, Dimension.RESISTANCE) for text in readings),
        parse(leads, Dimension.RESISTANCE),
        parse(metal, Dimension.TEMPERATURE),
        material,
    )
    _judged(judge_bond(reading, parse(limit, Dimension.RESISTANCE)), as_json)


@judge.command("box")
@click.argument("readings", nargs=-1, required=True)
@click.option("--area", required=True, help="Cross-section of the sample, like '40 cm2'.")
@click.option("--apart", required=True, help="Distance of the pins, like '10 cm'.")
@json_option
@plain_errors
def box_command(readings: tuple[str, ...], area: str, apart: str, as_json: bool) -> None:
    """Work out the resistivity of a sample in a soil box."""
    from bondwright.earth.readings import judge_soil_box
    from bondwright.units import Dimension, parse

    judged = judge_soil_box(
        [parse(text, Dimension.RESISTANCE) for text in readings],
        parse(area, Dimension.AREA),
        parse(apart, Dimension.LENGTH),
    )
    _judged(judged, as_json)


@judge.command("loop")
@click.argument("reading")
@click.option("--limit", required=True, help="The most at full temperature, like '1.37 ohm'.")
@click.option("--no-trip", is_flag=True, help="Read with a no-trip tester.")
@click.option("--part", default="80 %", show_default=True, help="Part of it held to when cold.")
@json_option
@plain_errors
def loop_command(reading: str, limit: str, no_trip: bool, part: str, as_json: bool) -> None:
    """Judge a loop impedance read on cold conductors, like '0.9 ohm'."""
    from bondwright.earth.readings import LoopTester, judge_loop
    from bondwright.units import Dimension, parse

    tester = LoopTester.NO_TRIP if no_trip else LoopTester.HIGH_CURRENT
    judged = judge_loop(
        parse(reading, Dimension.RESISTANCE),
        parse(limit, Dimension.RESISTANCE),
        tester,
        parse(part, Dimension.RATIO),
    )
    _judged(judged, as_json)


@judge.command("tt")
@click.argument("electrode")
@click.option("--residual", required=True, help="Rated residual current, like '30 mA'.")
@click.option("--give", default="0 ohm", show_default=True, help="Uncertainty of the electrode.")
@json_option
@plain_errors
def tt_command(electrode: str, residual: str, give: str, as_json: bool) -> None:
    """Judge a TT electrode, like '1000 ohm', behind a residual-current device."""
    from bondwright.earth.readings import judge_tt
    from bondwright.units import Dimension, parse

    judged = judge_tt(
        parse(electrode, Dimension.RESISTANCE),
        parse(residual, Dimension.CURRENT),
        parse(give, Dimension.RESISTANCE),
    )
    _judged(judged, as_json)
