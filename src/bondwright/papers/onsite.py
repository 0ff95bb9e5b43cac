"""The installation checklist: what is put in at each place, and what is looked at there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from bondwright.draw.part import LARGE
from bondwright.explain.dialect import report
from bondwright.explain.schedule import ScheduleRow, schedule_rows
from bondwright.explain.words import capital
from bondwright.papers.permit import Cover, cover_facts
from bondwright.papers.tables import table
from bondwright.plan.model import Plan
from bondwright.rules.checklist import ChecklistLine, checklist
from bondwright.rules.families import title

SITE: Final = "site"
"""Where a line stands that is about no single place."""
CAUTION: Final = (
    "Supply off, locked out, proved dead before a cover comes off. Open no electrode conductor, "
    "neutral, jumper or pipe that may carry current."
)


@dataclass(frozen=True, slots=True)
class Stop:
    """A place on the walk.

    Attributes:
        place: its label, or :data:`SITE`.
        install: rows of the schedule that begin there.
        look: lines of the inspection checklist.
    """

    place: str
    install: tuple[ScheduleRow, ...]
    look: tuple[ChecklistLine, ...]

    @property
    def cautions(self) -> tuple[str, ...]:
        """To be read before anything there is touched, each once."""
        return tuple(dict.fromkeys(c for line in self.look for c in line.cautions))


def stops(plan: Plan) -> tuple[Stop, ...]:
    """Return the places in walking order, the site as a whole first."""
    install: dict[str, list[ScheduleRow]] = {}
    for row in schedule_rows(plan):
        install.setdefault(row.from_, []).append(row)
    look: dict[str, list[ChecklistLine]] = {}
    for line in checklist(plan):
        look.setdefault(line.place, []).append(line)
    order = dict.fromkeys((SITE, *plan.topology.order, *install, *look))
    return tuple(
        Stop(place, tuple(install.get(place, ())), tuple(look.get(place, ())))
        for place in order
        if place in install or place in look
    )


def checklist_csv(found: Sequence[Stop]) -> str:
    """Write the checklist as CSV, one line for each thing to do or to look at."""
    head = (
        "place", "do", "what", "size", "stage", "right", "clause", "cautions",
        "done", "torque", "by", "date", "id",
    )  # fmt: skip
    return table(head, _lines(found))


def _lines(found: Sequence[Stop]) -> Iterator[tuple[str, ...]]:
    for stop in found:
        for row in stop.install:
            yield (
                stop.place, "install", f"{row.short}: {row.from_} to {row.to}", row.chosen, "",
                row.remark, row.clause, "", "", "", "", "", row.id,
            )  # fmt: skip
        for line in stop.look:
            yield (
                stop.place, "look", line.look, "", line.stage, line.right, line.clause,
                " ".join(line.cautions), "", "", "", "", f"{line.id} {line.where}",
            )  # fmt: skip


def checklist_content(plan: Plan, found: Sequence[Stop], on: date, cover: Cover) -> dict[str, Any]:
    """Return the checklist as plain data for its paper.

    On a large site a line to look at is a few words; checklist.csv has it in full.
    """
    brief = len(plan.site.places) > LARGE
    data: dict[str, Any] = {
        "title": plan.site.site,
        "subtitle": "Installation checklist, in walking order",
        "edition": title(plan.site.rules),
        "facts": cover_facts(plan, cover, on),
        "caution": CAUTION,
        "brief": brief,
        "brief_note": "What each line asks in full stands in checklist.csv." if brief else "",
        "install_title": "Put in",
        "look_title": "Look at",
        "install_head": ["", "For", "From → to", "Size", "How it is made; maker's torque", "By"],
        "look_head": ["", "What", "Right is", "When", "Clause"],
        "site_title": "The whole site",
        "more_places": "and others alike",
        "stops": _together(found) if brief else [_stop(stop, brief) for stop in found],
    }
    return report(data, plan.site)


def _together(found: Sequence[Stop]) -> list[dict[str, Any]]:
    """Return the stops of a large site, those where the same is looked at in one.

    A stop where something is put in stands by itself; the order is that of the walk to the first.
    """
    rows: dict[object, tuple[Stop, list[str]]] = {}
    for stop in found:
        what = tuple((line.id, line.clause) for line in stop.look)
        key: object = stop.place if stop.install or stop.place == SITE else what
        rows.setdefault(key, (stop, []))[1].append(stop.place)
    return [
        {**_stop(stop, brief=True), "places": places if len(places) > 1 else []}
        for stop, places in rows.values()
    ]


def _stop(stop: Stop, brief: bool) -> dict[str, Any]:
    return {
        "place": stop.place,
        "whole": stop.place == SITE,
        "places": [],
        "cautions": list(stop.cautions),
        "install": [[row.short, f"{row.from_} → {row.to}", row.chosen] for row in stop.install],
        "look": [
            [capital(line.title), line.clause]
            if brief
            else [capital(line.title), line.look, line.right, line.stage, line.clause]
            for line in stop.look
        ],
        "remarks": [capital(row.remark) for row in stop.install if row.remark and not brief],
    }
