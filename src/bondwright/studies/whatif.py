"""Why a tie matters: the same question asked with a tie taken off, and with one too many."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bondwright.network.build import Network
from bondwright.plan.model import PlannedTie
from bondwright.studies.faults import Fault, FaultKind, FaultResult, study_fault
from bondwright.studies.stray import StrayStudy, study_stray

ADDED_TIE_OHM: Final = 0.5e-3
"""Resistance of a tie added for the question: a green screw, ohm (common practice)."""


@dataclass(frozen=True, slots=True)
class TieRemoved:
    """One fault, with a tie and without it.

    Attributes:
        tie: the tie.
        with_tie: the fault as the plan stands.
        without_tie: the same fault with the tie off.
    """

    tie: PlannedTie
    with_tie: FaultResult
    without_tie: FaultResult


@dataclass(frozen=True, slots=True)
class TieAdded:
    """Normal use, as the plan stands and with a tie too many.

    Attributes:
        at: place of the added tie.
        name: its label in the results.
        before: normal use without it.
        after: normal use with it.
    """

    at: str
    name: str
    before: StrayStudy
    after: StrayStudy


def tie_removed(network: Network, tie: PlannedTie, fault: Fault) -> TieRemoved:
    """Follow a fault with a tie and without it.

    Args:
        network: built without loads.
        tie: one of the plan's ties.
        fault: what happens.
    """
    off = network.solver.open_switch(f"tie {tie.id}")
    return TieRemoved(tie, study_fault(network, fault), study_fault(network, fault, [off]))


def tie_added(network: Network, at: str, before: StrayStudy | None = None) -> TieAdded:
    """Look at normal use with a tie too many.

    Args:
        network: built with loads.
        at: place with neutral and metal that has no tie.
        before: normal use without it, if it is known already.

    Raises:
        ValueError: no neutral or no metal at the place.
    """
    if not {"N", "G"} <= set(network.terminals[at]):
        msg = f"{at!r} has no neutral or no metal to tie"
        raise ValueError(msg)
    join = network.solver.join(f"{at}:N", f"{at}:G", ADDED_TIE_OHM)
    name = f"second tie at {at}"
    return TieAdded(
        at,
        name,
        before or study_stray(network),
        study_stray(network, [join], [(name, at)]),
    )


def main_ties(network: Network) -> list[PlannedTie]:
    """Return the ties that belong and whose loss matters: one at each system's disconnects."""
    topology = network.plan.topology
    meters = {
        name for name in topology.supply_side_places if name not in _first_disconnects(network)
    }
    return [t for t in network.plan.ties if t.belongs and t.at not in meters]


def _first_disconnects(network: Network) -> set[str]:
    found = network.plan.topology.first_disconnects
    return {name for names in found.values() for name in names}


def removal_stories(network: Network, most: int | None = None) -> list[TieRemoved]:
    """Return for each main tie the line-to-metal fault farthest along its system.

    Args:
        network: built without loads.
        most: how many ties to look at, the first ones; None for all.
    """
    return [
        tie_removed(network, tie, fault)
        for tie in main_ties(network)[:most]
        if (fault := farthest_fault(network, tie)) is not None
    ]


def farthest_fault(network: Network, tie: PlannedTie) -> Fault | None:
    """Return the line-to-metal fault farthest along the system of a tie, or None."""
    topology = network.plan.topology
    origin = topology.systems[tie.at].origin
    best: tuple[float, Fault] | None = None
    for name, terminals in network.terminals.items():
        inside = topology.systems[name].origin == origin and name in network.plan.site.places
        lines = [t for t in terminals if t.startswith("L")]
        if not inside or not lines or "G" not in terminals or name in topology.supply_side_places:
            continue
        reach = sum(network.plan.runs[run].length for run in topology.upstream(name))
        if best is None or reach > best[0]:
            best = (reach, Fault(name, FaultKind.LINE_TO_METAL, lines[0], "G"))
    return best[1] if best else None


def addition_stories(
    network: Network, most: int | None = None, before: StrayStudy | None = None
) -> list[TieAdded]:
    """Return for each load-side panel with neutral and metal what a tie too many does there.

    Args:
        network: built with loads.
        most: how many panels to look at, the first ones; None for all.
        before: normal use without it, if it is known already.
    """
    plan = network.plan
    tied = {tie.at for tie in plan.ties}
    places = [
        name
        for name in plan.topology.order
        if name in plan.site.places
        and name not in tied
        and name not in plan.topology.supply_side_places
        and {"N", "G"} <= set(network.terminals[name])
    ]
    if not places:
        return []
    known = before or study_stray(network)
    return [tie_added(network, name, known) for name in places[:most]]
