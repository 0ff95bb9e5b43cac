"""What the report says, as text ready to be set. The PDF and the page show the same content."""

from __future__ import annotations

from datetime import date
from typing import Any

from bondwright.draw.part import LARGE
from bondwright.explain.cautions import CAUTIONS, NOT_FOR_CONSTRUCTION, SHORT
from bondwright.explain.dialect import report
from bondwright.explain.disconnection import tell_disconnection
from bondwright.explain.faults import openers, returns_by, tell_fault, times
from bondwright.explain.pv import array_note
from bondwright.explain.schedule import schedule_rows
from bondwright.explain.story import Story
from bondwright.explain.stray import NATURE_WORDS, tell_neutral_to_metal, tell_stray
from bondwright.explain.whatif import tell_added, tell_removed
from bondwright.explain.words import (
    amps,
    capital,
    counted,
    flow_name,
    listed,
    percent,
    publication,
    volts,
)
from bondwright.papers.arrays import array_row
from bondwright.papers.brief import schedule_content, shown_faults
from bondwright.papers.curves import chains
from bondwright.papers.earth import earth_content
from bondwright.papers.permit import (
    Cover,
    assumed_short,
    available_content,
    cover_facts,
    state_sheets,
)
from bondwright.papers.results import Results
from bondwright.papers.tables_more import more_tables
from bondwright.papers.wording import badge
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.families import title, unit_system
from bondwright.studies.disconnection import Disconnection
from bondwright.studies.faults import FaultKind, FaultResult
from bondwright.studies.pv import ArrayFaultResult
from bondwright.studies.stray import Nature, StrayCurrent

SUBTITLE = "Grounding and bonding: plan, proof and findings"
_MOST_STORIES = 6
_MOST_ADDED = 4


def content(results: Results, on: date, cover: Cover | None = None) -> dict[str, Any]:
    """Return the report as plain data: nested dicts and lists of text.

    Args:
        results: what was computed.
        on: date of the report.
        cover: what stands on the cover beside the results.
    """
    plan = results.plan
    rows = schedule_rows(plan)
    data = {
        "title": plan.site.site,
        "subtitle": SUBTITLE,
        "facts": cover_facts(plan, cover or Cover(), on),
        "edition": title(plan.site.rules),
        "status": NOT_FOR_CONSTRUCTION,
        "short_caution": SHORT,
        "summary": _summary(results),
        "note": plan.site.note,
        "findings": [_finding(f) for f in results.findings],
        "schedule": schedule_content(rows, brief=len(plan.site.places) > LARGE),
        "faults": _faults(results),
        "fault_note": _fault_note(results),
        "tables": more_tables(results),
        "available": available_content(results.available, plan),
        "plots_note": _plots_note(results),
        "state_sheets": state_sheets(results),
        "assumed_short": assumed_short(results.assumptions),
        "arrays": [_array(f) for f in results.arrays],
        "array_note": array_note(),
        "stories": _stories(results),
        "removed": [_story(tell_removed(r, plan)) for r in results.removed],
        "added": _added(results),
        "stray": _stray(results),
        "earth": earth_content(
            results.ground, results.earth_tests, unit_system(results.plan.site.rules)
        ),
        "assumptions": [{"where": a.where, "text": capital(a.text)} for a in results.assumptions],
        "cautions": list(CAUTIONS),
        "check": _check(results),
        "schedule_title": "Jumpers and conductors",
        "no_schedule": "No jumper or conductor is asked for.",
    }
    return report(data, plan.site)


def _summary(results: Results) -> dict[str, Any]:
    summary = results.summary
    shown = badge(Severity.DANGER if summary.danger else summary.verdict)
    return {
        **shown,
        "word": str(summary.verdict),
        "headline": summary.headline,
        "sentences": list(summary.sentences),
        "counts": [
            {
                "what": what[:-1] if number == 1 and what.endswith("s") else what,
                "number": str(number),
            }
            for what, number in summary.counts
        ],
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "badge": badge(finding.severity),
        "where": finding.where,
        "title": capital(finding.title),
        "text": finding.text,
        "cure": finding.cure,
        "clause": finding.clause,
    }


def _faults(results: Results) -> list[dict[str, Any]]:
    """Return the fault table; faults of one place that differ by the line only share a row.

    On a large site the table has those that don't hold, and the weakest that does of each kind.
    """
    rows: dict[tuple[str, ...], dict[str, Any]] = {}
    for f in shown_faults(results):
        row = _fault(f, results)
        texts = tuple(str(v) for key, v in row.items() if key != "lines")
        if texts in rows:
            rows[texts]["lines"].append(f.fault.a)
        else:
            rows[texts] = row
    for row in rows.values():
        row["fault"] = f"{', '.join(row.pop('lines'))} to {row.pop('other')}"
    return list(rows.values())


def _fault(f: FaultResult, results: Results) -> dict[str, Any]:
    other = {"G": "metal", "N": "neutral"}.get(f.fault.b, f.fault.b)
    return {
        "place": f.fault.place,
        "lines": [f.fault.a],
        "other": other,
        "amps": amps(f.current),
        "returns": returns_by(f, results.plan),
        "opens": openers(f),
        "time": times(f),
        "touch": volts(f.touch_verdict.voltage_v) if f.touch_verdict.voltage_v >= 0.5 else "–",
        "touch_word": "" if f.touch_verdict.verdict == "bearable" else "dangerous",
        "stays": volts(f.live_after) if not f.cleared and f.live_after >= 0.5 else "",
        "badge": badge(f.verdict),
    }


def _plots_note(results: Results) -> str:
    left = chains(results)[1]
    more = f" {counted(left, 'further row')} of devices are left out." if left else ""
    return (
        "Each band lies between the quickest and the slowest opening that the device's standard or "
        "its maker's curve allows. Devices in a row stand in one plot; rows alike stand once, with "
        f"the weakest fault to metal behind them. A transformer ends a row.{more}"
    )


def _fault_note(results: Results) -> str:
    sources = listed(sorted({publication(f.touch_verdict.source) for f in results.faults}))
    shown = len(shown_faults(results))
    left = (
        ""
        if shown == len(results.faults)
        else (
            f" Of {len(results.faults)} faults the {shown} that don't hold, or are the weakest of "
            "their kind, stand here; faults.csv has all of them."
        )
    )
    return (
        "Bolted faults, loads off. Time: the earliest and the latest at which the current stops. "
        "Touch volts: the highest voltage on metal to remote earth at the start of the fault, "
        f"against the limit for that time ({sources}; dry). A voltage within the limit is no "
        f"leave to touch anything.{left}"
    )


def _array(fault: ArrayFaultResult) -> dict[str, Any]:
    return {"cells": list(array_row(fault)), "badge": badge(fault.verdict)}


def _story(story: Story) -> dict[str, Any]:
    return {
        "title": story.title,
        "sentences": list(story.sentences),
        "badge": badge(story.verdict),
    }


def _stories(results: Results) -> list[dict[str, Any]]:
    """Return the fault that tells most, and then the ones that fall short, worst first."""
    telling = results.telling
    chosen = [telling] if telling is not None else []
    bad = [f for f in results.faults if f.verdict is Verdict.FALLS_SHORT and f is not telling]
    bad.sort(key=lambda f: (f.fault.kind is not FaultKind.LINE_TO_METAL, f.current))
    seen = {(f.fault.place, f.fault.kind) for f in chosen}
    for f in bad:
        if (f.fault.place, f.fault.kind) not in seen:
            seen.add((f.fault.place, f.fault.kind))
            chosen.append(f)
    told = [_story(tell_fault(f, results.plan)) for f in chosen[:_MOST_STORIES]]
    return [*told, *(_story(tell_disconnection(one)) for one in _told_of(results))]


def _told_of(results: Results) -> list[Disconnection]:
    """Return the places whose disconnection is told: that with least room, and all that fall short.

    Room is the time left; in an IT system the loop.
    """
    found = [one for one in results.disconnections if one.verdict is not Verdict.HOLDS]
    rest = [
        one
        for one in results.disconnections
        if one.verdict is Verdict.HOLDS and one.limit_ohm and one.final
    ]
    tightest = max(rest, key=lambda one: one.loop_ohm / (one.limit_ohm or 1.0), default=None)
    return [*found[:_MOST_STORIES], *([tightest] if tightest is not None else [])]


def _worst_added(results: Results) -> list[int]:
    """Return which added ties to tell, the one with most current on metal first."""

    def current(number: int) -> float:
        study = results.added[number].after
        wrong = [c.flow.amperes for c in study.currents if c.nature is Nature.OBJECTIONABLE]
        return max(wrong, default=0.0)

    order = sorted(range(len(results.added)), key=lambda n: -current(n))
    return [n for n in order if current(n) > 0][:_MOST_ADDED] or order[:1]


def _added(results: Results) -> list[dict[str, Any]]:
    return [
        {
            **_story(tell_added(results.added[n], results.plan)),
            "rows": [_current(c, results) for c in results.added[n].after.currents[:8]],
        }
        for n in _worst_added(results)
    ]


def telling_addition(results: Results) -> int | None:
    """Return the number of the added tie that puts most current on metal, or None."""
    worst = _worst_added(results)
    return worst[0] if worst else None


def _stray(results: Results) -> dict[str, Any]:
    study = results.stray
    story = tell_stray(study, results.plan)
    between = tell_neutral_to_metal(study)
    return {
        **_story(story),
        "sentences": [*story.sentences, *([between] if between else [])],
        "rows": [_current(c, results) for c in study.currents],
    }


def _current(current: StrayCurrent, results: Results) -> dict[str, Any]:
    name = flow_name(results.plan, current.flow).removeprefix("the ")
    return {
        "what": capital(name),
        "amps": amps(current.flow.amperes),
        "share": percent(current.share),
        "nature": capital(NATURE_WORDS[current.nature]),
        "cause": "; ".join(current.causes) or "–",
        "badge": badge(
            Verdict.FALLS_SHORT if current.nature is Nature.OBJECTIONABLE else Verdict.HOLDS
        ),
    }


def _check(results: Results) -> list[str]:
    worst = results.residuals
    circuit = results.quiet.circuit
    parts = sum(len(s.names) for s in circuit.sections)
    return [
        f"The circuit has {counted(len(circuit.nodes()), 'point')} and "
        f"{counted(parts, 'conductor')}. {counted(len(results.faults), 'fault')} and "
        f"{counted(1 + len(results.added), 'case')} of normal use were solved.",
        f"Currents at every point add up to zero within {worst.kirchhoff:.1e} of the largest "
        f"current; the power given and taken agree within {worst.power:.1e}.",
        "The file netlist.cir holds the very circuit that was solved for normal use, in the input "
        "language of SPICE. Run it in batch mode with any simulator that reads it, and compare. "
        "For a fault, join the two points named in the comment lines with a source of 0 V and "
        "take the loads out.",
        "The file results.json holds every number behind this report.",
    ]
