from __future__ import annotations

import itertools
import re
import time
from collections.abc import Sequence
from typing import Any

import font_source_sans_pro
import pytest
import typst

from bondwright.draw import Drawing, ribbon_picture
from bondwright.network.build import build
from bondwright.plan.model import Plan
from bondwright.studies.faults import Fault, FaultKind, FaultResult, study_fault
from bondwright.studies.flows import Carrier, Flow, flows
from tests.draw.boxes import SVG, clashes, inside, meet, parsed, texts, view_box
from tests.draw.sites import FARM, HOSTILE, PRESS, hostile_site, planned, random_site

SITES: dict[str, dict[str, Any]] = {
    "farm": FARM,
    "press hall": PRESS,
    "40 places": random_site(40),
    "70 places": random_site(70, seed=8),
    "hostile": hostile_site(),
}
WIDTHS = ["page", "phone", 320.0, 900.0]


@pytest.fixture(scope="module")
def farm() -> Plan:
    return planned(FARM)


@pytest.fixture(scope="module")
def farm_flows(farm: Plan) -> tuple[Flow, ...]:
    network = build(farm)
    return flows(network, network.solver.solve())


@pytest.fixture(scope="module")
def farm_fault(farm: Plan) -> FaultResult:
    network = build(farm, loads=False)
    return study_fault(network, Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))


@pytest.fixture(scope="module")
def press() -> Plan:
    return planned(PRESS)


def by_id(drawing: Drawing, kind: str) -> dict[str, str]:
    """Return the ids of elements of a kind by what they stand for."""
    return {
        named.removeprefix(f"{kind} "): key
        for key, named in drawing.ids.items()
        if named.startswith(f"{kind} ")
    }


def group(svg: str, key: str) -> str:
    """Return the opening tag of an element."""
    found = re.search(rf'<[^>]* id="{re.escape(key)}"[^>]*>', svg)
    assert found is not None
    return found[0]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SITES)
def test_everything_lies_within_the_picture_and_no_words_overlap(name: str, width: Any) -> None:
    drawing = ribbon_picture(planned(SITES[name]), width=width)
    root = parsed(drawing.svg)
    frame = view_box(root)
    found = list(texts(root))
    assert [words for words, rect in found if not inside(rect, frame)] == []
    assert clashes(found) == []
    assert frame[2:] == pytest.approx((drawing.width_px, drawing.height_px), abs=0.1)


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize("what", ["flows", "fault"])
def test_no_words_overlap_with_currents(
    farm: Plan, farm_flows: Sequence[Flow], farm_fault: FaultResult, width: Any, what: str
) -> None:
    chosen: dict[str, Any] = {"flows": farm_flows} if what == "flows" else {"fault": farm_fault}
    root = parsed(ribbon_picture(farm, width=width, **chosen).svg)
    assert clashes(list(texts(root))) == []


@pytest.mark.parametrize("width", ["page", "phone"])
@pytest.mark.parametrize("name", SITES)
def test_run_labels_and_stations_keep_apart(name: str, width: Any) -> None:
    root = parsed(ribbon_picture(planned(SITES[name]), width=width).svg)
    boxes = []
    for station in root.iter(f"{SVG}g"):
        if "station" in station.attrib.get("class", "").split():
            rect = next((e for e in station if e.tag == f"{SVG}rect"), None)
            if rect is not None:
                parts = ("x", "y", "width", "height")
                x, y, w, h = (float(rect.attrib[part]) for part in parts)
                boxes.append((x, y, w, h))
    labels = [
        pair
        for run in root.iter(f"{SVG}g")
        if run.attrib.get("class") == "run"
        for pair in texts(run)
    ]
    assert boxes
    assert labels
    assert [words for words, rect in labels if any(meet(rect, box) for box in boxes)] == []


def test_a_phone_gets_its_width() -> None:
    for name in ("farm", "press hall", "40 places", "hostile"):
        assert ribbon_picture(planned(SITES[name]), width="phone").width_px == 390.0


def test_a_given_width_is_kept_where_it_can_be(press: Plan) -> None:
    for width in (320.0, 700.0, 900.0, 1600.0):
        assert ribbon_picture(press, width=width).width_px <= width


def test_a_page_lies(press: Plan) -> None:
    for plan in (press, planned(random_site(40))):
        drawing = ribbon_picture(plan)
        assert 1.0 < drawing.width_px / drawing.height_px < 2.2


def test_the_same_plan_gives_the_same_picture(press: Plan) -> None:
    assert ribbon_picture(press) == ribbon_picture(press)


def test_every_thing_has_an_element_with_its_id(press: Plan) -> None:
    drawing = ribbon_picture(press)
    assert set(by_id(drawing, "place")) == set(press.site.places)
    assert set(by_id(drawing, "transformer")) == {"T1"}
    assert set(by_id(drawing, "source")) == {"utility"}
    assert set(by_id(drawing, "run")) == set(press.runs)
    assert set(by_id(drawing, "tie")) == {tie.id for tie in press.ties}
    assert set(by_id(drawing, "electrode")) == set(press.electrodes)
    for key in drawing.ids:
        assert drawing.svg.count(f' id="{key}"') == 1


def test_ids_stay_when_something_else_changes(press: Plan) -> None:
    site = {**PRESS, "places": {**PRESS["places"], "cellar": {"kind": "panel"}}}
    run = {"from": "switchboard", "to": "cellar", "length": "9 ft", "lines": "4 AWG Cu"}
    site["runs"] = {**PRESS["runs"], "cellar feeder": {**run, "device": "60 A breaker"}}
    before, after = ribbon_picture(press).ids, ribbon_picture(planned(site)).ids
    assert before.items() < after.items()


def test_ribbons_are_the_conductors_of_the_run(press: Plan) -> None:
    drawing = ribbon_picture(press)
    ribbons = set(by_id(drawing, "ribbon"))
    assert {f"T1 secondary {t}" for t in ("L1", "L2", "L3", "N", "G")} <= ribbons
    assert "T1 primary N" not in ribbons
    assert {r for r in ribbons if r.startswith("server circuit")} == {
        "server circuit L2",
        "server circuit N",
        "server circuit G",
    }


def test_ties_are_clasps_told_apart_by_shape(press: Plan) -> None:
    drawing = ribbon_picture(press)
    ties = by_id(drawing, "tie")
    assert "clasp stands" in group(drawing.svg, ties["main tie"])
    assert "clasp wrong" in group(drawing.svg, ties["extra"])
    # The derived system lacks its tie.
    assert set(by_id(drawing, "missing-tie")) == {"T1"}
    wrong = drawing.svg.split(group(drawing.svg, ties["extra"]))[1].split("</g>")[0]
    right = drawing.svg.split(group(drawing.svg, ties["main tie"]))[1].split("</g>")[0]
    assert wrong.count("<path") > right.count("<path")
    words = " ".join(text for text, _ in texts(parsed(drawing.svg)))
    assert "tie where none belongs: screw" in words
    assert "no tie: one belongs here" in words
    assert "none belongs at office panel" in drawing.alt
    assert "missing at T1" in drawing.alt


def test_labels_tell_rating_length_and_sizes(farm: Plan) -> None:
    words = [text for text, _ in texts(parsed(ribbon_picture(farm, width="phone").svg))]
    assert "60 A breaker · 220 ft" in words
    assert any(text.startswith("4 AWG Cu · N 4 AWG Cu · EGC") for text in words)
    assert "service · main 200 A breaker · 7.1 kW" in words
    svg = ribbon_picture(farm).svg
    full = re.findall(r"<title>([^<]*)</title>", svg)
    assert any(t.startswith("feeder: house panel to pump house panel; 60 A") for t in full)


def _thickness(svg: str, key: str) -> float:
    part = svg.split(f' id="{key}"')[1].split("</g>")[0]
    return max(float(w) for w in re.findall(r'stroke-width="([\d.]+)"', part) if w != "1")


def test_width_follows_current(farm: Plan, farm_flows: Sequence[Flow]) -> None:
    drawing = ribbon_picture(farm, flows=farm_flows)
    ribbons = by_id(drawing, "ribbon")
    amps = {
        f"{flow.id} {flow.conductor}": flow.amperes
        for flow in farm_flows
        if flow.carrier is Carrier.RUN and flow.conductor in {"L1", "L2"}
    }
    ordered = sorted(amps, key=lambda name: amps[name])
    widths = [_thickness(drawing.svg, ribbons[name]) for name in ordered]
    assert widths == sorted(widths)
    assert widths[0] < widths[-1]
    for name in ordered:
        told = re.search(r'data-amperes="([^"]+)"', group(drawing.svg, ribbons[name]))
        assert told is not None
        assert float(told[1]) == pytest.approx(amps[name], rel=1e-3)
    assert "width of a ribbon at" in drawing.svg


def test_a_fault_lights_its_way(farm: Plan, farm_fault: FaultResult) -> None:
    drawing = ribbon_picture(farm, fault=farm_fault)
    assert set(by_id(drawing, "fault")) == {"well pump"}
    assert 'class="flash"' in drawing.svg
    lit = drawing.svg.split('<g class="lit">')[1].split("</g>")[0]
    runs = {step.id for step in farm_fault.path if step.carrier is Carrier.RUN}
    assert runs == set(farm.runs)
    assert lit.count("<path") >= 2 * 2 * len(runs)
    assert drawing.svg.count('class="arrow"') >= 2 * len(runs)
    assert "L1 to metal at well pump" in drawing.alt
    assert 'class="lit"' not in ribbon_picture(farm).svg


def _lit_points(svg: str) -> list[list[tuple[float, float]]]:
    lit = svg.split('<g class="lit">')[1].split("</g>")[0]
    return [
        [(float(x), float(y)) for x, y in (p.split() for p in d[1:].split("L"))]
        for d in re.findall(r'd="([^"]+)"', lit)
    ]


@pytest.mark.parametrize("width", ["page", "phone"])
def test_the_lit_way_is_whole(width: Any) -> None:
    """Every stretch begins or ends on another one: the current goes round.

    On a phone pipes are tied to their places by name only, so there the farm has none.
    """
    plan = planned(FARM if width == "page" else {**FARM, "metal": {}})
    fault = Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G")
    result = study_fault(build(plan, loads=False), fault)
    drawing = ribbon_picture(plan, fault=result, width=width)
    ways = _lit_points(drawing.svg)
    assert ways

    def on(point: tuple[float, float], way: list[tuple[float, float]]) -> bool:
        x, y = point
        return any(
            min(a[0], b[0]) - 1 <= x <= max(a[0], b[0]) + 1
            and min(a[1], b[1]) - 1 <= y <= max(a[1], b[1]) + 1
            for a, b in itertools.pairwise(way)
        )

    for k, way in enumerate(ways[: len(ways) // 2]):
        others = [w for j, w in enumerate(ways[: len(ways) // 2]) if j != k]
        assert any(on(end, other) for end in (way[0], way[-1]) for other in others)


@pytest.mark.parametrize("width", ["page", "phone"])
def test_hostile_words_stay_words(width: Any) -> None:
    drawing = ribbon_picture(planned(hostile_site()), width=width)
    root = parsed(drawing.svg)
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert tags <= {"svg", "g", "path", "rect", "circle", "text", "title", "desc"}
    assert not any(name.startswith("on") for element in root.iter() for name in element.attrib)
    told = {element.attrib.get("data-id") for element in root.iter()}
    assert set(HOSTILE) <= told


@pytest.mark.parametrize("name", SITES)
def test_nothing_is_fetched_or_run(name: str) -> None:
    svg = ribbon_picture(planned(SITES[name])).svg
    bare = svg.replace("http://www.w3.org/2000/svg", "")
    for word in ("<script", "<image", "<foreignObject", "<style", "href=", "url(", "http"):
        assert word not in bare


def test_the_picture_says_what_it_is(press: Plan) -> None:
    root = parsed(ribbon_picture(press).svg)
    assert root.attrib["role"] == "img"
    named = root.attrib["aria-labelledby"].split()
    found = {e.attrib.get("id"): e.text for e in root if e.attrib.get("id") in named}
    assert set(found) == set(named)
    assert all(found.values())


def test_two_pictures_can_share_a_page(press: Plan) -> None:
    first = set(ribbon_picture(press, prefix="a-").ids)
    second = set(ribbon_picture(press, prefix="b-").ids)
    assert first
    assert not first & second


def test_colours_follow_the_rules_asked_for(press: Plan) -> None:
    assert "line L1 (brown)" in ribbon_picture(press).svg  # 480 V, common practice in the US
    international = ribbon_picture(press, rules="iec").svg
    assert "neutral (blue)" in international
    assert "green-and-yellow" in international


def test_electrodes_hang_in_the_earth_with_their_ohms(press: Plan) -> None:
    drawing = ribbon_picture(press)
    words = [text for text, _ in texts(parsed(drawing.svg))]
    assert "water pipe · 3 ohm" in words
    assert any(text.startswith("not joined") for text in words)


def test_a_transfer_switch_names_the_run_that_stands_by() -> None:
    run = {"length": "10 ft", "lines": "4 AWG Cu"}
    site = {
        "site": "Harrow Creek Cidery, standby",
        "sources": {"utility": {"system": "120/240 V", "available": {"current": "9 kA"}}},
        "generators": {"set": {"system": "120/240 V", "rating": "20 kVA"}},
        "transfers": {"switch": {"normal": "a", "standby": "b", "neutral": "solid"}},
        "places": {"service": {"kind": "service", "main": "100 A breaker"}, "p": {"kind": "panel"}},
        "runs": {
            "s": {**run, "from": "utility", "to": "service"},
            "a": {**run, "from": "service", "to": "switch"},
            "b": {**run, "from": "set", "to": "switch"},
            "c": {**run, "from": "switch", "to": "p"},
        },
    }
    drawing = ribbon_picture(planned(site))
    words = [text for text, _ in texts(parsed(drawing.svg))]
    assert "standing by: b from set" in words
    assert "stands by for switch: b" in words


def test_the_typesetter_draws_it(press: Plan, farm: Plan, farm_fault: FaultResult) -> None:
    for svg in (ribbon_picture(press).svg, ribbon_picture(farm, fault=farm_fault).svg):
        source = b'#set page(width: auto, height: auto, margin: 0pt)\n#image("d.svg")'
        pages = typst.compile(
            {"main.typ": source, "d.svg": svg.encode()},
            format="png",
            ppi=36,
            font_paths=[font_source_sans_pro.font_directory],
            ignore_system_fonts=True,
        )
        assert isinstance(pages, bytes)
        assert pages.startswith(b"\x89PNG")
        assert len(pages) > 5000


def test_earth_that_takes_a_trace_is_not_lit_as_a_way_home() -> None:
    """Earth is no fault-clearing path: under 1 % of the current through rods is told, not lit."""
    rods = {"kind": "rod", "at": "pump house panel", "resistance": "33 ohm"}
    site = {**FARM, "electrodes": {**FARM["electrodes"], "pump rods": rods}, "metal": {}}
    farm = planned(site)
    fault = Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G")
    farm_fault = study_fault(build(farm, loads=False), fault)
    traces = [s for s in farm_fault.path if s.carrier is Carrier.ELECTRODE and s.share < 0.01]
    assert traces
    drawing = ribbon_picture(farm, fault=farm_fault)
    surface = max(
        y for words, (_, y, _, _) in texts(parsed(drawing.svg)) if words.startswith("rod ·")
    )
    assert all(y < surface for way in _lit_points(drawing.svg) for _, y in way)


def test_thousands_of_places_are_drawn_in_moments() -> None:
    plan = planned(random_site(1500, seed=1))
    ribbon_picture(plan)
    start = time.process_time()
    drawing = ribbon_picture(plan)
    # About 0.3 s here; the bound only catches a slip into quadratic time.
    assert time.process_time() - start < 60  # no hang; speed is measured in benchmarks
    assert len(by_id(drawing, "place")) == 1500
