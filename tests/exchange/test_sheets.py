import io
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl.utils import column_index_from_string

from bondwright.exchange import sheets
from bondwright.exchange.sheets import (
    SheetError,
    column_name,
    csv_text,
    defused,
    read_sheets,
    read_text,
    workbook,
)

ROWS = [["circuit", "what", "A"], ["1", "press, north", "20"], ["3", 'bench "B"', "30"]]


@pytest.mark.parametrize(
    ("index", "name"), [(0, "A"), (25, "Z"), (26, "AA"), (51, "AZ"), (701, "ZZ"), (702, "AAA")]
)
def test_column_names(index: int, name: str) -> None:
    assert column_name(index) == name
    assert column_index_from_string(name) == index + 1


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_text_of_any_kind(tmp_path: Path, delimiter: str, coding: str) -> None:
    lines = [f"circuit{delimiter}what{delimiter}A", f"1{delimiter}caf\u00e9{delimiter}20"]
    (tmp_path / "a.csv").write_bytes("\r\n".join(lines).encode(coding))
    (sheet,) = read_sheets(tmp_path / "a.csv")
    assert sheet.rows == (("circuit", "what", "A"), ("1", "caf\u00e9", "20"))


def test_workbooks_are_read_by_another_library_and_by_us(tmp_path: Path) -> None:
    path = tmp_path / "a.xlsx"
    path.write_bytes(workbook([("barn/1", ROWS), ("hall", [["x"]])]))
    book = openpyxl.load_workbook(path)
    assert book.sheetnames == ["barn 1", "hall"]
    assert [[c.value for c in row] for row in book["barn 1"].iter_rows()] == [
        ["circuit", "what", "A"],
        [1, "press, north", 20],
        [3, 'bench "B"', 30],
    ]
    found = read_sheets(path)
    assert [s.title for s in found] == ["barn 1", "hall"]
    assert [list(row) for row in found[0].rows] == ROWS


EVIL = ["=1+1", "+cmd", "-2+3", "@x", " =1", "\uff1d1"]


@pytest.mark.parametrize("text", EVIL)
def test_no_text_becomes_a_formula(tmp_path: Path, text: str) -> None:
    assert csv_text([[text]]).lstrip('"').startswith("'")
    path = tmp_path / "a.xlsx"
    path.write_bytes(workbook([("s", [[text]])]))
    cell = openpyxl.load_workbook(path)["s"]["A1"]
    assert (cell.data_type, cell.value) == ("s", text)


CELL = st.text(st.characters(exclude_categories=["C", "Z"]), max_size=8)


@given(st.lists(st.lists(CELL, min_size=2, max_size=2), min_size=2, max_size=6))
def test_csv_loses_nothing(rows: list[list[str]]) -> None:
    rows = [["circuit", "what"], *[[c.lstrip("'") for c in row] for row in rows]]
    found = [list(row) for row in read_text(csv_text(rows)).rows]
    assert found == rows


def test_defused_leaves_the_rest() -> None:
    assert [defused(text) for text in ("20 A", "", "a=b")] == ["20 A", "", "a=b"]


def bomb() -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("xl/worksheets/sheet1.xml", bytes(2**22))
    return buffer.getvalue()


def laughs() -> bytes:
    """A sound workbook but for a sheet that holds entities that multiply."""
    made = io.BytesIO(workbook([("s", [["x"]])]))
    buffer = io.BytesIO()
    entities = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 9))
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(buffer, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text = data.decode().replace(">x<", ">&l8;<")
                assert "&l8;" in text
                data = f'<!DOCTYPE x [<!ENTITY l0 "ha">{entities}]>{text}'.encode()
            new.writestr(name, data)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("data", "problem"),
    [
        (b"PK\x03\x04 broken", "is no XLSX file, or a damaged one"),
        (b"\xd0\xcf\x11\xe0 old", "a spreadsheet of the old binary kind"),
        (b"a,b\x00", "holds NUL characters"),
        (b"\xff\xfea", "broken UTF-16"),
        (b'a,"b\n' + b"x" * 200_000, "can't be read as a table|a cell of"),
        (b"," * 300, "has 301 columns"),
        (b"a,b\n" * 20_001, "has 20001 rows"),
        (b"a," + b"x" * 2001, "a cell of 2001 characters"),
    ],
)
def test_bad_files_are_refused(tmp_path: Path, data: bytes, problem: str) -> None:
    (tmp_path / "a.csv").write_bytes(data)
    with pytest.raises(SheetError, match=problem):
        read_sheets(tmp_path / "a.csv")


def test_a_file_that_would_burst_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheets, "MAX_UNPACKED", 2**21)
    (tmp_path / "a.xlsx").write_bytes(bomb())
    with pytest.raises(SheetError, match="is too large unpacked"):
        read_sheets(tmp_path / "a.xlsx")
    monkeypatch.setattr(sheets, "MAX_BYTES", 100)
    with pytest.raises(SheetError, match="is larger than"):
        read_sheets(tmp_path / "a.xlsx")


def test_entities_that_multiply_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(laughs())
    with pytest.raises(SheetError, match="is no XLSX file, or a damaged one"):
        read_sheets(tmp_path / "a.xlsx")


def test_a_workbook_damaged_anywhere_is_refused_and_nothing_else(tmp_path: Path) -> None:
    """Byte by byte: each change is read, or refused by our own error (found by fuzzing)."""
    good = workbook([("LP-1", [["Ckt", "Description", "Breaker"], ["1", "lights", "20 A"]])])
    path = tmp_path / "damaged.xlsx"
    refused = 0
    for at in range(4, len(good), max(1, len(good) // 150)):
        path.write_bytes(good[:at] + bytes([good[at] ^ 0x55]) + good[at + 1 :])
        try:
            read_sheets(path)
        except SheetError:
            refused += 1
    assert refused > 10
