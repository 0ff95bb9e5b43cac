"""Everything the papers say, computed in one place and once."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from bondwright.explain.assumptions import assumptions
from bondwright.explain.findings import fault_findings, stray_findings, worst_first
from bondwright.explain.pv import array_findings
from bondwright.explain.summary import Summary, summarize
from bondwright.network.build import Network, build
from bondwright.network.solve import Residuals
from bondwright.plan.model import Assumption, Plan
from bondwright.rules.answer import Finding
from bondwright.studies.faults import FaultKind, FaultResult, possible_faults, study_fault
from bondwright.studies.pv import ArrayFaultResult, study_arrays
from bondwright.studies.stray import StrayStudy, study_stray
from bondwright.studies.whatif import TieAdded, TieRemoved, addition_stories, removal_stories

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and how much there is. It may raise
(KeyboardInterrupt, say): the work stops there and nothing half-done is left behind."""

_EVERY: Final = 25
"""Faults between two calls of the progress callback."""


@dataclass(frozen=True, slots=True, eq=False)
class Results:
    """A plan with every study made on it.

    Attributes:
        plan: the plan.
        quiet: its network without loads, for faults.
        loaded: its network with loads, for normal use.
        faults: every fault at every place, in walking order.
        stray: normal use.
        removed: for each main tie, the farthest fault with it and without it.
        added: for each load-side panel, normal use with a tie too many.
        arrays: every fault on the direct-current side of every array.
        findings: of the rules and of the studies, worst first.
        assumptions: everything taken for granted.
        summary: the headline.
        residuals: worst of all solutions.
        seconds: how long each step took, s; never printed, so that papers stay the same.
    """

    plan: Plan
    quiet: Network
    loaded: Network
    faults: tuple[FaultResult, ...]
    stray: StrayStudy
    removed: tuple[TieRemoved, ...]
    added: tuple[TieAdded, ...]
    arrays: tuple[ArrayFaultResult, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    summary: Summary
    residuals: Residuals
    seconds: dict[str, float]

    @property
    def telling(self) -> FaultResult | None:
        """The fault that tells most: the farthest to metal behind a main tie, else the weakest."""
        if self.removed:
            return max(self.removed, key=lambda r: r.with_tie.loop).with_tie
        to_metal = [
            f
            for f in self.faults
            if f.fault.kind is FaultKind.LINE_TO_METAL
            and f.fault.a.startswith("L")
            and not f.supply_side
        ]
        return max(to_metal, key=lambda f: f.loop, default=None)


def study(plan: Plan, progress: Progress | None = None) -> Results:
    """Make every study on a plan.

    Args:
        plan: the plan.
        progress: told how far the work is.

    Returns:
        The results.

    Raises:
        bondwright.network.solve.SolveError: the circuit has no answer.
    """
    tell = progress or silent
    spent: dict[str, float] = {}
    clock = time.perf_counter()

    def lap(name: str) -> None:
        nonlocal clock
        now = time.perf_counter()
        spent[name] = now - clock
        clock = now

    tell("building the circuit", 0, 1)
    quiet, loaded = build(plan, loads=False), build(plan)
    tell("building the circuit", 1, 1)
    lap("circuit")
    chosen = possible_faults(quiet)
    faults = []
    for number, fault in enumerate(chosen):
        if number % _EVERY == 0:
            tell("following faults", number, len(chosen))
        faults.append(study_fault(quiet, fault))
    tell("following faults", len(chosen), len(chosen))
    lap("faults")
    tell("normal use", 0, 1)
    stray = study_stray(loaded)
    tell("normal use", 1, 1)
    lap("stray")
    tell("why each tie matters", 0, 2)
    removed = tuple(removal_stories(quiet))
    tell("why each tie matters", 1, 2)
    added = tuple(addition_stories(loaded))
    tell("why each tie matters", 2, 2)
    lap("what if")
    arrays = study_arrays(plan)
    lap("arrays")
    found = worst_first(
        [
            *plan.findings,
            *fault_findings(faults, plan),
            *stray_findings(stray, plan),
            *array_findings(arrays, plan),
        ]
    )
    return Results(
        plan=plan,
        quiet=quiet,
        loaded=loaded,
        faults=tuple(faults),
        stray=stray,
        removed=removed,
        added=added,
        arrays=arrays,
        findings=found,
        assumptions=assumptions(plan, quiet),
        summary=summarize(plan, found, faults),
        residuals=_worst(faults, stray, removed, added),
        seconds=spent,
    )


def silent(what: str, done: int, of: int) -> None:
    """Tell nobody how far the work is."""
    del what, done, of


def _worst(
    faults: list[FaultResult],
    stray: StrayStudy,
    removed: tuple[TieRemoved, ...],
    added: tuple[TieAdded, ...],
) -> Residuals:
    every = [stray.residuals, *(f.residuals for f in faults)]
    every += [r.without_tie.residuals for r in removed]
    every += [a.after.residuals for a in added]
    return Residuals(kirchhoff=max(r.kirchhoff for r in every), power=max(r.power for r in every))
