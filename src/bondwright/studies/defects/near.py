"""Pairs of a defect and a fault that lie near each other, as changes of one circuit."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.sparse import csr_array, vstack

from bondwright.network.circuit import Complex
from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import DefectPorts, FaultPorts
from bondwright.studies.defects.model import used
from bondwright.studies.fault_parts import Floats


class Near:
    """Some pairs of a defect and a fault.

    Args:
        faults: all faults.
        faulty: all defects.
        defect: defect of each pair, -1 for none; shape (n,).
        fault: fault of each pair, (n,).

    Attributes:
        chosen: changes of each pair, the fault first; -1 for none.
    """

    def __init__(
        self, faults: FaultPorts, faulty: DefectPorts, defect: Integers, fault: Integers
    ) -> None:
        self.ports = faults.ports
        self.faults = faults
        self.faulty = faulty
        self.defect = defect
        self.fault = fault
        self.regions = np.unique(np.append(faults.region[fault], -1))
        self._fault_ids, at_fault = np.unique(fault, return_inverse=True)
        there = np.unique(defect[defect >= 0])
        first = faulty.altered.first
        spans = [np.arange(first[d], first[d + 1]) for d in there]
        changes = np.concatenate([np.zeros(0, dtype=np.int64), *spans]).astype(np.int64)
        self._changes = changes
        begins = np.cumsum([0, *(len(span) for span in spans)])[:-1] + len(self._fault_ids)
        width = max((len(span) for span in spans), default=0)
        chosen = np.full((len(fault), 1 + width), -1, dtype=np.int64)
        chosen[:, 0] = at_fault
        spot = np.searchsorted(there, defect)
        with_one = defect >= 0
        for k in range(width):
            has = with_one.copy()
            has[with_one] = np.array([len(s) for s in spans])[spot[with_one]] > k
            chosen[has, 1 + k] = begins[spot[has]] + k
        self.chosen = chosen
        self._corners(there, begins)
        self._poles: list[int] = []
        self._gather()
        self.couple = self._couple(self._watched)
        self.rise = self.ports.undisturbed(self._watched[0])

    # --- the changes -----------------------------------------------------------------------

    def _corners(self, there: Integers, begins: Integers) -> None:
        """Keep the entries of D, as (row, column, value)."""
        count = len(self._fault_ids)
        row = [np.arange(count)]
        col = [np.arange(count)]
        value = [self.faults.ohm[self._fault_ids]]
        for d, begin in zip(there.tolist(), begins.tolist(), strict=True):
            d_corner = self.faulty.altered.corners[d]
            i, j = np.nonzero(d_corner)
            row.append(begin + i)
            col.append(begin + j)
            value.append(d_corner[i, j])
        self._corner = (np.concatenate(row), np.concatenate(col), np.concatenate(value))

    def _gather(self) -> None:
        """Put together columns and rows of all changes, the poles last."""
        faults, faulty, ids, changes = self.faults, self.faulty, self._fault_ids, self._changes
        parts = self.ports.parts
        opened = [
            self.ports.network.solver.open_switch(parts.pole_name[pole]) for pole in self._poles
        ]
        pole_weights, pole_pushes = self.ports.sources(self.ports.side([c.u for c in opened]))
        pole_seen, pole_inner = self.ports.watches(self.ports.side([c.v for c in opened]))
        self._weights = _stack(faults.weights[ids], faulty.weights[changes], pole_weights)
        self._pushes = _stack(faults.pushes[ids], faulty.pushes[changes], pole_pushes)
        self._watched = (
            _stack(faults.watched[0][ids], faulty.watched[0][changes], pole_seen),
            _stack(faults.watched[1][ids], faulty.watched[1][changes], pole_inner),
        )
        self._pole_d = np.array([c.d for c in opened], dtype=np.complex128)
        self.first_pole = len(ids) + len(changes)
        self.columns = used(self._weights)
        self._inverse = self.ports.condensed.columns(self.columns)

    def _couple(self, watched: tuple[csr_array, csr_array]) -> Complex:
        return self.ports.couple(watched, self._weights, self._pushes, self.columns, self._inverse)

    def add_poles(self, poles: Sequence[int]) -> None:
        """Take the opening of these poles in among the changes."""
        self._poles = list(poles)
        self._gather()
        self.couple = self._couple(self._watched)
        self.rise = self.ports.undisturbed(self._watched[0])

    def pole_change(self, pole: Integers) -> Integers:
        """Return the change that opens each pole (-1 stays -1)."""
        order = np.full(self.ports.parts.first_residual + 1, -1, dtype=np.int64)
        order[self._poles] = self.first_pole + np.arange(len(self._poles))
        return order[pole]

    def solve(self, chosen: Integers) -> Complex:
        """Return the unknowns of every pair's changes, shape of ``chosen``."""
        n = len(self.couple)
        whole = np.zeros((n + 1, n + 1), dtype=np.complex128)
        whole[:n, :n] = self.couple
        row, col, value = self._corner
        np.add.at(whole, (row, col), value)
        at = self.first_pole + np.arange(len(self._poles))
        whole[at, at] += self._pole_d
        matrix = whole[chosen[:, :, None], chosen[:, None, :]]
        k = np.arange(chosen.shape[1])
        matrix[:, k, k] += np.where(chosen < 0, 1.0, 0.0)
        drive = np.append(self.rise, 0)[chosen]
        return np.asarray(np.linalg.solve(matrix, drive[:, :, None])[:, :, 0])

    # --- what is looked at -----------------------------------------------------------------

    def homes(self) -> Integers:
        """Return the ends in which faults and defects lie."""
        inner = np.concatenate([self._pushes.indices, self._watched[1].indices])
        return np.unique(inner // self.ports.width).astype(np.int64)

    def here(self, outputs: Integers) -> Integers:
        """Return the outputs that the pairs can move: those of their own regions."""
        return outputs[np.isin(self.ports.output_region[outputs], self.regions)]

    def outputs(self, which: Integers) -> tuple[Complex, Complex]:
        """Return undisturbed values of outputs, and what every change does to them.

        Returns:
            Shapes (n,) and (changes + 1, n); the last row is that of no change.
        """
        parts = self.ports.parts
        rows = csr_array(parts.outputs[which])
        seen = csr_array(parts.seen[which])
        watched = (seen, self.ports.watches(rows)[1])
        found = self._couple(watched)
        # A current in a section feels a gap in it directly: I = Y (dV + g y).
        low = len(self._fault_ids)
        felt = csr_array(self.faulty.altered.felt[self._changes])
        found[:, low : self.first_pole] -= (self.ports.carried[which] @ felt.T).toarray()
        effect = np.zeros((found.shape[1] + 1, found.shape[0]), dtype=np.complex128)
        effect[:-1] = found.T
        return self.ports.undisturbed(seen), effect

    def highest(self, base: Complex, effect: Complex, y: Complex) -> Floats:
        """Return bounds of outputs over all pairs."""
        effect = effect.T
        least = np.zeros(len(effect[0]) if len(effect) else len(self.couple) + 1)
        np.maximum.at(least, self.chosen, np.abs(y))
        sort = np.abs(effect) * least
        count = len(self._fault_ids)
        fault = sort[:, :count].max(axis=1, initial=0.0)
        other = np.zeros(len(base))
        begin = count
        width = self.chosen.shape[1] - 1
        if width and sort.shape[1] > begin:
            rest = sort[:, begin : self.first_pole]
            # A defect has at most so many changes: the largest so many bound its sum.
            keep = min(width, rest.shape[1])
            if keep:
                largest = np.partition(rest, rest.shape[1] - keep, axis=1)[:, -keep:]
                other = largest.sum(axis=1)
        return np.asarray(np.abs(base) + fault + other)


def values(base: Complex, effect: Complex, chosen: Integers, y: Complex) -> Complex:
    """Return outputs of every pair, shape (pairs, outputs).

    Args:
        base: undisturbed values, (outputs,).
        effect: what every change does to them, (changes + 1, outputs).
        chosen: changes of each pair.
        y: their unknowns.
    """
    there = (chosen >= 0) & (y != 0)
    row = np.concatenate([[0], np.cumsum(there.sum(axis=1))])
    moved = csr_array((y[there], chosen[there], row), shape=(len(chosen), len(effect)))
    found = np.asarray(moved @ effect, dtype=np.complex128)
    return np.subtract(base, found, out=found)


def squares(numbers: Complex) -> Floats:
    """Return squared magnitudes."""
    found = np.square(numbers.real)
    found += np.square(numbers.imag)
    return np.asarray(found)


def _stack(*rows: csr_array) -> csr_array:
    return csr_array(vstack([csr_array(item) for item in rows], format="csr"))
