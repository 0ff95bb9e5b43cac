"""Questions put to the sites of this folder, as a person with a meter would put them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from bondwright.catalog.sizes import Conductor
from bondwright.network.build import Network, build
from bondwright.network.solve import Change, Solution
from bondwright.plan.build import plan
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.rules.answer import Finding, Severity
from bondwright.site.reader import load
from bondwright.studies.faults import Fault, FaultKind, FaultResult, study_fault
from bondwright.studies.flows import Carrier, flows

HERE = Path(__file__).parent
EARTH = "earth"


@dataclass(frozen=True, slots=True)
class Case:
    """One site file: its plan, and its circuit without and with loads."""

    plan: Plan
    quiet: Network
    in_use: Network

    def rules(self, where: str | None = None) -> set[str]:
        """The rules that found something, at one part or anywhere."""
        return {f.rule for f in self.plan.findings if where in (None, f.where)}

    def finding(self, rule: str, where: str) -> Finding:
        """The only finding of a rule at a part."""
        (found,) = [f for f in self.plan.findings if (f.rule, f.where) == (rule, where)]
        return found

    def worst(self) -> Severity:
        """The gravest finding."""
        return self.plan.findings[0].severity

    def row(self, id: str) -> ScheduleItem:
        """One row of the schedule."""
        (found,) = [item for item in self.plan.schedule if item.id == id]
        return found

    def size(self, id: str) -> Conductor:
        """The size that the code asks of one row of the schedule."""
        answer = self.row(id).required
        assert answer is not None
        return answer.size

    def fault(
        self, place: str, line: str = "L1", standing: Sequence[Change] = (), ohms: float = 0.0
    ) -> FaultResult:
        """A line touching the metal of a place."""
        fault = Fault(place, FaultKind.LINE_TO_METAL, line, "G", ohms)
        return study_fault(self.quiet, fault, standing)


@cache
def case(name: str) -> Case:
    """The case of a file, with the laws of its circuit checked on the way."""
    planned = plan(load(HERE / f"{name}.yaml"))
    return Case(planned, build(planned, loads=False), build(planned))


def volts(solution: Solution, a: str, b: str = EARTH) -> float:
    """What a voltmeter shows between two nodes, V."""
    return abs(solution.between(a, b))


def amperes(network: Network, solution: Solution, id: str, conductor: str) -> float:
    """What a clamp around one conductor shows, A; ``id`` of a run, tie, electrode or metal."""
    return abs(phasor(network, solution, id, conductor))


def phasor(network: Network, solution: Solution, id: str, conductor: str) -> complex:
    """The current in one conductor from its start to its end, A."""
    (found,) = [f for f in flows(network, solution) if (f.id, f.conductor) == (id, conductor)]
    return found.current


def clamp(network: Network, solution: Solution, run: str, *, metal: bool) -> float:
    """What a clamp around a whole run shows, A: around its wires only, or its metal as well."""
    parts = [f for f in flows(network, solution) if (f.carrier, f.id) == (Carrier.RUN, run)]
    return abs(sum(f.current for f in parts if metal or f.terminal != "G"))


def broken(network: Network, run: str, conductor: str, ohms: float | None = None) -> list[Change]:
    """A conductor of a run that is open, or has a bad joint of some ohms at its end."""
    return opened(network, f"run {run}", conductor, ohms)


def opened(
    network: Network, section: str, conductor: str, ohms: float | None = None
) -> list[Change]:
    """A conductor that is open, or bridged by some ohms from end to end."""
    solver = network.solver
    changes = [solver.open_conductor(section, conductor)]
    if ohms is not None:
        part = network.circuit.sections[solver.section_index[section]]
        place = part.names.index(conductor)
        changes.append(solver.join(part.starts[place], part.ends[place], ohms))
    return changes


def main_off(network: Network, place: str) -> list[Change]:
    """The main of a place switched off."""
    poles = network.devices[f"main {place}"].poles
    return [network.solver.open_switch(pole.switch) for pole in poles]
