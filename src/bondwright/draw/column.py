"""The layout for a phone: one column, branches indented, the largest straight on below."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from bondwright.draw.band import Band
from bondwright.draw.spots import GAP, PAD, TAB, Item, LabelOf, Lane, Layout, Spot, parents_first

EDGE: Final = 10.0
"""Margin at both sides, px."""
LEAST_BOX: Final = 190.0
"""Least width of a box, px."""
LEAST_SCALE: Final = 0.4
"""Least scale of the bands before the column grows wider instead."""
STEP_GAP: Final = 26.0
"""From a rail to the boxes beside it, and the rail's own inset, px."""


def ordered_feeds(items: Mapping[str, Item], roots: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return what every place feeds, the largest branch last."""
    size: dict[str, int] = {}
    order = parents_first(items, roots)
    for name in reversed(order):
        size[name] = 1 + sum(size[child] for child in items[name].feeds)
    feeds = {}
    for name in order:
        children = items[name].feeds
        if len(children) > 1:
            # Where several are equally large the last one goes straight on: least moves.
            last = max(enumerate(children), key=lambda pair: (size[pair[1]], pair[0]))[0]
            children = (*children[:last], *children[last + 1 :], children[last])
        feeds[name] = children
    return feeds


def column_band(
    items: Mapping[str, Item], roots: Sequence[str], lines: int, width: float, scale: float = 0.8
) -> Band:
    """Return a band so slim that the deepest indent leaves room for a box.

    Args:
        items: every place by id.
        roots: ids of those nothing feeds.
        lines: how many line slots.
        width: of the column, px.
        scale: of the band where there is room.
    """
    feeds = ordered_feeds(items, roots)
    depth = dict.fromkeys(roots, 0)
    deepest = 0
    for name in parents_first(items, roots):
        for child in feeds[name]:
            depth[child] = depth[name] + (child != feeds[name][-1])
            deepest = max(deepest, depth[child])
    step = Band(lines, scale).size + STEP_GAP
    room = width - 2 * EDGE - LEAST_BOX
    if deepest * step > room:
        scale = max(LEAST_SCALE, scale * (room / deepest - STEP_GAP) / (step - STEP_GAP))
    return Band(lines, scale)


def lay_out_column(
    items: Mapping[str, Item],
    roots: Sequence[str],
    band: Band,
    head_of: Callable[[str, float], float],
    label_of: LabelOf,
    *,
    width: float = 390.0,
) -> Layout:
    """Lay a supply tree out in one column.

    Args:
        items: every place by id.
        roots: ids of those nothing feeds, in order.
        band: how the conductors lie in a band; see :func:`column_band`.
        head_of: tells the height of a box above its deck, given the room for its text, px.
        label_of: tells the size of the label of the run to a place, given the room.
        width: of the column, px; more where even the slimmest indents don't fit.

    Returns:
        The layout.
    """
    feeds = ordered_feeds(items, roots)
    step = band.size + STEP_GAP
    spots: dict[str, Spot] = {}
    y = 10.0
    farthest = EDGE
    # (name, feeder, x, whether it goes straight on)
    stack: list[tuple[str, str, float, bool]] = [(r, "", EDGE, False) for r in reversed(roots)]
    while stack:
        name, feeder, x, straight = stack.pop()
        farthest = max(farthest, x)
        item = items[name]
        wide = max(LEAST_BOX, width - EDGE - x)
        inset = band.size + 8 if straight else 2.0
        head = head_of(name, wide - 2 * PAD - inset)
        spot = Spot(x, 0, wide, head + band.deck, x + PAD, 0)
        if feeder:
            y = _hang(spot, spots[feeder], y, straight=straight, name=name, args=(band, label_of))
        elif spots:
            y += GAP
        top = y
        y += TAB if item.tab else 0.0
        spot.y, spot.deck = y, y + head + band.edge
        spot.block = (x, top, spot.w, 0.0)
        y += spot.h
        spots[name] = spot
        children = feeds[name]
        stack.extend(
            (child, name, x if child == children[-1] else x + step, child == children[-1])
            for child in reversed(children)
        )
    full = max(width, farthest + LEAST_BOX + EDGE)
    for spot in spots.values():
        spot.w = max(spot.w, full - EDGE - spot.x)
    for name in reversed(parents_first(items, roots)):
        spot = spots[name]
        end = max([spot.y + spot.h, *(sum(spots[c].block[1::2]) for c in feeds[name])])
        spot.block = (spot.x, spot.block[1], spot.w, end - spot.block[1])
    return Layout(spots, full, y + 10.0)


def _hang(
    spot: Spot,
    feeder: Spot,
    y: float,
    *,
    straight: bool,
    name: str,
    args: tuple[Band, LabelOf],
) -> float:
    """Hang a place on its feeder; return the top of its block."""
    band, label_of = args
    deck: Lane = ("h", feeder.deck)
    rail: Lane = ("v", feeder.strip)
    if not straight:
        label = label_of(name, spot.w)
        spot.entry, spot.lanes = "side", (deck, rail)
        spot.label, spot.more = (spot.x, y + 10), (spot.x, y + 10 + label.height)
        return y + 10 + label.height + label.more + 6
    at = spot.strip + band.size + 8
    label = label_of(name, spot.x + spot.w - at)
    spot.entry, spot.lanes = "top", (deck,)
    if y > feeder.y + feeder.h + 0.5:
        y += 8
        spot.lanes, spot.tap = (deck, rail), y
    spot.label, spot.more = (at, y + 5), (at, y + 5 + label.height)
    return y + 5 + label.height + label.more + 8
