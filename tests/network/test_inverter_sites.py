"""Sites that an inverter feeds: its limit is what a fault gets, through steel raceway and all."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bondwright.network.build import Network, build, first_cycles
from bondwright.network.raceways import settled
from bondwright.plan.build import plan
from bondwright.site import read

CABIN = """site: Cabin above the orchard, Harrow Creek Cidery
inverters:
  pack: {system: SYSTEM, rating: 12 kVA, building: cabin}
places:
  panel: {kind: panel, main: 60 A breaker, building: cabin LOADS}
  pump: {kind: equipment, building: cabin}
runs:
  feeder: {from: pack, to: panel, length: 60 ft, lines: 6 AWG Cu, raceway: {kind: emt, size: 1 in}}
  pump run: {from: panel, to: pump, device: 20 A breaker, length: 80 ft, lines: 12 AWG Cu,
    egc: 12 AWG Cu}
ties:
  strap: {at: pack, by: strap}
electrodes:
  rods: {kind: rod, at: panel, count: 2}
"""


def cabin(system: str = "120/240 V", loads: str = "", order: int = 1) -> Network:
    text = CABIN.replace("SYSTEM", system).replace("LOADS", loads and f", loads: [{loads}]")
    return build(plan(read(text)), loads=False, order=order)


@pytest.mark.parametrize("place", ["panel", "pump"])
def test_a_fault_gets_the_limit_and_no_more(place: str) -> None:
    """1.2 x 12 kVA / 240 V = 60 A, wherever it is: the way is far less than 120 V / 60 A."""
    site = cabin()
    fault = site.solver.join(f"{place}:L1", f"{place}:G")
    solution, walls = settled(site, [fault])
    assert abs(solution.change_current(0)) == pytest.approx(60.0, rel=1e-6)
    assert solution.residuals.kirchhoff < 1e-9
    # Neutral and metal are joined at the inverter, so it comes back by the raceway's wall.
    assert walls is not None
    assert walls.converged


def test_at_a_harmonic_it_is_a_larger_reactance_without_a_voltage() -> None:
    """5 % at X/R 5 on a line's base of 120 V / 50 A; its reactance grows with the order."""
    size = 0.05 * 120 / 50
    x = size * 5 / math.sqrt(26)
    for order in (1, 3):
        site = cabin(order=order)
        section = next(s for s in site.circuit.sections if s.id == "source pack")
        assert np.diag(section.impedance) == pytest.approx([complex(x / 5, order * x)] * 2)


def test_motors_run_at_the_inverter_s_voltage_before_a_fault() -> None:
    """Without loads that is 120 V behind any impedance: a motor's own, and it draws nothing."""
    site = cabin("208Y/120 V", "{on: L1-L2-L3, power: 3 kW, pf: 0.8, motor: {}}")
    running = first_cycles(site)
    assert running.running
    assert running is not site
    volts = {s.id: s.emf for s in running.circuit.sources if s.id.startswith("emf motor")}
    assert len(volts) == 3
    assert [abs(v) for v in volts.values()] == pytest.approx([208 / math.sqrt(3)] * 3, rel=1e-4)
    solution, _ = settled(running)
    for line in ("L1", "L2", "L3"):
        assert abs(solution.conductor_current("source pack", line)) < 1e-3
