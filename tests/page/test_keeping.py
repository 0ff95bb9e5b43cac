"""Saving to the file: whole, in order, and never over what somebody else wrote."""

from __future__ import annotations

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import pytest

from bondwright.page.keepers import ChangedElsewhereError, FileKeeper
from bondwright.site.reader import load
from bondwright.site.starters import starter
from tests.page.serving import FARMHOUSE, ROOT
from tests.page.test_describe import FEEDER, Writer


@pytest.fixture
def writer(tmp_path: Path) -> Writer:
    path = tmp_path / "farmhouse.yaml"
    path.write_bytes(FARMHOUSE.read_bytes())
    return Writer(path)


def _lengthen(writer: Writer, to: str) -> None:
    writer.change("runs", FEEDER, {**writer.entry("runs", FEEDER), "length": to})


def test_saving_writes_what_the_page_shows(writer: Writer) -> None:
    nothing = writer.post("/api/save", {}, 409)
    assert "nothing was changed" in nothing["problems"][0]["problem"]
    _lengthen(writer, "150 ft")
    writer.path.chmod(0o640)
    kept = writer.post("/api/save", {})
    assert (kept["kind"], kept["unsaved"], kept["where"]) == ("file", False, "farmhouse.yaml")
    assert writer.path.read_text("utf-8") == writer.desk.text
    assert writer.path.stat().st_mode & 0o777 == 0o640
    assert load(writer.path).runs[FEEDER].length == pytest.approx(45.72)
    assert [one.name for one in writer.path.parent.iterdir()] == ["farmhouse.yaml"]
    undone = writer.post("/api/edit", {"action": "undo"})
    assert undone["edits"]["unsaved"]


def test_a_file_that_is_not_there_begins_from_a_starter(tmp_path: Path) -> None:
    writer = Writer(tmp_path / "new.yaml")
    kept = writer.get("/api/kept")
    assert (kept["new"], kept["unsaved"], kept["elsewhere"]) == (True, True, "")
    assert not writer.path.exists()
    writer.post("/api/save", {})
    assert writer.path.read_text("utf-8") == starter("house")
    assert not writer.get("/api/kept")["new"]


def test_what_somebody_else_wrote_is_not_overwritten(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    theirs = FARMHOUSE.read_text("utf-8").replace("90 ft", "95 ft")
    writer.path.write_text(theirs, "utf-8")
    assert "written by something else" in writer.get("/api/kept")["elsewhere"]
    told = writer.post("/api/save", {}, 409)
    assert "Nothing was written" in told["problems"][0]["problem"]
    assert writer.path.read_text("utf-8") == theirs

    taken = writer.post("/api/take-theirs", {"mine": False})
    assert not taken["edits"]["unsaved"]
    assert writer.desk.text == theirs
    mine = writer.post("/api/edit", {"action": "undo"})
    assert mine["edits"]["unsaved"]
    writer.post("/api/edit", {"action": "redo"})
    _lengthen(writer, "160 ft")
    writer.post("/api/save", {})
    assert "160 ft" in writer.path.read_text("utf-8")
    assert "95 ft" in writer.path.read_text("utf-8")


def test_ones_own_is_put_on_top_only_when_one_says_so(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    own = writer.desk.text
    writer.path.write_text("site: broken\n", "utf-8")
    told = writer.post("/api/take-theirs", {"mine": False}, 422)
    assert "lacks" in told["problems"][0]["problem"]
    writer.post("/api/save", {}, 409)
    assert writer.path.read_text("utf-8") == "site: broken\n"
    writer.post("/api/take-theirs", {"mine": True})
    writer.post("/api/save", {})
    assert writer.path.read_text("utf-8") == own


def test_ones_own_and_theirs_come_together(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    theirs = FARMHOUSE.read_text("utf-8").replace("90 ft", "95 ft  # paced", 1)
    writer.path.write_text(theirs, "utf-8")
    taken = writer.post("/api/take-theirs", {"mine": True})
    assert taken["edits"]["undoes"] == "yours together with theirs"
    writer.post("/api/save", {})
    saved = writer.path.read_text("utf-8")
    assert "95 ft  # paced" in saved
    assert load(writer.path).runs[FEEDER].length == pytest.approx(45.72)


def test_what_both_changed_is_told(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    other = Writer(writer.path)
    _lengthen(other, "160 ft")
    other.post("/api/save", {})
    taken = writer.post("/api/take-theirs", {"mine": True})
    told = taken["edits"]["undoes"]
    assert told == f"yours together with theirs; both changed {FEEDER} length: yours stands"
    assert load(writer.path).runs[FEEDER].length == pytest.approx(160 * 0.3048)
    writer.post("/api/save", {})
    assert load(writer.path).runs[FEEDER].length == pytest.approx(45.72)


def test_two_that_do_not_go_together_are_left_as_they_are(writer: Writer) -> None:
    """One feeds something from a panel that the other takes out."""
    feeds = {"from": "pump house panel", "to": "shed", "length": "20 ft", "lines": "12 AWG Cu",
             "neutral": "12 AWG Cu", "on": ["L1"], "device": "20 A breaker"}  # fmt: skip
    panel = {"table": "places", "was": "", "id": "shed", "entry": {"kind": "panel"}}
    run = {"table": "runs", "was": "", "id": "shed run", "entry": feeds}
    writer.post("/api/describe", {"changes": [panel, run]})
    own, theirs = writer.desk.text, Writer(writer.path)
    out = {"table": "places", "was": "pump house panel", "entry": None}
    theirs.post("/api/describe", {"changes": [out]})
    theirs.post("/api/save", {})
    told = writer.post("/api/take-theirs", {"mine": True}, 409)["problems"][0]["problem"]
    assert "don't go together" in told
    assert "Look at theirs" in told
    assert writer.desk.text == own
    writer.post("/api/save", {}, 409)
    assert writer.path.read_text("utf-8") == theirs.desk.text
    writer.post("/api/take-theirs", {"mine": False})
    writer.post("/api/edit", {"action": "undo"})
    assert writer.desk.text == own
    writer.post("/api/save", {})
    assert writer.path.read_text("utf-8") == own


def test_a_file_touched_but_the_same_is_no_conflict(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    os.utime(writer.path, ns=(1, 1))
    assert writer.get("/api/kept")["elsewhere"] == ""
    writer.post("/api/save", {})


def test_a_file_that_was_taken_away_is_told(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    writer.path.unlink()
    assert "no longer there" in writer.get("/api/kept")["elsewhere"]
    writer.post("/api/save", {}, 409)
    writer.post("/api/take-theirs", {"mine": True})
    writer.post("/api/save", {})
    assert "150 ft" in writer.path.read_text("utf-8")


def test_two_pages_of_one_file_do_not_overwrite_each_other(writer: Writer) -> None:
    other = FileKeeper(writer.path)
    text = other.read()
    _lengthen(writer, "150 ft")
    writer.post("/api/save", {})
    with pytest.raises(ChangedElsewhereError):
        other.save(text + "# x\n", "", "")
    assert "# x" not in writer.path.read_text("utf-8")


def test_a_folder_that_cannot_be_written_is_told(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    away = writer.path.parent.with_name("away")
    keeper = writer.desk.keeper
    assert isinstance(keeper, FileKeeper)
    keeper.new = False
    writer.path.parent.rename(away)
    told = writer.post("/api/save", {}, 409)
    assert "is gone" in told["problems"][0]["problem"]
    assert writer.get("/api/kept")["unsaved"]


def test_the_file_can_be_taken_along(writer: Writer) -> None:
    _lengthen(writer, "150 ft")
    answer = writer.client.get("/api/file")
    assert answer.text == writer.desk.text
    assert answer.headers["content-disposition"].endswith("farmhouse.yaml")


WRITER = """
import sys
from pathlib import Path
from bondwright.page.keepers import FileKeeper
keeper = FileKeeper(Path(sys.argv[1]))
text = keeper.read().partition("#!")[0]
number = int(sys.argv[2])
while True:
    number += 1
    keeper.save(f"{text}#! {number} " + "x" * 400_000 + " end", "", "")
    print(number, flush=True)
"""


def test_a_writer_that_is_killed_leaves_the_old_file_or_the_new_one(tmp_path: Path) -> None:
    path, luck, last = tmp_path / "site.yaml", random.Random(5), 0
    path.write_text(starter("house"), "utf-8")
    env = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
    for _ in range(4):
        command = [sys.executable, "-c", WRITER, str(path), str(last)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=env) as writer:
            assert writer.stdout is not None
            heard = [writer.stdout.readline()]
            time.sleep(luck.random() * 0.1)
            writer.kill()
            heard += writer.stdout.readlines()
        last = int([line for line in heard if line.endswith("\n")][-1])
        text, _, mark = path.read_text("utf-8").partition("#!")
        assert text == starter("house")
        assert mark.endswith("x end")
        assert len(mark.split()[1]) == 400_000
        assert int(mark.split()[0]) in (last, last + 1)
        last = int(mark.split()[0])
