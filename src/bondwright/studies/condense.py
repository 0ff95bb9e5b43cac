"""A network with the ends of its tree taken out: what happens there, seen from where they hang.

Most places of a building are ends: an outlet, a machine, with one run to it and nothing behind
it. The unknowns of each end (its terminals, its run's device) couple only with the terminals it
hangs from. They are eliminated exactly, all ends at once, and what remains is small (Schur's
complement; see e.g. T. A. Davis, Direct Methods for Sparse Linear Systems, SIAM 2006). With
``E`` the unknowns of an end and ``K`` those kept,

    x_E = A_EE^-1 (b_E - A_EK x_K),    (A_KK - sum A_KE A_EE^-1 A_EK) x_K = b_K - ...
"""

from __future__ import annotations

from collections import Counter, OrderedDict
from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csc_array, csr_array
from scipy.sparse.linalg import SuperLU, splu

from bondwright.network.build import Network
from bondwright.network.circuit import Complex
from bondwright.network.names import out_of

Integers = npt.NDArray[np.int64]

_TERMINALS: Final = ("L1", "L2", "L3", "N", "G")
_REFINE: Final = 1
_AT_ONCE: Final = 16
KEPT_BYTES: Final = 256 * 2**20
"""Memory for columns that are kept for the next question."""


def times(rows: csr_array | csc_array, x: Complex) -> Complex:
    """Return sparse rows times dense columns, dense."""
    return np.asarray(rows @ x, dtype=np.complex128)


def refined(factor: SuperLU, matrix: csc_array, right: Complex) -> Complex:
    """Return the solution of a factored matrix for some right-hand sides, refined.

    Args:
        factor: of the matrix.
        matrix: shape (n, n).
        right: shape (n,) or (n, k).
    """
    found = _back(factor, right)
    for _ in range(_REFINE):
        found += _back(factor, right - times(matrix, found))
    return found


def _back(factor: SuperLU, right: Complex) -> Complex:
    if right.ndim == 1:
        return np.asarray(factor.solve(right), dtype=np.complex128)
    # Few columns at a time: for many, threads of the linear algebra library get in each
    # other's way and take ten times as long.
    found = np.empty_like(right, order="F")
    for first in range(0, right.shape[1], _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        found[:, some] = factor.solve(np.asfortranarray(right[:, some]))
    return found


class Condensed:
    """A network without its ends.

    Args:
        network: built without loads.

    Attributes:
        ends: the places taken out, in order; a block each.
        block: block of every unknown, -1 where it is kept.
        local: its place within its block, or among those kept.
        kept: the unknowns kept, nK of them.
        touches: for each block the places among those kept that it couples with, (nB, q);
            unused ones are 0 and have zero coefficients.
        inverse: ``A_EE^-1`` of each block, (nB, s, s); unused unknowns stand alone.
        drive: ``-A_KE A_EE^-1``, (nB, q, s): how a source in a block is seen outside.
        follow: ``-A_EE^-1 A_EK``, (nB, s, q): how a block follows the outside.
        base: the undisturbed solution of those kept, (nK,).
        pairing: turns sources among those kept into weights of :meth:`columns`.
    """

    def __init__(self, network: Network) -> None:
        solver = network.solver
        matrix = solver.matrix.tocoo()
        rows, cols = (np.asarray(x, dtype=np.int64) for x in (matrix.row, matrix.col))
        data = np.asarray(matrix.data, dtype=np.complex128)
        self.block = np.full(solver.size, -1, dtype=np.int64)
        names: list[str] = []
        for place, members in _ends(network):
            self.block[members] = len(names)
            names.append(place)
        self._keep_coupled(rows, cols, solver.right_side, len(names))
        used = np.unique(self.block[self.block >= 0])
        renumber = np.full(len(names) + 1, -1, dtype=np.int64)
        renumber[used] = np.arange(len(used))
        self.block = renumber[self.block]
        self.ends = tuple(names[k] for k in used)
        self.kept = np.flatnonzero(self.block < 0)
        self.local = np.empty(solver.size, dtype=np.int64)
        self.local[self.kept] = np.arange(len(self.kept))
        sizes = self._number_within()
        self._split(rows, cols, data, sizes)
        self.base = self._solve(solver.right_side[self.kept])
        self._pair_up(network)
        self._columns: OrderedDict[int, Complex] = OrderedDict()
        self._most = max(64, KEPT_BYTES // (16 * max(len(self.kept), 1)))

    def _keep_coupled(self, rows: Integers, cols: Integers, drive: Complex, count: int) -> None:
        """Take back ends that couple with each other or hold a source."""
        one, other = self.block[rows], self.block[cols]
        clash = (one >= 0) & (other >= 0) & (one != other)
        driven = self.block[np.flatnonzero(drive)]
        back = np.zeros(count + 1, dtype=bool)
        for found in (one[clash], other[clash], driven[driven >= 0]):
            back[found] = True
        self.block[back[self.block] & (self.block >= 0)] = -1

    def _number_within(self) -> int:
        members = np.flatnonzero(self.block >= 0)
        order = members[np.argsort(self.block[members], kind="stable")]
        owner = self.block[order]
        counts = np.bincount(owner, minlength=len(self.ends))
        first = np.concatenate([[0], np.cumsum(counts)[:-1]]) if len(counts) else counts
        self.local[order] = np.arange(len(order)) - first[owner]
        return int(counts.max(initial=0))

    def _split(self, rows: Integers, cols: Integers, data: Complex, s: int) -> None:
        n, kept = len(self.ends), len(self.kept)
        one, other = self.block[rows], self.block[cols]
        inside = (one >= 0) & (other >= 0)
        own = np.broadcast_to(np.eye(s, dtype=np.complex128), (n, s, s)).copy()
        used = np.zeros((n, s), dtype=bool)
        members = np.flatnonzero(self.block >= 0)
        used[self.block[members], self.local[members]] = True
        own[used] = 0
        np.add.at(
            own, (one[inside], self.local[rows[inside]], self.local[cols[inside]]), data[inside]
        )
        out = (one >= 0) & (other < 0)
        back = (one < 0) & (other >= 0)
        pairs = np.unique(
            np.concatenate(
                [
                    one[out] * kept + self.local[cols[out]],
                    other[back] * kept + self.local[rows[back]],
                ]
            )
        )
        owner, at = np.divmod(pairs, max(kept, 1))
        counts = np.bincount(owner, minlength=n)
        first = np.concatenate([[0], np.cumsum(counts)[:-1]]) if n else counts
        q = int(counts.max(initial=0))
        rank = np.arange(len(pairs)) - first[owner]
        self.touches = np.zeros((n, q), dtype=np.int64)
        self.touches[owner, rank] = at

        def slot(block: Integers, where: Integers) -> Integers:
            return rank[np.searchsorted(pairs, block * kept + where)]

        to_kept = np.zeros((n, s, q), dtype=np.complex128)
        spot = slot(one[out], self.local[cols[out]])
        np.add.at(to_kept, (one[out], self.local[rows[out]], spot), data[out])
        from_kept = np.zeros((n, q, s), dtype=np.complex128)
        spot = slot(other[back], self.local[rows[back]])
        np.add.at(from_kept, (other[back], spot, self.local[cols[back]]), data[back])
        self.inverse = np.linalg.inv(own)
        self.drive = -from_kept @ self.inverse
        self.follow = -self.inverse @ to_kept
        added = from_kept @ self.follow
        row = np.broadcast_to(self.touches[:, :, None], added.shape)
        col = np.broadcast_to(self.touches[:, None, :], added.shape)
        rest = (one < 0) & (other < 0)
        self._matrix = csc_array(
            coo_array(
                (
                    np.concatenate([data[rest], added.ravel()]),
                    (
                        np.concatenate([self.local[rows[rest]], row.ravel()]),
                        np.concatenate([self.local[cols[rest]], col.ravel()]),
                    ),
                ),
                shape=(kept, kept),
            )
        )
        self._matrix.sum_duplicates()
        self._matrix.eliminate_zeros()
        self._factor = splu(self._matrix, permc_spec="MMD_AT_PLUS_A")

    def _pair_up(self, network: Network) -> None:
        """Give every terminal kept another of its place as the other end of its column.

        What goes in at a single terminal comes home through the earth, with volts that would
        drown those of a fault loop; what goes in at one and out at another doesn't. Lines and
        neutral are paired with the first line, and that with the metal.
        """
        solver = network.solver
        n = len(self.kept)
        self._other = np.full(n, -1, dtype=np.int64)
        row, col = [np.arange(n)], [np.arange(n)]
        for name, node in solver.index.items():
            if self.block[node] >= 0:
                continue
            chain = [solver.index.get(other, -1) for other in _partners(name)]
            chain = [other for other in chain if other >= 0 and self.block[other] < 0]
            if chain:
                here, ways = self.local[node], self.local[chain]
                self._other[here] = ways[0]
                row.append(np.full(len(ways), here))
                col.append(ways)
        rows, cols = np.concatenate(row), np.concatenate(col)
        self.pairing = csr_array((np.ones(len(rows)), (rows, cols)), shape=(n, n))

    def solve(self, right: Complex) -> Complex:
        """Return what sources among those kept do to those kept, shape (nK,) or (nK, n)."""
        return self._solve(right)

    def _solve(self, right: Complex) -> Complex:
        return refined(self._factor, self._matrix, right)

    def columns(self, at: Integers) -> Complex:
        """Return what unit currents do to those kept, shape (nK, len(at)).

        Column k is that of a current into k and out of its partner, where it has one.
        Sources among those kept become weights of these columns by ``pairing``.
        """
        lacking = [int(k) for k in at if int(k) not in self._columns]
        if lacking:
            right = np.zeros((len(self.kept), len(lacking)), dtype=np.complex128, order="F")
            number = np.arange(len(lacking))
            right[lacking, number] = 1
            other = self._other[lacking]
            right[other[other >= 0], number[other >= 0]] -= 1
            for k, column in zip(lacking, self._solve(right).T, strict=True):
                self._columns[k] = np.ascontiguousarray(column)
        found = np.empty((len(self.kept), len(at)), dtype=np.complex128)
        for n, k in enumerate(at):
            self._columns.move_to_end(int(k))
            found[:, n] = self._columns[int(k)]
        while len(self._columns) > self._most:
            self._columns.popitem(last=False)
        return found

    def seen(self, rows: csr_array) -> csr_array:
        """Return functionals of all unknowns as functionals of those kept, blocks undisturbed.

        Args:
            rows: shape (n, size).

        Returns:
            Shape (n, nK).
        """
        flat = rows.tocoo()
        at, which = np.asarray(flat.row, np.int64), np.asarray(flat.col, np.int64)
        values = np.asarray(flat.data, np.complex128)
        ended = self.block[which] >= 0
        blocks, inner = self.block[which[ended]], self.local[which[ended]]
        spread = self.follow[blocks, inner] * values[ended][:, None]
        row = np.concatenate(
            [at[~ended], np.repeat(at[ended], spread.shape[1] if spread.ndim > 1 else 0)]
        )
        col = np.concatenate([self.local[which[~ended]], self.touches[blocks].ravel()])
        entries = np.concatenate([values[~ended], spread.ravel()])
        return csr_array(coo_array((entries, (row, col)), shape=(rows.shape[0], len(self.kept))))


def _partners(node: str) -> tuple[str, ...]:
    """Return the terminals that a node's column goes out by: the next one, and so on."""
    place, _, terminal = node.rpartition(":")
    metal = f"{place}:G"
    if terminal in {"L1", "H1"}:
        return (metal,)
    if terminal in {"L2", "L3", "N"}:
        return f"{place}:L1", metal
    return (f"{place}:H1", metal) if terminal in {"H2", "H3", "H0"} else ()


def _ends(network: Network) -> Iterator[tuple[str, list[int]]]:
    """Yield each place that ends a branch with its unknowns."""
    site, solver = network.plan.site, network.solver
    feeding = {run.from_ for run in site.runs.values()}
    fed = Counter(run.to for run in site.runs.values())
    fixed = {tie.at for tie in network.plan.ties} | set(site.transfers)
    fixed |= {electrode.at for electrode in network.plan.electrodes.values()}
    for metal in site.metal.values():
        fixed |= {metal.from_, metal.to, *(tap.to for tap in metal.taps)}
    for run_id, run in site.runs.items():
        place = run.to
        if place not in site.places or place in feeding or place in fixed or fed[place] > 1:
            continue
        nodes = (
            f"{head}:{terminal}"
            for head in (place, f"{place}/in", out_of(run_id))
            for terminal in _TERMINALS
        )
        members = [solver.index[node] for node in nodes if node in solver.index]
        for name in (f"device {run_id}", f"main {place}"):
            if name in network.devices:
                members += [solver.switch_row[p.switch] for p in network.devices[name].poles]
        yield place, members
