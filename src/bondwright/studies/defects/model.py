"""Port impedances of defects and faults: everything they do to each other, as small matrices.

Every change of the circuit is a column u and a row v of the bordered system of
:mod:`bondwright.network.solve`. With the ends of the tree taken out
(:class:`bondwright.studies.condense.Condensed`), what one change sees of another is

    Z = V A^-1 U = V_seen K U_seen + V_E A_EE^-1 U_E,

with K the inverse over the unknowns kept; the last part only counts within one end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import bsr_array, coo_array, csr_array

from bondwright.network.build import Network
from bondwright.network.circuit import Complex
from bondwright.network.solve import Change, Solver
from bondwright.studies.condense import Integers, times
from bondwright.studies.defects.catalogue import Defect, changes_of
from bondwright.studies.fault_parts import Parts


class Ports:
    """A network whose changes are seen as ports.

    Args:
        network: the network.

    Attributes:
        network: the network.
        parts: its elements, outputs and limits.
        size: unknowns of the circuit.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self.parts = Parts(network)
        self.size = network.solver.size
        condensed = self.parts.condensed
        self.condensed = condensed
        self.kept = len(condensed.kept)
        blocks, self.width = condensed.inverse.shape[:2]
        self.inner_size = blocks * self.width
        at = np.flatnonzero(condensed.block >= 0)
        where = condensed.block[at] * self.width + condensed.local[at]
        shape = (self.size, max(self.inner_size, 1))
        self._to_inner = csr_array(coo_array((np.ones(len(at), complex), (at, where)), shape=shape))
        kept = condensed.kept
        number = np.arange(self.kept)
        self._to_kept = csr_array(
            coo_array((np.ones(len(kept), complex), (kept, number)), shape=(self.size, self.kept))
        )
        q = condensed.touches.shape[1]
        if blocks and q:
            row = np.repeat(np.arange(self.inner_size), q)
            touch = np.repeat(condensed.touches, self.width, axis=0).ravel()
            value = condensed.drive.transpose(0, 2, 1).reshape(-1)
            real = value != 0
            drive = coo_array(
                (value[real], (row[real], touch[real])), shape=(self.inner_size, self.kept)
            )
            index = np.arange(blocks)
            inverse = bsr_array(
                (condensed.inverse, index, np.arange(blocks + 1)),
                shape=(self.inner_size, self.inner_size),
            )
            self._drive = csr_array(drive)
            self._inverse = csr_array(inverse)
        else:
            self._drive = csr_array((max(self.inner_size, 1), self.kept), dtype=complex)
            inside = max(self.inner_size, 1)
            self._inverse = csr_array((inside, inside), dtype=complex)

    @cached_property
    def reciprocal(self) -> bool:
        """Whether every section's matrix is symmetric (no machine turns)."""
        return all(np.allclose(s.impedance, s.impedance.T) for s in self.network.circuit.sections)

    def side(self, entries: Sequence[Sequence[tuple[int, complex]]]) -> csr_array:
        """Return columns or rows of changes as a sparse matrix, shape (n, size)."""
        row = [k for k, pairs in enumerate(entries) for _ in pairs]
        col = [at for pairs in entries for at, _ in pairs]
        data = [value for pairs in entries for _, value in pairs]
        return csr_array(
            coo_array(
                (np.array(data, complex), (np.array(row, int), np.array(col, int))),
                shape=(len(entries), self.size),
            )
        )

    def sources(self, u: csr_array) -> tuple[csr_array, csr_array]:
        """Return (weights of columns among those kept, pushes within ends).

        Weights are those of :meth:`Condensed.columns`; pushes are ``A_EE^-1 U_E``, transposed.
        """
        inner = csr_array(u @ self._to_inner)
        seen = csr_array(u @ self._to_kept) + csr_array(inner @ self._drive)
        weights = csr_array(csr_array(seen) @ self.condensed.pairing)
        return weights, csr_array(inner @ self._inverse.T)

    def watches(self, v: csr_array) -> tuple[csr_array, csr_array]:
        """Return (functionals of those kept, parts within ends)."""
        return self.condensed.seen(v), csr_array(v @ self._to_inner)

    def undisturbed(self, seen: csr_array) -> Complex:
        """Return functionals of the undisturbed circuit."""
        return times(seen, self.condensed.base)

    def couple(
        self,
        watched: tuple[csr_array, csr_array],
        weights: csr_array,
        pushes: csr_array,
        columns: Integers,
        inverse: Complex,
    ) -> Complex:
        """Return ``V A^-1 U``, dense, shape (rows of V, changes).

        Args:
            watched: from :meth:`watches`.
            weights: from :meth:`sources`.
            pushes: from :meth:`sources`.
            columns: the columns that the weights use.
            inverse: those columns of K, (kept, len(columns)).
        """
        found = times(watched[0], inverse) @ weights[:, columns].toarray().T
        inside = coo_array(watched[1] @ pushes.T)
        found[inside.row, inside.col] += inside.data
        return np.asarray(found, dtype=np.complex128)


def used(weights: csr_array) -> Integers:
    """Return the columns that weights use."""
    return np.unique(weights.indices).astype(np.int64)


def corner(solver: Solver, changes: Sequence[Change]) -> Complex:
    """Return D of the bordered system for changes made together, shape (k, k)."""
    d = np.diag(np.array([change.d for change in changes], dtype=np.complex128))
    place = {change.label: i for i, change in enumerate(changes)}
    for i, one in enumerate(changes):
        for label, value in one.partners:
            d[i, place[label]] += value
        if one.section < 0:
            continue
        felt = solver.admittances[one.section] @ np.asarray(one.pattern)
        for j, other in enumerate(changes):
            if other.section == one.section:
                d[j, i] -= complex(np.asarray(other.pattern) @ felt)
    return d


@dataclass(frozen=True, slots=True, eq=False)
class Altered:
    """All defects as changes of one network.

    Attributes:
        defects: the defects, nD of them.
        first: first change of each, (nD + 1,); those of defect d are first[d] to first[d + 1].
        u: columns, (n, size).
        v: rows, (n, size).
        corners: D of each defect.
        mirror: for each change the one whose row is its column: itself for a join or a gap.
        joins: whether each change is a join, else it is a gap.
        sections: sections in which each defect has gaps.
    """

    defects: tuple[Defect, ...]
    first: Integers
    u: csr_array
    v: csr_array
    corners: tuple[Complex, ...]
    mirror: Integers
    joins: np.ndarray
    sections: tuple[frozenset[int], ...]


def altered(ports: Ports, defects: Sequence[Defect]) -> Altered:
    """Return defects as changes of a network."""
    network = ports.network
    first, columns, rows, corners, mirror, joins, sections = [0], [], [], [], [], [], []
    for defect in defects:
        changes = changes_of(network, defect)
        crossed = len(changes) == 2 and bool(changes[1].partners)
        for k, change in enumerate(changes):
            columns.append(change.u)
            rows.append(change.v)
            mirror.append(first[-1] + (1 - k if crossed else k))
            joins.append(change.joins is not None)
        corners.append(corner(network.solver, changes))
        sections.append(frozenset(c.section for c in changes if c.section >= 0))
        first.append(first[-1] + len(changes))
    return Altered(
        tuple(defects),
        np.array(first, dtype=np.int64),
        ports.side(columns),
        ports.side(rows),
        tuple(corners),
        np.array(mirror, dtype=np.int64),
        np.array(joins, dtype=bool),
        tuple(sections),
    )
