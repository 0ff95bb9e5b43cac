"""Series impedance of conductors that run side by side over the earth.

All matrices are per metre, in ohm/m, for currents that may return anywhere: in the run, in
other metal, or in the earth. Currents that sum to zero within a run cancel the earth terms.

Sources:
    J. R. Carson, "Wave propagation in overhead wires with ground return", Bell Syst. Tech. J. 5
    (1926), first-order terms, in the form of W. H. Kersting, *Distribution System Modeling and
    Analysis*, ch. 4. Tubes: S. A. Schelkunoff, "The electromagnetic theory of coaxial
    transmission lines and cylindrical shields", Bell Syst. Tech. J. 13 (1934).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ive, kve

from bondwright.network.circuit import Complex

Floats = npt.NDArray[np.float64]

Surfaces = tuple[complex, complex, complex]
"""``(z_aa, z_ab, z_bb)`` of a tube, ohm/m; see :func:`tube_impedances`."""

MU0: Final = 4e-7 * math.pi
"""Permeability of free space, H/m."""


def earth_resistance(frequency: float) -> float:
    """Return the resistance of the earth's return path, ``pi^2 f 1e-7`` ohm/m."""
    return math.pi**2 * frequency * 1e-7


def earth_depth(frequency: float, soil: float) -> float:
    """Return the depth of the equivalent return, ``658.5 sqrt(rho/f)`` m.

    Args:
        frequency: Hz.
        soil: resistivity, ohm m.
    """
    return 658.5 * math.sqrt(soil / frequency)


def skin_factor(r_dc: float, radius: float, frequency: float) -> complex:
    """Return internal impedance over dc resistance of a round solid wire.

    ``(k a / 2) I0(k a) / I1(k a)`` with ``k = sqrt(j w mu0 / rho)`` and the resistivity that
    gives the wire its dc resistance. Its imaginary part is the internal reactance.

    Args:
        r_dc: dc resistance, ohm/m.
        radius: of the solid wire of the same area, m.
        frequency: Hz.
    """
    rho = r_dc * math.pi * radius**2
    ka = np.sqrt(1j * 2 * math.pi * frequency * MU0 / rho) * radius
    return complex(ka / 2 * ive(0, ka) / ive(1, ka))


def round_internal(
    resistivity: float, radius: float, permeability: float, frequency: float
) -> complex:
    """Return the internal impedance of a round solid wire that may be magnetic, ohm/m.

    ``rho m I0(m a) / (2 pi a I1(m a))`` with ``m = sqrt(j w mu / rho)``. The inductance beyond
    the surface isn't in it: use the radius itself as the geometric mean radius.

    Args:
        resistivity: ohm m.
        radius: m.
        permeability: relative.
        frequency: Hz.
    """
    m = np.sqrt(2j * math.pi * frequency * MU0 * permeability / resistivity)
    ratio = ive(0, m * radius) / ive(1, m * radius)
    return complex(resistivity * m / (2 * math.pi * radius) * ratio)


def internal_impedance(r_dc: float, radius: float, frequency: float) -> tuple[float, float]:
    """Return ac resistance and the *change* of reactance that skin effect brings, ohm/m.

    The geometric mean radius of a conductor holds its internal inductance for evenly spread
    current; at higher frequency the current moves outward and the inductance falls.

    Args:
        r_dc: dc resistance, ohm/m.
        radius: of the solid wire of the same area, m.
        frequency: Hz.
    """
    z = r_dc * skin_factor(r_dc, radius, frequency)
    even = 2 * math.pi * frequency * MU0 / (8 * math.pi)
    return z.real, z.imag - even


def bundle_impedance(
    resistance: npt.ArrayLike,
    extra_reactance: npt.ArrayLike,
    gmr: npt.ArrayLike,
    distance: npt.ArrayLike,
    frequency: float,
    soil: float,
) -> Complex:
    """Return the impedance matrix of n parallel conductors with earth return.

    ``Z_ii = R_i + j X_i + R_e + j w mu0/(2 pi) ln(D_e/GMR_i)``,
    ``Z_ij = R_e + j w mu0/(2 pi) ln(D_e/D_ij)``.

    Args:
        resistance: ac resistances, ohm/m, shape (n,).
        extra_reactance: reactance beyond that of the GMR, ohm/m, shape (n,).
        gmr: geometric mean radii, m, shape (n,).
        distance: centre distances, m, shape (n, n); the diagonal is not read.
        frequency: Hz.
        soil: resistivity, ohm m.

    Returns:
        Shape (n, n), ohm/m.

    Raises:
        ValueError: a distance isn't positive.
    """
    d = np.array(distance, dtype=np.float64)
    np.fill_diagonal(d, np.asarray(gmr, dtype=np.float64))
    if not np.all(d > 0):
        msg = "every distance and every geometric mean radius must be more than zero"
        raise ValueError(msg)
    w = 2 * math.pi * frequency
    z = earth_resistance(frequency) + 1j * w * MU0 / (2 * math.pi) * np.log(
        earth_depth(frequency, soil) / d
    )
    own = np.asarray(resistance, dtype=np.float64) + 1j * np.asarray(extra_reactance)
    out: Complex = z + np.diag(own)
    return out


def tube_impedances(
    inner: float, outer: float, resistivity: float, permeability: float, frequency: float
) -> Surfaces:
    """Return the surface impedances of a round tube, ohm/m.

    Args:
        inner: inside radius, m.
        outer: outside radius, m.
        resistivity: of the metal, ohm m.
        permeability: relative.
        frequency: Hz.

    Returns:
        ``(z_aa, z_ab, z_bb)``: inside surface with the return inside, transfer from one
        surface to the other, outside surface with the return outside (Schelkunoff).
    """
    radii = np.array([inner, outer])
    z_aa, z_ab, z_bb = layer_impedances(radii, resistivity, np.array([permeability]), frequency)
    return complex(z_aa[0]), complex(z_ab[0]), complex(z_bb[0])


def layer_impedances(
    radii: Floats, resistivity: float, permeability: Floats, frequency: float
) -> tuple[Complex, Complex, Complex]:
    """Return the surface impedances of concentric layers, each a tube of its own, ohm/m.

    Args:
        radii: of the boundaries from the inside out, m, shape (n + 1,).
        resistivity: ohm m.
        permeability: relative, of each layer, shape (n,).
        frequency: Hz.

    Returns:
        ``z_aa, z_ab, z_bb`` as :func:`tube_impedances` has them, each of shape (n,).
    """
    inner, outer = radii[:-1], radii[1:]
    m = np.sqrt(2j * math.pi * frequency * MU0 * permeability / resistivity)
    a, b = m * inner, m * outer
    # Scaled Bessel functions keep thick or magnetic walls from overflowing; the common scale
    # factors cancel except exp(Re) and exp(-) of the difference, applied here by hand.
    shrink = np.exp(-np.abs((b - a).real)) * np.exp(a - b)
    i0a, i1a, i0b, i1b = ive(0, a), ive(1, a), ive(0, b), ive(1, b)
    k0a, k1a, k0b, k1b = kve(0, a), kve(1, a), kve(0, b), kve(1, b)
    d = i1b * k1a - i1a * k1b * shrink
    z_aa = resistivity * m / (2 * math.pi * inner) * (i0a * k1b * shrink + k0a * i1b) / d
    z_bb = resistivity * m / (2 * math.pi * outer) * (i0b * k1a + k0b * i1a * shrink) / d
    z_ab = resistivity / (2 * math.pi * inner * outer) / d * np.exp(a - np.abs(b.real))
    return z_aa, z_ab, z_bb


def enclose(
    inside: Complex,
    inner: float,
    outer: float,
    surfaces: Surfaces,
    frequency: float,
    soil: float,
) -> Complex:
    """Return the matrix of conductors and the metal raceway around them.

    The n conductors are given as if there were no raceway (:func:`bundle_impedance`). Seen
    from inside, the raceway replaces the earth as return; seen from outside it is one more
    conductor. With ``Z_t = z_bb + R_e + j w mu0/(2 pi) ln(D_e/b)`` the raceway's own
    impedance, the mutual impedance to every conductor inside is ``Z_t - z_ab`` and every
    entry among the conductors is ``Z_t - 2 z_ab + z_aa + j w mu0/(2 pi) ln(a/D)``.

    Args:
        inside: shape (n, n), ohm/m, with earth return.
        inner: inside radius of the raceway, m.
        outer: outside radius, m.
        surfaces: from :func:`tube_impedances`.
        frequency: Hz.
        soil: resistivity, ohm m.

    Returns:
        Shape (n + 1, n + 1), ohm/m, the raceway last.
    """
    z_aa, z_ab, z_bb = surfaces
    n = len(inside)
    reactance = 2 * math.pi * frequency * MU0 / (2 * math.pi)
    depth = earth_depth(frequency, soil)
    re = earth_resistance(frequency)
    z_t = z_bb + re + 1j * reactance * math.log(depth / outer)
    out = np.empty((n + 1, n + 1), dtype=np.complex128)
    out[:n, :n] = inside - re - 1j * reactance * math.log(depth / inner) + z_t - 2 * z_ab + z_aa
    out[:n, n] = out[n, :n] = z_t - z_ab
    out[n, n] = z_t
    return out
