"""Files from strangers, read whole: each must be what its name says, and nothing besides.

Nothing here is ever run, so nothing here can harm this machine; it is for whoever opens the file
next. What can't be read through here (PDF, say) is refused.
"""

from __future__ import annotations

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from bondwright.exchange.sheets import MAX_UNPACKED

TEXTS: Final = (".yaml", ".yml", ".csv", ".tsv", ".txt", ".md", ".json", ".ifc")
"""Ends of names of files that are text."""
OLD_TEXTS: Final = (".csv", ".tsv", ".txt")
"""Of these, those that spreadsheets also write in the characters of Windows."""
KINDS: Final = (*TEXTS, ".xlsx", ".png", ".jpg", ".jpeg")
MOST_PARTS: Final = 20_000
"""Most parts of a zip file: a bundle has one for each content of a file."""
_AFTER: Final = 24
"""Bytes that may follow a part whose size wasn't known before it was written."""
_CONTROL: Final = re.compile("[\x00-\x08\x0b\x0e-\x1f\x7f]")
_MAGIC: Final = (
    (b"MZ", "a program for Windows"),
    (b"\x7fELF", "a program for Linux"),
    (b"\xca\xfe\xba\xbe", "a program"),
    (b"\xcf\xfa\xed\xfe", "a program"),
    (b"\xfe\xed\xfa", "a program"),
    (b"#!", "a program for a shell"),
    (b"PK\x03\x04", "an archive"),
    (b"PK\x05\x06", "an archive"),
    (b"Rar!", "an archive"),
    (b"7z\xbc\xaf\x27\x1c", "an archive"),
    (b"\x1f\x8b", "an archive"),
    (b"BZh", "an archive"),
    (b"\xfd7zXZ", "an archive"),
    (b"\x28\xb5\x2f\xfd", "an archive"),
    (b"MSCF", "an archive"),
    (b"\xd0\xcf\x11\xe0", "an old document that may hold macros"),
    (b"%PDF", "a PDF"),
    (b"{\\rtf", "a document that may hold objects"),
    (b"L\x00\x00\x00\x01\x14\x02\x00", "a shortcut"),
)
"""What a file begins with that is none of ours."""
_END: Final = b"PK\x05\x06"
_PARTS: Final = (".xml", ".rels", ".vml", ".png", ".jpg", ".jpeg")
_BAD_PARTS: Final = (
    ("vbaproject", "macros"),
    ("vbadata", "macros"),
    ("/macrosheets/", "macros"),
    ("/dialogsheets/", "macros"),
    ("/activex/", "ActiveX controls"),
    ("/ctrlprops/", "controls"),
    ("/embeddings/", "embedded objects"),
    ("/oleobjects/", "embedded objects"),
    ("/externallinks/", "links to other files"),
    ("/connections.xml", "connections to data elsewhere"),
    ("/querytables/", "connections to data elsewhere"),
    ("/webextensions/", "extensions"),
    ("customui", "buttons of its own"),
)
"""Names of parts of a workbook, in small letters, and what they hold."""
_SETTINGS: Final = re.compile(r"xl/printersettings/[^/]+\.bin")
_RELATION: Final = re.compile(r"<(?:\w+:)?Relationship\b[^>]*>", re.IGNORECASE)
_OUTSIDE: Final = re.compile(r"TargetMode\s*=\s*[\"']External", re.IGNORECASE)
_LINK: Final = re.compile(r"Type\s*=\s*[\"'][^\"']*/hyperlink[\"']", re.IGNORECASE)
_PAGE: Final = re.compile(r"\bTarget\s*=\s*[\"'](?:https?|mailto):", re.IGNORECASE)


class HarmError(ValueError):
    """A file that isn't taken in; the text says which, and what is wrong with it."""

    def __init__(self, name: str, problem: str) -> None:
        super().__init__(f"'{_shown(name)}' is not taken in: {problem}")


def _shown(name: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in name)[:120]


def check_file(name: str, data: bytes) -> None:
    """Read a file whole and refuse it where it isn't what its name says.

    Args:
        name: of the file; its end says what it is.
        data: all of it.

    Raises:
        HarmError: it isn't, or it is of a kind that can't be read through.
    """
    end = name[name.rfind(".") :].lower() if "." in name else ""
    if end in TEXTS:
        check_text(name, _text(name, data, old=end in OLD_TEXTS))
    elif end == ".xlsx":
        _workbook(name, data)
    elif end == ".png":
        _png(name, data)
    elif end in {".jpg", ".jpeg"}:
        _jpeg(name, data)
    else:
        raise HarmError(name, f"only {', '.join(KINDS)} can be looked through")


def check_table(name: str, data: bytes) -> None:
    """Read a table whole, a workbook or text, and refuse it where it is anything else.

    Args:
        name: as it was told, or "".
        data: all of it.

    Raises:
        HarmError: it is.
    """
    if name.lower().endswith((".xlsx", *OLD_TEXTS)):
        check_file(name, data)
    elif data.startswith(b"PK"):
        _workbook(name or "the workbook", data)
    else:
        check_text(name or "the table", _text(name or "the table", data, old=True))


def check_text(name: str, text: str) -> None:
    """Refuse a text that holds what no text holds.

    Raises:
        HarmError: it does.
    """
    if text.startswith("#!"):
        raise HarmError(name, "it is a program for a shell, by its first two characters")
    if found := _CONTROL.search(text):
        line = text.count("\n", 0, found.start()) + 1
        raise HarmError(name, f"it is no text: line {line} holds U+{ord(found[0]):04X}")


def _text(name: str, data: bytes, *, old: bool) -> str:
    for magic, what in _MAGIC:
        if data.startswith(magic):
            raise HarmError(name, f"it is no text but {what}")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) and old:
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError as error:
            raise HarmError(name, "it is broken UTF-16 text") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        if old:
            return data.decode("cp1252", "replace")
        raise HarmError(name, f"it is no UTF-8 text, by byte {error.start + 1}") from error


@contextmanager
def opened(name: str, data: bytes) -> Iterator[zipfile.ZipFile]:
    """Open a zip file in which every byte belongs to a part that it lists.

    Args:
        name: of the file.
        data: all of it.

    Raises:
        HarmError: it is none, is damaged or encrypted, names a part twice, or something stands
            before, between or behind its parts, which would be another file as well.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as file:
            _check_layout(name, data, file)
            yield file
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError,
            OSError, UnicodeDecodeError, struct.error) as error:  # fmt: skip
        raise HarmError(name, "it is no zip file, or a damaged one") from error


def _check_layout(name: str, data: bytes, file: zipfile.ZipFile) -> None:
    parts = sorted(file.infolist(), key=lambda part: part.header_offset)
    if len(parts) > MOST_PARTS:
        raise HarmError(name, f"it has more than {MOST_PARTS} parts")
    if len({part.filename.lower() for part in parts}) < len(parts):
        raise HarmError(name, "it has a part twice")
    if any(part.flag_bits & 1 for part in parts):
        raise HarmError(name, "it is encrypted, and can't be looked through")
    # The end of a zip file without a comment is 22 bytes long.
    if data[-22:-18] != _END or data[-2:] != b"\x00\x00":
        raise HarmError(name, "something stands behind the end of the zip file")
    at, more = 0, 0
    for part in parts:
        if not at <= part.header_offset <= at + more:
            raise HarmError(name, "something stands between the parts of the zip file")
        lengths = struct.unpack_from("<HH", data, part.header_offset + 26)
        at = part.header_offset + 30 + sum(lengths) + part.compress_size
        more = _AFTER if part.flag_bits & 8 else 0
    if not at <= file.start_dir <= at + more:
        raise HarmError(name, "something stands between the parts of the zip file")


def parts_of(name: str, data: bytes, most: int) -> Iterator[tuple[str, bytes]]:
    """Yield name and content of every part of a zip file, each read whole.

    Args:
        name: of the file.
        data: all of it.
        most: bytes of all parts together.

    Raises:
        HarmError: it is too large, or as for :func:`opened`.
    """
    room = most
    with opened(name, data) as file:
        for info in file.infolist():
            with file.open(info) as part:
                content = part.read(room + 1)
            room -= len(content)
            if room < 0:
                raise HarmError(name, f"it is larger than {most // 2**20} MiB unpacked")
            yield info.filename, content


def _workbook(name: str, data: bytes) -> None:
    kinds = ""
    for part, content in parts_of(name, data, MAX_UNPACKED):
        low = f"/{part.lower()}"
        for bad, what in _BAD_PARTS:
            if bad in low:
                raise HarmError(name, f"it holds {what} ('{_shown(part)}'); save it without")
        if part.endswith("/") and not content:
            continue
        if _SETTINGS.fullmatch(part.lower()):
            _no_magic(name, part, content)
            continue
        if not low.endswith(_PARTS):
            raise HarmError(name, f"it holds '{_shown(part)}', which is no part of a table")
        if low.endswith(".png"):
            _png(name, content)
        elif low.endswith((".jpg", ".jpeg")):
            _jpeg(name, content)
        else:
            _xml(name, part, content)
            kinds += content.decode("utf-8", "replace") if "[content_types]" in low else ""
    if "spreadsheetml.sheet.main" not in kinds:
        what = "it holds macros" if "macroenabled" in kinds.lower() else "it is no workbook"
        raise HarmError(name, what)


def _no_magic(name: str, part: str, content: bytes) -> None:
    for magic, what in _MAGIC:
        if content.startswith(magic):
            raise HarmError(name, f"its part '{_shown(part)}' is {what}")


def _xml(name: str, part: str, content: bytes) -> None:
    where = f"its part '{_shown(part)}'"
    _no_magic(name, part, content)
    try:
        utf16 = content.startswith((b"\xff\xfe", b"\xfe\xff"))
        text = content.decode("utf-16" if utf16 else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise HarmError(name, f"{where} is no text") from error
    if not text.lstrip().startswith("<") or _CONTROL.search(text):
        raise HarmError(name, f"{where} is no XML")
    if "<!DOCTYPE" in text or "<!ENTITY" in text:
        raise HarmError(name, f"{where} defines entities, which no workbook needs")
    if part.lower().endswith(".rels"):
        for relation in _RELATION.findall(text):
            to_page = _LINK.search(relation) and _PAGE.search(relation)
            if _OUTSIDE.search(relation) and not to_page:
                raise HarmError(name, f"{where} links to another file")


def _png(name: str, data: bytes) -> None:
    """Follow the chunks of a PNG (W3C, PNG, 5.3) to the last one."""
    at = 8
    if not data.startswith(b"\x89PNG\r\n\x1a\n"):
        raise HarmError(name, "it is no PNG picture")
    while at + 12 <= len(data):
        length, kind = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if (
            end > len(data)
            or zlib.crc32(data[at + 4 : end - 4]) != struct.unpack_from(">I", data, end - 4)[0]
        ):
            break
        if kind == b"IEND":
            if end != len(data):
                raise HarmError(name, "something stands behind the end of the picture")
            return
        at = end
    raise HarmError(name, "it is a damaged PNG picture")


def _jpeg(name: str, data: bytes) -> None:
    """Follow the segments of a JPEG (ITU-T T.81, B.1) to its end."""
    if not data.startswith(b"\xff\xd8\xff"):
        raise HarmError(name, "it is no JPEG picture")
    at = 2
    while at + 4 <= len(data) and data[at] == 0xFF:
        kind = data[at + 1]
        if kind == 0xD9:
            break
        at += 2 + int(struct.unpack_from(">H", data, at + 2)[0])
        if kind == 0xDA:  # coded data follow, in which FF is followed by 00 or a restart mark
            while at + 1 < len(data) and not (
                data[at] == 0xFF and data[at + 1] not in (0x00, 0xFF, *range(0xD0, 0xD8))
            ):
                at += 1
    if data[at : at + 2] != b"\xff\xd9":
        raise HarmError(name, "it is a damaged JPEG picture")
    if at + 2 != len(data):
        raise HarmError(name, "something stands behind the end of the picture")
