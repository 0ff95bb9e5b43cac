"""Time bands: between which times a device opens at a current.

A band has two edges, each a broken line on logarithmic scales. The quick edge says before
when a device of its kind never opens; the slow edge says by when it has opened for sure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.catalog.edges import Edge, Point, crossing
from bondwright.catalog.sources import Source
from bondwright.units import Dimension, show

__all__ = [
    "FAR_X",
    "Edge",
    "Point",
    "TimeBand",
    "earliest",
    "falling",
    "same_energy",
    "step",
    "stepped",
]

FAR_X: Final = 1e4
"""A multiple of rating beyond any fault a building can have."""


@dataclass(frozen=True, slots=True)
class TimeBand:
    """When a device opens: never before the quick edge, for sure by the slow edge.

    Attributes:
        quick: the quick edge.
        slow: the slow edge.
        assumptions: what was taken for granted, in sentences for people.
        sources: where the numbers come from and how sure they are.
        melts_i2t: least energy that melts a gG fuse, whichever the make [A2 s].
        passes_i2t: greatest energy a gG fuse lets through where the slow edge is at
            ``passes_below_s`` or less [A2 s].
        passes_below_s: time below which ``passes_i2t`` stands [s].

    Raises:
        ValueError: the quick edge is slower than the slow edge somewhere.
    """

    quick: Edge
    slow: Edge
    assumptions: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    melts_i2t: float | None = None
    passes_i2t: float | None = None
    passes_below_s: float = 0.01

    def __post_init__(self) -> None:
        current = crossing(self.quick, self.slow)
        if current is not None:
            raise ValueError(f"the quick edge is slower than the slow edge at {current:g} A")

    def fastest(self, current_a: float) -> float:
        """Return the time before which the device does not open [s]; infinity if it never does.

        Where the quick edge steps, the device still holds (a hold gate holds at its own current).

        Args:
            current_a: current through the device, A.

        Raises:
            ValueError: the current is negative or not a number.
        """
        return min(self.quick.before(current_a), self.slow.at(current_a))

    def slowest(self, current_a: float) -> float:
        """Return the time by which the device has opened for sure [s]; infinity if it may not.

        Where the slow edge steps, the device trips (a trip gate trips at its own current).

        Args:
            current_a: current through the device, A.

        Raises:
            ValueError: the current is negative or not a number.
        """
        return self.slow.at(current_a)

    def operates_for_sure(self, current_a: float) -> bool:
        """Tell whether the device opens for sure, sooner or later, at a current [A].

        Raises:
            ValueError: the current is negative or not a number.
        """
        return math.isfinite(self.slow.at(current_a))

    def sure_current(self, time_s: float) -> float:
        """Return the least current [A] that opens the device for sure within a time [s].

        This is the current a fault loop must let through for that disconnection time; infinity
        if no current does.

        Raises:
            ValueError: the time is negative or not a number.
        """
        if not time_s >= 0:
            raise ValueError(f"a time of {time_s} s is not possible; give zero or more")
        return self.slow.least_current(time_s)

    def edges(self, up_to_a: float | None = None) -> tuple[tuple[Point, ...], tuple[Point, ...]]:
        """Return both edges for plotting.

        Args:
            up_to_a: carry both edges level to this current, A, if they end before it.

        Returns:
            (quick, slow), each a tuple of (current [A], time [s]), steps as two points.
        """
        return _carried(self.quick.points, up_to_a), _carried(self.slow.points, up_to_a)

    def tell(self, current_a: float) -> str:
        """Say in words when the device opens at a current [A]."""
        quick, slow = self.fastest(current_a), self.slowest(current_a)
        if math.isinf(quick):
            return "does not open"
        if math.isinf(slow):
            return f"may open after {show(quick, Dimension.TIME)}, or not at all"
        return f"opens between {show(quick, Dimension.TIME)} and {show(slow, Dimension.TIME)}"


def _carried(points: tuple[Point, ...], up_to_a: float | None) -> tuple[Point, ...]:
    if not points:
        return ()
    last, time = points[-1]
    return (*points, (up_to_a, time)) if up_to_a is not None and up_to_a > last else points


def falling(points: Sequence[Point], least_s: float) -> list[Point]:
    """Cut a falling line off where it goes below a time.

    Args:
        points: (current [A], time [s]), falling, straight on log-log scales.
        least_s: the time it must not go below, s.

    Returns:
        The points down to ``least_s``; the last is where the line meets it, if it does.
    """
    kept: list[Point] = []
    for current, time in points:
        if time >= least_s:
            kept.append((current, time))
            continue
        if kept:
            i0, t0 = kept[-1]
            share = math.log(least_s / t0) / math.log(time / t0)
            kept.append((i0 * (current / i0) ** share, least_s))
        else:
            kept.append((current, least_s))
        break
    return kept


def stepped(points: Sequence[Point], at_a: float, to_s: float) -> Edge:
    """Make an edge that follows a line up to a current and steps down there.

    Args:
        points: the line, (current [A], time [s]), falling.
        at_a: current of the step, A.
        to_s: time at the foot of the step and beyond, s.

    Returns:
        The edge. A line that begins at or beyond ``at_a`` gives the foot of the step alone.
    """
    line = falling(points, to_s)
    kept = [point for point in line if point[0] < at_a]
    if kept:
        head = Edge(tuple(line)).before(at_a)
        if head > to_s:
            kept.append((at_a, head))
    return Edge((*kept, (at_a, to_s)))


def same_energy(point: Point, current_a: float) -> Point:
    """Move a point along constant current squared times time to another current [A]."""
    current, time = point
    return current_a, time * (current / current_a) ** 2


def step(current_a: float, time_s: float) -> Edge:
    """Make an edge that waits for a current [A] and then takes one time [s]."""
    return Edge(((current_a, time_s),))


def earliest(edges: Sequence[Edge]) -> Edge:
    """Make the edge of a device that several elements open, whichever is first.

    Args:
        edges: one for each element.

    Returns:
        The least time of all edges at every current.
    """
    marks = sorted({current for edge in edges for current, _ in edge.points})
    points: list[Point] = []
    for index, current in enumerate(marks):
        head = min(edge.left_of(current) for edge in edges)
        foot = min(edge.at(current) for edge in edges)
        points += [(current, time) for time in (head, foot) if math.isfinite(time)]
        if index + 1 < len(marks):
            points += _crossings(edges, current, marks[index + 1])
    # rounding must not make the line turn back
    falling_points: list[Point] = []
    for current, time in points:
        held = min(time, falling_points[-1][1]) if falling_points else time
        if not falling_points or falling_points[-1] != (current, held):
            falling_points.append((current, held))
    return Edge(tuple(falling_points))


def _crossings(edges: Sequence[Edge], low: float, high: float) -> list[Point]:
    """Return where the least edge changes between two currents with no point between them."""
    width = math.log(high / low)
    lines = [
        (math.log(edge.at(low)), math.log(edge.left_of(high)))
        for edge in edges
        if math.isfinite(edge.at(low))
    ]
    found = set()
    for index, (a0, a1) in enumerate(lines):
        for b0, b1 in lines[index + 1 :]:
            start, end = a0 - b0, a1 - b1
            if start * end < 0:
                found.add(start / (start - end))
    return [
        (
            low * math.exp(width * share),
            math.exp(min(y0 + (y1 - y0) * share for y0, y1 in lines)),
        )
        for share in sorted(found)
    ]
