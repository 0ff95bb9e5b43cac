"""Everything the papers say, computed in one place and once."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Final

from bondwright.explain.assumptions import assumptions
from bondwright.explain.dialect import retold, speaker
from bondwright.explain.disconnection import retold_summary, summary_sentence
from bondwright.explain.findings import (
    backfeed_findings,
    duty_findings,
    fault_findings,
    residual_findings,
    stray_findings,
    worst_first,
)
from bondwright.explain.pv import array_findings
from bondwright.explain.summary import Summary, summarize
from bondwright.network.build import Network, build
from bondwright.network.solve import Residuals
from bondwright.plan.model import Assumption, Plan
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.iec.ruleset import is_iec
from bondwright.site.states import states
from bondwright.studies.availability import AvailableAt, available_at_places
from bondwright.studies.bare import faults_to_metal, without_metal
from bondwright.studies.disconnection import Disconnection, study_disconnection
from bondwright.studies.disconnection_findings import disconnection_findings, told_already
from bondwright.studies.fault_brief import MANY, follow_all
from bondwright.studies.faults import FaultKind, FaultResult, possible_faults
from bondwright.studies.ground import study_ground
from bondwright.studies.ground_model import GroundStudy
from bondwright.studies.protection import Duty, Series, duties, in_series
from bondwright.studies.protective import (
    Withstood,
    settled,
    study_withstand,
    withstand_findings,
)
from bondwright.studies.pv import ArrayFaultResult, study_arrays
from bondwright.studies.stray import StrayStudy, study_stray
from bondwright.studies.whatif import TieAdded, TieRemoved, addition_stories, removal_stories

if TYPE_CHECKING:
    from bondwright.studies.earth_tests import JudgedTest

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and how much there is. It may raise
(KeyboardInterrupt, say): the work stops there and nothing half-done is left behind."""

MOST_STORIES: Final = 2
"""Ties and panels of a large site for which the papers tell what a tie more or less does."""

NEAR_ENOUGH: Final = 1e-4
"""Part of a fault's current that steel raceways of a large site may be left as they are for."""

_EVERY: Final = 25
"""Faults between two calls of the progress callback."""


@dataclass(frozen=True, slots=True, eq=False)
class StateResult:
    """What was studied in one way the site is run.

    Attributes:
        id: of the operating state.
        on: the supplies that are on.
        faults: those from line to metal, in walking order.
        stray: normal use.
    """

    id: str
    on: tuple[str, ...]
    faults: tuple[FaultResult, ...]
    stray: StrayStudy


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
        states: every way the site is run, the normal one first.
        ground: the electrodes, and what faults do to the ground.
        earth_tests: field tests, judged.
        duties: what each device may have to interrupt.
        series: devices in a row, and whether the right one opens.
        available: available fault current at every place.
        findings: of the rules and of the studies, worst first.
        assumptions: everything taken for granted.
        summary: the headline.
        residuals: worst of all solutions.
        seconds: how long each step took, s; never printed, so that papers stay the same.
        disconnections: by IEC 60364, whether each place is disconnected in time.
    """

    plan: Plan
    quiet: Network
    loaded: Network
    faults: tuple[FaultResult, ...]
    stray: StrayStudy
    removed: tuple[TieRemoved, ...]
    added: tuple[TieAdded, ...]
    arrays: tuple[ArrayFaultResult, ...]
    states: tuple[StateResult, ...]
    ground: GroundStudy
    earth_tests: tuple[JudgedTest, ...]
    duties: tuple[Duty, ...]
    series: tuple[Series, ...]
    available: tuple[AvailableAt, ...]
    findings: tuple[Finding, ...]
    assumptions: tuple[Assumption, ...]
    summary: Summary
    residuals: Residuals
    seconds: dict[str, float]
    disconnections: tuple[Disconnection, ...] = ()

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
    told = partial(_now_and_then, tell, "following faults")
    faults = follow_all(quiet, chosen, told, within=NEAR_ENOUGH)
    lap("faults")
    tell("normal use", 0, 1)
    stray = study_stray(loaded)
    tell("normal use", 1, 1)
    lap("stray")
    tell("why each tie matters", 0, 2)
    most = MOST_STORIES if len(chosen) >= MANY else None
    removed = tuple(removal_stories(quiet, most))
    tell("why each tie matters", 1, 2)
    added = tuple(addition_stories(loaded, most, stray))
    tell("why each tie matters", 2, 2)
    lap("what if")
    arrays = study_arrays(plan)
    lap("arrays")
    by_state = _by_state(plan, faults, stray, tell)
    lap("states")
    tell("the ground", 0, 1)
    ground = study_ground(quiet, faults)
    tested = _earth_tests(plan)
    tell("the ground", 1, 1)
    lap("ground")
    duty, series = duties(quiet), in_series(quiet)
    others = [build(plan, loads=False, state=way) for way in states(plan.site)[1:]]
    available = available_at_places(quiet, duty, others)
    lap("devices")
    disconnections: tuple[Disconnection, ...] = ()
    withstood: tuple[Withstood, ...] = ()
    if is_iec(plan.site.rules):
        bare = without_metal(quiet)
        to_metal = faults if bare is quiet else faults_to_metal(bare)
        disconnections = study_disconnection(bare, to_metal)
        withstood = study_withstand(bare, to_metal)
        plan = settled(plan, withstood)
    lap("disconnection")
    residuals = _worst(faults, stray, removed, added)
    found = worst_first(
        [
            *plan.findings,
            *fault_findings(_untold(faults, told_already(disconnections)), plan),
            *stray_findings(stray, plan),
            *array_findings(arrays, plan),
            *backfeed_findings(plan),
            *duty_findings(duty),
            *residual_findings(residuals),
            *disconnection_findings(disconnections, quiet),
            *withstand_findings(withstood, plan),
            *(found for state in by_state[1:] for found in _state_findings(state, plan)),
        ]
    )
    say = speaker(plan.site)
    found = retold(found, say)
    summary = retold_summary(summarize(plan, found, faults, summary_sentence(disconnections)), say)
    return Results(
        plan=plan,
        quiet=quiet,
        loaded=loaded,
        faults=faults,
        stray=stray,
        removed=removed,
        added=added,
        arrays=arrays,
        states=by_state,
        ground=ground,
        earth_tests=tested,
        duties=duty,
        series=series,
        available=available,
        findings=found,
        assumptions=retold((*assumptions(plan, quiet), *_left_out(faults, most)), say),
        summary=summary,
        residuals=residuals,
        seconds=spent,
        disconnections=disconnections,
    )


def _untold(faults: Sequence[FaultResult], told: frozenset[str]) -> list[FaultResult]:
    """Leave out faults to metal that nothing ends where a finding on disconnection says so."""
    return [
        f
        for f in faults
        if f.cleared or f.fault.kind is not FaultKind.LINE_TO_METAL or f.fault.place not in told
    ]


def _earth_tests(plan: Plan) -> tuple[JudgedTest, ...]:
    if not plan.site.earth_tests:
        return ()
    from bondwright.studies.earth_tests import judge_tests  # slow to load

    return judge_tests(plan)


def _by_state(
    plan: Plan,
    faults: tuple[FaultResult, ...],
    stray: StrayStudy,
    tell: Progress,
) -> tuple[StateResult, ...]:
    every = states(plan.site)
    to_metal = tuple(f for f in faults if f.fault.kind is FaultKind.LINE_TO_METAL)
    found = [StateResult(every[0].id, tuple(sorted(every[0].on)), to_metal, stray)]
    for number, state in enumerate(every[1:], start=1):
        tell("other ways the site is run", number, len(every) - 1)
        network = build(plan, loads=False, state=state)
        chosen = possible_faults(network, [FaultKind.LINE_TO_METAL])
        what = f"faults in state {state.id}"
        told = partial(_now_and_then, tell, what)
        followed = follow_all(network, chosen, told, within=NEAR_ENOUGH)
        use = study_stray(build(plan, state=state))
        found.append(StateResult(state.id, tuple(sorted(state.on)), followed, use))
    return tuple(found)


def _state_findings(state: StateResult, plan: Plan) -> tuple[Finding, ...]:
    """Return the findings of a state that isn't the normal one, named by it."""
    tree = next((one.topology for one in states(plan.site) if one.id == state.id), None)
    found = (*fault_findings(state.faults, plan, tree), *stray_findings(state.stray, plan))
    return tuple(
        replace(finding, title=f"{finding.title}, {state.id}")
        for finding in found
        if finding.severity is not Severity.NOTE or finding.rule == "sources-circulate"
    )


def _left_out(faults: Sequence[FaultResult], most: int | None) -> Iterator[Assumption]:
    """Yield what the papers of a large site leave out."""
    if most is None:
        return
    full = sum(fault.in_full for fault in faults)
    yield Assumption(
        "papers",
        f"On a site of this size {full} of {len(faults)} faults are told in full: the worst of "
        "those that don't hold, and those with several openings. Of the others there are current, "
        "openings, times, touch voltage and verdict, with steel raceways at their own currents "
        f"where that changes the current by more than {NEAR_ENOUGH:.2%}. "
        f"What a tie more or less does is told for {most} ties and {most} panels.",
    )


def silent(what: str, done: int, of: int) -> None:
    """Tell nobody how far the work is."""
    del what, done, of


def _now_and_then(tell: Progress, what: str, done: int, of: int) -> None:
    """Tell how far the work is, not at every fault of few."""
    if done % _EVERY == 0 or done == of or of >= MANY:
        tell(what, done, of)


def _worst(
    faults: Sequence[FaultResult],
    stray: StrayStudy,
    removed: tuple[TieRemoved, ...],
    added: tuple[TieAdded, ...],
) -> Residuals:
    every = [stray.residuals, *(f.residuals for f in faults)]
    every += [r.without_tie.residuals for r in removed]
    every += [a.after.residuals for a in added]
    return Residuals(kirchhoff=max(r.kirchhoff for r in every), power=max(r.power for r in every))
