"""Bonding conductors of areas with rules of their own: pools, tubs, planes."""

from __future__ import annotations

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.model import Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell, in_schedule_only
from bondwright.rules.answer import Verdict
from bondwright.rules.areas import area_bond
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.planes import plane_bond
from bondwright.site.model import AreaKind

_HAVE_BONDS = frozenset({AreaKind.POOL, AreaKind.LIVESTOCK, AreaKind.POND, AreaKind.TUB})
"""Areas whose metal a conductor of its own joins; a dock's is joined by its circuits' grounds."""


def plan_area(ctx: Context, name: str) -> Part:
    """Put the bonding conductor of an area into the schedule.

    It stands in the schedule only: what it joins is not described, so the circuit lacks it.

    Args:
        ctx: the context.
        name: id of the area.
    """
    area, part = ctx.site.areas[name], Part()
    if area.kind not in _HAVE_BONDS and not isinstance(area.bond, Conductor):
        return part
    given = area.bond if isinstance(area.bond, Conductor) else None
    item = ScheduleItem(
        id=f"{Purpose.EQUIPOTENTIAL.short} {name}",
        purpose=Purpose.EQUIPOTENTIAL,
        from_=area.at,
        to=name,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=given is not None,
        verdict=Verdict.CANNOT_TELL,
        remark="no size by rule; see the findings",
    )
    try:
        material = given.material if given else Material.CU
        answer = plane_bond(area.kind, material, ctx.rules)
        if answer is None:
            answer = area_bond(area.kind, material, ctx.rules)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
        part.items.append(item)
        return part
    if answer is None:
        return part
    in_schedule_only(ctx, item, area.bond, answer, part)
    return part
