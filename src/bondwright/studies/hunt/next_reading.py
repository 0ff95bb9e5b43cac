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

from bondwright.studies.hunt.batch import rows_of
from bondwright.studies.hunt.candidates import Candidate
from bondwright.studies.hunt.causes import Cause, Field
from bondwright.studies.hunt.likelihood import Model
from bondwright.studies.hunt.nuisance import Floats, View
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.rank import Ranking
from bondwright.studies.hunt.readings import Moment
from bondwright.studies.hunt.settings import settings

KEPT: Final = 64
"""Hypotheses that a proposal looks at."""

LEAST: Final = 2e-3
"""A hypothesis less likely than this is not looked at."""

LOOKED_AT: Final = 160
"""Candidates that are looked at closely: those whose expected values spread most."""

MEANT: Final = 0.05
"""Part of an expected value that other unknowns are taken to move, for a first choice."""

FEWEST: Final = 12
"""Hypotheses that a proposal looks at in any case."""

DOUBT: Final = 0.03
"""Share of chance that a proposal spreads over all hypotheses: readings can mislead."""

APART: Final = 2.0
"""Two causes are told apart by a reading whose expected values differ by this many standard
uncertainties."""

LEAST_BITS: Final = 1e-3
"""A reading that is expected to tell less than this isn't worth its trouble."""

ENOUGH_BITS: Final = 0.1
"""The same where one cause stands out already: what is left is mostly DOUBT."""

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(5)


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


def outlook(field: Field, those: Sequence[Candidate]) -> Outlook:
    """Return what the hypotheses left say of candidates, the readings so far taken in.

    Args:
        field: of a ranking.
        those: C candidates whose ports the ranking was given.
    """
    kept = _kept(field)
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
    return Outlook(tuple(h.id for h in hypotheses), _chance(field, kept), np.abs(mean), sigma)


def telling(
    field: Field, those: Sequence[Candidate], *, evenly: bool = False
) -> tuple[Candidate, ...]:
    """Return the candidates whose expected values spread most over the hypotheses left.

    Args:
        field: of a ranking.
        those: candidates.
        evenly: whether unlikely hypotheses count as much as likely ones.
    """
    if len(those) <= LOOKED_AT:
        return tuple(those)
    kept = _kept(field)
    theta = _theta(field, kept)
    hypotheses = [field.hypotheses[k] for k in kept]
    size = _model(field, those, theta).tell(hypotheses, theta, slopes=False).size
    weight = np.full(len(kept), 1 / len(kept)) if evenly else _chance(field, kept)
    middle = weight @ size
    spread = np.sqrt(weight @ (size - middle) ** 2)
    noise = [c.reading.instrument.uncertainty(m) for c, m in zip(those, middle, strict=True)]
    best = np.argsort(-spread / (np.array(noise) + MEANT * middle))[:LOOKED_AT]
    return tuple(those[c] for c in sorted(best))


def _kept(field: Field) -> list[int]:
    order = np.argsort(-field.log_posterior)[:KEPT]
    least = math.log(LEAST) + min(0.0, float(field.log_posterior[order[0]]))
    return [int(k) for j, k in enumerate(order) if j < FEWEST or field.log_posterior[k] > least]


def _chance(field: Field, kept: Sequence[int]) -> Floats:
    own = field.log_posterior[list(kept)]
    weight = np.exp(own - own.max())
    return np.asarray(weight / weight.sum() * (1 - DOUBT) + DOUBT / len(weight))


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
    view = field.views.get(moment)
    if view is None:
        msg = "a proposal needs the ports of its candidates in the ranking; pass them as 'more'"
        raise ValueError(msg)
    return view


def information(seen: Outlook) -> Floats:
    """Return what each candidate is expected to tell of the cause, bits, (C,).

    ``I = sum_k p_k E_k[log p(y | id of k) / p(y)]`` with five Gauss-Hermite points for each
    hypothesis; variants of one cause count as one.
    """
    names = list(dict.fromkeys(seen.ids))
    member = np.array([[1.0 if id == name else 0.0 for id in seen.ids] for name in names])
    own = member * seen.chance
    total = own.sum(axis=1)
    which = np.argmax(member, axis=0)
    bits = np.zeros(seen.mean.shape[1])
    for c in range(len(bits)):
        y = seen.mean[:, c, None] + seen.sigma[:, c, None] * _NODES  # (K, 5)
        z = (y[:, :, None] - seen.mean[:, c]) / seen.sigma[:, c]
        density = np.exp(-(z**2) / 2) / seen.sigma[:, c] + 1e-300  # (K, 5, K)
        mixed = density @ seen.chance
        alone = (density @ own.T) / np.maximum(total, 1e-300)  # (K, 5, names)
        mine = np.take_along_axis(alone, which[:, None, None], axis=2)[:, :, 0]
        rise = np.log2(mine / mixed) @ (_WEIGHTS / _WEIGHTS.sum())
        bits[c] = float(seen.chance @ rise)
    return np.maximum(bits, 0.0)


def propose(ranking: Ranking, those: Sequence[Candidate], count: int = 3) -> tuple[Proposal, ...]:
    """Return the readings to take next, the best for its trouble first.

    Args:
        ranking: made with these candidates' ports.
        those: the candidates.
        count: how many at most.
    """
    taken = {(r.terms, r.moment) for r in ranking.readings}
    free = [c for c in those if (c.reading.terms, c.reading.moment) not in taken]
    if not free:
        return ()
    left = telling(ranking.field, free)
    seen = outlook(ranking.field, left)
    bits = information(seen)
    worth = bits / np.array([c.cost for c in left])
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
    seen = outlook(ranking.field, telling(ranking.field, those, evenly=True))
    first = {name: seen.ids.index(name) for name in dict.fromkeys(seen.ids)}
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
