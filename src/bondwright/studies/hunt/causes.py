"""Causes, ranked: how likely each is, and what every reading says of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import log_ndtr
from scipy.stats import chi2

from bondwright.network.build import Network
from bondwright.plan.model import Plan
from bondwright.studies.hunt.hypotheses import Hypothesis
from bondwright.studies.hunt.likelihood import OVER_SPREAD, Fit, folded
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.nuisance import Floats, Unknowns, View
from bondwright.studies.hunt.readings import Reading

UNLISTED: Final = Hypothesis(
    "not-in-the-list", "not-in-the-list", "something that is not in the list of causes", ()
)
"""A cause that this tool doesn't know."""

TOLD: Final = 40
"""Causes of which it is told what every reading says, likeliest first."""


@dataclass(frozen=True, slots=True)
class Voice:
    """What one reading says of a cause, given all the other readings.

    Attributes:
        reading: its number.
        expected: what the cause makes of it, SI.
        sigma: standard uncertainty of that with the instrument's.
        weight: log of how much likelier the reading is under the cause than under the best
            other one; positive speaks for it.
    """

    reading: int
    expected: float
    sigma: float
    weight: float


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that may be wrong, ranked.

    Attributes:
        hypothesis: the variant that fits best.
        probability: of the cause, over all its variants.
        size: the fitted resistance or voltage of its first part that varies; None without one.
        fits: probability of readings as strange as these under it.
        voices: what each reading says.
        alike: ids of other causes that no reading this tool may ask for tells from it.
    """

    hypothesis: Hypothesis
    probability: float
    size: float | None
    fits: float
    voices: tuple[Voice, ...]
    alike: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """Id of the hypothesis."""
        return self.hypothesis.id


@dataclass(frozen=True, slots=True, eq=False)
class Field:
    """Everything a further question needs: the hypotheses that are left, and their fits.

    Attributes:
        plan: the plan.
        network: normal running.
        unknowns: of the site.
        views: circuits by state.
        hypotheses: those kept, variants apart.
        fits: of them to the readings.
        log_posterior: of each, normalised with the unlisted cause, (H,).
        values: the readings, (R,).
    """

    plan: Plan
    network: Network
    unknowns: Unknowns
    views: dict[Moment, View]
    hypotheses: tuple[Hypothesis, ...]
    fits: Fit
    log_posterior: Floats
    values: Floats


def causes_of(
    field: Field,
    used: Sequence[Reading],
    unlisted: float,
    others: Sequence[tuple[Hypothesis, float]] = (),
) -> tuple[Cause, ...]:
    """Return all causes, likeliest first.

    Args:
        field: the hypotheses kept and their fits.
        used: the readings they were fitted to, in the same order.
        unlisted: probability of a cause that isn't in the list.
        others: variants that weren't looked at closely, each with its probability.
    """
    chance: dict[str, float] = {}
    best: dict[str, int] = {}
    for k, h in enumerate(field.hypotheses):
        chance[h.id] = chance.get(h.id, 0.0) + math.exp(field.log_posterior[k])
        if h.id not in best or field.log_posterior[k] > field.log_posterior[best[h.id]]:
            best[h.id] = k
    ranked = sorted(chance, key=lambda name: -chance[name])
    unseen: dict[str, tuple[Hypothesis, float]] = {}
    for item, own in others:
        if item.id in chance:
            chance[item.id] += own
        else:
            unseen[item.id] = (item, own + unseen.get(item.id, (item, 0.0))[1])
    told = ranked[:TOLD]
    alone = {name: _alone(field.fits, best[name], used) for name in told}
    found = [
        Cause(field.hypotheses[best[name]], chance[name], None, 1.0, ()) for name in ranked[TOLD:]
    ]
    for name in told:
        k = best[name]
        rival = next((other for other in told if other != name), name)
        voices = tuple(
            Voice(r.number, expected, sigma, density - alone[rival][j][2])
            for j, (r, (expected, sigma, density)) in enumerate(zip(used, alone[name], strict=True))
        )
        rest = np.where(_over(used), 0.0, _rest(field.fits, k, field.values))
        square = float(rest @ np.linalg.solve(field.fits.covariance[k], rest)) if used else 0.0
        said = sum(not r.over for r in used)
        fits = float(chi2.sf(square, said)) if said else 1.0
        found.append(Cause(field.hypotheses[k], chance[name], _size(field, k), fits, voices))
    found += [Cause(item, own, None, 1.0, ()) for item, own in unseen.values()]
    found.append(Cause(UNLISTED, unlisted, None, 1.0, ()))
    return tuple(sorted(found, key=lambda c: -c.probability))


def _rest(fits: Fit, k: int, values: Floats) -> Floats:
    return np.asarray(folded(values, fits.mean[k][None], fits.covariance[k][None])[0])


def _over(readings: Sequence[Reading]) -> np.typing.NDArray[np.bool_]:
    return np.array([r.over for r in readings], dtype=np.bool_)


def _alone(fits: Fit, k: int, used: Sequence[Reading]) -> list[tuple[float, float, float]]:
    """Return for each reading (expected, sigma, log density) given all the others.

    From the precision matrix P: ``sigma^2 = 1/P_rr`` and the deviation is
    ``(P (y - mean))_r / P_rr`` (S. Sundararajan and S. S. Keerthi, Neural Computation 13 (2001)
    1103-1118).
    """
    if not used:
        return []
    values = np.array([r.value for r in used])
    over = _over(used)
    precision = np.linalg.inv(fits.covariance[k])
    rest = np.where(over, 0.0, _rest(fits, k, values))
    pull = precision @ rest
    variance = 1 / np.diagonal(precision)
    off = pull * variance
    density = -(off**2) / variance / 2 - np.log(2 * np.pi * variance) / 2
    found = []
    for r, reading in enumerate(used):
        if reading.over:
            size = float(fits.told.size[k][r])
            spread = reading.sigma + OVER_SPREAD * size
            beyond = float(log_ndtr((size - reading.value) / spread))
            found.append((size, spread, beyond))
        else:
            sigma = float(math.sqrt(variance[r]))
            expected = abs(float(fits.mean[k][r] + rest[r] - off[r]))
            found.append((expected, sigma, float(density[r])))
    return found


def _size(field: Field, k: int) -> float | None:
    for part in field.hypotheses[k].parts:
        if part.varies and part.spread:
            at = field.unknowns.defect_at + part.owner
            theta = float(field.fits.theta[k, at]) if field.fits.theta.shape[1] else 0.0
            return part.ohms * math.exp(part.spread * theta / math.sqrt(3))
    return None
