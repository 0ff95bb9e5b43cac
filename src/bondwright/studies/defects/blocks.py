"""Every defect against every fault, in blocks: what is drawn, and which pairs matter.

For a fault (column f, open voltage e_f, impedance Z_ff) in a circuit with a defect (columns d,
``M = (Z_dd + D)^-1``) the bordered system is solved by hand, for a whole block at once:

    y_f = (e_f - Z_fd M e_d) / (Z_ff - Z_fd M Z_df),    y_d = M (e_d - Z_df y_f).

A pair matters where the defect moves enough current or voltage; the others are as they are
without the defect.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.sparse import coo_array, csr_array

from bondwright.network.circuit import EARTH, Complex
from bondwright.studies.condense import Integers, times
from bondwright.studies.defects.model import Altered, Ports, used
from bondwright.studies.fault_model import CLEARED_A, Fault, FaultKind
from bondwright.studies.fault_parts import Floats
from bondwright.studies.scene import joins_of

MATTERS: Final = 0.02
"""A defect that moves less than this part of the fault current, and of the voltage that drives
it, is taken to leave the fault as it is."""

CHARGING_A: Final = 0.02
"""Currents below this are charging currents of parts that float, A: what they move, a meter of
some megohms moves as well."""

FAULTS_AT_ONCE: Final = 768
CHANGES_AT_ONCE: Final = 192
_COLUMNS_AT_ONCE: Final = 256


class FaultPorts:
    """Faults, each one join, as ports of a network.

    Args:
        ports: the network.
        faults: the faults.

    Raises:
        ValueError: a fault is not a single join, or names a terminal that isn't there.
    """

    def __init__(self, ports: Ports, faults: Sequence[Fault]) -> None:
        self.ports = ports
        self.faults = tuple(faults)
        solver = ports.network.solver
        entries = []
        for fault in faults:
            joins = joins_of(fault)
            if len(joins) > 1 or fault.arc or fault.kind is FaultKind.SECOND_TO_METAL:
                msg = f"{fault}: an arc, three lines or a fault at two places is followed by itself"
                raise ValueError(msg)
            a, b = joins[0]
            if any(node != EARTH and node not in solver.index for node in (a, b)):
                msg = f"{fault}: there is no terminal {a!r} or {b!r}"
                raise ValueError(msg)
            entries.append(solver.join(a, b).u)
        self.u = ports.side(entries)
        self.ohm = np.array([complex(fault.impedance) for fault in faults], dtype=np.complex128)
        self.weights, self.pushes = ports.sources(self.u)
        self.watched = ports.watches(self.u)
        self.drive = ports.undisturbed(self.watched[0])
        metal = ports.parts.metal_of
        self.metal: Integers = np.array(
            [metal.get(fault.place, -1) for fault in faults], dtype=np.int64
        )


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Defects with equally many changes.

    Attributes:
        which: the defects, (n,).
        changes: their changes, (n, k).
        corner: ``(Z_dd + D)^-1``, (n, k, k).
        answer: what each does without a fault, ``M e_d``, (n, k).
        joins: whether their changes are joins.
        crossed: whether the two changes are each other's mirror.
    """

    which: Integers
    changes: Integers
    corner: Complex
    answer: Complex
    joins: bool
    crossed: bool


class DefectPorts:
    """Defects as ports of a network.

    Args:
        ports: the network.
        faulty: the defects.

    Attributes:
        groups: the defects that have an answer, by how many changes they have.
        drive: what drives each change in the undisturbed circuit.
        lost: defects that leave the circuit without an answer.
    """

    def __init__(self, ports: Ports, faulty: Altered) -> None:
        self.ports = ports
        self.altered = faulty
        self.weights, self.pushes = ports.sources(faulty.u)
        self.watched = ports.watches(faulty.v)
        self.drive = ports.undisturbed(self.watched[0])
        own = self._own()
        self.groups: list[Group] = []
        self.lost: list[int] = []
        counts = np.diff(faulty.first)
        crossed = np.zeros(len(counts), dtype=bool)
        start = faulty.first[:-1][counts > 0]
        crossed[counts > 0] = faulty.mirror[start] != start
        joins = np.zeros(len(counts), dtype=bool)
        joins[counts > 0] = faulty.joins[start]
        for k in np.unique(counts[counts > 0]).tolist():
            for cross in (False, True):
                for join in (False, True):
                    which = np.flatnonzero((counts == k) & (crossed == cross) & (joins == join))
                    if len(which):
                        self._add(which, int(k), own, cross, join)

    def _add(
        self, which: Integers, k: int, own: dict[int, Complex], cross: bool, join: bool
    ) -> None:
        changes = self.altered.first[which][:, None] + np.arange(k)
        matrix = np.stack([own[int(d)] + self.altered.corners[d] for d in which])
        scale = np.abs(matrix).max(axis=(1, 2))
        with np.errstate(all="ignore"):
            good = np.abs(np.linalg.det(matrix / np.maximum(scale, 1e-300)[:, None, None])) > 1e-15
        self.lost += which[~good].tolist()
        which, changes, matrix = which[good], changes[good], matrix[good]
        inverse = np.linalg.inv(matrix)
        drive = self.drive[changes]
        answer = (inverse @ drive[:, :, None])[:, :, 0]
        self.groups.append(Group(which, changes, inverse, answer, join, cross))

    def _own(self) -> dict[int, Complex]:
        """Return what the changes of each defect see of each other."""
        first = self.altered.first
        found: dict[int, Complex] = {}
        start, count = 0, len(first) - 1
        while start < count:
            stop = start + 1
            columns = set(self._columns(start))
            while stop < count and stop - start < 512:
                more = columns | set(self._columns(stop))
                if len(more) > _COLUMNS_AT_ONCE:
                    break
                columns, stop = more, stop + 1
            rows = np.arange(first[start], first[stop])
            at = used(self.weights[rows])
            inverse = self.ports.condensed.columns(at)
            seen = times(csr_array(self.watched[0][rows]), inverse)
            weights = self.weights[rows][:, at].toarray()
            inside = csr_array(self.watched[1][rows] @ self.pushes[rows].T)
            for d in range(start, stop):
                here = slice(first[d] - first[start], first[d + 1] - first[start])
                found[d] = seen[here] @ weights[here].T + inside[here, here].toarray()
            start = stop
        return found

    def _columns(self, d: int) -> list[int]:
        first = self.altered.first
        low, high = self.weights.indptr[first[d]], self.weights.indptr[first[d + 1]]
        return self.weights.indices[low:high].tolist()


@dataclass(frozen=True, slots=True, eq=False)
class Screened:
    """One block of faults against all defects.

    Attributes:
        defect: of each pair that matters.
        fault: of each, counted from the first of the block.
        pairs: how many pairs were solved.
    """

    defect: Integers
    fault: Integers
    pairs: int


def fault_blocks(count: int, size: int = FAULTS_AT_ONCE) -> Iterator[tuple[int, int]]:
    """Yield stretches of faults."""
    for start in range(0, count, size):
        yield start, min(start + size, count)


def screen(faults: FaultPorts, faulty: DefectPorts, start: int, stop: int) -> Screened:
    """Solve every defect with every fault of a stretch; keep the pairs that matter.

    By reciprocity ``Z_fd`` is ``Z_df`` turned over. A turning machine isn't quite reciprocal: what
    matters is then chosen by numbers that are a little off, and solved exactly afterwards.
    """
    ports = faults.ports
    rows = np.arange(start, stop)
    push = np.zeros((ports.kept, len(rows)), dtype=np.complex128)
    weights = csr_array(faults.weights[rows])
    at = used(weights)
    for low in range(0, len(at), _COLUMNS_AT_ONCE):
        some = at[low : low + _COLUMNS_AT_ONCE]
        push += np.asarray((weights[:, some] @ ports.condensed.columns(some).T).T)
    inner = csr_array(faults.pushes[rows])
    own = np.asarray(
        csr_array(faults.watched[0][rows]).multiply(csr_array(push.T)).sum(axis=1)
    ).ravel()
    own = own + np.asarray(csr_array(faults.watched[1][rows]).multiply(inner).sum(axis=1)).ravel()
    z = own + faults.ohm[rows]
    e = faults.drive[rows]
    with np.errstate(all="ignore"):
        plain = e / z
    amps = np.maximum(MATTERS * np.abs(plain), CLEARED_A)
    volts = np.maximum(MATTERS * np.abs(e), 1.0)
    which, where, pairs = [], [], 0
    for group in faulty.groups:
        k = group.changes.shape[1]
        step = max(1, CHANGES_AT_ONCE // k)
        for low in range(0, len(group.which), step):
            some = slice(low, low + step)
            hit = _block(group, some, faulty, push, inner, (z, e, plain, amps, volts))
            defect, fault = np.nonzero(hit)
            which.append(group.which[some][defect])
            where.append(fault)
            pairs += hit.size
    none = np.zeros(0, dtype=np.int64)
    return Screened(
        np.concatenate([none, *which]).astype(np.int64),
        np.concatenate([none, *where]).astype(np.int64),
        pairs,
    )


def _block(
    group: Group,
    some: slice,
    faulty: DefectPorts,
    push: Complex,
    inner: csr_array,
    common: tuple[Complex, Complex, Complex, Floats, Floats],
) -> np.ndarray:
    """Return which pairs of some defects of a group with some faults matter, (n, faults)."""
    z, e, plain, amps, volts = common
    changes = group.changes[some]
    n, k = changes.shape
    flat = changes.ravel()
    seen = np.asarray(csr_array(faulty.watched[0][flat]) @ push)
    inside = coo_array(csr_array(faulty.watched[1][flat]) @ inner.T)
    seen[inside.row, inside.col] += inside.data
    seen = seen.reshape(n, k, -1)
    corner, answer = group.corner[some], group.answer[some]
    with np.errstate(all="ignore"):
        if k == 1:
            # The usual case, with as few passes over memory as may be.
            there = seen[:, 0]
            moved = there * corner[:, 0]
            drawn = (e - there * answer[:, :1]) / (z - there * moved)
            own = np.abs(moved * drawn)
            before = np.abs(there * plain)
        else:
            turned = seen[:, ::-1] if group.crossed else seen
            moved = corner @ seen
            drawn = e - (turned * answer[:, :, None]).sum(axis=1)
            drawn = drawn / (z - (turned * moved).sum(axis=1))
            each = np.abs(moved * drawn[:, None])
            if group.crossed:
                own, before = each[:, 0], each[:, 1]
            else:
                own = each.max(axis=1)
                before = np.abs(seen * plain).max(axis=1)
        change = np.abs(drawn - plain)
    # What a defect does all along, without a fault, isn't counted here.
    # A join moves its own current by the voltage it shorts; a gap moves the current it stops.
    current, voltage = (own, before) if group.joins else (before, own)
    real = (voltage > volts) & (current > CHARGING_A)
    hit: np.ndarray = ~((current <= amps) & (change <= amps)) | real
    return hit
