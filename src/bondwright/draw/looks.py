"""How the elements of a live picture look at a moment: widths, texts, states, by element id."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bondwright.draw.content import (
    NOTHING_A,
    QUIET_A,
    SMALL,
    Currents,
    Line,
    amperes,
    current_lines,
    currents,
)
from bondwright.draw.foot import foot_items
from bondwright.draw.lettering import KEEP, fit, width
from bondwright.draw.scene import Scene, run_terminals
from bondwright.draw.svg import ALARM, element_id
from bondwright.plan.model import Plan
from bondwright.studies.flows import Carrier, Flow
from bondwright.units import Dimension, show

TOLD_V: Final = 1.0
"""Metal below this voltage is not called out, V."""
_FOOT_ROOM: Final = 420.0

Look = Mapping[str, str | float]
"""What is different about an element: ``w`` width of its ribbon in px, ``a`` amperes, ``d``
direction (1 as it is drawn, -1 against it), ``t`` text with its width ``tw`` in px, ``c`` a word
for its state."""


@dataclass(frozen=True, slots=True)
class Now:
    """A moment to be shown: what flows, where metal stands, what opens.

    Attributes:
        plan: the plan with its ties as they are now.
        flows: every current, A.
        metal: voltage of each place's metal to remote earth, V.
        limit: voltage from which metal is called live, V.
        opens: runs and places whose device opens: ids of the devices.
        dead: places without a live terminal in this state.
        fault: whether the currents are those of a fault.
        against: runs whose lines carry power from their end to their start.
    """

    plan: Plan
    flows: Sequence[Flow] = ()
    metal: Mapping[str, float] | None = None
    limit: float = 50.0
    opens: frozenset[str] = frozenset()
    dead: frozenset[str] = frozenset()
    fault: bool = False
    against: frozenset[str] = frozenset()


def every_look(
    drawn: Scene, scene: Scene, now: Now, rooms: Mapping[str, float], memo: Memo
) -> Iterator[tuple[str, Look]]:
    """Yield the id of every element that can change, with its look.

    Args:
        drawn: the scene as it was painted.
        scene: the same with the ties of the moment in its slots.
        now: the moment.
        rooms: width of the label of each run, px.
        memo: what was found for the runs before; it is renewed.
    """
    amps = currents(now.flows) if now.flows else None
    wide = replace(scene, now=amps, full=amps.greatest if amps is not None else 0.0)
    toward = directions(now)
    yield from _runs(wide, now, amps, toward, rooms, memo)
    yield from _ties(drawn, scene, amps)
    yield from _foot(wide, now, amps, toward)
    yield from _places(scene, now)
    yield from _devices(now)


Memo = dict[str, tuple[tuple[object, ...], tuple[tuple[str, Look], ...]]]
"""Looks of each run as they were last, with what they came from: most runs stay as they are."""


def _runs(
    scene: Scene,
    now: Now,
    amps: Currents | None,
    toward: Mapping[tuple[str, str], int],
    rooms: Mapping[str, float],
    memo: Memo,
) -> Iterator[tuple[str, Look]]:
    for run, room in rooms.items():
        terminals = run_terminals(now.plan.runs[run])
        flowing = tuple(
            (
                None if amps is None else _told_as(amps.runs.get((run, t), 0.0)),
                toward.get((run, t), 1),
            )
            for t in terminals
        )
        made_of = (flowing, scene.full, now.fault)
        known = memo.get(run)
        if known is None or known[0] != made_of:
            looks = tuple(
                _run(scene, now, amps, run, room, dict(zip(terminals, flowing, strict=True)))
            )
            known = memo[run] = (made_of, looks)
        yield from known[1]


def _told_as(value: float) -> float:
    """Return a current as it is told: three figures, and nothing below what is called none."""
    return float(f"{value:.3g}") if value >= NOTHING_A else 0.0


def _run(
    scene: Scene,
    now: Now,
    amps: Currents | None,
    run: str,
    room: float,
    flowing: Mapping[str, tuple[float | None, int]],
) -> Iterator[tuple[str, Look]]:
    planned = now.plan.runs[run]
    for terminal, (value, way) in flowing.items():
        look = _ribbon(scene.thickness(value), value, way)
        if terminal == "G":
            look["c"] = _stray(value, now)
        yield element_id("ribbon", run, terminal), look
    drawn = scene.labels[planned.to][1]
    told = current_lines(planned, amps, room, fault=now.fault)
    # What metal carries goes before the rest where there isn't room for all of it.
    kept = [*told[: max(0, len(drawn) - 1)], *told[-1:]] if len(told) > len(drawn) else told
    for row in range(len(drawn)):
        line = kept[row] if row < len(kept) else Line("")
        yield element_id("text", f"run {run} {row}"), _text(line, room)


def _stray(value: float | None, now: Now) -> str:
    """Return the state of metal: whether it carries what a clamp would show in normal use."""
    return "stray" if value is not None and value >= QUIET_A and not now.fault else ""


def _ribbon(thick: float, value: float | None, way: int) -> dict[str, str | float]:
    look: dict[str, str | float] = {"w": round(thick, 2)}
    if value is not None:
        look |= {"a": float(f"{value:.3g}"), "d": way}
    return look


def _text(line: Line, room: float) -> Look:
    text = fit(line.text.replace(KEEP, " "), room, SMALL, line.bold)
    look: dict[str, str | float] = {"t": text}
    if text:
        look["tw"] = round(width(text, SMALL, line.bold), 1)
    return look | {"c": "alarm" if line.fill == ALARM else ""}


def _ties(drawn: Scene, scene: Scene, amps: Currents | None) -> Iterator[tuple[str, Look]]:
    for name, station in drawn.stations.items():
        marks = zip(station.ties, scene.stations[name].ties, strict=True)
        for row, (slot, mark) in enumerate(marks):
            kind = "slot" if slot.state == "free" else "missing-tie"
            about = ("tie", slot.id) if slot.id else (kind, name)
            removed = bool(slot.id) and not mark.id
            state = "off" if removed else mark.state
            yield element_id(*about), {"c": state, "now": mark.id}
            text = "tie taken off" if removed else mark.text
            if not removed and not text and mark.id:
                text = "tie put on" if mark.state == "stands" else "tie put on: none belongs here"
            if amps is not None and mark.id in amps.ties:
                text += f" · {amperes(amps.ties[mark.id])}"
            loud = state in {"wrong", "missing", "off"}
            line = Line(text, loud, ALARM if loud else "")
            yield element_id("text", f"tie {name} {row}"), _text(line, _FOOT_ROOM)


def _foot(
    scene: Scene, now: Now, amps: Currents | None, toward: Mapping[tuple[str, str], int]
) -> Iterator[tuple[str, Look]]:
    items = foot_items(now.plan, amps, direct=False)
    for pipe in items.pipes:
        value = None if amps is None else amps.metal.get(pipe.id)
        way = toward.get((pipe.id, "metal"), 1)
        look = _ribbon(scene.thickness(value), value, way) | {"c": _stray(value, now)}
        yield element_id("metal", pipe.id), look
        yield element_id("text", pipe.text.key), _text(pipe.text, _FOOT_ROOM)
    for buried in items.buried:
        for line in buried.lines:
            if line.key:
                yield element_id("text", line.key), _text(line, _FOOT_ROOM)
        if buried.kind is not None:
            value = None if amps is None else amps.electrodes.get(buried.id)
            thick = 2.4 if value is None else max(2.0, scene.thickness(value))
            way = toward.get((buried.id, "electrode"), 1)
            yield element_id("electrode", buried.id), _ribbon(thick, value, way)


def _places(scene: Scene, now: Now) -> Iterator[tuple[str, Look]]:
    metal = now.metal or {}
    for name, station in scene.stations.items():
        volts = metal.get(name, 0.0)
        live = volts >= now.limit
        kind = station.mark
        own = {"source", "generator", "inverter", "transfer", "transformer"}
        state = "live" if live else "dead" if name in now.dead else ""
        yield element_id(kind if kind in own else "place", name), {"c": state}
        text = f"metal at {show(volts, Dimension.VOLTAGE)} to earth" if volts >= TOLD_V else ""
        if name in now.dead:
            text = text or "not supplied in this state"
        line = Line(text, live, ALARM if live else "")
        yield element_id("text", f"at {name}"), _text(line, _FOOT_ROOM)


def _devices(now: Now) -> Iterator[tuple[str, Look]]:
    site = now.plan.site
    for name, run in site.runs.items():
        if run.device is not None:
            opens = f"device {name}" in now.opens
            yield element_id("device", name), {"c": "opens" if opens else ""}
    for name, place in site.places.items():
        if place.main is not None:
            opens = f"main {name}" in now.opens
            yield element_id("main", name), {"c": "opens" if opens else ""}


def directions(now: Now) -> dict[tuple[str, str], int]:
    """Return which way each current goes: 1 from start to end, -1 back, by id and terminal.

    An alternating current has no direction of its own. During a fault everything is compared
    with the fault current on its way out; in normal use a line goes where its power goes, its
    neutral is compared with the lines of its run, and metal with the largest neutral current on
    its way home.
    """
    sums: dict[tuple[str, str], complex] = {}
    for flow in now.flows:
        word = flow.terminal if flow.carrier is Carrier.RUN else str(flow.carrier)
        key = (flow.id, word)
        sums[key] = sums.get(key, 0j) + flow.current
    if not sums:
        return {}
    if now.fault:
        lines = [c for (_, word), c in sums.items() if word.startswith("L")]
        main = max(lines, key=abs, default=1 + 0j)
        return {key: _sign(c, main) for key, c in sums.items()}
    home = -max((c for (_, word), c in sums.items() if word == "N"), key=abs, default=1 + 0j)
    by_run: dict[str, complex] = {}
    for (name, word), c in sums.items():
        if word.startswith("L"):
            by_run[name] = by_run.get(name, 0j) + c
    found = {}
    for (name, word), c in sums.items():
        if word.startswith("L"):
            found[name, word] = -1 if name in now.against else 1
        elif word == "N":
            found[name, word] = _sign(c, by_run.get(name, 0j)) or -1
        else:
            found[name, word] = _sign(c, home)
    return found


def _sign(current: complex, other: complex) -> int:
    return 1 if (current * other.conjugate()).real >= 0 else -1
