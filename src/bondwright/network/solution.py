"""The answer to one case of a circuit: voltages, currents, and how well they keep the laws."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from bondwright.network.changes import Change, Injection, Residuals
from bondwright.network.circuit import EARTH, Complex

if TYPE_CHECKING:
    from bondwright.network.solve import Solver

Indices = npt.NDArray[np.int64]


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
        first, last = self._solver.conductors[k : k + 2]
        return self.conductor_currents[first:last]

    @cached_property
    def conductor_currents(self) -> Complex:
        """The current in every conductor, section after section, A; not to be changed.

        ``Solver.conductors`` says where each section's begin.
        """
        solver = self._solver
        x = np.append(self._x[: len(solver.nodes)], 0)
        drop: Complex = x[solver.starts] - x[solver.ends]
        for change, gap in zip(self.changes, self._unknowns, strict=True):
            if change.section >= 0:
                first, last = solver.conductors[change.section : change.section + 2]
                drop[first:last] += np.asarray(change.pattern) * gap
        current = np.empty_like(drop)
        for at, y in solver.widths:
            current[at] = (y @ drop[at][:, :, None])[:, :, 0]
        for change in self.changes:
            if change.broken >= 0:
                current[solver.conductors[change.section] + change.broken] = 0
        return current

    def switch_currents(self, rows: Indices) -> Complex:
        """Return the currents through switches by their rows, from a to b, A."""
        found: Complex = self._x[rows]
        return found

    @cached_property
    def residuals(self) -> Residuals:
        """Kirchhoff and power residuals, worked out element by element from the answer."""
        circuit, solver = self._solver.circuit, self._solver
        x = np.append(self._x[: len(solver.nodes)], 0)
        sums = np.zeros(len(x), dtype=np.complex128)
        largest = 1e-300
        taken = 0j

        def carry_all(a: Indices, b: Indices, current: Complex) -> None:
            nonlocal largest, taken
            np.add.at(sums, a, current)
            np.add.at(sums, b, -current)
            largest = max(largest, float(np.abs(current).max(initial=0.0)))
            taken += complex(np.vdot(current, x[a] - x[b]))

        def carry(a: str, b: str, current: complex) -> None:
            one, other = (np.array([solver.index.get(node, -1)]) for node in (a, b))
            carry_all(one, other, np.array([current], dtype=np.complex128))

        count = len(solver.nodes)
        every = np.arange(count)
        carry_all(solver.starts, solver.ends, self.conductor_currents)
        switched = self._x[count : count + len(circuit.switches)]
        carry_all(*solver.switch_ends, switched)
        for unit in circuit.transformers:
            secondary = complex(self._x[solver.transformer_row[unit.id]])
            carry(unit.p1, unit.p2, secondary / unit.ratio)
            carry(unit.s2, unit.s1, secondary)
        for change, current in zip(self.changes, self._unknowns, strict=True):
            if change.joins is not None:
                carry(*change.joins, complex(current))
        carry_all(every, np.full(count, -1), circuit.leakage * x[:-1])
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
