"""Which clauses of IEC 60364-4-41 and 60364-5-54 the tool knows of, and how each is handled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from bondwright.catalog._data import load_yaml
from bondwright.rules.coverage import Handling


@dataclass(frozen=True, slots=True)
class IecClause:
    """One line of the coverage.

    Attributes:
        number: part and clause, such as ``"4-41 411.5.3"``.
        title: what it is about, in our own words.
        handling: how it is handled.
        rules: ids of the rules that do.
        note: what is left out, or why.
    """

    number: str
    title: str
    handling: Handling
    rules: tuple[str, ...]
    note: str


@cache
def clauses() -> Mapping[str, IecClause]:
    """Return every line of the coverage by its clause, in the order of the standard."""
    text = files("bondwright.rules.iec").joinpath("data", "clauses.yaml").read_text("utf-8")
    raw: dict[str, dict[str, Any]] = load_yaml(text)
    return MappingProxyType(
        {
            number: IecClause(
                number,
                line["title"],
                Handling(line["handled"]),
                tuple(line.get("rules", ())),
                line.get("note", ""),
            )
            for number, line in raw.items()
        }
    )
