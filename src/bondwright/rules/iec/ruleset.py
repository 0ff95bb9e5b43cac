"""Rule sets of the family by name, and where each says what (``data/rules.yaml``)."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.catalog.iec_tables import Entry, iec_number
from bondwright.catalog.sources import Status
from bondwright.rules.editions import UnknownRulesError


@dataclass(frozen=True, slots=True)
class RuleSet:
    """One rule set of the family.

    Attributes:
        name: as a site file has it.
        key: column of the clauses, "iec", "bs" or "as".
        standard: what a clause begins with.
        joined: whether the part of IEC 60364 follows the standard without a space.
    """

    name: str
    key: str
    standard: str
    joined: bool = False

    @property
    def cmin(self) -> Entry:
        """Factor on the nominal voltage for the least voltage in service."""
        return iec_number("cmin", self.key)


RULE_SETS: Final = MappingProxyType(
    {
        known.name: known
        for known in (
            RuleSet("iec-60364-2017", "iec", "IEC 60364-", joined=True),
            RuleSet("bs-7671-2018", "bs", "BS 7671"),
            RuleSet("as-nzs-3000-2018", "as", "AS/NZS 3000"),
        )
    }
)
"""Every rule set of the family, by name."""
DEFAULT_RULES: Final = "iec-60364-2017"


class UnknownFamilyRulesError(UnknownRulesError):
    """A rule set that isn't one of this family. ``hint`` names what would be right."""

    def __init__(self, name: str) -> None:
        self.name = name
        close = difflib.get_close_matches(name, RULE_SETS, n=1, cutoff=0.4)
        known = ", ".join(RULE_SETS)
        self.hint = f"did you mean {close[0]!r}?" if close else f"known are {known}"
        ValueError.__init__(self, f"{name!r} is no rule set of IEC 60364 known here; {self.hint}")


@dataclass(frozen=True, slots=True)
class IecRule:
    """One rule of the family.

    Attributes:
        id: permanent id, such as ``"iec-main-bonding"``.
        title: what it is about, in a few words.
        status: how well it is confirmed.
        clauses: clause by key of the rule set; a set that has none of its own is left out.
    """

    id: str
    title: str
    status: Status
    clauses: Mapping[str, str]


def rule_set(rules: str) -> RuleSet:
    """Return a rule set by name.

    Raises:
        UnknownFamilyRulesError: no such rule set in this family.
    """
    try:
        return RULE_SETS[rules]
    except KeyError:
        raise UnknownFamilyRulesError(rules) from None


def is_iec(rules: str) -> bool:
    """Whether a rule set belongs to this family."""
    return rules in RULE_SETS


@cache
def catalogue() -> Mapping[str, IecRule]:
    """Return every rule of the family by its id."""
    text = files("bondwright.rules.iec").joinpath("data", "rules.yaml").read_text(encoding="utf-8")
    raw: dict[str, dict[str, Any]] = load_yaml(text)
    return MappingProxyType(
        {
            name: IecRule(
                name,
                entry["title"],
                Status(entry["status"]),
                MappingProxyType({key: str(said) for key, said in entry["clause"].items()}),
            )
            for name, entry in raw.items()
        }
    )


def clause(rule: str, rules: str = DEFAULT_RULES) -> str:
    """Return where the rules say so, e.g. ``"IEC 60364-5-54 543.1"``.

    Args:
        rule: id of the rule.
        rules: name of the rule set.

    Returns:
        The clause; that of IEC 60364 where a national set has none here; "" for a fact of physics.

    Raises:
        UnknownFamilyRulesError: no such rule set.
        KeyError: no such rule.
    """
    chosen, clauses = rule_set(rules), catalogue()[rule].clauses
    if chosen.key not in clauses:
        chosen = RULE_SETS[DEFAULT_RULES]
    if chosen.key not in clauses:
        return ""
    return f"{chosen.standard}{'' if chosen.joined else ' '}{clauses[chosen.key]}"
