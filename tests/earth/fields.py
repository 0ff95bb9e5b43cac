"""A second way to the resistance of one electrode: the field round an axis, cell by cell.

Finite volumes on a graded mesh; current leaves through a far half ball's condition. Nothing is
shared with the product but the soil's numbers.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

FAR = 400.0


def graded(marks: list[float], fine: float, growth: float) -> NDArray[np.float64]:
    """Cell edges from 0 to FAR, fine at each mark and growing away from it."""
    edges = set(marks) | {0.0, FAR}
    for mark in marks:
        for sign in (-1, 1):
            step, at = fine, mark
            others = [m for m in [*marks, 0.0, FAR] if sign * (m - mark) > 0]
            if not others:
                continue
            wall = min(others, key=lambda m: abs(m - mark))
            middle = wall if wall in (0.0, FAR) and wall not in marks else (mark + wall) / 2
            while sign * (middle - at) > step:
                at += sign * step
                edges.add(at)
                step *= growth
    return np.array(sorted(edges))


def axial_resistance(
    r: NDArray[np.float64], z: NDArray[np.float64], rho: NDArray[np.float64],
    metal: NDArray[np.bool_],
) -> float:  # fmt: skip
    """Resistance of metal cells to infinity; rho and metal have shape (nz, nr)."""
    rc, zc = (r[:-1] + r[1:]) / 2, (z[:-1] + z[1:]) / 2
    dz = np.diff(z)
    nz, nr = rho.shape
    rho = np.where(metal, 1e-9, rho)
    number = np.arange(nz * nr).reshape(nz, nr)
    rows, columns, values = [], [], []

    def join(a: NDArray[np.int64], b: NDArray[np.int64], g: NDArray[np.float64]) -> None:
        for i, j, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            rows.append(i.ravel())
            columns.append(j.ravel())
            values.append(sign * g.ravel())

    # across cylinders the resistance between centres is a logarithm
    log = np.log(rc[1:] / rc[:-1])
    near, far = np.log(r[1:-1] / rc[:-1]) / log, np.log(rc[1:] / r[1:-1]) / log
    across = rho[:, :-1] * near + rho[:, 1:] * far
    join(number[:, :-1], number[:, 1:], 2 * np.pi * dz[:, None] / (across * log))
    area = np.pi * (r[1:] ** 2 - r[:-1] ** 2)
    along = (rho[:-1] * dz[:-1, None] + rho[1:] * dz[1:, None]) / 2
    join(number[:-1], number[1:], area / along)
    # outside the potential falls as 1/distance from the origin
    side = 2 * np.pi * FAR * dz / rho[:, -1] * FAR / (FAR**2 + zc**2)
    floor = area / rho[-1] * FAR / (FAR**2 + rc**2)
    for cells, g in ((number[:, -1], side), (number[-1], floor)):
        rows.append(cells)
        columns.append(cells)
        values.append(g)
    size = nz * nr
    whole = coo_matrix(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))), (size, size)
    ).tocsr()
    held = metal.ravel()
    potential = np.ones(size)
    free = ~held
    potential[free] = spsolve(
        whole[free][:, free].tocsc(), -whole[free][:, held] @ np.ones(int(held.sum()))
    )
    return 1 / float((whole @ potential)[held].sum())
