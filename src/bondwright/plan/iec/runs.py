"""Runs by IEC 60364: the protective conductor of each, and the earthing conductor of the tails.

A run is one of four: the network operator's own cable, the tails from where the network ends to
the main switch, the supply side of a system of the installation's own, or a circuit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from bondwright.catalog.raceways import RacewayDimensions
from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.iec.parts import compare, finding_of
from bondwright.plan.laying import metal_raceway, planned_run, raceway_bonded
from bondwright.plan.model import PlannedRun, Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.families import earthing_of
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.family import (
    electrode_conductor,
    protective_conductor,
    supply_of,
)
from bondwright.rules.iec.installation import line_finding
from bondwright.rules.iec.intake import tails
from bondwright.rules.iec.ruleset import clause
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.site.earthing import protective
from bondwright.site.fields import NoWire
from bondwright.site.model import Run
from bondwright.site.topology import Topology

BY_HEAT = "by the heat of the fault"
"""Stands in the remark of a row that the studies settle."""


class Role(StrEnum):
    """What a run is, as far as its protective conductor goes."""

    NETWORK = "network"
    TAILS = "tails"
    OWN = "own source"
    CIRCUIT = "circuit"


def role_of(tree: Topology, name: str) -> Role:
    """Return which of the four a run is; tails may have the operator's fuse ahead of them.

    Args:
        tree: the supply tree.
        name: id of the run.
    """
    if tree.site.runs[name].from_ in tree.site.sources:
        return Role.NETWORK
    origin = tree.system_of_run(name).origin
    if origin in tree.site.sources:
        return Role.TAILS if name in tails(tree, origin) else Role.CIRCUIT
    return Role.OWN if name in tree.supply_side_runs else Role.CIRCUIT


@dataclass(frozen=True, slots=True)
class _Metal:
    wire: Conductor | None
    raceway_bonded: bool = False


def plan_run(ctx: Context, name: str) -> tuple[PlannedRun, Part]:
    """Decide every conductor of a run.

    Args:
        ctx: the context.
        name: id of the run.

    Returns:
        The run, and what goes into schedule, findings and assumptions with it.
    """
    run, part = ctx.site.runs[name], Part()
    raceway, earthing = metal_raceway(run), earthing_of(ctx.site)
    match role_of(ctx.tree, name):
        case Role.NETWORK:
            metal = _network(name, run, earthing, raceway, part, ctx)
        case Role.TAILS:
            metal = _tails(ctx, name, run, earthing, raceway, part)
        case Role.OWN:
            metal = _circuit(ctx, name, run, raceway, part, Purpose.SUPPLY_SIDE_JUMPER)
        case _:
            metal = _circuit(ctx, name, run, raceway, part, Purpose.EQUIPMENT_GROUND)
    _lines(ctx, name, run, part)
    planned = planned_run(ctx, name, metal.wire, part, bonded=metal.raceway_bonded)
    return planned, part


def _lines(ctx: Context, name: str, run: Run, part: Part) -> None:
    found = line_finding(name, run.lines, run.needed, ctx.rules)
    if found is not None:
        part.findings.append(found)


def _network(
    name: str,
    run: Run,
    earthing: Earthing,
    raceway: RacewayDimensions | None,
    part: Part,
    ctx: Context,
) -> _Metal:
    """The operator's cable: no row of the schedule, for it is not the installer's to size."""
    said = protective(run)
    if isinstance(said, Conductor):
        return _Metal(said, raceway_bonded(name, said, raceway, part))
    if said is NoWire.RACEWAY:
        return _Metal(None, raceway is not None)
    if said is NoWire.NONE or earthing is not Earthing.TN_S:
        return _Metal(None)
    try:
        taken = protective_conductor(None, Material.CU, ctx.rules, run.lines).size
    except CannotTellError:
        taken = Conductor(run.lines.size, Material.CU, run.lines.sets)
    part.assume(name, f"protective conductor of the network operator's cable taken as {taken}")
    return _Metal(taken)


# --- tails --------------------------------------------------------------------------------


def _tails(
    ctx: Context,
    name: str,
    run: Run,
    earthing: Earthing,
    raceway: RacewayDimensions | None,
    part: Part,
) -> _Metal:
    said = protective(run)
    given = said if isinstance(said, Conductor) else None
    if not earthing.is_tn:
        # Ahead of the residual-current device nothing may be joined that a fault could make live.
        return _Metal(given, raceway_bonded(name, said, raceway, part) if raceway else False)
    item = ScheduleItem(
        id=f"earthing conductor {name}",
        purpose=Purpose.ELECTRODE_CONDUCTOR,
        from_=run.to,
        to=run.from_,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=True,
        verdict=Verdict.HOLDS,
    )
    bonded = raceway_bonded(name, said, raceway, part) if raceway else False
    if said is NoWire.NONE or (said is None and not ctx.designing):
        remark = "none: the main earthing terminal is not joined to the supply's earth by it"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return _Metal(None, bonded)
    if said is NoWire.RACEWAY:
        remark = "the metal raceway is to do it; whether it may, the network operator has to say"
        part.items.append(replace(item, form="raceway", verdict=Verdict.CANNOT_TELL, remark=remark))
        return _Metal(None, bonded)
    origin = ctx.tree.system_of_run(name).origin
    try:
        answer = electrode_conductor(
            SupplyConductors.of(run.lines),
            supply_of(ctx.tree, origin, earthing),
            given.material if given else Material.CU,
            ctx.rules,
        )
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
        return _Metal(_unanswered(item, run, given, part), bonded)
    return _Metal(_chosen(item, given, answer, part), bonded)


def _chosen(item: ScheduleItem, given: Conductor | None, answer: Answer, part: Part) -> Conductor:
    if given is None:
        part.items.append(
            replace(item, required=answer, chosen=answer.size, given=False, remark="as designed")
        )
        return answer.size
    verdict, remark = compare(given, answer)
    item = replace(item, required=answer, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(finding_of(item, answer))
    return given


def _unanswered(item: ScheduleItem, run: Run, given: Conductor | None, part: Part) -> Conductor:
    if given is not None:
        remark = "no size by rule; see the findings"
        part.items.append(replace(item, verdict=Verdict.CANNOT_TELL, remark=remark))
        return given
    chosen = Conductor(run.lines.size, Material.CU, run.lines.sets)
    remark = "taken as large as the lines, which is always enough"
    part.items.append(
        replace(item, chosen=chosen, given=False, verdict=Verdict.CANNOT_TELL, remark=remark)
    )
    return chosen


# --- circuits -----------------------------------------------------------------------------


def _circuit(
    ctx: Context,
    name: str,
    run: Run,
    raceway: RacewayDimensions | None,
    part: Part,
    purpose: Purpose,
) -> _Metal:
    said = protective(run)
    given = said if isinstance(said, Conductor) else None
    item = ScheduleItem(
        id=f"PE {name}",
        purpose=purpose,
        from_=run.from_,
        to=run.to,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=True,
        verdict=Verdict.HOLDS,
    )
    bonded = raceway_bonded(name, said, raceway, part)
    if said is NoWire.RACEWAY or (said is None and not ctx.designing and raceway is not None):
        remark = (
            "the metal conduit does it; every joint has to stay tight, and its impedance is in "
            "the loop that is worked out"
        )
        part.items.append(replace(item, form="raceway", remark=remark))
        return _Metal(None, bonded)
    if said is NoWire.NONE or (said is None and not ctx.designing):
        remark = "none: a fault has no path of its own back to the source"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return _Metal(None, bonded)
    try:
        answer = _by_table(ctx, name, given.material if given else Material.CU, part)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
        return _Metal(_unanswered(item, run, given, part), bonded)
    if given is None:
        return _Metal(_chosen(item, None, answer, part), bonded)
    verdict, remark = compare(given, answer)
    if verdict is Verdict.FALLS_SHORT:
        # 543.1: the table or the heat of the fault. Only the studies know that heat.
        verdict = Verdict.CANNOT_TELL
        remark = f"{remark} by the table; {BY_HEAT} a smaller one may do"
    part.items.append(replace(item, required=answer, verdict=verdict, remark=remark))
    return _Metal(given, bonded)


def _by_table(ctx: Context, name: str, material: Material, part: Part) -> Answer:
    """The table's answer; a protective conductor that several circuits share serves the largest."""
    run = ctx.site.runs[name]
    shared = ctx.tree.grounds_in_common.get(name, (name,))
    line = max((ctx.site.runs[one].lines for one in shared), key=lambda one: one.size.area_mm2)
    if len(shared) > 1:
        others = ", ".join(one for one in shared if one != name)
        part.assume(name, f"one protective conductor with {others}, computed with each of them")
    found = ctx.tree.protecting(name)
    rating = None
    if found is not None:
        table, key = found
        site = ctx.site
        rating = site.runs[key].device if table == "run" else site.places[key].main
    else:
        part.findings.append(_no_device(ctx, name, run))
    device = ProtectiveDevice(rating) if rating is not None else None
    return protective_conductor(device, material, ctx.rules, line)


def _no_device(ctx: Context, name: str, run: Run) -> Finding:
    return Finding(
        "iec-loop",
        Severity.CANNOT_TELL,
        name,
        "no protective device described",
        f"Whether a fault at the end of {name!r} is disconnected in time depends on the device "
        "ahead of it, and none is described.",
        f"Give {name!r} a 'device', or {run.from_!r} a 'main'.",
        clause("iec-loop", ctx.rules),
    )
