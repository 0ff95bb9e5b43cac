"""Pools, livestock, docks, patient care, dwellings.

Expected: 680.26(B) 8 AWG solid copper confirmed; 547.10 (547.44 since 2023) 8 AWG, 555.15 (555.37
since 2020) 12 AWG insulated copper, and 517.13, from memory.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.catalog.sizes import Material
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.areas import area_bond
from bondwright.rules.checklist import Feature, checklist, described_features
from bondwright.rules.inputs import CannotTellError
from bondwright.site.model import AreaKind
from tests.plan.sites import HOUSE, HOUSE_FOUND, finding, findings, item, planned, rules_of


def _area(kind: str, base: Any = HOUSE, bond: str | None = None, **changes: Any) -> Any:
    area = {"kind": kind, "at": "shed"} | ({} if bond is None else {"bond": bond})
    return planned(base, areas__yard=area, **changes)


@pytest.mark.parametrize(
    ("kind", "rules", "clause", "size"),
    [
        (AreaKind.POOL, "nec-2017", "680.26(B)", "8 AWG Cu"),
        (AreaKind.POOL, "nec-2023", "680.26(B)", "8 AWG Cu"),
        (AreaKind.LIVESTOCK, "nec-2020", "547.10", "8 AWG Cu"),
        (AreaKind.LIVESTOCK, "nec-2023", "547.44", "8 AWG Cu"),
        (AreaKind.MARINA, "nec-2017", "555.15", "12 AWG Cu"),
        (AreaKind.MARINA, "nec-2020", "555.37", "12 AWG Cu"),
    ],
)
def test_area_bond(kind: AreaKind, rules: str, clause: str, size: str) -> None:
    answer = area_bond(kind, rules=rules)
    assert answer is not None
    assert str(answer.size) == size
    assert answer.clause == f"NEC {rules[-4:]} {clause}"
    assert ("solid" in answer.because[-1]) is (kind is not AreaKind.MARINA)
    with pytest.raises(CannotTellError, match="copper is asked"):
        area_bond(kind, Material.AL, rules)


@pytest.mark.parametrize("kind", [AreaKind.PATIENT_CARE, AreaKind.DWELLING])
def test_areas_without_a_bond_of_their_own(kind: AreaKind) -> None:
    assert area_bond(kind) is None


@pytest.mark.parametrize(("kind", "rule"), [("pool", "pool-bond"), ("livestock", "livestock-bond")])
def test_pool_bond_and_livestock_bond_in_the_plan(kind: str, rule: str) -> None:
    row = item(_area(kind), "equipotential yard")
    assert row.required is not None
    assert (row.required.rule, str(row.chosen), row.verdict) == (rule, "8 AWG Cu", Verdict.HOLDS)
    short = _area(kind, bond="10 AWG Cu")
    assert finding(short, rule).severity is Severity.FALLS_SHORT
    assert rule not in rules_of(_area(kind, bond="6 AWG Cu"))
    unsaid = _area(kind, HOUSE_FOUND)
    assert finding(unsaid, rule).severity is Severity.CANNOT_TELL
    assert item(unsaid, "equipotential yard").chosen is None
    aluminium = _area(kind, bond="4 AWG Al")
    assert item(aluminium, "equipotential yard").verdict is Verdict.CANNOT_TELL
    assert finding(aluminium, rule).severity is Severity.CANNOT_TELL


def test_a_pool_without_bond_is_danger_and_a_rod_no_cure() -> None:
    found = finding(_area("pool", bond="none"), "pool-bond")
    assert found.severity is Severity.DANGER
    assert "rod neither" in found.text
    assert found.cure.startswith("Keep everybody out of the water")
    row = item(_area("pool", bond="none"), "equipotential yard")
    assert (row.verdict, row.form, row.given) == (Verdict.FALLS_SHORT, "none", True)
    cattle = finding(_area("livestock", bond="none"), "livestock-bond")
    assert cattle.severity is Severity.FALLS_SHORT
    assert "water" not in cattle.cure


def test_dock_ground_is_never_smaller_than_12_awg() -> None:
    small = {"runs__circuit__device": "15 A"}
    plain, dock = planned(HOUSE, **small), _area("marina", **small)
    # Table 250.122: 15 A -> 14 AWG Cu.
    assert str(item(plain, "EGC circuit").chosen) == "14 AWG Cu"
    row = item(dock, "EGC circuit")
    assert row.required is not None
    assert (str(row.chosen), row.required.rule) == ("12 AWG Cu", "dock-ground")
    # 60 A asks 10 AWG Cu, which is more.
    assert str(item(dock, "EGC feeder").chosen) == "10 AWG Cu"
    given = _area("marina", runs__circuit__egc="14 AWG Cu", **small)
    assert finding(given, "dock-ground").where == "circuit"
    assert "EGC riser" not in {row.id for row in dock.schedule}


def test_dock_ground_of_aluminium_falls_short() -> None:
    result = _area("marina", runs__feeder__egc="4 AWG Al")
    found = finding(result, "dock-ground")
    assert (found.where, found.severity) == ("feeder", Severity.FALLS_SHORT)
    assert "out of the water" in found.cure
    assert "dock-ground" not in rules_of(planned(HOUSE, runs__feeder__egc="4 AWG Al"))


def test_patient_care_grounds_go_to_a_specialist() -> None:
    found = finding(_area("patient care"), "patient-care-grounds")
    assert (found.severity, found.where) == (Severity.CANNOT_TELL, "yard")
    assert "specialist" in found.cure
    assert found.clause == "NEC 2020 517.13, 517.14, 517.16, 517.17, 517.19, 517.20, 517.160"
    # Each of them is named where it is said what it asks (517.14: 10 AWG Cu, two public pages).
    assert all(
        f"({number})" in found.text
        for number in ("517.13", "517.14", "517.16", "517.17", "517.19", "517.20, 517.160")
    )
    assert "10 AWG Cu" in found.text
    assert not findings(_area("dwelling"), "patient-care-grounds")


# --- the checklist knows them -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "feature", "line", "question"),
    [
        ("pool", Feature.POOL, "pool-shell", "ask-pool"),
        ("livestock", Feature.LIVESTOCK, "livestock-plane", "ask-livestock"),
        ("marina", Feature.MARINA, "marina-metal", "ask-marina"),
        ("patient care", Feature.HEALTH_CARE, "health-care-specialist", "ask-health-care"),
    ],
)
def test_a_described_area_is_not_asked_for(
    kind: str, feature: Feature, line: str, question: str
) -> None:
    result = _area(kind)
    assert described_features(result.site) == {feature: True}
    ids = {one.id for one in checklist(result)}
    assert line in ids
    assert question not in ids
    assert question in {one.id for one in checklist(planned(HOUSE))}
    # What a person says goes before.
    assert line not in {one.id for one in checklist(result, {feature: False})}


def test_other_described_features() -> None:
    pipe = {"kind": "water pipe", "from": "shed", "to": "pump", "length": "9 ft",
            "resistance": "1 mohm", "isolated": True}  # fmt: skip
    air = {"kind": "rod", "at": "house", "lightning": True}
    result = planned(HOUSE, metal__pipe=pipe, electrodes__air=air)
    assert described_features(result.site) == {Feature.LIGHTNING: True, Feature.TENANTS: True}
    assert described_features(planned(HOUSE).site) == {}


def test_a_dwelling_carries_no_mark_of_the_fault_current() -> None:
    """110.24, from memory: service equipment other than of dwellings."""
    marked = {one.where for one in checklist(planned(HOUSE)) if one.id == "fault-current-mark"}
    assert marked == {"house"}
    home = planned(HOUSE, areas={"home": {"kind": "dwelling", "at": "house"}})
    assert "fault-current-mark" not in {one.id for one in checklist(home)}
