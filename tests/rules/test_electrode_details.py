"""Lightning protection, spacing, sleeves, distances, sources outdoors, one system for all.

Expected: 250.30(A)(6) copper confirmed, 250.53(B) confirmed; 250.30(C), 250.64(B) and (E)
one-source; 250.58, 250.60, 250.68(C), 250.106 from memory.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.rules.answer import Severity, Verdict
from tests.plan.sites import (
    HOUSE,
    HOUSE_FOUND,
    SHOP,
    SHOP_FOUND,
    described,
    finding,
    findings,
    item,
    planned,
    rules_of,
)

NEW = {
    "lightning-electrode-bond",
    "electrode-system-spacing",
    "electrode-systems-apart",
    "electrode-sleeve-bond",
    "electrode-conductor-protection",
    "pipe-connection-distance",
    "outdoor-source-electrode",
}


@pytest.mark.parametrize("base", [HOUSE, HOUSE_FOUND, SHOP, SHOP_FOUND])
def test_nothing_is_said_where_nothing_is_described(base: Any) -> None:
    assert not NEW & rules_of(planned(base))


# --- lightning protection ---------------------------------------------------------------------


def _lightning(conductor: str | None = None, **more: Any) -> Any:
    rod = {"kind": "rod", "at": "house", "lightning": True, **more}
    return rod if conductor is None else rod | {"conductor": conductor}


def test_lightning_electrode_bond_missing_falls_short() -> None:
    result = planned(HOUSE, electrodes__air=_lightning("none"))
    found = finding(result, "lightning-electrode-bond")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "air")
    assert found.clause == "NEC 2020 250.60, 250.106"
    # It is not one of the building's own that was left out.
    assert "electrode-not-joined" not in rules_of(result)
    assert "lightning-electrode-bond" not in rules_of(planned(HOUSE, electrodes__air=_lightning()))


def test_lightning_electrodes_count_for_nothing_else() -> None:
    only = planned(HOUSE, electrodes={"air": _lightning(count=2)})
    assert {"service-electrode", "building-electrode"} <= rules_of(only)
    backed = planned(HOUSE, electrodes__house_rods__count=1, electrodes__air=_lightning())
    assert finding(backed, "single-rod").where == "house rods"


def test_the_conductor_of_lightning_protection_has_no_size_by_rule() -> None:
    row = item(planned(HOUSE, electrodes__air=_lightning("2 AWG Cu")), "GEC air")
    assert row.required is None
    assert "standard of the lightning protection" in row.remark


@pytest.mark.parametrize(("apart", "short"), [("5 ft", True), ("6 ft", False), ("12 ft", False)])
def test_electrode_system_spacing(apart: str, short: bool) -> None:
    result = planned(HOUSE, electrodes__air=_lightning(apart=apart))
    assert ("electrode-system-spacing" in rules_of(result)) is short
    if short:
        found = finding(result, "electrode-system-spacing")
        assert "6 ft" in found.text
        assert "leave this one joined" in found.cure


# --- what the conductor runs in ---------------------------------------------------------------


@pytest.mark.parametrize(
    ("size", "sleeve", "rules"),
    [
        ("8 AWG Cu", "none", {"electrode-conductor-protection"}),
        ("6 AWG Cu", "none", set()),
        ("8 AWG Cu", "plastic", set()),
        ("4 AWG Cu", "steel not joined at both ends", {"electrode-sleeve-bond"}),
        ("4 AWG Cu", "steel joined at both ends", set()),
    ],
)
def test_sleeves(size: str, sleeve: str, rules: set[str]) -> None:
    result = planned(
        HOUSE, electrodes__house_rods__conductor=size, electrodes__house_rods__sleeve=sleeve
    )
    assert NEW & rules_of(result) == rules
    for rule in rules:
        found = finding(result, rule)
        assert (found.where, found.severity) == ("house rods", Severity.FALLS_SHORT)
        assert "cut" in found.cure or "before" in found.cure


@pytest.mark.parametrize(("distance", "short"), [("5 ft", False), ("8 ft", True)])
def test_pipe_connection_distance(distance: str, short: bool) -> None:
    pipe = {"kind": "water pipe", "at": "house", "from entry": distance}
    result = planned(HOUSE, electrodes__pipe=pipe)
    assert ("pipe-connection-distance" in rules_of(result)) is short
    if short:
        assert "don't open it" in finding(result, "pipe-connection-distance").cure


# --- derived systems --------------------------------------------------------------------------


def test_outdoor_source_electrode() -> None:
    found = finding(planned(SHOP, transformers__T1__outdoors=True), "outdoor-source-electrode")
    assert (found.where, found.clause) == ("T1", "NEC 2020 250.30(C)")
    assert "not in place of it" in found.cure
    joined = planned(
        SHOP,
        transformers__T1__outdoors=True,
        electrodes__rods={"kind": "rod", "at": "T1", "count": 2},
    )
    assert "outdoor-source-electrode" not in rules_of(joined)


def _shared(**changes: Any) -> Any:
    return planned(SHOP, **{"electrodes__steel__shared by": ["T1"]}, **changes)


def test_common_electrode_conductor_is_the_least_and_each_system_taps_it() -> None:
    result = _shared()
    common, tap = item(result, "GEC steel"), item(result, "GEC T1")
    assert common.required is not None
    assert tap.required is not None
    # 250.30(A)(6): 3/0 AWG Cu at least (confirmed); the service alone would ask 1/0 AWG.
    assert str(common.chosen) == "3/0 AWG Cu"
    assert common.required.rule == "common-electrode-conductor"
    # Table 250.66: 350 kcmil Cu -> 2 AWG Cu.
    assert (str(tap.chosen), tap.to) == ("2 AWG Cu", "steel")
    assert tap.required.clause == "NEC 2020 250.30(A)(6)"
    assert tap.verdict is Verdict.HOLDS


@pytest.mark.parametrize(
    ("conductor", "holds"),
    [("2/0 AWG Cu", False), ("3/0 AWG Cu", True), ("4/0 AWG Al", False), ("250 kcmil Al", True)],
)
def test_common_electrode_conductor_that_is_given_is_checked(conductor: str, holds: bool) -> None:
    result = _shared(electrodes__steel__conductor=conductor)
    assert ("common-electrode-conductor" not in rules_of(result)) is holds
    assert item(result, "GEC steel").verdict is (Verdict.HOLDS if holds else Verdict.FALLS_SHORT)


def test_a_tap_as_found_is_no_missing_electrode_conductor() -> None:
    base = described(SHOP_FOUND)
    del base["electrodes"]["steel at T1"]
    assert "derived-electrode" in rules_of(planned(base))
    changes = {"electrodes__steel__shared by": ["T1"], "electrodes__steel__conductor": "3/0 AWG Cu"}
    result = planned(base, **changes)
    assert "derived-electrode" not in rules_of(result)
    assert item(result, "GEC T1").verdict is Verdict.CANNOT_TELL


def test_an_ungrounded_derived_system_has_an_electrode_conductor_too() -> None:
    """250.30(B)(1) and (2), from memory: by table 250.66 on the derived lines."""
    result = planned(SHOP, transformers__T1__secondary="240 V delta")
    row = item(result, "GEC T1")
    assert row.required is not None
    assert str(row.chosen) == "2 AWG Cu"
    assert row.required.clause == "NEC 2020 250.30(B)(1), 250.30(B)(2)"


SET: Any = described(
    HOUSE,
    generators__set={"system": "120/240 V", "rating": "20 kVA"},
    places__stall={"kind": "outlet"},
    runs__cord={"from": "set", "to": "stall", "length": "30 ft", "lines": "10 AWG Cu",
                "device": "30 A"},
)  # fmt: skip


def test_a_portable_set_that_feeds_no_premises_has_no_electrode_conductor() -> None:
    """250.34(A), from memory: its frame may serve."""
    ids = {row.id for row in planned(SET, generators__set__portable=True).schedule}
    assert "GEC set" not in ids
    fixed = item(planned(SET, generators__set__portable=False), "GEC set")
    unsaid = item(planned(SET), "GEC set")
    assert "250.34" in unsaid.remark
    assert "250.34" not in fixed.remark
    feeding = planned(SET, generators__set__portable=True, places__stall__building="stand")
    assert item(feeding, "GEC set").required is not None


# --- one system for all -----------------------------------------------------------------------

TWO: Any = {
    "site": "two services",
    "rules": "nec-2020",
    "sources": {
        name: {"system": "120/240 V", "transformer": {"rating": "25 kVA", "impedance": "2 %"}}
        for name in ("u1", "u2")
    },
    "places": {
        f"main {name}": {"kind": "service", "main": "100 A", "building": "mill"} for name in "ab"
    },
    "runs": {
        f"r {end}": {"from": source, "to": f"main {end}", "length": "20 ft", "lines": "2 AWG Cu"}
        for source, end in (("u1", "a"), ("u2", "b"))
    },
    "electrodes": {
        f"rods {name}": {"kind": "rod", "at": f"main {name}", "count": 2} for name in "ab"
    },
}


def test_electrode_systems_apart_in_one_building() -> None:
    found = finding(planned(TWO), "electrode-systems-apart")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "rods b")
    assert "mill" in found.text
    assert found.clause == "NEC 2020 250.50, 250.58"
    pipe = {"kind": "other metal", "from": "main a", "to": "main b", "length": "9 ft",
            "resistance": "1 mohm"}  # fmt: skip
    assert "electrode-systems-apart" not in rules_of(planned(TWO, metal__jumper=pipe))


def test_electrode_systems_of_two_buildings_are_not_compared() -> None:
    assert "electrode-systems-apart" not in rules_of(planned(TWO, places__main_b__building="barn"))


def test_without_named_buildings_it_can_not_be_told() -> None:
    result = planned(TWO, places__main_a__building=..., places__main_b__building=...)
    (found,) = findings(result, "electrode-systems-apart")
    assert found.severity is Severity.CANNOT_TELL
    assert "at the same building" in found.text
