"""The papers' font, and text that it can set.

A character that the font lacks would come out as an empty box, or not at all. It is written as
its code point instead, so that the reader sees that something stands there.
"""

from __future__ import annotations

import struct
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any, Final

import font_source_sans_pro

FAMILY: Final = "Source Sans Pro"
"""An open typeface (SIL Open Font License), carried by a package and embedded in the PDF."""
_DIRECTION: Final = frozenset(
    map(chr, (0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)))
)
"""Characters of Unicode Standard Annex 9 that steer the direction of writing, and show nothing."""


def font_folder() -> Path:
    """Return the folder that holds the papers' font."""
    return Path(font_source_sans_pro.font_directory)


@cache
def coverage() -> frozenset[int]:
    """Return the code points that both the regular and the bold weight can set.

    Reads the ``cmap`` table of the font files, format 12 (OpenType specification, "cmap").
    """
    weights = [
        frozenset(_code_points((font_folder() / f"SourceSansPro-{weight}.ttf").read_bytes()))
        for weight in ("Regular", "Bold")
    ]
    return weights[0] & weights[1]


def _code_points(data: bytes) -> Iterator[int]:
    (tables,) = struct.unpack(">H", data[4:6])
    for number in range(tables):
        tag, _, start, _ = struct.unpack(">4sIII", data[12 + 16 * number : 28 + 16 * number])
        if tag == b"cmap":
            yield from _full_map(data, start)
            return


def _full_map(data: bytes, start: int) -> Iterator[int]:
    (subtables,) = struct.unpack(">H", data[start + 2 : start + 4])
    for number in range(subtables):
        at = start + 4 + 8 * number
        _, _, offset = struct.unpack(">HHI", data[at : at + 8])
        here = start + offset
        (form,) = struct.unpack(">H", data[here : here + 2])
        if form == 12:
            (groups,) = struct.unpack(">I", data[here + 12 : here + 16])
            for group in range(groups):
                place = here + 16 + 12 * group
                first, last, _ = struct.unpack(">III", data[place : place + 12])
                yield from range(first, last + 1)
            return


def printable(text: str) -> str:
    """Return text with every character that the font lacks written as its code point."""
    known = coverage()
    return "".join(c if ord(c) in known or c == "\n" else f"[U+{ord(c):04X}]" for c in text)


def visible(text: str) -> str:
    """Return text with every invisible control of writing direction written as its code point.

    Such a character can make a label read as another one (Unicode Technical Report 36, 3.5).
    """
    return "".join(f"[U+{ord(c):04X}]" if c in _DIRECTION else c for c in text)


def mapped(value: Any, change: Callable[[str], str]) -> Any:
    """Apply a change to every text in nested lists and dicts (keys stay)."""
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: mapped(item, change) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [mapped(item, change) for item in value]
    return value
