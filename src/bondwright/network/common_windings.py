"""Transformers with windings in common, and what all transformers share.

Autotransformers, the winding that only makes a neutral, and the zigzag. The conventions are
those of :mod:`bondwright.network.windings`, which is where to add a transformer from.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from typing import Final

from bondwright.catalog.systems import Winding
from bondwright.network.circuit import Circuit
from bondwright.site.model import Transformer

MAGNETISING: Final = 0.005
"""Assumed no-load current of a core in parts of its rated current (common practice)."""

CORE_LOSS: Final = 0.001
"""Assumed part of it in phase with the voltage: the losses of the core (common practice)."""

_ALIKE: Final = 0.05

SINGLE: Final = frozenset({Winding.SINGLE_TWO_WIRE, Winding.SINGLE_THREE_WIRE})
"""Systems of one phase."""


def refuse(name: str, unit: Transformer, why: str) -> ValueError:
    """Return the error that a transformer can't be made from its two systems."""
    return ValueError(
        f"transformer {name!r} ({unit.form}) from {unit.primary} to {unit.secondary}: {why}"
    )


def with_angle(magnitude: float, x_over_r: float) -> complex:
    """Return the impedance of a magnitude in ohm and a ratio of reactance to resistance."""
    return cmath.rect(magnitude, math.atan(x_over_r))


def magnetising_impedance(volts: float, rating: float) -> complex:
    """Return the impedance that stands for the magnetising of one core, ohm.

    Args:
        volts: rated voltage of the winding it lies across, V.
        rating: rated apparent power of the core, VA.
    """
    share = complex(CORE_LOSS, -math.sqrt(MAGNETISING**2 - CORE_LOSS**2))
    return volts**2 / rating / share


def raise_order(circuit: Circuit, first: int, order: int) -> None:
    """Turn the sections of a circuit from number ``first`` on into those at a harmonic order.

    Reactances grow with the order, and so does the skew part of a turning machine's
    resistances, which stems from its reactances.
    """
    if order == 1:
        return
    for k in range(first, len(circuit.sections)):
        z = circuit.sections[k].impedance
        lossy = (z.real + z.real.T) / 2
        circuit.sections[k] = replace(
            circuit.sections[k], impedance=lossy + order * (z.real - lossy + 1j * z.imag)
        )


def add_auto(circuit: Circuit, name: str, unit: Transformer, *, magnetise: bool) -> None:
    """Add an autotransformer; its rating is the power that goes through.

    The winding in common lies between the lower line and the neutral, the series winding
    between the two lines with all of the leakage: its ohms are those of the nameplate on the
    higher voltage, which gives the nameplate's impedance through.
    """
    p, s = unit.primary, unit.secondary
    single = s.winding in SINGLE
    if single != (p.winding in SINGLE):
        raise refuse(name, unit, "a winding in common needs the same phases on both sides")
    if s.winding is Winding.SINGLE_THREE_WIRE:
        _add_balancer(circuit, name, unit, magnetise=magnetise)
        return
    if s.winding is Winding.HIGH_LEG:
        raise refuse(name, unit, "the windings in common lie in wye and make no high leg")
    root = 1.0 if single else math.sqrt(3)
    volts_p, volts_s = p.line_to_line / root, s.line_to_line / root
    if abs(volts_p / volts_s - 1) < 1e-6:
        raise refuse(name, unit, "equal voltages leave no series winding")
    common = f"{name}:N" if s.has_neutral else f"{name}/star"
    if single or p.winding is Winding.WYE:
        circuit.add_switch(f"common {name}", f"{name}:H0", common)
    count = 1 if single else 3
    rating = unit.rating / count
    high, low = max(volts_p, volts_s), min(volts_p, volts_s)
    z = with_angle(unit.impedance * high**2 / rating, unit.x_over_r)
    for k in range(1, count + 1):
        upper, lower = (f"{name}:H{k}", f"{name}:L{k}")
        if volts_s > volts_p:
            upper, lower = lower, upper
        inside = f"{name}/series:{k}"
        circuit.add_impedance(f"leakage {name} {k}", upper, inside, z)
        circuit.add_transformer(
            f"winding {name} {k}", inside, lower, lower, common, (high - low) / low
        )
        if magnetise or not single:
            circuit.add_impedance(
                f"magnetising {name} {k}", lower, common, magnetising_impedance(low, rating)
            )


def _add_balancer(circuit: Circuit, name: str, unit: Transformer, *, magnetise: bool) -> None:
    """Add one winding across two lines whose middle is the neutral.

    Its rating is the load between one line and neutral, its impedance that to such a load.
    """
    volts = unit.secondary.line_to_line
    if abs(unit.primary.line_to_line / volts - 1) > _ALIKE:
        raise refuse(name, unit, "a winding that makes a neutral leaves the voltage as it is")
    for k, end in ((1, "H1"), (2, "H0")):
        circuit.add_switch(f"common {name} {k}", f"{name}:{end}", f"{name}:L{k}")
    half = volts / 2
    z = with_angle(4 * unit.impedance * half**2 / unit.rating, unit.x_over_r)
    inside, neutral = f"{name}/series:1", f"{name}:N"
    circuit.add_impedance(f"leakage {name} 1", f"{name}:L1", inside, z)
    circuit.add_transformer(f"winding {name} 1", inside, neutral, neutral, f"{name}:L2", 1.0)
    if magnetise:
        across = magnetising_impedance(volts, unit.rating)
        circuit.add_impedance(f"magnetising {name} 1", f"{name}:L1", f"{name}:L2", across)


def add_zigzag(circuit: Circuit, name: str, unit: Transformer) -> None:
    """Add a grounding transformer: on each core the windings of two phases, one reversed.

    Only currents that are alike in all three lines pass easily. Its rating is line-to-neutral
    voltage times neutral current, its impedance per phase the nameplate's on that base:
    ``Z0 = z V_LL^2 / S`` (IEEE Std C57.32 rates such transformers by neutral current; memory).
    """
    if unit.primary.winding in SINGLE:
        raise refuse(name, unit, "a zigzag needs three lines")
    volts = unit.primary.line_to_line
    z = with_angle(unit.impedance * volts**2 / unit.rating, unit.x_over_r)
    neutral = f"{name}:N"
    for k in (1, 2, 3):
        inside, middle = f"{name}/winding:{k}", f"{name}/middle:{k}"
        # On this core: the outer half of phase k, and the inner half of the phase before.
        before = f"{name}/middle:{(k + 1) % 3 + 1}"
        circuit.add_impedance(f"leakage {name} {k}", f"{name}:H{k}", inside, z)
        circuit.add_transformer(f"winding {name} {k}", inside, middle, neutral, before, 1.0)
        circuit.add_impedance(
            f"magnetising {name} {k}",
            inside,
            middle,
            magnetising_impedance(volts / 3, unit.rating / 3),
        )
