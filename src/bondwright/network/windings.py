"""Transformers as elements of the circuit: ideal windings on their cores, with leakage.

Every winding is a branch of its own between the terminals it really lies between, so that each
connection has the zero sequence, the half windings and the phase shift that it has, and
currents cross from one side to the other as they do.

Nodes: primary ``name:H1`` and so on (``name:H0`` for a primary neutral), secondary ``name:L1``
and so on with ``name:N``, case ``name:G``; what lies inside is ``name/...``.

Conventions (all common practice, from handbooks, by memory):

- The impedance on a nameplate is that of each unit on its own base: a three-phase transformer
  counts as three units of a third of its rating, an open delta as two of half.
- Phases: windings that are wound alike are in phase, except that between delta and wye the
  higher voltage leads the lower by 30 degrees (IEEE Std C57.12.00, angular displacement; from
  memory).
- Half windings of a centre-tapped winding: resistance 1.5 and reactance 1.2 times the
  full-winding per-unit values on the half winding's own base, which is 0.375 R and 0.3 X of the
  full-winding ohms (e.g. IEEE Std 242 on single-phase three-wire secondaries). The two halves
  are coupled so that the full winding has its nameplate impedance.
- Cores are separate: a wye-wye transformer has no hidden tertiary.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.network.circuit import Circuit, Complex
from bondwright.network.common_windings import (
    MAGNETISING,
    SINGLE,
    add_auto,
    add_zigzag,
    magnetising_impedance,
    raise_order,
    refuse,
    with_angle,
)
from bondwright.site.model import Transformer, TransformerForm

HALF_R: Final = 0.375
HALF_X: Final = 0.3


@dataclass(frozen=True, slots=True)
class _Unit:
    """One core: its primary and secondary leg, each from its dotted end to the other."""

    primary: tuple[str, str]
    secondary: tuple[str, str]
    tapped: bool = False


def add_transformer(
    circuit: Circuit, name: str, unit: Transformer, *, magnetise: bool = False, order: int = 1
) -> None:
    """Add a transformer of any form.

    Args:
        circuit: where to add it.
        name: its id; see the module for the names of its nodes.
        unit: its description.
        magnetise: give every core its magnetising branch. Without it only those cores have one
            whose voltage nothing else need hold: under a wye primary or common neutral (which
            may float), and of a zigzag.
        order: harmonic order of the circuit: reactances are so many times those of 1.

    Raises:
        ValueError: no such transformer can be made from the two systems.
    """
    circuit.add_node(f"{name}:G")
    first = len(circuit.sections)
    match unit.form:
        case TransformerForm.ZIGZAG:
            add_zigzag(circuit, name, unit)
        case TransformerForm.AUTO:
            add_auto(circuit, name, unit, magnetise=magnetise)
        case _:
            _add_isolating(circuit, name, unit, magnetise=magnetise)
    raise_order(circuit, first, order)


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


def leg_voltage(system: VoltageSystem) -> float:
    """Return the voltage of one winding leg, V (of a half winding where it is tapped)."""
    match system.winding:
        case Winding.WYE:
            return system.line_to_line / math.sqrt(3)
        case Winding.SINGLE_THREE_WIRE:
            return system.line_to_line / 2
        case _:
            return system.line_to_line


# --- windings apart -----------------------------------------------------------------------------


def _add_isolating(circuit: Circuit, name: str, unit: Transformer, *, magnetise: bool) -> None:
    units = list(_units(name, unit))
    rating = unit.rating / len(units)
    # A single-phase primary is one winding between its two conductors, whatever its name says.
    volts_p = (
        unit.primary.line_to_line if unit.primary.winding in SINGLE else leg_voltage(unit.primary)
    )
    volts_s = (
        unit.secondary.line_to_line
        if unit.secondary.winding in SINGLE
        else leg_voltage(unit.secondary)
    )
    z = with_angle(unit.impedance * volts_s**2 / rating, unit.x_over_r)
    floats = unit.primary.winding is Winding.WYE
    for k, core in enumerate(units, start=1):
        label = f"{name} {k}"
        if core.tapped:
            number = k if len(units) > 1 else None
            _add_tapped(circuit, name, number, core, volts_p / volts_s, z)
        else:
            inside = f"{name}/winding:{k}"
            circuit.add_transformer(
                f"winding {label}", *core.primary, inside, core.secondary[1], volts_p / volts_s
            )
            circuit.add_impedance(f"leakage {label}", inside, core.secondary[0], z)
        if magnetise or floats:
            circuit.add_impedance(
                f"magnetising {label}", *core.primary, magnetising_impedance(volts_p, rating)
            )


def _add_tapped(
    circuit: Circuit, name: str, number: int | None, core: _Unit, ratio: float, full: complex
) -> None:
    """Add a winding whose middle is the neutral; it has a number where it is one of several."""
    first, second = core.secondary
    parts = ("1", "2") if number is None else (f"{number}a", f"{number}b")
    inner = [f"{name}/winding:{part}" for part in parts]
    ends = ((inner[0], f"{name}:N"), (f"{name}:N", inner[1]))
    for part, (a, b) in zip(parts, ends, strict=True):
        circuit.add_transformer(f"winding {name} {part}", *core.primary, a, b, 2 * ratio)
    leakage = f"leakage {name}" if number is None else f"leakage {name} {number}"
    circuit.add_section(leakage, ("1", "2"), inner, [first, second], half_windings(full))


def _units(name: str, unit: Transformer) -> Iterator[_Unit]:
    high = [f"{name}:H{k}" for k in (1, 2, 3)]
    low = [f"{name}:L{k}" for k in (1, 2, 3)]
    h0, neutral = f"{name}:H0", f"{name}:N"
    p, s = unit.primary.winding, unit.secondary.winding
    opened = unit.form is TransformerForm.OPEN_DELTA
    if s in SINGLE and opened:
        raise refuse(name, unit, "an open delta makes a three-phase delta")
    if s in SINGLE:
        first = (high[0], high[1]) if p in {Winding.DELTA, Winding.HIGH_LEG} else (high[0], h0)
        if s is Winding.SINGLE_THREE_WIRE:
            yield _Unit(first, (low[0], low[1]), tapped=True)
        else:
            yield _Unit(first, (low[0], neutral))
        return
    if p in SINGLE:
        raise refuse(name, unit, "a single-phase primary makes no three-phase secondary")
    wye_p, wye_s = p is Winding.WYE, s is Winding.WYE
    if opened:
        if wye_s:
            raise refuse(name, unit, "an open delta has no wye secondary")
        primary = (
            [(high[0], h0), (high[1], h0)] if wye_p else [(high[2], high[0]), (high[0], high[1])]
        )
        secondary = [(low[2], low[0]), (low[0], low[1])]
    else:
        down = unit.primary.line_to_line >= unit.secondary.line_to_line
        # The higher voltage leads by 30 degrees where a delta faces a wye.
        primary = _legs(high, h0 if wye_p else None, back=wye_s and down)
        secondary = _legs(low, neutral if wye_s else None, back=wye_p and not down)
    for leg_p, leg_s in zip(primary, secondary, strict=True):
        tapped = s is Winding.HIGH_LEG and set(leg_s) == {low[0], low[2]}
        yield _Unit(leg_p, leg_s, tapped)


def _legs(nodes: list[str], neutral: str | None, *, back: bool) -> list[tuple[str, str]]:
    """Return the legs of a wye on its neutral, or of a delta to the next (or last) line."""
    if neutral is not None:
        return [(node, neutral) for node in nodes]
    return [(node, nodes[(k + (2 if back else 1)) % 3]) for k, node in enumerate(nodes)]


# --- what lands where ---------------------------------------------------------------------------


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
        second line on H0. The neutral of a zigzag is its N. A conductor that no winding takes
        is not in it: a neutral at a delta, a third line at a single-phase or open-wye primary.
    """
    winding = unit.primary.winding
    if winding in SINGLE:
        found = dict(zip(lines, ("H1", "H0"), strict=False))
        if neutral and "H0" not in found.values():
            found["N"] = "H0"
        return found
    taken: tuple[str, ...] = ("H1", "H2", "H3")
    if unit.form is TransformerForm.OPEN_DELTA and winding is Winding.WYE:
        taken = taken[:2]
    elif unit.secondary.winding in SINGLE and unit.form is not TransformerForm.ZIGZAG:
        taken = taken[: 1 if winding is Winding.WYE else 2]
    found = dict(zip(lines, taken, strict=False))
    if neutral and unit.form is TransformerForm.ZIGZAG:
        found["N"] = "N"
    elif neutral and winding is Winding.WYE:
        found["N"] = "H0"
    return found


def transformer_assumptions(unit: Transformer, *, neutral_arrives: bool) -> list[str]:
    """Return what the circuit takes for granted about a transformer, for people.

    Args:
        unit: the transformer.
        neutral_arrives: whether the run to its primary brings a neutral.
    """
    told = []
    wye_p = unit.primary.winding is Winding.WYE
    wye_s = unit.secondary.winding is Winding.WYE
    no_load = f"{MAGNETISING * 100:g} % of its rated current"
    if unit.form is TransformerForm.ZIGZAG:
        told.append(
            "The rating of a zigzag transformer is its line-to-neutral voltage times its neutral "
            f"current, its impedance that per phase on this base; it draws {no_load} without "
            "load."
        )
        return told
    if unit.form is TransformerForm.AUTO:
        told.append("The rating and impedance of an autotransformer are those of what it feeds.")
        if not wye_s and unit.secondary.three_phase:
            told.append("Its windings lie in wye on a point that is brought out nowhere.")
    elif unit.form is TransformerForm.OPEN_DELTA:
        told.append(
            "An open delta is made of two equal units of half the rating each; the impedance is "
            "that of each unit on its own rating."
        )
    elif unit.secondary.winding is Winding.HIGH_LEG:
        told.append("The bank is made of three equal units; the one from L3 to L1 has the tap.")
    elif wye_p != wye_s and unit.secondary.three_phase:
        told.append("Between delta and wye the higher voltage leads the lower by 30 degrees.")
    three = unit.secondary.three_phase and unit.form is not TransformerForm.OPEN_DELTA
    if wye_p and three and not neutral_arrives:
        point = (
            "The primary neutral is joined to nothing; it stands where the magnetising of three "
            f"separate cores ({no_load} each) lets it"
        )
        told.append(
            f"{point}, so an uneven load or a fault shifts it and the voltages to neutral."
            if wye_s
            else f"{point}; the delta holds it to the middle."
        )
    elif wye_p and wye_s and three:
        told.append("The three cores are separate: there is no tertiary winding.")
    return told
