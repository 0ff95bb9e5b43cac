"""Which metal path is left when a tie is gone. Advice to take a tie out is never given without."""

from __future__ import annotations

from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding
from bondwright.rules.paths import MetalPaths, Standing


def standing(plan: Plan) -> Standing:
    """Return what stands in a plan, as far as paths and ties go."""
    with_metal = frozenset(
        name
        for name, run in plan.runs.items()
        if run.metal is not None
        or (run.raceway is not None and run.raceway.kind.is_metal and run.raceway_bonded)
    )
    return Standing(plan.topology, {tie.id: tie.at for tie in plan.ties}, with_metal)


def path_without(plan: Plan, tie: str, at: str) -> tuple[str, ...]:
    """Return the runs whose metal leads home from a place when a tie is gone.

    Args:
        plan: the plan.
        tie: id of the tie; one that the plan doesn't have changes nothing.
        at: place of the tie.

    Returns:
        Runs from the place to its tie that belongs, nearest first; empty where no run's own
        metal leads there, whatever pipes or neutrals may do.
    """
    here = standing(plan)
    if not MetalPaths(here, without_ties=[tie]).returns(at):
        return ()
    origin = plan.topology.systems[at].origin
    tied = {other.at for other in plan.ties if other.id != tie and other.belongs}
    path: list[str] = []
    place = at
    for run in plan.topology.upstream(at):
        if place in tied or plan.topology.system_of_run(run).origin != origin:
            break
        if run not in here.with_metal:
            return ()
        path.append(run)
        place = plan.site.runs[run].from_
    return tuple(path) if place in tied else ()


def cure_for(plan: Plan, tie: str) -> Finding | None:
    """Return the plan's own finding about a tie, which says in which order to mend it."""
    return next((f for f in plan.findings if f.where == tie and f.cure), None)
