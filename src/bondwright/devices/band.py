"""Time bands: between which times a device opens at a current.

A band has two edges, each a broken line on logarithmic scales. The quick edge says before
when a device of its kind never opens; the slow edge says by when it has opened for sure.
"""

from __future__ import annotations

import bisect
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

from bondwright.catalog.sources import Source
from bondwright.units import Dimension, show

Point = tuple[float, float]
"""A current [A] and a time [s]."""

FAR_X: Final = 1e4
"""A multiple of rating beyond any fault a building can have."""

_CLOSE = 1e-9


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge of a band: a falling broken line, straight on log-log scales.

    Without points the device never operates; left of the first point it does not either. Right of
    the last point the time stays that of the last point. Two points at one current make a
    vertical step.

    Attributes:
        points: (current [A], time [s]); currents do not fall, times do not rise.

    Raises:
        ValueError: a number is not positive and finite, or the line turns back.
    """

    points: tuple[Point, ...]
    _currents: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _logs: tuple[Point, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        for current, time in self.points:
            if not (0 < current < math.inf and 0 < time < math.inf):
                raise ValueError(
                    f"the point ({current:g} A, {time:g} s) is not positive and finite"
                )
        for (i0, t0), (i1, t1) in pairwise(self.points):
            if i1 < i0 or t1 > t0:
                raise ValueError(
                    f"the edge turns back between ({i0:g} A, {t0:g} s) and ({i1:g} A, {t1:g} s)"
                )
        object.__setattr__(self, "_currents", tuple(i for i, _ in self.points))
        logs = tuple((math.log(i), math.log(t)) for i, t in self.points)
        object.__setattr__(self, "_logs", logs)

    def at(self, current_a: float) -> float:
        """Return the time [s] at a current [A]; the foot of a step where there is one.

        Raises:
            ValueError: the current is negative or not a number.
        """
        return self._time(current_a, bisect.bisect_right(self._currents, _checked(current_a)))

    def before(self, current_a: float) -> float:
        """Return the time [s] at a current [A]; the head of a step where there is one.

        At the first point this is its own time, not infinity.

        Raises:
            ValueError: the current is negative or not a number.
        """
        right = bisect.bisect_left(self._currents, _checked(current_a))
        if right < len(self.points) and self._currents[right] == current_a:
            return self.points[right][1]
        return self._time(current_a, right)

    def _time(self, current: float, right: int) -> float:
        if right == 0:
            return math.inf
        if right == len(self.points) or self._currents[right - 1] == current:
            return self.points[right - 1][1]
        (x0, y0), (x1, y1) = self._logs[right - 1], self._logs[right]
        time = math.exp(y0 + (y1 - y0) * (math.log(current) - x0) / (x1 - x0))
        # rounding must not carry the line past its own ends
        return min(max(time, self.points[right][1]), self.points[right - 1][1])

    def left_of(self, current_a: float) -> float:
        """Return the time [s] just below a current [A]; infinity up to the first point.

        Raises:
            ValueError: the current is negative or not a number.
        """
        first = not self.points or current_a <= self.points[0][0]
        return math.inf if first else self.before(current_a)

    def least_current(self, time_s: float) -> float:
        """Return the least current [A] whose time is ``time_s`` or less; infinity if none is.

        Args:
            time_s: time allowed, s.
        """
        for index, (current, time) in enumerate(self.points):
            if time <= time_s:
                if index == 0 or time == time_s or self._currents[index - 1] == current:
                    return current
                (x0, y0), (x1, y1) = self._logs[index - 1], self._logs[index]
                return math.exp(x0 + (x1 - x0) * (math.log(time_s) - y0) / (y1 - y0))
        return math.inf


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
        # Both edges are straight between their points, so only the points need looking at.
        for current, _ in self.quick.points + self.slow.points:
            crossed = self.quick.at(current) > self.slow.at(current) * (1 + _CLOSE)
            # left of a step
            limit = self.slow.left_of(current)
            if math.isfinite(limit):
                limit *= 1 + _CLOSE
                crossed = crossed or self.quick.before(current) > limit
            if crossed:
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


def _checked(current_a: float) -> float:
    if not current_a >= 0:
        raise ValueError(f"a current of {current_a} A is not possible; give its magnitude")
    return current_a


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
