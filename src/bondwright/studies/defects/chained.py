"""A condensed network whose columns are those of currents that come home nearby.

A change between two places pushes a current in at one and out at the other. As a sum of columns
that each come home through the earth, the volts of the earth would drown those of the change.
Here every terminal is paired with one near it and the metal of every place with that of the
place ahead of it, so that what is pushed around a loop is a sum of small loops.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.sparse import csc_array, csr_array
from scipy.sparse.csgraph import connected_components
from scipy.sparse.linalg import splu

from bondwright.network.build import Network
from bondwright.network.circuit import Complex
from bondwright.network.names import out_of
from bondwright.site.model import Position
from bondwright.studies.condense import KEPT_BYTES, Condensed, Integers, refined

_ROUNDING: Final = 4e-15
"""Weights below this part of the largest of their change are what rounding left of nothing."""


class Chained(Condensed):
    """A network without its ends, its columns paired along the tree.

    Attributes:
        region: which region each of those kept is in. Buildings that share nothing but remote
            earth are regions by themselves: nothing in one moves anything in another.
    """

    def _pair_along_regions(self) -> None:
        matrix = csc_array(self._matrix)
        # Only where entries are counts, not what they are: an entry may be purely imaginary.
        shape = matrix.shape
        pattern = csc_array((np.ones(matrix.nnz), matrix.indices, matrix.indptr), shape=shape)
        count, label = connected_components(pattern, directed=False)
        self.region = label.astype(np.int64)
        self._members = [np.flatnonzero(label == k) for k in range(count)]
        self._parts = [csc_array(matrix)]
        self._factors = [self._factor]
        if count > 1:
            rows_of = csr_array(matrix)
            self._parts = [csc_array(csc_array(rows_of[rows])[:, rows]) for rows in self._members]
            self._factors = [splu(part, permc_spec="MMD_AT_PLUS_A") for part in self._parts]
        self._within = np.empty(len(label), dtype=np.int64)
        for rows in self._members:
            self._within[rows] = np.arange(len(rows))
        largest = max((len(rows) for rows in self._members), default=1)
        self._most = max(64, KEPT_BYTES // (16 * largest))

    def columns(self, at: Integers) -> Complex:
        """Return what unit currents do to those kept, shape (nK, len(at)).

        As :meth:`Condensed.columns`, but each column is solved and kept in its region alone.
        """
        found = np.zeros((len(self.kept), len(at)), dtype=np.complex128)
        regions = self.region[at]
        for number in np.unique(regions).tolist():
            some = np.flatnonzero(regions == number)
            self._fill(number, [int(k) for k in at[some] if int(k) not in self._columns])
            rows = self._members[number]
            local = np.empty((len(rows), len(some)), dtype=np.complex128)
            for n, k in enumerate(at[some].tolist()):
                self._columns.move_to_end(k)
                local[:, n] = self._columns[k]
            found[np.ix_(rows, some)] = local
        while len(self._columns) > self._most:
            self._columns.popitem(last=False)
        return found

    def _fill(self, number: int, lacking: list[int]) -> None:
        """Solve columns of one region."""
        if not lacking:
            return
        matrix, factor = self._parts[number], self._factors[number]
        right = np.zeros((len(self._members[number]), len(lacking)), dtype=np.complex128, order="F")
        column = np.arange(len(lacking))
        right[self._within[lacking], column] = 1
        other = self._other[lacking]
        right[self._within[other[other >= 0]], column[other >= 0]] -= 1
        for k, solved in zip(lacking, refined(factor, matrix, right).T, strict=True):
            self._columns[k] = np.ascontiguousarray(solved)

    def _pair_up(self, network: Network) -> None:
        self._pair_along_regions()
        solver = network.solver
        partner = _partners(network)
        n = len(self.kept)
        self._other = np.full(n, -1, dtype=np.int64)
        row, col = list(range(n)), list(range(n))
        for name, node in solver.index.items():
            if self.block[node] >= 0:
                continue
            here = int(self.local[node])
            seen, at = {name}, partner.get(name)
            first = True
            while at is not None and at not in seen:
                seen.add(at)
                other = solver.index.get(at, -1)
                if other >= 0 and self.block[other] < 0:
                    if self.region[self.local[other]] != self.region[here]:
                        break
                    if first:
                        self._other[here] = self.local[other]
                        first = False
                    row.append(here)
                    col.append(int(self.local[other]))
                at = partner.get(at)
        self.pairing = csr_array((np.ones(len(row)), (row, col)), shape=(n, n))


def pruned(weights: csr_array) -> csr_array:
    """Return weights without what rounding left of nothing."""
    row = np.repeat(np.arange(weights.shape[0]), np.diff(weights.indptr))
    size = np.abs(weights.data)
    most = np.zeros(weights.shape[0])
    np.maximum.at(most, row, size)
    kept = size > _ROUNDING * most[row]
    return csr_array((weights.data[kept], (row[kept], weights.indices[kept])), shape=weights.shape)


def _partners(network: Network) -> dict[str, str]:
    """Return for every node the one that its column comes home by."""
    plan, topology = network.plan, network.plan.topology
    tied = {topology.systems[tie.at].origin for tie in plan.ties if tie.at in topology.systems}
    found: dict[str, str] = {}
    for node in network.solver.index:
        place, _, terminal = node.rpartition(":")
        if terminal in {"L2", "L3", "N"}:
            found[node] = f"{place}:L1"
        elif terminal in {"H2", "H3", "H0"}:
            found[node] = f"{place}:H1"
        elif terminal in {"L1", "H1"}:
            found[node] = f"{place}:G"
    for run in plan.runs.values():
        sides = [(f"{run.to}/in", run.to), (out_of(run.id), run.from_)]
        sides += [(f"{run.to}/{side.value}", run.to) for side in Position]
        for split, place in sides:
            for terminal in ("L1", "L2", "L3", "N"):
                if f"{split}:{terminal}" in network.solver.index:
                    found[f"{split}:{terminal}"] = f"{place}:{terminal}"
        found.setdefault(f"{run.to}:G", f"{run.from_}:G")
        if topology.system_of_run(run.id).origin not in tied:
            # What is pushed into a system that floats has nowhere to go but the capacitance of
            # its wires: kilovolts per ampere. So its lines come home to its origin first.
            found[f"{run.to}:L1"] = f"{run.from_}:L1"
    for tie in plan.ties:
        found[f"tie {tie.id}"] = f"{tie.at}:{tie.line or 'N'}"
    for electrode in plan.electrodes.values():
        found[f"electrode {electrode.id}"] = f"{electrode.at}:G"
    for name, item in plan.site.metal.items():
        for k, tap in enumerate(item.taps):
            found[f"metal {name} tap {k}"] = f"{tap.to}:G"
    return found
