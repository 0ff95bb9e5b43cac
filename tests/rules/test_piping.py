"""Bonds of pipe and steel: NFPA 70 section 250.104 (status by parameter, mostly memory)."""

from __future__ import annotations

from typing import Any, cast

import pytest

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.model import Purpose
from bondwright.rules.answer import Verdict
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.rules.piping import large_metal_bond, other_metal_bond, tray_bond
from tests.plan.sites import HOUSE, SHOP, described, item, planned

RULES = ("water-pipe-bond", "structural-steel-bond", "derived-area-bond")


@pytest.mark.parametrize("rule", RULES)
@pytest.mark.parametrize(
    ("supply", "size"),
    [
        # Rows of table 250.102(C)(1), confirmed.
        ("2 AWG Cu", "8 AWG Cu"),
        ("3/0 AWG Cu", "4 AWG Cu"),
        ("500 kcmil Cu", "1/0 AWG Cu"),
        ("1000 kcmil Cu", "2/0 AWG Cu"),
        # 12.5 % of 4 x 500 kcmil is 250 kcmil, and the cap is 3/0 AWG Cu.
        ("4 x 500 kcmil Cu", "3/0 AWG Cu"),
    ],
)
def test_water_pipe_and_steel_follow_the_supply(rule: str, supply: str, size: str) -> None:
    answer = large_metal_bond(rule, SupplyConductors.parse(supply), rules="nec-2023")
    assert answer.size == Conductor.parse(size)
    assert answer.rule == rule
    assert answer.clause.startswith("NEC 2023 250.104(")


@pytest.mark.parametrize(
    ("rule", "size"),
    [
        ("water-pipe-bond", "250 kcmil Cu"),
        ("structural-steel-bond", "250 kcmil Cu"),
        ("derived-area-bond", "3/0 AWG Cu"),
    ],
)
def test_before_2020_pipe_and_steel_have_no_cap(rule: str, size: str) -> None:
    """Doubtful for 2017 (memory); without the cap the larger jumper is asked."""
    answer = large_metal_bond(rule, SupplyConductors.parse("4 x 500 kcmil Cu"), rules="nec-2017")
    assert answer.size == Conductor.parse(size)


def test_the_cap_holds_where_the_table_has_no_answer() -> None:
    supply = SupplyConductors.parse("4 x 500 kcmil Cu")
    answer = large_metal_bond("water-pipe-bond", supply, Material.AL, "nec-2023")
    assert answer.size == Conductor.parse("250 kcmil Al")
    with pytest.raises(CannotTellError):
        large_metal_bond("water-pipe-bond", supply, Material.AL, "nec-2017")


@pytest.mark.parametrize(
    ("device", "size"),
    [("15 A", "14 AWG Cu"), ("20 A", "12 AWG Cu"), ("60 A", "10 AWG Cu"), ("200 A", "6 AWG Cu")],
)
def test_other_pipe_follows_the_breaker(device: str, size: str) -> None:
    # Table 250.122, confirmed to 1200 A.
    answer = other_metal_bond(ProtectiveDevice.parse(device))
    assert answer.size == Conductor.parse(size)
    assert (answer.rule, answer.clause) == ("other-pipe-bond", "NEC 2023 250.104(B)")
    assert answer.status == "one-source"


def test_the_two_can_not_be_confused() -> None:
    breaker, wires = ProtectiveDevice.parse("60 A"), SupplyConductors.parse("3/0 AWG Cu")
    with pytest.raises(TypeError, match="never the breaker"):
        large_metal_bond("water-pipe-bond", cast(Any, breaker))
    with pytest.raises(TypeError, match="never the service"):
        other_metal_bond(cast(Any, wires))


def metal(kind: str, start: str, end: str) -> dict[str, object]:
    return {"kind": kind, "from": start, "to": end, "length": "20 ft", "resistance": "5 mohm"}


@pytest.mark.parametrize(
    ("kind", "start", "end", "rule", "size"),
    [
        ("water pipe", "house", "shed", "water-pipe-bond", "4 AWG Cu"),  # 3/0 AWG Cu service
        ("water pipe", "shed", "pump", "water-pipe-bond", "8 AWG Cu"),  # 6 AWG Cu feeder
        ("structural steel", "house", "shed", "structural-steel-bond", "4 AWG Cu"),
        ("gas pipe", "house", "pump", "other-pipe-bond", "6 AWG Cu"),  # the 200 A main at one end
        ("gas pipe", "shed", "pump", "other-pipe-bond", "10 AWG Cu"),  # 60 A and 30 A
        ("duct", "pump", "pump", "other-pipe-bond", "10 AWG Cu"),
        ("cable tray", "shed", "pump", "cable-tray-bond", "10 AWG Cu"),
        ("pool deck", "shed", "pump", "pool-bond", "8 AWG Cu"),  # 680.26(B), confirmed
    ],
)
def test_the_bond_is_in_the_schedule(kind: str, start: str, end: str, rule: str, size: str) -> None:
    result = planned(HOUSE, metal__it=metal(kind, start, end))
    row = item(result, "BJ it")
    assert row.purpose is Purpose.METAL_BOND
    assert row.required is not None
    assert (row.required.rule, str(row.chosen)) == (rule, size)
    assert (row.verdict, row.given) == (Verdict.HOLDS, False)


@pytest.mark.parametrize("kind", ["cable shield", "down conductor"])
def test_what_other_standards_size_is_not_in_the_schedule(kind: str) -> None:
    result = planned(HOUSE, metal__it=metal(kind, "house", "shed"))
    assert "BJ it" not in {row.id for row in result.schedule}


def test_a_tray_follows_the_circuit_that_is_named() -> None:
    """cable-tray-bond, 392.60(A): by the largest device of what lies in it (from memory)."""
    answer = tray_bond(ProtectiveDevice.parse("400 A"))
    assert (str(answer.size), answer.rule) == ("3 AWG Cu", "cable-tray-bond")
    assert (answer.clause, answer.status) == ("NEC 2023 392.60(A)", "memory")
    assert "that lie in it" in answer.because[0]
    tray = metal("cable tray", "house", "shed") | {"circuit": "circuit"}
    row = item(planned(HOUSE, metal__it=tray), "BJ it")
    assert str(row.chosen) == "10 AWG Cu"  # its 30 A device; the house's main would ask 6 AWG
    assert row.required is not None
    assert row.required.rule == "cable-tray-bond"


def test_as_found_the_size_stays_open() -> None:
    found = planned(described(HOUSE, describes="as found"),
                    metal__it=metal("water pipe", "house", "shed"))  # fmt: skip
    row = item(found, "BJ it")
    assert (row.chosen, row.verdict) == (None, Verdict.CANNOT_TELL)
    assert "4 AWG Cu is asked" in row.remark


def test_the_area_of_a_derived_system() -> None:
    result = planned(SHOP, metal__it=metal("water pipe", "LP", "saw"))
    row = item(result, "BJ it")
    assert row.required is not None
    # 350 kcmil Cu secondary -> 2 AWG Cu (table 250.102(C)(1), confirmed).
    assert (row.required.rule, str(row.chosen)) == ("derived-area-bond", "2 AWG Cu")


def test_a_cable_shield_has_no_bond_here_and_an_unprotected_pipe_no_size() -> None:
    shield = planned(HOUSE, metal__it=metal("cable shield", "house", "shed"))
    assert not [row for row in shield.schedule if row.about == "it"]
    bare = planned(HOUSE, metal__it=metal("gas pipe", "meter", "meter"))
    row = item(bare, "BJ it")
    assert (row.required, row.verdict) == (None, Verdict.CANNOT_TELL)


def test_the_remark_says_what_may_serve() -> None:
    gas = {"gas": {"kind": "gas pipe", "from": "house", "to": "shed", "length": "50 ft",
                   "resistance": "5 mohm"}}  # fmt: skip
    remark = item(planned(HOUSE, metal=gas), "BJ gas").remark
    assert remark.startswith("as designed; by the largest device of what it touches.")
    assert remark.endswith("its equipment grounding conductor may serve, and is mostly smaller")
    water = {"water": {**gas["gas"], "kind": "water pipe"}}
    assert item(planned(HOUSE, metal=water), "BJ water").remark == "as designed"
