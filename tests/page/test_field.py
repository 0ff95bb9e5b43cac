"""The hunt's readings as the server keeps them, against the hunt by itself and its command."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, cast

import pytest
from click.testing import CliRunner
from fastapi.testclient import TestClient

from bondwright.cli.main import main
from bondwright.explain.hunt import headline
from bondwright.page import hunted
from bondwright.page.app import create_app
from bondwright.page.edits import Edit
from bondwright.page.field import FieldHunt, hunt_form
from bondwright.page.hunted import ranked, targets_of
from bondwright.page.notebook import MOST, FullError, Notebook, as_csv, sifted
from bondwright.page.ranker import Question, Ranker
from bondwright.page.wire_field import Note
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.site.reader import load
from bondwright.studies.hunt.hypotheses import singles
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.next_reading import grouped, ports_of
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import hunt
from bondwright.studies.hunt.readings import read_readings
from bondwright.studies.hunt.staged import everything
from tests.page.serving import FARMHOUSE, WHOLE_DEMO, farmhouse

OWN = "http://127.0.0.1:8642"
LONG_S = 60.0


def note(key: str, value: str = "4.9 A", **more: str) -> Note:
    """A reading on the feeder's bonding conductor."""
    row = {"what": "current", "where": "pump house feeder", "of": "EGC", "meter": "load clamp"}
    return Note(key=key, value=value, **{**row, **more})


TWO = (
    note("first reading"),
    note("second reading", "0.02 V", what="voltage", where="pump house panel", of="N-G",
         meter="multimeter", time="2026-06-01T14:03:00+02:00"),
)  # fmt: skip


def settled(client: TestClient) -> dict[str, Any]:
    """The hunt's answer when nothing is being ranked any more."""
    end = time.monotonic() + LONG_S
    while True:
        answer: dict[str, Any] = client.get("/api/hunt").json()
        if answer["status"] != "ranking":
            return answer
        assert time.monotonic() < end, answer
        time.sleep(0.02)


@pytest.fixture
def client() -> Iterator[TestClient]:
    with TestClient(create_app(farmhouse(), 8642), base_url=OWN, headers={"origin": OWN}) as made:
        yield made


def test_a_reading_that_is_sent_twice_is_kept_once() -> None:
    book = Notebook()
    assert book.take(TWO)
    assert not book.take(TWO)
    assert book.notes == TWO


def test_what_was_forgotten_does_not_come_back() -> None:
    book = Notebook()
    book.take(TWO)
    assert book.take((), ["first reading"])
    assert not book.take(TWO)
    assert [n.key for n in book.notes] == ["second reading"]
    assert not book.take((), ["first reading"])


def test_forgetting_and_sending_in_one_forgets() -> None:
    book = Notebook()
    assert not book.take([note("never there")], ["never there"])
    assert book.notes == ()


def test_too_many_readings_are_refused_and_none_is_lost() -> None:
    book = Notebook()
    book.take([note(f"reading {k}") for k in range(MOST)])
    with pytest.raises(FullError, match=f"{MOST} readings"):
        book.take([note("one too many")])
    assert len(book.notes) == MOST
    book.take([note("one too many")], ["reading 0"])
    assert book.notes[-1].key == "one too many"


def test_a_server_that_was_started_anew_has_another_name() -> None:
    assert Notebook().born != Notebook().born


@pytest.mark.parametrize(
    ("changed", "field", "hint"),
    [
        ({"where": "pump hous feeder"}, "where", "pump house feeder"),
        ({"of": "L3"}, "of", "EGC"),
        ({"value": "4.9"}, "value", ""),
        ({"meter": "crystal ball"}, "meter", ""),
        ({"state": "the moon full"}, "state", "no load"),
        ({"what": "feeling"}, "what", "current"),
    ],
)
def test_what_cannot_be_used_is_said_beside_its_field(
    changed: dict[str, str], field: str, hint: str
) -> None:
    network = network_at(plan(load(FARMHOUSE)), Moment())
    bad = note("a bad reading").model_copy(update=changed)
    good, problems = sifted([bad, *TWO], network)
    assert len(good) == 2
    assert {(p.key, p.field) for p in problems} == {("a bad reading", field)}
    assert hint in problems[0].hint


def test_the_table_is_what_the_command_reads(tmp_path: Any) -> None:
    bad = note("a bad reading", where="nowhere", note='said "hm",\nthen left')
    path = tmp_path / "readings.csv"
    path.write_text(as_csv([*TWO, bad], {"a bad reading"}))
    said = CliRunner().invoke(main, ["hunt", str(FARMHOUSE), str(path), "--json", "--next"])
    by_command = json.loads(said.output)
    network = network_at(plan(load(FARMHOUSE)), Moment())
    good, _ = sifted([*TWO, bad], network)
    by_page = ranked(load(FARMHOUSE), good)
    assert by_page.headline == by_command["headline"]
    assert [(a.where, a.of, a.state) for a in by_page.asks[:3]] == [
        (one["where"], one["of"], one["state"]) for one in by_command["next"]
    ]
    assert "2026-06-01T14:03:00+02:00" in path.read_text()


def test_the_ranking_is_the_hunts_own() -> None:
    made = plan(load(FARMHOUSE))
    network = network_at(made, Moment())
    good, _ = sifted(TWO, network)
    by_page = ranked(load(FARMHOUSE), good)
    asked = everything(network, made)
    text = "what,where,of,value,with\ncurrent,pump house feeder,EGC,4.9 A,load clamp\n"
    text += "voltage,pump house panel,N-G,0.02 V,multimeter\n"
    alone = grouped(hunt(made, read_readings(text, network), more=ports_of(asked)), asked)
    assert by_page.headline == headline(alone)
    assert by_page.causes[0].share == pytest.approx(alone.causes[0].probability, abs=1e-4)
    assert by_page.causes[0].targets[0].id == "pump house panel"


def test_nothing_that_is_asked_for_lifts_anything() -> None:
    for path in (FARMHOUSE, WHOLE_DEMO):
        made = plan(load(path))
        form = hunt_form(made, network_at(made, Moment()))
        asked = ranked(load(path), ()).asks
        said = [a.state for a in asked] + [s.value for s in form.states]
        assert not [text for text in said if "lifted" in text or text.endswith(" out")]
        assert asked[0].cautions == [] or "qualified" in " ".join(asked[0].cautions)


def test_a_large_site_is_asked_for_less(monkeypatch: pytest.MonkeyPatch) -> None:
    few = {a.state for a in ranked(load(WHOLE_DEMO), ()).asks}
    monkeypatch.setattr(hunted, "MOST_ASKED", 100)
    hunted._ground.cache_clear()
    less = ranked(load(WHOLE_DEMO), ()).asks
    hunted._ground.cache_clear()
    assert less
    assert {a.state for a in less} <= {"loads on", *(s for s in few if s.endswith(" off"))}


@pytest.mark.parametrize("path", [FARMHOUSE, WHOLE_DEMO], ids=["farmhouse", "whole demo"])
def test_every_choice_of_the_form_is_a_reading(path: Any) -> None:
    made = plan(load(path))
    network = network_at(made, Moment())
    form = hunt_form(made, network)
    rows = [
        note(f"{q.what} {w.id} {of}", f"1 {q.units[-1]}", what=q.what, where=w.id, of=of, meter=m)
        .model_copy(update={"key": "of the form"})
        for q in form.quantities
        for w in q.wheres
        for of in w.of or [""]
        for m in q.meters[:1]
    ]  # fmt: skip
    states = [note("of the form", where=TWO[0].where, state=s.value) for s in form.states]
    if path is FARMHOUSE:
        rows += states
    good, bad = sifted(rows, network)
    assert bad == ()
    assert len(good) > 20


@pytest.mark.parametrize("path", [FARMHOUSE, WHOLE_DEMO], ids=["farmhouse", "whole demo"])
def test_every_single_cause_lies_somewhere_in_the_picture(path: Any) -> None:
    made = plan(load(path))
    every = singles(network_at(made, Moment()))
    lost = [v[0].id for v in every if not targets_of(v[0], made)]
    assert lost == []


def test_the_server_keeps_ranks_and_exports(client: TestClient) -> None:
    first = settled(client)
    assert first["result"]["readings"] == 0
    assert first["result"]["asks"]
    body = {"notes": [n.model_dump() for n in TWO]}
    assert client.post("/api/hunt", json=body).status_code == 200
    assert client.post("/api/hunt", json=body).status_code == 200
    answer = settled(client)
    assert [n["key"] for n in answer["notes"]] == [n.key for n in TWO]
    assert answer["result"]["readings"] == 2
    assert "pump house panel" in answer["result"]["causes"][0]["name"]
    table = client.get("/api/hunt/readings.csv")
    assert table.text == as_csv(TWO)
    assert client.post("/api/hunt", json={"forget": ["first reading"]}).status_code == 200
    assert settled(client)["result"]["readings"] == 1


def test_too_many_are_said_in_the_form_of_a_problem(client: TestClient) -> None:
    client.post(
        "/api/hunt", json={"notes": [note(f"reading {k}").model_dump() for k in range(500)]}
    )
    answer = client.post("/api/hunt", json={"notes": [note("one too many").model_dump()]})
    assert answer.status_code == 409
    assert "500 readings" in answer.json()["problems"][0]["problem"]


def _wait(ranker: Ranker) -> None:
    end = time.monotonic() + LONG_S
    while ranker.status == "ranking":
        assert time.monotonic() < end
        time.sleep(0.01)


def test_the_process_stays_and_answers_the_last_question() -> None:
    ranker, site = Ranker(), load(FARMHOUSE)
    good, _ = sifted(TWO, network_at(plan(site), Moment()))
    try:
        for upto in (0, 1, 2):
            ranker.ask(Question(site, good[:upto]))
        _wait(ranker)
        assert ranker.result is not None
        assert ranker.result.readings == 2
        before = ranker._process
        ranker.ask(Question(site, good[:1]))
        _wait(ranker)
        assert ranker.result.readings == 1
        assert ranker._process is before
    finally:
        ranker.close()


def test_a_cancel_ends_it_and_the_last_answer_stays() -> None:
    ranker, site = Ranker(), load(FARMHOUSE)
    try:
        ranker.ask(Question(site, ()))
        _wait(ranker)
        ranker.ask(Question(large_site(1500, 0), ()))
        time.sleep(0.3)
        ranker.cancel()
        assert ranker.status == "cancelled"
        assert ranker.result is not None
        ranker.cancel()
        good, _ = sifted(TWO, network_at(plan(site), Moment()))
        ranker.ask(Question(site, good))
        _wait(ranker)
        assert (ranker.status, ranker.result.readings) == ("ready", 2)
    finally:
        ranker.close()


def test_a_failure_is_told_in_words() -> None:
    ranker, site = Ranker(), load(FARMHOUSE)
    try:
        ranker.ask(Question(cast(Any, "no site"), ()))
        _wait(ranker)
        assert [str(ranker.status), bool(ranker.problem)] == ["failed", True]
        ranker.ask(Question(site, ()))
        _wait(ranker)
        assert [str(ranker.status), ranker.problem] == ["ready", ""]
    finally:
        ranker.close()


def test_the_hunt_is_of_the_file_and_not_of_what_was_changed_on_the_page() -> None:
    desk = farmhouse()
    field = FieldHunt(desk)
    before = field.network()
    desk.change(lambda edits: edits.add(Edit("put on", "pump house panel")))
    assert field.network() is before


def test_a_question_that_follows_a_cancel_at_once_is_answered() -> None:
    ranker, site = Ranker(), load(FARMHOUSE)
    good, _ = sifted(TWO, network_at(plan(site), Moment()))
    try:
        ranker.ask(Question(site, ()))
        _wait(ranker)
        for k in range(4):
            ranker.ask(Question(site, good[: k % 3]))
            ranker.cancel()
            ranker.ask(Question(site, good[: (k + 1) % 3]))
            _wait(ranker)
            assert (str(ranker.status), ranker.problem) == ("ready", "")
            assert ranker.result is not None
            assert ranker.result.readings == (k + 1) % 3
    finally:
        ranker.close()


def test_nothing_is_lost_when_many_send_at_once() -> None:
    book = Notebook()
    those = [[note(f"reading {who} {k}") for k in range(12)] for who in range(8)]

    def send(notes: list[Note]) -> None:
        for one in notes:
            book.take([one])

    with ThreadPoolExecutor(8) as senders:
        list(senders.map(send, those))
    assert len(book.notes) == 96


def test_voltages_at_one_place_come_as_a_picture() -> None:
    """120 and 95 V with 215 between (T11): L2 lies 25 V nearer to the neutral."""
    site = load(Path(__file__).parents[1] / "cases" / "T11-al-splice-120-95.yaml")
    cells = [
        {"what": "voltage", "where": "garage", "of": of, "value": value}
        for of, value in (("L1-N", "120 V"), ("L2-N", "95 V"), ("L1-L2", "215 V"))
    ]
    assert ranked(site, cells[:2]).planes == []
    (plane,) = ranked(site, cells).planes
    assert plane.name == "garage"
    assert plane.told == ["At garage: L2 lies 24.3 V from where it is described."]
    assert plane.svg.startswith("<svg")
    assert 'id="phasors0-title"' in plane.svg
