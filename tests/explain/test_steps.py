"""A fault told step by step: in order, nothing of its story left out, something to look at."""

from __future__ import annotations

import pytest

from bondwright.explain.faults import tell_fault
from bondwright.explain.steps import fault_steps
from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.site.reader import load
from bondwright.studies.faults import Fault, FaultKind, possible_faults, study_fault
from tests.page.serving import FARMHOUSE, WHOLE_DEMO

MADE = plan(load(FARMHOUSE))
NETWORK = build(MADE, loads=False)
PUMP = Fault("well pump", FaultKind.LINE_TO_METAL, "L1", "G")


def test_a_cleared_fault_goes_out_home_and_is_over() -> None:
    steps = fault_steps(study_fault(NETWORK, PUMP), MADE)
    assert [s.sight for s in steps] == ["start", "out", "home", "touch", "opens", "over"]
    assert steps[1].sentences[0].startswith("Out: ")
    assert ("run", "pump branch") in steps[1].things
    assert steps[4].things == (("device", "pump branch"),)
    assert "within" in steps[4].clock or "between" in steps[4].clock


def test_without_a_tie_it_stays_and_says_how_high() -> None:
    off = NETWORK.solver.open_switch("tie main bonding jumper at farmhouse panel")
    steps = fault_steps(study_fault(NETWORK, PUMP, [off]), MADE)
    assert steps[-1].sight == "stays"
    assert any("until it is switched off" in text for text in steps[-1].sentences)
    assert "opens" not in [s.sight for s in steps]


@pytest.mark.parametrize("path", [FARMHOUSE, WHOLE_DEMO], ids=lambda p: p.stem)
def test_every_sentence_of_the_story_is_in_a_step(path: object) -> None:
    made = plan(load(str(path)))
    network = build(made, loads=False)
    faults = possible_faults(network)
    for fault in faults[:: max(1, len(faults) // 12)]:
        result = study_fault(network, fault)
        said = " ".join(text for step in fault_steps(result, made) for text in step.sentences)
        for sentence in tell_fault(result, made).sentences:
            if sentence.startswith(("The metal at", "After that", "Until somebody")):
                continue  # told in the last step in words of its own
            assert sentence in said or sentence.split(". ")[0] in said, (str(fault), sentence)
