"""Driven rods in uniform soil: one rod, and several with what they take from each other.

The current of a rod is taken to leave it evenly along its length and its potential to be the
average along it (H. B. Dwight, "Calculation of Resistances to Ground", 1936; IEEE Std 142). The
mutual resistance of two equal rods is the exact average of that potential; Dwight's two
two-rod formulas are its series for rods near and far, which do not meet at a spacing of one rod
length, so the closed form is used instead.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

MAX_RODS: Final = 1000
"""Most rods solved together."""


@dataclass(frozen=True, slots=True)
class RodGroup:
    """Rods joined at one potential.

    Attributes:
        resistance_ohm: of the group to remote earth [ohm].
        shares: part of the current each rod takes, in the order given; they sum to 1.
        single_ohm: resistance of one rod alone [ohm].
    """

    resistance_ohm: float
    shares: tuple[float, ...]
    single_ohm: float

    @property
    def factor(self) -> float:
        """Resistance over that of as many rods that do not disturb each other."""
        return self.resistance_ohm * len(self.shares) / self.single_ohm


def rod_resistance(rho_ohm_m: float, length_m: float, diameter_m: float) -> float:
    """Return the resistance of one driven rod to remote earth [ohm].

    ``rho / (2 pi L) (ln(4 L / a) - 1)`` with the radius a; Dwight 1936, IEEE Std 142.

    Args:
        rho_ohm_m: soil resistivity, uniform, ohm m.
        length_m: driven length, m.
        diameter_m: rod diameter, m; less than a tenth of the length.

    Returns:
        Resistance, ohm.

    Raises:
        ValueError: a number that is not positive, or a rod too thick for the formula.
    """
    for value, what in (
        (rho_ohm_m, "soil resistivity"),
        (length_m, "rod length"),
        (diameter_m, "rod diameter"),
    ):
        if not 0 < value < math.inf:
            raise ValueError(f"a {what} of {value} is not possible; give a positive number")
    if diameter_m > length_m / 10:
        raise ValueError(
            f"a rod of {length_m:g} m length and {diameter_m:g} m diameter is too thick for the "
            "rod formula; the diameter must be less than a tenth of the length"
        )
    radius = diameter_m / 2
    return rho_ohm_m / (2 * math.pi * length_m) * (math.log(4 * length_m / radius) - 1)


def mutual_rod_resistance(rho_ohm_m: float, length_m: float, spacing_m: float) -> float:
    """Return the mutual resistance of two equal parallel rods [ohm].

    ``rho / (2 pi L) (asinh(2L/s) - sqrt(1 + (s/2L)^2) + s/2L)``: potential of one rod and its
    image averaged along the other. It tends to ``rho / (2 pi s)`` far away.

    Args:
        rho_ohm_m: soil resistivity, uniform, ohm m.
        length_m: driven length of each, m.
        spacing_m: distance between their axes, m.

    Returns:
        Mutual resistance, ohm.

    Raises:
        ValueError: a number that is not positive.
    """
    if not (0 < rho_ohm_m < math.inf and 0 < length_m < math.inf and 0 < spacing_m < math.inf):
        raise ValueError(
            f"rods of {length_m} m at {spacing_m} m in {rho_ohm_m} ohm m are not possible; "
            "give positive numbers"
        )
    ratio = spacing_m / (2 * length_m)
    # sqrt(1 + r^2) - r, written so that nothing cancels for rods far apart
    shape = math.asinh(1 / ratio) - 1 / (math.hypot(1.0, ratio) + ratio)
    return rho_ohm_m / (2 * math.pi * length_m) * shape


def rods_resistance(
    rho_ohm_m: float,
    length_m: float,
    diameter_m: float,
    positions_m: Sequence[tuple[float, float]],
) -> RodGroup:
    """Return the resistance of equal rods joined together, and how they share the current.

    Args:
        rho_ohm_m: soil resistivity, uniform, ohm m.
        length_m: driven length of each, m.
        diameter_m: diameter of each, m.
        positions_m: where each stands, (x, y), m; one to :data:`MAX_RODS`.

    Returns:
        The group.

    Raises:
        ValueError: an impossible number, no rod, too many, or rods that touch.
    """
    count = len(positions_m)
    if not 1 <= count <= MAX_RODS:
        raise ValueError(f"{count} rods is not possible; give 1 to {MAX_RODS}")
    single = rod_resistance(rho_ohm_m, length_m, diameter_m)
    matrix = np.full((count, count), single)
    for i, (xi, yi) in enumerate(positions_m):
        for j, (xj, yj) in enumerate(positions_m[:i]):
            spacing = math.hypot(xi - xj, yi - yj)
            if not diameter_m <= spacing < math.inf:
                raise ValueError(
                    f"rods {j + 1} and {i + 1} stand {spacing:g} m apart; that is not possible "
                    f"with a diameter of {diameter_m:g} m"
                )
            matrix[i, j] = matrix[j, i] = mutual_rod_resistance(rho_ohm_m, length_m, spacing)
    currents = np.linalg.solve(matrix, np.ones(count))
    total = float(currents.sum())
    return RodGroup(1 / total, tuple(float(share) for share in currents / total), single)


def rods_in_line_resistance(
    rho_ohm_m: float, length_m: float, diameter_m: float, count: int, spacing_m: float
) -> RodGroup:
    """Return the resistance of equal rods in a straight line, joined together.

    Args:
        rho_ohm_m: soil resistivity, uniform, ohm m.
        length_m: driven length of each, m.
        diameter_m: diameter of each, m.
        count: number of rods, 1 to :data:`MAX_RODS`.
        spacing_m: distance from each to the next, m.

    Returns:
        The group.

    Raises:
        ValueError: an impossible number, or rods that touch.
    """
    if not 1 <= count <= MAX_RODS:
        raise ValueError(f"{count} rods is not possible; give 1 to {MAX_RODS}")
    places = [(index * spacing_m, 0.0) for index in range(count)]
    return rods_resistance(rho_ohm_m, length_m, diameter_m, places)
