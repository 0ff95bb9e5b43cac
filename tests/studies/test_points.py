"""Every thing there is to measure on a small rig, with what it should read worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from bondwright.network.build import build
from bondwright.plan.model import Purpose
from bondwright.rules.answer import Verdict
from bondwright.studies import measuring
from bondwright.studies.fault_model import FaultKind, FaultResult
from bondwright.studies.faults import possible_faults, study_fault
from bondwright.studies.measuring import Measured, MeasuringPoint, Sense, Unit, measuring_points
from bondwright.studies.stray import study_stray
from tests.iec_sites import FLAT, plan_of
from tests.plan.sites import Described, described, planned
from tests.studies.sites import OHM_PER_FT
from tests.studies.test_measuring import points_of

RIG: Described = {
    "site": "training rig",
    "describes": "as found",
    "rules": "nec-2023",
    "sources": {"bench": {"system": "120/240 V", "available": {"current": "2 kA"}}},
    "places": {
        "main": {
            "kind": "service",
            "main": "60 A breaker",
            "loads": [{"on": "L1-N", "power": "240 W"}],
        },
        "sub": {
            "kind": "panel",
            "main": "C32, RCD 30 mA",
            "loads": [{"on": "L1-N", "power": "1.2 kW"}],
        },
        "wrong": {"kind": "panel", "loads": [{"on": "L2-N", "power": "2.4 kW"}]},
        "switch": {"kind": "disconnect"},
        "oven": {
            "kind": "equipment",
            "loads": [{"on": "L1-L2", "power": "2.4 kW"}, {"on": "L1-N", "power": "120 W"}],
        },
        "saw": {"kind": "equipment"},
    },
    "runs": {
        "supply": {"from": "bench", "to": "main", "length": "10 ft", "lines": "6 AWG Cu"},
        "feeder": {
            "from": "main",
            "to": "sub",
            "length": "60 ft",
            "lines": "6 AWG Cu",
            "egc": "10 AWG Cu",
            "device": "30 A breaker",
        },
        "bad feeder": {
            "from": "main",
            "to": "wrong",
            "length": "50 ft",
            "lines": "8 AWG Cu",
            "egc": "10 AWG Cu",
            "device": "40 A breaker",
        },
        "knife": {
            "from": "sub",
            "to": "switch",
            "length": "20 ft",
            "lines": "10 AWG Cu",
            "egc": "10 AWG Cu",
            "device": "20 A breaker",
        },
        "oven branch": {
            "from": "sub",
            "to": "oven",
            "length": "40 ft",
            "lines": "10 AWG Cu",
            "egc": "12 AWG Cu",
            "device": "20 A breaker, GFCI",
        },
        "saw branch": {
            "from": "switch",
            "to": "saw",
            "length": "30 ft",
            "lines": "12 AWG Cu",
            "neutral": "none",
            "on": ["L1", "L2"],
            "egc": "12 AWG Cu",
        },
    },
    "ties": {
        "bond": {"at": "main", "by": "screw", "resistance": "1 mohm"},
        "stray screw": {"at": "wrong", "by": "bus", "resistance": "0 ohm"},
    },
    "electrodes": {
        "rod": {
            "kind": "rod",
            "at": "main",
            "resistance": "40 ohm",
            "conductor": "6 AWG Cu",
            "lead": "25 ft",
        },
    },
}

COLD = 1 + 0.00323 * (20 - 75)
"""From 75 to 20 degC by note 2 of NEC chapter 9, table 8."""


@pytest.fixture(scope="module")
def rig() -> dict[str, MeasuringPoint]:
    return points_of(planned(RIG))


def wire(size: str, feet: float) -> float:
    return OHM_PER_FT[f"{size} AWG Cu"] * feet * COLD


def test_all_there_is_to_measure_in_walking_order(rig: dict[str, MeasuringPoint]) -> None:
    """By place; at a place bonds, ties, neutrals, electrodes, loops, residual devices."""
    assert list(rig) == [
        "continuity: GEC rod", "continuity: EGC feeder", "continuity: EGC bad feeder",
        "tie: bond", "electrode: rod", "loop: main",
        "continuity: EGC knife", "continuity: EGC oven branch", "net current: feeder",
        "neutral apart: sub", "loop: sub", "residual: run oven branch", "residual: main of sub",
        "continuity: EGC saw branch", "net current: knife", "neutral apart: switch",
        "loop: switch",
        "loop: saw",
        "loop: oven",
        "net current: bad feeder", "neutral apart: wrong", "loop: wrong",
    ]  # fmt: skip
    assert list(rig) == [point.id for point in rig.values()]


@pytest.mark.parametrize(
    ("id", "place", "between", "ohm"),
    [
        ("feeder", "main", ("main", "sub"), wire("10", 60)),
        ("knife", "sub", ("sub", "switch"), wire("10", 20)),
        ("oven branch", "sub", ("sub", "oven"), wire("12", 40)),
        ("saw branch", "switch", ("switch", "saw"), wire("12", 30)),
        # The wrong tie puts the feeder's neutral beside its ground wire; 1 milliohm is the screw.
        (
            "bad feeder",
            "main",
            ("main", "wrong"),
            1 / (1 / wire("10", 50) + 1 / (wire("8", 50) + 0.001)),
        ),
    ],
)
def test_bonds(
    rig: dict[str, MeasuringPoint], id: str, place: str, between: tuple[str, str], ohm: float
) -> None:
    found = rig[f"continuity: EGC {id}"]
    assert found.expected == pytest.approx(ohm, rel=3e-3)
    assert found.why.startswith("by the circuit, cold")
    assert found.between == f"metal of {between[0]} and {between[1]}"
    assert (found.what, found.about, found.place) == (Measured.CONTINUITY, f"EGC {id}", place)
    assert (found.instrument, found.unit) == ("low-ohm meter", Unit.OHM)
    assert (found.limit, found.sense) == (0.5, Sense.AT_MOST)
    assert "acceptance testing" in found.source


def test_the_wire_to_the_rod_is_read_by_itself(rig: dict[str, MeasuringPoint]) -> None:
    found = rig["continuity: GEC rod"]
    assert found.expected == pytest.approx(wire("6", 25), rel=3e-3)
    assert found.why == "the conductor alone, cold"
    assert (found.between, found.place, found.limit) == ("main and rod", "main", 0.5)
    twice = points_of(planned(RIG, electrodes__rod__conductor="2 x 6 AWG Cu"))
    assert twice["continuity: GEC rod"].expected == pytest.approx(wire("6", 25) / 2, rel=3e-3)


def test_pairs_are_asked_in_blocks(
    rig: dict[str, MeasuringPoint], monkeypatch: pytest.MonkeyPatch
) -> None:
    for size in (1, 2, 5):
        monkeypatch.setattr(measuring, "_AT_ONCE", size)
        again = points_of(planned(RIG))
        assert list(again) == list(rig)
        for name, point in again.items():
            assert point.expected == pytest.approx(rig[name].expected), (size, name)


def test_the_tie_that_belongs(rig: dict[str, MeasuringPoint]) -> None:
    found = rig["tie: bond"]
    assert (found.what, found.about, found.place) == (Measured.TIE, "bond", "main")
    assert (found.expected, found.limit, found.sense) == (0.001, 0.1, Sense.AT_MOST)
    assert (found.instrument, found.unit) == ("low-ohm meter", Unit.OHM)
    assert found.between == "neutral and metal of main, from bar to bar"
    assert found.source == "common practice (from memory)"
    made = planned(RIG)
    for ohm, limit in ((0.1, 0.1), (0.1001, None)):
        ties = tuple(replace(tie, resistance=ohm) for tie in made.ties)
        (tie,) = measuring._ties(replace(made, ties=ties))
        assert (tie.expected, tie.limit) == (ohm, limit)
        assert bool(tie.source) is (limit is not None)
        assert ("grounding impedance" in tie.why) is (limit is None)


def test_neutrals_that_have_to_be_apart(rig: dict[str, MeasuringPoint]) -> None:
    """Nowhere but at panels and disconnects with a neutral; the wrong tie shows in the clamp."""
    for run, place in (("feeder", "sub"), ("knife", "switch"), ("bad feeder", "wrong")):
        net, apart = rig[f"net current: {run}"], rig[f"neutral apart: {place}"]
        assert (net.what, net.about, net.place) == (Measured.NET_CURRENT, run, place)
        assert (net.unit, net.instrument, net.limit) == (Unit.AMPERE, "leakage clamp", None)
        assert (net.state, net.sense, net.source) == ("normal load", Sense.AT_MOST, "")
        assert run in net.between
        assert (apart.what, apart.about, apart.place) == (Measured.NO_TIE, place, place)
        assert (apart.expected, apart.why, apart.limit) == (None, "", 1e6)
        assert (apart.sense, apart.unit) == (Sense.AT_LEAST, Unit.OHM)
        assert apart.instrument == "insulation tester"
        assert "500 V dc" in apart.source
    assert rig["net current: feeder"].expected == rig["net current: knife"].expected == 0
    # 2.4 kW at a little under 120 V; neutral and screw beside the ground wire (current divider).
    neutral, ground = (OHM_PER_FT[f"{size} AWG Cu"] * 50 for size in (8, 10))
    by_metal = 20 * (neutral + 0.001) / (neutral + 0.001 + ground)
    assert rig["net current: bad feeder"].expected == pytest.approx(by_metal, rel=0.04)


def test_a_clamp_round_two_sets_is_the_sum_of_phasors() -> None:
    """All conductors but the ground wire: as much as comes home by the ground wire."""
    made = planned(RIG, runs__bad_feeder__lines="2 x 8 AWG Cu")
    stray = study_stray(build(made))
    home = sum(f.current for f in stray.flows if f.id == "bad feeder" and f.terminal == "G")
    (point,) = [
        p
        for p in measuring._no_ties(made, stray)
        if p.what is Measured.NET_CURRENT and p.place == "wrong"
    ]
    assert abs(home) > 3
    assert point.expected == pytest.approx(abs(home), rel=1e-3)


def test_the_rod(rig: dict[str, MeasuringPoint]) -> None:
    """NEC 250.53(A)(2), exception: 25 ohm for one that stands alone, whatever it is made of."""
    found = rig["electrode: rod"]
    assert (found.what, found.about, found.place) == (Measured.ELECTRODE, "rod", "main")
    assert (found.expected, found.limit, found.sense) == (40.0, 25.0, Sense.AT_MOST)
    assert (found.instrument, found.unit) == ("fall of potential", Unit.OHM)
    assert found.between.startswith("rod and remote earth")
    assert found.state.startswith("power off, proved dead, locked; ")
    assert "NEC 250.53(A)(2)" in found.source
    two = points_of(
        planned(
            RIG,
            electrodes={
                "rod": RIG["electrodes"]["rod"],
                "pipe": {"kind": "water pipe", "at": "main", "resistance": "3 ohm"},
            },
        )
    )
    for name, ohm in (("rod", 40.0), ("pipe", 3.0)):
        assert two[f"electrode: {name}"].expected == ohm
        assert (two[f"electrode: {name}"].limit, two[f"electrode: {name}"].source) == (None, "")
    ring = {"kind": "ring", "at": "main", "resistance": "30 ohm", "conductor": "2 AWG Cu"}
    alone = points_of(planned(RIG, electrodes={"ring": ring}))
    assert (alone["electrode: ring"].expected, alone["electrode: ring"].limit) == (30.0, None)


@pytest.mark.parametrize(
    ("place", "device", "amps"),
    [
        # Slow edges of breakers at 5 s, as the bands of the devices have them.
        ("sub", "30 A breaker", 337), ("switch", "20 A breaker", 224), ("saw", "20 A breaker", 224),
        ("oven", "20 A GFCI breaker", 224), ("wrong", "40 A breaker", 500),
    ],
)  # fmt: skip
def test_loops(rig: dict[str, MeasuringPoint], place: str, device: str, amps: float) -> None:
    """The worst of two lines; 120 V over what opens the device that protects the run there."""
    found = rig[f"loop: {place}"]
    assert (found.what, found.about, found.place) == (Measured.LOOP, place, place)
    assert (found.instrument, found.unit) == ("loop tester", Unit.OHM)
    assert found.state.startswith("live, by a loop tester")
    assert found.source == f"{device} opens for sure within 5 s at {amps} A"
    assert found.limit == pytest.approx(120 / amps, rel=3e-3)
    quiet = build(planned(RIG), loads=False)
    loops = {
        f.a: study_fault(quiet, f).loop
        for f in possible_faults(quiet, (FaultKind.LINE_TO_METAL,))
        if f.place == place
    }
    assert found.expected == max(loops.values())
    line, _, rest = found.between.partition(" ")
    assert loops[line] == found.expected
    assert rest == f"and metal at {place}"


def test_loops_that_say_nothing_are_left_out(rig: dict[str, MeasuringPoint]) -> None:
    """Nothing ahead of the first device on site, of no other kind of fault, of no nearer place."""
    made = planned(RIG)
    quiet = build(made, loads=False)
    (base,) = [
        study_fault(quiet, f)
        for f in possible_faults(quiet, (FaultKind.LINE_TO_METAL,))
        if f.place == "saw" and f.a == "L1"
    ]

    def asked(*faults: FaultResult) -> list[tuple[str, float | None]]:
        points = measuring_points(made, faults, study_stray(build(made)))
        return [(p.place, p.expected) for p in points if p.what is Measured.LOOP]

    other = replace(base, fault=replace(base.fault, kind=FaultKind.LINE_TO_LINE), loop=9.0)
    ahead = replace(base, supply_side=True, loop=9.0)
    none = replace(base, loop=0.0)
    bench = replace(base, fault=replace(base.fault, place="bench"), loop=9.0)
    assert base.verdict is Verdict.HOLDS
    assert asked(other, ahead, none, bench) == []
    assert asked(other, ahead, none, bench, base) == [("saw", base.loop)]
    less, more = replace(base, loop=base.loop - 0.01), replace(base, loop=base.loop + 0.01)
    for order in ((base, less, more), (more, base, less), (less, more, base)):
        assert asked(*order) == [("saw", more.loop)]
    assert rig["loop: main"].limit is not None or rig["loop: main"].source == ""


def test_residual_devices(rig: dict[str, MeasuringPoint]) -> None:
    """6 mA of a class A GFCI (UL 943, from memory) on a branch, 30 mA of a main."""
    for name, place, amps in (
        ("run oven branch", "sub", 0.006),
        ("main of sub", "sub", 0.03),
    ):
        found = rig[f"residual: {name}"]
        assert (found.what, found.about, found.place) == (Measured.RESIDUAL, name, place)
        assert (found.limit, found.expected, found.unit) == (amps, None, Unit.AMPERE)
        assert found.instrument == "residual device tester"
        assert found.state.startswith("live, ")
        assert (found.sense, found.why) == (Sense.AT_MOST, "")
        assert f"device of {name}" in found.between
    moved = points_of(planned(described(RIG, places__main__main="60 A breaker, GFCI")))
    assert moved["residual: main of main"].place == "main"


def test_rules_of_other_countries_have_limits_of_their_own() -> None:
    """No half ohm and no 25 ohm there: those two are North America's."""
    found = points_of(plan_of(FLAT))
    bonds = [p for p in found.values() if p.what is Measured.CONTINUITY]
    assert bonds
    for point in bonds:
        assert (point.limit, point.source) == (None, "")
    for point in found.values():
        if point.what is Measured.ELECTRODE:
            assert point.limit is None
        assert point.expected is None or math.isfinite(point.expected)


def test_rows_that_are_no_bond_to_measure() -> None:
    """None of a tie (it has a reading of its own), of the utility, of what isn't there."""
    made = planned(RIG)
    dead = measuring._dead(made)
    row = next(row for row in made.schedule if row.id == "EGC knife")
    for no_bond in (
        replace(row, id="x", form="none"),
        replace(row, id="x", about="bond"),
        replace(row, id="x", about="bond", purpose=Purpose.METAL_BOND),
        replace(row, id="x", from_="bench"),
        replace(row, id="x", purpose=Purpose.NEUTRAL_BOND),
    ):
        (found,) = measuring._bonds(replace(made, schedule=(no_bond, row)), dead)
        assert found.about == "EGC knife"
    pipe = replace(row, id="pipe", purpose=Purpose.METAL_BOND, about="pipe", to="pipe")
    found, same = measuring._bonds(replace(made, schedule=(pipe, row)), dead)
    assert (found.expected, found.why, found.between) == (None, "", "sub and pipe")
    assert same.expected == pytest.approx(wire("10", 20), rel=3e-3)
    # A wire to an electrode of a size that no table has, or of none: nothing tells what it reads.
    lead = next(row for row in made.schedule if row.id == "GEC rod")
    (bare,) = measuring._bonds(replace(made, schedule=(replace(lead, chosen=None),)), dead)
    assert (bare.expected, bare.why) == (None, "")
