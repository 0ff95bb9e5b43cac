"""What the server answers, against what the studies and the papers say by themselves."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from bondwright.explain.faults import fault_name
from bondwright.explain.open_neutral import tell_open_neutral
from bondwright.explain.rules import tell_requirement
from bondwright.explain.words import amps
from bondwright.network.build import build
from bondwright.network.normal import normal_use
from bondwright.page.app import create_app
from bondwright.page.desk import Desk, fault_key
from bondwright.plan.build import plan
from bondwright.plan.variants import with_tie, without_tie
from bondwright.site.reader import load
from bondwright.studies.faults import Fault, FaultKind, possible_faults, study_fault
from bondwright.studies.flows import flows
from bondwright.studies.open_neutral import study_open_neutral
from bondwright.studies.stray import study_stray
from scripts.make_page_types import TARGET, types
from tests.page.serving import FARMHOUSE, WHOLE_DEMO, farmhouse

OWN = "http://127.0.0.1:8642"
PUMP = fault_key(Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
TIE = "main bonding jumper at farmhouse panel"
FEEDER_METAL = "ribbon.pump_20_house_20_feeder.G"


class Asker:
    """Asks as the page does."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.client = TestClient(create_app(desk, 8642), base_url=OWN)
        self.client.headers["origin"] = OWN

    def get(self, path: str, **query: str) -> Any:
        answer = self.client.get(path, params=query)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, body: dict[str, Any], **query: str) -> Any:
        answer = self.client.post(path, json=body, params=query)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def edit(self, action: str, name: str = "", **view: str) -> Any:
        return self.post("/api/edit", {"action": action, "name": name, "view": view})


@pytest.fixture
def page() -> Asker:
    return Asker(farmhouse())


@pytest.fixture(scope="module")
def whole() -> Asker:
    return Asker(Desk(load(WHOLE_DEMO), WHOLE_DEMO.name))


def test_every_answer_names_its_format(whole: Asker) -> None:
    answers = [
        whole.get("/api/site"),
        whole.get("/api/picture"),
        whole.post("/api/view", {}),
        whole.get("/api/stray"),
        whole.get("/api/open-neutral"),
        whole.get("/api/schedule"),
        whole.get("/api/findings"),
        whole.get("/api/faults"),
    ]
    formats = [answer["format"] for answer in answers]
    assert all(name.startswith("bondwright/page-") for name in formats)
    assert len(set(formats)) == len(formats)
    assert {answer["version"] for answer in answers} == {1}


def test_types_of_the_scripts_are_those_of_the_server() -> None:
    assert TARGET.read_text(encoding="utf-8") == types(), "run python scripts/make_page_types.py"


def test_the_picture_has_an_element_for_every_look(whole: Asker) -> None:
    for form in ("page", "phone"):
        drawn = "".join(p["svg"] for p in whole.get("/api/picture", form=form)["pieces"])
        changes = whole.post("/api/view", {"form": form})["changes"]
        lost = [name for name, _ in changes if f'id="{name}"' not in drawn]
        # A run that stands by isn't drawn as a band, and neither is its device.
        assert lost == ["device.generator_20_feeder"]


def test_a_second_view_sends_only_what_is_different(page: Asker) -> None:
    first = page.post("/api/view", {})
    again = page.post("/api/view", {"have": first["name"]})
    assert len(first["changes"]) > 20
    assert again["changes"] == []
    edited = page.edit("put on", "pump house panel", have=again["name"])
    changed = {name for name, _ in edited["changes"]}
    assert FEEDER_METAL in changed
    assert 0 < len(changed) < len(first["changes"])
    forgotten = page.post("/api/view", {"have": "page-999"})
    assert len(forgotten["changes"]) == len(first["changes"])


def test_a_tie_put_on_shows_the_current_that_the_study_finds(page: Asker) -> None:
    changes = dict(page.edit("put on", "pump house panel")["changes"])
    made = with_tie(plan(load(FARMHOUSE)), "pump house panel")
    found = study_stray(build(made)).currents[0]
    assert found.flow.id == "pump house feeder"
    assert changes[FEEDER_METAL]["a"] == pytest.approx(found.flow.amperes, rel=6e-3)
    row = changes["text.run_20_pump_20_house_20_feeder_20_1"]
    assert row["t"] == f"metal {amps(found.flow.amperes)}"
    assert row["c"] == "alarm"
    assert changes["slot.pump_20_house_20_panel"]["c"] == "wrong"


def test_a_fault_is_the_studys_own(page: Asker) -> None:
    view = page.post("/api/view", {"show": "fault", "fault": PUMP})
    network = build(plan(load(FARMHOUSE)), loads=False)
    result = study_fault(network, Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
    numbers = {n["label"]: n["value"] for n in view["fault"]["numbers"]}
    assert numbers["Fault current"] == amps(result.current)
    assert view["verdict"] == str(result.verdict) == "holds"
    sights = [step["sight"] for step in view["fault"]["steps"]]
    assert sights == ["start", "out", "home", "touch", "opens", "over"]
    assert fault_name(result) in view["fault"]["steps"][0]["title"]
    assert view["fault"]["light"]["under_out"] != view["fault"]["light"]["under_home"]


def test_without_the_tie_nothing_ends_it(page: Asker) -> None:
    view = page.edit("take off", TIE, show="fault", fault=PUMP)
    made = without_tie(plan(load(FARMHOUSE)), TIE)
    network = build(made, loads=False)
    result = study_fault(network, Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert amps(result.current) in view["headline"]
    assert view["verdict"] == "falls short"
    assert "well pump" in view["live"]
    assert view["fault"]["steps"][-1]["sight"] == "stays"


@pytest.mark.parametrize("kind", list(FaultKind))
def test_every_kind_of_fault_can_be_shown_in_both_forms(whole: Asker, kind: FaultKind) -> None:
    faults = possible_faults(whole.desk.network("", loads=False), [kind])
    for fault in [*faults[:1], *faults[-1:]]:
        for form in ("page", "phone"):
            asked = {"show": "fault", "fault": fault_key(fault), "form": form}
            told = whole.post("/api/view", asked)["fault"]
            assert told["steps"]
            assert told["light"]["flash"]


def test_undo_and_redo(page: Asker) -> None:
    start = page.post("/api/view", {})["changes"]
    page.edit("put on", "pump house panel")
    after = page.edit("take off", TIE)
    assert after["edits"]["done"] == [
        "a tie put on at pump house panel",
        f"the {TIE} taken off",
    ]
    page.edit("undo")
    back = page.edit("undo")
    assert back["edits"]["done"] == []
    assert not back["edits"]["can_undo"]
    assert back["edits"]["can_redo"]
    assert back["changes"] == start
    assert page.edit("redo")["edits"]["can_redo"]
    over = page.edit("start over")["edits"]
    assert (over["done"], over["can_redo"]) == ([], False)
    assert page.edit("undo")["edits"]["done"] == ["a tie put on at pump house panel"]


def test_a_tie_that_is_put_back_is_the_one_of_the_file(page: Asker) -> None:
    page.edit("take off", TIE)
    page.edit("put on", "farmhouse panel")
    assert set(page.desk.plan.ties) == set(page.desk.base.ties)


@pytest.mark.parametrize(
    ("action", "name", "words"),
    [
        ("take off", "nothing of the kind", "is no tie of this plan"),
        ("put on", "farmhouse panel", "joined at 'farmhouse panel' already"),
        ("put on", "nowhere", "is no place"),
        ("put on", "well pump", "no neutral reaches"),
        ("undo", "", "nothing to undo"),
        ("redo", "", "nothing to do again"),
    ],
)
def test_what_cannot_be_changed_is_said(page: Asker, action: str, name: str, words: str) -> None:
    body = {"action": action, "name": name, "view": {}}
    answer = page.client.post("/api/edit", json=body)
    assert answer.status_code == 409
    assert words in answer.json()["problems"][0]["problem"]
    assert page.desk.edits.done == ()


@pytest.mark.parametrize(
    ("path", "query", "status"),
    [
        ("/api/stray", {"state": "on the moon"}, 404),
        ("/api/open-neutral", {"run": "pump house feeder"}, 404),
        ("/api/faults", {"at": "nowhere"}, 404),
        ("/api/story", {"kind": "tie", "id": "none"}, 404),
        ("/api/story", {"kind": "slot", "id": "farmhouse panel"}, 404),
        ("/api/curve", {"fault": "x"}, 404),
        ("/api/piece/page/9999", {}, 404),
        ("/api/picture", {"form": "cube"}, 422),
        ("/api/jobs/none", {}, 404),
        ("/nothing", {}, 404),
    ],
)
def test_what_is_not_there_is_a_problem(
    page: Asker, path: str, query: dict[str, str], status: int
) -> None:
    answer = page.client.get(path, params=query)
    assert answer.status_code == status
    told = answer.json()
    assert (told["format"], told["version"]) == ("bondwright/problems", 1)
    assert told["problems"][0]["problem"]


def test_everything_that_can_be_found_is_told(whole: Asker) -> None:
    things = whole.get("/api/site")["things"]
    site = whole.desk.site
    assert len(things) >= len(site.places) + len(site.runs) + len(site.metal)
    for thing in things:
        told = whole.post("/api/thing", {}, kind=thing["kind"], id=thing["id"])
        assert told["title"] == thing["id"]
        assert told["facts"] or told["flows"] or told["links"]
    for kind, name in (("device", "pump branch"), ("main", "pump house panel"),
                       ("slot", "pump house panel")):  # fmt: skip
        assert whole.post("/api/thing", {}, kind=kind, id=name)["title"] == name
    missing = whole.client.post("/api/thing", json={}, params={"kind": "run", "id": "none"})
    assert missing.status_code == 404


def test_a_size_comes_with_its_sum(page: Asker) -> None:
    told = page.post("/api/thing", {}, kind="run", id="pump house feeder")
    item = next(i for i in page.desk.base.schedule if i.about == "pump house feeder")
    assert told["sizes"][0]["sentences"] == list(tell_requirement(item).sentences)


def test_flows_are_told_for_normal_use_and_the_fault(page: Asker) -> None:
    view = {"show": "fault", "fault": PUMP}
    rows = page.post("/api/thing", view, kind="run", id="pump branch")["flows"]
    line = next(row for row in rows if row["what"] == "Line L1")
    use = next(f for f in page.desk.normal("").flows if f.id == "pump branch")
    assert line["normal"] == amps(use.amperes)
    assert line["fault"] == amps(page.desk.fault("", PUMP).current)
    assert any("fault current" in why for why in line["why"])


def test_stray_current_has_its_loop_and_its_cause(page: Asker) -> None:
    assert page.get("/api/stray")["story"]["verdict"] == "holds"
    page.edit("put on", "pump house panel")
    told = page.get("/api/stray")
    assert told["story"]["verdict"] == "falls short"
    assert any("Cure:" in sentence for sentence in told["story"]["sentences"])
    row = told["rows"][0]
    kinds = [thing["kind"] for thing in row["things"]]
    assert kinds.count("tie") == 2
    assert "run" in kinds


def test_what_a_tie_is_for_is_told_with_numbers(page: Asker) -> None:
    on = page.get("/api/story", kind="tie", id=TIE)["story"]
    assert "Without it only 4.81 A flows" in " ".join(on["sentences"])
    added = page.get("/api/story", kind="slot", id="pump house panel")["story"]
    assert added["verdict"] == "falls short"
    page.edit("take off", TIE)
    assert page.get("/api/story", kind="tie", id=TIE)["story"]["sentences"] == on["sentences"]


def test_the_plot_has_every_device_on_the_way(page: Asker) -> None:
    told = page.get("/api/curve", fault=PUMP)
    assert [row["label"].split(" of ")[0] for row in told["rows"]] == [
        "20 A breaker", "Main 40 A breaker", "40 A breaker", "Main 200 A breaker",
    ]  # fmt: skip
    assert all("337 A" in row["value"] for row in told["rows"])
    assert told["svg"].startswith("<svg")


def test_behind_a_transformer_devices_see_what_they_carry(whole: Asker) -> None:
    key = fault_key(Fault("barn panel", FaultKind.LINE_TO_METAL, "L1", "G"))
    if key not in whole.desk.faults(""):
        key = next(k for k, f in whole.desk.faults("").items()
                   if f.place.startswith("barn") and f.kind is FaultKind.LINE_TO_METAL
                   and f.a == "L1")  # fmt: skip
    current = whole.desk.fault("", key).current
    rows = whole.get("/api/curve", fault=key)["rows"]
    assert amps(current) in rows[0]["value"]
    assert amps(current) not in rows[-1]["value"]


def test_faults_to_choose_are_those_of_the_changed_site(page: Asker) -> None:
    page.edit("take off", TIE)
    own = build(page.desk.plan, loads=False)
    every = {fault_key(f) for f in possible_faults(own, tuple(FaultKind))}
    assert set(page.desk.faults("")) == every


def test_an_edit_answered_from_the_files_circuit_is_that_of_a_circuit_of_its_own(
    page: Asker,
) -> None:
    page.edit("put on", "pump house panel")
    page.edit("take off", TIE)
    made = with_tie(without_tie(plan(load(FARMHOUSE)), TIE), "pump house panel")
    network = build(made)
    other = {
        (f.carrier, f.id, f.conductor): f.current
        for f in flows(network, normal_use(network).solution)
    }
    own = {(f.carrier, f.id, f.conductor): f.current for f in page.desk.normal("").flows}
    assert own.keys() == other.keys()
    most = max(abs(current) for current in other.values())
    for key, current in own.items():
        assert current == pytest.approx(other[key], abs=1e-6 * most), key
    result = page.desk.fault("", PUMP)
    alone = study_fault(build(made, loads=False), result.fault)
    assert result.current == pytest.approx(alone.current, rel=1e-9)


def test_an_open_neutral_is_told_for_each_supply(page: Asker, whole: Asker) -> None:
    told = page.get("/api/open-neutral")
    alone = study_open_neutral(plan(load(FARMHOUSE)))
    assert told["told"] == list(tell_open_neutral(alone).sentences)
    assert told["run"] == alone.run
    assert told["svg"].startswith("<svg")
    runs = whole.get("/api/open-neutral")["runs"]
    assert len(runs) > 1
    assert whole.get("/api/open-neutral", run=runs[-1])["run"] == runs[-1]


def test_where_no_neutral_can_open_that_is_said() -> None:
    asker = Asker(Desk(load(FARMHOUSE.parent / "fermentation-hall.yaml")))
    told = asker.get("/api/open-neutral")
    assert (told["runs"], told["svg"]) == ([], "")
    assert told["told"] == ["No supply of this site has a neutral that could open."]
