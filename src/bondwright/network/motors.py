"""Induction motors as what they are in the first cycles of a fault: sources that die away.

A running induction motor keeps its flux for a moment. Seen from its terminals it is the voltage
that was there before the fault, behind the reactance that it has with its rotor locked:

    Z'' = V^2 / S_LR,   S_LR = apparent power with the rotor locked

in the positive and in the negative sequence; its windings lie in delta or in a wye on a point
that is joined to nothing, so that it takes no part in what flows alike in all lines: to a fault
to metal it gives what its two sequences give. The contribution dies away with the time constant

    T'' = X'' / (2 pi f R)

(IEC 60909-0 and IEEE Std 141 treat motors alike; from memory). So it is counted in full where
the first cycles decide (what a device has to interrupt, the peak, and the earliest that a
device can open), and not at all in what goes on (the latest that a device opens, heat, touch
voltage). Single-phase motors give next to nothing and are left out (common practice).
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.catalog.motor_codes import motor_codes
from bondwright.network.circuit import Circuit
from bondwright.network.solve import Solution
from bondwright.site.model import Load, LoadOn, Motor
from bondwright.site.topology import Topology
from bondwright.units import Dimension, show

LOCKED_ROTOR: Final = 6.0
"""Assumed current with the rotor locked over rated current (common practice)."""

LASTS_S: Final = 0.05
"""For how long a motor's contribution may make a device open sooner, s: three cycles of 60 Hz, by
when it has died away to a few percent (common practice)."""

LEAST_VOLTAGE: Final = 0.1
"""Part of nominal voltage below which a motor isn't running."""


@dataclass(frozen=True, slots=True)
class MotorModel:
    """A three-phase induction motor in the first cycles.

    Attributes:
        id: ``"motor <place> <number of the load>"``.
        place: where it is.
        volts: nominal voltage between lines, V.
        impedance: of each phase, ohm.
        rated: rated current, A.
        given: what of its plate was used, for people; "" where nothing was given.
    """

    id: str
    place: str
    volts: float
    impedance: complex
    rated: float
    given: str

    @property
    def locked_rotor(self) -> float:
        """Current with its rotor locked, and that it gives into a fault at its terminals, A."""
        return self.volts / math.sqrt(3) / abs(self.impedance)

    def decay(self, frequency: float) -> float:
        """Return the time constant with which its contribution dies away, s."""
        return self.impedance.imag / (2 * math.pi * frequency * self.impedance.real)


def motor_model(place: str, number: int, load: Load, volts: float) -> MotorModel | None:
    """Return the model of a load that is a three-phase motor; None for any other.

    Args:
        place: where it is.
        number: number of the load there.
        load: the load.
        volts: nominal voltage between lines, V.

    Raises:
        ValueError: its code letter has no upper limit.
    """
    motor = load.motor
    if motor is None or load.on is not LoadOn.THREE_PHASE:
        return None
    rated = load.power / load.pf
    locked, given = _locked(motor, load, rated)
    size = volts**2 / locked
    z = cmath.rect(size, math.atan(motor.x_over_r))
    amps = rated / volts / math.sqrt(3)
    return MotorModel(f"motor {place} {number}", place, volts, z, amps, given)


def _locked(motor: Motor, load: Load, rated: float) -> tuple[float, str]:
    """Return the apparent power with the rotor locked, VA, and what it was found from."""
    if motor.code is not None:
        most = motor_codes()[motor.code].most
        if most is None:
            raise ValueError(f"code letter {motor.code} has no upper limit; give 'locked rotor'")
        shaft = load.power if motor.rating is None else motor.rating
        return most * shaft, f"code letter {motor.code}"
    if motor.locked_rotor is not None:
        return motor.locked_rotor * rated, f"{motor.locked_rotor:g} times its rated current"
    if motor.subtransient is not None:
        return rated / motor.subtransient, f"{motor.subtransient * 100:g} % subtransient reactance"
    return LOCKED_ROTOR * rated, ""


def motor_models(topology: Topology) -> tuple[MotorModel, ...]:
    """Return the motors of a site, in the order of its places."""
    found = []
    for name, place in topology.site.places.items():
        if name not in topology.systems:
            continue
        volts = topology.systems[name].voltages.line_to_line
        for number, load in enumerate(place.loads):
            model = motor_model(name, number, load, volts)
            if model is not None:
                found.append(model)
    return tuple(found)


def add_motor(circuit: Circuit, model: MotorModel, before: Solution) -> bool:
    """Add a motor at the voltage that was there before, so that it draws nothing until a fault.

    Nodes made: ``motor .../emf:L1`` and so on, and ``motor .../star``, which nothing is joined to.

    Args:
        circuit: to add to.
        model: the motor.
        before: a solution of the same circuit without motors.

    Returns:
        Whether it was added: a motor without voltage isn't running.
    """
    lines = ("L1", "L2", "L3")
    ends = [f"{model.place}:{line}" for line in lines]
    volts = np.array([before.voltage(node) for node in ends])
    volts = volts - volts.mean()
    if np.max(np.abs(volts)) < LEAST_VOLTAGE * model.volts:
        return False
    inner = [f"{model.id}/emf:{line}" for line in lines]
    for line, node, emf in zip(lines, inner, volts, strict=True):
        circuit.add_source(f"emf {model.id} {line}", node, f"{model.id}/star", complex(emf))
    circuit.add_section(model.id, lines, inner, ends, np.eye(3) * model.impedance)
    return True


def motor_assumptions(models: tuple[MotorModel, ...], frequency: float) -> Mapping[str, str]:
    """Return what the circuit takes for granted about motors, for people, by place."""
    found: dict[str, str] = {}
    for model in models:
        how = model.given or f"{LOCKED_ROTOR:g} times its rated current (common practice)"
        amps = show(model.locked_rotor, Dimension.CURRENT)
        fades = show(model.decay(frequency), Dimension.TIME)
        found[model.place] = (
            f"The motor gives up to {amps} into a fault at its terminals ({how}), behind the "
            f"impedance it has with its rotor locked; that dies away with a time constant of "
            f"{fades}. It counts in full for what devices have to interrupt, for the peak and for "
            "the earliest opening, and not at all afterwards."
        )
    return found
