"""The direct-current circuit of an array: Ohm's law by hand, ngspice, and what must always hold."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.sizes import Conductor
from bondwright.network.pv import (
    ArrayNetwork,
    ArrayState,
    array_netlist,
    array_network,
    fuse_resistance,
    series_resistance,
    solve_array,
    wire_resistance,
)
from bondwright.network.solve import Change
from bondwright.network.spice import netlist, node_numbers
from bondwright.plan.model import PlannedArray
from bondwright.site.model import ArrayGrounded, Pole
from tests.network.arrays import FOOT, by_inverter, planned_array, solid, ungrounded
from tests.network.ngspice import node_voltages
from tests.outside import outside, same_circuit

# NEC chapter 9 table 8: 10 AWG copper, stranded, uncoated, 75 degC: 1.24 ohm/kft (confirmed).
LINE = 1.24e-3 * 80
# The array behind its resistance: (420 - 350) V / 20 A.
SERIES = 3.5
# A fuse of 1 A: 0.2 ohm (common practice, in the data file).
FUSE = 0.2
# The inverter at work: 350 V / 20 A less both conductors.
LOAD = 17.5 - 2 * LINE


def test_resistances() -> None:
    array = planned_array()
    assert wire_resistance(array.lines, array.length, 75.0) == pytest.approx(LINE, rel=2e-3)
    assert wire_resistance(Conductor.parse("2 x 10 AWG Cu"), 80 * FOOT, 75.0) == pytest.approx(
        LINE / 2, rel=2e-3
    )
    assert series_resistance(array) == pytest.approx(SERIES)
    assert fuse_resistance(1.0) == pytest.approx(FUSE)
    network = array_network(array, 75.0)
    assert network.load == pytest.approx(LOAD, rel=1e-4)


def test_at_work_it_stands_at_its_point_of_greatest_power() -> None:
    network = array_network(planned_array(), 75.0)
    state = solve_array(network)
    assert not state.limited
    assert state.solution.conductor_current("array roof", "z").real == pytest.approx(20.0, rel=1e-4)
    volts = state.solution.between("roof/array:+", "roof/array:-").real
    assert volts == pytest.approx(350.0, rel=1e-4)


def test_short_circuit_by_hand() -> None:
    """Behind 3.5 ohm 420 V would drive 120 A: the short-circuit current of the label limits it."""
    network = array_network(planned_array(), 75.0)
    state = solve_array(network, [network.solver.join("roof/array:+", "roof/array:-")])
    assert state.limited
    assert abs(state.solution.change_current(0)) == pytest.approx(22.0, rel=1e-6)


def test_fault_on_the_ungrounded_conductor_by_hand() -> None:
    """At the inverter: the fuse beside the inverter's resistance, 22 A shared between them."""
    network = array_network(planned_array(), 75.0)
    state = solve_array(network, [network.solver.join("roof/inverter:+", "inverter:G")])
    assert state.limited
    fault = abs(state.solution.change_current(0))
    assert fault == pytest.approx(22 * LOAD / (LOAD + FUSE), rel=1e-4)
    assert abs(state.solution.switch_current("join roof")) == pytest.approx(fault, rel=1e-6)


def test_fault_on_the_grounded_conductor_by_hand() -> None:
    """At the array: ground wire and fuse lie beside the conductor and take their share of 20 A."""
    network = array_network(planned_array(), 75.0)
    state = solve_array(network, [network.solver.join("roof/array:-", "roof/array:G")])
    beside = LINE + FUSE
    total = 420 / (SERIES + LINE + LOAD + LINE * beside / (LINE + beside))
    assert not state.limited
    share = total * LINE / (LINE + beside)
    assert abs(state.solution.switch_current("join roof")) == pytest.approx(share, rel=1e-3)


def test_worked_ground_fault_of_five_strings() -> None:
    """Five strings of 5 A each, ground fuse of 1 A: 25 A at the worst through the fuse.

    The example in the literature on ground faults of arrays ("fault analysis in solar
    photovoltaic arrays", one source) adds the short-circuit currents of all strings.
    """
    network = array_network(planned_array(short_circuit=25.0, work_current=23.0), 75.0)
    off = network.solver.open_switch(network.load_switch)
    fault = network.solver.join("roof/array:+", "roof/array:G")
    state = solve_array(network, [fault, off])
    assert abs(state.solution.switch_current("join roof")) == pytest.approx(25.0, rel=1e-4)


def test_no_join_no_current() -> None:
    """Only insulation is left: the array's voltage over 1 Mohm."""
    network = array_network(ungrounded(), 75.0)
    off = network.solver.open_switch(network.load_switch)
    state = solve_array(network, [network.solver.join("roof/array:+", "roof/array:G"), off])
    assert abs(state.solution.change_current(0)) == pytest.approx(420e-6, rel=1e-3)


# --- ngspice ----------------------------------------------------------------------------------

KINDS = {
    "fuse": planned_array(),
    "fuse on positive": planned_array(pole=Pole.POSITIVE),
    "no ground wire": planned_array(egc=None),
    "solid": solid(),
    "inverter": by_inverter(),
    "ungrounded": ungrounded(),
}


def cases(network: ArrayNetwork) -> dict[str, list[Change]]:
    """Return the states that are compared."""
    solver = network.solver
    to_metal = {
        f"{sign} at {place}": [solver.join(network.node(place, sign), network.node(place, "G"))]
        for place in ("array", "inverter")
        for sign in "+-"
    }
    found = {
        "whole": [],
        "off": [solver.open_switch(network.load_switch)],
        "short": [solver.join(network.node("array", "+"), network.node("array", "-"))],
        "through 2 ohm": [solver.join(network.node("array", "+"), network.node("array", "G"), 2.0)],
        "second": [*to_metal["- at array"], *to_metal["+ at inverter"]],
        **to_metal,
    }
    if network.join is not None:
        found["join open"] = [*to_metal["+ at array"], solver.open_switch(network.join)]
    return found


def assert_ngspice_agrees(
    ngspice: Path, folder: Path, network: ArrayNetwork, state: ArrayState, text: str = ""
) -> None:
    """Every node to 1e-6 of the largest voltage."""
    text = text or netlist(network.circuit, "array", state.changes, state.injections)
    theirs = node_voltages(ngspice, text, folder)
    nodes = {n: number for n, number in node_numbers(network.circuit).items() if number in theirs}
    assert len(nodes) >= 6
    same_circuit(theirs, state.solution.voltage, nodes, 1e-6)


@pytest.mark.parametrize("kind", KINDS)
@outside("ngspice, arrays", "computed", unit="V")
def test_ngspice_agrees(ngspice: Path, tmp_path: Path, kind: str) -> None:
    network = array_network(KINDS[kind], 75.0)
    for changes in cases(network).values():
        assert_ngspice_agrees(ngspice, tmp_path, network, solve_array(network, changes))


@pytest.mark.parametrize("kind", KINDS)
def test_the_netlist_that_is_given_out_is_the_array_at_work(
    ngspice: Path, tmp_path: Path, kind: str
) -> None:
    network = array_network(KINDS[kind], 75.0)
    short = [network.solver.join(network.node("array", "+"), network.node("array", "-"))]
    state = solve_array(network, short)
    for title, held, told in (("at work", solve_array(network), None), ("short", state, state)):
        text = array_netlist(network, title, told)
        assert text.startswith(f"* {title}\n")
        theirs = node_voltages(ngspice, text, tmp_path)
        numbers = {n: k for n, k in node_numbers(network.circuit).items() if k in theirs}
        assert len(numbers) >= 6
        ours = [held.solution.voltage(node) for node in numbers]
        assert [theirs[k] for k in numbers.values()] == pytest.approx(ours, rel=1e-6, abs=1e-6)


# --- what must always hold --------------------------------------------------------------------


@st.composite
def arrays(draw: st.DrawFn) -> PlannedArray:
    """Any array a building can have."""
    volts, amps = draw(st.floats(30, 1500)), draw(st.floats(2, 2000))
    base: dict[str, Any] = {
        "open_circuit": volts,
        "short_circuit": amps,
        "work_voltage": volts * draw(st.floats(0.6, 0.95)),
        "work_current": amps * draw(st.floats(0.8, 0.98)),
        "length": draw(st.floats(1, 300)),
        "lines": Conductor.parse(
            draw(st.sampled_from(["10 AWG Cu", "4/0 AWG Al", "500 kcmil Cu"]))
        ),
        "egc": draw(st.none() | st.just(Conductor.parse("10 AWG Cu"))),
        "insulation": draw(st.floats(1e4, 1e8)),
    }
    make = draw(st.sampled_from([planned_array, solid, by_inverter, ungrounded]))
    return make(**base)  # type: ignore[no-any-return]


@settings(max_examples=60, deadline=None)
@given(arrays(), st.sampled_from("+-"), st.sampled_from(["array", "inverter"]), st.floats(0, 1e3))
def test_laws_hold(array: PlannedArray, sign: str, place: str, ohms: float) -> None:
    network = array_network(array, 75.0)
    fault = network.solver.join(network.node(place, sign), network.node(place, "G"), ohms)
    state = solve_array(network, [fault])
    solution = state.solution
    assert solution.residuals.kirchhoff < 1e-6
    volts = solution.between(network.node("array", "+"), network.node("array", "-"))
    assert volts.imag == pytest.approx(0, abs=1e-6 * array.open_circuit)
    emf = array.open_circuit
    if state.limited:  # on the flat line, left of where both meet
        assert volts.real <= emf - network.series * array.short_circuit + 1e-6 * emf
    else:  # on the sloping one
        current = solution.conductor_current(network.source, "z").real
        assert current <= array.short_circuit
        assert volts.real == pytest.approx(emf - network.series * current, rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(arrays(), st.floats(1.01, 20))
def test_a_longer_circuit_brings_no_more_through_the_join(
    array: PlannedArray, times: float
) -> None:
    def by_join(length: float) -> float:
        given = {name: getattr(array, name) for name in PlannedArray.__dataclass_fields__}
        network = array_network(PlannedArray(**(given | {"length": length})), 75.0, Pole.NEGATIVE)
        off = network.solver.open_switch(network.load_switch)
        join = network.solver.join("roof/array:+", "roof/array:G")
        state = solve_array(network, [join, off])
        return abs(state.solution.switch_current(network.join)) if network.join else 0.0

    near, far = by_join(array.length), by_join(array.length * times)
    # What insulation lets through is small beside rounding of conductors of many kA.
    assert far <= near + 1e-6 * array.short_circuit


@settings(max_examples=30, deadline=None)
@given(arrays(), st.floats(0, 1e3), st.floats(0, 1e3))
def test_more_resistance_in_the_fault_brings_no_more_current(
    array: PlannedArray, one: float, more: float
) -> None:
    network = array_network(array, 75.0)

    def current(ohms: float) -> float:
        join = network.solver.join("roof/array:+", "roof/array:G", ohms)
        return abs(solve_array(network, [join]).solution.change_current(0))

    assert current(one + more) <= current(one) + 1e-6 * array.short_circuit


def test_the_inverter_joins_the_conductor_asked_for() -> None:
    assert array_network(by_inverter(), 75.0).joined is Pole.NEGATIVE
    assert array_network(by_inverter(), 75.0, Pole.POSITIVE).joined is Pole.POSITIVE
    assert array_network(ungrounded(), 75.0).joined is None
    assert array_network(planned_array(), 75.0, Pole.POSITIVE).joined is Pole.NEGATIVE
    assert by_inverter().grounded is ArrayGrounded.INVERTER
