"""The command that finds a defect from readings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from bondwright.cli.common import (
    FALLS_SHORT,
    HOLDS,
    echo_caution,
    echo_text,
    json_option,
    plain_errors,
    print_json,
    said,
    stop,
    wide,
)
from bondwright.cli.site import RULES, SITE, read_plan

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from bondwright.plan.model import Plan
    from bondwright.studies.hunt.next_reading import Proposal
    from bondwright.studies.hunt.phasors import PhasorPlane
    from bondwright.studies.hunt.rank import Ranking

_SHOWN = 6


@click.command(short_help="Find what is wrong from readings.")
@SITE
@click.argument("readings", type=click.Path(path_type=Path))
@click.option("--next", "ask_next", is_flag=True, help="Propose the next three readings.")
@click.option("--state", metavar="NAME", help="State of rows that name none.")
@click.option("--phasors", "picture", type=click.Path(path_type=Path), metavar="FILE.svg",
              help="Draw where voltages put lines, neutral and ground: three or more at one "
              "place.")  # fmt: skip
@RULES
@json_option
@plain_errors
def hunt(
    site: Path,
    readings: Path,
    ask_next: bool,
    state: str | None,
    picture: Path | None,
    rules: str | None,
    as_json: bool,
) -> None:
    """Rank what may be wrong with a site by a table of readings (CSV or YAML).

    The site file says how the site should be. Columns of the table: what, where, of, value,
    state, with, accuracy, noticed, time, note. Singles, pairs and "nothing wrong" are ranked with
    probabilities, and with --next the readings that tell most for their trouble.
    """
    from bondwright.studies.hunt.candidates import candidates
    from bondwright.studies.hunt.moments import Moment
    from bondwright.studies.hunt.next_reading import grouped, ports_of, propose
    from bondwright.studies.hunt.nuisance import network_at
    from bondwright.studies.hunt.phasors import phasor_planes
    from bondwright.studies.hunt.rank import hunt as rank
    from bondwright.studies.hunt.readings import load_readings
    from bondwright.studies.hunt.staged import everything

    plan = read_plan(site, rules)
    network = network_at(plan, Moment())
    table = load_readings(readings, network, state or "")
    asked = everything(network, plan) if ask_next else candidates(network)
    ranking = rank(plan, table, more=ports_of(asked))
    ranking = grouped(ranking, asked)
    proposals = propose(ranking, asked) if ask_next else ()
    planes = phasor_planes(ranking)
    if picture is not None:
        from bondwright.draw.phasors import phasor_picture

        if not planes:
            raise click.UsageError(
                f"{readings}: a picture needs three voltages at one place in one state"
            )
        picture.write_text(phasor_picture(planes).svg, encoding="utf-8")
    if as_json:
        print_json(_data(plan, ranking, proposals, planes))
    else:
        _print(plan, ranking, proposals, planes, ask_next=ask_next)
        if picture is not None:
            click.echo(f"wrote {picture}")
    top = ranking.causes[0]
    stop(HOLDS if ranking.stands_out and top.id == "nothing-wrong" else FALLS_SHORT)


def _print(
    plan: Plan,
    ranking: Ranking,
    proposals: Sequence[Proposal],
    planes: Sequence[PhasorPlane],
    *,
    ask_next: bool,
) -> None:
    from bondwright.explain.hunt import (
        HUNT_CAUTIONS,
        LEAST,
        cure_words,
        headline,
        lessons,
        tell_cause,
        tell_proposal,
        utility_asks,
    )
    from bondwright.explain.phasors import tell_plane

    for caution in HUNT_CAUTIONS:
        echo_text(f"! {caution}", "")
    click.echo()
    echo_text(headline(ranking), "")
    for item in ranking.contradictions:
        echo_text(f"Contradiction: {item.text}")
    for plane in planes:
        echo_text(" ".join(tell_plane(plane)))
    click.echo()
    told = [c for c in ranking.causes if c.probability >= LEAST][:_SHOWN]
    for number, cause in enumerate(told, 1):
        first, *rest = tell_cause(cause, ranking)
        _echo_item(number, first)
        for line in rest:
            echo_text(line, "   ")
    if ranking.stands_out and ranking.causes[0].id != "nothing-wrong":
        click.echo()
        echo_text(cure_words(ranking.causes[0]), "")
    for line in (*lessons(ranking, plan), *utility_asks(ranking)):
        click.echo()
        echo_text(line, "")
    if ask_next and not proposals:
        click.echo("\nNo further reading that this tool can ask for would tell much.")
    if proposals:
        click.echo("\nNext, the one that tells most for its trouble first:")
    for number, proposal in enumerate(proposals, 1):
        first, *rest = tell_proposal(proposal, ranking)
        _echo_item(number, first)
        for line in rest:
            echo_text(line, "   ")
    echo_caution()


def _echo_item(number: int, text: str) -> None:
    import textwrap

    click.echo(
        textwrap.fill(
            said(text), width=wide(), initial_indent=f"{number}. ", subsequent_indent="   "
        )
    )


def _data(
    plan: Plan,
    ranking: Ranking,
    proposals: Sequence[Proposal],
    planes: Sequence[PhasorPlane],
) -> dict[str, object]:
    from bondwright.explain.hunt import (
        HEATER_CAUTION,
        HUNT_CAUTIONS,
        headline,
        lessons,
        utility_asks,
        voices_told,
    )
    from bondwright.explain.phasors import tell_plane

    return {
        "format": "bondwright/hunt",
        "version": 1,
        "site": plan.site.site,
        "cautions": list(HUNT_CAUTIONS),
        "headline": headline(ranking),
        "stands_out": ranking.stands_out,
        "fits_nothing": ranking.fits_nothing,
        "contradictions": [
            {
                "sort": item.sort.value,
                "readings": list(item.readings),
                "residual": item.residual,
                "uncertainty": item.sigma,
                "text": item.text,
            }
            for item in ranking.contradictions
        ],
        "phasors": [
            {
                "place": plane.place,
                "state": plane.state,
                "closes": plane.closes,
                "left_over_v": plane.left_over,
                "read_v": _points(plane.points),
                "described_v": _points(plane.described),
                "likeliest_cause_v": _points(plane.expected),
                "not_placed": list(plane.loose),
                "told": list(tell_plane(plane)),
            }
            for plane in planes
        ],
        "causes": [
            {
                "id": cause.id,
                "kind": cause.hypothesis.kind,
                "name": cause.hypothesis.name,
                "probability": cause.probability,
                "size": cause.size,
                "fits": cause.fits,
                "alike": list(cause.alike),
                "utility": cause.hypothesis.upstream,
                "readings": voices_told(cause.voices, ranking),
            }
            for cause in ranking.causes
            if cause.probability >= 1e-4
        ],
        "lessons": [*lessons(ranking, plan), *utility_asks(ranking)],
        "next": [
            {
                "what": p.candidate.reading.quantity.value,
                "where": p.candidate.reading.where,
                "of": p.candidate.reading.of,
                "state": p.candidate.reading.state,
                "with": p.candidate.reading.instrument.name,
                "how": p.candidate.how,
                "caution": HEATER_CAUTION if p.candidate.reading.moment.test else "",
                "bits": p.bits,
                "cost": p.candidate.cost,
            }
            for p in proposals
        ],
    }


def _points(points: Mapping[str, complex]) -> dict[str, list[float]]:
    return {node: [z.real, z.imag] for node, z in points.items()}
