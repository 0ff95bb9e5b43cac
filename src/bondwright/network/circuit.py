"""A linear circuit at one frequency, in modified nodal form.

The circuit knows four elements: sections of mutually coupled conductors, ideal voltage
sources, ideal switches and ideal transformers. It knows nothing of buildings. Voltages are
complex phasors (rms) to the earth node; currents in a two-ended element are positive from its
first end to its second.

Source of the method: C.-W. Ho, A. E. Ruehli, P. A. Brennan, "The modified nodal approach to
network analysis", IEEE Trans. Circuits Syst. CAS-22 (1975) 504-509.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import numpy.typing as npt

Complex = npt.NDArray[np.complex128]

EARTH: Final = "earth"
"""The reference node: remote earth."""


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """Coupled conductors that run side by side.

    Attributes:
        id: unique among sections.
        names: one name for each of the n conductors, unique within the section.
        starts: node at the start of each conductor, n.
        ends: node at the end of each conductor, n.
        impedance: series impedance matrix in ohm, shape (n, n); symmetric, but for a turning
            machine's real part.
    """

    id: str
    names: tuple[str, ...]
    starts: tuple[str, ...]
    ends: tuple[str, ...]
    impedance: Complex


@dataclass(frozen=True, slots=True)
class VoltageSource:
    """An ideal voltage: ``V(plus) - V(minus) = emf`` in V."""

    id: str
    plus: str
    minus: str
    emf: complex


@dataclass(frozen=True, slots=True)
class Switch:
    """An ideal join of two nodes that can be opened; its current runs from a to b."""

    id: str
    a: str
    b: str
    closed: bool = True


@dataclass(frozen=True, slots=True)
class IdealTransformer:
    """Two windings: ``V(p1) - V(p2) = ratio * (V(s1) - V(s2))``, ``I(s) = ratio * I(p)``.

    The primary current runs from p1 through the winding to p2, the secondary current out of
    s1 and back into s2.
    """

    id: str
    p1: str
    p2: str
    s1: str
    s2: str
    ratio: float


@dataclass(slots=True)
class Circuit:
    """Elements by kind, in the order they were added.

    Attributes:
        frequency: Hz.
        leakage: admittance from every node to earth, S: the capacitance of conductors to
            their surroundings. It makes a floating part of a building float where it would.
    """

    frequency: float
    leakage: complex
    sections: list[Section] = field(default_factory=list)
    sources: list[VoltageSource] = field(default_factory=list)
    switches: list[Switch] = field(default_factory=list)
    transformers: list[IdealTransformer] = field(default_factory=list)
    loose: list[str] = field(default_factory=list)

    def add_node(self, name: str) -> None:
        """Add a node that nothing may be joined to: metal that stands by itself."""
        self.loose.append(name)

    def add_section(
        self,
        name: str,
        names: Sequence[str],
        starts: Sequence[str],
        ends: Sequence[str],
        impedance: npt.ArrayLike,
        *,
        reciprocal: bool = True,
    ) -> None:
        """Add coupled conductors.

        Args:
            name: id of the section.
            names: n conductor names.
            starts: n start nodes.
            ends: n end nodes.
            impedance: (n, n) matrix in ohm.
            reciprocal: False for a turning machine, whose resistances may have a skew part
                (it loses no power); its reactances must be symmetric all the same.

        Raises:
            ValueError: lengths disagree, the matrix isn't symmetric or isn't finite, or it
                isn't that of a passive element.
        """
        z = np.asarray(impedance, dtype=np.complex128)
        n = len(names)
        if z.shape != (n, n) or len(starts) != n or len(ends) != n:
            msg = f"section {name!r}: {n} names need {n} starts, {n} ends and a ({n}, {n}) matrix"
            raise ValueError(msg)
        alike = z if reciprocal else z.imag
        scale = float(np.abs(z).max(initial=0.0))
        # What isn't finite has no difference that could be taken.
        whole = math.isfinite(scale)
        skew = float(np.abs(alike - alike.T).max(initial=0.0)) if whole else 0.0
        if not (whole and skew <= 1e-15 + 1e-9 * scale):
            msg = f"section {name!r}: the impedance matrix must be finite and symmetric"
            raise ValueError(msg)
        if _least(z) < -1e-9 * scale:
            msg = f"section {name!r}: the impedance matrix is not that of a passive element"
            raise ValueError(msg)
        self.sections.append(Section(name, tuple(names), tuple(starts), tuple(ends), z))

    def add_impedance(self, name: str, a: str, b: str, impedance: complex) -> None:
        """Add one uncoupled impedance in ohm between two nodes."""
        self.add_section(name, ("z",), (a,), (b,), np.array([[impedance]], dtype=np.complex128))

    def add_source(self, name: str, plus: str, minus: str, emf: complex) -> None:
        """Add an ideal voltage source, emf in V (rms)."""
        self.sources.append(VoltageSource(name, plus, minus, emf))

    def add_switch(self, name: str, a: str, b: str, *, closed: bool = True) -> None:
        """Add an ideal switch."""
        self.switches.append(Switch(name, a, b, closed))

    def add_transformer(self, name: str, p1: str, p2: str, s1: str, s2: str, ratio: float) -> None:
        """Add an ideal transformer of turns ratio ``ratio`` (primary to secondary)."""
        self.transformers.append(IdealTransformer(name, p1, p2, s1, s2, ratio))

    def nodes(self) -> tuple[str, ...]:
        """Return every node but earth, in order of first mention."""
        seen: dict[str, None] = {}
        for section in self.sections:
            for a, b in zip(section.starts, section.ends, strict=True):
                seen[a] = None
                seen[b] = None
        for source in self.sources:
            seen[source.plus] = None
            seen[source.minus] = None
        for switch in self.switches:
            seen[switch.a] = None
            seen[switch.b] = None
        for unit in self.transformers:
            for node in (unit.p1, unit.p2, unit.s1, unit.s2):
                seen[node] = None
        seen.update(dict.fromkeys(self.loose))
        seen.pop(EARTH, None)
        return tuple(seen)


def _least(z: Complex) -> float:
    """Return the least eigenvalue of the symmetric part of the resistances, ohm."""
    if len(z) == 1:
        return float(z[0, 0].real)
    return float(np.linalg.eigvalsh((z.real + z.real.T) / 2)[0])
