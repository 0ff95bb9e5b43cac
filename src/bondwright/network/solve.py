"""Solving a circuit once, and then again for every small change of it.

The matrix A is factored once. A change of the circuit (a fault across two nodes, a switch that
opens, a conductor that breaks) borders it by one row and column, so that any number of changes
is answered from the one factorisation:

    [ A    U ] [x]   [b]        y = (D + V^T W)^-1 V^T x0,   x = x0 - W y,
    [ V^T -D ] [y] = [0]        x0 = A^-1 b,  W = A^-1 U

which is the Sherman-Morrison-Woodbury identity with ``D = C^-1``: a bolted fault is simply
``D = 0``. Source: W. W. Hager, "Updating the inverse of a matrix", SIAM Review 31 (1989)
221-239. Every answer is refined against the bordered system until its residual is at rounding.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from operator import is_not, mul
from typing import Final

import numpy as np
from scipy.sparse.linalg import splu

from bondwright.network.assembly import Assembly
from bondwright.network.changes import Change, Injection, Residuals, SolveError
from bondwright.network.circuit import Circuit, Complex
from bondwright.network.contradiction import told
from bondwright.network.solution import Solution

__all__ = ["Change", "Injection", "Residuals", "Solution", "SolveError", "Solver"]

_REFINE_STEPS: Final = 3
_GOOD_RESIDUAL: Final = 1e-12
_COLUMN_BYTES: Final = 128 * 2**20
"""Memory for columns of changes that are kept for the next question."""
_LEAST_COLUMNS: Final = 256


class Solver(Assembly):
    """A factored circuit.

    Args:
        circuit: what to solve; it is read once, later additions are not seen.

    Raises:
        SolveError: the circuit is contradictory (say, two ideal sources side by side).
    """

    def __init__(self, circuit: Circuit) -> None:
        super().__init__(circuit)
        self._columns: OrderedDict[str, Complex] = OrderedDict()
        self._last: tuple[tuple[Change, ...], Complex, Complex, Complex] | None = None
        self._most_columns = max(_LEAST_COLUMNS, _COLUMN_BYTES // (16 * max(self.size, 1)))
        try:
            self._lu = splu(self._matrix, permc_spec="MMD_AT_PLUS_A")
        except RuntimeError as error:
            raise SolveError(told(circuit)) from error

    def _times(self, x: Complex) -> Complex:
        return np.asarray(self._matrix @ x, dtype=np.complex128)

    def _back(self, rhs: Complex) -> Complex:
        return np.asarray(self._lu.solve(rhs), dtype=np.complex128)

    @cached_property
    def _base(self) -> Complex:
        return self._refined(self._rhs)

    def set_emfs(self, emfs: Mapping[str, complex]) -> None:
        """Give ideal voltages, by id, other values in V; the circuit's own are left as they are."""
        for name, volts in emfs.items():
            self._rhs[self.source_row[name]] = volts
        self.__dict__.pop("_base", None)

    def alone(self, emfs: Mapping[str, complex]) -> Solution:
        """Return the answer to some ideal voltages in V by id, all others being plain joins."""
        rhs = np.zeros(self.size, dtype=np.complex128)
        for name, volts in emfs.items():
            rhs[self.source_row[name]] = volts
        none = np.zeros(0, dtype=np.complex128)
        return Solution(self, self._refined(rhs), (), none, (), dead=True)

    def _refined(self, rhs: Complex) -> Complex:
        x = self._back(rhs)
        for _ in range(_REFINE_STEPS):
            rest = rhs - self._times(x)
            if np.max(np.abs(rest), initial=0.0) <= _GOOD_RESIDUAL * np.max(
                np.abs(rhs), initial=1e-300
            ):
                break
            x = x + self._back(rest)
        return x

    def join(self, a: str, b: str, impedance: complex = 0.0) -> Change:
        """Return the change that joins two nodes through an impedance in ohm (0: bolted)."""
        pairs = self._difference(a, b)
        return Change(f"join {a} {b}", pairs, pairs, complex(impedance), joins=(a, b))

    def _difference(self, a: str, b: str) -> tuple[tuple[int, complex], ...]:
        signed = ((self._node(a), 1 + 0j), (self._node(b), -1 + 0j))
        return tuple((node, sign) for node, sign in signed if node >= 0)

    def open_switch(self, name: str) -> Change:
        """Return the change that opens a closed switch.

        The switch's own row ``V(a) - V(b) = 0`` becomes ``I = 0``.
        """
        switch = self.circuit.switches[self.switch_row[name] - len(self.nodes)]
        if not switch.closed:
            msg = f"switch {name!r} is open already"
            raise ValueError(msg)
        row = self.switch_row[name]
        minus = tuple((node, -sign) for node, sign in self._difference(switch.a, switch.b))
        there = (row, 1 + 0j)
        return Change(f"open {name}", (there,), (*minus, there), 1 + 0j, opens=name)

    def open_conductor(self, section: str, conductor: str) -> Change:
        """Return the change that breaks one conductor of a section, its neighbours coupled on.

        A voltage y appears in series with conductor k so that its current is zero:
        ``I = Y dV + Y[:,k] y`` with ``I[k] = 0``.
        """
        return self._gap(section, self._only(section, conductor), 0j, f"break {conductor}")

    def insert(self, section: str, conductor: str, impedance: complex) -> Change:
        """Return the change that puts an impedance in ohm in series with one conductor.

        Raises:
            ValueError: the impedance is zero, which changes nothing.
        """
        if impedance == 0:
            msg = "an impedance of zero in series changes nothing"
            raise ValueError(msg)
        pattern = self._only(section, conductor)
        return self._gap(section, pattern, -1 / complex(impedance), f"insert in {conductor}")

    def reshape(
        self, section: str, patterns: Sequence[Sequence[float]], added: Complex
    ) -> tuple[Change, ...]:
        """Return the changes that add impedance to a section by patterns of its conductors.

        With G the patterns as columns, the section's matrix becomes ``Z + G added G^T``. That is
        how a steel raceway changes with its current: one pattern takes the conductors inside
        together, another the raceway.

        Args:
            section: id of the section.
            patterns: m patterns of n numbers each.
            added: the impedance to add, ohm, shape (m, m), invertible.
        """
        inverse = np.linalg.inv(added)
        labels = [f"reshape {k}" for k in range(len(patterns))]
        full = [f"{label} of {section}" for label in labels]
        return tuple(
            replace(
                self._gap(section, pattern, -complex(inverse[i, i]), labels[i]),
                partners=tuple(
                    (full[j], -complex(inverse[i, j])) for j in range(len(patterns)) if j != i
                ),
            )
            for i, pattern in enumerate(patterns)
        )

    def _only(self, section: str, conductor: str) -> tuple[float, ...]:
        names = self.circuit.sections[self.section_index[section]].names
        place = names.index(conductor)
        return tuple(1.0 if i == place else 0.0 for i in range(len(names)))

    def _gap(self, section: str, pattern: Sequence[float], d: complex, what: str) -> Change:
        """``I = Y (dV + g y)`` with ``g^T I = -d y`` for a pattern g of gap voltages."""
        k = self.section_index[section]
        here = slice(self.conductors[k], self.conductors[k + 1])
        starts, ends = self.starts[here].tolist(), self.ends[here].tolist()
        column = self.admittances[k] @ np.asarray(pattern)
        # A turning machine isn't reciprocal: its row is not its column.
        row = np.asarray(pattern) @ self.admittances[k]

        def at_nodes(weights: Complex) -> tuple[tuple[int, complex], ...]:
            pairs: dict[int, complex] = {}
            for value, start, end in zip(weights.tolist(), starts, ends, strict=True):
                if start >= 0:
                    pairs[start] = pairs.get(start, 0j) + value
                if end >= 0:
                    pairs[end] = pairs.get(end, 0j) - value
            return tuple(pairs.items())

        label = f"{what} of {section}"
        u, v = at_nodes(column), at_nodes(row)
        return Change(label, u, v, d, section=k, pattern=tuple(map(float, pattern)))

    def solve(
        self,
        changes: Sequence[Change] = (),
        injections: Sequence[Injection] = (),
        *,
        dead: bool = False,
    ) -> Solution:
        """Solve the circuit with any number of changes made to it.

        Args:
            changes: what is different; order doesn't matter, the same one twice is refused.
            injections: currents drawn from outside the circuit's own elements.
            dead: take every voltage source as a join without voltage.

        Returns:
            The solution, whose residuals can be asked for.

        Raises:
            SolveError: the changed circuit has no unique answer.
        """
        own = self._rhs if not dead else np.zeros(self.size, dtype=np.complex128)
        plain = not injections and not dead
        rhs = own if not injections else own + self._drawn(injections)
        start = self._base if plain else self._refined(rhs)
        facts = tuple(injections)
        if not changes:
            none = np.zeros(0, dtype=np.complex128)
            return Solution(self, start, (), none, facts, dead=dead)
        w, d, core = self._bordered(tuple(changes))
        scale = float(np.max(np.abs(rhs), initial=1e-300))
        x = np.zeros(self.size, dtype=np.complex128)
        y = np.zeros(len(changes), dtype=np.complex128)
        rest, gap = rhs, np.zeros(len(changes), dtype=np.complex128)
        for step in range(_REFINE_STEPS + 1):
            part = start if step == 0 else self._back(rest)
            try:
                dy = np.linalg.solve(core, _rows_times(changes, part) - gap)
            except np.linalg.LinAlgError as error:
                msg = "these changes leave a circuit without a unique answer: " + ", ".join(
                    change.label for change in changes
                )
                raise SolveError(msg) from error
            x = x + part - w @ dy
            y = y + dy
            rest = rhs - self._times(x)
            for change, value in zip(changes, y, strict=True):
                for index, weight in change.u:
                    rest[index] -= weight * value
            gap = d @ y - _rows_times(changes, x)
            worst = max(float(np.max(np.abs(rest))), float(np.max(np.abs(gap))))
            if worst <= _GOOD_RESIDUAL * scale:
                break
        if not np.all(np.isfinite(x)):
            msg = "the answer is not finite: " + ", ".join(change.label for change in changes)
            raise SolveError(msg)
        return Solution(self, x, tuple(changes), y, facts, dead=dead)

    def _bordered(self, changes: tuple[Change, ...]) -> tuple[Complex, Complex, Complex]:
        """Return W, D and D + V^T W of some changes; the last ones are kept.

        Inverters that find their limit ask for the same circuit several times in a row.
        """
        last = self._last
        if last is None or len(last[0]) != len(changes) or any(map(is_not, last[0], changes)):
            w = np.stack([self._column(change) for change in changes], axis=1)
            d = self._corner(changes)
            last = self._last = (changes, w, d, d + _rows_times_all(changes, w))
        return last[1], last[2], last[3]

    def transfer(self, pairs: Sequence[tuple[str, str]]) -> Complex:
        """Return what a current between two nodes does between two others, all from one solve.

        Args:
            pairs: P pairs of nodes; a current of 1 A enters at the first and leaves at the
                second.

        Returns:
            Array of shape (P, P): voltage of each pair for a current through each, ohm.
        """
        ends = [self._difference(a, b) for a, b in pairs]
        rhs = np.zeros((self.size, len(pairs)), dtype=np.complex128, order="F")
        for k, pair in enumerate(ends):
            for node, sign in pair:
                rhs[node, k] += sign
        x = self._back(rhs)
        return np.array([sum(sign * x[node] for node, sign in pair) for pair in ends])

    def _drawn(self, injections: Sequence[Injection]) -> Complex:
        rhs = np.zeros(self.size, dtype=np.complex128)
        for item in injections:
            for node, sign in self._difference(item.a, item.b):
                rhs[node] -= sign * item.current
        return rhs

    def _corner(self, changes: Sequence[Change]) -> Complex:
        d = np.diag(np.array([change.d for change in changes], dtype=np.complex128))
        place = {change.label: i for i, change in enumerate(changes)}
        for i, one in enumerate(changes):
            for label, value in one.partners:
                d[i, place[label]] += value
            if one.section < 0:
                continue
            # Gaps in one section feel each other's voltage through its coupling.
            felt = self.admittances[one.section] @ np.asarray(one.pattern)
            for j, other in enumerate(changes):
                if other.section == one.section:
                    d[j, i] -= complex(np.asarray(other.pattern) @ felt)
        return d

    def _column(self, change: Change) -> Complex:
        kept = self._columns.get(change.label)
        if kept is not None:
            self._columns.move_to_end(change.label)
        else:
            rhs = np.zeros(self.size, dtype=np.complex128)
            for index, value in change.u:
                rhs[index] += value
            kept = self._back(rhs)
            self._columns[change.label] = kept
            if len(self._columns) > self._most_columns:
                self._columns.popitem(last=False)
        return kept


def _rows_times_all(changes: Sequence[Change], columns: Complex) -> Complex:
    """Return :func:`_rows_times` of every column, side by side.

    Numbers are added one by one in the order of the rows, as for one column.
    """
    at = np.array([index for change in changes for index, _ in change.v], dtype=np.int64)
    weights = [[value for _, value in change.v] for change in changes]
    found = np.empty((len(changes), columns.shape[1]), dtype=np.complex128)
    for k, values in enumerate(columns[at].T.tolist()):
        begin = 0
        for row, these in enumerate(weights):
            end = begin + len(these)
            found[row, k] = sum(map(mul, these, values[begin:end]))
            begin = end
    return found


def _rows_times(changes: Sequence[Change], x: Complex) -> Complex:
    return np.array(
        [sum(value * x[index] for index, value in change.v) for change in changes],
        dtype=np.complex128,
    )
