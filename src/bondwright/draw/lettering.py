"""How wide a text is, and how to make it fit: real advance widths of the font the papers use.

All lettering of drawings goes through here, and is told in the language spoken meanwhile.
"""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Mapping
from functools import cache, lru_cache
from importlib.resources import files
from typing import Final

from bondwright.explain.language import spoken_or_none

FAMILY: Final = "'Source Sans Pro', 'Source Sans 3', Arial, sans-serif"
"""Font families in order of liking. Texts carry their length, so a stand-in keeps the width."""

UNKNOWN_EM: Final = 0.62
"""Width taken for a character that the font lacks, em."""
WIDE_EM: Final = 1.25
"""Width taken for a wide character that the font lacks (an emoji, say), em."""
ELLIPSIS: Final = "…"
KEEP: Final = "\u00a0"
"""A space at which no line breaks."""
_DOT: Final = " · "


@cache
def _tables() -> Mapping[bool, Mapping[str, int]]:
    text = files("bondwright.draw").joinpath("data", "widths.json").read_text(encoding="utf-8")
    raw = json.loads(text)
    return {False: raw["regular"], True: raw["bold"]}


@lru_cache(maxsize=4096)
def _missing(character: str) -> float:
    if unicodedata.combining(character) or unicodedata.category(character) in {"Cf", "Mn"}:
        return 0.0
    wide = unicodedata.east_asian_width(character) in {"W", "F"} or ord(character) > 0xFFFF
    return 1000 * (WIDE_EM if wide else UNKNOWN_EM)


def _thousandths(text: str, bold: bool) -> float:
    table = _tables()[bold]
    try:
        return sum([table[character] for character in text])
    except KeyError:
        return sum(table[c] if c in table else _missing(c) for c in text)


def said(text: str) -> str:
    """Return a line of lettering in the language spoken; its spaces that don't break stay so."""
    language = spoken_or_none()
    if language is None:
        return text
    if KEEP not in text:
        return language.lettering(text)
    told = [language.lettering(piece.replace(KEEP, " ")) for piece in text.split(_DOT)]
    kept = [
        new.replace(" ", KEEP) if KEEP in old else new
        for old, new in zip(text.split(_DOT), told, strict=True)
    ]
    return _DOT.join(kept)


def width(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a line of text, px, without kerning (which only makes it narrower).

    Args:
        text: one line.
        size: of the font, px.
        bold: whether it is semibold.
    """
    return _width(said(text), size, bold)


@lru_cache(maxsize=65536)
def _width(text: str, size: float, bold: bool) -> float:
    return _thousandths(text, bold) * size / 1000


def fit(text: str, room: float, size: float, bold: bool = False) -> str:
    """Return a text that is no wider than ``room`` px: itself, or its start with an ellipsis.

    Args:
        text: one line.
        room: px.
        size: of the font, px.
        bold: whether it is semibold.
    """
    return _fit(said(text), room, size, bold)


@lru_cache(maxsize=65536)
def _fit(text: str, room: float, size: float, bold: bool) -> str:
    if _width(text, size, bold) <= room:
        return text
    table = _tables()[bold]
    left = room * 1000 / size - table[ELLIPSIS]
    kept = 0
    for character in text:
        left -= table.get(character) or _missing(character)
        if left < 0:
            break
        kept += 1
    return (
        text[:kept].rstrip() + ELLIPSIS if kept else (ELLIPSIS if left >= 0 or room > size else "")
    )


def wrap(text: str, room: float, size: float, most: int, bold: bool = False) -> tuple[str, ...]:
    """Return a text in at most ``most`` lines of ``room`` px, the last shortened if need be.

    Lines break at spaces, not at no-break spaces, which come out as spaces. A word longer than
    a line is shortened.

    Args:
        text: any text.
        room: px.
        size: of the font, px.
        most: greatest number of lines.
        bold: whether it is semibold.
    """
    return _wrap(said(text), room, size, most, bold)


@lru_cache(maxsize=65536)
def _wrap(text: str, room: float, size: float, most: int, bold: bool) -> tuple[str, ...]:
    words = [word for word in text.split(" ") if word]
    lines: list[str] = []
    here = ""
    for at, word in enumerate(words):
        longer = f"{here} {word}" if here else word
        if _width(longer, size, bold) <= room:
            here = longer
            continue
        if not here:
            here = longer
            continue
        if len(lines) + 1 == most:
            here = " ".join([here, *words[at:]])
            break
        lines.append(here.removesuffix(" ·"))
        here = word
    if here:
        lines.append(here)
    return tuple(_fit(line, room, size, bold).replace(KEEP, " ") for line in lines)
