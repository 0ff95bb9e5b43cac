"""The ways a site is run: which sources are on, how the transfer switches stand, what is open.

Those written in the file, or else those that follow from it: normal running, and for each
transfer switch running on its standby supply.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bondwright.site.model import Position, Site, State
from bondwright.site.topology import Topology, topology

NORMAL = "normal"
"""Id of the state that a site is in when nothing is wrong."""


@dataclass(frozen=True, slots=True, eq=False)
class OperatingState:
    """One way a site is run.

    Attributes:
        id: a name for a person: "normal", "on generator".
        on: ids of the sources, generators and inverters that are running.
        transfers: where every transfer switch stands.
        open: places whose main is open and runs whose device is open.
        topology: who feeds whom in this state.
        energised: everything that has a live terminal. A place whose main is open is among
            them: its line side stays live.
        parallel: groups of two or more sources and generators that are on and joined, the one
            that leads first: a utility, else the first in the order of the supply tree.
    """

    id: str
    on: frozenset[str]
    transfers: Mapping[str, Position]
    open: frozenset[str]
    topology: Topology
    energised: frozenset[str]
    parallel: tuple[tuple[str, ...], ...] = ()

    @property
    def systems(self) -> tuple[str, ...]:
        """Origins of the systems that are live, utilities first."""
        tree = self.topology
        live = (tree.systems[name].origin for name in tree.order if name in self.energised)
        return tuple(dict.fromkeys(live))


def states(site: Site) -> tuple[OperatingState, ...]:
    """Return the ways a site is run.

    Args:
        site: a site that passed :func:`bondwright.site.check.problems`.

    Returns:
        The states written in the file in their order. If there are none: "normal" (utilities
        on, transfer switches on their normal side, sources that only stand by off), then for
        each standby supply one state for every transfer switch that it feeds, and one with all
        of them where there are several, the supply that they left off.
    """
    base = topology(site)
    if site.states:
        return tuple(_written(base, name, state) for name, state in site.states.items())
    running = _running(base)
    return (_state(base, NORMAL, running, base.stands), *_on_standby(base, running))


def _running(tree: Topology) -> frozenset[str]:
    """What runs as the switches stand: all but on-site sources on an open side."""
    idle = {tree.root(tree.site.runs[run].from_) for run in tree.idle}
    beside = (name for name in tree.site.inverters if name in tree.fed_by)
    site = (name for name in tree.roots if name in tree.site.sources or name not in idle)
    return frozenset((*site, *beside, *_with_generators(tree)))


def _with_generators(tree: Topology) -> Iterator[str]:
    """Yield generators that work in parallel with another one; beside a utility they stand by."""
    for name in tree.site.generators:
        if name in tree.fed_by and tree.root(name) in tree.site.generators:
            yield name


def _on_standby(base: Topology, running: frozenset[str]) -> Iterator[OperatingState]:
    site = base.site
    own: dict[str, list[str]] = {}
    for name, switch in site.transfers.items():
        root, usual = (base.root(site.runs[run].from_) for run in (switch.standby, switch.normal))
        if root == usual:  # the same supply by another way
            stands = {**base.stands, name: Position.STANDBY}
            yield _state(base, f"{name} on standby", running, stands)
        else:
            own.setdefault(root, []).append(name)
    for root, switches in own.items():
        turned = base.turned_to(root).stands
        further = {
            name: at
            for name, at in turned.items()
            if at is not base.stands[name] and name not in switches
        }
        if len(switches) > 1:
            yield _supplied(base, f"on {root}", root, turned, running)
        for name in switches:
            label = f"on {root}" if len(switches) == 1 else f"on {root} by {name}"
            stands = {**base.stands, name: Position.STANDBY, **further}
            yield _supplied(base, label, root, stands, running)


def _supplied(
    base: Topology,
    name: str,
    root: str,
    stands: Mapping[str, Position],
    running: frozenset[str],
) -> OperatingState:
    """A state in which one source has taken over: what it replaces is off, and all utilities."""
    site = base.site
    left = {
        base.root(site.runs[site.transfers[switch].normal].from_)
        for switch, at in stands.items()
        if at is not base.stands[switch]
    }
    # What works in parallel with a utility goes off with it.
    off = left | set(site.sources)
    on = {other for other in running if other in base.roots and other not in off} | {root}
    tree = topology(site, stands)
    on |= {other for other in _with_generators(tree) if tree.root(other) in on}
    return _state(base, name, frozenset(on), stands)


def _written(base: Topology, name: str, state: State) -> OperatingState:
    stands = {**base.stands, **state.transfers}
    on = frozenset(state.on) if state.on is not None else _running(topology(base.site, stands))
    return _state(base, name, on, stands, frozenset(state.open_))


def _state(
    base: Topology,
    name: str,
    on: frozenset[str],
    stands: Mapping[str, Position],
    opened: frozenset[str] = frozenset(),
) -> OperatingState:
    tree = base if stands == base.stands else topology(base.site, stands)
    joined = _Joined(tree, opened)
    live = frozenset(joined.energised(on))
    places = MappingProxyType(dict(stands))
    return OperatingState(name, on, places, opened, tree, live, joined.parallel(on))


class _Joined:
    """What closed conductors join: a place's bus and, ahead of its main, its line side."""

    def __init__(self, tree: Topology, opened: frozenset[str]) -> None:
        self.tree = tree
        self._part: dict[str, str] = {}
        site = tree.site
        for name, run in site.runs.items():
            if name not in tree.idle and name not in opened:
                self._join(run.from_, f"in {run.to}")
        for name in tree.order:
            if name not in opened:
                self._join(f"in {name}", name)

    def _top(self, name: str) -> str:
        here = name
        while (above := self._part.get(here, here)) != here:
            self._part[here] = self._part.get(above, above)
            here = above
        return here

    def _join(self, a: str, b: str) -> None:
        self._part[self._top(a)] = self._top(b)

    def _leading(self, on: frozenset[str]) -> Iterator[str]:
        """Yield what is on and gives a voltage of its own, utilities first, then in order."""
        site, order = self.tree.site, self.tree.order
        yield from (name for name in site.sources if name in on)
        for name in order:
            own = name in site.generators or (
                name in site.inverters and name not in self.tree.fed_by
            )
            if own and name in on:
                yield name

    def energised(self, on: frozenset[str]) -> Iterator[str]:
        """Yield everything that a source which is on reaches, in order."""
        live = {self._top(name) for name in self._leading(on)}
        for name in self.tree.order:
            if self._top(name) in live or self._top(f"in {name}") in live:
                yield name

    def parallel(self, on: frozenset[str]) -> tuple[tuple[str, ...], ...]:
        """Return the groups of sources and generators that are joined."""
        groups: dict[str, list[str]] = {}
        for name in self._leading(on):
            if name not in self.tree.site.inverters:
                groups.setdefault(self._top(name), []).append(name)
        return tuple(tuple(group) for group in groups.values() if len(group) > 1)
