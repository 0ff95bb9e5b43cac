"""How well each hypothesis explains the readings, with all that isn't known taken into account.

For a hypothesis the readings are ``y = f(theta) + noise``: f are magnitudes at ports, theta the
unknowns of :mod:`bondwright.studies.hunt.nuisance`. Linear about a point, with theta standard
normal, the readings are normal with mean ``f - J theta`` and covariance ``J J^T + Sigma``. The
point is moved to where the readings pull it (Gauss-Newton), so that loads and electrodes take
values that fit. That is the linear Gaussian marginal likelihood of Bayesian regression (C. M.
Bishop, Pattern Recognition and Machine Learning (2006), section 3.5; the moved point is
Laplace's method, section 4.4). Sigma never falls below what the instrument resolves.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import log_ndtr

from bondwright.studies.hunt.base import Rows, base_of
from bondwright.studies.hunt.batch import Batch
from bondwright.studies.hunt.hypotheses import Hypothesis
from bondwright.studies.hunt.nuisance import Floats, Unknowns, clipped
from bondwright.studies.hunt.ports import Indices

MOST_LOADS: Final = 24
"""Loads that are fitted at one time; the others act in first order."""

LEAST_FELT: Final = 0.05
"""A load is fitted where its whole range moves a reading by this part of its uncertainty."""

LEAST_GAIN: Final = 1e-9
"""What a turned sign has to gain at least, in squares of standard deviations."""

OVER_SPREAD: Final = 0.3
"""How uncertain the size of what is over range is, in part of it."""

NOT_SAID: Final = 1e24
"""Variance of a reading whose size isn't said; its density is taken out again."""

UNSAID: Final = math.log(2 * math.pi * NOT_SAID) / 2

_CHUNK: Final = 24


@dataclass(frozen=True, slots=True, eq=False)
class Told:
    """What hypotheses say of readings.

    Attributes:
        size: magnitudes, (H, R).
        slope: by the unknowns, (H, R, n); empty (n = 0) where only magnitudes were asked for.
        extra: standard uncertainty beyond the instrument's and the unknowns', (H, R).
    """

    size: Floats
    slope: Floats
    extra: Floats


class Model:
    """The circuit's answers under hypotheses.

    Args:
        unknowns: of the site.
        rows: every state's readings.
        count: readings in all.

    Attributes:
        alike: correlation of the readings' own errors, (R, R).
    """

    def __init__(self, unknowns: Unknowns, rows: Sequence[Rows], count: int) -> None:
        self.unknowns = unknowns
        self.rows = tuple(rows)
        self.count = count
        self.alike: Floats = np.eye(count)
        loads = np.arange(len(unknowns.loads))
        self.moved: dict[str, Indices] = dict.fromkeys(unknowns.times, loads[:MOST_LOADS])

    def choose(self, hypotheses: Sequence[Hypothesis], sigma: Floats) -> None:
        """Choose the loads that are fitted: those that these readings feel under any hypothesis.

        The others act in first order only.

        Args:
            hypotheses: the hypotheses to be fitted.
            sigma: standard uncertainty of the readings, (R,).
        """
        felt = np.abs(self.tell(hypotheses).slope) / sigma[:, None]
        for time, start in self.unknowns.load_at.items():
            own = felt[:, :, start : start + len(self.unknowns.loads)].max(axis=(0, 1))
            order = np.argsort(-own)[:MOST_LOADS]
            known = self.unknowns.known_at(time)
            self.moved[time] = np.union1d(order[own[order] > LEAST_FELT], known)

    @property
    def fitted(self) -> npt.NDArray[np.bool_]:
        """Which of the unknowns are fitted, (n,)."""
        unknowns = self.unknowns
        out = np.zeros(unknowns.count, dtype=np.bool_)
        out[: len(unknowns.electrodes)] = True
        out[unknowns.defect_at : unknowns.fitted] = True
        for time, those in self.moved.items():
            out[unknowns.load_at[time] + those] = True
        return out

    def tell(
        self,
        hypotheses: Sequence[Hypothesis],
        theta: Floats | None = None,
        *,
        slopes: bool = True,
        given: Hypothesis | None = None,
    ) -> Told:
        """Return what hypotheses say.

        Args:
            hypotheses: H of them.
            theta: the fitted unknowns of each, (H, fitted), or of all alike, (fitted,); None takes
                the site as described.
            slopes: whether slopes and extra uncertainty are asked for.
            given: defects that are there in any case; theta is alike for all then.
        """
        total = len(hypotheses)
        n = self.unknowns.count if slopes else 0
        size = np.zeros((total, self.count))
        slope = np.zeros((total, self.count, n))
        extra = np.zeros((total, self.count))
        alike = theta is None or theta.ndim == 1
        bases = [
            base_of(self.unknowns, rows, theta, self.moved[rows.time], given) if alike else None
            for rows in self.rows
        ]
        order = sorted(range(total), key=lambda h: len(hypotheses[h].parts))
        step = _CHUNK if slopes else 16 * _CHUNK
        start = 0
        while start < total:
            wide = len(hypotheses[order[start]].parts)
            those = [h for h in order[start : start + step] if len(hypotheses[h].parts) == wide]
            start += len(those)
            chosen = [hypotheses[h] for h in those]
            own = theta[those] if theta is not None and theta.ndim == 2 else theta
            for rows, base in zip(self.rows, bases, strict=True):
                moved = self.moved[rows.time]
                out = Batch(self.unknowns, rows, chosen, own, moved, slopes=slopes, base=base)
                at = np.ix_(np.array(those, dtype=np.int64), rows.which)
                size[at] = out.size
                if slopes:
                    slope[at] = out.slope
                    extra[at] = out.extra
        return Told(size, slope, extra)


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Hypotheses fitted to readings.

    Attributes:
        theta: fitted unknowns, (H, fitted).
        told: what they say there.
        mean: of the readings before they were read, (H, R).
        covariance: of the readings before they were read, (H, R, R).
        evidence: log of the density of the readings, (H,).
    """

    theta: Floats
    told: Told
    mean: Floats
    covariance: Floats
    evidence: Floats


def fit(
    model: Model,
    hypotheses: Sequence[Hypothesis],
    values: Floats,
    sigma: Floats,
    over: npt.NDArray[np.bool_],
    steps: int = 0,
    at: Floats | None = None,
    loose: float = 0.0,
) -> Fit:
    """Fit hypotheses to readings.

    Args:
        model: the site's.
        hypotheses: H of them.
        values: the readings, (R,).
        sigma: their instruments' standard uncertainties, (R,).
        over: which are only a least value, (R,).
        steps: Gauss-Newton steps; 0 stays at the start.
        at: fitted unknowns to start from, (fitted,); None takes the middle of every range.
        loose: part of what is expected that is allowed for besides in the evidence, for a first
            look at hypotheses whose unknowns aren't fitted.
    """
    count, chosen = len(hypotheses), model.fitted
    own = chosen[: model.unknowns.fitted]
    fitted = model.unknowns.fitted
    # What isn't fitted stays where the circuit is as described, and acts in first order from there.
    first = model.unknowns.start if not steps else np.where(own, 0.0, model.unknowns.start)
    theta = np.tile(first if at is None else at, (count, 1))
    best: Fit | None = None
    score = np.full(count, -np.inf)
    for step in range(steps + 1):
        told = model.tell(hypotheses, theta if steps else at)
        # An instrument over its range says only that there is more than it can show.
        wanted = np.where(over, told.size, values)
        noise = np.where(over, NOT_SAID, sigma**2 + told.extra**2)
        still = told.slope[:, :, ~chosen]
        passive = still @ still.transpose(0, 2, 1)
        spread = np.sqrt(noise)
        passive += model.alike * spread[:, :, None] * spread[:, None, :]
        active = told.slope[:, :, chosen]
        whole = passive + active @ active.transpose(0, 2, 1)
        mean = told.size - (told.slope[:, :, :fitted] @ theta[:, :, None])[:, :, 0]
        mean = np.where(over, told.size, mean)
        off = folded(wanted, mean, whole)
        if loose:
            rough = whole.copy()
            eye = np.arange(model.count)
            rough[:, eye, eye] += (loose * told.size) ** 2
            evidence = log_density(off, rough)
        else:
            evidence = log_density(off, whole)
        beyond = (told.size - values) / (sigma + OVER_SPREAD * told.size)
        evidence += np.where(over, log_ndtr(beyond) + UNSAID, 0.0).sum(axis=1)
        now = Fit(theta, told, mean, whole, evidence)
        if not steps:
            return now
        rest = wanted - mean - (active @ theta[:, own, None])[:, :, 0]
        loss = np.einsum("hr,hr->h", rest, np.linalg.solve(passive, rest[:, :, None])[:, :, 0])
        goal = -(loss + np.sum(theta[:, own] ** 2, axis=1)) / 2
        better = goal > score
        best = now if best is None else _merge(best, now, better)
        score = np.where(better, goal, score)
        if step < steps:
            pull = np.linalg.solve(whole, off[:, :, None])
            moved = (active.transpose(0, 2, 1) @ pull)[:, :, 0]
            damp = 1.0 if step < 2 else 0.6
            theta = theta.copy()
            theta[:, own] = clipped(theta[:, own] + damp * (moved - theta[:, own]))
    if best is None:
        msg = "a fit needs at least no step"
        raise ValueError(msg)
    return best


def _merge(old: Fit, new: Fit, better: npt.NDArray[np.bool_]) -> Fit:
    def pick(a: Floats, b: Floats) -> Floats:
        return np.where(better.reshape(-1, *(1,) * (a.ndim - 1)), b, a)

    return Fit(
        pick(old.theta, new.theta),
        Told(
            pick(old.told.size, new.told.size),
            pick(old.told.slope, new.told.slope),
            pick(old.told.extra, new.told.extra),
        ),
        pick(old.mean, new.mean),
        pick(old.covariance, new.covariance),
        pick(old.evidence, new.evidence),
    )


def rated(
    values: Floats,
    sigma: Floats,
    over: npt.NDArray[np.bool_],
    size: Floats,
    mean: Floats,
    covariance: Floats,
) -> Floats:
    """Return the log density of readings, (H,), of which some are over range.

    Args:
        values: the readings, (R,).
        sigma: their instruments' standard uncertainties, (R,).
        over: which are only a least value, (R,).
        size: what hypotheses say, (H, R).
        mean: of the readings before they were read, (H, R).
        covariance: of the readings before they were read, (H, R, R).
    """
    wide = covariance.copy()
    eye = np.arange(len(values))
    wide[:, eye, eye] += np.where(over, NOT_SAID, 0.0)
    middle = np.where(over, size, mean)
    worth = log_density(folded(np.where(over, size, values), middle, wide), wide)
    beyond = (size - values) / (sigma + OVER_SPREAD * size)
    return np.asarray(worth + np.where(over, log_ndtr(beyond) + UNSAID, 0.0).sum(axis=1))


def folded(values: Floats, mean: Floats, covariance: Floats) -> Floats:
    """Return the deviations of readings from their means, (H, R), signs chosen to fit best.

    A meter shows a magnitude. Where a hypothesis makes it small and uncertain, the phasor may have
    come out on either side of nothing, so that minus the reading is as good. The sign that gains
    most is turned first, so that the order of the readings decides nothing.
    """
    rest = values - mean
    precision = np.linalg.inv(covariance)
    own = np.diagonal(precision, axis1=1, axis2=2)
    turn = -2 * np.broadcast_to(values, rest.shape)
    going = np.arange(len(rest))
    for _ in range(2 * rest.shape[1]):
        pull = np.einsum("hrs,hs->hr", precision[going], rest[going])
        lost = 2 * turn[going] * pull + turn[going] ** 2 * own[going]
        best = np.argmin(lost, axis=1)
        some = lost[np.arange(len(going)), best] < -LEAST_GAIN
        going, best = going[some], best[some]
        if not len(going):
            break
        rest[going, best] += turn[going, best]
        turn = turn.copy()
        turn[going, best] *= -1
    return np.asarray(rest)


def log_density(rest: Floats, covariance: Floats) -> Floats:
    """Return the log density of normal deviations, (H,), from (H, R) and (H, R, R)."""
    lower = np.linalg.cholesky(covariance)
    white = np.linalg.solve(lower, rest[:, :, None])[:, :, 0]
    halves = np.log(np.diagonal(lower, axis1=1, axis2=2)).sum(axis=1)
    square = np.sum(white**2, axis=1)
    return np.asarray(-square / 2 - halves - rest.shape[1] / 2 * math.log(2 * math.pi))
