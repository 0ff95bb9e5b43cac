"""Which faults there can be at a site."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from bondwright.network.build import Network
from bondwright.studies.fault_model import (
    ARC_V,
    EARTH_FAULT_OHM,
    USUAL,
    Fault,
    FaultKind,
)

_PRIMARY = ("H1", "H2", "H3")


def possible_faults(network: Network, kinds: Iterable[FaultKind] = USUAL) -> list[Fault]:
    """Return every fault of the given kinds at every place, in walking order.

    They are bolted, but for faults to earth, which go through :data:`EARTH_FAULT_OHM`. A
    transformer has those of its secondary and those of its primary. Second faults are listed for
    systems that nothing ties to metal: the first is then at the place nearest the source.

    Args:
        network: the network.
        kinds: which kinds.
    """
    return list(_faults(network, frozenset(kinds)))


def arcing(faults: Iterable[Fault], volts: float = ARC_V) -> list[Fault]:
    """Return the faults to metal of a list, each with an arc across it, V."""
    return [replace(fault, arc=volts) for fault in faults if fault.kind is FaultKind.LINE_TO_METAL]


def places_of(network: Network) -> Iterator[tuple[str, tuple[str, ...]]]:
    """Yield everything live on site with its terminals, those of a primary last."""
    sources = network.plan.site.sources
    index, live = network.solver.index, network.state.energised
    for name, terminals in network.terminals.items():
        if name not in sources and name in live:
            primary = tuple(t for t in _PRIMARY if f"{name}:{t}" in index)
            yield name, (*terminals, *primary)


def _faults(network: Network, kinds: frozenset[FaultKind]) -> Iterator[Fault]:
    for place, terminals in places_of(network):
        for family in ("L", "H"):
            lines = [t for t in terminals if t.startswith(family)]
            others = [t for t in terminals if t in {"N", "G"} and (family == "L" or t == "G")]
            yield from _at(place, lines, others, kinds)
        if FaultKind.NEUTRAL_TO_METAL in kinds and {"N", "G"} <= set(terminals):
            yield Fault(place, FaultKind.NEUTRAL_TO_METAL, "N", "G")
    if FaultKind.SECOND_TO_METAL in kinds:
        yield from _second(network)


def _at(
    place: str, lines: Sequence[str], others: Sequence[str], kinds: frozenset[FaultKind]
) -> Iterator[Fault]:
    if FaultKind.LINE_TO_LINE in kinds:
        for a, b in itertools.combinations(lines, 2):
            yield Fault(place, FaultKind.LINE_TO_LINE, a, b)
    if FaultKind.THREE_LINES in kinds and len(lines) == 3:
        yield Fault(place, FaultKind.THREE_LINES, lines[0], lines[1], also=lines[2])
    for kind, other in ((FaultKind.LINE_TO_NEUTRAL, "N"), (FaultKind.LINE_TO_METAL, "G")):
        if kind in kinds and other in others:
            for line in lines:
                yield Fault(place, kind, line, other)
    if FaultKind.LINE_TO_EARTH in kinds:
        for line in lines:
            yield Fault(place, FaultKind.LINE_TO_EARTH, line, "earth", EARTH_FAULT_OHM)


def untied(network: Network) -> frozenset[str]:
    """Return the origins of systems that nothing on site ties to metal.

    A utility's own ground counts as a tie; in an IT system it has none.
    """
    systems = network.state.topology.systems
    tied = {systems[tie.at].origin for tie in network.plan.ties if tie.at in systems}
    if network.plan.site.earthing != "IT":
        tied |= {name for name, s in network.plan.site.sources.items() if s.system.has_neutral}
    return frozenset(s.origin for s in systems.values()) - tied


def _second(network: Network) -> Iterator[Fault]:
    systems = network.state.topology.systems
    floating = untied(network)
    nearest: dict[str, tuple[str, tuple[str, ...]]] = {}
    for place, terminals in places_of(network):
        lines = tuple(t for t in terminals if t.startswith("L"))
        if place not in systems or systems[place].origin not in floating or "G" not in terminals:
            continue
        first_at, first_lines = nearest.setdefault(systems[place].origin, (place, lines))
        for line, other in itertools.permutations(lines, 2):
            if other in first_lines and (place != first_at or line < other):
                yield Fault(
                    place, FaultKind.SECOND_TO_METAL, line, "G", also=other, also_at=first_at
                )
