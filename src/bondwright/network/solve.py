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
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from bondwright.network.circuit import EARTH, Circuit, Complex, Section

_REFINE_STEPS: Final = 3
_GOOD_RESIDUAL: Final = 1e-12
_COLUMN_BYTES: Final = 128 * 2**20
"""Memory for columns of changes that are kept for the next question."""
_LEAST_COLUMNS: Final = 256

Indices = npt.NDArray[np.int64]


class SolveError(ArithmeticError):
    """A circuit has no answer, or none that can be trusted; the message says why."""


@dataclass(frozen=True, slots=True)
class Change:
    """One change of the circuit: a column of U, a row of V^T and an entry of D.

    Make one with the methods of :class:`Solver`. Its unknown y is the current from a to b for
    a join, and the voltage of a gap: ``y`` stands in series with every conductor of a section
    in proportion to a pattern.

    Attributes:
        label: for messages, and the key under which its column is kept.
        u: (index, value) pairs of the column.
        v: (index, value) pairs of the row.
        d: the diagonal entry of D, without what a gap feels of itself through its section.
        joins: the two nodes of a join, else None.
        opens: id of the switch that opens, else None.
        section: index of the section a gap is in, else -1.
        pattern: share of the gap voltage in each conductor of that section.
        partners: (label, value) pairs of further entries of D.
    """

    label: str
    u: tuple[tuple[int, complex], ...]
    v: tuple[tuple[int, complex], ...]
    d: complex
    joins: tuple[str, str] | None = None
    opens: str | None = None
    section: int = -1
    pattern: tuple[float, ...] = ()
    partners: tuple[tuple[str, complex], ...] = ()

    @property
    def broken(self) -> int:
        """Index of the conductor that a plain break is of, or -1."""
        plain = self.section >= 0 and self.d == 0 and sum(self.pattern) == 1
        return self.pattern.index(1.0) if plain and self.pattern.count(1.0) == 1 else -1


@dataclass(frozen=True, slots=True)
class Injection:
    """A current, A rms, that something outside the circuit draws at a and returns at b."""

    a: str
    b: str
    current: complex


@dataclass(frozen=True, slots=True, eq=False)
class Residuals:
    """How well an answer satisfies the laws it was computed from.

    Attributes:
        kirchhoff: largest sum of currents at any node, over the largest current anywhere.
        power: power of the sources less what the elements take, over the sources' power.
    """

    kirchhoff: float
    power: float


class Solver:
    """A factored circuit.

    Args:
        circuit: what to solve; it is read once, later additions are not seen.

    Raises:
        SolveError: the circuit is contradictory (say, two ideal sources side by side).
    """

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.nodes = circuit.nodes()
        self.index: Mapping[str, int] = {name: k for k, name in enumerate(self.nodes)}
        n = len(self.nodes)
        self.switch_row: Mapping[str, int] = {
            switch.id: n + k for k, switch in enumerate(circuit.switches)
        }
        n += len(circuit.switches)
        self.source_row: Mapping[str, int] = {
            source.id: n + k for k, source in enumerate(circuit.sources)
        }
        n += len(circuit.sources)
        self.transformer_row: Mapping[str, int] = {
            unit.id: n + k for k, unit in enumerate(circuit.transformers)
        }
        self.size = n + len(circuit.transformers)
        self.section_index = {section.id: k for k, section in enumerate(circuit.sections)}
        self.admittances = _inverses(circuit.sections)
        self._columns: OrderedDict[str, Complex] = OrderedDict()
        self._most_columns = max(_LEAST_COLUMNS, _COLUMN_BYTES // (16 * max(self.size, 1)))
        self._assemble()

    def _assemble(self) -> None:
        count = len(self.nodes)
        diagonal = np.arange(count)
        parts = [(diagonal, diagonal, np.full(count, self.circuit.leakage))]
        parts += self._section_entries()
        rows: list[int] = []
        cols: list[int] = []
        values: list[complex] = []

        def put(row: int, col: int, value: complex) -> None:
            if row >= 0 and col >= 0:
                rows.append(row)
                cols.append(col)
                values.append(value)

        for switch in self.circuit.switches:
            row = self.switch_row[switch.id]
            a, b = self._node(switch.a), self._node(switch.b)
            put(a, row, 1)
            put(b, row, -1)
            if switch.closed:
                put(row, a, 1)
                put(row, b, -1)
            else:
                put(row, row, 1)
        for source in self.circuit.sources:
            row = self.source_row[source.id]
            for node, sign in ((self._node(source.plus), 1), (self._node(source.minus), -1)):
                put(node, row, sign)
                put(row, node, sign)
        for unit in self.circuit.transformers:
            row = self.transformer_row[unit.id]
            # The unknown is the secondary current, out of s1; the primary takes 1/ratio of it.
            for node, share in (
                (self._node(unit.p1), 1 / unit.ratio),
                (self._node(unit.p2), -1 / unit.ratio),
                (self._node(unit.s1), -1.0),
                (self._node(unit.s2), 1.0),
            ):
                put(node, row, share)
                put(row, node, share)
        parts.append((np.array(rows, int), np.array(cols, int), np.array(values, complex)))
        row_at, col_at, entries = (np.concatenate(column) for column in zip(*parts, strict=True))
        self._rhs = np.zeros(self.size, dtype=np.complex128)
        for source in self.circuit.sources:
            self._rhs[self.source_row[source.id]] = source.emf
        self._matrix = csc_array((entries, (row_at, col_at)), shape=(self.size, self.size))
        try:
            self._lu = splu(self._matrix, permc_spec="MMD_AT_PLUS_A")
        except RuntimeError as error:
            msg = (
                "the circuit contradicts itself: two ideal voltages or joins stand in parallel "
                "with nothing between them"
            )
            raise SolveError(msg) from error

    @property
    def matrix(self) -> csc_array:
        """The matrix of the circuit as it was built, shape (size, size); not to be changed."""
        return self._matrix

    @property
    def right_side(self) -> Complex:
        """What drives the circuit, shape (size,); not to be changed."""
        return self._rhs

    def node_row(self, name: str) -> int:
        """Return the row of a node's voltage among the unknowns; -1 for earth."""
        return self._node(name)

    def _section_entries(self) -> Iterator[tuple[Indices, Indices, Complex]]:
        """Yield rows, columns and values of all sections, those of one width together."""
        widths: dict[int, list[int]] = {}
        for k, section in enumerate(self.circuit.sections):
            widths.setdefault(len(section.names), []).append(k)
        for members in widths.values():
            sections = [self.circuit.sections[k] for k in members]
            y = np.stack([self.admittances[k] for k in members])
            starts, ends = (
                np.array([[self._node(name) for name in names] for names in side])
                for side in ([s.starts for s in sections], [s.ends for s in sections])
            )
            for one, other, sign in (
                (starts, starts, 1),
                (starts, ends, -1),
                (ends, starts, -1),
                (ends, ends, 1),
            ):
                row = np.broadcast_to(one[:, :, None], y.shape)
                col = np.broadcast_to(other[:, None, :], y.shape)
                kept = (row >= 0) & (col >= 0)
                yield row[kept], col[kept], sign * y[kept]

    def _node(self, name: str) -> int:
        return -1 if name == EARTH else self.index[name]

    def _times(self, x: Complex) -> Complex:
        return np.asarray(self._matrix @ x, dtype=np.complex128)

    def _back(self, rhs: Complex) -> Complex:
        return np.asarray(self._lu.solve(rhs), dtype=np.complex128)

    @cached_property
    def _base(self) -> Complex:
        return self._refined(self._rhs)

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
        item = self.circuit.sections[k]
        column = self.admittances[k] @ np.asarray(pattern)
        # A turning machine isn't reciprocal: its row is not its column.
        row = np.asarray(pattern) @ self.admittances[k]

        def at_nodes(weights: Complex) -> tuple[tuple[int, complex], ...]:
            pairs: dict[int, complex] = {}
            for i, value in enumerate(weights):
                for node, sign in self._difference(item.starts[i], item.ends[i]):
                    pairs[node] = pairs.get(node, 0j) + sign * complex(value)
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
        w = np.stack([self._column(change) for change in changes], axis=1)
        d = self._corner(changes)
        core = d + np.array([_rows_times(changes, column) for column in w.T]).T
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


def _inverses(sections: Sequence[Section]) -> list[Complex]:
    """Return the admittance matrix of every section; equal widths are inverted together."""
    found: list[Complex] = [np.zeros((0, 0), dtype=np.complex128)] * len(sections)
    widths: dict[int, list[int]] = {}
    for k, section in enumerate(sections):
        widths.setdefault(len(section.names), []).append(k)
    for members in widths.values():
        inverse = np.linalg.inv(np.stack([sections[k].impedance for k in members]))
        for k, y in zip(members, inverse, strict=True):
            found[k] = np.asarray(y, dtype=np.complex128)
    return found


def _rows_times(changes: Sequence[Change], x: Complex) -> Complex:
    return np.array(
        [sum(value * x[index] for index, value in change.v) for change in changes],
        dtype=np.complex128,
    )


class Solution:
    """Voltages and currents of one solved case. Voltages in V, currents in A, rms phasors."""

    def __init__(
        self,
        solver: Solver,
        x: Complex,
        changes: tuple[Change, ...],
        unknowns: Complex,
        injections: tuple[Injection, ...] = (),
        *,
        dead: bool = False,
    ) -> None:
        self._solver = solver
        self._x = x
        self.changes = changes
        self._unknowns = unknowns
        self.injections = injections
        self.dead = dead

    def voltage(self, node: str) -> complex:
        """Return the voltage of a node to remote earth, V."""
        return 0j if node == EARTH else complex(self._x[self._solver.index[node]])

    def between(self, a: str, b: str) -> complex:
        """Return the voltage from node b up to node a, V."""
        return self.voltage(a) - self.voltage(b)

    def switch_current(self, name: str) -> complex:
        """Return the current through a switch from a to b, A."""
        return complex(self._x[self._solver.switch_row[name]])

    def source_current(self, name: str) -> complex:
        """Return the current a source delivers out of its plus terminal, A."""
        return -complex(self._x[self._solver.source_row[name]])

    def change_current(self, place: int) -> complex:
        """Return the current from a to b through the join made by change number ``place``, A."""
        if self.changes[place].joins is None:
            msg = f"{self.changes[place].label!r} is not a join and carries no current"
            raise ValueError(msg)
        return complex(self._unknowns[place])

    def section_currents(self, name: str) -> Complex:
        """Return the current in each conductor of a section, from its start to its end, A.

        Returns:
            Array of shape (n,), in the order of the section's names.
        """
        k = self._solver.section_index[name]
        return self._section(k)

    def conductor_current(self, section: str, conductor: str) -> complex:
        """Return the current in one conductor of a section, A."""
        k = self._solver.section_index[section]
        place = self._solver.circuit.sections[k].names.index(conductor)
        return complex(self._section(k)[place])

    def _section(self, k: int) -> Complex:
        y = self._solver.admittances[k]
        drop = self._drops(k)
        for change, gap in zip(self.changes, self._unknowns, strict=True):
            if change.section == k:
                drop = drop + np.asarray(change.pattern) * gap
        current = np.asarray(y @ drop, dtype=np.complex128)
        for change in self.changes:
            if change.section == k and change.broken >= 0:
                current[change.broken] = 0j
        return current

    def _drops(self, k: int) -> Complex:
        section = self._solver.circuit.sections[k]
        return np.array(
            [self.between(a, b) for a, b in zip(section.starts, section.ends, strict=True)],
            dtype=np.complex128,
        )

    @cached_property
    def residuals(self) -> Residuals:
        """Kirchhoff and power residuals, worked out element by element from the answer."""
        circuit, solver = self._solver.circuit, self._solver
        sums = np.zeros(len(solver.nodes) + 1, dtype=np.complex128)
        largest = 1e-300
        taken = 0j

        def carry(a: str, b: str, current: complex) -> None:
            nonlocal largest, taken
            sums[solver.index.get(a, -1)] += current
            sums[solver.index.get(b, -1)] -= current
            largest = max(largest, abs(current))
            taken += self.between(a, b) * current.conjugate()

        for k, section in enumerate(circuit.sections):
            for a, b, current in zip(section.starts, section.ends, self._section(k), strict=True):
                carry(a, b, complex(current))
        for switch in circuit.switches:
            carry(switch.a, switch.b, self.switch_current(switch.id))
        for unit in circuit.transformers:
            secondary = complex(self._x[solver.transformer_row[unit.id]])
            carry(unit.p1, unit.p2, secondary / unit.ratio)
            carry(unit.s2, unit.s1, secondary)
        for change, current in zip(self.changes, self._unknowns, strict=True):
            if change.joins is not None:
                carry(*change.joins, complex(current))
        for node in solver.nodes:
            carry(node, EARTH, circuit.leakage * self.voltage(node))
        given, moved = 0j, 0.0
        for item in self.injections:
            taken_before = taken
            carry(item.a, item.b, item.current)
            moved += abs(taken - taken_before)
        for source in circuit.sources:
            current = self.source_current(source.id)
            given += 0j if self.dead else source.emf * current.conjugate()
            sums[solver.index.get(source.plus, -1)] -= current
            sums[solver.index.get(source.minus, -1)] += current
            largest = max(largest, abs(current))
        return Residuals(
            kirchhoff=float(np.max(np.abs(sums[:-1]), initial=0.0)) / largest,
            power=abs(given - taken) / max(abs(given), moved, 1e-300),
        )
