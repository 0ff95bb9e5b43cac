"""IEC 60364 as a plan asks it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from bondwright.plan.defaults import electrode_resistance
from bondwright.plan.family import Family, Judged, Whole
from bondwright.plan.iec.earth import (
    nothing_derived,
    plan_area,
    plan_direct_current,
    plan_electrode,
    plan_metal,
)
from bondwright.plan.iec.parts import taken
from bondwright.plan.iec.runs import plan_run
from bondwright.plan.iec.ties import plan_ties
from bondwright.plan.model import ScheduleItem
from bondwright.plan.parts import Context
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.families import earthing_of
from bondwright.rules.iec.arrangements import Earthing, JoinAt, arrangement
from bondwright.rules.iec.installation import (
    additional_protection_findings,
    ahead_findings,
    exposed_findings,
    lacking_joins,
    means_findings,
    state_findings,
)
from bondwright.rules.iec.joins import join_findings
from bondwright.rules.iec.origin import open_pen_finding
from bondwright.rules.paths import Standing
from bondwright.rules.states import TieCount, tie_counts
from bondwright.site.ground import Buried
from bondwright.site.topology import Topology


def _resistance(electrode: Buried, soil: float) -> float:
    return electrode_resistance(electrode, soil, taken())


def standing_of(whole: Whole) -> Standing:
    """Return what stands, the joins at the sources among it.

    Args:
        whole: the plan so far.
    """
    ctx = whole.ctx
    with_metal = frozenset(
        name for name, run in whole.runs.items() if run.metal or run.raceway_bonded
    )
    at = {name: tie.at for name, tie in (ctx.site.ties or {}).items() if tie.at in ctx.tree.systems}
    at |= {tie.id: tie.at for tie in whole.ties}
    if arrangement(earthing_of(ctx.site)).join is not JoinAt.NOWHERE:
        # A join at the source is part of the source in the circuit, and none of the site's ties.
        at |= {
            f"join in the network of {name}": name
            for name in ctx.site.sources
            if ctx.tree.systems[name].voltages.has_neutral
        }
    return Standing(ctx.tree, at, with_metal)


def _judge(whole: Whole) -> Judged:
    ctx, rules = whole.ctx, whole.ctx.rules
    earthing = earthing_of(ctx.site)
    standing = standing_of(whole)
    joined = {name: e.at for name, e in whole.electrodes.items() if e.conductor is not None}
    counts: tuple[TieCount, ...] = ()
    if earthing is not Earthing.IT:
        counts = tie_counts(standing, whole.states, whole.placements)
    lacking = lacking_joins(standing, whole.placements)
    findings = [
        *join_findings(standing, earthing, rules),
        *exposed_findings(standing, joined, rules),
        *means_findings(standing, joined, earthing, rules),
        *ahead_findings(ctx.tree, earthing, rules),
        *additional_protection_findings(ctx.tree, rules),
        *state_findings(standing, counts, lacking, rules),
        *_open_pen(whole, earthing, joined),
    ]
    return Judged(tuple(findings), counts)


def _open_pen(whole: Whole, earthing: Earthing, joined: dict[str, str]) -> Iterator[Finding]:
    """What a broken PEN of the network would do to this installation, as a note."""
    ctx = whole.ctx
    resistances = [whole.electrodes[name].resistance for name in joined]
    resistances += [metal.earth for metal in ctx.site.metal.values() if metal.earth is not None]
    earth = 1 / sum(1 / ohms for ohms in resistances if ohms > 0) if resistances else float("inf")
    for origin in ctx.site.sources:
        u0 = ctx.tree.systems[origin].voltages.line_to_neutral
        power = _largest_line(ctx.tree, origin)
        intakes = [ctx.site.runs[run].to for run in ctx.tree.feeds.get(origin, ())]
        single = len(ctx.tree.systems[origin].voltages.lines) == 1
        if u0 is None or not single or not power or not intakes:
            continue
        found = open_pen_finding(intakes[0], earthing, u0, u0**2 / power, earth, ctx.rules)
        if found is not None:
            yield replace(found, severity=Severity.NOTE)


def _largest_line(tree: Topology, origin: str) -> float:
    """Power of the loads between the line that has most of it and the neutral, W."""
    by_line: dict[str, float] = {}
    for name, place in tree.site.places.items():
        if name not in tree.systems or tree.systems[name].origin != origin:
            continue
        for load in place.loads:
            line, _, other = load.on.value.partition("-")
            if other == "N":
                by_line[line] = by_line.get(line, 0.0) + load.power
    return max(by_line.values(), default=0.0)


def _as_it_is(ctx: Context, item: ScheduleItem) -> ScheduleItem:
    del ctx
    return item


IEC = Family(
    defaults=taken,
    resistance=_resistance,
    run=plan_run,
    ties=plan_ties,
    electrode=plan_electrode,
    derived=nothing_derived,
    metal=plan_metal,
    area=plan_area,
    direct=plan_direct_current,
    row=_as_it_is,
    judge=_judge,
)
"""IEC 60364, as a plan asks it."""
