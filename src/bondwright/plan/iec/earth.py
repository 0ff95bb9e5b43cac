"""Electrodes and bonded metal by IEC 60364: the earthing conductor, and main bonding."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.iec.parts import compare, finding_of, taken
from bondwright.plan.model import PlannedElectrode, PlannedTie, Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell, say_ground
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.buildings import place_supply
from bondwright.rules.families import earthing_of, unit_system
from bondwright.rules.iec.earthing import Burial
from bondwright.rules.iec.family import bonding_conductor, electrode_conductor, supply_of
from bondwright.rules.iec.installation import location_findings
from bondwright.rules.iec.intake import main_terminals, supply_lines
from bondwright.rules.iec.ruleset import clause
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from bondwright.rules.piping import SIZED_ELSEWHERE
from bondwright.rules.ties import TiePlacement
from bondwright.site.fields import NoWire
from bondwright.site.model import Electrode, Lie, Metal
from bondwright.units import Dimension, show

_RULE: Final = "iec-earthing-conductor"
_BURIAL: Final = {
    Lie.BARE: Burial(corrosion=False, mechanical=False),
    Lie.SHEATHED: Burial(corrosion=True, mechanical=False),
    Lie.GUARDED: Burial(corrosion=True, mechanical=True),
    Lie.NOT: None,
}


def plan_electrode(ctx: Context, name: str) -> tuple[PlannedElectrode, Part]:
    """Decide an electrode and its earthing conductor.

    Args:
        ctx: the context.
        name: id of the electrode.
    """
    electrode, part = ctx.site.electrodes[name], Part()
    resistance = electrode.resistance
    if resistance is None:
        resistance = ctx.ground.between(name, name)
    cure = "Correct its length, diameter and spacing, or give its measured resistance."
    say_ground(ctx, name, part, "iec-electrode-size", cure, clause("iec-electrode-size", ctx.rules))
    lead = electrode.lead
    if lead is None:
        lead = taken().lead
        if electrode.conductor is not NoWire.NONE:
            long = show(lead, Dimension.LENGTH, unit_system(ctx.rules))
            part.assume(name, f"earthing conductor {long} long")
    conductor = _conductor(ctx, name, electrode, part)
    planned = PlannedElectrode(name, electrode.at, electrode.kind, resistance, conductor, lead)
    return planned, part


def _conductor(ctx: Context, name: str, electrode: Electrode, part: Part) -> Conductor | None:
    given = electrode.conductor if isinstance(electrode.conductor, Conductor) else None
    item = ScheduleItem(
        id=f"earthing conductor {name}",
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
    if electrode.conductor is NoWire.NONE:
        remark = "not joined"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return None
    supply = _supply(ctx, name, electrode, part)
    if supply is None:
        conductor = given or taken().auxiliary
        if given is None:
            part.assume(name, f"earthing conductor of {conductor}")
        remark = (
            "the standard of the lightning protection gives its size, not this rule"
            if electrode.lightning
            else "no size by rule: no supply conductor is described"
        )
        part.items.append(replace(item, chosen=conductor, given=given is not None, remark=remark))
        return conductor
    try:
        return _sized(ctx, item, electrode, supply, given, part)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
        remark = "no size by rule; see the findings"
        conductor = given or taken().auxiliary
        part.items.append(
            replace(item, chosen=conductor, verdict=Verdict.CANNOT_TELL, remark=remark)
        )
        return conductor


def _sized(
    ctx: Context,
    item: ScheduleItem,
    electrode: Electrode,
    supply: SupplyConductors,
    given: Conductor | None,
    part: Part,
) -> Conductor:
    def asked(buried: Lie) -> Answer:
        origin = ctx.tree.systems[electrode.at].origin
        return electrode_conductor(
            supply,
            supply_of(ctx.tree, origin, earthing_of(ctx.site)),
            given.material if given else Material.CU,
            ctx.rules,
            buried=_BURIAL[buried],
        )

    how = electrode.buried
    if given is None and ctx.designing:
        answer = asked(how or Lie.SHEATHED)
        remark = "as designed"
        if how is None:
            remark += ", with a sheath against corrosion where it lies in the soil"
            bare = asked(Lie.BARE)
            if bare.size != answer.size:
                remark += f"; a bare one is at least {bare.size}"
        part.items.append(
            replace(item, required=answer, chosen=answer.size, given=False, remark=remark)
        )
        return answer.size
    if given is None:
        answer = asked(how or Lie.SHEATHED)
        remark = f"its size is not described; {answer.size} is asked"
        item = replace(item, required=answer, verdict=Verdict.CANNOT_TELL, remark=remark)
        part.assume(item.about, f"earthing conductor of {answer.size}")
        part.items.append(item)
        part.findings.append(finding_of(item, answer))
        return answer.size
    answer = asked(how or Lie.BARE)
    verdict, remark = compare(given, answer)
    if how is None and verdict is Verdict.FALLS_SHORT:
        sheathed = asked(Lie.SHEATHED)
        verdict, remark = compare(given, sheathed)
        if verdict is Verdict.HOLDS:
            verdict = Verdict.CANNOT_TELL
            remark = (
                f"enough with a sheath ({sheathed.size}), too small bare in the soil "
                f"({answer.size}); say how it lies: buried"
            )
        else:
            answer = sheathed
    item = replace(item, required=answer, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(finding_of(item, answer))
    return given


def _supply(ctx: Context, name: str, electrode: Electrode, part: Part) -> SupplyConductors | None:
    if electrode.lightning:
        return None
    tree = ctx.tree
    origin = tree.systems[electrode.at].origin
    at_origin = electrode.at in (origin, *main_terminals(tree, origin))
    try:
        if at_origin or electrode.at in tree.supply_side_places:
            return supply_lines(tree, origin)
        return place_supply(tree, electrode.at)
    except ValueError as error:
        problem = CannotTellError(_RULE, clause(_RULE, ctx.rules), str(error), "")
        part.findings.append(cannot_tell(problem, name))
        return None


def nothing_derived(ctx: Context, placement: TiePlacement, ties: tuple[PlannedTie, ...]) -> Part:
    """Return nothing: a system of the installation's own shares the main earthing terminal."""
    del ctx, placement, ties
    return Part()


def plan_metal(ctx: Context, name: str) -> Part:
    """Put the main protective bonding of a piece of metal into the schedule.

    Args:
        ctx: the context.
        name: id of the metal.
    """
    metal, part = ctx.site.metal[name], Part()
    if metal.kind in SIZED_ELSEWHERE:
        return part
    answer = _bond(ctx, name, metal, part)
    chosen, verdict = None, Verdict.CANNOT_TELL
    if answer is None:
        remark = "no size by rule: no conductor is described to take it from"
    elif ctx.designing:
        chosen, verdict = answer.size, Verdict.HOLDS
        remark = "as designed, to the main earthing terminal"
    else:
        remark = f"what joins it is not described; {answer.size} is asked"
    part.items.append(
        ScheduleItem(
            id=f"bonding {name}",
            purpose=Purpose.METAL_BOND,
            from_=metal.from_,
            to=name,
            about=name,
            required=answer,
            chosen=chosen,
            form="wire",
            given=False,
            verdict=verdict,
            remark=remark,
        )
    )
    return part


def _bond(ctx: Context, name: str, metal: Metal, part: Part) -> Answer | None:
    origin = ctx.tree.systems[metal.from_].origin
    try:
        supply = supply_lines(ctx.tree, origin)
        if supply is None:
            return None
        of = supply_of(ctx.tree, origin, earthing_of(ctx.site))
        return bonding_conductor(supply, of, Material.CU, ctx.rules)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
    except ValueError as error:
        part.findings.append(
            cannot_tell(CannotTellError("iec-main-bonding", "", str(error), ""), name)
        )
    return None


def plan_area(ctx: Context, name: str) -> Part:
    """Say of an area with rules of its own that they are not held here.

    Args:
        ctx: the context.
        name: id of the area.
    """
    found = location_findings(ctx.site, ctx.rules)
    return Part(findings=[finding for finding in found if finding.where == name])


def plan_direct_current(ctx: Context, name: str) -> Part:
    """Say of a direct-current system that its rules are not held here.

    Args:
        ctx: the context.
        name: id of the system.
    """
    del ctx
    return Part(
        findings=[
            Finding(
                "iec-special-location",
                Severity.CANNOT_TELL,
                name,
                "rules of their own for direct current",
                f"{name} is a direct-current system. This family of rules is held here for "
                "alternating current only.",
                "Have it designed and inspected by the parts of the rules on direct current.",
            )
        ]
    )
