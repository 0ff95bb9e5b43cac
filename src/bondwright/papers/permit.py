"""What a permit package has beside results: cover, available current, a sheet for each state."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Final

from bondwright import __version__
from bondwright.draw.part import LARGE
from bondwright.explain.faults import fault_name, openers, times
from bondwright.explain.stray import tell_stray
from bondwright.explain.words import amps, capital, counted, device_rating, listed, volts
from bondwright.papers.results import Results, StateResult
from bondwright.papers.wording import badge
from bondwright.plan.model import Assumption, Plan
from bondwright.rules.answer import Verdict
from bondwright.rules.families import title, unit_system
from bondwright.site.model import Amendment
from bondwright.site.states import OperatingState
from bondwright.studies.availability import AvailableAt
from bondwright.studies.faults import FaultResult

MOST_NAMED: Final = 3
"""Assumptions named on the cover."""
MOST_IN_CELL: Final = 6
"""Devices alike named in one cell."""
MOST_IN_STATE: Final = 400
"""Faults on the sheet of a state; with more, those that don't hold."""


@dataclass(frozen=True, slots=True)
class Cover:
    """What only the person who hands the papers in can say.

    Attributes:
        job: name or number of the job.
        revision: of the papers.
        source: file that describes the site.
        digest: of that file, so that papers and description can be told to belong together.
    """

    job: str = ""
    revision: str = ""
    source: str = ""
    digest: str = ""

    @staticmethod
    def of(name: str, text: bytes, job: str = "", revision: str = "") -> Cover:
        """Return the cover for a site file's name and bytes."""
        return Cover(job, revision, name, hashlib.sha256(text).hexdigest()[:12])


def cover_facts(plan: Plan, cover: Cover, on: date) -> list[list[str]]:
    """Return the facts on the cover: name and value."""
    found = str(plan.site.describes) == "as found"
    facts = [
        ["Job", cover.job],
        ["Rules", title(plan.site.rules)],
        ["Amendments", amendments(plan)],
        ["Describes", f"the installation as {'found' if found else 'planned'}"],
        ["Description", f"{cover.source}, SHA-256 {cover.digest}…" if cover.source else ""],
        ["Lengths in", "metres" if unit_system(plan.site.rules) == "metric" else "feet"],
        ["Date", f"{on:%B} {on.day}, {on.year}"],
        ["Revision", cover.revision],
        ["Made with", f"bondwright {__version__}"],
    ]
    return [[name, value] for name, value in facts if value]


def amendments(plan: Plan) -> str:
    """Return the local amendments in force, or that there are none."""
    told = [_amendment(name, one) for name, one in plan.site.amendments.items()]
    return "; ".join(told) or "none described"


def _amendment(name: str, one: Amendment) -> str:
    whose = ", ".join(word for word in (one.authority, one.reference, one.date) if word)
    values = listed([f"{key} {value}" for key, value in one.values.items()])
    return name + (f" ({whose})" if whose else "") + (f": {values}" if values else "")


def assumed_short(assumptions: Sequence[Assumption]) -> str:
    """Return in a sentence or two what is taken for granted."""
    if not assumptions:
        return "Nothing is taken for granted."
    named = [capital(a.text).rstrip(".") for a in assumptions if a.where in {"site", "circuit"}]
    said = f" {'. '.join(named[:MOST_NAMED])}." if named else ""
    what = counted(len(assumptions), "thing") + (" is" if len(assumptions) == 1 else " are")
    return f"{what} taken that the description doesn't say.{said} All of them:"


def available_content(found: Sequence[AvailableAt], plan: Plan) -> dict[str, Any]:
    """Return the list of available fault current, place by place in walking order."""
    return {
        "note": "The greatest bolted fault current at the line terminals of each place in the "
        "first cycles, symmetrical r.m.s., with the utility at the strength given and motors "
        "running; its highest instantaneous value; and the interrupting ratings of what stands "
        "there. Where it is greatest in another state than the normal one, that is named. A change "
        "at the utility or on site makes it another one: date what is posted."
        + (" Places with a device; available.csv has all." if len(found) > LARGE else ""),
        "head": ["Place", "System", "Available", "Between", "Peak", "Devices there", "Verdict"],
        "widths": [3, 2, 0, 2, 0, 5, 0],
        "rows": [
            {
                "cells": list(available_cells(one, plan)),
                "badge": badge(one.verdict) if one.duties else None,
            }
            for one in found
            if one.duties or len(found) <= LARGE
        ],
    }


def available_cells(one: AvailableAt, plan: Plan) -> tuple[str, ...]:
    """Return a place's row: place, system, current, between what, peak, devices."""
    system = plan.topology.systems.get(one.place)
    motors = f", {amps(one.of_motors)} of it from motors" if one.of_motors >= 1 else ""
    alike: dict[str, list[str]] = {}
    for d in one.duties:
        held = d.judgement.rating_a
        rating = "rating to interrupt not given" if held is None else f"interrupts {amps(held)}"
        name = "main" if d.device.startswith("main ") else d.device.removeprefix("device ")
        alike.setdefault(f"{device_rating(d.rating)}, {rating}", []).append(name)
    told = [
        f"{listed(names) if len(names) <= MOST_IN_CELL else counted(len(names), 'device')}: {what}"
        for what, names in alike.items()
    ]
    return (
        one.place,
        str(system.voltages) if system is not None else "–",
        f"{amps(one.available.current)}{motors}" + (f" ({one.state})" if one.state else ""),
        one.available.between,
        amps(one.available.peak),
        "; ".join(told) or "–",
    )


def state_plan(plan: Plan, state: OperatingState) -> Plan:
    """Return a plan as it is fed in a state, for its picture."""
    return replace(plan, topology=state.topology)


def state_sheets(results: Results) -> list[dict[str, Any]]:
    """Return a sheet for each way the site is run, where there are several."""
    if len(results.states) < 2:
        return []
    every = {one.id: one for one in results.plan.states}
    return [_state_sheet(results, one, every.get(one.id)) for one in results.states]


def _state_sheet(
    results: Results, state: StateResult, way: OperatingState | None
) -> dict[str, Any]:
    plan = results.plan if way is None else state_plan(results.plan, way)
    facts = [["On", listed(state.on)]]
    if way is not None:
        off = [n for n in _supplies(plan) if n not in way.on]
        facts.append(["Off", listed(off) or "nothing"])
        if way.transfers:
            stand = [f"{name} on {position.value}" for name, position in way.transfers.items()]
            facts.append(["Transfer switches", listed(stand)])
        if way.open:
            facts.append(["Open", listed(sorted(way.open))])
    told = tell_stray(state.stray, plan)
    return {
        "title": f"State: {state.id}",
        "facts": facts,
        "ties": {
            "head": ["System of", "Joins of neutral and metal", "Where", "Verdict"],
            "rows": [
                {
                    "cells": [c.origin, str(c.count), listed(c.ties) or "–"],
                    "badge": badge(c.verdict),
                }
                for c in results.plan.tie_counts
                if c.state == state.id
            ],
        },
        "stray": {"badge": badge(told.verdict), "sentences": list(told.sentences)},
        "faults": {
            "head": ["Fault to metal", "Current", "Opens", "Time", "Touch volts", "Verdict"],
            "rows": _faults(state.faults),
        },
    }


def _supplies(plan: Plan) -> list[str]:
    site = plan.site
    return [*site.sources, *site.generators, *site.inverters]


def _faults(faults: Sequence[FaultResult]) -> list[dict[str, Any]]:
    """Return one row for a place: that of its weakest line."""
    shown = [f for f in faults if f.verdict is not Verdict.HOLDS]
    shown = shown if len(faults) > MOST_IN_STATE else list(faults)
    weakest: dict[str, FaultResult] = {}
    for f in shown:
        if f.fault.place not in weakest or f.current < weakest[f.fault.place].current:
            weakest[f.fault.place] = f
    return [
        {
            "cells": [
                fault_name(f),
                amps(f.current),
                openers(f),
                times(f),
                volts(f.touch_verdict.voltage_v),
            ],
            "badge": badge(f.verdict),
        }
        for f in weakest.values()
    ]
