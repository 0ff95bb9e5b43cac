"""Joins of neutral and earth by IEC 60364: mostly the network operator's, never the installer's.

On a TN-S and TT supply the join stands at the source and belongs to the source itself; on a TN-C-S
supply it stands in the operator's cut-out; in an IT system there is none. Only a system of the
installation's own gets one that is designed and sized here.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.defaults import tie_resistance
from bondwright.plan.iec.parts import compare, finding_of, taken
from bondwright.plan.model import PlannedTie, Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell, label
from bondwright.rules.answer import Answer, Verdict
from bondwright.rules.families import earthing_of, placements
from bondwright.rules.iec.conductors import protective_conductor
from bondwright.rules.iec.intake import supply_lines
from bondwright.rules.iec.joins import ties_that_belong
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.ties import NEUTRAL, TiePlacement, placement_at, reaches, ties_lacking
from bondwright.site.model import Tie, TieForm
from bondwright.units import Dimension, UnitError, show

OPERATOR = "the network operator's; only the operator works on it"


def plan_ties(ctx: Context) -> tuple[tuple[PlannedTie, ...], Mapping[str, Part]]:
    """Decide every join of neutral and earth.

    Args:
        ctx: the context.

    Returns:
        The joins that stand or are designed, and what each place adds to schedule, findings and
        assumptions. That at a source is part of the source and not among them.
    """
    where = placements(ctx.tree)
    given = {
        name: tie
        for name, tie in (ctx.site.ties or {}).items()
        if tie.at in ctx.tree.systems and reaches(ctx.tree, tie.at, tie.line or NEUTRAL)
    }
    keep = ties_that_belong(ctx.tree, {name: tie.at for name, tie in given.items()}, where)
    ties: list[PlannedTie] = []
    parts: dict[str, Part] = {}
    for name, tie in given.items():
        placement = placement_at(ctx.tree, where, tie.at) if name in keep else None
        ties.append(_given(ctx, name, tie, placement, parts.setdefault(tie.at, Part())))
    # A description that says nothing of joins leaves the operator's as declared.
    declared = ctx.site.ties is None or ctx.designing
    for origin, placement in where.items():
        network = origin in ctx.site.sources
        if not (declared if network else ctx.designing):
            continue
        at_source = {*ctx.site.sources}
        for place in ties_lacking(placement, (*(tie.at for tie in ties), *at_source)):
            part = parts.setdefault(place, Part())
            known = {tie.id for tie in ties}
            ties.append(
                _operators(ctx, place, known, part)
                if network
                else _designed(ctx, place, placement, known, part)
            )
    return tuple(ties), parts


def _operators(ctx: Context, place: str, known: set[str], part: Part) -> PlannedTie:
    name = label(f"join at {place}", known)
    part.assume(
        name, f"neutral and earth joined in {place}, as {earthing_of(ctx.site).value} is declared"
    )
    part.items.append(
        ScheduleItem(
            id=f"N-E {place}",
            purpose=Purpose.MAIN_BONDING_JUMPER,
            from_=place,
            to="neutral",
            about=name,
            required=None,
            chosen=None,
            form=TieForm.BUS.value,
            given=False,
            verdict=Verdict.HOLDS,
            remark=OPERATOR,
        )
    )
    ohms = _resistance(ctx, name, TieForm.BUS, None, part)
    return PlannedTie(name, place, TieForm.BUS, None, ohms, False, True)


def _answer(ctx: Context, placement: TiePlacement, given: Conductor | None) -> Answer | None:
    """The size of a join of the installation's own: as the protective conductor of its system.

    Raises:
        CannotTellError: the rule has no answer.
        ValueError: supply conductors of different metals.
    """
    supply = supply_lines(ctx.tree, placement.origin)
    if supply is None:
        return None
    line = max(supply.lines, key=lambda one: one.size.area_mm2)
    return protective_conductor(line, given.material if given else Material.CU, ctx.rules)


def _sized(
    ctx: Context, name: str, placement: TiePlacement, given: Conductor | None, part: Part
) -> Answer | None:
    try:
        return _answer(ctx, placement, given)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
    except ValueError as error:
        problem = CannotTellError("iec-protective-conductor", "", str(error), "")
        part.findings.append(cannot_tell(problem, name))
    return None


def _row(name: str, place: str, form: TieForm, size: Conductor | None) -> ScheduleItem:
    return ScheduleItem(
        id=f"N-E {name}",
        purpose=Purpose.SYSTEM_BONDING_JUMPER,
        from_=place,
        to="neutral",
        about=name,
        required=None,
        chosen=size,
        form=form.value,
        given=True,
        verdict=Verdict.CANNOT_TELL,
        remark="no size by rule; see the findings",
    )


def _designed(
    ctx: Context, place: str, placement: TiePlacement, known: set[str], part: Part
) -> PlannedTie:
    name = label(f"join at {place}", known)
    answer = _sized(ctx, name, placement, None, part)
    size = answer.size if answer else None
    item = replace(_row(name, place, TieForm.WIRE, size), given=False, required=answer)
    if answer is not None:
        item = replace(item, verdict=Verdict.HOLDS, remark="as designed")
    part.items.append(item)
    ohms = _resistance(ctx, name, TieForm.WIRE, size, part)
    return PlannedTie(name, place, TieForm.WIRE, size, ohms, False, True)


def _given(
    ctx: Context, name: str, tie: Tie, placement: TiePlacement | None, part: Part
) -> PlannedTie:
    size = tie.size if tie.by is TieForm.WIRE else None
    if placement is not None:
        size = _kept(ctx, name, tie, placement, size, part)
    elif size is None and tie.by is TieForm.WIRE:
        size = taken().tie_wire
        part.assume(name, f"wire of {size}")
    ohms = tie.resistance
    if ohms is None:
        ohms = _resistance(ctx, name, tie.by, size, part)
    return PlannedTie(name, tie.at, tie.by, size, ohms, True, placement is not None, tie.line)


def _kept(
    ctx: Context, name: str, tie: Tie, placement: TiePlacement, size: Conductor | None, part: Part
) -> Conductor | None:
    item = _row(name, tie.at, tie.by, size)
    if placement.origin in ctx.site.sources:
        item = replace(
            item,
            purpose=Purpose.MAIN_BONDING_JUMPER,
            verdict=Verdict.HOLDS,
            remark=OPERATOR,
        )
        part.items.append(item)
        return size
    answer = _sized(ctx, name, placement, size, part)
    if answer is None or tie.by is not TieForm.WIRE:
        if answer is not None:
            remark = f"holds if it is the {tie.by.value} made for it; else a wire of {answer.size}"
            item = replace(item, required=answer, verdict=Verdict.HOLDS, remark=remark)
        part.items.append(item)
        return size
    if size is None:
        verdict = Verdict.HOLDS if ctx.designing else Verdict.CANNOT_TELL
        remark = f"its size is not described; {answer.size} is asked"
        item = replace(item, required=answer, chosen=answer.size, verdict=verdict, remark=remark)
        part.items.append(item)
        if not ctx.designing:
            part.findings.append(finding_of(item, answer))
        return answer.size
    verdict, remark = compare(size, answer)
    item = replace(item, required=answer, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(finding_of(item, answer))
    return size


def _resistance(
    ctx: Context, name: str, form: TieForm, wire: Conductor | None, part: Part
) -> float:
    try:
        ohms = tie_resistance(form, wire, ctx.temperature)
    except UnitError:  # a size that no conductor table has; the usual wire is taken
        ohms = tie_resistance(form, None, ctx.temperature)
    part.assume(name, f"{form.value} join of {show(ohms, Dimension.RESISTANCE)}, common practice")
    return ohms
