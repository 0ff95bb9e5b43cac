"""Test sheets as a paper: what to measure at each place, with room for the reading and a name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from bondwright.draw.part import LARGE
from bondwright.explain.dialect import report
from bondwright.explain.test_sheet import CAUTION, limit_words, quantity, rows
from bondwright.explain.words import capital
from bondwright.papers.permit import Cover, cover_facts
from bondwright.papers.results import Results
from bondwright.rules.families import title
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.measuring import MeasuringPoint, measuring_points


def points(results: Results) -> tuple[MeasuringPoint, ...]:
    """Return everything to measure on a site, from the faults and the normal use of its results."""
    to_metal = tuple(f for f in results.faults if f.fault.kind is FaultKind.LINE_TO_METAL)
    return measuring_points(results.plan, to_metal, results.stray)


def tests_table(results: Results, found: Sequence[MeasuringPoint]) -> list[list[str]]:
    """Return the sheet as a table to fill in, which ``bondwright testing judge`` reads back."""
    return rows(results.plan.site.site, found)


def tests_content(
    results: Results, found: Sequence[MeasuringPoint], on: date, cover: Cover
) -> dict[str, Any]:
    """Return the sheets as plain data for their paper."""
    site = results.plan.site
    brief = len(site.places) > LARGE
    data: dict[str, Any] = {
        "title": site.site,
        "subtitle": "Test sheets",
        "edition": title(site.rules),
        "facts": cover_facts(results.plan, cover, on),
        "caution": CAUTION,
        "note": "Expected: what the circuit of the description gives. Limit: with its source. A "
        "reading within the limit that isn't near what is expected is a joint to look at. The "
        "numbers are those of the sheet for a computer, which is read back and judged.",
        "head": ["No", "Measure", "Between", "State", "With", "Expected", "Limit", "Reading", ""],
        "instruments": "Instruments, serial numbers, date of calibration",
        "brief": brief,
        "kinds_head": ["Measure", "State", "With", "Limit from"],
        "kinds": _kinds(found) if brief else [],
        "places": list(_places(found)),
    }
    return report(data, site)


def _kinds(found: Sequence[MeasuringPoint]) -> list[list[str]]:
    """Return how each thing is measured, once for all places of a large site."""
    rows = {
        (capital(p.what.value), p.state, p.instrument, p.source if "opens for sure" not in p.source
         else "the device ahead, see the table for a computer")
        for p in found
    }  # fmt: skip
    return [list(row) for row in sorted(rows)]


def _places(found: Sequence[MeasuringPoint]) -> Iterator[dict[str, Any]]:
    place = ""
    collected: list[list[str]] = []
    for number, p in enumerate(found, 1):
        if p.place != place:
            if collected:
                yield {"place": place, "rows": collected}
            place, collected = p.place, []
        limit = limit_words(p)
        collected.append(
            [
                str(number),
                capital(p.what.value),
                p.between,
                p.state,
                p.instrument,
                quantity(p.expected, p.unit) or "–",
                limit or "–",
                p.source,
                p.unit.value,
            ]
        )
    if collected:
        yield {"place": place, "rows": collected}
