"""Questions about the whole site: stray current, schedules, findings, devices in series."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import TimeBand
from bondwright.devices.bands import band
from bondwright.devices.curves import curves_of
from bondwright.draw.live import Form
from bondwright.draw.open_neutral import open_neutral_plot
from bondwright.draw.plot import time_current_plot
from bondwright.explain.faults import fault_name
from bondwright.explain.open_neutral import tell_open_neutral
from bondwright.explain.rules import tell_requirement
from bondwright.explain.schedule import schedule_rows
from bondwright.explain.story import Story
from bondwright.explain.stray import NATURE_WORDS, tell_current, tell_stray
from bondwright.explain.whatif import tell_added, tell_removed
from bondwright.explain.words import (
    amps,
    capital,
    device_name,
    flow_name,
    percent,
    seconds,
    tie_name,
)
from bondwright.network.build import PlacedDevice
from bondwright.page.desk import Desk, UnknownError, View
from bondwright.page.things import Teller
from bondwright.page.wire import (
    CurveAnswer,
    FaultsAnswer,
    Figure,
    FindingsAnswer,
    OpenNeutralAnswer,
    ScheduleAnswer,
    ScheduleRowInfo,
    StoryAnswer,
    StrayAnswer,
    StrayRow,
    Target,
)
from bondwright.page.words import finding_infos, story_info
from bondwright.plan.model import PlannedTie
from bondwright.studies.fault_model import CLEARED_A
from bondwright.studies.faults import FaultResult
from bondwright.studies.loops import Loop, Via
from bondwright.studies.open_neutral import study_open_neutral, supply_runs
from bondwright.studies.stray import Nature
from bondwright.studies.whatif import farthest_fault, tie_added, tie_removed

_MOST_BANDS: Final = 6
_MOST_ROWS: Final = 200
_ALIKE: Final = 0.05
"""Currents that differ by less, in proportion, share a mark on the plot."""


def faults_answer(desk: Desk, state: str, at: str) -> FaultsAnswer:
    """Say where faults can be played, and of which kinds at one place."""
    every = desk.faults(state)
    places = list(dict.fromkeys(fault.place for fault in every.values()))
    if at and at not in places:
        raise UnknownError(f"no fault can be played at {at!r} in this state")
    here = at or (places[0] if places else "")
    choices = Teller(desk, View(state)).choices(here) if here else []
    return FaultsAnswer(places=places, at=here, choices=choices)


def stray_answer(desk: Desk, state: str) -> StrayAnswer:
    """Tell every current on metal in normal use: its cause, its loop, its cure."""
    found = desk.loops(state)
    plan = desk.plan
    names = {tie.id: tie_name(tie) for tie in plan.ties}
    rows = [
        StrayRow(
            on=capital(flow_name(plan, loop.current.flow)),
            current=amps(loop.current.rms),
            share=percent(loop.current.share),
            nature=NATURE_WORDS[loop.current.nature],
            loud=loop.current.nature is Nature.OBJECTIONABLE,
            causes=[names.get(cause, cause) for cause in loop.current.causes],
            told=tell_current(loop.current, plan),
            loop=list(_loop_words(loop, names)),
            things=list(_loop_things(loop)),
        )
        for loop in found.loops[:_MOST_ROWS]
    ]
    return StrayAnswer(story=story_info(tell_stray(found.stray, plan)), rows=rows)


def open_neutral_answer(desk: Desk, run: str, form: Form) -> OpenNeutralAnswer:
    """Open a supply's neutral and tell what metal stands at, over electrodes and load.

    Raises:
        UnknownError: there is no such supply run.
    """
    made = desk.plan
    runs = list(supply_runs(made))
    if run and run not in runs:
        known = ", ".join(repr(name) for name in runs) or "none"
        raise UnknownError(f"no supply run {run!r} with a neutral; there is {known}")
    try:
        study = study_open_neutral(made, run or None)
    except ValueError as error:
        return OpenNeutralAnswer(runs=runs, run=run, told=[capital(f"{error}.")], svg="")
    wide, high = (380.0, 420.0) if form == "phone" else (440.0, 420.0)
    drawn = open_neutral_plot(study, wide, high, "open-neutral-")
    return OpenNeutralAnswer(
        runs=runs,
        run=study.run,
        told=list(tell_open_neutral(study).sentences),
        svg=drawn.svg[drawn.svg.index("<svg") :],
    )


def _loop_words(loop: Loop, names: dict[str, str]) -> Iterator[str]:
    for step in loop.steps:
        match step.via:
            case Via.TIE:
                yield f"{step.from_}: through {names.get(step.id, step.id)}"
            case Via.NEUTRAL:
                yield f"{step.from_} to {step.to}: on the neutral of {step.id}"
            case Via.EARTH:
                yield f"{step.from_}: through the earth"
            case _:
                what = "metal" if step.conductor in {"metal", ""} else step.conductor
                to = step.to if step.to != "earth" else "the earth"
                yield f"{step.from_} to {to}: {amps(step.amperes)} on the {what} of {step.id}"


def _loop_things(loop: Loop) -> Iterator[Target]:
    kind = str(loop.current.flow.carrier)
    seen: set[tuple[str, str]] = set()
    for step in loop.steps:
        word = {Via.TIE: "tie", Via.NEUTRAL: "run", Via.EARTH: ""}.get(step.via, kind)
        if word and (word, step.id) not in seen:
            seen.add((word, step.id))
            yield Target(kind=word, id=step.id)


def schedule_answer(desk: Desk) -> ScheduleAnswer:
    """Return the schedule of jumpers and conductors, each row with its sum."""
    plan = desk.plan
    kinds = {
        **dict.fromkeys(plan.runs, "run"),
        **dict.fromkeys(plan.electrodes, "electrode"),
        **dict.fromkeys(plan.site.metal, "metal"),
        **{tie.id: "tie" for tie in desk.base.ties},
    }
    rows = [
        ScheduleRowInfo(
            id=row.id,
            short=row.short,
            purpose=row.purpose,
            start=row.from_,
            end=row.to,
            required=row.required,
            chosen=row.chosen,
            origin=row.origin,
            clause=row.clause,
            verdict=str(row.verdict),
            mark=row.mark,
            remark=row.remark,
            why=[
                *tell_requirement(item).sentences,
                *([f"The table row is {row.status}."] if row.status else []),
            ],
            thing=Target(kind=kinds[item.about], id=item.about) if item.about in kinds else None,
        )
        for row, item in zip(schedule_rows(plan), plan.schedule, strict=True)
    ]
    assumed = [f"{item.where}: {item.text}" for item in plan.assumptions]
    return ScheduleAnswer(rows=rows, assumed=assumed)


def findings_answer(desk: Desk) -> FindingsAnswer:
    """Return what is known to fall short, and what it rests on."""
    whole = desk.is_judged()
    note = (
        "Of the rules, of every fault at every place, and of normal use."
        if whole
        else "Of the rules, for the site as its file has it. Faults and stray current are judged "
        "by the whole study."
    )
    return FindingsAnswer(whole=whole, note=note, findings=finding_infos(desk.findings()))


def story_answer(desk: Desk, state: str, kind: str, name: str) -> StoryAnswer:
    """Tell why a tie matters: a fault without it, or normal use with one too many.

    Raises:
        UnknownError: there is no such tie, or no place for one.
    """
    plan = desk.plan
    if kind in {"slot", "missing-tie"}:
        if any(tie.at == name for tie in plan.ties):
            raise UnknownError(f"neutral and metal are joined at {name!r} already")
        network = desk.network(state, loads=True)
        return StoryAnswer(story=story_info(tell_added(tie_added(network, name), plan)))
    tie = next((t for t in (*plan.ties, *desk.base.ties) if t.id == name), None)
    if tie is None:
        raise UnknownError(f"there is no tie {name!r}")
    return StoryAnswer(story=story_info(_removed(desk, state, tie)))


def _removed(desk: Desk, state: str, tie: PlannedTie) -> Story:
    network = desk.network(state, loads=False)
    there = any(known.id == tie.id for known in desk.plan.ties)
    if not there:
        network = desk.first_network(state, loads=False)
    fault = farthest_fault(network, tie)
    if fault is None:
        raise UnknownError(f"no fault behind {tie.id!r} reaches metal")
    return tell_removed(tie_removed(network, tie, fault), network.plan)


def curve_answer(desk: Desk, view: View, form: Form) -> CurveAnswer:
    """Plot the devices on the way to a fault, nearest first, with its current on them.

    Raises:
        UnknownError: no fault is chosen, or no device stands on the way.
    """
    if view.show != "fault":
        raise UnknownError("choose a fault first; its current goes on the plot")
    result = desk.fault(view.state, view.fault)
    bands = list(_bands(desk, view.state, result))
    if not bands:
        raise UnknownError("no device of the site stands on the way to this fault")
    shown = bands[:_MOST_BANDS]
    seen = {device.id: _seen(desk, view.state, device, result) for device, _, _ in shown}
    wide, high = (680.0, 500.0) if form == "page" else (350.0, 480.0)
    drawing = time_current_plot(
        [(label, found) for _, label, found in shown],
        list(_markers(result, seen)),
        wide,
        high,
        title="Devices in series",
        prefix="plot-",
    )
    return CurveAnswer(
        svg=drawing.svg[drawing.svg.index("<svg") :],
        alt=drawing.alt,
        rows=[
            _device_row(label, found, device, seen[device.id], result)
            for device, label, found in shown
        ],
    )


def _bands(
    desk: Desk, state: str, result: FaultResult
) -> Iterator[tuple[PlacedDevice, str, TimeBand]]:
    network = desk.network(state, loads=False)
    topology, place = network.state.topology, result.fault.place
    names = [f"main {place}"]
    for run in topology.upstream(place):
        names += [f"device {run}", f"main {network.plan.runs[run].from_}"]
    for name in names:
        device = network.devices.get(name)
        if device is None:
            continue
        try:
            found = band(device.rating, curves_of(network.plan.curves))
        except CatalogError:
            continue
        label = device_name(device.id, device.at, str(device.rating)).removeprefix("the ")
        yield device, capital(label), found


def _seen(desk: Desk, state: str, device: PlacedDevice, result: FaultResult) -> float:
    """Return the largest line current through a device at the start of a fault, A."""
    kind, _, name = device.id.partition(" ")
    run = name if kind == "device" else desk.state(state).topology.fed_by.get(name, "")
    return max(
        (f.amperes for f in result.flows if f.id == run and f.terminal.startswith("L")),
        default=result.current,
    )


def _markers(result: FaultResult, seen: Mapping[str, float]) -> Iterator[tuple[str, float]]:
    """Yield the fault current, and what devices beyond a transformer see of it."""
    told: list[float] = []
    if result.current > CLEARED_A:
        told.append(result.current)
        yield "fault current", result.current
    for device, current in seen.items():
        if current > CLEARED_A and all(abs(current - one) > _ALIKE * one for one in told):
            told.append(current)
            yield f"seen by the {device}", current


def _device_row(
    label: str, found: TimeBand, device: PlacedDevice, current: float, result: FaultResult
) -> Figure:
    if current <= CLEARED_A:
        return Figure(label=label, value="carries next to nothing", why=list(found.assumptions))
    quick, slow = found.fastest(current), found.slowest(current)
    opened = next((o for o in result.openings if o.device == device.id), None)
    value = f"{_span(quick, slow)} at {amps(current)}"
    why = [
        *found.assumptions,
        *(
            f"Source: {source.title}, {source.edition} ({source.status})."
            for source in found.sources
        ),
    ]
    if opened is not None:
        why.insert(0, f"In {fault_name(result)} it opens, at {amps(opened.current)}.")
    return Figure(label=label, value=value, why=why)


def _span(quick: float, slow: float) -> str:
    low, high = seconds(quick), seconds(slow)
    return low if low == high else f"{low} to {high}"
