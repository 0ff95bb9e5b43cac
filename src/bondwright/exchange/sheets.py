"""Tables of cells out of CSV text and XLSX files, and back into them."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

MAX_BYTES: Final = 16 * 1024 * 1024
MAX_UNPACKED: Final = 128 * 1024 * 1024
MAX_ROWS: Final = 20_000
MAX_COLUMNS: Final = 256
MAX_CELL: Final = 2_000

_SAVED: Final = re.compile(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*")
_DELIMITERS: Final = ",;\t|"
_FORMULA_STARTS: Final = (
    "=",
    "+",
    "-",
    "@",
    "\t",
    "\r",
    "\n",
    "\uff1d",
    "\uff0b",
    "\uff0d",
    "\uff20",
)
"""What a spreadsheet may take for the start of a formula; the last four are full-width forms."""


class SheetError(ValueError):
    """A file that can't be read as a table.

    Attributes:
        problem: what is wrong, as a clause.
        hint: what would be right.
    """

    def __init__(self, name: str, problem: str, hint: str) -> None:
        self.name = name
        self.problem = problem
        self.hint = hint
        super().__init__(f"{name}: {problem}; {hint}")


@dataclass(frozen=True, slots=True)
class Sheet:
    """One table of cells.

    Attributes:
        name: of the file, and of the sheet in it.
        title: of the sheet; that of the file where it has none.
        rows: text of every cell, white space trimmed; all rows of one length.
    """

    name: str
    title: str
    rows: tuple[tuple[str, ...], ...]


def column_name(index: int) -> str:
    """Return what a spreadsheet calls a column, counted from 0: ``A``, ``B``, ... ``AA``."""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def read_sheets(path: Path) -> tuple[Sheet, ...]:
    """Read the tables of a file.

    Args:
        path: a CSV file (commas, semicolons, tabs or bars; UTF-8, UTF-16 or Windows-1252) or an
            XLSX file.

    Raises:
        SheetError: it is neither, is too large, or is damaged.
        OSError: it can't be opened.
    """
    if path.stat().st_size > MAX_BYTES:
        raise SheetError(path.name, f"is larger than {MAX_BYTES // 2**20} MiB", "is it a table?")
    data = path.read_bytes()
    if data.startswith(b"PK"):
        return _workbook(data, path.name)
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise SheetError(path.name, "is a spreadsheet of the old binary kind", "save it as XLSX")
    return (read_text(_decoded(data, path.name), path.name),)


def read_text(text: str, name: str = "<pasted>") -> Sheet:
    """Read a table out of text: as pasted from a spreadsheet, or of a CSV file.

    Raises:
        SheetError: it is no table.
    """
    if "\x00" in text:
        raise SheetError(name, "holds NUL characters", "is it a text file?")
    sample = "\n".join(text.splitlines()[:50])
    delimiter = max(_DELIMITERS, key=lambda d: (_regular(sample, d), -_DELIMITERS.index(d)))
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error as error:
        raise SheetError(
            name, f"can't be read as a table: {error}", "look at its quotes"
        ) from error
    return _sheet(name, rows)


def _regular(sample: str, delimiter: str) -> int:
    """Tell how many lines have the number of cells that most lines with several have."""
    try:
        rows = list(csv.reader(io.StringIO(sample, newline=""), delimiter=delimiter))
    except csv.Error:
        return 0
    counts = [len(row) for row in rows if len(row) > 1]
    return max((counts.count(count) * min(count, 12) for count in set(counts)), default=0)


def _decoded(data: bytes, name: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return data.decode("utf-16")
        except UnicodeDecodeError as error:
            raise SheetError(name, "is broken UTF-16 text", "save it as UTF-8") from error
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def _sheet(name: str, rows: Sequence[Sequence[str]], title: str = "") -> Sheet:
    if len(rows) > MAX_ROWS:
        raise SheetError(name, f"has {len(rows)} rows", f"{MAX_ROWS} at most")
    width = max((len(row) for row in rows), default=0)
    if width > MAX_COLUMNS:
        raise SheetError(name, f"has {width} columns", f"{MAX_COLUMNS} at most")
    return Sheet(
        name,
        title or name,
        tuple(
            tuple(_clean(name, cell) for cell in (*row, *[""] * (width - len(row)))) for row in rows
        ),
    )


def _clean(name: str, cell: str) -> str:
    if len(cell) > MAX_CELL:
        raise SheetError(name, f"has a cell of {len(cell)} characters", f"{MAX_CELL} at most")
    text = " ".join("".join(c if c.isprintable() else " " for c in cell).split())
    return taken(text)


def taken(text: str) -> str:
    """Return a text cell as it was before :func:`defused`."""
    armed = text[:1] == "'" and text[1:].lstrip(" ").startswith(_FORMULA_STARTS)
    return text[1:] if armed else text


def _workbook(data: bytes, name: str) -> tuple[Sheet, ...]:
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as file:
            parts = file.infolist()
            if sum(part.file_size for part in parts) > MAX_UNPACKED or len(parts) > 2_000:
                raise SheetError(name, "is too large unpacked", "is it a panel schedule?")
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        found = []
        for sheet in book.worksheets:
            cells = sheet.iter_rows(max_row=MAX_ROWS + 1, values_only=True)
            rows = [[_cell(value) for value in row] for row in cells]
            while rows and not any(rows[-1]):
                rows.pop()
            if rows:
                found.append(_sheet(f"{name}, sheet '{sheet.title}'", rows, sheet.title))
    except SheetError:
        raise
    except Exception as error:
        # Parts that are missing, odd or damaged come out of the library as errors of every kind.
        raise SheetError(name, "is no XLSX file, or a damaged one", "save it anew") from error
    return tuple(found)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return str(value)


def defused(text: str) -> str:
    """Return a text cell that no spreadsheet takes for a formula: an apostrophe goes in front."""
    return f"'{text}" if text.lstrip(" ").startswith(_FORMULA_STARTS) else text


def csv_text(rows: Sequence[Sequence[str]]) -> str:
    """Write a table as CSV text."""
    buffer = io.StringIO(newline="")
    csv.writer(buffer, lineterminator="\r\n").writerows([defused(c) for c in row] for row in rows)
    return buffer.getvalue()


def workbook(sheets: Sequence[tuple[str, Sequence[Sequence[str]]]]) -> bytes:
    """Write tables as the bytes of an XLSX file; whole numbers become numbers, the rest text.

    The same tables give the same bytes.
    """
    import openpyxl

    book = openpyxl.Workbook()
    for first in book.worksheets:
        book.remove(first)
    for title, rows in sheets:
        sheet = book.create_sheet(re.sub(r"[\[\]:*?/\\']", " ", title)[:31] or "sheet")
        for r, row in enumerate(rows, 1):
            for c, text in enumerate(row, 1):
                cell = sheet.cell(r, c)
                if re.fullmatch(r"[1-9]\d{0,8}", text):
                    cell.value = int(text)
                elif text:
                    cell.value = text
                    cell.data_type = "s"  # a text that starts with '=' stays a text
        for c in range(1, max((len(row) for row in rows), default=0) + 1):
            widest = max(len(row[c - 1]) for row in rows if len(row) >= c)
            sheet.column_dimensions[column_name(c - 1)].width = min(max(widest + 2, 6), 40)
    buffer = io.BytesIO()
    book.save(buffer)
    return _timeless(buffer.getvalue())


def _timeless(data: bytes) -> bytes:
    """Return a workbook without the time at which it was saved."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            text = old.read(part)
            if part.filename == "docProps/core.xml":
                text = _SAVED.sub(rb"\g<1>1980-01-01T00:00:00Z", text)
            new.writestr(zipfile.ZipInfo(part.filename), text, zipfile.ZIP_DEFLATED)
    return out.getvalue()
