"""What hypotheses say of readings: magnitudes at ports, and how they follow the unknowns.

Some hypotheses with equally many parts are solved at once, against the readings of one state.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.network.circuit import Complex
from bondwright.studies.hunt.hypotheses import OPEN_OHM, Hypothesis, Part
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.nuisance import Floats, Unknowns, View
from bondwright.studies.hunt.ports import Indices, Port
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.settings import settings

HELD_OHM: Final = 1e5
"""A point whose source impedance is above this is held by nothing: a high-impedance meter reads
coupled voltage there. Assumed."""

_TINY: Final = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Readings, taken or to be taken, in one state with the same things lifted.

    Attributes:
        view: the circuit.
        lifted: ports that were opened by hand.
        time: when.
        which: their numbers in the whole set.
        terms: ports and weights of each.
        shown: for resistances and loops the port that the meter drives, else -1.
        input: resistance of the meter, ohm; inf for clamps.
        phantom: V.
    """

    view: View
    lifted: tuple[Port, ...]
    time: str
    which: Indices
    terms: tuple[tuple[tuple[int, float], ...], ...]
    shown: Indices
    input: Floats
    phantom: Floats


def rows_of(
    view: View, readings: Sequence[Reading], which: Sequence[int], lifted: Sequence[Port]
) -> Rows:
    """Return readings of one state as rows."""
    at = view.ports.at
    driven = (Quantity.RESISTANCE, Quantity.LOOP)
    return Rows(
        view=view,
        lifted=tuple(lifted),
        time=readings[0].moment.time,
        which=np.array(which, dtype=np.int64),
        terms=tuple(tuple((at[port], w) for port, w in r.terms) for r in readings),
        shown=np.array([at[r.terms[0][0]] if r.quantity in driven else -1 for r in readings]),
        input=np.array([r.instrument.input for r in readings]),
        phantom=np.array([r.instrument.phantom for r in readings]),
    )


class Batch:
    """Some hypotheses with equally many parts against one state's readings."""

    def __init__(
        self,
        unknowns: Unknowns,
        rows: Rows,
        hypotheses: Sequence[Hypothesis],
        theta: Floats | None,
        moved: Indices,
        *,
        slopes: bool,
    ) -> None:
        self.unknowns = unknowns
        self.moved = moved
        self.rows = rows
        self.view = rows.view
        self.hypotheses = hypotheses
        self.t = rows.view.ports.transfer
        self.drive = self._drives()
        self._elements(theta)
        self._solve()
        if slopes:
            self._slopes(theta)

    def _drives(self) -> Complex:
        """q0 for the circuit's own sources, then for one ampere at each port shown, (P, X)."""
        shown = [int(p) for p in self.rows.shown if p >= 0]
        columns = [self.view.ports.quiet, *(self.t[:, p] for p in shown)]
        self.column = np.cumsum(self.rows.shown >= 0) * (self.rows.shown >= 0)
        return np.stack(columns, axis=1)

    def _elements(self, theta: Floats | None) -> None:
        """Numbers, c and e of the active ports, (H, A)."""
        count = len(self.hypotheses)
        at = self.view.ports.at
        fixed = [(at[port], -OPEN_OHM + 0j) for port in self.rows.lifted if port in at]
        if self.view.drives_load:
            fixed += [
                (at[port], y) for port, y in self.unknowns.extra(self.rows.time) if port in at
            ]
        if self.view.drives_load and theta is None:
            known = self.unknowns.known_at(self.rows.time)
            start = self.unknowns.start[None]
            c = self.unknowns.load_elements(start, self.rows.time)[0][0]
            fixed += [(int(self.view.load_at[k]), complex(c[k])) for k in known]
        common = [np.array([p for p, _ in fixed], dtype=np.int64)]
        values = [np.tile(np.array([c for _, c in fixed], dtype=np.complex128), (count, 1))]
        if theta is not None:
            common.append(self.view.electrode_at)
            values.append(self.unknowns.electrode_elements(theta)[0])
            if self.view.drives_load:
                common.append(self.view.load_at[self.moved])
                values.append(self.unknowns.load_elements(theta, self.rows.time)[0][:, self.moved])
        self.common = np.concatenate(common)
        parts = [
            [self._part(p, theta, h) for p in item.parts] for h, item in enumerate(self.hypotheses)
        ]
        wide = len(self.hypotheses[0].parts)
        self.own = np.array([[p for p, _, _ in row] for row in parts], dtype=np.int64)
        self.own = self.own.reshape(count, wide)
        own = np.array([[c for _, c, _ in row] for row in parts], dtype=np.complex128)
        e = np.array([[e for _, _, e in row] for row in parts], dtype=np.complex128)
        values.append(own.reshape(count, wide))
        self.c = np.concatenate(values, axis=1)
        self._switch_off()
        self.e = np.zeros_like(self.c)
        self.e[:, len(self.common) :] = e.reshape(count, wide)
        self.index = np.concatenate([np.tile(self.common, (count, 1)), self.own], axis=1)

    def _switch_off(self) -> None:
        """Take loads that a hypothesis has off out of the circuit, whatever theta says."""
        self.off = np.zeros((len(self.hypotheses), len(self.unknowns.loads)), dtype=np.bool_)
        shared = len(self.common)
        number = {port: k for k, (port, _) in enumerate(self.unknowns.loads)}
        for h, item in enumerate(self.hypotheses):
            for k, part in enumerate(item.parts):
                load = number.get(part.port) if part.off else None
                if load is None:
                    continue
                self.off[h, load] = True
                y = self.unknowns.loads[load][1] if self.view.drives_load else 0j
                there = np.flatnonzero(self.common == self.view.load_at[load])
                self.c[h, there] = 0
                self.c[h, shared + k] = -y

    def _part(self, part: Part, theta: Floats | None, h: int) -> tuple[int, complex, complex]:
        place = self.view.ports.at.get(part.port)
        if place is None:  # what isn't there in this state can't be wrong in it
            return 0, 0j, 0j
        size = part.ohms
        if theta is not None and part.spread:
            size *= math.exp(part.spread * theta[h, self.unknowns.defect_at + part.owner] / 3**0.5)
        if part.drives:
            return place, 0j, cmath.rect(size, math.radians(part.angle))
        return place, (-size + 0j if part.port.gap else 1 / size + 0j), 0j

    def _read(self, matrix: Complex) -> Complex:
        """Return the readings' combination of a matrix's rows."""
        out = np.zeros((len(self.rows.terms), *matrix.shape[1:]), dtype=np.complex128)
        for k, terms in enumerate(self.rows.terms):
            for port, weight in terms:
                out[k] += weight * matrix[port]
        return out

    def _solve(self) -> None:
        active = self.index.shape[1]
        seen = self._read(self.t)  # (R, P)
        start = self._read(self.drive)  # (R, X)
        q: Complex
        count = len(self.hypotheses)
        self.seen = seen
        if not active:
            self.q_active = np.zeros((count, 0, self.drive.shape[1]), dtype=np.complex128)
            self.back: Complex = np.zeros((count, len(seen), 0), dtype=np.complex128)
            q = np.asarray(np.tile(start, (count, 1, 1)))
        else:
            t_aa = self.t[self.index[:, :, None], self.index[:, None, :]]
            matrix = np.eye(active) + t_aa * self.c[:, None, :]
            free = self.drive[self.index]  # (H, A, X)
            free[:, :, 0] -= np.einsum("hab,hb->ha", t_aa, self.e)
            q_active = np.linalg.solve(matrix, free)
            self.q_active = q_active
            row = seen[:, self.index].transpose(1, 0, 2)  # (H, R, A)
            row[:, :, len(self.common) :] -= self._carried()
            y = self.c[:, :, None] * q_active
            y[:, :, 0] += self.e
            q = np.asarray(start[None] - row @ y, dtype=np.complex128)
            # What one volt or ampere at any port does to a reading, all changes made.
            weighted = row * self.c[:, None, :]
            turned = np.linalg.solve(matrix.transpose(0, 2, 1), weighted.transpose(0, 2, 1))
            self.back = np.asarray(turned.transpose(0, 2, 1), dtype=np.complex128)
        pick = self.column[None, :, None]
        self.q = np.take_along_axis(q, np.broadcast_to(pick, (*q.shape[:2], 1)), axis=2)[:, :, 0]
        self.source = self._source()
        loss = np.abs(1 / (1 + self.source / self.rows.input))
        self.size = np.abs(self.q) * loss
        self.loss = loss

    def _carried(self) -> Floats:
        """Return how much of each own part's current a clamp reads besides, (H, R, parts)."""
        at = self.view.ports.at
        shape = (len(self.hypotheses), len(self.rows.terms), self.own.shape[1])
        out = np.zeros(shape)
        for h, item in enumerate(self.hypotheses):
            for k, part in enumerate(item.parts):
                place = None if part.carries is None else at.get(part.carries)
                if place is None:
                    continue
                for r, terms in enumerate(self.rows.terms):
                    out[h, r, k] = sum(weight for port, weight in terms if port == place)
        return out

    def _source(self) -> Complex:
        """Return the source impedance behind each voltage reading, (H, R); 0 for others."""
        count = len(self.hypotheses)
        out = np.zeros((count, len(self.rows.terms)), dtype=np.complex128)
        shared = len(self.common)
        for k, terms in enumerate(self.rows.terms):
            if math.isfinite(self.rows.input[k]):
                port = terms[0][0]
                out[:, k] = self.seen[k, port]
                out[:, k] -= self.back[:, k, :shared] @ self.t[self.common, port]
                out[:, k] -= np.sum(self.back[:, k, shared:] * self.t[self.own, port], axis=1)
        return out

    def _effect(self, at: Indices) -> Complex:
        """Return T between readings and ports, all changes made, (H, R, len(at))."""
        shared = len(self.common)
        out = np.broadcast_to(
            self.seen[:, at], (len(self.hypotheses), len(self.seen), len(at))
        ).copy()
        if shared:
            out -= self.back[:, :, :shared] @ self.t[np.ix_(self.common, at)]
        if self.index.shape[1] > shared:
            out -= self.back[:, :, shared:] @ self.t[self.own[:, :, None], at]
        return out

    def _there(self, at: Indices) -> Complex:
        """Return q at ports, all changes made, (H, len(at), X)."""
        shared = len(self.common)
        y = self.c[:, :, None] * self.q_active
        if self.index.shape[1]:
            y[:, :, 0] += self.e
        out = np.tile(self.drive[at], (len(self.hypotheses), 1, 1))
        if shared:
            out -= self.t[np.ix_(at, self.common)] @ y[:, :shared]
        if self.index.shape[1] > shared:
            out -= self.t[at[:, None], self.own[:, None, :]] @ y[:, shared:]
        return out

    def _slopes(self, theta: Floats | None) -> None:
        unknowns, view = self.unknowns, self.view
        count = len(self.hypotheses)
        middle = np.tile(unknowns.start, (count, 1)) if theta is None else theta
        self.slope = np.zeros((count, len(self.rows.terms), unknowns.count))
        turn = np.asarray(np.conj(self.q) / np.maximum(np.abs(self.q), _TINY), dtype=np.complex128)
        turn = turn * self.loss
        at = np.concatenate([view.electrode_at, view.joint_at, view.load_at])
        if not view.drives_load:
            at = at[: len(view.electrode_at) + len(view.joint_at)]
        effect = self._effect(at)
        there = self._there(at)[:, :, self.column]  # (H, n, R)
        push = -effect * there.transpose(0, 2, 1) * turn[:, :, None]

        def put(start: int, first: int, dc: Complex | Floats) -> None:
            wide = dc.shape[-1]
            chosen = push[:, :, first : first + wide] * dc[:, None, :]
            self.slope[:, :, start : start + wide] += chosen.real

        electrodes, joints = len(view.electrode_at), len(view.joint_at)
        put(0, 0, unknowns.electrode_elements(middle)[1])
        put(unknowns.joint_at, electrodes, np.tile(-view.joint, (count, 1)))
        if view.drives_load:
            _, by_load, by_angle = unknowns.load_elements(middle, self.rows.time)
            on = ~self.off
            put(unknowns.load_at[self.rows.time], electrodes + joints, by_load * on)
            put(unknowns.angle_at[self.rows.time], electrodes + joints, by_angle * on)
        live = self.column == 0
        self.slope[:, :, unknowns.supply_at] = self.size * unknowns.supply * live
        self._by_severity(turn)
        model = settings().nuisance.model * self.size
        held = np.abs(self.source) ** 2
        held = held / (held + HELD_OHM**2)
        self.extra = np.hypot(model, held * self.rows.phantom / math.sqrt(3))

    def _by_severity(self, turn: Complex) -> None:
        shared = len(self.common)
        for k in range(self.index.shape[1] - shared):
            spreads = np.array([item.parts[k].spread for item in self.hypotheses])
            if not spreads.any():
                continue
            owner = np.array([item.parts[k].owner for item in self.hypotheses])
            sign = np.array([1.0 if item.parts[k].port.gap else -1.0 for item in self.hypotheses])
            # c of a join is 1/R, of a gap -R.
            dc = self.c[:, shared + k] * sign
            effect = np.stack(
                [self._effect_of(h, int(self.own[h, k])) for h in range(len(self.hypotheses))]
            )
            there = self.q_active[:, shared + k][:, self.column]
            drive = self.e[:, shared + k, None] * (self.column == 0)
            push = -effect * (there * dc[:, None] + drive) * turn
            out = push.real * (spreads / math.sqrt(3))[:, None]
            for h, who in enumerate(owner):
                self.slope[h, :, self.unknowns.defect_at + who] += out[h]

    def _effect_of(self, h: int, port: int) -> Complex:
        """Return T between readings and one port under one hypothesis, (R,)."""
        return np.asarray(self.seen[:, port] - self.back[h] @ self.t[self.index[h], port])
