"""Readings in states that somebody brings about, and what they tell apart."""

from __future__ import annotations

import math
import random
from typing import Any

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from bondwright.explain.hunt import HEATER_CAUTION, lessons, tell_proposal
from bondwright.network.solve import Change, Solution
from bondwright.site.site_error import SiteError
from bondwright.studies.defects.alterations import Break
from bondwright.studies.hunt.candidates import Candidate
from bondwright.studies.hunt.information import information
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.moments import Moment, plugged_in
from bondwright.studies.hunt.next_reading import (
    Proposal,
    grouped,
    neutral_in_doubt,
    ports_of,
    propose,
)
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.settings import settings
from bondwright.studies.hunt.staged import everything, with_loads_off, with_test_load
from scripts.made_up import Truth, Wrong
from tests.studies.hunt.hunting import ask, hall, planned, table


def outlets() -> dict[str, Any]:
    """A hall whose panels feed an outlet each."""
    described = hall(2)
    for k in (1, 2):
        described["places"][f"O{k}"] = {
            "kind": "outlet",
            "loads": [{"on": f"L{k}-N", "power": "900 W"}],
        }
        described["runs"][f"C{k}"] = {
            "from": f"P{k}", "to": f"O{k}", "on": [f"L{k}"], "length": "60 ft",
            "device": "20 A breaker", "lines": "12 AWG Cu", "egc": "12 AWG Cu", "wiring": "cable",
        }  # fmt: skip
    described["places"]["saw"] = {"kind": "equipment", "loads": []}
    described["runs"]["C3"] = {
        "from": "P1", "to": "saw", "on": ["L1", "L2"], "length": "30 ft", "neutral": "none",
        "device": "20 A breaker", "lines": "12 AWG Cu", "egc": "12 AWG Cu", "wiring": "cable",
    }  # fmt: skip
    return described


SITE = planned(outlets())
NETWORK = network_at(SITE, Moment())
BOND = "main bonding jumper at main"


def solved(moment: Moment, *joins: tuple[str, str, float]) -> Solution:
    """The site in a state with some points joined."""
    network = network_at(SITE, moment)
    changes: list[Change] = [network.solver.join(a, b, ohms) for a, b, ohms in joins]
    if moment.test is not None:
        port = moment.test.port
        changes.append(network.solver.join(port.a, port.b, 1 / moment.test.siemens))
    return network.solver.solve(changes)


def bond(solution: Solution) -> float:
    return abs(solution.switch_current(f"tie {BOND}"))


LEAK = ("P1:L1", "P1:G", 30.0)
TIE = ("P1:N", "P1:G", 0.002)


def test_with_every_load_off_a_leak_stays_and_a_tie_does_not() -> None:
    """120 V over 30 ohm and a few tenths: 4 A (Ohm's law); a tie carries nothing without load."""
    assert bond(solved(Moment(loads=False), LEAK)) == pytest.approx(120 / 30.2, rel=0.02)
    assert bond(solved(Moment(loads=False), TIE)) < 1e-3


@pytest.mark.parametrize(("wrong", "kind"), [(LEAK, "line-leaks"), (TIE, "tie-added")])
def test_the_same_readings_without_load_tell_a_leak_from_a_tie(
    wrong: tuple[str, str, float], kind: str
) -> None:
    """Net current round the wires of the feeder, the jumper and line 1, with loads and without."""
    rows = ""
    for moment, state in ((Moment(), "loads on"), (Moment(loads=False), "no load")):
        solution = solved(moment, wrong)
        wires = sum(solution.conductor_current("run F1", name) for name in ("L1", "L2", "N"))
        line = abs(solution.conductor_current("run F1", "L1"))
        rows += f"net current,F1,wires,{abs(wires):.3f} A,{state},leakage clamp\n"
        rows += f"current,{BOND},,{bond(solution):.3f} A,{state},leakage clamp\n"
        if state == "no load":
            rows += f"current,F1,L1,{line:.3f} A,{state},leakage clamp\n"
    causes = ask(SITE, rows).causes
    assert sum(c.probability for c in causes if c.hypothesis.kind == kind) > 0.8


def test_a_leak_shows_on_one_clamp_with_every_load_off() -> None:
    """Among what would be asked, a clamp on the jumper without load parts the two best for one."""
    those = with_loads_off(NETWORK)
    jumper = [c for c in those if c.reading.where == BOND]
    assert len(jumper) == 1
    assert "off at its own switch" in jumper[0].how
    assert jumper[0].trouble() > jumper[0].trouble(stays=True)


def test_a_known_load_names_a_loose_neutral_that_no_load_shows() -> None:
    """12.5 A through 1 ohm are 12.5 V from neutral to ground (Ohm's law)."""
    heater = plugged_in(NETWORK, "O1", 1500.0)
    assert heater is not None
    assert 1 / heater.siemens == pytest.approx(120**2 / 1500, rel=0.05)
    network = network_at(SITE, Moment(loads=False))
    port = heater.port
    solution = network.solver.solve(
        [
            network.solver.join(port.a, port.b, 1 / heater.siemens),
            network.solver.insert("run C1", "N", 1.0),
        ]
    )
    volts = abs(solution.between("O1:N", "O1:G"))
    assert volts == pytest.approx(12.5, rel=0.15)
    state = "no load; test load 1.5 kW at O1"
    panel = abs(solution.between("P1:N", "P1:G"))
    rows = f"voltage,O1,N-G,{volts:.2f} V,{state},\nvoltage,P1,N-G,{panel:.2f} V,{state},\n"
    ranking = ask(SITE, rows)
    assert ranking.causes[0].id == "neutral-loose/C1"
    assert ranking.causes[0].size == pytest.approx(1.0, rel=0.3)


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ("test load 1.5 at O1", "names no test load"),
        ("test load 1.5 kW at O9", "which is no place"),
        ("test load 0 W at O1", "can have no test load"),
        ("test load 1.5 kW at saw", "can have no test load"),
    ],
)
def test_a_test_load_that_cannot_be(state: str, said: str) -> None:
    with pytest.raises(SiteError, match=said):
        table(SITE, f"voltage,O1,N-G,1 V,{state},\n")


def test_an_electrode_that_is_off_is_found_by_a_tester_clamped_round_its_conductor() -> None:
    """Sound: the rod and what it returns through in series (25 + 5 ohm); off: over range."""
    sound = ask(SITE, "earth loop,rod,,30 ohm,,\n")
    assert sound.causes[0].id == "nothing-wrong"
    # The jumper is the way back: without it the tester meets as little.
    one = ask(SITE, "earth loop,rod,,> 600 ohm,,\n")
    either = ("electrode-off/rod", f"tie-missing/{BOND}")
    assert {c.id for c in one.causes[:2]} == set(either)
    off = ask(SITE, "earth loop,rod,,> 600 ohm,,\nresistance,main,N-G,0 ohm,power off,\n")
    assert off.causes[0].id == "electrode-off/rod"
    assert off.causes[0].probability > 0.9
    assert sound.probability("electrode-off/rod") < 1e-3


def test_a_clamp_on_earth_tester_reads_electrodes_only() -> None:
    with pytest.raises(SiteError, match="no electrode or metal"):
        table(SITE, "earth loop,F1,,30 ohm,,\n")


def test_neighbours_that_touch_are_found_with_the_power_off() -> None:
    """Two outlets of one panel, through their bonding wires about 0.2 ohm, and touching."""
    described = outlets()
    described["runs"]["C2"]["from"] = "P1"
    site = planned(described)
    sound = ask(site, "resistance,O1,G-O2:G,0.19 ohm,power off,\n")
    touching = ask(site, "resistance,O1,G-O2:G,0.01 ohm,power off,\n")
    assert touching.causes[0].id == "contact/O1/O2"
    assert sound.probability("contact/O1/O2") < 0.02


def test_what_no_reading_has_touched_keeps_its_chance() -> None:
    """Bayes' rule: a reading that a defect doesn't move leaves its odds to "nothing wrong" alone.

    One earth loop that is as it should be says nothing of a circuit's open EGC.
    """
    data = settings()
    before = hunt(SITE, ())
    after = ask(SITE, "earth loop,rod,,30 ohm,,\n")
    for id in ("egc-open/F1", "egc-open/C2", "tie-added/O1", "line-leaks/O1/L1"):
        odds = [r.probability(id) / r.probability("nothing-wrong") for r in (before, after)]
        assert odds[1] == pytest.approx(odds[0], rel=0.05)
    assert before.probability("nothing-wrong") == pytest.approx(
        data.nothing / (data.nothing + data.unlisted + _listed(before)), rel=1e-6
    )


def _listed(ranking: Ranking) -> float:
    """Weight of the kinds that are possible on the site."""
    there = {c.hypothesis.kind for c in ranking.causes}
    return sum(weight for kind, weight in settings().weights.items() if kind in there)


@pytest.mark.parametrize("gap", [0.5, 1.0, 2.0, 4.0])
def test_information_is_that_of_two_normal_distributions(gap: float) -> None:
    """Against numerical integration of the mutual information of two equal normals."""

    def integrand(y: float) -> float:
        p = np.array([norm.pdf(y, 10.0), norm.pdf(y, 10.0 + gap)]) / 2
        mixed = float(p.sum())
        return float(sum(q * math.log2(2 * q / mixed) for q in p if q > 1e-300))

    due, _ = quad(integrand, 0, 30, points=[10.0, 10.0 + gap])
    got = information(
        ("a", "b"), np.array([0.5, 0.5]), np.array([[10.0], [10.0 + gap]]), np.ones((2, 1))
    )[0]
    assert got <= due + 1e-6
    assert got == pytest.approx(due, rel=0.15)


def test_a_hunt_that_starts_with_nothing_finds_an_electrode_off() -> None:
    """Nothing shows in normal use; what is asked, one after the other, comes to the electrode."""
    dice = random.Random(4)
    wrong = Wrong("", "electrode-off", "rod", (Break("electrode conductor rod", "metal"),))
    truth = Truth(SITE, (wrong,), (0.0,), 1.0, dice)
    those = everything(NETWORK, SITE)
    readings = list(table(SITE, "net current,F1,all,0.00 A,,leakage clamp\n"))
    ranking = hunt(SITE, readings, more=ports_of(those))
    asked: list[Candidate] = []
    for _ in range(16):
        proposals = propose(ranking, those, 1)
        if not proposals:
            break
        item = proposals[0].candidate
        asked.append(item)
        readings.append(truth.read(item.reading, len(readings) + 1))
        ranking = grouped(hunt(SITE, readings, more=ports_of(those)), those)
        if ranking.stands_out and ranking.causes[0].id != "nothing-wrong":
            break
    assert ranking.causes[0].id == "electrode-off/rod"
    assert any(c.reading.quantity is Quantity.EARTH_LOOP for c in asked)
    assert all(not c.reading.moment.lifted for c in asked)


def test_heaters_are_asked_for_where_a_plug_is() -> None:
    places = {c.reading.state.rpartition(" at ")[2] for c in with_test_load(NETWORK)}
    assert places == {"O1", "O2"}


def test_no_heater_is_asked_for_where_a_shared_neutral_may_be_open() -> None:
    """A feeder whose two legs part, 150 V and 90 V, has its neutral open: plug nothing more in."""
    those = everything(NETWORK, SITE)
    rows = "voltage,P1,L1-N,150 V,,\nvoltage,P1,L2-N,90 V,,\nvoltage,main,L1-N,120 V,,\n"
    ranking = hunt(SITE, table(SITE, rows), more=ports_of(those))
    assert neutral_in_doubt(ranking) > 0.5
    asked = propose(ranking, those, 20)
    assert asked
    assert all(p.candidate.reading.moment.test is None for p in asked)


def test_a_heater_comes_with_a_caution() -> None:
    (item, *_) = with_test_load(NETWORK)
    ranking = hunt(SITE, ())
    told = tell_proposal(Proposal(item, 1.0, 1.0, ()), ranking)
    assert told[-1] == HEATER_CAUTION
    assert "plug nothing in" in HEATER_CAUTION


def test_less_than_an_ohm_is_no_earth() -> None:
    """Below 1 ohm a clamped tester reads a metal loop (common practice)."""
    ranking = ask(SITE, "earth loop,rod,,0.3 ohm,,\n")
    assert any("loop of metal" in text for text in lessons(ranking, SITE))
