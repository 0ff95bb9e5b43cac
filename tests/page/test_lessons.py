"""The stories: their numbers against the studies, and against what is known outside."""

from __future__ import annotations

import re

import pytest
from fastapi.testclient import TestClient

from bondwright.draw.live import Form
from bondwright.network.build import build
from bondwright.network.normal import normal_use
from bondwright.page.app import create_app
from bondwright.page.lessons import STORIES, lesson_answer
from bondwright.page.model import FOLDER, NAMES, Case, day, fault, model, volts_in_fault
from bondwright.page.more_stories import (
    CUT,
    LOST,
    SOLID_ONE,
    SOLID_TWO,
    SWITCHED_NONE,
    SWITCHED_ONE,
    WATER,
)
from bondwright.page.stories import MORE_RODS, NO_NEUTRAL, NO_WIRE, SOUND, TWICE, UNTIED
from bondwright.plan.build import plan
from bondwright.plan.variants import with_tie, without_tie
from bondwright.site.check import problems
from bondwright.studies.fault_model import Fault, FaultKind
from bondwright.studies.faults import study_fault
from bondwright.studies.flows import flows
from tests.page.serving import farmhouse

PRESS = Fault("press", FaultKind.LINE_TO_METAL, "L1", "G")


@pytest.mark.parametrize("name", NAMES)
def test_models_are_good_files(name: str) -> None:
    site = model(name).site
    assert problems(site) == []
    assert "Harrow Creek Cidery, a made-up farm" in (FOLDER / f"{name}.yaml").read_text()


@pytest.mark.parametrize("form", ["page", "phone"])
@pytest.mark.parametrize("id", STORIES)
def test_every_story_is_whole(id: str, form: Form) -> None:
    told = lesson_answer(id, form)
    assert told.lesson
    assert "live parts" in told.caution
    assert any(scene.question for scene in told.scenes)
    for number, scene in enumerate(told.scenes):
        assert scene.changes
        assert scene.sentences
        known = {p.id for p in scene.points}
        assert known, "the picture moves with every scene"
        if scene.question:
            rights = [one.right for one in scene.question.options]
            assert rights.count(True) == 1
            assert len(rights) > 1
            assert all(one.told for one in scene.question.options)
        if scene.light is not None:
            assert scene.headline
        assert scene.picture in range(len(told.pictures)), number
    drawn = " ".join(piece.svg or "" for picture in told.pictures for piece in picture.pieces)
    for scene in told.scenes:
        for point in scene.points:
            assert f'data-id="{point.id}"' in drawn, point


def test_the_right_answer_is_not_always_in_the_same_place() -> None:
    places = [
        [one.right for one in scene.question.options].index(True)
        for id in STORIES
        for scene in lesson_answer(id, "page").scenes
        if scene.question
    ]
    assert len(set(places)) > 1


def test_nobody_is_told_to_lift_or_to_work_live() -> None:
    for id in STORIES:
        for scene in lesson_answer(id, "page").scenes:
            for one in scene.question.options if scene.question else ():
                if re.search(r"\b[Ll]ift the\b", one.text):
                    assert not one.right
                    assert one.told.startswith("Never")


def test_with_and_without_the_tie_as_the_studies_have_it() -> None:
    base = model("house").base
    for case, made in ((SOUND, base), (UNTIED, without_tie(base, "main bonding jumper"))):
        alone = study_fault(build(made, loads=False), PRESS)
        assert fault(case, "press").current == pytest.approx(alone.current, rel=1e-9)
    assert fault(SOUND, "press").cleared
    assert not fault(UNTIED, "press").cleared


def test_the_second_tie_as_the_studies_have_it() -> None:
    network = build(with_tie(model("house").base, "shed panel"), loads=True)
    own = {(f.id, f.terminal): f.amperes for f in flows(network, normal_use(network).solution)}
    assert day(TWICE).amps("shed feeder", "G") == pytest.approx(own["shed feeder", "G"], rel=1e-9)
    # Copper beside copper: the currents are nearly as the conductances of 8 AWG and 10 AWG, which
    # NEC chapter 9 table 8 has at 0.764 and 1.21 ohm per 1000 ft (uncoated).
    metal, neutral = (day(TWICE).amps("shed feeder", t) for t in ("G", "N"))
    assert metal / neutral == pytest.approx(0.764 / 1.21, rel=0.05)


def test_the_rod_by_ohms_law() -> None:
    # 25 ohm at the shed in series with 25 and 10 ohm side by side at house and pole; 120 V.
    by_hand = 120 / (25 + 1 / (1 / 25 + 1 / 10))
    assert fault(NO_WIRE, "press").current == pytest.approx(by_hand, rel=0.03)
    better = 120 / (1 / (1 / 25 + 1 / 5) + 1 / (1 / 25 + 1 / 10))
    assert fault(MORE_RODS, "press").current == pytest.approx(better, rel=0.04)
    assert not fault(MORE_RODS, "press").cleared


def test_the_see_saw_by_hand() -> None:
    gone = day(NO_NEUTRAL)
    low, high = (gone.volts("house panel", line, "N") for line in ("L1", "L2"))
    assert low + high == pytest.approx(240, rel=0.01)
    # Two resistances in series divide the voltage, the electrodes pull the middle a little back:
    # 3.6 kW on L1 (4 ohm), 0.6 kW on L2 (24 ohm), 12.5 + 10 ohm from the middle to the midpoint.
    y1, y2, ground = 3600 / 120**2, 600 / 120**2, 1 / (1 / (1 / 25 + 1 / 25) + 10)
    middle = 120 * (y1 - y2) / (y1 + y2 + ground)
    assert 120 - middle == pytest.approx(low, rel=0.05)


def test_the_pipe_hides_the_neutral_until_it_is_cut() -> None:
    assert day(WATER).amps("water pipe", "G") > 0.1
    assert day(LOST).volts("cottage panel", "L1", "N") > 110
    assert day(CUT).volts("cottage panel", "L1", "N") < 90
    assert day(CUT).amps("water pipe", "G") == pytest.approx(0, abs=1e-6)
    gap = abs(day(CUT).solution.between("cottage panel:G", "utility:G"))
    assert gap > 30


@pytest.mark.parametrize(
    ("case", "ends"),
    [(SOLID_TWO, True), (SOLID_ONE, True), (SWITCHED_ONE, True), (SWITCHED_NONE, False)],
)
def test_the_generator_as_published(case: Case, ends: bool) -> None:
    # Compiled reasoning of the trade (public threads on 3- or 4-pole switches): one tie with four
    # poles and a bond, or three poles and none; four poles and none has no fault path.
    assert fault(case, "cooler").cleared is ends


def test_a_system_without_a_tie_floats_to_its_line() -> None:
    # A grounded line of a 120/240 V system and no tie: neutral at 120 V, the other line at 240.
    assert volts_in_fault(SWITCHED_NONE, "cooler", "cold panel", "N", "G") == pytest.approx(
        120, 0.02
    )
    assert volts_in_fault(SWITCHED_NONE, "cooler", "cold panel", "L2", "G") == pytest.approx(
        240, 0.02
    )


def test_the_ties_that_are_told_are_the_plans_own() -> None:
    said = lesson_answer("generator", "page").lesson[0]
    assert [int(n) for n in re.findall(r"bond: (\d)", said)] == [2, 1, 1, 0]
    made = plan(model("generator-solid").site)
    assert {c.state: c.count for c in made.tie_counts}["on generator"] == 2


def test_the_server_tells_stories_and_refuses_others() -> None:
    with TestClient(create_app(farmhouse(), 8642), base_url="http://127.0.0.1:8642") as client:
        every = client.get("/api/lessons").json()["stories"]
        assert [one["id"] for one in every] == list(STORIES)
        told = client.get("/api/lessons/rod", params={"form": "phone"}).json()
        assert told["format"] == "bondwright/page-lesson"
        assert client.get("/api/lessons/none").status_code == 404
