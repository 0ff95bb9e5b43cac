"""Least squares in log parameters: a damped Gauss-Newton for soundings, with weights that tame."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.earth.soil import Array

_STEPS: Final = 60
_DIFFERENCE: Final = 1e-4
_ENOUGH: Final = 1e-9
TRUSTED: Final = 2.0
"""Robust standard deviations beyond which a reading loses weight."""


@dataclass(frozen=True, slots=True)
class Minimum:
    """Where the damped search ended.

    Attributes:
        point: parameters, shape (k,).
        residual: unweighted, shape (n,).
        jacobian: of the residual, shape (n, k).
        weight: of each reading, shape (n,).
        loss: weighted sum of squares.
    """

    point: Array
    residual: Array
    jacobian: Array
    weight: Array
    loss: float


Residual = Callable[[Array], Array]
"""From parameters, shape (m, k), to residuals, shape (m, n)."""


def _slope(residual: Residual, point: Array, free: Array) -> Array:
    steps = np.eye(point.size)[free] * _DIFFERENCE
    moved = residual(np.concatenate([point + steps, point - steps]))
    half = len(steps)
    return ((moved[:half] - moved[half:]) / (2 * _DIFFERENCE)).T


def minimise(
    residual: Residual,
    start: Array,
    low: Array,
    high: Array,
    weight: Array,
    held: int | None = None,
) -> Minimum:
    """Find the least weighted sum of squares from a start, within bounds.

    Args:
        residual: the residuals.
        start: where to begin, shape (k,).
        low: least parameters, shape (k,).
        high: greatest.
        weight: of each reading, shape (n,).
        held: number of a parameter that is not to move.

    Returns:
        The minimum; with one held, its Jacobian has a column less.
    """
    free = np.arange(start.size) != (-1 if held is None else held)
    point = np.clip(start, low, high)
    value = residual(point[None])[0]
    loss = float(weight @ value**2)
    damping = 1e-3
    slope = _slope(residual, point, free)
    for _ in range(_STEPS):
        normal = slope.T @ (weight[:, None] * slope)
        pull = slope.T @ (weight * value)
        scale = np.diag(normal) + 1e-12
        step = np.zeros(start.size)
        step[free] = -np.linalg.solve(normal + damping * np.diag(scale), pull)
        tried = np.clip(point + np.clip(step, -1.5, 1.5), low, high)
        new = residual(tried[None])[0]
        better = float(weight @ new**2)
        if better < loss:
            gain, point, value = loss - better, tried, new
            small = gain <= _ENOUGH * loss
            loss, damping = better, max(damping / 5, 1e-9)
            if small:
                break
            slope = _slope(residual, point, free)
        else:
            damping *= 6
            if damping > 1e8:
                break
    return Minimum(point, value, _slope(residual, point, free), weight, loss)


def robust_spread(residual: Array, parameters: int) -> float:
    """Return a standard deviation that a few wild readings don't spoil (1.4826 median)."""
    count = residual.size
    scale = np.sqrt(count / max(count - parameters, 1))
    return float(1.4826 * np.median(np.abs(residual)) * scale)


def tame(
    residual: Residual, found: Minimum, low: Array, high: Array, base: Array, floor: float
) -> Minimum:
    """Refit with less weight on readings far from the curve (by the square of the excess).

    Args:
        residual: the residuals, each over its standard error if that is known.
        found: the plain minimum.
        low: least parameters.
        high: greatest.
        base: weights before taming, shape (n,).
        floor: least spread that readings can have, in the unit of the residual.

    Returns:
        The minimum after at most six rounds.
    """
    for _ in range(6):
        spread = max(robust_spread(found.residual, found.point.size), floor)
        far = np.abs(found.residual) / (TRUSTED * spread)
        weight = base / np.maximum(far, 1.0) ** 2
        if np.allclose(weight, found.weight, rtol=1e-3):
            break
        found = minimise(residual, found.point, low, high, weight)
    return found
