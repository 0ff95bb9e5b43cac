"""Drawings as DXF: the library's own auditor finds nothing, and everything is found again."""

from __future__ import annotations

import io
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import ezdxf
import pytest
from ezdxf.document import Drawing as Document

from bondwright.draw.path_data import strokes
from bondwright.draw.ribbon import ribbon_picture
from bondwright.earth.shapes import Electrode, ring, rod
from bondwright.network.build import build
from bondwright.papers.dxf import APP, ground_dxf, layers, picture_dxf
from bondwright.papers.dxf_entities import Entities, colour_tag
from bondwright.papers.earth import ground_of
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.site.reader import load, read
from bondwright.studies.ground import study_ground
from tests.explain.sites import NASTY

SITE = Path(__file__).parents[2] / "examples" / "harrow-creek.yaml"


def opened(data: bytes) -> Document:
    doc = ezdxf.read(io.StringIO(data.decode("utf-8")))  # type: ignore[attr-defined]
    assert isinstance(doc, Document)
    found = doc.audit()
    assert not found.errors
    assert not found.fixes
    return doc


def owners(doc: Document) -> set[tuple[str, str]]:
    found = set()
    for entity in doc.modelspace():
        if entity.has_xdata(APP):
            kind, name = (tag.value for tag in entity.get_xdata(APP) if tag.code == 1000)
            found.add((kind, name))
    return found


@pytest.mark.parametrize("made", [plan(load(SITE)), plan(read(NASTY))], ids=["farm", "nasty"])
def test_everything_in_the_picture_is_in_the_drawing(made: Plan) -> None:
    drawing = ribbon_picture(made)
    doc = opened(picture_dxf(drawing))
    there = owners(doc)
    fed = set(made.topology.fed_by.values())  # a run that only stands by is told in words
    for run in (run for run in made.runs.values() if run.id in fed):
        for terminal in run.on:
            assert ("ribbon", f"{run.id} {terminal}") in there
    for tie in made.ties:
        assert ("tie", tie.id) in there
    for electrode in made.electrodes:
        assert ("electrode", electrode) in there
    used = {entity.dxf.layer for entity in doc.modelspace()}
    assert used <= set(layers())
    assert {"E-POWR-LINE", "E-GRND-TIE", "E-ANNO-TEXT"} <= used


def test_texts_and_places_are_where_the_picture_has_them() -> None:
    drawing = ribbon_picture(plan(load(SITE)))
    doc = opened(picture_dxf(drawing))
    texts = {e.dxf.text: e for e in doc.modelspace().query("TEXT")}
    seen = 0
    for element in ElementTree.fromstring(drawing.svg).iter("{http://www.w3.org/2000/svg}text"):
        said = "".join(element.itertext())
        if element.get("text-anchor") or said not in texts:
            continue
        seen += 1
        found = [e for e in doc.modelspace().query("TEXT") if e.dxf.text == said]
        spot = (float(element.attrib["x"]), -float(element.attrib["y"]))
        assert any(
            abs(e.dxf.insert.x - spot[0]) < 0.06 and abs(e.dxf.insert.y - spot[1]) < 0.06
            for e in found
        )
    assert seen > 100


def test_electrodes_come_back_in_true_size() -> None:
    """A rod of 3 m at (4, 5) reaches from the ground to 3 m below, in feet by 0.3048."""
    shapes: dict[str, Electrode] = {
        "rods": rod("rods", (4.0, 5.0), 3.0, 0.016),
        "ring": ring("ring", (0.0, 0.0), 9.0, 0.75, 0.01),
    }
    for system, per in (("metric", 1.0), ("us", 1 / 0.3048)):
        doc = opened(
            ground_dxf(
                shapes,
                frozenset({"ring"}),
                {"board": (1.0, 2.0)},
                {},
                system,  # type: ignore[arg-type]
            )
        )
        lines = [e for e in doc.modelspace().query("LINE") if e.dxf.layer == "E-GRND-ELECTRODE"]
        long = max((line.dxf.start - line.dxf.end).magnitude for line in lines)
        assert long == pytest.approx(3.0 * per, rel=1e-9)
        assert owners(doc) == {("electrode", "rods"), ("neighbour", "ring"), ("place", "board")}
        assert doc.header["$INSUNITS"] == (6 if system == "metric" else 2)


def test_the_same_bytes_each_time() -> None:
    drawing = ribbon_picture(plan(load(SITE)))
    assert picture_dxf(drawing) == picture_dxf(drawing)


def test_arcs_and_relative_steps() -> None:
    """A half circle from (0, 0) to (2, 0) has its top at (1, -1): SVG's y points down."""
    ((points, closed),) = strokes("M0 0A1 1 0 0 1 2 0")
    assert not closed
    assert min(y for _, y in points) == pytest.approx(-1.0)
    assert points[-1] == pytest.approx((2.0, 0.0))
    ((points, closed),) = strokes("M1 1h2v3l-2 -1Z")
    assert closed
    assert points == [(1, 1), (3, 1), (3, 4), (1, 3)]
    with pytest.raises(ValueError, match="isn't ours"):
        list(strokes("M0 0C1 1 2 2 3 3"))


def test_our_own_lines_are_those_of_the_library() -> None:
    """ezdxf as the reference: the same shapes by its own calls are the same bytes."""
    from ezdxf.enums import TextEntityAlignment
    from ezdxf.filemanagement import new

    ours, its = new("R2010"), new("R2010")
    corners = [(0.0, -1.5), (12.25, -1.5), (12.25, 7.1)]
    entities = Entities(ours, APP)
    entities.polyline(corners, layer="0", colour=colour_tag((18, 52, 86)), closed=True, wide=2.6)
    entities.polyline(corners[:2], layer="0", colour=colour_tag(None), owner=("run", "feeder é"))
    entities.polyline(corners, layer="0")
    entities.circle((3.5, -4.0), 2.4, layer="0", owner=("tie", "bond"))
    entities.text("20 A", (1.0, 2.0), (31.5, 2.0), high=7.48, layer="0", colour=colour_tag(None))
    own = [(1000, "run"), (1000, "feeder é")]
    space = its.modelspace()
    colour, wide = {"true_color": 0x123456}, {"const_width": 2.6}
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "0", **colour, **wide})
    space.add_lwpolyline(corners[:2], dxfattribs={"layer": "0", "color": 7}).set_xdata(APP, own)
    space.add_lwpolyline(corners, dxfattribs={"layer": "0"})
    circle = space.add_circle((3.5, -4.0), 2.4, dxfattribs={"layer": "0"})
    circle.set_xdata(APP, [(1000, "tie"), (1000, "bond")])
    text = space.add_text("20 A", dxfattribs={"layer": "0", "height": 7.48, "color": 7})
    text.set_placement((1.0, 2.0), (31.5, 2.0), align=TextEntityAlignment.FIT)
    assert _entities(entities.into(_text(ours))) == _entities(_text(its))


def _text(doc: Document) -> str:
    out = io.StringIO(newline="\n")
    doc.write(out)
    return out.getvalue()


def _entities(written: str) -> str:
    return written.partition("\nENTITIES\n")[2].partition("ENDSEC")[0]


def test_a_drawing_is_the_same_each_time() -> None:
    """ezdxf adds classes in the order of a set, which is another in every process."""
    written = picture_dxf(ribbon_picture(plan(read(NASTY)))).decode()
    section = written.partition("\nCLASSES\n")[2].partition("ENDSEC")[0].split("\n")
    names = [name for code, name in pairwise(section) if code == "  1"]
    added = [name for name in names if name in {"ACDBPLACEHOLDER", "LAYOUT", "PLOTSETTINGS"}]
    assert added == sorted(added)
    assert len(added) > 1


def test_names_on_the_plan_of_electrodes_lie_on_nothing() -> None:
    """Letters of any drawing program are as wide as high at the most."""
    site = load(SITE)
    results = study_ground_of(site)
    doc = opened(results)
    boxes = []
    for text in doc.modelspace().query("TEXT"):
        (x, y, _), high = text.dxf.insert, text.dxf.height
        boxes.append((x, y, x + 0.9 * high * len(text.dxf.text), y + high, text.dxf.text))
    assert len(boxes) > 10
    for k, (left, low, right, top, name) in enumerate(boxes):
        for other in boxes[k + 1 :]:
            apart = right < other[0] or other[2] < left or top < other[1] or other[3] < low
            assert apart, (name, other[4])
        for mark in doc.modelspace().query("CIRCLE"):
            x, y, _ = mark.dxf.center
            assert not (left < x < right and low < y < top), name
    reach = max(box[2] for box in boxes) - min(box[0] for box in boxes)
    assert doc.modelspace().query("TEXT").first.dxf.height > reach / 200


def study_ground_of(site: Site) -> bytes:
    made = plan(site)
    ground = ground_of(made, study_ground(build(made, loads=False), ()))
    return ground_dxf(
        ground.electrodes, ground.others, ground.places or {}, ground.ways or {}, "us"
    )
