"""The reduced circuit against the whole one, and slopes against differences."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from bondwright.network.build import Network
from bondwright.network.solve import Change, Injection, Solution
from bondwright.studies.defects.catalogue import changes_of, defects
from bondwright.studies.hunt.base import rows_of
from bondwright.studies.hunt.candidates import candidates
from bondwright.studies.hunt.hypotheses import Hypothesis, both, singles
from bondwright.studies.hunt.instruments import Instrument, Quantity
from bondwright.studies.hunt.likelihood import Model
from bondwright.studies.hunt.moments import Moment, plugged_in
from bondwright.studies.hunt.nuisance import Unknowns, View, network_at
from bondwright.studies.hunt.ports import Port
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.staged import with_power_off
from tests.studies.hunt.hunting import hall, planned

SITE = planned(hall(3, chain=True))
NETWORK = network_at(SITE, Moment())


@cache
def every() -> tuple[tuple[Hypothesis, ...], ...]:
    """Worked out when a test asks for it, so that the test reaches the code."""
    return singles(NETWORK)


@cache
def unknowns() -> Unknowns:
    return Unknowns(NETWORK, [""], {})


def model(moment: Moment) -> tuple[Model, list[Reading]]:
    chosen = candidates(NETWORK) if moment.power else with_power_off(NETWORK)
    readings = [replace(c.reading, instrument=ideal(c.reading), moment=moment) for c in chosen]
    ports = [port for r in readings for port, _ in r.terms]
    ports += [moment.test.port] if moment.test else []
    ports += [part.port for variants in every() for part in variants[0].parts]
    view = View(network_at(SITE, moment), ports, unknowns())
    rows = rows_of(view, readings, range(len(readings)), ())
    return Model(unknowns(), [rows], len(readings)), readings


def ideal(reading: Reading) -> Instrument:
    return replace(reading.instrument, input=float("inf"), phantom=0.0)


def exact(reading: Reading, changes: list[Change], solution: Solution) -> float:
    network = network_at(SITE, reading.moment)
    total = 0j
    for port, weight in reading.terms:
        if reading.quantity is Quantity.EARTH_LOOP:
            return loop_round(network, changes, port)
        if reading.quantity in (Quantity.RESISTANCE, Quantity.LOOP):
            test = Injection(port.b, port.a, 1.0)
            return abs(network.solver.solve(changes, [test], dead=True).between(port.a, port.b))
        if port.b == "switch":
            total += weight * solution.switch_current(port.a)
        elif port.gap:
            total += weight * solution.conductor_current(port.a, port.b)
        else:
            total += weight * solution.between(port.a, port.b)
    return abs(total)


def loop_round(network: Network, changes: list[Change], port: Port) -> float:
    """The loop that a tester clamped round a conductor drives: its ends, and it in series."""
    section = network.circuit.sections[network.solver.section_index[port.a]]
    k = section.names.index(port.b)
    own = network.solver.open_conductor(port.a, port.b)
    if any((change.u, change.v) == (own.u, own.v) for change in changes):
        return 1e9
    test = Injection(section.ends[k], section.starts[k], 1.0)
    solution = network.solver.solve([*changes, own], [test], dead=True)
    rest = solution.between(section.starts[k], section.ends[k])
    return abs(rest + complex(section.impedance[k, k]))


def floats(reading: Reading, changes: list[Change]) -> bool:
    """Say whether nothing holds the points of a voltage: what it reads then is no circuit's."""
    if reading.quantity is not Quantity.VOLTAGE:
        return False
    network = network_at(SITE, reading.moment)
    port = reading.terms[0][0]
    test = Injection(port.b, port.a, 1.0)
    return abs(network.solver.solve(changes, [test], dead=True).between(port.a, port.b)) > 1e5


HEATER = plugged_in(NETWORK, "P2", 1500.0)


@pytest.mark.parametrize(
    "moment",
    [
        Moment(),
        Moment(power=False),
        Moment(loads=False),
        Moment(loads=False, test=HEATER),
        Moment(test=HEATER),
    ],
    ids=["loads on", "power off", "no load", "a heater alone", "a heater besides"],
)
def test_every_catalogued_defect_reads_as_in_the_whole_circuit(moment: Moment) -> None:
    """Every reading under every single defect, against the network solved with its changes.

    An open conductor is 10 megohm here and nothing there; a swap loses the mutual impedance of
    what it moves, a part of the drop along one run.
    """
    known = {d.id: d for d in defects(NETWORK)}
    there = [v[0] for v in every() if v[0].id in known and not any(p.varies for p in v[0].parts)]
    assert len(there) > 10
    made, readings = model(moment)
    told = made.tell(there, slopes=False).size
    network = network_at(SITE, moment)
    for hypothesis, row in zip(there, told, strict=True):
        changes = list(changes_of(network, known[hypothesis.id]))
        if moment.test is not None:
            port, ohms = moment.test.port, 1 / moment.test.siemens
            changes.append(network.solver.join(port.a, port.b, ohms))
        solution = network.solver.solve(changes)
        swap = hypothesis.kind == "neutral-egc-swapped"
        for reading, value in zip(readings, row, strict=True):
            due = exact(reading, changes, solution)
            if due > 1e4:  # held by nothing but capacitance
                continue
            close = pytest.approx(due, rel=0.03 if swap else 1e-3, abs=0.1 if swap else 2e-2)
            assert value == close or floats(reading, changes)


def test_slopes_are_those_of_finite_differences() -> None:
    """Slopes of every reading by every fitted unknown, for three pairs of defects."""
    made, _ = model(Moment())
    dice = random.Random(3)
    made.moved = {"": np.arange(len(unknowns().loads))}
    chosen = [v[dice.randrange(len(v))] for v in every() if len(v) > 1][::6][:4]
    pairs = [both(a, b) for a, b in itertools.pairwise(chosen)]
    theta = np.array([[dice.gauss(0, 0.5) for _ in range(unknowns().fitted)] for _ in pairs])
    told = made.tell(pairs, theta)
    for k in range(unknowns().fitted):
        step = np.zeros(unknowns().fitted)
        step[k] = 1e-5
        up, down = (made.tell(pairs, theta + s * step, slopes=False).size for s in (1, -1))
        slope = (up - down) / 2e-5
        floor = 1e-3 * np.abs(told.slope).max()
        assert told.slope[:, :, k] == pytest.approx(slope, rel=2e-3, abs=floor)
