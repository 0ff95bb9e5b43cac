"""Metal beside the neutral: normal ahead of the main, a violation past it.

The basis (replies in public discussions, "Objectionable current; Parallel path???; Bonding &
objectionable current", high): a supply-side parallel path is inherent and accepted; the same
geometry on the load side is a violation.
"""

from __future__ import annotations

from pathlib import Path

from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Severity
from bondwright.site.reader import load
from bondwright.studies.stray import Nature, study_stray

CASES = Path(__file__).parents[1] / "cases"


def found(name: str) -> Plan:
    return plan(load(CASES / f"{name}.yaml"))


def test_ahead_of_the_main_no_violation_and_one_note() -> None:
    made = found("R03-meter-main-raceway")
    assert [f.severity for f in made.findings if f.rule == "supply-side-loop"] == [Severity.NOTE]
    assert not [f for f in made.findings if f.severity is not Severity.NOTE]
    study = study_stray(build(made))
    assert not study.objectionable
    natures = {c.nature for c in study.currents if c.flow.id == "nipple"}
    assert natures == {Nature.SUPPLY_SIDE}


def test_the_same_loop_past_the_main_is_a_violation() -> None:
    made = found("R03-meter-main-raceway-load-side")
    (finding,) = [f for f in made.findings if f.rule == "tie-load-side"]
    assert finding.severity is Severity.FALLS_SHORT
    assert not [f for f in made.findings if f.rule == "supply-side-loop" and f.where == "nipple"]
    assert study_stray(build(made)).objectionable
