"""Planes beside water and tubs: shore-plane-bond, tub-bond.

Public pages that quote NFPA 70 682.33 and 555.14 (two each): solid copper of 8 AWG, 36 in out;
555.14 is new in 2023, above 250 V to ground and within 10 ft of the water. 680.74 (several
pages, editions to 2014): solid copper of 8 AWG, no need to go on to a panel or an electrode.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.catalog.sizes import Material
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.planes import plane_bond
from bondwright.site.model import AreaKind
from tests.plan.sites import (
    HOUSE,
    HOUSE_FOUND,
    SHOP,
    described,
    finding,
    findings,
    item,
    planned,
    rules_of,
)


def _area(kind: str, base: Any = HOUSE, **given: Any) -> Any:
    changes = {key: given.pop(key) for key in ("rules", "at") if key in given}
    area = {"kind": kind, "at": changes.pop("at", "shed"), **given}
    return planned(described(base, areas={"yard": area}, **changes))


@pytest.mark.parametrize(
    ("kind", "rules", "rule", "clause"),
    [
        (AreaKind.POND, "nec-2017", "shore-plane-bond", "682.33(C)"),
        (AreaKind.POND, "nec-2023", "shore-plane-bond", "682.33(C)"),
        (AreaKind.MARINA, "nec-2023", "shore-plane-bond", "555.14"),
        (AreaKind.TUB, "nec-2017", "tub-bond", "680.74"),
        (AreaKind.TUB, "nec-2023", "tub-bond", "680.74"),
    ],
)
def test_plane_bond(kind: AreaKind, rules: str, rule: str, clause: str) -> None:
    answer = plane_bond(kind, rules=rules)
    assert answer is not None
    assert (answer.rule, str(answer.size)) == (rule, "8 AWG Cu")
    assert answer.clause == f"NEC {rules[-4:]} {clause}"
    assert answer.because[1] == f"Least conductor: 8 AWG Cu, solid ({clause})."
    assert answer.inputs == (("area", kind.value), ("conductor metal", "Cu"))
    # For 2017 and later the size of a tub's conductor was not seen in a second page.
    status = "one-source" if kind is AreaKind.TUB else "confirmed"
    assert (answer.status, answer.rules) == (status, rules)
    with pytest.raises(CannotTellError, match=f"Al at a {kind.value}: copper is asked"):
        plane_bond(kind, Material.AL, rules)


def test_no_plane_where_the_edition_or_the_kind_has_none() -> None:
    assert plane_bond(AreaKind.MARINA, rules="nec-2020") is None
    assert plane_bond(AreaKind.MARINA, Material.AL, "nec-2017") is None
    assert plane_bond(AreaKind.POOL) is None
    assert plane_bond(AreaKind.SIGN) is None


@pytest.mark.parametrize(("kind", "rule"), [("pond", "shore-plane-bond"), ("tub", "tub-bond")])
def test_shore_plane_bond_and_tub_bond_in_the_plan(kind: str, rule: str) -> None:
    row = item(_area(kind), "equipotential yard")
    assert row.required is not None
    assert (row.required.rule, str(row.chosen), row.verdict) == (rule, "8 AWG Cu", Verdict.HOLDS)
    assert rule not in rules_of(_area(kind))
    short = _area(kind, bond="10 AWG Cu")
    assert finding(short, rule).severity is Severity.FALLS_SHORT
    assert item(short, "equipotential yard").verdict is Verdict.FALLS_SHORT
    assert rule not in rules_of(_area(kind, bond="6 AWG Cu"))
    assert finding(_area(kind, bond="4 AWG Al"), rule).severity is Severity.CANNOT_TELL
    assert finding(_area(kind, HOUSE_FOUND), rule).severity is Severity.CANNOT_TELL


@pytest.mark.parametrize(("kind", "rule"), [("pond", "shore-plane-bond"), ("tub", "tub-bond")])
def test_none_is_danger_and_a_rod_no_cure(kind: str, rule: str) -> None:
    found = finding(_area(kind, bond="none"), rule)
    assert (found.severity, found.where) == (Severity.DANGER, "yard")
    assert found.title == f"no bonding of a {kind}"
    assert "A ground rod neither does this nor counts for it" in found.text
    assert "out of the water" in found.cure
    assert "8 AWG Cu" in found.cure
    assert found.clause.endswith({"pond": "682.33(C)", "tub": "680.74"}[kind])


# 480Y/277 V: 277 V to ground; 480 V delta: a line can stand at 480 V; 208Y/120 V behind T1: 120 V.
@pytest.mark.parametrize(
    ("base", "at", "rules", "asked"),
    [
        (SHOP, "main", "nec-2023", True),
        (SHOP, "main", "nec-2020", False),
        (SHOP, "LP", "nec-2023", False),
        (HOUSE, "shed", "nec-2023", False),
    ],
)
def test_shore_plane_bond_of_a_dock_is_asked_above_250_v(
    base: Any, at: str, rules: str, asked: bool
) -> None:
    found = findings(_area("marina", base, at=at, rules=rules), "shore-plane-bond")
    assert [f.severity for f in found] == ([Severity.CANNOT_TELL] if asked else [])


def test_a_dock_with_a_plane_is_checked_and_not_asked() -> None:
    (asked,) = findings(_area("marina", SHOP, at="main", rules="nec-2023"), "shore-plane-bond")
    assert "'main' has 277 V to ground" in asked.text
    assert "within 10 ft of the water" in asked.text
    assert "reaches 36 in out" in asked.text or "reaches 3 ft out" in asked.text
    assert "8 AWG Cu" in asked.cure
    assert asked.clause == "NEC 2023 555.14, 682.33"
    assert (asked.where, asked.title) == (
        "yard",
        "plane beside the equipment of a dock not described",
    )
    right = _area("marina", SHOP, at="main", rules="nec-2023", bond="8 AWG Cu")
    assert not findings(right, "shore-plane-bond")
    row = item(right, "equipotential yard")
    assert row.required is not None
    assert (row.required.rule, row.verdict) == ("shore-plane-bond", Verdict.HOLDS)
    thin = _area("marina", SHOP, at="main", rules="nec-2023", bond="12 AWG Cu")
    assert finding(thin, "shore-plane-bond").severity is Severity.FALLS_SHORT
    # In 2020 what is given is held against the least ground of a dock, as before.
    older = _area("marina", SHOP, at="main", rules="nec-2020", bond="12 AWG Cu")
    assert item(older, "equipotential yard").verdict is Verdict.HOLDS


def test_every_area_is_looked_at() -> None:
    areas = {
        "home": {"kind": "dwelling", "at": "house"},
        "yard": {"kind": "pond", "at": "shed", "bond": "none"},
        "bath": {"kind": "tub", "at": "house", "bond": "none"},
    }
    result = planned(described(HOUSE, areas=areas))
    assert finding(result, "shore-plane-bond").where == "yard"
    assert finding(result, "tub-bond").where == "bath"
