"""Rule sets by name, and where each edition says what.

Clause numbers live in ``data/rules.yaml``; numbers that a rule uses live in the catalog
(:mod:`bondwright.catalog.parameters`).
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.catalog.sources import Status

EDITIONS: Final = MappingProxyType({"nec-2017": 2017, "nec-2020": 2020, "nec-2023": 2023})
"""Year of every rule set known here, by name."""
DEFAULT_RULES: Final = "nec-2023"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of the catalogue.

    Attributes:
        id: permanent id, such as ``"main-bonding-jumper"``.
        title: what it is about, in a few words.
        status: how well it is confirmed.
        clauses: clause text by year.
    """

    id: str
    title: str
    status: Status
    clauses: Mapping[int, str]


class UnknownRulesError(ValueError):
    """A rule set that isn't known. ``hint`` names what would be right."""

    def __init__(self, name: str) -> None:
        self.name = name
        close = difflib.get_close_matches(name, EDITIONS, n=1, cutoff=0.4)
        known = ", ".join(EDITIONS)
        self.hint = f"did you mean {close[0]!r}?" if close else f"known are {known}"
        super().__init__(f"{name!r} is no rule set known here; {self.hint}")


def edition(rules: str) -> int:
    """Return the year of a rule set ("nec-2020" -> 2020).

    Raises:
        UnknownRulesError: no such rule set.
    """
    try:
        return EDITIONS[rules]
    except KeyError:
        raise UnknownRulesError(rules) from None


@cache
def catalogue() -> Mapping[str, Rule]:
    """Return every rule by its id."""
    text = files("bondwright.rules").joinpath("data", "rules.yaml").read_text(encoding="utf-8")
    raw: dict[str, dict[str, Any]] = load_yaml(text)
    return MappingProxyType({name: _rule(name, entry) for name, entry in raw.items()})


def _rule(name: str, entry: Mapping[str, Any]) -> Rule:
    clause = entry["clause"]
    by_year = clause if isinstance(clause, dict) else dict.fromkeys(EDITIONS.values(), clause)
    clauses = {int(year): str(text) for year, text in by_year.items()}
    return Rule(name, entry["title"], Status(entry["status"]), MappingProxyType(clauses))


def clause(rule: str, rules: str, text: str | None = None) -> str:
    """Return where the code says so, e.g. ``"NEC 2020 250.28(D)"``.

    Args:
        rule: id of the rule.
        rules: name of the rule set.
        text: a narrower clause than the rule's own, e.g. ``"250.66(A)"``.

    Raises:
        UnknownRulesError: no such rule set.
        KeyError: no such rule.
    """
    year = edition(rules)
    return f"NEC {year} {text or catalogue()[rule].clauses[year]}"
