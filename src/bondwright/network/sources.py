"""Sources and transformers as elements of the circuit.

Half-winding impedances of a centre-tapped winding: resistance 1.5 and reactance 1.2 times the
full-winding per-unit values on the half winding's own base, which is 0.375 R and 0.3 X of the
full-winding ohms (handbook practice, e.g. IEEE Std 242 on single-phase three-wire secondaries;
from memory). The two halves are coupled so that the full winding has its nameplate impedance.
"""

from __future__ import annotations

import cmath
import math
from typing import Final

import numpy as np

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.network.circuit import EARTH, Circuit, Complex
from bondwright.site.model import Source, Transformer

HALF_R: Final = 0.375
HALF_X: Final = 0.3

SOURCE_ELECTRODE: Final = 10.0
"""Assumed resistance of the utility's own grounding to remote earth, ohm."""


def add_source(circuit: Circuit, name: str, source: Source) -> None:
    """Add a utility source: ideal voltages behind an impedance matrix.

    Nodes made: ``name:L1`` and so on, ``name:N`` where there is a neutral, ``name:G`` for the
    metal there, joined to the neutral by the switch ``source ground name``; the metal reaches
    remote earth through the source's electrode.
    """
    system = source.system
    lines = system.lines
    inner = [f"{name}/emf:{line}" for line in lines]
    common = f"{name}:N" if system.has_neutral else f"{name}/star"
    for line, node, volts in zip(lines, inner, system.phase_voltages(), strict=True):
        circuit.add_source(f"emf {name} {line}", node, common, volts)
    z = source_matrix(source)
    circuit.add_section(f"source {name}", lines, inner, [f"{name}:{line}" for line in lines], z)
    if system.has_neutral:
        circuit.add_switch(f"source ground {name}", f"{name}:N", f"{name}:G")
    resistance = SOURCE_ELECTRODE if source.electrode is None else source.electrode
    circuit.add_impedance(f"electrode of {name}", f"{name}:G", EARTH, max(resistance, 1e-3))


def source_matrix(source: Source) -> Complex:
    """Return the impedance matrix of a source's lines against its common point, ohm.

    Raises:
        ValueError: the currents given contradict each other.
    """
    system = source.system
    if source.transformer is not None:
        facts = source.transformer
        base = system.line_to_line**2 / facts.rating
        full = _with_angle(facts.impedance * base, facts.x_over_r)
        if system.winding is Winding.SINGLE_THREE_WIRE:
            return half_windings(full)
        return _phases(system, full, full)
    if source.available is None:
        msg = "a source needs a transformer or an available current"
        raise ValueError(msg)
    known = source.available
    if system.winding is Winding.SINGLE_THREE_WIRE:
        full = _with_angle(system.line_to_line / known.current, known.x_over_r)
        if known.line_to_neutral is None:
            return half_windings(full)
        half = _with_angle(system.line_to_line / 2 / known.line_to_neutral, known.x_over_r)
        _check_passive(abs(half), abs(full) / 2 - abs(half))
        return np.array([[half, half - full / 2], [half - full / 2, half]])
    volts = (
        system.line_to_line
        if system.winding is Winding.SINGLE_TWO_WIRE
        else system.line_to_line / math.sqrt(3)
    )
    z1 = _with_angle(volts / known.current, known.x_over_r)
    z0 = z1
    if known.line_to_neutral is not None and system.winding is Winding.WYE:
        z0 = _with_angle(3 * volts / known.line_to_neutral - 2 * abs(z1), known.x_over_r)
    return _phases(system, z1, z0)


def _with_angle(magnitude: float, x_over_r: float) -> complex:
    if magnitude <= 0:
        msg = "the line-to-neutral current is too large for the line-to-line current"
        raise ValueError(msg)
    return cmath.rect(magnitude, math.atan(x_over_r))


def _check_passive(own: float, mutual: float) -> None:
    if abs(mutual) > own:
        msg = "the line-to-neutral and line-to-line currents contradict each other"
        raise ValueError(msg)


def half_windings(full: complex) -> Complex:
    """Return the 2 x 2 matrix of a centre-tapped winding's halves, ohm.

    Args:
        full: impedance of the full winding, line to line, ohm.

    Returns:
        Matrix for currents out of L1 and out of L2; ``Z11 - Z12`` is half of ``full``.
    """
    own = complex(HALF_R * full.real, HALF_X * full.imag)
    mutual = own - full / 2
    return np.array([[own, mutual], [mutual, own]])


def _phases(system: VoltageSystem, z1: complex, z0: complex) -> Complex:
    n = len(system.lines)
    if n == 1:
        return np.array([[z1]])
    own, mutual = (2 * z1 + z0) / 3, (z0 - z1) / 3
    return np.asarray(np.full((n, n), mutual) + np.eye(n) * (own - mutual), dtype=np.complex128)


def add_transformer(circuit: Circuit, name: str, unit: Transformer) -> None:
    """Add a transformer as ideal windings with their leakage in the secondary.

    Nodes: primary ``name:H1`` and so on (``name:H0`` for a primary neutral), secondary
    ``name:L1`` and so on with ``name:N``, case ``name:G``. A delta winding lies between
    lines, a wye winding between line and neutral.
    """
    primary = _legs(unit.primary, name, "H", "H0")
    secondary = _legs(unit.secondary, name, "L", "N")
    # A single-phase primary is one winding between its two conductors, whatever its name says.
    single = unit.primary.winding is Winding.SINGLE_THREE_WIRE
    volts_p = unit.primary.line_to_line if single else leg_voltage(unit.primary)
    volts_s = leg_voltage(unit.secondary)
    base = unit.secondary.line_to_line**2 / unit.rating
    full = _with_angle(unit.impedance * base, unit.x_over_r)
    ratio = volts_p / volts_s
    if unit.secondary.winding is Winding.SINGLE_THREE_WIRE:
        (leg,) = primary[:1]
        inner = [f"{name}/winding:{k}" for k in (1, 2)]
        neutral = f"{name}:N"
        circuit.add_transformer(f"winding {name} 1", *leg, inner[0], neutral, ratio)
        circuit.add_transformer(f"winding {name} 2", *leg, neutral, inner[1], ratio)
        circuit.add_section(
            f"leakage {name}",
            ("1", "2"),
            inner,
            [f"{name}:L1", f"{name}:L2"],
            half_windings(full),
        )
        return
    # Per leg: a delta leg sees line-to-line voltage and a third of the line-to-line base.
    z_leg = full * 3 if unit.secondary.winding is Winding.DELTA else full
    for k, (leg, out) in enumerate(zip(primary, secondary, strict=True), start=1):
        inside = f"{name}/winding:{k}"
        circuit.add_transformer(f"winding {name} {k}", *leg, inside, out[1], ratio)
        circuit.add_impedance(f"leakage {name} {k}", inside, out[0], z_leg)


def leg_voltage(system: VoltageSystem) -> float:
    """Return the voltage of one winding leg, V."""
    match system.winding:
        case Winding.WYE:
            return system.line_to_line / math.sqrt(3)
        case Winding.SINGLE_THREE_WIRE:
            return system.line_to_line / 2
        case _:
            return system.line_to_line


def _legs(system: VoltageSystem, name: str, letter: str, neutral: str) -> list[tuple[str, str]]:
    node = [f"{name}:{letter}{k}" for k in (1, 2, 3)]
    common = f"{name}:{neutral}"
    match system.winding:
        case Winding.WYE:
            return [(n, common) for n in node]
        case Winding.DELTA:
            return [(node[0], node[1]), (node[1], node[2]), (node[2], node[0])]
        case _:
            return [(node[0], common)]


def primary_terminals(
    unit: Transformer, lines: tuple[str, ...], *, neutral: bool
) -> dict[str, str]:
    """Return which primary terminal each arriving conductor lands on.

    Args:
        unit: the transformer.
        lines: line terminals that arrive, in order.
        neutral: whether a neutral arrives.

    Returns:
        Arriving terminal to primary terminal; a two-wire primary fed by two lines has its
        second line on H0. A conductor that no winding takes is not in it.
    """
    if unit.primary.winding in {Winding.SINGLE_TWO_WIRE, Winding.SINGLE_THREE_WIRE}:
        found = dict(zip(lines, ("H1", "H0"), strict=False))
    else:
        found = {line: f"H{k}" for k, line in enumerate(lines, start=1)}
    if neutral and "H0" not in found.values():
        found["N"] = "H0"
    return found
