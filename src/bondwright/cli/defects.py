"""The command that tries every bonding mistake."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

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
    from bondwright.studies.defects.rank import Ranked
    from bondwright.studies.defects.sweep import Sweep

MOST_DOUBLE = 400
"""Single defects of a site of which every two are tried at once; more take too long here."""


@click.command(short_help="Try every bonding mistake against every fault.")
@SITE
@RULES
@click.option("--pairs", is_flag=True, help="Every two mistakes at once, on a small site.")
@click.option(
    "--every-fault", is_flag=True, help="All faults between two terminals, not only to metal."
)
@click.option("--top", type=click.IntRange(1), default=20, show_default=True, metavar="N",
              help="How many to print.")  # fmt: skip
@click.option("--story", is_flag=True, help="Tell each in full.")
@json_option
@plain_errors
def defects(
    site: Path,
    rules: str | None,
    pairs: bool,
    every_fault: bool,
    top: int,
    story: bool,
    as_json: bool,
) -> None:
    """Try every bonding mistake, one by one, against every fault and in normal use.

    Those that a normal day never shows and a fault makes deadly come first.
    """
    from bondwright.network.build import build
    from bondwright.studies.defects.catalogue import defects as every
    from bondwright.studies.defects.pairs import doubles
    from bondwright.studies.defects.rank import ranked
    from bondwright.studies.defects.sweep import sweep
    from bondwright.studies.fault_list import possible_faults
    from bondwright.studies.fault_model import USUAL

    network = build(read_plan(site, rules), loads=False)
    chosen = every(network)
    if pairs:
        if len(chosen) > MOST_DOUBLE:
            raise click.UsageError(
                f"{len(chosen)} single mistakes make {len(chosen) ** 2 // 2:,} doubles; --pairs "
                f"takes a site of at most {MOST_DOUBLE}"
            )
        chosen = tuple(doubles(chosen))
    faults = possible_faults(network, USUAL) if every_fault else None
    swept = sweep(network, chosen, faults, progress=_progress(as_json))
    found = ranked(swept, top)
    if as_json:
        print_json(
            {
                "format": "bondwright/defects",
                "version": 1,
                "site": network.plan.site.site,
                "state": network.state.id,
                "scenarios": swept.scenarios,
                "followed": swept.followed,
                "defects": [_data(item) for item in found],
            }
        )
    else:
        _print(swept, found, story=story)
        echo_caution()
    # A mistake that could be made isn't one that is there.
    stop(HOLDS)


def _progress(quiet: bool) -> Callable[[int, int], None] | None:
    if quiet or not sys.stderr.isatty():
        return None

    def show(done: int, total: int) -> None:
        click.echo(f"\r{done} of {total} blocks", nl=done == total, err=True)

    return show


def _print(swept: Sweep, found: tuple[Ranked, ...], *, story: bool) -> None:
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
            click.echo(f"\n{RANK_MARKS[item.rank]} {item.defect.name}: {RANK_WORDS[item.rank]}")
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
    tried = len(swept.defects)
    click.echo(
        f"\n{tried:,} mistakes against {len(swept.faults):,} faults: {swept.scenarios:,} cases "
        f"solved, {swept.followed:,} of them followed to their end. Assumed for all: steel "
        "raceways as they are without current, loads as impedances."
    )


def _data(item: Ranked) -> dict[str, object]:
    """Return one ranked defect as a structure; what never ends is null."""
    from bondwright.explain.defects import RANK_WORDS, tell_defect

    def number(value: float) -> float | None:
        return value if math.isfinite(value) else None

    fault, day = item.fault, item.day
    return {
        "id": item.defect.id,
        "kind": item.defect.kind.value,
        "at": item.defect.at,
        "name": item.defect.name,
        "rank": RANK_WORDS[item.rank],
        "faults_made_worse": item.worsened,
        "faults_that_stay_live": item.live,
        "worst_fault": None
        if fault is None
        else {
            "fault": str(fault.fault),
            "harm": fault.harm.name.lower(),
            "current_a": fault.current,
            "clearing_s": number(fault.clearing),
            "never_clears": math.isinf(fault.clearing),
            "touch_v": fault.touch,
            "touch_place": fault.touch_place,
            "touch_limit_v": fault.limit,
            "live_after_v": fault.live_after,
            "opens_first": fault.opener or None,
            "burn_share": number(fault.burn),
            "burns": fault.burns or None,
            "clearing_without_defect_s": number(fault.before_clearing),
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
