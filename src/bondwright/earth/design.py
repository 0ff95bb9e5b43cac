"""Proposing electrodes: the least that meets a goal on a plot, in the soil at hand.

Every arrangement is computed by the segment method in every soil given (the season's and the
survey's uncertainty), and the worst one counts. Trenches are counted, but the wire in them only
where it is a bare ring: the join between rods is taken as adding nothing.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Final

import numpy as np

from bondwright.earth.judged import Verdict
from bondwright.earth.shapes import Electrode, Place, buried_wire, rod
from bondwright.earth.soil import Array, Soil, check_positive
from bondwright.earth.system import ElectrodeSystem, solve

MOST_RODS: Final = 40
"""Most rods that are proposed."""
_RING_RODS: Final = (0, 4, 8, 12, 16, 24, 32)
_RING_SIZES: Final = (0.4, 0.7, 1.0)
_SPACINGS: Final = (1.0, 2.0)
_COARSE: Final = 0.15
_FINE: Final = 0.5
SHOWN: Final = 8
"""Most arrangements that are reported."""


@dataclass(frozen=True, slots=True)
class Goal:
    """What is wanted: a resistance, or a touch voltage at a current. One of the two.

    Attributes:
        resistance_ohm: the most [ohm]; None for a touch voltage.
        touch_v: the most, between the electrodes' metal and the ground [V].
        current_a: into the earth [A].
        outline: corners of what can be touched, (x, y) [m]; ground within reach of it counts.
        reach_m: [m].

    Raises:
        ValueError: none or both, or a touch voltage without current or outline.
    """

    resistance_ohm: float | None = None
    touch_v: float | None = None
    current_a: float | None = None
    outline: tuple[Place, ...] = ()
    reach_m: float = 1.0

    def __post_init__(self) -> None:
        if (self.resistance_ohm is None) == (self.touch_v is None):
            raise ValueError("a goal is a resistance or a touch voltage; give one of the two")
        if self.touch_v is not None and (self.current_a is None or len(self.outline) < 2):
            raise ValueError(
                "a touch voltage takes the current into the earth and the outline of the metal"
            )
        for value in (self.resistance_ohm, self.touch_v, self.current_a):
            if value is not None:
                check_positive(value, "goal")


@dataclass(frozen=True, slots=True)
class Plot:
    """Where electrodes may go, and what they are made of.

    Attributes:
        width_m: along x [m].
        length_m: along y [m].
        rod_lengths_m: lengths that may be driven, sections coupled [m].
        rod_diameter_m: [m].
        ring_depth_m: depth of a ring's trench [m].
        ring_wire_m: diameter of its wire [m].

    Raises:
        ValueError: a number that is not positive, or no rod length.
    """

    width_m: float
    length_m: float
    rod_lengths_m: tuple[float, ...] = (2.4384, 4.8768, 7.3152)
    rod_diameter_m: float = 0.015875
    ring_depth_m: float = 0.762
    ring_wire_m: float = 0.0074

    def __post_init__(self) -> None:
        if not self.rod_lengths_m:
            raise ValueError("name the rod lengths that may be driven")
        for value in (
            self.width_m, self.length_m, *self.rod_lengths_m, self.rod_diameter_m,
            self.ring_depth_m, self.ring_wire_m,
        ):  # fmt: skip
            check_positive(value, "measure of a plot")


@dataclass(frozen=True, slots=True)
class UnitCosts:
    """Prices, in any one currency.

    Attributes:
        rod: driving one rod, its head and clamp.
        rod_metre: a metre of rod.
        trench_metre: a metre of trench, dug and filled.
        wire_metre: a metre of wire in it.
    """

    rod: float
    rod_metre: float
    trench_metre: float
    wire_metre: float

    def __post_init__(self) -> None:
        for value in (self.rod, self.rod_metre, self.trench_metre, self.wire_metre):
            if not 0 <= value < math.inf:
                raise ValueError(f"a price of {value} is not possible; give zero or more")


@dataclass(frozen=True, slots=True)
class Proposal:
    """An arrangement, with what it does and takes.

    Attributes:
        words: what it is.
        electrode: its metal.
        rods: how many.
        rod_m: length of each [m]; 0 without rods.
        trench_m: metres of trench.
        value: the resistance [ohm] or touch voltage [V], the worst of the soils.
        resistance_ohm: the worst of the soils [ohm].
        verdict: holds or falls short of the goal.
        cost: in the currency of the prices; None without prices.
    """

    words: str
    electrode: Electrode
    rods: int
    rod_m: float
    trench_m: float
    value: float
    resistance_ohm: float
    verdict: Verdict
    cost: float | None

    @property
    def rod_metres(self) -> float:
        """Metres of rod, m."""
        return self.rods * self.rod_m


@dataclass(frozen=True, slots=True)
class _Layout:
    words: str
    electrode: Electrode
    rods: int
    rod_m: float
    trench_m: float


def propose(
    soils: Sequence[Soil], goal: Goal, plot: Plot, prices: UnitCosts | None = None
) -> tuple[Proposal, ...]:
    """Propose arrangements that meet a goal on a plot.

    Args:
        soils: the soil in its states and within its uncertainty; the worst counts.
        goal: what is wanted.
        plot: where, and of what.
        prices: to tell the cheapest; None compares rods and metres only.

    Returns:
        Arrangements that hold: the cheapest first, or without prices those that no other beats in
        rods, metres of rod and metres of trench all at once. If none holds, the best of each kind
        with the verdict "falls short", the nearest to the goal first.

    Raises:
        ValueError: no soil.
    """
    if not soils:
        raise ValueError("no soil; give one or more")
    bound = goal.resistance_ohm if goal.resistance_ohm is not None else goal.touch_v or 0.0

    def tried(layout: _Layout, fineness: float = _COARSE) -> Proposal:
        values = [_value(solve(soil, [layout.electrode], fineness), goal) for soil in soils]
        worst = max(value for value, _ in values)
        return Proposal(
            layout.words,
            layout.electrode,
            layout.rods,
            layout.rod_m,
            layout.trench_m,
            worst,
            max(ohm for _, ohm in values),
            Verdict.HOLDS if worst <= bound else Verdict.FALLS_SHORT,
            None if prices is None else _cost(layout, prices),
        )

    found = []
    for family in _families(plot):
        best = _least(family, tried)
        if best is not None:
            found.append(best)
    holding = [one for one in found if one.verdict is Verdict.HOLDS]
    if not holding:
        shown = sorted(found, key=lambda one: one.value)
    elif prices is not None:
        shown = sorted(holding, key=lambda one: (one.cost or 0.0, one.value))
    else:
        front = [one for one in holding if not any(_beats(other, one) for other in holding)]
        shown = sorted(front, key=lambda one: (one.trench_m, one.rod_metres))
    # the search was with long pieces; what is shown is computed with short ones
    fine = [tried(_layout(one), _FINE) for one in shown[:SHOWN]]
    if any(one.verdict is Verdict.HOLDS for one in fine):
        fine = [one for one in fine if one.verdict is Verdict.HOLDS]
    return tuple(fine)


def _layout(one: Proposal) -> _Layout:
    return _Layout(one.words, one.electrode, one.rods, one.rod_m, one.trench_m)


def _beats(one: Proposal, other: Proposal) -> bool:
    mine = (one.rods, one.rod_metres, one.trench_m)
    theirs = (other.rods, other.rod_metres, other.trench_m)
    return mine != theirs and all(a <= b for a, b in zip(mine, theirs, strict=True))


def _cost(layout: _Layout, prices: UnitCosts) -> float:
    return layout.rods * (prices.rod + prices.rod_metre * layout.rod_m) + layout.trench_m * (
        prices.trench_metre + prices.wire_metre
    )


def _value(system: ElectrodeSystem, goal: Goal) -> tuple[float, float]:
    resistance = system.joined().resistance_ohm
    if goal.touch_v is None or goal.current_a is None:
        return resistance, resistance
    currents = system.currents(goal.current_a)
    around = _around(goal.outline, goal.reach_m)
    ground = system.ground_potential(currents, around)
    return resistance * goal.current_a - float(ground.min()), resistance


def _around(outline: Sequence[Place], reach: float) -> Array:
    """Return places within reach of an outline, on both sides and beyond its ends."""
    points = []
    for (ax, ay), (bx, by) in itertools.pairwise(outline):
        length = math.hypot(bx - ax, by - ay)
        if length == 0:
            continue
        ux, uy = (bx - ax) / length, (by - ay) / length
        for along in np.linspace(-reach, length + reach, max(3, math.ceil(length) + 3)):
            # beyond an end only what is within reach of the end itself
            over = max(-along, along - length, 0.0)
            side = math.sqrt(max(reach**2 - over**2, 0.0))
            x, y = ax + ux * along, ay + uy * along
            points += [(x - uy * side, y + ux * side), (x + uy * side, y - ux * side)]
    if not points:
        raise ValueError("the outline of the metal has no length")
    return np.array(points)


def _least(
    family: Sequence[Callable[[], _Layout]], tried: Callable[[_Layout], Proposal]
) -> Proposal | None:
    """Return the first of a family that holds (each is better than the one before), or the last."""
    low, high = 0, len(family) - 1
    if high < 0:
        return None
    last = tried(family[high]())
    if last.verdict is not Verdict.HOLDS:
        return last
    best = last
    while low < high:
        middle = (low + high) // 2
        at = tried(family[middle]())
        if at.verdict is Verdict.HOLDS:
            best, high = at, middle
        else:
            low = middle + 1
    return best


def _families(plot: Plot) -> list[list[Callable[[], _Layout]]]:
    families: list[list[Callable[[], _Layout]]] = []
    around = 2 * (plot.width_m + plot.length_m)
    for length in sorted(plot.rod_lengths_m):
        for times in _SPACINGS:
            gap = times * length
            most = min(MOST_RODS, int(around / gap) if around / gap >= 2 else 1)
            families.append(
                [
                    partial(_rods, plot, n, gap, length)
                    for n in range(1 if times == _SPACINGS[0] else 2, most + 1)
                ]
            )
    for part in _RING_SIZES:
        # a ring, then the ring with ever more rods, length by length
        families.append([partial(_ring, plot, part, 0, 0.0)])
        families += [
            [
                partial(_ring, plot, part, n, length)
                for n in _RING_RODS[1:]
                if n * length <= part * around
            ]
            for length in sorted(plot.rod_lengths_m)
        ]
    return families


def _on_edge(plot: Plot, part: float, along: float) -> Place:
    """Return the place some way round a rectangle in the middle of the plot."""
    w, h = plot.width_m * part, plot.length_m * part
    x0, y0 = (plot.width_m - w) / 2, (plot.length_m - h) / 2
    along %= 2 * (w + h)
    if along <= w:
        return x0 + along, y0
    if along <= w + h:
        return x0 + w, y0 + along - w
    if along <= 2 * w + h:
        return x0 + 2 * w + h - along, y0 + h
    return x0, y0 + 2 * (w + h) - along


def _rods(plot: Plot, count: int, gap: float, length: float) -> _Layout:
    places = [_on_edge(plot, 1.0, gap * i) for i in range(count)]
    parts = [rod("proposal", place, length, plot.rod_diameter_m) for place in places]
    words = f"{count} rod{'s' if count > 1 else ''} of {length:.3g} m"
    if count > 1:
        words += f", {gap:.3g} m apart along the edge of the plot"
    return _Layout(words, parts[0].joined(*parts[1:]), count, length, gap * (count - 1))


def _ring(plot: Plot, part: float, count: int, length: float) -> _Layout:
    around = 2 * part * (plot.width_m + plot.length_m)
    corners = [_on_edge(plot, part, at) for at in _corners(plot, part)]
    metal = buried_wire("proposal", corners, plot.ring_depth_m, plot.ring_wire_m, closed=True)
    if count:
        places = [_on_edge(plot, part, around * i / count) for i in range(count)]
        rods = [
            rod("proposal", place, length, plot.rod_diameter_m, plot.ring_depth_m)
            for place in places
        ]
        metal = metal.joined(*rods)
    words = (
        f"a ring of {part * plot.width_m:.3g} m by {part * plot.length_m:.3g} m, "
        f"{plot.ring_depth_m:.2g} m deep"
    )
    if count:
        words += f", with {count} rods of {length:.3g} m"
    return _Layout(words, metal, count, length if count else 0.0, around)


def _corners(plot: Plot, part: float) -> tuple[float, ...]:
    w, h = plot.width_m * part, plot.length_m * part
    return (0.0, w, w + h, 2 * w + h)
