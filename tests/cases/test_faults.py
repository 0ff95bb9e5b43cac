"""Faults to metal that people asked about: what flows, and whether anything opens.

The basis of each verdict is one of: stated by the source, replies in the discussion, compiled
reasoning (by us, not in the source).
"""

from __future__ import annotations

import math

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.bands import band
from bondwright.network.build import Network
from bondwright.network.solve import Change
from bondwright.rules.answer import Severity, Verdict
from tests.cases.asking import case, clamp, opened
from tests.outside import outside, published

TOL = 0.05  # where a case gives no tolerance


@pytest.mark.parametrize(
    ("name", "at_service"),
    [("F01-post-lights-15ohm", 0.1), ("F01-post-lights-15ohm-10ohm-service", 10.0)],
)
@pytest.mark.parametrize("light", ["light 1", "light 2"])
@outside("case F01, compiled reasoning", "computed")
def test_f01_a_rod_at_the_fixture_trips_nothing(name: str, at_service: float, light: str) -> None:
    """F01: post lights with a broken equipment ground and a 15 ohm rod each.

    Verdict (compiled reasoning, high on the physics): at most 120/15 = 8 A, no trip of a 15 A
    breaker, the fixture near 120 V x 15/(15 + R of the service). Source: public Q&A thread,
    "Brain tease: effective ground fault current path".
    """
    found = case(name)
    fault = found.fault(light)
    assert fault.current <= published(8.0, unit="A")
    assert fault.current == published(120 / (15 + at_service), rel=TOL, unit="A")
    assert fault.touch[light] == published(120 * 15 / (15 + at_service), rel=TOL, unit="V")
    assert not fault.cleared
    assert fault.openings == ()
    assert math.isinf(band(DeviceRating.parse("15 A breaker")).fastest(fault.current))
    assert found.finding("fault-path", "light cable 1").severity is Severity.DANGER
    assert found.finding("earth-not-a-path", "rod 1").severity is Severity.DANGER


def test_f01_repaired_equipment_ground_clears() -> None:
    """F01: the cure is the equipment grounding conductor. Basis and source as above."""
    found = case("F01-post-lights-15ohm-with-egc")
    assert found.rules() & {"fault-path", "earth-not-a-path"} == set()
    assert found.fault("light 2").verdict is Verdict.HOLDS


@outside("case F03, compiled reasoning", "computed")
def test_f03_far_end_of_a_long_circuit() -> None:
    """F03: 7500 ft of path lighting, 300 V to ground, all non-metallic.

    Verdict (compiled reasoning, medium; sizes assumed): about 11.7 ohm and 26 A at 300 V, the
    far end at about 150 V, seconds to minutes on a 20 A breaker and not instantaneous. Our band
    is more careful: at 1.3 times its rating the breaker may open after 20 s or never. Source:
    public Q&A thread, "Ground rod in every light pole?".
    """
    fault = case("F03-path-lighting-7500ft").fault("last light")
    assert fault.loop == published(11.7, rel=TOL, unit="ohm")
    assert fault.current == published(26, rel=TOL, unit="A")
    assert fault.touch["last light"] == published(150, rel=TOL, unit="V")
    breaker = band(DeviceRating.parse("20 A breaker"))
    assert 5 < breaker.fastest(fault.current) < 600
    assert not breaker.operates_for_sure(fault.current)
    assert fault.verdict is Verdict.FALLS_SHORT


@pytest.mark.parametrize(
    ("name", "reading"), [("F05-drill-20ohm", 6.0), ("F05-drill-20ohm-25ohm", 4.8)]
)
@outside("case F05, stated by the source", "one-source", unit="A")
def test_f05_not_all_faults_open_a_breaker(name: str, reading: float) -> None:
    """F05: a tool's case on plumbing, 20 or 25 ohm through earth.

    Verdict (stated by the source): 6.0 A and 4.8 A, no trip of 15 or 20 A, lethal; a device that
    trips at 6 mA would. Source: public Q&A threads, "Not all faults blow a breaker; 25 ohms
    resistance measurement".
    """
    found = case(name)
    fault = found.fault("tool")
    assert fault.current == published(reading, rel=TOL)
    assert not fault.cleared
    assert fault.touch_verdict.verdict == "dangerous"
    for size in ("15 A breaker", "20 A breaker"):
        assert math.isinf(band(DeviceRating.parse(size)).fastest(fault.current))
    network = found.quiet
    now = network.solver.solve([network.solver.join("tool:L1", "tool:G")])
    assert clamp(network, now, "branch", metal=False) > 0.006


@outside("case F07, replies in a public thread", "one-source")
def test_f07_loop_impedance_over_the_limit() -> None:
    """F07: R1+R2 of 1.68 ohm and Ze of 0.18 ohm on a 32 A type B.

    Verdict (replies in the discussion): 1.86 ohm is above 1.37 ohm (0.95 x 230 V / 160 A), 124 A
    (+-2) does not open it within 0.4 s for sure; the value points to a broken ring. Source:
    public Q&A thread, "High Zs on ring final circuit".
    """
    found = case("F07-ring-1p68")
    assert found.fault("board").loop == published(0.18, rel=0.02, unit="ohm")
    fault = found.fault("socket")
    assert fault.loop == published(1.86, rel=0.01, unit="ohm")
    assert fault.current == published(124, abs=2, unit="A")
    (opening,) = fault.openings
    assert opening.device == "device socket circuit"
    assert opening.slowest > 0.4
    assert fault.verdict is Verdict.FALLS_SHORT
    limit = 0.95 * 230 / band(DeviceRating.parse("B32")).sure_current(0.4)
    assert limit == pytest.approx(1.37, abs=0.01)
    assert fault.loop >= published(limit, unit="ohm")


def _stakeless(network: Network, extra: list[Change]) -> float:
    """Voltage over current around the loop that a clamp on the lead of rod 1 measures, ohm."""
    solver = network.solver
    changes = [
        solver.open_switch("source ground utility"),
        *opened(network, "electrode conductor rod 1", "metal"),
        *extra,
        solver.join("panel:L1", "electrode rod 1"),
    ]
    solution = solver.solve(changes)
    around = solution.between("electrode rod 1", "light 1:G")
    return abs(around / solution.change_current(len(changes) - 1))


@pytest.mark.parametrize(("name", "reading"), [("E02-six-rods", 12.0), ("E02-six-rods-two", 20.0)])
@outside("case E02, stated by the source", "one-source", unit="ohm")
def test_e02_stakeless_reading_is_the_rod_and_the_others(name: str, reading: float) -> None:
    """E02: a clamp tester on six rods of 10 ohm.

    Verdict (stated by the source): 10 + 10/5 = 12 ohm, with two rods 20 ohm; one isolated rod is
    over range; under 1 ohm is a closed loop of metal and no earth value. Source: published
    article, "Guide to earth testing: stakeless method".
    """
    assert _stakeless(case(name).quiet, []) == published(reading, rel=TOL)


def test_e02_one_rod_is_over_range_and_a_loop_reads_under_one_ohm() -> None:
    """E02: the two readings that are no earth resistance. Basis and source as above."""
    assert _stakeless(case("E02-six-rods-one").quiet, []) > 10_000
    network = case("E02-six-rods").quiet
    second_lead = network.solver.join("electrode rod 1", "light 1:G", 0.1)
    assert _stakeless(network, [second_lead]) < 1
