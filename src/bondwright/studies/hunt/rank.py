"""Ranking what may be wrong by what was read."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.network.build import Network
from bondwright.plan.model import Plan
from bondwright.studies.hunt.base import Rows, rows_of
from bondwright.studies.hunt.causes import UNLISTED, Cause, Field, causes_of
from bondwright.studies.hunt.consistency import Contradiction, Sort, contradictions
from bondwright.studies.hunt.hypotheses import (
    NOTHING,
    Hypothesis,
    singles,
    weights,
)
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.likelihood import Model
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.noticed import priors_of
from bondwright.studies.hunt.nuisance import Floats, KnownLoad, Unknowns, View, network_at
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.search import searched
from bondwright.studies.hunt.settings import settings

SAME_METER: Final = 0.9
"""Correlation of the errors of one instrument at one thing: most of an error is the meter's own
and stays (common practice)."""

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
    variants, own = _flat(every)
    priors = priors_of(own, model, variants, used)
    kept, fits, score, beside = searched(
        model, variants, priors, values, sigma, over, doubles=doubles and bool(len(used))
    )
    background = math.log(settings().unlisted) + _background(used)
    each = np.concatenate([score, np.array([s for _, s in beside]), [background]])
    top = float(each.max())
    total = top + math.log(float(np.exp(each - top).sum()))
    field = Field(plan, network, unknowns, views, tuple(kept), fits, score - total, values)
    others = [(h, math.exp(s - total)) for h, s in beside]
    causes = causes_of(field, used, math.exp(background - total), others)
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
        own.update({r.moment.test.port: None} if r.moment.test else {})
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


def _background(readings: Sequence[Reading]) -> float:
    """Log density of readings whose cause isn't known: any size, uniform in its logarithm.

    Never denser than the meter's own spread: what may read anything says nothing for it either.
    """
    total = 0.0
    for r in readings:
        most = {Quantity.VOLTAGE: 600.0, Quantity.RESISTANCE: 1e4, Quantity.LOOP: 1e4}
        scale = most.get(r.quantity, 400.0)
        if r.over:
            total += math.log(0.5)
            continue
        size = (r.value + r.sigma) * math.log1p(scale / r.sigma)
        total -= math.log(max(size, r.sigma * math.sqrt(2 * math.pi)))
    return total
