"""Where everything stands: a compact block layout of the supply tree, in linear time.

Every place heads a block. On a page the blocks of what it feeds are packed on shelves under
its bus, or a single one stands to its right; which, and how wide a shelf, is chosen so that the
block best fits the proportions of the page. On a phone everything stands in one column: the
largest branch goes straight on below, the others are indented, so that the indents of n places
are never deeper than log2(n).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from bondwright.draw.band import Band
from bondwright.draw.spots import (
    GAP,
    MARGIN,
    PAD,
    STACK_GAP,
    STUB,
    TAB,
    Item,
    LabelOf,
    LabelSize,
    Lane,
    Layout,
    Spot,
    leads_width,
    parents_first,
)

_SHELF_TRIALS: Final = (0.5, 0.7, 0.85, 1.0, 1.2, 1.45, 1.8, 2.5)
"""Widths of shelves that are tried, in parts of the ideal one."""

Column = list[str]
"""Blocks above each other; one by itself hangs from the bus, several stand beside a rail."""


@dataclass(slots=True)
class _Row:
    columns: list[Column]
    width: float
    height: float
    zone: float  # room for the labels of blocks that hang by themselves


@dataclass(slots=True)
class _Block:
    w: float
    h: float
    top: float  # of the head's box within the block
    right: str = ""
    rows: list[_Row] = field(default_factory=list)


def lay_out_page(
    items: Mapping[str, Item],
    roots: Sequence[str],
    band: Band,
    label_of: LabelOf,
    *,
    ratio: float = 1.5,
    room: float = 150.0,
) -> Layout:
    """Lay a supply tree out for a page.

    Args:
        items: every place by id.
        roots: ids of those nothing feeds, in order.
        band: how the conductors lie in a band.
        label_of: tells the size of the label of the run to a place, given the room.
        ratio: width to height that the whole should come near to.
        room: greatest width of a label, px.

    Returns:
        The layout, with a margin around it.
    """
    order = parents_first(items, roots)
    labels = {name: label_of(name, room) for name in order}
    blocks: dict[str, _Block] = {}
    maker = _Page(items, blocks, labels, band, ratio)
    for name in reversed(order):
        blocks[name] = maker.block(items[name])
    rows = maker.best_rows(list(roots), lambda w, h: max(w, h * ratio), hang=False)
    spots: dict[str, Spot] = {}
    y = MARGIN
    for row in rows:
        x = MARGIN
        for (name,) in row.columns:
            maker.start(name, x, y, spots)
            x += blocks[name].w + GAP
        y += row.height + GAP
    for name in order:
        maker.place(items[name], spots)
    return Layout(spots, max(row.width for row in rows) + 2 * MARGIN, y - GAP + MARGIN)


@dataclass(slots=True)
class _Page:
    items: Mapping[str, Item]
    blocks: dict[str, _Block]
    labels: Mapping[str, LabelSize]
    band: Band
    ratio: float

    def _box(self, item: Item) -> float:
        return item.head + self.band.deck

    def _left(self, item: Item, *, rail: bool) -> float:
        return leads_width(item.leads) + (PAD + self.band.size + 8 if rail else 0.0)

    def block(self, item: Item) -> _Block:
        top = TAB if item.tab else 0.0
        if not item.feeds:
            return _Block(item.width, top + self._box(item), top)
        below = self._below(item, top)
        if len(item.feeds) > 1:
            return below
        beside = self._beside(item, top)
        return min((below, beside), key=lambda b: max(b.w, b.h * self.ratio))

    def _beside(self, item: Item, top: float) -> _Block:
        (name,) = item.feeds
        child, label = self.blocks[name], self.labels[name]
        other = child.top + self.items[name].head
        deck = max(top + item.head, other, label.height + 8 - self.band.edge)
        under = deck + self.band.deck + label.more
        height = max(deck - other + child.h, under)
        top = deck - item.head
        return _Block(item.width + label.width + 24 + child.w, height, top, right=name)

    def _below(self, item: Item, top: float) -> _Block:
        one = self._left(item, rail=False)
        many = self._left(item, rail=True)
        bus = self.band.size + GAP
        box = self._box(item)

        def score(w: float, h: float) -> float:
            return max(w + many, (h + box) * self.ratio)

        feeds = sorted(item.feeds, key=lambda name: -round(self.blocks[name].h / 12))
        rows = self.best_rows(feeds, score, hang=True)
        left = many if len(rows) > 1 else one
        height = top + box + sum(row.height for row in rows) + bus * (len(rows) - 1)
        width = max(item.width, left + max(row.width for row in rows))
        return _Block(width, height, top, rows=rows)

    def best_rows(
        self, names: Sequence[str], score: Callable[[float, float], float], *, hang: bool
    ) -> list[_Row]:
        """Pack blocks on shelves so that the whole scores least.

        Args:
            names: of the blocks, the tallest first.
            score: of a width and a height, px.
            hang: whether they hang from a bus (and may share a column).
        """
        single = [self._single(name, hang=hang) for name in names]
        side = [self._beside_rail(name) for name in names] if hang else []
        widest = max(w for w, _, _ in single)
        total = sum(w + GAP for w, _, _ in single)
        area = sum((w + GAP) * (h + GAP) for w, h, _ in single)
        ideal = (area * self.ratio) ** 0.5
        trials = {max(widest, ideal * k) for k in _SHELF_TRIALS} | {widest, total}
        tried = [self._shelve(names, single, side, limit) for limit in sorted(trials)]
        gap = self.band.size + GAP if hang else GAP

        def size(rows: list[_Row]) -> float:
            tall = sum(row.height for row in rows) + gap * (len(rows) - 1)
            return score(max(row.width for row in rows), tall)

        return min(tried, key=size)

    def _single(self, name: str, *, hang: bool) -> tuple[float, float, float]:
        """Return width, height (with the label) and label height of a block by itself, px."""
        block, label = self.blocks[name], self.labels[name]
        if not hang:
            return block.w, block.h, 0.0
        strip = PAD + leads_width(self.items[name].leads)
        zone = label.height + label.more + 16
        wide = max(block.w, strip + self.band.size + 8 + label.width)
        return wide, zone + block.h, zone

    def _beside_rail(self, name: str) -> tuple[float, float]:
        """Return width and height of a block that stands beside a rail, without the rail, px."""
        block, label = self.blocks[name], self.labels[name]
        return max(block.w, label.width + 8), label.height + label.more + 6 + block.h

    def _shelve(
        self,
        names: Sequence[str],
        single: Sequence[tuple[float, float, float]],
        side: Sequence[tuple[float, float]],
        limit: float,
    ) -> list[_Row]:
        rows: list[_Row] = []
        rail = self.band.size + STUB
        last = (0.0, 0.0, 0.0)  # of the last column: its width, and as a stack width and height
        for k, name in enumerate(names):
            w, h, zone = single[k]
            stack = (rail + side[k][0], side[k][1] + 8) if side else (0.0, 0.0)
            if rows and side:
                row = rows[-1]
                wide, tall = max(last[1], stack[0]), last[2] + stack[1] + STACK_GAP
                if tall <= row.height and row.width - last[0] + wide <= limit + 1e-6:
                    row.columns[-1].append(name)
                    row.width += wide - last[0]
                    last = (wide, wide, tall)
                    continue
            if rows and rows[-1].width + GAP + w <= limit + 1e-6:
                row = rows[-1]
                row.columns.append([name])
                row.width += GAP + w
                row.height = max(row.height, h)
                row.zone = max(row.zone, zone)
            else:
                rows.append(_Row([[name]], w, h, zone))
            last = (w, *stack)
        for row in rows:
            # Labels of one row begin at one height, and so do the boxes below them.
            alone = [self.blocks[c[0]].h for c in row.columns if len(c) == 1]
            row.height = max(row.height, row.zone + max(alone, default=0.0))
        return rows

    def start(self, name: str, x: float, y: float, spots: dict[str, Spot]) -> Spot:
        """Place a block with its corner at x, y; return the spot of its head."""
        item, block = self.items[name], self.blocks[name]
        spot = Spot(
            x=x,
            y=y + block.top,
            w=item.width,
            h=self._box(item),
            strip=x + PAD + leads_width(item.leads),
            deck=y + block.top + item.head + self.band.edge,
            block=(x, y, block.w, block.h),
        )
        spots[name] = spot
        return spot

    def place(self, item: Item, spots: dict[str, Spot]) -> None:
        """Place what an item feeds; the item itself has its place."""
        spot, block = spots[item.name], self.blocks[item.name]
        if block.right:
            self._place_right(block.right, spot, item, spots)
            return
        left = self._left(item, rail=len(block.rows) > 1)
        y = spot.y + spot.h
        lanes: tuple[Lane, ...] = (("h", spot.deck),)
        for k, row in enumerate(block.rows):
            if k:
                lanes = (("h", spot.deck), ("v", spot.strip), ("h", y + GAP / 2))
                y += self.band.size + GAP
            x = spot.block[0] + left
            for column in row.columns:
                if len(column) == 1:
                    x += self._hang(column[0], x, y, row.zone, lanes, spots) + GAP
                else:
                    x += self._stack(column, x, y, lanes, spots) + GAP
            y += row.height

    def _hang(
        self,
        name: str,
        x: float,
        y: float,
        zone: float,
        lanes: tuple[Lane, ...],
        spots: dict[str, Spot],
    ) -> float:
        child, label = self.start(name, x, y + zone, spots), self.labels[name]
        child.entry, child.lanes = "top", lanes
        at = child.strip + self.band.size + 8
        child.label, child.more = (at, y + 4), (at, y + 4 + label.height)
        return self._single(name, hang=True)[0]

    def _stack(
        self,
        column: Column,
        x: float,
        y: float,
        lanes: tuple[Lane, ...],
        spots: dict[str, Spot],
    ) -> float:
        rail = self.band.size + STUB
        wide = 0.0
        y += 8
        for name in column:
            label = self.labels[name]
            w, h = self._beside_rail(name)
            high = label.height + label.more
            child = self.start(name, x + rail, y + high + 6, spots)
            child.entry, child.lanes = "side", (*lanes, ("v", x))
            child.label, child.more = (child.x, y), (child.x, y + label.height)
            y += h + STACK_GAP + 8
            wide = max(wide, rail + w)
        return wide

    def _place_right(self, name: str, spot: Spot, item: Item, spots: dict[str, Spot]) -> None:
        label, child_block = self.labels[name], self.blocks[name]
        x = spot.x + spot.w + label.width + 24
        top = spot.y + item.head - self.items[name].head - child_block.top
        child = self.start(name, x, top, spots)
        child.entry, child.lanes = "left", (("h", spot.deck),)
        at = spot.x + spot.w + 12
        child.label = (at, spot.deck - 6 - label.height)
        child.more = (at, spot.deck + self.band.size + 4)
