"""What may be wrong: every single defect of a site, as elements at ports."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from bondwright.network.build import Network
from bondwright.network.runs import strands
from bondwright.studies.hunt.ports import Port, across, is_there, within
from bondwright.studies.hunt.settings import settings

OPEN_OHM: Final = 1e7
"""Resistance taken for an open conductor, ohm."""

PER_DECADE: Final = 1.2
"""Variants of a defect's resistance for each factor of ten of its range."""


@dataclass(frozen=True, slots=True)
class Part:
    """One element that a defect adds at a port.

    Attributes:
        port: where.
        ohms: resistance joined across it, or put in series; for a voltage, V.
        varies: whether it is the resistance (or voltage) that isn't known.
        drives: whether it is a voltage in series and no resistance.
        angle: of a voltage, degrees.
    """

    port: Port
    ohms: float
    varies: bool = False
    drives: bool = False
    angle: float = 0.0


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing that may be wrong.

    Attributes:
        id: unique on the site, "neutral open: garage feeder".
        kind: a kind of the hunt's data.
        name: for a person.
        parts: what it adds.
        at: run, place, tie, electrode or metal that it is about.
        spread: half width of the logarithm of what varies; 0 if nothing does.
        members: ids of the single defects it consists of.
        upstream: whether only the utility may touch it.
    """

    id: str
    kind: str
    name: str
    parts: tuple[Part, ...]
    at: str
    spread: float = 0.0
    members: tuple[str, ...] = ()
    upstream: bool = False


NOTHING: Final = Hypothesis("nothing wrong", "nothing wrong", "nothing wrong", (), "")


def both(one: Hypothesis, other: Hypothesis) -> Hypothesis:
    """Return two defects at once."""
    first, second = sorted((one, other), key=lambda h: h.id)
    return Hypothesis(
        id=f"{first.id} + {second.id}",
        kind="second defect",
        name=f"{first.name}; and {second.name}",
        parts=(*first.parts, *second.parts),
        at=f"{first.at} + {second.at}",
        spread=max(first.spread, second.spread),
        members=(first.id, second.id),
        upstream=first.upstream or second.upstream,
    )


def singles(network: Network) -> tuple[tuple[Hypothesis, ...], ...]:
    """Return every single defect of a site, each as its variants of resistance.

    Args:
        network: the site in normal running, built with loads.

    Returns:
        For each defect a tuple of one or more variants with the same id.
    """
    found: dict[str, tuple[Hypothesis, ...]] = {}
    for item in _every(network):
        parts = tuple(part for part in item.parts if is_there(network, part.port))
        if len(parts) == len(item.parts):
            found.setdefault(item.id, tuple(_variants(replace(item, members=(item.id,)))))
    return tuple(found.values())


def _variants(item: Hypothesis) -> Iterator[Hypothesis]:
    data = settings()
    drives = any(part.drives for part in item.parts)
    span = (data.volts if drives else data.ohms).get(item.kind)
    if span is None:
        yield item
        return
    width = math.log(span[1] / span[0])
    count = max(1, round(PER_DECADE * width / math.log(10)))
    for angle in (0.0, 90.0, 180.0, 270.0) if drives else (0.0,):
        for k in range(count):
            size = span[0] * math.exp(width * (k + 0.5) / count)
            parts = tuple(
                replace(part, ohms=size, angle=angle) if part.varies else part
                for part in item.parts
            )
            yield replace(item, parts=parts, spread=width / count / 2)


def _every(network: Network) -> Iterator[Hypothesis]:
    plan = network.plan
    yield from _ties(network)
    for run in plan.runs.values():
        yield from _run(network, run.id)
    yield from _places(network)
    for electrode in plan.electrodes.values():
        port = within(f"electrode conductor {electrode.id}", "metal")
        yield _one(
            "electrode conductor open",
            electrode.id,
            f"the electrode conductor of {electrode.id} is open",
            Part(port, OPEN_OHM),
        )
    yield from _metal(network)
    yield from _supplies(network)


def _one(kind: str, at: str, name: str, *parts: Part, upstream: bool = False) -> Hypothesis:
    return Hypothesis(f"{kind}: {at}", kind, name, parts, at, upstream=upstream)


def _ties(network: Network) -> Iterator[Hypothesis]:
    for tie in network.plan.ties:
        port = within(f"join {tie.id}", "z")
        where = f"{tie.id} at {tie.at}"
        yield _one("tie missing", tie.id, f"the tie {where} is missing", Part(port, OPEN_OHM))
        yield _one("tie loose", tie.id, f"the tie {where} is loose", Part(port, 1.0, varies=True))


def _conductors(network: Network, run: str) -> dict[str, list[str]]:
    """Names of a run's conductors by terminal; the raceway by the word "raceway"."""
    found: dict[str, list[str]] = {}
    for part in strands(network.plan.runs[run]):
        word = "raceway" if part.conductor is None else part.terminal
        found.setdefault(word, []).append(part.name)
    return found


def _run(network: Network, run_id: str) -> Iterator[Hypothesis]:
    run = network.plan.runs[run_id]
    section = f"run {run_id}"
    theirs = run.from_ in network.plan.site.sources
    by = _conductors(network, run_id)

    def series(names: list[str], ohms: float, *, varies: bool = False) -> tuple[Part, ...]:
        return tuple(Part(within(section, name), ohms, varies) for name in names)

    for line in run.on:
        yield _one(
            "line open",
            f"{run_id} {line}",
            f"line {line} of {run_id} is open",
            *series(by[line], OPEN_OHM),
            upstream=theirs,
        )
        yield _one(
            "line joint bad",
            f"{run_id} {line}",
            f"a bad joint in line {line} of {run_id}",
            *series(by[line], 1.0, varies=True),
            upstream=theirs,
        )
    if "N" in by:
        yield _one(
            "neutral open",
            run_id,
            f"the neutral of {run_id} is open",
            *series(by["N"], OPEN_OHM),
            upstream=theirs,
        )
        yield _one(
            "neutral joint bad",
            run_id,
            f"a bad joint in the neutral of {run_id}",
            *series(by["N"], 1.0, varies=True),
            upstream=theirs,
        )
    metal = by.get("G", []) + by.get("raceway", [])
    if metal:
        name = f"the bonding conductor of {run_id}"
        yield _one("bonding conductor open", run_id, f"{name} is open", *series(metal, OPEN_OHM))
        yield _one(
            "bonding conductor joint bad",
            run_id,
            f"a bad joint in {name}",
            *series(metal, 1.0, varies=True),
        )
    if "N" in by and "G" in by and not run.supply_side:
        yield _swapped(network, run_id, by)
    if "N" in by and not metal and len(run.on) == 1 and run.to in network.plan.site.places:
        yield _bootleg(network, run_id, by)


def _swapped(network: Network, run_id: str, by: dict[str, list[str]]) -> Hypothesis:
    """Neutral and bonding conductor each on the other's bar at the far end."""
    run = network.plan.runs[run_id]
    section = f"run {run_id}"
    opened = [Part(within(section, name), OPEN_OHM) for name in by["N"] + by["G"]]
    return _one(
        "neutral and bonding conductor swapped",
        run_id,
        f"neutral and bonding conductor of {run_id} are swapped at {run.to}",
        *opened,
        Part(across(f"{run.from_}:N", f"{run.to}:G"), _ohms(network, run_id, "N")),
        Part(across(f"{run.from_}:G", f"{run.to}:N"), _ohms(network, run_id, by["G"][0])),
    )


def _bootleg(network: Network, run_id: str, by: dict[str, list[str]]) -> Hypothesis:
    """An old two-wire outlet: line and neutral swapped, its ground slot joined to "neutral"."""
    run = network.plan.runs[run_id]
    section = f"run {run_id}"
    line = run.on[0]
    fed = network.plan.site.runs[run_id].device is not None
    start = f"{run_id}/out:{line}" if fed else f"{run.from_}:{line}"
    opened = [Part(within(section, name), OPEN_OHM) for name in by["N"] + by[line]]
    return _one(
        "line and neutral swapped with a jumper",
        run_id,
        f"line and neutral of {run_id} are swapped at {run.to}, whose ground is joined to its "
        "neutral: the metal is live",
        *opened,
        Part(across(start, f"{run.to}:N"), _ohms(network, run_id, line)),
        Part(across(f"{run.from_}:N", f"{run.to}:{line}"), _ohms(network, run_id, "N")),
        Part(across(f"{run.to}:N", f"{run.to}:G"), 1e-3),
    )


def _ohms(network: Network, run_id: str, conductor: str) -> float:
    place = network.solver.section_index[f"run {run_id}"]
    section = network.circuit.sections[place]
    k = section.names.index(conductor)
    return max(float(section.impedance[k, k].real), 1e-4)


def _places(network: Network) -> Iterator[Hypothesis]:
    plan = network.plan
    tied = {tie.at for tie in plan.ties if tie.line is None}
    for name, terminals in network.terminals.items():
        if name in plan.site.sources:
            continue
        if {"N", "G"} <= set(terminals) and name not in tied:
            yield _one(
                "tie where none belongs",
                name,
                f"neutral and metal are joined at {name}, where no tie belongs",
                Part(across(f"{name}:N", f"{name}:G"), 1e-3, varies=True),
            )
        for line in terminals:
            if line.startswith("L") and "G" in terminals:
                yield _one(
                    "line on metal",
                    f"{name} {line}",
                    f"line {line} touches metal at {name}",
                    Part(across(f"{name}:{line}", f"{name}:G"), 1.0, varies=True),
                )


def _metal(network: Network) -> Iterator[Hypothesis]:
    plan = network.plan
    for section in network.circuit.sections:
        for name in section.names:
            owner = name if name.startswith("metal ") else section.id
            if not owner.startswith("metal ") or (name == "metal" and owner != section.id):
                continue
            port = within(section.id, name)
            label = owner.removeprefix("metal ")
            yield _one(
                "pipe or steel open",
                label,
                f"the metal {label} is interrupted",
                Part(port, OPEN_OHM),
            )
            item = plan.site.metal.get(label)
            if item is not None and {item.from_, item.to} & set(plan.site.sources):
                yield _one(
                    "current from a neighbour by metal",
                    label,
                    f"a neighbour's neutral current comes in on {label}",
                    Part(port, 1.0, varies=True, drives=True),
                    upstream=True,
                )
    joined = {frozenset((run.from_, run.to)) for run in plan.runs.values()}
    joined |= {frozenset((item.from_, item.to)) for item in plan.site.metal.values()}
    touching = {end for item in plan.site.metal.values() for end in (item.from_, item.to)}
    for one in sorted(touching):
        for other in network.terminals:
            if other == one or frozenset((one, other)) in joined or other in plan.site.sources:
                continue
            if one in plan.site.sources or other not in plan.site.places:
                continue
            yield _one(
                "contact unexpected",
                f"{one} and {other}",
                f"metal at {one} touches metal at {other}",
                Part(across(f"{one}:G", f"{other}:G"), 0.01, varies=True),
            )


def _supplies(network: Network) -> Iterator[Hypothesis]:
    for name in network.plan.site.sources:
        yield _one(
            "voltage from the supply's neutral",
            name,
            f"the neutral of {name} stands above remote earth, lifted by other customers' current",
            Part(within(f"electrode of {name}", "z"), 1.0, varies=True, drives=True),
            upstream=True,
        )


def weights(all_singles: tuple[tuple[Hypothesis, ...], ...]) -> dict[str, float]:
    """Return the prior weight of every single defect: its kind's, shared among its kind."""
    data = settings()
    count: dict[str, int] = {}
    for variants in all_singles:
        count[variants[0].kind] = count.get(variants[0].kind, 0) + 1
    return {v[0].id: data.weights[v[0].kind] / count[v[0].kind] for v in all_singles}
