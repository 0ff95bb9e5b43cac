"""Electrodes in the circuit: a conductor to each, and the ground that they share.

Electrodes that lift each other are one element with a port for each: the voltage of each to
remote earth is ``sum_j R_ij I_j``, with the resistance matrix of the plan taken as it is. An
electrode that is joined to nothing, ours or a neighbour's, is a port that carries no current and
rises all the same. In a netlist the same element is written as its inverse, resistors between all
pairs and to remote earth (:mod:`bondwright.network.spice`).
"""

from __future__ import annotations

from typing import Final

import numpy as np

from bondwright.network.circuit import EARTH, Circuit, Complex
from bondwright.network.runs import lead_impedance
from bondwright.plan.ground import coupled_groups
from bondwright.plan.model import Plan

COMMON_GROUND: Final = "common ground"
"""How the id of an element begins that several electrodes share."""


def electrode_node(name: str) -> str:
    """Return the node of an electrode's metal in the ground."""
    return f"electrode {name}"


def add_electrodes(circuit: Circuit, plan: Plan) -> None:
    """Add every electrode that is joined, and those that are lifted by one.

    Args:
        circuit: to add to.
        plan: the plan.

    Raises:
        ValueError: a resistance matrix that is not that of a passive body.
    """
    joined = {name for name, one in plan.electrodes.items() if one.conductor is not None}
    for electrode in plan.electrodes.values():
        if electrode.conductor is None:
            continue
        lead = lead_impedance(electrode.conductor, electrode.lead, plan.frequency, plan.temperature)
        circuit.add_section(
            f"electrode conductor {electrode.id}",
            ("metal",),
            (f"{electrode.at}:G",),
            (electrode_node(electrode.id),),
            [[lead]],
        )
    for number, group in enumerate(coupled_groups(plan.ground, plan.ground.names), start=1):
        if not joined.intersection(group):
            continue
        if len(group) == 1:
            (name,) = group
            ohms = plan.electrodes[name].resistance
            circuit.add_impedance(electrode_node(name), electrode_node(name), EARTH, ohms)
            continue
        circuit.add_section(
            f"{COMMON_GROUND} {number}",
            group,
            [electrode_node(name) for name in group],
            [EARTH] * len(group),
            common_ground(plan, group),
        )


def common_ground(plan: Plan, group: tuple[str, ...]) -> Complex:
    """Return the resistance matrix of electrodes that lift each other, shape (n, n), ohm.

    Raises:
        ValueError: it is not that of a passive body.
    """
    at = [plan.ground.names.index(name) for name in group]
    matrix = np.array(plan.ground.resistance)[np.ix_(at, at)]
    if np.linalg.eigvalsh(matrix)[0] <= 0:
        raise ValueError(f"the resistance matrix of {', '.join(group)} is not that of a body")
    return matrix.astype(np.complex128)
