"""Direct-current systems: their bonding jumper and electrode conductor in the schedule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.model import Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, in_schedule_only
from bondwright.rules.answer import Answer, Verdict
from bondwright.rules.direct_current import (
    conductor_of,
    jumper_of,
    needs_electrode,
    needs_jumper,
)
from bondwright.site.fields import NoWire


def plan_direct_current(ctx: Context, name: str) -> Part:
    """Put the jumper and the electrode conductor of a system into the schedule.

    They stand in the schedule only: the computed circuit is of alternating current.

    Args:
        ctx: the context.
        name: id of the direct-current system.
    """
    system, part = ctx.site.direct_current[name], Part()
    if system.balancer and system.neutral is None:
        part.assume(name, f"neutral of the same size as the lines, {system.lines}")
    if needs_jumper(system) or isinstance(system.jumper, Conductor):
        item = _item(ctx, name, Purpose.DC_JUMPER, "grounded conductor")
        part.add(_row(ctx, item, system.jumper, lambda m: jumper_of(system, m, ctx.rules)))
    if needs_electrode(system) or isinstance(system.conductor, Conductor):
        end = system.electrode.value if system.electrode is not None else "electrodes"
        item = _item(ctx, name, Purpose.ELECTRODE_CONDUCTOR, end)
        part.add(_row(ctx, item, system.conductor, lambda m: conductor_of(system, m, ctx.rules)))
    return part


def _item(ctx: Context, name: str, purpose: Purpose, end: str) -> ScheduleItem:
    # An electrode of the same name has the plain abbreviation for its own conductor.
    short = purpose.short if purpose is Purpose.DC_JUMPER else f"DC {purpose.short}"
    return ScheduleItem(
        id=f"{short} {name}",
        purpose=purpose,
        from_=ctx.site.direct_current[name].at,
        to=end,
        about=name,
        required=None,
        chosen=None,
        form="wire",
        given=False,
        verdict=Verdict.CANNOT_TELL,
    )


def _row(
    ctx: Context,
    item: ScheduleItem,
    said: Conductor | NoWire | None,
    make: Callable[[Material], Answer],
) -> Part:
    part = Part()
    given = said if isinstance(said, Conductor) else None
    answer = make(given.material if given is not None else Material.CU)
    item = replace(item, chosen=given, given=given is not None)
    in_schedule_only(ctx, item, said, answer, part)
    return part
