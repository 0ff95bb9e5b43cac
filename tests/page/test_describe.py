"""Describing a site by forms and as text: two views of one file."""

from __future__ import annotations

import base64
import difflib
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from bondwright.exchange.sheets import workbook
from bondwright.page.app import create_app
from bondwright.page.describe import entry_answer
from bondwright.page.desk import Desk, fault_key
from bondwright.page.forms import TABLES, forms
from bondwright.page.keepers import FileKeeper
from bondwright.page.wire_describe import FieldInfo
from bondwright.site.reader import load, read
from bondwright.site.shape import Shape, site_shape
from bondwright.site.source_text import parse
from bondwright.site.starters import STARTERS, starter
from bondwright.studies.fault_model import Fault, FaultKind
from tests.page.serving import FARMHOUSE, ROOT

OWN = "http://127.0.0.1:8642"
EXAMPLES = sorted((ROOT / "examples").glob("*.yaml"))
FEEDER = "pump house feeder"


class Writer:
    """Describes as the page does."""

    def __init__(self, path: Path) -> None:
        self.path = path
        keeper = FileKeeper(path)
        text = keeper.read()
        self.desk = Desk(keeper.site(text), path.name, text, keeper)
        if keeper.new:
            self.desk.saved = ""
        self.client = TestClient(create_app(self.desk, 8642), base_url=OWN)
        self.client.headers["origin"] = OWN

    def get(self, path: str, **query: str) -> Any:
        answer = self.client.get(path, params=query)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, body: dict[str, Any], status: int = 200) -> Any:
        answer = self.client.post(path, json={"view": {}, **body})
        assert answer.status_code == status, answer.text
        return answer.json()

    def view(self, **view: str) -> Any:
        answer = self.client.post("/api/view", json=view)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def entry(self, table: str, id: str) -> dict[str, Any]:
        found: dict[str, Any] = self.get("/api/entry", table=table, id=id)["entry"]
        return found

    def change(self, table: str, was: str, entry: Any, id: str = "", status: int = 200) -> Any:
        change = {"table": table, "was": was, "id": id, "entry": entry}
        return self.post("/api/describe", {"changes": [change]}, status)

    def changed_lines(self) -> list[str]:
        old, new = FARMHOUSE.read_text("utf-8"), self.desk.text
        lines = difflib.ndiff(old.splitlines(), new.splitlines())
        return [line.rstrip() for line in lines if line[0] in "+-"]


@pytest.fixture
def writer(tmp_path: Path) -> Writer:
    path = tmp_path / "farmhouse.yaml"
    path.write_bytes(FARMHOUSE.read_bytes())
    return Writer(path)


def _keys(fields: list[FieldInfo]) -> dict[str, Any]:
    return {field.key: _keys(field.fields) for field in fields}


def _shape_keys(shape: Shape) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, part in shape.fields.items():
        inner = part.item if part.kind == "list" else part
        group = inner is not None and inner.kind == "group"
        found[key] = _shape_keys(inner) if group and inner is not None else {}
    return found


@pytest.mark.parametrize("table", TABLES)
def test_a_form_has_every_key_that_the_file_knows(table: str) -> None:
    form = next(form for form in forms() if form.table == table)
    item = site_shape().fields[table].item
    assert item is not None
    assert _keys(form.fields) == _shape_keys(item)
    assert any(field.main for field in form.fields)


def test_every_key_of_a_site_is_in_a_form_or_is_one() -> None:
    own = {field.key for field in forms()[0].fields}
    assert own | set(TABLES) == set(site_shape().fields)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_what_a_form_shows_says_the_same_again(path: Path) -> None:
    text = path.read_text("utf-8")
    desk = Desk(load(path), path.name, text)
    client = TestClient(create_app(desk, 8642), base_url=OWN, headers={"origin": OWN})
    data = parse(text).data
    for table in TABLES:
        for id in data.get(table) or {}:
            entry = entry_answer(desk, table, id).entry
            change = {"table": table, "was": id, "id": id, "entry": entry}
            answer = client.post("/api/describe", json={"changes": [change], "view": {}})
            assert answer.status_code == 409, (table, id, answer.text)
            assert "nothing differs" in answer.text
    assert desk.text == text


def test_one_field_changes_one_line(writer: Writer) -> None:
    entry = writer.entry("runs", FEEDER)
    answer = writer.change("runs", FEEDER, {**entry, "length": "150 ft"})
    assert writer.changed_lines() == ["-     length: 220 ft", "+     length: 150 ft"]
    assert answer["edits"]["described"] == [f"{FEEDER}: length 220 ft to 150 ft"]
    assert answer["edits"]["unsaved"]
    assert writer.desk.site.runs[FEEDER].length == pytest.approx(150 * 0.3048)
    assert writer.path.read_bytes() == FARMHOUSE.read_bytes()


def test_answers_follow_the_description(writer: Writer) -> None:
    before = writer.view()
    entry = writer.entry("places", "farmhouse panel")
    entry["loads"] = [{"on": "L1-N", "power": "7.2 kW"}]
    after = writer.change("places", "farmhouse panel", entry)
    assert after["drawing"] != before["drawing"]
    assert after["headline"] != before["headline"]
    back = writer.post("/api/edit", {"action": "undo"})
    assert (back["drawing"], back["headline"]) == (before["drawing"], before["headline"])


@pytest.mark.parametrize(
    ("key", "value", "path", "words"),
    [
        ("length", "9 parsecs", ["length"], "parsecs"),
        ("length", "90", ["length"], "unit"),
        ("lines", "4 AWG tin", ["lines"], ""),
        ("device", "60 amp braker", ["device"], "breaker"),
        ("length", "", ["length"], "lacks"),
        ("from", "nowhere", ["from"], "is not the id"),
        ("raceway", {"kind": "bamboo", "size": "1 in"}, ["raceway", "kind"], "known"),
        ("raceway", {}, ["raceway", "kind"], "lacks"),
        ("installed", "long ago", ["installed"], "whole number"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(
    writer: Writer, key: str, value: Any, path: list[str], words: str
) -> None:
    entry = {**writer.entry("runs", FEEDER), key: value}
    told = writer.change("runs", FEEDER, entry, status=422)
    found = [problem for problem in told["problems"] if problem["path"][2:] == path]
    assert found, told
    assert words in f"{found[0]['problem']} {found[0]['hint']}"
    assert found[0]["line"] > 0
    assert writer.changed_lines() == []
    assert not writer.get("/api/kept")["unsaved"]


def test_a_place_comes_with_the_run_that_feeds_it(writer: Writer) -> None:
    drawn = {"on": "L1-L2", "power": "2 hp", "pf": "0.8", "harmonics": "{5: 20 %}", "motor": {}}
    place = {"table": "places", "id": "press", "entry": {"kind": "equipment", "loads": [drawn]}}
    run = {"table": "runs", "id": "press branch", "entry": {
        "from": "pump house panel", "to": "press", "length": "30 ft", "lines": "12 AWG Cu",
        "device": "20 A breaker", "neutral": "none"}}  # fmt: skip
    alone = writer.post("/api/describe", {"changes": [place]}, 422)
    assert "fed by no run" in alone["problems"][0]["problem"]
    answer = writer.post("/api/describe", {"changes": [place, run]})
    assert answer["edits"]["undoes"] == "place press added; run press branch added"
    load = writer.desk.site.places["press"].loads[0]
    assert load.power == pytest.approx(2 * 745.7, rel=1e-3)
    assert (load.pf, load.harmonics[5]) == (0.8, 0.2)
    assert load.motor is not None
    assert all(line.startswith("+") for line in writer.changed_lines())


def test_what_hangs_on_a_place_goes_with_it(writer: Writer) -> None:
    told = writer.get("/api/entry", table="places", id="pump house panel")
    assert set(told["hanging"]) == {
        "run pump house feeder", "run pump branch", "place well pump", "electrode pump house rods",
    }  # fmt: skip
    writer.change("places", "pump house panel", None)
    site = writer.desk.site
    assert not {"pump house panel", "well pump"} & set(site.places)
    assert "pump house rods" not in site.electrodes
    assert all(line.startswith("-") for line in writer.changed_lines())


def test_a_new_name_is_followed_everywhere(writer: Writer) -> None:
    entry = writer.entry("places", "pump house panel")
    writer.change("places", "pump house panel", entry, id="pump panel")
    assert writer.desk.site.runs[FEEDER].to == "pump panel"
    assert "pump house panel" not in writer.desk.text
    told = writer.change("places", "pump panel", entry, id="meter", status=409)
    assert "taken" in told["problems"][0]["problem"]


def test_undo_and_redo_go_over_ties_and_description_alike(writer: Writer) -> None:
    writer.post("/api/edit", {"action": "put on", "name": "pump house panel"})
    entry = writer.entry("runs", FEEDER)
    writer.change("runs", FEEDER, {**entry, "length": "100 ft"})
    assert [edit.name for edit in writer.desk.edits.done] == ["pump house panel"]
    off = writer.post("/api/edit", {"action": "take off", "name": "main bonding jumper"}, 409)
    assert "is no tie" in off["problems"][0]["problem"]
    assert writer.post("/api/edit", {"action": "undo"})["edits"]["unsaved"] is False
    assert writer.desk.edits.done
    writer.post("/api/edit", {"action": "undo"})
    assert not writer.desk.edits.done
    writer.post("/api/edit", {"action": "redo"})
    answer = writer.post("/api/edit", {"action": "redo"})
    assert writer.desk.site.runs[FEEDER].length == pytest.approx(30.48)
    assert writer.desk.edits.done
    assert not answer["edits"]["can_redo"]


def test_a_tie_whose_place_is_gone_is_forgotten(writer: Writer) -> None:
    writer.post("/api/edit", {"action": "put on", "name": "pump house panel"})
    writer.change("places", "pump house panel", None)
    assert writer.desk.edits.done == ()
    writer.post("/api/edit", {"action": "undo"})
    assert writer.desk.edits.done


def test_a_fault_that_is_gone_is_no_longer_shown(writer: Writer) -> None:
    fault = fault_key(Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
    view = {"show": "fault", "fault": fault}
    assert writer.view(**view)["show"] == "fault"
    change = {"table": "places", "was": "well pump", "entry": None}
    answer = writer.post("/api/describe", {"changes": [change], "view": view})
    assert (answer["show"], answer["fault"]) == ("normal", None)


def test_ties_of_the_page_are_written_down(writer: Writer) -> None:
    writer.post("/api/edit", {"action": "put on", "name": "pump house panel"})
    answer = writer.post("/api/edit", {"action": "keep ties"})
    assert answer["edits"]["done"] == []
    ties = writer.desk.site.ties
    assert ties is not None
    assert {tie.at for tie in ties.values()} == {
        *(tie.at for tie in Desk(load(FARMHOUSE)).plan.ties), "pump house panel",
    }  # fmt: skip
    assert "A tie stands where none belongs" in answer["headline"]


def test_one_tie_described_keeps_those_that_the_plan_placed(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(starter("house"), "utf-8")
    writer = Writer(path)
    designed = {tie.at for tie in writer.desk.plan.ties}
    assert writer.desk.site.ties is None
    writer.change("ties", "", {"at": "garage panel", "by": "screw"}, id="wrong one")
    assert {tie.at for tie in writer.desk.plan.ties} == {*designed, "garage panel"}


def test_text_is_taken_over_or_told_by_line_and_column(writer: Writer) -> None:
    text = writer.get("/api/text")["text"]
    assert text == FARMHOUSE.read_text("utf-8")
    wrong = text.replace("length: 220 ft", "length: 220 fet")
    line = next(k for k, row in enumerate(wrong.splitlines(), 1) if "220 fet" in row)
    told = writer.post("/api/text", {"text": wrong}, 422)["problems"][0]
    assert (told["line"], told["column"]) == (line, 13)
    assert writer.post("/api/text/check", {"text": wrong})["problems"] == [told]
    broken = writer.post("/api/text", {"text": text + "runs: [\n"}, 422)["problems"][0]
    assert broken["line"] > 0
    writer.post("/api/text", {"text": text.replace("220 ft", "200 ft") + "# mine\n"})
    assert writer.desk.text.endswith("# mine\n")
    writer.change("runs", FEEDER, {**writer.entry("runs", FEEDER), "length": "210 ft"})
    assert writer.desk.text.endswith("# mine\n")


def test_line_ends_stay_those_of_the_file(tmp_path: Path) -> None:
    path = tmp_path / "site.yaml"
    path.write_bytes(starter("house").replace("\n", "\r\n").encode())
    writer = Writer(path)
    shown = writer.get("/api/text")["text"].replace("\r\n", "\n")
    writer.post("/api/text", {"text": shown.replace("60 ft", "61 ft")})
    assert writer.desk.text == starter("house").replace("60 ft", "61 ft").replace("\n", "\r\n")


@pytest.mark.parametrize("name", STARTERS)
def test_a_starter_is_sound_and_can_be_begun_from(writer: Writer, name: str) -> None:
    answer = writer.post("/api/text", {"starter": name})
    assert answer["edits"]["unsaved"]
    assert writer.desk.text == starter(name)
    assert read(starter(name)).site.startswith("My ")
    assert not [f for f in writer.desk.findings() if f.severity in ("danger", "falls short")]


SCHEDULE = """Panel PB1,,,,,
Circuit,Description,Breaker,Poles,Wire,Length (ft)
1,Lights,20,1,12 Cu,45
2/4,Compressor,30,2,10 Cu,70
3,Cider press,2O,1,12 Cu,30
5,Spare,20,1,,
7,Outlets,20,1,12 Cu,
Total,,,,,
"""


def test_every_row_of_a_schedule_is_accounted_for(writer: Writer) -> None:
    asked = {"panel": "pump house panel", "text": SCHEDULE}
    told = writer.post("/api/schedule/read", asked)
    assert told["adds"] == ["lights", "compressor"]
    assert {row["where"] for row in told["doubts"]} == {"A5", "A7"}
    assert "how long" in next(row["problem"] for row in told["doubts"] if row["where"] == "A7")
    assert {row["where"] for row in told["remarks"]} == {"A1", "A8"}
    assert [row["what"] for row in told["circuits"]] == ["Lights", "Compressor", "spare", "Outlets"]
    assert writer.changed_lines() == []
    more = writer.post("/api/schedule/read", {**asked, "length": "60 ft"})
    assert more["adds"] == ["lights", "compressor", "outlets"]
    answer = writer.post("/api/schedule/add", {**asked, "length": "60 ft"})
    assert answer["edits"]["undoes"] == "3 circuits added to pump house panel"
    assert writer.desk.site.runs["compressor branch"].on == ["L1", "L2"]
    assert all(line.startswith("+") for line in writer.changed_lines())


def test_a_schedule_comes_as_a_workbook_too(writer: Writer) -> None:
    rows = [line.split(",") for line in SCHEDULE.splitlines()]
    data = base64.b64encode(workbook([("PB1", rows), ("PB2", rows[:3])])).decode()
    asked = {"panel": "pump house panel", "file": data}
    told = writer.post("/api/schedule/read", asked)
    assert told["sheets"] == ["PB1", "PB2"]
    assert told["adds"] == ["lights", "compressor"]
    other = writer.post("/api/schedule/read", {**asked, "sheet": "PB2"})
    assert other["adds"] == ["lights"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"text": ""}, "nothing in it"),
        ({"text": "a,b\nc,d\n"}, "no row names the columns"),
        ({"file": "%%%"}, "did not arrive whole"),
        ({"text": SCHEDULE, "panel": "nowhere"}, "no place 'nowhere'"),
        ({"text": SCHEDULE, "length": "far"}, "far"),
    ],
)
def test_a_schedule_that_cannot_be_used_is_refused(
    writer: Writer, asked: dict[str, str], words: str
) -> None:
    told = writer.post("/api/schedule/read", {"panel": "pump house panel", **asked}, 422)
    assert words in told["problems"][0]["problem"]
