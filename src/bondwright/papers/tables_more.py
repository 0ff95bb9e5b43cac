"""Tables of the report that are rows of text and a verdict: states, and protective devices."""

from __future__ import annotations

from typing import Any, Final

from bondwright.explain.disconnection import HEAD, NOTE, row
from bondwright.explain.words import amps, capital, counted, device_rating, listed
from bondwright.papers.results import Results, StateResult
from bondwright.papers.wording import badge
from bondwright.rules.answer import Verdict
from bondwright.studies.faults import FaultResult
from bondwright.studies.protection import Duty

MOST_DEVICES: Final = 200
"""With more devices than this those that are alike stand in one row."""
LIVE_A = 1.0
"""A device that no fault can put more than this through is not in service in normal use, A."""


def more_tables(results: Results) -> list[dict[str, Any]]:
    """Return the tables that a site has; each with id, title, note, head and rows."""
    return [
        table
        for table in (_disconnection(results), _states(results), _devices(results))
        if table["rows"]
    ]


def _disconnection(results: Results) -> dict[str, Any]:
    return {
        "id": "disconnection",
        "title": "Disconnection",
        "note": NOTE,
        "head": list(HEAD),
        "rows": [
            {"cells": list(row(one)), "badge": badge(one.verdict)} for one in results.disconnections
        ],
    }


def _states(results: Results) -> dict[str, Any]:
    rows = []
    if len(results.states) > 1:
        rows = [_state(results, state) for state in results.states]
    return {
        "id": "states",
        "title": "Ways the site is run",
        "note": "Neutral and metal are joined once for every live system, in every way the site "
        "is run: none is worse than two. Faults from line to metal past the first disconnect.",
        "head": ["State", "On", "Joins of neutral and metal", "Faults cleared", "Stray", "Verdict"],
        "rows": rows,
    }


def _state(results: Results, state: StateResult) -> dict[str, Any]:
    counts = [c for c in results.plan.tie_counts if c.state == state.id]
    joins = listed([f"{c.origin}: {c.count}" for c in counts]) if counts else "none counted"
    own = [f for f in state.faults if not f.supply_side]
    held = sum(f.verdict is Verdict.HOLDS for f in own)
    stray = "neutral current on metal" if state.stray.objectionable else "quiet"
    verdict = worst([c.verdict for c in counts], own)
    if state.stray.objectionable:
        verdict = Verdict.FALLS_SHORT
    return {
        "cells": [state.id, listed(state.on), joins, f"{held} of {len(own)}", stray],
        "badge": badge(verdict),
    }


def worst(verdicts: list[Verdict], faults: list[FaultResult]) -> Verdict:
    """Return the worst verdict of some counts and faults."""
    there = {*verdicts, *(f.verdict for f in faults)}
    for verdict in (Verdict.FALLS_SHORT, Verdict.CANNOT_TELL):
        if verdict in there:
            return verdict
    return Verdict.HOLDS


def _devices(results: Results) -> dict[str, Any]:
    ahead = {series.downstream: series for series in results.series}
    rows: list[dict[str, Any]] = []
    duties = results.duties
    if len(duties) > MOST_DEVICES:  # then the one with most available speaks for those alike
        duties = tuple(sorted(duties, key=lambda duty: -duty.available))
    for duty in duties:
        if duty.available < LIVE_A:
            continue
        series = ahead.get(duty.device)
        rows.append(
            {
                "cells": [
                    f"{device_rating(duty.rating)} at {duty.at}",
                    _available(duty),
                    capital(duty.judgement.because.partition("; ")[2] or duty.judgement.because),
                    "" if series is None else _opens_alone(series),
                ],
                "badge": badge(Verdict(duty.judgement.verdict)),
            }
        )
    return {
        "id": "devices",
        "title": "Protective devices",
        "note": "The most that each may have to interrupt, with the utility at the strength "
        "given and motors still running, against its interrupting rating "
        f"({counted(len(rows), 'device')}); and whether it opens without the one ahead of it. "
        "Labels of available fault current carry the date.",
        "head": ["Device", "Available", "Interrupting rating", "Opens alone", "Verdict"],
        "rows": _together(rows) if len(rows) > MOST_DEVICES else rows,
    }


def _together(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Return rows with devices alike in one, under the name of the first, and their number."""
    alike: dict[tuple[str, ...], list[dict[str, Any]]] = {}
    for each in rows:
        rating = each["cells"][0].partition(" at ")[0]
        alike.setdefault((rating, *each["cells"][2:], each["badge"]["word"]), []).append(each)
    found = []
    for those in alike.values():
        first = {**those[0], "cells": list(those[0]["cells"])}
        if len(those) > 1:
            first["cells"][0] += f" and {counted(len(those) - 1, 'other')} alike"
        found.append(first)
    return found


def _available(duty: Duty) -> str:
    share = f", {amps(duty.of_motors)} of it from motors" if duty.of_motors >= LIVE_A else ""
    return f"{amps(duty.available)} ({duty.between}{share}); peak {amps(duty.peak)}"


def _opens_alone(series: Any) -> str:
    if series.judgement is None:
        return "not known"
    if series.judgement.total:
        return "at every current"
    return f"below {amps(series.judgement.limit_a)}"
