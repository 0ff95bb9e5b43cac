"""An off-grid owner adds a generator: bonds counted in every source state; none is worse than two.

The basis (replies in a public discussion, "Neutral/ground bonding auto switching", medium-high):
keep one permanent bond at the main panel.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.plan.build import plan
from bondwright.rules.answer import Severity
from bondwright.site.reader import load

CASES = Path(__file__).parents[1] / "cases"
BASE = "R07-offgrid-inverter-bond"
RANK = list(Severity)


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        ("", {"normal": 1, "on generator": 1}),
        ("-grid", {"normal": 1, "on inverter": 1, "on generator": 1}),
        ("-all-three", {"normal": 3, "on generator": 3}),
        ("-none", {"normal": 0, "on generator": 0}),
        ("-inverter-only", {"normal": 1, "on generator": 0}),
    ],
)
def test_every_source_state_is_counted(name: str, counts: dict[str, int]) -> None:
    found = plan(load(CASES / f"{BASE}{name}.yaml"))
    assert {one.state: one.count for one in found.tie_counts} == counts
    for one in found.tie_counts:
        assert (one.count == 0) is (one.severity is Severity.DANGER)


def test_none_is_ranked_above_several() -> None:
    none, several = (
        max(plan(load(CASES / f"{BASE}{name}.yaml")).tie_counts, key=lambda one: one.count)
        for name in ("-none", "-all-three")
    )
    assert none.severity is not None
    assert several.severity is not None
    assert RANK.index(none.severity) < RANK.index(several.severity)


def test_the_worst_state_comes_first() -> None:
    found = plan(load(CASES / f"{BASE}-inverter-only.yaml"))
    assert found.findings[0].severity is Severity.DANGER
