"""A fault, told in order: what flows, which way it goes home, who opens, what the metal does."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence

from bondwright.explain.story import Story
from bondwright.explain.words import (
    amps,
    between,
    capital,
    conductor_name,
    device_name,
    listed,
    percent,
    publication,
    seconds,
    step_name,
    volts,
)
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.studies.faults import (
    CLEARED_A,
    LONGEST_S,
    Fault,
    FaultKind,
    FaultResult,
    Heat,
    Opening,
    PathStep,
)
from bondwright.studies.flows import Carrier, Flow
from bondwright.units import Dimension, show

QUIET_V = 1.0
"""Metal below this voltage is not mentioned as live, V."""

MOSTLY = 0.5
"""From this share on a current is said to have only that way."""

TOLD_A = 0.01
"""Less than this through the earth is not mentioned, A."""


_BETWEEN_LINES = (FaultKind.LINE_TO_LINE, FaultKind.THREE_LINES)


def fault_name(result: FaultResult) -> str:
    """Name a fault: "L1 to metal at well pump"."""
    fault = result.fault
    if fault.kind in {FaultKind.THREE_LINES, FaultKind.SECOND_TO_METAL}:
        return str(fault)
    other = {"G": "metal", "N": "neutral"}.get(fault.b, fault.b)
    return f"{fault.a} to {other} at {fault.place}"


def tell_fault(result: FaultResult, plan: Plan) -> Story:
    """Tell a fault from its start to its end.

    Args:
        result: what the study found.
        plan: the plan it was found on.

    Returns:
        The story, a step of the fault in each of its sentences; its verdict is the study's.
    """
    steps = [_start(result), *tell_path(result, plan)]
    steps += [" ".join(part) for part in (tell_end(result), tell_touch(result)) if part]
    if result.heat is not None:
        steps.append(_heat(result.heat, plan))
    steps += _after(result)
    return Story(f"Fault: {fault_name(result)}", tuple(steps), result.verdict)


def _start(result: FaultResult) -> str:
    fault = result.fault
    how = "" if fault.impedance == 0 else f" through {show(fault.impedance, Dimension.RESISTANCE)}"
    if fault.arc:
        how += f" through an arc of {volts(fault.arc)}"
    what = f"{_touches(fault)} at {fault.place}{how}{_first_one(fault)}."
    if result.current <= CLEARED_A:
        why = (
            "the system is not tied to metal, so there is no way back to the source"
            if result.first_of_two
            else "neutral and metal are at one potential while nothing draws current"
            if fault.kind is FaultKind.NEUTRAL_TO_METAL
            else "the arc goes out"
            if fault.arc and math.isinf(result.resistance)
            else "there is no way back to the source"
        )
        return f"{what} Almost nothing flows ({amps(result.current)}): {why}."
    return (
        f"{what} {amps(result.current)} flows; the "
        f"whole loop has {show(result.loop, Dimension.RESISTANCE)}."
    )


def _touches(fault: Fault) -> str:
    line = f"Primary line {fault.a}" if fault.a.startswith("H") else f"Line {fault.a}"
    match fault.kind:
        case FaultKind.NEUTRAL_TO_METAL:
            return "The neutral touches the metal"
        case FaultKind.THREE_LINES:
            return f"Lines {fault.a}, {fault.b} and {fault.also} touch each other"
        case FaultKind.LINE_TO_EARTH:
            return f"{line} touches the earth"
        case _:
            other = {"G": "the metal", "N": "the neutral"}.get(fault.b, f"line {fault.b}")
            return f"{line} touches {other}"


def _first_one(fault: Fault) -> str:
    if fault.kind is not FaultKind.SECOND_TO_METAL:
        return ""
    return f", while line {fault.also} already touches the metal at {fault.also_at}"


def tell_path(result: FaultResult, plan: Plan) -> tuple[str, ...]:
    """Tell the way of the current: out to the fault, and home again.

    Returns:
        Nothing where nothing flows, else the way out, and then the way back.
    """
    out = [step for step in result.path if step.way == "out"]
    back = [step for step in result.path if step.way == "back"]
    if result.current <= CLEARED_A:
        return ()
    sentences = [f"Out: {_told(plan, out)}."] if out else []
    home = [step for step in back if step.carrier is not Carrier.ELECTRODE]
    way: list[str] = []
    if home:
        way.append(f"Home: {_told(plan, home)}.")
    if _out_of_step(home, result.current):
        way.append("Side by side they add up to more than the whole, for they don't peak together.")
    share = earth_share(result.flows)
    if result.fault.kind not in _BETWEEN_LINES and share > TOLD_A:
        if home and share > MOSTLY * result.current:
            way.append(
                f"From there it has only the earth: {amps(share)} goes through the electrodes. "
                "The earth is no fault path; no breaker opens on it."
            )
        elif home:
            way.append(
                f"{capital(amps(share))} ({percent(share / result.current)}) goes through the "
                "electrodes and the earth. That is no fault path; no breaker opens on it."
            )
        else:
            way.append(
                f"Home there is only the earth: {amps(share)} goes through the electrodes. The "
                "earth is no fault path."
            )
    return (*sentences, " ".join(way)) if way else tuple(sentences)


def _out_of_step(home: Sequence[PathStep], current: float) -> bool:
    """Whether parallel parts of the way home add up to more than the whole."""
    metal = sum(s.amperes for s in home if s.carrier is Carrier.METAL)
    return any(
        metal > 0 and metal + s.amperes > 1.05 * current
        for s in home
        if s.carrier is Carrier.RUN and s.amperes < 0.9 * current
    )


def earth_share(flows: Sequence[Flow]) -> float:
    """Return the current that goes through the earth, A.

    What some electrodes give to the earth comes back by the others and by the source's own
    electrode, so the larger of the two sums is the share.
    """
    rods = [flow.current for flow in flows if flow.carrier is Carrier.ELECTRODE]
    if not rods:
        return 0.0
    along = cmath.exp(-1j * cmath.phase(max(rods, key=abs)))
    into = sum((c for c in rods if (c * along).real >= 0), 0j)
    out_of = sum((c for c in rods if (c * along).real < 0), 0j)
    return max(abs(into), abs(out_of))


def _told(plan: Plan, steps: Sequence[PathStep]) -> str:
    parts: list[str] = []
    before = ""
    for step in steps:
        current = amps(step.amperes)
        name = step_name(plan, step)
        parts.append(name if current == before else f"{current} on {name}")
        before = current
    return ", then ".join(parts) if len(parts) < 3 else "; ".join(parts)


def tell_end(result: FaultResult) -> tuple[str, ...]:
    """Tell who opens and when, or that nobody does."""
    if result.first_of_two:
        return (
            "Nothing opens, and the system runs on: that is what an ungrounded system is for. A "
            "second fault on another line is a short circuit through the metal, so detectors have "
            "to report the first one, and it has to be found at once.",
        )
    if result.current <= CLEARED_A and not result.openings:
        return ("Nothing opens, for there is next to no current.",)
    sentences = [tell_opening(opening, number) for number, opening in enumerate(result.openings)]
    if result.cleared:
        sentences.append(_ends(result))
    elif result.supply_side:
        sentences.append(_nobody_here(result))
    elif result.unknown:
        sentences.append(
            f"Whether {listed(result.unknown)} opens can't be told: no limits are known for it. "
            "Give the maker's curve."
        )
    elif result.openings:
        sentences.append("Even so the current doesn't stop: it keeps another way.")
    else:
        sentences.append(
            f"Nothing opens: {amps(result.current)} is too little for every device on the way. "
            "The fault stays."
        )
    return tuple(sentences)


def _nobody_here(result: FaultResult) -> str:
    """Say whose protection has to end a fault that no device on site parts from its source."""
    if result.openings:
        source = listed(result.ahead)
        return (
            f"The rest comes from {source} itself, and no device on the site stands between: only "
            f"the protection of {source} can end that, and it is not described here."
        )
    return (
        "This lies ahead of every overcurrent device on the site, so nothing on the site "
        "clears it. Only the utility's own protection can, and that is not described here: "
        "ask the utility."
        if len(result.ahead) != 1 or result.utility
        else f"Nothing on the site stands between {result.ahead[0]} and this fault. Only its own "
        "protection can end it, and that is not described here: ask its maker."
    )


def tell_opening(opening: Opening, number: int) -> str:
    """Tell one opening: what the device carries and when it has to open."""
    word = "then " if number else ""
    verb = "open" if "fuse" not in opening.rating else "melt"
    when = f"{between(opening.fastest, opening.slowest)} after the start"
    if opening.residual:
        return capital(
            f"{word}{_device(opening)} finds {amps(opening.current)} that doesn't come back by "
            f"it, and has to open {when}."
        )
    return capital(
        f"{word}{_device(opening)} carries {amps(opening.current)} and has to {verb} {when}."
    )


def _ends(result: FaultResult) -> str:
    if result.clearing <= LONGEST_S:
        return "That ends the fault."
    if result.verdict is Verdict.CANNOT_TELL and result.missing:
        return (
            f"That ends the fault, perhaps at once and perhaps only after "
            f"{seconds(result.clearing)}: the limits of its standard leave both open. Give "
            f"{listed(result.missing)}."
        )
    return (
        f"That ends the fault, but only after {seconds(result.clearing)}: too slow "
        f"(at most {seconds(LONGEST_S)} is called good here)."
    )


def _device(opening: Opening) -> str:
    return device_name(opening.device, opening.at, opening.rating)


def tell_touch(result: FaultResult) -> tuple[str, ...]:
    """Tell how high the metal stands meanwhile, and what the limit is."""
    verdict = result.touch_verdict
    if verdict.voltage_v < QUIET_V:
        return ()
    span = (
        f"For up to {seconds(result.clearing)}"
        if math.isfinite(result.clearing)
        else "For as long as it lasts"
    )
    here = result.touch.get(result.fault.place, 0.0)
    near = here > 0.99 * verdict.voltage_v
    place = result.fault.place if near else result.worst_place
    sentence = f"{span} the metal at {place} stands at {volts(verdict.voltage_v)} to earth"
    if not near and here >= QUIET_V:
        sentence += f" (at the fault: {volts(here)})"
    where = f"{verdict.condition}; {publication(verdict.source)}"
    limit = f"{volts(verdict.limit_v)} for that time ({where})"
    if verdict.verdict == "bearable":
        judged = f"That is within the limit of {limit}. It is no leave to touch anything."
    else:
        judged = f"That is dangerous to life: the limit is {limit}."
    return (f"{sentence}.", judged, *_tell_pair(result))


def _tell_pair(result: FaultResult) -> tuple[str, ...]:
    """Tell the most between two pieces of metal, where that is more than to earth."""
    pair, alone = result.pair, result.touch_verdict
    if pair is None or pair.verdict.voltage_v <= 1.05 * alone.voltage_v:
        return ()
    return (
        f"Between the metal at {pair.a} and that at {pair.b} there are up to "
        f"{volts(pair.verdict.voltage_v)}: {pair.verdict.verdict} for that time.",
    )


def heated_name(heat: Heat, plan: Plan) -> str:
    """Name the conductor that gets hottest."""
    if heat.id in plan.runs:
        return conductor_name(plan, heat.id, heat.conductor)
    return f"the electrode conductor of {heat.id}"


def _heat(heat: Heat, plan: Plan) -> str:
    name = heated_name(heat, plan)
    limit = show(heat.limit, Dimension.TEMPERATURE)
    if math.isinf(heat.temperature) and heat.verdict is not Verdict.CANNOT_TELL:
        return f"Hottest conductor: {name} ({heat.size}) melts before the fault is over."
    reached = show(heat.temperature, Dimension.TEMPERATURE)
    if heat.verdict is Verdict.CANNOT_TELL:
        by = "would melt" if math.isinf(heat.temperature) else f"would reach {reached}"
        return (
            f"Conductor in question: {name} ({heat.size}) {by} by the figures at hand, and {limit} "
            f"is its limit; whether it bears the fault can't be told: {heat.because}."
        )
    verdict = "it bears that" if heat.verdict is Verdict.HOLDS else "its insulation doesn't survive"
    return f"Hottest conductor: {name} ({heat.size}) reaches {reached} of {limit}; {verdict}."


def _after(result: FaultResult) -> tuple[str, ...]:
    if result.cleared and result.live_after < QUIET_V:
        return ()
    if result.cleared:
        return (
            f"After that {volts(result.live_after)} still stands on the metal at the fault: find "
            "out where it comes from.",
        )
    if result.supply_side:
        who = "somebody outside the site opens" if result.utility else "its source is stopped"
        return (f"Until {who}, the metal at the fault stays at {volts(result.live_after)}.",)
    if result.live_after < QUIET_V:
        return ()
    return (
        f"The metal at {result.fault.place} stays live at {volts(result.live_after)} until "
        "it is switched off.",
    )


def openers(result: FaultResult) -> str:
    """Say shortly who opens, for a table."""
    if result.openings:
        names = [_device(opening).removeprefix("the ") for opening in result.openings]
        return listed(names, "then")
    if result.supply_side:
        own = f"the protection of {listed(result.ahead)} only"
        return "the utility's protection only" if result.utility else own
    return "nothing"


def times(result: FaultResult) -> str:
    """Say shortly when the fault is over, for a table."""
    if result.cleared:
        low, high = seconds(result.fastest), seconds(result.clearing)
        return high if low == high else f"{low} – {high}"
    return "not known" if result.supply_side else "never"


def returns_by(result: FaultResult, plan: Plan) -> str:
    """Say shortly which way the first stretch of the current goes home, for a table."""
    if result.current <= CLEARED_A:
        return "no way back"
    if not result.in_full:
        return "–"
    if result.fault.kind in _BETWEEN_LINES:
        return f"line {result.fault.b}"
    back = [s for s in result.path if s.way == "back"]
    metal = [s for s in back if s.carrier is not Carrier.ELECTRODE]
    if earth_share(result.flows) > MOSTLY * result.current:
        return "the earth only"
    if not metal:
        return "the source nearby"
    first = next((s.id for s in metal if s.carrier is Carrier.RUN), metal[0].id)
    near = [s for s in metal if s.id == first]
    near += [s for s in metal if s.carrier is Carrier.METAL and s.share > 0.05]
    names = []
    for step in sorted(near, key=lambda s: -s.amperes):
        name = step_name(plan, step).removeprefix("the ")
        if name not in names:
            names.append(name)
    return listed(names[:3])
