"""What a view shows: the changes of the picture, its headline, and a fault to be played."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from bondwright.draw.content import missing_ties
from bondwright.draw.live import LivePicture
from bondwright.explain.faults import (
    earth_share,
    fault_name,
    heated_name,
    openers,
    returns_by,
    tell_end,
    tell_touch,
    times,
)
from bondwright.explain.steps import fault_steps
from bondwright.explain.words import MARKS, amps, capital, flow_name, listed, seconds, volts
from bondwright.page.desk import Desk, UnknownError, View
from bondwright.page.edits import said
from bondwright.page.wire import (
    EditsInfo,
    FaultTold,
    Figure,
    Light,
    StepInfo,
    Target,
    ViewAnswer,
    ViewRequest,
)
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.studies.fault_model import CLEARED_A, FaultKind
from bondwright.studies.faults import FaultResult
from bondwright.studies.flows import Carrier
from bondwright.units import Dimension, show

_MOST_LIVE = 12


def view_of(request: ViewRequest) -> View:
    """Return what a request wants to see."""
    return View(request.state, request.show, request.fault if request.show == "fault" else "")


def edits_info(desk: Desk) -> EditsInfo:
    """Say what is different from the file."""
    return EditsInfo(
        done=list(said(desk.base, desk.edits.done)),
        described=_described(desk),
        can_undo=desk.versions.can_undo,
        can_redo=bool(desk.versions.undone),
        undoes=desk.versions.now.said if desk.versions.can_undo else "",
        unsaved=desk.unsaved,
    )


def _described(desk: Desk) -> list[str]:
    """Say what was described anew since it was kept, a line a change."""
    if not desk.unsaved:
        return []
    lines: list[str] = []
    done = desk.versions.done
    for before, version in reversed(list(pairwise(done))):
        if version.text == desk.saved:
            break
        if version.text != before.text:
            lines.append(version.said)
    return lines[::-1]


def answer_after(desk: Desk, request: ViewRequest) -> ViewAnswer:
    """Answer what is to be shown after a change, which may have taken the state or fault away."""
    try:
        return view_answer(desk, request)
    except UnknownError:
        known = any(state.id == request.state for state in desk.states)
        state = request.state if known else ""
        plain = request.model_copy(update={"state": state, "show": "normal", "fault": ""})
        return view_answer(desk, plain)


def view_answer(desk: Desk, request: ViewRequest) -> ViewAnswer:
    """Answer what is to be shown."""
    view = view_of(request)
    name, changes = desk.patch(request.form, view, request.have)
    now = desk.now(view)
    live = [place for place, v in (now.metal or {}).items() if v >= now.limit]
    told = None
    if view.show == "fault":
        result = desk.fault(view.state, view.fault)
        told = _fault_told(desk, request, result)
        headline, verdict = fault_headline(result), result.verdict
    elif view.show == "normal":
        headline, verdict = normal_headline(desk, view.state)
    else:
        headline, verdict = "The installation, without currents.", Verdict.CANNOT_TELL
    return ViewAnswer(
        name=name,
        drawing=desk.drawing,
        state=desk.state(view.state).id,
        show=request.show,
        changes=[(key, dict(look)) for key, look in changes.items()],
        headline=headline,
        verdict=str(verdict) if view.show != "nothing" else "",
        mark=MARKS[verdict] if view.show != "nothing" else "",
        live=live[:_MOST_LIVE],
        fault=told,
        edits=edits_info(desk),
    )


def normal_headline(desk: Desk, state: str) -> tuple[str, Verdict]:
    """Say in a line how normal use stands."""
    use = desk.normal(state)
    neutral = max((f.amperes for f in use.flows if f.terminal == "N"), default=0.0)
    if neutral <= 0:
        return (
            "No load draws neutral current, so this says nothing about ties: describe the loads.",
            Verdict.CANNOT_TELL,
        )
    text = f"The largest neutral current is {amps(neutral)}"
    on_metal = [f for f in use.flows if f.on_metal and f.carrier is not Carrier.ELECTRODE]
    most = max(on_metal, key=lambda f: f.amperes, default=None)
    if most is not None:
        text += f"; the most on metal is {amps(most.amperes)}, on {flow_name(desk.plan, most)}"
    wrong = list(dict.fromkeys(tie.at for tie in desk.plan.ties if not tie.belongs))
    if wrong:
        return f"A tie stands where none belongs: {listed(wrong)}. {text}.", Verdict.FALLS_SHORT
    lacking = missing_ties(desk.plan)
    if lacking:
        return (
            f"No tie at {listed(lacking)}, where one belongs: a fault to metal may find no way "
            f"home. {text}.",
            Verdict.FALLS_SHORT,
        )
    return f"Normal use. {text}.", Verdict.HOLDS


def fault_headline(result: FaultResult) -> str:
    """Say in a line how a fault goes."""
    text = f"{fault_name(result)}: {amps(result.current)}"
    if result.cleared and result.openings:
        text += f"; the {openers(result)} opens within {seconds(result.clearing)}"
    elif result.cleared:
        text += "; nothing opens, and nothing has to"
    else:
        text += "; nothing on the site ends it"
    high = result.touch_verdict.voltage_v
    return f"{text}; metal at {volts(high)}." if high >= 1 else f"{text}."


def _fault_told(desk: Desk, request: ViewRequest, result: FaultResult) -> FaultTold:
    plan = desk.plan
    return FaultTold(
        key=request.fault,
        name=capital(fault_name(result)),
        verdict=str(result.verdict),
        mark=MARKS[result.verdict],
        numbers=list(fault_numbers(result, plan)),
        steps=[
            StepInfo(
                sight=step.sight,
                title=step.title,
                sentences=list(step.sentences),
                things=[Target(kind=kind, id=name) for kind, name in step.things],
                clock=step.clock,
            )
            for step in fault_steps(result, plan)
        ],
        light=light_of(desk.picture(request.form), plan, result),
    )


def light_of(picture: LivePicture, plan: Plan, result: FaultResult) -> Light:
    """Return the light of a fault's way in a picture, out and home."""
    parts = {}
    for way in ("out", "back"):
        part = replace(result, path=tuple(step for step in result.path if step.way == way))
        parts[way] = picture.light(plan, part)
    return Light(
        under_out=parts["out"][0],
        under_home=parts["back"][0],
        over_out=parts["out"][1],
        over_home=parts["back"][1],
        flash=picture.flash(plan, result),
    )


def fault_numbers(result: FaultResult, plan: Plan) -> Iterator[Figure]:
    """Yield the numbers of a fault, each with the reason behind it."""
    yield Figure(label="Fault current", value=amps(result.current), why=_why_current(result))
    loop = show(result.loop, Dimension.RESISTANCE)
    yield Figure(
        label="Loop",
        value=loop,
        why=[
            "The impedance of everything on the way: source, windings, lines out, and home every "
            "metal path side by side, each taking its share by its impedance.",
            f"Solved as one circuit; what Kirchhoff's laws leave over is "
            f"{result.residuals.kirchhoff:.0e} of the largest current.",
        ],
    )
    if result.current > CLEARED_A:
        share = earth_share(result.flows)
        why = [f"{amps(share)} of it takes the earth, which is no fault path."] if share else []
        yield Figure(
            label="Comes home by",
            value=returns_by(result, plan),
            why=["Parallel metal shares the current by its impedance.", *why],
        )
    yield Figure(
        label="Opens", value=openers(result), why=list(tell_end(result)), loud=not result.cleared
    )
    yield Figure(
        label="Over in",
        value=times(result),
        why=[
            "Devices open somewhere within the band that their standard allows. The slow edge "
            "counts for safety; the quick edge is the other figure.",
            *(f"Not known: {text}." for text in result.missing),
        ],
        loud=not result.cleared,
    )
    touch = result.touch_verdict
    if touch.voltage_v >= 1:
        yield Figure(
            label=f"Metal at {result.worst_place}",
            value=f"{volts(touch.voltage_v)} ({touch.verdict})",
            why=list(tell_touch(result)),
            loud=touch.verdict != "bearable",
        )
    if result.live_after >= 1:
        yield Figure(
            label="Stays on the metal",
            value=volts(result.live_after),
            why=["What is left between the metal at the fault and the earth when all is over."],
            loud=True,
        )
    if result.heat is not None:
        heat = result.heat
        yield Figure(
            label="Hottest conductor",
            value=f"{show(heat.temperature, Dimension.TEMPERATURE)} of "
            f"{show(heat.limit, Dimension.TEMPERATURE)}",
            why=[f"{capital(heated_name(heat, plan))} ({heat.size}): {heat.because}."],
            loud=heat.verdict is Verdict.FALLS_SHORT,
        )


def _why_current(result: FaultResult) -> list[str]:
    simple = result.fault.kind not in {FaultKind.THREE_LINES, FaultKind.SECOND_TO_METAL}
    if not simple or result.current <= CLEARED_A:
        return ["From the whole circuit with the fault in it, solved at once."]
    before = result.current * result.loop
    return [
        f"Before the fault there were {volts(before)} between the two. Over a loop of "
        f"{show(result.loop, Dimension.RESISTANCE)} that drives {amps(result.current)}."
    ]
