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
    """

    id: str
    on: frozenset[str]
    transfers: Mapping[str, Position]
    open: frozenset[str]
    topology: Topology
    energised: frozenset[str]

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
    return frozenset((*site, *beside))


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
    live = frozenset(_energised(tree, on, opened))
    return OperatingState(name, on, MappingProxyType(dict(stands)), opened, tree, live)


def _energised(tree: Topology, on: frozenset[str], opened: frozenset[str]) -> Iterator[str]:
    passing: set[str] = set()
    for name in tree.order:
        run = tree.fed_by.get(name)
        if run is None:
            live = name in on
        else:
            live = run not in opened and tree.site.runs[run].from_ in passing
        if live:
            yield name
            if name not in opened:
                passing.add(name)
