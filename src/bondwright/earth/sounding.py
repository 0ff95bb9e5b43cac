"""What a four-pin survey reads over layered soil.

The potential of a point source on the surface is ``rho_1 I / 2 pi`` times ``1/r`` plus a Hankel
integral of ``T / rho_1 - 1``, T the resistivity transform. The transform is written as a sum of
falling exponentials with fixed rates, each of which integrates to ``1 / sqrt(r^2 + b^2)`` (Weber);
fitting the weights once for all soils makes a linear filter, in the manner of D. P. Ghosh (1971)
with coefficients of our own. Two layers have the classical series of images as well.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

import numpy as np

from bondwright.earth.soil import Array, Soil, check_positive, resistivity_transform

_RATE_STEP: Final = 1.3
"""Ratio of neighbouring exponential rates."""
_WAVES_PER_E: Final = 6
"""Wave numbers per factor e."""
_REACH: Final = 1e4
"""How deep the filter sees, in greatest pin distances."""
_SERIES_END: Final = 1e-12
_SERIES_TERMS: Final = 200_000


class PinArray(StrEnum):
    """How the four pins stand."""

    WENNER = "wenner"
    SCHLUMBERGER = "schlumberger"


@dataclass(frozen=True, slots=True)
class Sounding:
    """A survey: apparent resistivity by spacing.

    Attributes:
        array: how the pins stand.
        spacing_m: Wenner: from pin to pin; Schlumberger: from the middle to a current pin [m].
        rho_a_ohm_m: apparent resistivity at each [ohm m].
        inner_m: Schlumberger: from the middle to a potential pin, at each [m]; empty for pins
            infinitely close.
        relative_sd: standard error of each reading as a part of it; empty when not known.

    Raises:
        ValueError: fewer than three readings, columns of different length, impossible numbers.
    """

    array: PinArray
    spacing_m: tuple[float, ...]
    rho_a_ohm_m: tuple[float, ...]
    inner_m: tuple[float, ...] = ()
    relative_sd: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        count = len(self.spacing_m)
        if count < 3:
            raise ValueError(f"{count} readings make no sounding; give three or more")
        for name, column in (
            ("apparent resistivities", self.rho_a_ohm_m),
            ("inner distances", self.inner_m),
            ("standard errors", self.relative_sd),
        ):
            if len(column) != count and (column or name == "apparent resistivities"):
                raise ValueError(f"{count} spacings but {len(column)} {name}; give one for each")
            for value in column:
                check_positive(value, f"value among the {name}")
        for value in self.spacing_m:
            check_positive(value, "pin spacing")
        if any(sd >= 1 for sd in self.relative_sd):
            raise ValueError("a standard error is a part of the reading, less than 1 (0.03 is 3 %)")
        if self.inner_m and self.array is PinArray.WENNER:
            raise ValueError("inner distances belong to a Schlumberger sounding, not to Wenner")
        for outer, inner in zip(self.spacing_m, self.inner_m, strict=False):
            if inner >= outer:
                raise ValueError(
                    f"potential pins at {inner:g} m stand outside current pins at {outer:g} m"
                )

    @property
    def forward(self) -> Forward:
        """What the same survey reads over other soils."""
        return _forward(self.array, self.spacing_m, self.inner_m)


@dataclass(frozen=True, slots=True)
class Forward:
    """A filter from the resistivity transform to the readings of one survey.

    Attributes:
        wave: wave numbers, shape (waves,) [1/m].
        weights: shape (readings, waves), without unit.
    """

    wave: Array
    weights: Array

    def apparent(self, rho: Array, thickness: Array) -> Array:
        """Return apparent resistivities [ohm m].

        Args:
            rho: resistivities, shape (..., layers), ohm m.
            thickness: shape (..., layers - 1), m.

        Returns:
            Shape (..., readings).
        """
        top = rho[..., :1]
        kernel = resistivity_transform(rho, thickness, self.wave) / top - 1
        # beyond the filter's precision (a contrast of a million) the reading is just tiny
        found: Array = top * np.maximum(1 + kernel @ self.weights.T, 1e-7)
        return found


def _basis(array: PinArray, outer: Array, inner: Array, rate: Array) -> Array:
    """Return what one exponential adds to each reading, as a part of the first resistivity."""
    a, b = outer[:, None], rate[None, :]
    if array is PinArray.WENNER:
        return 2 * a * (1 / np.hypot(a, b) - 1 / np.hypot(2 * a, b))
    if inner.size == 0:
        return a**3 / np.hypot(a, b) ** 3  # type: ignore[no-any-return]
    near, far = a - inner[:, None], a + inner[:, None]
    # 1/sqrt - 1/sqrt without cancellation for pins close together
    p, q = np.hypot(near, b), np.hypot(far, b)
    return 2 * a * (a**2 - inner[:, None] ** 2) / (p * q * (p + q))  # type: ignore[no-any-return]


@cache
def _forward(array: PinArray, spacing: tuple[float, ...], inner: tuple[float, ...]) -> Forward:
    outer, within = np.array(spacing), np.array(inner)
    least = min(spacing) if not inner else float(np.min(outer - within))
    most = 2 * max(spacing)
    deepest = most * _REACH
    wave = np.exp(np.arange(math.log(0.1 / deepest), math.log(60 / least), 1 / _WAVES_PER_E))
    rates = np.exp(np.arange(math.log(least / 20), math.log(deepest), math.log(_RATE_STEP)))
    rate = np.concatenate([[0.0], rates])
    weights = _basis(array, outer, within, rate) @ np.linalg.pinv(
        np.exp(-wave[:, None] * rate), rcond=1e-12
    )
    return Forward(wave, weights)


def apparent_resistivity(
    soil: Soil,
    spacing_m: Sequence[float],
    array: PinArray = PinArray.WENNER,
    inner_m: Sequence[float] = (),
) -> Array:
    """Return what a survey reads over a soil of any number of layers [ohm m].

    Within 1e-5 of the integral for resistivities up to 1:100 (see the tests).

    Args:
        soil: the layers.
        spacing_m: Wenner: pin to pin; Schlumberger: middle to current pin, m.
        array: how the pins stand.
        inner_m: Schlumberger: middle to potential pin, m; empty for pins infinitely close.

    Returns:
        Shape (spacings,).

    Raises:
        ValueError: a spacing that is not positive.
    """
    for value in spacing_m:
        check_positive(value, "pin spacing")
    forward = _forward(array, tuple(spacing_m), tuple(inner_m))
    return forward.apparent(np.array(soil.rho_ohm_m), np.array(soil.thickness_m))


def wenner_two_layer(
    upper_ohm_m: float, lower_ohm_m: float, thickness_m: float, spacing_m: Sequence[float]
) -> Array:
    """Return Wenner readings over two layers by the series of images [ohm m].

    ``rho_1 (1 + 4 sum K^n (1/sqrt(1 + (2nh/a)^2) - 1/sqrt(4 + (2nh/a)^2)))`` (Tagg; Sunde).

    Args:
        upper_ohm_m: resistivity of the upper layer, ohm m.
        lower_ohm_m: of the lower, ohm m.
        thickness_m: of the upper, m.
        spacing_m: pin to pin, m.

    Returns:
        Shape (spacings,).

    Raises:
        ValueError: numbers that are not positive.
    """
    soil = Soil.two_layer(upper_ohm_m, lower_ohm_m, thickness_m)
    factor = soil.reflections[0]
    reach = abs(factor)
    terms = (
        1 if reach == 0 else min(_SERIES_TERMS, int(math.log(_SERIES_END) / math.log(reach)) + 2)
    )
    order = np.arange(1, terms + 1)
    found = []
    for spacing in spacing_m:
        depth = 2 * order * thickness_m / check_positive(spacing, "pin spacing")
        found.append(np.sum(factor**order * (1 / np.hypot(1, depth) - 1 / np.hypot(2, depth))))
    return upper_ohm_m * (1 + 4 * np.array(found))


def wenner_resistivity(resistance_ohm: float, spacing_m: float, pin_depth_m: float = 0.0) -> float:
    """Return the apparent resistivity from the reading of a four-pin tester [ohm m].

    ``4 pi a R / (1 + 2a/sqrt(a^2 + 4b^2) - a/sqrt(a^2 + b^2))``, IEEE Std 81; with pins driven
    to almost no depth ``2 pi a R``.

    Args:
        resistance_ohm: reading, ohm.
        spacing_m: pin to pin, m.
        pin_depth_m: how deep the pins are driven, m.

    Returns:
        Apparent resistivity, ohm m.

    Raises:
        ValueError: an impossible number, or pins driven deeper than a third of the spacing.
    """
    check_positive(resistance_ohm, "reading")
    a, b = check_positive(spacing_m, "pin spacing"), pin_depth_m
    if not 0 <= b <= a / 3:
        raise ValueError(
            f"pins {b:g} m deep at {a:g} m spacing are not points; drive them less than a tenth "
            "of the spacing"
        )
    shape = 1 + 2 * a / math.hypot(a, 2 * b) - a / math.hypot(a, b)
    return 4 * math.pi * a * resistance_ohm / shape


def schlumberger_resistivity(resistance_ohm: float, outer_m: float, inner_m: float) -> float:
    """Return the apparent resistivity from a Schlumberger reading [ohm m].

    ``pi (L^2 - l^2) R / 2l`` with L and l from the middle to a current and a potential pin.

    Args:
        resistance_ohm: reading, ohm.
        outer_m: middle to current pin, m.
        inner_m: middle to potential pin, m.

    Returns:
        Apparent resistivity, ohm m.

    Raises:
        ValueError: an impossible number, or potential pins outside the current pins.
    """
    check_positive(resistance_ohm, "reading")
    if not 0 < inner_m < outer_m < math.inf:
        raise ValueError(
            f"potential pins at {inner_m} m and current pins at {outer_m} m are not possible; "
            "potential pins stand inside"
        )
    return math.pi * (outer_m**2 - inner_m**2) * resistance_ohm / (2 * inner_m)
