"""What may be wrong: the catalogue of defects as elements at ports, and some that it leaves out.

The catalogue's conductors that are too small are left out: no reading in normal use tells them
from sound ones. Bad lines, a reversed outlet and what comes in from outside are added.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bondwright.network.build import Network
from bondwright.network.circuit import Section
from bondwright.network.runs import strands
from bondwright.studies.defects.alterations import Break, Insert, Join, Lift, Swap
from bondwright.studies.defects.catalogue import Defect, defects
from bondwright.studies.hunt.ports import Port, across, is_there, through, within
from bondwright.studies.hunt.settings import settings

OPEN_OHM: Final = 1e7
"""Resistance taken for an open conductor, ohm."""

PER_DECADE: Final = 1.0
"""Variants of a defect's resistance for each factor of ten of its range."""

_INVISIBLE: Final = ("tie-small", "egc-small")
MOST_IDLE: Final = 2
"""Loads of a circuit that may all be off at once."""

_SIZE: Final = re.compile(r" \([0-9.e+-]+ ohm\)")
_LEAST_OHM: Final = 1e-4


@dataclass(frozen=True, slots=True)
class Part:
    """One element that a defect adds at a port.

    Attributes:
        port: where.
        ohms: resistance joined across it, or put in series; for a voltage, V.
        varies: whether it is the resistance (or voltage) that isn't known.
        drives: whether it is a voltage in series and no resistance.
        angle: of a voltage, degrees.
        spread: half width of the logarithm of what varies.
        owner: which of several defects it belongs to, from 0.
        off: whether it is a load that is off, and nothing wrong.
        carries: the conductor of a section that a join stands for: a clamp there reads it.
    """

    port: Port
    ohms: float
    varies: bool = False
    drives: bool = False
    angle: float = 0.0
    spread: float = 0.0
    owner: int = 0
    carries: Port | None = None
    off: bool = False


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing, or several, that may be wrong.

    Attributes:
        id: unique on the site, the catalogue's where it is the catalogue's.
        kind: a kind of the hunt's data.
        name: for a person.
        parts: what it adds.
        members: ids of the single defects it consists of.
        upstream: whether it is the utility's to mend.
    """

    id: str
    kind: str
    name: str
    parts: tuple[Part, ...]
    members: tuple[str, ...] = ()
    upstream: bool = False


NOTHING: Final = Hypothesis("nothing-wrong", "nothing-wrong", "nothing wrong", ())
"""The site as described."""


MOST_AT_ONCE: Final = 3
"""Defects that are taken together at most."""


def owned(item: Hypothesis, place: int) -> Hypothesis:
    """Return a single defect as number ``place`` of several, from 0."""
    if all(part.owner == place for part in item.parts):
        return item
    return replace(item, parts=tuple(replace(part, owner=place) for part in item.parts))


def both(one: Hypothesis, other: Hypothesis) -> Hypothesis:
    """Return what is wrong in both of two at once.

    Args:
        one: one or more defects.
        other: a single one.
    """
    other = owned(other, len(one.members))
    return Hypothesis(
        id=" + ".join(sorted((*one.members, *other.members))),
        kind="second-defect",
        name=f"{one.name}; and {other.name}",
        parts=(*one.parts, *other.parts),
        members=tuple(sorted((*one.members, *other.members))),
        upstream=one.upstream or other.upstream,
    )


def singles(network: Network) -> tuple[tuple[Hypothesis, ...], ...]:
    """Return every single defect of a site, each as its variants of resistance.

    Args:
        network: the site in normal running, built with loads.

    Returns:
        For each defect a tuple of one or more variants with the same id.
    """
    found: dict[str, tuple[Hypothesis, ...]] = {}
    for item in (*_catalogued(network), *_beyond(network)):
        if all(is_there(network, part.port) for part in item.parts):
            found.setdefault(item.id, tuple(_variants(replace(item, members=(item.id,)))))
    idle = _idle(network)
    for id, variants in found.items():
        if id in idle and len(variants) == 1:
            off = replace(variants[0], parts=(*variants[0].parts, *idle[id]))
            found[id] = (*variants, off)
    return tuple(found.values())


def weights(every: Sequence[Sequence[Hypothesis]]) -> dict[str, float]:
    """Return the prior weight of every single defect: its kind's, shared among its kind."""
    data = settings()
    count: dict[str, int] = {}
    for variants in every:
        count[variants[0].kind] = count.get(variants[0].kind, 0) + 1
    return {v[0].id: data.weights[v[0].kind] / count[v[0].kind] for v in every}


def _variants(item: Hypothesis) -> Iterator[Hypothesis]:
    data = settings()
    drives = any(part.drives for part in item.parts)
    span = (data.volts if drives else data.ohms).get(item.kind)
    if span is None or not any(part.varies for part in item.parts):
        yield item
        return
    width = math.log(span[1] / span[0])
    count = max(1, round(PER_DECADE * width / math.log(10)))
    for angle in (0.0, 90.0, 180.0, 270.0) if drives else (0.0,):
        for k in range(count):
            size = span[0] * math.exp(width * (k + 0.5) / count)
            parts = tuple(
                replace(part, ohms=size, angle=angle, spread=width / count / 2)
                if part.varies
                else part
                for part in item.parts
            )
            yield replace(item, parts=parts)


def _catalogued(network: Network) -> Iterator[Hypothesis]:
    theirs = {
        run.id for run in network.plan.runs.values() if run.from_ in network.plan.site.sources
    }
    for defect in defects(network):
        if defect.kind.value in _INVISIBLE:
            continue
        yield Hypothesis(
            defect.id,
            defect.kind.value,
            _SIZE.sub("", defect.name),
            tuple(_parts(network, defect)),
            upstream=defect.thing in theirs,
        )


def _parts(network: Network, defect: Defect) -> Iterator[Part]:
    varies = defect.kind.value in settings().ohms
    for item in defect.alterations:
        match item:
            case Join(a, b, ohm):
                yield Part(across(a, b), max(ohm, _LEAST_OHM), varies)
            case Break(section, conductor):
                yield Part(within(section, conductor), OPEN_OHM)
            case Insert(section, conductor, ohm):
                yield Part(within(section, conductor), abs(ohm), varies)
            case Lift(tie, ohms):
                tie_port = through(f"tie {tie}")
                yield Part(tie_port, OPEN_OHM if ohms is None else ohms, ohms is not None)
            case Swap():
                yield from _crossed(network, item)


def _crossed(network: Network, swap: Swap) -> Iterator[Part]:
    """Conductors that land on each other's terminal, as new ones without the old coupling."""
    section = _section(network, swap.section)
    for those, end in ((swap.first, swap.b), (swap.second, swap.a)):
        for name in those:
            own = within(section.id, name)
            yield Part(own, OPEN_OHM)
            join = across(_start(section, name), end)
            yield Part(join, _ohms(section, name), carries=own)


def _section(network: Network, name: str) -> Section:
    return network.circuit.sections[network.solver.section_index[name]]


def _start(section: Section, conductor: str) -> str:
    return section.starts[section.names.index(conductor)]


def _ohms(section: Section, conductor: str) -> float:
    k = section.names.index(conductor)
    return max(float(section.impedance[k, k].real), _LEAST_OHM)


def _idle(network: Network) -> dict[str, tuple[Part, ...]]:
    """Return for an open conductor of a small circuit that its loads are off.

    A load that is on holds what lies beyond the break at the other conductor's voltage; with it
    off that floats, which is another picture altogether.
    """
    plan = network.plan
    at: dict[str, list[Port]] = {}
    for branch in network.loads:
        at.setdefault(branch.a.rpartition(":")[0], []).append(across(branch.a, branch.b))
    found = {}
    for run in plan.runs.values():
        below, todo = list[Port](), [run.to]
        while todo and len(below) <= MOST_IDLE:
            here = todo.pop()
            below += at.get(here, [])
            todo += [plan.runs[name].to for name in plan.topology.feeds.get(here, ())]
        if 0 < len(below) <= MOST_IDLE:
            parts = tuple(Part(port, OPEN_OHM, off=True) for port in dict.fromkeys(below))
            found[f"neutral-open/{run.id}"] = parts
            for line in run.on:
                found[f"line-open/{run.id}/{line}"] = parts
    return found


def _beyond(network: Network) -> Iterator[Hypothesis]:
    for run in network.plan.runs:
        yield from _bad_lines(network, run)
    yield from _corners(network)
    yield from _from_outside(network)


def _corners(network: Network) -> Iterator[Hypothesis]:
    """Yield a line joined to metal on purpose where a system is described without any join.

    At the source of a system that floats, for each of its lines: grounded by design, and the
    description doesn't say so. Every voltage reads as with a line that leaks.
    """
    topology = network.plan.topology
    joined = {
        topology.systems[tie.at].origin for tie in network.plan.ties if tie.at in topology.systems
    }
    for origin in dict.fromkeys(system.origin for system in topology.systems.values()):
        if origin in joined:
            continue
        for line in network.terminals.get(origin, ()):
            if line.startswith("L"):
                yield Hypothesis(
                    f"line-tied/{origin}/{line}",
                    "line-tied",
                    f"line {line} joined to metal at {origin} on purpose: a corner grounded by "
                    "design, which the description leaves out",
                    (Part(across(f"{origin}:{line}", f"{origin}:G"), 1e-3, varies=True),),
                    upstream=origin in network.plan.site.sources,
                )


def _bad_lines(network: Network, run_id: str) -> Iterator[Hypothesis]:
    run = network.plan.runs[run_id]
    theirs = run.from_ in network.plan.site.sources
    by: dict[str, list[str]] = {}
    for part in strands(run):
        by.setdefault(part.terminal, []).append(part.name)
    section = _section(network, f"run {run_id}")
    way = f"{run.from_} to {run.to}"

    def series(terminal: str, ohms: float, *, varies: bool = False) -> tuple[Part, ...]:
        return tuple(Part(within(section.id, name), ohms, varies) for name in by[terminal])

    for line in run.on:
        yield Hypothesis(
            f"line-open/{run_id}/{line}",
            "line-open",
            f"line {line} open, {way}",
            series(line, OPEN_OHM),
            upstream=theirs,
        )
        yield Hypothesis(
            f"line-loose/{run_id}/{line}",
            "line-loose",
            f"a bad joint in line {line}, {way}",
            series(line, 1.0, varies=True),
            upstream=theirs,
        )
    if "G" in by:
        yield Hypothesis(
            f"egc-loose/{run_id}",
            "egc-loose",
            f"a bad joint in the bonding conductor, {way}",
            series("G", 1.0, varies=True),
        )
    if "N" in by and "G" not in by and len(run.on) == 1 and run.to in network.plan.site.places:
        line, neutral = by[run.on[0]][0], by["N"][0]
        yield Hypothesis(
            f"outlet-reversed/{run_id}",
            "outlet-reversed",
            f"line and neutral reversed at {run.to} and its ground joined to its neutral slot: "
            "the metal is live",
            (
                Part(within(section.id, line), OPEN_OHM),
                Part(within(section.id, neutral), OPEN_OHM),
                Part(
                    across(_start(section, line), f"{run.to}:N"),
                    _ohms(section, line),
                    carries=within(section.id, line),
                ),
                Part(
                    across(_start(section, neutral), f"{run.to}:{run.on[0]}"),
                    _ohms(section, neutral),
                    carries=within(section.id, neutral),
                ),
                Part(across(f"{run.to}:N", f"{run.to}:G"), 1e-3),
            ),
        )


def _from_outside(network: Network) -> Iterator[Hypothesis]:
    site = network.plan.site
    for name in site.sources:
        yield Hypothesis(
            f"supply-neutral-lifted/{name}",
            "supply-neutral-lifted",
            f"the neutral of {name} stands above remote earth: current of others in the supply",
            (Part(within(f"electrode of {name}", "z"), 1.0, varies=True, drives=True),),
            upstream=True,
        )
    for name, item in site.metal.items():
        if not {item.from_, item.to} & set(site.sources):
            continue
        section = next(
            (s.id for s in network.circuit.sections if f"metal {name}" in (s.id, *s.names)), None
        )
        if section is not None:
            conductor = "metal" if section == f"metal {name}" else f"metal {name}"
            yield Hypothesis(
                f"neighbour-current/{name}",
                "neighbour-current",
                f"a neighbour's neutral current comes in on {name}",
                (Part(within(section, conductor), 1.0, varies=True, drives=True),),
                upstream=True,
            )
