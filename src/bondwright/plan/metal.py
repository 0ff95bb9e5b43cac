"""Bonds of pipe, steel, duct, tray and deck: what the code asks at the place where each starts."""

from __future__ import annotations

from bondwright.catalog.sizes import Material
from bondwright.plan.model import Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell
from bondwright.rules.answer import Answer, Verdict
from bondwright.rules.editions import clause
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.piping import SIZED_ELSEWHERE, metal_bond
from bondwright.site.model import Metal, MetalKind


def plan_metal(ctx: Context, name: str) -> Part:
    """Put the bond of a piece of metal into the schedule.

    The description joins the metal to the places it reaches without saying by what, so as found
    its size stays open; in a plan it is designed. The circuit has it joined in both.

    Args:
        ctx: the context.
        name: id of the metal.
    """
    metal, part = ctx.site.metal[name], Part()
    if metal.kind in SIZED_ELSEWHERE:
        return part
    answer = _answer(ctx, name, metal, part)
    if answer is None:
        chosen, verdict = None, Verdict.CANNOT_TELL
        remark = "no size by rule: no conductor or device is described to take it from"
    elif ctx.designing:
        chosen, verdict = answer.size, Verdict.HOLDS
        remark = "as designed"
        if metal.kind is MetalKind.OTHER or answer.rule == "other-pipe-bond":
            remark += _by_circuit(metal)
    else:
        chosen, verdict = None, Verdict.CANNOT_TELL
        remark = f"what joins it is not described; {answer.size} is asked"
    part.items.append(
        ScheduleItem(
            id=f"{Purpose.METAL_BOND.short} {name}",
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


def _by_circuit(metal: Metal) -> str:
    """Say whose device was taken, and what may do the job as well."""
    if metal.circuit is not None:
        return f"; the equipment grounding conductor of {metal.circuit} may serve"
    return (
        "; by the largest device of what it touches. Give 'circuit' if one is known to be the one "
        "that may energise it: its equipment grounding conductor may serve, and is mostly smaller"
    )


def _answer(ctx: Context, name: str, metal: Metal, part: Part) -> Answer | None:
    try:
        return metal_bond(ctx.tree, metal, Material.CU, ctx.rules)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
    except ValueError as error:
        rule = "water-pipe-bond" if metal.kind is MetalKind.WATER_PIPE else "structural-steel-bond"
        problem = CannotTellError(rule, clause(rule, ctx.rules), str(error), "")
        part.findings.append(cannot_tell(problem, name))
    return None
