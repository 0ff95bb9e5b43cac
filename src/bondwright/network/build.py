"""From a plan to its circuit: every conductor and every metal path a branch of its own.

Names of nodes: ``place:terminal`` with terminals L1, L2, L3, N and G; ``place/in:L1`` is the
line side of a place's main device, ``run id/out:L1`` the load side of the device at a run's
start, ``switch/normal:L1`` a side of a transfer switch, ``transformer/spare:N`` the end of a
conductor that no winding takes; ``tie id`` and ``electrode id`` are the points between a join
and what it joins. A state opens and closes switches of this circuit; its conductors stay.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bondwright.catalog.device_rating import DeviceRating
from bondwright.network.circuit import Circuit, Complex
from bondwright.network.electrodes import add_electrodes
from bondwright.network.inverters import (
    InverterModel,
    add_inverter,
    inverter_model,
    inverter_terminals,
)
from bondwright.network.limits import solve_with_inverters
from bondwright.network.loads import LoadBranch, add_load, load_branches, settle
from bondwright.network.metal import Piece, add_metal, beside
from bondwright.network.motors import MotorModel, add_motor, motor_models
from bondwright.network.names import out_of
from bondwright.network.parallel import share, synchronise
from bondwright.network.runs import (
    metal_mutual,
    metal_section,
    run_impedance,
    steel_tube,
)
from bondwright.network.solve import Solution, Solver
from bondwright.network.sources import add_generator, add_source, source_switches
from bondwright.network.steel import SteelTube
from bondwright.network.windings import add_transformer, primary_terminals
from bondwright.plan.model import Plan, PlannedRun
from bondwright.site.model import Place, Position, Site, SwitchedNeutral, Transfer
from bondwright.site.states import OperatingState, states

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
    """A plan's circuit in one state, factored.

    Attributes:
        plan: what it was built from.
        circuit: the circuit with all ties closed and loads on or off.
        solver: its solver.
        devices: overcurrent devices by id.
        terminals: for each thing that runs go between, the terminals it has.
        loaded: whether loads are connected.
        loads: every phase of every load that is connected.
        steel: the steel wall around each run that has one.
        inverters: the inverters that are on.
        state: the operating state.
        motors: the three-phase motors of the site; part of the circuit only where ``running``.
        running: whether motors are in the circuit, as they are in the first cycles of a fault.
    """

    plan: Plan
    circuit: Circuit
    solver: Solver
    devices: Mapping[str, PlacedDevice]
    terminals: Mapping[str, tuple[str, ...]]
    loaded: bool
    loads: tuple[LoadBranch, ...]
    steel: Mapping[str, SteelTube]
    inverters: tuple[InverterModel, ...]
    state: OperatingState
    motors: tuple[MotorModel, ...] = ()
    running: bool = False


def build(
    plan: Plan,
    *,
    loads: bool = True,
    state: OperatingState | None = None,
    order: int = 1,
    before: Solution | None = None,
) -> Network:
    """Build the circuit of a plan.

    Args:
        plan: the plan.
        loads: whether loads are connected; fault studies leave them off.
        state: operating state; None takes the first, which is normal running.
        order: harmonic order; at one above 1 the circuit is meant to be solved dead, with what
            loads inject.
        before: a solution of the circuit without loads; with it motors are put into the circuit
            as they are in the first cycles of a fault (see :func:`first_cycles`).

    Returns:
        The network, factored and ready to answer.

    Raises:
        bondwright.network.solve.SolveError: the circuit contradicts itself.
    """
    if order != 1:
        plan = replace(plan, frequency=plan.frequency * order)
    if state is None:
        state = states(plan.site)[0]
    leakage = 1j * 2 * math.pi * plan.frequency * NODE_CAPACITANCE
    circuit = Circuit(plan.frequency, leakage)
    site = plan.site
    _add_origins(circuit, plan, order)
    devices: dict[str, PlacedDevice] = {}
    alongside = beside(plan)
    tubes = {run.id: steel_tube(run, plan.temperature) for run in plan.runs.values()}
    steel = {run: tube for run, tube in tubes.items() if tube is not None}
    for run in plan.runs.values():
        _add_run(circuit, plan, run, steel.get(run.id), alongside.get(run.id, ()), devices)
    add_metal(circuit, plan, frozenset(p.id for those in alongside.values() for p in those))
    for name, place in site.places.items():
        if place.enclosure == "metal":
            circuit.add_node(f"{name}:G")
        _add_main(circuit, plan, name, place, devices)
    for name, switch in site.transfers.items():
        _add_transfer(circuit, plan, name, switch)
    for tie in plan.ties:
        middle = f"tie {tie.id}"
        circuit.add_switch(f"tie {tie.id}", f"{tie.at}:{tie.line or 'N'}", middle)
        circuit.add_impedance(f"join {tie.id}", middle, f"{tie.at}:G", max(tie.resistance, 1e-6))
    add_electrodes(circuit, plan)
    branches = _add_loads(circuit, plan, order) if loads else ()
    motors = motor_models(plan.topology)
    if before is not None:
        motors = tuple(model for model in motors if add_motor(circuit, model, before))
    _set_state(circuit, devices, state)
    solver = Solver(circuit)
    if state.parallel and order == 1:
        _set_points(circuit, solver, site, state, branches)
    return Network(
        plan=plan,
        circuit=circuit,
        solver=solver,
        devices=devices,
        terminals=_terminals(plan, solver),
        loaded=loads,
        loads=branches,
        steel=steel,
        inverters=tuple(m for m in inverter_models(plan) if m.name in state.on),
        state=state,
        motors=motors,
        running=before is not None,
    )


def first_cycles(network: Network) -> Network:
    """Return a network as it is in the first cycles of a fault: motors still feed it.

    Args:
        network: built without loads.

    Returns:
        The network with its motors running; the same one where it has none.
    """
    if not network.motors or network.running:
        return network
    if network.inverters:
        before, _, _ = solve_with_inverters(network.solver, network.inverters)
    else:
        before = network.solver.solve()
    return build(network.plan, loads=False, state=network.state, before=before)


def _set_points(
    circuit: Circuit,
    solver: Solver,
    site: Site,
    state: OperatingState,
    branches: tuple[LoadBranch, ...],
) -> None:
    """Synchronise sources in parallel; with loads, let each take what it is set to."""
    synchronise(circuit, solver, site, state.parallel)
    if branches:
        share(
            circuit,
            solver,
            site,
            state.parallel,
            lambda: settle(branches, lambda drawn: solver.solve(injections=drawn)).solution,
        )


def _add_origins(circuit: Circuit, plan: Plan, order: int) -> None:
    site = plan.site
    for name, source in site.sources.items():
        isolated = site.earthing == "IT"
        add_source(circuit, name, source, order=order, isolated=isolated)
    for name, generator in site.generators.items():
        add_generator(circuit, name, generator, order=order)
    for model in inverter_models(plan):
        add_inverter(circuit, model, order=order)
    for name, unit in site.transformers.items():
        add_transformer(circuit, name, unit, order=order)


def inverter_models(plan: Plan) -> tuple[InverterModel, ...]:
    """Return the models of a plan's inverters: forming those that no run feeds."""
    return tuple(
        inverter_model(name, inverter, forming=name not in plan.topology.fed_by)
        for name, inverter in plan.site.inverters.items()
    )


def _terminals(plan: Plan, solver: Solver) -> dict[str, tuple[str, ...]]:
    return {
        name: tuple(t for t in ("L1", "L2", "L3", "N", "G") if f"{name}:{t}" in solver.index)
        for name in (*plan.topology.order, *_idle_roots(plan))
    }


def _idle_roots(plan: Plan) -> Iterable[str]:
    there = set(plan.topology.order)
    return (n for n in (*plan.site.generators, *plan.site.inverters) if n not in there)


def _add_run(
    circuit: Circuit,
    plan: Plan,
    run: PlannedRun,
    tube: SteelTube | None,
    metal: tuple[Piece, ...],
    devices: dict[str, PlacedDevice],
) -> None:
    walls = None
    if tube is not None:
        quiet = tube.surfaces(0, 0, plan.frequency).triple
        walls = dict.fromkeys(range(run.lines.sets), quiet)
    parts, z = run_impedance(run, plan.frequency, plan.soil, plan.temperature, walls)
    names = [part.name for part in parts]
    starts = [_start(plan, run, part.terminal) for part in parts]
    ends = [_end(plan, run, part.terminal) for part in parts]
    if metal:
        z = _beside(z, run, metal, plan)
        names += [piece.id for piece in metal]
        # A pipe drawn from the far end runs the other way: it is entered at its far end.
        starts += [f"{run.from_}:G"] * len(metal)
        ends += [f"{run.to}:G"] * len(metal)
    circuit.add_section(f"run {run.id}", names, starts, ends, z)
    device = plan.site.runs[run.id].device
    if device is not None:
        poles = tuple(
            _pole(
                circuit, f"device {run.id}", line, f"{run.from_}:{line}", f"{out_of(run.id)}:{line}"
            )
            for line in run.on
        )
        devices[f"device {run.id}"] = PlacedDevice(f"device {run.id}", run.from_, device, poles)


def _beside(z: Complex, run: PlannedRun, metal: Sequence[Piece], plan: Plan) -> Complex:
    n = len(z)
    whole = np.pad(z, (0, len(metal)))
    for k, piece in enumerate(metal, start=n):
        whole[k, k] = metal_section(piece.length, piece.resistance, plan.frequency, plan.soil)
        mutual = metal_mutual(min(piece.length, run.length), plan.frequency, plan.soil)
        whole[k, :k] = whole[:k, k] = mutual
    return whole


def _pole(circuit: Circuit, device: str, line: str, a: str, b: str) -> DevicePole:
    switch = f"{device} {line}"
    circuit.add_switch(switch, a, b)
    return DevicePole(switch, line)


def _start(plan: Plan, run: PlannedRun, terminal: str) -> str:
    if terminal in run.on and plan.site.runs[run.id].device is not None:
        return f"{out_of(run.id)}:{terminal}"
    return f"{run.from_}:{terminal}"


def _end(plan: Plan, run: PlannedRun, terminal: str) -> str:
    site = plan.site
    if terminal == "G":
        return f"{run.to}:G"
    if run.to in site.transformers:
        unit = site.transformers[run.to]
        land = primary_terminals(unit, run.on, neutral=run.neutral is not None)
        # A conductor that no winding takes ends there by itself; it must not touch another.
        return f"{run.to}:{land[terminal]}" if terminal in land else f"{run.to}/spare:{terminal}"
    if run.to in site.transfers:
        switch = site.transfers[run.to]
        if terminal == "N" and switch.neutral is SwitchedNeutral.SOLID:
            return f"{run.to}:N"
        side = Position.NORMAL if run.id == switch.normal else Position.STANDBY
        return f"{run.to}/{side.value}:{terminal}"
    if run.to in site.inverters or run.to in site.generators:
        beside = site.inverters.get(run.to) or site.generators[run.to]
        land = inverter_terminals(beside.system, run.on, neutral=run.neutral is not None)
        return f"{run.to}:{land[terminal]}" if terminal in land else f"{run.to}/spare:{terminal}"
    place = site.places.get(run.to)
    main = place is not None and place.main is not None
    side_of_main = f"{run.to}/in" if main and terminal != "N" else run.to
    return f"{side_of_main}:{terminal}"


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


def _add_transfer(circuit: Circuit, plan: Plan, name: str, switch: Transfer) -> None:
    circuit.add_node(f"{name}:G")
    for side, run_id in ((Position.NORMAL, switch.normal), (Position.STANDBY, switch.standby)):
        run = plan.runs[run_id]
        poles = list(run.on)
        if run.neutral is not None and switch.neutral is SwitchedNeutral.SWITCHED:
            poles.append("N")
        for pole in poles:
            circuit.add_switch(
                f"transfer {name} {side.value} {pole}",
                f"{name}/{side.value}:{pole}",
                f"{name}:{pole}",
                closed=side is Position.NORMAL,
            )


def _add_loads(circuit: Circuit, plan: Plan, order: int) -> tuple[LoadBranch, ...]:
    found = []
    for name, place in plan.site.places.items():
        if name not in plan.topology.systems:
            continue
        system = plan.topology.systems[name].voltages
        for number, load in enumerate(place.loads):
            for branch in load_branches(name, number, load, system):
                leak = None if load.leakage is None else (f"{name}:G", load.leakage)
                add_load(circuit, branch, order=order, leakage=leak)
                found.append(branch)
    return tuple(found)


def _set_state(
    circuit: Circuit, devices: Mapping[str, PlacedDevice], state: OperatingState
) -> None:
    opened = {
        pole.switch
        for name in state.open
        for device in (devices.get(f"main {name}"), devices.get(f"device {name}"))
        if device is not None
        for pole in device.poles
    }
    site = state.topology.site
    systems = {name: source.system for name, source in site.sources.items()}
    systems |= {name: generator.system for name, generator in site.generators.items()}
    systems |= {name: inverter.system for name, inverter in site.inverters.items()}
    outgoing = {
        switch: name for name, system in systems.items() for switch in source_switches(name, system)
    }
    for k, switch in enumerate(circuit.switches):
        kind, _, tail = switch.id.partition(" ")
        closed = switch.closed and switch.id not in opened
        if kind == "transfer":
            name, side, _pole_name = tail.rsplit(" ", 2)
            closed = state.transfers.get(name, Position.NORMAL) in (side, Position.BOTH)
        elif switch.id in outgoing:
            closed = outgoing[switch.id] in state.on
        circuit.switches[k] = replace(switch, closed=closed)
