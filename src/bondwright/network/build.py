"""From a plan to its circuit: every conductor and every metal path a branch of its own.

Names of nodes: ``place:terminal`` with terminals L1, L2, L3, N and G; ``place/in:L1`` is the
line side of a place's main device, ``run/out:L1`` the load side of the device at a run's
start, ``transformer/spare:N`` the end of a conductor that no winding takes; ``tie id`` and ``electrode id`` are the points between a join and what it joins.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.catalog.device_rating import DeviceRating
from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.runs import (
    lead_impedance,
    metal_mutual,
    metal_section,
    run_impedance,
)
from bondwright.network.solve import Solver
from bondwright.network.sources import add_source, add_transformer, primary_terminals
from bondwright.plan.model import Plan, PlannedRun
from bondwright.site.model import Load, Metal, Place

NODE_CAPACITANCE: Final = 1e-9
"""Assumed capacitance of every terminal to earth, F. A floating part floats on it."""


@dataclass(frozen=True, slots=True)
class DevicePole:
    """One pole of an overcurrent device in the circuit.

    Attributes:
        switch: id of its switch.
        line: the line terminal it opens.
    """

    switch: str
    line: str


@dataclass(frozen=True, slots=True)
class PlacedDevice:
    """An overcurrent device in the circuit.

    Attributes:
        id: ``"main <place>"`` or ``"device <run>"``.
        at: the place where it stands.
        rating: what it is.
        poles: its poles.
    """

    id: str
    at: str
    rating: DeviceRating
    poles: tuple[DevicePole, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Network:
    """A plan's circuit, factored.

    Attributes:
        plan: what it was built from.
        circuit: the circuit with all ties closed and loads on or off.
        solver: its solver.
        devices: overcurrent devices by id.
        terminals: for each place, the terminals it has.
        loaded: whether loads are connected.
    """

    plan: Plan
    circuit: Circuit
    solver: Solver
    devices: Mapping[str, PlacedDevice]
    terminals: Mapping[str, tuple[str, ...]]
    loaded: bool


def build(plan: Plan, *, loads: bool = True) -> Network:
    """Build the circuit of a plan.

    Args:
        plan: the plan.
        loads: whether loads are connected; fault studies leave them off.

    Returns:
        The network, factored and ready to answer.

    Raises:
        bondwright.network.solve.SolveError: the circuit contradicts itself.
    """
    leakage = 1j * 2 * math.pi * plan.frequency * NODE_CAPACITANCE
    circuit = Circuit(plan.frequency, leakage)
    site = plan.site
    for name, source in site.sources.items():
        add_source(circuit, name, source)
    for name, unit in site.transformers.items():
        add_transformer(circuit, name, unit)
    devices: dict[str, PlacedDevice] = {}
    beside = dict(_metal_beside(plan))
    for run in plan.runs.values():
        _add_run(circuit, plan, run, beside.get(run.id, ()), devices)
    alongside = {name for names in beside.values() for name in names}
    for name, item in site.metal.items():
        if name not in alongside:
            z = metal_section(item.length, _resistance(item), plan.frequency, plan.soil)
            circuit.add_section(
                f"metal {name}", ("metal",), (f"{item.from_}:G",), (f"{item.to}:G",), [[z]]
            )
    for name, place in site.places.items():
        if place.enclosure == "metal":
            circuit.add_node(f"{name}:G")
        _add_main(circuit, plan, name, place, devices)
    for tie in plan.ties:
        middle = f"tie {tie.id}"
        circuit.add_switch(f"tie {tie.id}", f"{tie.at}:N", middle)
        circuit.add_impedance(f"join {tie.id}", middle, f"{tie.at}:G", max(tie.resistance, 1e-6))
    for electrode in plan.electrodes.values():
        if electrode.conductor is None:
            continue
        node = f"electrode {electrode.id}"
        lead = lead_impedance(electrode.conductor, electrode.lead, plan.frequency, plan.temperature)
        circuit.add_section(
            f"electrode conductor {electrode.id}",
            ("metal",),
            (f"{electrode.at}:G",),
            (node,),
            [[lead]],
        )
        circuit.add_impedance(f"electrode {electrode.id}", node, EARTH, electrode.resistance)
    if loads:
        for name, place in site.places.items():
            for number, load in enumerate(place.loads):
                _add_load(circuit, plan, name, number, load)
    solver = Solver(circuit)
    return Network(plan, circuit, solver, devices, _terminals(plan, solver), loads)


def _terminals(plan: Plan, solver: Solver) -> dict[str, tuple[str, ...]]:
    return {
        name: tuple(t for t in ("L1", "L2", "L3", "N", "G") if f"{name}:{t}" in solver.index)
        for name in plan.topology.order
    }


def _metal_beside(plan: Plan) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield each run with the metal that joins the same two places and so lies beside it."""
    for run in plan.runs.values():
        ends = {run.from_, run.to}
        names = tuple(
            name
            for name, item in plan.site.metal.items()
            if {item.from_, item.to} == ends and len(ends) == 2
        )
        if names:
            yield run.id, names


def _resistance(item: Metal) -> float:
    if item.resistance is not None:
        return float(item.resistance)
    return float(item.per_length or 0.0) * float(item.length)


def _add_run(
    circuit: Circuit,
    plan: Plan,
    run: PlannedRun,
    metal: tuple[str, ...],
    devices: dict[str, PlacedDevice],
) -> None:
    parts, z = run_impedance(run, plan.frequency, plan.soil, plan.temperature)
    names = [part.name for part in parts]
    starts = [_start(plan, run, part.terminal) for part in parts]
    ends = [_end(plan, run, part.terminal) for part in parts]
    if metal:
        z = np.pad(z, (0, len(metal)))
        for k, name in enumerate(metal, start=len(parts)):
            item = plan.site.metal[name]
            # A pipe drawn from the far end runs the other way: it is entered at its far end.
            names.append(f"metal {name}")
            starts.append(f"{run.from_}:G")
            ends.append(f"{run.to}:G")
            z[k, k] = metal_section(item.length, _resistance(item), plan.frequency, plan.soil)
            mutual = metal_mutual(min(item.length, run.length), plan.frequency, plan.soil)
            z[k, :k] = z[:k, k] = mutual
    circuit.add_section(f"run {run.id}", names, starts, ends, z)
    device = plan.site.runs[run.id].device
    if device is not None:
        poles = tuple(
            _pole(circuit, f"device {run.id}", line, f"{run.from_}:{line}", f"{run.id}/out:{line}")
            for line in run.on
        )
        devices[f"device {run.id}"] = PlacedDevice(f"device {run.id}", run.from_, device, poles)


def _pole(circuit: Circuit, device: str, line: str, a: str, b: str) -> DevicePole:
    switch = f"{device} {line}"
    circuit.add_switch(switch, a, b)
    return DevicePole(switch, line)


def _start(plan: Plan, run: PlannedRun, terminal: str) -> str:
    if terminal in run.on and plan.site.runs[run.id].device is not None:
        return f"{run.id}/out:{terminal}"
    return f"{run.from_}:{terminal}"


def _end(plan: Plan, run: PlannedRun, terminal: str) -> str:
    if terminal == "G":
        return f"{run.to}:G"
    if run.to in plan.site.transformers:
        unit = plan.site.transformers[run.to]
        land = primary_terminals(unit, run.on, neutral=run.neutral is not None)
        # A conductor that no winding takes ends there by itself; it must not touch another.
        return f"{run.to}:{land[terminal]}" if terminal in land else f"{run.to}/spare:{terminal}"
    place = plan.site.places[run.to]
    side = f"{run.to}/in" if place.main is not None and terminal != "N" else run.to
    return f"{side}:{terminal}"


def _add_main(
    circuit: Circuit, plan: Plan, name: str, place: Place, devices: dict[str, PlacedDevice]
) -> None:
    if place.main is None or name not in plan.topology.fed_by:
        return
    lines = plan.runs[plan.topology.fed_by[name]].on
    poles = tuple(
        _pole(circuit, f"main {name}", line, f"{name}/in:{line}", f"{name}:{line}")
        for line in lines
    )
    devices[f"main {name}"] = PlacedDevice(f"main {name}", name, place.main, poles)


def _add_load(circuit: Circuit, plan: Plan, place: str, number: int, load: Load) -> None:
    system = plan.topology.systems[place].voltages
    ends = load.on.value.split("-")
    pairs = [("L1", "L2"), ("L2", "L3"), ("L3", "L1")] if len(ends) == 3 else [(ends[0], ends[1])]
    volts = system.line_to_line
    if ends[-1] == "N" and system.line_to_neutral is not None:
        volts = system.line_to_neutral
    # S = V^2 / conj(Z), so a lagging load of power P has Z = V^2 (pf + j sqrt(1 - pf^2)) pf / P.
    per_phase = load.power / len(pairs)
    z = volts**2 * load.pf / per_phase * complex(load.pf, math.sqrt(1 - load.pf**2))
    for a, b in pairs:
        circuit.add_impedance(f"load {place} {number} {a}-{b}", f"{place}:{a}", f"{place}:{b}", z)
