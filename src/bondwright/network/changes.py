"""What can be changed of a factored circuit, and how good an answer is."""

from __future__ import annotations

from dataclasses import dataclass


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
