"""Papers in the language spoken: fixed words, texts, and lettering of drawings."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any, Final

from bondwright.catalog._data import load_yaml
from bondwright.explain.dialect import OWN_WORDS
from bondwright.explain.language import ENGLISH, Language, spoken

MOST_LACKING: Final = 0.25
"""Part of a paper's texts that may lack words in a language; with more it is set in English."""


@cache
def words(language: str = "en") -> Mapping[str, str]:
    """Return the fixed words of the papers in a language, with the language itself."""
    text = files("bondwright.papers").joinpath("data", "words.yaml").read_text(encoding="utf-8")
    table: dict[str, dict[str, str]] = load_yaml(text)
    return {**table[language], "lang": language}


def for_this_paper(data: Mapping[str, Any]) -> Language:
    """Return the language asked for, or English where it lacks most words of a paper.

    A sheet half in one language and half in another is no help to anybody on site.
    """
    language = spoken()
    if language.tag == ENGLISH:
        return language
    trial = language.fresh()
    trial.told({key: one for key, one in data.items() if key not in {*OWN_WORDS, "pictures"}})
    if len(trial.lacking) <= MOST_LACKING * trial.met:
        return language
    language.lacking.update(trial.lacking)
    return Language(ENGLISH)


def told(data: Mapping[str, Any], language: Language) -> dict[str, Any]:
    """Return a paper's data in its language; what a person wrote and where pictures go stay."""
    kept = {*OWN_WORDS, "pictures", "groups"}
    found = {key: one if key in kept else language.told(one) for key, one in data.items()}
    if isinstance(data.get("note"), str):
        found["note"] = language.where_known(data["note"])
    for group, drawn in (data.get("pictures") or {}).items():
        found["pictures"] = {**found["pictures"], group: [_retold(one, language) for one in drawn]}
    if language.lacking and isinstance(found.get("check"), list):
        left = words(language.tag)["left"].format(n=len(language.lacking))
        found["check"] = [*found["check"], left]
    return found


def _retold(picture: Mapping[str, Any], language: Language) -> dict[str, Any]:
    return {**picture, "alt": language(picture["alt"]), "caption": language(picture["caption"])}


_LETTERING: Final = re.compile(r"(<(title|desc)\b[^>]*>)([^<]+)(</(?:title|desc)>)")


def lettered(svg: str, language: Language) -> str:
    """Return a drawing with its titles and description in a language; its lettering is drawn so."""
    if language.tag == ENGLISH:
        return svg

    def told(found: re.Match[str]) -> str:
        said = language.pointed(html.unescape(found[3]))
        return f"{found[1]}{html.escape(said, quote=False)}{found[4]}"

    return _LETTERING.sub(told, svg)
