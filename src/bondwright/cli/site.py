"""Commands that take a site file."""

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
    said,
    speak,
    stop,
)
from bondwright.cli.samples import (
    echo_nominal,
    nominal_data,
    refuse_idle_options,
    sample_options,
    study_sampled,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bondwright.network.build import Network
    from bondwright.network.solve import Change
    from bondwright.plan.model import Plan
    from bondwright.rules.answer import Finding
    from bondwright.site.model import Site
    from bondwright.site.states import OperatingState
    from bondwright.studies.faults import FaultResult
    from bondwright.studies.loops import LoopStudy
    from bondwright.studies.pv import ArrayFaultResult

SITE = click.argument("site", type=click.Path(path_type=Path))
RULES = click.option(
    "--rules",
    type=click.Choice(["nec-2017", "nec-2020", "nec-2023", "iec-60364-2017"]),
    help="Edition to use instead of the one the file names.",
)


def read_plan(site: Path, rules: str | None) -> Plan:
    """Read a site file and plan it, by another edition where asked.

    Raises:
        bondwright.site.reader.SiteError: the file is not a good description.
    """
    from bondwright.explain.dialect import speaker
    from bondwright.plan.build import plan
    from bondwright.site.reader import load

    described = load(site)
    if rules is not None:
        described = _by_other_rules(described, rules)
    speak(speaker(described))
    return plan(described)


def _by_other_rules(described: Site, rules: str) -> Site:
    """Return a site to be judged by another edition.

    Raises:
        click.UsageError: the description lacks what those rules need, or has what they don't know.
    """
    from bondwright.site.check import problems

    changed = described.model_copy(update={"rules": rules})
    for problem in problems(changed):
        where = ".".join(str(step) for step in problem.loc)
        hint = f"; {problem.hint}" if problem.hint else ""
        raise click.UsageError(f"--rules {rules}: {where!r} {problem.problem}{hint}")
    return changed


@click.command(short_help="Write a site file to start from.")
@click.argument("path", type=click.Path(path_type=Path))
@click.option("--force", is_flag=True, help="Overwrite a file that is there.")
@click.option(
    "--kind",
    type=click.Choice(["house", "service", "shop", "iec-house"]),
    default="house",
    show_default=True,
    help="What to start from.",
)
@click.option(
    "--places",
    metavar="N",
    type=click.IntRange(1, 25_000),  # more make a file larger than the reader takes
    help="Make up a commercial building of N places instead, to try the tool on.",
)
@click.option("--seed", type=int, default=0, help="With --places: which building, by a number.")
@plain_errors
def new(path: Path, force: bool, kind: str, places: int | None, seed: int) -> None:
    """Write a small site file to start from: a house, a shop, or a service and nothing else."""
    from bondwright.site.starters import starter
    from bondwright.site.writer import dump, save

    check_writable(path)
    if path.exists() and not force:
        raise click.UsageError(f"{path} is there already; --force overwrites it")
    if places is not None:
        from bondwright.site.generator import large_site

        save(path, dump(large_site(places, seed)))
        click.echo(f"wrote {path}: a made-up building of {places} places; nobody should build it")
        return
    save(path, starter(kind))
    click.echo(f"wrote {path}; change it to your site, then: bondwright check {path}")


@click.command(short_help="Print the JSON Schema of the site file.")
def schema() -> None:
    """Print the JSON Schema of the site file, for editors that complete and check YAML."""
    from bondwright.site.schema import json_schema

    print_json(json_schema())


@click.command(short_help="Judge a site; findings worst first.")
@SITE
@RULES
@json_option
@plain_errors
def check(site: Path, rules: str | None, as_json: bool) -> None:
    """Judge a site: rules, faults and stray current together; findings worst first."""
    from bondwright.papers.results import study

    results = study(read_plan(site, rules))
    summary = results.summary
    if as_json:
        from bondwright.papers.data import findings_data, summary_data

        print_json(
            {
                "format": "bondwright/check",
                "version": 1,
                "site": results.plan.site.site,
                "rules": results.plan.site.rules,
                "summary": summary_data(summary),
                "findings": findings_data(results.findings),
            }
        )
    else:
        click.echo(f"{results.plan.site.site} ({results.plan.site.rules})")
        click.echo(f"{summary.mark} {summary.headline}")
        for sentence in summary.sentences:
            click.echo(f"  {sentence}")
        _print_findings(results.findings)
        echo_caution()
    stop(_code(summary.verdict.value))


def _code(verdict: str) -> int:
    return FALLS_SHORT if verdict == "falls short" else HOLDS


def _print_findings(findings: Sequence[Finding]) -> None:
    for finding in findings:
        clause = f"  [{finding.clause}]" if finding.clause else ""
        title = f"{finding.severity.value.upper()}: {finding.title} ({finding.where}){clause}"
        click.echo(said(f"\n{title}"))
        for text in (finding.text, f"Cure: {finding.cure}" if finding.cure else ""):
            if text:
                echo_text(text)


@click.command(short_help="Print the jumper and conductor schedule.")
@SITE
@RULES
@click.option("--why", is_flag=True, help="Show the reasons and the sums of every row.")
@json_option
@plain_errors
def size(site: Path, rules: str | None, why: bool, as_json: bool) -> None:
    """Print the jumper and conductor schedule."""
    from bondwright.cli.common import echo_because
    from bondwright.cli.tables import print_table
    from bondwright.explain.rules import tell_requirement
    from bondwright.explain.schedule import schedule_rows
    from bondwright.studies.protective import settled_plan

    made = settled_plan(read_plan(site, rules))
    rows = schedule_rows(made)
    if as_json:
        from bondwright.papers.data import findings_data, schedule_data

        print_json(
            {
                "format": "bondwright/schedule",
                "version": 1,
                "site": made.site.site,
                "rules": made.site.rules,
                "schedule": schedule_data(made),
                "findings": findings_data(made.findings),
                "assumptions": [{"where": a.where, "text": a.text} for a in made.assumptions],
            }
        )
    else:
        print_table(
            ("what", "from", "to", "least", "here", "clause", "verdict"),
            [
                (r.short, r.from_, r.to, r.required, f"{r.chosen} ({r.origin})", r.clause,
                 f"{r.mark} {r.verdict}")
                for r in rows
            ],
        )  # fmt: skip
        for row, planned in zip(rows, made.schedule, strict=True):
            if row.remark or why:
                click.echo(f"{row.id}: {row.remark}" if row.remark else row.id)
            if why:
                echo_because(tell_requirement(planned, made.site.rules).sentences)
        _print_findings(made.findings)
        if made.assumptions:
            click.echo("\nAssumed:")
            for item in made.assumptions:
                click.echo(said(f"  {item.where}: {item.text}"))
    bad = any(r.verdict.value == "falls short" for r in rows) or any(
        f.severity.value in {"danger", "falls short"} for f in made.findings
    )
    stop(FALLS_SHORT if bad else HOLDS)


def _print_lengths(network: Network, place: str | None) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.rules.families import unit_system
    from bondwright.studies.lengths import FARTHEST_M, longest_run
    from bondwright.units import Dimension, show

    system = unit_system(network.plan.site.rules)

    def long(metres: float) -> str:
        return "any" if metres >= FARTHEST_M else show(metres, Dimension.LENGTH, system)

    found = [
        longest_run(network, run.id, settle=False)
        for run in network.plan.runs.values()
        if place in {None, run.to}
    ]
    rows = [
        (one.run, long(one.length), long(one.longest), long(one.at_best), str(one.fault))
        for one in found
        if one is not None
    ]
    print_table(("run", "is", "clears for sure up to", "at best up to", "fault that decides"), rows)


_STATE = click.option(
    "--state", "state_", metavar="STATE", help="Way the site is run; 'normal' if left out."
)
_WITHOUT = click.option(
    "--without-tie", metavar="TIE", help="Ask with this tie off; its label or its place."
)
_WITH = click.option(
    "--with-tie-at", metavar="PLACE", help="Ask with a tie too many at this place."
)


def _changes(
    network: Network, without: str | None, at: str | None
) -> tuple[list[Change], list[tuple[str, str]]]:
    """Return the circuit's changes for ``--without-tie`` and ``--with-tie-at``."""
    from bondwright.studies.whatif import ADDED_TIE_OHM

    off, places = _ties(network, without, at)
    changes = [network.solver.open_switch(f"tie {name}") for name in off]
    changes += [network.solver.join(f"{place}:N", f"{place}:G", ADDED_TIE_OHM) for place in places]
    return changes, [(f"one too many at {place}", place) for place in places]


def _ties(
    network: Network, without: str | None, at: str | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the ties that are off and the places with one too many.

    Raises:
        click.UsageError: there is no such tie or place, or nothing to tie.
    """
    off: tuple[str, ...] = ()
    if without is not None:
        off = tuple(t.id for t in network.plan.ties if without in {t.id, t.at})
        if not off:
            known = ", ".join(repr(t.id) for t in network.plan.ties) or "there are none"
            raise click.UsageError(f"no tie {without!r}; ties here: {known}")
    if at is None:
        return off, ()
    _known_place(network, at)
    if not {"N", "G"} <= set(network.terminals[at]):
        raise click.UsageError(f"{at!r} has no neutral or no metal to tie")
    return off, (at,)


def _state(plan: Plan, name: str | None) -> OperatingState | None:
    """Return the operating state of this name; None means the first.

    Raises:
        click.UsageError: there is none of that name.
    """
    if name is None:
        return None
    from bondwright.site.states import states

    there = {state.id: state for state in states(plan.site)}
    if name not in there:
        known = ", ".join(repr(one) for one in there)
        raise click.UsageError(f"no state {name!r}; there are: {known}")
    return there[name]


def _known_place(network: Network, name: str) -> None:
    if name not in network.terminals:
        from rapidfuzz.process import extract

        near = [repr(match[0]) for match in extract(name, list(network.terminals), limit=2)]
        raise click.UsageError(f"no place {name!r}; nearest are {' and '.join(near)}")


@click.command(short_help="Follow every fault to its end.")
@SITE
@RULES
@click.option("--at", "place", help="Only faults at this place.")
@click.option(
    "--kind",
    type=click.Choice(
        [
            "line to line",
            "three lines",
            "line to neutral",
            "line to metal",
            "neutral to metal",
            "line to earth",
            "second line to metal",
        ]
    ),
    help="Only faults of this kind; left out: line to line, to neutral and to metal.",
)
@click.option("--arc", help="Faults to metal through an arc of this voltage, like '50 V'.")
@_STATE
@_WITHOUT
@_WITH
@click.option("--story", is_flag=True, help="Tell each fault in full.")
@click.option(
    "--lengths", is_flag=True, help="Also work out how long each run could be and still clear."
)
@sample_options
@json_option
@plain_errors
def faults(
    site: Path,
    rules: str | None,
    place: str | None,
    kind: str | None,
    arc: str | None,
    state_: str | None,
    without_tie: str | None,
    with_tie_at: str | None,
    story: bool,
    lengths: bool,
    samples: int | None,
    seed: int,
    workers: int,
    scheduler: str,
    keep: Path | None,
    as_json: bool,
) -> None:
    """Follow every fault: current, the way it goes, who opens and when, the metal meanwhile."""
    from bondwright.network.build import build
    from bondwright.studies.faults import USUAL, FaultKind, possible_faults, study_faults

    made = read_plan(site, rules)
    network = build(made, loads=False, state=_state(made, state_))
    plain = kind is None and without_tie is None and with_tie_at is None
    arrays = _array_faults(network.plan, place) if plain else ()
    if place is not None and place not in network.plan.arrays:
        _known_place(network, place)
    kinds = list(USUAL) if kind is None else [FaultKind(kind)]
    refuse_idle_options(samples, workers, scheduler, keep)
    if samples is not None:
        from bondwright.studies.spread.work import What
        from bondwright.units import Dimension, parse

        if lengths:
            raise click.UsageError("--lengths and --samples exclude each other")
        volts = 0.0 if arc is None else parse(arc, Dimension.VOLTAGE)
        off, added = _ties(network, without_tie, with_tie_at)
        what = What("faults", network.state.id, place or "", tuple(kinds), volts, off, added)
        where = (workers, scheduler, keep)
        study_sampled(site, made, what, samples, seed, where, as_json=as_json, story=story)
    chosen = [f for f in possible_faults(network, kinds) if place in {None, f.place}]
    if arc is not None:
        from bondwright.studies.fault_list import arcing
        from bondwright.units import Dimension, parse

        chosen = list(arcing(chosen, parse(arc, Dimension.VOLTAGE)))
    changes, _ = _changes(network, without_tie, with_tie_at)
    results = study_faults(network, chosen, changes)
    if as_json:
        from bondwright.papers.arrays import arrays_data
        from bondwright.papers.data import fault_data

        print_json(
            {
                "format": "bondwright/faults",
                "version": 1,
                "site": network.plan.site.site,
                "state": network.state.id,
                "without_tie": without_tie,
                "with_tie_at": with_tie_at,
                "nominal": nominal_data(made),
                "faults": [fault_data(r, network.plan) for r in results],
                "array_faults": arrays_data(arrays),
            }
        )
    else:
        if results or not arrays:
            _print_faults(results, network.plan, story=story)
        _print_array_faults(arrays, story=story)
        if lengths:
            _print_lengths(network, place)
        echo_nominal(made)
        echo_caution()
    short = any(r.verdict.value == "falls short" for r in results) or any(
        a.verdict.value == "falls short" for a in arrays
    )
    stop(FALLS_SHORT if short else HOLDS)


def _print_faults(results: Sequence[FaultResult], plan: Plan, *, story: bool) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.explain.faults import fault_name, openers, tell_fault, times
    from bondwright.explain.words import MARKS, amps, volts

    if story:
        for result in results:
            told = tell_fault(result, plan)
            click.echo(f"\n{MARKS[told.verdict]} {told.title}: {told.verdict}")
            for sentence in told.sentences:
                echo_text(sentence)
    else:
        print_table(
            ("fault", "current", "opens", "in", "metal at", "verdict"),
            [
                (
                    fault_name(r),
                    amps(r.current),
                    openers(r),
                    times(r),
                    f"{volts(r.touch.get(r.worst_place, 0.0))} ({r.touch_verdict.verdict})",
                    f"{MARKS[r.verdict]} {r.verdict}",
                )
                for r in results
            ],
        )


def _array_faults(plan: Plan, place: str | None) -> tuple[ArrayFaultResult, ...]:
    """Return the faults of every array, or of the one at a place, or of one by its id."""
    from bondwright.studies.pv import study_arrays

    return tuple(
        r
        for r in study_arrays(plan)
        if place in {None, r.fault.array, plan.arrays[r.fault.array].at}
    )


def _print_array_faults(results: Sequence[ArrayFaultResult], *, story: bool) -> None:
    from bondwright.cli.tables import print_table
    from bondwright.explain.pv import array_note, tell_array_fault
    from bondwright.explain.words import MARKS
    from bondwright.papers.arrays import HEAD, array_row

    if not results:
        return
    click.echo("")
    echo_text(array_note())
    if story:
        for result in results:
            told = tell_array_fault(result)
            click.echo(f"\n{MARKS[told.verdict]} {told.title}: {told.verdict}")
            for sentence in told.sentences:
                echo_text(sentence)
        return
    rows = [(*array_row(r), f"{MARKS[r.verdict]} {r.verdict}") for r in results]
    print_table(HEAD, rows)


@click.command(short_help="Find current on metal in normal use.")
@SITE
@RULES
@_STATE
@_WITHOUT
@_WITH
@click.option("--story", is_flag=True, help="Tell each current as the loop it runs in.")
@click.option(
    "--distance", help="With --story: how far away the field of each run is told, like '1 m'."
)
@sample_options
@json_option
@plain_errors
def stray(
    site: Path,
    rules: str | None,
    state_: str | None,
    without_tie: str | None,
    with_tie_at: str | None,
    story: bool,
    distance: str | None,
    samples: int | None,
    seed: int,
    workers: int,
    scheduler: str,
    keep: Path | None,
    as_json: bool,
) -> None:
    """Find the current on every metal path in normal use, and the tie that causes it."""
    from bondwright.cli.tables import print_table
    from bondwright.explain.loops import USUAL_M
    from bondwright.explain.stray import (
        NATURE_WORDS,
        SHARED_HEAD,
        shared_rows,
        tell_stray,
        with_orders,
    )
    from bondwright.explain.words import MARKS, flow_name, percent
    from bondwright.network.build import build
    from bondwright.studies.loops import study_loops
    from bondwright.units import Dimension, parse

    made = read_plan(site, rules)
    network = build(made, state=_state(made, state_))
    refuse_idle_options(samples, workers, scheduler, keep)
    if samples is not None:
        from bondwright.studies.spread.work import What

        off, places = _ties(network, without_tie, with_tie_at)
        what = What("stray", network.state.id, without=off, added=places)
        where = (workers, scheduler, keep)
        study_sampled(site, made, what, samples, seed, where, as_json=as_json, story=story)
    changes, added = _changes(network, without_tie, with_tie_at)
    loops = study_loops(network, changes, added)
    found = loops.stray
    metres = USUAL_M if distance is None else parse(distance, Dimension.LENGTH)
    if metres <= 0:
        raise click.UsageError(f"--distance {distance}: give one of more than nothing")
    if as_json:
        from bondwright.papers.data import loops_data, stray_data

        print_json(
            {
                "format": "bondwright/stray",
                "version": 1,
                "site": network.plan.site.site,
                "state": network.state.id,
                "without_tie": without_tie,
                "with_tie_at": with_tie_at,
                "nominal": nominal_data(made),
                **stray_data(found, network.plan),
                **loops_data(loops, network.plan, metres),
            }
        )
    else:
        told = tell_stray(found, network.plan)
        click.echo(f"{MARKS[told.verdict]} {told.title}: {told.verdict}")
        for sentence in told.sentences:
            echo_text(sentence)
        if shared := shared_rows(found):
            print_table(SHARED_HEAD, shared)
        if story:
            _print_loops(loops, network.plan, metres)
        elif found.currents:
            print_table(
                ("on", "current", "share of neutral", "what it is", "caused by"),
                [
                    (
                        flow_name(network.plan, c.flow),
                        with_orders(c),
                        percent(c.share),
                        NATURE_WORDS[c.nature],
                        ", ".join(c.causes),
                    )
                    for c in found.currents
                ],
            )
        echo_nominal(made)
        echo_caution()
    stop(FALLS_SHORT if found.objectionable else HOLDS)


_ARRAY_FAULTS = (
    *(f"{kind} at {at}" for kind in ("positive to metal", "negative to metal",
                                     "positive to negative") for at in ("array", "inverter")),
    "both to metal",
)  # fmt: skip


def _print_loops(loops: LoopStudy, plan: Plan, metres: float) -> None:
    from bondwright.explain.loops import tell_loop, tell_net

    for loop in loops.loops:
        click.echo("")
        for sentence in tell_loop(loop, plan):
            echo_text(sentence)
    if loops.nets:
        click.echo("\nRound whole runs:")
    for net in loops.nets:
        echo_text(tell_net(net, metres))


@click.command(short_help="Write the circuit as a SPICE netlist.")
@SITE
@RULES
@click.option("--loads/--no-loads", default=True, show_default=True, help="Loads connected or not.")
@click.option("--fault", "fault_at", metavar="PLACE", help="With a bolted L1-to-metal fault there.")
@click.option(
    "--array", "array_", metavar="ARRAY",
    help="The direct-current circuit of this array instead, in full sun.",
)  # fmt: skip
@click.option(
    "--array-fault", type=click.Choice(_ARRAY_FAULTS), help="With this bolted fault in it."
)
@_STATE
@_WITHOUT
@_WITH
@click.option("-o", "--out", type=click.Path(path_type=Path), help="File to write; else stdout.")
@plain_errors
def netlist(
    site: Path,
    rules: str | None,
    loads: bool,
    fault_at: str | None,
    array_: str | None,
    array_fault: str | None,
    state_: str | None,
    without_tie: str | None,
    with_tie_at: str | None,
    out: Path | None,
) -> None:
    """Write the circuit that is solved as a SPICE netlist, so that anyone can check it.

    The direct-current side of an array is a circuit of its own: ask for it by --array.
    """
    if out is not None:
        check_writable(out)
    made = read_plan(site, rules)
    if array_ is None and array_fault is not None:
        raise click.UsageError("--array-fault needs --array to say which")
    if array_ is None:
        text = _site_netlist(made, loads, fault_at, state_, without_tie, with_tie_at)
    elif fault_at or state_ or without_tie or with_tie_at:
        raise click.UsageError(
            "--array is a circuit of its own; leave --fault, --state and the ties out"
        )
    else:
        text = _array_netlist(made, array_, array_fault)
    if out is None:
        click.echo(text, nl=False)
        return
    from bondwright.site.writer import save

    save(out, text)
    click.echo(f"wrote {out}")


def _site_netlist(
    made: Plan,
    loads: bool,
    fault_at: str | None,
    state_: str | None,
    without_tie: str | None,
    with_tie_at: str | None,
) -> str:
    from bondwright.network.build import build
    from bondwright.network.spice import netlist as write

    network = build(made, loads=loads, state=_state(made, state_))
    changes, _ = _changes(network, without_tie, with_tie_at)
    if fault_at is not None:
        _known_place(network, fault_at)
        line = next((t for t in network.terminals[fault_at] if t.startswith("L")), None)
        if line is None or "G" not in network.terminals[fault_at]:
            raise click.UsageError(f"{fault_at!r} has no line or no metal")
        changes.append(network.solver.join(f"{fault_at}:{line}", f"{fault_at}:G"))
    return write(network.circuit, network.plan.site.site, changes)


def _array_netlist(made: Plan, name: str, fault: str | None) -> str:
    from bondwright.network.pv import array_netlist, array_network
    from bondwright.studies.pv import possible_array_faults, study_array_fault

    array = made.arrays.get(name)
    if array is None:
        known = ", ".join(made.arrays) or "none"
        raise click.UsageError(f"there is no array {name!r}; there are: {known}")
    title = f"{made.site.site}: direct-current side of {name}"
    if fault is None:
        return array_netlist(array_network(array, made.temperature), title)
    chosen = next(f for f in possible_array_faults(array) if str(f) == fault)
    found = study_array_fault(array, chosen, made.temperature)
    return array_netlist(found.network, f"{title}, {fault}", found.state)
