"""Pipe, steel, ducts and bars as conductors of the circuit.

Currents on such metal are weak compared with its size, so magnetic metal has the permeability
of weak fields. Where a fault current runs on it the field is stronger and its impedance
differs, by up to a factor of two either way; joints are not in here at all.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

from bondwright.catalog.metals import MetalForm, MetalShape, metal_shape
from bondwright.network.impedance import MU0, internal_impedance, round_internal, tube_impedances
from bondwright.network.magnetism import low_carbon_steel

_PIECES = 24
"""Pieces that a plate's length is cut into for its geometric mean distance."""


def metal_constants(
    kind: str, size: str, frequency: float = 60.0, temperature: float = 20.0
) -> tuple[float, float, float]:
    """Return ac resistance (ohm/m), extra reactance (ohm/m) and GMR (m) of metal.

    The three are those of :func:`bondwright.network.runs.wire_constants` and go into
    :func:`bondwright.network.impedance.bundle_impedance` in the same way.

    Args:
        kind: one of :func:`bondwright.catalog.metals.metal_kinds`.
        size: one of :func:`bondwright.catalog.metals.metal_sizes`.
        frequency: Hz.
        temperature: degC.

    Raises:
        bondwright.catalog.sources.CatalogError: no such kind or size.
        ValueError: the frequency isn't positive.
    """
    if not frequency > 0:
        msg = f"the frequency must be more than zero, not {frequency} Hz"
        raise ValueError(msg)
    return shape_constants(metal_shape(kind, size), frequency, temperature)


def shape_constants(
    shape: MetalShape, frequency: float, temperature: float
) -> tuple[float, float, float]:
    """Return ac resistance (ohm/m), extra reactance (ohm/m) and GMR (m) of a product.

    Tubes: Schelkunoff's outside surface impedance beyond the outside radius. Bars: skin effect
    of a round wire of that permeability. Boxes: sheets of thickness t and length s in all, the
    current on the outside face, ``Z = rho m coth(m t)/s``. Shapes: the same with the current on
    both faces, ``rho m coth(m t/2)/(2 s)``; it crowds to the edges in truth, so their
    resistance is a low estimate. Both beyond the geometric mean radius of the sheets.

    Args:
        shape: the product.
        frequency: Hz.
        temperature: degC.
    """
    r_dc = shape.resistance(temperature)
    rho = r_dc * shape.area
    mu = shape.material.permeability or _weak_permeability()
    radius = shape.outside / 2
    if shape.form is MetalForm.TUBE:
        z = tube_impedances(radius - shape.wall, radius, rho, mu, frequency)[2]
        return z.real, z.imag, radius
    if shape.form is MetalForm.CABLE:
        r, x = internal_impedance(r_dc, radius, frequency)
        return r, x, radius * math.exp(-0.25)
    if shape.form is MetalForm.BAR:
        z = round_internal(rho, radius, mu, frequency)
        return z.real, z.imag, radius
    m = np.sqrt(2j * math.pi * frequency * MU0 * mu / rho)
    faces = 1 if shape.form is MetalForm.BOX else 2
    thick = shape.wall if shape.form is MetalForm.BOX else (shape.wall + shape.web) / 2
    length = shape.area / thick
    z = complex(rho * m / np.tanh(m * thick / faces) / (faces * length))
    return z.real, z.imag, sheets_gmr(_sheets(shape))


def _weak_permeability() -> float:
    return float(low_carbon_steel().effective_permeability(0.0))


def _sheets(shape: MetalShape) -> tuple[tuple[float, float, float, float, float], ...]:
    """Return the sheets of a shape: ends (x, y), (x, y) of the middle line, and thickness, m."""
    h, w, t = shape.outside - shape.wall, shape.width, shape.wall
    if shape.form is MetalForm.I_SHAPE:
        return (
            (-w / 2, h / 2, w / 2, h / 2, t),
            (-w / 2, -h / 2, w / 2, -h / 2, t),
            (0.0, -h / 2, 0.0, h / 2, shape.web),
        )
    w -= t
    corners = ((-w / 2, -h / 2), (w / 2, -h / 2), (w / 2, h / 2), (-w / 2, h / 2))
    return tuple((*corners[k - 1], *corners[k], t) for k in range(4))


@cache
def sheets_gmr(sheets: tuple[tuple[float, float, float, float, float], ...]) -> float:
    """Return the geometric mean radius of thin sheets that share a current evenly, m.

    ``ln GMR`` is the mean of ``ln distance`` over all pairs of points of the metal. A piece's
    distance from itself is 0.2235 of the sum of its sides, that of a small rectangle
    (J. C. Maxwell; E. B. Rosa, Bull. Bureau of Standards 3 (1907)).

    Args:
        sheets: of each, x and y of both ends of its middle line and its thickness, m.
    """
    places, weights, own = [], [], []
    for x1, y1, x2, y2, thick in sheets:
        step = math.hypot(x2 - x1, y2 - y1) / _PIECES
        for k in range(_PIECES):
            part = (k + 0.5) / _PIECES
            places.append(complex(x1 + part * (x2 - x1), y1 + part * (y2 - y1)))
            weights.append(step * thick)
            own.append(0.2235 * (step + thick))
    at, weight = np.array(places), np.array(weights)
    apart = np.abs(at[:, None] - at[None, :])
    np.fill_diagonal(apart, own)
    # Pieces of two sheets that meet may share a centre; they are a little apart all the same.
    logs = np.log(np.maximum(apart, min(own) / 2))
    return float(np.exp(weight @ logs @ weight / weight.sum() ** 2))
