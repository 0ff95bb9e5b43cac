"""Which clauses of the code the tool knows of, and how each is handled: nothing is left out.

Every section of NFPA 70 article 250 and its first subdivisions has a line in
``data/clauses.yaml``, and so has every section of another article that the tool touches. A line
that says "not yet" is the honest answer for what no rule and no checklist line covers.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from bondwright.catalog._data import load_yaml
from bondwright.catalog.parameters import EDITIONS
from bondwright.catalog.sources import Status
from bondwright.rules.editions import edition


class Handling(StrEnum):
    """How a clause is handled."""

    COMPUTED = "computed"
    CHECKED = "checked"
    ASKED = "asked"
    DEFERRED = "deferred"
    NOT_YET = "not yet"
    NOT_FOR_BUILDINGS = "not for buildings"
    NO_REQUIREMENT = "no requirement"


MEANING: Mapping[Handling, str] = MappingProxyType(
    {
        Handling.COMPUTED: "a size or a limit is worked out, with the sum shown",
        Handling.CHECKED: "the description is compared with the rule, and a finding says what "
        "differs",
        Handling.ASKED: "the description can't show it: a finding or a line of the inspection "
        "checklist says what to look at",
        Handling.DEFERRED: "named, and left to a specialist",
        Handling.NOT_YET: "nothing here covers it: look it up",
        Handling.NOT_FOR_BUILDINGS: "outside what this tool is for; the note says why",
        Handling.NO_REQUIREMENT: "a scope, a definition, a pointer or a permission: nothing "
        "to check",
    }
)
"""What each word means, for a reader."""


@dataclass(frozen=True, slots=True)
class Clause:
    """One line of the coverage.

    Attributes:
        title: what it is about, in our own words.
        part: heading it stands under.
        numbers: its number by edition; an edition without it is left out.
        handling: how it is handled by edition, the main way first.
        rules: ids of the rules that handle it.
        look: ids of the checklist lines that handle it.
        status: how sure the number is.
        note: what is missing or doubtful; empty if nothing.
    """

    title: str
    part: str
    numbers: Mapping[int, str]
    handling: Mapping[int, tuple[Handling, ...]]
    rules: tuple[str, ...]
    look: tuple[str, ...]
    status: Status
    note: str


@dataclass(frozen=True, slots=True)
class Row:
    """One clause in one edition.

    Attributes:
        number: such as ``"250.24(B)"``.
        title: what it is about.
        part: heading it stands under.
        handling: how it is handled, the main way first.
        rules: ids of the rules that handle it.
        look: ids of the checklist lines that handle it.
        status: how sure the number is.
        note: what is missing or doubtful.
    """

    number: str
    title: str
    part: str
    handling: tuple[Handling, ...]
    rules: tuple[str, ...]
    look: tuple[str, ...]
    status: Status
    note: str


@cache
def clauses() -> tuple[Clause, ...]:
    """Return every line of the coverage, in the order of the code."""
    text = files("bondwright.rules").joinpath("data", "clauses.yaml").read_text(encoding="utf-8")
    return tuple(
        _clause(part["name"], entry) for part in load_yaml(text)["parts"] for entry in part["lines"]
    )


def _clause(part: str, entry: Mapping[str, Any]) -> Clause:
    numbers = {year: str(text) for year, text in _by_year(entry["n"], EDITIONS).items()}
    handling = {
        year: tuple(Handling(way) for way in ([ways] if isinstance(ways, str) else ways))
        for year, ways in _by_year(entry["do"], tuple(numbers)).items()
    }
    return Clause(
        title=entry["title"],
        part=part,
        numbers=MappingProxyType(numbers),
        handling=MappingProxyType(handling),
        rules=tuple(entry.get("rules", ())),
        look=tuple(entry.get("look", ())),
        status=Status(entry["status"]),
        note=entry.get("note", ""),
    )


def _by_year(value: Any, years: tuple[int, ...]) -> Mapping[int, Any]:
    return value if isinstance(value, dict) else dict.fromkeys(years, value)


def coverage(rules: str) -> tuple[Row, ...]:
    """Return how every clause of an edition is handled.

    Args:
        rules: name of the rule set, such as ``"nec-2023"``.

    Raises:
        UnknownRulesError: no such rule set.
    """
    year = edition(rules)
    return tuple(
        Row(
            number=one.numbers[year],
            title=one.title,
            part=one.part,
            handling=one.handling[year],
            rules=one.rules,
            look=one.look,
            status=one.status,
            note=one.note,
        )
        for one in clauses()
        if year in one.numbers
    )


def counts(rules: str) -> Mapping[Handling, int]:
    """Return how many clauses of an edition are handled in each way, by the main way of each.

    Args:
        rules: name of the rule set.

    Raises:
        UnknownRulesError: no such rule set.
    """
    found = Counter(row.handling[0] for row in coverage(rules))
    return MappingProxyType({way: found[way] for way in Handling})


def under(number: str, above: str) -> bool:
    """Whether a clause is another one or a subdivision of it: 250.24(A)(5) is under 250.24(A)."""
    return number == above or number.startswith(f"{above}(")
