"""The ground in the faults of a site, worked out in the background."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from bondwright.explain.ground import tell_ground_fault
from bondwright.explain.words import MARKS
from bondwright.network.build import build
from bondwright.page.wire import GroundResult
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding, Verdict
from bondwright.site.states import states
from bondwright.studies.fault_brief import follow_all
from bondwright.studies.faults import FaultKind, possible_faults
from bondwright.studies.ground import study_ground
from bondwright.studies.ground_model import GroundFault

Tell = Callable[[str, int, int], None]
ORDER = (Verdict.FALLS_SHORT, Verdict.CANNOT_TELL, Verdict.HOLDS)
"""Verdicts, the worst first."""


def work_out(
    made: Plan, state: str, tell: Tell
) -> tuple[GroundResult, tuple[Finding, ...], tuple[GroundFault, ...]]:
    """Follow every fault of a line to metal, and work out the ground in those that lift it most.

    Args:
        made: the plan.
        state: way the site is run; one that isn't known means the first.
        tell: told how far the work is.
    """
    every = states(made.site)
    chosen = next((one for one in every if one.id == state), every[0])
    network = build(made, loads=False, state=chosen)
    faults = possible_faults(network, [FaultKind.LINE_TO_METAL])
    results = follow_all(network, faults, partial(tell, "following faults"))
    tell("the ground around the electrodes", 0, 1)
    found = study_ground(network, results).faults
    verdicts = {tell_ground_fault(one).verdict for one in found}
    worst = next((verdict for verdict in ORDER if verdict in verdicts), Verdict.CANNOT_TELL)
    result = GroundResult(faults=len(found), verdict=str(worst), mark=MARKS[worst])
    return result, (), found
