"""Electrodes: their resistance, and the conductor that joins each."""

from __future__ import annotations

from dataclasses import replace

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.defaults import defaults
from bondwright.plan.model import PlannedElectrode, Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell, checked, say_ground, short_finding
from bondwright.rules.answer import Answer, Verdict
from bondwright.rules.buildings import building_of, system_supply
from bondwright.rules.editions import clause
from bondwright.rules.electrodes import (
    RULE,
    ServedBy,
    common_electrode_conductor,
    electrode_conductor,
)
from bondwright.rules.electrodes_present import (
    counts,
    derived_electrode_finding,
    electrode_supply,
    joined,
)
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from bondwright.rules.ties import TiePlacement
from bondwright.site.model import Electrode
from bondwright.units import Dimension, show


def plan_electrode(ctx: Context, name: str) -> tuple[PlannedElectrode, Part]:
    """Decide an electrode and its conductor.

    Args:
        ctx: the context.
        name: id of the electrode.
    """
    electrode, part = ctx.site.electrodes[name], Part()
    resistance = electrode.resistance
    if resistance is None:
        resistance = ctx.ground.between(name, name)
    cure = "Correct its measures, or give its measured resistance."
    say_ground(ctx, name, part, "rod-size", cure, clause("rod-size", ctx.rules))
    lead = electrode.lead
    if lead is None:
        lead = defaults().lead
        if joined(electrode):
            part.assume(name, f"electrode conductor {show(lead, Dimension.LENGTH)} long")
    conductor = _conductor(ctx, name, electrode, part)
    planned = PlannedElectrode(name, electrode.at, electrode.kind, resistance, conductor, lead)
    return planned, part


def _conductor(ctx: Context, name: str, electrode: Electrode, part: Part) -> Conductor | None:
    given = electrode.conductor if isinstance(electrode.conductor, Conductor) else None
    item = ScheduleItem(
        id=f"GEC {name}",
        purpose=Purpose.ELECTRODE_CONDUCTOR,
        from_=electrode.at,
        to=name,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=True,
        verdict=Verdict.HOLDS,
    )
    if not joined(electrode):
        remark = "not joined"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return None
    supply = None if electrode.lightning else _supply(ctx, name, electrode, part)
    if supply is None and not electrode.shared_by:
        return _auxiliary(item, given, part, lightning=electrode.lightning)
    answer = _size(ctx, electrode, supply, given)
    if given is not None:
        verdict, remark = checked(given, answer)
        item = replace(item, required=answer, verdict=verdict, remark=remark)
        part.items.append(item)
        if verdict is not Verdict.HOLDS:
            part.findings.append(short_finding(item, answer))
        return given
    part.items.append(_unsized(ctx, item, answer, part))
    return answer.size


def _size(
    ctx: Context, electrode: Electrode, supply: SupplyConductors | None, given: Conductor | None
) -> Answer:
    """Return the least electrode conductor: that for several systems is never below its own."""
    material = given.material if given else Material.CU
    if electrode.shared_by or supply is None:
        found = common_electrode_conductor(material, ctx.rules)
        shared = f"Shared by {', '.join(electrode.shared_by)}."
        return replace(found, because=(shared, *found.because))
    ring = electrode.ring_conductor.size if electrode.ring_conductor else None
    return electrode_conductor(supply, ServedBy.of(electrode.kind), material, ctx.rules, ring)


def _supply(ctx: Context, name: str, electrode: Electrode, part: Part) -> SupplyConductors | None:
    try:
        return electrode_supply(ctx.tree, electrode.at)
    except ValueError as error:
        problem = CannotTellError(RULE, clause(RULE, ctx.rules), str(error), "")
        part.findings.append(cannot_tell(problem, name))
        return None


def _auxiliary(
    item: ScheduleItem, given: Conductor | None, part: Part, *, lightning: bool = False
) -> Conductor:
    conductor = given or defaults().auxiliary
    if given is None:
        part.assume(item.about, f"electrode conductor of {conductor}")
    remark = "no size by rule for an electrode here"
    if lightning:
        remark = "the standard of the lightning protection gives its size, not this rule"
    part.items.append(replace(item, chosen=conductor, given=given is not None, remark=remark))
    return conductor


def _unsized(ctx: Context, item: ScheduleItem, answer: Answer, part: Part) -> ScheduleItem:
    if ctx.designing:
        return replace(item, required=answer, chosen=answer.size, given=False, remark="as designed")
    part.assume(item.about, f"electrode conductor of {answer.size}")
    remark = f"its size is not described; {answer.size} is asked"
    item = replace(item, required=answer, verdict=Verdict.CANNOT_TELL, remark=remark)
    part.findings.append(short_finding(item, answer))
    return item


def derived_electrode(
    ctx: Context, transformer: str, placement: TiePlacement, tie_at: str | None
) -> Part:
    """Design the electrode conductor of a derived system, where none is described.

    It leads from the place of the system bonding jumper to the electrodes of the building. It
    stands in the schedule only: an electrode is described at one place, so the network shows
    the two systems joined by the equipment grounding conductors alone.

    Args:
        ctx: the context.
        transformer: id of the transformer, generator or inverter.
        placement: where its tie belongs.
        tie_at: where its tie stands, or None.
    """
    part = Part()
    own = placement.allowed | {transformer}
    if any(e.at in own and counts(e) for e in ctx.site.electrodes.values()):
        return part
    unit = ctx.site.generators.get(transformer)
    if unit is not None and unit.portable and not _feeds_wiring(ctx, transformer):
        return part  # its frame serves (250.34)
    common = next(
        (name for name, e in ctx.site.electrodes.items() if transformer in e.shared_by), None
    )
    try:
        supply = system_supply(ctx.tree, transformer)
    except ValueError as error:
        problem = CannotTellError(RULE, clause(RULE, ctx.rules), str(error), "")
        part.findings.append(cannot_tell(problem, transformer))
        return part
    if supply is None:
        return part
    answer = electrode_conductor(supply, ServedBy.ANY, Material.CU, ctx.rules)
    if common is not None:
        part.items.append(_tap(ctx, transformer, tie_at or transformer, common, answer))
        return part
    narrower = None if placement.allowed else "250.30(B)(1), 250.30(B)(2)"
    answer = replace(answer, clause=clause("derived-electrode", ctx.rules, narrower))
    finding = derived_electrode_finding(ctx.tree, transformer, str(answer.size), ctx.rules)
    if finding is not None:
        part.findings.append(finding)
        return part
    to = _electrodes_of_building(ctx, transformer)
    portable = "a portable or vehicle-mounted generator may do without (250.34); "
    remark = (
        "to the electrode system of the building; give its length on site. It is in this "
        "schedule only, not in the computed circuit"
    )
    if to is None:
        to, remark = "building electrodes", "no electrode of the building is described; " + remark
    if unit is not None and unit.portable is None:
        remark = portable + remark
    part.items.append(
        ScheduleItem(
            id=f"GEC {transformer}",
            purpose=Purpose.ELECTRODE_CONDUCTOR,
            from_=tie_at or transformer,
            to=to,
            about=transformer,
            required=answer,
            chosen=answer.size,
            form="wire",
            given=False,
            verdict=Verdict.HOLDS,
            remark=remark,
        )
    )
    return part


def _feeds_wiring(ctx: Context, generator: str) -> bool:
    """Whether a generator feeds the wiring of premises, through a transfer switch or a building."""
    behind = [ctx.site.runs[run].to for run in ctx.tree.feeds.get(generator, ())]
    return any(
        name in ctx.site.transfers or building_of(ctx.tree, name) is not None for name in behind
    )


def _tap(ctx: Context, origin: str, from_: str, electrode: str, answer: Answer) -> ScheduleItem:
    """Return the tap of a derived system to a common electrode conductor."""
    remark = f"a tap of the common electrode conductor to {electrode}; give its length on site"
    verdict = Verdict.HOLDS if ctx.designing else Verdict.CANNOT_TELL
    if not ctx.designing:
        remark += f"; its size is not described, {answer.size} is asked"
    return ScheduleItem(
        id=f"GEC {origin}",
        purpose=Purpose.ELECTRODE_CONDUCTOR,
        from_=from_,
        to=electrode,
        about=origin,
        required=replace(answer, clause=clause("common-electrode-conductor", ctx.rules)),
        chosen=answer.size if ctx.designing else None,
        form="wire",
        given=not ctx.designing,
        verdict=verdict,
        remark=remark,
    )


def _electrodes_of_building(ctx: Context, transformer: str) -> str | None:
    places = [e.at for e in ctx.site.electrodes.values() if counts(e)]
    home = building_of(ctx.tree, transformer)
    same = [at for at in places if building_of(ctx.tree, at) == home]
    return next(iter(same or places), None)
