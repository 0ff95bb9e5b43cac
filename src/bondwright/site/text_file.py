"""The bytes and characters of a site file, checked before anything is read out of them."""

from __future__ import annotations

import codecs
import re
from pathlib import Path
from typing import Final

from bondwright.site.site_error import SiteError, SiteProblem

MAX_BYTES: Final = 8 * 1024 * 1024
"""Largest file read."""
_MOST: Final = 50

_UTF16: Final = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_UNFIT: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\ufeff\ufffe\uffff\ud800-\udfff]"
)
UNFIT_VALUE: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff]")
_TAB: Final = re.compile(r"^ *\t[ \t]*(?=[^\s#])", re.MULTILINE)


def read_bytes(path: Path) -> bytes:
    """Return the bytes of a file, refusing a large one without reading it.

    Raises:
        SiteError: the file can't be opened, or is larger than :data:`MAX_BYTES`.
    """
    try:
        if path.stat().st_size > MAX_BYTES:
            raise whole(str(path), f"is larger than {MAX_BYTES // 2**20} MiB", TOO_LARGE)
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, SiteError):
            raise
        reason = getattr(error, "strerror", None) or "it has no usable name"
        raise whole(str(path), f"can't be opened: {reason.lower()}", "") from error
    if len(data) > MAX_BYTES:
        raise whole(str(path), f"is larger than {MAX_BYTES // 2**20} MiB", TOO_LARGE)
    return data


TOO_LARGE: Final = "a site file is text of some hundred lines; is this the right file?"


def whole(name: str, problem: str, hint: str) -> SiteError:
    """Return an error about a whole file."""
    return SiteError((SiteProblem(name, 1, 1, "", f"the file {problem}", hint),))


def decode(data: bytes, name: str) -> str:
    """Return the text of a site file; a UTF-8 byte order mark is kept at its start.

    Raises:
        SiteError: the bytes are no UTF-8.
    """
    if data.startswith(_UTF16):
        raise whole(name, "is written as UTF-16", "save it as UTF-8")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8")
        line, column = position(before, len(before))
        byte = f"byte 0x{data[error.start]:02x}"
        raise SiteError(
            (SiteProblem(name, line, column, byte, "is no UTF-8 text", "save the file as UTF-8"),)
        ) from error


def position(text: str, index: int) -> tuple[int, int]:
    """Return the line and column, from 1, of an offset into a text."""
    before = text[:index].replace("\r\n", "\n").replace("\r", "\n")
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1


def check_characters(text: str, name: str) -> None:
    """Refuse characters that no site file needs.

    Raises:
        SiteError: a control character, or tabs that indent.
    """
    if match := _UNFIT.search(text):
        character = ord(match[0])
        word = {0: "a NUL character", 0xFEFF: "a byte order mark in the text"}.get(
            character, f"the control character U+{character:04X}"
        )
        line, column = position(text, match.start())
        shown = f"U+{character:04X}"
        hint = "remove it; a site file is plain text"
        raise SiteError((SiteProblem(name, line, column, shown, f"is {word}", hint),))
    tabs = []
    for match in _TAB.finditer(text):
        line, column = position(text, match.start() + match[0].index("\t"))
        problem = "is a tab at the start of a line"
        hint = "indent with spaces, two for each step"
        tabs.append(SiteProblem(name, line, column, "\\t", problem, hint))
        if len(tabs) == _MOST:
            break
    if tabs:
        raise SiteError(tuple(tabs))
