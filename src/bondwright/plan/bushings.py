"""Jumpers on the bonding bushings of metal raceways."""

from __future__ import annotations

from dataclasses import replace

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.model import Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell, checked, short_finding
from bondwright.rules.answer import Answer, Verdict
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.raceway_ends import bushing_jumper
from bondwright.site.model import Fitting, Run


def plan_bushing(ctx: Context, name: str, run: Run, part: Part) -> None:
    """Put the jumper on a run's bonding bushings into the schedule, where it has some.

    It stands in the schedule only: the circuit has the raceway joined at its ends in any case.

    Args:
        ctx: the context.
        name: id of the run.
        run: as described.
        part: what the run adds to schedule and findings.
    """
    if run.fittings is not Fitting.BONDING_BUSHING:
        return
    given = run.bushing_jumper
    item = ScheduleItem(
        id=f"{Purpose.BUSHING_JUMPER.short} {name}",
        purpose=Purpose.BUSHING_JUMPER,
        from_=run.from_,
        to=run.to,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=given is not None,
        verdict=Verdict.CANNOT_TELL,
        remark="no size by rule: no conductor or device is described to take it from",
    )
    answer = _answer(ctx, name, given, part)
    if answer is None:
        part.items.append(item)
        return
    item = replace(item, required=answer)
    where = "on the bonding bushing at each end"
    if given is not None:
        verdict, remark = checked(given, answer)
        item = replace(item, verdict=verdict, remark=f"{where}: {remark}")
    elif ctx.designing:
        remark = f"{where}, as designed"
        item = replace(item, chosen=answer.size, verdict=Verdict.HOLDS, remark=remark)
    else:
        item = replace(item, remark=f"{where}: size not described; {answer.size} is asked")
    part.items.append(item)
    if item.verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))


def _answer(ctx: Context, name: str, given: Conductor | None, part: Part) -> Answer | None:
    try:
        return bushing_jumper(ctx.tree, name, given.material if given else Material.CU, ctx.rules)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
        return None
