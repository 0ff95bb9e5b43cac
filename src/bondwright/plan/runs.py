"""Runs: the neutral, the equipment ground or supply-side jumper, and how they lie."""

from __future__ import annotations

from dataclasses import dataclass, replace

from bondwright.catalog.raceways import RacewayDimensions
from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.bushings import plan_bushing
from bondwright.plan.laying import metal_raceway, planned_run, raceway_bonded
from bondwright.plan.model import PlannedRun, Purpose, ScheduleItem
from bondwright.plan.parts import (
    Context,
    Part,
    cannot_tell,
    checked,
    in_either_metal,
    short_finding,
)
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.areas import dock_ground
from bondwright.rules.buildings import neutral_bonds
from bondwright.rules.editions import clause
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from bondwright.rules.jumpers import JumperRole, bonding_jumper, jumper_per_raceway
from bondwright.rules.shared_grounds import ground_follows, with_reason
from bondwright.site.fields import NoWire
from bondwright.site.model import Run, Sets


@dataclass(frozen=True, slots=True)
class _Metal:
    """The bonding conductor of a run, decided."""

    wire: Conductor | None
    raceway_bonded: bool


def plan_run(ctx: Context, name: str) -> tuple[PlannedRun, Part]:
    """Decide every conductor of a run.

    Args:
        ctx: the context.
        name: id of the run.

    Returns:
        The run, and what goes into schedule, findings and assumptions with it.
    """
    run, part = ctx.site.runs[name], Part()
    raceway = metal_raceway(run)
    on_supply = name in ctx.tree.supply_side_runs
    if not on_supply:
        metal = _equipment_ground(ctx, name, run, raceway, part)
    elif neutral_bonds(ctx.tree, name):
        metal = _service_metal(ctx, name, run, raceway, part)
    else:
        metal = _derived_metal(ctx, name, run, raceway, part)
    plan_bushing(ctx, name, run, part)
    _lines(ctx, name, run, part)
    planned = planned_run(ctx, name, metal.wire, part, bonded=metal.raceway_bonded)
    return planned, part


def _lines(ctx: Context, name: str, run: Run, part: Part) -> None:
    needed = run.needed
    if needed is None or needed.material is not run.lines.material:
        return
    if run.lines.total_area_cmil >= needed.total_area_cmil:
        return
    part.findings.append(
        Finding(
            "lines-too-small",
            Severity.FALLS_SHORT,
            name,
            "line conductors smaller than needed",
            f"{name!r} has {run.lines} where the description says {needed} is needed.",
            f"Use {needed} or larger, or mend the description.",
            clause("lines-too-small", ctx.rules),
        )
    )


# --- load side ----------------------------------------------------------------------------


def _equipment_ground(
    ctx: Context, name: str, run: Run, raceway: RacewayDimensions | None, part: Part
) -> _Metal:
    given = run.egc if isinstance(run.egc, Conductor) else None
    item = ScheduleItem(
        id=f"EGC {name}",
        purpose=Purpose.EQUIPMENT_GROUND,
        from_=run.from_,
        to=run.to,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=True,
        verdict=Verdict.HOLDS,
    )
    bonded = raceway_bonded(name, run.egc, raceway, part)
    if run.egc is NoWire.RACEWAY or (run.egc is None and not ctx.designing and raceway):
        part.items.append(_by_raceway(item, run, raceway))
        return _Metal(None, bonded)
    if given is None and (run.egc is NoWire.NONE or not ctx.designing):
        remark = "none: a fault has no path of its own back to the source"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return _Metal(None, bonded)
    if run.lines.sets > 1 and run.sets is None:
        part.assume(
            name, f"each of the {run.lines.sets} parallel sets has its own raceway or cable"
        )
    answer = _ground_answer(ctx, name, run, given, part)
    if answer is None:
        return _Metal(_ground_without_answer(item, run, given, part), bonded)
    if given is None:
        part.items.append(
            replace(item, required=answer, chosen=answer.size, given=False, remark="as designed")
        )
        return _Metal(answer.size, bonded)
    verdict, remark = checked(given, answer)
    item = replace(item, required=answer, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))
    return _Metal(given, bonded)


def _by_raceway(item: ScheduleItem, run: Run, raceway: RacewayDimensions | None) -> ScheduleItem:
    if raceway is not None:
        remark = (
            f"{raceway.trade_size} {raceway.kind.value} raceway does it; every fitting tight, "
            "and a bonding bushing where a knockout is oversized or concentric"
        )
        return replace(item, form="raceway", remark=remark)
    what = f"{run.raceway.kind.value} is not metal" if run.raceway else "no raceway is described"
    remark = f"the raceway is to do it, but {what}"
    return replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark)


def _ground_answer(
    ctx: Context, name: str, run: Run, given: Conductor | None, part: Part
) -> Answer | None:
    follows = ground_follows(ctx.tree, name, ctx.rules)
    if follows is None:
        part.findings.append(
            Finding(
                "device-unknown",
                Severity.CANNOT_TELL,
                name,
                "no overcurrent device described",
                f"The equipment grounding conductor of {name!r} follows the overcurrent device "
                "ahead of it, and none is described.",
                f"Give {name!r} a 'device', or the place ahead of it a 'main'.",
                clause("device-unknown", ctx.rules),
            )
        )
        return None
    if name in ctx.tree.grounds_in_common:
        others = ", ".join(one for one in ctx.tree.grounds_in_common[name] if one != name)
        part.assume(
            name, f"one equipment grounding conductor with {others}, computed with each of them"
        )
    try:
        answer = equipment_ground(
            follows.device,
            given.material if given else Material.CU,
            ctx.rules,
            run.lines,
            run.needed,
            run.enlarged,
            together=run.sets is Sets.TOGETHER,
        )
        return dock_ground(ctx.tree, name, with_reason(answer, follows, ctx.rules))
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
    except ValueError as error:
        where = clause("equipment-ground", ctx.rules)
        problem = CannotTellError("equipment-ground", where, str(error), "")
        part.findings.append(cannot_tell(problem, name))
    return None


def _ground_without_answer(
    item: ScheduleItem, run: Run, given: Conductor | None, part: Part
) -> Conductor:
    """Keep what is given; else take the size of the lines, which is always enough."""
    if given is not None:
        part.items.append(
            replace(item, verdict=Verdict.CANNOT_TELL, remark="no size by rule; see the findings")
        )
        return given
    chosen = Conductor(run.lines.size, Material.CU, run.lines.sets)
    part.assume(run_label := item.about, f"equipment grounding conductor {chosen}, as the lines")
    remark = f"taken as large as the lines of {run_label}, which is always enough"
    part.items.append(
        replace(item, chosen=chosen, given=False, verdict=Verdict.CANNOT_TELL, remark=remark)
    )
    return chosen


# --- supply side --------------------------------------------------------------------------


def _service_metal(
    ctx: Context, name: str, run: Run, raceway: RacewayDimensions | None, part: Part
) -> _Metal:
    said = run.ssbj if run.ssbj is not None else run.egc
    bonded = raceway_bonded(name, said, raceway, part)
    item = _jumper_item(name, run)
    if isinstance(said, Conductor):
        return _Metal(_jumper(ctx, item, run, said, part), bonded)
    if said is NoWire.RACEWAY:
        part.items.append(_by_raceway(item, run, raceway))
    # Otherwise the neutral bonds the enclosures at both ends, and no jumper runs with it.
    return _Metal(None, bonded)


def _derived_metal(
    ctx: Context, name: str, run: Run, raceway: RacewayDimensions | None, part: Part
) -> _Metal:
    said = run.ssbj if run.ssbj is not None else run.egc
    bonded = raceway_bonded(name, said, raceway, part)
    item = _jumper_item(name, run)
    if said is NoWire.RACEWAY or (said is None and not ctx.designing and raceway):
        part.items.append(_by_raceway(item, run, raceway))
        return _Metal(None, bonded)
    if said is NoWire.NONE or (said is None and not ctx.designing):
        remark = f"none: metal at {run.from_} and at {run.to} is not joined by it"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return _Metal(None, bonded)
    given = said if isinstance(said, Conductor) else None
    return _Metal(_jumper(ctx, item, run, given, part), bonded)


def _jumper_item(name: str, run: Run) -> ScheduleItem:
    return ScheduleItem(
        id=f"SSBJ {name}",
        purpose=Purpose.SUPPLY_SIDE_JUMPER,
        from_=run.from_,
        to=run.to,
        about=name,
        required=None,
        chosen=None,
        form="wire",
        given=True,
        verdict=Verdict.HOLDS,
    )


def _jumper(
    ctx: Context, item: ScheduleItem, run: Run, given: Conductor | None, part: Part
) -> Conductor | None:
    supply = SupplyConductors.of(run.lines)

    def make(material: Material) -> Answer:
        one = run.lines.sets == 1 or run.sets is Sets.TOGETHER
        if one or (given is not None and given.sets == 1):
            return bonding_jumper(supply, JumperRole.SUPPLY_SIDE, material, ctx.rules)
        each = jumper_per_raceway(supply, JumperRole.SUPPLY_SIDE, material, ctx.rules)
        return replace(each, size=replace(each.size, sets=run.lines.sets))

    try:
        answer = in_either_metal(make, supply, given)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, item.about))
        remark = "no size by rule; see the findings"
        part.items.append(replace(item, chosen=given, verdict=Verdict.CANNOT_TELL, remark=remark))
        return given
    if run.sets is None and answer.size.sets > 1:
        part.assume(
            item.about, f"each of the {run.lines.sets} parallel sets has its own raceway or cable"
        )
    if given is None:
        part.items.append(
            replace(item, required=answer, chosen=answer.size, given=False, remark="as designed")
        )
        return answer.size
    verdict, remark = checked(given, answer)
    item = replace(item, required=answer, chosen=given, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))
    return given
