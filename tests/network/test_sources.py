"""Supplies and generators against sequence-component formulas and nameplate arithmetic."""

from __future__ import annotations

import cmath
import math
from typing import Any

import numpy as np
import pytest

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.solve import Injection, Solver
from bondwright.network.sources import (
    add_generator,
    add_source,
    generator_assumptions,
    generator_matrix,
    source_matrix,
    source_switches,
)
from bondwright.site.model import Generator
from tests.network.banks import LEAKAGE, bolted, generating, generator, source
from tests.outside import outside, published

ROOT3 = math.sqrt(3)
SYSTEMS = [
    "120 V",
    "120/240 V",
    "208Y/120 V",
    "480Y/277 V",
    "480 V delta",
    "120/240 V delta",
]


def supply(system: str, **facts: Any) -> Solver:
    circuit = Circuit(60.0, LEAKAGE)
    add_source(circuit, "U", source(system, **facts))
    return Solver(circuit)


def lines_fault(solver: Solver, name: str) -> float:
    """Return the current of a bolted fault across all three lines, A."""
    joins = [solver.join(f"{name}:L1", f"{name}:L2"), solver.join(f"{name}:L2", f"{name}:L3")]
    return abs(solver.solve(joins).change_current(0))


# --- supplies -------------------------------------------------------------------------------------


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize(
    "facts",
    [{"transformer": {"rating": "50 kVA", "impedance": "2 %"}}, {"available": {"current": "9 kA"}}],
    ids=["nameplate", "letter"],
)
def test_voltages_of_a_supply(system: str, facts: dict[str, Any]) -> None:
    """Nominal voltages, 120 degrees or a half turn apart; a high leg of 208 V."""
    described = source(system, **facts)
    solution = supply(system, **facts).solve()
    nominal = described.system.phase_voltages()
    lines = described.system.lines
    for i, a in enumerate(lines):
        for j, b in enumerate(lines[:i]):
            got = solution.between(f"U:{a}", f"U:{b}")
            assert got == pytest.approx(nominal[i] - nominal[j], rel=1e-4)
        if described.system.has_neutral:
            assert solution.between(f"U:{a}", "U:N") == pytest.approx(nominal[i], rel=1e-4)
    if system == "120/240 V delta":
        assert abs(solution.between("U:L2", "U:N")) == pytest.approx(207.85, rel=1e-4)


@pytest.mark.parametrize("system", ["208Y/120 V", "480 V delta", "120/240 V delta"])
def test_a_letter_of_available_current_is_kept(system: str) -> None:
    """Three-phase as given; line to line is sqrt(3)/2 of it (symmetrical components)."""
    solver = supply(system, available={"current": "12 kA", "x/r": 4})
    assert lines_fault(solver, "U") == pytest.approx(12_000, rel=1e-6)
    for a, b in (("L1", "L2"), ("L2", "L3"), ("L3", "L1")):
        got = abs(bolted(solver, f"U:{a}", f"U:{b}")[0])
        assert got == pytest.approx(12_000 * ROOT3 / 2, rel=1e-6)


@pytest.mark.parametrize("current", ["9 kA", "14 kA"])
def test_the_line_to_neutral_current_of_a_letter_is_kept(current: str) -> None:
    """Of a wye and of the half windings of a high-leg delta, with the three-phase current."""
    amperes = float(current.split()[0]) * 1000
    letter = {"current": "12 kA", "x/r": 4, "line to neutral": current}
    for system, lines in (("208Y/120 V", "123"), ("120/240 V delta", "13")):
        solver = supply(system, available=letter)
        assert lines_fault(solver, "U") == pytest.approx(12_000, rel=1e-6)
        for line in lines:
            assert abs(bolted(solver, f"U:L{line}", "U:N")[0]) == pytest.approx(amperes, rel=1e-6)


def test_letters_that_contradict_themselves_are_refused() -> None:
    impossible = {"current": "10 kA", "line to neutral": "100 kA"}
    for system in ("208Y/120 V", "120/240 V delta", "120/240 V"):
        with pytest.raises(ValueError, match=r"contradict|too large"):
            source_matrix(source(system, available=impossible))


@outside("loop method by hand", "computed", unit="A")
def test_nameplate_of_a_high_leg_bank() -> None:
    """Three units of 25 kVA and 2 %: 75 kVA / (sqrt(3) 240 V) / 2 % across three lines; line to
    neutral through the half winding less a twelfth of the leg (loop method by hand)."""
    nameplate = {"rating": "75 kVA", "impedance": "2 %", "x/r": 1.5}
    solver = supply("120/240 V delta", transformer=nameplate)
    assert lines_fault(solver, "U") == published(75_000 / ROOT3 / 240 / 0.02, rel=1e-6)
    z = cmath.rect(0.02 * 240**2 / 25_000, math.atan(1.5))
    half = complex(0.375 * z.real, 0.3 * z.imag) - z / 12
    for line in ("L1", "L3"):
        assert abs(bolted(solver, f"U:{line}", "U:N")[0]) == published(120 / abs(half), rel=1e-6)


def test_a_multi_grounded_neutral_reaches_earth_through_its_electrode() -> None:
    """Line to earth: 277 V over 3 ohm and nothing else that counts (Ohm's law)."""
    circuit = Circuit(60.0, LEAKAGE)
    described = source("480Y/277 V")
    add_source(circuit, "U", described.model_copy(update={"electrode": 3.0}))
    current, _ = bolted(Solver(circuit), "U:L1", EARTH)
    assert abs(current) == pytest.approx(480 / ROOT3 / 3, rel=1e-3)


@pytest.mark.parametrize("system", SYSTEMS)
def test_switched_off_an_origin_leaves_its_lines_dead(system: str) -> None:
    """All of ``source U L1`` ... open: no voltage at the terminals, neutral and metal remain."""
    solver = supply(system)
    names = source_switches("U", source(system).system)
    solution = solver.solve([solver.open_switch(name) for name in names])
    for name in names:
        line = name.split()[-1]
        assert name == f"source U {line}"
        assert abs(solution.voltage(f"U:{line}")) < 1e-6
    if source(system).system.has_neutral:
        assert abs(solution.between("U:N", "U:G")) < 1e-9


def test_sources_at_a_harmonic() -> None:
    """R + j n X (definition of inductance)."""
    one, five = Circuit(60.0, LEAKAGE), Circuit(300.0, LEAKAGE)
    add_source(one, "U", source("208Y/120 V", available={"current": "10 kA", "x/r": 3}))
    add_source(five, "U", source("208Y/120 V", available={"current": "10 kA", "x/r": 3}), order=5)
    a, b = (circuit.sections[0].impedance for circuit in (one, five))
    assert np.allclose(b, a.real + 5j * a.imag)


# --- generators -----------------------------------------------------------------------------------

MACHINES: list[dict[str, Any]] = [
    {"subtransient": "12 %", "negative": "18 %", "zero": "6 %"},
    {"subtransient": "20 %", "negative": "15 %", "zero": "3 %", "x/r": 30},
    {"subtransient": "15 %", "negative": "15 %", "zero": "5 %"},
    {},
]


def sequence(machine: Generator) -> tuple[complex, complex, complex]:
    """Return Z0, Z1 and Z2 in ohm from the description."""
    base = machine.system.line_to_line**2 / machine.rating
    x1 = machine.subtransient or 0.15
    x2 = machine.negative or 0.15
    x0 = machine.zero or 0.05
    r = x1 / machine.x_over_r
    return complex(r, x0) * base, complex(r, x1) * base, complex(r, x2) * base


@pytest.mark.parametrize("facts", MACHINES, ids=str)
@pytest.mark.parametrize("rating", ["30 kVA", "500 kVA"])
def test_generator_faults(facts: dict[str, Any], rating: str) -> None:
    """Textbook formulas of unsymmetrical faults at the terminals of an unloaded generator:
    V/Z1; sqrt(3) V/(Z1+Z2); 3 V/(Z1+Z2+Z0); two lines to neutral 3 V Z2/(Z1 Z2+Z2 Z0+Z0 Z1)."""
    machine = generator("480Y/277 V", rating, **facts)
    solver = Solver(generating(machine))
    z0, z1, z2 = sequence(machine)
    volts = 480 / ROOT3
    assert lines_fault(solver, "A") == pytest.approx(volts / abs(z1), rel=1e-5)
    for a, b in (("L1", "L2"), ("L2", "L3"), ("L3", "L1")):
        got = abs(bolted(solver, f"A:{a}", f"A:{b}")[0])
        assert got == pytest.approx(ROOT3 * volts / abs(z1 + z2), rel=1e-5)
    for line in ("L1", "L2", "L3"):
        got = abs(bolted(solver, f"A:{line}", "A:N")[0])
        assert got == pytest.approx(3 * volts / abs(z0 + z1 + z2), rel=1e-5)
    both = solver.solve([solver.join("A:L2", "A:N"), solver.join("A:L3", "A:N")])
    ground = abs(both.change_current(0) + both.change_current(1))
    expected = 3 * volts * abs(z2 / (z1 * z2 + z2 * z0 + z0 * z1))
    assert ground == pytest.approx(expected, rel=1e-5)


@pytest.mark.parametrize("facts", MACHINES, ids=str)
def test_the_matrix_has_its_sequences(facts: dict[str, Any]) -> None:
    """A^-1 Z A is diagonal with Z0, Z1, Z2 (definition of symmetrical components)."""
    machine = generator("208Y/120 V", "100 kVA", **facts)
    a = cmath.rect(1, 2 * math.pi / 3)
    into = np.array([[1, 1, 1], [1, a**2, a], [1, a, a**2]])
    found = np.linalg.inv(into) @ generator_matrix(machine) @ into
    assert np.allclose(found, np.diag(sequence(machine)), atol=1e-12)


def test_a_machine_of_unequal_sequences_is_not_reciprocal() -> None:
    """And so its matrix is skew: by turning it, the field tells one direction from the other."""
    solver = Solver(generating(generator("480Y/277 V", "30 kVA", **MACHINES[0])))
    pairs = [("A:L1", "A:N"), ("A:L2", "A:N")]
    there, back = (
        solver.solve([], [Injection(*pairs[i], 1.0)], dead=True).between(*pairs[1 - i])
        for i in (0, 1)
    )
    assert abs(there - back) > 0.1 * abs(there)


def test_the_tie_decides_what_a_generator_gives_to_its_frame() -> None:
    """Neutral joined to the frame: a full fault; floating: next to nothing."""
    machine = generator("208Y/120 V", "45 kVA")
    solver = Solver(generating(machine))
    tied, _ = bolted(solver, "P:L1", "P:G")
    z0, z1, z2 = sequence(machine)
    assert abs(tied) == pytest.approx(3 * 208 / ROOT3 / abs(z0 + z1 + z2 + 6e-4), rel=1e-4)
    off = solver.solve([solver.join("P:L1", "P:G"), solver.open_switch("tie")])
    assert abs(off.change_current(0)) < 1e-3


@outside("sequence impedances, textbook", "computed", unit="A")
def test_single_phase_generators() -> None:
    """Two wires: V over the mean of Z1 and Z2 (a pulsating field turns both ways; textbook).
    Two halves: that from line to line; their zero sequence is a common current's."""
    facts = {"subtransient": "12 %", "negative": "16 %", "zero": "4 %", "x/r": 10}
    two = generator("240 V", "10 kVA", **facts)
    _, z1, z2 = sequence(two)
    got, _ = bolted(Solver(generating(two)), "A:L1", "A:N")
    assert abs(got) == published(240 / abs((z1 + z2) / 2), rel=1e-6)
    three = generator("120/240 V", "10 kVA", **facts)
    z0, z1, z2 = sequence(three)
    solver = Solver(generating(three))
    got, _ = bolted(solver, "A:L1", "A:L2")
    assert abs(got) == published(240 / abs((z1 + z2) / 2), rel=1e-6)
    got, _ = bolted(solver, "A:L2", "A:N")
    assert abs(got) == published(120 / abs(((z1 + z2) / 2 + z0) / 4), rel=1e-6)


def test_a_high_leg_generator() -> None:
    """Across three lines it is as strong as its mean reactance says."""
    machine = generator("120/240 V delta", "60 kVA")
    z0, z1, _ = sequence(machine)
    solver = Solver(generating(machine))
    assert lines_fault(solver, "A") == pytest.approx(240 / ROOT3 / abs(z1), rel=1e-6)
    assert abs(solver.solve().between("A:L2", "A:N")) == pytest.approx(207.85, rel=1e-4)
    assert abs(z0) > 0


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("facts", MACHINES, ids=str)
def test_residuals_of_generators(system: str, facts: dict[str, Any]) -> None:
    """Kirchhoff's law and Tellegen's theorem, also with a broken conductor in the machine."""
    machine = generator(system, "80 kVA", **facts)
    solver = Solver(generating(machine, loads=True))
    lines = machine.system.lines
    end = "A:N" if machine.system.has_neutral else f"P:{lines[-1]}"
    cases = [[solver.join("P:L1", "P:G")], [solver.join("P:L1", end)]]
    if len(lines) > 1:
        cases.append([solver.open_conductor("source A", lines[-1])])
    for changes in cases:
        residuals = solver.solve(changes).residuals
        assert residuals.kirchhoff < 1e-9
        assert residuals.power < 1e-9


def test_a_broken_winding_of_a_turning_machine() -> None:
    """By the matrix alone: with L1 open, L2 and L3 keep their own and mutual terms."""
    machine = generator("480Y/277 V", "100 kVA", **MACHINES[0])
    solver = Solver(generating(machine))
    broken = solver.open_conductor("source A", "L1")
    joins = [solver.join("A:L2", "A:N"), solver.join("A:L3", "A:N")]
    solution = solver.solve([*joins, broken])
    kept = generator_matrix(machine)[1:, 1:]
    emf = np.array(machine.system.phase_voltages()[1:])
    expected = np.linalg.solve(kept, emf)
    assert solution.change_current(0) == pytest.approx(complex(expected[0]), rel=1e-5)
    assert solution.change_current(1) == pytest.approx(complex(expected[1]), rel=1e-5)


def test_a_skew_reactance_is_refused() -> None:
    circuit = Circuit(60.0, LEAKAGE)
    with pytest.raises(ValueError, match="symmetric"):
        circuit.add_section(
            "z", ("1", "2"), ("a", "b"), ("c", "d"), [[1j, 0.5j], [0j, 1j]], reciprocal=False
        )


def test_what_a_generator_takes_for_granted() -> None:
    left_out = generator_assumptions(generator("208Y/120 V", "45 kVA"))
    assert any("15 %" in text and "5 %" in text for text in left_out)
    given = generator_assumptions(generator("208Y/120 V", "45 kVA", **MACHINES[0]))
    assert not any("common practice" in text for text in given)
    mixed = generator_assumptions(generator("120/240 V delta", "45 kVA", **MACHINES[0]))
    assert any("mean" in text for text in mixed)


def test_generators_at_a_harmonic_keep_their_resistance() -> None:
    """Losses don't grow, reactances and the skew part that stems from them do."""
    machine = generator("480Y/277 V", "100 kVA", **MACHINES[0])
    circuit = Circuit(300.0, LEAKAGE)
    add_generator(circuit, "A", machine, order=5)
    one, five = generator_matrix(machine), circuit.sections[0].impedance
    a = cmath.rect(1, 2 * math.pi / 3)
    into = np.array([[1, 1, 1], [1, a**2, a], [1, a, a**2]])
    (before, after) = (np.diag(np.linalg.inv(into) @ z @ into) for z in (one, five))
    assert np.allclose(after, before.real + 5j * before.imag)
