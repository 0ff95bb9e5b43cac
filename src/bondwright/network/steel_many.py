"""Many steel walls side by side, each at currents of its own.

The same walls, layers, curve and fixed point as in :mod:`bondwright.network.steel`, for thousands
of walls at once. A thin layer needs no Bessel functions: with ``L = w mu0 mu / rho`` its exact
field is a power series in ``jL`` whose coefficients only depend on its radii,

    [E, c](b) = T(jL) [E, c](a),   dE/dr = jL rho c/(2 pi r),   dc/dr = 2 pi r E/rho,
    z_ab = 1/T21,   z_aa = T22/T21,   z_bb = T11/T21,

so a wall costs a few additions and multiplications a layer. Fields are |L| t^2 < 0.5 per layer,
where seven terms leave 1e-12.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
from numpy.polynomial import chebyshev

from bondwright.network.circuit import Complex
from bondwright.network.impedance import MU0, Floats
from bondwright.network.magnetism import describing_grid, low_carbon_steel
from bondwright.network.steel import LAYERS, SteelTube, boundaries

Integers = npt.NDArray[np.int64]

TERMS: Final = 7
_NODES: Final = 16
_STEP: Final = 0.7
_LEAST_STEP: Final = 0.2


def layer_series(radii: Floats, resistivity: float) -> Floats:
    """Return the coefficients of T11, T21 and T22 of every layer.

    Args:
        radii: of the boundaries from the inside out, m, shape (n + 1,).
        resistivity: ohm m.

    Returns:
        Shape (3, TERMS, n): of powers of ``jL``.
    """
    n = len(radii) - 1
    found = np.zeros((3, TERMS, n))
    x = np.cos(math.pi * (np.arange(_NODES) + 0.5) / _NODES)
    to_series = np.linalg.inv(chebyshev.chebvander(x, _NODES - 1))
    values = chebyshev.chebvander(x, _NODES)
    end = chebyshev.chebvander(np.array([1.0]), _NODES)[0]
    integral = chebyshev.chebint(np.eye(_NODES), lbnd=-1, axis=0)
    # Integrals from the inner radius to every node, and to the outer radius.
    to_nodes, to_end = values @ integral @ to_series, end @ integral @ to_series
    for k in range(n):
        half = (radii[k + 1] - radii[k]) / 2
        r = radii[k] + half * (x + 1)
        for entry, row in ((0, "E"), (2, "c")):
            electric = np.full(_NODES, 1.0 if row == "E" else 0.0)
            enclosed = np.full(_NODES, 0.0 if row == "E" else 1.0)
            at_end = 1.0
            found[entry, 0, k] = 1.0
            for power in range(TERMS):
                if row == "E":
                    # E of order p makes c of order p, and that E of order p + 1.
                    slope = 2 * math.pi * r * electric / resistivity
                    enclosed, at_end = half * to_nodes @ slope, float(half * to_end @ slope)
                    found[1, power, k] = at_end
                    slope = resistivity * enclosed / (2 * math.pi * r)
                    electric, at_end = half * to_nodes @ slope, float(half * to_end @ slope)
                else:
                    slope = resistivity * enclosed / (2 * math.pi * r)
                    electric = half * to_nodes @ slope
                    slope = 2 * math.pi * r * electric / resistivity
                    enclosed, at_end = half * to_nodes @ slope, float(half * to_end @ slope)
                if power + 1 < TERMS:
                    found[entry, power + 1, k] = at_end
    return found


class ManyWalls:
    """Some sorts of wall, for any number of walls of these sorts.

    Args:
        tubes: the sorts.
        frequency: Hz.
    """

    def __init__(self, tubes: Sequence[SteelTube], frequency: float) -> None:
        self.tubes = tuple(tubes)
        self.frequency = frequency
        every = [boundaries(tube.inner, tube.outer, LAYERS) for tube in tubes]
        series = np.array(
            [layer_series(r, t.resistivity) for r, t in zip(every, tubes, strict=True)]
        )
        # Powers of jL are real and imaginary in turn, with signs + + - -.
        sign = np.array([1.0, 1.0, -1.0, -1.0] * 2)[:TERMS]
        self._series = np.ascontiguousarray(
            (series * sign[:, None]).transpose(1, 2, 3, 0)
        )  # (3, TERMS, LAYERS, sorts)
        self._over = 1 / (
            4 * math.pi * np.array([(r[:-1] + r[1:]) / 2 for r in every]).T
        )  # (LAYERS, sorts)
        self._rate = np.array([2 * math.pi * frequency * MU0 / tube.resistivity for tube in tubes])
        grids = [describing_grid(tube.curve or low_carbon_steel()) for tube in tubes]
        self._first = float(grids[0][0][0])
        self._spacing = float(grids[0][0][1] - grids[0][0][0])
        self._mu = np.array([values for _, values in grids])
        self.quiet = np.repeat(self._mu[:, :1], LAYERS, axis=1).T.copy()  # (LAYERS, sorts)
        sorts = np.arange(len(tubes))
        self.base = self.impedances(sorts, self.quiet)[1]

    def impedances(self, sort: Integers, log_mu: Floats) -> tuple[Complex, Complex]:
        """Return what walls do at given permeabilities.

        Args:
            sort: of each wall, shape (N,).
            log_mu: logarithm of every layer's relative permeability, shape (LAYERS, N).

        Returns:
            Current enclosed by every boundary, per ampere enclosed by the innermost and by the
            outermost, shape (2, LAYERS + 1, N); and z_aa, z_ab, z_bb, ohm/m, shape (3, N).
        """
        rate = np.exp(log_mu) * self._rate[sort]
        square = rate * rate
        entry = np.empty((3, *rate.shape), dtype=np.complex128)
        for k in range(3):
            terms = self._series[k][:, :, sort]
            real = ((terms[6] * square + terms[4]) * square + terms[2]) * square + terms[0]
            imag = ((terms[5] * square + terms[3]) * square + terms[1]) * rate
            entry[k].real, entry[k].imag = real, imag
        t11, t21, t22 = entry
        z_ab = 1 / t21
        z_aa, z_bb = t22 * z_ab, t11 * z_ab
        n = len(z_ab)
        # Thomas's algorithm on E alike on both sides of each boundary, for both ends at once.
        diagonal = z_bb[:-1] + z_aa[1:]
        found = np.zeros((2, n + 1, len(sort)), dtype=np.complex128)
        found[0, 0], found[1, -1] = 1, 1
        factor = np.empty((n - 1, len(sort)), dtype=np.complex128)
        factor[0] = 1 / diagonal[0]
        found[0, 1] = z_ab[0] * factor[0]
        for k in range(1, n - 1):
            factor[k] = 1 / (diagonal[k] - z_ab[k] * z_ab[k] * factor[k - 1])
            found[0, k + 1] = z_ab[k] * found[0, k] * factor[k]
        found[1, n - 1] = z_ab[n - 1] * factor[n - 2]
        for k in range(n - 3, -1, -1):
            step = z_ab[k + 1] * factor[k]
            found[0, k + 1] += step * found[0, k + 2]
            found[1, k + 1] = step * found[1, k + 2]
        z = np.empty((3, len(sort)), dtype=np.complex128)
        z[0] = z_aa[0] - z_ab[0] * found[0, 1]
        z[1] = z_ab[0] * found[1, 1]
        z[2] = z_bb[-1] - z_ab[-1] * found[1, -2]
        return found, z

    def due(self, sort: Integers, spread: Complex, inner: Complex, outer: Complex) -> Floats:
        """Return the permeabilities that belong to the fields of currents.

        Args:
            sort: of each wall, (N,).
            spread: from :meth:`impedances`.
            inner: current enclosed by the innermost boundary, A, (N,).
            outer: that enclosed by the outermost, A, (N,).

        Returns:
            Logarithms, shape (LAYERS, N).
        """
        c = spread[0] * inner + spread[1] * outer
        return self.at_field(sort, np.abs(c[:-1] + c[1:]) * self._over[:, sort])

    def at_field(self, sort: Integers, field: Floats) -> Floats:
        """Return the logarithm of the permeability at fields in A/m, shape (..., N)."""
        with np.errstate(divide="ignore"):
            at = (np.log(field) - self._first) / self._spacing
        last = self._mu.shape[1] - 1
        at = np.clip(at, 0, last)
        low = np.minimum(at.astype(np.int64), last - 1)
        part = at - low
        below = self._mu[sort, low]
        out: Floats = below + part * (self._mu[sort, low + 1] - below)
        return out

    def swing(self, points: int = 96) -> tuple[Floats, Floats]:
        """Return how far impedances of each sort can be from those at no current.

        Returns:
            Logarithm of the surface field, shape (points,); and the most that z_aa, z_ab and z_bb
            change up to it, ohm/m, shape (sorts, 3, points). A wall is taken to have the
            permeability of one field throughout.
        """
        grid = np.linspace(self._first, math.log(1e6), points)
        found = np.empty((len(self.tubes), 3, points))
        for k in range(len(self.tubes)):
            sort = np.full(points, k)
            mu = self.at_field(sort, np.exp(grid))
            z = self.impedances(sort, np.repeat(mu[None], LAYERS, axis=0))[1]
            found[k] = np.maximum.accumulate(np.abs(z - self.base[:, k : k + 1]), axis=1)
        return grid, found


class Acceleration:
    """Walls on their way to the permeabilities of their currents, sped up by their last steps.

    Anderson's method (D. G. Anderson, J. ACM 12 (1965) 547) with two steps back, for each wall by
    itself; a wall that doesn't come nearer for long goes on by plain short steps.

    Args:
        count: number of walls.
    """

    _KEPT: Final = 3
    _PATIENCE: Final = 25

    def __init__(self, count: int) -> None:
        self._was = np.full((self._KEPT, LAYERS, count), np.nan)
        self._off = np.full((self._KEPT, LAYERS, count), np.nan)
        self._rounds = np.zeros(count, dtype=np.int64)

    def move(self, at: Integers, log_mu: Floats, due: Floats) -> tuple[Floats, Floats]:
        """Return permeabilities a step nearer, and how far each wall was off.

        Args:
            at: which walls.
            log_mu: theirs now, (LAYERS, N).
            due: those that belong to their fields.
        """
        off = due - log_mu
        size: Floats = np.abs(off).max(axis=0)
        rounds = self._rounds[at]
        new = log_mu + np.where(rounds > self._PATIENCE, _LEAST_STEP, _STEP) * off
        for back in (2, 1):
            use = np.flatnonzero((rounds >= back) & (rounds <= self._PATIENCE))
            if back == 1:
                use = np.flatnonzero((rounds == 1) & (rounds <= self._PATIENCE))
            if not len(use):
                continue
            some = at[use]
            f, m = off[:, use], log_mu[:, use]
            df = f - self._off[:back][:, :, some]
            dm = m - self._was[:back][:, :, some]
            gram = np.einsum("aln,bln->nab", df, df)
            along = np.einsum("aln,ln->na", df, f)
            trace = np.trace(gram, axis1=1, axis2=2)
            gram += np.eye(back) * (1e-10 * trace + 1e-300)[:, None, None]
            theta = np.linalg.solve(gram, along[:, :, None])[:, :, 0]
            new[:, use] = m + 0.8 * f - np.einsum("na,aln->ln", theta, dm + 0.8 * df)
        for book, now in ((self._was, log_mu), (self._off, off)):
            book[1:, :, at] = book[:-1, :, at]
            book[0][:, at] = now
        self._rounds[at] += 1
        return np.clip(new, 0.0, 12.0), size
