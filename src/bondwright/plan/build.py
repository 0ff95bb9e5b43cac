"""From a site to its plan."""

from __future__ import annotations

from collections.abc import Callable, Container, Mapping
from dataclasses import replace
from types import MappingProxyType

from bondwright.catalog.sizes import Conductor
from bondwright.earth.soil import Soil
from bondwright.plan.amended import with_amendments
from bondwright.plan.areas import plan_area
from bondwright.plan.arrays import plan_array
from bondwright.plan.defaults import Defaults, defaults
from bondwright.plan.defaults import electrode_resistance as default_electrode_resistance
from bondwright.plan.direct_current import plan_direct_current
from bondwright.plan.electrodes import derived_electrode, plan_electrode
from bondwright.plan.family import Family, Judged, Whole
from bondwright.plan.ground import plan_ground, soil_text
from bondwright.plan.high_voltage import left_open
from bondwright.plan.iec.family import IEC
from bondwright.plan.metal import plan_metal
from bondwright.plan.model import (
    Plan,
    PlannedArray,
    PlannedElectrode,
    PlannedRun,
    PlannedTie,
    ScheduleItem,
)
from bondwright.plan.parts import Context, Part, cannot_tell
from bondwright.plan.runs import plan_run
from bondwright.plan.ties import plan_ties
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.buildings import is_service_run
from bondwright.rules.details import RACEWAY_RULES, detail_findings
from bondwright.rules.editions import clause
from bondwright.rules.electrodes_present import electrode_findings
from bondwright.rules.families import placements as where_joins_belong
from bondwright.rules.families import unit_system
from bondwright.rules.grounding import grounding_findings
from bondwright.rules.iec.ruleset import clause as iec_clause
from bondwright.rules.iec.ruleset import is_iec
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from bondwright.rules.jumpers import grounded_conductor
from bondwright.rules.paths import Standing, earth_findings, path_findings
from bondwright.rules.protection import protection_findings
from bondwright.rules.pv import array_findings
from bondwright.rules.states import state_findings, tie_counts
from bondwright.rules.tie_findings import excused_runs, tie_findings
from bondwright.rules.ties import TiePlacement, ties_lacking
from bondwright.site.curves import points
from bondwright.site.earth_tests import sounding_of
from bondwright.site.ground import Buried, EarthTestKind
from bondwright.site.model import Site
from bondwright.site.ranges import unknowns
from bondwright.site.states import states
from bondwright.site.topology import Topology, topology
from bondwright.units import Dimension, show


def plan(site: Site, electrode_resistance: Callable[[Buried, float], float] | None = None) -> Plan:
    """Place every tie and size every conductor of a site.

    A site that describes a plan gets what is missing designed; one that describes what was
    found gets nothing added. What is given is kept and checked in both.

    Args:
        site: a site that passed :func:`bondwright.site.check.problems`.
        electrode_resistance: resistance to remote earth, ohm, of an electrode in soil of so
            many ohm m, asked for electrodes without a resistance; None takes
            :func:`bondwright.plan.defaults.electrode_resistance` with the family's defaults.

    Returns:
        The plan. Anything that can't be decided is in its findings, never an exception.
    """
    family = family_of(site.rules)
    resistance = electrode_resistance or family.resistance
    return with_amendments(site, lambda: _plan(site, family, resistance))


def _plan(
    site: Site, family: Family, electrode_resistance: Callable[[Buried, float], float]
) -> Plan:
    """Plan by the rules as they are in force."""
    ctx, part = _context(site, family, electrode_resistance)
    tree = ctx.tree
    runs, run_parts = {}, {}
    for name in site.runs:
        runs[name], run_parts[name] = family.run(ctx, name)
    ties, tie_parts = family.ties(ctx)
    electrodes, electrode_parts = {}, {}
    for name in site.electrodes:
        electrodes[name], electrode_parts[name] = family.electrode(ctx, name)
    joined_at: dict[str, list[str]] = {}
    for name, electrode in site.electrodes.items():
        joined_at.setdefault(electrode.at, []).append(name)
    metal_at: dict[str, list[str]] = {}
    for name, metal in site.metal.items():
        metal_at.setdefault(metal.from_, []).append(name)
    areas_at: dict[str, list[str]] = {}
    for name, area in site.areas.items():
        areas_at.setdefault(area.at, []).append(name)
    direct_at: dict[str, list[str]] = {}
    for name, system in site.direct_current.items():
        direct_at.setdefault(system.at, []).append(name)
    arrays: dict[str, PlannedArray] = {}
    arrays_at: dict[str, list[Part]] = {}
    for name, array in site.arrays.items():
        arrays[name], array_part = plan_array(ctx, name)
        arrays_at.setdefault(array.at, []).append(array_part)
    placements = where_joins_belong(tree)
    for node in tree.order:
        for name in _runs_to(tree, node):
            part.add(run_parts[name])
        part.add(tie_parts.get(node, Part()))
        for name in joined_at.get(node, ()):
            part.add(electrode_parts[name])
        if node in placements and placements[node].derived:
            part.add(family.derived(ctx, placements[node], ties))
        for name in metal_at.get(node, ()):
            part.add(family.metal(ctx, name))
        for name in areas_at.get(node, ()):
            part.add(family.area(ctx, name))
        for name in direct_at.get(node, ()):
            part.add(family.direct(ctx, name))
        for added in arrays_at.pop(node, ()):
            part.add(added)
    for idle in arrays_at.values():  # inverters that nothing feeds stand at the end
        for added in idle:
            part.add(added)
    ways = states(site)
    judged = family.judge(Whole(ctx, runs, ties, electrodes, placements, ways))
    return Plan(
        site=site,
        topology=tree,
        ties=ties,
        runs=MappingProxyType(runs),
        electrodes=MappingProxyType(electrodes),
        schedule=tuple(
            family.row(ctx, _unfit(_excuse(item, judged.excused), judged.unfit))
            for item in part.items
        ),
        findings=_worst_first([*part.findings, *judged.findings]),
        assumptions=tuple(part.assumptions),
        soil=ctx.ground.soil.rho_ohm_m[-1],
        ground=ctx.ground,
        frequency=ctx.frequency,
        temperature=ctx.temperature,
        states=ways,
        tie_counts=judged.counts,
        arrays=MappingProxyType(arrays),
        curves=MappingProxyType(
            {name: (points(c.quick), points(c.slow)) for name, c in site.curves.items()}
        ),
    )


def _runs_to(tree: Topology, node: str) -> tuple[str, ...]:
    """Return the runs that lead to a place: two to a transfer switch, the normal one first."""
    switch = tree.site.transfers.get(node)
    if switch is not None:
        return (switch.normal, switch.standby)
    return (tree.fed_by[node],) if node in tree.fed_by else ()


def _context(
    site: Site, family: Family, electrode_resistance: Callable[[Buried, float], float]
) -> tuple[Context, Part]:
    part, taken = Part(), family.defaults()
    for unknown in unknowns(site):
        way = "the middle" if unknown.value.about is None else "what is most likely"
        part.assume(
            unknown.name,
            f"is given as {unknown.text}; {unknown.nominal} is taken, {way}, wherever no range of "
            "answers is asked for",
        )
    frequency, temperature = site.frequency, site.conductor_temperature
    soil, others = _soil(site, taken, part)
    if frequency is None:
        frequency = taken.frequency
        part.assume("site", f"frequency {show(frequency, Dimension.FREQUENCY)}")
    if temperature is None:
        temperature = taken.temperature
        part.assume("site", f"conductors at {show(temperature, Dimension.TEMPERATURE)}")
    ground, said, problem = plan_ground(
        site, soil, electrode_resistance, others, taken, unit_system(site.rules)
    )
    for name in site.neighbours:
        for text in said[name].assumed:
            part.assume(name, text)
    if problem:
        rod_size = "iec-electrode-size" if is_iec(site.rules) else "rod-size"
        part.findings.append(
            Finding(
                rod_size,
                Severity.CANNOT_TELL,
                "site",
                "electrodes that can't be worked out together",
                f"{problem[:1].upper()}{problem[1:]}. Each is taken as standing alone, which makes "
                "them all together look better than they are.",
                "Correct their places.",
                iec_clause(rod_size, site.rules)
                if is_iec(site.rules)
                else clause(rod_size, site.rules),
            )
        )
    return Context(site, topology(site), ground, said, frequency, temperature), part


def _soil(site: Site, taken: Defaults, part: Part) -> tuple[Soil, Mapping[str, Soil]]:
    """Return the soil that is given, or that a survey found, or a usual one.

    With a survey's come the soils at the ends of what it leaves open.
    """
    if site.soil is not None:
        return site.soil, {}
    for name, test in site.earth_tests.items():
        if test.kind is EarthTestKind.SURVEY:
            from bondwright.earth.fit import fit_soil  # slow to load, and seldom needed

            fit = fit_soil(sounding_of(test))
            part.assume("site", f"soil of {soil_text(fit.soil)}, from the survey {name!r}")
            return fit.soil, fit.ends
    soil = taken.soil
    part.assume("site", f"soil of {show(soil, Dimension.RESISTIVITY)}")
    return Soil.uniform(soil), {}


def _judge(whole: Whole) -> Judged:
    ctx = whole.ctx
    standing = _standing(ctx, whole.runs, whole.ties)
    excused = excused_runs(standing, ctx.rules)
    findings = _neutral_findings(ctx, whole.runs, whole.ties)
    findings += _rule_findings(standing, whole.placements, excused, whole.electrodes)
    details = _details(standing, whole.runs, whole.electrodes)
    findings += details
    unfit = frozenset(finding.where for finding in details if finding.rule in RACEWAY_RULES)
    counts = tie_counts(standing, whole.states)
    findings += state_findings(standing, counts, ctx.rules)
    return Judged(tuple(findings), counts, excused, unfit)


def _derived(ctx: Context, placement: TiePlacement, ties: tuple[PlannedTie, ...]) -> Part:
    tie_at = next((tie.at for tie in ties if tie.belongs and tie.at in placement.allowed), None)
    return derived_electrode(ctx, placement.origin, placement, tie_at)


def _standing(
    ctx: Context, runs: Mapping[str, PlannedRun], ties: tuple[PlannedTie, ...]
) -> Standing:
    with_metal = frozenset(name for name, run in runs.items() if run.metal or run.raceway_bonded)
    # A tie where no neutral is can't stand, but the rules have a word to say of it.
    given = ctx.site.ties or {}
    at = {name: tie.at for name, tie in given.items() if tie.at in ctx.tree.systems}
    return Standing(ctx.tree, at | {tie.id: tie.at for tie in ties}, with_metal)


def _excuse(item: ScheduleItem, excused: frozenset[str]) -> ScheduleItem:
    """Leave open whether an old feeder may stand as it is; its finding has the conditions."""
    if item.about not in excused or item.form != "none":
        return item
    return replace(item, verdict=Verdict.CANNOT_TELL, remark="none; see the finding on its tie")


def _left_open(ctx: Context, item: ScheduleItem) -> ScheduleItem:
    return left_open(item, ctx.tree, ctx.rules)


def _unfit(item: ScheduleItem, unfit: Container[str]) -> ScheduleItem:
    """Don't say of a raceway that it does, where a finding says that it doesn't."""
    if item.form != "raceway" or item.about not in unfit:
        return item
    remark = f"{item.remark}; see the finding on it"
    return replace(item, verdict=Verdict.FALLS_SHORT, remark=remark)


def _details(
    standing: Standing,
    runs: Mapping[str, PlannedRun],
    electrodes: Mapping[str, PlannedElectrode],
) -> tuple[Finding, ...]:
    by_raceway = frozenset(
        name
        for name, run in runs.items()
        if run.raceway_bonded and run.metal is None and not run.supply_side
    )
    conductors = {name: electrode.conductor for name, electrode in electrodes.items()}
    return detail_findings(standing, conductors, by_raceway, standing.tree.site.rules)


def _rule_findings(
    standing: Standing,
    placements: Mapping[str, TiePlacement],
    excused: frozenset[str],
    electrodes: Mapping[str, PlannedElectrode],
) -> list[Finding]:
    tree, rules = standing.tree, standing.tree.site.rules
    lacking = [
        place
        for placement in placements.values()
        for place in ties_lacking(placement, standing.ties.values())
    ]
    joined = {name: e.at for name, e in electrodes.items() if e.conductor is not None}
    return [
        *tie_findings(standing, rules),
        *path_findings(standing, lacking, excused, rules),
        *earth_findings(standing, joined, rules),
        *electrode_findings(tree, rules),
        *protection_findings(tree, rules),
        *grounding_findings(tree, rules),
        *array_findings(tree.site),
    ]


def _neutral_findings(
    ctx: Context, runs: Mapping[str, PlannedRun], ties: tuple[PlannedTie, ...]
) -> list[Finding]:
    """Check neutrals that are part of the fault path ahead of the first disconnect."""
    tied_at = {tie.at for tie in ties}
    found = []
    for name, run in runs.items():
        given = ctx.site.runs[name].neutral
        if not run.supply_side or not isinstance(given, Conductor):
            continue
        # The utility's own conductors follow other rules; so does a neutral that only carries
        # load because the tie is at the transformer.
        if run.from_ in ctx.site.sources:
            continue
        origin = ctx.tree.system_of_run(name).origin
        if not is_service_run(ctx.tree, name) and origin in tied_at:
            continue
        finding = _neutral_size(ctx, name, run.lines, given)
        if finding is not None:
            found.append(finding)
    return found


def _neutral_size(ctx: Context, name: str, lines: Conductor, given: Conductor) -> Finding | None:
    try:
        answer = grounded_conductor(SupplyConductors.of(lines), given.material, ctx.rules)
    except CannotTellError as error:
        return cannot_tell(error, name)
    if given.total_area_cmil >= answer.size.total_area_cmil * (1 - 1e-9):
        return None
    return Finding(
        answer.rule,
        Severity.FALLS_SHORT,
        name,
        "neutral too small for a fault",
        f"The neutral of {name!r} is {given}; {answer.size} is asked. {' '.join(answer.because)}",
        f"Use {answer.size} or larger, with the supply off.",
        answer.clause,
    )


_ORDER = {severity: index for index, severity in enumerate(Severity)}


def _worst_first(findings: list[Finding]) -> tuple[Finding, ...]:
    unique = list(dict.fromkeys(findings))
    return tuple(sorted(unique, key=lambda finding: _ORDER[finding.severity]))


NEC = Family(
    defaults=defaults,
    resistance=default_electrode_resistance,
    run=plan_run,
    ties=plan_ties,
    electrode=plan_electrode,
    derived=_derived,
    metal=plan_metal,
    area=plan_area,
    direct=plan_direct_current,
    row=_left_open,
    judge=_judge,
)
"""The NEC, as a plan asks it."""


def family_of(rules: str) -> Family:
    """Return the family that a rule set belongs to."""
    return IEC if is_iec(rules) else NEC
