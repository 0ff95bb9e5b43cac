"""Faults side by side with every steel wall at its own current.

What a wall can do to a fault is bounded before anything is settled: a wall that takes up to so
many volt-amperes more changes the fault current by no more than that part of the fault's own
(Tellegen's theorem, first order). Walls whose bounds add up to less than :data:`DROPPED` of it
are left as they are without current, all others are settled.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from bondwright.network.circuit import Complex
from bondwright.network.raceways import QUIET_A
from bondwright.network.steel_many import Acceleration
from bondwright.studies.condense import Integers, times
from bondwright.studies.fault_parts import Flags, Floats, padded
from bondwright.studies.walls import Walls

if TYPE_CHECKING:
    from bondwright.studies.fault_changes import Together

DROPPED: Final = 1e-4
"""Part of a fault's current that the walls left as they are can change together. No length, joint
or band of a device is known a hundredth as well; who wants more asks for it.
"""

CLOSER: Final = 0.2
"""Part of that by which one wall may be off when it counts as settled."""

ROUNDS: Final = 120

_COARSEST: Final = 1e-3


@dataclass(slots=True)
class Volts:
    """Voltages along walls, an entry for each fault that is looked at.

    Attributes:
        kept: along the patterns of walls outside all blocks, V, (F, n).
        own: along those of each fault's own block, V, (F, m); m may be 0.
        settled: whether its walls agreed with their currents.
    """

    kept: Complex
    own: Complex
    settled: Flags


class Settling:
    """The walls of a stretch of faults.

    Args:
        chunk: the faults; the changes of its blocks' own walls are added to it.
        walls: the walls of the network.
        within: part of a fault's current that walls left as they are can change together.
    """

    def __init__(self, chunk: Together, walls: Walls, within: float = DROPPED) -> None:
        self.chunk = chunk
        self.within = within
        self.walls = walls
        self._numbers: dict[int, list[int]] = {}
        self._own_of: dict[int, int] = {}
        for block in sorted({one.block for one in chunk.wanted if one.block >= 0}):
            mine = walls.of_block.get(block, [])
            self._numbers[block] = [
                chunk.add(*walls.change(2 * wall + k), 1.0) for wall in mine for k in (0, 1)
            ]
            for wall, first in zip(mine, self._numbers[block][::2], strict=True):
                self._own_of[first] = wall
        each = [self._numbers.get(one.block, []) for one in chunk.wanted]
        self.own: Integers = padded(each, -1)
        if not any(each):
            self.own = np.full((len(each), 0), -1, dtype=np.int64)
        self._kept_mu: dict[object, tuple[Integers, Floats]] = {}

    def numbers(self, block: int) -> list[tuple[int, int]]:
        """Return the changes of a block's own walls, each with its pattern."""
        return [
            (number, 2 * self._own_of[number - k % 2] + k % 2)
            for k, number in enumerate(self._numbers.get(block, []))
        ]

    def felt(self, which: Integers, chosen: Integers, volts: Volts) -> Complex:
        """Return what voltages along walls take from the unknowns of the faults' own changes."""
        own = self.own[which]
        bb = self._acts(chosen, chosen)
        k = np.arange(chosen.shape[1])
        bb[:, k, k] += self.chunk.corner[chosen]
        right = (self._from_kept[chosen] @ volts.kept[:, :, None])[:, :, 0]
        if own.shape[1]:
            right += np.einsum("fbo,fo->fb", self._acts(chosen, own), volts.own)
        return np.asarray(np.linalg.solve(bb, right[:, :, None])[:, :, 0])

    def refresh(self) -> None:
        """Take in the changes that the chunk has now."""
        chunk, walls = self.chunk, self.walls
        n = len(walls.kept_patterns)
        empty = np.zeros((1, n), dtype=np.complex128)
        self._from_kept = np.vstack([times(chunk.seen_v, walls.pushed), empty])
        rows = times(walls.seen, chunk.inverse)
        self._rows = rows
        self._to_kept = np.asarray(rows @ chunk.weights.T)
        # Walls of one section act on each other straight through it as well; the last place of
        # this little table is that of every other change.
        mine = [number for block in self._numbers for number, _ in self.numbers(block)]
        self._place: Integers = np.full(len(chunk.at_home), len(mine), dtype=np.int64)
        self._place[mine] = np.arange(len(mine))
        self._straight = np.zeros((len(mine) + 1, len(mine) + 1), dtype=np.complex128)
        for block in self._numbers:
            pairs = self.numbers(block)
            for i, one in pairs:
                for j, other in pairs:
                    self._straight[self._place[i], self._place[j]] = walls.direct(one, other)

    def _acts(self, on: Integers, of: Integers) -> Complex:
        """Return what changes of each fault do to others of it, (F, n, m) for (F, n) and (F, m)."""
        chunk = self.chunk
        home = chunk.at_home
        found = chunk.rows[on] @ chunk.weights[of].transpose(0, 2, 1)
        alike = (home[on][:, :, None] == home[of][:, None, :]) & (home[on] >= 0)[:, :, None]
        if alike.any():
            inner = chunk.inner[on] @ chunk.pushed[of].transpose(0, 2, 1)
            found += np.where(alike, inner, 0)
        found -= self._straight[self._place[on][:, :, None], self._place[of][:, None, :]]
        return np.asarray(found)

    def volts(self, which: Integers, chosen: Integers, y: Complex, coefficient: Complex) -> Volts:
        """Settle the walls of some faults.

        Args:
            which: the faults.
            chosen: the changes of each.
            y: their unknowns with all walls as they are without current.
            coefficient: the weights of columns then.
        """
        walls, n = self.walls, len(self.walls.kept_patterns)
        count = len(which)
        own = self.own[which]
        found = Volts(
            np.zeros((count, n), dtype=np.complex128),
            np.zeros(own.shape, dtype=np.complex128),
            np.ones(count, dtype=bool),
        )
        if not count:
            return found
        kept = walls.base[None, :] - coefficient @ self._rows.T
        drawn = self.chunk.drive[own] - np.einsum("foc,fc->fo", self._acts(own, chosen), y)
        drawn[own < 0] = 0
        amps = np.concatenate([kept, drawn], axis=1).reshape(count, -1, 2)
        gids = np.concatenate(
            [np.broadcast_to(walls.kept, (count, len(walls.kept))), self._own_walls(own)], axis=1
        )
        active = (np.abs(amps).max(axis=2) > QUIET_A) & (gids >= 0)
        at = np.maximum(gids, 0)
        weight = np.where(active, walls.weight(at, amps[:, :, 0], amps.sum(axis=2)), 0.0)
        join = self.chunk.drive[chosen] * np.abs(y)
        whole = np.abs(join).max(axis=1)
        order = np.argsort(weight, axis=1)
        summed = np.cumsum(np.take_along_axis(weight, order, axis=1), axis=1)
        drop = np.zeros(active.shape, dtype=bool)
        np.put_along_axis(drop, order, summed <= self.within * whole[:, None], axis=1)
        used = active & ~drop
        sizes = used.sum(axis=1)
        places = [self.chunk.wanted[k].place for k in which.tolist()]
        seen: set[str] = set()
        first = np.zeros(count, dtype=bool)
        for k in np.flatnonzero(sizes).tolist():
            first[k] = places[k] not in seen
            seen.add(places[k])
        for turn in (first, ~first):
            for low, high in ((1, 2), (3, 4), (5, 8), (9, 16), (17, 32), (33, 64), (65, 10**6)):
                some = np.flatnonzero(turn & (sizes >= low) & (sizes <= high))
                if len(some):
                    relative = weight[some] / np.maximum(whole[some], 1e-30)[:, None]
                    self._some(which, chosen, some, used[some], gids[some], relative,
                               amps[some], found)  # fmt: skip
        return found

    def _own_walls(self, own: Integers) -> Integers:
        found = np.full((len(own), own.shape[1] // 2), -1, dtype=np.int64)
        for k in range(found.shape[1]):
            for f, number in enumerate(own[:, 2 * k].tolist()):
                if number >= 0:
                    found[f, k] = self._own_of[number]
        return found

    def _some(
        self, which: Integers, chosen: Integers, some: Integers, used: Flags, gids: Integers,
        relative: Floats, amps: Complex, found: Volts,
    ) -> None:  # fmt: skip
        nk = len(self.walls.kept)
        # The heaviest walls first; each fault has its own in a row, filled up with none.
        rank = np.argsort(np.where(used, -relative, 1.0), axis=1, kind="stable")
        width = int(used.sum(axis=1).max())
        local = rank[:, :width]
        real = np.take_along_axis(used, local, axis=1)
        number = np.take_along_axis(gids, local, axis=1)
        t = np.take_along_axis(amps, local[:, :, None], axis=1)
        t = np.where(real[:, :, None], t, 0).reshape(len(some), -1)
        coupling = self._couplings(which, chosen, some, local, real)
        tolerance = (
            CLOSER * self.within / np.maximum(np.take_along_axis(relative, local, axis=1), 1e-30)
        )
        tolerance = np.clip(tolerance, min(_COARSEST, self.within / 100), _COARSEST)
        i, added, mu, done = self._relax(which[some], number, real, t, coupling, tolerance)
        for f, k in enumerate(which[some].tolist()):
            mine = real[f]
            state = (number[f][mine], mu[:, f][:, mine])
            self._kept_mu[k] = state
            self._kept_mu[self.chunk.wanted[k].place] = state
        y = -np.einsum("fwab,fwb->fwa", added, i.reshape(len(some), width, 2))
        y[~real] = 0
        found.settled[some] = done
        is_own = local >= nk
        for f, k in enumerate(some.tolist()):
            at = local[f][~is_own[f] & real[f]]
            found.kept[k, 2 * at], found.kept[k, 2 * at + 1] = y[f, ~is_own[f] & real[f]].T
            at = local[f][is_own[f] & real[f]] - nk
            if len(at):
                found.own[k, 2 * at], found.own[k, 2 * at + 1] = y[f, is_own[f] & real[f]].T

    def _couplings(
        self, which: Integers, chosen: Integers, some: Integers, local: Integers, real: Flags
    ) -> Complex:
        """Return what a volt along each pattern does to the currents by the others."""
        chunk, nk = self.chunk, len(self.walls.kept)
        base = chosen[some]
        own = self.own[which[some]]
        is_own = (local >= nk) & real
        kept = np.where(is_own | ~real, 0, local)
        kept = (2 * kept[:, :, None] + np.arange(2)).reshape(len(some), -1)
        mine = np.zeros_like(kept) - 1
        if own.shape[1]:
            slot = np.where(is_own, local - nk, 0)
            slot = (2 * slot[:, :, None] + np.arange(2)).reshape(len(some), -1)
            flag = np.repeat(is_own, 2, axis=1)
            mine = np.where(flag, np.take_along_axis(own, slot, axis=1), -1)
        flag = np.repeat(is_own, 2, axis=1)
        there = np.repeat(real, 2, axis=1)
        bb = self._acts(base, base)
        k = np.arange(base.shape[1])
        bb[:, k, k] += chunk.corner[base]
        own_row, own_col = flag[:, :, None], flag[:, None, :]
        couplings, to_kept, from_kept = self.walls.couplings, self._to_kept, self._from_kept
        if not nk:  # all steel is in the faults' own blocks; what is pointed at isn't taken
            couplings = np.zeros((2, 2), dtype=np.complex128)
            to_kept = np.zeros((2, to_kept.shape[1]), dtype=np.complex128)
            from_kept = np.zeros((len(from_kept), 2), dtype=np.complex128)
        q = couplings[kept[:, :, None], kept[:, None, :]]
        q = np.where(own_col, to_kept[kept[:, :, None], mine[:, None, :]], q)
        q = np.where(own_row, from_kept[mine[:, :, None], kept[:, None, :]], q)
        if flag.any():
            q = np.where(own_row & own_col, self._acts(mine, mine), q)
        wb = np.where(
            own_row,
            self._acts(mine, base),
            to_kept[kept[:, :, None], base[:, None, :]],
        )
        bw = np.where(
            own_col,
            self._acts(base, mine),
            from_kept[base[:, :, None], kept[:, None, :]],
        )
        q = q - wb @ np.linalg.solve(bb, bw)
        q[~(there[:, :, None] & there[:, None, :])] = 0
        return np.asarray(q)

    def _relax(
        self, faults: Integers, number: Integers, real: Flags, t: Complex, coupling: Complex,
        tolerance: Floats,
    ) -> tuple[Complex, Complex, Floats, Flags]:  # fmt: skip
        """Repeat currents and permeabilities until they agree, fault by fault.

        A wall that agrees rests until all walls of its fault do; then all are looked at again.
        """
        walls, many = self.walls, self.walls.many
        count, width = number.shape
        of, slot = np.nonzero(real)
        ids = number[of, slot]
        sort, close = walls.sort[ids], tolerance[of, slot]
        mu = many.quiet[:, sort].copy()
        known = np.zeros(len(walls), dtype=np.int64) - 1
        for f, k in enumerate(faults.tolist()):
            state = self._kept_mu.get(k) or self._kept_mu.get(self.chunk.wanted[k].place)
            if state is None:
                continue
            mine = np.flatnonzero(of == f)
            known[state[0]] = np.arange(len(state[0]))
            at = known[ids[mine]]
            mu[:, mine[at >= 0]] = state[1][:, at[at >= 0]]
            known[state[0]] = -1
        total = real.sum(axis=1)
        added = np.zeros((count, width, 2, 2), dtype=np.complex128)
        i = t.copy()
        agrees = np.zeros(len(of), dtype=bool)
        going = np.ones(count, dtype=bool)
        moves = Acceleration(len(of))
        for _ in range(ROUNDS):
            resting = np.bincount(of, agrees, count) == total
            some = np.flatnonzero(going[of] & (~agrees | resting[of]))
            spread, z = many.impedances(sort[some], mu[:, some])
            added[of[some], slot[some]] = walls.added(ids[some], z)
            on = np.flatnonzero(going)
            i[on] = _currents(t[on], coupling[on], added[on])
            inner = i[of[some], 2 * slot[some]]
            outer = inner + i[of[some], 2 * slot[some] + 1]
            due = many.due(sort[some], spread, inner, outer)
            new, off = moves.move(some, mu[:, some], due)
            fine = off <= close[some]
            mu[:, some[~fine]] = new[:, ~fine]
            agrees[some] = fine
            looked = np.bincount(of[some], fine, count) == total
            going &= ~looked
            if not going.any():
                break
        whole = np.zeros((len(mu), count, width))
        whole[:, of, slot] = mu
        return i, added, whole, ~going


def _currents(t: Complex, coupling: Complex, added: Complex) -> Complex:
    """Return the currents of walls at given impedances.

    Args:
        t: with no impedance added, (F, 2 W).
        coupling: see the module :mod:`bondwright.studies.walls`, (F, 2 W, 2 W).
        added: (F, W, 2, 2).
    """
    count, width = added.shape[:2]
    q = coupling.reshape(count, 2 * width, width, 2)
    matrix = np.empty_like(coupling)
    parts = matrix.reshape(count, 2 * width, width, 2)
    for b in (0, 1):
        parts[..., b] = -q[..., 0] * added[:, None, :, 0, b] - q[..., 1] * added[:, None, :, 1, b]
    at = np.arange(2 * width)
    matrix[:, at, at] += 1
    return np.asarray(np.linalg.solve(matrix, t[:, :, None])[:, :, 0])
