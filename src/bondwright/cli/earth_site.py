"""The ground of a site file: electrodes, their matrix, the surface in a fault, and field tests."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bondwright.cli.common import (
    FALLS_SHORT,
    HOLDS,
    check_writable,
    echo_caution,
    echo_text,
    json_option,
    plain_errors,
    print_json,
    stop,
)
from bondwright.cli.earth_judge import FORMAT, GOAL, VERSION, ohms
from bondwright.cli.site import RULES, SITE, read_plan

if TYPE_CHECKING:
    from bondwright.plan.model import Plan
    from bondwright.studies.earth_tests import JudgedTest
    from bondwright.studies.ground_model import GroundFault, GroundStudy


@click.command("site")
@SITE
@RULES
@click.option("--place", help="Only faults at this place.")
@GOAL
@click.option(
    "--picture",
    "picture",
    type=click.Path(path_type=Path, dir_okay=False),
    help="Write the ground from above as SVG.",
)
@click.option(
    "--shade",
    type=click.Choice(["touch", "step", "ground", "none"]),
    default="touch",
    show_default=True,
    help="Voltage that the picture shows.",
)
@json_option
@plain_errors
def site_command(
    site: Path,
    rules: str | None,
    place: str | None,
    goal: str | None,
    picture: Path | None,
    shade: str,
    as_json: bool,
) -> None:
    """Work out the electrodes of a site file in its ground, in the faults of its network.

    Touch and step voltage, and what pipes, fences and shields carry away, are for the currents
    that the solved circuit sends into the earth. 'bondwright earth SITE' is the same.
    """
    from bondwright.network.build import build
    from bondwright.papers.earth import draw_ground
    from bondwright.papers.earth_data import ground_data
    from bondwright.rules.answer import Verdict
    from bondwright.studies.earth_tests import judge_tests
    from bondwright.studies.faults import FaultKind, possible_faults, study_faults
    from bondwright.studies.ground import study_ground

    if picture is not None:
        check_writable(picture)
    plan = read_plan(site, rules)
    network = build(plan, loads=False)
    chosen = possible_faults(network, [FaultKind.LINE_TO_METAL])
    if place is not None:
        chosen = [fault for fault in chosen if fault.place == place]
        if not chosen:
            raise click.UsageError(f"there is no fault of a line to metal at {place!r}")
    study = study_ground(network, study_faults(network, chosen))
    tests = judge_tests(plan)
    most = ohms(goal)
    value = study.resistance_ohm
    short = most is not None and value is not None and value > most
    verdicts = [_verdict(one) for one in study.faults]
    short = short or Verdict.FALLS_SHORT in verdicts
    if picture is not None:
        if not study.ground.shapes:
            raise click.UsageError(
                f"{site}: no electrode has a place; add 'position: [0 m, 0 m]' to one"
            )
        which = "" if shade == "none" else shade
        drawn = draw_ground(plan, study, which, 760.0, "")
        picture.write_text(drawn.svg, encoding="utf-8")
    if as_json:
        print_json(
            {
                "format": FORMAT,
                "version": VERSION,
                "site": plan.site.site,
                "verdict": "falls short" if short else "cannot tell",
                **ground_data(study, tests),
            }
        )
    else:
        _print(plan, study, tests, most)
        if picture is not None:
            click.echo(f"wrote {picture}")
        echo_caution()
    stop(FALLS_SHORT if short else HOLDS)


def _verdict(one: GroundFault) -> object:
    from bondwright.explain.ground import tell_ground_fault

    return tell_ground_fault(one).verdict


def _print(
    plan: Plan, study: GroundStudy, tests: tuple[JudgedTest, ...], goal: float | None
) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.earth.judged import CAUTION
    from bondwright.explain.earth_tests import tell_test
    from bondwright.explain.ground import (
        SURFACE_NOTE,
        method_words,
        range_words,
        state_words,
        tell_ground,
        tell_ground_fault,
    )
    from bondwright.explain.ground import ohms as shown
    from bondwright.explain.words import MARKS
    from bondwright.rules.families import unit_system

    system = unit_system(plan.site.rules)
    click.echo(plan.site.site)
    if study.rows:
        print_table(
            ["electrode", "kind", "alone", "range", "from", "of the current"],
            [
                [
                    row.id,
                    row.kind.value,
                    shown(row.own),
                    range_words(row),
                    method_words(row),
                    state_words(row),
                ]
                for row in study.rows
            ],
        )
    if len(study.rows) > 1:
        click.echo("Matrix: volts on each for an ampere into another (ohm)")
        print_table(
            ["", *study.ground.names],
            [
                [one, *(f"{value:.3g}" for value in row)]
                for one, row in zip(study.ground.names, study.ground.resistance, strict=True)
            ],
        )
    told = tell_ground(study, system)
    click.echo(told.title)
    for sentence in told.sentences:
        echo_text(sentence)
    if goal is not None and study.resistance_ohm is not None:
        held = study.resistance_ohm <= goal
        mark = "✓" if held else "✗"
        echo_text(
            f"{mark} Computed, that is {'not more' if held else 'more'} than {shown(goal)}; the "
            "measured electrode decides."
        )
    for one in study.faults:
        fault = tell_ground_fault(one, system)
        click.echo(f"\n{MARKS[fault.verdict]} {fault.title}: {fault.verdict.value}")
        for sentence in fault.sentences:
            echo_text(sentence)
    if study.faults:
        click.echo("")
        echo_text(SURFACE_NOTE)
    for test in tests:
        sheet = tell_test(test, system)
        click.echo(f"\n{MARKS[sheet.verdict]} {sheet.title}: {sheet.verdict.value}")
        for sentence in sheet.sentences:
            echo_text(sentence)
    if tests:
        click.echo("")
        echo_text(CAUTION)
