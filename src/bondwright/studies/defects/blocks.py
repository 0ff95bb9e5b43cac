"""Every defect against every fault, in blocks: what is drawn, and which pairs matter.

For a fault (column f, open voltage e_f, impedance Z_ff) in a circuit with a defect (columns d,
``M = (Z_dd + D)^-1``) the bordered system is solved by hand, for a whole block at once:

    y_f = (e_f - Z_fd M e_d) / (Z_ff - Z_fd M Z_df),    y_d = M (e_d - Z_df y_f).

A pair matters where the defect moves enough current or voltage; the others are as they are
without the defect.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from scipy.sparse import coo_array, csr_array

from bondwright.network.circuit import EARTH, Complex
from bondwright.studies.condense import Integers, times
from bondwright.studies.defects.model import Altered, Ports, Role, used
from bondwright.studies.fault_model import CLEARED_A, Fault, FaultKind
from bondwright.studies.fault_parts import Floats
from bondwright.studies.faults import ahead_of_all, is_first_of_two
from bondwright.studies.scene import joins_of

MATTERS: Final = 0.05
"""A defect that moves less than this part of the fault current, and of the voltage that drives
it, is taken to leave the fault as it is."""

CHARGING_A: Final = 0.02
"""Currents below this are charging currents of parts that float, A: what they move, a meter of
some megohms moves as well."""

FAULTS_AT_ONCE: Final = 768
CHANGES_AT_ONCE: Final = 192
_COLUMNS_AT_ONCE: Final = 256
_SINGULAR: Final = 1e-13
_LOT: Final = 512


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
        self.region = ports.regions(self.watched[0])
        metal = ports.parts.metal_of
        self.metal: Integers = np.array(
            [metal.get(fault.place, -1) for fault in faults], dtype=np.int64
        )
        self._first: dict[tuple[str, bool], bool] = {}
        self._ahead: dict[str, bool] = {}

    def is_first(self, fault: Fault) -> bool:
        """Whether a fault that draws nothing is the first one of an ungrounded system."""
        primary = fault.a.startswith("H")
        system = self.ports.network.state.topology.systems.get(fault.place)
        if not primary and system is not None and system.voltages.has_neutral:
            return False
        key = (fault.place, primary)
        if key not in self._first:
            self._first[key] = is_first_of_two(self.ports.network, fault)
        return self._first[key]

    def is_ahead(self, place: str) -> bool:
        """Whether a place lies ahead of every device on site."""
        if place not in self._ahead:
            self._ahead[place] = ahead_of_all(self.ports.network, place)
        return self._ahead[place]


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Defects with equally many changes.

    Attributes:
        which: the defects, (n,).
        changes: their changes, (n, k).
        corner: ``(Z_dd + D)^-1``, (n, k, k).
        answer: what each does without a fault, ``M e_d``, (n, k).
        own: ``Z_dd``, what a current through each change meets, ohm, (n, k, k).
        kind: what each change is, (n, k); see :class:`bondwright.studies.defects.model.Role`.
        mirror: place of each change's mirror within its defect, (n, k).
    """

    which: Integers
    changes: Integers
    corner: Complex
    answer: Complex
    own: Complex
    kind: Integers
    mirror: Integers

    def at(self, which: Integers) -> Group:
        """Return some of the defects."""
        return Group(*(getattr(self, field.name)[which] for field in fields(self)))


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
        each = ports.regions(self.watched[0])
        self.region: Integers = each[faulty.first[:-1]] if len(faulty.first) > 1 else each
        own = self._own()
        self.groups: list[Group] = []
        self.lost: list[int] = []
        counts = np.diff(faulty.first)
        for k in np.unique(counts[counts > 0]).tolist():
            kinds = faulty.kind[faulty.first[:-1][counts == k]]
            for kind in np.unique(kinds).tolist() if k == 1 else [None]:
                which = np.flatnonzero(counts == k)
                self._add(which if kind is None else which[kinds == kind], int(k), own)

    def _add(self, which: Integers, k: int, own: dict[int, Complex]) -> None:
        changes = self.altered.first[which][:, None] + np.arange(k)
        alone = np.stack([own[int(d)] for d in which])
        matrix = alone + np.stack([self.altered.corners[d] for d in which])
        # A volume far smaller than that of its rows: the changes contradict each other.
        rows = np.linalg.norm(matrix, axis=2)
        with np.errstate(all="ignore"):
            matrix_rows = matrix / np.where(rows > 0, rows, 1)[:, :, None]
            columns = np.linalg.norm(matrix_rows, axis=1)
            good = np.abs(np.linalg.det(matrix_rows / columns[:, None, :])) > _SINGULAR
        self.lost += which[~good].tolist()
        which, changes, alone, matrix = which[good], changes[good], alone[good], matrix[good]
        if not len(which):
            return
        inverse = np.linalg.inv(matrix)
        drive = self.drive[changes]
        answer = (inverse @ drive[:, :, None])[:, :, 0]
        kind = self.altered.kind[changes]
        mirror = self.altered.mirror[changes] - self.altered.first[which][:, None]
        self.groups.append(Group(which, changes, inverse, answer, alone, kind, mirror))

    def answers(self) -> Complex:
        """Return the unknown of every change where nothing else is wrong; 0 for those lost."""
        found = np.zeros(int(self.altered.first[-1]), dtype=np.complex128)
        for group in self.groups:
            found[group.changes] = group.answer
        return found

    def lots(self) -> Iterator[tuple[int, int]]:
        """Yield stretches of defects that lie near each other."""
        start, count = 0, len(self.altered.first) - 1
        while start < count:
            stop = start + 1
            columns = set(self._columns(start))
            while stop < count and stop - start < _LOT:
                more = columns | set(self._columns(stop))
                if len(more) > _COLUMNS_AT_ONCE:
                    break
                columns, stop = more, stop + 1
            yield start, stop
            start = stop

    def _own(self) -> dict[int, Complex]:
        """Return what the changes of each defect see of each other."""
        first = self.altered.first
        found: dict[int, Complex] = {}
        for start, stop in self.lots():
            rows = np.arange(first[start], first[stop])
            at = used(self.weights[rows])
            inverse = self.ports.condensed.columns(at)
            seen = times(csr_array(self.watched[0][rows]), inverse)
            weights = self.weights[rows][:, at].toarray()
            inside = csr_array(self.watched[1][rows] @ self.pushes[rows].T).toarray()
            for d in range(start, stop):
                here = slice(first[d] - first[start], first[d + 1] - first[start])
                found[d] = seen[here] @ weights[here].T + inside[here, here]
        return found

    def _columns(self, d: int) -> list[int]:
        first = self.altered.first
        low, high = self.weights.indptr[first[d]], self.weights.indptr[first[d + 1]]
        return [int(k) for k in self.weights.indices[low:high]]


@dataclass(frozen=True, slots=True, eq=False)
class Screened:
    """One block of faults against all defects.

    Attributes:
        defect: of each pair that matters.
        fault: of each, counted from the first of the block.
        pairs: how many pairs were solved; those of two regions, where nothing in one moves the
            other, are among them.
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
    here = np.isin(faulty.region, np.append(faults.region[rows], -1))
    for whole in faulty.groups:
        pairs += len(whole.which) * len(rows)
        group = whole.at(np.flatnonzero(here[whole.which]))
        k = group.changes.shape[1]
        step = max(1, CHANGES_AT_ONCE // k)
        for low in range(0, len(group.which), step):
            part = slice(low, low + step)
            hit = _block(group, part, faulty, push, inner, (z, e, plain, amps, volts))
            defect, fault = np.nonzero(hit)
            which.append(group.which[part][defect])
            where.append(fault)
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
            met = own * np.abs(group.own[some, 0])
        else:
            turned = np.take_along_axis(seen, group.mirror[some][:, :, None], axis=1)
            moved = corner @ seen
            drawn = e - (turned * answer[:, :, None]).sum(axis=1)
            drawn = drawn / (z - (turned * moved).sum(axis=1))
            own = np.abs(moved * drawn[:, None])
            before = np.abs(seen * plain)
            met = np.abs(np.einsum("nkk->nk", group.own[some]))[:, :, None] * own
        change = np.abs(drawn - plain)
    # What a defect does all along, without a fault, isn't counted here. A join moves its own
    # current, and the volts that this meets; a gap the current it stops, and its own volts.
    if k == 1:
        role = int(group.kind[some][0, 0])
        current, voltage = (own, met) if role == Role.JOIN else (before, own)
    else:
        role_of = group.kind[some][:, :, None]
        carries = (role_of == Role.JOIN) | (role_of == Role.MOVED)
        current = np.where(carries, own, np.where(role_of == Role.GAP, before, 0.0)).max(axis=1)
        volts_of = np.where(role_of == Role.JOIN, met, np.where(carries, 0.0, own))
        voltage = volts_of.max(axis=1)
    real = (voltage > volts) & (current > CHARGING_A)
    hit: np.ndarray = ~((current <= amps) & (change <= amps)) | real
    return hit
