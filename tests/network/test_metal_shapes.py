"""Metal that is not wiring, as conductors."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bondwright.catalog.metals import metal_kinds, metal_shape, metal_sizes
from bondwright.catalog.sources import CatalogError
from bondwright.network.impedance import bundle_impedance, round_internal, skin_factor
from bondwright.network.metal_shapes import metal_constants, sheets_gmr
from bondwright.units import FOOT
from tests.outside import outside, published

EVERY = [(kind, size) for kind in metal_kinds() for size in metal_sizes(kind)]


@pytest.mark.parametrize(("kind", "size"), EVERY)
def test_every_product_is_a_passive_conductor(kind: str, size: str) -> None:
    """Resistance from the direct-current one upwards, rising with frequency; a real section."""
    shape = metal_shape(kind, size)
    last = shape.resistance() * (1 - 1e-9)
    for frequency in (0.01, 60.0, 180.0, 1500.0):
        r, x, gmr = metal_constants(kind, size, frequency)
        assert r >= last
        assert 0 < gmr <= max(shape.outside, shape.width)
        z = bundle_impedance([r], [x], [gmr], [[1]], frequency, 100)
        assert z[0, 0].imag > 0
        last = r


@pytest.mark.parametrize(("kind", "size"), EVERY)
def test_slow_current_meets_the_direct_current_resistance(kind: str, size: str) -> None:
    """Sheets of a rolled shape are taken as of one thickness; the rest is exact."""
    r, _, _ = metal_constants(kind, size, 0.001)
    assert r == pytest.approx(metal_shape(kind, size).resistance(), rel=1e-3)


def test_thin_copper_has_no_skin_effect() -> None:
    """Skin depth at 60 Hz in this copper is 9 mm, the wall 1 mm."""
    r, x, gmr = metal_constants("copper tube L", "3/4")
    shape = metal_shape("copper tube L", "3/4")
    assert r == pytest.approx(shape.resistance(), rel=1e-3)
    assert gmr == shape.outside / 2
    # GMR of a tube in closed form (Rosa 1908), less than its outside radius by the internal flux.
    a, b = shape.outside / 2 - shape.wall, shape.outside / 2
    square = b * b - a * a
    closed = math.log(b) - a**4 / square**2 * math.log(b / a) + (3 * a * a - b * b) / (4 * square)
    assert math.log(gmr) - x / (2 * math.pi * 60 * 2e-7) == pytest.approx(closed, rel=1e-4)


@outside("skin effect of a thick wall, textbook", "computed", unit="ohm/m")
def test_steel_shows_only_its_skin() -> None:
    """``R = rho/(pi d delta)`` once the skin is thin (textbook); ``X = R`` of a linear metal."""
    shape = metal_shape("steel pipe 40", "6")
    r, x, _ = metal_constants("steel pipe 40", "6")
    depth = math.sqrt(2 * 17e-8 / (2 * math.pi * 60 * 4e-7 * math.pi * 271))
    assert r == published(17e-8 / (math.pi * shape.outside * depth), rel=0.03)
    assert x == published(r, rel=0.05)


def test_round_bar_is_the_wire_when_not_magnetic() -> None:
    rho, radius = 1.7241e-8, 0.01
    r_dc = rho / (math.pi * radius**2)
    ours = round_internal(rho, radius, 1.0, 60)
    assert ours == pytest.approx(r_dc * skin_factor(r_dc, radius, 60), rel=1e-12)


def test_gmr_of_a_thin_strip() -> None:
    """``0.22313 (w + t)``, e^(-3/2) of its width (Rosa 1907)."""
    strip = ((0.0, 0.0, 0.1, 0.0, 1e-4),)
    assert sheets_gmr(strip) == pytest.approx(math.exp(-1.5) * 0.1, rel=0.02)


@outside("geometric mean radius, textbook", "computed", unit="m")
def test_gmr_of_two_strips_far_apart() -> None:
    """``sqrt(GMR x distance)`` of two equal conductors (textbook)."""
    one, far = (0.0, 0.0, 0.1, 0.0, 1e-4), (0.0, 5.0, 0.1, 5.0, 1e-4)
    expected = math.sqrt(sheets_gmr((one,)) * 5.0)
    assert sheets_gmr((one, far)) == published(expected, rel=1e-3)


def test_gmr_of_a_box_is_nearly_that_of_a_round_of_its_girth() -> None:
    """A square tube of side s: between the inscribed circle and the circle of its corners."""
    s = 0.3
    corners = ((0.0, 0.0), (s, 0.0), (s, s), (0.0, s))
    box = tuple((*corners[k - 1], *corners[k], 1e-3) for k in range(4))
    assert s / 2 < sheets_gmr(box) < s / math.sqrt(2)


def mean_log(sides: list[tuple[complex, complex]]) -> float:
    """Return the mean of ln distance over all pairs of points of straight thin lines.

    A line with itself gives ``ln L - 3/2`` (Rosa 1907), two lines the integral by Gauss.
    """
    at, weight = np.polynomial.legendre.leggauss(60)
    points = [a + (at + 1) / 2 * (b - a) for a, b in sides]
    lengths = [abs(b - a) for a, b in sides]
    total = 0.0
    for i, one in enumerate(points):
        for j, other in enumerate(points):
            if i == j:
                mean = math.log(lengths[i]) - 1.5
            else:
                mean = float(weight @ np.log(abs(one[:, None] - other[None, :])) @ weight) / 4
            total += lengths[i] * lengths[j] * mean
    return total / sum(lengths) ** 2


def test_gmr_of_a_rectangular_duct_by_integration() -> None:
    """12 in x 8 in of thin sheet: four sides of the middle line."""
    shape = metal_shape("rectangular duct", "12x8 in 26 ga")
    w, h = shape.width - shape.wall, shape.outside - shape.wall
    corners = [0j, w + 0j, w + h * 1j, h * 1j]
    sides = [(corners[k - 1], corners[k]) for k in range(4)]
    _, _, gmr = metal_constants("rectangular duct", "12x8 in 26 ga")
    assert gmr == pytest.approx(math.exp(mean_log(sides)), rel=5e-3)


def test_gmr_of_a_steel_shape_by_integration() -> None:
    """Two flanges and a web, weighted by their thickness; thin lines, so within 3 %."""
    shape = metal_shape("W shape", "W14x53")
    _, _, gmr = metal_constants("W shape", "W14x53")
    h, w = shape.outside - shape.wall, shape.width
    sides = [
        (-w / 2 + h / 2 * 1j, w / 2 + h / 2 * 1j),
        (-w / 2 - h / 2 * 1j, w / 2 - h / 2 * 1j),
        (-h / 2 * 1j, h / 2 * 1j),
    ]
    thick = [shape.wall, shape.wall, shape.web]
    at, weight = np.polynomial.legendre.leggauss(61)
    total = whole = 0.0
    for (a, b), t in zip(sides, thick, strict=True):
        for (c, d), u in zip(sides, thick, strict=True):
            area = abs(b - a) * t * abs(d - c) * u
            if (a, b) == (c, d):
                mean = math.log(0.2235 * (abs(b - a) + t))
            else:
                one = (a + b) / 2 + at * (b - a) / 2
                # Even points, so that no two of them meet where web and flange do.
                even = (c + d) / 2 + (np.arange(60) / 30 - 59 / 60) * (d - c) / 2
                logs = np.log(abs(one[:, None] - even[None, :]))
                mean = float((weight @ logs).sum()) / 2 / 60
            total += area * mean
            whole += area
    assert gmr == pytest.approx(math.exp(total / whole), rel=0.03)


def test_a_pipe_beside_a_wire_is_a_section() -> None:
    """Copper water pipe beside a neutral takes a share of its current that their ohms suggest."""
    r, x, gmr = metal_constants("copper tube L", "1")
    wire = (0.3e-3, 0.0, 0.003)
    z = bundle_impedance([wire[0], r], [wire[1], x], [wire[2], gmr], [[1, 0.3], [0.3, 1]], 60, 100)
    share = np.linalg.solve(z, np.ones(2))
    pipe = abs(share[1] / share.sum())
    assert 0.4 < pipe < 0.8


def test_water_pipe_of_a_house() -> None:
    """3/4 in type L copper: 0.08 ohm per 1000 ft, a little better than 2 AWG copper's 0.16."""
    r, _, _ = metal_constants("copper tube L", "3/4")
    assert r * 1000 * FOOT == pytest.approx(0.0817, rel=0.01)


def test_errors_name_what_is_known() -> None:
    with pytest.raises(CatalogError, match="known are"):
        metal_constants("copper tube L", "7")
    with pytest.raises(ValueError, match="frequency"):
        metal_constants("copper tube L", "1", 0)
