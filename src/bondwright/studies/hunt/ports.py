"""A circuit seen from the points where something can be read, or can be different.

Every such point is a port: two nodes that a thing may be joined across, or a gap that may be
put in series with one conductor. With q the quantity that shows at a port (the voltage across a
join, the current through a gap) and y what an element there does to the circuit (the current
that it carries, the voltage that stands in the gap),

    q = q0 - T y,      y = c q,

where c is the admittance joined or minus the impedance put in series; c = 0 leaves the circuit
alone. T and q0 come from one factorisation. Whatever is changed at ports, a few rows and
columns of T answer for it: the Sherman-Morrison-Woodbury identity once more (W. W. Hager,
SIAM Review 31 (1989) 221-239).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.sparse import csc_array
from scipy.sparse.linalg import splu

from bondwright.network.build import Network
from bondwright.network.circuit import Complex
from bondwright.network.solve import Change

Indices = npt.NDArray[np.int64]

_BLOCK: Final = 256
_SWITCH: Final = "switch"


class Port(NamedTuple):
    """Where something can be read or can differ.

    A join stands between nodes ``a`` and ``b``; a gap in conductor ``b`` of section ``a``.
    """

    gap: bool
    a: str
    b: str


def across(a: str, b: str) -> Port:
    """Return the port between two nodes."""
    return Port(gap=False, a=a, b=b)


def within(section: str, conductor: str) -> Port:
    """Return the port in series with one conductor of a section."""
    return Port(gap=True, a=section, b=conductor)


def through(switch: str) -> Port:
    """Return the port in series with a switch, such as that of a tie."""
    return Port(gap=True, a=switch, b=_SWITCH)


def is_there(network: Network, port: Port) -> bool:
    """Say whether a network has the nodes or the conductor of a port."""
    if port.gap and port.b == _SWITCH:
        return port.a in network.solver.switch_row
    if port.gap:
        place = network.solver.section_index.get(port.a)
        return place is not None and port.b in network.circuit.sections[place].names
    return all(node == "earth" or node in network.solver.index for node in (port.a, port.b))


class Ports:
    """A network reduced to its ports.

    Args:
        network: the network, in its state.
        ports: the P ports; each must be there.

    Attributes:
        at: number of each port.
        transfer: T, shape (P, P), in ohm, S or no unit as the two ports' kinds say.
        quiet: q0, shape (P,), V or A.
    """

    def __init__(self, network: Network, ports: Sequence[Port]) -> None:
        self.at: Mapping[Port, int] = {port: k for k, port in enumerate(ports)}
        solver = network.solver
        changes = [_change(network, port) for port in ports]
        lu = splu(solver.matrix, permc_spec="MMD_AT_PLUS_A")
        u = _sparse([change.u for change in changes], solver.size)
        v = _sparse([change.v for change in changes], solver.size)
        rows = csc_array(v.T)
        count = len(changes)
        self.transfer: Complex = np.empty((count, count), dtype=np.complex128)
        for start in range(0, count, _BLOCK):
            stop = min(start + _BLOCK, count)
            columns = np.asarray(u[:, start:stop].toarray())
            self.transfer[:, start:stop] = rows @ np.asarray(lu.solve(columns))
        self.quiet: Complex = np.asarray(rows @ lu.solve(np.asarray(solver.right_side)))
        self._couple(network, changes)

    def _couple(self, network: Network, changes: Sequence[Change]) -> None:
        """Gaps in one section feel each other's voltage through its coupling."""
        together: dict[int, list[int]] = {}
        for k, change in enumerate(changes):
            if change.section >= 0:
                together.setdefault(change.section, []).append(k)
        for section, those in together.items():
            patterns = np.array([changes[k].pattern for k in those])
            y = network.solver.admittances[section]
            self.transfer[np.ix_(those, those)] -= patterns @ y @ patterns.T


def _change(network: Network, port: Port) -> Change:
    solver = network.solver
    if port.b == _SWITCH:
        # Its current is an unknown of its own: nothing cancels, however small the join.
        there = ((solver.switch_row[port.a], 1 + 0j),)
        return Change(f"gap in {port.a}", there, there, 0j)
    return solver.open_conductor(port.a, port.b) if port.gap else solver.join(port.a, port.b)


def _sparse(columns: Sequence[tuple[tuple[int, complex], ...]], size: int) -> csc_array:
    rows = [row for pairs in columns for row, _ in pairs]
    at = [k for k, pairs in enumerate(columns) for _ in pairs]
    values = np.array([value for pairs in columns for _, value in pairs], dtype=np.complex128)
    return csc_array((values, (rows, at)), shape=(size, len(columns)))
