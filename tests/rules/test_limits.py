"""Numbers at their limit and just past it, and what is said of them.

Limits are those of NFPA 70; from memory where nothing else is said.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.catalog.device_rating import DeviceRating
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.coverage import clauses, coverage
from bondwright.rules.editions import EDITIONS
from bondwright.rules.inputs import ProtectiveDevice, SupplyConductors, area_text, supply_text
from bondwright.rules.jumpers import grounded_conductor, jumper_per_raceway, parallel_jumpers
from bondwright.rules.piping import large_metal_bond, occupancy_bond, other_metal_bond
from bondwright.rules.pv import array_ground
from bondwright.rules.raceway_ends import end_over_250
from bondwright.site.model import Fitting, Knockouts
from tests.plan import whole
from tests.plan.sites import HOUSE, SHOP, SHOP_FOUND, described, finding, findings, planned
from tests.plan.sites import rules_of as rules_of_plan
from tests.plan.test_ties import WORKSHOP
from tests.rules.test_pv import found as array_found

# --- arrays -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("volts", "amps", "strings", "asked"),
    [
        # 690.41(B), exception of 2020 and later: at most 30 V and 8 A, the current with 125 %.
        ("30 V", "6.4 A", 1, False),
        ("30.5 V", "6.4 A", 1, True),
        ("30 V", "6.5 A", 1, True),
        ("30 V", "3.2 A", 2, False),
        ("30 V", "3.3 A", 2, True),
        ("60 V", "2 A", 1, True),
    ],
)
def test_pv_fault_protection_at_its_limits(
    volts: str, amps: str, strings: int, asked: bool
) -> None:
    array: dict[str, Any] = {"in series": 1, "strings": strings, "grounded": "none"}
    module = {"open circuit": volts, "short circuit": amps}
    rules = array_found("nec-2020", module=module, **array)
    assert ("pv-fault-protection" in rules) is asked


@pytest.mark.parametrize(
    "changes",
    [
        {"egc": "none"},
        {"describes": "as found"},
        {"grounded": "solid", "pole": "negative"},
        {"grounded": "none"},
        {},
    ],
    ids=str,
)
def test_what_is_said_of_an_array(changes: dict[str, Any]) -> None:
    for rule, one in array_found(**changes).items():
        whole.well_typed(one)
        assert (one.rule, one.where) == (rule, "roof")
        assert one.clause.startswith("NEC 2023 690.")
        whole.whole(one.text, {"roof"})
        if one.severity is not Severity.NOTE:
            whole.whole(one.cure, {"roof"})


def test_the_array_is_named_with_its_numbers() -> None:
    """Nine modules of 49 V in series, 11 A."""
    text = array_found(grounded="none")["pv-fault-protection"].text
    assert text.startswith("'roof' has 441 V and 11 A.")
    assert "doesn't say" in text
    solid = array_found(grounded="solid", pole="negative")["pv-fault-protection"]
    assert "plain join" in solid.text
    assert "maker" in solid.cure


def test_pv_equipment_ground_says_when_the_least_size_decides() -> None:
    """15 A asks 14 AWG of its own (table 250.122); in aluminium the table begins at 12 AWG."""
    own = array_ground(9.0, DeviceRating.parse("15 A fuse"))
    assert str(own.size) == "14 AWG Cu"
    assert not any("Never smaller" in one for one in own.because)
    assert own.inputs[0] == ("short-circuit current", "9 A")
    assert own.rules == "nec-2023"
    assert "need not grow" in own.because[-1]


def test_pv_equipment_ground_shows_the_device_it_stands_for() -> None:
    """690.8 and 690.9: 125 % twice."""
    answer = array_ground(16.0, rules="nec-2017")
    assert "16 A would have 25 A (1.25 x 1.25)" in answer.because[0]
    assert answer.clause == "NEC 2017 690.45"


# --- raceway ends -----------------------------------------------------------------------------


def test_the_hole_is_named() -> None:
    clean = end_over_250(Fitting.TWO_LOCKNUTS, Knockouts.CLEAN)
    listed = end_over_250(Fitting.TWO_LOCKNUTS, Knockouts.LISTED)
    assert (clean[0], listed[0]) == (Verdict.HOLDS, Verdict.HOLDS)
    assert clean[1] == "Two locknuts in clean knock-outs will do."
    assert listed[1] == "Two locknuts in a box listed for it will do."


# --- old feeders ------------------------------------------------------------------------------


@pytest.mark.parametrize(("year", "stands"), [(2007, True), (2008, False), (2009, False)])
def test_old_three_wire_feeder_by_its_year(year: int, stands: bool) -> None:
    """250.32(B): no second bond since the 2008 edition."""
    result = planned(WORKSHOP, runs__feeder__installed=year)
    assert ("old-three-wire-feeder" in rules_of_plan(result)) is stands
    if stands:
        assert f"(installed {year})" in finding(result, "old-three-wire-feeder").text
    else:
        said = finding(result, "tie-load-side").text
        assert f"from before the 2008 edition, and this is of {year}" in said


def test_the_year_of_a_feeder_is_that_of_what_it_feeds_if_it_has_none() -> None:
    result = planned(
        WORKSHOP,
        runs__feeder__installed=...,
        places__shed={**WORKSHOP["places"]["shed"], "installed": 1985},
    )
    assert "(installed 1985)" in finding(result, "old-three-wire-feeder").text
    unknown = planned(WORKSHOP, runs__feeder__installed=...)
    assert "(of unknown age)" in finding(unknown, "old-three-wire-feeder").text


def test_old_three_wire_feeder_not_behind_a_sensor() -> None:
    """250.32(B): ground-fault protection of equipment ahead ends it; 1000 A at 277 V has that."""
    old = described(
        SHOP_FOUND,
        places__main={"kind": "service", "main": "1000 A", "building": "hall"},
        places__hut={"kind": "panel", "main": "60 A", "building": "hut"},
        runs__old={"from": "main", "to": "hut", "length": "90 ft", "lines": "6 AWG Cu",
                   "device": "60 A", "egc": "none", "installed": 1990},
        electrodes__hut_rods={"kind": "rod", "at": "hut", "count": 2, "conductor": "6 AWG Cu"},
        ties__hut={"at": "hut", "by": "screw"},
    )  # fmt: skip
    assert "ground-fault protection of equipment is ahead" in (
        finding(planned(old), "tie-load-side").text
    )
    small = planned(old, places__main__main="800 A")
    assert finding(small, "old-three-wire-feeder").where == "hut"


# --- sizes ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("area", "text"),
    [(41740, "41,740 cmil"), (211600, "211,600 cmil"), (249999, "249,999 cmil"),
     (250000, "250 kcmil"), (335600, "335,600 cmil"), (1_000_000, "1000 kcmil")],
)  # fmt: skip
def test_areas_for_a_person(area: float, text: str) -> None:
    assert area_text(area) == text


@pytest.mark.parametrize(
    ("lines", "text"),
    [
        (["3/0 AWG Cu"], "3/0 AWG Cu"),
        (["2 x 3/0 AWG Cu"], "2 x 3/0 AWG Cu (2 x 167,800 cmil = 335,600 cmil)"),
        (["3/0 AWG Cu", "2 x 500 kcmil Cu"],
         "3/0 AWG Cu + 2 x 500 kcmil Cu (167,800 cmil + 2 x 500 kcmil = 1,167,800 cmil)"),
    ],
)  # fmt: skip
def test_supplies_for_a_person(lines: list[str], text: str) -> None:
    each = [SupplyConductors.parse(line).lines[0] for line in lines]
    assert supply_text(SupplyConductors(tuple(each))) == text


def test_grounded_conductor_of_parallel_sets_is_as_sure_as_its_least_sure_number() -> None:
    """250.24(D)(2): 1/0 AWG at least, from memory; one set has the table's certainty."""
    two = grounded_conductor(SupplyConductors.parse("2 x 3/0 AWG Cu"))
    assert (str(two.size), two.status) == ("2 x 1/0 AWG Cu", "memory")
    assert two.clause == "NEC 2023 250.24(D)(2)"
    assert grounded_conductor(SupplyConductors.parse("3/0 AWG Cu")).status == "confirmed"
    # 600 kcmil -> 1/0 AWG; 700 kcmil -> 2/0 AWG of itself.
    large = grounded_conductor(SupplyConductors.parse("2 x 700 kcmil Cu"))
    assert str(large.size) == "2 x 2/0 AWG Cu"
    aluminium = grounded_conductor(SupplyConductors.parse("2 x 500 kcmil Al"))
    assert str(aluminium.size) == "2 x 1/0 AWG Al"
    assert dict(two.inputs)["supply conductors"] == "2 x 3/0 AWG Cu"


def test_per_raceway_has_an_answer_where_one_for_all_has_none() -> None:
    """12.5 % of 9 x 2000 kcmil is above the largest conductor; of 2000 kcmil it is 250 kcmil."""
    supply = SupplyConductors.parse("9 x 2000 kcmil Cu")
    each = jumper_per_raceway(supply)
    assert str(each.size) == "250 kcmil Cu"
    with pytest.raises(ValueError, match="one jumper per raceway"):
        parallel_jumpers(supply)


def test_per_raceway_says_what_it_was_made_from() -> None:
    both = parallel_jumpers(SupplyConductors.parse("3 x 250 kcmil Cu"), rules="nec-2020")
    # Table 250.102(C)(1): 250 kcmil -> 2 AWG; 750 kcmil -> 2/0 AWG.
    assert (str(both.per_raceway.size), str(both.single.size)) == ("2 AWG Cu", "2/0 AWG Cu")
    assert both.raceways == 3
    assert both.per_raceway.inputs == (
        ("supply conductors", "3 x 250 kcmil Cu"),
        ("raceways", "3"),
        ("supply area", "250 kcmil"),
        ("jumper metal", "Cu"),
    )
    assert both.per_raceway.clause == "NEC 2020 250.102(C)(2)"
    assert "each of the 3 raceways" in both.per_raceway.because[-1]
    assert both.per_raceway.status == "confirmed"


def test_pipe_bonds_are_as_sure_as_their_rule() -> None:
    device = ProtectiveDevice.parse("60 A")
    assert occupancy_bond(device).status == "memory"
    assert other_metal_bond(device).status == "one-source"
    # Table 250.122: 60 A -> 10 AWG Cu, 8 AWG Al.
    assert str(occupancy_bond(device).size) == str(other_metal_bond(device).size) == "10 AWG Cu"


@pytest.mark.parametrize(
    ("rule", "supply", "size", "capped"),
    [
        # 3/0 AWG copper at most; 12.5 % of 1200 kcmil is 150 kcmil, 3/0 AWG of itself.
        ("water-pipe-bond", "500 kcmil Cu", "1/0 AWG Cu", False),
        ("water-pipe-bond", "1000 kcmil Cu", "2/0 AWG Cu", False),
        ("water-pipe-bond", "2 x 600 kcmil Cu", "3/0 AWG Cu", True),
        ("water-pipe-bond", "2 x 1000 kcmil Cu", "3/0 AWG Cu", True),
        ("structural-steel-bond", "2 x 1000 kcmil Cu", "3/0 AWG Cu", True),
        ("derived-area-bond", "2 x 1000 kcmil Cu", "3/0 AWG Cu", True),
    ],
)
def test_pipe_and_steel_at_the_cap(rule: str, supply: str, size: str, capped: bool) -> None:
    answer = large_metal_bond(rule, SupplyConductors.parse(supply), rules="nec-2023")
    assert (answer.rule, str(answer.size)) == (rule, size)
    assert any("need not be larger" in one for one in answer.because) is capped
    assert answer.inputs[0] == ("supply conductors", supply)
    assert dict(answer.inputs)["jumper metal"] == "Cu"


# --- ungrounded, sensors, elements ------------------------------------------------------------


def test_on_an_ungrounded_system_the_second_fault_is_named_as_well() -> None:
    delta = described(
        SHOP,
        sources__utility__system="480 V delta",
        runs__primary__egc="none",
    )
    text = finding(planned(delta), "fault-path", "primary").text
    assert text.startswith("The run 'primary' has neither a wire nor a metal raceway")
    assert text.endswith("it is the second fault that must find this way.")
    assert (
        "second fault" not in finding(planned(SHOP, runs__primary__egc="none"), "fault-path").text
    )


@pytest.mark.parametrize(("pumps", "said"), [(5, "p3, p4."), (6, "p3, p4 and 1 more."),
                                             (8, "p3, p4 and 3 more.")])  # fmt: skip
def test_what_a_missing_path_concerns_is_named_up_to_six(pumps: int, said: str) -> None:
    base = described(HOUSE, runs__feeder__egc="none")
    del base["places"]["pump"], base["runs"]["circuit"]
    for number in range(pumps):
        base["places"][f"p{number}"] = {"kind": "equipment", "building": "shed"}
        base["runs"][f"c{number}"] = {"from": "shed", "to": f"p{number}", "length": "9 ft",
                                      "lines": "12 AWG Cu", "device": "20 A"}  # fmt: skip
    text = finding(planned(base), "fault-path", "feeder").text
    assert f"This concerns: shed, p0, p1, p2, {said}" in text


def test_missing_paths_are_named_by_what_is_missing() -> None:
    jumper = finding(planned(SHOP_FOUND, runs__secondary__ssbj="none"), "fault-path")
    assert jumper.title == "no supply-side bonding jumper: a fault has no path back"
    assert "until a supply-side bonding jumper runs" in jumper.cure
    ground = finding(planned(SHOP_FOUND, runs__primary__egc="none"), "fault-path")
    assert "until an equipment grounding conductor runs" in ground.cure


def test_the_cure_tells_looking_from_fitting() -> None:
    unsaid = finding(planned(SHOP, places__main__main="1200 A"), "ground-fault-protection")
    assert unsaid.cure.startswith("See that it has: set to at most 1200 A, opening within 1 s at")
    lacking = finding(
        planned(SHOP, places__main__main="1200 A electronic breaker"), "ground-fault-protection"
    )
    assert lacking.cure.startswith("Fit or set it, with the supply off: to at most 1200 A")
    assert unsaid.text.startswith("A solidly grounded wye with 277 V to ground (limit 150 V)")


# --- the coverage -----------------------------------------------------------------------------


@pytest.mark.parametrize("rules", EDITIONS)
def test_a_row_of_the_coverage_is_its_line_in_that_edition(rules: str) -> None:
    year = EDITIONS[rules]
    lines = [one for one in clauses() if year in one.numbers]
    rows = coverage(rules)
    assert len(rows) == len(lines)
    for row, line in zip(rows, lines, strict=True):
        whole.well_typed(row)
        assert (row.number, row.handling) == (line.numbers[year], line.handling[year])
        same = ("title", "part", "rules", "look", "status", "note")
        assert all(getattr(row, name) == getattr(line, name) for name in same)


# --- autotransformers -------------------------------------------------------------------------


def test_an_autotransformer_begins_no_supply_side() -> None:
    """Its neutral is the one that comes in (250.30): behind a main all of it is load side."""
    auto = {"transformers__T1__form": "auto", "transformers__T1__primary": "480Y/277 V"}
    result = planned(SHOP, **auto)
    tree = result.topology
    assert tree.first_disconnects == {"utility": ("main",)}
    assert tree.supply_side_runs == {"service"}
    assert {tie.at for tie in result.ties} == {"main"}
    assert not result.runs["secondary"].supply_side
    # No device is described for it: as large as the lines, which is always enough.
    assert str(result.runs["secondary"].metal) == "350 kcmil Cu"
    assert finding(result, "device-unknown").where == "secondary"
    screw = planned(SHOP, **auto, ties={"m": {"at": "main"}, "screw": {"at": "LP", "by": "screw"}})
    assert finding(screw, "tie-load-side").where == "screw"
    given = planned(SHOP, **auto, runs__secondary__device="225 A")
    # Table 250.122: 225 A is in the row of 300 A, 4 AWG Cu.
    assert str(given.runs["secondary"].metal) == "4 AWG Cu"
    assert not findings(given, "device-unknown")
