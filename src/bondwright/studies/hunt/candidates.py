"""Readings that may be asked for: by clamp and probe, none that lifts anything.

Left out: the utility's conductors ahead of the meter, and everything that would have a neutral, a
bond, an electrode conductor or a pipe opened.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from bondwright.network.build import Network
from bondwright.network.circuit import EARTH
from bondwright.network.runs import strands
from bondwright.site.model import PlaceKind
from bondwright.studies.hunt.instruments import Instrument, Quantity, instruments
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.ports import Port, across, is_there, through, within
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.settings import settings


@dataclass(frozen=True, slots=True)
class Candidate:
    """A reading that could be taken.

    Attributes:
        reading: what, where and with what; its value is none yet.
        sort: a sort of the table of costs.
        cost: against a clamp in an accessible place.
        how: what to do, in plain words.
        setup: what bringing the site into its state costs besides.
    """

    reading: Reading
    sort: str
    cost: float
    how: str
    setup: float = 0.0

    def trouble(self, *, stays: bool = False) -> float:
        """Return what it costs in all; less where the site is in its state already."""
        return settings().costs["each reading"] + self.cost + (0.0 if stays else self.setup)


def candidates(network: Network) -> tuple[Candidate, ...]:
    """Return every reading that may be asked for at a site, in normal running.

    Args:
        network: the site in normal running, with loads.
    """
    return tuple(
        item
        for make in (_clamps, _voltages, _loops, _earth_loops)
        for item in make(network)
        if all(is_there(network, port) for port, _ in item.reading.terms)
    )


def _loops(network: Network) -> Iterator[Candidate]:
    places = network.plan.site.places
    meter = instruments()["no-trip loop tester"]
    sort = "loop test at an outlet"
    for name, terminals in network.terminals.items():
        lines = [t for t in terminals if t.startswith("L")]
        if name in places and places[name].kind is PlaceKind.OUTLET and lines and "G" in terminals:
            line = lines[0]
            ends = [("G", "ground")] + ([("N", "neutral")] if "N" in terminals else [])
            for end, word in ends:
                how = f"loop test at {name}, {line} to its {word}, with a plug-in tester"
                term = ((across(f"{name}:{line}", f"{name}:{end}"), 1.0),)
                reading = bare(how, Quantity.LOOP, name, f"{line}-{end}", term, meter)
                yield Candidate(reading, sort, settings().costs[sort], how)


def _earth_loops(network: Network) -> Iterator[Candidate]:
    meter = instruments()["stakeless clamp"]
    sort = "clamp-on earth test"
    for electrode in network.plan.electrodes.values():
        how = f"earth tester clamped round the conductor of {electrode.id} at {electrode.at}"
        term = ((within(f"electrode conductor {electrode.id}", "metal"), 1.0),)
        reading = bare(how, Quantity.EARTH_LOOP, electrode.id, "", term, meter)
        yield Candidate(reading, sort, settings().costs[sort], how)
    for item in _clamps(network):
        where = item.reading.where
        if where in network.plan.site.metal:
            how = f"earth tester clamped round the metal {where}"
            reading = bare(how, Quantity.EARTH_LOOP, where, "", item.reading.terms, meter)
            yield Candidate(reading, sort, settings().costs[sort], how)


def bare(
    how: str,
    quantity: Quantity,
    where: str,
    of: str,
    terms: tuple[tuple[Port, float], ...],
    meter: Instrument,
) -> Reading:
    """Return a reading without a value yet, in normal running."""
    return Reading(
        0, how, quantity, where, of, terms, 0.0, meter.floor, False, Moment(), "loads on", meter
    )


def _clamps(network: Network) -> Iterator[Candidate]:
    plan = network.plan
    for electrode in plan.electrodes.values():
        port = within(f"electrode conductor {electrode.id}", "metal")
        yield _clamp(
            ((port, 1.0),),
            electrode.id,
            "",
            "clamp in an accessible place",
            f"clamp round the electrode conductor of {electrode.id} at {electrode.at}",
        )
    for section in network.circuit.sections:
        for name in section.names:
            owner = name if name.startswith("metal ") else section.id
            if owner.startswith("metal "):
                label = owner.removeprefix("metal ")
                if label in plan.site.metal:
                    yield _clamp(
                        ((within(section.id, name), 1.0),),
                        label,
                        "",
                        "clamp in an accessible place",
                        f"clamp round the metal {label}",
                    )
    for tie in plan.ties:
        yield _clamp(
            ((through(f"tie {tie.id}"), 1.0),),
            tie.id,
            "",
            "clamp with a cover off",
            f"clamp round the tie {tie.id}"
            + ("" if tie.id.endswith(f" at {tie.at}") else f" at {tie.at}"),
        )
    for run in plan.runs.values():
        if run.from_ in plan.site.sources:
            continue  # the utility's
        parts = strands(run)
        whole = tuple((within(f"run {run.id}", p.name), 1.0) for p in parts)
        way = f"{run.id} ({run.from_} to {run.to})"
        yield _clamp(
            whole,
            run.id,
            "all",
            "clamp in an accessible place",
            f"clamp round the whole cable or raceway {way}",
            net=True,
        )
        wires = tuple(
            (port, w) for (port, w), p in zip(whole, parts, strict=True) if p.terminal != "G"
        )
        if len(wires) < len(whole):
            yield _clamp(
                wires,
                run.id,
                "wires",
                "clamp with a cover off",
                f"clamp round lines and neutral together of {way}",
                net=True,
            )
        for word, label in (("N", "N"), ("G", "EGC"), *((line, line) for line in run.on)):
            own = tuple(
                (within(f"run {run.id}", p.name), 1.0)
                for p in parts
                if p.terminal == word and p.conductor is not None
            )
            if own:
                what = {"N": "the neutral", "G": "the bonding conductor"}.get(word, f"line {word}")
                yield _clamp(
                    own,
                    run.id,
                    label,
                    "clamp with a cover off",
                    f"clamp round {what} alone of {way}",
                )


def _voltages(network: Network) -> Iterator[Candidate]:
    places = network.plan.site.places
    for name, terminals in network.terminals.items():
        if name not in places:
            continue
        outlet = places[name].kind is PlaceKind.OUTLET
        sort = "voltage at an outlet" if outlet else "voltage with a cover off"
        lines = [t for t in terminals if t.startswith("L")]
        pairs = [("N", "G")] if {"N", "G"} <= set(terminals) else []
        pairs += [(line, "N") for line in lines if "N" in terminals]
        pairs += [(line, "G") for line in lines if "G" in terminals]
        for a, b in pairs:
            yield _voltage(name, f"{name}:{a}", f"{name}:{b}", f"{a}-{b}", sort, f"{a} to {b}")
        if "G" in terminals:
            yield _voltage(
                name,
                f"{name}:G",
                EARTH,
                f"G-{EARTH}",
                "voltage to a remote pin",
                "its metal to a pin in the soil some 10 m off",
            )


def _clamp(
    terms: tuple[tuple[Port, float], ...],
    where: str,
    of: str,
    sort: str,
    how: str,
    *,
    net: bool = False,
) -> Candidate:
    quantity = Quantity.NET_CURRENT if net else Quantity.CURRENT
    small = net or of in ("", "EGC")
    meter = instruments()["leakage clamp" if small else "load clamp"]
    reading = bare(how, quantity, where, of, terms, meter)
    return Candidate(reading, sort, settings().costs[sort], how)


def _voltage(place: str, a: str, b: str, of: str, sort: str, words: str) -> Candidate:
    meter = instruments()["pin voltmeter" if b == EARTH else "multimeter"]
    how = f"voltage at {place}, {words}"
    term = ((across(a, b), 1.0),)
    reading = bare(how, Quantity.VOLTAGE, place, of, term, meter)
    return Candidate(reading, sort, settings().costs[sort], how)
