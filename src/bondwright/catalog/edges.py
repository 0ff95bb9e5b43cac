"""Broken lines of time against current, as on a device's time-current curve."""

from __future__ import annotations

import bisect
import math
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final

Point = tuple[float, float]
"""A current [A] and a time [s]."""

_CLOSE: Final = 1e-9


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


def _checked(current_a: float) -> float:
    if not current_a >= 0:
        raise ValueError(f"a current of {current_a} A is not possible; give its magnitude")
    return current_a


def crossing(quick: Edge, slow: Edge) -> float | None:
    """Return a current [A] at which a quick edge is slower than a slow one, or None."""
    # Both edges are straight between their points, so only the points need looking at.
    for current, _ in quick.points + slow.points:
        crossed = quick.at(current) > slow.at(current) * (1 + _CLOSE)
        # left of a step
        limit = slow.left_of(current)
        if math.isfinite(limit):
            limit *= 1 + _CLOSE
            crossed = crossed or quick.before(current) > limit
        if crossed:
            return current
    return None
