"""Readings that contradict each other, whatever may be wrong with the site."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.readings import Reading

LIMITS: Final = 3.0
"""A contradiction is one beyond so many standard uncertainties."""


class Sort(StrEnum):
    """What sort of contradiction it is."""

    REPEAT = "the same reading twice"
    TRIANGLE = "three voltages"
    CLOSURE = "phasors that don't close"


@dataclass(frozen=True, slots=True)
class Contradiction:
    """Readings that can't all be right at one time.

    Attributes:
        sort: what sort.
        readings: their numbers.
        residual: by how much, in V, A or ohm.
        sigma: standard uncertainty of that.
        shift: for phasors, how far the ground point lies from the middle of the lines, V.
        text: in plain words.
    """

    sort: Sort
    readings: tuple[int, ...]
    residual: float
    sigma: float
    shift: float
    text: str


@dataclass(frozen=True, slots=True)
class Closure:
    """Three line-to-ground voltages against equal line-to-line voltages.

    Attributes:
        shift: distance of the ground point from the middle of the triangle, V.
        residual: what stays beside any point of the plane, V; negative where the three are too
            small for any point.
        sigma: standard uncertainty of the residual's square over twice its size, V.
    """

    shift: float
    residual: float
    sigma: float


def closure(line_to_line: float, to_ground: tuple[float, float, float], sigma: float) -> Closure:
    """Say whether three voltages to ground belong to one point in the plane of the phasors.

    With corners of an equilateral triangle of side a and centre 0, a point p has distances
    ``d_i^2 = a^2/3 + p^2 - 2 p.c_i``. Differences give p; the mean of the squares must then be
    ``a^2/3 + p^2`` (elementary geometry). What is left over, ``h^2``, is as a distance h out of
    the plane: harmonics, or readings that weren't taken at one time.

    Args:
        line_to_line: V.
        to_ground: V, three.
        sigma: standard uncertainty of one reading, V.
    """
    radius = line_to_line / math.sqrt(3)
    corners = radius * np.exp(2j * np.pi * np.arange(3) / 3)
    squares = np.array(to_ground) ** 2
    # sum over i of (d_i^2 - mean) c_i = -3 r^2 p, for the corners' outer products sum to 3/2 r^2.
    p = -complex(np.sum((squares - squares.mean()) * corners)) / (3 * radius**2)
    left = float(squares.mean()) - radius**2 - abs(p) ** 2
    h = math.copysign(math.sqrt(abs(left)), left)
    spread = 2 * sigma * max(*to_ground, line_to_line) / math.sqrt(3)
    return Closure(abs(p), h, spread / (2 * max(abs(h), sigma)))


def contradictions(readings: Sequence[Reading]) -> tuple[Contradiction, ...]:
    """Return what contradicts itself in a set of readings, without knowing the site."""
    taken = [r for r in readings if not r.over and r.quantity is not Quantity.LOAD]
    found = [*_repeats(taken)]
    by: dict[Moment, dict[frozenset[str], Reading]] = {}
    for r in taken:
        if r.quantity is Quantity.VOLTAGE:
            port = r.terms[0][0]
            by.setdefault(r.moment, {})[frozenset((port.a, port.b))] = r
    for volts in by.values():
        found += _triangles(volts)
        found += _closures(volts)
    return tuple(found)


def _repeats(readings: Sequence[Reading]) -> Iterator[Contradiction]:
    same: dict[tuple[Quantity, tuple[tuple[Port, float], ...], Moment], list[Reading]] = {}
    for r in readings:
        same.setdefault((r.quantity, r.terms, r.moment), []).append(r)
    for group in same.values():
        for one, other in itertools.combinations(group, 2):
            gap, sigma = abs(one.value - other.value), math.hypot(one.sigma, other.sigma)
            if gap > LIMITS * sigma:
                text = (
                    f"readings {one.number} and {other.number} are of the same thing and differ "
                    "by more than both instruments allow: a load changed between them, or one is "
                    "wrong. Give each its time ('@morning') or read again."
                )
                yield Contradiction(Sort.REPEAT, (one.number, other.number), gap, sigma, 0.0, text)


def _triangles(volts: dict[frozenset[str], Reading]) -> Iterator[Contradiction]:
    nodes = sorted({node for pair in volts for node in pair})
    for three in itertools.combinations(nodes, 3):
        pairs = [frozenset(pair) for pair in itertools.combinations(three, 2)]
        if not all(pair in volts for pair in pairs):
            continue
        ordered = sorted((volts[pair] for pair in pairs), key=lambda r: -r.value)
        gap = ordered[0].value - ordered[1].value - ordered[2].value
        sigma = math.sqrt(sum(r.sigma**2 for r in ordered))
        if gap > LIMITS * sigma:
            numbers = tuple(sorted(r.number for r in ordered))
            listed = ", ".join(str(k) for k in numbers)
            text = (
                f"readings {listed} can't all be right: one voltage can't be larger than the "
                "other two between the same three points together. Read the three again, one "
                "after the other, with the same meter."
            )
            yield Contradiction(Sort.TRIANGLE, numbers, gap, sigma, 0.0, text)


def _closures(volts: dict[frozenset[str], Reading]) -> Iterator[Contradiction]:
    places = {node.rpartition(":")[0] for pair in volts for node in pair if ":" in node}
    for place in sorted(places):
        lines = [f"{place}:L{k}" for k in (1, 2, 3)]
        between = [volts.get(frozenset(pair)) for pair in itertools.combinations(lines, 2)]
        known = [r for r in between if r is not None]
        if not known:
            continue
        for other in (f"{place}:G", f"{place}:N", "earth"):
            ground = [volts.get(frozenset((line, other))) for line in lines]
            three = [r for r in ground if r is not None]
            if len(three) < 3:
                continue
            level = sum(r.value for r in known) / len(known)
            spread = max(r.value for r in known) - min(r.value for r in known)
            sigma = math.sqrt(sum(r.sigma**2 for r in (*known, *three)) / len((*known, *three)))
            if spread > LIMITS * math.sqrt(2) * sigma + 0.03 * level:
                continue  # no equilateral triangle
            found = closure(level, (three[0].value, three[1].value, three[2].value), sigma)
            if abs(found.residual) > max(LIMITS * found.sigma, 0.05 * level):
                numbers = tuple(sorted(r.number for r in (*known, *three)))
                yield Contradiction(
                    Sort.CLOSURE,
                    numbers,
                    abs(found.residual),
                    found.sigma,
                    found.shift,
                    _not_closed(place, other, found),
                )


def _not_closed(place: str, other: str, found: Closure) -> str:
    what = "earth" if other == "earth" else other.rpartition(":")[2]
    return (
        f"the three voltages from the lines to {what} at {place} do not close in one plane: "
        f"{what} would lie {found.shift:.0f} V from the middle, and {abs(found.residual):.0f} V "
        "are left over that belong to no point. Harmonics, a drifting system, or readings taken at "
        "different times do that. No cause is worked out from them: read all of them again within "
        "a minute, with a low-impedance meter."
    )
