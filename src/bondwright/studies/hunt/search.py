"""The search: every single defect, then pairs and threes beside what explains most so far."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.special import log_ndtr

from bondwright.studies.hunt.hypotheses import MOST_AT_ONCE, NOTHING, Hypothesis, both
from bondwright.studies.hunt.likelihood import OVER_SPREAD, Fit, Model, Told, fit, rated
from bondwright.studies.hunt.noticed import Priors
from bondwright.studies.hunt.nuisance import Floats

REFINED: Final = 40
"""Single defects (their variants) that are fitted closely."""

SLOPED: Final = 600
"""Single defects (their variants) that are looked at first with slopes of their own."""

STEPPED: Final = 120
"""Single defects (their variants) that take a first step to the readings."""

LOOSE: Final = 0.1
"""Part of a reading that is allowed for where a hypothesis isn't fitted yet."""

BESIDE: Final = 240
"""Further single defects that are judged without being fitted each by itself."""

PARENTS: Final = (10, 24)
"""Single defects, at least and at most, to which a second is added."""

TRIED: Final = 16_000
"""Pairs looked at, if that leaves enough single defects to which a second is added."""

PAIRS: Final = (40, 64)
"""Pairs (and threes) that are fitted closely, at least and at most."""

CAP: Final = 9.0
"""Most that one reading counts against a defect to which a second may be added: the second may
explain it. Log density."""

FURTHER: Final = 0.0
"""A third defect is tried where two explain more than this much better, in the logarithm."""

STEPS: Final = 4
_CHUNK: Final = 192


def searched(
    model: Model,
    variants: list[Hypothesis],
    priors: Priors,
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
    *,
    doubles: bool,
) -> tuple[list[Hypothesis], Fit, Floats, list[tuple[Hypothesis, float]]]:
    """Return the hypotheses that are left, and how well each explains the readings.

    Args:
        model: the site's.
        variants: every single defect in its variants, and "nothing wrong".
        priors: of the variants.
        values: the readings, (R,).
        sigma: their instruments' standard uncertainties, (R,).
        over: which are only a least value, (R,).
        doubles: whether two and three defects together are tried.

    Returns:
        Hypotheses looked at closely, their fits, their log posteriors but for a constant; and
        the other variants with theirs.
    """
    prior = np.array([priors.of(h) for h in variants])
    if not len(values):
        return variants, fit(model, variants, values, sigma, over), prior, []
    rough = _first_look(model, variants, prior, values, sigma, over)
    order = [int(k) for k in np.argsort(-(rough.evidence + prior))]
    order = _sorted_again(model, variants, prior, order, values, sigma, over)
    first = [variants[k] for k in order[:REFINED]]
    if NOTHING not in first:
        first.append(NOTHING)
    model.choose(first, sigma)
    close = fit(model, first, values, sigma, over, STEPS)
    score = close.evidence + np.array([priors.of(h) for h in first])
    nothing = first.index(NOTHING)
    # What the readings hardly touch is judged where the unknowns of "nothing wrong" came to lie.
    rest = [k for k in order[REFINED:] if variants[k] is not NOTHING]
    near = [variants[k] for k in rest[:BESIDE]]
    hypotheses, fits = list(first), [close]
    if near:
        beside = fit(model, near, values, sigma, over, at=close.theta[nothing])
        hypotheses += near
        fits.append(beside)
        score = np.concatenate([score, beside.evidence + np.array([priors.of(h) for h in near])])
    shift = float(close.evidence[nothing] - rough.evidence[variants.index(NOTHING)])
    far = [(variants[k], float(rough.evidence[k] + prior[k]) + shift) for k in rest[BESIDE:]]
    if not doubles:
        return hypotheses, _joined(fits), score, far
    known = _joined(fits)
    count, wanted = (max(a, min(b, a * TRIED // (10 * len(variants)))) for a, b in (PARENTS, PAIRS))
    capped = _capped(known, values, sigma, over) + np.array([priors.of(h) for h in hypotheses])
    parents = _parents(hypotheses, score, capped, count)
    for _ in range(MOST_AT_ONCE - 1):
        several = _several(
            model, variants, rough, priors, parents, known, values, sigma, over, wanted
        )
        if not several:
            break
        more = fit(model, several, values, sigma, over, STEPS)
        own = more.evidence + np.array([priors.of(h) for h in several])
        worth_more = float(own.max()) > float(score.max()) + FURTHER
        hypotheses += several
        fits.append(more)
        score = np.concatenate([score, own])
        if not worth_more:
            break
        known = more
        capped = _capped(more, values, sigma, over)
        capped += np.array([priors.of(h) for h in several])
        parents = _parents(several, own, capped, count // 2)
    return hypotheses, _joined(fits), score, far


def _sorted_again(
    model: Model,
    variants: Sequence[Hypothesis],
    prior: Floats,
    order: list[int],
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
) -> list[int]:
    """Return the order of variants once the first of them have taken a step to the readings."""
    if len(order) <= REFINED:
        return order
    some = order[:STEPPED]
    model.choose([variants[k] for k in some[:REFINED]], sigma)
    stepped = fit(model, [variants[k] for k in some], values, sigma, over, 1)
    score = stepped.evidence + prior[some]
    return [some[k] for k in np.argsort(-score)] + order[STEPPED:]


def _parents(
    those: Sequence[Hypothesis], score: Floats, capped: Floats, count: int
) -> list[tuple[int, Hypothesis]]:
    """Return hypotheses to which one more defect may be added, with their numbers.

    Half of them are the likeliest, half those that explain most readings, whatever they make of
    the others.
    """
    found: dict[str, tuple[int, Hypothesis]] = {}
    for worth, most in ((score, count // 2), (capped, count)):
        for k in np.argsort(-worth):
            if those[k] is not NOTHING and len(found) < most:
                found.setdefault(those[k].id, (int(k), those[k]))
    return list(found.values())


def _capped(known: Fit, values: Floats, sigma: Floats, over: np.typing.NDArray[np.bool_]) -> Floats:
    """Return log densities of readings each by itself, none counting more than CAP against."""
    spread = np.sqrt(np.diagonal(known.covariance, axis1=1, axis2=2))
    rest = np.where(over, 0.0, np.abs(np.abs(known.mean) - values)) / spread
    beyond = (known.told.size - values) / (sigma + OVER_SPREAD * known.told.size)
    lost = np.where(over, -log_ndtr(beyond), rest**2 / 2)
    scale = np.where(over, 0.0, np.log(spread / sigma))
    return np.asarray(-(np.minimum(lost, CAP) + scale).sum(axis=1))


def _several(
    model: Model,
    variants: Sequence[Hypothesis],
    rough: Fit,
    priors: Priors,
    parents: Sequence[tuple[int, Hypothesis]],
    known: Fit,
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
    wanted: int,
) -> list[Hypothesis]:
    """Return the parents with one defect more, those that may explain the readings best.

    Each parent is taken as it was fitted. What a further defect changes in a reading moves its
    mean, and widens it: by part of the change, and by the further defect's own spread.
    """
    spread = np.diagonal(rough.covariance, axis1=1, axis2=2)
    found: list[tuple[float, Hypothesis]] = []
    eye = np.arange(len(values))
    for number, parent in parents:
        others = [
            k for k, h in enumerate(variants) if h is not NOTHING and h.id not in parent.members
        ]
        told = model.tell(
            [variants[k] for k in others], known.theta[number], slopes=False, given=parent
        )
        moved = told.size - known.told.size[number]
        own = known.covariance[number]
        wide = np.repeat(own[None], len(others), axis=0)
        wide[:, eye, eye] += (0.3 * moved) ** 2 + np.maximum(spread[others] - np.diagonal(own), 0)
        mean = known.mean[number] + moved
        worth = rated(values, sigma, over, told.size, mean, wide)
        worth += priors.beside(parent, [variants[k] for k in others])
        found += [
            (float(worth[k]), both(parent, variants[others[k]]))
            for k in np.argsort(-worth)[: wanted // 2]
        ]
    best: dict[tuple[str, tuple[float, ...]], Hypothesis] = {}
    for _, item in sorted(found, key=lambda pair: -pair[0]):
        if len(best) == wanted:
            break
        sizes = tuple(sorted(part.ohms + part.angle for part in item.parts))
        best.setdefault((item.id, sizes), item)
    return list(best.values())


def _first_look(
    model: Model,
    variants: Sequence[Hypothesis],
    prior: Floats,
    values: Floats,
    sigma: Floats,
    over: np.typing.NDArray[np.bool_],
) -> Fit:
    """Return a first look at every variant, without the slopes, which are large.

    Of very many only the likeliest are looked at with their own slopes. The others are taken to be
    as uncertain as "nothing wrong", and by part of what they change besides.
    """
    size = model.tell(variants, slopes=False).size
    sound = fit(model, [NOTHING], values, sigma, over)
    eye = np.arange(len(values))
    covariance = np.repeat(sound.covariance, len(variants), axis=0)
    covariance[:, eye, eye] += (0.3 * np.abs(size - sound.told.size)) ** 2
    wide = covariance.copy()
    wide[:, eye, eye] += (LOOSE * size) ** 2
    mean = sound.mean + (size - sound.told.size)
    evidence = rated(values, sigma, over, size, mean, wide)
    chosen = np.argsort(-(evidence + prior))[:SLOPED]
    for start in range(0, len(chosen), _CHUNK):
        those = chosen[start : start + _CHUNK]
        one = fit(model, [variants[k] for k in those], values, sigma, over, loose=LOOSE)
        mean[those], covariance[those], evidence[those] = one.mean, one.covariance, one.evidence
    none = np.zeros((*size.shape, 0))
    return Fit(
        np.zeros((len(size), 0)), Told(size, none, np.zeros_like(size)), mean, covariance, evidence
    )


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
