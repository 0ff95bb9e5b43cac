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
from bondwright.site.model import Position
from bondwright.studies.condense import Condensed

_AT_ONCE: Final = 16
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
        self._factors = []
        if count > 1:
            for rows in self._members:
                part = csc_array(csr_array(matrix[:, rows])[rows])
                self._factors.append(splu(part, permc_spec="MMD_AT_PLUS_A"))

    def _back(self, right: Complex) -> Complex:
        if not getattr(self, "_factors", None) or right.ndim == 1:
            return super()._back(right)
        found = np.zeros_like(right, order="F")
        for rows, factor in zip(self._members, self._factors, strict=True):
            there = right[rows]
            columns = np.flatnonzero(there.any(axis=0))
            for first in range(0, len(columns), _AT_ONCE):
                some = columns[first : first + _AT_ONCE]
                found[np.ix_(rows, some)] = factor.solve(np.asfortranarray(there[:, some]))
        return found

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
        sides = [(f"{run.to}/in", run.to), (f"{run.id}/out", run.from_)]
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
