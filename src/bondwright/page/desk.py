"""The working copy: a site, what was changed about it, and the answers found so far.

Nothing here writes the site's file. Pictures, networks and studies are kept by what they depend
on, so that going back and forth between two versions costs nothing.
"""

from __future__ import annotations

import secrets
from collections import OrderedDict
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, replace
from threading import RLock
from typing import Any, Final, TypeVar, cast

from bondwright.draw.live import Form, LivePicture
from bondwright.draw.looks import Look, Now
from bondwright.network.build import Network, build
from bondwright.network.normal import normal_use
from bondwright.network.solve import Change, Solution
from bondwright.page.edits import Edit, Edits, changed, that_apply
from bondwright.page.keepers import Keeper
from bondwright.page.versions import Version, Versions
from bondwright.plan.build import plan
from bondwright.plan.model import Plan, PlannedTie
from bondwright.rules.answer import Finding
from bondwright.site.model import Site
from bondwright.site.reader import read
from bondwright.site.states import OperatingState, states
from bondwright.site.writer import dump
from bondwright.studies.fault_model import Fault, FaultKind
from bondwright.studies.faults import FaultResult, possible_faults, study_fault
from bondwright.studies.flows import Carrier, Flow, flows, metal_voltages
from bondwright.studies.loops import LoopStudy, study_loops

_KEPT: Final = 24
"""Answers of one kind that are kept."""
_DRAWN: Final = 4
"""Descriptions whose answers are kept."""
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


class _Drawer:
    """A description with its plan and the answers found for it."""

    def __init__(self, site: Site, number: int) -> None:
        self.site, self.number = site, number
        self._plan: Plan | None = plan(site)
        self.states = states(site)
        self.kept: dict[str, _Kept] = {}

    @property
    def base(self) -> Plan:
        found = self._plan
        if found is None:
            found = self._plan = plan(self.site)
        return found

    def let_go(self) -> None:
        """Forget what can be worked out again."""
        self._plan = None
        self.kept.clear()


class Desk:
    """A site at work on.

    Args:
        site: the site, as read.
        file: name of its file, for people.
        text: of that file; None writes one when it is asked for.
        keeper: what it is kept in; without one nothing can be saved.

    Attributes:
        saved: text that is kept.
        lock: held while an answer is made; every method takes it.
        versions: every version so far, the one that stands last.
        judged: findings of the last whole study, with the site and the changes of its ties that it
            was made of, or None.
    """

    def __init__(
        self, site: Site, file: str = "", text: str | None = None, keeper: Keeper | None = None
    ) -> None:
        self.file, self.keeper = file, keeper
        self.saved = "" if keeper is None or text is None else text
        self.lock = RLock()
        self.versions = Versions((Version(site, text),))
        self.judged: tuple[Site, tuple[Edit, ...], tuple[Finding, ...]] | None = None
        self._drawers: OrderedDict[int, _Drawer] = OrderedDict()
        self._sent: OrderedDict[str, dict[str, Look]] = OrderedDict()
        # A page outlives its server: what it says it has must mean nothing to another one.
        self._count, self._numbers = 0, secrets.randbits(40)
        self._drawer = self._drawer_of(site)

    def _drawer_of(self, site: Site) -> _Drawer:
        found = self._drawers.get(id(site))
        if found is None:
            self._numbers += 1
            found = self._drawers[id(site)] = _Drawer(site, self._numbers)
        self._drawers.move_to_end(id(site))
        if len(self._drawers) > _DRAWN:
            self._drawers.popitem(last=False)
        return found

    def rest(self) -> None:
        """Keep what a person did and forget what can be worked out again, until they are back."""
        with self.lock:
            self._drawers.clear()
            self._drawers[id(self.site)] = self._drawer
            self._drawer.let_go()
            self._sent.clear()

    def _keep(self, kind: str, key: Hashable, make: Callable[[], _T]) -> _T:
        with self.lock:
            return self._drawer.kept.setdefault(kind, _Kept()).get(key, make)

    @property
    def site(self) -> Site:
        """The site as described now."""
        return self._drawer.site

    @property
    def text(self) -> str:
        """The site file as described now."""
        with self.lock:
            now = self.versions.now
            if now.text is None:
                now = replace(now, text=dump(self.site))
                self.versions = Versions((*self.versions.done[:-1], now), self.versions.undone)
            return str(now.text)

    @property
    def unsaved(self) -> bool:
        """Whether what is described isn't kept yet."""
        return self.keeper is not None and self.text != self.saved

    def read(self, text: str) -> Site:
        """Read a text as the site file of this working copy.

        Raises:
            bondwright.site.site_error.SiteError: it describes no site.
        """
        return read(text) if self.keeper is None else self.keeper.site(text)

    @property
    def base(self) -> Plan:
        """The plan of the site as described now, before any tie is taken off or put on."""
        return self._drawer.base

    @property
    def drawing(self) -> int:
        """Number of the description: while it stays, so does the picture's layout."""
        return self._drawer.number

    @property
    def edits(self) -> Edits:
        """What was changed about the ties."""
        return Edits(self.versions.now.edits)

    @property
    def states(self) -> tuple[OperatingState, ...]:
        """The ways the site is run, the normal one first."""
        return self._drawer.states

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

    def change(self, make: Callable[[Edits], Edits], said: str = "") -> None:
        """Change the ties of the working copy, or leave it as it is.

        Args:
            make: makes the changes out of those that stand.
            said: what is done, in a line.

        Raises:
            bondwright.page.edits.EditError: the change can't be made.
        """
        with self.lock:
            after = make(self.edits)
            changed(self.base, after.done)
            version = replace(self.versions.now, edits=after.done, said=said)
            self.versions = self.versions.add(version)

    def describe(self, site: Site, text: str, said: str, *, ties: bool = True) -> None:
        """Go on with another description; changes of ties that it still has room for stay.

        Args:
            site: the site, sound.
            text: its file.
            said: what is different, in a line.
            ties: whether what was changed about the ties goes on.
        """
        with self.lock:
            drawer = self._drawer_of(site)  # may fail: nothing is changed until it is there
            now = self.versions.now.edits if ties else ()
            edits = that_apply(drawer.base, now)
            self.versions = self.versions.add(Version(site, text, edits, said))
            self._drawer = drawer

    def go(self, back: bool) -> None:
        """Undo the last change, whatever it was, or do the last undone one again.

        Raises:
            bondwright.page.edits.EditError: there is none.
            bondwright.site.site_error.SiteError: a file beside that one is no longer as it was.
        """
        with self.lock:
            versions = self.versions.undo() if back else self.versions.redo()
            now = versions.now
            if now.site is None:
                now = replace(now, site=self.read(now.text or ""))
                versions = Versions((*versions.done[:-1], now), versions.undone)
            self._drawer = self._drawer_of(now.site or self.site)
            self.versions = versions

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
            known = have.startswith(f"{form}-{self.drawing}-")
            before = self._sent.get(have, {}) if known else {}
            self._count += 1
            name = f"{form}-{self.drawing}-{self._count}"
            self._sent[name] = looks
            if len(self._sent) > _KEPT:
                self._sent.popitem(last=False)
            return name, {k: look for k, look in looks.items() if before.get(k) != look}

    def is_judged(self) -> bool:
        """Whether the last whole study was made of what stands now."""
        return (
            self.judged is not None
            and self.judged[0] is self.site
            and self.judged[1] == self.edits.done
        )

    def findings(self) -> tuple[Finding, ...]:
        """Return what is known to fall short: of the last whole study, else of the rules."""
        if self.is_judged():
            return self.judged[2] if self.judged is not None else ()
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
