import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.earth.images import images, point_potential
from bondwright.earth.soil import Array, Soil
from bondwright.earth.sounding import apparent_resistivity

APART = np.geomspace(0.05, 200, 24)


def series(soil: Soil, source: float, field: float, apart: Array) -> Array:
    """Point source in two layers: the endless images of E. D. Sunde and G. F. Tagg."""
    (upper, lower), (h,), (k,) = soil.rho_ohm_m, soil.thickness_m, soil.reflections
    orders = np.arange(6000.0)
    power = k**orders

    def far(zeta: float) -> Array:
        return np.asarray(1 / np.hypot(apart, zeta), dtype=float)

    def endless(shift: float, first: int) -> Array:
        deep = 2 * orders[first:, None] * h + shift
        return np.asarray(power[first:] @ (1 / np.hypot(apart, deep)), dtype=float)

    low, high = min(source, field), max(source, field)
    if high <= h:
        total = far(field - source) + far(field + source)
        for a in (1, -1):
            for b in (1, -1):
                total = total + endless(a * field + b * source, 1)
        return np.asarray(upper / (4 * math.pi) * total, dtype=float)
    if low > h:
        total = far(field - source) - k * far(field + source - 2 * h)
        total = total + (1 - k * k) * endless(field + source, 0)
        return np.asarray(lower / (4 * math.pi) * total, dtype=float)
    total = endless(high - low, 0) + endless(high + low, 0)
    return np.asarray(upper * (1 + k) / (4 * math.pi) * total, dtype=float)


@settings(deadline=None, max_examples=40)
@given(
    st.floats(math.log(0.01), math.log(100)).map(math.exp),
    st.floats(0.3, 10),
    st.floats(0, 5),
    st.floats(0, 5),
)
def test_two_layers_are_the_series(
    contrast: float, thick: float, source: float, field: float
) -> None:
    soil = Soil.two_layer(100, 100 * contrast, thick)
    if contrast == 1:
        return
    found = point_potential(soil, source * thick, field * thick, APART)
    assert found == pytest.approx(series(soil, source * thick, field * thick, APART), rel=1e-4)


DEEP = Soil((200, 50, 800, 20), (1.0, 4.0, 3.0))


@pytest.mark.parametrize("source", [0.0, 0.5, 3.0, 6.0, 12.0])
@pytest.mark.parametrize("boundary", [0, 1, 2])
def test_potential_and_current_cross_boundaries(source: float, boundary: int) -> None:
    depth, tiny, small = DEEP.tops_m[boundary + 1], 1e-7, 2e-4
    above = point_potential(DEEP, source, depth - tiny, APART)
    assert above == pytest.approx(point_potential(DEEP, source, depth + tiny, APART), rel=1e-5)

    def slope(near: float, sign: float) -> Array:
        at = [point_potential(DEEP, source, depth + sign * k * near, APART) for k in (1, 2, 3)]
        # one-sided difference of second order, from just beside the boundary
        return np.asarray(sign * (-2.5 * at[0] + 4 * at[1] - 1.5 * at[2]) / near)

    upper = slope(small, -1) / DEEP.rho_ohm_m[boundary]
    lower = slope(small, 1) / DEEP.rho_ohm_m[boundary + 1]
    assert np.max(np.abs(upper - lower)) < 0.01 * np.max(np.abs(upper))


def test_no_current_leaves_the_surface() -> None:
    for source in (0.5, 3.0, 12.0):
        near = point_potential(DEEP, source, 1e-3, APART)
        assert near == pytest.approx(point_potential(DEEP, source, 0.0, APART), rel=1e-4)


@pytest.mark.parametrize(("one", "other"), [(0.5, 3.0), (0.2, 12.0), (3.0, 6.0), (0.0, 4.0)])
def test_source_and_field_may_change_places(one: float, other: float) -> None:
    there = point_potential(DEEP, one, other, APART)
    assert there == pytest.approx(point_potential(DEEP, other, one, APART))


def test_surface_agrees_with_the_filter() -> None:
    # two ways from the same layers: real images, and the linear filter of the soundings
    spacings = [0.5, 2.0, 8.0, 32.0]
    near = point_potential(DEEP, 0, 0, np.array(spacings))
    far = point_potential(DEEP, 0, 0, 2 * np.array(spacings))
    wenner = 4 * math.pi * np.array(spacings) * (near - far)
    assert apparent_resistivity(DEEP, spacings) == pytest.approx(wenner, rel=1e-4)


def test_limits() -> None:
    plain = 100 / (2 * math.pi * APART)
    assert point_potential(Soil.uniform(100), 0, 0, APART) == pytest.approx(plain)
    deep = Soil.two_layer(100, 900, 5e4)
    assert point_potential(deep, 0, 0, APART) == pytest.approx(plain, rel=0.01)
    alike = Soil.two_layer(100, 100 * (1 + 1e-9), 3)
    for source, field in ((0, 0), (1, 5), (4, 6)):
        found = point_potential(alike, source, field, APART)
        flat = point_potential(Soil.uniform(100), source, field, APART)
        assert found == pytest.approx(flat, rel=1e-6)


def test_no_such_layer() -> None:
    with pytest.raises(IndexError, match="layers 0 and 4"):
        images(DEEP, 0, 4)
