"""The next reading: the one that tells most for its trouble, and never one that puts a hand in.

What a reading tells is the mutual information of its value and the cause, in bits, with the value
spread as every hypothesis left says (D. J. C. MacKay, Neural Computation 4 (1992) 590-604). It
is divided by what the reading costs. Clamps and voltmeter probes only: nothing is asked that
lifts a neutral, a bond, an electrode conductor or a pipe.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bondwright.studies.hunt.base import rows_of
from bondwright.studies.hunt.candidates import Candidate
from bondwright.studies.hunt.causes import Cause, Field
from bondwright.studies.hunt.information import information
from bondwright.studies.hunt.instruments import DRIVEN
from bondwright.studies.hunt.likelihood import Model
from bondwright.studies.hunt.looked_at import looked_at, rivals
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import Floats, View
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.rank import Ranking, basis
from bondwright.studies.hunt.settings import settings

LOOKED_AT: Final = 32
"""Candidates that are looked at closely: those whose expected values spread most."""

MEANT: Final = 0.05
"""Part of an expected value that other unknowns are taken to move, for a first choice."""

MEANT_LOADED: Final = 0.25
"""The same where unknown loads are on."""

APART: Final = 2.0
"""Two causes are told apart by a reading whose expected values differ by this many standard
uncertainties."""

LEAST_BITS: Final = 1e-3
"""A reading that is expected to tell less than this isn't worth its trouble."""

HEATER_RISK: Final = 0.1
"""No heater is asked for where a neutral that several lines share is bad with more than this
probability."""

ENOUGH_BITS: Final = 0.1
"""The same where one cause stands out already: what is left is mostly DOUBT."""


@dataclass(frozen=True, slots=True)
class Proposal:
    """A reading to take next.

    Attributes:
        candidate: the reading.
        bits: what it is expected to tell.
        worth: bits for each unit of cost.
        expected: for the likeliest causes (id, value, standard uncertainty).
    """

    candidate: Candidate
    bits: float
    worth: float
    expected: tuple[tuple[str, float, float], ...]


def ports_of(those: Sequence[Candidate]) -> tuple[tuple[Moment, tuple[Port, ...]], ...]:
    """Return the ports that candidates need, by state, for :func:`hunt`."""
    found: dict[Moment, dict[Port, None]] = {}
    for item in those:
        own = found.setdefault(item.reading.moment, {})
        own.update(dict.fromkeys(port for port, _ in item.reading.terms))
        test = item.reading.moment.test
        own.update({test.port: None} if test else {})
    return tuple((moment, tuple(ports)) for moment, ports in found.items())


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """What the hypotheses left say of every candidate.

    Attributes:
        ids: of the hypotheses looked at, (K,).
        chance: of each, (K,), summing to 1.
        mean: (K, C).
        sigma: with the instrument's, (K, C).
    """

    ids: tuple[str, ...]
    chance: Floats
    mean: Floats
    sigma: Floats


def outlook(
    field: Field, those: Sequence[Candidate], kept: Sequence[int], chance: Floats
) -> Outlook:
    """Return what hypotheses say of candidates, the readings so far taken in.

    Args:
        field: of a ranking.
        those: C candidates whose ports the ranking was given.
        kept: numbers of the hypotheses.
        chance: of each of them.
    """
    hypotheses = [field.hypotheses[k] for k in kept]
    theta = _theta(field, kept)
    model = _model(field, those, theta)
    told = model.tell(hypotheses, theta)
    mean = told.size.copy()
    variance = np.sum(told.slope**2, axis=2)
    for j, k in enumerate(kept):
        slope = field.fits.told.slope[k]
        if not len(field.values) or not slope.shape[1]:
            continue
        cross = told.slope[j] @ slope.T  # (C, R)
        gain = np.linalg.solve(field.fits.covariance[k], cross.T)
        variance[j] -= np.sum(cross.T * gain, axis=0)
        moved = field.fits.theta[k]
        fitted = told.slope[j, :, : len(moved)] @ moved
        mean[j] += (field.values - field.fits.mean[k]) @ gain - fitted
    noise = np.array(
        [
            [c.reading.instrument.uncertainty(m) for c, m in zip(those, row, strict=True)]
            for row in np.abs(mean)
        ]
    )
    sigma = np.sqrt(np.maximum(variance, 0.0) + noise**2 + told.extra**2)
    return Outlook(tuple(h.id for h in hypotheses), chance, np.abs(mean), sigma)


def telling(
    field: Field,
    those: Sequence[Candidate],
    cost: Floats,
    kept: Sequence[int],
    chance: Floats,
) -> tuple[int, ...]:
    """Return the numbers of candidates that seem to tell most for their trouble.

    Unknown loads and electrodes are only guessed at here, by the state of the site.

    Args:
        field: of a ranking.
        those: candidates.
        cost: of each.
        kept: numbers of the hypotheses that are looked at.
        chance: of each of them.
    """
    if len(those) <= LOOKED_AT:
        return tuple(range(len(those)))
    theta = _theta(field, kept[:1])
    hypotheses = [field.hypotheses[k] for k in kept]
    size = _model(field, those, theta).tell(hypotheses, theta[0], slopes=False).size
    loaded = np.array([c.reading.moment.loads and c.reading.moment.power for c in those])
    driven = np.array([c.reading.quantity in DRIVEN for c in those])
    guess = np.where(loaded & ~driven, MEANT_LOADED, MEANT)
    limits = [c.reading.instrument for c in those]
    relative = np.array([meter.relative for meter in limits]) / math.sqrt(3)
    floor = np.array([meter.floor for meter in limits]) / math.sqrt(3)
    sigma = np.hypot(relative * size + floor, guess * size)
    ids = [h.id for h in hypotheses]
    worth = information(ids, chance, size, sigma, (0.0,), 16) / cost
    found = [
        int(c)
        for part in (loaded, ~loaded)
        for c in np.argsort(-np.where(part, worth, -1.0))[: LOOKED_AT // 2]
        if part[c]
    ]
    return tuple(sorted(found))


def _apart(field: Field, those: Sequence[Candidate], kept: Sequence[int]) -> list[Candidate]:
    """Return for every two hypotheses the candidates that seem to part them best."""
    if len(those) <= LOOKED_AT:
        return list(those)
    theta = _theta(field, kept[:1])
    told = _model(field, those, theta).tell(
        [field.hypotheses[k] for k in kept], theta[0], slopes=False
    )
    size = told.size
    floor = np.array([c.reading.instrument.floor for c in those])
    chosen: set[int] = set()
    for k in range(len(kept)):
        gap = np.abs(size - size[k])
        worth = gap / (floor + MEANT * (size + size[k]))
        chosen |= {int(c) for c in np.argsort(-worth, axis=1)[:, :2].ravel()}
    return [those[c] for c in sorted(chosen)]


def _theta(field: Field, kept: Sequence[int]) -> Floats:
    theta = field.fits.theta[list(kept)]
    return theta if theta.shape[1] else np.tile(field.unknowns.start, (len(kept), 1))


def _model(field: Field, those: Sequence[Candidate], theta: Floats) -> Model:
    """Return the model of candidates, in which only loads that the fits have moved are moved."""
    groups: dict[Moment, list[int]] = {}
    for c, item in enumerate(those):
        groups.setdefault(item.reading.moment, []).append(c)
    rows = [
        rows_of(_view(field, moment), [those[c].reading for c in own], own, ())
        for moment, own in groups.items()
    ]
    model = Model(field.unknowns, rows, len(those))
    used = np.any(theta != field.unknowns.start, axis=0)
    count = len(field.unknowns.loads)
    model.moved = {
        time: np.flatnonzero(used[start : start + count])
        for time, start in field.unknowns.load_at.items()
    }
    return model


def _view(field: Field, moment: Moment) -> View:
    view = field.views.get(basis(moment))
    if view is None:
        msg = "a proposal needs the ports of its candidates in the ranking; pass them as 'more'"
        raise ValueError(msg)
    return view


def neutral_in_doubt(ranking: Ranking) -> float:
    """Return the probability that a neutral which several lines share is open or bad.

    A heater on one line would then put too much voltage on what stays plugged in on another.
    """
    runs = ranking.field.plan.runs
    shared = {
        f"{kind}/{run.id}"
        for run in runs.values()
        if len(run.on) > 1
        for kind in ("neutral-open", "neutral-loose", "neutral-egc-swapped")
    }
    return sum(c.probability for c in ranking.causes if shared & {*c.hypothesis.members})


def propose(ranking: Ranking, those: Sequence[Candidate], count: int = 3) -> tuple[Proposal, ...]:
    """Return the readings to take next, the best for its trouble first.

    Args:
        ranking: made with these candidates' ports.
        those: the candidates.
        count: how many at most.
    """
    taken = {(r.terms, r.moment) for r in ranking.readings}
    heat = neutral_in_doubt(ranking) <= HEATER_RISK
    free = [
        c
        for c in those
        if (c.reading.terms, c.reading.moment) not in taken and (heat or not c.reading.moment.test)
    ]
    if not free:
        return ()
    last = basis(ranking.readings[-1].moment) if ranking.readings else None
    cost = np.array([c.trouble(stays=basis(c.reading.moment) == last) for c in free])
    kept, chance = looked_at(ranking.field)
    chosen = telling(ranking.field, free, cost, kept, chance)
    left = [free[c] for c in chosen]
    seen = outlook(ranking.field, left, kept, chance)
    bits = information(seen.ids, seen.chance, seen.mean, seen.sigma)
    worth = bits / cost[list(chosen)]
    names = list(dict.fromkeys(seen.ids))[:4]
    found = []
    least = ENOUGH_BITS if ranking.stands_out else LEAST_BITS
    for c in np.argsort(-worth)[:count]:
        if bits[c] < least:
            break
        expected = tuple(
            (name, float(seen.mean[k, c]), float(seen.sigma[k, c]))
            for name in names
            for k in [seen.ids.index(name)]
        )
        found.append(Proposal(left[c], float(bits[c]), float(worth[c]), expected))
    return tuple(found)


def grouped(ranking: Ranking, those: Sequence[Candidate]) -> Ranking:
    """Mark causes that no candidate tells apart, and let them stand out together.

    Args:
        ranking: made with these candidates' ports.
        those: the candidates.
    """
    kept, chance = rivals(ranking.field)
    names = [ranking.field.hypotheses[k].id for k in kept]
    first = {name: names.index(name) for name in dict.fromkeys(names)}
    seen = outlook(ranking.field, _apart(ranking.field, those, kept), kept, chance)
    alike: dict[str, set[str]] = {name: set() for name in first}
    for one, k in first.items():
        for other, j in first.items():
            spread = np.hypot(seen.sigma[k], seen.sigma[j])
            gap = np.abs(seen.mean[k] - seen.mean[j]) / spread
            if one != other and float(gap.max(initial=0.0)) < APART:
                alike[one].add(other)
    causes = tuple(replace(c, alike=_close(c, alike, ranking)) for c in ranking.causes)
    top = causes[0]
    share = top.probability + sum(ranking.probability(id) for id in top.alike)
    stands = not ranking.fits_nothing and share >= settings().stands_out
    return replace(ranking, causes=causes, stands_out=stands)


def _close(cause: Cause, alike: dict[str, set[str]], ranking: Ranking) -> tuple[str, ...]:
    own = alike.get(cause.id, set())
    if cause.hypothesis.kind == "nothing-wrong":
        return ()
    near = [
        c.id
        for c in ranking.causes
        if c.id in own
        and c.hypothesis.kind != "nothing-wrong"
        and len(c.hypothesis.members) == len(cause.hypothesis.members)
    ]
    return tuple(near)
