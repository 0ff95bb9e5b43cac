"""Installations with more than one supply: how many joins of neutral and metal in each state."""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.site.reader import load
from tests.outside import outside, published

HERE = Path(__file__).parent
R05 = "R05-1200A-gfp-800A-ats"
R07 = "R07-offgrid-inverter-bond"


def found(name: str) -> Plan:
    return plan(load(HERE / f"{name}.yaml"))


def counts(result: Plan) -> dict[str, int]:
    """Joins of the system that supplies, by state."""
    return {one.state: one.count for one in result.tie_counts}


def finding(result: Plan, rule: str) -> Finding:
    (one,) = [f for f in result.findings if f.rule == rule]
    return one


@pytest.mark.parametrize(
    ("name", "normal", "standby"),
    [
        (f"{R05}-3-pole", 1, 1),
        (f"{R05}-3-pole-bond", 2, 2),
        (f"{R05}-no-bond", 1, 0),  # four poles
        (R05, 1, 1),  # four poles and a bond
    ],
)
@outside("case R05, compiled reasoning", "computed", unit="joins")
def test_r05_four_combinations(name: str, normal: int, standby: int) -> None:
    """R05: 480Y/277 V, 1200 A service with ground-fault protection, 800 A switch, a generator.

    Verdict (compiled reasoning, medium-high): of the four combinations of 3 or 4 poles with and
    without a bond at the generator only 4 poles with a bond and 3 poles without have a single
    one. Source: public Q&A thread, "Neutral grounding requirements for generator: use of 3- or
    4-pole switch".
    """
    assert counts(found(name)) == published({"normal": normal, "on generator": standby})


def test_r05_exactly_two_pass() -> None:
    """R05, as above."""
    names = (R05, f"{R05}-no-bond", f"{R05}-3-pole", f"{R05}-3-pole-bond")
    passing = [
        name
        for name in names
        if all(one.verdict is Verdict.HOLDS for one in found(name).tie_counts)
    ]
    assert passing == [R05, f"{R05}-3-pole"]


def test_r05_three_poles_and_a_bond_are_a_double_bond() -> None:
    """R05: the bond at the generator passes by the sensor. Basis and source as above."""
    result = found(f"{R05}-3-pole-bond")
    double = finding(result, "state-tie-twice")
    assert (double.severity, double.where) == (Severity.FALLS_SHORT, "generator bond")
    assert "sensor is passed by" in double.text
    assert "take 'generator bond' out" in double.cure
    assert "a pole for the neutral" in double.cure


def test_r05_three_poles_leave_the_sensor_in_the_way() -> None:
    """R05: a fault on generator power can return past the service sensor. As above."""
    note = finding(found(f"{R05}-3-pole"), "sensor-and-transfer")
    assert (note.severity, note.where) == (Severity.NOTE, "switchboard")
    assert "may open a main that feeds nothing" in note.text
    assert not [f for f in found(R05).findings if f.rule == "sensor-and-transfer"]


def test_r05_no_bond_at_all_is_the_worst() -> None:
    """R05, the fourth combination: on the generator nothing joins neutral and metal."""
    assert found(f"{R05}-no-bond").findings[0].severity is Severity.DANGER
    assert found(f"{R05}-3-pole-bond").findings[0].severity is Severity.FALLS_SHORT


@outside("case R07, replies in a public thread", "one-source", unit="joins")
def test_r07_one_permanent_bond_at_the_main_panel() -> None:
    """R07: a cabin inverter with a bond inside, a panel screw, and a generator to come.

    Verdict (replies in the discussion, medium-high): for a fixed installation keep one permanent
    bond at the main panel and lift those in inverter and generator. Source: public Q&A thread,
    "Neutral/ground bonding auto switching".
    """
    result = found(R07)
    assert counts(result) == published({"normal": 1, "on generator": 1})
    assert result.findings == ()


@outside("case R07, replies in a public thread", "one-source", unit="joins")
def test_r07_with_the_grid_as_well() -> None:
    """R07: every source state (grid, inverter, generator) has exactly one. Source as above."""
    result = found(f"{R07}-grid")
    assert counts(result) == published({"normal": 1, "on inverter": 1, "on generator": 1})
    assert [sorted(state.on) for state in result.states] == [["grid"], ["generator"], ["inverter"]]
    assert result.findings == ()


def test_r07_all_three_bonds() -> None:
    """R07: keep the one at the panel, lift the other two. Source as above."""
    result = found(f"{R07}-all-three")
    assert counts(result) == {"normal": 3, "on generator": 3}
    double = finding(result, "state-tie-twice")
    assert double.severity is Severity.FALLS_SHORT
    assert "take 'inverter bond' and 'generator bond' out and keep 'panel screw'" in double.cure


def test_r07_no_bond_is_worse_than_several() -> None:
    """R07: the screw is out at the moment; a state with none is worse than one with two."""
    result = found(f"{R07}-none")
    assert counts(result) == {"normal": 0, "on generator": 0}
    assert {one.severity for one in result.tie_counts} == {Severity.DANGER}
    assert result.findings[0].severity is Severity.DANGER
    missing = finding(result, "derived-tie-missing")
    assert missing.where == "main panel"
    assert found(f"{R07}-all-three").findings[0].severity is Severity.FALLS_SHORT


def test_r07_a_bond_that_only_the_inverter_has() -> None:
    """R07: behind a switch that opens the neutral, the generator is left without a bond."""
    result = found(f"{R07}-inverter-only")
    assert counts(result) == {"normal": 1, "on generator": 0}
    assert finding(result, "derived-tie-missing").where == "generator"
