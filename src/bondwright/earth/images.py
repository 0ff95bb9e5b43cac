"""Layered soil as image sources: the potential of a buried point anywhere else in the ground.

Between any two layers the potential of a point is ``rho_s I / 4 pi`` times a Hankel integral whose
kernel is a few functions of the wave number, each with a plain shift of depth. Their values for
short waves are the exact first images; what remains is written as a sum of falling exponentials
with fixed rates, and each is an image again (Weber's integral). So soil of any number of layers
costs a few dozen images, whatever the contrast; two layers agree with the endless series of
E. D. Sunde, *Earth Conduction Effects in Transmission Systems* (1949), and G. F. Tagg (see tests).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np

from bondwright.earth.soil import Array, Soil

_RATE_STEP: Final = 1.3
_WAVES_PER_E: Final = 5
_DROPPED: Final = 1e-9


@dataclass(frozen=True, slots=True)
class Images:
    """Images for a source in one layer and a field point in another.

    The potential of a current I at depth z' is ``scale I sum(strength / sqrt(r^2 + zeta^2))`` with
    ``zeta = field_sign z + source_sign z' + offset``.

    Attributes:
        scale: ``rho / 4 pi`` [ohm m].
        strength: shape (images,).
        field_sign: +1 or -1 each.
        source_sign: +1 or -1 each.
        offset: shape (images,) [m].
    """

    scale: float
    strength: Array
    field_sign: Array
    source_sign: Array
    offset: Array

    def swapped(self) -> Images:
        """Return the images with source and field exchanged (they are reciprocal)."""
        return Images(self.scale, self.strength, self.source_sign, self.field_sign, self.offset)

    def at_depth(self, depth_m: float) -> Images:
        """Return the images for a field point at one depth, those that coincide joined."""
        turn = self.source_sign
        shift = turn * (self.field_sign * depth_m + self.offset)
        keys, where = np.unique(np.round(shift, 9), return_inverse=True)
        strength = np.bincount(where, self.strength, keys.size)
        one = np.ones(keys.size)
        return Images(self.scale, strength, one * 0, one, keys)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True)
class _Waves:
    """What waves meet in each layer: reflections above and below, in the layer's own terms."""

    wave: Array
    rates: Array
    inverse: Array


@cache
def _waves(soil: Soil) -> _Waves:
    least, total = min(soil.thickness_m), sum(soil.thickness_m)
    contrast = max(soil.rho_ohm_m) / min(soil.rho_ohm_m)
    most = 10 * total * min(max(contrast, 3.0), 1e4)
    wave = np.exp(np.arange(math.log(0.05 / most), math.log(20 / least), 1 / _WAVES_PER_E))
    rates = np.exp(np.arange(math.log(2 * least), math.log(most), math.log(_RATE_STEP)))
    inverse = np.linalg.pinv(np.exp(-wave[:, None] * rates), rcond=1e-10)
    return _Waves(wave, rates, inverse)


def _reflections(soil: Soil, wave: Array) -> tuple[list[Array], list[Array], list[Array]]:
    """Return (from above, from below, fall across twice the thickness), layer by layer."""
    factors = soil.reflections
    fall = [np.exp(-2 * wave * thick) for thick in soil.thickness_m] + [np.zeros_like(wave)]
    above, below = [np.ones_like(wave)], [np.zeros_like(wave)]
    for factor, drop in zip(factors, fall, strict=False):
        seen = above[-1] * drop
        above.append((seen - factor) / (1 - factor * seen))
    for factor, drop in zip(factors[::-1], fall[:0:-1], strict=True):
        seen = below[0] * drop
        below.insert(0, (factor + seen) / (1 + factor * seen))
    return above, below, fall


@cache
def images(soil: Soil, source: int, field: int) -> Images:
    """Return the images for a source layer and a field layer.

    Args:
        soil: the layers.
        source: number of the source's layer, from 0.
        field: number of the field point's layer.

    Raises:
        IndexError: no such layer.
    """
    count = len(soil.rho_ohm_m)
    if not (0 <= source < count and 0 <= field < count):
        raise IndexError(f"layers {source} and {field} of a soil with {count}")
    if source > field:
        return images(soil, field, source).swapped()
    scale = soil.rho_ohm_m[source] / (4 * math.pi)
    if count == 1:
        signs = np.array([1.0, 1.0])
        return Images(scale, np.ones(2), signs, np.array([-1.0, 1.0]), np.zeros(2))
    terms = _same(soil, source) if source == field else _across(soil, source, field)
    lists: list[tuple[float, float, float, float]] = []
    direct = source == field
    if direct:
        lists.append((1.0, 1.0, -1.0, 0.0))
    waves = _waves(soil)
    for values, limit, field_sign, source_sign, offset in terms:
        lists.append((limit, field_sign, source_sign, offset))
        for strength, rate in zip(waves.inverse @ (values - limit), waves.rates, strict=True):
            lists.append((float(strength), field_sign, source_sign, offset + float(rate)))
    table = np.array([row for row in lists if abs(row[0]) > _DROPPED])
    return Images(scale, table[:, 0], table[:, 1], table[:, 2], table[:, 3])


_Term = tuple[Array, float, float, float, float]
"""Function of the wave number, its limit for short waves, signs of field and source, offset."""


def _same(soil: Soil, layer: int) -> list[_Term]:
    above, below, fall = _reflections(soil, _waves(soil).wave)
    factors, tops = soil.reflections, soil.tops_m
    up, down = above[layer], below[layer]
    bounced = 1 - up * down * fall[layer]
    up_limit = 1.0 if layer == 0 else -factors[layer - 1]
    terms: list[_Term] = [(up / bounced, up_limit, 1.0, 1.0, -2 * tops[layer])]
    if layer < len(factors):
        thick, floor = soil.thickness_m[layer], tops[layer + 1]
        both, both_limit = up * down / bounced, up_limit * factors[layer]
        terms += [
            (down / bounced, factors[layer], -1.0, -1.0, 2 * floor),
            (both, both_limit, 1.0, -1.0, 2 * thick),
            (both, both_limit, -1.0, 1.0, 2 * thick),
        ]
    return terms


def _across(soil: Soil, source: int, field: int) -> list[_Term]:
    above, below, fall = _reflections(soil, _waves(soil).wave)
    factors, tops = soil.reflections, soil.tops_m
    up = above[source]
    passed = (1 + below[source]) / (1 - up * below[source] * fall[source])
    limit = 1 + factors[source]
    for layer in range(source + 1, field):
        passed = passed * (1 + below[layer]) / (1 + below[layer] * fall[layer])
        limit *= 1 + factors[layer]
    passed = passed / (1 + below[field] * fall[field])
    up_limit = 1.0 if source == 0 else -factors[source - 1]
    terms: list[_Term] = [
        (passed, limit, 1.0, -1.0, 0.0),
        (passed * up, limit * up_limit, 1.0, 1.0, -2 * tops[source]),
    ]
    if field < len(factors):
        down, floor = below[field], tops[field + 1]
        terms += [
            (passed * down, limit * factors[field], -1.0, -1.0, 2 * floor),
            (
                passed * up * down,
                limit * up_limit * factors[field],
                -1.0,
                1.0,
                2 * (floor - tops[source]),
            ),
        ]
    return terms


def point_potential(
    soil: Soil, source_depth_m: float, field_depth_m: float, apart_m: Array
) -> Array:
    """Return the potential of one ampere let into the ground at a point [V].

    Args:
        soil: the layers.
        source_depth_m: depth of the current, m.
        field_depth_m: depth of the point where the potential is wanted, m.
        apart_m: horizontal distances, shape (n,), m.

    Returns:
        Shape (n,).
    """
    found = images(soil, soil.layer_at(source_depth_m), soil.layer_at(field_depth_m))
    zeta = found.field_sign * field_depth_m + found.source_sign * source_depth_m + found.offset
    value: Array = found.scale * (1 / np.hypot(apart_m[:, None], zeta)) @ found.strength
    return value
