"""Measures the hunt: one line a figure. ``make bench`` runs it."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

from benchmarks.figure import Figure, seconds
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.studies.hunt.candidates import candidates
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.next_reading import ports_of, propose
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import hunt
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.staged import everything


def figures() -> Iterator[Figure]:
    """Measure a hunt over single and double defects of 100 places, and what is asked next."""
    site = plan(large_site(100, seed=4))
    network = network_at(site, Moment())
    place = "hall 1 LP1 outlet 2"
    solution = network.solver.solve([network.solver.join(f"{place}:N", f"{place}:G", 0.002)])
    dice = random.Random(1)

    def read(reading: Reading, number: int) -> Reading:
        exact = abs(
            sum(
                weight
                * (
                    solution.conductor_current(port.a, port.b)
                    if port.gap
                    else solution.between(port.a, port.b)
                )
                for port, weight in reading.terms
            )
        )
        meter = reading.instrument
        value = max(0.0, exact + dice.uniform(-1, 1) * (meter.relative * exact + meter.floor))
        return replace(reading, number=number, value=value, sigma=meter.uncertainty(value))

    every = candidates(network)
    those = [c for c in every if c.reading.of == "wires" and "LP1" in c.reading.where][:11]
    those += [c for c in every if (c.reading.where, c.reading.of) == (place, "N-G")]
    readings = [read(c.reading, k) for k, c in enumerate(those, 1)]
    found = []
    took = seconds(lambda: found.append(hunt(site, readings)), 3)
    if len(readings) != 12 or found[-1].causes[0].id != f"tie-added/{place}":
        raise RuntimeError("the hunt did not find the tie")
    yield Figure("hunt: 100 places, 12 readings, single and double defects", took, "s", 2)
    asked = everything(network, site)
    more = ports_of(asked)
    proposed = []

    def ask() -> None:
        proposed.append(propose(hunt(site, readings[:3], more=more), asked))

    took = seconds(ask, 1)
    if not proposed[-1]:
        raise RuntimeError("the hunt asks for nothing more after three readings")
    name = f"hunt: 100 places, 3 readings, and the next of {len(asked)} to take"
    yield Figure(name, took, "s", 10)
