"""Every steel wall of a network as seen by faults that are followed side by side.

A wall at another current adds ``G A G^T`` to the impedance of its section, by two patterns G of
its conductors: the wires inside together, and the wall itself (see
:mod:`bondwright.network.raceways`). With i the currents by these patterns,

    i = t + K A(i) i,

where t are the currents with all walls as they are without current and K says what a voltage
along one wall does to the currents of another, the fault's own joins kept. So a fault's walls
are settled among themselves, without the rest of the circuit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.sparse import coo_array, csr_array

from bondwright.network.circuit import Complex
from bondwright.network.raceways import patterns
from bondwright.network.runs import strands
from bondwright.network.steel_many import ManyWalls
from bondwright.studies.condense import Integers, times
from bondwright.studies.fault_parts import Flags, Floats, Parts

Entries = tuple[tuple[int, complex], ...]


@dataclass(frozen=True, slots=True)
class _Pattern:
    u: Entries
    v: Entries
    section: int
    weights: tuple[float, ...]


class Walls:
    """The steel walls of a network.

    Walls have numbers; pattern ``2 k`` of wall k is the wires inside, ``2 k + 1`` the wall.

    Args:
        parts: what faults need of the network.

    Attributes:
        many: the sorts of wall.
        sort: sort of each wall.
        length: of each, m.
        bonded: whether its metal is a conductor of its run.
        home: block of each, -1 outside all.
        kept: numbers of the walls outside all blocks.
        of_block: by block, its walls.
        swing: as :meth:`ManyWalls.swing` has it.
    """

    def __init__(self, parts: Parts) -> None:
        self.parts = parts
        network = parts.network
        solver = network.solver
        sorts = {tube: k for k, tube in enumerate(dict.fromkeys(network.steel.values()))}
        self.many = ManyWalls(list(sorts), network.circuit.frequency)
        self._patterns: list[_Pattern] = []
        sort, length, bonded, home = [], [], [], []
        block = parts.condensed.block
        for run, tube in network.steel.items():
            planned = network.plan.runs[run]
            members = strands(planned)
            for number in sorted({part.set for part in members}):
                inside, wall = patterns(solver, run, members, number)
                for weights in (inside, wall):
                    self._patterns.append(self._pattern(run, weights))
                nodes = [row for p in self._patterns[-2:] for row, _ in (*p.u, *p.v)]
                sort.append(sorts[tube])
                length.append(planned.length)
                bonded.append(any(wall))
                home.append(max((int(block[row]) for row in nodes), default=-1))
        self.sort = np.array(sort, dtype=np.int64)
        self.length = np.array(length)
        self.bonded: Flags = np.array(bonded, dtype=bool)
        self.home = np.array(home, dtype=np.int64)
        self.kept = np.flatnonzero(self.home < 0)
        self.of_block: dict[int, list[int]] = {}
        for k in np.flatnonzero(self.home >= 0).tolist():
            self.of_block.setdefault(int(self.home[k]), []).append(k)
        self.swing = self.many.swing()

    def __len__(self) -> int:
        return len(self.sort)

    def _pattern(self, run: str, weights: list[float]) -> _Pattern:
        solver = self.parts.network.solver
        k = solver.section_index[f"run {run}"]
        item, y = solver.circuit.sections[k], solver.admittances[k]
        g = np.array(weights)

        def at_nodes(values: Complex) -> Entries:
            found: dict[int, complex] = {}
            for value, a, b in zip(values, item.starts, item.ends, strict=True):
                for node, sign in ((a, 1), (b, -1)):
                    row = solver.node_row(node)
                    if row >= 0:
                        found[row] = found.get(row, 0j) + sign * complex(value)
            return tuple(found.items())

        return _Pattern(at_nodes(y @ g), at_nodes(g @ y), k, tuple(weights))

    def change(self, pattern: int) -> tuple[Entries, Entries]:
        """Return where a voltage along a pattern enters, and what its current is read from."""
        found = self._patterns[pattern]
        return found.u, found.v

    def direct(self, one: int, other: int) -> complex:
        """Return the current by one pattern that a volt along another of its section makes."""
        a, b = self._patterns[one], self._patterns[other]
        if a.section != b.section:
            return 0j
        y = self.parts.network.solver.admittances[a.section]
        return complex(np.array(a.weights) @ y @ np.array(b.weights))

    def _rows(self, numbers: Integers, side: str) -> csr_array:
        size = len(self.parts.condensed.block)
        row, col, data = [], [], []
        for k, number in enumerate(numbers.tolist()):
            for at, value in getattr(self._patterns[number], side):
                row.append(k)
                col.append(at)
                data.append(value)
        entries = (np.array(data, complex), (np.array(row, int), np.array(col, int)))
        return csr_array(coo_array(entries, shape=(len(numbers), size)))

    @cached_property
    def kept_patterns(self) -> Integers:
        """Numbers of the patterns of walls outside all blocks, two for each."""
        found: Integers = (2 * self.kept[:, None] + np.arange(2)).ravel()
        return found

    @cached_property
    def seen(self) -> csr_array:
        """Currents by the patterns kept, as functionals of the unknowns kept."""
        return self.parts.condensed.seen(self._rows(self.kept_patterns, "v"))

    @cached_property
    def base(self) -> Complex:
        """Currents by the patterns kept before any fault, A."""
        return times(self.seen, self.parts.condensed.base)

    @cached_property
    def pushed(self) -> Complex:
        """What a volt along each pattern kept does to the unknowns kept, shape (nK, n)."""
        condensed = self.parts.condensed
        u = self._rows(self.kept_patterns, "u")[:, condensed.kept]
        # Rows side by side, as sparse products want them; else each of them copies the whole.
        return np.ascontiguousarray(condensed.solve(np.asfortranarray(u.toarray().T)))

    @cached_property
    def couplings(self) -> Complex:
        """What a volt along each pattern kept does to the currents by the others, (n, n)."""
        found = times(self.seen, self.pushed)
        numbers = self.kept_patterns
        sections: dict[int, list[int]] = {}
        for k, number in enumerate(numbers.tolist()):
            sections.setdefault(self._patterns[number].section, []).append(k)
        for members in sections.values():
            for i in members:
                for j in members:
                    found[i, j] -= self.direct(int(numbers[i]), int(numbers[j]))
        return found

    def carried(self, outputs: Integers, patterns_: Integers) -> csr_array:
        """Return what a volt along patterns puts straight into outputs, (outputs, patterns)."""
        solver = self.parts.network.solver
        of_section: dict[int, list[int]] = {}
        for k, number in enumerate(patterns_.tolist()):
            of_section.setdefault(self._patterns[number].section, []).append(k)
        row, col, data = [], [], []
        for k, output in enumerate(outputs.tolist()):
            for section, conductor, sign in self.parts.carriers.get(output, ()):
                s = solver.section_index[section]
                if s not in of_section:
                    continue
                y = solver.admittances[s][solver.circuit.sections[s].names.index(conductor)]
                for n in of_section[s]:
                    weights = self._patterns[int(patterns_[n])].weights
                    row.append(k)
                    col.append(n)
                    data.append(sign * complex(y @ np.array(weights)))
        entries = (np.array(data, complex), (np.array(row, int), np.array(col, int)))
        return csr_array(coo_array(entries, shape=(len(outputs), len(patterns_))))

    @cached_property
    def answers(self) -> tuple[Complex, Complex, Complex]:
        """What a volt along each pattern kept takes from the outputs kept: see ``kept_rows``."""
        parts = self.parts
        kept, (_, conductors, metal) = parts.kept_outputs, parts.first
        split = int(np.searchsorted(kept, conductors))
        groups = (kept[:split], kept[split:], metal + parts.told_metal)
        found = []
        for rows, outputs in zip(parts.kept_rows, groups, strict=True):
            own = self.carried(outputs, self.kept_patterns).toarray()
            found.append(times(rows, self.pushed) - own)
        return found[0], found[1], found[2]

    def added(self, walls: Integers, z: Complex) -> Complex:
        """Return the impedance that walls add by their patterns, ohm.

        Args:
            walls: numbers, (N,).
            z: z_aa, z_ab, z_bb of each, ohm/m, (3, N).

        Returns:
            Shape (N, 2, 2).
        """
        aa, ab, bb = (z - self.many.base[:, self.sort[walls]]) * self.length[walls]
        there = self.bonded[walls]
        found = np.zeros((len(walls), 2, 2), dtype=np.complex128)
        found[:, 0, 0] = bb - 2 * ab + aa
        found[:, 0, 1] = found[:, 1, 0] = np.where(there, bb - ab, 0)
        found[:, 1, 1] = np.where(there, bb, 0)
        return found

    def weight(self, walls: Integers, inner: Complex, outer: Complex) -> Floats:
        """Return the most power that walls can take beyond what they take without current, VA.

        Args:
            walls: numbers, any shape.
            inner: net current of the wires inside, A, the same shape.
            outer: that and the wall's together, A.
        """
        grid, swing = self.swing
        sort = self.sort[walls]
        radii = np.array([(t.inner, t.outer) for t in self.many.tubes])[sort]
        a, b = np.abs(inner), np.abs(outer)
        field = np.maximum(a / radii[..., 0], b / radii[..., 1]) / (2 * np.pi)
        spacing = grid[1] - grid[0]
        with np.errstate(divide="ignore"):
            at = np.clip((np.log(field) - grid[0]) / spacing, 0, len(grid) - 1)
        top = np.ceil(at).astype(np.int64)
        aa, ab, bb = (swing[sort, k, top] for k in range(3))
        found: Floats = self.length[walls] * (aa * a * a + 2 * ab * a * b + bb * b * b)
        return found
