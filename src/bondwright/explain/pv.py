"""Faults of an array's direct-current side, told in plain words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from bondwright.catalog.pv import pv_data
from bondwright.explain.story import Story
from bondwright.explain.words import amps, seconds, volts
from bondwright.plan.model import Assumption, Plan, PlannedArray
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.site.model import ArrayGrounded
from bondwright.studies.pv import ArrayFaultKind, ArrayFaultResult, Seen
from bondwright.units import Dimension, show

DAYLIGHT: Final = (
    "Nothing on the direct-current side is dead while light falls on the array, whatever has "
    "opened: switches, fuses and inverters only stop the current beyond them. Touch nothing of it, "
    "open no connector under load; qualified persons only, with the array covered or in the dark, "
    "and proved dead."
)
"""The caution that goes with every array."""


def array_fault_name(result: ArrayFaultResult) -> str:
    """Name a fault: "roof array, positive to metal at the array"."""
    fault = result.fault
    if fault.kind is ArrayFaultKind.SECOND and fault.first is not None:
        last = "positive" if fault.first.value == "negative" else "negative"
        return f"{fault.array}, {fault.first} to metal at the array, then {last} at the inverter"
    return f"{fault.array}, {fault.kind} at the {fault.at}"


def array_stops(result: ArrayFaultResult) -> str:
    """Say what stops the current by way of the metal, for a table."""
    array = result.network.array
    alarm = array.ground_fuse is None and array.monitor is None
    if not result.stopped and not alarm:
        return "nothing"
    if result.seen is not Seen.YES:
        return "nothing" if result.seen is not Seen.PERHAPS else "perhaps the ground fuse"
    if array.ground_fuse is not None:
        return f"ground fuse {array.ground_fuse:g} A"
    return "the inverter" if array.monitor is not None else "nothing; insulation alarm"


def array_time(result: ArrayFaultResult) -> str:
    """Say when the current in the fault has stopped, for a table."""
    return seconds(result.stop_s) if result.stopped and math.isfinite(result.stop_s) else "–"


def tell_array_fault(result: ArrayFaultResult) -> Story:
    """Tell a fault from start to end."""
    return Story(array_fault_name(result), tuple(_sentences(result)), result.verdict)


def _sentences(result: ArrayFaultResult) -> Iterator[str]:
    fault, array = result.fault, result.network.array
    much = "the array gives its short-circuit current" if result.limited else "in full sun"
    yield f"{amps(result.current)} in the fault ({much})."
    if result.by_ground >= 1e-3:
        yield f"{amps(result.by_ground)} in the equipment grounding conductor of the array."
    if result.frame > result.limit_v:
        yield (
            f"Danger: the frames stand at {volts(result.frame)} to the metal at {array.at}, with a "
            "person between them."
        )
    else:
        yield f"The frames are at {volts(result.frame)} to the metal at {array.at}."
    yield from _watching(result)
    if fault.kind is ArrayFaultKind.BETWEEN:
        yield (
            "The metal has no part in it. The array's fuses don't open on its own current; "
            "whether anything finds an arc the description doesn't say."
        )
    elif not result.stopped:
        yield (
            f"{amps(result.after)} go on as long as the sun shines: the array's fuses don't open "
            "on its own current, and the inverter can't stop what doesn't pass through it."
        )
    else:
        yield f"Its conductors stay live, up to {volts(result.live_after)} to metal."
    if result.frame_after > result.limit_v >= result.frame:
        yield f"Then the frames stand at {volts(result.frame_after)}."


def _watching(result: ArrayFaultResult) -> Iterator[str]:
    array = result.network.array
    if result.fault.kind is ArrayFaultKind.BETWEEN:
        return
    match result.seen:
        case Seen.YES if array.ground_fuse is not None:
            yield (
                f"{amps(result.by_join)} blow the ground-fault fuse of {array.ground_fuse:g} A "
                f"within {seconds(result.stop_s)}. The conductor it grounded then is live as well."
            )
        case Seen.YES if array.monitor is not None:
            yield (
                f"The inverter sees more than {amps(array.monitor)} and stops within "
                f"{seconds(result.stop_s)}. What the supply adds through it meanwhile is not "
                "computed."
            )
        case Seen.YES:
            yield "The insulation alarm reports it; nothing opens."
        case Seen.PERHAPS:
            yield f"{amps(result.by_join)} may blow the ground-fault fuse, or may not."
        case Seen.NO:
            yield f"{amps(result.by_join)} by way of what watches: too little to be seen."
        case Seen.NOBODY:
            yield "Nothing watches for it."
    if result.sees_up_to is not None and result.seen is Seen.YES:
        yield (
            "Such a fault is found for sure up to "
            f"{show(result.sees_up_to, Dimension.RESISTANCE, digits=2)} of resistance in it."
        )


def array_findings(results: Sequence[ArrayFaultResult], plan: Plan) -> tuple[Finding, ...]:
    """Return what has to be known or mended, from the faults of every array."""
    found: list[Finding] = []
    for name, array in plan.arrays.items():
        own = [r for r in results if r.fault.array == name]
        found += _findings(name, array, own)
    return tuple(found)


def _findings(name: str, array: PlannedArray, own: Sequence[ArrayFaultResult]) -> Iterator[Finding]:
    frame = max((max(r.frame, r.frame_after) for r in own), default=0.0)
    if frame > pv_data().touch_v:
        yield Finding(
            "array-frame-live",
            Severity.DANGER,
            name,
            "frames of the array can become live",
            f"A fault puts {volts(frame)} on the frames of {name!r}, with a person between them "
            f"and the metal at {array.at!r}. {DAYLIGHT}",
            "Keep people off. Have the equipment grounding conductor made good by a qualified "
            "person, in the dark. A rod is no cure.",
        )
    if array.grounded is ArrayGrounded.FUSE and array.pole is not None:
        yield _blind_spot(name, array, own)
    elif array.grounded is ArrayGrounded.SOLID:
        worst = max((r for r in own if r.fault.pole is not None), key=lambda r: r.after)
        yield Finding(
            "array-fault-not-stopped",
            Severity.FALLS_SHORT,
            name,
            "a ground fault on the array goes on in daylight",
            f"{array_fault_name(worst)}: {amps(worst.after)} by way of the metal, and nothing "
            "opens. Neither fuses nor breakers open on an array's own current.",
            "Have ground-fault protection fitted that opens the join; ask the inverter's maker.",
        )
    elif array.grounded is ArrayGrounded.NONE and array.insulation_alarm is None:
        second = next(r for r in own if r.fault.kind is ArrayFaultKind.SECOND)
        yield Finding(
            "array-second-fault",
            Severity.CANNOT_TELL,
            name,
            "who finds the first fault of the array?",
            f"The first ground fault on {name!r} draws nothing and opens nothing. A second one, on "
            f"the other conductor, drives {amps(second.current)} through the metal as long as the "
            "sun shines.",
            "Give 'insulation alarm' if something watches; the first fault has to be mended.",
        )
    yield Finding(
        "array-live-in-daylight", Severity.NOTE, name, "live as long as light falls on it", DAYLIGHT
    )


def _blind_spot(name: str, array: PlannedArray, own: Sequence[ArrayFaultResult]) -> Finding:
    mine = [r for r in own if r.fault.pole is array.pole]
    far, near = (next(r for r in mine if r.fault.at == at) for at in ("array", "inverter"))
    second = next(r for r in own if r.fault.kind is ArrayFaultKind.SECOND)
    if far.seen is Seen.YES and far.sees_up_to:
        up_to = show(far.sees_up_to, Dimension.RESISTANCE, digits=2)
        seen = (
            f"a bolted fault at the array puts {amps(far.by_join)} through the fuse, and above "
            f"{up_to} in the fault it holds"
        )
    else:
        seen = f"even a bolted fault at the array puts only {amps(far.by_join)} through the fuse"
    return Finding(
        "array-fault-not-seen",
        Severity.FALLS_SHORT,
        name,
        "the ground-fault fuse is blind to the grounded conductor",
        f"The {array.pole} conductor of {name!r} is grounded through a fuse of "
        f"{array.ground_fuse:g} A. A fault from that conductor to metal lies beside it and takes "
        f"little of its current: at work {seen}; at the inverter it is {amps(near.by_join)}. When "
        f"later the other conductor touches metal, {amps(second.after)} go through the metal past "
        "the blown fuse until dark: that is how roofs have burnt.",
        "Have the insulation of both conductors measured at every inspection, and ask the "
        "inverter's maker for residual-current or insulation monitoring. A smaller fuse or a "
        "ground wire of other size is no cure.",
    )


def array_assumptions(plan: Plan) -> Iterator[Assumption]:
    """Yield what the circuits of arrays take for granted."""
    if not plan.arrays:
        return
    data = pv_data()
    yield Assumption(
        "arrays",
        "Full sun, the inverter at work at greatest power. An array is its open-circuit voltage "
        "behind a resistance up to its short-circuit current, and that current from there on. "
        "Faults within a string, where less than the whole voltage drives them, are not studied.",
    )
    yield Assumption(
        "arrays",
        f"On frames, {data.touch_v:g} V of direct current can be borne for long when dry "
        f"({data.source('touch').title}, from memory); less when wet. A person counts as "
        f"{data.body_ohm:g} ohm.",
    )
    grounded = {array.grounded for array in plan.arrays.values()}
    if ArrayGrounded.FUSE in grounded:
        yield Assumption(
            "arrays",
            f"A ground-fault fuse opens for sure from {data.fuse_sure_x:g} times its rating, within "  # noqa: E501
            f"{data.fuse_sure_s / 60:g} min, at twice its rating within {data.fuse_twice_s:g} s, "
            "and above that at constant current squared times time (UL 248-14, from memory); its "
            f"resistance is {data.fuse_ohm_amps:g} ohm over its rating in A.",
        )
    if ArrayGrounded.INVERTER in grounded:
        yield Assumption(
            "arrays",
            "An inverter without a transformer joins the conductor that has no fault to metal "
            "until its monitor stops it, and only the array drives current.",
        )


def array_note() -> str:
    """Return what stands above a table of these faults."""
    return (
        "Bolted faults on the direct-current side, full sun, the inverter at work. Frames: the "
        f"higher voltage before and after, to the metal at the inverter. {DAYLIGHT}"
    )


def worst_array_fault(results: Sequence[ArrayFaultResult]) -> Verdict:
    """Return the worst verdict of faults; holds where there are none."""
    for verdict in (Verdict.FALLS_SHORT, Verdict.CANNOT_TELL):
        if any(r.verdict is verdict for r in results):
            return verdict
    return Verdict.HOLDS
