"""Generators, inverters and transfer switches as the plan has them.

Sizes: table rows of NFPA 70, confirmed unless said otherwise.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.plan.model import Plan, Purpose
from bondwright.rules.answer import Severity, Verdict
from tests.plan.sites import HOUSE, described, finding, item, planned, rules_of

STANDBY = described(
    HOUSE,
    generators={"gen": {"system": "120/240 V", "rating": "12 kVA", "building": "yard"}},
    transfers={"switch": {"normal": "supply", "standby": "cable", "neutral": "switched",
                          "building": "house"}},
    places__backup={"kind": "panel", "building": "house"},
    places__gen_disconnect={"kind": "disconnect", "main": "50 A", "building": "yard"},
    runs__supply={"from": "house", "to": "switch", "length": "5 ft", "lines": "6 AWG Cu",
                  "device": "60 A"},
    runs__stub={"from": "gen", "to": "gen disconnect", "length": "3 ft", "lines": "2 AWG Cu"},
    runs__cable={"from": "gen disconnect", "to": "switch", "length": "40 ft",
                 "lines": "6 AWG Cu"},
    runs__backup_feeder={"from": "switch", "to": "backup", "length": "5 ft", "lines": "6 AWG Cu"},
    electrodes__yard_rods={"kind": "rod", "at": "gen disconnect", "count": 2},
)  # fmt: skip


def ties(result: Plan) -> set[str]:
    return {tie.at for tie in result.ties}


def test_a_derived_generator_gets_its_tie_its_jumper_and_its_electrode() -> None:
    result = planned(STANDBY)
    assert ties(result) == {"meter", "house", "gen"}
    # 2 AWG Cu -> 8 AWG Cu in tables 250.66 and 250.102(C)(1).
    assert str(item(result, "SBJ gen").chosen) == "8 AWG Cu"
    assert str(item(result, "SSBJ stub").chosen) == "8 AWG Cu"
    assert str(item(result, "GEC yard rods").chosen) == "8 AWG Cu"
    # 50 A -> 10 AWG Cu in table 250.122.
    assert str(item(result, "EGC cable").chosen) == "10 AWG Cu"
    assert result.runs["stub"].supply_side
    assert not result.runs["cable"].supply_side
    assert [f for f in result.findings if f.severity is not Severity.NOTE] == []


def test_without_an_electrode_its_conductor_is_designed() -> None:
    result = planned(STANDBY, electrodes__yard_rods=...)
    row = item(result, "GEC gen")
    assert (row.purpose, str(row.chosen)) == (Purpose.ELECTRODE_CONDUCTOR, "8 AWG Cu")
    assert "portable" in row.remark
    found = planned(STANDBY, electrodes__yard_rods=..., describes="as found")
    assert finding(found, "derived-electrode", "gen").severity is Severity.FALLS_SHORT


def test_a_solid_neutral_gets_no_tie_and_its_frame_no_second_bond() -> None:
    result = planned(STANDBY, transfers__switch__neutral="solid")
    assert ties(result) == {"meter", "house"}
    assert not [row for row in result.schedule if row.purpose is Purpose.SYSTEM_BONDING_JUMPER]
    # The frame hangs on the wire that comes with the lines, ahead of its breaker a jumper.
    assert str(item(result, "SSBJ stub").chosen) == "8 AWG Cu"
    assert str(item(result, "EGC cable").chosen) == "10 AWG Cu"
    assert [f for f in result.findings if f.severity is not Severity.NOTE] == []
    assert not [run for run in rules_of(result) if run == "supply-side-loop"]


def test_both_runs_to_a_switch_are_in_the_schedule() -> None:
    rows = [row.id for row in planned(STANDBY).schedule]
    assert rows.index("EGC supply") < rows.index("EGC backup feeder")
    assert len({"EGC supply", "EGC cable"} & set(rows)) == 2
    assert len(rows) == len(set(rows))


def test_an_inverter_behind_a_switch_is_judged_like_a_generator() -> None:
    base: dict[str, Any] = described(STANDBY, generators=...)
    base["inverters"] = {"gen": {"system": "120/240 V", "rating": "8 kVA"}}
    result = planned(base)
    assert ties(result) == {"meter", "house", "gen"}
    assert str(item(result, "SBJ gen").chosen) == "8 AWG Cu"


def test_an_array_in_parallel_needs_no_tie() -> None:
    array = described(
        HOUSE,
        inverters={"roof": {"system": "240 V", "rating": "5 kVA"}},
        runs__array={"from": "house", "to": "roof", "length": "40 ft", "lines": "10 AWG Cu",
                     "neutral": "none", "device": "30 A"},
    )  # fmt: skip
    result = planned(array)
    assert ties(result) == {"meter", "house"}
    assert str(item(result, "EGC array").chosen) == "10 AWG Cu"
    assert result.states[0].on == {"utility", "roof"}
    wrong = planned(
        array,
        runs__array__neutral="10 AWG Cu",
        inverters__roof__system="120/240 V",
        ties={"inside": {"at": "roof"}},
    )
    assert finding(wrong, "tie-load-side").where == "inside"


def test_an_island_with_one_source() -> None:
    result = planned(
        {
            "site": "cabin",
            "rules": "nec-2020",
            "inverters": {"inv": {"system": "120 V", "rating": "3 kVA"}},
            "places": {"panel": {"kind": "panel", "main": "30 A"}},
            "runs": {"out": {"from": "inv", "to": "panel", "length": "9 ft",
                             "lines": "10 AWG Cu"}},
            "electrodes": {"rods": {"kind": "rod", "at": "panel", "count": 2}},
        }
    )  # fmt: skip
    assert ties(result) == {"inv"}
    # No larger than the supply conductors.
    assert str(item(result, "SBJ inv").chosen) == "10 AWG Cu"
    assert result.findings == ()
    (only,) = result.tie_counts
    assert (only.state, only.origin, only.count) == ("normal", "inv", 1)


def test_taps_of_metal_count_as_paths() -> None:
    """Steel that touches a pole's metal brings it to the service, but is no EGC."""
    steel = {"kind": "structural steel", "from": "house", "to": "house", "length": "90 ft",
             "resistance": "2 mohm"}  # fmt: skip
    bare = described(HOUSE, describes="as found", ties={"s": {"at": "house", "by": "screw"}},
                     runs__feeder__egc="10 AWG Cu")  # fmt: skip
    assert finding(planned(bare), "fault-path").where == "circuit"
    touched = planned(bare, metal__frame={**steel, "taps": [{"at": "50 ft", "to": "pump"}]})
    assert "fault-path" not in rules_of(touched)
    assert "other metal" in finding(touched, "equipment-ground-missing", "circuit").text


def test_an_electrode_that_no_formula_fits_is_asked_about() -> None:
    result = planned(HOUSE, electrodes__house_rods__diameter="12 in")
    odd = finding(result, "rod-size", "house rods")
    assert odd.severity is Severity.CANNOT_TELL
    assert "too thick" in odd.text
    assert result.electrodes["house rods"].resistance > 1


@pytest.mark.parametrize("describes", ["plan", "as found"])
def test_every_count_of_a_plan_is_of_its_states(describes: str) -> None:
    result = planned(STANDBY, describes=describes)
    assert [state.id for state in result.states] == ["normal", "on gen"]
    assert [(one.state, one.origin) for one in result.tie_counts] == [
        ("normal", "utility"),
        ("on gen", "gen"),
    ]
    holds = all(one.verdict is Verdict.HOLDS for one in result.tie_counts)
    assert holds is (describes == "plan")


def test_a_long_chain_of_boxes_is_planned() -> None:
    places: dict[str, Any] = {f"b{n}": {"kind": "box"} for n in range(990)}
    runs = {
        f"r{n}": {"from": "house" if n == 0 else f"b{n - 1}", "to": f"b{n}", "length": "1 ft",
                  "lines": "12 AWG Cu", **({"device": "20 A"} if n == 0 else {})}
        for n in range(990)
    }  # fmt: skip
    long = described(HOUSE)
    long["places"] |= places
    long["runs"] |= runs
    assert len(planned(long).runs) == 994
