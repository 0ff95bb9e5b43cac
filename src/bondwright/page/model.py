"""A small site to learn on, followed through whatever is done to it.

Nothing in a story is written down as a number: each is computed here, by the same circuit, rules
and pictures as everything else.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path

from bondwright.draw.looks import Now
from bondwright.network.build import Network, build
from bondwright.network.normal import normal_use
from bondwright.network.solve import Change, Solution
from bondwright.page.desk import TOUCH_LIMIT_V, Desk
from bondwright.page.edits import Edit, changed
from bondwright.plan.model import Plan
from bondwright.site.reader import load
from bondwright.studies.defects.alterations import Alteration, changes_for
from bondwright.studies.fault_model import Fault, FaultKind
from bondwright.studies.faults import FaultResult, study_fault
from bondwright.studies.flows import Flow, flows, metal_voltages
from bondwright.studies.scene import Scene

FOLDER = Path(str(files("bondwright.page").joinpath("models")))
NAMES = tuple(sorted(path.stem for path in FOLDER.glob("*.yaml")))
"""Models that ship with the page."""


@cache
def model(name: str) -> Desk:
    """Return a model by the name of its file, at work on and never changed."""
    path = FOLDER / f"{name}.yaml"
    return Desk(load(path), path.name)


@dataclass(frozen=True, slots=True)
class Case:
    """A model with something done to it.

    Attributes:
        model: name of the model.
        state: way it is run; "" for the normal one.
        off: ties that are off.
        on: places where a tie is put on.
        wrong: what else is different in the circuit.
    """

    model: str
    state: str = ""
    off: tuple[str, ...] = ()
    on: tuple[str, ...] = ()
    wrong: tuple[Alteration, ...] = ()

    @property
    def plan(self) -> Plan:
        """The plan with its ties as they are in this case."""
        edits = [Edit("take off", name) for name in self.off]
        return changed(model(self.model).base, [*edits, *(Edit("put on", at) for at in self.on)])

    def network(self, *, loads: bool) -> tuple[Network, tuple[Change, ...]]:
        """Return the circuit, and the changes that make of it what is wrong."""
        plan = self.plan
        state = next((s for s in plan.states if s.id == self.state), plan.states[0])
        network = build(plan, loads=loads, state=state)
        return network, tuple(c for item in self.wrong for c in changes_for(network.solver, item))


@dataclass(frozen=True, slots=True, eq=False)
class Day:
    """Normal use of a case.

    Attributes:
        case: the case.
        flows: every current.
        metal: voltage of each place's metal to remote earth, V.
        solution: all of it.
    """

    case: Case
    flows: tuple[Flow, ...]
    metal: dict[str, float]
    solution: Solution

    def volts(self, place: str, a: str, b: str) -> float:
        """Return the voltage between two terminals of a place, V."""
        return abs(self.solution.between(f"{place}:{a}", f"{place}:{b}"))

    def amps(self, id: str, terminal: str) -> float:
        """Return the current on a conductor, in a tie, a pipe or an electrode's conductor, A."""
        return max(
            (f.amperes for f in self.flows if (f.id, f.terminal) == (id, terminal)), default=0
        )


@cache
def day(case: Case) -> Day:
    """Follow normal use."""
    network, changes = case.network(loads=True)
    solution = normal_use(network, changes).solution
    return Day(case, flows(network, solution), metal_voltages(network, solution), solution)


@cache
def fault(case: Case, place: str, line: str = "L1") -> FaultResult:
    """Follow a line that touches metal at a place."""
    network, changes = case.network(loads=False)
    return study_fault(network, Fault(place, FaultKind.LINE_TO_METAL, line, "G"), changes)


def volts_in_fault(case: Case, place: str, at: str, a: str, b: str) -> float:
    """Return the voltage between two terminals while a line touches metal at a place, V."""
    network, _ = case.network(loads=False)
    scene = Scene(network, Fault(place, FaultKind.LINE_TO_METAL, "L1", "G"))
    return abs(scene.solve().between(f"{at}:{a}", f"{at}:{b}"))


def shown_day(seen: Day) -> Now:
    """Return the moment of normal use for a picture."""
    plan = seen.case.plan
    state = next((s for s in plan.states if s.id == seen.case.state), plan.states[0])
    dead = frozenset(state.topology.order) - state.energised
    return Now(plan, seen.flows, seen.metal, TOUCH_LIMIT_V, dead=dead)


def shown_fault(case: Case, result: FaultResult) -> Now:
    """Return the moment of a fault for a picture."""
    plan = case.plan
    state = next((s for s in plan.states if s.id == case.state), plan.states[0])
    dead = frozenset(state.topology.order) - state.energised
    opens = frozenset(opening.device for opening in result.openings)
    limit = result.touch_verdict.limit_v
    if not result.cleared:
        limit = min(TOUCH_LIMIT_V, limit)
    return Now(plan, result.flows, result.touch, limit, opens, dead, fault=True)
