"""A circuit as numbers: its unknowns in a row, its matrix, and its conductors side by side."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from scipy.sparse import csc_array

from bondwright.network.circuit import EARTH, Circuit, Complex, Section
from bondwright.network.solution import Indices


class Assembly:
    """The matrix of a circuit in modified nodal form.

    The unknowns are the voltages of nodes, then the currents of switches, sources and
    transformers (of their secondaries, out of s1).

    Args:
        circuit: what to assemble; it is read once, later additions are not seen.
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
        self._line_up()
        self._build()

    def _build(self) -> None:
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

    def _line_up(self) -> None:
        """Put all conductors in one row, so that their currents are found together.

        Sets ``conductors`` (where each section begins, and the end), ``starts`` and ``ends``
        (nodes, -1 for earth), ``widths`` (by width: places of the conductors of its sections,
        and their admittances) and ``switch_ends``.
        """
        sections = self.circuit.sections
        counts = [len(section.names) for section in sections]
        self.conductors: Indices = np.concatenate([[0], np.cumsum(counts, dtype=np.int64)])
        self.starts, self.ends = (
            np.array([self._node(name) for names in side for name in names], dtype=np.int64)
            for side in ([s.starts for s in sections], [s.ends for s in sections])
        )
        members: dict[int, list[int]] = {}
        for k, count in enumerate(counts):
            members.setdefault(count, []).append(k)
        self.widths: list[tuple[Indices, Complex]] = [
            (
                self.conductors[some][:, None] + np.arange(count),
                np.stack([self.admittances[k] for k in some]),
            )
            for count, some in members.items()
        ]
        switches = self.circuit.switches
        one, other = (
            np.array([self._node(name) for name in side], dtype=np.int64)
            for side in ([s.a for s in switches], [s.b for s in switches])
        )
        self.switch_ends: tuple[Indices, Indices] = (one, other)

    def _section_entries(self) -> Iterator[tuple[Indices, Indices, Complex]]:
        """Yield rows, columns and values of all sections, those of one width together."""
        for at, y in self.widths:
            starts, ends = self.starts[at], self.ends[at]
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
