"""A steel wall solved in time, with its whole curve: a check that shares no phasor with ours.

In a round wall ``E = rho/(2 pi r) dc/dr`` with ``c = 2 pi r H`` the current enclosed, and
``dE/dr = dB(H)/dt``. Finite volumes in radius, trapezoidal steps in time, Newton on each step.
The currents at both surfaces are sinusoidal; the fundamental of the field at both surfaces is
what a phasor calculation calls E.
"""

from __future__ import annotations

import math

import numpy as np
from scipy.linalg import solve_banded

from bondwright.network.magnetism import MagnetisationCurve


def fields(
    inner: float,
    outer: float,
    resistivity: float,
    curve: MagnetisationCurve,
    enclosed: float,
    tube: float,
    frequency: float,
    cells: int = 60,
    steps: int = 240,
    cycles: int = 3,
) -> tuple[complex, complex]:
    """Return E at the inside and the outside surface, V/m rms, for cosine currents, A rms."""
    r = np.linspace(inner, outer, cells + 1)
    middle = (r[:-1] + r[1:]) / 2
    dr = r[1] - r[0]
    dt = 1 / frequency / steps
    spread = resistivity / (2 * math.pi * middle * dr)
    peak = math.sqrt(2)

    def surface(k: int) -> tuple[float, float]:
        wave = math.cos(2 * math.pi * frequency * k * dt) * peak
        return enclosed * wave, (enclosed + tube) * wave

    c = np.zeros(cells + 1)
    c[0], c[-1] = surface(0)
    b = curve.flux_density(c / (2 * math.pi * r))
    e = spread * np.diff(c)
    record: list[tuple[float, float]] = []
    for k in range(1, steps * cycles + 1):
        old_b, old_e = b, e
        c = c.copy()
        c[0], c[-1] = surface(k)
        for _ in range(40):
            h = c / (2 * math.pi * r)
            b = curve.flux_density(h)
            e = spread * np.diff(c)
            flow = (np.diff(e) + np.diff(old_e)) / (2 * dr)
            miss = (b - old_b)[1:-1] / dt - flow
            slope = curve.slope(h)[1:-1] / (2 * math.pi * r[1:-1]) / dt
            bands = np.zeros((3, cells - 1))
            bands[1] = slope + (spread[:-1] + spread[1:]) / (2 * dr)
            bands[0, 1:] = -spread[1:-1] / (2 * dr)
            bands[2, :-1] = -spread[1:-1] / (2 * dr)
            move = solve_banded((1, 1), bands, -miss)
            c[1:-1] += move
            if np.max(np.abs(move)) < 1e-9 * max(abs(enclosed), abs(tube)):
                break
        rate = (b - old_b) / dt
        half = (e + old_e) / 2
        if k > steps * (cycles - 1):
            record.append((half[0] - rate[0] * dr / 2, half[-1] + rate[-1] * dr / 2))
    wave = np.array(record)
    when = (np.arange(steps * (cycles - 1), steps * cycles) + 0.5) * dt
    turn = np.exp(-2j * math.pi * frequency * when)
    first = 2 / steps * (turn @ wave) / peak
    return complex(first[0]), complex(first[1])
