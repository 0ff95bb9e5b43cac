"""Stray current told as loops: the way round, who closes it, its share, its field, the cure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bondwright.explain.stray import NATURE_WORDS, cure
from bondwright.explain.words import (
    amps,
    capital,
    carrier_name,
    flow_name,
    listed,
    percent,
)
from bondwright.plan.model import Plan
from bondwright.studies.flows import Carrier
from bondwright.studies.loops import EARTH, GAUSS, Loop, LoopStep, LoopStudy, NetCurrent, Via
from bondwright.studies.stray import NOISE_A, Nature
from bondwright.units import Dimension, show

USUAL_M = 1.0
"""Distance at which the field of a run is told unless another is asked for, m."""


def tell_loop(loop: Loop, plan: Plan) -> tuple[str, ...]:
    """Tell one current on metal: how much, the way it goes, whose doing it is, what stays.

    Args:
        loop: the loop.
        plan: the plan it was studied on.
    """
    current = loop.current
    said = [
        f"{capital(flow_name(plan, current.flow))}: {amps(current.flow.amperes)}"
        + _orders(loop)
        + f", {percent(current.share)} of the largest neutral current; "
        + f"{NATURE_WORDS[current.nature]}."
    ]
    if loop.steps:
        said.append("The way round: " + tell_way(loop.steps, plan) + ".")
    said.append(_closed(loop))
    if loop.share is not None:
        said.append(
            f"It is {percent(loop.share)} of what comes home between its two ends by neutral and "
            "metal together."
        )
    if current.causes and current.without is not None:
        those = listed(current.causes) if current.together else current.causes[0]
        said.append(f"Without {those} {amps(current.without)} of it would be left.")
    return tuple(said)


def _orders(loop: Loop) -> str:
    heard = [(n, a) for n, a in loop.current.harmonics if a >= NOISE_A]
    if not heard:
        return ""
    third = [f"{amps(a)} of third harmonic" for n, a in heard if n == 3]
    others = [f"{amps(a)} of order {n}" for n, a in heard if n != 3]
    return f" and {listed([*third, *others])} ({amps(loop.current.rms)} rms in all)"


def _closed(loop: Loop) -> str:
    if not loop.closed_by:
        return "Metal closes this loop by itself, beside the wires: no tie is to blame."
    if loop.current.nature is Nature.SUPPLY_SIDE:
        return (
            f"It is closed by {listed(loop.closed_by)}, ahead of the service disconnect, where "
            "neutral and metal are joined at both ends and sharing is normal."
        )
    if EARTH in loop.closed_by:
        return f"It is closed by {listed(loop.closed_by)}."
    pair = listed(loop.closed_by)
    return f"It is closed by {pair}; without either of the two it would not flow."


def tell_way(steps: Iterable[LoopStep], plan: Plan) -> str:
    """Tell the steps of a loop in order, "main panel > feeder's ground wire, 4.9 A > sub panel"."""
    steps = list(steps)
    found = [steps[0].from_]
    for step in steps:
        if step.via is Via.EARTH:
            found.append("home through the earth")
            continue
        found.append(f"{_step(step, plan)} {amps(step.amperes)}")
        if step.via is not Via.TIE and step.to != EARTH:
            found.append(step.to)
    return " > ".join(found)


def _step(step: LoopStep, plan: Plan) -> str:
    match step.via:
        case Via.TIE:
            return f"tie {step.id}"
        case Via.NEUTRAL:
            return f"neutral of {step.id}"
        case _:
            carrier = (
                Carrier.RUN
                if step.id in plan.runs
                else Carrier.ELECTRODE
                if step.id in plan.electrodes
                else Carrier.METAL
            )
            return carrier_name(plan, carrier, step.id, step.conductor)


def tell_net(net: NetCurrent, metres: float) -> str:
    """Tell what a clamp round a whole run reads, and its field at a distance."""
    tesla = net.field(metres)
    return (
        f"A clamp round all of {net.run} reads {amps(net.amperes)} ({amps(net.wires)} round its "
        f"lines and neutral alone); the field {show(metres, Dimension.LENGTH)} away is "
        f"{tesla * 1e6:.2g} uT ({tesla / GAUSS * 1e3:.2g} mG)."
    )


def tell_cures(study: LoopStudy, plan: Plan) -> Iterator[str]:
    """Yield for each tie to blame what to do, and what remains."""
    wrong = [one for one in study.loops if one.current.nature is Nature.OBJECTIONABLE]
    for tie in dict.fromkeys(one.current.causes[0] for one in wrong if one.current.causes):
        text = cure(plan, tie)
        if text:
            yield text
