"""Voltages read at one place, put together to points in the plane of phasors.

A voltage between two terminals is the distance of two points. Where enough were read the points
follow, but for turning and mirroring, which the system as described decides: L1 as it stands
there, the lines in its order.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from bondwright.network.circuit import EARTH
from bondwright.studies.hunt.base import Rows, base_of
from bondwright.studies.hunt.causes import Field
from bondwright.studies.hunt.consistency import LIMITS, Contradiction, Sort
from bondwright.studies.hunt.hypotheses import Hypothesis
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import View, network_at
from bondwright.studies.hunt.ports import across
from bondwright.studies.hunt.rank import Ranking, basis
from bondwright.studies.hunt.readings import Reading

Floats = npt.NDArray[np.float64]

LEAST_READINGS: Final = 3
"""Voltages at a place below which there is nothing to put together."""
LINES_OFF: Final = 0.05
"""Voltages between lines that weren't read are taken from the description within this part."""
MISFIT: Final = 0.05
"""Readings close where what is left over is below this part of the largest voltage."""
BESIDE: Final = 0.02
"""Below this part of the largest voltage two points lie on each other."""
_STARTS: Final = 12
_LINES: Final = ("L1", "L2", "L3")


@dataclass(frozen=True, slots=True)
class Distance:
    """A voltage that was read between two terminals.

    Attributes:
        reading: its number.
        a: node of one.
        b: node of the other.
        volts: as read, V.
        sigma: standard uncertainty, V.
    """

    reading: int
    a: str
    b: str
    volts: float
    sigma: float


@dataclass(frozen=True, slots=True)
class PhasorPlane:
    """What voltages at a place say of where its terminals lie.

    Attributes:
        place: where they were read.
        state: of the site, as written; "" for normal running.
        distances: the readings.
        described: every node of the place as the description has it, V; the ground there is 0.
        points: nodes that the readings fix, in the same plane.
        loose: nodes that they leave open, as too few voltages reach them.
        left_over: for the reading that fits worst, what it differs by, V.
        closes: whether the readings belong to points of one plane.
        expected: the same nodes as the likeliest cause has them; empty without one.
    """

    place: str
    state: str
    distances: tuple[Distance, ...]
    described: Mapping[str, complex]
    points: Mapping[str, complex]
    loose: tuple[str, ...]
    left_over: float
    closes: bool
    expected: Mapping[str, complex]


def phasor_planes(ranking: Ranking) -> tuple[PhasorPlane, ...]:
    """Put the voltages of a hunt together, place by place and state by state.

    Args:
        ranking: the hunt.

    Returns:
        One plane for each place and state with at least three voltages, in the readings' order.
    """
    groups: dict[tuple[str, Moment], list[Reading]] = {}
    for r in ranking.readings:
        if r.quantity is Quantity.VOLTAGE and not r.over:
            groups.setdefault((r.where, r.moment), []).append(r)
    field = ranking.field
    first = ranking.causes[0].hypothesis
    cause = first if first.parts else None
    return tuple(
        plane
        for (place, moment), those in groups.items()
        if len(those) >= LEAST_READINGS
        and (plane := _plane(place, moment, those, field, cause, ranking.contradictions))
    )


def _fitted(field: Field, item: Hypothesis) -> Floats | None:
    """Return what isn't known of the site as it fits best under a cause, (fitted,)."""
    theta = field.fits.theta[field.hypotheses.index(item)]
    return theta if len(theta) else None


def _plane(
    place: str,
    moment: Moment,
    readings: Sequence[Reading],
    field: Field,
    cause: Hypothesis | None,
    wrong: Sequence[Contradiction],
) -> PhasorPlane | None:
    distances = tuple(_distances(readings))
    network = network_at(field.plan, basis(moment))
    own = [f"{place}:{t}" for t in network.terminals.get(place, ())]
    nodes = [*own, *(n for d in distances for n in (d.a, d.b))]
    nodes = [n for n in dict.fromkeys(nodes) if n == EARTH or n in network.solver.index]
    view = View(
        network,
        [
            *(across(n, EARTH) for n in nodes if n != EARTH),
            *(part.port for part in (cause.parts if cause else ())),
            *sorted(moment.lifted),
            *([moment.test.port] if moment.test else []),
        ],
        field.unknowns,
    )
    described = _voltages(view, field, nodes, moment, None)
    zero = described.get(f"{place}:G", 0j)
    described = {n: v - zero for n, v in described.items()}
    expected: dict[str, complex] = {}
    if cause is not None:
        expected = _voltages(view, field, nodes, moment, cause)
        way = _shift(expected, described)
        expected = {n: v + way for n, v in expected.items()}
    lines = [n for n in own if n[-2:] in _LINES]
    points = placed(distances, described, lines)
    numbers = {d.reading for d in distances}
    told = any(numbers.issuperset(item.readings) for item in wrong if item.sort is not Sort.REPEAT)
    off = {d.reading: _off(d, points) for d in distances if {d.a, d.b} <= points.keys()}
    worst = max(off.values(), default=0.0)
    level = max((d.volts for d in distances), default=0.0)
    apart = any(
        gap > max(LIMITS * d.sigma, MISFIT * level)
        for d in distances
        if (gap := off.get(d.reading, 0.0))
    )
    closes = not (told or apart)
    if not closes:  # what doesn't belong to one plane has no place in it
        between = [d for d in distances if {d.a, d.b} <= set(lines)]
        points = placed(between, described, lines)
    if level <= 0 or not points:
        return None
    return PhasorPlane(
        place,
        "" if moment == Moment() else readings[0].state,
        distances,
        described,
        points,
        tuple(
            n for n in dict.fromkeys(n for d in distances for n in (d.a, d.b)) if n not in points
        ),
        worst,
        closes,
        expected,
    )


def _distances(readings: Sequence[Reading]) -> Iterator[Distance]:
    for r in readings:
        port = r.terms[0][0]
        yield Distance(r.number, port.a, port.b, r.value, r.sigma)


def _off(d: Distance, points: Mapping[str, complex]) -> float:
    return abs(abs(points[d.a] - points[d.b]) - d.volts)


def _voltages(
    view: View, field: Field, nodes: Sequence[str], moment: Moment, cause: Hypothesis | None
) -> dict[str, complex]:
    """Return voltages to remote earth, V, as described or as a cause and its best fit have it."""
    real = [n for n in nodes if n != EARTH]
    at = view.ports.at
    count = len(real)
    rows = Rows(
        view=view,
        lifted=tuple(sorted(moment.lifted)),
        time=moment.time,
        which=np.arange(count),
        terms=tuple(((at[across(n, EARTH)], 1.0),) for n in real),
        shown=np.full(count, -1),
        round=np.zeros(count, dtype=np.bool_),
        test=moment.test,
        input=np.full(count, math.inf),
        phantom=np.zeros(count),
    )
    theta = None if cause is None else _fitted(field, cause)
    moved = np.arange(0 if theta is None else len(field.unknowns.loads))
    base = base_of(field.unknowns, rows, theta, moved, cause)
    volts = dict(zip(real, base.start[:, 0].tolist(), strict=True))
    return {n: complex(volts.get(n, 0j)) for n in nodes}


def placed(
    distances: Sequence[Distance], described: Mapping[str, complex], lines: Sequence[str]
) -> dict[str, complex]:
    """Find the points whose distances were read, as well as the readings allow.

    The sum of squares of the misfits, each over its uncertainty, is made least from several
    starts; the result is turned, mirrored and moved on the lines as described (the orthogonal
    Procrustes problem, P. H. Schonemann, Psychometrika 31 (1966) 1-10).

    Args:
        distances: what was read.
        described: nodes as described, V.
        lines: nodes of the lines.

    Returns:
        Points by node, V, in the frame of the description: those that at least two distances
        tie to others, three where there are three lines.
    """
    given = _with_lines(distances, described, lines)
    nodes = _fixed(given, lines)
    if len(nodes) < 2:
        return {}
    at = {node: k for k, node in enumerate(nodes)}
    kept = [d for d in given if d.a in at and d.b in at]
    first = np.array([at[d.a] for d in kept])
    second = np.array([at[d.b] for d in kept])
    volts = np.array([d.volts for d in kept])
    sigma = np.array([max(d.sigma, 1e-3) for d in kept])

    def misfit(flat: Floats) -> Floats:
        z = flat.reshape(-1, 2)
        gap = z[first] - z[second]
        return np.asarray((np.hypot(gap[:, 0], gap[:, 1]) - volts) / sigma, dtype=np.float64)

    dice = np.random.default_rng(1)
    scale = float(volts.max())
    start = np.array([described.get(n, 0j) for n in nodes])
    best: tuple[float, Floats] | None = None
    for k in range(_STARTS):
        spread = scale * (0.01 if k == 0 else 0.7)
        flat = np.stack([start.real, start.imag], axis=1) + spread * dice.standard_normal(
            (len(nodes), 2)
        )
        found = least_squares(misfit, flat.ravel(), method="trf", max_nfev=200)
        if best is None or found.cost < best[0] * (1 - 1e-6) - 1e-9:
            best = (float(found.cost), found.x)
    z = _complex(best[1]) if best else start
    laid = _laid_on(z, nodes, described, lines)
    sure = _one_sided(laid, nodes, kept, lines, BESIDE * scale)
    return {node: complex(laid[k]) for k, node in enumerate(nodes) if node in sure}


def _one_sided(
    z: npt.NDArray[np.complex128],
    nodes: Sequence[str],
    distances: Sequence[Distance],
    lines: Sequence[str],
    near: float,
) -> set[str]:
    """Leave out points beside the straight line of two lines whose side nothing decides.

    The first point aside decides which side is which; another one needs a distance to it.
    """
    on = [k for k, n in enumerate(nodes) if n in lines]
    if len(on) != 2:
        return set(nodes)
    way = z[on[1]] - z[on[0]]
    aside = ((z - z[on[0]]) / (way / abs(way))).imag if abs(way) > 0 else np.zeros(len(z))
    tied: set[str] = set()
    sure = set(nodes)
    for k, node in enumerate(nodes):
        if abs(aside[k]) <= near:
            continue
        if tied and not _to(node, sorted(tied), distances):
            sure.discard(node)
        else:
            tied.add(node)
    return sure


def _complex(flat: Floats) -> npt.NDArray[np.complex128]:
    z = flat.reshape(-1, 2)
    return np.asarray(z[:, 0] + 1j * z[:, 1], dtype=np.complex128)


def _with_lines(
    distances: Sequence[Distance], described: Mapping[str, complex], lines: Sequence[str]
) -> list[Distance]:
    """Add what the description says of voltages between lines that weren't read."""
    read = {frozenset((d.a, d.b)) for d in distances}
    touched = {n for pair in read for n in pair}
    out = list(distances)
    for a, b in itertools.combinations([n for n in lines if n in touched], 2):
        if frozenset((a, b)) not in read and a in described and b in described:
            volts = abs(described[a] - described[b])
            if volts > 0:
                out.append(Distance(0, a, b, volts, LINES_OFF * volts))
    return out


def _fixed(distances: Sequence[Distance], lines: Sequence[str]) -> list[str]:
    """Return the nodes that can be fixed, the lines first: each by enough others before it."""
    pairs: dict[str, set[str]] = {}
    for d in distances:
        pairs.setdefault(d.a, set()).add(d.b)
        pairs.setdefault(d.b, set()).add(d.a)
    found = [n for n in lines if n in pairs]
    if len(found) < 2:
        return []
    scale = max(d.volts for d in distances)
    # Beside two lines a point and its mirror image are the same picture.
    need = 2 if len(found) == 2 else 3
    while True:
        more = [n for n in pairs if n not in found and len(pairs[n] & set(found)) >= need]
        more = more or [
            n
            for n in pairs
            if n not in found and any(_short(d, scale) for d in _to(n, found, distances))
        ]
        if not more:
            return found
        found.append(more[0])


def _short(d: Distance, scale: float) -> bool:
    """Say whether two nodes are so near each other that it doesn't matter on which side."""
    return d.volts <= max(LIMITS * d.sigma, BESIDE * scale)


def _to(node: str, others: Sequence[str], distances: Sequence[Distance]) -> list[Distance]:
    return [
        d for d in distances if (d.a == node and d.b in others) or (d.b == node and d.a in others)
    ]


def _laid_on(
    z: npt.NDArray[np.complex128],
    nodes: Sequence[str],
    described: Mapping[str, complex],
    lines: Sequence[str],
) -> npt.NDArray[np.complex128]:
    """Turn and mirror points so that the lines lie as described, and move as many as can be there.

    Of the ways to move them, that one is taken which puts a line or the neutral where it is
    described and the others nearest: one line that has lost voltage doesn't draw the rest along.
    """
    at = [k for k, n in enumerate(nodes) if n in lines and n in described]
    goal = np.array([described[nodes[k]] for k in at])
    best, least = z, math.inf
    for shape in (z, z.conj()):
        moved = shape - shape[at].mean()
        turn = complex(np.vdot(moved[at], goal - goal.mean()))
        turned = moved * (turn / abs(turn) if abs(turn) > 0 else 1)
        apart = float(np.abs(turned[at] - (goal - goal.mean())).max())
        if apart < least * (1 - 1e-6) - 1e-9:
            best, least = turned, apart
    return best + _shift(dict(zip(nodes, best.tolist(), strict=True)), described)


def _shift(points: Mapping[str, complex], described: Mapping[str, complex]) -> complex:
    """Return by how much to move points so that lines and neutral lie as described, V."""
    anchors = [n for n in points if n in described and n.rpartition(":")[2] not in ("G", EARTH)]
    ways = [described[n] - points[n] for n in anchors]
    if not ways:
        return 0j
    return min(ways, key=lambda way: sum(abs(way - other) for other in ways))
