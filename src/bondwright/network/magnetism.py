"""How steel answers a magnetic field: from the magnetisation curve to one permeability.

A phasor calculation needs one permeability where the steel has a curve. For a field that
swings as ``H sin(wt)`` the flux density is not sinusoidal; the permeability used is that of its
fundamental (the describing function),

    mu_e(H) = B1 / (mu0 H),   B1 = (2/pi) integral over half a cycle of B(H sin t) sin t dt.

Quarter cycles suffice, the curve being odd. The method is common practice in eddy-current
calculation. Hysteresis is left out: below saturation it adds loss that a curve doesn't have.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator

from bondwright.catalog._data import read_table
from bondwright.catalog.sources import Source, Status
from bondwright.network.impedance import MU0

Floats = npt.NDArray[np.float64]

STEEL_RESISTIVITY: Final = 13.8e-8
"""Steel at 20 degC, ohm m (IEC 60949)."""

STEEL_ALPHA: Final = 0.0045
"""Temperature coefficient of steel's resistance referred to 20 degC, 1/K (IEC 60949)."""

_LOWEST, _HIGHEST, _POINTS = 1.0, 1e6, 600


def steel_resistivity(temperature: float) -> float:
    """Return the resistivity of steel, ohm m.

    ``13.8e-8 (1 + 0.0045 (T - 20))`` (IEC 60949; the coefficient from memory).

    Args:
        temperature: degC.
    """
    return STEEL_RESISTIVITY * (1 + STEEL_ALPHA * (temperature - 20))


@dataclass(frozen=True, slots=True, eq=False)
class MagnetisationCurve:
    """A normal magnetisation curve, made smooth and monotone between its points.

    Attributes:
        field: peak field at the points, A/m, ascending from 0.
        density: flux density at the points, T, ascending from 0.
        source: where the points come from.
    """

    field: Floats
    density: Floats
    source: Source

    def __post_init__(self) -> None:
        h, b = self.field, self.density
        if len(h) < 3 or h.shape != b.shape or h[0] != 0 or b[0] != 0:
            msg = "a magnetisation curve needs three points or more, the first at zero"
            raise ValueError(msg)
        if not (np.all(np.diff(h) > 0) and np.all(np.diff(b) > 0)):
            msg = "field and flux density of a magnetisation curve must both rise"
            raise ValueError(msg)

    def flux_density(self, field: npt.ArrayLike) -> Floats:
        """Return B in T at a field in A/m of either sign; air's slope beyond the last point."""
        h = np.asarray(field, dtype=np.float64)
        size = np.abs(h)
        inside = PchipInterpolator(self.field, self.density)(np.minimum(size, self.field[-1]))
        beyond = MU0 * np.maximum(size - self.field[-1], 0)
        out: Floats = np.sign(h) * (inside + beyond)
        return out

    def slope(self, field: npt.ArrayLike) -> Floats:
        """Return dB/dH in H/m at a field in A/m."""
        size = np.abs(np.asarray(field, dtype=np.float64))
        bend = PchipInterpolator(self.field, self.density).derivative()
        out: Floats = np.where(
            size <= self.field[-1], bend(np.minimum(size, self.field[-1])), MU0
        ).astype(np.float64)
        return out

    def effective_permeability(self, field_rms: npt.ArrayLike) -> Floats:
        """Return the relative permeability of the fundamental.

        Args:
            field_rms: rms value of a sinusoidal field, A/m, any shape. Below 1 A/m the initial
                permeability is taken.
        """
        grid, values = _describing_function(self)
        rms = np.clip(np.asarray(field_rms, dtype=np.float64), _LOWEST, _HIGHEST)
        out: Floats = np.exp(np.interp(np.log(rms), grid, values))
        return out


@cache
def _describing_function(curve: MagnetisationCurve) -> tuple[Floats, Floats]:
    """Return log of rms field and log of relative permeability on a fine grid."""
    grid = np.linspace(math.log(_LOWEST), math.log(_HIGHEST), _POINTS)
    peak = math.sqrt(2) * np.exp(grid)
    # Gauss-Legendre over a quarter cycle; the wave is odd and half-wave symmetric.
    x, weight = np.polynomial.legendre.leggauss(96)
    swing = np.sin((x + 1) * math.pi / 4)
    first = curve.flux_density(np.outer(peak, swing)) @ (weight * swing)
    return grid, np.log(first / (MU0 * peak))


def describing_grid(curve: MagnetisationCurve) -> tuple[Floats, Floats]:
    """Return logarithms of rms field, evenly apart, and of the relative permeability there."""
    return _describing_function(curve)


@cache
def low_carbon_steel() -> MagnetisationCurve:
    """Return the curve of low-carbon (1010) steel, as taken for conduit, tubing and pipe."""
    table = read_table("magnetisation.csv")
    return MagnetisationCurve(
        np.array([float(row["h_a_m"]) for row in table.rows]),
        np.array([float(row["b_t"]) for row in table.rows]),
        table.source(Status.ONE_SOURCE),
    )
