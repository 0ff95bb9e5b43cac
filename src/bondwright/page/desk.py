"""The working copy: a site, what was changed about it, and the answers found so far.

Nothing here writes the site's file. Networks and studies are kept by what they depend on, so
that going back and forth between two versions costs nothing.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from threading import RLock
from typing import Any, Final, TypeVar, cast

from bondwright.draw.live import Form, LivePicture
from bondwright.draw.looks import Look, Now
from bondwright.network.build import Network, build
from bondwright.network.normal import normal_use
from bondwright.network.solve import Change, Solution
from bondwright.page.edits import Edit, Edits, changed
from bondwright.plan.build import plan
from bondwright.plan.model import Plan, PlannedTie
from bondwright.rules.answer import Finding
from bondwright.site.model import Site
from bondwright.site.states import OperatingState, states
from bondwright.studies.fault_model import Fault, FaultKind
from bondwright.studies.faults import FaultResult, possible_faults, study_fault
from bondwright.studies.flows import Carrier, Flow, flows, metal_voltages
from bondwright.studies.loops import LoopStudy, study_loops

_KEPT: Final = 24
"""Answers of one kind that are kept."""
TOUCH_LIMIT_V: Final = 50.0
"""Metal at or above this is called live, V: the conventional long-time limit in dry conditions
(IEC 60364-4-41)."""

_T = TypeVar("_T")


class UnknownError(LookupError):
    """Something was asked for that isn't there."""


@dataclass(frozen=True, slots=True)
class View:
    """What a person is looking at.

    Attributes:
        state: way the site is run; "" for the first.
        show: "nothing", "normal" use or a "fault".
        fault: key of the fault, see :func:`fault_key`.
    """

    state: str = ""
    show: str = "normal"
    fault: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Normal:
    """Normal use: what flows and where metal stands."""

    flows: tuple[Flow, ...]
    metal: dict[str, float]
    against: frozenset[str]


class _Kept:
    """A few answers, the last used kept longest."""

    def __init__(self) -> None:
        self._found: OrderedDict[Hashable, Any] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], _T]) -> _T:
        if key in self._found:
            self._found.move_to_end(key)
        else:
            self._found[key] = make()
            if len(self._found) > _KEPT:
                self._found.popitem(last=False)
        return cast(_T, self._found[key])


def fault_key(fault: Fault) -> str:
    """Return a text by which the page names a fault."""
    more = (fault.also, fault.also_at) if fault.also else ()
    return "|".join((fault.place, str(fault.kind), fault.a, fault.b, *more))


class Desk:
    """A site at work on.

    Args:
        site: the site, as read.
        file: name of its file, for people.

    Attributes:
        lock: held while an answer is made; every method takes it.
        judged: findings of the last whole study and the changes it was made with, or None.
    """

    def __init__(self, site: Site, file: str = "") -> None:
        self.site, self.file = site, file
        self.lock = RLock()
        self.base: Plan = plan(site)
        self.edits = Edits()
        self.judged: tuple[tuple[Edit, ...], tuple[Finding, ...]] | None = None
        self._kept: dict[str, _Kept] = {}
        self._sent: OrderedDict[str, dict[str, Look]] = OrderedDict()
        self._count = 0

    def _keep(self, kind: str, key: Hashable, make: Callable[[], _T]) -> _T:
        with self.lock:
            return self._kept.setdefault(kind, _Kept()).get(key, make)

    @cached_property
    def states(self) -> tuple[OperatingState, ...]:
        """The ways the site is run, the normal one first."""
        return states(self.site)

    def state(self, name: str) -> OperatingState:
        """Return the state of a name; "" means the first.

        Raises:
            UnknownError: there is none.
        """
        if not name:
            return self.states[0]
        found = next((state for state in self.states if state.id == name), None)
        if found is None:
            known = ", ".join(repr(state.id) for state in self.states)
            raise UnknownError(f"no state {name!r}; there are: {known}")
        return found

    @property
    def plan(self) -> Plan:
        """The plan with every change made."""
        done = self.edits.done
        return self._keep("plan", done, lambda: changed(self.base, done))

    def change(self, make: Callable[[Edits], Edits]) -> None:
        """Change the working copy, or leave it as it is.

        Raises:
            bondwright.page.edits.EditError: the change can't be made.
        """
        with self.lock:
            after = make(self.edits)
            changed(self.base, after.done)
            self.edits = after

    def network(self, state: str, *, loads: bool) -> Network:
        """Return the circuit of the working copy in a state."""
        found = self.state(state)
        key = (self.edits.done, found.id, loads)
        return self._keep("network", key, lambda: build(self.plan, loads=loads, state=found))

    def first_network(self, state: str, *, loads: bool) -> Network:
        """Return the circuit of the site as its file has it."""
        found = self.state(state)
        key = ((), found.id, loads)
        return self._keep("network", key, lambda: build(self.base, loads=loads, state=found))

    def _lifted(self, network: Network) -> list[Change]:
        """Return the changes that lift every tie of the file that was taken off."""
        standing = {tie.id for tie in self.plan.ties}
        gone = (tie for tie in self.base.ties if tie.id not in standing)
        return [network.solver.open_switch(f"tie {tie.id}") for tie in gone]

    def _added(self) -> tuple[PlannedTie, ...]:
        own = {tie.id for tie in self.base.ties}
        return tuple(tie for tie in self.plan.ties if tie.id not in own)

    def _standing(self, flow: Flow) -> bool:
        """Whether what carries a current is still there: all but a tie that was taken off."""
        return flow.carrier is not Carrier.TIE or any(t.id == flow.id for t in self.plan.ties)

    def normal(self, state: str) -> Normal:
        """Return normal use in a state.

        The circuit of the file is factored once; ties that were taken off are opened in it, and
        those put on are joins, so that an edit is answered without building anything.
        """

        def make() -> Normal:
            network = self.first_network(state, loads=True)
            added = self._added()
            joins = [network.solver.join(f"{t.at}:N", f"{t.at}:G", t.resistance) for t in added]
            solution = normal_use(network, [*joins, *self._lifted(network)]).solution
            now = [flow for flow in flows(network, solution) if self._standing(flow)]
            now += [
                Flow(Carrier.TIE, tie.id, "tie", "G", tie.at, tie.at, solution.change_current(k))
                for k, tie in enumerate(added)
            ]
            back = _against(network, solution, now)
            return Normal(tuple(now), metal_voltages(network, solution), back)

        return self._keep("normal", (self.edits.done, self.state(state).id), make)

    def loops(self, state: str) -> LoopStudy:
        """Return every current on metal in normal use with its cause and its loop."""
        key = (self.edits.done, self.state(state).id)
        return self._keep("loops", key, lambda: study_loops(self.network(state, loads=True)))

    def faults(self, state: str) -> dict[str, Fault]:
        """Return every fault there can be in a state by its key."""

        def make() -> dict[str, Fault]:
            # Which faults there can be hangs on what is tied, not on the circuit's numbers.
            network = replace(self.first_network(state, loads=False), plan=self.plan)
            return {fault_key(f): f for f in possible_faults(network, tuple(FaultKind))}

        return self._keep("faults", (self.edits.done, self.state(state).id), make)

    def fault(self, state: str, key: str) -> FaultResult:
        """Follow a fault.

        Raises:
            UnknownError: there is no such fault in that state.
        """
        found = self.faults(state).get(key)
        if found is None:
            raise UnknownError("there is no such fault in this state; choose one from the list")

        def make() -> FaultResult:
            if self._added():
                # What a tie too many carries belongs to the fault's way: it needs its circuit.
                return study_fault(self.network(state, loads=False), found)
            network = self.first_network(state, loads=False)
            result = study_fault(network, found, self._lifted(network))
            return replace(result, flows=tuple(f for f in result.flows if self._standing(f)))

        return self._keep("fault", (self.edits.done, self.state(state).id, key), make)

    def picture(self, form: Form) -> LivePicture:
        """Return the picture of the site, laid out once."""
        return self._keep("picture", form, lambda: LivePicture(self.base, form))

    def now(self, view: View) -> Now:
        """Return the moment that a view shows."""
        state = self.state(view.state)
        dead = frozenset(state.topology.order) - state.energised
        match view.show:
            case "fault":
                result = self.fault(view.state, view.fault)
                opens = frozenset(opening.device for opening in result.openings)
                limit = min(TOUCH_LIMIT_V, result.touch_verdict.limit_v)
                if result.cleared:
                    limit = result.touch_verdict.limit_v
                return Now(self.plan, result.flows, result.touch, limit, opens, dead, fault=True)
            case "normal":
                use = self.normal(view.state)
                return Now(
                    self.plan, use.flows, use.metal, TOUCH_LIMIT_V, dead=dead, against=use.against
                )
            case _:
                return Now(self.plan, dead=dead)

    def patch(self, form: Form, view: View, have: str) -> tuple[str, dict[str, Look]]:
        """Return what is different from what a page shows, and a name for what it then shows.

        Args:
            form: of the picture.
            view: what is to be shown.
            have: name of what the page shows; one that isn't known any more means everything.
        """
        with self.lock:
            looks = self.picture(form).looks(self.now(view))
            before = self._sent.get(have, {}) if have.startswith(f"{form}-") else {}
            self._count += 1
            name = f"{form}-{self._count}"
            self._sent[name] = looks
            if len(self._sent) > _KEPT:
                self._sent.popitem(last=False)
            return name, {k: look for k, look in looks.items() if before.get(k) != look}

    def findings(self) -> tuple[Finding, ...]:
        """Return what is known to fall short: of the last whole study, else of the rules."""
        if self.judged is not None and self.judged[0] == self.edits.done:
            return self.judged[1]
        return self.base.findings


def _against(network: Network, solution: Solution, now: Sequence[Flow]) -> frozenset[str]:
    """Return the runs whose lines carry power from their end to their start."""
    power: dict[str, float] = {}
    for flow in now:
        node = f"{flow.from_}:{flow.terminal}"
        if flow.terminal.startswith("L") and node in network.solver.index:
            volts = solution.voltage(node)
            power[flow.id] = power.get(flow.id, 0.0) + (volts * flow.current.conjugate()).real
    return frozenset(name for name, watts in power.items() if watts < -1.0)
