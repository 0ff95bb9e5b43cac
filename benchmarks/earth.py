"""Measures the earth: one line a figure. Run: ``python -m benchmarks.earth``."""

from __future__ import annotations

import numpy as np

from benchmarks.figure import Figure, seconds
from bondwright.earth.fit import fit_soil
from bondwright.earth.shapes import grid, rod
from bondwright.earth.soil import Soil
from bondwright.earth.sounding import PinArray, Sounding, apparent_resistivity
from bondwright.earth.surface import map_around
from bondwright.earth.system import solve


def figures() -> list[Figure]:
    """Measure everything; each figure is of an answer that was checked."""
    soil = Soil.two_layer(100, 300, 5)
    spacing = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0)
    noise = np.exp(0.03 * np.random.default_rng(7).standard_normal(12))
    readings = tuple(map(float, apparent_resistivity(soil, spacing) * noise))
    sounding = Sounding(PinArray.WENNER, spacing, readings)
    found = fit_soil(sounding, 2)
    if not np.allclose(found.soil.rho_ohm_m, soil.rho_ohm_m, rtol=0.1):
        raise RuntimeError("the fit is not the soil")
    rods = [rod(str(i), (3.0 * (i % 20), 3.0 * (i // 20)), 3, 0.016) for i in range(200)]
    system = solve(soil, rods)
    if not np.isclose(sum(system.joined().shares.values()), 1):
        raise RuntimeError("the shares don't sum to one")
    mesh = grid("grid", (0, 0), (70, 70), (10, 10), 0.5, 0.01)
    flat = solve(soil, [mesh])
    return [
        Figure(name, seconds(work, times), "s", goal)
        for name, work, times, goal in (
            ("two-layer soil from a Wenner sounding", lambda: fit_soil(sounding, 2), 5, 0.2),
            ("the same, layers counted", lambda: fit_soil(sounding), 5, 0.5),
            ("electrodes of 200 conductors in two layers", lambda: solve(soil, rods), 5, 1.0),
            ("220 meshes of grid in two layers", lambda: solve(soil, [mesh]), 5, 1.0),
            ("surface map of that grid", lambda: map_around(flat, {"grid": 1.0}, 5.0, 2.0), 1, 2.0),
        )
    ]


if __name__ == "__main__":
    for figure in figures():
        print(figure)  # noqa: T201
