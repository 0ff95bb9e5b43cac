"""One text, told in the words of whoever reads it.

Explanations are written once, in the words of the NEC. Where a site is judged by IEC 60364 they are
told in its words (``data/dialects.yaml``): earth for ground, protective conductor for equipment
grounding conductor. Only phrases that mean one thing are changed; a person's own labels hardly ever
have them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cache, partial
from importlib.resources import files
from typing import Any, Final, TypeVar

from bondwright.catalog._data import load_yaml
from bondwright.explain.story import Story
from bondwright.plan.model import Assumption, Purpose
from bondwright.rules.answer import Finding
from bondwright.rules.families import earthing_of
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.family import DIALECT
from bondwright.rules.iec.ruleset import is_iec
from bondwright.site.model import Site

Say = Callable[[str], str]
"""Turns a text into the reader's words."""

OWN_WORDS: Final = frozenset({"title", "note", "site"})
"""Keys at the top of a report that hold a person's own words."""

_T = TypeVar("_T")


@cache
def _data() -> Mapping[str, Mapping[str, str]]:
    text = files("bondwright.explain").joinpath("data", "dialects.yaml").read_text(encoding="utf-8")
    loaded: dict[str, dict[str, str]] = load_yaml(text)
    return loaded


@cache
def _pattern(groups: tuple[str, ...]) -> tuple[re.Pattern[str], Mapping[str, str]]:
    phrases: dict[str, str] = {}
    for group in groups:
        phrases |= {phrase.casefold(): said for phrase, said in _data()[group].items()}
    longest = sorted(phrases, key=len, reverse=True)
    words = "|".join(re.escape(phrase) for phrase in longest)
    return re.compile(rf"(?<![\w-])(?:(an?)(\s+))?({words})(?!\w)", re.IGNORECASE), phrases


def _spoken(groups: tuple[str, ...], text: str) -> str:
    pattern, phrases = _pattern(groups)

    def change(match: re.Match[str]) -> str:
        article, space, found = match[1], match[2], match[3]
        said = phrases[found.casefold()]
        if article is not None:
            right = "an" if said[:1].lower() in "aeiou" else "a"
            return f"{right.capitalize() if article[0].isupper() else right}{space}{said}"
        return said[:1].upper() + said[1:] if found[:1].isupper() else said

    return pattern.sub(change, text)


def speaker(site: Site) -> Say:
    """Return what tells a text in the words of a site's readers."""
    if not is_iec(site.rules):
        return str
    groups = ["iec"]
    match earthing_of(site):
        case Earthing.TT:
            groups.insert(0, "tt")
        case Earthing.IT:
            groups.insert(0, "it")
    return partial(_spoken, tuple(groups))


def retold(value: _T, say: Say) -> _T:
    """Return findings, stories, assumptions or plain data with every text in it retold.

    Args:
        value: what is to be told; dicts keep their keys.
        say: from :func:`speaker`.
    """
    told: Any = value
    if say is str:
        return value
    match told:
        case Finding():
            told = replace(told, title=say(told.title), text=say(told.text), cure=say(told.cure))
        case Story():
            sentences = tuple(say(one) for one in told.sentences)
            told = replace(told, title=say(told.title), sentences=sentences)
        case Assumption():
            told = replace(told, text=say(told.text))
        case str():
            told = say(told) if type(told) is str else told
        case tuple():
            told = tuple(retold(one, say) for one in told)
        case list():
            told = [retold(one, say) for one in told]
        case dict():
            told = {key: retold(one, say) for key, one in told.items()}
        case _:
            pass
    result: _T = told
    return result


def report(data: Mapping[str, Any], site: Site) -> dict[str, Any]:
    """Return a report's data in its readers' words; what a person wrote stays as it is.

    Args:
        data: plain data, by section.
        site: whose report it is.
    """
    say = speaker(site)
    return {key: one if key in OWN_WORDS else retold(one, say) for key, one in data.items()}


def purpose_word(purpose: Purpose, rules: str) -> str:
    """Return what readers of a rule set call a kind of conductor."""
    return DIALECT[purpose.value] if is_iec(rules) else purpose.value


def purpose_short(purpose: Purpose, rules: str) -> str:
    """Return the abbreviation of a kind of conductor on drawings and in tables."""
    return _data()["short"][purpose.value] if is_iec(rules) else purpose.short


def purpose_why(purpose: Purpose) -> str:
    """Return what a kind of conductor is for, in the words of IEC 60364."""
    return _data()["why"][purpose.value]


def listed_words(texts: Sequence[str], site: Site) -> tuple[str, ...]:
    """Return texts in the words of a site's readers."""
    say = speaker(site)
    return tuple(say(text) for text in texts)
