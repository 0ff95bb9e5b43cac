"""The inspection checklist: what only eyes, hands, a record or a maker's sheet can tell.

The lines are data (``data/checklist.yaml``). Which of them a site needs follows from its plan;
what a description can't say (is there a pool?) is asked first, and its lines join once it is
answered.

Nothing here tells anyone to work on live parts. A line about an electrode conductor, a neutral,
a bond or a pipe is preceded by the danger of opening it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.catalog.parameters import EDITIONS, in_force
from bondwright.catalog.sources import Status
from bondwright.rules.editions import edition
from bondwright.rules.plan_view import Planned
from bondwright.rules.walk import Spot, walk
from bondwright.site.amendments import overrides
from bondwright.site.model import AreaKind, Site


class Feature(StrEnum):
    """What a site may have that its description need not say."""

    POOL = "pool"
    LIVESTOCK = "livestock"
    MARINA = "marina"
    HEALTH_CARE = "health care"
    ISOLATED_GROUND = "isolated ground"
    LIGHTNING = "lightning protection"
    COMMUNICATIONS = "communications"
    ARRAY = "array"
    TENANTS = "tenants"
    HAZARDOUS = "hazardous"
    SPECIAL = "special equipment"


STAGES: Final = (
    "before the pour",
    "before covering",
    "rough-in",
    "final",
    "records",
    "any",
)
"""When a line can be looked at."""


@dataclass(frozen=True, slots=True)
class ChecklistItem:
    """A line as it stands in the data, before a plan fills it.

    Attributes:
        id: permanent id.
        title: a few words.
        about: kind of spot, one of :data:`bondwright.rules.walk.KINDS`.
        needs: facts that must hold; each entry holds if any of its alternatives does.
        unless: facts that must not hold.
        care: the cautions that come first, as full sentences.
        stage: one of :data:`STAGES`.
        decides: who has the last word.
        clauses: clause by year; an edition without the rule is left out.
        status: how sure the clause and any number of a standard in it are.
        look: what to look at, with blanks.
        right: what is right, with blanks.
        why: one sentence for an apprentice.
    """

    id: str
    title: str
    about: str
    needs: tuple[frozenset[str], ...]
    unless: frozenset[str]
    care: tuple[str, ...]
    stage: str
    decides: str
    clauses: Mapping[int, str]
    status: Status
    look: str
    right: str
    why: str


@dataclass(frozen=True, slots=True)
class ChecklistLine:
    """A line of the checklist of one plan.

    Attributes:
        id: permanent id of the line.
        where: id of the place, run, tie, electrode or metal, or "site".
        place: where a person stands for it, or "site".
        title: a few words.
        cautions: to be read before anything is looked at; empty where nothing can hurt.
        stage: when it can be looked at.
        look: what to look at.
        right: what is right.
        why: one sentence for an apprentice.
        decides: who has the last word.
        clause: where the code says so, e.g. ``"NEC 2023 250.64(C)"``.
        status: how sure the clause is.
    """

    id: str
    where: str
    place: str
    title: str
    cautions: tuple[str, ...]
    stage: str
    look: str
    right: str
    why: str
    decides: str
    clause: str
    status: str


def checklist(
    plan: Planned, features: Mapping[Feature, bool] = MappingProxyType({})
) -> tuple[ChecklistLine, ...]:
    """Return the lines that apply to a plan, in walking order.

    Args:
        plan: a plan, such as :func:`bondwright.plan.build.plan` returns.
        features: what the site has and hasn't beside what is described. What neither names is
            asked by a line.

    Returns:
        The lines about the whole site first, then place by place from each source outward. None
        for rules other than the NEC: the lines are of its clauses.
    """
    if not plan.site.rules.startswith("nec-"):
        return ()
    year = edition(plan.site.rules)
    lines: list[ChecklistLine] = []
    known = {**described_features(plan.site), **features}
    with in_force(overrides(plan.site)):
        spots = tuple(walk(plan))
    for spot in spots:
        seen = _with_features(spot, known) if spot.kind == "site" else spot
        lines += [
            _line(item, seen, year)
            for item in items().values()
            if year in item.clauses and _applies(item, seen)
        ]
    return tuple(lines)


_AREAS: Final = MappingProxyType(
    {
        AreaKind.POOL: Feature.POOL,
        AreaKind.LIVESTOCK: Feature.LIVESTOCK,
        AreaKind.MARINA: Feature.MARINA,
        AreaKind.PATIENT_CARE: Feature.HEALTH_CARE,
    }
)


_SPECIAL: Final = frozenset(
    {
        AreaKind.POND,
        AreaKind.TUB,
        AreaKind.MOBILE_HOME,
        AreaKind.VEHICLE_PITCH,
        AreaKind.SIGN,
        AreaKind.CRANE,
        AreaKind.LIFT,
        AreaKind.SOUND,
        AreaKind.COMPUTERS,
        AreaKind.WIND_TURBINE,
    }
)


def described_features(site: Site) -> Mapping[Feature, bool]:
    """Return what the description shows the site to have; what it leaves open is not named."""
    found = {_AREAS[area.kind] for area in site.areas.values() if area.kind in _AREAS}
    if any(area.kind in _SPECIAL for area in site.areas.values()):
        found.add(Feature.SPECIAL)
    if site.arrays:
        found.add(Feature.ARRAY)
    if any(electrode.lightning for electrode in site.electrodes.values()):
        found.add(Feature.LIGHTNING)
    if any(metal.isolated for metal in site.metal.values()):
        found.add(Feature.TENANTS)
    return dict.fromkeys(sorted(found), True)


def _with_features(spot: Spot, features: Mapping[Feature, bool]) -> Spot:
    said = {
        feature.value if features.get(feature) else f"{feature.value}?"
        for feature in Feature
        if features.get(feature) is not False
    }
    return replace(spot, facts=spot.facts | said)


def _applies(item: ChecklistItem, spot: Spot) -> bool:
    return (
        item.about == spot.kind
        and all(any_of & spot.facts for any_of in item.needs)
        and not item.unless & spot.facts
    )


def _line(item: ChecklistItem, spot: Spot, year: int) -> ChecklistLine:
    return ChecklistLine(
        id=item.id,
        where=spot.id,
        place=spot.place,
        title=item.title,
        cautions=item.care,
        stage=item.stage,
        look=_filled(item.look, spot),
        right=_filled(item.right, spot),
        why=item.why,
        decides=item.decides,
        clause=f"NEC {year} {item.clauses[year]}",
        status=item.status.value,
    )


_BLANK: Final = re.compile(r"\{(\w+)\}")


def _filled(text: str, spot: Spot) -> str:
    """Fill the blanks; a label with braces in it is left as it is."""
    filled = _BLANK.sub(lambda blank: spot.words[blank[1]], text)
    return filled[:1].upper() + filled[1:]


@cache
def items() -> Mapping[str, ChecklistItem]:
    """Return every line of the data by its id, in order."""
    text = files("bondwright.rules").joinpath("data", "checklist.yaml").read_text(encoding="utf-8")
    raw: dict[str, Any] = load_yaml(text)
    cautions: dict[str, str] = raw["cautions"]
    return MappingProxyType(
        {name: _item(name, entry, cautions) for name, entry in raw["lines"].items()}
    )


def _item(name: str, entry: Mapping[str, Any], cautions: Mapping[str, str]) -> ChecklistItem:
    clause = entry["clause"]
    by_year = clause if isinstance(clause, dict) else dict.fromkeys(EDITIONS, clause)
    wanted = entry.get("care", ())
    return ChecklistItem(
        id=name,
        title=entry["title"],
        about=entry["about"],
        needs=tuple(frozenset(need.split(" or ")) for need in entry.get("if", ())),
        unless=frozenset(entry.get("unless", ())),
        # In the order of the file, so that the danger of opening always comes first.
        care=tuple(text for word, text in cautions.items() if word in wanted),
        stage=entry["stage"],
        decides=entry["decides"],
        clauses=MappingProxyType({int(year): str(text) for year, text in by_year.items()}),
        status=Status(entry["status"]),
        look=entry["look"],
        right=entry["right"],
        why=entry["why"],
    )
