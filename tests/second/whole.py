"""A whole site: everything said of it, looked at together."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from tests.second.judge import Opinion, Second, disconnections, faults
from tests.second.sizes import sizes


def opinion(results: Any) -> Opinion:
    """Return the second opinion on all that was said of a plan.

    Args:
        results: plan, states, faults, disconnections and summary as one object.
    """
    plan, first = results.plan, results.quiet.state
    second = Second(plan, first)
    found = faults(second, results.faults)
    found.add(sizes(second))
    by_state = {state.id: state for state in plan.states}
    for other in results.states[1:]:
        found.add(faults(Second(plan, by_state[other.id]), other.faults))
    if results.disconnections:
        bare = Second(plan, first, pipes=False)
        found.add(disconnections(bare, results.disconnections))
    found.add(unseen(second, results.faults))
    if str(results.summary.verdict) == "holds":
        found.looked["whole site"] += 1
        for one in list(found.objections):
            found.object("whole site", plan.site.site, f"{one.kind} at {one.where}")
        for place in found.stranded:
            found.object("whole site", plan.site.site, f"{place} has no metal way back")
    return found


def unseen(second: Second, said: Any) -> Opinion:
    """Look whether every live piece of metal was asked about at all."""
    found = Opinion()
    told = {(r.fault.place, r.fault.a) for r in said if str(r.fault.kind) == "line to metal"}
    plan, live = second.plan, second.state.energised
    for name, place in plan.site.places.items():
        if name not in live or place.enclosure != "metal":
            continue
        run = second.state.topology.fed_by.get(name)
        for line in plan.runs[run].on if run else ():
            found.looked["piece of metal"] += 1
            if (name, line) not in told:
                found.object("never asked", name, f"no fault from {line} to its metal was followed")
    return found


def all_called_good(results: Any) -> Any:
    """Return what was said with every verdict turned into "holds", as a tool gone wrong would.

    Faults ahead of every device stay as they are: only the supplier's protection ends those.
    """
    plan = results.plan
    schedule = tuple(replace(item, verdict="holds") for item in plan.schedule)
    states = [replace(one, faults=_good(one.faults)) for one in results.states]
    return replace(
        results,
        plan=replace(plan, schedule=schedule),
        faults=_good(results.faults),
        states=tuple(states),
        disconnections=tuple(replace(one, verdict="holds") for one in results.disconnections),
        summary=replace(results.summary, verdict="holds"),
    )


def _good(faults_: Any) -> tuple[Any, ...]:
    return tuple(f if f.supply_side else replace(f, verdict="holds") for f in faults_)
