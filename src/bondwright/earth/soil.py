"""Soil in level layers, as a survey sees it and as electrodes meet it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

MAX_LAYERS: Final = 8
"""Most layers of a soil, the endless one below counted."""

Array = NDArray[np.float64]


def check_positive(value: float, what: str) -> float:
    """Return a number that has to be positive and finite.

    Raises:
        ValueError: it is not.
    """
    if not 0 < value < math.inf:
        raise ValueError(f"a {what} of {value} is not possible; give a positive number")
    return value


@dataclass(frozen=True, slots=True)
class Soil:
    """Level layers from the surface down; the last has no floor.

    Attributes:
        rho_ohm_m: resistivity of each layer [ohm m].
        thickness_m: thickness of each but the last [m].

    Raises:
        ValueError: no layer, too many, numbers that don't go together or aren't positive.
    """

    rho_ohm_m: tuple[float, ...]
    thickness_m: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        count = len(self.rho_ohm_m)
        if not 1 <= count <= MAX_LAYERS:
            raise ValueError(f"a soil of {count} layers is not possible; give 1 to {MAX_LAYERS}")
        if len(self.thickness_m) != count - 1:
            raise ValueError(
                f"{count} resistivities go with {count - 1} thicknesses, not "
                f"{len(self.thickness_m)}; the last layer has no floor"
            )
        for rho in self.rho_ohm_m:
            check_positive(rho, "soil resistivity")
        for thick in self.thickness_m:
            check_positive(thick, "layer thickness")

    @classmethod
    def uniform(cls, rho_ohm_m: float) -> Soil:
        """Return a soil alike at all depths."""
        return cls((rho_ohm_m,))

    @classmethod
    def two_layer(cls, upper_ohm_m: float, lower_ohm_m: float, thickness_m: float) -> Soil:
        """Return a layer of some thickness [m] over another [ohm m]."""
        return cls((upper_ohm_m, lower_ohm_m), (thickness_m,))

    @property
    def tops_m(self) -> tuple[float, ...]:
        """Depth of the top of each layer, m."""
        tops = [0.0]
        for thick in self.thickness_m:
            tops.append(tops[-1] + thick)
        return tuple(tops)

    @property
    def reflections(self) -> tuple[float, ...]:
        """Reflection factor of each boundary, ``(lower - upper) / (lower + upper)``."""
        pairs = zip(self.rho_ohm_m, self.rho_ohm_m[1:], strict=False)
        return tuple((low - up) / (low + up) for up, low in pairs)

    def layer_at(self, depth_m: float) -> int:
        """Return the number of the layer at a depth, from 0; a boundary belongs to the upper."""
        return int(np.searchsorted(np.array(self.tops_m[1:]), depth_m, side="left"))

    def simplified(self) -> Soil:
        """Return the same soil with neighbouring layers of equal resistivity joined."""
        rho, thick = [self.rho_ohm_m[0]], list[float]()
        depth = 0.0
        for index, below in enumerate(self.rho_ohm_m[1:]):
            depth += self.thickness_m[index]
            if not math.isclose(below, rho[-1], rel_tol=1e-12):
                thick.append(depth)
                rho.append(below)
                depth = 0.0
        return Soil(tuple(rho), tuple(thick))

    def with_top(self, depth_m: float, factor: float) -> Soil:
        """Return the soil with its uppermost part drier, wetter or frozen.

        Args:
            depth_m: how deep the season reaches, m.
            factor: on the resistivity down to there; above 1 for dry or frozen ground.

        Raises:
            ValueError: a number that is not positive.
        """
        check_positive(depth_m, "depth of the season")
        check_positive(factor, "season factor")
        rho, thick = list[float](), list[float]()
        for index, value in enumerate(self.rho_ohm_m):
            top = self.tops_m[index]
            floor = top + self.thickness_m[index] if index < len(self.thickness_m) else math.inf
            if top < depth_m:
                rho.append(value * factor)
                thick.append(min(floor, depth_m) - top)
            if floor > depth_m:
                rho.append(value)
                thick.append(floor - max(top, depth_m))
        return Soil(tuple(rho), tuple(thick[:-1])).simplified()


def resistivity_transform(rho: Array, thickness: Array, wave: Array) -> Array:
    """Return what the layers look like from the surface, wave number by wave number [ohm m].

    ``T = rho_i (T_below + rho_i tanh(k t)) / (rho_i + T_below tanh(k t))`` from the bottom up
    (Sunde's recurrence, in the form of O. Koefoed, *Geosounding Principles*, 1979).

    Args:
        rho: resistivities, shape (..., layers), ohm m.
        thickness: thicknesses, shape (..., layers - 1), m.
        wave: wave numbers, shape (waves,), 1/m.

    Returns:
        Shape (..., waves).
    """
    found = np.broadcast_to(rho[..., -1:], (*rho.shape[:-1], wave.size))
    for index in range(rho.shape[-1] - 2, -1, -1):
        own = rho[..., index : index + 1]
        turn = np.tanh(thickness[..., index : index + 1] * wave)
        found = own * (found + own * turn) / (own + found * turn)
    return found


def geometric_mean(values: Sequence[float]) -> float:
    """Return the geometric mean of positive numbers."""
    return float(np.exp(np.mean(np.log(values))))
