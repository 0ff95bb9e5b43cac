from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.draw.band import TERMINALS, Band
from bondwright.draw.column import column_band, lay_out_column
from bondwright.draw.layout import lay_out_page
from bondwright.draw.spots import TAB, Item, LabelSize, Layout, leads_width
from bondwright.draw.ways import Ways
from tests.draw.boxes import Rect, clashes, inside, meet

BAND = Band(3, 0.75)


@st.composite
def forests(draw: st.DrawFn) -> tuple[dict[str, Item], dict[str, LabelSize], list[str]]:
    count = draw(st.integers(1, 28))
    above = [-1] + [
        draw(st.integers(-1 if draw(st.integers(0, 9)) == 0 else 0, k - 1)) for k in range(1, count)
    ]
    items, labels = {}, {}
    for k in range(count):
        leads = draw(st.sampled_from([0, 0, 0, 1, 3]))
        tab = draw(st.booleans())
        least = leads_width(leads) + BAND.size + 90
        items[str(k)] = Item(
            str(k),
            tuple(str(c) for c in range(count) if above[c] == k),
            least + draw(st.integers(0, 150)),
            draw(st.sampled_from([40.0, 53.0, 66.0, 92.0])),
            leads,
            draw(st.sampled_from([None, "a", "b"])),
            tab,
        )
        labels[str(k)] = LabelSize(
            draw(st.integers(20, 158)),
            draw(st.integers(1, 6)) * 13.0,
            draw(st.sampled_from([0, 26])),
        )
    return items, labels, [str(k) for k in range(count) if above[k] < 0]


def check(layout: Layout, band: Band, items: dict[str, Item], labels: dict[str, LabelSize]) -> None:
    above = {child: name for name, item in items.items() for child in item.feeds}
    below = {name: item.feeds for name, item in items.items()}
    carries = dict.fromkeys(items, TERMINALS)
    ways = Ways(layout, band, above, below, carries)
    frame = (0.0, 0.0, layout.width, layout.height)
    boxes: list[tuple[str, Rect]] = []
    words: list[tuple[str, Rect]] = []
    for name, item in items.items():
        spot = layout.spots[name]
        top = TAB if item.tab else 0.0
        boxes.append((f"box {name}", (spot.x, spot.y - top, spot.w, spot.h + top)))
        if name in above:
            size = labels[name]
            words.append((f"label {name}", (*spot.label, size.width, size.height)))
            if size.more:
                words.append((f"more {name}", (*spot.more, size.width, size.more)))
    assert clashes(boxes + words) == []
    assert [name for name, rect in boxes + words if not inside(rect, frame)] == []
    for name, feeder in above.items():
        own = {f"box {name}", f"box {feeder}"}
        for rect in ways.bands(name):
            assert inside(rect, frame)
            hit = [other for other, box in boxes if other not in own and meet(rect, box)]
            hit += [other for other, box in words if meet(rect, box)]
            assert hit == [], f"the band to {name}"


@settings(max_examples=120, deadline=None)
@given(forests(), st.sampled_from([0.6, 1.5, 3.0]))
def test_on_a_page_nothing_overlaps(
    forest: tuple[dict[str, Item], dict[str, LabelSize], list[str]], ratio: float
) -> None:
    items, labels, roots = forest
    layout = lay_out_page(items, roots, BAND, lambda name, _: labels[name], ratio=ratio)
    check(layout, BAND, items, labels)


@settings(max_examples=120, deadline=None)
@given(forests())
def test_in_a_column_nothing_overlaps(
    forest: tuple[dict[str, Item], dict[str, LabelSize], list[str]],
) -> None:
    items, labels, roots = forest
    band = column_band(items, roots, 3, 390.0)
    layout = lay_out_column(items, roots, band, lambda *_: 53.0, lambda name, _: labels[name])
    check(layout, band, items, labels)
    assert layout.width == 390.0


def tree(count: int, ways: int) -> dict[str, Item]:
    return {
        str(k): Item(
            str(k),
            tuple(str(c) for c in range(ways * k + 1, min(ways * k + ways + 1, count))),
            170.0,
            53.0,
        )
        for k in range(count)
    }


@pytest.mark.parametrize("ways", [1, 2, 7, 400])
def test_a_tree_of_any_shape_comes_near_the_proportions_of_a_page(ways: int) -> None:
    layout = lay_out_page(tree(400, ways), ["0"], BAND, lambda *_: LabelSize(140, 52))
    # A chain of places of one size can't fold; everything else can.
    assert ways == 1 or 0.7 < layout.width / layout.height < 3.0


@pytest.mark.parametrize("ways", [2, 3, 9])
def test_indents_grow_with_the_logarithm_only(ways: int) -> None:
    items = tree(1000, ways)
    band = Band(3, 0.8)
    layout = lay_out_column(items, ["0"], band, lambda *_: 53.0, lambda *_: LabelSize(140, 52))
    indents = {spot.x for spot in layout.spots.values()}
    assert len(indents) <= math.log2(1000) + 1


def test_a_chain_of_thousands_does_not_exhaust_the_stack() -> None:
    items = tree(5000, 1)
    size = LabelSize(140, 52)
    assert len(lay_out_page(items, ["0"], BAND, lambda *_: size).spots) == 5000
    column = lay_out_column(items, ["0"], BAND, lambda *_: 53.0, lambda *_: size)
    assert {spot.x for spot in column.spots.values()} == {10.0}


@pytest.mark.parametrize("lines", [1, 2, 3])
def test_in_a_band_lines_neutral_and_metal_lie_side_by_side(lines: int) -> None:
    band = Band(lines)
    present = [f"L{k + 1}" for k in range(lines)] + ["N", "G"]
    lies = [band.lies(terminal, 100.0) for terminal in present]
    assert lies == sorted(lies)
    gaps = [b - a for a, b in itertools.pairwise(lies)]
    assert min(gaps) > band.ribbon
    assert lies[0] - band.ribbon / 2 == pytest.approx(100.0)
    assert lies[-1] + band.ribbon / 2 == pytest.approx(100.0 + band.size)
    # A bend keeps the order, so that nothing crosses in it.
    for terminal in present:
        assert band.hangs(terminal, 0.0) == pytest.approx(band.size - band.lies(terminal, 0.0))
