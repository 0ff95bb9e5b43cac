"""The command that compares two descriptions of a site."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bondwright.cli.common import (
    FALLS_SHORT,
    HOLDS,
    echo_caution,
    json_option,
    plain_errors,
    print_json,
    stop,
    wide,
)

if TYPE_CHECKING:
    from bondwright.explain.differences import Comparison
    from bondwright.site.model import Site


@click.command(short_help="Tell what differs between two site files.")
@click.argument("before", type=click.Path(path_type=Path))
@click.argument("after", type=click.Path(path_type=Path))
@json_option
@plain_errors
def compare(before: Path, after: Path, as_json: bool) -> None:
    """Tell what differs between two site files, and what that changes.

    As designed against as built, say: what was described differently, which bonds and
    conductors are no longer the same, and which findings are new or gone. Exit code 1 when a
    new finding falls short.
    """
    from bondwright.site.reader import load

    tell(compared(load(before), load(after)), (str(before), str(after)), as_json)


def compared(before: Site, after: Site) -> Comparison:
    """Study two sites and compare them."""
    from bondwright.explain.differences import compare as of_plans
    from bondwright.papers.results import study
    from bondwright.plan.build import plan

    old, new = study(plan(before)), study(plan(after))
    return of_plans(old.plan, new.plan, old.findings, new.findings)


def tell(comparison: Comparison, names: tuple[str, str], as_json: bool) -> None:
    """Print a comparison and leave with its exit code."""
    if as_json:
        print_json(_data(comparison, names))
    else:
        from bondwright.explain.differences import lines

        click.echo(f"from {names[0]} to {names[1]}")
        parts = lines(comparison)
        for head, body in parts:
            click.echo(f"\n{head}:")
            for line in body:
                _echo_item(line)
        if not parts:
            click.echo("the same: neither the description nor what follows from it differs")
        echo_caution()
    short = any(f.severity.value in ("danger", "falls short") for f in comparison.new)
    stop(FALLS_SHORT if short else HOLDS)


def _echo_item(line: str) -> None:
    import textwrap

    click.echo(textwrap.fill(line, width=wide(), initial_indent="  - ", subsequent_indent="    "))


def _data(comparison: Comparison, names: tuple[str, str]) -> dict[str, Any]:
    from bondwright.papers.data import findings_data

    return {
        "format": "bondwright/comparison",
        "version": 1,
        "before": names[0],
        "after": names[1],
        "described": [
            {"path": list(each.path), "before": each.before, "after": each.after}
            for each in comparison.described
        ],
        "bonds": [
            {
                "item": each.item,
                "what": each.what,
                "before": each.before or None,
                "after": each.after or None,
            }
            for each in comparison.bonds
        ],
        "new": findings_data(comparison.new),
        "gone": findings_data(comparison.gone),
    }
