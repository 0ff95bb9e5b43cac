import numpy as np
import pytest

from bondwright.earth.closed_forms import surface_disc
from bondwright.earth.shapes import plate, rod
from bondwright.earth.soil import Soil
from bondwright.earth.system import solve
from tests.earth.fields import axial_resistance, graded
from tests.outside import outside, published

RADIUS, LENGTH = 0.008, 3.0


def layers(soil: Soil, z: np.ndarray[tuple[int], np.dtype[np.float64]], across: int):  # type: ignore[no-untyped-def]
    middle = (z[:-1] + z[1:]) / 2
    rho = np.array([soil.rho_ohm_m[soil.layer_at(depth)] for depth in middle])
    return np.repeat(rho[:, None], across, axis=1)


@pytest.mark.parametrize(
    "soil",
    [
        Soil.uniform(100),
        Soil.two_layer(300, 50, 1.5),
        Soil.two_layer(100, 1000, 2.0),
        Soil.two_layer(100, 1000, 5.0),
        Soil((200, 50, 800), (1.0, 3.0)),
    ],
)
@outside("finite volumes, a rod", "computed", unit="ohm")
def test_rod_by_its_field(soil: Soil) -> None:
    # finite volumes round the axis, a method of another kind
    r = graded([RADIUS], RADIUS / 3, 1.12)
    marks = sorted({LENGTH, *soil.tops_m[1:]})
    z = graded(marks, RADIUS, 1.15)
    rho = layers(soil, z, r.size - 1)
    metal = (r[1:] <= RADIUS * 1.001)[None, :] & (z[1:] <= LENGTH * 1.0001)[:, None]
    field = axial_resistance(r, z, rho, metal)
    found = solve(soil, [rod("rod", (0, 0), LENGTH, 2 * RADIUS)]).joined().resistance_ohm
    assert found == published(field, rel=0.01)


@pytest.mark.parametrize("soil", [Soil.uniform(100), Soil.two_layer(300, 50, 2.0)])
@outside("finite volumes, a plate", "computed", unit="ohm")
def test_plate_by_its_field(soil: Soil) -> None:
    radius, depth, thick = 0.5, 0.8, 0.004
    r = graded([radius], 0.004, 1.15)
    marks = sorted({depth - thick / 2, depth + thick / 2, *soil.tops_m[1:]})
    z = graded(marks, thick / 2, 1.15)
    rho = layers(soil, z, r.size - 1)
    middle = (z[:-1] + z[1:]) / 2
    metal = (r[1:] <= radius * 1.001)[None, :] & (np.abs(middle - depth) < thick / 2)[:, None]
    field = axial_resistance(r, z, rho, metal)
    made = plate("plate", (0, 0, depth), (2 * radius, 2 * radius), round_plate=True)
    found = solve(soil, [made]).joined().resistance_ohm
    # strips make a round plate a little too good
    assert found == published(field, rel=0.025)


def test_the_field_itself() -> None:
    # a disc on the surface, rho / 4a (elementary)
    radius, thick = 0.5, 0.001
    r, z = graded([radius], 0.002, 1.12), graded([thick], thick / 2, 1.12)
    rho = np.full((z.size - 1, r.size - 1), 100.0)
    metal = (r[1:] <= radius * 1.001)[None, :] & (z[1:] <= thick * 1.001)[:, None]
    assert axial_resistance(r, z, rho, metal) == pytest.approx(surface_disc(100, radius), rel=0.01)
