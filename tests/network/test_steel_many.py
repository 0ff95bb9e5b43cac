"""Many steel walls at once against the same walls one by one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bondwright.network.impedance import layer_impedances
from bondwright.network.magnetism import steel_resistivity
from bondwright.network.steel import LAYERS, SteelTube, boundaries, chain
from bondwright.network.steel_many import Acceleration, ManyWalls

TUBES = (
    SteelTube(0.008, 0.0092, steel_resistivity(75)),
    SteelTube(0.026, 0.0302, steel_resistivity(75)),
    SteelTube(0.05, 0.056, steel_resistivity(75)),
)


@pytest.mark.parametrize("frequency", [50.0, 60.0])
@pytest.mark.parametrize("mu", [1.0, 30.0, 300.0, 1500.0])
def test_a_layer_is_that_of_bessel_functions(frequency: float, mu: float) -> None:
    """The power series against Schelkunoff's formulas, chained over the wall."""
    for k, tube in enumerate(TUBES):
        walls = ManyWalls([tube], frequency)
        log_mu = np.full((LAYERS, 1), math.log(mu))
        spread, z = walls.impedances(np.zeros(1, dtype=np.int64), log_mu)
        radii = boundaries(tube.inner, tube.outer, LAYERS)
        z_aa, z_ab, z_bb = layer_impedances(
            radii, tube.resistivity, np.exp(log_mu[:, 0]), frequency
        )
        # E is alike on both sides of every boundary.
        c = spread[0, :, 0] + 0.3j * spread[1, :, 0]
        left = -z_ab[:-1] * c[:-2] + z_bb[:-1] * c[1:-1]
        right = -z_aa[1:] * c[1:-1] + z_ab[1:] * c[2:]
        assert np.max(np.abs(left - right)) < 1e-9 * np.max(np.abs(left)), k
        inside = z_aa[0] - z_ab[0] * spread[0, 1, 0]
        assert abs(z[0, 0] - inside) < 1e-9 * abs(inside)


def test_quiet_walls_are_those_that_circuits_start_from() -> None:
    walls = ManyWalls(TUBES, 60.0)
    for k, tube in enumerate(TUBES):
        assert walls.base[:, k] == pytest.approx(tube.surfaces(0, 0, 60.0).triple, rel=1e-10)


def test_walls_at_any_currents() -> None:
    walls = ManyWalls(TUBES, 60.0)
    rng = np.random.default_rng(4)
    count = 90
    sort = rng.integers(0, len(TUBES), count)
    inner = 10 ** rng.uniform(-0.3, 4, count) * np.exp(1j * rng.uniform(0, 6, count))
    wall = -inner * rng.uniform(0, 1.2, count) * np.exp(1j * rng.normal(0, 0.3, count))
    mu = walls.quiet[:, sort].copy()
    moves, every = Acceleration(count), np.arange(count)
    off, z = np.full(count, np.inf), np.zeros((3, count), dtype=complex)
    for _ in range(40):
        spread, z = walls.impedances(sort, mu)
        mu, off = moves.move(every, mu, walls.due(sort, spread, inner, inner + wall))
        if off.max() < 1e-9:
            break
    assert off.max() < 1e-9
    for k in range(count):
        one = TUBES[sort[k]].surfaces(inner[k], wall[k], 60.0)
        scale = max(abs(value) for value in one.triple)
        assert np.max(np.abs(z[:, k] - np.array(one.triple))) < 1e-6 * scale


def test_how_far_walls_can_be_from_those_at_rest() -> None:
    """For each sort: nothing at a weak field, and at any field the most of all weaker ones."""
    walls = ManyWalls(TUBES, 60.0)
    grid, most = walls.swing(24)
    assert grid.shape == (24,)
    assert most.shape == (3, 3, 24)
    assert math.exp(grid[-1]) == pytest.approx(1e6)
    assert np.all(np.diff(most, axis=2) >= 0)
    for k, tube in enumerate(TUBES):
        for n in (5, 15, 23):
            mu = np.exp(walls.at_field(np.array([k]), np.exp(grid[n : n + 1])))[0]
            radii = boundaries(tube.inner, tube.outer, LAYERS)
            whole = chain(layer_impedances(radii, tube.resistivity, np.full(LAYERS, mu), 60.0))
            off = np.abs(np.array(whole) - walls.base[:, k])
            assert np.all(most[k, :, n] >= off * (1 - 1e-6))
        assert np.all(most[k, :, 0] <= 0.05 * most[k, :, -1])
