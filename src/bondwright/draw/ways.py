"""The ways that ribbons take over a layout: bars on decks, buses, runs from place to place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from bondwright.draw.band import Band
from bondwright.draw.spots import LEAD_PITCH, Lane, Layout, Spot

Points = list[tuple[float, float]]
Rect = tuple[float, float, float, float]
"""x, y, width, height, px."""

INSET = 10.0
"""From the left edge of a box to where its deck is told to begin if nothing comes from above."""


@dataclass(frozen=True, slots=True)
class Ways:
    """Where every conductor of a layout runs.

    Attributes:
        layout: where everything stands.
        band: the slots of a band.
        above: the feeder of each place.
        below: what each place feeds.
        carries: terminals that the run to each place joins.
    """

    layout: Layout
    band: Band
    above: Mapping[str, str]
    below: Mapping[str, Sequence[str]]
    carries: Mapping[str, Sequence[str]]

    def spot(self, name: str) -> Spot:
        """Return where a place stands."""
        return self.layout.spots[name]

    def start_x(self, name: str, terminal: str) -> float:
        """Return where on its deck a terminal of a place is reached, px."""
        spot = self.spot(name)
        if spot.entry == "top":
            return self.band.hangs(terminal, spot.strip)
        return spot.x + INSET

    def deck_y(self, name: str, terminal: str) -> float:
        """Return the height of a terminal's bar, px."""
        return self.band.lies(terminal, self.spot(name).deck)

    def _bus(self, name: str, terminal: str) -> Points:
        """Return the way of one conductor along the lanes to a place, corners only."""
        spot = self.layout.spots[name]
        if len(spot.lanes) == 1:
            return []
        at = [
            self.band.lies(terminal, where) if kind == "h" else self.band.hangs(terminal, where)
            for kind, where in spot.lanes
        ]
        kinds = [kind for kind, _ in spot.lanes]
        return [
            (b, a) if kind == "h" else (a, b) for kind, a, b in zip(kinds, at, at[1:], strict=False)
        ]

    def ribbon(self, name: str, terminal: str) -> Points:
        """Return the way of one conductor of the run that feeds a place, from bus to deck."""
        spot = self.layout.spots[name]
        end = self.band.lies(terminal, spot.deck)
        where = spot.lanes[-1][1]
        if spot.entry == "left":
            before = self.spot(self.above[name])
            return [(before.x + before.w, end), (spot.x + INSET, end)]
        if spot.entry == "side":
            return [(self.band.hangs(terminal, where), end), (spot.x + INSET, end)]
        x = self.band.hangs(terminal, spot.strip)
        start = spot.tap if spot.tap is not None else self.band.lies(terminal, where)
        return [(x, start), (x, end)]

    def way(self, name: str, terminal: str) -> Points:
        """Return the way of a current to a place, from where it enters its feeder's deck."""
        feeder = self.above[name]
        start = (self.start_x(feeder, terminal), self.deck_y(feeder, terminal))
        tail = [*self._bus(name, terminal), *self.ribbon(name, terminal)]
        if feeder not in self.above:
            return _tidy(tail)
        return _tidy([start, *tail])

    def lead_x(self, name: str, index: int) -> float:
        """Return where lead number ``index`` of a place leaves its deck, px."""
        return self.spot(name).x + 9 + LEAD_PITCH * index

    def bars(self, name: str, terminal: str, leads: int) -> Iterator[Points]:
        """Yield the bars of one terminal: on the deck, and the lanes beyond it.

        Args:
            name: the place.
            terminal: which.
            leads: number of leads that leave its metal.
        """
        spot, y = self.spot(name), self.deck_y(name, terminal)
        children = self.below.get(name, ())
        if not children and not leads:
            yield [(self.start_x(name, terminal), y), (spot.x + spot.w - INSET, y)]
            return
        deck: Lane = ("h", spot.deck)
        reach: dict[Lane, list[float]] = {
            deck: [self.start_x(name, terminal), spot.x + spot.w - INSET]
        }
        if terminal == "G" and leads:
            reach[deck].append(self.lead_x(name, 0))
        for child in children:
            other = self.spot(child)
            if terminal not in self.carries[child]:
                continue
            if other.entry == "left":
                reach[deck].append(spot.x + spot.w)
                continue
            corners = [*self._bus(child, terminal), self.ribbon(child, terminal)[0]]
            before = (self.start_x(name, terminal), y)
            for lane, corner in zip(other.lanes, corners, strict=True):
                along = 0 if lane[0] == "h" else 1
                reach.setdefault(lane, []).append(corner[along])
                if lane != deck:
                    reach[lane].append(before[along])
                before = corner
        for (kind, where), ends in reach.items():
            low, high = min(ends), max(ends)
            if kind == "h":
                at = self.band.lies(terminal, where)
                yield [(low, at), (high, at)]
            elif high - low > 0.01:
                at = self.band.hangs(terminal, where)
                yield [(at, low), (at, high)]

    def bands(self, name: str) -> list[Rect]:
        """Return what the band to a place covers: its bus and its run, without its label."""
        found: list[Rect] = []
        feeder = self.spot(self.above[name])
        outer = [(feeder.x + feeder.w, self.deck_y(self.above[name], "L1"))]
        inner = [(feeder.x + feeder.w, self.deck_y(self.above[name], "G"))]
        if self.spot(name).lanes[1:] or self.spot(name).entry == "top":
            first = self.spot(name).lanes[1][1] if self.spot(name).lanes[1:] else None
            start = first if first is not None else self.spot(name).strip
            x = min(max(start, feeder.x), feeder.x + feeder.w)
            outer, inner = [(x, outer[0][1])], [(x, inner[0][1])]
        outer += [*self._bus(name, "L1"), *self.ribbon(name, "L1")]
        inner += [*self._bus(name, "G"), *self.ribbon(name, "G")]
        half = self.band.ribbon / 2
        for k in range(len(outer) - 1):
            xs, ys = zip(outer[k], outer[k + 1], inner[k], inner[k + 1], strict=True)
            x, y = min(xs) - half, min(ys) - half
            found.append((x, y, max(xs) + half - x, max(ys) + half - y))
        return found

    def solid(self, name: str) -> Iterator[Rect]:
        """Yield what takes up room at a place and on the way to it: its box and the bands."""
        spot = self.spot(name)
        yield (spot.x, spot.y, spot.w, spot.h)
        if name in self.above:
            yield from self.bands(name)


def around(points: Iterable[tuple[float, float]]) -> Rect:
    """Return the least rectangle that holds some points; nothing at the origin for none."""
    xs, ys = zip(*points, strict=True) if (points := list(points)) else ((0.0,), (0.0,))
    return (min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys))


def _tidy(points: Points) -> Points:
    """Drop points that repeat or lie within a straight stretch going on."""
    out: Points = []
    for point in points:
        if out and abs(out[-1][0] - point[0]) < 0.01 and abs(out[-1][1] - point[1]) < 0.01:
            continue
        out.append(point)
    return out
