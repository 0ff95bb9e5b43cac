"""EGCs that follow something else than their run's own device, and flexible raceways.

Expected: 250.122(C) one-source, (D), (F), (G) from memory (a dual-element fuse of 175 % of the
motor's full-load current, 430.52); table 250.122 and the limits of 250.118 confirmed.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.sizes import Conductor
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import ProtectiveDevice
from bondwright.rules.shared_grounds import motor_device
from tests.plan.sites import (
    HOUSE,
    HOUSE_FOUND,
    described,
    finding,
    findings,
    item,
    planned,
    rules_of,
)

EMT = {"kind": "emt", "size": "1 in"}


def _circuits(*devices: str, **changes: Any) -> Any:
    """Return the house with as many circuits as devices, each with a pump."""
    base = described(HOUSE)
    for number, device in enumerate(devices):
        base["places"][f"p{number}"] = {"kind": "equipment", "building": "shed"}
        base["runs"][f"c{number}"] = {
            "from": "shed", "to": f"p{number}", "length": "20 ft", "lines": "4 AWG Cu",
            "device": device,
        }  # fmt: skip
    return described(base, **changes)


def _egc(result: Any, run: str) -> Any:
    return item(result, f"EGC {run}")


# --- several circuits -------------------------------------------------------------------------


def test_equipment_ground_for_several_circuits_follows_the_largest_device() -> None:
    result = planned(
        _circuits("15 A", "60 A", "30 A"), runs__c0__with=["c1"], runs__c1__with=["c2"]
    )
    for run in ("c0", "c1", "c2"):
        row = _egc(result, run)
        # Table 250.122: 60 A -> 10 AWG Cu; 15 A alone would be 14 AWG Cu.
        assert str(row.chosen) == "10 AWG Cu"
    assert _egc(result, "c0").required.clause == "NEC 2020 250.122(C)"
    assert "60 A breaker of c1" in " ".join(_egc(result, "c0").required.because)
    assert any("c1, c2" in one.text for one in result.assumptions if one.where == "c0")
    assert str(_egc(planned(_circuits("15 A", "60 A")), "c0").chosen) == "14 AWG Cu"


def test_a_common_ground_that_is_too_small_for_the_largest_falls_short() -> None:
    result = planned(_circuits("20 A", "60 A"), runs__c0__egc="12 AWG Cu", runs__c0__with=["c1"])
    assert finding(result, "equipment-ground", "c0").severity is Severity.FALLS_SHORT


# --- motors -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amps", "size"),
    # 175 %: 14 A -> 24.5 A; 28 A -> 49 A; 52 A -> 91 A; table 250.122 rows 60, 60, 100 A.
    [("14 A", "10 AWG Cu"), ("28 A", "10 AWG Cu"), ("52 A", "8 AWG Cu"), ("8 A", "14 AWG Cu")],
)
def test_equipment_ground_of_a_motor_follows_its_fuse(amps: str, size: str) -> None:
    result = planned(_circuits("150 A"), **{"runs__c0__motor current": amps})
    row = _egc(result, "c0")
    assert str(row.chosen) == size
    assert row.required.clause == "NEC 2020 250.122(D)"
    assert row.required.status == "memory"


def test_motor_device() -> None:
    assert motor_device(40.0).rating_a == pytest.approx(70.0)
    assert motor_device(8.3).rating_a == pytest.approx(14.525)


def test_rounding_the_motor_fuse_up_to_a_standard_rating_changes_no_size() -> None:
    """240.6(A): every row of table 250.122 is a standard rating, so none is passed."""
    for amps in range(5, 500):
        exact = equipment_ground(ProtectiveDevice.parse(f"{amps + 0.5} A"))
        standard = next(r for r in STANDARD if r >= amps + 0.5)
        assert equipment_ground(ProtectiveDevice.parse(f"{standard} A")).size == exact.size


# NEC 240.6(A), from memory.
STANDARD = (
    15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250, 300,
    350, 400, 450, 500, 600,
)  # fmt: skip


# --- taps and parallel sets -------------------------------------------------------------------


def test_equipment_ground_of_a_tap_follows_the_device_ahead_of_the_feeder() -> None:
    base = _circuits("60 A")
    del base["runs"]["c0"]["device"]
    result = planned(base, runs__c0__tap=True, runs__c0__lines="12 AWG Cu")
    row = _egc(result, "c0")
    # 60 A asks 10 AWG Cu, but it need not be larger than the tap's lines.
    assert str(row.chosen) == "12 AWG Cu"
    assert row.required.clause == "NEC 2020 250.122(G)"
    assert "60 A" in " ".join(row.required.because)


@pytest.mark.parametrize(("sets", "size"), [("apart", "2 x 3 AWG Cu"), ("together", "3 AWG Cu")])
def test_equipment_ground_of_parallel_sets(sets: str, size: str) -> None:
    base = _circuits("400 A")
    result = planned(base, runs__c0__lines="2 x 3/0 AWG Cu", runs__c0__sets=sets)
    row = _egc(result, "c0")
    assert str(row.chosen) == size
    assert "250.122(F)" in " ".join(row.required.because)
    assert not any("parallel sets" in one.text for one in result.assumptions)
    unsaid = planned(base, runs__c0__lines="2 x 3/0 AWG Cu")
    assert str(_egc(unsaid, "c0").chosen) == "2 x 3 AWG Cu"
    assert any("parallel sets" in one.text for one in unsaid.assumptions)


@given(st.sampled_from([100, 200, 400, 800, 1200]), st.integers(2, 4))
def test_together_is_one_of_the_size_that_lies_in_each(amps: int, sets: int) -> None:
    line = Conductor.parse(f"{sets} x 500 kcmil Cu")
    device = ProtectiveDevice.parse(f"{amps} A")
    apart = equipment_ground(device, line=line)
    together = equipment_ground(device, line=line, together=True)
    assert (apart.size.sets, together.size.sets) == (sets, 1)
    assert apart.size.size == together.size.size


# --- flexible raceways ------------------------------------------------------------------------


def _flexible(kind: str, size: str, length: str, device: str, **more: Any) -> Any:
    return planned(
        _circuits(device),
        runs__c0__egc="raceway",
        runs__c0__raceway=EMT,
        runs__c0__flexible={"kind": kind, "size": size, "length": length, **more},
    )


@pytest.mark.parametrize(
    ("kind", "size", "length", "device", "holds"),
    [
        ("fmc", "1/2 in", "6 ft", "20 A", True),
        ("fmc", "1/2 in", "6.1 ft", "20 A", False),
        ("fmc", "1/2 in", "6 ft", "25 A", False),
        ("fmc", "1-1/4 in", "3 ft", "20 A", True),
        ("fmc", "1-1/2 in", "3 ft", "20 A", False),
        ("lfmc", "1/2 in", "6 ft", "20 A", True),
        ("lfmc", "1/2 in", "6 ft", "30 A", False),
        ("lfmc", "3/4 in", "6 ft", "60 A", True),
        ("lfmc", "3/4 in", "6 ft", "70 A", False),
        ("fmt", "1/2 in", "6 ft", "20 A", True),
        ("fmt", "1/2 in", "8 ft", "20 A", False),
    ],
)
def test_raceway_as_ground_in_a_flexible_piece(
    kind: str, size: str, length: str, device: str, holds: bool
) -> None:
    result = _flexible(kind, size, length, device)
    assert ("raceway-as-ground" not in rules_of(result)) is holds
    row = _egc(result, "c0")
    assert row.verdict is (Verdict.HOLDS if holds else Verdict.FALLS_SHORT)
    assert ("see the finding" in row.remark) is not holds


def test_a_flexible_piece_that_moves_needs_a_wire() -> None:
    found = finding(_flexible("fmc", "1/2 in", "2 ft", "20 A", moves=True), "raceway-as-ground")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "c0")
    assert "bend or shake" in found.text
    assert "bonding jumper around the flexible piece" in found.cure


def test_pieces_along_one_path_add_up() -> None:
    piece = {"kind": "fmc", "size": "1/2 in", "length": "4 ft"}
    base = _circuits("20 A")
    changes = {
        f"runs__{run}__{key}": value
        for run in ("feeder", "c0")
        for key, value in (("egc", "raceway"), ("raceway", EMT), ("flexible", piece))
    }
    both = planned(
        base,
        runs__feeder__device="20 A",
        **{key: value for key, value in changes.items() if key != "runs__feeder__device"},
    )
    assert [found.where for found in findings(both, "raceway-as-ground")] == ["c0"]
    assert "8 ft" in finding(both, "raceway-as-ground").text


def test_a_wire_inside_a_flexible_piece_is_enough() -> None:
    long = {"kind": "fmc", "size": "1/2 in", "length": "12 ft"}
    for egc in ("8 AWG Cu", ...):
        result = planned(
            _circuits("60 A"),
            runs__c0__raceway=EMT,
            runs__c0__flexible=long,
            **({} if egc is ... else {"runs__c0__egc": egc}),
        )
        assert "raceway-as-ground" not in rules_of(result)


def test_as_found_a_raceway_without_a_wire_is_the_ground() -> None:
    result = planned(
        HOUSE_FOUND,
        runs__circuit__egc=...,
        runs__circuit__raceway=EMT,
        runs__circuit__flexible={"kind": "fmc", "size": "1/2 in", "length": "3 ft"},
    )
    assert "30 A" in finding(result, "raceway-as-ground", "circuit").text
