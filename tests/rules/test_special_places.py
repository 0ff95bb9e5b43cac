"""Mobile homes, farm grounds, high voltage: mobile-home-feeder, livestock-buried-ground and more.

550.33 (two public pages): a feeder of four insulated conductors; 550.32 (two pages): service
equipment beside a mobile home, within 30 ft, and not on it. 547.5(F) and 547.9 (public pages that
differ on copper): insulated in the soil. 1000 V: from memory.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.special_places import is_high
from tests.plan.sites import HOUSE, described, finding, findings, item, planned, rules_of

EMT = {"kind": "emt", "size": "1 in"}


def _at(kind: str, at: str = "shed", **changes: Any) -> Any:
    return planned(described(HOUSE, areas={"home": {"kind": kind, "at": at}}, **changes))


def test_mobile_home_feeder_needs_a_wire() -> None:
    raceway = _at("mobile home", runs__feeder__raceway=EMT, runs__feeder__egc="raceway")
    found = finding(raceway, "mobile-home-feeder")
    assert (found.where, found.severity) == ("feeder", Severity.FALLS_SHORT)
    assert found.clause == "NEC 2020 550.16, 550.32, 550.33"
    assert "with the power off" in found.cure
    wire = _at("mobile home", runs__feeder__raceway=EMT, runs__feeder__egc="10 AWG Cu")
    assert "mobile-home-feeder" not in rules_of(wire)
    assert "mobile-home-feeder" not in rules_of(_at("mobile home"))
    # The same raceway to anything else will do, and so will one behind the home's panel.
    shed = planned(HOUSE, runs__feeder__raceway=EMT, runs__feeder__egc="raceway")
    assert "mobile-home-feeder" not in rules_of(shed)
    beyond = _at("mobile home", runs__circuit__raceway=EMT, runs__circuit__egc="raceway")
    assert "mobile-home-feeder" not in rules_of(beyond)


def test_mobile_home_feeder_asks_where_the_service_stands() -> None:
    found = finding(_at("mobile home", "house"), "mobile-home-feeder")
    assert (found.where, found.severity) == ("house", Severity.CANNOT_TELL)
    assert "within 30 ft, and not on it" in found.text
    assert found.clause == "NEC 2020 550.16, 550.32, 550.33"
    assert "plate" in found.cure


def test_a_join_in_a_mobile_home_is_found() -> None:
    """550.16: the neutral is apart from the metal in the home."""
    result = _at("mobile home", ties={"screw": {"at": "shed", "by": "screw"}})
    assert "tie-load-side" in rules_of(result)


@pytest.mark.parametrize(
    ("run", "egc", "wiring", "asked"),
    [
        ("feeder", "6 AWG Al", "direct buried", True),
        ("feeder", "10 AWG Cu", "direct buried", False),
        ("feeder", "6 AWG Al", "cable", False),
        ("feeder", None, "direct buried", False),
        ("circuit", "6 AWG Al", "direct buried", True),
    ],
)
def test_livestock_buried_ground(run: str, egc: str | None, wiring: str, asked: bool) -> None:
    changes = {f"runs__{run}__wiring": wiring} | ({f"runs__{run}__egc": egc} if egc else {})
    found = findings(_at("livestock", **changes), "livestock-buried-ground")
    assert [(f.where, f.severity) for f in found] == (
        [(run, Severity.CANNOT_TELL)] if asked else []
    )
    if found:
        assert "6 AWG Al" in found[0].text
        assert "insulated copper" in found[0].cure
    # Elsewhere it is no matter of this rule.
    assert not findings(planned(described(HOUSE, **changes)), "livestock-buried-ground")


def test_livestock_buried_ground_where_no_building_is_named() -> None:
    changes: dict[str, Any] = {
        "places__shed__building": ...,
        "places__pump__building": ...,
        "places__house__building": ...,
        "runs__circuit__wiring": "direct buried",
        "runs__circuit__egc": "6 AWG Al",
    }
    assert not findings(_at("livestock", **changes), "livestock-buried-ground")
    assert findings(_at("livestock", "pump", **changes), "livestock-buried-ground")


def test_livestock_buried_ground_looks_at_every_run() -> None:
    changes = {
        "runs__feeder__wiring": "direct buried",
        "runs__feeder__egc": "10 AWG Cu",
        "runs__circuit__wiring": "direct buried",
        "runs__circuit__egc": "6 AWG Al",
    }
    found = finding(_at("livestock", **changes), "livestock-buried-ground")
    assert found.where == "circuit"
    assert found.title == "aluminium in the soil as the ground of a building for livestock"


def test_livestock_buried_ground_names_its_clause() -> None:
    changes = {"runs__feeder__wiring": "direct buried", "runs__feeder__egc": "6 AWG Al"}
    old = finding(_at("livestock", **changes), "livestock-buried-ground")
    assert old.clause == "NEC 2020 547.5(F), 547.9"
    new = finding(_at("livestock", rules="nec-2023", **changes), "livestock-buried-ground")
    assert new.clause == "NEC 2023 547.27, 547.40"


# --- above 1000 V -------------------------------------------------------------------------------

YARD: Any = {
    "site": "works with a service of its own voltage",
    "rules": "nec-2020",
    "sources": {"line": {"system": "12470Y/7200 V", "available": {"current": "4 kA"}}},
    "transformers": {
        "T": {"primary": "12470 V delta", "secondary": "480Y/277 V", "rating": "750 kVA",
              "impedance": "5.75 %"}
    },
    "places": {
        "gear": {"kind": "service", "main": "100 A fuse"},
        "board": {"kind": "panel", "main": "800 A"},
    },
    "runs": {
        "in": {"from": "line", "to": "gear", "length": "90 ft", "lines": "1/0 AWG Cu"},
        "to T": {"from": "gear", "to": "T", "length": "40 ft", "lines": "1/0 AWG Cu",
                 "device": "80 A fuse"},
        "from T": {"from": "T", "to": "board", "length": "20 ft", "lines": "2 x 600 kcmil Cu"},
    },
    "electrodes": {"ring": {"kind": "ring", "at": "gear"}},
}  # fmt: skip


def test_high_voltage_system_is_named_and_left_to_an_engineer() -> None:
    result = planned(YARD)
    found = finding(result, "high-voltage-system")
    assert (found.where, found.severity) == ("line", Severity.CANNOT_TELL)
    assert found.clause == "NEC 2020 250.20(C), 250.180"
    assert "12470Y/7200 V" in found.text
    assert "stands for nothing" in found.text
    assert "engineer" in found.cure
    verdicts = {row.id: row.verdict for row in result.schedule}
    assert verdicts["MBJ gear"] is Verdict.CANNOT_TELL
    assert verdicts["GEC ring"] is Verdict.CANNOT_TELL
    assert verdicts["EGC to T"] is Verdict.CANNOT_TELL
    assert "rules of its own" in item(result, "EGC to T").remark
    # The 480 V side is judged as ever.
    assert verdicts["SBJ T"] is Verdict.HOLDS
    assert verdicts["SSBJ from T"] is Verdict.HOLDS


def test_high_voltage_system_begins_above_1000_v() -> None:
    for volts, high in (("1000", False), ("1001", True)):
        result = planned(YARD, sources__line__system=f"{volts} V delta",
                         transformers__T__primary=f"{volts} V delta")  # fmt: skip
        assert is_high(result.topology, "line", "nec-2020") is high
        assert bool(findings(result, "high-voltage-system")) is high
    assert "high-voltage-system" not in rules_of(planned(HOUSE))


def test_what_falls_short_above_1000_v_stays_so() -> None:
    result = planned(YARD, runs__to_T__egc="none")
    assert item(result, "EGC to T").verdict is Verdict.FALLS_SHORT


def test_rows_without_a_system_are_left_alone() -> None:
    result = planned(YARD, metal__pipe={"kind": "water pipe", "from": "gear", "to": "board",
                     "length": "90 ft", "resistance": "5 mohm"})  # fmt: skip
    assert item(result, "BJ pipe").verdict is Verdict.CANNOT_TELL
