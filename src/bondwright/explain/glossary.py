"""Words of the trade in the reader's dialect, and what they mean in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

from rapidfuzz import process

from bondwright.catalog._data import load_yaml


class Dialect(StrEnum):
    """Whose words."""

    US = "us"
    IEC = "iec"
    AU = "au"

    @property
    def readers(self) -> str:
        """Who speaks it."""
        return {
            Dialect.US: "United States",
            Dialect.IEC: "United Kingdom and IEC countries",
            Dialect.AU: "Australia and New Zealand",
        }[self]


@dataclass(frozen=True, slots=True)
class Term:
    """One thing of the trade.

    Attributes:
        id: permanent id.
        words: what each dialect calls it; None where it has no such thing.
        also: further words for it.
        meaning: in plain words.
    """

    id: str
    words: Mapping[Dialect, str | None]
    also: tuple[str, ...]
    meaning: str

    def word(self, dialect: Dialect) -> str:
        """Return what a dialect calls it, or, where it has no such thing, what the others do."""
        said = self.words[dialect]
        return said if said is not None else next(w for w in self.words.values() if w is not None)


class UnknownTermError(ValueError):
    """A word that isn't in the glossary. ``near`` has the nearest ones."""

    def __init__(self, word: str, near: tuple[str, ...]) -> None:
        self.word = word
        self.near = near
        hint = f"; nearest are {', '.join(repr(other) for other in near)}" if near else ""
        super().__init__(f"{word!r} is not in the glossary{hint}")


@cache
def terms() -> Mapping[str, Term]:
    """Return every term by its id, in the order of the data."""
    text = files("bondwright.explain").joinpath("data", "glossary.yaml").read_text(encoding="utf-8")
    raw: dict[str, dict[str, Any]] = load_yaml(text)["terms"]
    return MappingProxyType({name: _term(name, entry) for name, entry in raw.items()})


def _term(name: str, entry: Mapping[str, Any]) -> Term:
    us = entry["us"]
    iec = entry.get("iec", us)
    said = {Dialect.US: us, Dialect.IEC: iec, Dialect.AU: entry.get("au", iec)}
    words = {dialect: None if word == "none" else str(word) for dialect, word in said.items()}
    return Term(
        name,
        MappingProxyType(words),
        tuple(str(word) for word in entry.get("also", ())),
        entry["meaning"],
    )


def glossary(dialect: Dialect = Dialect.US) -> tuple[tuple[str, Term], ...]:
    """Return every term under the word of a dialect, in alphabetical order.

    Args:
        dialect: the reader's.
    """
    named = ((term.word(dialect), term) for term in terms().values())
    return tuple(sorted(named, key=lambda pair: pair[0].casefold()))


@cache
def _index() -> Mapping[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    for term in terms().values():
        words = (*(w for w in term.words.values() if w is not None), *term.also, term.id)
        for word in dict.fromkeys(word.casefold() for word in words):
            found.setdefault(word, []).append(term.id)
    return MappingProxyType({word: tuple(ids) for word, ids in found.items()})


def look_up(word: str) -> tuple[Term, ...]:
    """Return what a word of any dialect may mean, mostly one thing.

    Args:
        word: as somebody says it, in any case of letters.

    Raises:
        UnknownTermError: it isn't in the glossary; ``near`` has the nearest words.
    """
    wanted = " ".join(word.split()).casefold()
    ids = _index().get(wanted)
    if ids is not None:
        return tuple(terms()[id] for id in ids)
    near = process.extract(wanted, list(_index()), limit=3, score_cutoff=60)
    raise UnknownTermError(word, tuple(match[0] for match in near))
