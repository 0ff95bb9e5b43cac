"""Layers from a sounding, how sure each number is, and no layer that the readings do not need.

Least squares in logarithms of resistivities and thicknesses. A further layer is taken only when an
F test says that chance makes such an improvement less than :data:`CHANCE` of the time; scatter
below :data:`READING_FLOOR` counts as that much, for no field reading is better. Akaike's
information criterion for small samples (N. Sugiura 1978) is reported beside it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import fdtrc, fdtri, stdtrit

from bondwright.earth.least_squares import Minimum, Residual, minimise, robust_spread, tame
from bondwright.earth.soil import Array, Soil, geometric_mean
from bondwright.earth.sounding import PinArray, Sounding

MOST_LAYERS: Final = 4
"""Most layers that are looked for."""
CHANCE: Final = 0.005
"""How often chance alone may seem to show a further layer."""
READING_FLOOR: Final = 0.01
"""Least scatter that field readings are believed to have, as a part."""
CONFIDENCE: Final = 0.95
OPEN: Final = 3.0
"""An interval that the readings leave open counts as reaching this factor off its value."""
_FEW: Final = 1 / 3
_SUSPICIOUS: Final = 4.5
_SUSPICIOUS_LEAST: Final = 0.06
_STEEPEST: Final = 1.0
_RESOLVED: Final = 9.0


@dataclass(frozen=True, slots=True)
class Estimate:
    """One parameter of the soil.

    Attributes:
        name: "rho 1" or "thickness 1".
        value: best [ohm m or m].
        low: lower end of the 95 % interval; 0 when the readings set none.
        high: upper end; infinity when the readings set none.
        log_sd: standard error of its natural logarithm, from the covariance.
    """

    name: str
    value: float
    low: float
    high: float
    log_sd: float

    @property
    def resolved(self) -> bool:
        """Whether the readings bound it on both sides, with ends less than a factor 9 apart."""
        return self.low > 0 and self.high < _RESOLVED * self.low


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A reading to look at again.

    Attributes:
        index: which, from 0.
        departure: reading over curve, minus one.
        reason: why.
    """

    index: int
    departure: float
    reason: str


@dataclass(frozen=True, slots=True)
class Candidate:
    """A number of layers that was tried.

    Attributes:
        layers: how many.
        criterion: Akaike's, for small samples; the smaller the better. Infinity if too many
            parameters for the readings.
        rms: root mean square of the relative misfit.
        soil: the best soil of as many layers.
    """

    layers: int
    criterion: float
    rms: float
    soil: Soil


@dataclass(frozen=True, slots=True)
class SoilFit:
    """What a sounding says.

    Attributes:
        soil: the layers.
        estimates: resistivities from the top, then thicknesses.
        correlation: of the log parameters in the order of the estimates, row by row.
        rms: root mean square of the relative misfit.
        scatter: standard error of one reading that the intervals rest on, as a part.
        curve_ohm_m: what the survey reads over this soil [ohm m].
        departure: reading over curve, minus one.
        suspicious: readings to look at again.
        candidates: the numbers of layers tried.
        asked: number of layers if it was prescribed, else None.
    """

    soil: Soil
    estimates: tuple[Estimate, ...]
    correlation: tuple[tuple[float, ...], ...]
    rms: float
    scatter: float
    curve_ohm_m: tuple[float, ...]
    departure: tuple[float, ...]
    suspicious: tuple[Suspicion, ...]
    candidates: tuple[Candidate, ...]
    asked: int | None

    @property
    def ends(self) -> Mapping[str, Soil]:
        """Soils with every resistivity at the lower and at the upper end of its interval.

        The thicknesses stay. An end that is open counts as :data:`OPEN` times off.
        """
        rho = [one for one in self.estimates if one.name.startswith("rho")]
        low = tuple(max(one.low, one.value / OPEN) for one in rho)
        high = tuple(min(one.high, one.value * OPEN) for one in rho)
        return {
            "low end of the survey": Soil(low, self.soil.thickness_m),
            "high end of the survey": Soil(high, self.soil.thickness_m),
        }

    @property
    def resolved(self) -> bool:
        """Whether every parameter is."""
        return all(estimate.resolved for estimate in self.estimates)


@dataclass(frozen=True, slots=True)
class _Tried:
    """A number of layers with its best fit."""

    layers: int
    found: Minimum
    criterion: float
    residual: Residual
    low: Array
    high: Array


def fit_soil(sounding: Sounding, layers: int | None = None) -> SoilFit:
    """Find the layers under a survey.

    Args:
        sounding: the readings.
        layers: how many layers to fit; None lets the readings say, up to :data:`MOST_LAYERS`.

    Returns:
        The fit. Ambiguity shows as wide intervals, never as a guess.

    Raises:
        ValueError: a number of layers that is impossible or more than the readings can carry.
    """
    count = len(sounding.spacing_m)
    carried = [n for n in range(1, MOST_LAYERS + 1) if 2 * n - 1 <= count - 2 or n == 1]
    if layers is not None and layers not in carried:
        raise ValueError(
            f"{count} readings can't carry {layers} layers; give 1 to {carried[-1]}, or take "
            "more readings"
        )
    tried = [_try(sounding, n) for n in ([layers] if layers else carried)]
    best = tried[0]
    for other in tried[1:]:
        if _chance(best, other, bool(sounding.relative_sd)) < CHANCE:
            best = other
    return _report(sounding, best, tried, layers)


def _unpack(point: Array, layers: int) -> tuple[Array, Array]:
    return np.exp(point[..., :layers]), np.exp(point[..., layers:])


def _soil(point: Array, layers: int) -> Soil:
    rho, thick = _unpack(point, layers)
    return Soil(tuple(map(float, rho)), tuple(map(float, thick)))


def _try(sounding: Sounding, layers: int) -> _Tried:
    seen = np.log(np.array(sounding.rho_a_ohm_m))
    known = bool(sounding.relative_sd)
    sd = np.array(sounding.relative_sd) if known else np.ones(seen.size)
    forward = sounding.forward

    def residual(points: Array) -> Array:
        made: Array = (seen - np.log(forward.apparent(*_unpack(points, layers)))) / sd
        return made

    spacing = np.array(sounding.spacing_m)
    low = np.array([seen.min() - 3.5] * layers + [math.log(spacing.min() / 4)] * (layers - 1))
    high = np.array([seen.max() + 3.5] * layers + [math.log(spacing.max() * 1.5)] * (layers - 1))
    weight = np.ones(seen.size)
    starts = _starts(spacing, seen, layers, sounding.array)
    order = np.argsort(np.sum(residual(starts) ** 2, axis=1))
    ends = [minimise(residual, starts[i], low, high, weight) for i in order[:4]]
    found = min(ends, key=lambda end: end.loss)
    floor = 1.0 if known else READING_FLOOR
    tamed = tame(residual, found, low, high, weight, floor)
    # readings that keep to the others count in full, or the intervals would come out too narrow
    wild = _wild(tamed, sd if known else np.ones(seen.size), floor)
    if wild.any():
        found = minimise(residual, tamed.point, low, high, np.where(wild, tamed.weight, 1.0))
    return _Tried(layers, found, _criterion(found, known), residual, low, high)


def _starts(spacing: Array, seen: Array, layers: int, array: PinArray) -> Array:
    """Return soils to begin from, shape (m, 2 layers - 1), log parameters."""
    if layers == 1:
        return np.array([[seen.mean()]])
    reach = 1.0 if array is PinArray.WENNER else 0.6
    order = np.argsort(spacing)
    places = np.log(spacing[order])
    depths = np.geomspace(spacing.min() / 2, spacing.max() / 1.5, 9 if layers == 2 else 7)
    rows = []
    for floors in itertools.combinations(depths, layers - 1):
        tops = np.concatenate([[0.0], floors])
        middles = np.log((tops[:-1] + floors) / 2 / reach + 1e-9)
        rho = [*np.interp(middles, places, seen[order]), seen[order][-1]]
        for push in (1.0, 2.0):
            # the curve is flatter than the soil it comes from
            centre = seen.mean()
            pushed = [centre + push * (value - centre) for value in rho]
            rows.append([*pushed, *np.log(np.diff(tops))])
    return np.array(rows)


def _criterion(found: Minimum, known: bool) -> float:
    """Return the criterion, with wild readings capped at three spreads."""
    count, free = found.residual.size, found.point.size
    if known:
        loss = float(np.sum(np.minimum(found.residual**2, 9.0)))
    else:
        free += 1  # the scatter itself
        spread = max(robust_spread(found.residual, found.point.size), READING_FLOOR)
        mean = float(np.mean(np.minimum(found.residual**2, 9 * spread**2)))
        loss = count * math.log(max(mean, READING_FLOOR**2))
    if count - free - 1 <= 0:
        return math.inf
    return loss + 2 * free + 2 * free * (free + 1) / (count - free - 1)


def _chance(fewer: _Tried, more: _Tried, known: bool) -> float:
    """Return how often chance would improve the fit as much: an F test, wild readings capped."""
    count, free = more.found.residual.size, more.found.point.size
    floor = 1.0 if known else READING_FLOOR
    cap = 25 * max(robust_spread(more.found.residual, free), floor) ** 2
    rest = max(float(np.sum(np.minimum(more.found.residual**2, cap))), (count - free) * floor**2)
    off = fewer.found.residual**2
    if np.mean(off > cap) <= _FEW:  # readings that are many aren't wild: the curve is wrong
        off = np.minimum(off, cap)
    gain = float(np.sum(off)) - rest
    added = free - fewer.found.point.size
    return float(fdtrc(added, count - free, max(gain, 0.0) / added / (rest / (count - free))))


def _scatter2(found: Minimum, known: bool) -> float:
    """Return the variance of a residual of weight one."""
    spare = max(float(found.weight.sum()) - found.point.size, 1.0)
    return max(found.loss / spare, 1.0 if known else READING_FLOOR**2)


def _report(sounding: Sounding, best: _Tried, tried: list[_Tried], asked: int | None) -> SoilFit:
    found, known = best.found, bool(sounding.relative_sd)
    variance = _scatter2(found, known)
    normal = found.jacobian.T @ (found.weight[:, None] * found.jacobian)
    covariance = variance * np.linalg.pinv(normal, rcond=1e-12)
    sd = np.sqrt(np.diag(covariance))
    names = [f"rho {i + 1}" for i in range(best.layers)]
    names += [f"thickness {i + 1}" for i in range(best.layers - 1)]
    estimates = [
        Estimate(name, math.exp(found.point[i]), *_interval(best, i, sd[i], variance), float(sd[i]))
        for i, name in enumerate(names)
    ]
    seen = np.array(sounding.rho_a_ohm_m)
    curve = sounding.forward.apparent(*_unpack(found.point, best.layers))
    departure = seen / curve - 1
    correlation = covariance / np.outer(np.maximum(sd, 1e-300), np.maximum(sd, 1e-300))
    scale = geometric_mean(sounding.relative_sd) if known else 1.0
    return SoilFit(
        soil=_soil(found.point, best.layers),
        estimates=tuple(estimates),
        correlation=tuple(tuple(float(c) for c in row) for row in correlation),
        rms=float(np.sqrt(np.mean(departure**2))),
        scatter=math.sqrt(variance) * scale,
        curve_ohm_m=tuple(map(float, curve)),
        departure=tuple(map(float, departure)),
        suspicious=_suspicious(sounding, found, departure),
        candidates=tuple(_candidate(sounding, one) for one in tried),
        asked=asked,
    )


def _candidate(sounding: Sounding, one: _Tried) -> Candidate:
    soil = _soil(one.found.point, one.layers)
    curve = sounding.forward.apparent(*_unpack(one.found.point, one.layers))
    off = np.array(sounding.rho_a_ohm_m) / curve - 1
    return Candidate(one.layers, one.criterion, float(np.sqrt(np.mean(off**2))), soil)


def _interval(best: _Tried, index: int, sd: float, variance: float) -> tuple[float, float]:
    """Return the 95 % interval by the profile of the misfit.

    The parameter is held off its best value while the others follow; the interval ends where the
    misfit has grown by the F quantile.
    """
    found = best.found
    spare = max(found.residual.size - found.point.size, 1)
    allowed = found.loss + variance * float(fdtri(1, spare, CONFIDENCE))
    guess = max(sd * float(stdtrit(spare, (1 + CONFIDENCE) / 2)), 1e-3)
    ends = []
    for sign, wall, none in ((-1.0, best.low[index], 0.0), (1.0, best.high[index], math.inf)):
        end = _cross(best, index, sign, min(guess, 1.0), allowed, wall)
        ends.append(none if end is None else math.exp(end))
    return ends[0], ends[1]


def _cross(
    best: _Tried, index: int, sign: float, step: float, allowed: float, wall: float
) -> float | None:
    """Return where the profile reaches the allowed misfit, or None if it doesn't within bounds."""
    found = best.found
    base = float(found.point[index])
    inside, inside_gain, warm = 0.0, 0.0, found.point

    def gain(off: float) -> tuple[float, Array]:
        start = warm.copy()
        start[index] = base + sign * off
        if found.point.size == 1:
            value = best.residual(start[None])[0]
            return math.sqrt(max(float(found.weight @ value**2) - found.loss, 0.0)), start
        held = minimise(best.residual, start, best.low, best.high, found.weight, held=index)
        return math.sqrt(max(held.loss - found.loss, 0.0)), held.point

    target = math.sqrt(max(allowed - found.loss, 0.0))
    room = abs(wall - base)
    off = min(step, room)
    for _ in range(12):
        outside, at = gain(off)
        if outside >= target:
            break
        if off >= room:
            return None
        inside, inside_gain, warm = off, outside, at
        off = min(off * 1.7, room)
    else:
        return None
    # the root of the gain is almost straight in the parameter
    for _ in range(4):
        middle = inside + (off - inside) * (target - inside_gain) / max(
            outside - inside_gain, 1e-300
        )
        middle = min(max(middle, inside + 0.05 * (off - inside)), off - 0.05 * (off - inside))
        value, at = gain(middle)
        if abs(value - target) < 0.01 * target:
            return base + sign * middle
        if value < target:
            inside, inside_gain, warm = middle, value, at
        else:
            off, outside = middle, value
    return base + sign * off


def _wild(found: Minimum, sd: Array, floor: float) -> NDArray[np.bool_]:
    """Return which readings lie too far from the curve to be scatter."""
    spread = max(robust_spread(found.residual, found.point.size), floor)
    off = np.abs(found.residual)
    mask: NDArray[np.bool_] = (off > _SUSPICIOUS * spread) & (off * sd > _SUSPICIOUS_LEAST)
    return mask


def _suspicious(sounding: Sounding, found: Minimum, departure: Array) -> tuple[Suspicion, ...]:
    flagged = dict[int, str]()
    known = bool(sounding.relative_sd)
    floor = 1.0 if known else READING_FLOOR
    spread = max(robust_spread(found.residual, found.point.size), floor)
    sd = np.array(sounding.relative_sd) if known else np.ones(found.residual.size)
    for index in np.flatnonzero(_wild(found, sd, floor)):
        far = abs(found.residual[index]) / spread
        flagged[int(index)] = (
            f"{abs(departure[index]):.0%} {'above' if departure[index] > 0 else 'below'} the "
            f"curve, {far:.0f} times the scatter of the others"
        )
    order = np.argsort(sounding.spacing_m)
    for left, right in itertools.pairwise(order):
        run = math.log(sounding.spacing_m[right] / sounding.spacing_m[left])
        rise = math.log(sounding.rho_a_ohm_m[right] / sounding.rho_a_ohm_m[left])
        if run > 0 and rise > _STEEPEST * run + 3 * READING_FLOOR * math.sqrt(2):
            worse = int(left if abs(departure[left]) > abs(departure[right]) else right)
            flagged.setdefault(
                worse,
                f"the curve rises faster than the spacing between {sounding.spacing_m[left]:g} m "
                f"and {sounding.spacing_m[right]:g} m; no level layers do that",
            )
    return tuple(Suspicion(i, float(departure[i]), why) for i, why in sorted(flagged.items()))
