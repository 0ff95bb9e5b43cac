"""Loads that are no impedance, leakage and harmonics, by hand calculation."""

from __future__ import annotations

import math
from typing import Any

import pytest

from bondwright.network.build import Network, build
from bondwright.network.normal import harmonics, normal_use
from bondwright.plan.build import plan
from bondwright.site.model import Site


def fed(loads: list[dict[str, Any]], system: str = "120/240 V", **run: Any) -> Network:
    """Return a strong source and one panel with loads at the end of a run."""
    return build(
        plan(
            Site.model_validate(
                {
                    "site": "bench",
                    "conductor temperature": "75 degC",
                    "sources": {
                        "utility": {"system": system, "available": {"current": 1e6, "x/r": 1}}
                    },
                    "places": {
                        "service": {"kind": "service", "main": "200 A breaker"},
                        "panel": {"kind": "panel", "loads": loads},
                    },
                    "runs": {
                        "drop": {"from": "utility", "to": "service", "length": 0.01,
                                 "lines": "500 kcmil Cu"},
                        "feeder": {"from": "service", "to": "panel", "device": "100 A breaker",
                                   "length": 30.48, "lines": "4 AWG Cu", **run},
                    },
                }
            )
        )
    )  # fmt: skip


def neutral_amps(network: Network) -> float:
    """Return the current in the feeder's neutral in normal use, A."""
    return abs(normal_use(network).solution.conductor_current("run feeder", "N"))


def test_constant_power_draws_its_power_at_any_voltage() -> None:
    """S = V I* holds at the settled voltage (definition)."""
    network = fed([{"on": "L1-N", "power": "9 kW", "pf": 0.9, "draws": "power"}])
    use = normal_use(network)
    assert use.converged
    volts = use.solution.between("panel:L1", "panel:N")
    current = use.solution.conductor_current("run feeder", "L1")
    assert abs(volts) < 119
    power = volts * current.conjugate()
    assert power.real == pytest.approx(9000, rel=1e-6)
    assert power.imag == pytest.approx(9000 * math.tan(math.acos(0.9)), rel=1e-5)


def test_constant_current_draws_its_current() -> None:
    """P / (V pf) at nominal voltage, whatever the voltage is (definition)."""
    use = normal_use(fed([{"on": "L1-N", "power": "6 kW", "pf": 0.8, "draws": "current"}]))
    current = abs(use.solution.conductor_current("run feeder", "L1"))
    assert current == pytest.approx(6000 / 120 / 0.8, rel=1e-6)


def test_an_impedance_draws_less_at_a_lower_voltage() -> None:
    """Constant impedance, current and power differ in the right order under voltage drop."""
    drawn = {
        kind: neutral_amps(fed([{"on": "L1-N", "power": "9 kW", "draws": kind}]))
        for kind in ("impedance", "current", "power")
    }
    assert drawn["impedance"] < drawn["current"] < drawn["power"]


def test_leakage_is_what_it_says() -> None:
    """3.5 mA at 120 V between line and metal (nominal current of the filter)."""
    network = fed([{"on": "L1-N", "power": "1 kW", "leakage": "3.5 mA"}])
    use = normal_use(network)
    section = network.circuit.sections[network.solver.section_index["leakage load panel 0 L1-N"]]
    current = abs(use.solution.section_currents(section.id)[0])
    assert current == pytest.approx(3.5e-3, rel=0.01)
    # It comes home on the equipment grounding conductor.
    assert abs(use.solution.conductor_current("run feeder", "metal")) == pytest.approx(
        3.5e-3, rel=0.02
    )


def test_triplen_currents_add_in_the_neutral() -> None:
    """Three balanced loads with 60 % third harmonic: the neutral carries 3 x 60 % of it.

    Textbook: triplen currents of the three phases are in step; the fundamental cancels.
    """
    loads = [
        {"on": f"L{k}-N", "power": "2.4 kW", "harmonics": {3: "60 %", 5: "30 %"}} for k in (1, 2, 3)
    ]
    network = fed(loads, "208Y/120 V")
    fundamental = normal_use(network).solution
    found = harmonics(network).solve(fundamental)
    per_phase = 2400 / 120.09
    assert abs(fundamental.conductor_current("run feeder", "N")) < 0.05
    third = abs(found[3].conductor_current("run feeder", "N"))
    assert third == pytest.approx(3 * 0.6 * per_phase, rel=0.01)
    assert abs(found[5].conductor_current("run feeder", "N")) < 0.05
    assert found[3].residuals.kirchhoff < 1e-9
    assert found[3].residuals.power < 1e-6


def test_a_harmonic_builds_more_reactance() -> None:
    """Inductive reactance grows with the order, resistance by skin effect only."""
    network = fed([{"on": "L1-N", "power": "2.4 kW", "harmonics": {3: "50 %"}}])
    third = harmonics(network).networks[3]
    one = network.circuit.sections[network.solver.section_index["run feeder"]].impedance
    three = third.circuit.sections[third.solver.section_index["run feeder"]].impedance
    loop, loop3 = (z[0, 0] + z[2, 2] - 2 * z[0, 2] for z in (one, three))
    assert loop3.imag / loop.imag == pytest.approx(3, rel=0.02)
    assert 1 <= loop3.real / loop.real < 1.05
