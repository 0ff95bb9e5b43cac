"""What the circuit says of each way to do it: the fault, the touch voltage, the stray current."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bondwright.network.build import Network, build
from bondwright.plan.alternatives import Alternative, Choice, ChoiceKind
from bondwright.plan.model import Plan
from bondwright.studies.faults import Fault, FaultKind, FaultResult, study_fault
from bondwright.studies.stray import Nature, study_stray


@dataclass(frozen=True, slots=True)
class Compared:
    """One way with what was computed of it.

    Attributes:
        way: the alternative.
        fault: a line on the metal of the place that the choice matters to most; None where no
            place has a line and metal.
        stray: neutral current on metal in normal use, the largest, A; it should be none.
    """

    way: Alternative
    fault: FaultResult | None
    stray: float


def compare(choice: Choice) -> tuple[Compared, ...]:
    """Compute every way of a choice at the same place.

    Args:
        choice: from :func:`bondwright.plan.alternatives.choices`.

    Returns:
        The ways in the choice's order.

    Raises:
        bondwright.network.solve.SolveError: a circuit has no answer.
    """
    fault = farthest_fault(choice.ways[0].plan, choice) if choice.ways else None
    return tuple(_compared(way, fault) for way in choice.ways)


def compare_all(found: Sequence[Choice]) -> tuple[tuple[Choice, tuple[Compared, ...]], ...]:
    """Compute every way of every choice."""
    return tuple((choice, compare(choice)) for choice in found)


def _compared(way: Alternative, fault: Fault | None) -> Compared:
    quiet = build(way.plan, loads=False)
    result = None if fault is None else study_fault(quiet, fault)
    wrong = [
        current.flow.amperes
        for current in study_stray(build(way.plan)).currents
        if current.nature is Nature.OBJECTIONABLE
    ]
    return Compared(way, result, max(wrong, default=0.0))


def farthest_fault(plan: Plan, choice: Choice) -> Fault | None:
    """Return the line-to-metal fault farthest along what a choice is about.

    Args:
        plan: the plan as it stands.
        choice: about a run, a row of the schedule, a transformer or an electrode. One about an
            electrode concerns every place; the farthest of the site is taken.
    """
    network = build(plan, loads=False)
    start = _start(plan, choice)
    if start in plan.site.transformers and choice.kind is not ChoiceKind.TIE:
        run = _about(plan, choice)
        if run in plan.runs:  # what feeds a transformer carries faults of its primary only
            return Fault(str(start), FaultKind.LINE_TO_METAL, "H1", "G")
    origin = None if start is None else plan.topology.systems[start].origin
    best: tuple[float, Fault] | None = None
    for name in plan.topology.order:
        fault = _fault_at(network, name)
        if fault is None or (origin is not None and plan.topology.systems[name].origin != origin):
            continue
        if start is not None and start != origin and not _behind(plan, name, start):
            continue
        far = sum(plan.runs[run].length for run in plan.topology.upstream(name))
        if best is None or far > best[0]:
            best = (far, fault)
    return None if best is None else best[1]


def _start(plan: Plan, choice: Choice) -> str | None:
    """Return the thing behind which the choice matters; None for the whole site."""
    about = _about(plan, choice)
    if about in plan.runs:
        return plan.runs[about].to
    if about in plan.topology.systems:
        return plan.topology.systems[about].origin
    tie = next((tie for tie in plan.ties if tie.id == about), None)
    return None if tie is None else plan.topology.systems[tie.at].origin


def _about(plan: Plan, choice: Choice) -> str:
    """Return the run, tie, electrode or transformer that a choice is about."""
    if choice.kind is not ChoiceKind.METAL:
        return choice.about
    item = next((item for item in plan.schedule if item.id == choice.about), None)
    return choice.about if item is None else item.about


def _behind(plan: Plan, name: str, start: str) -> bool:
    return name == start or any(
        plan.runs[run].from_ == start for run in plan.topology.upstream(name)
    )


def _fault_at(network: Network, name: str) -> Fault | None:
    terminals = network.terminals.get(name, ())
    lines = [terminal for terminal in terminals if terminal.startswith("L")]
    if name not in network.plan.site.places or not lines or "G" not in terminals:
        return None
    return Fault(name, FaultKind.LINE_TO_METAL, lines[0], "G")
