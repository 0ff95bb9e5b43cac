"""Wires cut into pieces, and the mean inverse distance between a piece and another or its image."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bondwright.earth.shapes import Electrode, Point
from bondwright.earth.soil import Array, Soil

MAX_PIECES: Final = 4000
"""Most pieces solved together."""
_AIM: Final = 400
_LEAST_CUT: Final = 2
_MOST_CUT: Final = 24
_THICK: Final = 4.0
_LEVEL: Final = 0.99
NEAR: Final = 1.25
"""Pieces nearer than this times their joint length are integrated, others expanded."""
_GAUSS: Final = np.polynomial.legendre.leggauss(6)


@dataclass(frozen=True, slots=True)
class Pieces:
    """Straight pieces, each in one layer.

    Attributes:
        middle: shape (n, 3) [m].
        along: unit vectors, shape (n, 3).
        length: shape (n,) [m].
        radius: shape (n,) [m].
        layer: number of the layer, shape (n,).
        owner: number of the electrode, shape (n,).
        coat: series resistance of what wraps each, shape (n,) [ohm].
    """

    middle: Array
    along: Array
    length: Array
    radius: Array
    layer: NDArray[np.int64]
    owner: NDArray[np.int64]
    coat: Array

    def chosen(self, which: NDArray[np.bool_]) -> Pieces:
        """Return some of them.

        Args:
            which: shape (n,).
        """
        return Pieces(
            self.middle[which],
            self.along[which],
            self.length[which],
            self.radius[which],
            self.layer[which],
            self.owner[which],
            self.coat[which],
        )


def cut(electrodes: Sequence[Electrode], soil: Soil, fineness: float = 1.0) -> Pieces:
    """Cut electrodes into pieces, at the boundaries of layers and finer.

    Args:
        electrodes: the metal.
        soil: the layers.
        fineness: 2 makes pieces half as long.

    Returns:
        The pieces.

    Raises:
        ValueError: more than :data:`MAX_PIECES`.
    """
    total = sum(electrode.length_m for electrode in electrodes)
    aim = total / _AIM / fineness
    rows: list[tuple[Point, Point, float, float, int]] = []
    for owner, electrode in enumerate(electrodes):
        for wire in electrode.wires:
            for start, end in _in_layers(wire.start, wire.end, soil):
                length = math.dist(start, end)
                most = max(int(length / (_THICK * wire.radius_m)), 1)
                count = math.ceil(min(max(length / aim, _LEAST_CUT * fineness), most))
                count = max(min(count, math.ceil(_MOST_CUT * fineness)), 1)
                for index in range(count):
                    ends_here = (
                        _between(start, end, index / count),
                        _between(start, end, (index + 1) / count),
                    )
                    rows.append((*ends_here, wire.radius_m, wire.coat_ohm_m, owner))
            if len(rows) > MAX_PIECES:
                raise ValueError(
                    f"the electrodes make more than {MAX_PIECES} pieces; join small parts, or "
                    "describe the far ones more simply"
                )
    starts, ends = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    lengths = np.linalg.norm(ends - starts, axis=1)
    middle = (starts + ends) / 2
    return Pieces(
        middle=middle,
        along=(ends - starts) / lengths[:, None],
        length=lengths,
        radius=np.array([row[2] for row in rows]),
        layer=np.searchsorted(np.array(soil.tops_m[1:]), middle[:, 2], side="left"),
        owner=np.array([row[4] for row in rows]),
        coat=np.array([row[3] for row in rows]) / lengths,
    )


def _between(start: Point, end: Point, part: float) -> Point:
    return (
        start[0] + (end[0] - start[0]) * part,
        start[1] + (end[1] - start[1]) * part,
        start[2] + (end[2] - start[2]) * part,
    )


def _in_layers(start: Point, end: Point, soil: Soil) -> list[tuple[Point, Point]]:
    fall = end[2] - start[2]
    parts = [0.0, 1.0]
    if fall != 0:
        # slivers at a boundary would be thicker than long
        at = [(top - start[2]) / fall for top in soil.tops_m[1:]]
        parts = [0.0, *sorted(part for part in at if 1e-3 < part < 1 - 1e-3), 1.0]
    points = [_between(start, end, part) for part in parts]
    return list(itertools.pairwise(points))


def overlapping(pieces: Pieces) -> tuple[int, int] | None:
    """Return two pieces that lie in one another, or None.

    Ends may meet; the middle of a piece may not lie within metal of another electrode.
    """
    half = pieces.length / 2
    for index, middle in enumerate(pieces.middle):
        apart = middle - pieces.middle
        shift = np.clip(np.einsum("ij,ij->i", apart, pieces.along), -half, half)
        gap = np.linalg.norm(apart - shift[:, None] * pieces.along, axis=1)
        gap[index] = math.inf
        near = gap < 0.9 * np.maximum(pieces.radius, pieces.radius[index])
        # wires of one electrode may cross, but not run within each other
        level = np.abs(pieces.along @ pieces.along[index]) > _LEVEL
        inside = np.flatnonzero(near & (level | (pieces.owner != pieces.owner[index])))
        if inside.size:
            return index, int(inside[0])
    return None


def line_potential(apart: Array, along: Array, length: Array, thick2: Array) -> Array:
    """Return the mean inverse distance of points to straight pieces [1/m].

    Args:
        apart: point minus middle of the piece, shape (3, ...), m.
        along: unit vectors of the pieces, shape (3, ...).
        length: lengths, shape (...), m.
        thick2: square of the least distance from the axis, shape (...), m2.

    Returns:
        Shape (...).
    """
    shift = np.sum(apart * along, axis=0)
    across = np.sqrt(np.maximum(np.sum(apart**2, axis=0) - shift**2, thick2))
    half = length / 2
    value: Array = (
        np.arcsinh((shift + half) / across) - np.arcsinh((shift - half) / across)
    ) / length
    return value


def pair_mean(
    apart: Array, along_i: Array, along_j: Array, length_i: Array, length_j: Array, thick2: Array
) -> Array:
    """Return the mean inverse distance between near pieces by Gauss' rule on the first [1/m].

    Args:
        apart: middle of i minus middle of j, shape (3, n), m.
        along_i: unit vectors, shape (3, n).
        along_j: unit vectors, shape (3, n).
        length_i: shape (n,), m.
        length_j: shape (n,), m.
        thick2: square of the least distance from the axis, shape (n,), m2.

    Returns:
        Shape (n,).
    """
    total = np.zeros(apart.shape[1])
    for node, weight in zip(*_GAUSS, strict=True):
        point = apart + along_i * (node / 2 * length_i)
        total += weight / 2 * line_potential(point, along_j, length_j, thick2)
    return total


def self_mean(length: Array, radius: Array) -> Array:
    """Return the mean inverse distance of a piece's surface to its own axis [1/m].

    ``2/L (asinh(L/a) - sqrt(1 + (a/L)^2) + a/L)``: average potential, as H. B. Dwight and
    G. W. O. Howe take it.

    Args:
        length: shape (n,), m.
        radius: shape (n,), m.

    Returns:
        Shape (n,).
    """
    ratio = radius / length
    value: Array = 2 / length * (np.arcsinh(1 / ratio) - np.hypot(1, ratio) + ratio)
    return value
