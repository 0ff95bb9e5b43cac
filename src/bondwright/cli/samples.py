"""Faults and stray current of a site whose quantities are ranges."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar

import click

from bondwright.cli.common import (
    FALLS_SHORT,
    HOLDS,
    echo_caution,
    echo_text,
    finite,
    print_json,
    stop,
)
from bondwright.cli.workers import how_asked, telling_of_stops, where_options

if TYPE_CHECKING:
    from bondwright.plan.model import Plan
    from bondwright.studies.spread.matters import Spread
    from bondwright.studies.spread.study import Sampled
    from bondwright.studies.spread.work import What

_F = TypeVar("_F", bound=Callable[..., Any])

_OPTIONS: Final = (
    click.option(
        "--samples",
        type=click.IntRange(2, 1_000_000),
        metavar="N",
        help="Sample the quantities that are ranges N times: the range of each answer, and which "
        "unknown matters most.",
    ),
    click.option(
        "--seed",
        type=click.IntRange(0),
        default=0,
        show_default=True,
        help="Which samples; the same number gives the same.",
    ),
)


def sample_options(function: _F) -> _F:
    """Add ``--samples``, ``--seed``, and where they are studied."""
    function = where_options(function)
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


def refuse_idle_options(
    samples: int | None, workers: int, scheduler: str, keep: Path | None
) -> None:
    """Refuse options that mean nothing without samples.

    Raises:
        click.UsageError: there is one.
    """
    for name, given in (("--workers", workers), ("--scheduler", scheduler), ("--keep", keep)):
        if given and samples is None:
            raise click.UsageError(f"{name} goes with --samples: one question is asked here itself")


def study_sampled(
    site: Path, made: Plan, what: What, samples: int, seed: int,
    where: tuple[int, str, Path | None], *, as_json: bool, story: bool = False,
) -> None:  # fmt: skip
    """Study samples of a site, print what came of them, and leave."""
    from bondwright.studies.spread.study import study_samples
    from bondwright.studies.spread.work import Samples

    how = how_asked(site, what.study, *where, quiet=as_json)
    with telling_of_stops():
        found = study_samples(Samples.of(made.site, what, samples, seed), how)
    if as_json:
        print_json(_data(found, what))
    else:
        _print(found, story=story)
        echo_caution()
    from bondwright.rules.answer import Verdict

    short = any(one.verdicts[Verdict.FALLS_SHORT] for one in found.faults) or any(
        one.objectionable for one in found.currents
    )
    stop(FALLS_SHORT if short else HOLDS)


def echo_nominal(made: Plan) -> None:
    """Say which values were taken, where a site has ranges and none were sampled."""
    from bondwright.explain.spread import tell_nominal

    taken = nominal_values(made)
    if taken:
        click.echo("")
        echo_text(tell_nominal(taken), "")


def nominal_values(made: Plan) -> tuple[tuple[str, str, str], ...]:
    """Return (name, range, nominal value) of every quantity that is a range."""
    from bondwright.site.ranges import unknowns

    return tuple((one.name, one.text, one.nominal) for one in unknowns(made.site))


def nominal_data(made: Plan) -> list[dict[str, str]]:
    """Return the same as a structure."""
    return [
        {"quantity": name, "range": text, "taken": nominal}
        for name, text, nominal in nominal_values(made)
    ]


def _print(found: Sampled, *, story: bool) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.explain.spread import (
        matters_cell,
        ranged,
        tell_fault_spread,
        tell_samples,
        tell_stray_spread,
        verdict_cell,
    )
    from bondwright.explain.words import amps, flow_name, percent, seconds, volts

    if story:
        for fault in found.faults:
            for sentence in tell_fault_spread(fault, found):
                echo_text(sentence)
            click.echo("")
        for current in found.currents:
            for sentence in tell_stray_spread(current, found, flow_name(found.plan, current.flow)):
                echo_text(sentence)
            click.echo("")
    elif found.faults:
        print_table(
            ("fault", "current", "over in", "metal at", "verdict", "what the voltage hangs on"),
            [
                (
                    str(one.fault),
                    ranged(one.current, amps),
                    ranged(one.clearing, seconds),
                    ranged(one.touch, volts),
                    verdict_cell(one),
                    matters_cell(one.touch, found),
                )
                for one in found.faults
            ],
        )
    elif found.currents:
        print_table(
            ("on", "current", "neutral current there in", "what it hangs on most"),
            [
                (
                    flow_name(found.plan, one.flow),
                    ranged(one.amperes, amps),
                    f"{percent(one.objectionable)} of samples",
                    matters_cell(one.amperes, found),
                )
                for one in found.currents
            ],
        )
    else:
        click.echo("No current on metal in any sample.")
    click.echo("")
    for sentence in tell_samples(found):
        echo_text(sentence, "")


def _data(found: Sampled, what: What) -> dict[str, object]:
    def spread(one: Spread) -> dict[str, object]:
        levels = {
            "nominal": one.nominal,
            "least": one.least,
            "low_5_percent": one.low,
            "high_95_percent": one.high,
            "greatest": one.greatest,
        }
        return {
            **{name: finite(value) for name, value in levels.items()},
            **{f"{name}_never": True for name, value in levels.items() if math.isinf(value)},
            "shares_are_of": "rank" if one.by_rank else "variance",
            "shares": [
                {
                    "quantity": found.unknown[share.quantity].name,
                    "path": list(found.unknown[share.quantity].path),
                    "share": share.share,
                    "way": {1: "rises", -1: "falls", 0: "neither"}[share.way],
                }
                for share in one.shares
            ],
        }

    return {
        "format": f"bondwright/{what.study}-samples",
        "version": 1,
        "site": found.plan.site.site,
        "state": what.state or found.plan.states[0].id,
        "samples": found.samples,
        "seed": found.seed,
        "unknown": [
            {
                "quantity": one.name,
                "path": list(one.path),
                "range": one.text,
                "nominal": one.nominal,
            }
            for one in found.unknown
        ],
        "samples_with_another_plan": found.resized,
        "steel_without_current": found.as_table,
        "without_tie": list(what.without),
        "with_tie_at": list(what.added),
        "faults": [
            {
                "fault": str(one.fault),
                "verdicts": {verdict.value: part for verdict, part in one.verdicts.items()},
                "current_a": spread(one.current),
                "clearing_s": spread(one.clearing),
                "touch_v": spread(one.touch),
            }
            for one in found.faults
        ],
        "currents": [
            {
                "carrier": one.flow.carrier.value,
                "id": one.flow.id,
                "conductor": one.flow.conductor,
                "amperes": spread(one.amperes),
                "objectionable": one.objectionable,
            }
            for one in found.currents
        ],
    }
