"""Parts of the studies by themselves: heat, bands in arrays, metal in reach, arcs, readings."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.devices.band import Edge, TimeBand
from bondwright.devices.bands import band
from bondwright.earth.judged import Verdict as Read
from bondwright.network.build import build
from bondwright.network.circuit import EARTH
from bondwright.network.normal import normal_use
from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site import read
from bondwright.site.ranges import Unknown
from bondwright.studies.availability import available_at_places
from bondwright.studies.band_table import band_times, edge_times, times_of
from bondwright.studies.by_state import study_states
from bondwright.studies.fault_model import (
    DAMAGE_C,
    DAMAGE_IEC_C,
    Fault,
    FaultKind,
    damage_c,
    heated_s,
)
from bondwright.studies.faults import study_fault
from bondwright.studies.flows import Carrier
from bondwright.studies.heat import judge as judge_heat
from bondwright.studies.heat import wire_of
from bondwright.studies.heating import Heating
from bondwright.studies.judging import EXPLAINED, JOINT_OHM, QUIET_A, judge
from bondwright.studies.measuring import Measured, MeasuringPoint, Sense, Unit
from bondwright.studies.protection import duties
from bondwright.studies.reach import farthest
from bondwright.studies.scene import Scene, joins_of
from bondwright.studies.spread.draw import values_of
from bondwright.studies.supplies import Supply, supplies
from bondwright.studies.watching import is_loose, known_band, least_current, watch_of
from tests.iec_sites import plan_of
from tests.plan.sites import planned
from tests.studies.sites import BENCH, BENCH_SOURCE_OHM, OHM_PER_FT, SUBPANEL, WYE_SERVICE

# --- heat ------------------------------------------------------------------------------------


def borne(cmil: float, c: float, zero: float, start: float, end: float) -> float:
    """ICEA P-32-382: ``I2t = A2 C log10((T2 + K) / (T1 + K))``."""
    return cmil**2 * c * math.log10((end + zero) / (start + zero))


def test_temperatures_of_many_by_the_formula() -> None:
    """Copper (0.0297, 234) and aluminium (0.0125, 228) from 75 degC; 1083 and 657 degC melt."""
    found = Heating.at(75.0)
    part = np.array([0.0, 1.0, 0.5, 1.0, 1e9])
    metal = np.array([0, 0, 1, 1, 0])
    half = 303 * 10 ** (0.5 * math.log10(378 / 303)) - 228
    assert found.temperature(part, metal) == pytest.approx([75, 150, half, 150, math.inf])
    # what is just under melting is a temperature, what reaches it is not
    to_melt = math.log10((1083 + 234) / 309) / math.log10(384 / 309)
    just = found.temperature(np.array([to_melt * 0.9999, to_melt * 1.0001]), np.array([0, 0]))
    assert just[0] == pytest.approx(1083, abs=1)
    assert math.isinf(just[1])
    al = math.log10((657 + 228) / 303) / math.log10(378 / 303)
    assert math.isinf(found.temperature(np.array([al * 1.0001]), np.array([1]))[0])
    warm = Heating.at(160.0)
    assert warm.temperature(np.array([1.0]), np.array([0])) == pytest.approx([160], abs=1e-3)
    assert Heating.at(90.0, 250.0).temperature(np.array([1.0]), np.array([1])) == (
        pytest.approx([250])
    )


def test_one_conductor_by_the_formula() -> None:
    """12 AWG copper (6530 cmil) bears 119,500 A2s from 75 to 150 degC: 1093 A for 0.1 s."""
    wire = Conductor.parse("12 AWG Cu")
    allowed = borne(6530, 0.0297, 234, 75, 150)
    good = judge_heat(wire, 1000.0**2 * 0.1, 0.1, 75.0, None, "branch", "L1")
    assert (good.verdict, good.basis) == (Verdict.HOLDS, "adiabatic")
    assert (good.id, good.conductor, good.size) == ("branch", "L1", "12 AWG Cu")
    assert good.i2t == pytest.approx(1e5)
    assert good.allowed_i2t == pytest.approx(allowed)
    assert good.temperature == pytest.approx(309 * 10 ** (1e5 / 0.0297 / 6530**2) - 234)
    assert good.limit == DAMAGE_C == 150.0
    assert good.because.startswith("1e+05 A2 s is within")
    bad = judge_heat(wire, 2e5, 0.1, 75.0, None)
    assert bad.verdict is Verdict.FALLS_SHORT
    assert (bad.id, bad.conductor) == ("", "")
    melted = judge_heat(wire, 2e6, 0.1, 75.0, None)
    assert math.isinf(melted.temperature)
    assert judge_heat(wire, 0.0, 0.0, 75.0, None).verdict is Verdict.HOLDS


def test_what_a_limiting_device_lets_through_decides() -> None:
    wire = Conductor.parse("12 AWG Cu")
    found = judge_heat(wire, 5e5, 0.05, 75.0, 7000.0, limit=160.0)
    assert (found.verdict, found.basis, found.i2t) == (Verdict.HOLDS, "let-through", 7000.0)
    assert found.temperature == pytest.approx(309 * 10 ** (7000 / 0.0297 / 6530**2) - 234)
    assert found.allowed_i2t == pytest.approx(borne(6530, 0.0297, 234, 75, 160))
    assert found.limit == 160.0
    # from 0.1 s on the formula decides
    assert judge_heat(wire, 5e5, 0.1, 75.0, 7000.0).basis == "adiabatic"


def test_the_limit_and_the_time_are_those_of_the_rules() -> None:
    """NEC: 150 degC (ICEA). IEC 60364-5-54 table A.54.4: 160 degC, and 0.1 s of an edge is less."""
    here = planned(BENCH)
    assert (damage_c(here), heated_s(here, 0.1), heated_s(here, 0.3)) == (150.0, 0.1, 0.3)
    there = plan_of("cooperage")
    assert damage_c(there) == DAMAGE_IEC_C == 160.0
    assert 0.09 < heated_s(there, 0.1) < 0.1
    assert (heated_s(there, 0.11), heated_s(there, 0.09)) == (0.11, 0.09)


# --- bands at many currents ------------------------------------------------------------------

EDGES = [
    Edge(()),
    Edge(((10.0, 5.0),)),
    Edge(((10.0, 100.0), (100.0, 1.0), (100.0, 0.5), (1000.0, 0.02))),
    band(DeviceRating.parse("100 A breaker")).slow,
    band(DeviceRating.parse("C16")).slow,
    band(DeviceRating.parse("63 A gG fuse")).quick,
]


@pytest.mark.parametrize("edge", EDGES)
def test_times_of_many_currents_are_those_of_each(edge: Edge) -> None:
    marks = [current for current, _ in edge.points] or [10.0]
    amps = [0.0, *np.geomspace(1.0, 1e5, 57).tolist(), *marks]
    amps += [a * (1 + e) for a in marks for e in (-1e-9, 1e-9)]
    for before, one in ((True, edge.before), (False, edge.at)):
        found = edge_times(edge, np.array(amps), before=before)
        assert found == pytest.approx([one(a) for a in amps], rel=1e-9)
    square = np.array(amps[:4]).reshape(2, 2)
    assert edge_times(edge, square, before=False).shape == (2, 2)


def test_every_current_has_its_own_band() -> None:
    one = TimeBand(Edge(((10.0, 1.0),)), Edge(((20.0, 5.0),)))
    two = TimeBand(Edge(((10.0, 0.1),)), Edge(((10.0, 0.2),)))
    amps = np.array([15.0, 15.0, 25.0, 5.0])
    slow, fast = times_of([one, two], np.array([0, 1, 0, 1]), amps)
    assert slow.tolist() == [math.inf, 0.2, 5.0, math.inf]
    assert fast.tolist() == [1.0, 0.1, 1.0, math.inf]
    # the quick edge is never told later than the slow one
    late = TimeBand(Edge(((10.0, 3.0), (10.0, 1.0))), Edge(((10.0, 3.0), (10.0, 1.5))))
    assert [x.tolist() for x in band_times(late, np.array([10.0]))] == [[1.5], [1.5]]


# --- what is watched -------------------------------------------------------------------------


def test_a_breaker_is_loose_until_its_curve_is_known() -> None:
    for text, loose in (
        ("100 A breaker", True),
        ("100 A breaker, instantaneous 800 A", False),
        ("100 A breaker, curve mine", False),
        ("100 A fuse", False),
        ("B16", False),
    ):
        assert is_loose(DeviceRating.parse(text)) is loose


def test_least_currents() -> None:
    # 105 % of a breaker's rating (common practice); a fuse of UL class carries 110 %
    assert least_current(band(DeviceRating.parse("100 A breaker"))) == pytest.approx(105)
    assert least_current(TimeBand(Edge(((5.0, 2.0),)), Edge(((9.0, 3.0),)))) == 5.0
    assert least_current(TimeBand(Edge(((7.0, 2.0),)), Edge(()))) == 7.0
    assert least_current(TimeBand(Edge(()), Edge(()))) == math.inf


def test_devices_that_may_act() -> None:
    network = build(planned(SUBPANEL), loads=False)
    watch = watch_of(network)
    assert list(watch.names) == ["device feeder", "main main"]
    assert watch.depth == {"main main": 1, "device feeder": 1}
    rows = watch.rows.tolist()
    assert rows == [network.solver.switch_row[n] for n in ("device feeder L1", "main main L1")]
    # 30 A x 1.05 and 60 A x 1.05
    for amps, acts in (
        ((31.0, 62.0), [False, False]),
        ((31.0, 64.0), [False, True]),
        ((32.0, 62.0), [True, False]),
    ):
        assert watch.may_act(np.array(amps)).tolist() == acts


def test_a_curve_that_was_not_given_is_none() -> None:
    network = build(planned(SUBPANEL), loads=False)
    assert known_band(network, DeviceRating.parse("100 A breaker, curve mine")) is None
    assert known_band(network, DeviceRating.parse("7000 A breaker")) is None
    assert known_band(network, DeviceRating.parse("B16")) is not None


# --- metal in reach --------------------------------------------------------------------------


@pytest.mark.parametrize("count", [2, 3, 4, 5, 12, 60])
def test_the_farthest_two_of_some(count: int) -> None:
    """Against every pair."""
    dice = np.random.default_rng(count)
    at = dice.normal(size=count) * 30 + 1j * dice.normal(size=count) * 3
    points = [(f"p{k}", complex(z)) for k, z in enumerate(at)]
    found = farthest(points)
    assert found is not None
    most = max(abs(a - b) for a in at for b in at)
    volts = dict(points)
    assert found[0] == pytest.approx(most)
    assert abs(volts[found[1]] - volts[found[2]]) == pytest.approx(most)


def test_points_in_a_line_and_at_one_place() -> None:
    line = [(f"p{k}", complex(k, 2 * k)) for k in (3, 0, 5, 1, 4)]
    found = farthest(line)
    assert found is not None
    assert found[0] == pytest.approx(5 * math.sqrt(5))
    assert {found[1], found[2]} == {"p0", "p5"}
    same = farthest([(f"p{k}", 1 + 1j) for k in range(6)])
    assert same is not None
    assert same[0] == 0.0
    assert same[1] != same[2]
    assert farthest([("alone", 1j)]) is None
    assert farthest([]) is None


# --- faults ----------------------------------------------------------------------------------


def bench(**changes: Any) -> Any:
    return build(planned({**BENCH, **changes}), loads=False)


LOOP = BENCH_SOURCE_OHM + 2 * OHM_PER_FT["12 AWG Cu"] * 100 + 2 * OHM_PER_FT["6 AWG Cu"] * 1
"""Source, branch out and home, one foot of supply out and home, ohm (NEC chapter 9 table 8)."""


@pytest.mark.parametrize(("ohm", "arc"), [(0.0, 0.0), (0.5, 0.0), (0.0, 40.0), (0.1, 60.0)])
def test_a_fault_through_something(ohm: float, arc: float) -> None:
    """Ohm's law: 120 V over the loop and the fault, less the arc's volts."""
    fault = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", ohm, arc)
    scene = Scene(bench(), fault)
    solution = scene.solve()
    expected = (120 - arc) / (LOOP + ohm)
    assert scene.current(solution) == pytest.approx(expected, rel=5e-3)
    assert scene.resistance == pytest.approx(ohm + arc / expected, rel=5e-3)
    between = abs(solution.between("far:L1", "far:G"))
    assert between == pytest.approx(arc + ohm * expected, rel=5e-3, abs=1e-9)
    assert scene.settled


def test_an_arc_that_cannot_burn_goes_out() -> None:
    fault = Fault("far", FaultKind.LINE_TO_METAL, "L1", "G", arc=121.0)
    scene = Scene(bench(), fault)
    assert scene.current(scene.solve()) < 1e-6
    assert math.isinf(scene.resistance)


def test_a_fault_needs_its_terminals() -> None:
    with pytest.raises(ValueError, match=r"L3 to metal at far: there is no terminal 'far:L3'"):
        Scene(bench(), Fault("far", FaultKind.LINE_TO_METAL, "L3", "G"))


@pytest.mark.parametrize(
    ("fault", "words", "pairs", "metal"),
    [
        (
            Fault("a", FaultKind.LINE_TO_LINE, "L1", "L2"),
            "L1 to L2 at a",
            (("a:L1", "a:L2"),),
            False,
        ),
        (
            Fault("a", FaultKind.LINE_TO_METAL, "L1", "G"),
            "L1 to metal at a",
            (("a:L1", "a:G"),),
            True,
        ),
        (
            Fault("a", FaultKind.LINE_TO_EARTH, "L1", "earth"),
            "L1 to earth at a",
            (("a:L1", EARTH),),
            False,
        ),
        (
            Fault("a", FaultKind.THREE_LINES, "L1", "L2", also="L3"),
            "L1, L2 and L3 together at a",
            (("a:L1", "a:L2"), ("a:L2", "a:L3")),
            False,
        ),
        (
            Fault("a", FaultKind.SECOND_TO_METAL, "L1", "G", also="L2", also_at="b"),
            "L1 to metal at a, with L2 on the metal at b",
            (("a:L1", "a:G"), ("b:L2", "b:G")),
            True,
        ),
    ],
)
def test_what_a_fault_joins(fault: Fault, words: str, pairs: Any, *, metal: bool) -> None:
    assert (str(fault), joins_of(fault), fault.metal) == (words, pairs, metal)


def test_three_lines_through_a_resistance_are_a_star() -> None:
    """Balanced: each line has 120 V over the impedance of source and wires and one branch; the
    bolted fault has the same loop without it (a star of R is a triangle of 3 R)."""
    network = build(planned(WYE_SERVICE), loads=False)
    drawn = {}
    for ohm in (0.0, 0.2, 1.0):
        fault = Fault("main", FaultKind.THREE_LINES, "L1", "L2", ohm, also="L3")
        scene = Scene(network, fault)
        drawn[ohm] = scene.current(scene.solve())
        assert len(scene.joins(ohm)) == (3 if ohm else 2)
    z = 208 / math.sqrt(3) / drawn[0.0]
    # z is nearly a resistance and a reactance of one another: bounds, not a value
    for ohm in (0.2, 1.0):
        volts = 208 / math.sqrt(3)
        assert volts / (z + ohm) < drawn[ohm] < volts / math.hypot(z, ohm)


def test_the_way_of_a_fault_on_the_bench() -> None:
    """Out by the lines of supply and branch, home by the metal of the branch, the tie, and the
    neutral of the supply; the rod takes what 120 V less drops leave (next to nothing)."""
    found = study_fault(bench(), Fault("far", FaultKind.LINE_TO_METAL, "L1", "G"))
    told = [(s.way, s.carrier, s.id, s.conductor) for s in found.path if s.share > 0.5]
    assert told == [
        ("out", Carrier.RUN, "supply", "L1"),
        ("out", Carrier.RUN, "branch", "L1"),
        ("back", Carrier.RUN, "branch", "metal"),
        ("back", Carrier.TIE, "bond", "tie"),
        ("back", Carrier.RUN, "supply", "N"),
    ]
    for step in found.path:
        assert step.share == pytest.approx(step.amperes / found.current)
        assert step.share > 0.001
    assert found.current == pytest.approx(120 / LOOP, rel=5e-3)


def test_the_way_home_of_a_fault_between_line_and_neutral() -> None:
    found = study_fault(bench(), Fault("far", FaultKind.LINE_TO_NEUTRAL, "L1", "N"))
    assert [(s.way, s.id, s.conductor) for s in found.path if s.share > 0.5] == [
        ("out", "supply", "L1"),
        ("out", "branch", "L1"),
        ("back", "branch", "N"),
        ("back", "supply", "N"),
    ]


def test_what_is_available_at_each_place() -> None:
    """12 kA at the source; at the end of the wires 120 V over their loop (Ohm's law)."""
    network = bench()
    found = {one.place: one for one in available_at_places(network, duties(network))}
    assert list(found) == ["main", "far"]
    assert found["far"].available.current == pytest.approx(120 / LOOP, rel=5e-3)
    near = BENCH_SOURCE_OHM + 2 * OHM_PER_FT["6 AWG Cu"]
    assert found["main"].available.current == pytest.approx(120 / near, rel=5e-3)
    assert [duty.device for duty in found["main"].duties] == ["device branch", "main main"]
    for duty in found["main"].duties:
        assert duty.available == pytest.approx(found["main"].available.current, rel=1e-3)
    assert (found["main"].verdict, found["far"].verdict) == (Verdict.CANNOT_TELL, Verdict.HOLDS)
    assert (found["far"].duties, found["far"].of_motors, found["far"].state) == ((), 0.0, "")
    rated = bench(
        places={
            "main": {"kind": "service", "main": "60 A breaker, interrupts 5 kA"},
            "far": {"kind": "equipment"},
        }
    )
    worst = {one.place: one.verdict for one in available_at_places(rated, duties(rated))}
    assert worst["main"] is Verdict.FALLS_SHORT


def test_a_study_of_every_state() -> None:
    """The bench has one state, its normal one; loads are off unless they are asked for."""
    made = planned(SUBPANEL)
    quiet = study_states(made, lambda network: (network.state.id, network.loaded))
    assert [answer[1] for answer in quiet.values()] == [False]
    assert [answer[0] for answer in quiet.values()] == list(quiet)
    loud = study_states(made, lambda network: network.loaded, loads=True)
    assert list(loud.values()) == [True]
    assert study_states(made, lambda network: network, []) == {}


def test_what_circulates_is_the_root_of_squares() -> None:
    one = Supply("g", 0j, (), 0.0, ((3, 3.0), (9, 4.0)), None, ())
    assert one.circulating == pytest.approx(5.0)
    assert replace(one, harmonics=()).circulating == 0.0


# --- readings --------------------------------------------------------------------------------


def point(what: Measured, **changes: Any) -> MeasuringPoint:
    base = MeasuringPoint(
        "p", what, "x", "x", "", "", "low-ohm meter", Unit.OHM, 1.0, "", 2.0, Sense.AT_MOST, ""
    )
    return replace(base, **changes)


def test_how_much_a_description_explains() -> None:
    """A quarter over what was computed and 20 milliohm (our own choice), the error aside."""
    edge = EXPLAINED * 1.0 + JOINT_OHM
    assert edge == pytest.approx(1.27)
    for value, unexplained in ((edge - 0.001, False), (edge + 0.001, True)):
        found = judge(point(Measured.TIE), value, 0.0)
        assert (found.verdict, found.unexplained) == (Read.HOLDS, unexplained)
        assert any("more than a sound tie has" in words for words in found.words) is unexplained
    # its uncertainty is in its favour
    assert not judge(point(Measured.TIE), edge + 0.05, 0.06).unexplained
    assert judge(point(Measured.TIE), edge + 0.05, 0.04).unexplained


def test_much_less_than_computed_is_told_of_loops_and_electrodes_only() -> None:
    for what, told in (
        (Measured.ELECTRODE, "was it still joined to another one?"),
        (Measured.LOOP, "current has another way home"),
    ):
        low = judge(point(what), 0.49, 0.0)
        assert low.unexplained
        assert told in low.words[0]
        assert not judge(point(what), 0.51, 0.0).unexplained
        assert not judge(point(what), 0.49, 0.02).unexplained
    assert not judge(point(Measured.TIE), 0.1, 0.0).unexplained


def test_a_net_current_has_no_limit_but_an_expectation() -> None:
    where = point(Measured.NET_CURRENT, limit=None, expected=0.5, unit=Unit.AMPERE)
    quiet = judge(where, 0.5 + QUIET_A, 0.0)
    assert (quiet.verdict, quiet.unexplained) == (Read.CANNOT_TELL, False)
    assert quiet.words == (
        "no limit is known here; it is the difference from what was computed that counts",
    )
    loud = judge(where, 0.5 + QUIET_A + 0.01, 0.0)
    assert loud.unexplained
    assert "two circuits share a neutral" in loud.words[1]


def test_what_a_reading_is_held_against() -> None:
    short = judge(point(Measured.LOOP), 2.1, 0.0)
    assert (short.verdict, short.unexplained) == (Read.FALLS_SHORT, False)
    assert short.words[0].startswith("the device may not open in time")
    near = judge(point(Measured.CONTINUITY, expected=None), 2.0, 0.1)
    assert near.verdict is Read.CANNOT_TELL
    assert near.words == ("too near the limit for this instrument: read again with a finer one",)
    assert (near.value, near.uncertainty) == (2.0, 0.1)
    endless = judge(point(Measured.CONTINUITY), math.inf, 0.3)
    assert (endless.verdict, endless.uncertainty) == (Read.FALLS_SHORT, 0.0)
    unknown = judge(point(Measured.CONTINUITY, instrument="a thumb"), 1.0)
    assert unknown.uncertainty == 0.0
    for value in (-0.1, math.nan):
        with pytest.raises(ValueError, match="0 or more"):
            judge(point(Measured.TIE), value)
    assert judge(point(Measured.TIE), 0.0).verdict is Read.HOLDS


# --- samples ---------------------------------------------------------------------------------


def test_values_at_their_shares() -> None:
    """Evenly likely from 10 to 20: a quarter of the likelihood lies below 12.5."""
    from bondwright.site.reader import read

    text = (
        "site: x\nsources:\n  u: {system: 120 V, available: {current: 1 kA}}\n"
        "places:\n  m: {kind: service, main: 60 A}\n"
        "runs:\n  r: {from: u, to: m, length: 10..20 m, lines: 6 AWG Cu}\n"
    )
    from bondwright.site.ranges import unknowns

    (one,) = unknowns(read(text))
    assert isinstance(one, Unknown)
    shares = np.array([[0.0], [0.25], [1.0]])
    assert values_of([one], shares)[:, 0] == pytest.approx([10, 12.5, 20])
    assert values_of([one, one], np.array([[0.5, 0.75]])).tolist() == [pytest.approx([15.0, 17.5])]


def test_what_a_residual_element_ends_is_not_limited_by_the_fuse_of_its_breaker() -> None:
    """A class 3 breaker limits a fault that its own magnet ends, not one its RCD part ends."""
    from bondwright.studies.clearing import Course
    from bondwright.studies.fault_model import Opening
    from bondwright.studies.heat import _limited

    network = bench(
        runs={
            "supply": {"from": "bench", "to": "main", "length": "1 ft", "lines": "6 AWG Cu"},
            "branch": {
                "from": "main",
                "to": "far",
                "length": "100 ft",
                "lines": "12 AWG Cu",
                "egc": "12 AWG Cu",
                "device": "B16, RCD 30 mA, class 3, interrupts 6 kA",
            },
        }
    )
    device = network.devices["device branch"]
    opening = Opening("device branch", "main", str(device.rating), ("L1",), 300.0, 0.01, 0.1)

    def of(*openings: Opening, drawn: float = 0.0) -> tuple[float, float] | None:
        return _limited(network, Course(openings=list(openings), drawn=drawn))

    # EN 60898-1 table ZA.1 (from memory): B16 at 6 kA, 35,000 A2 s
    assert of(opening) == (300.0, 35_000.0)
    assert of(replace(opening, residual=True)) is None
    assert of(opening, drawn=10.0) is None
    assert of(opening, replace(opening, device="main main")) is None
    assert of() is None


# --- sources and electrodes by themselves ----------------------------------------------------

ON_ITS_OWN = """site: Press on a generator, Harrow Creek Cidery
generators:
  gen: {system: 120/240 V, rating: 12 kVA}
places:
  shed: {kind: panel, loads: [{on: L1-N, power: 1 kW}]}
runs:
  cord: {from: gen, to: shed, length: 30 ft, lines: 6 AWG Cu}
ties:
  strap: {at: gen, by: strap}
electrodes:
  rod: {kind: rod, at: shed, conductor: 6 AWG Cu}
"""


def test_a_generator_alone_without_a_device() -> None:
    """12 kVA / 240 V = 50 A; nothing can open, and no utility stands before it."""
    made = plan(read(ON_ITS_OWN))
    loaded = build(made)
    (one,) = supplies(loaded, normal_use(loaded).solution, {})
    assert one.rated == pytest.approx(50.0)
    network = build(made, loads=False)
    assert watch_of(network).may_act(np.zeros(0)).tolist() == []
    result = study_fault(network, Fault("shed", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert (result.ahead, result.utility, result.supply_side) == (("gen",), False, True)
    assert not result.cleared
    far = study_fault(bench(), Fault("far", FaultKind.LINE_TO_METAL, "L1", "G"))
    assert (far.ahead, far.utility, far.supply_side) == ((), True, False)


def test_the_wire_of_a_run_or_an_electrode_is_found_by_its_name() -> None:
    network = build(plan(read(ON_ITS_OWN)), loads=False)
    assert str(wire_of(network, "rod", "metal")) == "6 AWG Cu"
    assert str(wire_of(network, "cord", "L1")) == "6 AWG Cu"
    assert wire_of(network, "cord", "N") == network.plan.runs["cord"].neutral
    assert wire_of(network, "cord", "metal") == network.plan.runs["cord"].metal
    assert wire_of(network, "cord", "raceway") is None
    assert wire_of(network, "nothing", "metal") is None
