"""The live picture: painted once with room for everything, changed by element id."""

from __future__ import annotations

import re
from functools import cache
from xml.etree import ElementTree

import pytest

from bondwright.draw.live import LAYERS, TILE, Form, LivePicture, can_be_tied
from bondwright.draw.looks import Now, directions
from bondwright.draw.ribbon import ribbon_picture
from bondwright.draw.svg import element_id
from bondwright.network.build import build
from bondwright.network.normal import normal_use
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.plan.variants import with_tie, without_tie
from bondwright.site.generator import large_site
from bondwright.site.reader import load
from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.flows import Flow, flows, metal_voltages
from tests.draw.boxes import clashes, parsed, texts
from tests.page.serving import FARMHOUSE, WHOLE_DEMO

FORMS: tuple[Form, ...] = ("page", "phone")
TIE = "main bonding jumper at farmhouse panel"


@cache
def _farmhouse() -> Plan:
    return plan(load(FARMHOUSE))


@cache
def _whole() -> Plan:
    return plan(load(WHOLE_DEMO))


def _normal(made: Plan) -> tuple[tuple[Flow, ...], dict[str, float]]:
    network = build(made)
    solution = normal_use(network).solution
    return flows(network, solution), metal_voltages(network, solution)


def _now(made: Plan) -> Now:
    now, metal = _normal(made)
    return Now(made, now, metal)


def _svg(picture: LivePicture) -> ElementTree.Element:
    inside = "".join(piece.svg for piece in picture.pieces)
    return parsed(f'<svg xmlns="http://www.w3.org/2000/svg">{inside}</svg>')


@pytest.mark.parametrize("form", FORMS)
def test_pieces_are_whole_and_ids_are_unique(form: Form) -> None:
    picture = LivePicture(_whole(), form)
    for piece in picture.pieces:
        parsed(f'<svg xmlns="http://www.w3.org/2000/svg">{piece.svg}</svg>')
        assert piece.layer in LAYERS
    ids = [e.attrib["id"] for e in _svg(picture).iter() if "id" in e.attrib]
    assert len(ids) == len(set(ids)) > 100


@pytest.mark.parametrize("form", FORMS)
def test_it_shows_what_the_papers_picture_shows(form: Form) -> None:
    drawn = ribbon_picture(_whole(), width=form)
    ids = {e.attrib["id"] for e in _svg(LivePicture(_whole(), form)).iter() if "id" in e.attrib}
    assert set(drawn.ids) - ids == set()
    own = {name.split(".")[0] for name in ids - set(drawn.ids)}
    assert own == {"text", "slot"}


@pytest.mark.parametrize("form", FORMS)
def test_elements_lie_in_the_box_of_their_piece(form: Form) -> None:
    picture = LivePicture(plan(large_site(120, 3)), form)
    numbers = re.compile(r"-?\d+(?:\.\d+)?")
    for piece in picture.pieces:
        x, y, w, h = piece.box
        root = parsed(f'<svg xmlns="http://www.w3.org/2000/svg">{piece.svg}</svg>')
        for element in root.iter():
            if element.tag.endswith("rect") and piece.layer in {"boxes", "ties"}:
                left, top = float(element.attrib["x"]), float(element.attrib["y"])
                assert x - 20 <= left <= x + w + 20
                assert y - 20 <= top <= y + h + 20
            data = element.attrib.get("d", "")
            if data.startswith("M") and "l" not in data + "h" and piece.layer == "runs":
                found = [float(n) for n in numbers.findall(data)]
                assert all(x - 30 <= n <= x + w + 30 for n in found[::2])
    small = [p for p in picture.pieces if max(p.box[2:]) < 3 * TILE]
    assert len(small) > len(picture.pieces) / 2


@pytest.mark.parametrize("form", FORMS)
def test_texts_that_come_later_have_room(form: Form) -> None:
    made = with_tie(_whole(), "pump house panel")
    picture = LivePicture(_whole(), form)
    looks = picture.looks(_now(made))
    root = _svg(picture)
    placed: list[tuple[str, tuple[float, float, float, float]]] = []
    for element in root.iter("{http://www.w3.org/2000/svg}text"):
        look = looks.get(element.attrib.get("id", ""), {})
        if look.get("t"):
            element.text = str(look["t"])
            element.attrib["textLength"] = str(look["tw"])
    for element in list(root.iter("{http://www.w3.org/2000/svg}g")):
        for child in list(element):
            if child.tag.endswith("text") and not child.text:
                element.remove(child)
    placed = [(text, box) for text, box in texts(root) if text]
    assert clashes(placed) == []


@pytest.mark.parametrize("form", FORMS)
def test_every_look_has_its_element(form: Form) -> None:
    picture = LivePicture(_farmhouse(), form)
    ids = {e.attrib["id"] for e in _svg(picture).iter() if "id" in e.attrib}
    looks = picture.looks(_now(_farmhouse()))
    assert set(looks) - ids == set()
    assert {name for name in ids if name.startswith("ribbon.")} <= set(looks)


def test_a_tie_taken_off_and_one_put_on_show_in_their_slots() -> None:
    base = _farmhouse()
    picture = LivePicture(base, "page")
    stands = picture.looks(_now(base))
    slot, tie = element_id("slot", "pump house panel"), element_id("tie", TIE)
    assert (stands[tie]["c"], stands[slot]["c"]) == ("stands", "free")
    off = picture.looks(_now(without_tie(base, TIE)))
    assert off[tie]["c"] == "off"
    assert off[element_id("text", "tie farmhouse panel 0")]["t"] == "tie taken off"
    on = picture.looks(_now(with_tie(base, "pump house panel")))
    assert (on[slot]["c"], on[slot]["now"]) == ("wrong", "extra tie at pump house panel")
    assert on[tie] == stands[tie] == {"c": "stands", "now": TIE}


def test_widths_follow_currents() -> None:
    base = _farmhouse()
    looks = LivePicture(base, "page").looks(_now(base))
    ribbons = {k: v for k, v in looks.items() if k.startswith("ribbon.")}
    most = max(ribbons.values(), key=lambda look: float(look["a"]))
    assert float(most["w"]) == max(float(look["w"]) for look in ribbons.values())
    # Width goes with the root of the current, and never below what can be seen.
    for look in ribbons.values():
        part = float(look["a"]) / float(most["a"])
        assert float(look["w"]) == pytest.approx(max(1.6, float(most["w"]) * part**0.5), abs=0.05)


def test_metal_is_called_live_from_the_limit_on() -> None:
    base = _farmhouse()
    picture = LivePicture(base, "page")
    metal = {"well pump": 50.0, "meter": 49.9}
    looks = picture.looks(Now(base, metal=metal, limit=50.0, dead=frozenset({"pump house panel"})))
    assert looks[element_id("place", "well pump")]["c"] == "live"
    assert looks[element_id("place", "meter")]["c"] == ""
    assert looks[element_id("place", "pump house panel")]["c"] == "dead"
    assert looks[element_id("text", "at well pump")]["t"] == "metal at 50 V to earth"


def test_currents_go_out_on_the_line_and_home_on_metal() -> None:
    made = _farmhouse()
    network = build(made, loads=False)
    result = study_fault(network, Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
    found = directions(Now(made, result.flows, fault=True))
    for run in ("pump branch", "pump house feeder"):
        assert found[run, "L1"] == 1
        assert found[run, "G"] == -1
    assert found["service entrance", "N"] == -1
    # In normal use the neutral goes home as well.
    use = directions(_now(made))
    assert use["service entrance", "N"] == -1
    assert use["service entrance", "L1"] == 1


def test_the_light_has_an_out_and_a_home() -> None:
    made = _farmhouse()
    network = build(made, loads=False)
    result = study_fault(network, Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G"))
    picture = LivePicture(made, "page")
    under, over = picture.light(made, result)
    assert under.count("<path") > 8
    assert "arrow" in over
    assert "flash" in picture.flash(made, result)


def test_a_large_site_has_an_overview_and_a_small_one_needs_none() -> None:
    assert LivePicture(_farmhouse(), "page").overview == ""
    picture = LivePicture(plan(large_site(500, 1)), "page")
    root = parsed(f'<svg xmlns="http://www.w3.org/2000/svg">{picture.overview}</svg>')
    boxes = root.find("{http://www.w3.org/2000/svg}path[@class='far-boxes']")
    assert boxes is not None
    assert boxes.attrib["d"].count("M") == len(picture.boxes)


def test_ties_can_be_made_where_neutral_and_metal_meet() -> None:
    made = _farmhouse()
    assert [n for n in made.site.places if can_be_tied(made, n)] == [
        "meter", "farmhouse panel", "pump house panel",
    ]  # fmt: skip
    assert not can_be_tied(made, "utility")


def test_the_key_explains_every_state_of_a_tie() -> None:
    key = LivePicture(_farmhouse(), "page").key(400.0)
    for words in ("tie: neutral joined to metal", "tie where none belongs", "tie missing"):
        assert words in key
