"""Motors that feed a fault in its first cycles: by symmetrical components, by ngspice."""

from __future__ import annotations

import cmath
import math
from pathlib import Path

import numpy as np
import pytest

from bondwright.catalog.motor_codes import motor_codes
from bondwright.explain.assumptions import assumptions
from bondwright.network.build import Network, build, first_cycles
from bondwright.network.motors import LASTS_S
from bondwright.plan.build import plan
from bondwright.site import read
from bondwright.site.reader import SiteError
from bondwright.studies.available import available_current, peak_factor
from bondwright.studies.fault_model import CLEARED_A
from bondwright.studies.fault_table import study_many
from bondwright.studies.faults import Fault, FaultKind, study_fault
from bondwright.studies.protection import duties
from tests.network.test_parallel import assert_agrees
from tests.outside import outside, published

SITE = """site: Press hall, Harrow Creek Cidery
sources:
  utility: {system: 480Y/277 V, available: {current: 5 kA, x/r: 6, line to neutral: 4 kA}}
places:
  main: {kind: service, main: 400 A breaker}
  bus: {kind: panel}
  press:
    kind: equipment
    loads: [{on: L1-L2-L3, power: 100 kW, pf: 0.86, motor: {MOTOR}}]
runs:
  service: {from: utility, to: main, length: 1 ft, lines: 500 kcmil Cu}
  feeder: {from: main, to: bus, length: 1 ft, lines: 500 kcmil Cu, egc: 500 kcmil Cu}
  branch:
    from: bus
    to: press
    device: 225 A breaker, instantaneous 2250 A
    length: 1 ft
    lines: 500 kcmil Cu
    egc: 500 kcmil Cu
    neutral: none
"""

PHASE = 480 / math.sqrt(3)
# 100 kW at 0.86: what it is rated for, VA.
RATED = 100e3 / 0.86


def network(motor: str = "locked rotor: 6 pu, x/r: 10", **edits: str) -> Network:
    """Build the site with one motor."""
    text = SITE.replace("MOTOR", motor)
    for old, new in edits.items():
        text = text.replace(old.replace("_", " "), new)
    return build(plan(read(text)), loads=False)


def motor_ohm(x_over_r: float = 10, locked: float = 6) -> complex:
    """Return the impedance of a phase, rotor locked, ohm."""
    return cmath.rect(480**2 / (locked * RATED), math.atan(x_over_r))


def source_ohm() -> tuple[complex, complex]:
    """Return zero and positive-sequence impedance of the utility, ohm.

    3 E / (2 Z1 + Z0) = 4 kA, E / Z1 = 5 kA, all at one angle.
    """
    z1 = PHASE / 5000
    return tuple(cmath.rect(z, math.atan(6)) for z in (3 * PHASE / 4000 - 2 * z1, z1))  # type: ignore[return-value]


def beside(a: complex, b: complex) -> complex:
    """Return two impedances in parallel."""
    return a * b / (a + b)


def fault_current(site: Network, a: str, b: str) -> float:
    """Return the bolted fault current between two terminals of the press, A."""
    return abs(site.solver.solve([site.solver.join(a, b)]).change_current(0))


def test_before_a_fault_a_motor_draws_nothing() -> None:
    site = first_cycles(network())
    (motor,) = site.motors
    assert np.max(np.abs(site.solver.solve().section_currents(motor.id))) < 1e-3


def test_three_lines_by_hand() -> None:
    """E/Z1 of the source and E/Z'' of the motor, added as phasors."""
    z1 = source_ohm()[1]
    by_hand = abs(PHASE / z1 + PHASE / motor_ohm())
    found = available_current(first_cycles(network()), "press", "press")
    assert found.between == "three lines"
    assert found.current == pytest.approx(by_hand, rel=0.01)
    alone = available_current(network(), "press", "press")
    assert alone.current == pytest.approx(PHASE / abs(z1), rel=0.01)


def test_line_to_metal_by_symmetrical_components() -> None:
    """3 E / (Z1||Zm + Z2||Zm + Z0): nothing of the motor in the zero sequence."""
    z0, z1 = source_ohm()
    both = beside(z1, motor_ohm())
    by_hand = abs(3 * PHASE / (2 * both + z0))
    with_zero = abs(3 * PHASE / (2 * both + beside(z0, motor_ohm())))
    drawn = fault_current(first_cycles(network()), "press:L1", "press:G")
    assert drawn == pytest.approx(by_hand, rel=0.01)
    assert abs(drawn - by_hand) < 0.1 * abs(drawn - with_zero)
    alone = fault_current(network(), "press:L1", "press:G")
    assert alone == pytest.approx(4000, rel=0.01)


def test_line_to_line_by_symmetrical_components() -> None:
    """sqrt(3) E / (Z1||Zm + Z2||Zm)."""
    both = beside(source_ohm()[1], motor_ohm())
    drawn = fault_current(first_cycles(network()), "press:L1", "press:L2")
    assert drawn == pytest.approx(math.sqrt(3) * PHASE / abs(2 * both), rel=0.01)


def test_a_motor_gives_no_current_alike_in_all_lines() -> None:
    site = first_cycles(network())
    solution = site.solver.solve([site.solver.join("press:L1", "press:G")])
    amps = solution.section_currents(site.motors[0].id)
    assert abs(amps.sum()) < 1e-3 < 0.1 * np.max(np.abs(amps))


@pytest.mark.parametrize(
    ("motor", "va"),
    [
        ("", 6 * RATED),
        ("locked rotor: 650 %", 6.5 * RATED),
        ("subtransient: 20 %", 5 * RATED),
        # NEC table 430.7(B), code G: up to 6.29 kVA per horsepower (from memory).
        ("code: G, rating: 125 hp", 6.29e3 * 125),
        ("code: G", 6.29e3 * 100e3 / 745.7),
    ],
)
@outside("NEC table 430.7(B), locked rotor", "memory", unit="A")
def test_how_much_it_gives(motor: str, va: float) -> None:
    (found,) = network(motor).motors
    assert found.locked_rotor == published(va / 480 / math.sqrt(3), rel=1e-3)


@pytest.mark.parametrize(
    ("code", "least", "most"),
    # NEC table 430.7(B), kVA per horsepower; from memory.
    [
        ("A", 0, 3.14), ("B", 3.15, 3.54), ("C", 3.55, 3.99), ("D", 4.0, 4.49), ("E", 4.5, 4.99),
        ("F", 5.0, 5.59), ("G", 5.6, 6.29), ("H", 6.3, 7.09), ("J", 7.1, 7.99), ("K", 8.0, 8.99),
        ("L", 9.0, 9.99), ("M", 10.0, 11.19), ("N", 11.2, 12.49), ("P", 12.5, 13.99),
        ("R", 14.0, 15.99), ("S", 16.0, 17.99), ("T", 18.0, 19.99), ("U", 20.0, 22.39),
        ("V", 22.4, None),
    ],
)  # fmt: skip
def test_code_letters(code: str, least: float, most: float | None) -> None:
    found = motor_codes()[code]
    assert found.least * 0.7457 == pytest.approx(least)
    assert (None if found.most is None else found.most * 0.7457) == (most and pytest.approx(most))


def test_what_it_gives_dies_away_within_a_cycle_or_so() -> None:
    """X/R = 10: T = 10 / (2 pi 60) = 26.5 ms."""
    assert network().motors[0].decay(60.0) == pytest.approx(10 / (2 * math.pi * 60))


# --- where it counts ---------------------------------------------------------------------------


def test_devices_have_to_interrupt_it() -> None:
    (main, branch) = duties(network())
    z1 = source_ohm()[1]
    assert branch.available == pytest.approx(abs(PHASE / z1 + PHASE / motor_ohm()), rel=0.01)
    assert branch.of_motors == pytest.approx(branch.available - 5000, rel=0.05)
    assert main.of_motors > 0


@outside("IEC 60909-0, peak factor", "memory")
def test_the_peak() -> None:
    """IEC 60909-0: 1.02 + 0.98 exp(-3 R/X); 1.8 at X/R 13.2 or so, 2 without resistance."""
    assert peak_factor(1j) == published(2.0, rel=1e-6)
    assert peak_factor(1 + 1j) == published(1.02 + 0.98 * math.exp(-3), rel=1e-6)
    assert peak_factor(1 + 0j) == published(1.02, rel=1e-6)
    # The source alone: R/X = 1/6, so the factor is 1.61 (the run's resistance takes a little).
    (_, branch) = duties(network("", MOTOR="", **{", motor: {}": ""}))
    assert branch.peak == pytest.approx(1.614 * math.sqrt(2) * branch.available, rel=0.01)


def test_it_can_make_a_device_open_sooner_and_never_later() -> None:
    """The supply's share lies below the trip (2 kA less its tolerance), with the motor above."""
    text = SITE.replace("MOTOR", "").replace("5 kA", "1.4 kA").replace("4 kA", "1.4 kA", 2)
    text = text.replace("1.1.4 kA", "1.4 kA")
    text = text.replace(
        "runs:\n",
        "  fan: {kind: equipment}\nruns:\n"
        "  fan branch: {from: bus, to: fan, device: '100 A breaker, instantaneous 2000 A', "
        "length: 1 ft, lines: 2 AWG Cu, egc: 2 AWG Cu, neutral: none}\n",
    )
    fault = Fault("fan", FaultKind.LINE_TO_LINE, "L1", "L2")
    running = study_fault(build(plan(read(text)), loads=False), fault)
    quiet = study_fault(build(plan(read(text.replace(", motor: {}", ""))), loads=False), fault)
    assert quiet.fastest > LASTS_S >= running.fastest
    assert running.clearing == quiet.clearing
    assert running.current == quiet.current
    # A table of many faults says the same.
    other = Fault("press", FaultKind.LINE_TO_LINE, "L1", "L2")
    site = build(plan(read(text)), loads=False)
    table = study_many(site, [other, fault])
    for k, one in enumerate((study_fault(site, other), running)):
        assert table.fastest[k] == pytest.approx(one.fastest, rel=1e-9)
        assert table.current[k] == pytest.approx(one.current, rel=1e-6)
    # What stands is asked for again where the motors run: a strap that shorts nothing changes
    # nothing, an opened breaker takes the motor's part away, and a wire that is broken can't be.
    strap = site.solver.join("fan:L3", "press:L3", 1e6)
    assert study_fault(site, fault, [strap]).fastest == pytest.approx(running.fastest, rel=1e-3)
    off = [site.solver.open_switch(pole.switch) for pole in site.devices["device branch"].poles]
    assert study_fault(site, fault, off).fastest == pytest.approx(quiet.fastest, rel=1e-3)
    broken = site.solver.open_conductor("run branch", "L3")
    assert study_fault(site, fault, [broken]).fastest == pytest.approx(quiet.fastest, rel=1e-3)


def test_it_counts_for_nothing_that_lasts() -> None:
    fault = Fault("press", FaultKind.LINE_TO_METAL, "L1", "G")
    running = study_fault(network(), fault)
    quiet = study_fault(network("", **{", motor: {}": ""}), fault)
    for name in ("current", "clearing", "touch", "heat", "verdict"):
        assert getattr(running, name) == getattr(quiet, name), name
    assert running.current > CLEARED_A


def test_it_is_told() -> None:
    site = network()
    texts = [a.text for a in assumptions(site.plan, site) if a.where == "press"]
    assert any("dies away with a time constant of 26" in text for text in texts)


@pytest.mark.parametrize("motor", ["code: I", "code: V", "code: G, locked rotor: 6 pu"])
def test_what_is_no_motor(motor: str) -> None:
    with pytest.raises(SiteError):
        network(motor)


def test_a_single_phase_motor_gives_nothing() -> None:
    text = SITE.replace("MOTOR", "").replace("on: L1-L2-L3", "on: L1-L2")
    site = build(plan(read(text)), loads=False)
    assert not site.motors
    assert first_cycles(site) is site


@pytest.mark.parametrize("ends", [("L1", "L2"), ("L1", "G"), ("L2", "N")])
@outside("ngspice, motors in the first cycles", "computed", unit="V")
def test_ngspice_agrees(ngspice: Path, tmp_path: Path, ends: tuple[str, str]) -> None:
    site = first_cycles(network())
    assert_agrees(ngspice, tmp_path, site, [])
    join = site.solver.join(f"bus:{ends[0]}", f"bus:{ends[1]}")
    assert_agrees(ngspice, tmp_path, site, [join])
