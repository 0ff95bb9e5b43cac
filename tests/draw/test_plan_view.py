"""The ground from above, and plots of field tests: complete, readable, told in words."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import numpy as np
import pytest

from bondwright.draw.curve_plot import Readings, curve_plot
from bondwright.draw.plan_view import Ground, Shade, levels, plan_view, within
from bondwright.earth.shapes import buried_wire, concrete_bar, plate, ring, rod
from bondwright.units import Dimension

GROUND = Ground(
    {
        "rods": rod("rods", (0, 0), 3, 0.016).joined(rod("b", (2, 0), 3, 0.016)),
        "loop": ring("loop", (8, 0), 6, 0.75, 0.008),
        "footing": concrete_bar("footing", [(0, 5), (8, 5)], 0.6, 0.013, 0.3, 60),
        "pipe & <main>": buried_wire("p", [(0, -6), (9, -6)], 1.0, 0.05),
        "plate": plate("plate", (-4, 3, 0.75), (0.6, 0.6)),
        "theirs": rod("theirs", (12, 6), 3, 0.016),
    },
    frozenset({"theirs"}),
    {"panel": (0.0, 1.0)},
    {"fence": [(-5.0, -3.0), (12.0, -3.0)]},
)


def shade() -> Shade:
    x, y = np.linspace(-8, 16, 49), np.linspace(-9, 9, 37)
    volts = 100 / (1 + np.hypot(*np.meshgrid(x, y)))
    return Shade("touch voltage", x, y, volts, ((0.0, 0.0), 100.0))


@pytest.mark.parametrize("wide", [360.0, 640.0])
@pytest.mark.parametrize("shaded", [False, True])
def test_everything_is_there_and_inside(wide: float, shaded: bool) -> None:
    drawn = plan_view(GROUND, shade() if shaded else None, wide, prefix="x-")
    root = ElementTree.fromstring(drawn.svg)
    kinds = set(drawn.ids.values())
    assert {f"electrode {name}" for name in GROUND.electrodes} <= kinds
    assert {"place panel", "way fence"} <= kinds
    assert all(key.startswith("x-") for key in drawn.ids)
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        x, long = float(text.attrib["x"]), float(text.attrib["textLength"])
        anchor = text.attrib.get("text-anchor", "start")
        left = {"start": x, "middle": x - long / 2, "end": x - long}[anchor]
        assert left >= 0
        assert left + long <= drawn.width_px + 0.5
        assert 0 <= float(text.attrib["y"]) <= drawn.height_px
    assert "pipe & <main>" in drawn.alt
    assert ("touch voltage up to" in drawn.alt.lower()) is shaded


def test_labels_lie_apart() -> None:
    drawn = plan_view(GROUND, None, 640.0)
    boxes = []
    for text in ElementTree.fromstring(drawn.svg).iter("{http://www.w3.org/2000/svg}text"):
        if text.attrib.get("font-weight") == "600":
            x, y = float(text.attrib["x"]), float(text.attrib["y"])
            boxes.append((x, y - 9, x + float(text.attrib["textLength"]), y + 2))
    assert len(boxes) == 8
    for k, a in enumerate(boxes):
        for b in boxes[k + 1 :]:
            assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3])


@pytest.mark.parametrize("highest", [0.37, 1.0, 21.2, 99, 12_345])
def test_bands_are_round_and_reach_the_top(highest: float) -> None:
    edges = levels(highest)
    assert 3 <= len(edges) <= 8
    step = edges[1] - edges[0]
    assert edges[-1] < highest <= edges[-1] + step * (1 + 1e-9)
    assert re.fullmatch(r"(1|2|2\.5|5|10)(\.0+)?", f"{step / 10 ** np.floor(np.log10(step)):g}")


def test_nothing_to_draw() -> None:
    with pytest.raises(ValueError, match="at least one electrode"):
        plan_view(Ground({}))
    with pytest.raises(ValueError, match="too small"):
        plan_view(GROUND, None, 100.0)


def readings(logarithmic: bool = False) -> Readings:
    return Readings(
        points=((12.0, 3.4), (31.0, 4.15), (54.0, 5.6)),
        curve=((12.0, 3.4), (31.0, 4.15), (54.0, 5.6)),
        x=("distance", Dimension.LENGTH),
        y=("reading", Dimension.RESISTANCE),
        logarithmic=logarithmic,
        doubtful=frozenset({2}),
        uprights=(("61.8 %", 37.0),),
        levels=(("goal 25 ohm", 25.0), ("result 4.2 ohm", 4.2)),
    )


@pytest.mark.parametrize("logarithmic", [False, True])
def test_readings_are_plotted_where_they_are(logarithmic: bool) -> None:
    drawn = curve_plot(readings(logarithmic), 520.0, 300.0)
    root = ElementTree.fromstring(drawn.svg)
    dots = list(root.iter("{http://www.w3.org/2000/svg}circle"))
    assert len(dots) == 3
    xs, ys = ([float(dot.attrib[k]) for dot in dots] for k in ("cx", "cy"))
    assert xs == sorted(xs)
    assert ys == sorted(ys, reverse=True)
    assert float(dots[2].attrib["r"]) > float(dots[0].attrib["r"])
    assert "goal 25 ohm, above the plot" in drawn.svg
    assert "39.4 ft" not in drawn.alt
    assert "12 m: 3.4 ohm" in drawn.alt


def test_no_plot() -> None:
    with pytest.raises(ValueError, match="at least one reading"):
        curve_plot(Readings((), (), ("x", Dimension.LENGTH), ("y", Dimension.RESISTANCE)))
    with pytest.raises(ValueError, match="too small"):
        curve_plot(readings(), 100.0, 100.0)


def test_what_leaves_the_shaded_ground_is_cut_off() -> None:
    x, y = np.linspace(-2, 4, 25), np.linspace(-4, 2, 25)
    small = Shade("step voltage", x, y, np.ones((25, 25)))
    drawn = plan_view(GROUND, small, 400.0)
    kept = set(drawn.ids.values())
    assert {"electrode rods", "place panel", "way fence"} <= kept
    assert not {"electrode theirs", "electrode plate", "electrode pipe & <main>"} & kept
    # a line of the plane, cut by hand
    sloping = Ground(GROUND.electrodes, ways={"pipe": [(-10.0, -9.0), (10.0, 11.0)]})
    held = within(sloping, ((-2.0, -4.0), (4.0, 2.0)))
    assert held.ways is not None
    assert np.array(held.ways["pipe"]) == pytest.approx(np.array([[-2.0, -1.0], [1.0, 2.0]]))
    away = Ground(GROUND.electrodes, ways={"pipe": [(5.0, -9.0), (5.0, 11.0)]})
    assert not within(away, ((-2.0, -4.0), (4.0, 2.0))).ways
