"""Small alterations of a circuit, and the changes of a factored circuit that make them.

They know no solver, so that one defect serves the circuit with loads and without, at any order.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.network.solve import Change, Solver

_UNIT: Final = np.ones((1, 1), dtype=np.complex128)


@dataclass(frozen=True, slots=True)
class Join:
    """Two nodes joined through so many ohm."""

    a: str
    b: str
    ohm: float


@dataclass(frozen=True, slots=True)
class Break:
    """One conductor of a section broken."""

    section: str
    conductor: str


@dataclass(frozen=True, slots=True)
class Insert:
    """So many ohm in series with one conductor of a section."""

    section: str
    conductor: str
    ohm: complex


@dataclass(frozen=True, slots=True)
class Lift:
    """A tie lifted, or with so many ohm in series with it.

    Attributes:
        tie: id of the plan's tie.
        ohm: in series, or None where it is off.
    """

    tie: str
    ohm: float | None = None


@dataclass(frozen=True, slots=True)
class Swap:
    """Conductors of a section that land on each other's terminal at the section's end.

    Attributes:
        section: which.
        first: conductors that should land on ``a`` and land on ``b``.
        second: those that should land on ``b`` and land on ``a``.
        a: node.
        b: node.
    """

    section: str
    first: tuple[str, ...]
    second: tuple[str, ...]
    a: str
    b: str


Alteration = Join | Break | Insert | Lift | Swap


def changes_for(solver: Solver, item: Alteration) -> tuple[Change, ...]:
    """Return one alteration as changes of a circuit."""
    match item:
        case Join(a, b, ohm):
            return (solver.join(a, b, ohm),)
        case Break(section, conductor):
            return (solver.open_conductor(section, conductor),)
        case Insert(section, conductor, ohm):
            return (solver.insert(section, conductor, ohm),)
        case Lift(tie, ohm):
            return (_lifted(solver, f"tie {tie}", ohm),)
        case Swap():
            return _swapped(solver, item)


def _lifted(solver: Solver, switch: str, ohm: float | None) -> Change:
    """Return the change that puts an impedance in series with a closed ideal switch.

    A voltage y stands in series with it: ``V(a) - V(b) + y = 0`` with ``I = 0`` for one that is
    off, else ``I = -y / Z``. Unlike a gap in the few micro-ohms of a join, nothing cancels.
    """
    there = ((solver.switch_row[switch], 1 + 0j),)
    if ohm is None:
        return Change(f"lift {switch}", there, there, 0j, opens=switch)
    return Change(f"{ohm:g} ohm in {switch}", there, there, -1 / complex(ohm))


def _swapped(solver: Solver, swap: Swap) -> tuple[Change, ...]:
    """Conductors that land on each other's terminal.

    With g = 1 on the first and -1 on the second, a gap ``y1 = V(a) - V(b)`` by the pattern g
    gives every conductor the drop to where it really lands, and ``y2 = g^T I`` is the current
    that leaves at b instead of a.
    """
    k = solver.section_index[swap.section]
    names = solver.circuit.sections[k].names
    pattern = [1.0 if n in swap.first else -1.0 if n in swap.second else 0.0 for n in names]
    gap = solver.reshape(swap.section, [pattern], _UNIT)[0]
    own = sum(
        p * complex(y) * q
        for p, row in zip(pattern, solver.admittances[k], strict=True)
        for y, q in zip(row, pattern, strict=True)
    )
    there = tuple((node, sign) for node, sign in solver.join(swap.a, swap.b).u)
    first = f"swap of {swap.section}"
    return (
        Change(first, gap.u, there, 1 + own, section=k, pattern=tuple(pattern)),
        Change(f"{first}, moved", there, gap.v, 1 + 0j, partners=((first, -own),)),
    )
