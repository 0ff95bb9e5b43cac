"""The stakeless clamp: what it reads, and when it lies; from site files.

The basis: six rods of 10 ohm each read 12 ohm, two read 20 ohm; under 1 ohm means a loop of metal
(published article on clamp testers, one source). 24.6 ohm by the published accuracy table of such a
clamp is 24.6 within 2.7 %, so it doesn't prove 25 ohm (computed from the table).
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.earth.clamp import clamp_reading
from bondwright.explain.earth_tests import tell_test
from bondwright.network.build import build
from bondwright.network.changes import Injection
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.reader import load, read
from bondwright.studies.earth_tests import JudgedTest, judge_tests

CASES = Path(__file__).parents[1] / "cases"


def around(made: Plan, name: str) -> float:
    """Impedance of the loop that a clamp on an electrode's conductor sees, ohm."""
    network = build(made, loads=False)
    solver = network.solver
    opened = [solver.open_conductor(f"electrode conductor {name}", "metal")]
    # the published sum leaves the network's own grounding out
    opened.append(solver.open_switch("source ground utility"))
    at = f"{made.electrodes[name].at}:G"
    drawn = Injection(f"electrode {name}", at, 1.0)
    return abs(solver.solve(opened, [drawn], dead=True).between(at, f"electrode {name}"))


@pytest.mark.parametrize(("case", "ohms"), [("E02-six-rods", 12.0), ("E02-six-rods-two", 20.0)])
def test_six_rods_and_two(case: str, ohms: float) -> None:
    made = plan(load(CASES / f"{case}.yaml"))
    assert around(made, "rod 1") == pytest.approx(ohms, rel=0.02)


def clamped(kind: str) -> JudgedTest:
    text = (CASES / "E02-six-rods.yaml").read_text(encoding="utf-8")
    text += f"earth tests:\n  clamp: {{kind: clamp, of: [rod 1], goal: 25 ohm, {kind}}}\n"
    (found,) = judge_tests(plan(read(text)))
    return found


def test_a_loop_of_metal() -> None:
    found = clamped("readings: [{resistance: 0.3 ohm}]")
    told = tell_test(found)
    assert told.verdict.value == "cannot tell"
    assert "a loop of metal, not earth" in told.sentences[0]
    assert found.measured is None


def test_24_6_ohm_is_not_proven_under_25() -> None:
    found = clamped("readings: [{resistance: 24.6 ohm}]")
    told = tell_test(found)
    assert told.verdict.value == "cannot tell"
    assert "24.6 ± 0.67 ohm (2.7 %)" in told.sentences[0]
    assert any("Not proven under 25 ohm" in s for s in told.sentences)


def test_over_range() -> None:
    assert "Over range" in tell_test(clamped("over range: true")).sentences[0]


def test_rods_near_each_other_read_less_than_the_sum_says() -> None:
    # They share the ground, so each is lifted by the current that comes out of the others: the
    # loop is R11 + (...) less twice the mutual part, by the definition of the matrix.
    spot = "[[0 m, 0 m], [2 m, 0 m]]"
    text = f"""\
site: Two rods, Harrow Creek Cidery
describes: as found
soil: 100 ohm m
sources:
  utility: {{system: 120/240 V, transformer: {{rating: 25 kVA, impedance: 2 %}}}}
places:
  panel: {{kind: service, main: 100 A breaker}}
runs:
  drop: {{from: utility, to: panel, length: 80 ft, lines: 2 AWG Cu, neutral: 2 AWG Cu,
         wiring: cable}}
ties:
  main: {{at: panel, by: screw}}
electrodes:
  one: {{kind: rod, at: panel, position: {spot[1:11]}, conductor: 6 AWG Cu}}
  two: {{kind: rod, at: panel, position: {spot[13:23]}, conductor: 6 AWG Cu}}
"""
    made = plan(read(text))
    ground = made.ground
    own, mutual = ground.between("one", "one"), ground.between("one", "two")
    assert mutual > 0.1 * own
    read_ohm = around(made, "one")
    assert read_ohm == pytest.approx(2 * (own - mutual), rel=0.01)
    assert read_ohm < 0.9 * clamp_reading(own, [own])
