"""Schedules into a site file, and out of one."""

from __future__ import annotations

import difflib
from pathlib import Path

import pytest

from bondwright.exchange.circuits import read_schedule
from bondwright.exchange.panel import Added, Assumed, add_circuits, lines_of, table
from bondwright.exchange.sheets import csv_text, read_sheets, read_text, workbook
from bondwright.site.differences import differences
from bondwright.site.reader import load, read
from tests.exchange.schedules import LIST, TWO_SIDED

EXAMPLES = Path(__file__).parents[2] / "examples"
FARM = (EXAMPLES / "harrow-creek-farmhouse.yaml").read_text(encoding="utf-8")
PANEL = "pump house panel"


def added(schedule: str, assumed: Assumed | None = None) -> Added:
    return add_circuits(FARM, PANEL, read_schedule(read_text(schedule)), assumed or Assumed())


@pytest.mark.parametrize(
    ("numbers", "lines", "on"),
    [
        # Rows of a panel lie on the lines in turn (common practice).
        ([1], 3, ["L1"]),
        ([2], 3, ["L1"]),
        ([3], 3, ["L2"]),
        ([5], 3, ["L3"]),
        ([7], 3, ["L1"]),
        ([2, 4], 3, ["L1", "L2"]),
        ([5, 7], 3, ["L1", "L3"]),
        ([1, 3, 5], 3, ["L1", "L2", "L3"]),
        ([5], 2, ["L1"]),
        ([3, 5], 2, ["L1", "L2"]),
        ([1, 5], 2, ["L1"]),
    ],
)
def test_positions_are_on_lines(numbers: list[int], lines: int, on: list[str]) -> None:
    assert lines_of(numbers, ["L1", "L2", "L3"][:lines]) == on


def test_the_file_gains_the_circuits_and_nothing_else_changes() -> None:
    made = added(LIST, Assumed(metal="Cu"))
    changed = difflib.ndiff(FARM.splitlines(), made.text.splitlines())
    assert {line[0] for line in changed} == {" ", "+"}
    before, after = read(FARM), read(made.text)
    new = [d.path[1] for d in differences(before, after) if d.path[0] == "places"]
    assert tuple(new) == made.places == (
        "well pump 2", "freezer", "range", "yard light", "sign", "washer",
    )  # fmt: skip
    cooker = after.runs["range branch"]
    assert str(cooker.lines) == "6 AWG Cu"
    assert str(cooker.neutral) == "6 AWG Cu"  # three conductors on two poles: one is the neutral
    assert str(cooker.egc) == "10 AWG Cu"
    assert cooker.on == ["L1", "L2"]
    pump = after.runs["well pump 2 branch"]
    assert str(pump.neutral) == "none"
    assert pump.note == "circuit 1,3; old"
    assert pump.length == pytest.approx(85 * 0.3048)
    assert str(after.runs["sign branch"].lines) == "12 AWG Al"
    assert after.places["freezer"].building == "pump house"
    assert made.doubts == ()


def test_what_is_not_said_is_not_made_up() -> None:
    made = added(LIST)
    assert made.places == ("range", "sign")
    assert {d.text: d.problem for d in made.doubts}["1,3 Well pump"] == (
        "nothing says whether its wire, 12 AWG, is copper or aluminum"
    )
    bare = "ckt,description,breaker,wire,length (ft)\n1,Lamp,20,,30\n2,Fan,20,#12 Cu,\n"
    assert [d.problem for d in added(bare).doubts] == [
        "nothing says what its wire is",
        "nothing says how long it is",
    ]
    filled = added(bare, Assumed(length="60 ft", wire="14 AWG Cu"))
    runs = read(filled.text).runs
    assert runs["lamp branch"].note == "circuit 1; wire assumed"
    assert runs["fan branch"].note == "circuit 2; length assumed"
    assert runs["fan branch"].length == pytest.approx(60 * 0.3048)


def test_three_poles_do_not_fit_where_two_lines_come() -> None:
    made = added(TWO_SIDED, Assumed(length="60 ft", wire="12 AWG Cu"))
    assert {d.text: d.problem for d in made.doubts} == {
        "1,3,5 Press motor": "it has 3 poles, but 2 lines reach the panel"
    }
    site = read(made.text)
    assert site.places["receptacles bench"].kind.value == "outlet"
    (load_,) = site.places["bottle washer"].loads
    assert (load_.on.value, load_.power) == ("L1-L2", 6000)
    (lamp,) = site.places["lights south"].loads
    assert (lamp.on.value, lamp.power) == ("L2-N", 1200)


def test_a_device_nobody_knows_is_left_out() -> None:
    made = added('ckt,description,breaker,wire,length (ft)\n1,Lamp,"20 wonder",#12 Cu,30\n')
    assert made.places == ()
    assert "wonder" in made.doubts[0].problem
    assert made.text == FARM


def test_no_such_panel() -> None:
    with pytest.raises(ValueError, match="there is no place 'shed'; there are meter, "):
        add_circuits(FARM, "shed", read_schedule(read_text(LIST)), Assumed())


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@pytest.mark.parametrize(
    ("file", "panel"),
    [
        ("harrow-creek-farmhouse.yaml", PANEL),
        ("harrow-creek-farmhouse.yaml", "farmhouse panel"),
        ("harrow-creek.yaml", "hall panel"),
        ("harrow-creek.yaml", "barn panel"),
    ],
)
def test_what_goes_out_comes_in_again(tmp_path: Path, kind: str, file: str, panel: str) -> None:
    site = load(EXAMPLES / file)
    rows = table(site, panel)
    path = tmp_path / f"schedule.{kind}"
    path.write_bytes(csv_text(rows).encode() if kind == "csv" else workbook([(panel, rows)]))
    (sheet,) = read_sheets(path)
    schedule = read_schedule(sheet)
    assert schedule.doubts == ()
    runs = {run.to: (name, run) for name, run in site.runs.items() if run.from_ == panel}
    assert {c.description for c in schedule.circuits} == set(runs)
    for circuit in schedule.circuits:
        _, run = runs[circuit.description]
        assert circuit.length == pytest.approx(run.length, rel=1e-3)
        if run.device is not None:
            assert circuit.device is not None
            assert circuit.device.amps == run.device.rating_a
        if run.lines.sets == 1:
            assert circuit.wire.size == str(run.lines)
        if run.on is not None:
            assert list(circuit.lines) == list(run.on)


def test_a_circuit_keeps_its_number_on_the_way_round() -> None:
    made = added(LIST, Assumed(metal="Cu"))
    schedule = read_schedule(read_text(csv_text(table(read(made.text), PANEL))))
    numbers = {c.description: c.numbers for c in schedule.circuits}
    assert numbers["range"] == (4, 6)
    assert numbers["well pump"] == ()
    again = {c.description: c for c in schedule.circuits}["well pump 2"]
    assert (again.note, again.wire.ground) == ("old", "12 AWG Cu")
