"""Port impedances of defects and faults: everything they do to each other, as small matrices.

Every change of the circuit is a column u and a row v of the bordered system of
:mod:`bondwright.network.solve`. With the ends of the tree taken out
(:class:`bondwright.studies.condense.Condensed`), what one change sees of another is

    Z = V A^-1 U = V_seen K U_seen + V_E A_EE^-1 U_E,

with K the inverse over the unknowns kept; the last part only counts within one end.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

import numpy as np
from scipy.sparse import bsr_array, coo_array, csr_array

from bondwright.network.build import Network
from bondwright.network.circuit import Complex
from bondwright.network.runs import strands
from bondwright.network.solve import Change, Solver
from bondwright.studies.clearing import neutral_weights
from bondwright.studies.condense import Integers, times
from bondwright.studies.defects.catalogue import Defect, changes_of
from bondwright.studies.defects.chained import Chained, pruned
from bondwright.studies.fault_parts import Parts
from bondwright.studies.heat import wire_of


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
        condensed = Chained(network)
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
    def conductor_base(self) -> Integers:
        """Number of the first conductor of every section, counted over all sections."""
        counts = [len(section.names) for section in self.network.circuit.sections]
        return np.cumsum([0, *counts]).astype(np.int64)

    @cached_property
    def carried(self) -> csr_array:
        """Outputs as sums of conductors' currents, shape (outputs, conductors of sections).

        An output that is such a current feels a gap in its own section directly.
        """
        parts, network = self.parts, self.network
        residuals, conductors, metal = parts.first
        rows: list[int] = []
        cols: list[int] = []
        data: list[float] = []

        def put(output: int, section: str, conductor: str, sign: float) -> None:
            k = network.solver.section_index[section]
            rows.append(output)
            cols.append(int(self.conductor_base[k]) + self._place(k, conductor))
            data.append(sign)

        for trip in parts.trips:
            if trip.residual < 0:
                continue
            device = network.devices[parts.devices[trip.device]]
            for kind, of, conductor, sign in neutral_weights(network, device):
                if kind == "section":
                    put(residuals + trip.residual, of, conductor, sign)
        for number, (section, conductor) in enumerate(self.conductors):
            put(conductors + number, section, conductor, 1)
        if conductors + len(self.conductors) != metal:
            msg = "the conductors of a network are not those that its outputs are made of"
            raise ValueError(msg)
        shape = (parts.outputs.shape[0], int(self.conductor_base[-1]))
        return csr_array(coo_array((np.array(data, complex), (rows, cols)), shape=shape))

    def _place(self, section: int, conductor: str) -> int:
        return self.network.circuit.sections[section].names.index(conductor)

    @cached_property
    def conductors(self) -> tuple[tuple[str, str], ...]:
        """(section, conductor) of every wire among the outputs, in their order."""
        return tuple(self._conductors())

    def _conductors(self) -> Iterator[tuple[str, str]]:
        network = self.network
        topology = network.state.topology
        for place in topology.order:
            for run_id in topology.feeds.get(place, ()):
                for part in strands(network.plan.runs[run_id]):
                    if wire_of(network, run_id, part.name) is not None:
                        yield f"run {run_id}", part.name
        for electrode in network.plan.electrodes.values():
            if electrode.conductor is not None and wire_of(network, electrode.id, "metal"):
                yield f"electrode conductor {electrode.id}", "metal"

    def regions(self, seen: csr_array) -> Integers:
        """Return the region of each functional of those kept; -1 for one of nothing."""
        found = np.full(seen.shape[0], -1, dtype=np.int64)
        there = np.flatnonzero(np.diff(seen.indptr))
        found[there] = self.condensed.region[seen.indices[seen.indptr[there]]]
        return found

    @cached_property
    def output_region(self) -> Integers:
        """Region of every output."""
        return self.regions(self.parts.seen)

    def side(self, entries: Sequence[Sequence[tuple[int, complex]]]) -> csr_array:
        """Return columns or rows of changes as a sparse matrix, shape (n, size)."""
        return _rows(entries, self.size)

    def sources(self, u: csr_array) -> tuple[csr_array, csr_array]:
        """Return (weights of columns among those kept, pushes within ends).

        Weights are those of :meth:`Condensed.columns`; pushes are ``A_EE^-1 U_E``, transposed.
        """
        inner = csr_array(u @ self._to_inner)
        seen = csr_array(u @ self._to_kept) + csr_array(inner @ self._drive)
        weights = pruned(csr_array(csr_array(seen) @ self.condensed.pairing))
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
        # Weights have a few entries each: sparse, this is a hundredth of the sums.
        seen = np.ascontiguousarray(times(watched[0], inverse).T)
        found = np.asarray(csr_array(weights[:, columns]) @ seen).T
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


class Role(IntEnum):
    """What the unknown of a change is, and what its row reads.

    The current of a join and the voltage it has across; the voltage of a gap and the current it
    stops; and the two of conductors that land on each other's terminal.
    """

    GAP = 0
    JOIN = 1
    SHIFT = 2
    MOVED = 3


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
        kind: what each change is, a :class:`Role`.
        felt: current in each conductor of a gap's own section for one volt of the gap, S,
            (n, conductors of sections).
    """

    defects: tuple[Defect, ...]
    first: Integers
    u: csr_array
    v: csr_array
    corners: tuple[Complex, ...]
    mirror: Integers
    kind: Integers
    felt: csr_array


def altered(ports: Ports, defects: Sequence[Defect]) -> Altered:
    """Return defects as changes of a network."""
    network = ports.network
    first, mirror, kind = [0], list[int](), list[int]()
    columns: list[tuple[tuple[int, complex], ...]] = []
    rows: list[tuple[tuple[int, complex], ...]] = []
    corners: list[Complex] = []
    felt: list[tuple[tuple[int, complex], ...]] = []
    for defect in defects:
        changes = changes_of(network, defect)
        for k, change in enumerate(changes):
            columns.append(change.u)
            rows.append(change.v)
            felt.append(_felt(ports, change))
            role, turned = _role(changes, k)
            kind.append(role)
            mirror.append(first[-1] + turned)
        corners.append(corner(network.solver, changes))
        first.append(first[-1] + len(changes))
    return Altered(
        tuple(defects),
        np.array(first, dtype=np.int64),
        ports.side(columns),
        ports.side(rows),
        tuple(corners),
        np.array(mirror, dtype=np.int64),
        np.array(kind, dtype=np.int64),
        _rows(felt, int(ports.conductor_base[-1])),
    )


def _felt(ports: Ports, change: Change) -> tuple[tuple[int, complex], ...]:
    if change.section < 0:
        return ()
    first = int(ports.conductor_base[change.section])
    felt = ports.network.solver.admittances[change.section] @ np.asarray(change.pattern)
    return tuple((first + i, complex(value)) for i, value in enumerate(felt))


def _rows(entries: Sequence[Sequence[tuple[int, complex]]], width: int) -> csr_array:
    row = [k for k, pairs in enumerate(entries) for _ in pairs]
    col = [at for pairs in entries for at, _ in pairs]
    data = [value for pairs in entries for _, value in pairs]
    sides = (np.array(row, int), np.array(col, int))
    return csr_array(coo_array((np.array(data, complex), sides), shape=(len(entries), width)))


def _role(changes: Sequence[Change], k: int) -> tuple[Role, int]:
    """Return what change k is, and which one's row is its column."""
    one = changes[k]
    if one.joins is not None:
        return Role.JOIN, k
    if one.partners:
        return Role.MOVED, k - 1
    after = changes[k + 1] if k + 1 < len(changes) else None
    if after is not None and after.partners and after.partners[0][0] == one.label:
        return Role.SHIFT, k + 1
    return Role.GAP, k
