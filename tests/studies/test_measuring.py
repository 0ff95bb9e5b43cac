"""What has to be measured, what it should read, and what a reading says."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from bondwright.earth.judged import Verdict
from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.reader import load
from bondwright.studies.fault_model import FaultKind
from bondwright.studies.faults import possible_faults, study_fault
from bondwright.studies.judging import judge, usual_uncertainty
from bondwright.studies.measuring import (
    TEST_FREQUENCY,
    TEST_TEMPERATURE,
    Measured,
    MeasuringPoint,
    Sense,
    Unit,
    _dead,
    measuring_points,
)
from bondwright.studies.stray import study_stray
from tests.outside import outside, published
from tests.plan.sites import (
    HOUSE,  # fmt: skip
    Described,
    described,
    planned,
)

EXAMPLES = Path(__file__).parents[2] / "examples"


def points_of(made: Plan) -> dict[str, MeasuringPoint]:
    quiet = build(made, loads=False)
    faults = [study_fault(quiet, f) for f in possible_faults(quiet, (FaultKind.LINE_TO_METAL,))]
    found = measuring_points(made, tuple(faults), study_stray(build(made)))
    assert len({p.id for p in found}) == len(found)
    return {p.id: p for p in found}


@pytest.fixture(scope="module")
def farm() -> dict[str, MeasuringPoint]:
    return points_of(plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml")))


@pytest.fixture(scope="module")
def world() -> dict[str, MeasuringPoint]:
    return points_of(plan(load(EXAMPLES / "harrow-creek.yaml")))


@pytest.mark.parametrize(
    ("id", "ohm_kft", "feet"),
    [
        # NEC chapter 9, table 8, direct current at 75 degC: 12 AWG 1.98, 4 AWG 0.308 ohm/kft;
        # to 20 degC by its note 2, alpha 0.00323.
        ("continuity: EGC pump branch", 1.98, 45),
        ("continuity: EGC pump house feeder", 0.308, 220),
    ],
)
@outside("NEC chapter 9, table 8", "memory", unit="ohm")
def test_a_bond_reads_what_its_wire_has(
    farm: dict[str, MeasuringPoint], id: str, ohm_kft: float, feet: float
) -> None:
    by_hand = ohm_kft / 1000 * feet * (1 + 0.00323 * (20 - 75))
    assert farm[id].expected == published(by_hand, rel=2e-3)
    assert (farm[id].limit, farm[id].sense) == (0.5, Sense.AT_MOST)


def test_a_loop_has_the_volts_over_the_amperes(farm: dict[str, MeasuringPoint]) -> None:
    made = plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml"))
    quiet = build(made, loads=False)
    (worst,) = [
        max((study_fault(quiet, f) for f in possible_faults(quiet, (FaultKind.LINE_TO_METAL,))
             if f.place == "well pump"), key=lambda r: r.loop)
    ]  # fmt: skip
    point = farm["loop: well pump"]
    assert point.expected == worst.loop
    # 120 V to metal. The 20 A breaker's slow edge is at 5 s somewhere above its rating.
    assert point.limit is not None
    assert 120 / point.limit == pytest.approx(224, abs=5)
    assert "20 A breaker opens for sure within 5 s" in point.source
    assert farm["loop: farmhouse panel"].limit is None  # nothing on site protects it


def test_every_kind_is_there_once_for_each_thing(world: dict[str, MeasuringPoint]) -> None:
    made = plan(load(EXAMPLES / "harrow-creek.yaml"))
    assert {p.about for p in world.values() if p.what is Measured.TIE} == {
        tie.id for tie in made.ties if tie.belongs
    }
    joined = {e.id for e in made.electrodes.values() if e.conductor is not None}
    assert {p.about for p in world.values() if p.what is Measured.ELECTRODE} == joined
    # Never where a tie belongs: there the neutral is joined to metal on purpose.
    ties = {tie.at for tie in made.ties if tie.belongs}
    assert not {p.place for p in world.values() if p.what is Measured.NO_TIE} & ties
    assert not any(p.place in made.site.sources for p in world.values())


def test_no_dead_test_is_asked_live(world: dict[str, MeasuringPoint]) -> None:
    dead = {Measured.CONTINUITY, Measured.TIE, Measured.NO_TIE, Measured.ELECTRODE}
    for point in world.values():
        assert point.state.startswith("power off, proved dead, locked") == (point.what in dead)


def test_they_come_in_walking_order(world: dict[str, MeasuringPoint]) -> None:
    made = plan(load(EXAMPLES / "harrow-creek.yaml"))
    order = list(made.topology.order)
    spots = [order.index(p.place) for p in world.values() if p.place in order]
    assert spots == sorted(spots)


def single(**electrode: object) -> dict[str, MeasuringPoint]:
    rod: Described = {"kind": "rod", "at": "house", "length": "8 ft", **electrode}
    return points_of(planned(described(HOUSE), electrodes={"rod": rod}))


@outside("NEC 250.53(A)(2)", "confirmed", unit="ohm")
def test_a_single_rod_has_a_limit_and_two_have_none() -> None:
    # NEC 250.53(A)(2), exception: 25 ohm, or a second one.
    assert single()["electrode: rod"].limit == published(25)
    assert single(count=2, spacing="10 ft")["electrode: rod"].limit is None


def test_a_tie_too_many_shows_in_the_net_current() -> None:
    extra = {"kind": "panel", "main": "60 A breaker",
             "loads": [{"on": "L1-N", "power": "2 kW"}]}  # fmt: skip
    base = described(HOUSE, places__shed=extra)
    sound = points_of(planned(base))
    tied = points_of(planned(base, ties={"one": {"at": "house", "by": "strap"},
                                         "two": {"at": "shed", "by": "strap"}}))  # fmt: skip
    (id,) = [p.id for p in sound.values() if p.what is Measured.NET_CURRENT and p.place == "shed"]
    expected = tied[id].expected
    assert sound[id].expected == 0
    assert expected is not None
    assert expected > 1


def point(what: Measured, **changes: object) -> MeasuringPoint:
    base = MeasuringPoint(
        "p", what, "x", "x", "", "", "low-ohm meter", Unit.OHM, 0.05, "", 0.5, Sense.AT_MOST, ""
    )
    return replace(base, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("value", "verdict", "unexplained"),
    [
        # The meter errs by 3 % + 0.02 ohm (its class); 0.05 ohm explains 1.25 times that and 0.02.
        (0.05, Verdict.HOLDS, False),
        (0.10, Verdict.HOLDS, False),
        (0.20, Verdict.HOLDS, True),
        (0.49, Verdict.CANNOT_TELL, True),
        (0.60, Verdict.FALLS_SHORT, False),
        (math.inf, Verdict.FALLS_SHORT, False),
    ],
)
def test_a_bond(value: float, verdict: Verdict, unexplained: bool) -> None:
    found = judge(point(Measured.CONTINUITY), value)
    assert (found.verdict, found.unexplained) == (verdict, unexplained)
    assert bool(found.words) == (verdict is not Verdict.HOLDS or unexplained)


@pytest.mark.parametrize(
    ("value", "verdict"),
    [
        (2e6, Verdict.HOLDS),
        (math.inf, Verdict.HOLDS),
        (1.0e6, Verdict.CANNOT_TELL),
        (2e3, Verdict.FALLS_SHORT),
        (0.0, Verdict.FALLS_SHORT),
    ],
)
def test_insulation_is_at_least(value: float, verdict: Verdict) -> None:
    where = point(Measured.NO_TIE, limit=1e6, sense=Sense.AT_LEAST, expected=None,
                  instrument="insulation tester")  # fmt: skip
    assert judge(where, value).verdict is verdict


def test_a_net_current_is_held_against_what_was_computed() -> None:
    where = point(Measured.NET_CURRENT, unit=Unit.AMPERE, expected=0.0, limit=None,
                  instrument="leakage clamp")  # fmt: skip
    assert not judge(where, 0.05).unexplained
    found = judge(where, 3.0)
    assert found.verdict is Verdict.CANNOT_TELL
    assert found.unexplained
    assert "joined somewhere beyond" in " ".join(found.words)


def test_an_electrode_that_is_too_good_is_doubted() -> None:
    where = point(Measured.ELECTRODE, expected=40.0, limit=25.0, instrument="fall of potential")
    found = judge(where, 0.4)
    assert (found.verdict, found.unexplained) == (Verdict.HOLDS, True)
    assert "still joined to another one" in " ".join(found.words)
    short = judge(where, 60.0)
    assert short.verdict is Verdict.FALLS_SHORT
    assert "no fault path" in " ".join(short.words)


def test_the_accuracy_on_the_sheet_goes_first() -> None:
    where = point(Measured.CONTINUITY)
    assert usual_uncertainty(where, 0.1) == pytest.approx(0.023)
    assert judge(where, 0.49).verdict is Verdict.CANNOT_TELL
    assert judge(where, 0.49, 0.005).verdict is Verdict.HOLDS
    for wrong in (-1.0, math.nan):
        with pytest.raises(ValueError, match="0 or more"):
            judge(where, wrong)


def test_a_grounding_impedance_is_no_bad_tie() -> None:
    made = plan(load(EXAMPLES / "harrow-creek-farmhouse.yaml"))
    ties = tuple(replace(tie, resistance=277.0) for tie in made.ties)
    found = points_of(replace(made, ties=ties))
    (tie, *_) = [p for p in found.values() if p.what is Measured.TIE]
    assert (tie.expected, tie.limit) == (277.0, None)


def test_what_is_measured_dead_has_no_source_and_no_load() -> None:
    """A load left connected is what an ohmmeter from line to neutral would read."""
    site = _dead(planned(HOUSE))
    assert not site.loaded
    assert not site.state.on
    assert site.plan.temperature == TEST_TEMPERATURE
    assert site.circuit.frequency == TEST_FREQUENCY


def test_each_kind_of_reading_has_its_unit(farm: dict[str, MeasuringPoint]) -> None:
    """Loops, electrodes and continuity in ohm; an electrode is read for itself, at its place."""
    units: dict[Measured, set[Unit]] = {}
    for point in farm.values():
        units.setdefault(point.what, set()).add(point.unit)
    assert all(len(those) == 1 and None not in those for those in units.values())
    assert units[Measured.LOOP] == units[Measured.ELECTRODE] == {Unit.OHM}
    for point in farm.values():
        if point.what is Measured.ELECTRODE:
            assert point.id == f"electrode: {point.about}"
            assert point.instrument == "fall of potential"
            assert point.expected is not None
            assert point.expected > 0
            assert (point.limit is None) == (point.source == "")
        if point.what is Measured.LOOP:
            assert point.id == f"loop: {point.place}"
            assert point.about == point.place
            assert point.between.endswith(f" and metal at {point.place}")
            assert point.instrument == "loop tester"
