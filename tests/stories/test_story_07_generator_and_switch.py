"""A designer adds a generator with a 3- or 4-pole switch: four combinations, exactly two pass.

The basis (compiled reasoning, medium-high; public thread, "Neutral grounding requirements for
generator: use of 3- or 4-pole switch"): single bond only with four poles and a bond at the
generator, or three poles and none. What the service's ground-fault sensor sees is computed here
from the circuit: a sensor sums the lines and the neutral that pass it, the join of neutral and
metal lying ahead of it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import pytest

from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.site.reader import load
from bondwright.studies.clearing import residual_current
from bondwright.studies.faults import Fault, FaultKind
from bondwright.studies.scene import Scene

CASES = Path(__file__).parents[1] / "cases"
BASE = "R05-1200A-gfp-800A-ats"
FOUR_BOND, FOUR_NONE, THREE_NONE, THREE_BOND = (
    BASE, f"{BASE}-no-bond", f"{BASE}-3-pole", f"{BASE}-3-pole-bond",
)  # fmt: skip


@cache
def found(name: str) -> Plan:
    return plan(load(CASES / f"{name}.yaml"))


def seen(name: str, state: str, place: str) -> tuple[float, float]:
    """A line on metal: its current, and the residual that the service's sensor sees, A."""
    made = found(name)
    (there,) = [one for one in made.states if one.id == state]
    network = build(made, loads=False, state=there)
    scene = Scene(network, Fault(place, FaultKind.LINE_TO_METAL, "L1", "G"))
    solution = scene.solve()
    sensor = network.devices["main switchboard"]
    return scene.current(solution), abs(residual_current(network, sensor, solution))


@pytest.mark.parametrize(
    ("name", "normal", "standby", "passes"),
    [
        (FOUR_BOND, 1, 1, True),
        (FOUR_NONE, 1, 0, False),
        (THREE_NONE, 1, 1, True),
        (THREE_BOND, 2, 2, False),
    ],
)
def test_bond_count_and_verdict(name: str, normal: int, standby: int, passes: bool) -> None:
    counts = found(name).tie_counts
    assert {one.state: one.count for one in counts} == {"normal": normal, "on generator": standby}
    assert all(one.verdict is Verdict.HOLDS for one in counts) is passes


@pytest.mark.parametrize("place", ["switchboard", "standby board"])
@pytest.mark.parametrize("name", [FOUR_BOND, FOUR_NONE, THREE_NONE])
def test_on_the_utility_the_sensor_sees_the_whole_fault(name: str, place: str) -> None:
    current, residual = seen(name, "normal", place)
    assert current > 10_000
    assert residual == pytest.approx(current, rel=1e-3)


def test_two_bonds_lead_a_part_past_the_sensor() -> None:
    current, residual = seen(THREE_BOND, "normal", "standby board")
    # The part that comes back by the generator's join and the unswitched neutral cancels.
    assert residual < 0.75 * current


def test_on_the_generator() -> None:
    current, residual = seen(FOUR_BOND, "on generator", "standby board")
    assert current > 1_000
    assert residual < 0.01 * current  # clean: the sensor is not in the way
    current, residual = seen(THREE_NONE, "on generator", "standby board")
    assert residual == pytest.approx(current, rel=1e-3)  # may open a main that feeds nothing
    current, residual = seen(THREE_BOND, "on generator", "standby board")
    assert 0.1 * current < residual < 0.9 * current
    current, residual = seen(FOUR_NONE, "on generator", "standby board")
    assert current < 1  # no way back at all
    assert residual < 1
