"""Faults that lie near each other, as changes of one condensed circuit, and what is seen of them.

Every change (a fault, a pole that opens) is a pair of vectors among the unknowns kept by
:class:`bondwright.studies.condense.Condensed`; a little matrix of each fault's own changes is
solved for all faults at once. It is the bordered system of :mod:`bondwright.network.solve`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from bondwright.network.circuit import Complex
from bondwright.studies.condense import Integers, times
from bondwright.studies.fault_parts import Floats, Parts, padded
from bondwright.studies.wall_settling import DROPPED, Settling, Volts
from bondwright.studies.walls import Walls

Entries = tuple[tuple[int, complex], ...]


@dataclass(frozen=True, slots=True)
class Wanted:
    """The changes of one fault at its start.

    Attributes:
        joins: (plus, minus, ohm): rows of the nodes joined, -1 for earth.
        three: whether they are two joins of three lines.
        place: where.
        metal: output of the metal at the fault, or -1.
        block: block in which the fault lies, or -1.
    """

    joins: tuple[tuple[int, int, complex], ...]
    three: bool
    place: str
    metal: int
    block: int


class Together:
    """Some faults that lie near each other.

    Args:
        parts: the network.
        wanted: the faults.
        walls: steel walls, to be settled at their currents; None leaves them as they are.
        within: see :func:`bondwright.studies.fault_table.study_many`.
    """

    def __init__(
        self,
        parts: Parts,
        wanted: list[Wanted],
        walls: Walls | None = None,
        within: float = DROPPED,
    ) -> None:
        self.parts = parts
        self.walls = walls
        self.wanted = wanted
        self._u: list[Entries] = []
        self._v: list[Entries] = []
        self._d: list[complex] = []
        self._home: list[int] = []
        self._number: dict[int, int] = {}
        joins = [[self._join(*join) for join in one.joins] for one in wanted]
        self._block = np.array([one.block for one in wanted], dtype=np.int64)
        self._metal = np.array([one.metal for one in wanted], dtype=np.int64)
        self._three = np.array([one.three for one in wanted], dtype=bool)
        self._pair = np.array([len(one.joins) > 1 for one in wanted], dtype=bool)
        for pole in parts.likely_poles({one.place for one in wanted}):
            self._pole(pole)
        self.settling = None if walls is None else Settling(self, walls, within)
        self._outputs()
        self._refresh()
        self.chosen = padded(joins, -1)

    # --- the changes -----------------------------------------------------------------------

    def _join(self, a: int, b: int, ohm: complex) -> int:
        ends: Entries = tuple((row, sign) for row, sign in ((a, 1 + 0j), (b, -1 + 0j)) if row >= 0)
        return self.add(ends, ends, ohm)

    def add(self, u: Entries, v: Entries, d: complex) -> int:
        """Add a change; return its number."""
        blocks = self.parts.condensed.block
        self._u.append(u)
        self._v.append(v)
        self._d.append(d)
        self._home.append(max((int(blocks[row]) for row, _ in (*u, *v)), default=-1))
        return len(self._u) - 1

    def _pole(self, pole: int) -> int:
        """Return the change that opens a pole, adding it where it is new."""
        if pole not in self._number:
            change = self.parts.network.solver.open_switch(self.parts.pole_name[pole])
            self._number[pole] = self.add(change.u, change.v, change.d)
        return self._number[pole]

    def _refresh(self) -> None:
        """Work out how all changes act on each other and on the outputs."""
        condensed = self.parts.condensed
        size = len(condensed.block)
        count, s = len(self._u), condensed.inverse.shape[1]
        u, v = (_sparse(side, size) for side in (self._u, self._v))
        home = np.array(self._home)
        inner_u, inner_v = (_inner(self.parts, side, home) for side in (u, v))
        pushed = np.zeros((count, s), dtype=np.complex128)
        ended = home >= 0
        pushed[ended] = np.einsum("nij,nj->ni", condensed.inverse[home[ended]], inner_u[ended])
        seen_u = csr_array(_driven(self.parts, u, inner_u, home) @ condensed.pairing)
        seen_v = condensed.seen(v)
        self.columns: Integers = np.unique(seen_u.indices).astype(np.int64)
        inverse = condensed.columns(self.columns)
        self.inverse, self.seen_v = inverse, seen_v
        self.weights = seen_u[:, self.columns].toarray()
        self.rows = _and_none(times(seen_v, inverse))
        self.inner, self.pushed = _and_none(inner_v), _and_none(pushed)
        self.at_home = np.append(home, -2)
        self.corner = np.array([*self._d, 1.0], dtype=np.complex128)
        self.drive = np.append(times(seen_v, condensed.base), 0)
        self.weights = _and_none(self.weights)
        # Outputs: all those of kept unknowns, and those of each fault's own end.
        self.common = times(self._common_rows, inverse)
        self.carried = times(self._carried_rows, inverse)
        self.metal = times(self._metal_rows, inverse)
        own = times(self._own_rows, inverse)
        self.own = _and_none(own)[self._own_at]
        local = np.zeros((count + 1, self._own_at.shape[1]), dtype=np.complex128)
        for block, at in self._block_at.items():
            members = np.flatnonzero(home == block)
            if len(members):
                local[members] = pushed[members] @ self._own_inner[at].T
        self.local = local
        if self.settling is not None and self.walls is not None:
            self.settling.refresh()
            self._own_walls(self.walls, own)

    # --- what is looked at ---------------------------------------------------------------------

    def _outputs(self) -> None:
        parts = self.parts
        condensed = parts.condensed
        home, (_, conductors, _) = parts.home, parts.first
        common = parts.kept_outputs
        seen = parts.seen
        kept_from = int(np.searchsorted(common, conductors))
        self.kept_conductors = common[kept_from:]
        self._common_rows, self._carried_rows, self._metal_rows = parts.kept_rows
        self.common_base, self.carried_base, self.metal_base = parts.kept_bases
        at_common = np.full(len(home) + 1, -1, dtype=np.int64)
        at_common[common[:kept_from]] = np.arange(kept_from)
        blocks = sorted({one.block for one in self.wanted})
        # Own outputs, in the same columns for every fault: poles and residuals, conductors, metal.
        switched = [parts.own_switched.get(block, []) for block in blocks]
        carried = [parts.own_conductors.get(block, []) for block in blocks]
        first, second = padded(switched, -1), padded(carried, -1)
        third = np.array([[parts.own_metal.get(block, -1)] for block in blocks])
        table = np.concatenate([first, second, third], axis=1)
        self.split = (first.shape[1], first.shape[1] + second.shape[1])
        ids = table[table >= 0]
        self._own_ids = ids
        self._own_table = table
        self._own_rows = seen[ids]
        where = np.full(len(home) + 1, len(ids), dtype=np.int64)
        where[ids] = np.arange(len(ids))
        self._own_at = np.where(table >= 0, where[table], len(ids))
        base = np.append(times(self._own_rows, condensed.base), 0)
        spot = {block: k for k, block in enumerate(blocks)}
        self.row = np.array([spot[one.block] for one in self.wanted])
        self.own_base = base[self._own_at]
        inner = np.concatenate([parts.inner(ids), np.zeros((1, condensed.inverse.shape[1]))])
        self._block_at = {block: k for block, k in spot.items() if block >= 0}
        self._own_inner = inner[self._own_at]
        self.own_conductors = second
        self._trips(blocks, first, at_common)

    def _trips(self, blocks: list[int], switched: Integers, at_common: Integers) -> None:
        parts = self.parts
        residuals = parts.first[0]

        def sees(trip: int) -> tuple[int, ...]:
            part = parts.trips[trip]
            return part.poles if part.residual < 0 else (residuals + part.residual,)

        kept = parts.kept_trips
        self.kept_trips = np.array(kept, dtype=np.int64)
        self.kept_sees = padded([[int(at_common[o]) for o in sees(t)] for t in kept], -1)
        own = [parts.own_trips.get(block, []) for block in blocks]
        self.own_trips = padded(own, -1)
        width = 3
        self.own_sees = np.full((*self.own_trips.shape, width), -1, dtype=np.int64)
        for k, trips in enumerate(own):
            column = {int(output): n for n, output in enumerate(switched[k]) if output >= 0}
            for n, trip in enumerate(trips):
                for m, output in enumerate(sees(trip)):
                    self.own_sees[k, n, m] = column[output]

    # --- solving -------------------------------------------------------------------------------

    def _solve(self, chosen: Integers) -> tuple[Complex, Complex]:
        """Return the unknowns of every fault's changes, and the weights of columns."""
        weights = self.weights[chosen]
        matrix = self.rows[chosen] @ weights.transpose(0, 2, 1)
        home = self.at_home[chosen]
        alike = (home[:, :, None] == home[:, None, :]) & (home >= 0)[:, :, None]
        matrix += np.where(alike, self.inner[chosen] @ self.pushed[chosen].transpose(0, 2, 1), 0)
        k = np.arange(chosen.shape[1])
        matrix[:, k, k] += self.corner[chosen]
        y = np.linalg.solve(matrix, self.drive[chosen][:, :, None])[:, :, 0]
        return np.asarray(y), np.asarray((y[:, None, :] @ weights)[:, 0])

    def _own_walls(self, walls: Walls, own: Complex) -> None:
        """Work out what voltages along walls do to the outputs of each block."""
        ids = self._own_ids
        kept = times(self._own_rows, walls.pushed)
        kept = kept - walls.carried(ids, walls.kept_patterns).toarray()
        self.own_by_kept = _and_none(kept)[self._own_at]
        del own
        settling = self.settling
        for block, at in self._block_at.items():
            numbers = [] if settling is None else settling.numbers(block)
            if not numbers:
                continue
            patterns = np.array([p for _, p in numbers])
            outputs = self._own_table[at]
            there = outputs >= 0
            straight = walls.carried(outputs[there], patterns).toarray()
            for k, (change, _) in enumerate(numbers):
                self.local[change, there] -= straight[:, k]

    def settle(
        self, which: Integers, chosen: Integers, y: Complex, coefficient: Complex
    ) -> tuple[Complex, Complex, Volts | None]:
        """Return unknowns and weights with every wall at its current, and the volts along them."""
        if self.settling is None:
            return y, coefficient, None
        volts = self.settling.volts(which, chosen, y, coefficient)
        if not (volts.kept.any() or volts.own.any()):
            return y, coefficient, volts
        y = y - self.settling.felt(which, chosen, volts)
        own = self.settling.own[which]
        coefficient = (y[:, None, :] @ self.weights[chosen])[:, 0]
        if own.shape[1]:
            coefficient = coefficient + (volts.own[:, None, :] @ self.weights[own])[:, 0]
        return y, np.asarray(coefficient), volts

    def _own(
        self,
        which: Integers,
        chosen: Integers,
        y: Complex,
        coefficient: Complex,
        volts: Volts | None = None,
    ) -> Complex:
        row = self.row[which]
        kept = None if volts is None or self.settling is None else volts.kept
        found: Complex = self.own_base[row].copy()
        # Faults of one place look at the same outputs: a product for each place copies nothing.
        for place in np.unique(row).tolist():
            some = np.flatnonzero(row == place)
            found[some] -= coefficient[some] @ self.own[place].T
            if kept is not None and kept[some].any():
                used = np.flatnonzero(kept[some].any(axis=0))
                found[some] -= kept[some][:, used] @ self.own_by_kept[place][:, used].T
        mine = self._block[which]
        for k in range(chosen.shape[1]):
            here = (self.at_home[chosen[:, k]] == mine) & (mine >= 0)
            found[here] -= self.local[chosen[here, k]] * y[here, k, None]
        if volts is not None and self.settling is not None and self.walls is not None:
            own = self.settling.own[which]
            for k in range(own.shape[1]):
                found -= self.local[own[:, k]] * volts.own[:, k, None]
        return found

    def drawn(self, which: Integers, y: Complex) -> Floats:
        """Return the current of every fault, A."""
        three, pair = self._three[which], self._pair[which]
        found = np.abs(y[:, 0])
        if pair.any():
            second = np.abs(y[:, 1])
            middle = np.abs(y[:, 1] - y[:, 0])
            found = np.where(pair, np.maximum(found, second), found)
            found = np.where(three, np.maximum(found, middle), found)
        return found


def _and_none(rows: Complex) -> Complex:
    """Return rows with one of zeros after them, which the number -1 then means."""
    return np.vstack([rows, np.zeros((1, rows.shape[1]))])


def _sparse(side: list[Entries], size: int) -> csr_array:
    row = [k for k, entries in enumerate(side) for _ in entries]
    col = [at for entries in side for at, _ in entries]
    data = [value for entries in side for _, value in entries]
    shape = (len(side), size)
    return csr_array(
        (np.array(data, complex), (np.array(row, int), np.array(col, int))), shape=shape
    )


def _inner(parts: Parts, side: csr_array, home: Integers) -> Complex:
    condensed = parts.condensed
    found = np.zeros((len(home), condensed.inverse.shape[1]), dtype=np.complex128)
    flat = side.tocoo()
    within = condensed.block[flat.col] >= 0
    found[flat.row[within], condensed.local[flat.col[within]]] = flat.data[within]
    return found


def _driven(parts: Parts, side: csr_array, inner: Complex, home: Integers) -> csr_array:
    """Return sources among all unknowns as sources among those kept."""
    condensed = parts.condensed
    flat = side.tocoo()
    kept = condensed.block[flat.col] < 0
    ended = np.flatnonzero(home >= 0)
    spread = np.einsum("nqs,ns->nq", condensed.drive[home[ended]], inner[ended])
    touches = condensed.touches[home[ended]]
    row = np.concatenate([flat.row[kept], np.repeat(ended, touches.shape[1])])
    col = np.concatenate([condensed.local[flat.col[kept]], touches.ravel()])
    data = np.concatenate([flat.data[kept], spread.ravel()])
    real = data != 0
    shape = (len(home), len(condensed.kept))
    return csr_array((data[real], (row[real], col[real])), shape=shape)
