"""Systems that must be grounded: 250.20(A) and (B), from memory; 250.94 and 250.104 beside them."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.catalog.systems import VoltageSystem
from bondwright.rules.answer import Severity
from bondwright.rules.must_ground import low_voltage_must_be_grounded, must_be_grounded
from bondwright.rules.other_systems import (
    building_disconnects,
    fault_current_marks,
    intersystem_conductor,
)
from bondwright.site.topology import topology
from tests.plan.sites import HOUSE, HOUSE_FOUND, SHOP, SHOP_FOUND, finding, item, planned, rules_of


@pytest.mark.parametrize(
    ("system", "must"),
    [
        ("120 V delta", True),
        ("150 V delta", True),
        ("208 V delta", False),
        ("480 V delta", False),
        ("48 V delta", False),
        ("208Y/120 V", False),
        ("120 V", False),
    ],
)
def test_must_ground_by_the_voltage_of_a_corner(system: str, must: bool) -> None:
    """A system with a neutral is not among them: its missing tie has a finding of its own."""
    assert must_be_grounded(VoltageSystem.parse(system)) is must


@pytest.mark.parametrize(
    ("system", "supply", "grounded", "must"),
    [
        ("24 V", "480Y/277 V", True, True),
        ("24 V", "208Y/120 V", True, False),
        ("24 V", "208 V delta", False, True),
        ("24 V", "120/240 V", False, True),
        ("50 V", "480Y/277 V", True, False),
        ("12 V", "120 V", True, False),
    ],
)
def test_low_voltage_ground(system: str, supply: str, grounded: bool, must: bool) -> None:
    found = low_voltage_must_be_grounded(
        VoltageSystem.parse(system), VoltageSystem.parse(supply), grounded
    )
    assert found is must


def test_must_ground_in_a_site() -> None:
    small = planned(SHOP, transformers__T1__secondary="120 V delta")
    found = finding(small, "must-ground")
    assert (found.where, found.severity) == ("T1", Severity.FALLS_SHORT)
    assert found.clause == "NEC 2020 250.20(B)"
    corner = planned(
        SHOP, transformers__T1__secondary="120 V delta", ties={"c": {"at": "T1", "line": "L1"}}
    )
    assert "must-ground" not in rules_of(corner)
    assert "must-ground" not in rules_of(planned(SHOP, transformers__T1__secondary="240 V delta"))


CONTROL: Any = {
    "primary": "480 V",
    "secondary": "24 V",
    "rating": "500 VA",
    "impedance": "5 %",
}


def _control(base: Any, **changes: Any) -> Any:
    return planned(
        base,
        transformers__control=CONTROL,
        places__relay={"kind": "equipment"},
        runs__to_control={"from": "main", "to": "control", "length": "3 ft", "lines": "14 AWG Cu",
                          "on": ["L1", "L2"], "neutral": "none", "device": "15 A"},
        runs__out={"from": "control", "to": "relay", "length": "9 ft", "lines": "14 AWG Cu"},
        **changes,
    )  # fmt: skip


def test_low_voltage_ground_in_a_site() -> None:
    found = finding(_control(SHOP_FOUND), "low-voltage-ground")
    assert (found.where, found.clause) == ("control", "NEC 2020 250.20(A)")
    assert "above 150 V to ground" in found.text
    # A plan gets its tie designed.
    assert "low-voltage-ground" not in rules_of(_control(SHOP))
    tied = _control(SHOP_FOUND, ties__low={"at": "control", "size": "14 AWG Cu"})
    assert "low-voltage-ground" not in rules_of(tied)


# --- terminals for other systems --------------------------------------------------------------


def test_intersystem_conductor() -> None:
    answer = intersystem_conductor("nec-2017")
    assert (str(answer.size), answer.clause) == ("6 AWG Cu", "NEC 2017 250.94(A)")
    assert "at least 3 conductors" in answer.because[-1]


@pytest.mark.parametrize(
    ("place", "given", "short"),
    [
        ("house", "6 AWG Cu", False),
        ("house", "8 AWG Cu", True),
        ("house", "1 AWG Al", True),
        ("house", "none", True),
        ("shed", "none", True),
        ("pump", "none", False),
        ("pump", "8 AWG Cu", True),
    ],
)
def test_intersystem_conductor_that_is_given(place: str, given: str, short: bool) -> None:
    result = planned(HOUSE, **{f"places__{place}__intersystem": given})
    assert ("intersystem-conductor" in rules_of(result)) is short
    if short:
        assert finding(result, "intersystem-conductor").where == place


def test_places_of_terminals_and_marks() -> None:
    tree = topology(planned(HOUSE).site)
    assert building_disconnects(tree) == {"house", "shed"}
    assert fault_current_marks(tree) == ("house",)
    assert "intersystem-conductor" not in rules_of(planned(HOUSE_FOUND))


# --- pipe -------------------------------------------------------------------------------------


def _metal(kind: str, **more: Any) -> Any:
    return {"kind": kind, "from": "shed", "to": "pump", "length": "9 ft", "resistance": "1 mohm",
            **more}  # fmt: skip


def test_occupancy_pipe_bond_follows_the_feeder_and_not_the_service() -> None:
    row = item(planned(HOUSE, metal__pipe=_metal("water pipe", isolated=True)), "BJ pipe")
    assert row.required is not None
    # Table 250.122: the feeder's 60 A -> 10 AWG Cu.
    assert (row.required.rule, str(row.chosen)) == ("occupancy-pipe-bond", "10 AWG Cu")
    assert row.required.clause == "NEC 2020 250.104(A)(2)"
    assert "Plastic keeps this pipe apart" in row.required.because[0]
    whole = item(planned(HOUSE, metal__pipe=_metal("water pipe")), "BJ pipe").required
    assert whole is not None
    assert whole.rule == "water-pipe-bond"


def test_occupancy_pipe_bond_without_a_device_is_not_told() -> None:
    pipe = _metal("water pipe", isolated=True) | {"from": "meter"}
    row = item(planned(HOUSE, metal__pipe=pipe), "BJ pipe")
    assert row.required is None


@pytest.mark.parametrize(("circuit", "size"), [("circuit", "10 AWG Cu"), ("feeder", "10 AWG Cu")])
def test_other_pipe_bond_follows_the_circuit_that_is_named(circuit: str, size: str) -> None:
    gas = _metal("gas pipe", circuit=circuit)
    row = item(planned(HOUSE, metal__gas=gas, runs__feeder__device="60 A"), "BJ gas")
    assert str(row.chosen) == size


def test_other_pipe_bond_of_a_small_circuit_beside_a_large_one() -> None:
    changes: dict[str, Any] = {"runs__circuit__device": "15 A"}
    named = planned(HOUSE, metal__gas=_metal("gas pipe", circuit="circuit"), **changes)
    unsaid = planned(HOUSE, metal__gas=_metal("gas pipe"), **changes)
    assert str(item(named, "BJ gas").chosen) == "14 AWG Cu"
    assert str(item(unsaid, "BJ gas").chosen) == "10 AWG Cu"
