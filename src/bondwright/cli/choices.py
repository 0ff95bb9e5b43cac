"""Commands about what may be chosen, and what words mean."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bondwright.cli.common import (
    HOLDS,
    echo_caution,
    echo_text,
    json_option,
    plain_errors,
    print_json,
    stop,
)
from bondwright.cli.site import RULES, SITE, read_plan

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from bondwright.plan.alternatives import Choice
    from bondwright.plan.cost import MaterialLine, Price
    from bondwright.studies.alternatives import Compared


@click.command(short_help="Show where the code leaves a choice, each way side by side.")
@SITE
@RULES
@click.option("--about", metavar="ID", help="Only about this run, row, transformer or electrode.")
@click.option(
    "--prices",
    type=click.Path(path_type=Path),
    help="Price list to cost the material by: CSV with the columns item, unit and price.",
)
@json_option
@plain_errors
def choices(
    site: Path, rules: str | None, about: str | None, prices: Path | None, as_json: bool
) -> None:
    """Show where the code leaves a choice: each way with its material and what a fault does.

    What the description fixes is named and kept.
    """
    from bondwright.plan.alternatives import choices as every
    from bondwright.studies.alternatives import compare_all

    made = read_plan(site, rules)
    found = every(made, None if prices is None else read_price_list(prices), about)
    if about is not None and not found:
        raise click.UsageError(f"nothing to choose about {about!r}; without --about all are listed")
    compared = compare_all(found)
    if as_json:
        print_json(
            {
                "format": "bondwright/choices",
                "version": 1,
                "site": made.site.site,
                "rules": made.site.rules,
                "choices": [_choice_data(choice, ways) for choice, ways in compared],
            }
        )
    else:
        click.echo(f"{made.site.site} ({made.site.rules})")
        if not compared:
            click.echo("Nothing to choose: the description fixes everything, or is as found.")
        for choice, ways in compared:
            _print_choice(choice, ways)
        echo_caution()
    stop(HOLDS)


def read_price_list(path: Path) -> Mapping[str, Price]:
    """Read a price list, or say why it can't be read."""
    from bondwright.plan.cost import PriceError, read_prices

    try:
        return read_prices(path.read_text(encoding="utf-8"), str(path))
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is no UTF-8 text"
        raise click.UsageError(f"{path} can't be read: {reason.lower()}") from error
    except PriceError as error:
        raise click.UsageError(str(error)) from error


def _print_choice(choice: Choice, ways: Sequence[Compared]) -> None:
    from bondwright.explain.words import amps, listed, seconds, volts

    fixed = f"; the description fixes it ({choice.fixed})" if choice.fixed else ""
    click.echo(f"\n{choice.about}: {choice.kind}  [{choice.clause}]{fixed}")
    for one in ways:
        way = one.way
        click.echo(f"  {'as planned' if way.planned else 'or'}: {way.what}")
        if way.remark:
            echo_text(f"{way.remark[0].upper()}{way.remark[1:]}.")
        if one.fault is not None:
            touch = max(one.fault.touch.values(), default=0.0)
            over = seconds(one.fault.clearing)
            end = "never cleared" if over == "never" else f"over within {over}"
            stray = amps(one.stray) if one.stray else "none"
            echo_text(
                f"{one.fault.fault}: {amps(one.fault.current)}, {end}, metal at "
                f"{volts(touch)}; neutral current on metal in normal use: {stray}."
            )
        if way.material:
            echo_text(f"Material: {'; '.join(_material_text(line) for line in way.material)}.")
        if way.cost is not None and way.material:
            left = [*way.cost.missing, *way.cost.unmeasured]
            tail = f", without {listed(left)}" if left else ""
            echo_text(f"By the price list: {way.cost.total}{tail}.")
        for finding in way.findings:
            echo_text(f"{finding.severity.value}: {finding.title} ({finding.where})")


def _material_text(line: MaterialLine) -> str:
    from bondwright.units import Dimension, show

    if line.quantity is None:
        return f"{line.item} ({line.remark})"
    much = show(line.quantity, Dimension.LENGTH) if line.unit == "m" else f"{line.quantity:g}"
    return f"{much} {line.item}" + (f" ({line.remark})" if line.remark else "")


def _choice_data(choice: Choice, ways: Sequence[Compared]) -> dict[str, Any]:
    return {
        "about": choice.about,
        "what": str(choice.kind),
        "clause": choice.clause,
        "fixed": choice.fixed,
        "ways": [_way_data(one) for one in ways],
    }


def _way_data(one: Compared) -> dict[str, Any]:
    from bondwright.papers.data import fault_data, findings_data

    way, cost = one.way, one.way.cost
    return {
        "what": way.what,
        "planned": way.planned,
        "open": way.open,
        "remark": way.remark,
        "rows": [{"row": r.row, "before": r.before, "after": r.after} for r in way.rows],
        "findings": findings_data(way.findings),
        "material": [
            {
                "row": line.row,
                "item": line.item,
                "quantity": line.quantity,
                "unit": line.unit,
                "remark": line.remark,
            }
            for line in way.material
        ],
        "cost": None
        if cost is None
        else {
            "total": str(cost.total),
            "without_price": list(cost.missing),
            "without_length": list(cost.unmeasured),
        },
        "fault": None if one.fault is None else fault_data(one.fault, way.plan),
        "stray_a": one.stray,
    }


@click.command(short_help="Say what a word of the trade means, in three dialects.")
@click.argument("word", required=False)
@click.option(
    "--dialect",
    type=click.Choice(["us", "iec", "au"]),
    default="us",
    show_default=True,
    help="Whose words to list by: United States, UK and IEC, Australia and New Zealand.",
)
@json_option
@plain_errors
def words(word: str | None, dialect: str, as_json: bool) -> None:
    """Say what a word of the trade means, and what it is called elsewhere; without one, all."""
    from bondwright.explain.glossary import Dialect, UnknownTermError, glossary, look_up

    mine = Dialect(dialect)
    try:
        found = [term for _, term in glossary(mine)] if word is None else list(look_up(word))
    except UnknownTermError as error:
        raise click.UsageError(str(error)) from error
    if as_json:
        print_json(
            {
                "format": "bondwright/words",
                "version": 1,
                "dialect": dialect,
                "words": [
                    {
                        "id": term.id,
                        "word": term.word(mine),
                        "called": {str(d): said for d, said in term.words.items()},
                        "also": list(term.also),
                        "meaning": term.meaning,
                    }
                    for term in found
                ],
            }
        )
        return
    for term in found:
        click.echo(term.word(mine))
        echo_text(term.meaning)
        if word is not None:
            for region, said in term.words.items():
                click.echo(f"  {region.readers}: {said or 'no such thing'}")
            if term.also:
                click.echo(f"  also: {', '.join(term.also)}")
