"""Which two defects have anything to do with each other.

Seen through their ports, two defects a and b are one bordered system. Eliminating b leaves a with

    (Z_aa + D_a) (1 - M_a Z_ab M_b Z_ba),    M = (Z + D)^-1,

so the number ``kappa = |M_a Z_ab| |M_b Z_ba|`` (Frobenius norms) bounds how much b changes what a
answers to anything at all, and a what b answers: by no more than ``kappa / (1 - kappa)`` of it.
Two defects of small kappa that move no fault in common do together what each does alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csr_array

from bondwright.network.circuit import Complex
from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import DefectPorts
from bondwright.studies.defects.catalogue import Defect, DefectKind
from bondwright.studies.defects.model import used
from bondwright.studies.fault_parts import Floats

Small = npt.NDArray[np.float32]

_CHANGES_AT_ONCE: Final = 256
_ROWS_AT_ONCE: Final = 16_384


def interplay(faulty: DefectPorts, least: float) -> Iterator[tuple[Integers, Integers, Small]]:
    """Yield (a, b, kappa) of every two defects, a < b, whose kappa is at least so much.

    Most come twice. One of the two sides is taken from the other by reciprocity, as the choice of
    pairs of a defect and a fault does. Memory is that of some hundred columns of the circuit.

    Args:
        faulty: single defects as ports.
        least: smallest kappa that is yielded.
    """
    first = faulty.altered.first
    count, changes = len(first) - 1, int(first[-1])
    if not count:
        return
    owner = np.repeat(np.arange(count), np.diff(first))
    alone = np.diff(first)[owner] == 1
    inverse = _inverse(faulty, changes)
    size = np.abs(inverse.diagonal())
    many = np.flatnonzero(~alone)
    for start, stop in _lots(faulty):
        some = np.arange(first[start], first[stop])
        weights, pushes = csr_array(faulty.weights[some]), csr_array(faulty.pushes[some])
        columns = used(weights)
        inside = faulty.ports.condensed.columns(columns)
        here = np.flatnonzero(alone[some])
        for low in range(0, changes, _ROWS_AT_ONCE):
            rows = np.arange(low, min(low + _ROWS_AT_ONCE, changes))
            rows = rows[alone[rows]]
            watched = (csr_array(faulty.watched[0][rows]), csr_array(faulty.watched[1][rows]))
            z = faulty.ports.couple(watched, weights, pushes, columns, inside)[:, here]
            kappa = (z.real**2 + z.imag**2) * size[rows][:, None]
            kappa *= size[some[here]]
            a, b = np.nonzero(kappa >= least)
            yield _ordered(owner[rows[a]], owner[some[here[b]]], kappa[a, b])
        if len(many):
            watched = (csr_array(faulty.watched[0][many]), csr_array(faulty.watched[1][many]))
            z = faulty.ports.couple(watched, weights, pushes, columns, inside)
            yield _of_many(faulty, inverse, owner, (many, some), z, least)


def _ordered(a: Integers, b: Integers, kappa: Floats) -> tuple[Integers, Integers, Small]:
    """Return each two once or twice with the smaller first; nothing with itself."""
    apart = a != b
    a, b, kappa = a[apart], b[apart], kappa[apart]
    return np.minimum(a, b), np.maximum(a, b), kappa.astype(np.float32)


def _of_many(
    faulty: DefectPorts,
    inverse: csr_array,
    owner: Integers,
    changes: tuple[Integers, Integers],
    z: Complex,
    least: float,
) -> tuple[Integers, Integers, Small]:
    """Return defects of several changes (rows of z) with any others (its columns)."""
    rows, some = changes
    mirror = faulty.altered.mirror
    turned = z[np.searchsorted(rows, mirror[rows])][:, mirror[some] - some[0]]
    one = np.asarray(csr_array(inverse[rows][:, rows]) @ z)
    other = np.asarray((csr_array(inverse[some][:, some]) @ turned.T).T)
    ids, at = np.unique(owner[rows], return_inverse=True)
    by_row = csr_array(coo_array((np.ones(len(rows)), (at, np.arange(len(rows))))))
    ones, to = np.unique(owner[some], return_inverse=True)
    by_column = csr_array(coo_array((np.ones(len(some)), (to, np.arange(len(some))))))
    kappa = np.sqrt(_squares(by_row, one, by_column) * _squares(by_row, other, by_column))
    a, b = np.nonzero(kappa >= least)
    return _ordered(ids[a], ones[b], kappa[a, b])


def _lots(faulty: DefectPorts) -> Iterator[tuple[int, int]]:
    first = faulty.altered.first
    for low, high in faulty.lots():
        start = low
        for stop in range(low + 1, high + 1):
            if stop == high or first[stop + 1] - first[start] > _CHANGES_AT_ONCE:
                yield start, stop
                start = stop


def _inverse(faulty: DefectPorts, changes: int) -> csr_array:
    """Return M of all defects along a diagonal; nothing for those without an answer."""
    row, col, value = [], [], []
    for group in faulty.groups:
        k = group.changes.shape[1]
        row.append(np.repeat(group.changes, k, axis=1).ravel())
        col.append(np.tile(group.changes, (1, k)).ravel())
        value.append(group.corner.ravel())
    if not row:
        return csr_array((changes, changes), dtype=complex)
    at = (np.concatenate(row), np.concatenate(col))
    return csr_array(coo_array((np.concatenate(value), at), shape=(changes, changes)))


def _squares(rows: csr_array, dense: Complex, columns: csr_array) -> Floats:
    """Return sums of squared magnitudes by defect and defect."""
    size = dense.real**2 + dense.imag**2
    return np.asarray((columns @ np.asarray(rows @ size).T).T)


def common(defect: Integers, fault: Integers, count: int) -> Iterator[tuple[Integers, Integers]]:
    """Yield (a, b), a < b, of every two defects that move a fault in common, some more than once.

    Args:
        defect: of each pair of a defect and a fault that matters.
        fault: of each.
        count: how many defects there are.
    """
    if not len(defect):
        return
    moved = csr_array(
        coo_array(
            (np.ones(len(defect), np.float32), (defect, fault)),
            shape=(count, int(fault.max()) + 1),
        )
    )
    for start in range(0, count, _CHANGES_AT_ONCE):
        both = coo_array(moved[start : start + _CHANGES_AT_ONCE] @ moved.T)
        a, b = both.row.astype(np.int64) + start, both.col.astype(np.int64)
        yield a[a < b], b[a < b]


def together_possible(defects: tuple[Defect, ...]) -> _Possible:
    """Return what says which two of some defects can be there together."""
    return _Possible(defects)


class _Possible:
    def __init__(self, defects: tuple[Defect, ...]) -> None:
        things = {name: k for k, name in enumerate(dict.fromkeys(d.thing for d in defects))}
        self._thing = np.array([things[d.thing] for d in defects], dtype=np.int64)
        self._leak = np.array([d.kind is DefectKind.LEAKAGE for d in defects], dtype=bool)

    def __call__(self, a: Integers, b: Integers) -> npt.NDArray[np.bool_]:
        """Return whether each two can be there together."""
        same = self._thing[a] == self._thing[b]
        return np.asarray(~same | (self._leak[a] & self._leak[b]))

    def count(self) -> int:
        """Return how many doubles there can be in all."""
        n = len(self._thing)
        _, of = np.unique(self._thing, return_counts=True)
        _, leaks = np.unique(self._thing[self._leak], return_counts=True)
        return n * (n - 1) // 2 - int((of * (of - 1) // 2).sum() - (leaks * (leaks - 1) // 2).sum())
