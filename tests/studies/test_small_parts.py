"""Small parts of the studies with numbers worked out by hand: what is available, what a source
gives, metal in reach, an open neutral, where a choice matters."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from bondwright.devices.band import Edge
from bondwright.network.build import Network, build, first_cycles
from bondwright.network.normal import normal_use
from bondwright.plan.alternatives import Alternative, Choice, ChoiceKind
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.site import read
from bondwright.site.states import states
from bondwright.studies import available
from bondwright.studies.alternatives import compare, farthest_fault
from bondwright.studies.availability import _worst, available_at_places
from bondwright.studies.available import (
    Available,
    _greatest,
    available_current,
    available_everywhere,
    availables,
    peak_factor,
)
from bondwright.studies.band_table import edge_times
from bondwright.studies.fault_model import heated_s
from bondwright.studies.loops import Via, study_loops
from bondwright.studies.open_neutral import OpenNeutral, Point, study_open_neutral, supply_runs
from bondwright.studies.protection import duties
from bondwright.studies.reach import groups, joined, metal_phasors, worst_pair
from bondwright.studies.supplies import supplies
from tests.iec_sites import FLAT, plan_of
from tests.network.test_motors import network as press_hall
from tests.network.test_parallel import closed, generators
from tests.network.test_parallel import network as parallel
from tests.plan.sites import SHOP, Described, described, planned
from tests.studies.sites import BENCH, DERIVED, OHM_PER_FT, SUBPANEL, WYE_SERVICE, network

# --- what is available -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("z", "factor"),
    [
        (0.3 + 1j, 1.02 + 0.98 * math.exp(-0.9)),
        (1 + 0.5j, 1.02 + 0.98 * math.exp(-6)),
        (0 + 2j, 2.0),
        (-0.1 + 2j, 2.0),
        (1 + 0j, 1.02),
        (1 - 1j, 1.02),
        (1.5 + 0.5j, 1.02 + 0.98 * math.exp(-9)),
    ],
)
def test_the_peak_by_the_published_formula(z: complex, factor: float) -> None:
    """IEC 60909-0: ``1.02 + 0.98 exp(-3 R/X)``."""
    assert peak_factor(z) == pytest.approx(factor, rel=1e-12)


def star(lines: list[complex], others: list[complex], volts: list[complex]) -> Available:
    """Ask for the greatest current of branches that meet in one point.

    Args:
        lines: impedance of each line, ohm.
        others: of neutral and metal.
        volts: of each line to the point, V; neutral and metal have none.
    """
    z, e = [*lines, *others], [*volts, *(0j for _ in others)]
    # Between the first and another: both in series; two such ports share the first.
    ports = np.full((len(z) - 1, len(z) - 1), z[0]) + np.diag(z[1:])
    names = (
        tuple(f"x:L{k + 1}" for k in range(len(lines))),
        ("x:N", "x:G")[: len(others)],
    )
    return _greatest(names, ports, np.array([e[0] - other for other in e[1:]]))


TURN = np.exp(-2j * np.pi / 3)
THREE = [120 + 0j, 120 * TURN, 120 * TURN**2]


@pytest.mark.parametrize(
    ("lines", "others", "volts", "amps", "between", "loop"),
    [
        # A balanced star: V / Z in each line, more than two lines or a line and the neutral give.
        ([0.03 + 0.04j] * 3, [0.1, 0.2], THREE, 2400, "three lines", 0.03 + 0.04j),
        # A neutral of far less: 120 / (0.1 + 0.01) A, more than 120 / 0.1.
        ([0.1j] * 3, [-0.01j, 0.2j], THREE, 120 / 0.09, "L1 and N", 0.09j),
        ([0.1j] * 3, [0.2j, -0.02j], THREE, 120 / 0.08, "L1 and G", 0.08j),
        # One line of less impedance than the others: from it to the neutral.
        ([0.1j, 0.1j, 0.02j], [0.01j], THREE, 120 / 0.03, "L3 and N", 0.03j),
        # Split phase: 240 V over both lines, or 120 V over one and the neutral.
        ([0.1, 0.1], [0.05], [120, -120], 1200, "L1 and L2", 0.2),
        ([0.1, 0.05], [0.01], [120, -120], 120 / 0.06, "L2 and N", 0.06),
        # A line and metal, no other.
        ([0.3 + 0.1j], [0.2 + 0.1j], [120], 120 / abs(0.5 + 0.2j), "L1 and N", 0.5 + 0.2j),
        # Two lines of a delta.
        ([0.2j, 0.2j], [], [240, 0], 600, "L1 and L2", 0.4j),
    ],
)
def test_the_greatest_current_by_hand(
    lines: list[complex],
    others: list[complex],
    volts: list[complex],
    amps: float,
    between: str,
    loop: complex,
) -> None:
    found = star(lines, others, volts)
    assert found.current == pytest.approx(amps)
    assert found.between == between
    assert found.peak == pytest.approx(math.sqrt(2) * peak_factor(loop) * amps)


def test_one_line_of_three_with_less_gives_the_most_of_a_fault_of_all() -> None:
    """Star of unequal lines: the point between is where the currents sum to nothing (Kirchhoff)."""
    z = np.array([0.1, 0.1, 0.05])
    e = np.array(THREE)
    middle = (e / z).sum() / (1 / z).sum()
    due = np.abs((e - middle) / z)
    pairs = [abs(e[a] - e[b]) / (z[a] + z[b]) for a, b in ((0, 1), (0, 2), (1, 2))]
    assert due.max() > max(pairs)
    found = star(list(z.astype(complex)), [], THREE)
    assert found.current == pytest.approx(due.max())
    assert found.between == "three lines"


def test_where_nothing_can_flow_nothing_is_available() -> None:
    assert star([0j, 0j], [], [120, -120]) == Available()
    assert star([0.1j] * 3, [0.1j], [0j] * 3).current == 0


def test_places_side_by_side_whatever_the_size_of_a_block(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    site = network(DERIVED)
    heads = {name: name for name in site.plan.topology.order}
    whole = availables(site, heads)
    assert list(whole) == list(heads)
    for size in (1, 2):
        monkeypatch.setattr(available, "_AT_ONCE", size)
        again = availables(site, heads)
        for name, one in whole.items():
            assert again[name].current == pytest.approx(one.current)
            assert again[name].peak == pytest.approx(one.peak)
    assert availables(site, {"nowhere": "main", "main": "nowhere"})["nowhere"] == Available()
    without = availables(site, {"main": "nowhere"})["main"]
    assert without.current == pytest.approx(available_current(site, "main", "nowhere").current)


def test_ahead_of_a_main_and_behind_it() -> None:
    """A main opens nothing here: as much on either side of it, and both are told."""
    site = network(DERIVED)
    found = available_everywhere(site)
    assert set(found) == {"utility", "main", "main/in", "T1", "LP", "LP/in", "saw"}
    assert found["main"].current == pytest.approx(found["main/in"].current, rel=1e-6)
    # 20 kA less what 50 ft of 500 kcmil take.
    assert 15_000 < found["main"].current < 20_000


def test_running_motors_are_told_beside_what_the_supply_gives() -> None:
    site = press_hall()
    with_, without = (
        available_current(n, "press", "press").current for n in (first_cycles(site), site)
    )
    (press,) = [one for one in available_at_places(site, duties(site)) if one.place == "press"]
    assert press.available.current == pytest.approx(with_)
    assert press.of_motors == pytest.approx(with_ - without)
    assert press.of_motors > 500
    assert press.duties == ()
    bus = next(one for one in available_at_places(site, duties(site)) if one.place == "bus")
    assert [duty.device for duty in bus.duties] == ["device branch"]


def test_what_is_off_is_no_place_where_something_is_available() -> None:
    """On the generator alone the service is dead."""
    made = plan(read(closed()))
    alone = next(s for s in states(made.site) if s.id == "on generator")
    site = build(made, loads=False, state=alone)
    found = [one.place for one in available_at_places(site, [])]
    assert "main" not in found
    assert {"switch", "panel"} <= set(found)
    assert not set(found) & set(made.site.sources)


def test_the_worst_of_several_ratings() -> None:
    site = network(WYE_SERVICE)
    (duty, *_) = duties(site)

    def of(*verdicts: Verdict) -> Verdict:
        judged = [
            replace(duty, judgement=replace(duty.judgement, verdict=each.value))
            for each in verdicts
        ]
        return _worst(judged)

    good, short, unknown = Verdict.HOLDS, Verdict.FALLS_SHORT, Verdict.CANNOT_TELL
    assert of() is of(good) is of(good, good) is good
    assert of(good, unknown) is of(unknown, good) is unknown
    assert of(unknown, short, good) is of(short, unknown) is of(short) is short


def test_a_device_is_judged_by_the_most_at_its_place() -> None:
    """10 kA by its own duty, 14 kA at the place: what it bears is asked of the 14 kA."""
    site = network(WYE_SERVICE, places__main__main="200 A breaker, interrupts 12 kA")
    (main,) = [each for each in duties(site) if each.device == "main main"]
    low = replace(main, available=5000.0)
    (found,) = [one for one in available_at_places(site, [low]) if one.place == "main"]
    assert found.duties[0].available == found.available.current
    assert found.duties[0].device == "main main"
    more = replace(main, available=50_000.0)
    (kept,) = [one for one in available_at_places(site, [more]) if one.place == "main"]
    assert kept.duties == (more,)
    strange = replace(low, device="nothing")
    (same,) = [one for one in available_at_places(site, [strange]) if one.place == "main"]
    assert same.duties == (strange,)


# --- what sources give -------------------------------------------------------------------------


def test_a_generator_alone_and_a_utility_that_is_off() -> None:
    """120 kW at 0.85 from 480 V: 169.8 A in each line; 10 kW to the neutral bring 36 A more."""
    site = parallel(closed(), "on generator", loads=True)
    solution = normal_use(site).solution
    (gen,) = supplies(site, solution, {3: solution, 5: solution})
    assert (gen.name, gen.beside) == ("gen", ())
    phase, lone = 480 / math.sqrt(3), 10e3 / 277
    of_all = 120e3 / 0.85 / 3 / phase
    first = abs(of_all * np.exp(-1j * math.acos(0.85)) + lone)
    # A twentieth less voltage: loads of constant impedance draw that much less.
    low = abs(solution.voltage("panel:L2")) / phase
    assert 0.95 < low < 1
    assert gen.amperes == pytest.approx(np.array([first, of_all, of_all]) * low, rel=0.01)
    assert gen.power == pytest.approx(
        (130e3 + 1j * 120e3 * math.tan(math.acos(0.85))) * low**2, rel=0.01
    )
    assert gen.neutral == pytest.approx(lone * low, rel=0.01)
    assert gen.rated == pytest.approx(250e3 / math.sqrt(3) / 480)
    assert [order for order, _ in gen.harmonics] == [3, 5]
    both = parallel(closed(), "changing over", loads=True)
    found = supplies(both, normal_use(both).solution, {})
    assert [(one.name, one.beside) for one in found] == [
        ("utility", ("gen",)),
        ("gen", ("utility",)),
    ]
    assert found[0].rated is None


def test_what_comes_home_by_the_neutral() -> None:
    """10 kW between a line and the neutral of 480Y/277 V, beside 120 kW of three lines."""
    site = parallel(generators(), loads=True)
    solution = normal_use(site).solution
    one, two = supplies(site, solution, {9: solution})
    # Only the first has its neutral tied and joined: all of it comes home there, or by both.
    assert one.neutral + two.neutral == pytest.approx(10e3 / 277, rel=0.05)
    for each in (one, two):
        ((order, amps),) = each.harmonics
        assert order == 9
        assert amps == pytest.approx(each.neutral)
        assert each.circulating == pytest.approx(each.neutral)


def test_a_delta_has_no_neutral_and_a_single_phase_source_one_current() -> None:
    loads = {
        "main": {"kind": "service", "main": "200 A", "loads": [{"on": "L1-L2", "power": "9.6 kW"}]}
    }
    delta: Described = {
        "site": "mill",
        "sources": {"utility": {"system": "480 V delta", "available": {"current": "10 kA"}}},
        "places": loads,
        "runs": {"s": {"from": "utility", "to": "main", "length": "9 ft", "lines": "1 AWG Cu"}},
        "electrodes": {"rod": {"kind": "rod", "at": "main", "conductor": "6 AWG Cu"}},
    }
    site = network(delta, loads=True)
    solution = normal_use(site).solution
    (one,) = supplies(site, solution, {3: solution})
    assert one.amperes == pytest.approx((20, 20, 0), abs=0.1)
    assert (one.neutral, one.harmonics, one.circulating, one.rated) == (0.0, (), 0.0, None)
    assert one.power == pytest.approx(9600, rel=0.01)
    house = network(SUBPANEL, loads=True)
    (bench,) = supplies(house, normal_use(house).solution, {})
    assert bench.amperes == pytest.approx((10,), rel=0.03)
    assert bench.neutral == pytest.approx(10, rel=0.03)


# --- metal in reach ----------------------------------------------------------------------------


def two_buildings() -> Network:
    return network(
        WYE_SERVICE,
        places__main__building="hall",
        places__panel__building="hall",
        places__press__building="barn",
        places__shed={"kind": "panel", "building": "barn"},
        places__post={"kind": "disconnect"},
        runs__shed_run={
            "from": "press", "to": "shed", "length": "10 ft", "lines": "12 AWG Cu",
        },
        runs__post_run={
            "from": "main", "to": "post", "length": "10 ft", "lines": "12 AWG Cu", "device": "20 A",
        },
    )  # fmt: skip


def test_metal_of_a_building_and_along_runs() -> None:
    """In reach by the building they are in, or by the run between them; nothing else is."""
    site = two_buildings()
    assert {frozenset(group) for group in groups(site)} == {
        frozenset({"main", "panel"}),
        frozenset({"press", "shed"}),
    }
    assert set(joined(site)) == {
        ("main", "panel"), ("panel", "press"), ("press", "shed"), ("main", "post"),
    }  # fmt: skip
    # In one building 3 V, along the run out of it 4 V; 50 V between what nobody touches at once.
    volts: dict[str, complex] = {"main": 0, "panel": 3, "press": 7j, "shed": 5j, "post": 1}

    def worst(**changes: complex) -> tuple[str, str, float]:
        found = worst_pair(site, {**volts, **changes}, 0.2)
        assert found is not None
        assert found.verdict.time_s == 0.2
        return found.a, found.b, round(found.verdict.voltage_v, 6)

    assert worst() == ("panel", "press", round(abs(3 - 7j), 6))
    assert worst(shed=50j)[2] == 43
    assert set(worst(shed=50j)[:2]) == {"press", "shed"}
    assert worst(main=-40) == ("main", "panel", 43)
    assert worst(post=60) == ("main", "post", 60)
    assert worst_pair(site, {"main": 1}, 1.0) is None
    assert worst_pair(site, {}, 1.0) is None
    # A building's own pair is told before a run's of as much.
    even = worst_pair(site, {"main": 0, "panel": 5, "press": 10}, math.inf)
    assert even is not None
    assert {even.a, even.b} == {"main", "panel"}
    # A run whose end has no metal says nothing and ends nothing.
    some = worst_pair(site, {"panel": 1, "press": 3, "shed": 9}, 1.0)
    assert some is not None
    assert (some.a, some.b) in {("press", "shed"), ("shed", "press")}


def test_metal_is_told_where_there_is_some() -> None:
    site = two_buildings()
    solution = site.solver.solve([site.solver.join("press:L1", "press:G")])
    found = metal_phasors(site, solution)
    assert set(found) >= {"main", "panel", "press", "shed", "post"}
    for name, volts in found.items():
        assert volts == solution.voltage(f"{name}:G")
    assert abs(found["press"]) > 40


# --- loops -------------------------------------------------------------------------------------


def test_every_step_of_a_loop() -> None:
    """Off the neutral by one tie, along the ground wire, by the other tie home."""
    found = study_loops(network(SUBPANEL, loads=True))
    loop = next(one for one in found.loops if one.current.flow.id == "feeder")
    steps = [(s.via, s.id, s.conductor, s.from_, s.to) for s in loop.steps]
    way = [
        (Via.TIE, "stray screw", "", "sub", "sub"),
        (Via.METAL, "feeder", "metal", "sub", "main"),
        (Via.TIE, "bond", "", "main", "main"),
        (Via.NEUTRAL, "feeder", "N", "main", "sub"),
    ]
    back = [
        (Via.TIE, "bond", "", "main", "main"),
        (Via.METAL, "feeder", "metal", "main", "sub"),
        (Via.TIE, "stray screw", "", "sub", "sub"),
        (Via.NEUTRAL, "feeder", "N", "sub", "main"),
    ]
    assert steps in (way, back)
    assert loop.closed_by in (("stray screw", "bond"), ("bond", "stray screw"))
    assert loop.closed_by[0] == steps[0][1]


def test_every_step_of_a_loop_by_the_earth() -> None:
    rod = {"kind": "rod", "resistance": "25 ohm", "conductor": "6 AWG Cu"}
    base = described(
        SUBPANEL,
        electrodes={"rod": {**rod, "at": "main"}, "sub rod": {**rod, "at": "sub"}},
        places__sub={"kind": "panel", "loads": [{"on": "L1-N", "power": "6 kW"}]},
        runs__feeder__egc="none",
    )
    found = study_loops(network(base, loads=True))
    loop = next(one for one in found.loops if one.current.flow.id == "sub rod")
    steps = [(s.via, s.id, s.conductor, s.from_, s.to) for s in loop.steps]
    assert steps == [
        (Via.TIE, "stray screw", "", "sub", "sub"),
        (Via.METAL, "sub rod", "electrode conductor", "sub", "earth"),
        (Via.EARTH, "earth", "", "earth", "earth"),
    ] or steps == [
        (Via.EARTH, "earth", "", "earth", "earth"),
        (Via.METAL, "sub rod", "electrode conductor", "earth", "sub"),
        (Via.TIE, "stray screw", "", "sub", "sub"),
    ]
    assert {s.amperes for s in loop.steps} == {loop.current.flow.amperes}
    assert set(loop.closed_by) == {"stray screw", "earth"}
    assert loop.share is None


# --- an open neutral ---------------------------------------------------------------------------

LOADED = described(BENCH, places__far__loads=[{"on": "L1-N", "power": "1.2 kW"}])


def test_an_open_neutral_of_the_bench_by_hand() -> None:
    """Load, rod and the supply's own rod in series: 120 V over 12, 25 and 10 ohm."""
    study = study_open_neutral(planned(LOADED))
    assert (study.run, study.at, study.tied, study.limit) == ("supply", "main", True, 50.0)
    assert study.powers == (300.0, 600.0, 1200.0, 2400.0)
    assert study.described == 2
    assert study.resistances == pytest.approx(np.geomspace(1, 1000, 31))
    assert study.now is not None
    assert study.now.earth == pytest.approx(120 / 47, rel=0.01)
    assert study.now.metal == pytest.approx(120 * 25 / 47, rel=0.01)
    assert study.now.low == study.now.high == pytest.approx(12 / 47, rel=0.01)
    assert study.resistance == pytest.approx(25, rel=1e-3)
    assert (study.devices, study.residual_devices) == (("device branch",), False)
    assert study.trips == math.inf
    assert study.now.residual < 1e-3  # what goes out by the branch comes back by it
    wires = 0.01 + 2 * OHM_PER_FT["12 AWG Cu"] * 100  # source, branch out and home
    for power, row in zip(study.powers, study.points, strict=True):
        for ohm, point in zip(study.resistances, row, strict=True):
            load = 120**2 / power
            amps = 120 / (load + ohm + 10 + wires)
            assert point.earth == pytest.approx(amps, rel=0.02)
            assert point.metal == pytest.approx(amps * ohm, rel=0.02)
            assert point.high == pytest.approx(amps * load / 120, rel=0.02)
    assert study.metal.shape == (4, 31)
    assert study.metal[2, 30] == study.points[2][30].metal


def test_an_open_neutral_with_some_answers_asked_for() -> None:
    made = planned(described(LOADED, runs__branch__device="20 A breaker, GFCI"))
    study = study_open_neutral(made, "supply", [600, 1200.0000001], [5, 25])
    assert (study.powers, study.described) == ((600, 1200.0000001), 1)
    assert study.resistances.tolist() == [5, 25]
    assert (study.residual_devices, study.devices, study.trips) == (True, ("device branch",), 0.006)
    assert study_open_neutral(made, powers=[600]).described == -1
    small = described(BENCH, places__far__loads=[{"on": "L1-N", "power": "0.5 W"}])
    assert study_open_neutral(planned(small), resistances=[10]).powers[2] == 0.5
    for wrong in ([25, 25], [25, 5], [0, 5], [-1, 5]):
        with pytest.raises(ValueError, match="resistances ascend"):
            study_open_neutral(made, resistances=wrong)
    with pytest.raises(ValueError, match="must be positive"):
        study_open_neutral(made, powers=[600, 0])
    with pytest.raises(ValueError, match="'branch' is no supply run with a neutral; there is supp"):
        study_open_neutral(made, "branch")
    with pytest.raises(ValueError, match="nothing is connected behind 'supply'"):
        study_open_neutral(planned(BENCH))


def test_loads_of_another_supply_stay_as_they_are() -> None:
    """Two services: only what hangs on the open one is counted and changed."""
    other = described(
        LOADED,
        sources__second={"system": "120 V", "available": {"current": "12 kA"}},
        places__shop={
            "kind": "service", "main": "60 A breaker", "building": "shop",
            "loads": [{"on": "L1-N", "power": "5 kW"}],
        },
        runs__drop={"from": "second", "to": "shop", "length": "1 ft", "lines": "6 AWG Cu"},
        electrodes__shop_rod={"kind": "rod", "at": "shop", "resistance": "30 ohm"},
        ties__shop_bond={"at": "shop", "by": "bus"},
    )  # fmt: skip
    made = planned(other)
    assert supply_runs(made) == ("supply", "drop")
    study = study_open_neutral(made, resistances=[25])
    assert study.run == "supply"
    assert study.powers[2] == 1200
    assert study.resistance == pytest.approx(25, rel=1e-3)
    assert study.devices == ("device branch",)
    by_shop = study_open_neutral(made, "drop", resistances=[30])
    assert (by_shop.at, by_shop.powers[2], by_shop.devices) == ("shop", 5000, ())
    assert math.isnan(by_shop.points[2][0].residual)
    assert by_shop.resistance == pytest.approx(30, rel=1e-3)


def test_where_a_curve_crosses_the_limit() -> None:
    """On a straight line over the logarithm of the resistance: half way from 10 to 100 ohm."""

    def of(*volts: float) -> OpenNeutral:
        row = tuple(Point(v, 0.0, 0.1 * v, 1.0, 1.0) for v in volts)
        return OpenNeutral(
            "r", "p", (1.0,), 0, np.array([1.0, 10.0, 100.0]), (row,), None, math.inf, True, 50.0,
            (), False, math.inf,
        )  # fmt: skip

    assert of(10, 40, 60).crosses(0) == pytest.approx(10 * math.sqrt(10))
    assert of(51, 40, 60).crosses(0) == 1.0
    assert of(50, 50, 50).crosses(0) == math.inf
    assert of(40, 60, 10).crosses(0) == pytest.approx(math.sqrt(10))
    assert of(10, 40, 60).residual == pytest.approx(6.0)
    assert math.isnan(replace(of(1, 2, 3), points=()).residual)


# --- where a choice matters --------------------------------------------------------------------


def shop() -> Plan:
    """The shop with a place a long way from the service and one farther behind the transformer."""
    return planned(
        SHOP,
        describes="as found",
        places__yard={"kind": "equipment"},
        runs__yard_run={
            "from": "main", "to": "yard", "length": "900 ft", "lines": "6 AWG Cu", "device": "60 A",
        },
    )  # fmt: skip


@pytest.mark.parametrize(
    ("kind", "about", "place"),
    [
        (ChoiceKind.TIE, "T1", "saw"),
        (ChoiceKind.TIE, "utility", "yard"),
        (ChoiceKind.GROUND, "yard_run", "yard"),
        (ChoiceKind.ROD, "steel", "yard"),
        (ChoiceKind.JUMPER, "secondary", "saw"),
        (ChoiceKind.JUMPER, "branch", "saw"),
        (ChoiceKind.JUMPER, "nothing of the kind", "yard"),
    ],
)
def test_the_farthest_of_what_a_choice_is_about(kind: ChoiceKind, about: str, place: str) -> None:
    fault = farthest_fault(shop(), Choice(kind, about, "", ()))
    assert fault is not None
    assert (fault.place, fault.a, fault.b) == (place, "L1", "G")


def test_what_a_wrong_tie_puts_on_metal_is_told_of_each_way() -> None:
    """10 A on neutral and ground wire of one size: 5 A by metal; without the screw none."""
    wrong = planned(SUBPANEL)
    sound = planned(SUBPANEL, ties={"bond": {"at": "main", "by": "screw"}})
    way = Alternative("as it is", True, wrong, (), (), (), None, "", False)
    other = replace(way, what="screw out", plan=sound)
    one, two = compare(Choice(ChoiceKind.TIE, "bench", "", (way, other)))
    assert one.stray == pytest.approx(5, rel=0.05)
    assert two.stray == 0
    assert (one.way, two.way) == (way, other)
    assert one.fault is not None
    assert one.fault.fault.place == "sub"
    assert compare(Choice(ChoiceKind.TIE, "bench", "", ())) == ()


# --- bands and times ---------------------------------------------------------------------------


def test_at_its_points_an_edge_is_what_it_says_to_the_last_digit() -> None:
    edge = Edge(((10.0, 97.3), (31.7, 11.9), (100.3, 1.7), (100.3, 0.53), (977.0, 0.0217)))
    amps = np.array([10.0, 31.7, 100.3, 977.0, 5000.0])
    assert edge_times(edge, amps, before=False).tolist() == [97.3, 11.9, 0.53, 0.0217, 0.0217]
    assert edge_times(edge, amps, before=True).tolist() == [97.3, 11.9, 1.7, 0.0217, 0.0217]
    between = edge_times(edge, np.array([20.0, 31.6999, 50.0, 400.0, 9.9999]), before=False)
    steps = ((97.3, 11.9), (97.3, 11.9), (11.9, 1.7), (0.53, 0.0217))
    for found, (low, high) in zip(between[:4], steps, strict=True):
        assert high < found < low
    # On double logarithmic paper a straight line: half way in current is half way in time.
    middle = math.sqrt(10 * 31.7)
    assert edge_times(edge, np.array([middle]), before=False)[0] == pytest.approx(
        math.sqrt(97.3 * 11.9)
    )
    assert between[4] == math.inf


@pytest.mark.parametrize(
    ("seconds", "iec"),
    [
        (0.1, 0.099999), (0.1 + 5e-7, 0.099999), (0.1 - 5e-7, 0.099999),
        (0.1 + 2e-6, 0.1 + 2e-6), (0.1 - 2e-6, 0.1 - 2e-6), (0.02, 0.02), (5.0, 5.0),
    ],
)  # fmt: skip
def test_what_a_breaker_lets_through_decides_at_a_tenth_of_a_second(
    seconds: float, iec: float
) -> None:
    american: Any = planned(BENCH)
    assert heated_s(plan_of(FLAT), seconds) == pytest.approx(iec, abs=1e-12)
    assert heated_s(american, seconds) == seconds
