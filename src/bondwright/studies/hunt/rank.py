"""Ranking what may be wrong by what was read."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.network.build import Network
from bondwright.plan.model import Plan
from bondwright.studies.hunt.batch import Rows, rows_of
from bondwright.studies.hunt.causes import UNLISTED, Cause, Field, causes_of
from bondwright.studies.hunt.consistency import Contradiction, Sort, contradictions
from bondwright.studies.hunt.hypotheses import (
    MOST_AT_ONCE,
    NOTHING,
    Hypothesis,
    both,
    owned,
    singles,
    weights,
)
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.likelihood import Fit, Model, fit, folded, log_density
from bondwright.studies.hunt.nuisance import Floats, KnownLoad, Unknowns, View, network_at
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.readings import Moment, Reading
from bondwright.studies.hunt.settings import settings

REFINED: Final = 40
"""Single defects (their variants) that are fitted closely."""

PARENTS: Final = 10
"""Single defects to which a second is added."""

PAIRS: Final = 40
"""Pairs (and threes) that are fitted closely."""

SAME_METER: Final = 0.9
"""Correlation of the errors of one instrument at one thing: most of an error is the meter's own
and stays (common practice)."""

FURTHER: Final = 0.0
"""A third defect is tried where two explain more than this much better, in the logarithm."""

STEPS: Final = 4
_CHUNK: Final = 192

POOR_FIT: Final = 0.002
"""A best cause whose readings would be stranger than this part of the time fits nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class Ranking:
    """The outcome of a hunt.

    Attributes:
        readings: what it was given.
        causes: likeliest first.
        contradictions: readings that don't go together.
        fits_nothing: whether no cause of the list explains the readings.
        stands_out: whether the first cause, with those that can't be told from it, is likely
            enough to stop.
        field: for further questions.
    """

    readings: tuple[Reading, ...]
    causes: tuple[Cause, ...]
    contradictions: tuple[Contradiction, ...]
    fits_nothing: bool
    stands_out: bool
    field: Field

    def probability(self, id: str) -> float:
        """Return the probability of a cause; 0 if it isn't among those kept."""
        return next((c.probability for c in self.causes if c.id == id), 0.0)


def basis(moment: Moment) -> Moment:
    """Return the moment that decides the circuit, without hands and clock."""
    return Moment(moment.state, moment.off, frozenset(), moment.loads, moment.power, "")


def hunt(
    plan: Plan,
    readings: Sequence[Reading],
    *,
    doubles: bool = True,
    only: Collection[str] = (),
    more: Sequence[tuple[Moment, Sequence[Port]]] = (),
) -> Ranking:
    """Rank every single defect and pairs of them by readings.

    Args:
        plan: the site as described.
        readings: what was read.
        doubles: whether two and three defects together are tried.
        only: kinds of defects that are looked for; all if none is named.
        more: states and ports that further questions will need.

    Returns:
        The ranking. Readings whose phasors don't close are left out of it and reported.
    """
    network = network_at(plan, Moment())
    wrong = contradictions(readings)
    left_out = {n for item in wrong if item.sort is Sort.CLOSURE for n in item.readings}
    used = [r for r in readings if r.quantity is not Quantity.LOAD and r.number not in left_out]
    every = tuple(v for v in singles(network) if not only or v[0].kind in only)
    unknowns = _unknowns(network, readings)
    views = _views(plan, network, used, every, unknowns, more)
    model = Model(unknowns, _rows(used, views), len(used))
    model.alike = _correlated(used)
    values = np.array([r.value for r in used])
    sigma = np.array([r.sigma for r in used])
    over = np.array([r.over for r in used], dtype=np.bool_)
    variants, priors = _flat(every)
    kept, fits, score = _ranked(
        model, variants, priors, values, sigma, over, doubles=doubles and bool(len(used))
    )
    background = math.log(settings().unlisted) + _background(used)
    top = max(float(score.max()), background)
    total = top + math.log(float(np.exp(score - top).sum()) + math.exp(background - top))
    field = Field(plan, network, unknowns, views, tuple(kept), fits, score - total, values)
    causes = causes_of(field, used, math.exp(background - total))
    known = [c for c in causes if c.hypothesis is not UNLISTED]
    nothing_fits = bool(used) and (causes[0].hypothesis is UNLISTED or known[0].fits < POOR_FIT)
    return Ranking(
        tuple(readings),
        causes,
        wrong,
        nothing_fits,
        stands_out=not nothing_fits and causes[0].probability >= settings().stands_out,
        field=field,
    )


def _correlated(readings: Sequence[Reading]) -> Floats:
    """Return how the readings' errors hang together: reading twice doesn't mend the meter."""
    out = np.eye(len(readings))
    for i, one in enumerate(readings):
        for j, other in enumerate(readings):
            same = one.terms == other.terms and one.quantity is other.quantity
            if i != j and same and one.instrument == other.instrument:
                out[i, j] = SAME_METER
    return out


def _unknowns(network: Network, readings: Sequence[Reading]) -> Unknowns:
    known: dict[str, list[KnownLoad]] = {}
    for r in readings:
        if r.quantity is Quantity.LOAD:
            port = r.terms[0][0]
            branch = next((b for b in network.loads if {b.a, b.b} == {port.a, port.b}), None)
            volts = branch.volts if branch else abs(network.solver.solve().between(port.a, port.b))
            if branch is not None:
                port = Port(gap=False, a=branch.a, b=branch.b)
            share = min(r.sigma / r.value, 1.0) if r.value else 1.0
            known.setdefault(r.moment.time, []).append(
                KnownLoad(port, r.value / volts**2 + 0j, share)
            )
    times = list(dict.fromkeys(r.moment.time for r in readings)) or [""]
    if "" not in times:
        times.insert(0, "")
    return Unknowns(network, times, known)


def _views(
    plan: Plan,
    network: Network,
    readings: Sequence[Reading],
    every: Sequence[Sequence[Hypothesis]],
    unknowns: Unknowns,
    more: Sequence[tuple[Moment, Sequence[Port]]],
) -> dict[Moment, View]:
    defects = dict.fromkeys(part.port for variants in every for part in variants[0].parts)
    wanted: dict[Moment, dict[Port, None]] = {}
    for r in readings:
        own = wanted.setdefault(basis(r.moment), {})
        own.update(dict.fromkeys(port for port, _ in r.terms))
        own.update(dict.fromkeys(sorted(r.moment.lifted)))
    for moment, ports in more:
        wanted.setdefault(basis(moment), {}).update(dict.fromkeys(ports))
    extra = [port for time in unknowns.times for port, _ in unknowns.extra(time)]
    return {
        moment: View(
            network if moment == Moment() else network_at(plan, moment),
            [*own, *defects, *extra],
            unknowns,
        )
        for moment, own in wanted.items()
    }


def _rows(readings: Sequence[Reading], views: dict[Moment, View]) -> list[Rows]:
    groups: dict[Moment, list[int]] = {}
    for k, r in enumerate(readings):
        groups.setdefault(r.moment, []).append(k)
    return [
        rows_of(views[basis(moment)], [readings[k] for k in those], those, sorted(moment.lifted))
        for moment, those in groups.items()
    ]


def _flat(
    every: Sequence[Sequence[Hypothesis]],
) -> tuple[list[Hypothesis], dict[str, float]]:
    """Return all variants, and the log prior of each variant of every id."""
    own = weights(every)
    priors = {NOTHING.id: math.log(settings().nothing)}
    priors |= {v[0].id: math.log(own[v[0].id] / len(v)) for v in every}
    return [NOTHING, *(variant for variants in every for variant in variants)], priors


def _ranked(
    model: Model,
    variants: list[Hypothesis],
    priors: dict[str, float],
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
    *,
    doubles: bool,
) -> tuple[list[Hypothesis], Fit, Floats]:
    prior = np.array([priors[h.id] for h in variants])
    if not len(values):
        return variants, fit(model, variants, values, sigma, over), prior
    rough = _in_chunks(model, variants, values, sigma, over, 0)
    order = np.argsort(-(rough.evidence + prior))[:REFINED]
    first = [variants[k] for k in order]
    if NOTHING not in first:
        first.append(NOTHING)
    model.choose(first, sigma)
    close = _in_chunks(model, first, values, sigma, over, STEPS)
    score = close.evidence + np.array([priors[h.id] for h in first])
    if not doubles:
        return first, close, score
    hypotheses, fits = list(first), [close]
    parents = _parents(first, score, PARENTS)
    for _ in range(MOST_AT_ONCE - 1):
        several = _several(model, variants, rough, priors, parents, values, sigma, over)
        if not several:
            break
        more = _in_chunks(model, several, values, sigma, over, STEPS)
        own = more.evidence + np.array([_prior(priors, h) for h in several])
        worth_more = float(own.max()) > float(score.max()) + FURTHER
        hypotheses += several
        fits.append(more)
        score = np.concatenate([score, own])
        if not worth_more:
            break
        parents = _parents(several, own, PARENTS // 2)
    return hypotheses, _joined(fits), score


def _prior(priors: dict[str, float], item: Hypothesis) -> float:
    """Return the log prior of one variant; each defect beside the first counts once more."""
    if not item.members:
        return priors[item.id]
    further = math.log(settings().second / sum(settings().weights.values()))
    return (len(item.members) - 1) * further + sum(priors[m] for m in item.members)


def _parents(those: Sequence[Hypothesis], score: Floats, count: int) -> list[Hypothesis]:
    found: dict[str, Hypothesis] = {}
    for k in np.argsort(-score):
        if those[k] is not NOTHING and len(found) < count:
            found.setdefault(those[k].id, those[k])
    return list(found.values())


def _several(
    model: Model,
    variants: Sequence[Hypothesis],
    rough: Fit,
    priors: dict[str, float],
    parents: Sequence[Hypothesis],
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
) -> list[Hypothesis]:
    """Return the parents with one defect more, those that may explain the readings best."""
    spread = np.diagonal(rough.covariance, axis1=1, axis2=2)
    size_alone = {id(h): k for k, h in enumerate(variants)}
    found: dict[tuple[str, tuple[float, ...]], tuple[float, Hypothesis]] = {}
    place = len(parents[0].members) if parents else 0
    further = [owned(h, place) for h in variants]
    for parent in parents:
        others = [
            k for k, h in enumerate(variants) if h is not NOTHING and h.id not in parent.members
        ]
        several = [both(parent, further[k]) for k in others]
        size = model.tell(several, slopes=False).size
        own = size_alone.get(id(parent))
        if own is None:
            alone = fit(model, [parent], values, sigma, over)
            base, wide_one = alone.told.size[0], alone.covariance[0]
        else:
            base, wide_one = rough.told.size[own], rough.covariance[own]
        # The parent's uncertainty, widened by what the other changes and by its own.
        wide = np.repeat(wide_one[None], len(others), axis=0)
        eye = np.arange(len(values))
        narrow = np.diagonal(wide_one)
        wide[:, eye, eye] += (0.3 * np.abs(size - base)) ** 2
        wide[:, eye, eye] += np.maximum(spread[others] - narrow, 0)
        worth = log_density(folded(values, size, wide), wide)
        worth += np.array([_prior(priors, h) for h in several])
        for k in np.argsort(-worth)[:PAIRS]:
            sizes = tuple(part.ohms + part.angle for part in several[k].parts)
            found[several[k].id, sizes] = (float(worth[k]), several[k])
    best = sorted(found.values(), key=lambda item: -item[0])[:PAIRS]
    return [item for _, item in best]


def _in_chunks(
    model: Model,
    hypotheses: Sequence[Hypothesis],
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
    steps: int,
) -> Fit:
    parts = []
    for start in range(0, len(hypotheses), _CHUNK):
        one = fit(model, hypotheses[start : start + _CHUNK], values, sigma, over, steps)
        if not steps:
            # Slopes of thousands of hypotheses are large, and not needed again.
            none = np.zeros((*one.told.size.shape, 0))
            told = type(one.told)(one.told.size, none, one.told.extra)
            one = Fit(one.theta[:, :0], told, one.mean, one.covariance, one.evidence)
        parts.append(one)
    return _joined(parts)


def _joined(parts: Sequence[Fit]) -> Fit:
    told = type(parts[0].told)(
        np.concatenate([p.told.size for p in parts]),
        np.concatenate([p.told.slope for p in parts]),
        np.concatenate([p.told.extra for p in parts]),
    )
    return Fit(
        np.concatenate([p.theta for p in parts]),
        told,
        np.concatenate([p.mean for p in parts]),
        np.concatenate([p.covariance for p in parts]),
        np.concatenate([p.evidence for p in parts]),
    )


def _background(readings: Sequence[Reading]) -> float:
    """Log density of readings whose cause isn't known: any size, uniform in its logarithm."""
    total = 0.0
    for r in readings:
        most = {Quantity.VOLTAGE: 600.0, Quantity.RESISTANCE: 1e4, Quantity.LOOP: 1e4}
        scale = most.get(r.quantity, 400.0)
        if r.over:
            total += math.log(0.5)
            continue
        total -= math.log((r.value + r.sigma) * math.log1p(scale / r.sigma))
    return total
