"""Which unknown quantity an answer depends on most.

The measure is Sobol's first-order index: the part of the variance of an answer that would go if
one quantity were known, ``S = Var(E[y | x]) / Var(y)``. It is taken from the samples that are
there: they are sorted by x into classes of equal size, and the variance of the classes' means is
compared with the whole (the correlation ratio; as an estimate of S see E. Plischke, E. Borgonovo,
C. L. Smith, European Journal of Operational Research 226 (2013) 536-550; from memory). Means of
few samples scatter by themselves, so the ratio is adjusted for the number of classes (T. L.
Kelley, 1935; from memory), and a share that chance alone would reach isn't reported.

It takes no line or monotony for granted, and costs no more samples for many quantities than for
few. What several quantities do only together is in no share; it is part of what remains.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import betaincinv

from bondwright.studies.fault_parts import Floats

FEWEST: Final = 32
"""Samples from which it is said what matters."""

CHANCE: Final = 0.01
"""How often chance alone may pass for a share, over all quantities of one answer."""

MONOTONE: Final = 0.5
"""A rank correlation beyond this says which way an answer goes with a quantity."""

_PER_CLASS: Final = 8
_CLASSES: Final = (4, 32)


@dataclass(frozen=True, slots=True)
class Share:
    """What one quantity does to an answer.

    Attributes:
        quantity: its number.
        share: of the answer's variance that would go if it were known, 0 to 1.
        way: 1 where the answer rises with it, -1 where it falls, 0 where it does neither.
    """

    quantity: int
    share: float
    way: int


@dataclass(frozen=True, slots=True)
class Spread:
    """The range of one answer.

    Attributes:
        nominal: the answer at the nominal values.
        least: the least of all samples and the nominal answer.
        low: nineteen of twenty samples are above it.
        high: nineteen of twenty are below it.
        greatest: the greatest of these.
        shares: what it depends on, the most first; empty where nothing stands out.
        by_rank: whether the shares are of the answer's rank, because it can be infinite.
    """

    nominal: float
    least: float
    low: float
    high: float
    greatest: float
    shares: tuple[Share, ...]
    by_rank: bool

    @property
    def rest(self) -> float:
        """What no quantity explains by itself: interplay, and what the samples can't resolve."""
        return max(0.0, 1 - sum(one.share for one in self.shares))


def spread(nominal: float, answers: Floats, quantities: Floats) -> Spread:
    """Return the range of an answer and what it depends on.

    Args:
        nominal: the answer at the nominal values.
        answers: of every sample; infinity is one.
        quantities: what each sample had, (samples, quantities).
    """
    least, low, high, greatest = np.quantile(
        answers, [0, 0.05, 0.95, 1], method="inverted_cdf"
    ).tolist()
    by_rank = not bool(np.isfinite(answers).all())
    # Nominal values may lie at an end of their ranges, which no sample quite reaches.
    least, greatest = min(least, nominal), max(greatest, nominal)
    return Spread(nominal, least, low, high, greatest, shares_of(answers, quantities), by_rank)


def shares_of(answers: Floats, quantities: Floats) -> tuple[Share, ...]:
    """Return what an answer depends on, the most first.

    Args:
        answers: of every sample; where some are infinite ranks are taken.
        quantities: what each sample had, (samples, quantities).
    """
    count, number = quantities.shape
    ranks = _ranks(answers)
    y = answers if np.isfinite(answers).all() else ranks
    # An answer that moves by what a sum is rounded to doesn't move.
    if count < FEWEST or np.ptp(y) <= 1e-9 * max(float(np.abs(y).max()), 1e-300):
        return ()
    classes = int(np.clip(count // _PER_CLASS, *_CLASSES))
    chance = float(
        betaincinv((classes - 1) / 2, (count - classes) / 2, 1 - CHANCE / max(number, 1))
    )
    found = []
    for k in range(number):
        ratio = _ratio(y, quantities[:, k], classes)
        if ratio <= chance:
            continue
        share = max(0.0, 1 - (1 - ratio) * (count - 1) / (count - classes))
        agree = float(np.corrcoef(ranks, _ranks(quantities[:, k]))[0, 1])
        found.append(Share(k, share, int(np.sign(agree)) if abs(agree) > MONOTONE else 0))
    return tuple(sorted(found, key=lambda one: -one.share))


def _ratio(y: Floats, x: Floats, classes: int) -> float:
    """Return the variance of classes' means over that of all."""
    order = np.argsort(x, kind="stable")
    groups = np.array_split(y[order], classes)
    mean = float(y.mean())
    between = sum(len(group) * (float(group.mean()) - mean) ** 2 for group in groups)
    return float(between / ((y - mean) ** 2).sum())


def _ranks(values: Floats) -> Floats:
    """Return ranks, equal values at the middle of theirs."""
    _, where, counts = np.unique(values, return_inverse=True, return_counts=True)
    last = np.cumsum(counts)
    return np.asarray((last - (counts - 1) / 2)[where], dtype=np.float64)
