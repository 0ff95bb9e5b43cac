"""What hypotheses say of readings: magnitudes at ports, and how they follow the unknowns.

Some hypotheses with equally many parts are solved at once, against the readings of one state.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from bondwright.network.circuit import Complex
from bondwright.studies.hunt.base import (
    Base,
    Rows,
    bare_base,
    base_of,
    carried_by,
    element_of,
    shared_elements,
)
from bondwright.studies.hunt.hypotheses import Hypothesis
from bondwright.studies.hunt.nuisance import Floats, Unknowns
from bondwright.studies.hunt.ports import Indices
from bondwright.studies.hunt.settings import settings

HELD_OHM: Final = 1e5
"""A point whose source impedance is above this is held by nothing: a high-impedance meter reads
coupled voltage there. Assumed."""

_TINY: Final = 1e-12

MOST_OHM: Final = 1e7
"""Largest loop that a clamp-on earth tester is reckoned to meet, ohm: an open one."""


class Batch:
    """Some hypotheses with equally many parts against one state's readings.

    Args:
        unknowns: of the site.
        rows: the state's readings.
        hypotheses: H of them.
        theta: fitted unknowns of each, (H, fitted); or of all alike, (fitted,), or None for the
            site as described.
        moved: loads that follow theta.
        slopes: whether slopes are asked for.
        base: what all share, where theta is alike for all; made here if it isn't given.
    """

    def __init__(
        self,
        unknowns: Unknowns,
        rows: Rows,
        hypotheses: Sequence[Hypothesis],
        theta: Floats | None,
        moved: Indices,
        *,
        slopes: bool,
        base: Base | None = None,
    ) -> None:
        self.unknowns = unknowns
        self.rows = rows
        self.view = rows.view
        self.hypotheses = hypotheses
        alike = theta is None or theta.ndim == 1
        if base is None:
            base = base_of(unknowns, rows, theta, moved) if alike else bare_base(rows)
        self.base, self.t, self.drive, self.column = base, base.t, base.drive, base.column
        count = len(hypotheses)
        each = np.tile(unknowns.start if theta is None else theta, (count, 1)) if alike else theta
        if each is None:
            msg = "theta is alike for all, or given for each"
            raise ValueError(msg)
        own = None if theta is None else each
        self._elements(own, moved, alike=alike)
        self._solve()
        if slopes:
            self._slopes(each)

    def _elements(self, theta: Floats | None, moved: Indices, *, alike: bool) -> None:
        """Numbers, c and e of the active ports, (H, A)."""
        count = len(self.hypotheses)
        if alike:
            self.common = np.zeros(0, dtype=np.int64)
            shared = np.zeros((count, 0), dtype=np.complex128)
        else:
            self.common, shared = shared_elements(self.unknowns, self.rows, theta, moved)
        parts = [
            [
                element_of(self.view, self.unknowns, p, None if theta is None else theta[h])
                for p in item.parts
            ]
            for h, item in enumerate(self.hypotheses)
        ]
        wide = len(self.hypotheses[0].parts)
        self.own = np.array([[p for p, _, _ in row] for row in parts], dtype=np.int64)
        self.own = self.own.reshape(count, wide)
        own = np.array([[c for _, c, _ in row] for row in parts], dtype=np.complex128)
        e = np.array([[e for _, _, e in row] for row in parts], dtype=np.complex128)
        self.c = np.concatenate([shared, own.reshape(count, wide)], axis=1)
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
                port = int(self.view.load_at[load])
                there = np.flatnonzero(self.common == port)
                self.c[h, there] = 0
                if self.view.drives_load:
                    y += self.base.changed.get(port, 0j)
                self.c[h, shared + k] = -y

    def _solve(self) -> None:
        active = self.index.shape[1]
        seen, start = self.base.seen, self.base.start  # (R, P), (R, X)
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
        self.size[:, self.rows.round] = 1 / np.maximum(self.size[:, self.rows.round], 1 / MOST_OHM)
        self.loss = loss

    def _carried(self) -> Floats:
        """Return how much of each own part's current a clamp reads besides, (H, R, parts)."""
        shape = (len(self.hypotheses), len(self.rows.terms), self.own.shape[1])
        out = np.zeros(shape)
        for h, item in enumerate(self.hypotheses):
            if any(part.carries is not None for part in item.parts):
                out[h] = carried_by(self.rows, item)
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

    def _slopes(self, middle: Floats) -> None:
        unknowns, view = self.unknowns, self.view
        count = len(self.hypotheses)
        self.slope = np.zeros((count, len(self.rows.terms), unknowns.count))
        turn = np.asarray(np.conj(self.q) / np.maximum(np.abs(self.q), _TINY), dtype=np.complex128)
        turn = turn * self.loss
        turn[:, self.rows.round] *= -(self.size[:, self.rows.round] ** 2)
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
        if view.powered and not view.drives_load:
            self._standing_by()

    def _standing_by(self) -> None:
        """Add what loads still draw that are off, and what a test load's power isn't known by."""
        at = self.view.load_at
        data = settings().nuisance
        there = self._there(at)[:, :, 0]
        drawn = data.standby * np.array([abs(y) for _, y in self.unknowns.loads])
        push = np.abs(self._effect(at) * (there * drawn)[:, None, :])
        live = self.column == 0
        self.extra = np.hypot(self.extra, np.sqrt(np.sum(push**2, axis=2)) * live)
        if self.rows.test is not None:
            self.extra = np.hypot(self.extra, data.test_load * self.size * live)

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
