"""The direct-current side of an array as a circuit of resistances.

The array is two straight lines of voltage against current: open-circuit voltage behind a series
resistance that makes it pass through its point of greatest power, until the current would be
more than its short-circuit current; from there a source of that current. Which of the two holds
is found by solving with the first and, where that gives too much, with the second.

Everything is resistance, so the frequency of the circuit means nothing; it is set low. The metal
of the inverter, joined to the grounding of the building, is the node that voltages are told to:
direct current has no way back through the earth, since nothing but that metal joins the array
to it. Currents are those of full sun; with less they are smaller, and voltages nearly the same.

Names of nodes: ``<array>/array:+``, ``-`` and ``G`` (the frames), ``<array>/inverter:+`` and
``-``, ``<inverter>:G``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.catalog.conductors import resistance_dc
from bondwright.catalog.pv import pv_data
from bondwright.catalog.sizes import Conductor
from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.solve import Change, Injection, Solution, Solver
from bondwright.network.spice import netlist
from bondwright.plan.model import PlannedArray
from bondwright.site.model import ArrayGrounded, Pole

LOW_HZ: Final = 1e-3
"""Frequency of the circuit, which has no reactances; Hz."""

JOIN_OHM: Final = 1e-3
"""Assumed resistance of a plain join, and of the way through an inverter, ohm (common practice).
Both lie in series with conductors of much more."""

LOOSE_OHM: Final = 1e7
"""Assumed resistance from frames that nothing joins to the metal, so that they have a voltage,
ohm."""

SIGNS: Final = {Pole.POSITIVE: "+", Pole.NEGATIVE: "-"}


def other(pole: Pole) -> Pole:
    """Return the opposite conductor."""
    return Pole.NEGATIVE if pole is Pole.POSITIVE else Pole.POSITIVE


@dataclass(frozen=True, slots=True, eq=False)
class ArrayNetwork:
    """An array's circuit, factored.

    Attributes:
        array: what it was built from.
        circuit: its circuit, the inverter at work.
        solver: its solver.
        series: resistance of the array, ohm.
        line: resistance of each of its two conductors, ohm.
        ground: resistance of its equipment grounding conductor, ohm, or None.
        load: resistance that stands for the inverter at work, ohm.
        join: id of the switch that joins a conductor to metal, or None.
        joined: the conductor it joins, or None.
    """

    array: PlannedArray
    circuit: Circuit
    solver: Solver
    series: float
    line: float
    ground: float | None
    load: float
    join: str | None
    joined: Pole | None

    def node(self, place: str, terminal: str) -> str:
        """Return a node: place "array" or "inverter", terminal "+", "-" or "G"."""
        if terminal == "G" and place == "inverter":
            return f"{self.array.at}:G"
        return f"{self.array.id}/{place}:{terminal}"

    @property
    def source(self) -> str:
        """The section of the array's own resistance."""
        return f"array {self.array.id}"

    @property
    def load_switch(self) -> str:
        """The switch that takes the inverter off."""
        return f"inverter {self.array.at}"


@dataclass(frozen=True, slots=True, eq=False)
class ArrayState:
    """An answer of an array's circuit.

    Attributes:
        solution: voltages and currents.
        limited: whether the array gives its short-circuit current.
        changes: what was different, with those of the array's state.
        injections: the current of the array where it is limited.
    """

    solution: Solution
    limited: bool
    changes: tuple[Change, ...]
    injections: tuple[Injection, ...]


def wire_resistance(wire: Conductor, length: float, temperature: float) -> float:
    """Return the resistance of a conductor for direct current, ohm.

    Args:
        wire: size, metal and sets in parallel.
        length: m.
        temperature: degC.
    """
    return resistance_dc(wire.size, wire.material, temperature) * length / wire.sets


def series_resistance(array: PlannedArray) -> float:
    """Return the resistance behind which an array has its open-circuit voltage, ohm."""
    return (array.open_circuit - array.work_voltage) / array.work_current


def fuse_resistance(rating: float) -> float:
    """Return the resistance of a ground-fault fuse of a rating in A, ohm."""
    return pv_data().fuse_ohm_amps / rating


def array_network(
    array: PlannedArray, temperature: float, through: Pole | None = None
) -> ArrayNetwork:
    """Build the circuit of an array.

    Args:
        array: the array.
        temperature: of the conductors, degC.
        through: the conductor that an inverter without a transformer joins to metal in the
            moment looked at; it switches both, one after the other. Only for such an inverter;
            None takes the negative one.

    Returns:
        The circuit, factored and ready to answer.
    """
    name, at = array.id, array.at
    circuit = Circuit(LOW_HZ, 0j)
    nodes = {
        (place, sign): f"{name}/{place}:{sign}" for place in ("array", "inverter") for sign in "+-"
    }
    frame, metal, inner = f"{name}/array:G", f"{at}:G", f"{name}/source"
    series = series_resistance(array)
    line = wire_resistance(array.lines, array.length, temperature)
    circuit.add_switch("grounding of the building", metal, EARTH)
    circuit.add_source(f"array {name}", inner, nodes["array", "-"], array.open_circuit)
    circuit.add_impedance(f"array {name}", inner, nodes["array", "+"], series)
    for pole, sign in SIGNS.items():
        there, here = nodes["array", sign], nodes["inverter", sign]
        circuit.add_impedance(f"{pole} {name}", there, here, line)
        # In the field the insulation of modules and circuit is spread out; it is put at the array.
        circuit.add_impedance(f"insulation {pole} {name}", there, frame, array.insulation)
    ground = None
    if array.egc is not None:
        ground = wire_resistance(array.egc, array.length, temperature)
        circuit.add_impedance(f"egc {name}", frame, metal, ground)
    else:
        circuit.add_impedance(f"mounts {name}", frame, metal, LOOSE_OHM)
    load = max(array.work_voltage / array.work_current - 2 * line, line)
    circuit.add_switch(f"inverter {at}", nodes["inverter", "+"], f"{name}/load")
    circuit.add_impedance(f"load {name}", f"{name}/load", nodes["inverter", "-"], load)
    joined = array.pole
    if array.grounded is ArrayGrounded.INVERTER:
        joined = through or Pole.NEGATIVE
    join = None
    if joined is not None:
        join = f"join {name}"
        middle = f"{name}/join"
        fuse = array.ground_fuse
        circuit.add_switch(join, nodes["inverter", SIGNS[joined]], middle)
        ohms = fuse_resistance(fuse) if fuse is not None else JOIN_OHM
        circuit.add_impedance(join, middle, metal, ohms)
    return ArrayNetwork(array, circuit, Solver(circuit), series, line, ground, load, join, joined)


def solve_array(network: ArrayNetwork, changes: Sequence[Change] = ()) -> ArrayState:
    """Solve an array's circuit with changes made to it.

    Args:
        network: the circuit.
        changes: made by its solver.

    Returns:
        The state on the line of its current-voltage curve that holds.
    """
    array, solver = network.array, network.solver
    solution = solver.solve(changes)
    current = solution.conductor_current(network.source, "z").real
    if current <= array.short_circuit:
        return ArrayState(solution, False, tuple(changes), ())
    limit = solver.open_conductor(network.source, "z")
    # Out at the positive terminal and back at the negative one, whatever the voltage there.
    given = Injection(network.node("array", "-"), network.node("array", "+"), array.short_circuit)
    every = (*changes, limit)
    return ArrayState(solver.solve(every, [given]), True, every, (given,))


NETLIST_NOTES: Final = (
    "direct current: all is resistance, so the real parts at this very low frequency are it",
    "where the array gives its short-circuit current, its voltage is left out for that current",
)
"""What a reader of an array's netlist has to know."""


def array_netlist(network: ArrayNetwork, title: str, state: ArrayState | None = None) -> str:
    """Write an array's circuit as a netlist, on the line of its curve that holds.

    Args:
        network: the circuit.
        title: first line.
        state: what to write; None for the array at work with nothing wrong.

    Returns:
        The netlist, ready for ``ngspice -b``.
    """
    chosen = solve_array(network) if state is None else state
    return netlist(network.circuit, title, chosen.changes, chosen.injections, notes=NETLIST_NOTES)
