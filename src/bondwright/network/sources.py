"""Utility supplies and generators as elements of the circuit.

Every origin has its lines behind an impedance matrix and a switch of its own in each line, so
that a state can take it out of service while its neutral and metal stay: nodes ``name/emf:L1``
(the ideal voltage), ``name/out:L1`` (behind the impedance) and, past the switch
``source name L1``, the terminal ``name:L1``.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.network.circuit import EARTH, Circuit, Complex
from bondwright.network.common_windings import raise_order, with_angle
from bondwright.network.windings import (
    HALF_R,
    HALF_X,
    add_transformer,
    half_windings,
    leg_voltage,
    primary_terminals,
)
from bondwright.site.model import Generator, Source

__all__ = [
    "HALF_R",
    "HALF_X",
    "SOURCE_ELECTRODE",
    "add_generator",
    "add_source",
    "add_transformer",
    "common_node",
    "generator_assumptions",
    "generator_matrix",
    "half_windings",
    "leg_voltage",
    "primary_terminals",
    "source_matrix",
    "source_switch",
    "source_switches",
]

SOURCE_ELECTRODE: Final = 10.0
"""Assumed resistance of the utility's own grounding to remote earth, ohm."""

SUBTRANSIENT: Final = 0.15
"""Assumed subtransient reactance of a generator, per unit (handbook tables, from memory)."""

ZERO: Final = 0.05
"""Assumed zero-sequence reactance of a generator, per unit (handbook tables, from memory)."""


def source_switch(name: str, line: str) -> str:
    """Return the id of the switch between an origin's impedance and its terminal."""
    return f"source {name} {line}"


def source_switches(name: str, system: VoltageSystem) -> tuple[str, ...]:
    """Return the ids of all switches that take an origin out of service."""
    return tuple(source_switch(name, line) for line in system.lines)


def common_node(name: str, system: VoltageSystem) -> str:
    """Return the node that an origin's line voltages stand on."""
    return f"{name}:N" if system.has_neutral else f"{name}/star"


def add_source(
    circuit: Circuit, name: str, source: Source, *, order: int = 1, isolated: bool = False
) -> None:
    """Add a utility source: ideal voltages behind an impedance matrix.

    Nodes made: ``name:L1`` and so on, ``name:N`` where there is a neutral, ``name:G`` for the
    metal there, joined to the neutral by the switch ``source ground name``; the metal reaches
    remote earth through the source's electrode. Its lines go through ``source name L1`` and
    so on. At a harmonic ``order`` reactances are so many times those of 1. An ``isolated`` one
    has that switch open (an IT system).
    """
    system = source.system
    first = len(circuit.sections)
    try:
        matrix = source_matrix(source)
    except ValueError as error:
        raise ValueError(f"source {name!r}: {error}") from error
    _add_lines(circuit, name, system, matrix, reciprocal=True)
    raise_order(circuit, first, order)
    if system.has_neutral:
        ground = f"source ground {name}"
        circuit.add_switch(ground, f"{name}:N", f"{name}:G", closed=not isolated)
    resistance = SOURCE_ELECTRODE if source.electrode is None else source.electrode
    circuit.add_impedance(f"electrode of {name}", f"{name}:G", EARTH, max(resistance, 1e-3))


def _add_lines(
    circuit: Circuit, name: str, system: VoltageSystem, z: Complex, *, reciprocal: bool
) -> None:
    lines = system.lines
    inner = [f"{name}/emf:{line}" for line in lines]
    out = [f"{name}/out:{line}" for line in lines]
    common = common_node(name, system)
    for line, node, volts in zip(lines, inner, system.phase_voltages(), strict=True):
        circuit.add_source(f"emf {name} {line}", node, common, volts)
    circuit.add_section(f"source {name}", lines, inner, out, z, reciprocal=reciprocal)
    for line, node in zip(lines, out, strict=True):
        circuit.add_switch(source_switch(name, line), node, f"{name}:{line}")


def source_matrix(source: Source) -> Complex:
    """Return the impedance matrix of a source's lines against its common point, ohm.

    By nameplate, positive and zero sequence are equal (a delta-wye unit), and a delta with a
    mid-tap is a bank of three equal units. By available current, the line-to-neutral current
    tells the zero sequence or the half winding.

    Raises:
        ValueError: the currents given contradict each other.
    """
    system = source.system
    volts = system.line_to_line
    if source.transformer is not None:
        facts = source.transformer
        full = with_angle(facts.impedance * volts**2 / facts.rating, facts.x_over_r)
        match system.winding:
            case Winding.SINGLE_THREE_WIRE:
                return half_windings(full)
            case Winding.HIGH_LEG:
                return _high_leg(3 * full, half_windings(3 * full))
            case _:
                return _phases(system, full, full)
    if source.available is None:
        msg = "a source needs a transformer or an available current"
        raise ValueError(msg)
    known = source.available
    neutral = known.line_to_neutral
    match system.winding:
        case Winding.SINGLE_TWO_WIRE:
            return _phases(system, _positive(volts / known.current, known.x_over_r), 0j)
        case Winding.SINGLE_THREE_WIRE:
            full = _positive(volts / known.current, known.x_over_r)
            if neutral is None:
                return half_windings(full)
            return _halves(full, _positive(volts / 2 / neutral, known.x_over_r))
        case Winding.HIGH_LEG:
            leg = _positive(math.sqrt(3) * volts / known.current, known.x_over_r)
            if neutral is None:
                return _high_leg(leg, half_windings(leg))
            # Beside the half winding, two legs in series carry a twelfth of it between lines.
            own = _positive(volts / 2 / neutral, known.x_over_r) + leg / 12
            return _high_leg(leg, _halves(leg, own))
        case _:
            z1 = _positive(volts / math.sqrt(3) / known.current, known.x_over_r)
            z0 = z1
            if neutral is not None and system.winding is Winding.WYE:
                z0 = _positive(
                    math.sqrt(3) * volts / neutral - 2 * abs(z1),
                    known.x_over_r,
                )
            return _phases(system, z1, z0)


def _positive(magnitude: float, x_over_r: float) -> complex:
    if magnitude <= 0:
        msg = "the line-to-neutral current is too large for the line-to-line current"
        raise ValueError(msg)
    return with_angle(magnitude, x_over_r)


def _halves(full: complex, own: complex) -> Complex:
    """Return the matrix of two half windings from the impedance of one, both at one angle."""
    mutual = own - full / 2
    if abs(mutual) > abs(own):
        msg = "the line-to-neutral and line-to-line currents contradict each other"
        raise ValueError(msg)
    return np.array([[own, mutual], [mutual, own]])


def _high_leg(leg: complex, halves: Complex) -> Complex:
    """Return the matrix of a closed delta's lines to its mid-tap, ohm.

    Args:
        leg: impedance of the two whole legs, L1 to L2 and L2 to L3, ohm.
        halves: matrix of the halves of the third, N to L1 and N to L3.
    """
    y = np.zeros((3, 3), dtype=np.complex128)
    for a, b in ((0, 1), (1, 2)):
        y[np.ix_((a, b), (a, b))] += np.array([[1, -1], [-1, 1]]) / leg
    y[np.ix_((0, 2), (0, 2))] += np.linalg.inv(halves)
    z = np.asarray(np.linalg.inv(y), dtype=np.complex128)
    return (z + z.T) / 2


def _phases(system: VoltageSystem, z1: complex, z0: complex) -> Complex:
    n = len(system.lines)
    if n == 1:
        return np.array([[z1]])
    own, mutual = (2 * z1 + z0) / 3, (z0 - z1) / 3
    return np.asarray(np.full((n, n), mutual) + np.eye(n) * (own - mutual), dtype=np.complex128)


# --- generators ---------------------------------------------------------------------------------


def add_generator(circuit: Circuit, name: str, generator: Generator, *, order: int = 1) -> None:
    """Add a generator: ideal voltages behind its subtransient impedances.

    Nodes made: ``name:L1`` and so on, ``name:N`` where there is a neutral, and the frame
    ``name:G``. Nothing joins neutral and frame here: a tie says so where it is. At a harmonic
    ``order`` reactances are so many times those of 1.
    """
    first = len(circuit.sections)
    z = generator_matrix(generator)
    _add_lines(circuit, name, generator.system, z, reciprocal=bool(np.allclose(z, z.T)))
    raise_order(circuit, first, order)
    circuit.add_node(f"{name}:G")


def _reactances(generator: Generator) -> tuple[float, float, float]:
    """Return zero-sequence, subtransient and negative-sequence reactance, per unit."""
    first = SUBTRANSIENT if generator.subtransient is None else generator.subtransient
    second = first if generator.negative is None else generator.negative
    return (ZERO if generator.zero is None else generator.zero, first, second)


def generator_matrix(generator: Generator) -> Complex:
    """Return the impedance matrix of a generator's lines against its common point, ohm.

    Three phases: ``A diag(Z0, Z1, Z2) A^-1`` with A of the symmetrical components
    (C. L. Fortescue, 1918), which is not symmetric where Z1 and Z2 differ: a turning machine
    isn't reciprocal. All sequences have the resistance of the stator, X''d over X/R, so that
    the skew part is real and loses no power. Single-phase: the mean of Z1 and Z2, as the field
    of one winding turns both ways; of two half windings, currents that are alike in both see
    the zero-sequence impedance.
    """
    system = generator.system
    base = system.line_to_line**2 / generator.rating
    x0, x1, x2 = _reactances(generator)
    r = x1 / generator.x_over_r
    z0, z1, z2 = (complex(r, x) * base for x in (x0, x1, x2))
    mean = (z1 + z2) / 2
    match system.winding:
        case Winding.SINGLE_TWO_WIRE:
            return np.array([[mean]])
        case Winding.SINGLE_THREE_WIRE:
            own, mutual = (mean + z0) / 4, (z0 - mean) / 4
            return np.array([[own, mutual], [mutual, own]])
        case Winding.HIGH_LEG:
            own, mutual = 3 * (mean + z0) / 4, 3 * (z0 - mean) / 4
            return _high_leg(3 * mean, np.array([[own, mutual], [mutual, own]]))
        case _:
            a = cmath.rect(1.0, 2 * math.pi / 3)
            row = [(z0 + a**k * z1 + a ** (2 * k) * z2) / 3 for k in range(3)]
            return np.array([[row[(j - i) % 3] for j in range(3)] for i in range(3)])


def generator_assumptions(generator: Generator) -> list[str]:
    """Return what the circuit takes for granted about a generator, for people."""
    told = []
    x0, x1, x2 = _reactances(generator)
    given: Sequence[tuple[float | None, float, str]] = (
        (generator.subtransient, x1, "subtransient reactance"),
        (generator.negative, x2, "negative-sequence reactance"),
        (generator.zero, x0, "zero-sequence reactance"),
    )
    left_out = [f"{word} {x * 100:.3g} %" for value, x, word in given if value is None]
    if left_out:
        told.append(f"Taken from common practice: {', '.join(left_out)}.")
    told.append(
        "The generator holds its subtransient strength for as long as a fault lasts; a real one "
        "weakens within some tenths of a second, so devices may open later than told. Ask the "
        "maker for its decrement curve."
    )
    if generator.system.winding is Winding.HIGH_LEG and x1 != x2:
        told.append(
            "Of a delta with a mid-tap, subtransient and negative-sequence reactance count as "
            "their mean."
        )
    return told
