"""Ties: those given are kept and checked, those missing are designed at the right place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.defaults import defaults, tie_resistance
from bondwright.plan.model import PlannedTie, Purpose, ScheduleItem
from bondwright.plan.parts import (
    Context,
    Part,
    cannot_tell,
    checked,
    in_either_metal,
    label,
    short_finding,
)
from bondwright.rules.answer import Answer, Finding, Verdict
from bondwright.rules.buildings import place_supply, system_supply
from bondwright.rules.editions import clause
from bondwright.rules.grounding import impedance_conductor, is_impedance, suits_impedance
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from bondwright.rules.jumpers import JumperRole, bonding_jumper
from bondwright.rules.ties import (
    NEUTRAL,
    TiePlacement,
    meter_bonds,
    placement_at,
    reaches,
    ties_lacking,
    ties_that_belong,
    where_ties_belong,
)
from bondwright.site.model import Tie, TieForm
from bondwright.units import Dimension, UnitError, show


def plan_ties(ctx: Context) -> tuple[tuple[PlannedTie, ...], Mapping[str, Part]]:
    """Decide every tie.

    Args:
        ctx: the context.

    Returns:
        The ties that stand or are designed, and what each place adds to schedule, findings and
        assumptions. A tie where no neutral is can't stand and is left out; the rules report it.
    """
    placements = where_ties_belong(ctx.tree)
    given = {
        name: tie
        for name, tie in (ctx.site.ties or {}).items()
        if tie.at in ctx.tree.systems and reaches(ctx.tree, tie.at, tie.line or NEUTRAL)
    }
    keep = ties_that_belong(ctx.tree, {name: tie.at for name, tie in given.items()})
    ties: list[PlannedTie] = []
    parts: dict[str, Part] = {}
    for name, tie in given.items():
        part = parts.setdefault(tie.at, Part())
        placement = placement_at(ctx.tree, placements, tie.at) if name in keep else None
        ties.append(_given(ctx, name, tie, placement, part))
    if ctx.designing:
        _design(ctx, placements, ties, parts)
    return tuple(ties), parts


def _design(
    ctx: Context,
    placements: Mapping[str, TiePlacement],
    ties: list[PlannedTie],
    parts: dict[str, Part],
) -> None:
    standing = [tie.at for tie in ties]
    for placement in placements.values():
        for place in ties_lacking(placement, standing):
            part = parts.setdefault(place, Part())
            taken = {tie.id for tie in ties}
            ties.append(_designed(ctx, place, placement, taken, part))
            standing.append(place)
    for place in meter_bonds(ctx.tree):
        if place in standing:
            continue
        name = label(f"neutral bond at {place}", {tie.id for tie in ties})
        part = parts.setdefault(place, Part())
        resistance = _resistance(ctx, name, TieForm.BUS, None, part)
        ties.append(PlannedTie(name, place, TieForm.BUS, None, resistance, False, True))
        part.items.append(_enclosure_bond(name, place, TieForm.BUS, given=False))


def _enclosure_bond(name: str, place: str, form: TieForm, *, given: bool) -> ScheduleItem:
    """The join of an enclosure to the neutral: no jumper, unless a wire makes it."""
    return ScheduleItem(
        id=name,
        purpose=Purpose.NEUTRAL_BOND,
        from_=place,
        to="neutral",
        about=name,
        required=None,
        chosen=None,
        form=form.value,
        given=given,
        verdict=Verdict.HOLDS,
        remark="the neutral bonds an enclosure ahead of the service disconnect; normal there "
        "(250.92(B)(1), 250.142(A))",
    )


def _role(place: str, placement: TiePlacement) -> JumperRole | None:
    """Which jumper a tie that belongs is; None for a bond ahead of the service disconnect."""
    if placement.derived:
        return JumperRole.SYSTEM
    return JumperRole.MAIN if place in placement.required else None


def _supply(ctx: Context, place: str, placement: TiePlacement) -> SupplyConductors | None:
    """Return what a tie follows; of several sources with one neutral the largest supply."""
    if not placement.derived:
        return place_supply(ctx.tree, place)
    each = [system_supply(ctx.tree, origin) for origin in placement.members or (placement.origin,)]
    known = [supply for supply in each if supply is not None]
    return max(known, key=lambda supply: supply.area_cmil) if known else None


_PURPOSE = {
    JumperRole.MAIN: Purpose.MAIN_BONDING_JUMPER,
    JumperRole.SYSTEM: Purpose.SYSTEM_BONDING_JUMPER,
}


def _answer(
    ctx: Context, place: str, placement: TiePlacement, given: Conductor | None
) -> Answer | None:
    """Return the size asked of a tie, None where nothing feeds the place.

    Raises:
        CannotTellError: the rule has no answer.
        ValueError: supply conductors of different metals.
    """
    role = _role(place, placement)
    supply = _supply(ctx, place, placement)
    if role is None or supply is None:
        return None

    def make(material: Material) -> Answer:
        return bonding_jumper(supply, role, material, ctx.rules)

    return in_either_metal(make, supply, given)


def _try_answer(
    ctx: Context,
    name: str,
    place: str,
    placement: TiePlacement,
    given: Conductor | None,
    part: Part,
) -> Answer | None:
    try:
        return _answer(ctx, place, placement, given)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
    except ValueError as error:
        rule = "system-bonding-jumper"
        problem = CannotTellError(rule, clause(rule, ctx.rules), str(error), "")
        part.findings.append(cannot_tell(problem, name))
    return None


def _designed(
    ctx: Context, place: str, placement: TiePlacement, taken: set[str], part: Part
) -> PlannedTie:
    role = _role(place, placement) or JumperRole.MAIN
    purpose = _PURPOSE[role]
    name = label(f"{purpose.value} at {place}", taken)
    answer = _try_answer(ctx, name, place, placement, None, part)
    size = answer.size if answer else None
    resistance = _resistance(ctx, name, TieForm.WIRE, size, part)
    remark = "as designed; the screw or strap listed with the equipment may stand for it"
    part.items.append(
        ScheduleItem(
            id=f"{purpose.short} {place}",
            purpose=purpose,
            from_=place,
            to=_joined(placement.terminal),
            about=name,
            required=answer,
            chosen=size,
            form=TieForm.WIRE.value,
            given=False,
            verdict=Verdict.HOLDS if answer else Verdict.CANNOT_TELL,
            remark=remark if answer else "no size by rule; see the findings",
        )
    )
    line = None if placement.terminal == NEUTRAL else placement.terminal
    return PlannedTie(name, place, TieForm.WIRE, size, resistance, False, True, line)


def _joined(terminal: str) -> str:
    return "neutral" if terminal == NEUTRAL else terminal


def _given(
    ctx: Context, name: str, tie: Tie, placement: TiePlacement | None, part: Part
) -> PlannedTie:
    size = tie.size if tie.by is TieForm.WIRE else None
    if placement is not None:
        size = _check(ctx, name, tie, placement, size, part)
    elif size is None and tie.by is TieForm.WIRE:
        size = defaults().tie_wire
        part.assume(name, f"wire of {size}")
    resistance = tie.resistance
    if resistance is None:
        resistance = _resistance(ctx, name, tie.by, size, part)
    belongs = placement is not None
    return PlannedTie(name, tie.at, tie.by, size, resistance, True, belongs, tie.line)


def _check(
    ctx: Context, name: str, tie: Tie, placement: TiePlacement, size: Conductor | None, part: Part
) -> Conductor | None:
    """Put a given tie into the schedule and return its conductor."""
    role = _role(tie.at, placement)
    if role is None:
        return _check_enclosure(ctx, name, tie, size, part)
    system = ctx.tree.systems[tie.at].voltages
    through = is_impedance(system, tie) and suits_impedance(system, ctx.rules)
    purpose = Purpose.IMPEDANCE_CONDUCTOR if through else _PURPOSE[role]
    item = ScheduleItem(
        id=f"{purpose.short} {name}",
        purpose=purpose,
        from_=tie.at,
        to=_joined(placement.terminal),
        about=name,
        required=None,
        chosen=size,
        form=tie.by.value,
        given=True,
        verdict=Verdict.CANNOT_TELL,
        remark="no size by rule; see the findings",
    )
    if through:
        answer: Answer | None = impedance_conductor(
            size.material if size else Material.CU, ctx.rules
        )
    else:
        answer = _try_answer(ctx, name, tie.at, placement, size, part)
    if answer is None:
        part.items.append(item)
        return size
    item = replace(item, required=answer)
    if tie.by is not TieForm.WIRE and not through:
        remark = (
            f"holds if it is the {tie.by.value} listed with this equipment; else use a wire of "
            f"{answer.size}"
        )
        part.items.append(replace(item, verdict=Verdict.HOLDS, remark=remark))
        return None
    if size is None:
        return _unsized(ctx, item, answer, part)
    verdict, remark = checked(size, answer)
    item = replace(item, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))
    return size


def _check_enclosure(
    ctx: Context, name: str, tie: Tie, size: Conductor | None, part: Part
) -> Conductor | None:
    """Put the bond of an enclosure ahead of the service disconnect into the schedule.

    What came with the enclosure is part of it. A wire is a supply-side bonding jumper, which
    follows the supply conductors.
    """
    item = _enclosure_bond(name, tie.at, tie.by, given=True)
    if tie.by is not TieForm.WIRE:
        part.items.append(item)
        return None
    item = replace(item, purpose=Purpose.SUPPLY_SIDE_JUMPER, chosen=size)
    try:
        supply = _entrance(ctx, tie.at)
        answer = bonding_jumper(
            supply, JumperRole.SUPPLY_SIDE, size.material if size else Material.CU, ctx.rules
        )
    except CannotTellError as error:
        return _open(item, cannot_tell(error, name), part)
    except ValueError as error:  # conductors of several metals
        where = clause("supply-side-bonding-jumper", ctx.rules)
        problem = CannotTellError("supply-side-bonding-jumper", where, str(error), "")
        return _open(item, cannot_tell(problem, name), part)
    item = replace(item, required=answer)
    if size is None:
        return _unsized(ctx, replace(item, verdict=Verdict.CANNOT_TELL), answer, part)
    verdict, remark = checked(size, answer)
    item = replace(item, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))
    return size


def _open(item: ScheduleItem, finding: Finding, part: Part) -> Conductor | None:
    """Put a row without a size by rule into the schedule, with the finding that says why."""
    part.findings.append(finding)
    remark = "no size by rule; see the findings"
    part.items.append(replace(item, verdict=Verdict.CANNOT_TELL, remark=remark))
    return item.chosen


def _entrance(ctx: Context, place: str) -> SupplyConductors:
    """Return the service conductors that leave an enclosure; those that reach it, if none do."""
    runs = ctx.tree.feeds.get(place) or [ctx.tree.fed_by[place]]
    return SupplyConductors.of(*(ctx.site.runs[run].lines for run in runs))


def _unsized(ctx: Context, item: ScheduleItem, answer: Answer, part: Part) -> Conductor:
    if ctx.designing:
        remark = "size designed; the description gives none"
        item = replace(item, chosen=answer.size, verdict=Verdict.HOLDS, remark=remark)
    else:
        remark = f"its size is not described; {answer.size} is asked"
        item = replace(item, remark=remark)
        part.findings.append(short_finding(item, answer))
        part.assume(item.about, f"wire of {answer.size}")
    part.items.append(item)
    return answer.size


def _resistance(
    ctx: Context, name: str, form: TieForm, wire: Conductor | None, part: Part
) -> float:
    try:
        ohms = tie_resistance(form, wire, ctx.temperature)
    except UnitError:  # a size that no conductor table has; the usual wire is taken
        ohms = tie_resistance(form, None, ctx.temperature)
    part.assume(name, f"{form.value} join of {show(ohms, Dimension.RESISTANCE)}, common practice")
    return ohms
