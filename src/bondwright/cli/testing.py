"""Commands about test sheets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bondwright.cli.common import (
    BAD_INPUT,
    FALLS_SHORT,
    HOLDS,
    check_writable,
    echo_caution,
    json_option,
    plain_errors,
    print_json,
    stop,
)
from bondwright.cli.site import RULES, SITE, read_plan

if TYPE_CHECKING:
    from bondwright.explain.test_sheet import Filled
    from bondwright.plan.model import Plan
    from bondwright.studies.measuring import MeasuringPoint


@click.group(short_help="Test sheets, to fill in and filled in.")
def testing() -> None:
    """Test sheets: what to measure, what it should read, and what the readings say."""


@testing.command(short_help="Write the test sheet of a site.")
@SITE
@RULES
@click.option(
    "--out", type=click.Path(path_type=Path), required=True,
    help="File to write; '.csv' or '.xlsx' says which kind.",
)  # fmt: skip
@plain_errors
def sheet(site: Path, rules: str | None, out: Path) -> None:
    """Write the test sheet of a site: what to measure where, with what, and what it should read.

    One row for each bond, tie, feeder, electrode, fault loop and residual device, in walking
    order, with the value that the site's own circuit gives and the limit with its source.
    """
    from bondwright.exchange.sheets import csv_text, workbook
    from bondwright.explain.dialect import retold, speaker
    from bondwright.explain.test_sheet import rows
    from bondwright.site.writer import save

    check_writable(out)
    if out.suffix.lower() not in (".csv", ".xlsx"):
        raise click.UsageError(f"{out}: name the file '.csv' or '.xlsx'")
    made = read_plan(site, rules)
    points = _points(made)
    table = retold(rows(made.site.site, points), speaker(made.site))
    save(out, csv_text(table) if out.suffix.lower() == ".csv" else workbook([("tests", table)]))
    click.echo(f"wrote {out}: {len(points)} tests")
    echo_caution()


@testing.command(short_help="Judge a filled test sheet.")
@SITE
@click.argument("file", type=click.Path(path_type=Path))
@RULES
@json_option
@plain_errors
def judge(site: Path, file: Path, rules: str | None, as_json: bool) -> None:
    """Judge a filled test sheet against the site.

    Exit code 1 when a reading falls short, 2 when a row can't be used.
    """
    from bondwright.earth.judged import Verdict
    from bondwright.exchange.sheets import read_sheets
    from bondwright.explain.test_sheet import read_filled

    sheets = read_sheets(file)
    if not sheets:
        raise click.UsageError(f"{file} is empty")
    filled = read_filled(sheets[0], _points(read_plan(site, rules)))
    if as_json:
        print_json(_data(filled))
    else:
        _print(filled)
    short = any(r.judged.verdict is Verdict.FALLS_SHORT for r in filled.records)
    stop(BAD_INPUT if filled.problems else FALLS_SHORT if short else HOLDS)


def _points(plan: Plan) -> tuple[MeasuringPoint, ...]:
    from bondwright.network.build import build
    from bondwright.studies.fault_model import FaultKind
    from bondwright.studies.faults import possible_faults, study_fault
    from bondwright.studies.measuring import measuring_points
    from bondwright.studies.stray import study_stray

    quiet = build(plan, loads=False)
    faults = possible_faults(quiet, (FaultKind.LINE_TO_METAL,))
    return measuring_points(
        plan, tuple(study_fault(quiet, each) for each in faults), study_stray(build(plan))
    )


def _print(filled: Filled) -> None:
    from bondwright.cli.common import echo_because
    from bondwright.cli.tables import print_table
    from bondwright.explain.test_sheet import judged_rows

    table = judged_rows(filled)
    print_table(("test", "expected", "limit", "reading", "verdict"), [row[:5] for row in table])
    echo_because(tuple(f"{row[0]}: {row[5]}" for row in table if row[5]))
    if filled.problems:
        click.echo("\nnot used:")
        echo_because(tuple(f"{where}: {problem}" for where, problem in filled.problems))
    if filled.empty:
        click.echo(f"\nnot read yet: {len(filled.empty)}")
        echo_because(filled.empty)
    echo_caution()


def _data(filled: Filled) -> dict[str, Any]:
    import math

    return {
        "format": "bondwright/tests",
        "version": 1,
        "readings": [
            {
                "id": r.judged.point.id,
                "place": r.judged.point.place,
                "measure": r.judged.point.what.value,
                "unit": r.judged.point.unit.value,
                "expected": r.judged.point.expected,
                "limit": r.judged.point.limit,
                "sense": r.judged.point.sense.value,
                "source": r.judged.point.source,
                "value": None if math.isinf(r.judged.value) else r.judged.value,
                "over_range": math.isinf(r.judged.value),
                "uncertainty": r.judged.uncertainty,
                "verdict": r.judged.verdict.value,
                "unexplained": r.judged.unexplained,
                "words": list(r.judged.words),
                "serial": r.serial,
                "date": r.date,
                "weather": r.weather,
                "by": r.by,
                "remark": r.remark,
            }
            for r in filled.records
        ],
        "not_read": list(filled.empty),
        "problems": [{"cell": where, "problem": problem} for where, problem in filled.problems],
    }
