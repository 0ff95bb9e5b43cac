"""Inverters: a voltage below the limit, a current at it, and nothing without a grid to follow."""

from __future__ import annotations

import cmath
import math
from typing import Any

import pytest

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.inverters import (
    InverterModel,
    add_inverter,
    inverter_assumptions,
    inverter_model,
    inverter_terminals,
)
from bondwright.network.limits import iterate, solve_with_inverters
from bondwright.network.solve import Change, Solver
from bondwright.network.sources import add_source, source_switches
from bondwright.network.windings import add_transformer
from bondwright.site.model import Inverter
from tests.network.banks import LEAKAGE, source, transformer

ROOT3 = math.sqrt(3)
SYSTEMS = ["120 V", "120/240 V", "208Y/120 V", "480 V delta", "120/240 V delta"]


def inverter(system: str, rating: str = "12 kVA", **facts: Any) -> Inverter:
    return Inverter.model_validate({"system": system, "rating": rating, **facts})


def island(described: Inverter, loads: dict[str, complex]) -> tuple[Solver, InverterModel]:
    """Return an inverter V by itself, grounded, with loads by pair of terminals."""
    model = inverter_model("V", described, forming=True)
    circuit = Circuit(60.0, LEAKAGE)
    add_inverter(circuit, model)
    circuit.add_impedance("rod", "V:G", EARTH, 10.0)
    if described.system.has_neutral:
        circuit.add_switch("tie", "V:N", "V:G")
    for pair, z in loads.items():
        a, b = pair.split("-")
        circuit.add_impedance(f"load {pair}", f"V:{a}", f"V:{b}", z)
    return Solver(circuit), model


def parallel(
    described: Inverter, output: float = 1.0, current: str = "5 kA"
) -> tuple[Solver, InverterModel]:
    """Return an inverter V beside a supply U."""
    model = inverter_model("V", described, forming=False, output=output)
    circuit = Circuit(60.0, LEAKAGE)
    add_source(circuit, "U", source(str(described.system), available={"current": current}))
    add_inverter(circuit, model)
    for line in described.system.lines:
        circuit.add_impedance(f"run {line}", f"U:{line}", f"V:{line}", 0.01 + 0.01j)
    if described.system.has_neutral:
        circuit.add_impedance("run N", "U:N", "V:N", 0.01 + 0.01j)
    return Solver(circuit), model


def line_currents(solver: Solver, model: InverterModel, *changes: Change) -> list[complex]:
    solution, states, told = solve_with_inverters(solver, [model], changes)
    assert told.converged
    return list(model.currents(states["V"], model.voltages(solution)))


# --- forming --------------------------------------------------------------------------------------


def test_rated_current() -> None:
    """S / V, S / (sqrt(3) V) (definition)."""
    assert inverter_model("V", inverter("240 V"), forming=True).rated_current == 50
    assert inverter_model("V", inverter("120/240 V"), forming=True).rated_current == 50
    three = inverter_model("V", inverter("208Y/120 V"), forming=True)
    assert three.rated_current == pytest.approx(12_000 / ROOT3 / 208)
    assert three.largest_current == pytest.approx(1.2 * three.rated_current)


@pytest.mark.parametrize("system", ["120 V", "120/240 V", "208Y/120 V"])
def test_below_the_limit_it_is_a_voltage_behind_an_impedance(system: str) -> None:
    """5 % at X/R 5 on the base of a line; the voltage divider by hand."""
    described = inverter(system)
    volts = abs(described.system.phase_voltages()[0])
    solver, model = island(described, {"L1-N": 20.0})
    solution, states, told = solve_with_inverters(solver, [model])
    base = volts / model.rated_current
    own = cmath.rect(0.05 * base, math.atan(5))
    assert abs(solution.between("V:L1", "V:N")) == pytest.approx(volts * 20 / abs(20 + own))
    assert told.converged
    assert told.limited == ()
    assert states["V"].raised == 1


@pytest.mark.parametrize("ohm", [0.0, 0.01, 0.3, 1.0, 0.5j, -0.4j, 1 + 1j])
@pytest.mark.parametrize("system", ["120 V", "120/240 V", "208Y/120 V"])
def test_at_the_limit_a_fault_draws_the_limit(system: str, ohm: complex) -> None:
    """1.2 times rated current through any fault that would draw more; less through others.

    The current's angle is that of the law: emf over the raised impedance and the fault.
    """
    solver, model = island(inverter(system, "6 kVA"), {})
    fault = solver.join("V:L1", "V:N", ohm)
    solution, states, told = solve_with_inverters(solver, [model], [fault])
    assert told.converged
    emf = abs(model.system.phase_voltages()[0])
    free = emf / abs(model.impedance + ohm)
    got = solution.change_current(0)
    assert abs(got) == pytest.approx(min(free, model.largest_current), rel=1e-6)
    raised = states["V"].raised
    assert got == pytest.approx(emf / (raised * model.impedance + ohm), rel=1e-5)
    assert told.limited == (("source V L1",) if free > model.largest_current else ())


def test_a_line_to_line_fault_limits_both_lines_and_no_third() -> None:
    solver, model = island(inverter("208Y/120 V"), {"L3-N": 30.0})
    _, _, told = solve_with_inverters(solver, [model], [solver.join("V:L1", "V:L2")])
    assert told.converged
    assert told.limited == ("source V L1", "source V L2")
    currents = line_currents(solver, model, solver.join("V:L1", "V:L2"))
    assert abs(currents[0]) == pytest.approx(model.largest_current, rel=1e-6)
    assert abs(currents[0] + currents[1]) < 1e-3 * model.largest_current


@pytest.mark.parametrize("system", SYSTEMS)
def test_no_line_ever_exceeds_the_limit(system: str) -> None:
    """Whatever is faulted; residuals of the settled circuit are those of any other."""
    described = inverter(system, limit="150 %")
    lines = described.system.lines
    last = "N" if described.system.has_neutral else lines[-1]
    solver, model = island(described, {f"L1-{last}": 15.0})
    cases = [[solver.join(f"V:{line}", "V:G")] for line in lines]
    cases += [[solver.join("V:L1", f"V:{last}", z)] for z in (0.0, 0.2, 2j)]
    if len(lines) == 3:
        cases.append([solver.join("V:L1", "V:L2"), solver.join("V:L2", "V:L3")])
    for changes in cases:
        solution, states, told = solve_with_inverters(solver, [model], changes)
        assert told.converged
        for current in model.currents(states["V"], model.voltages(solution)):
            assert abs(current) < 1.5 * model.rated_current * (1 + 1e-6)
        assert solution.residuals.kirchhoff < 1e-9
        assert solution.residuals.power < 1e-9


def test_two_forming_inverters_share_a_fault() -> None:
    """Each gives its own limit to a bolted fault between them (equal laws, equal angles)."""
    circuit = Circuit(60.0, LEAKAGE)
    models = [
        inverter_model(name, inverter("120/240 V", rating), forming=True)
        for name, rating in (("V", "6 kVA"), ("W", "9 kVA"))
    ]
    for model in models:
        add_inverter(circuit, model)
        for terminal in ("L1", "L2", "N"):
            circuit.add_impedance(
                f"run {model.name} {terminal}", f"{model.name}:{terminal}", f"P:{terminal}", 1e-4
            )
    circuit.add_impedance("ground", "P:N", EARTH, 10)
    solver = Solver(circuit)
    fault = solver.join("P:L1", "P:L2")
    solution, _, told = solve_with_inverters(solver, models, [fault])
    assert told.converged
    expected = 1.2 * (6_000 + 9_000) / 240
    assert abs(solution.change_current(0)) == pytest.approx(expected, rel=1e-3)


# --- following ------------------------------------------------------------------------------------


@pytest.mark.parametrize("output", [1.0, 0.4])
@pytest.mark.parametrize("system", SYSTEMS)
def test_beside_a_supply_it_delivers_its_power(system: str, output: float) -> None:
    """P = output x rating at unity power factor, balanced, nothing in the neutral."""
    solver, model = parallel(inverter(system), output)
    solution, states, told = solve_with_inverters(solver, [model])
    assert told.converged
    volts = model.voltages(solution)
    power = sum(
        v * i.conjugate() for v, i in zip(volts, states["V"].current, strict=True)
    )  # to the common node
    assert power.real == pytest.approx(output * 12_000, rel=1e-6)
    assert abs(power.imag) < 0.01 * abs(power)
    if len(model.system.lines) > 1:
        assert abs(sum(states["V"].current)) < 1e-9
        if model.system.has_neutral:
            assert abs(solution.conductor_current("run N", "z")) < 0.01


@pytest.mark.parametrize("system", SYSTEMS)
def test_in_a_sag_it_gives_its_limit(system: str) -> None:
    """A fault that pulls its voltage far down: the limit in every line, and never more."""
    solver, model = parallel(inverter(system))
    lines = model.system.lines
    end = "V:N" if model.system.has_neutral else f"V:{lines[-1]}"
    joins = [solver.join(f"V:{line}", end, 0.01) for line in lines if f"V:{line}" != end]
    for current in line_currents(solver, model, *joins):
        assert abs(current) == pytest.approx(model.largest_current, rel=1e-9)


def test_it_follows_the_angle_behind_a_transformer() -> None:
    """Behind a delta-wye the voltage is turned by 30 degrees, and the current with it."""
    model = inverter_model("V", inverter("208Y/120 V"), forming=False)
    circuit = Circuit(60.0, LEAKAGE)
    add_source(circuit, "U", source("480Y/277 V", available={"current": "10 kA"}))
    add_transformer(circuit, "T", transformer("480 V delta", "208Y/120 V"))
    add_inverter(circuit, model)
    for k in (1, 2, 3):
        circuit.add_impedance(f"run {k}", f"U:L{k}", f"T:H{k}", 0.01)
        circuit.add_impedance(f"out {k}", f"T:L{k}", f"V:L{k}", 0.01)
    circuit.add_switch("tie", "T:N", "T:G")
    circuit.add_impedance("out N", "T:N", "V:N", 0.01)
    circuit.add_impedance("rod", "T:G", EARTH, 5)
    _, states, told = solve_with_inverters(Solver(circuit), [model])
    assert told.converged
    angle = math.degrees(cmath.phase(states["V"].current[0]))
    assert angle == pytest.approx(-30, abs=1)


def test_with_no_supply_it_delivers_nothing() -> None:
    """A following inverter makes no system: with the supply's switches open it is told unled."""
    solver, model = parallel(inverter("120/240 V"))
    bolted = [solver.join("V:L1", "V:N"), solver.join("V:L2", "V:N")]
    off = [solver.open_switch(name) for name in source_switches("U", model.system)]
    solution, states, told = solve_with_inverters(solver, [model], [*off, *bolted])
    assert told.unled == ("V",)
    assert told.converged
    assert set(states["V"].current) == {0}
    assert abs(solution.between("V:L1", "V:N")) < 1e-6


# --- the driver -----------------------------------------------------------------------------------


def test_what_does_not_settle_is_told() -> None:
    solver, model = island(inverter("120 V"), {})
    fault = [solver.join("V:L1", "V:N", 0.3)]

    def solve(states: Any) -> Any:
        solution = solver.solve([*fault, *model.changes(solver, states["V"])])
        return solution, {"V": model.voltages(solution)}

    _, _, told = iterate(solve, [model], most=1)
    assert not told.converged
    assert told.steps == 1
    assert told.change > 0.1
    with pytest.raises(ValueError, match="at least once"):
        iterate(solve, [model], most=0)


def test_a_known_state_saves_steps() -> None:
    solver, model = island(inverter("208Y/120 V"), {"L1-N": 0.9, "L2-N": 0.7 + 0.2j})
    _, states, cold = solve_with_inverters(solver, [model])
    _, _, warm = solve_with_inverters(solver, [model], start=states)
    assert cold.converged
    assert warm.steps == 1
    assert cold.steps > 1


LANDS = [
    ("240 V", "12", False, {"L1": "L1", "L2": "N"}),
    ("120 V", "1", True, {"L1": "L1", "N": "N"}),
    ("120/240 V", "12", True, {"L1": "L1", "L2": "L2", "N": "N"}),
    ("208Y/120 V", "123", False, {"L1": "L1", "L2": "L2", "L3": "L3"}),
    ("480 V delta", "123", True, {"L1": "L1", "L2": "L2", "L3": "L3"}),
]


@pytest.mark.parametrize(("system", "come", "neutral", "land"), LANDS)
def test_inverter_terminals(system: str, come: str, land: dict[str, str], *, neutral: bool) -> None:
    lines = tuple(f"L{c}" for c in come)
    assert inverter_terminals(inverter(system).system, lines, neutral=neutral) == land


def test_what_an_inverter_takes_for_granted() -> None:
    assert any("1.2 times" in t for t in inverter_assumptions(inverter("120 V"), forming=True))
    given = inverter_assumptions(inverter("120 V", limit="200 %"), forming=False)
    assert not any("1.2 times" in text for text in given)


@pytest.mark.parametrize("system", SYSTEMS)
def test_one_that_follows_says_when_it_is_at_its_limit(system: str) -> None:
    """Every line in a deep sag, none at its rated output (the limit is 1.2 times that)."""
    solver, model = parallel(inverter(system))
    lines = model.system.lines
    _, _, free = solve_with_inverters(solver, [model])
    assert free.limited == ()
    end = "V:N" if model.system.has_neutral else f"V:{lines[-1]}"
    joins = [solver.join(f"V:{line}", end, 0.01) for line in lines if f"V:{line}" != end]
    _, states, told = solve_with_inverters(solver, [model], joins)
    assert told.limited == tuple(f"source V {line}" for line in lines)
    assert states["V"].limited == lines


def test_at_voltages_that_stay_two_solutions_are_enough() -> None:
    """The first finds what is due, the second is solved with it and finds the same."""
    model = inverter_model("V", inverter("208Y/120 V"), forming=False)
    volts = tuple(0.9 * volt for volt in model.system.phase_voltages())
    seen = []

    def solve(states: Any) -> Any:
        seen.append(states["V"].current)
        return None, {"V": volts}

    _, states, told = iterate(solve, [model])
    assert (told.steps, told.converged, told.change) == (2, True, 0)
    assert len(seen) == 2
    # S / (sqrt(3) V)
    assert abs(states["V"].current[0]) == pytest.approx(12_000 / ROOT3 / (0.9 * 208))
