"""A part of a plan by itself, so that a picture of a large site can be read."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from bondwright.plan.model import Plan
from bondwright.site.topology import topology
from bondwright.studies.faults import FaultResult
from bondwright.studies.flows import Flow

LARGE: Final = 400
"""With more places than this one picture of the whole can't be read on a sheet or a screen."""


def part_of(plan: Plan, wanted: Iterable[str]) -> Plan:
    """Return a plan of some places, with everything between them and their sources.

    The parts keep their currents and sizes; nothing is worked out anew from what is left.

    Args:
        plan: the whole.
        wanted: places, transformers or switches to keep.
    """
    site, tree = plan.site, plan.topology
    kept: set[str] = set()

    def keep(name: str) -> None:
        here: str | None = name
        while here is not None and here not in kept:
            kept.add(here)
            run = tree.fed_by.get(here)
            here = site.runs[run].from_ if run is not None else None

    for name in wanted:
        keep(name)
    # A transfer switch can't stand without both of its runs.
    for name, switch in site.transfers.items():
        if name in kept:
            keep(site.runs[switch.normal].from_)
            keep(site.runs[switch.standby].from_)
    runs = {n: r for n, r in site.runs.items() if r.from_ in kept and r.to in kept}
    part = site.model_copy(
        update={
            "sources": {n: v for n, v in site.sources.items() if n in kept},
            "generators": {n: v for n, v in site.generators.items() if n in kept},
            "inverters": {n: v for n, v in site.inverters.items() if n in kept},
            "arrays": {n: v for n, v in site.arrays.items() if v.at in kept},
            "transfers": {n: v for n, v in site.transfers.items() if n in kept},
            "transformers": {n: v for n, v in site.transformers.items() if n in kept},
            "places": {n: v for n, v in site.places.items() if n in kept},
            "runs": runs,
            "electrodes": {n: v for n, v in site.electrodes.items() if v.at in kept},
            "metal": {n: v for n, v in site.metal.items() if {v.from_, v.to} <= kept},
            "states": {},
        }
    )
    return replace(
        plan,
        site=part,
        topology=topology(part),
        ties=tuple(t for t in plan.ties if t.at in kept),
        runs={n: r for n, r in plan.runs.items() if n in runs},
        electrodes={n: e for n, e in plan.electrodes.items() if e.at in kept},
        schedule=tuple(i for i in plan.schedule if i.from_ in kept or i.to in kept),
        arrays={n: a for n, a in plan.arrays.items() if a.at in kept},
    )


def around(plan: Plan, fault: FaultResult) -> Plan:
    """Return the part of a plan that a fault's current goes through, or the whole if it is small.

    Args:
        plan: the whole.
        fault: a fault followed in full.
    """
    if len(plan.site.places) <= LARGE:
        return plan
    names = {fault.fault.place, fault.fault.also_at or fault.fault.place}
    runs = {step.id for step in fault.path if step.id in plan.runs}
    names |= {end for run in runs for end in (plan.runs[run].from_, plan.runs[run].to)}
    return part_of(plan, names)


def boards(plan: Plan) -> Plan:
    """Return a plan without the ends of its branches, or the whole if it is small."""
    if len(plan.site.places) <= LARGE:
        return plan
    feeding = {run.from_ for run in plan.runs.values()}
    tied = {tie.at for tie in plan.ties}
    names = [n for n in plan.topology.order if n in feeding or n in tied]
    return part_of(plan, names)


def flows_in(plan: Plan, flows: Sequence[Flow]) -> list[Flow]:
    """Return the flows on what a plan has."""
    ties = {tie.id for tie in plan.ties}
    there = {*plan.runs, *plan.site.metal, *plan.electrodes, *ties}
    return [flow for flow in flows if flow.id in there]
