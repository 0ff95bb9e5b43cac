"""Commands about panel schedules."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from bondwright.cli.common import BAD_INPUT, HOLDS, check_writable, plain_errors, stop
from bondwright.cli.site import SITE

if TYPE_CHECKING:
    from bondwright.exchange.circuits import Left, Schedule
    from bondwright.exchange.sheets import Sheet

_SHEET = click.option(
    "--sheet", metavar="NAME", help="Which sheet of an XLSX file, where there are several."
)


@click.group(short_help="Panel schedules, in from a table and out as one.")
def circuits() -> None:
    """Panel schedules as CSV or XLSX, however they are laid out.

    Every row is accounted for: a circuit, a spare, a space, a title or total, or a doubt that is
    told with its reason. None is dropped silently.
    """


@circuits.command(short_help="Say what a schedule is understood to say.")
@click.argument("file", type=click.Path(path_type=Path))
@_SHEET
@plain_errors
def read(file: Path, sheet: str | None) -> None:
    """Say what a schedule is understood to say; FILE '-' reads what is pasted.

    Exit code 2 when a row is in doubt.
    """
    schedule = _read(file, sheet)
    _print(schedule)
    stop(BAD_INPUT if schedule.doubts else HOLDS)


@circuits.command(short_help="Add the circuits of a schedule to a site file.")
@SITE
@click.argument("panel")
@click.argument("file", type=click.Path(path_type=Path))
@_SHEET
@click.option("--length", help="Length of a branch circuit where none is given: '60 ft'.")
@click.option("--wire", help="Wire of a branch circuit where none is given: '12 AWG Cu'.")
@click.option("--metal", type=click.Choice(["Cu", "Al"]), help="Of wires whose metal isn't said.")
@click.option(
    "--out", type=click.Path(path_type=Path), required=True,
    help="The site file to write; may be the one that is read.",
)  # fmt: skip
@plain_errors
def add(
    site: Path, panel: str, file: Path, sheet: str | None, length: str | None, wire: str | None,
    metal: str | None, out: Path,
) -> None:  # fmt: skip
    """Add the circuits of a schedule to the PANEL of a site file.

    Each becomes a run to a place of its own. Nothing that is in the site file is touched. Where
    neither the schedule nor an option says what a circuit needs, it is left out and told. Exit
    code 2 when something was left out.
    """
    from bondwright.exchange.panel import Assumed, add_circuits
    from bondwright.site.text_file import decode, read_bytes
    from bondwright.site.writer import save

    check_writable(out)
    schedule = _read(file, sheet)
    text = decode(read_bytes(site), str(site))
    added = add_circuits(text, panel, schedule, Assumed(length, wire, metal))
    save(out, added.text)
    left = (*schedule.doubts, *added.doubts)
    number = len(added.places)
    click.echo(f"wrote {out}: {number} {'circuit' if number == 1 else 'circuits'} added to {panel}")
    for place in added.places:
        click.echo(f"  {place}")
    _print_left("left out", left)
    stop(BAD_INPUT if left else HOLDS)


@circuits.command(short_help="Write the schedule of a panel as CSV or XLSX.")
@SITE
@click.argument("panel")
@click.option(
    "--out", type=click.Path(path_type=Path), required=True,
    help="File to write; '.csv' or '.xlsx' says which kind.",
)  # fmt: skip
@plain_errors
def table(site: Path, panel: str, out: Path) -> None:
    """Write the circuits that leave a PANEL as a table; 'read' reads it back."""
    from bondwright.exchange.panel import table as made
    from bondwright.exchange.sheets import csv_text, workbook
    from bondwright.site.reader import load
    from bondwright.site.writer import save

    check_writable(out)
    if out.suffix.lower() not in (".csv", ".xlsx"):
        raise click.UsageError(f"{out}: name the file '.csv' or '.xlsx'")
    rows = made(load(site), panel)
    save(out, csv_text(rows) if out.suffix.lower() == ".csv" else workbook([(panel, rows)]))
    click.echo(f"wrote {out}: {len(rows) - 3} circuits")


def _read(file: Path, name: str | None) -> Schedule:
    from bondwright.exchange.circuits import read_schedule
    from bondwright.exchange.sheets import read_sheets, read_text

    if str(file) == "-":
        return read_schedule(read_text(sys.stdin.read()))
    return read_schedule(_chosen(file, read_sheets(file), name))


def _chosen(file: Path, sheets: tuple[Sheet, ...], name: str | None) -> Sheet:
    titles = [sheet.title for sheet in sheets]
    if not sheets:
        raise click.UsageError(f"{file} is empty")
    if name is not None:
        if name not in titles:
            raise click.UsageError(f"{file} has no sheet '{name}'; it has {', '.join(titles)}")
        return sheets[titles.index(name)]
    if len(sheets) > 1:
        raise click.UsageError(f"{file} has several sheets: --sheet {' or '.join(titles)}")
    return sheets[0]


def _print(schedule: Schedule) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.exchange.panel import in_words

    print_table(
        ("circuit", "what", "device", "poles", "load", "wire", "length", "cell"),
        [in_words(circuit) for circuit in schedule.circuits],
    )
    _print_left("in doubt", schedule.doubts)
    _print_left("not circuits", schedule.remarks)


def _print_left(head: str, left: tuple[Left, ...]) -> None:
    from bondwright.cli.common import echo_because

    if left:
        click.echo(f"\n{head}:")
    echo_because(
        tuple(
            f"{each.where}: {each.text}" + (f" ({each.problem})" if each.problem else "")
            for each in left
        )
    )
