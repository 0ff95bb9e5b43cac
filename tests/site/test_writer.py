"""Edits that touch nothing else, files written whole or not at all, sites written and read."""

# ruff: noqa: E501  # in the tables a case stands on few lines

from __future__ import annotations

import difflib
import os
import stat
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bondwright.site import (
    EditError,
    Site,
    SiteError,
    dump,
    problems,
    read,
    remove,
    rename_id,
    save,
    set_value,
)
from bondwright.site.quantities import written
from bondwright.site.source_text import parse
from bondwright.units import Dimension
from bondwright.units import parse as parse_quantity
from tests.site.generated import sites
from tests.site.marked import GOOD, edited


def changed(before: str, after: str) -> tuple[list[str], list[str]]:
    """Lines taken out and put in."""
    lines = list(difflib.unified_diff(before.splitlines(), after.splitlines(), lineterm="", n=0))[
        2:
    ]
    return (
        [line[1:] for line in lines if line.startswith("-")],
        [line[1:] for line in lines if line.startswith("+")],
    )


# --- one value -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "value", "edit"),
    [
        (("soil",), "250 ohm m", ("soil: 100 ohm m  ", "soil: 250 ohm m  ")),
        (("site",), "Barn: north", ("site: Farmhouse and pump house, Harrow Creek Cidery",
                                    'site: "Barn: north"')),
        (("runs", "service drop", "length"), "95 ft", ("length: 90 ft", "length: 95 ft")),
        (("places", "farmhouse panel", "loads", 1, "power"), "9 kW", ("power: 8 kW", "power: 9 kW")),
        (("places", "farmhouse panel", "loads", 1, "note"), "range",
         ('note: "range: 240 V"', "note: range")),
        (("electrodes", "house rods", "count"), 3, ("count: 2", "count: 3")),
        (("transformers", "press transformer", "outdoors"), True,
         ("    impedance: 3 %\n", "    impedance: 3 %\n    outdoors: true\n")),
        (("places", "well pump", "note"), "in the pit",
         ("pf: 0.8}]}", "pf: 0.8}], note: in the pit}")),
        (("places", "meter", "building"), "a, b", ("{kind: meter}", '{kind: meter, building: "a, b"}')),
        (("places", "farmhouse panel", "loads", 2), {"on": "L2-N", "power": "1 kW"},
         ('        note: "range: 240 V"\n',
          '        note: "range: 240 V"\n      - {on: L2-N, power: 1 kW}\n')),
        (("places", "well pump", "loads", 1), {"on": "L1-L2", "power": "1 kW"},
         ("pf: 0.8}]", "pf: 0.8}, {on: L1-L2, power: 1 kW}]")),
        (("runs", "pump branch", "on", 0), "L1", ("on: [L1, L2]", "on: [L1, L2]")),
        (("runs", "service entrance", "raceway"), {"kind": "emt", "size": "2 in"},
         ("raceway: {kind: pvc, size: 2 in}", "raceway: {kind: emt, size: 2 in}")),
        (("sources", "utility", "electrode"), "25 ohm", ("electrode: 8 ohm", "electrode: 25 ohm")),
        (("sources", "utility", "transformer", "x/r"), 2, ("x/r: 1.3", "x/r: 2")),
        (("ties",), {}, ("ohm/kft}\n", "ohm/kft}\nties: {}\n")),
        (("ties", "main bond", "at"), "farmhouse panel",
         ("ohm/kft}\n", "ohm/kft}\nties:\n  main bond: {at: farmhouse panel}\n")),
        (("metal", "gas", ), {"kind": "gas pipe", "from": "meter", "to": "well pump",
                              "length": "9 m", "resistance": "10 mohm"},
         ("ohm/kft}\n", "ohm/kft}\n  gas: {kind: gas pipe, from: meter, to: well pump, length: 9 m, "
          "resistance: 10 mohm}\n")),
    ],
)  # fmt: skip
def test_set_value_changes_that_and_nothing_else(
    path: tuple[str | int, ...], value: object, edit: tuple[str, str]
) -> None:
    assert set_value(GOOD, path, value) == edited(edit)


def test_a_group_in_lines_of_its_own_can_be_replaced() -> None:
    text = set_value(
        GOOD, ("places", "farmhouse panel", "loads"), [{"on": "L2-N", "power": "1 kW"}]
    )
    out, into = changed(GOOD, text)
    assert into == ["    loads: [{on: L2-N, power: 1 kW}]"]
    assert out[0] == "    loads:"
    assert len(out) == 5
    assert "# The loads of a winter evening." in text


def test_a_new_entry_stands_before_the_comments_of_what_follows() -> None:
    text = edited(("electrodes:", "# In the earth.\nelectrodes:"))
    new = {"from": "meter", "to": "shed", "length": "9 ft", "lines": "4 AWG Cu", "device": "60 A"}
    text = set_value(text.replace("\nmetal:", "\n  x: {kind: steel, at: meter}\nmetal:"),
                     ("electrodes", "y"), {"kind": "steel", "at": "meter"})  # fmt: skip
    assert "  x: {kind: steel, at: meter}\n  y: {kind: steel, at: meter}\nmetal:" in text
    with pytest.raises(SiteError, match="not the id of a source, transformer or place"):
        set_value(text, ("runs", "new"), new)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("soil",), "250 ft"),
        (("runs", "service drop", "length"), "90"),
        (("runs", "service drop", "to"), "nowhere"),
        (("runs", "service drop", "colour"), "red"),
        (("places", "new"), {"kind": "panel"}),
        (("electrodes", "house rods", "count"), 0),
    ],
)
def test_an_edit_that_makes_no_sound_site_is_refused(
    path: tuple[str | int, ...], value: object
) -> None:
    with pytest.raises(SiteError):
        set_value(GOOD, path, value)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ((), "x"),
        (("soil", "deeper"), "x"),
        (("runs", 3), "x"),
        (("places", "farmhouse panel", "loads", 7), {"on": "L1-N", "power": "1 kW"}),
        (("places", "farmhouse panel", "loads", -1), {"on": "L1-N", "power": "1 kW"}),
        (("soil",), None),
        (("soil",), float("nan")),
    ],
)
def test_an_edit_that_leads_nowhere_is_refused(path: tuple[str | int, ...], value: object) -> None:
    with pytest.raises(EditError):
        set_value(GOOD, path, value)


def test_an_edit_may_mend_a_broken_file() -> None:
    broken = edited(("length: 90 ft", "length: 90"))
    assert set_value(broken, ("runs", "service drop", "length"), "90 ft") == GOOD
    with pytest.raises(SiteError):
        set_value(edited(("building: farmhouse", "building: *x")), ("soil",), "1 ohm m")


def test_an_edit_that_would_change_more_than_asked_is_refused() -> None:
    text = GOOD + "note: |+\n  kept with its empty lines\n\n\n"
    assert read(text).note == "kept with its empty lines\n\n\n"
    with pytest.raises(EditError, match="change it by hand"):
        set_value(text, ("ties",), {})


def test_line_ends_and_byte_order_mark_stay() -> None:
    text = "\ufeff" + GOOD.replace("\n", "\r\n")
    new = set_value(text, ("places", "farmhouse panel", "note"), "old")
    expected = edited(('note: "range: 240 V"\n', 'note: "range: 240 V"\n    note: old\n'))
    assert new == "\ufeff" + expected.replace("\n", "\r\n")


def test_a_file_without_a_last_line_end() -> None:
    text = GOOD.rstrip("\n")
    assert set_value(text, ("ties",), {}) == text + "\nties: {}"


# --- removing ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("path", "edit"),
    [
        (("soil",), ("soil: 100 ohm m          # clay loam, measured with four pins\n", "")),
        (("runs", "service drop", "wiring"), (", wiring: overhead}", "}")),
        (("electrodes", "house rods", "conductor"), None),
        (("electrodes", "house rods", "length"), ("length: 8 ft, diameter: 5/8 in, spac",
                                                  "diameter: 5/8 in, spac")),
        (("places", "farmhouse panel", "loads", 0), ("      - {on: L1-N, power: 3.6 kW}\n", "")),
        (("places", "farmhouse panel", "loads", 1, "note"), ('        note: "range: 240 V"\n', "")),
        (("runs", "service entrance", "neutral"), ("    neutral: 2/0 AWG Cu\n", "")),
        (("electrodes", "pump house rod"),
         ("  pump house rod: {kind: rod, at: pump house panel, length: 8 ft, diameter: 5/8 in}\n", "")),
        (("metal", "water pipe"),
         ("metal:\n  water pipe: {kind: water pipe, from: farmhouse panel, to: pump house panel, "
          "length: 210 ft, resistance/length: 0.07 ohm/kft}\n", "metal: {}\n")),
        (("places", "well pump", "loads", 0), ("loads: [{on: L1-L2, power: 1.5 hp, pf: 0.8}]",
                                               "loads: []")),
    ],
)  # fmt: skip
def test_remove_takes_that_and_nothing_else(
    path: tuple[str | int, ...], edit: tuple[str, str] | None
) -> None:
    if edit is None:
        with pytest.raises(EditError, match="there is nothing at electrodes / house rods"):
            remove(GOOD, path)
    else:
        assert remove(GOOD, path) == edited(edit)


def test_the_first_key_of_a_list_item_can_go() -> None:
    text = edited(("      - on: L1-L2          # range\n", "      - note: x   # range\n        on: L1-L2\n"),
                  ('        note: "range: 240 V"\n', ""))  # fmt: skip
    new = remove(text, ("places", "farmhouse panel", "loads", 1, "note"))
    assert new == text.replace("- note: x   # range\n        on: L1-L2", "- on: L1-L2")


def test_what_is_needed_can_not_be_removed() -> None:
    for path in [("site",), ("runs", "service drop", "length"), ("places", "meter")]:
        with pytest.raises(SiteError):
            remove(GOOD, path)


# --- ids -----------------------------------------------------------------------------------


def test_a_place_is_renamed_with_all_that_refers_to_it() -> None:
    new = rename_id(GOOD, "pump house panel", "pit panel")
    assert "pump house panel" not in new
    assert new == GOOD.replace("pump house panel", "pit panel")


@pytest.mark.parametrize("odd", ["yes: no", "null", "4", "a, b", "# 1", 'the "old" one'])
def test_a_new_id_is_quoted_where_it_must_be(odd: str) -> None:
    site = read(rename_id(GOOD, "farmhouse panel", odd))
    assert odd in site.places
    assert site.runs["service entrance"].to == odd
    assert site.metal["water pipe"].from_ == odd
    assert rename_id(rename_id(GOOD, "well pump", odd), odd, "well pump") == GOOD


def test_an_id_that_is_a_number_is_renamed_where_it_stands_unquoted() -> None:
    assert read(rename_id(GOOD, "3", "porch light")).runs["lighting"].to == "porch light"


def test_runs_and_electrodes_can_be_renamed_too() -> None:
    assert rename_id(GOOD, "service drop", "drop") == edited(("service drop:", "drop:"))
    assert rename_id(GOOD, "house rods", "rods") == edited(("house rods:", "rods:"))


TWINS = """site: Twins
sources:
  utility: {system: 120/240 V, transformer: {rating: 25 kVA, impedance: 2 %}}
places:
  meter: {kind: meter}
  panel: {kind: service, main: 100 A breaker}
  shed: {kind: panel, MAIN}
runs:
  drop: {from: utility, to: meter, length: 90 ft, lines: 4 AWG Cu}
  entrance: {from: meter, to: panel, length: 9 ft, lines: 4 AWG Cu}
  shed: {from: panel, to: shed, DEVICE, length: 9 ft, lines: 6 AWG Cu}
states:
  usual: {}
  dark:
    open: OPEN
"""


@pytest.mark.parametrize("block", [False, True])
@pytest.mark.parametrize(
    ("main", "device", "opened"),
    [
        (True, True, ["panel", "shed", "cabin"]),
        (True, False, ["panel", "cabin"]),
        (False, True, ["panel", "shed"]),
    ],
)
def test_a_place_is_renamed_though_a_run_that_is_open_too_has_its_id(
    block: bool, main: bool, device: bool, opened: list[str]
) -> None:
    text = TWINS.replace("MAIN", "main: 60 A breaker" if main else "building: shed")
    text = text.replace("DEVICE", "device: 60 A breaker" if device else "neutral: 6 AWG Cu")
    text = text.replace("OPEN", "\n      - panel\n      - shed" if block else "[panel, shed]")
    new = read(rename_id(text, "shed", "cabin"))
    assert (
        list(new.states["dark"].open_) == opened
    )  # the run is open as before, and so is the place
    assert new.runs["shed"].to == "cabin"
    # As long as both have something to open, nothing is lost on the way back either.
    assert not problems(new)
    if device:
        assert read(rename_id(rename_id(text, "shed", "cabin"), "cabin", "shed")) == read(text)


def test_renaming_refuses_what_is_not_clear() -> None:
    with pytest.raises(EditError, match="there is no 'metre'; did you mean 'meter'"):
        rename_id(GOOD, "metre", "x")
    with pytest.raises(EditError, match="'utility' is taken already"):
        rename_id(GOOD, "meter", "utility")
    both = edited(("  house rods:", "  service drop:"))
    with pytest.raises(EditError, match="runs and electrodes"):
        rename_id(both, "service drop", "x")


STANDBY = """\
site: x
sources: {u: {system: 120/240 V, available: {current: 10 kA}}}
generators: {gen: {system: 120/240 V, rating: 12 kVA}}
transfers: {ts: {normal: nf, standby: 7, neutral: solid}}
places:
  s: {kind: service, main: 200 A breaker}
  a: {kind: panel, main: 60 A breaker}
runs:
  d: {from: u, to: s, length: 9 ft, lines: 4 AWG Cu}
  nf: {from: s, to: ts, length: 9 ft, lines: 6 AWG Cu, device: 60 A breaker}
  7: {from: gen, to: ts, length: 9 ft, lines: 6 AWG Cu, device: 50 A breaker}
  pf: {from: ts, to: a, length: 9 ft, lines: 6 AWG Cu}
metal:
  frame: {kind: structural steel, from: s, to: a, length: 9 ft, resistance: 2 mohm, taps: [{at: 3 ft, to: gen}, {at: 4 ft, to: ts}]}
states:
  out: {on: [gen], transfers: {ts: standby}, open: [a, nf]}   # a storm
"""


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("gen", "yard set", ["{yard set:", "from: yard set", "to: yard set", "on: [yard set]"]),
        ("ts", "changeover", ["{changeover: {normal", "to: changeover}", "{changeover: standby}"]),
        ("nf", "feed", ["normal: feed", "  feed: {from", "open: [a, feed]"]),
        ("7", "cable", ["standby: cable", "  cable: {from"]),
        ("a", "board", ["  board: {kind", "to: board", "open: [board, nf]"]),
        ("out", "storm", ["  storm: {on"]),
    ],
)
def test_all_that_names_an_id_is_renamed(old: str, new: str, words: list[str]) -> None:
    text = rename_id(STANDBY, old, new)
    assert all(word in text for word in words), text
    assert "# a storm" in text
    assert read(rename_id(text, new, old)) == read(STANDBY)  # a 7 comes back in quotes


# --- saving --------------------------------------------------------------------------------


def test_save_keeps_bytes_and_permissions(tmp_path: Path) -> None:
    file = tmp_path / "site.yaml"
    file.write_text("old")
    file.chmod(0o640)
    text = "\ufeff" + GOOD.replace("\n", "\r\n") + "# é\n"
    save(file, text)
    assert file.read_bytes() == text.encode()
    assert stat.S_IMODE(file.stat().st_mode) == 0o640
    assert [entry.name for entry in tmp_path.iterdir()] == ["site.yaml"]


def test_save_follows_a_link_and_honours_the_mask(tmp_path: Path) -> None:
    real, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    mask = os.umask(0o027)
    try:
        save(real, "a")
    finally:
        os.umask(mask)
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    link.symlink_to(real)
    save(link, "b")
    assert link.is_symlink()
    assert real.read_text() == "b"


def test_a_save_that_fails_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "site.yaml"
    file.write_text("old")

    def fails(*_: object) -> Path:
        raise OSError("disk full")

    monkeypatch.setattr(Path, "replace", fails)
    with pytest.raises(OSError, match="disk full"):
        save(file, "new")
    assert file.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["site.yaml"]
    with pytest.raises(UnicodeEncodeError):
        save(file, "\ud800")
    assert file.read_text() == "old"


# --- whole sites ---------------------------------------------------------------------------


def test_the_good_site_is_written_and_read_back() -> None:
    site = read(GOOD)
    text = dump(site)
    assert read(text) == site
    assert "length: 90 ft" in text
    assert "transformer: {rating: 25 kVA, impedance: 2.1 %, x/r: 1.3}" in text
    assert 'note: "range: 240 V"' in text
    assert "enlarged" not in text
    assert list(parse(text).data) == [
        "site", "rules", "soil", "conductor temperature", "sources", "places", "transformers",
        "runs", "electrodes", "metal",
    ]  # fmt: skip


def test_no_ties_and_ties_not_written_stay_apart() -> None:
    site = read(GOOD)
    assert "ties" not in dump(site)
    assert "ties: {}\n" in dump(site.model_copy(update={"ties": {}}))


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(sites())
def test_a_site_built_in_python_reads_back_equal(site: Site) -> None:
    assert problems(site) == []
    text = dump(site)
    assert read(text) == site
    assert dump(read(text)) == text


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(sites(), st.data())
def test_edits_of_any_site_do_what_they_say(site: Site, data: st.DataObject) -> None:
    text = "# top\n" + dump(site)
    name = data.draw(st.sampled_from(list(site.runs)))
    longer = set_value(text, ("runs", name, "length"), "123 ft")
    assert read(longer).runs[name].length == pytest.approx(123 * 0.3048)
    out, into = changed(text, longer)
    assert len(out) == len(into) <= 1
    noted = set_value(text, ("runs", name, "note"), "seen")
    assert read(noted).runs[name].note == "seen"
    assert "note" not in parse(remove(noted, ("runs", name, "note"))).data["runs"][name]
    old = data.draw(st.sampled_from(list(site.places)))
    renamed = rename_id(text, old, "quite another name")
    assert read(rename_id(renamed, "quite another name", old)) == site


DIMENSIONS = [
    Dimension.LENGTH, Dimension.RESISTANCE, Dimension.RESISTANCE_PER_LENGTH, Dimension.CURRENT,
    Dimension.REAL_POWER, Dimension.APPARENT_POWER, Dimension.RATIO, Dimension.RESISTIVITY,
    Dimension.TEMPERATURE, Dimension.FREQUENCY,
]  # fmt: skip


@pytest.mark.parametrize("dimension", DIMENSIONS)
@given(value=st.floats(min_value=0, max_value=1e300, allow_subnormal=False))
def test_a_quantity_is_written_exactly(dimension: Dimension, value: float) -> None:
    assert parse_quantity(written(value, dimension), dimension) == value


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("90 ft", Dimension.LENGTH),
        ("0.625 in", Dimension.LENGTH),
        ("200 A", Dimension.CURRENT),
        ("22 kA", Dimension.CURRENT),
        ("2.1 %", Dimension.RATIO),
        ("25 kVA", Dimension.APPARENT_POWER),
        ("-40 degC", Dimension.TEMPERATURE),
        ("0 ohm", Dimension.RESISTANCE),
        ("0.07 ohm/kft", Dimension.RESISTANCE_PER_LENGTH),
    ],
)
def test_a_quantity_is_written_as_people_do(text: str, dimension: Dimension) -> None:
    assert written(parse_quantity(text, dimension), dimension) == text
