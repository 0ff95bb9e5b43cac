"""The command that tries every bonding mistake."""

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
from bondwright.cli.workers import how_asked, telling_of_stops, where_options

if TYPE_CHECKING:
    from bondwright.studies.defects.doubles import Choice
    from bondwright.studies.defects.rank import Ranked
    from bondwright.studies.defects.sweep import Sweep

MOST_DOUBLES = 50_000
"""Doubles that are tried unless more are asked for: a minute or two by one process."""


@click.command(short_help="Try every bonding mistake against every fault.")
@SITE
@RULES
@click.option("--pairs", is_flag=True, help="Two mistakes at once.")
@click.option("--most", type=click.IntRange(1), metavar="N",
              help="With --pairs: how many to try, those first whose two mistakes have most to "
              f"do with each other; {MOST_DOUBLES:,} if left out.")  # fmt: skip
@click.option(
    "--every-fault", is_flag=True, help="All faults between two terminals, not only to metal."
)
@click.option("--top", type=click.IntRange(1), default=20, show_default=True, metavar="N",
              help="How many to print.")  # fmt: skip
@click.option("--story", is_flag=True, help="Tell each in full.")
@where_options
@json_option
@plain_errors
def defects(
    site: Path,
    rules: str | None,
    pairs: bool,
    most: int | None,
    every_fault: bool,
    top: int,
    story: bool,
    workers: int,
    scheduler: str,
    keep: Path | None,
    as_json: bool,
) -> None:
    """Try every bonding mistake, one by one, against every fault and in normal use.

    Those that a normal day never shows and a fault makes deadly come first. With --pairs two at
    a time: those first that are worse together than each alone.
    """
    from bondwright.studies.defects.rank import ranked
    from bondwright.studies.defects.work import sweep_doubles, sweep_singles

    if most is not None and not pairs:
        raise click.UsageError("--most goes with --pairs: single mistakes are all tried")
    how = how_asked(site, "defects", workers, scheduler, keep, quiet=as_json)
    made = read_plan(site, rules)
    choice: Choice | None = None
    with telling_of_stops():
        if pairs:
            doubled = sweep_doubles(
                made, how=how, every_fault=every_fault, most=most or MOST_DOUBLES
            )
            choice, singles, swept = doubled.choice, doubled.singles, doubled.swept
            found = () if swept is None else ranked(swept, top, singles)
        else:
            swept = sweep_singles(made, how=how, every_fault=every_fault)
            found = ranked(swept, top)
    if as_json:
        print_json(
            {
                "format": "bondwright/defects",
                "version": 1,
                "site": made.site.site,
                "state": made.states[0].id,
                "scenarios": 0 if swept is None else swept.scenarios,
                "followed": 0 if swept is None else swept.followed,
                "pairs": None if choice is None else _choice_data(choice),
                "defects": [_data(item) for item in found],
            }
        )
    else:
        _print(found, story=story)
        if swept is not None:
            _print_counts(swept)
        if choice is not None:
            from bondwright.explain.defects import tell_choice

            for sentence in tell_choice(choice):
                echo_text(sentence, "")
        echo_caution()
    # A mistake that could be made isn't one that is there.
    stop(HOLDS)


def _choice_data(choice: Choice) -> dict[str, object]:
    return {
        "possible": choice.possible,
        "having_to_do_with_each_other": choice.near,
        "tried": len(choice.pairs),
        "left_out": choice.left_out,
        "largest_interplay_left_out": choice.left_kappa if choice.left_out else None,
    }


def _print(found: tuple[Ranked, ...], *, story: bool) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.explain.defects import (
        RANK_MARKS,
        RANK_WORDS,
        day_cell,
        fault_cell,
        tell_defect,
    )

    if story:
        for item in found:
            title = f"{RANK_MARKS[item.rank]} {item.defect.name}: {RANK_WORDS[item.rank]}"
            click.echo(f"\n{said(title)}")
            for sentence in tell_defect(item):
                echo_text(sentence)
    else:
        print_table(
            ("", "mistake", "rank", "worst fault", "a normal day", "how it is found"),
            [
                (
                    RANK_MARKS[item.rank],
                    item.defect.name,
                    RANK_WORDS[item.rank],
                    fault_cell(item),
                    day_cell(item),
                    item.defect.found_by[0].value.partition(",")[0],
                )
                for item in found
            ],
        )


def _print_counts(swept: Sweep) -> None:
    from bondwright.studies.defects.doubles import Doubles

    tried = len(swept.defects)
    what = "pairs of mistakes" if isinstance(swept.defects, Doubles) else "mistakes"
    click.echo(
        f"\n{tried:,} {what} against {len(swept.faults):,} faults: {swept.scenarios:,} cases "
        f"solved, {swept.followed:,} of them followed to their end. Assumed for all: steel "
        "raceways as they are without current, loads as impedances."
    )


def _data(item: Ranked) -> dict[str, object]:
    """Return one ranked defect as a structure; what never ends is null."""
    from bondwright.explain.defects import RANK_WORDS, tell_defect

    fault, day = item.fault, item.day
    return {
        "id": item.defect.id,
        "kind": item.defect.kind.value,
        "at": item.defect.at,
        "name": item.defect.name,
        "rank": RANK_WORDS[item.rank],
        "worse_than_each_alone": item.more,
        "faults_made_worse": item.worsened,
        "faults_that_stay_live": item.live,
        "worst_fault": None
        if fault is None
        else {
            "fault": str(fault.fault),
            "harm": fault.harm.name.lower(),
            "current_a": fault.current,
            "clearing_s": finite(fault.clearing),
            "never_clears": math.isinf(fault.clearing),
            "touch_v": fault.touch,
            "touch_place": fault.touch_place,
            "touch_limit_v": fault.limit,
            "live_after_v": fault.live_after,
            "opens_first": fault.opener or None,
            "burn_share": finite(fault.burn),
            "burns": fault.burns or None,
            "clearing_without_defect_s": finite(fault.before_clearing),
            "touch_without_defect_v": fault.before_touch,
        },
        "normal_day": None
        if day is None
        else {
            "shows": day.shows,
            "stray_change_a": day.stray,
            "stray_where": day.stray_where or None,
            "lowest_load_part": day.low,
            "lowest_load": day.low_where or None,
            "highest_load_part": day.high,
            "highest_load": day.high_where or None,
            "metal_rise_v": day.metal,
            "residual_device_opens": day.opens,
        },
        "found_by": [way.value for way in item.defect.found_by],
        "told": list(tell_defect(item)),
    }
