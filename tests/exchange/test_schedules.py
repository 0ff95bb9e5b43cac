"""Three panel schedules that nobody would call tidy."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.exchange.circuits import Circuit, Schedule, Use, read_schedule
from bondwright.exchange.headings import find_heading
from bondwright.exchange.sheets import SheetError, csv_text, read_sheets, read_text
from tests.exchange.schedules import LIST, TWO_SIDED, phases


def told(schedule: Schedule) -> dict[tuple[int, ...], tuple[object, ...]]:
    return {
        c.numbers: (c.use.value, c.description, c.device.amps if c.device else None, c.poles,
                    c.power)
        for c in schedule.circuits
    }  # fmt: skip


def of(schedule: Schedule, number: int) -> Circuit:
    (found,) = [c for c in schedule.circuits if number in c.numbers]
    return found


def test_two_sides_with_a_mirror_image() -> None:
    schedule = read_schedule(read_text(TWO_SIDED))
    assert told(schedule) == {
        (1, 3, 5): ("circuit", "Press motor", 30, 3, 7200),
        (2,): ("circuit", "Lights north", 20, 1, 1500),
        (4,): ("circuit", "Lights south", 20, 1, 1200),
        (6,): ("circuit", "Receptacles bench", 20, 1, 720),
        (7, 9): ("circuit", "Bottle washer", 40, 2, 6000),
        (8,): ("spare", "SPARE", 20, 1, None),
        (10,): ("space", "SPACE", None, 1, None),
        (11,): ("circuit", "Office receptacles", 20, 1, 540),
    }
    assert [(d.where, d.problem) for d in schedule.doubts] == [
        ("H10", "'?' is no device with its amperes")
    ]
    assert [r.where for r in schedule.remarks] == ["A1", "A2", "A3", "A11", "A12", "G11"]


def test_a_list_with_its_wires() -> None:
    schedule = read_schedule(read_text(LIST))
    assert told(schedule) == {
        (1, 3): ("circuit", "Well pump", 20, 2, None),
        (2,): ("circuit", "Freezer", 20, 1, None),
        (4, 6): ("circuit", "Range", 50, 2, None),
        (5,): ("circuit", "Yard light", 15, 1, None),
        (10,): ("spare", "Spare", 20, 1, None),
        (11,): ("circuit", "Sign", 20, 1, None),
        (15,): ("circuit", "Washer", 20, 1, None),
    }
    pump, cooker = of(schedule, 1), of(schedule, 4)
    assert (pump.wire.size, pump.wire.count, pump.wire.ground) == ("12 AWG", 2, "12 AWG")
    assert (pump.wire.raceway, pump.note) == ('3/4"', "old")
    assert pump.length == pytest.approx(85 * 0.3048)
    assert (cooker.wire.size, cooker.wire.count, cooker.wire.ground, cooker.wire.raceway) == (
        "6 AWG Cu", 3, "10 AWG", '1"C',
    )  # fmt: skip
    light = of(schedule, 5).device
    assert light is not None
    assert light.words == "GFCI"
    assert {d.where: d.problem for d in schedule.doubts} == {
        "A6": "'banana' is no device with its amperes",
        "A7": "it says nothing of what it feeds",
        "A8": "'#5/0': 5/0 AWG no such size",
        "A11": "circuit 11 stands in A10 already",
        "A12": "its device has 2 poles, but position 15 is another circuit's",
        "A14": "'1/0' is no circuit number",
        "B15": "it has a device but no circuit number",
        "A16": "'a while' is no length",
    }
    assert [r.text for r in schedule.remarks] == ["Note: all THHN"]


def test_a_workbook_with_loads_by_phase(tmp_path: Path) -> None:
    phases(tmp_path / "lp2.xlsx")
    sheets = read_sheets(tmp_path / "lp2.xlsx")
    assert [sheet.title for sheet in sheets] == ["LP-2", "notes"]
    schedule = read_schedule(sheets[0])
    assert told(schedule) == {
        (1,): ("circuit", "Hall lights", 20, 1, 1800),
        (2,): ("circuit", "Yard lights", 20, 1, 1200),
        (3,): ("circuit", "Hall lights 2", 20, 1, 1750),
        (4, 6, 8): ("circuit", "Unit heater", 30, 3, 12000),
        (5,): ("spare", "Spare", 20, 1, None),
        (7,): ("space", "Space", None, 1, None),
    }
    assert [of(schedule, n).length for n in (1, 2, 4)] == [40.5, 120, 31]
    # A formula that was never computed has no value, and a circuit of no name is in doubt.
    assert [(d.where, d.problem) for d in schedule.doubts] == [
        ("A14", "it says nothing of what it feeds")
    ]
    with pytest.raises(SheetError, match="no row names the columns"):
        read_schedule(sheets[1])


@pytest.mark.parametrize("name", ["two-sided", "list"])
def test_every_row_is_somewhere(name: str) -> None:
    """Nothing is dropped silently: each cell that says something is in what was read."""
    sheet = read_text({"two-sided": TWO_SIDED, "list": LIST}[name])
    schedule = read_schedule(sheet)
    left = " ".join(each.text for each in (*schedule.doubts, *schedule.remarks))
    numbers = {n for c in schedule.circuits for n in c.numbers}
    heading = next(k for k, row in enumerate(sheet.rows) if "escription" in str(row)
                   or "SERVED" in str(row))  # fmt: skip
    for row in (*sheet.rows[:heading], *sheet.rows[heading + 1 :]):
        for cell in row[:2]:
            found = {int(n) for n in cell.replace("-", ",").split(",") if n.isdigit()}
            assert (
                (found and found <= numbers)
                or cell in left
                or cell in ('"', "")
                or any(cell == c.description for c in schedule.circuits)
            ), cell


def test_spares_and_spaces() -> None:
    text = (
        "ckt,description,breaker,poles\n1,,,\n2,-,,\n3,Spare,,\n4,bussed space,,\n"
        "5,Future,20,2\n7,,,\n"
    )
    schedule = read_schedule(read_text(text))
    assert {c.numbers: c.use for c in schedule.circuits} == {
        (1,): Use.SPACE,
        (2,): Use.SPACE,
        (3,): Use.SPARE,
        (4,): Use.SPACE,
        (5, 7): Use.SPARE,
    }
    assert schedule.doubts == ()


WORDS = st.sampled_from(
    ["", "1", "2", "3", "1,3", "2-4", "20", "20A/2P", "30/3", '"', "--", "Lights", "Spare", "Space",
     "#12", "2#12, 1#12G", "12/2", "1.2 kVA", "L1-L2", "ckt", "description", "breaker", "p", "va",
     "wire", "A", "B", "C", "length (ft)", "total", "\u0394", "9" * 30, "=1"]
)  # fmt: skip
HEADS = st.sampled_from(["ckt,description,breaker", "no,load,amps,p,va,wire,egc,c,ft,lines", ""])


@given(HEADS, st.lists(st.lists(WORDS, min_size=3, max_size=10), max_size=12))
def test_any_table_is_read_or_refused(head: str, rows: list[list[str]]) -> None:
    text = csv_text([head.split(","), *rows])
    try:
        sheet = read_text(text)
        schedule = read_schedule(sheet)
    except SheetError:
        return
    numbers = [n for c in schedule.circuits for n in c.numbers]
    assert len(numbers) == len(set(numbers))
    for circuit in schedule.circuits:
        if circuit.use is Use.CIRCUIT:
            assert circuit.device is not None
            assert circuit.description
    said = " ".join(
        [*(c.description for c in schedule.circuits), *(c.note for c in schedule.circuits)]
        + [each.text for each in (*schedule.doubts, *schedule.remarks)]
    )
    heading = find_heading(sheet.rows)
    assert heading is not None
    for row in sheet.rows[heading.last + 1 :]:
        if "Lights" in row:
            assert "Lights" in said
