"""Readings in states that somebody brings about: loads off, a known load on, the power off.

Switching off, unplugging and plugging in a heater lift no conductor. With every load off a line
that leaks still drives its current, and a tie too many does not; with one known load at a known
place every ampere has a known source.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from bondwright.network.build import Network
from bondwright.network.circuit import EARTH
from bondwright.plan.model import Plan
from bondwright.site.model import PlaceKind
from bondwright.studies.hunt.candidates import Candidate, bare, candidates
from bondwright.studies.hunt.instruments import DRIVEN, Quantity, instruments
from bondwright.studies.hunt.moments import Moment, plugged_in
from bondwright.studies.hunt.ports import across, is_there
from bondwright.studies.hunt.settings import settings

TEST_WATTS: Final = 1500.0
"""Power of the heater that is asked for, W."""

TEST_PLACES: Final = 24
"""Outlets at most at which a heater is asked for, spread over the site."""

_CLAMPED: Final = (Quantity.CURRENT, Quantity.NET_CURRENT)


def everything(network: Network, plan: Plan) -> tuple[Candidate, ...]:
    """Return every reading that may be asked for, in every state that may be asked for.

    Args:
        network: the site in normal running, with loads.
        plan: its plan.
    """
    return (
        *candidates(network),
        *with_main_off(network, plan),
        *with_loads_off(network),
        *with_test_load(network),
        *with_power_off(network),
    )


def with_main_off(network: Network, plan: Plan) -> tuple[Candidate, ...]:
    """Return the clamp readings on metal of candidates with a service's main switched off."""
    found = []
    for place in plan.topology.order:
        if f"main {place}" not in network.devices or place not in plan.topology.supply_side_places:
            continue
        moment = Moment(off=frozenset({place}))
        for item in candidates(network):
            metal = item.reading.where in plan.site.metal or item.reading.where in plan.electrodes
            if item.reading.quantity in DRIVEN:
                continue
            if metal or item.reading.of.endswith(f"-{EARTH}"):
                words = f"with the main of {place} switched off"
                found.append(_in_state(item, moment, f"{place} off", "main switched off", words))
    return tuple(found)


def with_loads_off(network: Network) -> tuple[Candidate, ...]:
    """Return readings with every load off at its own switch, or unplugged, and the supply on."""
    moment = Moment(loads=False)
    words = "with every load off at its own switch or unplugged, the supply on"
    return tuple(
        _in_state(item, moment, "no load", "loads switched off", words)
        for item in candidates(network)
        if _drives_current(item) or item.reading.of.endswith(f"-{EARTH}")
    )


def _drives_current(item: Candidate) -> bool:
    return item.reading.quantity in _CLAMPED and item.reading.of != "N"


def with_test_load(network: Network) -> tuple[Candidate, ...]:
    """Return readings with all loads off but a heater at one outlet.

    They are of the outlet, of everything between it and the source, and of ties and metal.
    """
    plan = network.plan
    outlets = [
        name
        for name in network.terminals
        if name in plan.site.places and plan.site.places[name].kind is PlaceKind.OUTLET
    ]
    step = max(1, -(-len(outlets) // TEST_PLACES))
    every = candidates(network)
    found: list[Candidate] = []
    for place in outlets[::step]:
        heater = plugged_in(network, place, TEST_WATTS)
        if heater is None:
            continue
        moment = Moment(loads=False, test=heater)
        state = f"no load; test load {TEST_WATTS / 1000:g} kW at {place}"
        words = f"with every load off but a {TEST_WATTS / 1000:g} kW heater plugged in at {place}"
        near = _way(plan, place)
        for item in every:
            quantity, of = item.reading.quantity, item.reading.of
            volts = quantity is Quantity.VOLTAGE and not of.endswith(f"-{EARTH}")
            net = quantity in _CLAMPED and of in ("", "wires", "all", "EGC")
            wide = (
                item.reading.where not in plan.runs and item.reading.where not in network.terminals
            )
            if (volts or net) and (wide or item.reading.where in near):
                found.append(_in_state(item, moment, state, "test load plugged in", words))
    return tuple(found)


def _way(plan: Plan, place: str) -> set[str]:
    """Return a place with all places and runs that feed it."""
    fed = {run.to: run for run in plan.runs.values()}
    near = {place}
    while place in fed and fed[place].from_ not in near:
        near |= {fed[place].id, fed[place].from_}
        place = fed[place].from_
    return near


def _in_state(item: Candidate, moment: Moment, state: str, setup: str, words: str) -> Candidate:
    reading = replace(item.reading, moment=moment, state=state)
    return replace(item, reading=reading, how=f"{item.how}, {words}", setup=settings().costs[setup])


def with_power_off(network: Network) -> tuple[Candidate, ...]:
    """Return continuity tests along bonding metal and across ties, with the power off."""
    meter = instruments()["low-ohm meter"]
    sort = "power off test"
    cost, setup = settings().costs[sort], settings().costs["power switched off"]
    found = []
    for place, a, b, words in dict.fromkeys(_ends(network)):
        port = across(a, b)
        if place not in network.terminals or not is_there(network, port):
            continue
        how = f"resistance, {words}, with the power off, locked out and proved dead"
        of = "N-G" if a.endswith(":N") else f"G-{b}"
        moment = Moment(power=False)
        reading = bare(how, Quantity.RESISTANCE, place, of, ((port, 1.0),), meter)
        reading = replace(reading, moment=moment, state="power off")
        found.append(Candidate(reading, sort, cost, how, setup))
    return tuple(found)


def _ends(network: Network) -> Iterator[tuple[str, str, str, str]]:
    """Yield place, two nodes and words of what is measured with the power off."""
    plan = network.plan
    for run in plan.runs.values():
        if run.from_ not in plan.site.sources:
            words = f"metal of {run.to} to metal of {run.from_}"
            yield run.to, f"{run.to}:G", f"{run.from_}:G", words
    tied = [tie.at for tie in plan.ties if tie.line is None]
    outlets = [n for n, p in plan.site.places.items() if p.kind is PlaceKind.OUTLET]
    for place in (*tied, *outlets):
        yield place, f"{place}:N", f"{place}:G", f"neutral to metal at {place}"
    for place in plan.topology.order:
        beside = [plan.runs[run].to for run in plan.topology.feeds.get(place, ())]
        for one, other in itertools.pairwise(beside):
            words = f"metal of {one} to metal of {other}"
            yield one, f"{one}:G", f"{other}:G", words
