"""Arrays: their equipment grounding conductors, and what their descriptions leave out."""

from __future__ import annotations

from dataclasses import replace

from bondwright.catalog.pv import pv_data
from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.model import PlannedArray, Purpose, ScheduleItem
from bondwright.plan.parts import Context, Part, cannot_tell, checked, short_finding
from bondwright.rules.answer import Verdict
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.pv import array_ground, open_circuit, short_circuit
from bondwright.site.model import Array, ArrayGrounded, Pole
from bondwright.units import Dimension, show


def plan_array(ctx: Context, name: str) -> tuple[PlannedArray, Part]:
    """Decide an array: what its label leaves out, its grounding, its metal.

    Args:
        ctx: the site's context.
        name: id of the array.

    Returns:
        The array and what it adds to the plan.
    """
    part = Part()
    array = ctx.site.arrays[name]
    data = pv_data()
    volts, amps = open_circuit(array), short_circuit(array)
    work_voltage = array.in_series * _at_work(
        array.module.voltage, array.module.open_circuit, data.voltage_x, "voltage", name, part
    )
    work_current = array.strings * _at_work(
        array.module.current, array.module.short_circuit, data.current_x, "current", name, part
    )
    insulation = array.insulation
    if insulation is None:
        insulation = data.insulation
        part.assume(name, f"{show(insulation, Dimension.RESISTANCE)} from each conductor to metal")
    fuse, monitor = _detectors(ctx, array, name, work_voltage * work_current, part)
    planned = PlannedArray(
        id=name,
        at=array.at,
        open_circuit=volts,
        short_circuit=amps,
        work_voltage=work_voltage,
        work_current=work_current,
        length=array.length,
        lines=array.lines,
        egc=_ground(ctx, name, array, part),
        grounded=array.grounded,
        pole=_pole(array, name, part),
        ground_fuse=fuse,
        monitor=monitor,
        insulation_alarm=array.insulation_alarm,
        insulation=insulation,
    )
    return planned, part


def _at_work(
    given: float | None, end: float, share: float, word: str, name: str, part: Part
) -> float:
    if given is not None:
        return given
    of = "open-circuit voltage" if word == "voltage" else "short-circuit current"
    part.assume(name, f"{word} at greatest power {100 * share:g} % of {of}")
    return share * end


def _pole(array: Array, name: str, part: Part) -> Pole | None:
    if array.grounded not in (ArrayGrounded.FUSE, ArrayGrounded.SOLID):
        return None
    if array.pole is None:
        part.assume(name, "its negative conductor is the one joined to metal")
        return Pole.NEGATIVE
    return array.pole


def _detectors(
    ctx: Context, array: Array, name: str, power: float, part: Part
) -> tuple[float | None, float | None]:
    data = pv_data()
    fuse = monitor = None
    if array.grounded is ArrayGrounded.FUSE:
        fuse = array.ground_fuse
        if fuse is None:
            fuse = data.ground_fuse(power)
            part.assume(
                name,
                f"a ground-fault fuse of {fuse:g} A, the largest for its power (UL 1741, from "
                "memory)",
            )
    elif array.grounded is ArrayGrounded.INVERTER:
        monitor = array.monitor
        if monitor is None:
            monitor = data.monitor(ctx.site.inverters[array.at].rating)
            part.assume(
                name,
                f"the inverter stops within {data.monitor_s:g} s at a residual current of "
                f"{monitor:g} A (IEC 62109-2, from memory)",
            )
    return fuse, monitor


def _ground(ctx: Context, name: str, array: Array, part: Part) -> Conductor | None:
    given = array.egc if isinstance(array.egc, Conductor) else None
    item = ScheduleItem(
        id=f"EGC {name}",
        purpose=Purpose.EQUIPMENT_GROUND,
        from_=array.at,
        to=name,
        about=name,
        required=None,
        chosen=given,
        form="wire",
        given=True,
        verdict=Verdict.HOLDS,
    )
    if given is None and (array.egc is not None or not ctx.designing):
        remark = f"none: nothing joins the frames of {name} to the metal at {array.at}"
        part.items.append(replace(item, form="none", verdict=Verdict.FALLS_SHORT, remark=remark))
        return None
    material = given.material if given is not None else Material.CU
    try:
        answer = array_ground(short_circuit(array), array.device, material, ctx.rules)
    except CannotTellError as error:
        part.findings.append(cannot_tell(error, name))
        chosen = given or Conductor(array.lines.size, array.lines.material)
        remark = "no size by rule; see the findings"
        part.items.append(
            replace(
                item,
                chosen=chosen,
                given=given is not None,
                verdict=Verdict.CANNOT_TELL,
                remark=remark,
            )
        )
        return chosen
    if given is None:
        part.items.append(
            replace(item, required=answer, chosen=answer.size, given=False, remark="as designed")
        )
        return answer.size
    verdict, remark = checked(given, answer)
    item = replace(item, required=answer, verdict=verdict, remark=remark)
    part.items.append(item)
    if verdict is not Verdict.HOLDS:
        part.findings.append(short_finding(item, answer))
    return given
