"""Formulas of the literature for single electrodes in uniform soil.

H. B. Dwight, "Calculation of Resistances to Ground", Electrical Engineering, December 1936; the
table of IEEE Std 142. They take the current to leave evenly, which makes stars with many arms up to
a tenth too high (see the tests); rods, wires, rings and plates are within two percent. Any of them
fails in layered soil: that is what :mod:`bondwright.earth.system` is for.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from bondwright.earth.soil import check_positive

_STARS: Final[Mapping[int, tuple[float, float, float, float]]] = MappingProxyType(
    {
        2: (-0.2373, 0.2146, 0.1035, -0.0424),
        3: (1.071, -0.209, 0.238, -0.054),
        4: (2.912, -1.071, 0.645, -0.145),
        6: (6.851, -3.128, 1.758, -0.490),
        8: (10.98, -5.51, 3.26, -1.17),
    }
)
"""Terms in s/L of Dwight's angle (two arms) and stars, by number of arms."""


def _all_positive(**values: float) -> None:
    for what, value in values.items():
        check_positive(value, what.replace("_", " "))


def hemisphere(rho_ohm_m: float, radius_m: float) -> float:
    """Return the resistance of a half ball at the surface, ``rho / 2 pi a`` [ohm]."""
    _all_positive(soil_resistivity=rho_ohm_m, radius=radius_m)
    return rho_ohm_m / (2 * math.pi * radius_m)


def _two_lines(length_m: float, radius_m: float, double_depth_m: float) -> float:
    ratio = double_depth_m / length_m
    return (
        math.log(4 * length_m / radius_m)
        + math.log(4 * length_m / double_depth_m)
        - 2
        + ratio / 2
        - ratio**2 / 16
        + ratio**4 / 512
    )


def buried_straight_wire(
    rho_ohm_m: float, length_m: float, radius_m: float, depth_m: float
) -> float:
    """Return the resistance of a straight buried wire (Dwight) [ohm].

    Args:
        rho_ohm_m: soil resistivity, ohm m.
        length_m: whole length, m.
        radius_m: of the wire, m.
        depth_m: of the wire, m.
    """
    _all_positive(soil_resistivity=rho_ohm_m, length=length_m, radius=radius_m, depth=depth_m)
    half = length_m / 2
    return rho_ohm_m / (4 * math.pi * half) * _two_lines(half, radius_m, 2 * depth_m)


def star(rho_ohm_m: float, arms: int, arm_m: float, radius_m: float, depth_m: float) -> float:
    """Return the resistance of a right angle (2 arms) or a star of buried wire (Dwight) [ohm].

    Args:
        rho_ohm_m: soil resistivity, ohm m.
        arms: 2 (a right angle), 3, 4, 6 or 8.
        arm_m: length of an arm, m.
        radius_m: of the wire, m.
        depth_m: of the wire, m.

    Raises:
        ValueError: another number of arms, or an impossible number.
    """
    if arms not in _STARS:
        raise ValueError(f"no formula is held for {arms} arms; there are 2, 3, 4, 6 and 8")
    _all_positive(soil_resistivity=rho_ohm_m, arm=arm_m, radius=radius_m, depth=depth_m)
    s = 2 * depth_m
    c0, c1, c2, c4 = _STARS[arms]
    ratio = s / arm_m
    logs = math.log(2 * arm_m / radius_m) + math.log(2 * arm_m / s)
    shape = logs + c0 + c1 * ratio + c2 * ratio**2 + c4 * ratio**4
    return rho_ohm_m / (2 * arms * math.pi * arm_m) * shape


def ring_of_wire(
    rho_ohm_m: float, ring_diameter_m: float, wire_diameter_m: float, depth_m: float
) -> float:
    """Return the resistance of a buried ring (Dwight) [ohm]."""
    _all_positive(
        soil_resistivity=rho_ohm_m, ring_diameter=ring_diameter_m, wire_diameter=wire_diameter_m,
        depth=depth_m,
    )  # fmt: skip
    big, s = ring_diameter_m, 2 * depth_m
    shape = math.log(8 * big / wire_diameter_m) + math.log(4 * big / s)
    return rho_ohm_m / (2 * math.pi**2 * big) * shape


def buried_strip(
    rho_ohm_m: float, length_m: float, width_m: float, thickness_m: float, depth_m: float
) -> float:
    """Return the resistance of a straight buried strip (Dwight) [ohm].

    Raises:
        ValueError: a strip thicker than an eighth of its width, or an impossible number.
    """
    _all_positive(
        soil_resistivity=rho_ohm_m, length=length_m, width=width_m, thickness=thickness_m,
        depth=depth_m,
    )  # fmt: skip
    a, b, half, s = width_m, thickness_m, length_m / 2, 2 * depth_m
    if b >= a / 8:
        raise ValueError("the strip formula holds for thickness below an eighth of the width")
    flat = (a**2 - math.pi * a * b) / (2 * (a + b) ** 2)
    return rho_ohm_m / (4 * math.pi * half) * (_two_lines(half, a, s) + 1 + flat)


def round_plate(
    rho_ohm_m: float, radius_m: float, depth_m: float, *, upright: bool = False
) -> float:
    """Return the resistance of a buried round plate (Dwight) [ohm].

    Args:
        rho_ohm_m: soil resistivity, ohm m.
        radius_m: of the plate, m.
        depth_m: of its middle, m.
        upright: whether it stands.
    """
    _all_positive(soil_resistivity=rho_ohm_m, radius=radius_m, depth=depth_m)
    a, s = radius_m, 2 * depth_m
    ratio2 = (a / s) ** 2
    if upright:
        mirror = 1 + 7 / 24 * ratio2 + 99 / 320 * ratio2**2
    else:
        mirror = 1 - 7 / 12 * ratio2 + 33 / 40 * ratio2**2
    return rho_ohm_m / (8 * a) + rho_ohm_m / (4 * math.pi * s) * mirror


def surface_disc(rho_ohm_m: float, radius_m: float) -> float:
    """Return the resistance of a round plate lying on the surface, ``rho / 4a`` [ohm]."""
    _all_positive(soil_resistivity=rho_ohm_m, radius=radius_m)
    return rho_ohm_m / (4 * radius_m)


def encased_rod(
    rho_ohm_m: float,
    concrete_ohm_m: float,
    length_m: float,
    rod_diameter_m: float,
    concrete_diameter_m: float,
) -> float:
    """Return the resistance of an upright bar in concrete [ohm].

    ``1 / 2 pi L (rho_c ln(D/d) + rho (ln(8 L / D) - 1))``, IEEE Std 80 and 142 (from memory).

    Raises:
        ValueError: a bar thicker than the concrete, or an impossible number.
    """
    _all_positive(
        soil_resistivity=rho_ohm_m, concrete_resistivity=concrete_ohm_m, length=length_m,
        rod_diameter=rod_diameter_m, concrete_diameter=concrete_diameter_m,
    )  # fmt: skip
    if rod_diameter_m >= concrete_diameter_m:
        raise ValueError("the bar must be thinner than the concrete around it")
    own = concrete_ohm_m * math.log(concrete_diameter_m / rod_diameter_m)
    soil = rho_ohm_m * (math.log(8 * length_m / concrete_diameter_m) - 1)
    return (own + soil) / (2 * math.pi * length_m)
