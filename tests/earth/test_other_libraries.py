"""The same answers from libraries that others wrote: a geophysics package, and finite elements."""

import warnings
from types import ModuleType

import numpy as np
import pytest
from numpy.typing import NDArray
from skfem import Basis, BilinearForm, ElementTriP2, MeshTri, condense, solve
from skfem.helpers import dot, grad

from bondwright.earth import system
from bondwright.earth.images import point_potential
from bondwright.earth.shapes import plate, rod
from bondwright.earth.soil import Soil
from bondwright.earth.sounding import PinArray, apparent_resistivity
from tests.outside import outside, published

Array = NDArray[np.float64]

SOILS = [
    Soil.two_layer(300, 50, 3),
    Soil.two_layer(50, 1000, 2),
    Soil.two_layer(100, 10, 1),
    Soil.two_layer(10, 1000, 5),
    Soil((200, 50, 800), (1.0, 4.0)),
    Soil((100, 300, 30, 500), (1.0, 3.0, 8.0)),
]
SPACING = np.geomspace(0.5, 60, 15)


@pytest.fixture(scope="module")
def gimli() -> ModuleType:
    """pyGIMLi (C. Ruecker, T. Guenther, F. M. Wagner, Computers & Geosciences 109 (2017) 106)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its own sources warn when they are compiled
        import pygimli

    module: ModuleType = pygimli
    return module


@pytest.mark.parametrize("array", list(PinArray))
@pytest.mark.parametrize("soil", SOILS, ids=str)
@outside("pyGIMLi, soundings", "computed", unit="ohm m")
def test_soundings_of_a_geophysics_package(gimli: ModuleType, soil: Soil, array: PinArray) -> None:
    wenner = array is PinArray.WENNER
    outer, inner = (1.5 * SPACING, SPACING / 2) if wenner else (SPACING, SPACING / 10)
    vector = gimli.Vector
    model = vector(np.array([*soil.thickness_m, *soil.rho_ohm_m]))
    layers = len(soil.rho_ohm_m)
    theirs = np.array(
        gimli.core.DC1dModelling(layers, vector(outer), vector(inner)).response(model)
    )
    pins = () if wenner else tuple(map(float, inner))
    ours = apparent_resistivity(soil, tuple(map(float, SPACING)), array, pins)
    assert ours == published(theirs, rel=1e-3)


@pytest.mark.parametrize("soil", SOILS, ids=str)
@outside("pyGIMLi, point source", "computed", unit="V/A")
def test_point_source_of_a_geophysics_package(gimli: ModuleType, soil: Soil) -> None:
    vector = gimli.Vector
    apart = np.geomspace(0.5, 60, 25)
    solver = gimli.core.DC1dModelling(len(soil.rho_ohm_m), vector(SPACING), vector(SPACING / 10))
    layers = np.array(
        solver.pot1d(
            vector(apart), vector(np.array(soil.rho_ohm_m)), vector(np.array(soil.thickness_m))
        )
    )
    # theirs is what the layers add to the potential over uniform soil of the upper layer
    theirs = soil.rho_ohm_m[0] / (2 * np.pi * apart) + layers
    ours = point_potential(soil, 0.0, 0.0, apart)
    # where the lower layers take nearly all of it, the two parts cancel
    assert np.abs(ours - theirs).max() < 1e-3 * np.abs(theirs).max()
    assert ours == published(theirs, rel=5e-3)


# --- finite elements ---------------------------------------------------------------------------

REACH = 60.0
"""Edge of the ground that is meshed, m; beyond, the potential falls as one over the distance."""


def edges(marks: list[float], fine: float, growth: float = 1.35) -> Array:
    """Places of a mesh along one axis: fine at the marks, coarser away from them."""
    found = {0.0, REACH, *marks}
    for mark in marks:
        for way in (-1.0, 1.0):
            step, at = fine, mark
            ends = [m for m in (0.0, REACH, *marks) if way * (m - mark) > 1e-12]
            if not ends:
                continue
            end = min(ends, key=lambda m: abs(m - mark))
            stop = end if end not in marks else (mark + end) / 2
            while way * (stop - at) > step * growth:
                at += way * step
                found.add(at)
                step *= growth
    return np.array(sorted(found))


def fem_resistance(soil: Soil, r: Array, z: Array, metal: tuple[float, float, float]) -> float:
    """Resistance of a body of revolution (its radius, top and floor), ohm, by its heat.

    Quadratic triangles in (r, z), z downward. The far edge carries the condition of a potential
    that falls as one over the distance from the origin.
    """
    radius, top, floor = metal
    mesh = MeshTri.init_tensor(r, z)
    basis = Basis(mesh, ElementTriP2())
    tops = np.array(soil.tops_m[1:])
    rho = np.array(soil.rho_ohm_m)

    @BilinearForm
    def heat(u, v, w):  # type: ignore[no-untyped-def]
        here = rho[np.searchsorted(tops, w.x[1], side="left")]
        return 2 * np.pi * w.x[0] * dot(grad(u), grad(v)) / here

    @BilinearForm
    def beyond(u, v, w):  # type: ignore[no-untyped-def]
        here = rho[np.searchsorted(tops, w.x[1], side="left")]
        out = (w.n[0] * w.x[0] + w.n[1] * w.x[1]) / (w.x[0] ** 2 + w.x[1] ** 2)
        return 2 * np.pi * w.x[0] * u * v * out / here

    far = basis.boundary(
        mesh.facets_satisfying(lambda x: (x[0] > REACH - 1e-6) | (x[1] > REACH - 1e-6))
    )
    stiff = heat.assemble(basis) + beyond.assemble(far)
    x, y = basis.doflocs
    inside = (x <= radius + 1e-9) & (y >= top - 1e-9) & (y <= floor + 1e-9)
    held = np.flatnonzero(inside)
    start = np.zeros(basis.N)
    start[held] = 1.0
    volts = solve(*condense(stiff, x=start, D=held))
    return float(1 / (volts @ (stiff @ volts)))


@pytest.mark.parametrize(
    "soil", [Soil.uniform(100), Soil.two_layer(300, 50, 1.5), Soil.two_layer(100, 1000, 2.0)]
)
@outside("scikit-fem, a rod", "computed", unit="ohm")
def test_one_rod_by_finite_elements(soil: Soil) -> None:
    radius, length = 0.02, 3.0
    r = edges([radius], radius / 4)
    z = edges(sorted({length, *soil.tops_m[1:]}), radius / 4)
    field = fem_resistance(soil, r, z, (radius, 0.0, length))
    found = system.solve(soil, [rod("rod", (0, 0), length, 2 * radius)]).alone("rod")
    assert found == published(field, rel=0.01)


@pytest.mark.parametrize("soil", [Soil.uniform(100), Soil.two_layer(300, 50, 2.0)])
@outside("scikit-fem, a plate", "computed", unit="ohm")
def test_one_plate_by_finite_elements(soil: Soil) -> None:
    radius, depth, thick = 0.5, 0.8, 0.004
    r = edges([radius], 0.002)
    z = edges(sorted({depth - thick / 2, depth + thick / 2, *soil.tops_m[1:]}), thick / 2)
    field = fem_resistance(soil, r, z, (radius, depth - thick / 2, depth + thick / 2))
    made = plate("plate", (0, 0, depth), (2 * radius, 2 * radius), round_plate=True)
    found = system.solve(soil, [made]).alone("plate")
    # strips make a round plate a little too good
    assert found == published(field, rel=0.025)


def test_the_finite_elements_themselves() -> None:
    # a disc on the surface of uniform soil: rho / 4a, elementary
    radius, thick = 0.5, 0.001
    r, z = edges([radius], 0.001), edges([thick], thick / 2)
    field = fem_resistance(Soil.uniform(100), r, z, (radius, 0.0, thick))
    assert field == pytest.approx(100 / (4 * radius), rel=0.01)
