"""The command that opens a supply's neutral."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bondwright.cli.common import (
    HOLDS,
    echo_caution,
    echo_text,
    finite,
    json_option,
    plain_errors,
    print_json,
    said,
    stop,
)
from bondwright.cli.site import RULES, SITE, read_plan
from bondwright.units import Dimension, UnitError, parse

if TYPE_CHECKING:
    from bondwright.studies.open_neutral import OpenNeutral, Point

_SHOWN = 5
"""Every so manieth resistance of the curves is a row of the table."""


@click.command("open-neutral", short_help="Open a supply's neutral: what metal stands at.")
@SITE
@click.option("--run", metavar="NAME", help="The supply run; the first that has a neutral.")
@click.option("--load", "loads", multiple=True, metavar="POWER",
              help="Total load of a curve, '2.4 kW'; may be given several times. A quarter of the "
              "described load to twice of it if left out.")  # fmt: skip
@click.option("--picture", type=click.Path(path_type=Path), metavar="FILE.svg",
              help="Draw the curves.")  # fmt: skip
@RULES
@json_option
@plain_errors
def open_neutral(
    site: Path,
    run: str | None,
    loads: tuple[str, ...],
    picture: Path | None,
    rules: str | None,
    as_json: bool,
) -> None:
    """Open the neutral of a supply and say what all bonded metal then stands at.

    Over the resistance of all electrodes together and over the load, with what loads get of their
    voltage, and what residual-current devices see of it. A calculation; nobody lifts a neutral to
    try it.
    """
    from bondwright.studies.open_neutral import study_open_neutral

    plan = read_plan(site, rules)
    try:
        study = study_open_neutral(plan, run, sorted(_watts(text) for text in loads))
    except ValueError as error:
        raise click.UsageError(f"{site}: {error}") from error
    if picture is not None:
        from bondwright.draw.open_neutral import open_neutral_plot

        picture.write_text(open_neutral_plot(study).svg, encoding="utf-8")
    if as_json:
        print_json(_data(plan.site.site, study))
    else:
        _print(study)
        if picture is not None:
            click.echo(f"wrote {picture}")
        echo_caution()
    # A mistake that could happen isn't one that is there.
    stop(HOLDS)


def _watts(text: str) -> float:
    try:
        value = parse(text, Dimension.REAL_POWER)
    except UnitError as error:
        raise click.UsageError(f"--load {text!r}: {error}") from error
    if not 0 < value < math.inf:
        raise click.UsageError(f"--load {text!r}: give more than nothing, such as '2.4 kW'")
    return value


def _print(study: OpenNeutral) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.explain.open_neutral import ohms, power, tell_open_neutral
    from bondwright.explain.words import volts

    story = tell_open_neutral(study)
    click.echo(said(story.title))
    for sentence in story.sentences:
        echo_text(sentence)
    click.echo()
    print_table(
        ("to earth", *(f"{power(p)} on" for p in study.powers)),
        [
            (ohms(float(r)), *(volts(row[k].metal) for row in study.points))
            for k, r in enumerate(study.resistances)
            if k % _SHOWN == 0
        ],
    )


def _data(name: str, study: OpenNeutral) -> dict[str, object]:
    from bondwright.explain.open_neutral import tell_open_neutral

    story = tell_open_neutral(study)
    return {
        "format": "bondwright/open-neutral",
        "version": 1,
        "site": name,
        "run": study.run,
        "at": study.at,
        "neutral_tied_to_metal": study.tied,
        "limit_v": study.limit,
        "as_described": None
        if study.now is None
        else {"resistance_ohm": study.resistance, **_point(study.now)},
        "residual_devices": list(study.devices) if study.residual_devices else [],
        "curves": [
            {
                "load_w": watts,
                "as_described": k == study.described,
                "passes_limit_from_ohm": finite(study.crosses(k)),
                "points": [
                    {"resistance_ohm": float(r), **_point(p)}
                    for r, p in zip(study.resistances, study.points[k], strict=True)
                ],
            }
            for k, watts in enumerate(study.powers)
        ],
        "told": list(story.sentences),
    }


def _point(point: Point) -> dict[str, float | None]:
    return {
        "metal_v": point.metal,
        "earth_a": point.earth,
        "residual_a": finite(point.residual),
        "lowest_load_part": point.low,
        "highest_load_part": point.high,
    }
