"""Every kind of slip in a site file: where the message points, what it says, what it proposes."""

# ruff: noqa: E501  # in the tables a case stands on few lines

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.site import SiteError, SiteProblem, load, read
from bondwright.site.model import Describes, PlaceKind
from bondwright.site.topology import topology
from bondwright.units import FOOT
from tests.site.marked import GOOD, edited, unmarked

DROP = "length: 90 ft"


def only(text: str) -> SiteProblem:
    with pytest.raises(SiteError) as caught:
        read(text, "site.yaml")
    assert len(caught.value.problems) == 1, str(caught.value)
    return caught.value.problems[0]


def test_the_good_file_says_what_it_says() -> None:
    site = read(GOOD)
    assert site.rules == "nec-2020"
    assert site.describes is Describes.PLAN
    assert site.ties is None
    assert site.runs["service drop"].length == pytest.approx(90 * FOOT)
    assert site.runs["lighting"].length == pytest.approx(6.25 * FOOT)
    assert site.places["3"].kind is PlaceKind.OUTLET
    assert site.places["farmhouse panel"].loads[1].note == "range: 240 V"
    assert site.runs["lighting"].on == ["L2"]
    assert list(site.runs)[:2] == ["service drop", "service entrance"]
    assert topology(site).supply_side_runs == {"service drop", "service entrance"}


def test_load_reads_the_file(tmp_path: Path) -> None:
    file = tmp_path / "good.yaml"
    file.write_text(GOOD, encoding="utf-8")
    assert load(file) == load(str(file)) == read(GOOD)


# Each row: what is changed in the good file (‸ where the message must point), the offending
# text, part of the problem, part of the hint.
ONE_SLIP = {
    # quantities
    "no unit": ([(DROP, "length: ‸90")], "90", "has no unit", "'90 ft' or '90 m'"),
    "unit of another kind": (
        [(DROP, "length: ‸90 ohm")], "90 ohm", "is a resistance, but a length", "use ft, m or in",
    ),
    "unknown unit": ([(DROP, "length: ‸90 fr")], "90 fr", "'fr', which is not known", "use ft"),
    "negative": ([(DROP, "length: ‸-90 ft")], "-90 ft", "must be more than zero", ""),
    "zero": ([(DROP, "length: ‸0 ft")], "0 ft", "must be more than zero", ""),
    "NaN as a word": ([(DROP, "length: ‸NaN")], "NaN", "not a number a building", "75 ft"),
    "NaN of YAML": ([(DROP, "length: ‸.nan")], ".nan", "not a number a building", "real value"),
    "infinity of YAML": ([("pf: 0.8", "pf: ‸-.inf")], "-.inf", "not a number a building", "real"),
    "NaN where a plain number belongs": (
        [("pf: 0.8", "pf: ‸nan")], "nan", "not a number a building", "pf: 0.9",
    ),
    "yes stays a word": ([(DROP, "length: ‸yes")], "yes", "is not a length", "'75 ft'"),
    "true": ([(DROP, "length: ‸true")], "true", "is not a length", "'75 ft'"),
    "sexagesimal stays text": ([(DROP, "length: ‸1:30")], "1:30", "has the unit", "use ft"),
    "leading zero stays text": ([(DROP, "length: ‸012")], "012", "has no unit", "'012 ft'"),
    "more than all": ([("pf: 0.8", "pf: ‸2")], "2", "must be 1 or less", "pf: 0.9"),
    "percent for a plain number": (
        [("pf: 0.8", "pf: ‸80 %")], "80 %", "is not a number", "without a unit",
    ),
    "a word for a count": ([("count: 2", "count: ‸two")], "two", "not a whole number", "count: 2"),
    "true for a count": ([("count: 2", "count: ‸true")], "true", "not a whole number", "count: 2"),
    "part of a rod": ([("count: 2", "count: ‸2.5")], "2.5", "not a whole number", "count: 2"),
    "no rod": ([("count: 2", "count: ‸0")], "0", "must be 1 or more", ""),
    "ratio out of all reason": ([("x/r: 1.3", "x/r: ‸130")], "130", "must be 100 or less", "x/r"),
    # catalog words
    "no such gauge": (
        [("lines: 12 AWG Cu, on: [L1", "lines: ‸13.5 AWG Cu, on: [L1")],
        "13.5 AWG Cu", "no such size", "14 AWG and 12 AWG",
    ),
    "no metal": (
        [("lines: 4/0 AWG Al", "lines: ‸4/0 AWG")], "4/0 AWG", "which metal", "'4/0 AWG Cu'",
    ),
    "not a system": (
        [("system: 120/240 V", "system: ‸120/250 V")], "120/250 V", "no common system", "208Y/120",
    ),
    "not a device": (
        [("main: 200 A breaker", "main: ‸200 A braker")], "200 A braker", "'braker'", "'breaker'",
    ),
    "no such trade size": (
        [("size: 2 in", "size: ‸2.1 in")], "2.1 in", "no such trade size", "nearest is 2 in",
    ),
    "trade size without unit": ([("size: 2 in", "size: ‸2")], "2", "has no unit", "'2 in'"),
    # words out of a few
    "bad kind": (
        [("kind: service", "kind: ‸pannel")], "pannel", "not one of the words",
        "did you mean 'panel'? known are: meter, service, panel,",
    ),
    "bad edition": (
        [("rules: nec-2020", "rules: ‸nec-2021")], "nec-2021", "not one of the words",
        "known are: nec-2017, nec-2020, nec-2023",
    ),
    "bad line": ([("on: [L2]", "on: [‸L4]")], "L4", "not one of the words", "L1, L2, L3"),
    # keys
    "misspelt key": ([(DROP, "‸lenght: 90 ft")], "lenght", "not known here", "mean 'length'?"),
    "trade word for a key": (
        [("device: 60 A breaker", "‸breaker: 60 A")], "breaker", "not known here", "'device'",
    ),
    "Python's name for a key": (
        [("x/r: 1.3", "‸x_over_r: 1.3")], "x_over_r", "not known here", "mean 'x/r'?",
    ),
    "Python's name for from": (
        [("{from: utility", "{‸from_: utility")], "from_", "not known here", "mean 'from'?",
    ),
    "key like no other": (
        [("pf: 0.8", "quux: 0.8")], "quux", "not known here", "known here are: on, power, pf, draws, harmonics, leakage, motor, note",
    ),
    "misspelt table": ([("runs:", "‸rums:")], "rums", "not known here", "mean 'runs'?"),
    "missing key": (
        [("  service drop: {", "  ‸service drop: {"), (", length: 90 ft", "")],
        "service drop", "lacks 'length'", "add 'length: 75 ft'",
    ),
    "missing word": (
        [("  meter: {kind: meter}", "  ‸meter: {}")], "meter", "lacks 'kind'",
        "one of: meter, service, panel",
    ),
    "missing strength": (
        [("  utility:", "  ‸utility:"),
         ("    transformer: {rating: 25 kVA, impedance: 2.1 %, x/r: 1.3}", "   ")],
        "utility", "either 'transformer' or 'available'", "nameplate",
    ),
    "missing resistance of metal": (
        [("  water pipe: {", "  ‸water pipe: {"), (", resistance/length: 0.07 ohm/kft", "")],
        "water pipe", "either 'resistance'", "ohm/kft",
    ),
    # shapes
    "nothing behind a key": (
        [("    building: farmhouse", "    ‸building:")], "building", "has no value", "remove the line",
    ),
    "an empty table": (
        [("metal:", "‸ties:\nmetal:")], "ties", "has no value", "'ties: {}' for none",
    ),
    "a place without anything": (
        [("{kind: equipment, building: pump house, loads: [{on: L1-L2, power: 1.5 hp, pf: 0.8}]}", ""),
         ("  well pump:", "  ‸well pump:")],
        "well pump", "has no value", "{kind: meter}",
    ),
    "a word for a list": ([("on: [L2]", "on: ‸L2")], "L2", "a list belongs here", "on: [L1]"),
    "an empty list": ([("on: [L2]", "‸on: []")], "on", "is empty", "on: [L1]"),
    "a list for a value": (
        [(DROP, "‸length: [90 ft]")], "length", "is a list, but a single value", "length: 75 ft",
    ),
    "a word for a group": (
        [("raceway: {kind: pvc, size: 2 in}", "raceway: ‸pvc")], "pvc", "group of 'key: value'",
        "raceway: {kind: emt, size: ...}",
    ),
    "an empty name": ([("building: farmhouse", "building: ‸''")], "''", "is empty", "write a name"),
    "a long name": (
        [("building: farmhouse", "building: ‸" + 81 * "x")], 59 * "x" + "…", "longer than 80", "shorten",
    ),
    "a control character in a name": (
        [("  house rods:", '  ‸"house\\trods":')], "house rods", "characters that a name", "letters",
    ),
    # YAML
    "alias": ([("building: farmhouse", "building: ‸*home")], "*home", "is an alias", "value out"),
    "anchor": (
        [("building: farmhouse", "building: ‸&home farmhouse")], "&home farmhouse", "anchor", "remove",
    ),
    "tag": ([("building: farmhouse", "building: ‸!!str 3")], "!!str 3", "has a tag", "remove"),
    "duplicate key": (
        [("    building: farmhouse", "    building: farmhouse\n    ‸building: barn")],
        "building", "is written twice here; it stands already at line 18, column 5", "remove one",
    ),
    "duplicate id": (
        [("  lighting: {", "  ‸pump branch: {")], "pump branch",
        "stands already at line 46, column 3", "a name of its own",
    ),
    "empty key": ([("    building: farmhouse", "    ‸'': farmhouse")], "''", "is an empty key", "name"),
    "tab": (
        [("    building: farmhouse", "‸\tbuilding: farmhouse")], "\\t", "is a tab", "spaces",
    ),
    "tab after spaces": (
        [("    building: farmhouse", "  ‸\tbuilding: farmhouse")], "\\t", "is a tab", "spaces",
    ),
    "second document": ([("soil:", "‸---\nsoil:")], "---", "begins a second document", "file of its own"),
    "out of line": (
        [("    building: farmhouse", "   ‸building: farmhouse")],
        "building: farmhouse", "does not line up", "same column",
    ),
    "colon forgotten": (
        [("    building: farmhouse", "    ‸building farmhouse")], "building farmhouse",
        "is no 'key: value' line", "':' and a space",
    ),
    "second colon": (
        [('note: "range: 240 V"', "note: range‸: 240 V")], ": 240 V", "second ':'", "in quotes",
    ),
    "bracket left open": (
        [("meter: {kind: meter}", "meter: ‸{kind: meter")], "{kind: meter", "bracket", "close each",
    ),
    "quote left open": (
        [("resistance/length: 0.07 ohm/kft}", "note: ‸'oh}")], "'oh}", "quote that is never", "close it",
    ),
    "no value in brackets": ([(DROP, "length‸:")], None, "has no value behind", "write the value"),
    "odd character": (
        [('note: "range: 240 V"', "note: ‸@home")], "@home", "can't start a value", "in quotes",
    ),
    "NUL": ([("farmhouse\n", "farm‸\x00house\n")], "U+0000", "is a NUL character", "remove it"),
    "control character": ([("farmhouse\n", "farm‸\x1bhouse\n")], "U+001B", "control character", ""),
    "byte order mark inside": ([("soil:", "‸\ufeffsoil:")], "U+FEFF", "byte order mark", "remove it"),
    "line separator": ([("farmhouse\n", "farm‸\u2028house\n")], "U+2028", "U+2028", "remove it"),
    "control character in quotes": (
        [("building: farmhouse", 'building: ‸"farm\\0"')], '"farm\\0"', "control character", "remove",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", ONE_SLIP)
def test_one_slip_gives_one_message_at_its_place(case: str) -> None:
    edits, shown, problem, hint = ONE_SLIP[case]
    marked = edited(*edits)
    if "‸" not in marked:
        marked = marked.replace("quux", "‸quux")
    text, line, column = unmarked(marked)
    found = only(text)
    assert (found.line, found.column) == (line, column), str(found)
    assert found.file == "site.yaml"
    if shown is not None:
        assert found.text == shown
    assert problem in found.problem
    assert hint in found.hint
    for raw in ("Input should", "Field required", "validation", "pydantic", "Traceback"):
        assert raw not in str(found)


def test_the_message_reads_as_one_line() -> None:
    found = only(edited((DROP, "length: 90")))
    assert str(found) == "site.yaml:37:52: '90' has no unit; write '90 ft' or '90 m'"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("", "the file is empty"),
        ("# nothing yet\n", "the file is empty"),
        ("---\n...\n", "the file is empty"),
        ("\ufeff", "the file is empty"),
        ("- a\n- b\n", "is a list, but a site file is made of 'key: value' lines"),
        ("farmhouse\n", "is a single value, but"),
        ("42", "is a single value, but"),
    ],
)
def test_a_file_that_is_no_group(text: str, problem: str) -> None:
    found = only(text)
    assert problem in found.problem
    assert (found.line, found.column) == (1, 1)
    assert "site: Farmhouse" in found.hint


def test_missing_tables_are_reported_at_the_top() -> None:
    with pytest.raises(SiteError) as caught:
        read("site: x\n")
    said = [problem.problem for problem in caught.value.problems]
    assert said == ["the file lacks 'places'"]
    assert {(problem.line, problem.column) for problem in caught.value.problems} == {(1, 1)}


def test_all_slips_come_in_one_go_in_order() -> None:
    text = edited(
        ("rules: nec-2020", "rules: nec-1920"),
        ("soil: 100 ohm m", "soil: 100 ft"),
        ("kind: service", "kind: servise"),
        (DROP, "length: 90"),
        ("to: meter", "to: metre"),
        ("size: 2 in", "size: 2.1 in"),
        ("at: pump house panel", "at: pump huose panel"),
        ("count: 2", "cuont: 2"),
    )
    with pytest.raises(SiteError) as caught:
        read(text, "f")
    problems = caught.value.problems
    assert [problem.text for problem in problems] == [
        "nec-1920", "100 ft", "servise", "metre", "90", "2.1 in", "cuont", "pump huose panel",
    ]  # fmt: skip
    assert [(p.line, p.column) for p in problems] == sorted((p.line, p.column) for p in problems)
    assert str(caught.value).count("\n") == len(problems) - 1


def test_a_slip_in_a_place_leaves_no_dangling_references_behind() -> None:
    found = only(edited(("kind: service", "kind: servise")))
    assert found.text == "servise"
    assert only(edited(("places:", "plases:"))).text == "plases"


def test_a_place_that_is_empty_is_not_called_unfed_as_well() -> None:
    assert "has no value" in only(edited(("  well pump:", "  shed:\n  well pump:"))).problem


def test_only_the_first_anchor_and_alias_are_told() -> None:
    text = "a: &a [x]\nb: &b [*a, *a]\nc: [*b, *b]\n"
    with pytest.raises(SiteError) as caught:
        read(text)
    told = [p.text for p in caught.value.problems]
    assert told.count("*a") == 1
    assert "*b" not in told


def test_merge_keys_are_refused() -> None:
    text, line, column = unmarked(edited(("    building: farmhouse", "    ‸<<: {main: 3 A}")))
    with pytest.raises(SiteError) as caught:
        read(text)
    first = caught.value.problems[0]
    assert (first.line, first.column, first.problem) == (line, column, "is a merge key")


def test_a_byte_order_mark_at_the_start_is_no_fault() -> None:
    assert read("\ufeff" + GOOD) == read(GOOD)


def test_windows_line_ends_keep_lines_and_columns() -> None:
    assert read(GOOD.replace("\n", "\r\n")) == read(GOOD)
    found = only(edited((DROP, "length: 90")).replace("\n", "\r\n"))
    assert (found.line, found.column) == (37, 52)


def test_columns_count_characters() -> None:
    text, line, column = unmarked(
        edited(("kind: service", "building: é😀日\n    kind: service, é😀 ‸: 1"))
    )
    found = only(text)
    assert (found.line, found.column) == (line, column)


def test_ids_may_be_numbers() -> None:
    assert "3" in read(edited(('"3":', "3:"))).places


def test_empty_ties_are_not_the_same_as_none_written() -> None:
    assert read(edited(("metal:", "ties: {}\nmetal:"))).ties == {}
