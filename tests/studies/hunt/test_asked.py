"""What may be asked for, told in words; states and rows of readings, cell by cell."""

from __future__ import annotations

import math
from functools import cache
from typing import Any

import pytest

from bondwright.network.build import Network
from bondwright.network.circuit import EARTH
from bondwright.site.site_error import SiteError
from bondwright.studies.hunt.candidates import Candidate, bare, candidates
from bondwright.studies.hunt.instruments import Quantity, instruments
from bondwright.studies.hunt.moments import Moment, nearest, plugged_in, read_moment
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.ports import across, through, within
from bondwright.studies.hunt.readings import Reading, read_readings
from bondwright.studies.hunt.settings import settings
from bondwright.studies.hunt.staged import (
    TEST_WATTS,
    with_loads_off,
    with_power_off,
    with_test_load,
)
from tests.studies.hunt.hunting import HEAD, hall, planned


def described() -> dict[str, Any]:
    """A hall with an outlet, a pipe, and a run in steel with a wire."""
    found = hall(2)
    found["places"]["P1"]["loads"] = [{"on": "L1-N", "power": "1 kW"}]
    found["places"]["bench"] = {"kind": "outlet"}
    found["runs"]["B1"] = {
        "from": "P1", "to": "bench", "length": "30 ft", "lines": "12 AWG Cu", "on": ["L1"],
        "egc": "12 AWG Cu", "device": "20 A breaker",
        "raceway": {"kind": "emt", "size": "1/2 in"},
    }  # fmt: skip
    found["metal"] = {
        "water": {
            "kind": "water pipe", "from": "main", "to": "P2", "length": "50 ft",
            "resistance": "20 mohm",
        }
    }  # fmt: skip
    return found


SITE = planned(described())
NETWORK = network_at(SITE, Moment())


@cache
def asked() -> dict[str, Candidate]:
    """Worked out when a test asks for it, so that the test reaches the code."""
    return {item.how: item for item in candidates(NETWORK)}


CLAMPED = {
    # what to do: (where, of, quantity, terms, instrument, sort)
    "clamp round the electrode conductor of rod at main": (
        "rod", "", "current", (within("electrode conductor rod", "metal"),), "leakage clamp",
        "clamp in an accessible place",
    ),
    "clamp round the whole cable or raceway F1 (main to P1)": (
        "F1", "all", "net current",
        tuple(within("run F1", n) for n in ("L1", "L2", "N", "metal")), "leakage clamp",
        "clamp in an accessible place",
    ),
    "clamp round lines and neutral together of F1 (main to P1)": (
        "F1", "wires", "net current", tuple(within("run F1", n) for n in ("L1", "L2", "N")),
        "leakage clamp", "clamp with a cover off",
    ),
    "clamp round the neutral alone of F1 (main to P1)": (
        "F1", "N", "current", (within("run F1", "N"),), "load clamp", "clamp with a cover off",
    ),
    "clamp round the bonding conductor alone of F1 (main to P1)": (
        "F1", "EGC", "current", (within("run F1", "metal"),), "leakage clamp",
        "clamp with a cover off",
    ),
    "clamp round line L2 alone of F1 (main to P1)": (
        "F1", "L2", "current", (within("run F1", "L2"),), "load clamp", "clamp with a cover off",
    ),
    "clamp round the bonding conductor alone of B1 (P1 to bench)": (
        "B1", "EGC", "current", (within("run B1", "metal"),), "leakage clamp",
        "clamp with a cover off",
    ),
    "clamp round the metal water": None,
    "earth tester clamped round the conductor of rod at main": (
        "rod", "", "earth loop", (within("electrode conductor rod", "metal"),), "stakeless clamp",
        "clamp-on earth test",
    ),
    "voltage at P1, N to G": (
        "P1", "N-G", "voltage", (across("P1:N", "P1:G"),), "multimeter",
        "voltage with a cover off",
    ),
    "voltage at bench, L1 to N": (
        "bench", "L1-N", "voltage", (across("bench:L1", "bench:N"),), "multimeter",
        "voltage at an outlet",
    ),
    "voltage at P2, L2 to G": (
        "P2", "L2-G", "voltage", (across("P2:L2", "P2:G"),), "multimeter",
        "voltage with a cover off",
    ),
    "voltage at main, its metal to a pin in the soil some 10 m off": (
        "main", "G-earth", "voltage", (across("main:G", EARTH),), "pin voltmeter",
        "voltage to a remote pin",
    ),
    "loop test at bench, L1 to its ground, with a plug-in tester": (
        "bench", "L1-G", "loop", (across("bench:L1", "bench:G"),), "no-trip loop tester",
        "loop test at an outlet",
    ),
    "loop test at bench, L1 to its neutral, with a plug-in tester": (
        "bench", "L1-N", "loop", (across("bench:L1", "bench:N"),), "no-trip loop tester",
        "loop test at an outlet",
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", CLAMPED)
def test_what_may_be_asked_for(how: str) -> None:
    item = asked()[how]
    assert item.reading.text == how
    if CLAMPED[how] is None:
        return
    where, of, quantity, ports, meter, sort = CLAMPED[how]  # type: ignore[misc]
    reading = item.reading
    assert (reading.where, reading.of, reading.quantity.value) == (where, of, quantity)
    assert reading.terms == tuple((port, 1.0) for port in ports)
    assert (reading.instrument.name, item.sort) == (meter, sort)
    assert item.cost == settings().costs[sort]
    assert (reading.number, reading.value, reading.over) == (0, 0.0, False)
    assert (reading.moment, reading.state) == (Moment(), "loads on")
    assert reading.sigma == instruments()[meter].floor


def test_nothing_is_asked_for_at_the_utilitys_conductors() -> None:
    assert not [how for how in asked() if "service (" in how]
    assert not [item for item in asked().values() if item.reading.where == "utility"]
    # a panel is no outlet: no loop test is asked for with its cover off
    assert {i.reading.where for i in asked().values() if i.reading.quantity is Quantity.LOOP} == {
        "bench"
    }
    # the pipe may be clamped, and an earth tester put round it
    pipes = [i for i in candidates(NETWORK) if i.reading.where == "water"]
    assert sorted(i.reading.quantity.value for i in pipes) == ["current", "earth loop"]
    assert {i.how for i in pipes} == {
        "clamp round the metal water",
        "earth tester clamped round the metal water",
    }


def test_a_tie_is_clamped_with_its_cover_off() -> None:
    (tie,) = SITE.ties
    (item,) = [i for i in asked().values() if i.reading.where == tie.id]
    assert item.reading.terms == ((through(f"tie {tie.id}"), 1.0),)
    assert item.sort == "clamp with a cover off"
    assert item.how.startswith(f"clamp round the tie {tie.id}")
    assert item.how.count(" at main") == 1


def test_trouble_is_a_reading_its_sort_and_the_state() -> None:
    meter = instruments()["load clamp"]
    reading = bare("x", Quantity.CURRENT, "a", "", (), meter)
    item = Candidate(reading, "s", 3.0, "x", 5.0)
    each = settings().costs["each reading"]
    assert item.trouble() == pytest.approx(each + 8.0)
    assert item.trouble(stays=True) == pytest.approx(each + 3.0)


# --- states ----------------------------------------------------------------------------------


def moment(text: str) -> tuple[Moment, list[tuple[str, str]]]:
    said: list[tuple[str, str]] = []
    return read_moment(text, NETWORK, lambda p, h: said.append((p, h))), said


def test_parts_of_a_state() -> None:
    found, said = moment("normal; loads on;;")
    assert (found, said) == (Moment(), [])
    found, said = moment("no load; power off; @ noon ; P1 off")
    assert said == [("'P1' has no main or device", "did you mean 'F1'?")]
    assert (found.loads, found.power, found.time) == (False, False, "noon")
    found, said = moment("F1 off; main off")
    assert (found.off, said) == (frozenset({"F1", "main"}), [])
    assert (found.loads, found.power, found.state, found.test) == (True, True, "", None)


def test_what_is_pulled_and_lifted() -> None:
    found, said = moment("P1 out; F2 neutral lifted; rod lifted")
    assert said == []
    assert found.lifted == {
        within("run B1", "L1"),
        within("run F2", "N"),
        within("electrode conductor rod", "metal"),
    }
    (tie,) = SITE.ties
    assert moment(f"{tie.id} lifted")[0].lifted == {through(f"tie {tie.id}")}
    for text, words in (
        ("bench out", "nothing leaves 'bench'"),
        ("F2 lifted", "'F2' is no electrode, tie, or '<run> neutral'"),
        ("F9 neutral lifted", "'F9 neutral' is no electrode"),
        ("meter pulled", "has a part that is not known: 'meter pulled'"),
    ):
        found, said = moment(text)
        assert found.lifted == frozenset()
        assert len(said) == 1
        assert said[0][0].startswith(words)
    assert said[0][1].startswith("one of no load, power off")


def test_a_heater_draws_its_watts_at_the_volts_there() -> None:
    """1.5 kW at the voltage of the first line to neutral: P = V^2 G."""
    found, said = moment("test load 1.5 kW at P2")
    assert said == []
    assert found.test is not None
    volts = abs(NETWORK.solver.solve().between("P2:L1", "P2:N"))
    assert found.test.port == across("P2:L1", "P2:N")
    assert found.test.siemens * volts**2 == pytest.approx(1500)
    assert 110 < volts < 120
    assert plugged_in(NETWORK, "rod", 1500) is None
    assert plugged_in(NETWORK, "utility", 100.0) is not None


@pytest.mark.parametrize(
    ("text", "problem", "hint"),
    [
        ("test load 5 at P2", "names no test load: ", "'test load 1.5 kW at <place>'"),
        ("test load 1 kW at P3", "has a test load at 'P3', which is no place", "did you mean 'P"),
        ("test load 0 W at P2", "can have no test load at 'P2'", "it needs a line, a neutral"),
    ],
)
def test_what_is_no_test_load(text: str, problem: str, hint: str) -> None:
    _, said = moment(text)
    assert len(said) == 1
    assert said[0][0].startswith(problem)
    assert said[0][1].startswith(hint)


def test_the_name_that_was_meant() -> None:
    assert nearest("panl", ["panel", "shed"]) == "did you mean 'panel'?"
    assert nearest("qqq", {"panel": 1}) == ""
    assert nearest("x", []) == ""


# --- rows ------------------------------------------------------------------------------------


def read(row: str, head: str = HEAD, network: Network = NETWORK, state: str = "") -> Reading:
    (found,) = read_readings(head + row, network, state=state)
    return found


def test_every_field_of_a_reading() -> None:
    head = "what,where,of,value,state,with,accuracy,noticed\n"
    one = read("current,F1,N,-10 A,P1 out,load clamp,2 % + 0.1 A,YES\n", head)
    assert (one.number, one.text, one.quantity) == (1, "current in N of F1", Quantity.CURRENT)
    assert (one.where, one.of, one.value) == ("F1", "N", 10.0)
    assert one.terms == ((within("run F1", "N"), 1.0),)
    assert one.sigma == pytest.approx(0.3 / math.sqrt(3))
    assert (one.over, one.noticed, one.state) == (False, True, "P1 out")
    assert one.moment.lifted == {within("run B1", "L1")}
    assert one.instrument.name == "load clamp"
    two = read("voltage,P1,L1-N,118 V,,\n", state="no load")
    assert (two.text, two.state, two.noticed) == ("voltage L1-N at P1", "no load", False)
    assert not two.moment.loads
    assert two.instrument.name == "multimeter"
    assert two.sigma == two.instrument.uncertainty(118.0)
    assert read("voltage,P1,L1-N,118 V,,\n").state == "loads on"


@pytest.mark.parametrize(
    ("row", "told", "terms"),
    [
        ("current,rod,,1 A", "current in rod", [within("electrode conductor rod", "metal")]),
        ("current,water,,1 A", "current in water", [within("run F2", "metal water")]),
        ("current,utility,,1 A", "current in utility", [within("electrode of utility", "z")]),
        ("net current,F1,all,1 A", "clamp round all of F1",
         [within("run F1", n) for n in ("L1", "L2", "N", "metal")]),
        ("net current,F1,,1 A", "clamp round the wires of F1",
         [within("run F1", n) for n in ("L1", "L2", "N")]),
        ("net current,F1,wires,1 A", "clamp round the wires of F1",
         [within("run F1", n) for n in ("L1", "L2", "N")]),
        ("current,B1,EGC,1 A", "current in EGC of B1", [within("run B1", "metal")]),
        ("current,B1,raceway,1 A", "current in raceway of B1", [within("run B1", "raceway")]),
        ("current,F2,L2,1 A", "current in L2 of F2", [within("run F2", "L2")]),
        ("earth loop,rod,,20 ohm", "earth tester clamped round the conductor of rod",
         [within("electrode conductor rod", "metal")]),
        ("voltage,P1,G-earth,1 V", "voltage G-earth at P1", [across("P1:G", EARTH)]),
        ("voltage,P1,G-P2:G,1 V", "voltage G-P2:G at P1", [across("P1:G", "P2:G")]),
        ("resistance,P1,N-G,1 ohm", "resistance N-G at P1", [across("P1:N", "P1:G")]),
        ("loop,bench,L1-G,1 ohm", "loop L1-G at bench", [across("bench:L1", "bench:G")]),
    ],
)  # fmt: skip
def test_where_a_reading_is_of(row: str, told: str, terms: list[Any]) -> None:
    found = read(f"{row},,\n")
    assert found.text == told
    assert found.terms == tuple((term, 1.0) for term in terms)


@pytest.mark.parametrize(
    ("row", "words", "hint"),
    [
        ("current,F1,raceway,1 A", "is no conductor of F1", "it has L1, L2, N, EGC"),
        ("current,B1,L2,1 A", "is no conductor of B1", "it has L1, N, EGC, raceway"),
        ("net current,F1,some,1 A", "is no bundle", "'wires' (lines and neutral) or 'all'"),
        ("current,F7,N,1 A", "is no run, tie, electrode or metal", "did you mean 'F"),
        ("earth loop,main,,1 ohm", "is no electrode or metal", ""),
        ("voltage,P1,L1-L7,1 V", "is not at P1", "its terminals are L1, L2, N, G"),
        ("voltage,P1,L1,1 V", "names no two points", "say, 'N-G'"),
        ("voltage,P1,L1-N,1 V,,load clamp", "does not read a voltage", ""),
        ("speed,P1,L1-N,1 V", "is nothing that can be read", "one of current, net current"),
    ],
)
def test_what_is_wrong_with_a_row(row: str, words: str, hint: str) -> None:
    with pytest.raises(SiteError) as caught:
        read(row + "," * (5 - row.count(",")) + "\n")
    (problem,) = caught.value.problems
    assert problem.problem == words
    assert (problem.hint or "").startswith(hint)


@pytest.mark.parametrize(
    ("accuracy", "noticed", "words"),
    [
        ("2 V", "", ""),
        ("0 %", "", "is no accuracy"),
        ("2 %", "perhaps", "is neither 'yes' nor 'no'"),
        ("much", "", ""),
    ],
)
def test_what_is_no_accuracy(accuracy: str, noticed: str, words: str) -> None:
    head = "what,where,of,value,accuracy,noticed\n"
    with pytest.raises(SiteError) as caught:
        read(f"current,F1,N,1 A,{accuracy},{noticed}\n", head)
    assert words in str(caught.value)


def test_an_accuracy_of_two_parts() -> None:
    """2 % of 10 A and 50 mA: half width 0.25 A, over sqrt(3) (JCGM 100:2008, 4.3.7)."""
    head = "what,where,of,value,accuracy\n"
    for text in ("2 % + 50 mA", "+-2 % + 50 mA", "± 2 % + 50 mA", "50 mA + 2 %"):
        assert read(f"current,F1,N,10 A,{text}\n", head).sigma == pytest.approx(0.25 / math.sqrt(3))


def test_a_table_of_nothing() -> None:
    with pytest.raises(SiteError, match="no readings") as caught:
        read_readings(HEAD, NETWORK, "r.csv")
    (problem,) = caught.value.problems
    assert (problem.file, problem.line, problem.column) == ("r.csv", 1, 1)
    assert problem.hint == "give at least one row under the heading"


# --- states that a proposal brings about -----------------------------------------------------


def test_a_heater_at_the_outlet() -> None:
    """Of the outlet and all between it and the source, and of ties and metal; nothing aside."""
    found = with_test_load(NETWORK)
    wheres = {item.reading.where for item in found}
    assert {"bench", "B1", "P1", "F1", "main", "rod", "water"} <= wheres
    assert not {"P2", "F2"} & wheres
    for item in found:
        reading = item.reading
        assert reading.state == f"no load; test load {TEST_WATTS / 1000:g} kW at bench"
        assert item.how.endswith("a 1.5 kW heater plugged in at bench")
        assert reading.moment.test is not None
        assert not reading.moment.loads
        assert item.setup == settings().costs["test load plugged in"]
        assert not reading.of.endswith("-earth")
    of = {(i.reading.where, i.reading.of) for i in found}
    assert {("F1", "all"), ("F1", "wires"), ("F1", "EGC"), ("rod", "")} <= of
    assert not {("F1", "N"), ("F1", "L1")} & of


def test_every_load_off() -> None:
    found = with_loads_off(NETWORK)
    for item in found:
        assert item.reading.state == "no load"
        assert item.reading.moment == Moment(loads=False)
        assert item.how.endswith(
            "with every load off at its own switch or unplugged, the supply on"
        )
        assert item.setup == settings().costs["loads switched off"]
    of = {(i.reading.where, i.reading.of) for i in found}
    assert {("main", "G-earth"), ("F1", "EGC"), ("F1", "L1"), ("rod", "")} <= of
    assert ("F1", "N") not in of
    assert ("P1", "N-G") not in of


def test_the_power_off() -> None:
    """Metal to metal along every run, neutral to metal at ties and outlets, neighbours."""
    found = {item.how: item for item in with_power_off(NETWORK)}
    tail = ", with the power off, locked out and proved dead"
    words = {how.removeprefix("resistance, ").removesuffix(tail): i for how, i in found.items()}
    assert set(words) == {
        "metal of P1 to metal of main",
        "metal of P2 to metal of main",
        "metal of bench to metal of P1",
        "neutral to metal at main",
        "neutral to metal at bench",
        "metal of P1 to metal of P2",
    }
    one = words["metal of P1 to metal of main"].reading
    assert (one.where, one.of, one.state) == ("P1", "G-main:G", "power off")
    assert one.terms == ((across("P1:G", "main:G"), 1.0),)
    assert one.moment == Moment(power=False)
    tie = words["neutral to metal at main"].reading
    assert (tie.of, tie.instrument.name) == ("N-G", "low-ohm meter")
    assert tie.quantity is Quantity.RESISTANCE
    for item in found.values():
        assert item.sort == "power off test"
        assert item.cost == settings().costs["power off test"]
        assert item.setup == settings().costs["power switched off"]
