"""Test sheets on the command line: out, filled in, and back."""

from __future__ import annotations

import csv
from pathlib import Path

import openpyxl
import pytest

from bondwright.exchange.sheets import read_text
from bondwright.explain.test_sheet import HEAD, read_filled
from bondwright.studies.measuring import Measured, MeasuringPoint, Sense, Unit
from tests.cli.running import EXAMPLE, refused, said, structure


@pytest.fixture(scope="module")
def blank(tmp_path_factory: pytest.TempPathFactory) -> list[list[str]]:
    path = tmp_path_factory.mktemp("sheet") / "blank.csv"
    assert said("testing", "sheet", EXAMPLE, "--out", str(path)).startswith(
        f"wrote {path}: 13 tests"
    )
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


def filled(folder: Path, blank: list[list[str]], readings: dict[str, dict[str, str]]) -> str:
    rows = [list(row) for row in blank]
    head = rows[2]
    for row in rows[3:]:
        for column, text in readings.get(row[head.index("id")], {}).items():
            row[head.index(column)] = text
    path = folder / "filled.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)
    return str(path)


def test_the_sheet_has_its_columns_and_cautions(blank: list[list[str]]) -> None:
    assert tuple(blank[2]) == HEAD
    assert "proved dead" in blank[1][0]
    assert all(row[HEAD.index("reading")] == "" for row in blank[3:])


def test_readings_are_judged(tmp_path: Path, blank: list[list[str]]) -> None:
    who = {"by": "Anna", "date": "2026-11-20", "serial": "LO-7", "weather": "dry, 4 degC"}
    sheet = filled(tmp_path, blank, {
        "continuity: EGC pump branch": {"reading": "0.08 ohm", **who},
        "continuity: EGC pump house feeder": {"reading": "0.31", "accuracy": "2 % + 0.01 ohm"},
        "tie: main bonding jumper at farmhouse panel": {"reading": "over"},
        "loop: well pump": {"reading": "350 mohm"},
        "net current: pump house feeder": {"reading": "4.2 A"},
        "neutral apart: pump house panel": {"reading": "> 200 Mohm"},
    })  # fmt: skip
    data = structure("testing", "judge", EXAMPLE, sheet, code=1)
    found = {r["id"]: r for r in data["readings"]}
    assert {id: (r["verdict"], r["unexplained"]) for id, r in found.items()} == {
        "continuity: EGC pump branch": ("holds", False),
        "continuity: EGC pump house feeder": ("holds", True),
        "tie: main bonding jumper at farmhouse panel": ("falls short", False),
        "loop: well pump": ("holds", False),
        "net current: pump house feeder": ("cannot tell", True),
        "neutral apart: pump house panel": ("holds", False),
    }
    wire = found["continuity: EGC pump branch"]
    assert (wire["by"], wire["serial"], wire["weather"]) == ("Anna", "LO-7", "dry, 4 degC")
    assert found["continuity: EGC pump house feeder"]["uncertainty"] == pytest.approx(0.0162)
    assert found["tie: main bonding jumper at farmhouse panel"]["over_range"] is True
    assert len(data["not_read"]) == 7
    told = said("testing", "judge", EXAMPLE, sheet, code=1)
    assert "without it no breaker opens" in told
    assert "not read yet: 7" in told


def test_what_can_not_be_used_is_listed(tmp_path: Path, blank: list[list[str]]) -> None:
    sheet = filled(tmp_path, blank, {
        "continuity: EGC pump branch": {"reading": "fine"},
        "loop: well pump": {"reading": "0.3", "accuracy": "80 %"},
        "tie: main bonding jumper at farmhouse panel": {"reading": "-1"},
    })  # fmt: skip
    with Path(sheet).open("a", encoding="utf-8") as file:
        file.write(",,,,,,,,,0.1,,,,,,,continuity: EGC old feeder\r\n")
        file.write(",,,,,,,,,0.1,,,,,,,loop: well pump\r\n")
    data = structure("testing", "judge", EXAMPLE, sheet, code=2)
    problems = " ".join(p["problem"] for p in data["problems"])
    assert "'fine' is no reading in ohm" in problems
    assert "no instrument is used that reads to 80 %" in problems
    assert "a reading is a number of 0 or more" in problems
    assert "there is no test 'continuity: EGC old feeder' on this site" in problems
    assert "this test stands in Q16 already" in problems
    assert data["readings"] == []


def test_a_workbook_goes_round(tmp_path: Path) -> None:
    path = tmp_path / "tests.xlsx"
    said("testing", "sheet", EXAMPLE, "--out", str(path))
    book = openpyxl.load_workbook(path)
    sheet = book["tests"]
    ids = {sheet.cell(row, len(HEAD)).value: row for row in range(4, sheet.max_row + 1)}
    row = ids["loop: well pump"]
    sheet.cell(row, HEAD.index("reading") + 1).value = 0.35
    book.save(path)
    data = structure("testing", "judge", EXAMPLE, str(path))
    assert [(r["id"], r["value"], r["verdict"]) for r in data["readings"]] == [
        ("loop: well pump", 0.35, "holds")
    ]


def test_other_files_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.csv"
    path.write_text("a,b\n1,2\n")
    assert "no row names the columns 'reading' and 'id'" in refused(
        "testing", "judge", EXAMPLE, str(path)
    )
    assert "name the file '.csv' or '.xlsx'" in refused(
        "testing", "sheet", EXAMPLE, "--out", str(tmp_path / "x.pdf")
    )


def test_columns_and_rows_may_stand_in_another_order() -> None:
    points = [
        MeasuringPoint(id, Measured.LOOP, "x", "x", "", "", "loop tester", Unit.OHM, 0.3, "", 0.5,
                       Sense.AT_MOST, "")
        for id in ("a", "b")
    ]  # fmt: skip
    found = read_filled(read_text("reading,id,by\n0.3,b,Ben\n,a,\n"), points)
    assert [(r.judged.point.id, r.judged.value, r.by) for r in found.records] == [("b", 0.3, "Ben")]
    assert found.empty == ("a",)
    assert found.problems == ()
