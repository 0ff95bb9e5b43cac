"""Entries changed as a whole: the fewest changes, and what hangs on what."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.site.entries import changes_between, hanging_on, without
from bondwright.site.reader import read
from bondwright.site.source_text import parse
from bondwright.site.starters import STARTERS, starter
from bondwright.site.structure import NODE_TABLES
from bondwright.site.writer import REMOVED, EditError, set_values, spliced

HOUSE = starter("house")
PLACE = ("places", "house panel")
EXAMPLES = sorted((Path(__file__).parents[2] / "examples").glob("*.yaml"))

_WORDS = st.sampled_from(["12 ft", "L1-N", "2 kW", "a b", "none", "3"])
_VALUES: st.SearchStrategy[Any] = st.recursive(
    _WORDS | st.booleans() | st.integers(0, 99),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_WORDS, inner, max_size=4),
    max_leaves=12,
)
_ENTRIES = st.dictionaries(st.sampled_from("abcdef"), _VALUES, min_size=1, max_size=5)


@given(_ENTRIES, _ENTRIES)
def test_changes_turn_one_entry_into_the_other(before: Any, after: Any) -> None:
    text, _ = spliced("top:\n  x: 1  # kept\n", [(("top", "entry"), before)])
    changes = list(changes_between(before, after, ("top", "entry")))
    new, source = spliced(text, changes)
    assert source.data["top"]["entry"] == after
    assert "# kept" in new
    assert bool(changes) == (before != after)


def test_what_stays_keeps_its_comments() -> None:
    text = HOUSE.replace("{on: L2-N, power: 1 kW}", "{on: L2-N, power: 1 kW}   # dryer")
    before = parse(text).data["places"]["house panel"]
    after = {**before, "loads": [before["loads"][1]], "note": "seen"}
    new = set_values(text, changes_between(before, after, PLACE))
    assert "# dryer" in new
    assert "# the first disconnect after the meter" in new
    assert "2 kW" not in new
    assert read(new).places["house panel"].note == "seen"


def test_a_place_takes_with_it_what_it_feeds_and_what_is_joined_to_it() -> None:
    data = parse(HOUSE).data
    assert set(hanging_on(data, "places", "garage panel")) == {
        ("places", "garage panel"), ("runs", "garage feeder"), ("electrodes", "garage rods"),
    }  # fmt: skip
    assert ("places", "garage panel") in hanging_on(data, "places", "house panel")
    assert ("places", "garage panel") in hanging_on(data, "runs", "garage feeder")
    assert hanging_on(data, "electrodes", "house rods") == (("electrodes", "house rods"),)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_whatever_is_taken_out_nothing_dangles(path: Path) -> None:
    text = path.read_text("utf-8")
    data = parse(text).data
    for table in (*NODE_TABLES, "runs", "electrodes", "metal"):
        for name in data.get(table) or {}:
            gone = hanging_on(data, table, name)
            _, source = spliced(text, without(data, gone))
            names = {id for node in NODE_TABLES for id in source.data.get(node) or {}}
            if not source.data["places"] or not source.data.get("runs"):
                continue
            for run in source.data["runs"].values():
                assert {str(run["from"]), str(run["to"])} <= {str(n) for n in names}, (table, name)


def test_a_value_is_removed_among_others() -> None:
    new = set_values(HOUSE, [(("runs", "garage feeder", "raceway"), REMOVED),
                             (("runs", "garage feeder", "length"), "61 ft")])  # fmt: skip
    run = read(new).runs["garage feeder"]
    assert run.raceway is None
    assert run.length == pytest.approx(61 * 0.3048)
    with pytest.raises(EditError, match="nothing at"):
        set_values(HOUSE, [(("runs", "no such run"), REMOVED)])


@pytest.mark.parametrize("name", STARTERS)
def test_a_starter_is_a_sound_site(name: str) -> None:
    assert read(starter(name)).places


def test_an_unknown_starter_is_told() -> None:
    with pytest.raises(KeyError, match="there are house"):
        starter("castle")


def test_what_is_wrong_knows_its_path() -> None:
    from bondwright.site.site_error import SiteError

    text = HOUSE.replace("length: 60 ft", "length: 60").replace("    lines: 6 AWG Cu\n", "")
    with pytest.raises(SiteError) as caught:
        read(text)
    found = {problem.loc for problem in caught.value.problems}
    assert found == {("runs", "garage feeder", "length"), ("runs", "garage feeder", "lines")}
