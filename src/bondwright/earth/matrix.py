"""The resistance matrix of pieces in layered soil, and what they do to a point in the ground."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import partial

import numpy as np
from numpy.typing import NDArray

from bondwright.earth.images import Images, images
from bondwright.earth.pieces import NEAR, Pieces, line_potential, pair_mean, self_mean
from bondwright.earth.soil import Array, Soil

_CHUNK = 60_000
_POINTS = 60_000


def piece_matrix(pieces: Pieces, soil: Soil) -> Array:
    """Return the mean potential of each piece for one ampere let out evenly by another [ohm].

    Args:
        pieces: n pieces.
        soil: the layers.

    Returns:
        Shape (n, n), symmetric.
    """
    count = pieces.length.size
    found = np.zeros((count, count))
    for low in range(len(soil.rho_ohm_m)):
        for high in range(low, len(soil.rho_ohm_m)):
            source = np.flatnonzero(pieces.layer == low)
            field = np.flatnonzero(pieces.layer == high)
            if low == high:
                first, second = np.triu_indices(source.size)
                i, j = source[first], source[second]
            else:
                i, j = np.repeat(field, source.size), np.tile(source, field.size)
            for begin in range(0, i.size, _CHUNK):
                part = slice(begin, begin + _CHUNK)
                values = _pairs(pieces, i[part], j[part], images(soil, low, high))
                found[i[part], j[part]] = values
                found[j[part], i[part]] = values
    found[np.diag_indices(count)] += pieces.coat
    return found


def _pairs(pieces: Pieces, i: NDArray[np.int64], j: NDArray[np.int64], made: Images) -> Array:
    """Return mean potentials of pieces i for a current from pieces j."""
    mid_i, mid_j = pieces.middle[i].T, pieces.middle[j].T
    dir_i, dir_j = pieces.along[i].T.copy(), pieces.along[j].T.copy()
    len_i, len_j = pieces.length[i], pieces.length[j]
    dx, dy = mid_i[0] - mid_j[0], mid_i[1] - mid_j[1]
    flat2 = dx**2 + dy**2
    flat_i, flat_j = dx * dir_i[0] + dy * dir_i[1], dx * dir_j[0] + dy * dir_j[1]
    square_i, square_j = len_i**2 / 24, len_j**2 / 24
    reach2 = (NEAR * (len_i + len_j)) ** 2
    thick2 = pieces.radius[i] * pieces.radius[j]
    same = i == j
    total = np.zeros(i.size)
    for strength, sign, turn, offset in zip(
        made.strength, made.field_sign, made.source_sign, made.offset, strict=True
    ):
        # the image of j stands at depth -sign (turn z' + offset)
        dz = mid_i[2] + sign * (turn * mid_j[2] + offset)
        flip = -sign * turn
        far2 = flat2 + dz**2
        near = far2 < reach2
        inverse2 = 1 / np.where(near, 1.0, far2)
        along_i, along_j = flat_i + dz * dir_i[2], flat_j + flip * dz * dir_j[2]
        value = np.sqrt(inverse2) * (
            1
            + inverse2
            * (
                square_i * (3 * along_i**2 * inverse2 - 1)
                + square_j * (3 * along_j**2 * inverse2 - 1)
            )
        )
        if near.any():
            k = np.flatnonzero(near)
            apart = np.stack([dx[k], dy[k], dz[k]])
            turned = dir_j[:, k].copy()
            turned[2] *= flip
            value[k] = pair_mean(apart, dir_i[:, k], turned, len_i[k], len_j[k], thick2[k])
            if flip > 0 and offset == 0:
                own = np.flatnonzero(same)
                value[own] = self_mean(len_i[own], pieces.radius[i[own]])
        total += strength * value
    return made.scale * total


def point_matrix(pieces: Pieces, soil: Soil, points: Array) -> Array:
    """Return the potential of points for one ampere let out by each piece [ohm].

    Args:
        pieces: n pieces.
        soil: the layers.
        points: (x, y, depth), shape (m, 3), m; all at one depth.

    Returns:
        Shape (m, n).
    """
    depth = float(points[0, 2]) if len(points) else 0.0
    found = np.zeros((len(points), pieces.length.size))
    here = soil.layer_at(depth)
    for layer in np.unique(pieces.layer):
        k = np.flatnonzero(pieces.layer == layer)
        made = images(soil, int(layer), here).at_depth(depth)
        step = max(1, _POINTS // k.size)
        parts = [slice(begin, begin + step) for begin in range(0, len(points), step)]
        one = partial(_at_points, pieces, k, made=made)
        # numpy lets go of the interpreter over whole arrays, so threads share the machine.
        with ThreadPoolExecutor(min(len(parts), os.cpu_count() or 1)) as workers:
            for part, value in zip(
                parts, workers.map(one, (points[p] for p in parts)), strict=True
            ):
                found[part, k] = value
    return found


def _at_points(pieces: Pieces, k: NDArray[np.int64], points: Array, made: Images) -> Array:
    mid, direction, length = pieces.middle[k], pieces.along[k], pieces.length[k]
    dx = points[:, None, 0] - mid[:, 0]
    dy = points[:, None, 1] - mid[:, 1]
    flat2, flat = dx**2 + dy**2, dx * direction[:, 0] + dy * direction[:, 1]
    reach2, square = (2 * NEAR * length) ** 2, length**2 / 24
    thick2 = np.broadcast_to(pieces.radius[k] ** 2, dx.shape)
    total = np.zeros(dx.shape)
    for strength, offset in zip(made.strength, made.offset, strict=True):
        # joined images: zeta = z' + offset, the sign of the direction follows the source's
        dz = -(mid[:, 2] + offset)
        far2 = flat2 + dz**2
        near = far2 < reach2
        inverse2 = 1 / np.where(near, 1.0, far2)
        along = flat + dz * direction[:, 2]
        value = np.sqrt(inverse2) * (1 + inverse2 * square * (3 * along**2 * inverse2 - 1))
        if near.any():
            p, q = np.nonzero(near)
            apart = np.stack([dx[p, q], dy[p, q], dz[q]])
            value[p, q] = line_potential(apart, direction[q].T, length[q], thick2[p, q])
        total += strength * value
    return made.scale * total
