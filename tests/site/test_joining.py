"""Two people's changes of one file: what only one changed stands, whoever is asked first."""

from __future__ import annotations

import copy
import random
from pathlib import Path
from typing import Any

import pytest

from bondwright.site import read
from bondwright.site.joining import joined
from bondwright.site.starters import starter
from bondwright.site.writer import REMOVED, set_values, spliced, split

FARM = (Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml").read_text("utf-8")
HOUSE = starter("house")


def _set(text: str, *changes: tuple[tuple[str | int, ...], object]) -> str:
    return set_values(text, changes)


def _data(text: str) -> Any:
    return split(text).data


def test_each_keeps_what_only_they_changed() -> None:
    own = _set(HOUSE, (("runs", "garage feeder", "length"), "80 ft"))
    theirs = _set(HOUSE, (("places", "garage panel", "note"), "behind the door"))
    found = joined(HOUSE, own, theirs)
    assert found.both == ()
    assert not found.left
    wanted = copy.deepcopy(_data(HOUSE))
    wanted["runs"]["garage feeder"]["length"] = "80 ft"
    wanted["places"]["garage panel"]["note"] = "behind the door"
    assert _data(found.text) == wanted
    assert _data(joined(HOUSE, theirs, own).text) == wanted
    read(found.text)


def test_what_both_changed_is_told_and_ones_own_stands() -> None:
    length = ("runs", "garage feeder", "length")
    own = _set(HOUSE, (length, "80 ft"))
    theirs = _set(HOUSE, (length, "70 ft"), (("places", "garage panel", "note"), "as found"))
    found = joined(HOUSE, own, theirs)
    assert found.both == ("garage feeder length",)
    assert _data(found.text)["runs"]["garage feeder"]["length"] == "80 ft"
    assert _data(found.text)["places"]["garage panel"]["note"] == "as found"


def test_what_both_changed_alike_is_no_matter() -> None:
    own = _set(HOUSE, (("runs", "garage feeder", "length"), "80 ft"))
    found = joined(HOUSE, own, own)
    assert (found.text, found.both) == (own, ())


def test_comments_of_theirs_stay_and_of_ones_own_are_told() -> None:
    theirs = HOUSE.replace("runs:\n", "runs:  # walked on Monday\n", 1)
    assert theirs != HOUSE
    own = _set(HOUSE, (("runs", "garage feeder", "length"), "80 ft"))
    assert "# walked on Monday" in joined(HOUSE, own, theirs).text
    assert joined(HOUSE, own + "# dig here\n", theirs).left


def test_an_entry_that_one_took_out_and_the_other_changed() -> None:
    """One's own stands: it is taken out, or comes back whole."""
    gone = spliced(HOUSE, [(("runs", "garage feeder"), REMOVED)])[0]
    changed = _set(HOUSE, (("runs", "garage feeder", "length"), "80 ft"))
    out = joined(HOUSE, gone, changed)
    assert out.both == ("garage feeder",)
    assert "garage feeder" not in _data(out.text)["runs"]
    back = joined(HOUSE, changed, gone)
    assert back.both == ("garage feeder",)
    assert _data(back.text)["runs"] == {
        **_data(gone)["runs"], "garage feeder": _data(changed)["runs"]["garage feeder"],
    }  # fmt: skip
    neither = joined(HOUSE, gone, gone)
    assert (_data(neither.text), neither.both) == (_data(gone), ())


def test_a_list_that_both_changed_is_one_thing() -> None:
    base = _set(HOUSE, (("runs", "garage feeder", "on"), ["L1", "L2"]))
    at = ("runs", "garage feeder", "on")
    own = spliced(base, [((*at, 1), REMOVED)])[0]
    theirs = spliced(base, [((*at, 0), REMOVED)])[0]
    found = joined(base, own, theirs)
    assert found.both == ("garage feeder on",)
    assert _data(found.text)["runs"]["garage feeder"]["on"] == ["L1"]


@pytest.mark.parametrize("seed", range(30))
def test_changes_of_different_entries_come_together_in_either_order(seed: int) -> None:
    """Each of two changes entries of their own at random; nothing of either is missing after."""
    dice = random.Random(seed)
    data = _data(FARM)
    entries = [
        (table, name)
        for table in ("places", "runs", "sources", "electrodes")
        for name, entry in data.get(table, {}).items()
        if isinstance(entry, dict)
    ]
    dice.shuffle(entries)
    half = dice.randint(1, len(entries) - 1)
    wanted = copy.deepcopy(data)
    texts = []
    for who, part in (("one", entries[:half]), ("the other", entries[half:])):
        text = FARM
        for table, name in part:
            note = f"{who} {dice.random()}"
            text = spliced(text, [((table, name, "note"), note)])[0]
            wanted[table][name]["note"] = note
            if table == "runs" and dice.random() < 0.5:
                length = f"{dice.randint(5, 90)} ft"
                text = spliced(text, [((table, name, "length"), length)])[0]
                wanted[table][name]["length"] = length
        texts.append(text)
    for own, theirs in (texts, texts[::-1]):
        found = joined(FARM, own, theirs)
        assert (found.both, found.left) == ((), False)
        assert _data(found.text) == wanted
        read(found.text)
