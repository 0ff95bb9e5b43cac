"""Electrodes that stand in the same ground: resistances, shares of current, potentials.

A segment (boundary element) method: every wire is cut into pieces, each lets its current out
evenly, and the mean potential along every piece of an electrode is the same (Galerkin's condition,
which keeps the matrix symmetric). Metal itself has no drop: right for power frequency and
electrodes up to some tens of metres, not for long pipes or lightning.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from bondwright.earth.matrix import piece_matrix, point_matrix
from bondwright.earth.pieces import Pieces, cut, overlapping
from bondwright.earth.shapes import Electrode
from bondwright.earth.soil import Array, Soil


@dataclass(frozen=True, slots=True)
class Joined:
    """Electrodes joined to one another, all others left alone.

    Attributes:
        resistance_ohm: to remote earth [ohm].
        shares: part of the current that each takes; they sum to 1.
        floating: potential of each that is left alone, as a part of the joined ones'.
    """

    resistance_ohm: float
    shares: Mapping[str, float]
    floating: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class ElectrodeSystem:
    """Electrodes in soil, solved.

    Attributes:
        soil: the layers.
        electrodes: in the order of the matrix.
        pieces: what they were cut into.
        resistance_ohm: potential of each electrode for an ampere into another, shape (e, e),
            symmetric [ohm].
        spread: part of an electrode's ampere that leaves each piece, shape (pieces, e): others
            carry none in sum.
    """

    soil: Soil
    electrodes: tuple[Electrode, ...]
    pieces: Pieces
    resistance_ohm: Array
    spread: Array

    @property
    def names(self) -> tuple[str, ...]:
        """Labels, in the order of the matrix."""
        return tuple(electrode.name for electrode in self.electrodes)

    def alone(self, name: str) -> float:
        """Return the resistance of one electrode to remote earth, others joined to nothing [ohm].

        Raises:
            KeyError: no such electrode.
        """
        index = self._index(name)
        return float(self.resistance_ohm[index, index])

    def joined(self, names: Sequence[str] | None = None) -> Joined:
        """Return what some electrodes make together (all by default).

        Raises:
            KeyError: no such electrode.
        """
        chosen = [self._index(name) for name in (names if names is not None else self.names)]
        part = self.resistance_ohm[np.ix_(chosen, chosen)]
        currents = np.linalg.solve(part, np.ones(len(chosen)))
        total = float(currents.sum())
        potential = self.resistance_ohm[:, chosen] @ currents
        rest = [i for i in range(len(self.electrodes)) if i not in chosen]
        return Joined(
            1 / total,
            MappingProxyType(
                {self.names[i]: float(c / total) for i, c in zip(chosen, currents, strict=True)}
            ),
            MappingProxyType({self.names[i]: float(potential[i]) for i in rest}),
        )

    def currents(self, amperes: float, names: Sequence[str] | None = None) -> dict[str, float]:
        """Return the current of every electrode when some, joined, take so much together [A]."""
        shares = self.joined(names).shares
        return {name: amperes * shares.get(name, 0.0) for name in self.names}

    def piece_currents(self, currents: Mapping[str, float]) -> Array:
        """Return what leaves each piece for given electrode currents, shape (pieces,) [A].

        Raises:
            KeyError: no such electrode.
        """
        injected = np.zeros(len(self.electrodes))
        for name, amperes in currents.items():
            injected[self._index(name)] = amperes
        value: Array = self.spread @ injected
        return value

    def potentials(self, currents: Mapping[str, float]) -> dict[str, float]:
        """Return the potential of every electrode against remote earth [V]."""
        injected = np.array([currents.get(name, 0.0) for name in self.names])
        return {
            name: float(v)
            for name, v in zip(self.names, self.resistance_ohm @ injected, strict=True)
        }

    def lift(self, points: Array, of: Sequence[str] | None = None) -> Array:
        """Return what an ampere into each electrode does to points in the ground [ohm].

        Args:
            points: as :meth:`ground_potential`.
            of: electrodes whose metal counts; None for all. Parts add up to the whole: an ampere
                into one is let out again, in part, by the metal of another that it passes.

        Returns:
            Shape (n, e).

        Raises:
            ValueError: as :meth:`ground_potential`.
        """
        where = _with_depth(points)
        if of is None:
            value: Array = point_matrix(self.pieces, self.soil, where) @ self.spread
            return value
        chosen = np.isin(self.pieces.owner, [self._index(name) for name in of])
        part: Array = point_matrix(self.pieces.chosen(chosen), self.soil, where)
        found: Array = part @ self.spread[chosen]
        return found

    def ground_potential(self, currents: Mapping[str, float], points: Array) -> Array:
        """Return potentials in the ground against remote earth [V].

        Args:
            currents: into each electrode, A; those left out carry none.
            points: (x, y) on the surface, or (x, y, depth), shape (n, 2) or (n, 3), m.

        Returns:
            Shape (n,).

        Raises:
            KeyError: no such electrode.
            ValueError: points of another shape, or at different depths.
        """
        flow = self.piece_currents(currents)
        value: Array = point_matrix(self.pieces, self.soil, _with_depth(points)) @ flow
        return value

    def _index(self, name: str) -> int:
        try:
            return self.names.index(name)
        except ValueError:
            raise KeyError(f"no electrode {name!r}; there are {', '.join(self.names)}") from None


def _with_depth(points: Array) -> Array:
    where = np.asarray(points, dtype=float)
    if where.ndim != 2 or where.shape[1] not in (2, 3):
        raise ValueError(f"points of shape {where.shape}; give (n, 2) or (n, 3)")
    if where.shape[1] == 2:
        where = np.column_stack([where, np.zeros(len(where))])
    if len(where) and np.ptp(where[:, 2]) > 0:
        raise ValueError("give points at one depth at a time")
    return where


def solve(soil: Soil, electrodes: Sequence[Electrode], fineness: float = 1.0) -> ElectrodeSystem:
    """Solve electrodes that stand in the same soil.

    Args:
        soil: the layers.
        electrodes: the metal; each is at one potential. Neighbours belong here too.
        fineness: 2 halves the pieces; for a look at convergence.

    Returns:
        The system.

    Raises:
        ValueError: no electrode, two with one name, pieces that lie in each other, too many.
    """
    if not electrodes:
        raise ValueError("no electrode; give one or more")
    names = [electrode.name for electrode in electrodes]
    if len(set(names)) < len(names):
        raise ValueError(f"electrodes must have different names; there are {', '.join(names)}")
    plain = soil.simplified()
    pieces = cut(electrodes, plain, fineness)
    crossed = overlapping(pieces)
    if crossed is not None:
        first, second = (names[pieces.owner[k]] for k in crossed)
        raise ValueError(
            f"metal of {first!r} and {second!r} lies in one another; move one, or describe both "
            "as one"
        )
    matrix = piece_matrix(pieces, plain)
    owner = np.zeros((pieces.length.size, len(electrodes)))
    owner[np.arange(pieces.length.size), pieces.owner] = 1.0
    try:
        field = cho_solve(cho_factor(matrix, lower=True), owner)
    except np.linalg.LinAlgError:
        raise ValueError(
            "electrodes almost lie in one another; move one, or describe both as one"
        ) from None
    conductance = owner.T @ field
    resistance = np.linalg.inv((conductance + conductance.T) / 2)
    return ElectrodeSystem(
        plain, tuple(electrodes), pieces, (resistance + resistance.T) / 2, field @ resistance
    )
