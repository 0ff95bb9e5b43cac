"""Labels to print: what has to be readable on the equipment itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.explain.dialect import report
from bondwright.explain.words import amps, listed
from bondwright.papers.results import Results
from bondwright.papers.sizes import points
from bondwright.papers.tables import table
from bondwright.plan.model import Plan, Purpose
from bondwright.rules.families import title
from bondwright.rules.iec.ruleset import is_iec
from bondwright.rules.other_systems import fault_current_marks
from bondwright.rules.ties import service_disconnects
from bondwright.site.model import PlaceKind

USUAL_STOCK: Final = "letter-10"
_BOARDS: Final = frozenset({PlaceKind.SERVICE, PlaceKind.PANEL, PlaceKind.DISCONNECT})
_VERIFY: Final = "Verify on site before it is posted."


@dataclass(frozen=True, slots=True)
class Label:
    """One label.

    Attributes:
        kind: what sort of label it is; the same words for all of a sort.
        at: the place it goes on.
        head: a few words in the bar.
        lines: what it says.
        basis: why it is there, or the clause.
        alarm: whether it warns of a danger.
    """

    kind: str
    at: str
    head: str
    lines: tuple[str, ...]
    basis: str
    alarm: bool = False


@cache
def stocks() -> dict[str, dict[str, Any]]:
    """Return the sizes of label stock by name, lengths in pt."""
    text = files("bondwright.papers").joinpath("data", "labels.yaml").read_text(encoding="utf-8")
    raw: dict[str, dict[str, Any]] = load_yaml(text)["stock"]
    return {
        name: {
            key: [points(v) for v in value]
            if isinstance(value, list)
            else (points(value) if isinstance(value, str) else value)
            for key, value in one.items()
        }
        for name, one in raw.items()
    }


def labels(results: Results, on: date) -> tuple[Label, ...]:
    """Return every label of a site, place by place in walking order.

    Args:
        results: what was computed.
        on: the date that goes beside a computed current.
    """
    plan = results.plan
    found = [
        *_available(results, on),
        *_ties(plan),
        *_derived(plan),
        *_sources(plan),
        *_intersystem(plan),
        *_electrodes(plan),
    ]
    order = {name: k for k, name in enumerate(plan.topology.order)}
    return tuple(sorted(found, key=lambda one: order.get(one.at, len(order))))


def _available(results: Results, on: date) -> Iterator[Label]:
    plan = results.plan
    iec = is_iec(plan.site.rules)
    due = set() if iec else set(fault_current_marks(plan.topology))
    for one in results.available:
        place = plan.site.places.get(one.place)
        board = place is not None and place.kind in _BOARDS
        if not board and one.place not in due:
            continue
        yield Label(
            "available fault current",
            one.place,
            "Available fault current",
            (
                amps(one.available.current),
                f"symmetrical r.m.s., {one.available.between}",
                one.place + (f", {one.state}" if one.state else ""),
                f"Calculated {on.isoformat()}. New when the supply or the site changes.",
            ),
            "NEC 110.24" if one.place in due else "for whoever chooses the next device",
        )


def _ties(plan: Plan) -> Iterator[Label]:
    tree = plan.topology
    enclosures = {i.about for i in plan.schedule if i.purpose is Purpose.NEUTRAL_BOND}
    for tie in plan.ties:
        if not tie.belongs or tie.id in enclosures:
            continue
        what = f"line {tie.line}" if tie.line else "the neutral"
        yield Label(
            "tie location",
            tie.at,
            "Neutral and ground are joined here" if not tie.line else "Grounded line joined here",
            (
                f"The one join of {what} and metal of this system: {tie.id}.",
                "Join them nowhere else on its load side.",
                "Danger: do not open it, or any conductor to it, with the supply on.",
            ),
            "so that nobody adds a second one, or takes the only one out",
            alarm=True,
        )
        for name in tree.first_disconnects.get(tie.at, ()):
            if name != tie.at:
                yield Label(
                    "tie elsewhere",
                    name,
                    "Neutral and ground stay apart here",
                    (f"They are joined at {tie.at}.", "No bonding screw or strap in this panel."),
                    "the join of this system is at its source",
                )


def _derived(plan: Plan) -> Iterator[Label]:
    tree, site = plan.topology, plan.site
    for name in site.transformers:
        system = tree.systems.get(name)
        if system is None or system.origin != name or not system.derived:
            continue
        fed = tree.fed_by.get(name)
        ties = [tie.at for tie in plan.ties if tree.systems.get(tie.at) is system]
        electrodes = [
            item.to
            for item in plan.schedule
            if item.purpose is Purpose.ELECTRODE_CONDUCTOR and item.from_ == name
        ]
        feeds = [r.to for r in plan.runs.values() if r.from_ == name]
        yield Label(
            "separately derived system",
            name,
            "Separately derived system",
            (
                f"{system.voltages}, made by {name}",
                f"Fed from {plan.runs[fed].from_}." if fed else "",
                f"Feeds {listed(feeds)}." if feeds else "",
                f"Neutral and ground joined at {listed(sorted(set(ties)))}." if ties else "",
                f"Electrode conductor to {listed(electrodes)}." if electrodes else "",
            ),
            "NEC 250.30" if not is_iec(site.rules) else "",
        )


def _sources(plan: Plan) -> Iterator[Label]:
    site, tree = plan.site, plan.topology
    others = [
        *(f"{n} (generator{_where(one.building)})" for n, one in site.generators.items()),
        *(f"{n} ({_inverter(plan, n)}{_where(one.building)})" for n, one in site.inverters.items()),
    ]
    if others:
        for origin in site.sources:
            for name in service_disconnects(tree, origin) if not is_iec(site.rules) else (origin,):
                yield Label(
                    "sources",
                    name,
                    "More than one source of power",
                    (
                        f"Utility {origin}, and: {listed(others)}.",
                        "All of them off and proved dead before work.",
                    ),
                    "directory of sources, NEC 705.10 (from memory)",
                    alarm=True,
                )
    tied = {tie.at for tie in plan.ties if tie.belongs}
    for name in site.generators:
        joined = name in tied
        yield Label(
            "generator",
            name,
            "Generator",
            (
                "Its neutral is joined to its frame here."
                if joined
                else "Its neutral is NOT joined to its frame.",
                "Join it as the plan says; a second join sends neutral current over metal."
                if joined
                else "The join is at the service. Put none in at the generator.",
                _VERIFY,
            ),
            "so that a change of the set or of the switch is noticed",
        )
    for name, array in site.arrays.items():
        yield Label(
            "array",
            array.at,
            "Solar array: direct current",
            (
                f"{name}: live as long as light falls on it.",
                "Switches and fuses stop the current beyond them only.",
            ),
            "",
            alarm=True,
        )


def _where(building: str | None) -> str:
    return f", {building}" if building else ""


def _inverter(plan: Plan, name: str) -> str:
    fed = any(array.at == name for array in plan.site.arrays.values())
    return "solar" if fed else "battery or other inverter"


def _intersystem(plan: Plan) -> Iterator[Label]:
    site = plan.site
    if is_iec(site.rules):
        return
    services = {n for origin in site.sources for n in service_disconnects(plan.topology, origin)}
    for name, place in site.places.items():
        said = place.intersystem
        if said == "none" or (said is None and name not in services):
            continue
        yield Label(
            "intersystem bonding termination",
            name,
            "Intersystem bonding termination",
            (
                "The grounds of telephone, cable, antenna and network join here. A rod of their "
                "own is bonded to this electrode system.",
                "" if said is not None else "Not in the description: " + _VERIFY,
            ),
            "NEC 250.94",
        )


def _electrodes(plan: Plan) -> Iterator[Label]:
    for one in plan.electrodes.values():
        if one.conductor is None:
            continue
        yield Label(
            "electrode conductor",
            one.at,
            "Grounding electrode conductor",
            (
                f"To {one.id}: {one.conductor}.",
                "Do not open or move. It may carry current; the ends can stand at full voltage.",
            ),
            "",
            alarm=True,
        )


def labels_csv(found: tuple[Label, ...]) -> str:
    """Write the labels as CSV, for a printer of its own."""
    return table(
        ("kind", "at", "head", "text", "basis"),
        [
            (one.kind, one.at, one.head, "\n".join(filter(None, one.lines)), one.basis)
            for one in found
        ],
    )


def labels_content(results: Results, found: tuple[Label, ...], stock: str) -> dict[str, Any]:
    """Return the labels as plain data for their paper.

    Raises:
        ValueError: no such stock.
    """
    if stock not in stocks():
        raise ValueError(f"no label stock {stock!r} is known; give one of {', '.join(stocks())}")
    site = results.plan.site
    data = {
        "title": site.site,
        "subtitle": "Labels",
        "edition": title(site.rules),
        "stock": stocks()[stock],
        "labels": [
            {
                "head": one.head,
                "at": one.at,
                "lines": [line for line in one.lines if line],
                "basis": one.basis,
                "alarm": one.alarm,
                "big": one.kind == "available fault current",
            }
            for one in found
        ],
    }
    return report(data, site)
