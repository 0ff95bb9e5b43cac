"""Plans by IEC 60364: joins, protective conductors, earthing, bonding, by arrangement.

Table 54.2 is confirmed (see tests/reference); the rest from memory where nothing is named.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.plan.build import NEC, family_of, plan
from bondwright.plan.iec.family import IEC
from bondwright.plan.iec.runs import Role, role_of
from bondwright.plan.model import Plan, Purpose
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.families import belonging, placements, title, unit_system
from bondwright.site.model import Site
from tests.iec_sites import COOPERAGE, COTTAGE, FLAT, HALL, NAMES, plan_of, site_of
from tests.outside import outside, published
from tests.plan.sites import HOUSE, finding, findings, item, planned, rules_of

HOLDS, SHORT, CANNOT = Verdict.HOLDS, Verdict.FALLS_SHORT, Verdict.CANNOT_TELL


def _sizes(made: Plan) -> dict[str, str]:
    return {row.id: str(row.chosen) for row in made.schedule if row.chosen is not None}


# --- where neutral and earth are joined ----------------------------------------------------


@pytest.mark.parametrize(
    ("name", "joined"), [(COTTAGE, []), (FLAT, ["cut-out"]), (COOPERAGE, []), (HALL, [])]
)
def test_joins_are_placed(name: str, joined: list[str]) -> None:
    """TN-C-S: the cut-out; TN-S and TT: the source; IT: nowhere (IEC 60364-1 312.2)."""
    made = plan_of(name)
    assert [tie.at for tie in made.ties] == joined
    assert all(tie.belongs and not tie.given for tie in made.ties)
    assert not {rule for rule in rules_of(made) if rule.startswith("iec-join")}


def test_the_operators_join_is_no_work_for_the_installer() -> None:
    row = item(plan_of(FLAT), "N-E cut-out")
    assert row.purpose is Purpose.MAIN_BONDING_JUMPER
    assert (row.required, row.verdict) == (None, HOLDS)
    assert "network operator" in row.remark


def test_a_join_that_is_given_is_kept_and_one_too_many_reported() -> None:
    two = {"link": {"at": "cut-out", "by": "bus"}, "second": {"at": "cooker"}}
    made = plan_of(FLAT, ties=two)
    assert {tie.id: tie.belongs for tie in made.ties} == {"link": True, "second": False}
    assert finding(made, "iec-join-downstream", "second").severity is Severity.FALLS_SHORT


def test_as_found_the_declared_join_stands_unless_it_is_said_that_there_is_none() -> None:
    assert [t.at for t in plan_of(FLAT, describes="as found").ties] == ["cut-out"]
    none = plan_of(FLAT, describes="as found", ties={})
    assert none.ties == ()
    assert finding(none, "iec-join-missing", "cut-out").severity is Severity.DANGER
    # In a plan it is designed all the same.
    assert [t.at for t in plan_of(FLAT, ties={}).ties] == ["cut-out"]


@pytest.mark.parametrize(("name", "at"), [(COTTAGE, "consumer unit"), (COOPERAGE, "main board")])
def test_tt_and_tn_s_have_no_join_in_the_installation(name: str, at: str) -> None:
    made = plan_of(name, ties={"link": {"at": at}})
    rule = "iec-join-not-allowed" if name == COTTAGE else "iec-join-downstream"
    assert finding(made, rule, "link")
    assert [tie.belongs for tie in made.ties] == [False]


def test_a_join_of_the_installations_own_may_be_given() -> None:
    changes: dict[str, Any] = {
        "generators": {"genset": {"system": "230 V", "rating": "8 kVA"}},
        "places__hut": {"kind": "service", "main": "C20"},
        "runs__hut line": {
            "from": "genset", "to": "hut", "length": "9 m", "lines": "16 mm2 Cu", "pe": "none",
        },
    }  # fmt: skip
    small = plan_of(FLAT, **changes, ties__own={"at": "genset", "size": "4 mm2 Cu"})
    row = item(small, "N-E own")
    assert (row.verdict, str(row.required.size if row.required else "")) == (SHORT, "16 mm2 Cu")
    assert "75 % too small" in row.remark
    assert finding(small, "iec-protective-conductor", "own")
    screw = plan_of(FLAT, **changes, ties__own={"at": "genset", "by": "screw"})
    assert item(screw, "N-E own").verdict is HOLDS
    assert item(screw, "PE hut line").verdict is SHORT  # its supply side has none
    unsized = plan_of(FLAT, **changes, ties__own={"at": "genset"})
    assert str(item(unsized, "N-E own").chosen) == "16 mm2 Cu"


# --- protective conductors -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("1.5 mm2 Cu", "1.5 mm2 Cu"),
        ("2.5 mm2 Cu", "2.5 mm2 Cu"),
        ("10 mm2 Cu", "10 mm2 Cu"),
        ("16 mm2 Cu", "16 mm2 Cu"),
        ("25 mm2 Cu", "16 mm2 Cu"),
        ("35 mm2 Cu", "16 mm2 Cu"),
        ("50 mm2 Cu", "25 mm2 Cu"),
        ("70 mm2 Cu", "35 mm2 Cu"),
        ("95 mm2 Cu", "50 mm2 Cu"),  # 47.5, and the next size made
        ("2 x 70 mm2 Cu", "2 x 35 mm2 Cu"),
    ],
)
@outside("IEC 60364-5-54, table 54.2, in a plan", "confirmed")
def test_protective_conductors_by_table_54_2(line: str, asked: str) -> None:
    made = plan_of(COOPERAGE, **{"runs__store cable__lines": line})
    row = item(made, "PE store cable")
    assert (str(row.chosen), row.given, row.verdict) == (asked, False, HOLDS)
    assert row.required is not None
    assert row.required.clause == "IEC 60364-5-54 543.1.1 and table 54.2"
    assert str(made.runs["store cable"].metal) == published(asked)


def test_aluminium_lines_ask_for_copper_of_the_same_worth() -> None:
    """16 mm2 x k1 / k2 = 16 x 76 / 115 = 10.6 mm2 (tables A.54.4 and A.54.3, confirmed)."""
    made = plan_of(COOPERAGE, **{"runs__store cable__lines": "25 mm2 Al"})
    assert str(item(made, "PE store cable").chosen) == "16 mm2 Cu"
    made = plan_of(COOPERAGE, **{"runs__store cable__lines": "16 mm2 Al"})
    assert str(item(made, "PE store cable").chosen) == "16 mm2 Cu"
    made = plan_of(COOPERAGE, **{"runs__store cable__lines": "10 mm2 Al"})
    assert str(item(made, "PE store cable").chosen) == "10 mm2 Cu"  # 10 x 76 / 115 = 6.6


@pytest.mark.parametrize(
    ("given", "verdict", "says"),
    [
        ("2.5 mm2 Cu", HOLDS, "is asked"),
        ("4 mm2 Cu", HOLDS, "is asked"),
        ("1.5 mm2 Cu", CANNOT, "40 % too small by the table; by the heat"),
        ("none", SHORT, "no path of its own"),
    ],
)
def test_given_protective_conductors_are_kept_and_judged(
    given: str, verdict: Verdict, says: str
) -> None:
    made = plan_of(FLAT, **{"runs__heater circuit__pe": given})
    row = item(made, "PE heater circuit")
    assert (row.verdict, row.given) == (verdict, True)
    assert says in row.remark


def test_conduit_may_be_the_protective_conductor() -> None:
    changes: dict[str, Any] = {
        "runs__heater circuit__raceway": {"kind": "rmc", "size": "1/2 in"},
        "runs__heater circuit__pe": "raceway",
    }
    made = plan_of(FLAT, **changes)
    assert (item(made, "PE heater circuit").form, made.runs["heater circuit"].metal) == (
        "raceway",
        None,
    )
    assert made.runs["heater circuit"].raceway_bonded
    assert findings(made, "iec-exposed-part") == []


def test_circuits_with_one_protective_conductor_follow_the_largest() -> None:
    made = plan_of(FLAT, **{"runs__heater circuit__with": ["cooker circuit"]})
    assert str(item(made, "PE heater circuit").chosen) == "6 mm2 Cu"  # 543.1.4


def test_a_circuit_without_a_device_is_not_known() -> None:
    changes: dict[str, Any] = {
        "runs__heater circuit__device": ..., "places__cut-out__main": ...,
        "places__consumer unit__kind": "service",
    }  # fmt: skip
    found = finding(plan_of(FLAT, **changes), "iec-loop", "heater circuit")
    assert found.severity is Severity.CANNOT_TELL


def test_as_found_nothing_is_added() -> None:
    made = plan_of(FLAT, describes="as found")
    assert made.runs["heater circuit"].metal is None
    assert item(made, "PE heater circuit").verdict is SHORT
    assert item(made, "earthing conductor tails").verdict is SHORT
    assert item(made, "bonding gas pipe").verdict is CANNOT


# --- the supply's own and the tails --------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "run", "metal"),
    [
        (COOPERAGE, "service cable", "35 mm2 Cu"),  # the operator's, as described
        (FLAT, "service cable", None),  # the PEN does it
        (COTTAGE, "service cable", None),
        (COTTAGE, "tails", None),
        (FLAT, "tails", "16 mm2 Cu"),  # the earthing conductor
        (COOPERAGE, "tails", "25 mm2 Cu"),
        (HALL, "main cable", "16 mm2 Cu"),
    ],
)
def test_metal_ahead_of_the_first_board(name: str, run: str, metal: str | None) -> None:
    wire = plan_of(name).runs[run].metal
    assert (str(wire) if wire else None) == metal


def test_the_operators_conductor_is_assumed_where_tn_s_is_declared() -> None:
    made = plan_of(COOPERAGE, **{"runs__service cable__pe": ...})
    assert str(made.runs["service cable"].metal) == "35 mm2 Cu"  # table 54.2 of 70 mm2
    assert any("network operator's cable" in a.text for a in made.assumptions)
    assert "PE service cable" not in _sizes(made)


def test_roles_of_runs() -> None:
    tree = plan_of(COTTAGE).topology
    assert {name: role_of(tree, name) for name in ("service cable", "tails", "press circuit")} == {
        "service cable": Role.NETWORK,
        "tails": Role.TAILS,
        "press circuit": Role.CIRCUIT,
    }


@pytest.mark.parametrize(
    ("given", "verdict"), [("16 mm2 Cu", HOLDS), ("10 mm2 Cu", SHORT), ("raceway", CANNOT)]
)
def test_earthing_conductors_of_the_tails(given: str, verdict: Verdict) -> None:
    changes: dict[str, Any] = {"runs__tails__pe": given}
    if given == "raceway":
        changes["runs__tails__raceway"] = {"kind": "rmc", "size": "1 in"}
    made = plan_of(FLAT, **changes)
    assert item(made, "earthing conductor tails").verdict is verdict
    assert bool(findings(made, "iec-earthing-conductor")) is (verdict is SHORT)


# --- electrodes ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("buried", "asked"),
    [
        # BS 7671 table 54.1, from memory: 25 bare, 16 sheathed; with 6 mm2 tails.
        ("bare", "25 mm2 Cu"),
        ("sheathed", "16 mm2 Cu"),
        ("sheathed and guarded", "6 mm2 Cu"),
        ("not in soil", "6 mm2 Cu"),
        (None, "16 mm2 Cu"),
    ],
)
@outside("BS 7671, table 54.1, in a plan", "memory")
def test_buried_earthing_conductors(buried: str | None, asked: str) -> None:
    changes: dict[str, Any] = {"runs__tails__lines": "6 mm2 Cu"}
    if buried is not None:
        changes["electrodes__cottage rods__buried"] = buried
    row = item(plan_of(COTTAGE, **changes), "earthing conductor cottage rods")
    assert str(row.chosen) == published(asked)
    assert row.verdict is HOLDS
    assert ("a bare one is at least 25 mm2 Cu" in row.remark) is (buried is None)


@pytest.mark.parametrize(
    ("given", "buried", "verdict"),
    [
        ("25 mm2 Cu", None, HOLDS),
        ("16 mm2 Cu", None, CANNOT),
        ("10 mm2 Cu", None, SHORT),
        ("16 mm2 Cu", "sheathed", HOLDS),
        ("16 mm2 Cu", "bare", SHORT),
    ],
)
def test_given_earthing_conductors(given: str, buried: str | None, verdict: Verdict) -> None:
    changes: dict[str, Any] = {"electrodes__cottage rods__conductor": given}
    if buried is not None:
        changes["electrodes__cottage rods__buried"] = buried
    made = plan_of(COTTAGE, **changes)
    assert item(made, "earthing conductor cottage rods").verdict is verdict
    assert bool(findings(made, "iec-earthing-conductor")) is (verdict is not HOLDS)


def test_electrodes_as_found_and_odd_ones() -> None:
    row = item(plan_of(COTTAGE, describes="as found"), "earthing conductor cottage rods")
    assert row.verdict is CANNOT
    aluminium = plan_of(COTTAGE, **{"electrodes__cottage rods__conductor": "35 mm2 Al"})
    assert finding(aluminium, "iec-earthing-conductor").severity is Severity.CANNOT_TELL
    thick = plan_of(COTTAGE, **{"electrodes__cottage rods__diameter": "9 m"})
    assert finding(thick, "iec-electrode-size").severity is Severity.CANNOT_TELL
    lightning = plan_of(COTTAGE, **{"electrodes__cottage rods__lightning": True})
    assert "lightning" in item(lightning, "earthing conductor cottage rods").remark
    own = {"kind": "rod", "at": "press house", "resistance": "60 ohm", "buried": "not in soil"}
    there = plan_of(COTTAGE, electrodes__own=own)
    assert str(item(there, "earthing conductor own").chosen) == "10 mm2 Cu"  # as its cable


# --- bonding -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("tails", "asked"),
    [
        # Half the largest protective conductor, 6 to 25 mm2 of copper (544.1.1; one-source).
        ("6 mm2 Cu", "6 mm2 Cu"),
        ("16 mm2 Cu", "10 mm2 Cu"),
        ("35 mm2 Cu", "10 mm2 Cu"),
        ("70 mm2 Cu", "25 mm2 Cu"),
        ("150 mm2 Cu", "25 mm2 Cu"),
    ],
)
@outside("IEC 60364-5-54, 544.1.1, in a plan", "one-source")
def test_main_bonding(tails: str, asked: str) -> None:
    made = plan_of(FLAT, **{"runs__tails__lines": tails})
    for pipe in ("water pipe", "gas pipe"):
        row = item(made, f"bonding {pipe}")
        assert str(row.chosen) == published(asked)
        assert row.verdict is HOLDS


def test_shields_are_not_bonded_by_this_rule() -> None:
    shield = {
        "kind": "cable shield", "from": "consumer unit", "to": "cooker", "length": "9 m",
        "resistance": "1 ohm",
    }  # fmt: skip
    assert "bonding screen" not in _sizes(plan_of(FLAT, metal__screen=shield))


# --- a broken PEN --------------------------------------------------------------------------


def test_iec_pen_open_is_told_of_a_single_phase_pen_only() -> None:
    note = finding(plan_of(FLAT), "iec-pen-open", "cut-out")
    assert note.severity is Severity.NOTE
    assert "230 V" in note.text  # no electrode: nothing holds the metal down
    rod = {"kind": "rod", "at": "consumer unit", "resistance": "20 ohm"}
    held = finding(plan_of(FLAT, electrodes__rod=rod), "iec-pen-open", "cut-out")
    # By hand: 12.8 kW at 230 V is 4.13 ohm; 230 V x 20 / 24.13 = 191 V.
    assert "191 V" in held.text
    for other in (COTTAGE, COOPERAGE, HALL):
        assert findings(plan_of(other), "iec-pen-open") == []


# --- the seam ------------------------------------------------------------------------------


def test_families_by_name() -> None:
    assert family_of("iec-60364-2017") is IEC
    assert family_of("nec-2023") is NEC
    assert unit_system("iec-60364-2017") == "metric"
    assert unit_system("nec-2017") == "us"
    assert title("nec-2020") == "NEC (NFPA 70), 2020 edition"
    assert title("iec-60364-2017").startswith("IEC 60364-4-41")


@pytest.mark.parametrize("name", NAMES)
def test_no_rule_of_the_other_family_is_named(name: str) -> None:
    made = plan_of(name, describes="as found", electrodes={}, ties={})
    assert all(rule.startswith("iec-") for rule in rules_of(made))
    assert not any("NEC" in f.clause for f in made.findings)
    assert all(row.required is None or "NEC" not in row.required.clause for row in made.schedule)


def test_placements_follow_the_family() -> None:
    tree = plan_of(FLAT).topology
    assert placements(tree)["network"].required == ("cut-out",)
    assert belonging(tree, {"a": "cut-out", "b": "cooker"}) == {"a"}
    house = planned(HOUSE).topology
    assert belonging(house, {"a": "garage panel"} if "garage panel" in house.order else {}) == set()


def test_a_site_without_its_arrangement_is_no_plan() -> None:
    bare = site_of(FLAT).model_copy(update={"earthing": None})
    assert isinstance(bare, Site)
    with pytest.raises(ValueError, match="earthing"):
        plan(bare)


@pytest.mark.parametrize("name", NAMES)
def test_what_is_taken_where_nothing_is_said(name: str) -> None:
    made = plan_of(name)
    assert (made.frequency, made.temperature) == (50, 70)
    assert not any(" ft" in a.text or "AWG" in a.text for a in made.assumptions)
