"""Where neutral and metal are joined, on many small sites.

Common practice where no source is named.
"""

from __future__ import annotations

import pytest

from bondwright.plan.variants import with_tie, without_tie
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.ties import where_ties_belong
from bondwright.site.model import TieForm
from tests.plan.sites import (
    HOUSE,
    HOUSE_FOUND,
    SHOP,
    SHOP_FOUND,
    built,
    described,
    finding,
    findings,
    item,
    planned,
    rules_of,
)


def test_sound_sites_have_nothing_wrong() -> None:
    for base in (HOUSE, HOUSE_FOUND, SHOP, SHOP_FOUND):
        worse = [f for f in planned(base).findings if f.severity is not Severity.NOTE]
        assert worse == [], base["site"]


# --- service ---------------------------------------------------------------------------------


def test_service_ties_are_designed() -> None:
    result = planned(HOUSE)
    assert [(tie.id, tie.at, tie.given, tie.belongs) for tie in result.ties] == [
        ("main bonding jumper at house", "house", False, True),
        ("neutral bond at meter", "meter", False, True),
    ]
    # Table 250.102(C)(1), confirmed: 3/0 AWG Cu -> 4 AWG Cu.
    assert str(item(result, "MBJ house").chosen) == "4 AWG Cu"


def test_nonmetallic_meter_needs_no_bond() -> None:
    result = planned(HOUSE, places__meter__enclosure="nonmetallic")
    assert [tie.at for tie in result.ties] == ["house"]


def test_each_service_disconnect_has_its_own() -> None:
    result = planned(
        HOUSE,
        places__barn_service={"kind": "service", "main": "100 A"},
        runs__second={"from": "meter", "to": "barn service", "length": "5 ft", "lines": "4 AWG Cu"},
    )
    assert {tie.at for tie in result.ties} == {"meter", "house", "barn service"}
    # 250.28(D)(2): each from the conductors that serve its enclosure; table rows confirmed.
    assert str(item(result, "MBJ house").chosen) == "4 AWG Cu"
    assert str(item(result, "MBJ barn service").chosen) == "8 AWG Cu"
    # 250.66 note: the electrode conductor from the sum, 167,800 + 41,740 cmil -> 2 AWG, rod cap 6.
    assert str(item(result, "GEC house rods").chosen) == "6 AWG Cu"


def test_a_missing_main_tie_is_danger() -> None:
    result = planned(HOUSE_FOUND, ties={})
    missing = finding(result, "tie-missing")
    assert (missing.severity, missing.where) == (Severity.DANGER, "house")
    assert missing.clause == "NEC 2020 250.24(B)"
    assert result.ties == ()
    assert {f.where for f in findings(result, "earth-not-a-path")} == {"house rods", "shed rods"}


def test_a_missing_main_tie_with_a_bonded_meter_still_falls_short() -> None:
    # The raceway to the meter carries the fault to the join there.
    result = planned(
        HOUSE_FOUND,
        ties__green_screw=...,
        runs__riser__raceway={"kind": "rmc", "size": "2 in"},
    )
    assert finding(result, "tie-missing").severity is Severity.FALLS_SHORT


def test_no_join_at_all_is_worse_than_two() -> None:
    none = planned(HOUSE_FOUND, ties={})
    two = planned(HOUSE_FOUND, ties__extra={"at": "shed", "by": "screw"})
    order = list(Severity)
    assert order.index(none.findings[0].severity) < order.index(two.findings[0].severity)


def test_supply_side_loop_is_a_note_and_the_same_past_the_main_is_not() -> None:
    # Public discussions, many contributors: a metal raceway between meter and main, bonded at
    # both ends, is inherent and accepted.
    raceway = {"kind": "emt", "size": "2 in"}
    supply = planned(HOUSE_FOUND, runs__riser__raceway=raceway)
    loop = finding(supply, "supply-side-loop")
    assert (loop.severity, loop.where) == (Severity.NOTE, "riser")
    assert {f.severity for f in supply.findings} == {Severity.NOTE}
    with_jumper = planned(HOUSE_FOUND, runs__riser__ssbj="4 AWG Cu")
    assert finding(with_jumper, "supply-side-loop").severity is Severity.NOTE
    load = planned(
        HOUSE_FOUND,
        runs__feeder__raceway=raceway,
        ties__extra={"at": "shed", "by": "screw"},
    )
    assert finding(load, "tie-load-side").severity is Severity.FALLS_SHORT
    assert "supply-side-loop" not in rules_of(load)


def test_undescribed_meter_bond_is_a_note() -> None:
    result = planned(HOUSE_FOUND, ties__meter_bond=...)
    assert finding(result, "meter-bond").severity is Severity.NOTE


def test_service_neutral_has_to_come() -> None:
    result = planned(SHOP_FOUND, runs__service__neutral="none", ties={"strap": {"at": "T1"}})
    assert finding(result, "service-neutral").severity is Severity.DANGER


def test_meter_with_breakers_is_the_service_disconnect() -> None:
    # The reader asks for a service disconnect; a site built in code may leave it to the runs.
    site = described(HOUSE, places__house={"kind": "panel"}, runs__riser__device="200 A")
    result = built(site)
    assert where_ties_belong(result.topology)["utility"].required == ("meter",)
    assert [tie.id for tie in result.ties] == ["main bonding jumper at meter"]


def test_no_disconnect_described_cannot_be_told() -> None:
    # The reader refuses such a file; a site built in code may still have it.
    site = described(HOUSE, places__house={"kind": "panel"}, places__shed={"kind": "panel"})
    del site["runs"]["feeder"]["device"], site["runs"]["circuit"]["device"]
    result = built(site)
    assert finding(result, "tie-place-unknown").severity is Severity.CANNOT_TELL


# --- load side -------------------------------------------------------------------------------


def test_load_side_tie_with_a_ground_may_go_after_proof() -> None:
    result = planned(HOUSE_FOUND, ties__extra={"at": "shed", "by": "screw"})
    found = finding(result, "tie-load-side")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "extra")
    assert "prove that the equipment grounding conductor of 'feeder' is whole" in found.cure
    assert "Don't take" not in found.cure
    (extra,) = [tie for tie in result.ties if tie.id == "extra"]
    assert not extra.belongs


def test_load_side_tie_that_is_the_only_path_stays_until_another_stands() -> None:
    result = planned(
        HOUSE_FOUND,
        ties__extra={"at": "shed", "by": "screw"},
        runs__feeder__egc="none",
        runs__feeder__installed=2015,
    )
    found = finding(result, "tie-load-side")
    assert found.cure.startswith("Don't take 'extra' out yet")
    assert "run an equipment grounding conductor with 'feeder'" in found.cure
    assert finding(result, "equipment-ground-missing").severity is Severity.FALLS_SHORT


def test_load_side_tie_that_stands_in_for_the_missing_main_one() -> None:
    # An old service panel turned sub-panel: its tie stayed, the new disconnect got none.
    result = planned(HOUSE_FOUND, ties={"old": {"at": "shed", "by": "screw"}})
    assert finding(result, "tie-missing").severity is Severity.FALLS_SHORT
    cure = finding(result, "tie-load-side").cure
    assert "Don't take 'old' out yet" in cure
    assert "install the main bonding jumper at house" in cure


def test_two_load_side_ties_are_judged_together() -> None:
    # Each alone could go, both together could not.
    result = planned(
        HOUSE_FOUND,
        runs__circuit__neutral="10 AWG Cu",
        ties={"one": {"at": "shed"}, "two": {"at": "pump"}},
    )
    cures = [f.cure for f in findings(result, "tie-load-side")]
    assert len(cures) == 2
    assert all("Don't take" in cure for cure in cures)


def test_poles_with_a_rod_and_a_bonded_neutral() -> None:
    # Public discussion of rest-area light poles, answers corrected by several members: neutral
    # tied at each pole, no equipment grounding conductor, people shocked.
    poles = described(
        HOUSE_FOUND,
        places__pole={"kind": "equipment"},
        runs__lights={
            "from": "house",
            "to": "pole",
            "length": "300 ft",
            "lines": "6 AWG Cu",
            "device": "30 A",
            "egc": "none",
            "wiring": "direct buried",
        },
        electrodes__pole_rod={"kind": "rod", "at": "pole", "conductor": "6 AWG Cu"},
    )
    bonded = planned(poles, ties__pole_bond={"at": "pole"})
    assert finding(bonded, "tie-load-side").severity is Severity.FALLS_SHORT
    assert "fault-path" not in rules_of(bonded)
    # The "temporary fix" of taking the bond out makes it worse.
    lifted = planned(poles)
    worse = finding(lifted, "fault-path")
    assert (worse.severity, worse.where) == (Severity.DANGER, "lights")
    assert worse.title.startswith("no equipment grounding conductor")
    assert finding(lifted, "earth-not-a-path").where == "pole rod"


# --- an old three-wire feeder to a separate building -----------------------------------------

WORKSHOP = described(
    HOUSE_FOUND,
    ties__workshop={"at": "shed", "by": "strap"},
    runs__feeder__egc="none",
    runs__feeder__installed=1993,
    runs__feeder__raceway={"kind": "pvc", "size": "1-1/4 in"},
)
"""Public question: 100 ft of PVC from 1993, two lines and a neutral (compiled reasoning)."""


def test_old_three_wire_feeder_may_stand_on_conditions() -> None:
    result = planned(WORKSHOP)
    found = finding(result, "old-three-wire-feeder")
    assert found.severity is Severity.CANNOT_TELL
    assert "telephone" in found.text
    assert "Don't take 'workshop' out" in found.cure
    assert not rules_of(result) & {"tie-load-side", "equipment-ground-missing", "fault-path"}
    assert item(result, "EGC feeder").verdict is Verdict.CANNOT_TELL


def test_age_unknown_cannot_be_told() -> None:
    found = finding(planned(WORKSHOP, runs__feeder__installed=...), "old-three-wire-feeder")
    assert "before the 2008 edition" in found.text


@pytest.mark.parametrize("describes", ["as found", "plan"])
def test_new_three_wire_feeder_fails(describes: str) -> None:
    result = planned(WORKSHOP, runs__feeder__installed=2012, describes=describes)
    found = finding(result, "tie-load-side")
    assert found.severity is Severity.FALLS_SHORT
    assert "2012" in found.text
    assert "old-three-wire-feeder" not in rules_of(result)


def test_planned_three_wire_feeder_without_a_date_fails() -> None:
    result = planned(WORKSHOP, runs__feeder__installed=..., describes="plan")
    found = finding(result, "tie-load-side")
    assert "this one is planned" in found.text


def test_metal_between_the_buildings_ends_the_old_rule() -> None:
    result = planned(
        WORKSHOP,
        metal={
            "phone shield": {
                "kind": "cable shield",
                "from": "house",
                "to": "shed",
                "length": "100 ft",
                "resistance": "1 ohm",
            }
        },
    )
    found = finding(result, "tie-load-side")
    assert "metal runs between the buildings" in found.text
    # The shield is metal, but no path to rely on.
    assert "other metal" in finding(result, "equipment-ground-missing").text


def test_taking_the_tie_out_of_an_old_feeder_is_danger() -> None:
    result = planned(WORKSHOP, ties__workshop=...)
    assert finding(result, "fault-path").severity is Severity.DANGER


# --- derived systems -------------------------------------------------------------------------


def test_derived_system_is_designed() -> None:
    # Public discussions (45 kVA for a repair shop; 75 kVA, 350 kcmil secondary -> 2 AWG Cu).
    result = planned(SHOP)
    assert {(tie.id, tie.at) for tie in result.ties} == {
        ("main bonding jumper at main", "main"),
        ("system bonding jumper at T1", "T1"),
    }
    assert str(item(result, "SBJ T1").chosen) == "2 AWG Cu"
    assert str(item(result, "SSBJ secondary").chosen) == "2 AWG Cu"
    gec = item(result, "GEC T1")
    assert (str(gec.chosen), gec.from_, gec.to) == ("2 AWG Cu", "T1", "main")
    assert gec.required is not None
    assert "250.30(A)(5)" in gec.required.clause
    assert str(item(result, "EGC primary").chosen) == "6 AWG Cu"


@pytest.mark.parametrize("place", ["T1", "LP"])
def test_derived_tie_may_stand_at_either_end(place: str) -> None:
    result = planned(SHOP_FOUND, ties__strap={"at": place, "by": "strap"})
    assert not rules_of(result) & {"derived-tie-missing", "derived-tie-twice", "tie-load-side"}
    assert all(tie.belongs for tie in result.ties)
    drawn = planned(SHOP, ties={"strap": {"at": place, "by": "strap"}})
    assert [tie.at for tie in drawn.ties if not tie.given] == ["main"]


def test_two_on_a_derived_system() -> None:
    result = planned(SHOP_FOUND, ties__panel_screw={"at": "LP", "by": "screw"})
    found = finding(result, "derived-tie-twice")
    assert (found.severity, found.where) == (Severity.FALLS_SHORT, "panel screw")
    assert {tie.id for tie in result.ties if not tie.belongs} == {"panel screw"}
    # Without the bonding jumper the second tie is part of the fault path: care first.
    bare = planned(
        SHOP_FOUND, ties__panel_screw={"at": "LP", "by": "screw"}, runs__secondary__ssbj="none"
    )
    assert finding(bare, "derived-tie-twice").cure.startswith("Don't take it out yet")
    assert finding(bare, "supply-side-jumper-missing").severity is Severity.FALLS_SHORT
    outdoors = planned(
        SHOP_FOUND,
        ties__panel_screw={"at": "LP", "by": "screw"},
        runs__secondary__ssbj="none",
        transformers__T1__outdoors=True,
    )
    assert finding(outdoors, "derived-tie-twice").severity is Severity.CANNOT_TELL


def test_rod_at_a_transformer_does_not_replace_its_tie() -> None:
    # Published article: 30 kVA, a rod at the transformer, no system bonding jumper, a worker
    # shocked while one line stood on metal.
    result = planned(
        SHOP_FOUND,
        ties__strap=...,
        electrodes__steel_at_T1={"kind": "rod", "at": "T1", "conductor": "6 AWG Cu"},
    )
    missing = finding(result, "derived-tie-missing")
    assert (missing.severity, missing.where) == (Severity.DANGER, "T1")
    assert finding(result, "earth-not-a-path").where == "steel at T1"
    assert "rods don't mend that" in finding(result, "earth-not-a-path").text


def test_tie_beyond_the_first_disconnect_of_a_derived_system() -> None:
    result = planned(SHOP_FOUND, ties__extra={"at": "saw"})
    assert finding(result, "tie-load-side").where == "extra"


def test_with_two_disconnects_the_tie_is_at_the_transformer() -> None:
    two = described(
        SHOP,
        places__LP2={"kind": "panel", "main": "100 A"},
        runs__secondary_2={"from": "T1", "to": "LP2", "length": "10 ft", "lines": "3 AWG Cu"},
    )
    result = planned(two)
    assert [tie.at for tie in result.ties if tie.at != "main"] == ["T1"]
    # 250.28(D)(3): from the sum, 350,000 + 52,620 cmil -> row over 350 to 600 kcmil.
    assert str(item(result, "SBJ T1").chosen) == "1/0 AWG Cu"
    wrong = planned(two, ties={"screw": {"at": "LP", "by": "screw"}})
    assert {tie.at for tie in wrong.ties if not tie.belongs} == {"LP"}
    assert finding(wrong, "tie-load-side").where == "screw"


def test_delta_secondary_gets_no_tie() -> None:
    delta = described(SHOP, transformers__T1__secondary="240 V delta")
    result = planned(delta)
    assert [tie.at for tie in result.ties] == ["main"]
    assert finding(result, "ground-detector").severity is Severity.NOTE
    # The reader refuses a tie there; a site built in code may still have one.
    forced = built(described(delta, ties={"corner": {"at": "T1"}}))
    assert finding(forced, "tie-without-neutral").severity is Severity.CANNOT_TELL
    assert [tie.at for tie in forced.ties] == ["main"]


# --- variants --------------------------------------------------------------------------------


def test_variants() -> None:
    base = planned(HOUSE)
    fewer = without_tie(base, "main bonding jumper at house")
    assert [tie.at for tie in fewer.ties] == ["meter"]
    assert len(base.ties) == 2
    more = with_tie(base, "shed", TieForm.STRAP)
    added = more.ties[-1]
    assert (added.at, added.form, added.given, added.size) == ("shed", TieForm.STRAP, False, None)
    assert (added.id, added.at, added.belongs) == ("extra tie at shed", "shed", False)
    assert added.resistance > 0
    assert with_tie(more, "shed").ties[-1].id == "extra tie at shed (2)"
    assert with_tie(fewer, "house").ties[-1].belongs
    known = "'main bonding jumper at house', 'neutral bond at meter'"
    with pytest.raises(ValueError, match=f"^'nothing' is no tie of this plan; it has {known}$"):
        without_tie(base, "nothing")
    bare = without_tie(fewer, "neutral bond at meter")
    assert bare.ties == ()
    with pytest.raises(ValueError, match=r"it has none$"):
        without_tie(bare, "neutral bond at meter")
    with pytest.raises(ValueError, match="no place"):
        with_tie(base, "nowhere")
    with pytest.raises(ValueError, match="no neutral"):
        with_tie(base, "pump")
