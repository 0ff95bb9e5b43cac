from __future__ import annotations

import math
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.band import Edge, TimeBand
from bondwright.devices.bands import band
from bondwright.draw import time_current_plot
from tests.draw.boxes import SVG, clashes, inside, parsed, texts, view_box

NAMES = ["200 A breaker", "40 A breaker", "C16", "60 A RK5 fuse"]


def devices(count: int = 3) -> list[tuple[str, TimeBand]]:
    return [(name, band(DeviceRating.parse(name))) for name in NAMES[:count]]


SIMPLE = TimeBand(
    Edge(((10.0, 100.0), (100.0, 1.0))),
    Edge(((20.0, 1000.0), (200.0, 10.0))),
)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(1, 60_000), max_size=6),
    st.sampled_from([300.0, 390.0, 640.0, 1000.0]),
    st.sampled_from([240.0, 480.0]),
)
def test_words_keep_apart_and_inside(amps: list[float], width: float, height: float) -> None:
    marks = [(f"fault {k} at the pump house", current) for k, current in enumerate(amps)]
    drawing = time_current_plot(devices(), marks, width, height)
    root = parsed(drawing.svg)
    found = list(texts(root))
    assert clashes(found) == []
    frame = view_box(root)
    assert [words for words, rect in found if not inside(rect, frame)] == []
    assert drawing.width_px == width
    assert drawing.height_px >= height - 0.1


def test_scales_are_logarithmic() -> None:
    """A decade is as wide anywhere; a marker at 100 A stands on the mark of 100 A."""
    drawing = time_current_plot([("simple", SIMPLE)], [("here", 100.0)])
    root = parsed(drawing.svg)
    at = {text: rect[0] + rect[2] / 2 for text, rect in texts(root)}
    assert at["100 A"] - at["10 A"] == pytest.approx(at["1 kA"] - at["100 A"], abs=0.3)
    marker = next(e for e in root.iter(f"{SVG}g") if e.attrib.get("class") == "marker")
    line = next(e for e in marker if e.tag == f"{SVG}path")
    found = re.match(r"M([\d.]+) ", line.attrib["d"])
    assert found is not None
    assert float(found[1]) == pytest.approx(at["100 A"], abs=0.2)


def test_edges_stand_where_the_band_says() -> None:
    root = parsed(time_current_plot([("simple", SIMPLE)]).svg)
    places = dict(texts(root))
    x10, x100 = (places[t][0] + places[t][2] / 2 for t in ("10 A", "100 A"))
    y1, y100 = (places[t][1] + places[t][3] / 2 for t in ("1 s", "100 s"))
    group = next(e for e in root.iter(f"{SVG}g") if e.attrib.get("class") == "band")
    lines = [e for e in group if e.tag == f"{SVG}path" and e.attrib.get("stroke-width") == "1.6"]
    quick = [tuple(map(float, p.split())) for p in lines[0].attrib["d"][1:].split("L")]
    # After the upright start: (10 A, 100 s), (100 A, 1 s).
    assert quick[1] == pytest.approx((x10, y100), abs=2.0)
    assert quick[2] == pytest.approx((x100, y1), abs=2.0)


def test_bands_differ_in_more_than_colour() -> None:
    root = parsed(time_current_plot(devices(3)).svg)
    dashes = []
    for group in root.iter(f"{SVG}g"):
        if group.attrib.get("class") == "band":
            edges = [e for e in group if e.attrib.get("stroke-width") == "1.6"]
            dashes.append(edges[0].attrib.get("stroke-dasharray", ""))
    assert len(set(dashes)) == 3


def test_the_words_tell_the_times() -> None:
    drawing = time_current_plot(devices(1), [("at the panel", 5000.0)])
    assert "At at" not in drawing.alt
    assert devices(1)[0][1].tell(5000.0) in drawing.alt


def test_hostile_labels_stay_words() -> None:
    label = '<script>alert("x")</script>'
    root = parsed(time_current_plot([(label, SIMPLE)], [(label, 50.0)]).svg)
    tags = {element.tag.removeprefix(SVG) for element in root.iter()}
    assert "script" not in tags


@pytest.mark.parametrize("current", [0.0, -1.0, math.inf, math.nan])
def test_a_current_that_cannot_be_drawn_is_refused(current: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        time_current_plot(devices(1), [("here", current)])


def test_nothing_to_plot_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one"):
        time_current_plot([])


def test_too_small_a_plot_is_refused() -> None:
    with pytest.raises(ValueError, match="too small"):
        time_current_plot(devices(1), width=100.0)
