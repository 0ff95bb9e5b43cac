"""The schedule row by row, and every default that was taken.

Sizes: NFPA 70 tables 250.66, 250.102(C)(1) and 250.122 (confirmed). Resistances of joins and of
typical electrodes are common practice, with chapter 9 table 8 for the wire (75 degC, per 1000 ft:
8 AWG 0.778, 4 AWG 0.308, 2 AWG 0.194, 1/0 AWG 0.122 ohm).
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.plan.model import Plan
from bondwright.rules.answer import Severity, Verdict
from tests.plan.sites import (
    HOUSE,
    HOUSE_FOUND,
    SHOP,
    SHOP_FOUND,
    Described,
    built,
    described,
    finding,
    findings,
    item,
    planned,
    rules_of,
)
from tests.rules.test_grounding import CORNER
from tests.rules.test_states import GENERATOR

EMT = {"kind": "emt", "size": "1-1/4 in"}
PVC = {"kind": "pvc", "size": "1-1/4 in"}
HOLDS, SHORT, TELL = Verdict.HOLDS, Verdict.FALLS_SHORT, Verdict.CANNOT_TELL

# base, then: id, from, to, form, chosen, asked, given
SCHEDULES: list[tuple[str, Described, list[tuple[str, str, str, str, str, str, bool]]]] = [
    ("house", HOUSE, [
        ("neutral bond at meter", "meter", "neutral", "bus", "None", "None", False),
        ("MBJ house", "house", "neutral", "wire", "4 AWG Cu", "4 AWG Cu", False),
        ("GEC house rods", "house", "house rods", "wire", "6 AWG Cu", "6 AWG Cu", False),
        ("EGC feeder", "house", "shed", "wire", "10 AWG Cu", "10 AWG Cu", False),
        ("GEC shed rods", "shed", "shed rods", "wire", "8 AWG Cu", "8 AWG Cu", False),
        ("EGC circuit", "shed", "pump", "wire", "10 AWG Cu", "10 AWG Cu", False),
    ]),
    ("shop", SHOP, [
        ("MBJ main", "main", "neutral", "wire", "1/0 AWG Cu", "1/0 AWG Cu", False),
        ("GEC steel", "main", "steel", "wire", "1/0 AWG Cu", "1/0 AWG Cu", False),
        ("EGC primary", "main", "T1", "wire", "6 AWG Cu", "6 AWG Cu", False),
        ("SBJ T1", "T1", "neutral", "wire", "2 AWG Cu", "2 AWG Cu", False),
        ("GEC T1", "T1", "main", "wire", "2 AWG Cu", "2 AWG Cu", False),
        ("SSBJ secondary", "T1", "LP", "wire", "2 AWG Cu", "2 AWG Cu", False),
        ("EGC branch", "LP", "saw", "wire", "12 AWG Cu", "12 AWG Cu", False),
    ]),
    ("shop as found", SHOP_FOUND, [
        ("MBJ main screw", "main", "neutral", "screw", "None", "1/0 AWG Cu", True),
        ("GEC steel", "main", "steel", "wire", "1/0 AWG Cu", "1/0 AWG Cu", True),
        ("EGC primary", "main", "T1", "wire", "6 AWG Cu", "6 AWG Cu", True),
        ("SBJ strap", "T1", "neutral", "strap", "None", "2 AWG Cu", True),
        ("GEC steel at T1", "T1", "steel at T1", "wire", "2 AWG Cu", "2 AWG Cu", True),
        ("SSBJ secondary", "T1", "LP", "wire", "2 AWG Cu", "2 AWG Cu", True),
        ("EGC branch", "LP", "saw", "wire", "12 AWG Cu", "12 AWG Cu", True),
    ]),
    ("generator", GENERATOR, [
        ("meter bond", "meter", "neutral", "bus", "None", "None", True),
        ("MBJ green screw", "house", "neutral", "screw", "None", "4 AWG Cu", True),
        ("GEC house rods", "house", "house rods", "wire", "6 AWG Cu", "6 AWG Cu", True),
        ("EGC feeder", "house", "shed", "wire", "10 AWG Cu", "10 AWG Cu", True),
        ("GEC shed rods", "shed", "shed rods", "wire", "6 AWG Cu", "8 AWG Cu", True),
        ("EGC circuit", "shed", "pump", "wire", "10 AWG Cu", "10 AWG Cu", True),
        ("EGC supply", "house", "switch", "wire", "10 AWG Cu", "10 AWG Cu", True),
        ("EGC cable", "gen", "switch", "wire", "10 AWG Cu", "10 AWG Cu", True),
        ("EGC backup feeder", "switch", "backup", "wire", "10 AWG Cu", "10 AWG Cu", True),
        ("SBJ generator bond", "gen", "neutral", "wire", "8 AWG Cu", "8 AWG Cu", True),
        ("GEC generator rod", "gen", "generator rod", "wire", "8 AWG Cu", "8 AWG Cu", True),
    ]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "base", "rows"), SCHEDULES, ids=lambda part: str(part)[:13])
def test_the_schedule_in_walking_order(name: str, base: Described, rows: list[Any]) -> None:
    made = planned(base)
    assert {row.verdict for row in made.schedule} == {HOLDS}
    found = [
        (row.id, row.from_, row.to, row.form, str(row.chosen),
         str(row.required.size if row.required else None), row.given)
        for row in made.schedule
    ]  # fmt: skip
    # What leaves the switch, and what stands at the generator, are found in the order of the walk.
    assert found == rows if name != "generator" else sorted(found) == sorted(rows)


ROD = ("resistance to earth 23.3 ohm, worked out for 2 rods of 8 ft by 5/8 in, 6 ft apart in a "
       "line, in soil of 100 ohm m; measure it")  # fmt: skip
SAME = "neutral of the same size as the lines, "
CABLE = "wiring taken as cable, its conductors touching"
LEAD = "electrode conductor 20 ft long"
SITE = [("site", "soil of 100 ohm m"), ("site", "frequency 60 Hz"),
        ("site", "conductors at 75 degC")]  # fmt: skip


def _assumed(result: Plan) -> list[tuple[str, str]]:
    return [(one.where, one.text) for one in result.assumptions]


def test_every_default_of_a_house() -> None:
    assert _assumed(planned(HOUSE)) == [
        *SITE,
        ("drop", f"{SAME}4/0 AWG Al"),
        ("neutral bond at meter", "bus join of 50 µohm, common practice"),
        ("riser", f"{SAME}3/0 AWG Cu"), ("riser", CABLE),
        ("main bonding jumper at house", "wire join of 408 µohm, common practice"),
        ("house rods", ROD), ("house rods", LEAD),
        ("feeder", f"{SAME}6 AWG Cu"), ("feeder", CABLE),
        ("shed rods", ROD), ("shed rods", LEAD),
        ("circuit", CABLE),
    ]  # fmt: skip


def test_every_default_of_a_shop() -> None:
    steel = ("resistance to earth 5 ohm in soil of 100 ohm m: typical, common practice; "
             "measure it")  # fmt: skip
    assert _assumed(planned(SHOP)) == [
        *SITE,
        ("service", f"{SAME}500 kcmil Cu"), ("service", CABLE),
        ("main bonding jumper at main", "wire join of 222 µohm, common practice"),
        ("steel", steel), ("steel", LEAD),
        ("primary", CABLE),
        ("system bonding jumper at T1", "wire join of 294 µohm, common practice"),
        ("secondary", f"{SAME}350 kcmil Cu"), ("secondary", CABLE),
        ("branch", f"{SAME}12 AWG Cu"), ("branch", CABLE),
    ]  # fmt: skip


def test_an_assumed_rod_says_what_it_is() -> None:
    one = planned(HOUSE, electrodes={"r": {"kind": "rod", "at": "house", "length": "10 ft",
                                           "diameter": "0.75 in"}})  # fmt: skip
    (text,) = [t for where, t in _assumed(one) if where == "r" and "resistance" in t]
    assert "worked out for 1 rod of 10 ft by 3/4 in, in soil of 100 ohm m" in text
    assert "apart" not in text


# --- what stands in the way of a size ---------------------------------------------------------


def test_a_neutral_of_another_metal_beyond_the_table_is_not_judged() -> None:
    """12.5 % is of the supply's own metal: 3 x 750 kcmil is above the end of the table."""
    result = planned(
        HOUSE, runs__riser__lines="3 x 1000 kcmil Al", runs__riser__neutral="3 x 500 kcmil Cu"
    )
    found = finding(result, "grounded-conductor")
    assert (found.where, found.severity) == ("riser", Severity.CANNOT_TELL)
    assert found.title == "no size by rule"


@pytest.mark.parametrize("side", ["egc", "ssbj"])
@pytest.mark.parametrize(
    ("raceway", "words"),
    [(PVC, "pvc is not metal"), (None, "no raceway is described")],
    ids=["plastic", "none"],
)
def test_a_raceway_that_is_to_do_it_and_can_not(side: str, raceway: Any, words: str) -> None:
    run = "branch" if side == "egc" else "secondary"
    site = described(SHOP, **{f"runs__{run}__{side}": "raceway"})
    if raceway:
        site = described(site, **{f"runs__{run}__raceway": raceway})
    result = built(site)
    row = item(result, f"{side.upper() if side == 'egc' else 'SSBJ'} {run}")
    assert (row.form, row.verdict) == ("none", SHORT)
    assert row.remark == f"the raceway is to do it, but {words}"
    assert not result.runs[run].raceway_bonded
    assert finding(result, "fault-path", run).severity is Severity.DANGER


def test_a_supply_side_jumper_of_another_metal_beyond_the_table_is_kept_and_not_judged() -> None:
    base = described(SHOP, runs__secondary__lines="3 x 1000 kcmil Al",
                     runs__secondary__ssbj="250 kcmil Cu")  # fmt: skip
    result = planned(base)
    row = item(result, "SSBJ secondary")
    assert (str(row.chosen), row.required, row.verdict) == ("250 kcmil Cu", None, TELL)
    assert row.given
    assert row.remark == "no size by rule; see the findings"
    assert finding(result, "supply-side-bonding-jumper").severity is Severity.CANNOT_TELL
    assert str(result.runs["secondary"].metal) == "250 kcmil Cu"
    # One in each raceway follows 1000 kcmil Al, which is in the table.
    each = planned(described(base, runs__secondary__ssbj="3 x 4/0 AWG Cu"))
    assert item(each, "SSBJ secondary").verdict is HOLDS


def test_a_metal_raceway_that_is_said_to_join_nothing() -> None:
    raceway = {"kind": "emt", "size": "3 in"}
    none = planned(SHOP, runs__secondary__raceway=raceway, runs__secondary__ssbj="none")
    assert not none.runs["secondary"].raceway_bonded
    row = item(none, "SSBJ secondary")
    assert (row.form, row.verdict, row.chosen) == ("none", SHORT, None)
    assert row.remark == "none: metal at T1 and at LP is not joined by it"
    said = "the metal raceway doesn't join the metal at both ends, as none is said"
    assert ("secondary", said) in _assumed(none)
    silent = planned(SHOP, runs__secondary__raceway=raceway)
    assert silent.runs["secondary"].raceway_bonded
    assert str(silent.runs["secondary"].metal) == "2 AWG Cu"
    assert ("secondary", "the metal raceway joins the metal at both ends") in _assumed(silent)
    alone = planned(SHOP, runs__secondary__raceway=raceway, runs__secondary__ssbj="raceway")
    assert (alone.runs["secondary"].raceway_bonded, alone.runs["secondary"].metal) == (True, None)
    assert item(alone, "SSBJ secondary").form == "raceway"
    assert not [text for where, text in _assumed(alone) if "both ends" in text]
    found = planned(SHOP_FOUND, runs__secondary__raceway=raceway, runs__secondary__ssbj=...)
    assert item(found, "SSBJ secondary").form == "raceway"


def test_a_jumper_on_a_service_run_is_judged_like_any_other() -> None:
    """Table 250.102(C)(1): 3/0 AWG Cu -> 4 AWG Cu. The neutral bonds; a jumper is extra."""
    right = planned(HOUSE, runs__riser__ssbj="4 AWG Cu")
    row = item(right, "SSBJ riser")
    assert (row.from_, row.to, row.verdict, row.given) == ("meter", "house", HOLDS, True)
    assert str(right.runs["riser"].metal) == "4 AWG Cu"
    assert item(planned(HOUSE, runs__riser__ssbj="6 AWG Cu"), "SSBJ riser").verdict is SHORT
    by_raceway = planned(HOUSE, runs__riser__raceway=EMT, runs__riser__ssbj="raceway")
    assert item(by_raceway, "SSBJ riser").form == "raceway"
    assert by_raceway.runs["riser"].raceway_bonded
    assert "SSBJ riser" not in {r.id for r in planned(HOUSE).schedule}


def test_parallel_jumpers_say_what_was_taken_for_granted() -> None:
    unsaid = planned(SHOP, runs__secondary__lines="2 x 3/0 AWG Cu")
    text = "each of the 2 parallel sets has its own raceway or cable"
    assert ("secondary", text) in _assumed(unsaid)
    for sets, size in (("apart", "2 x 4 AWG Cu"), ("together", "2 AWG Cu")):
        said = planned(SHOP, runs__secondary__lines="2 x 3/0 AWG Cu", runs__secondary__sets=sets)
        assert str(said.runs["secondary"].metal) == size
        assert ("secondary", text) not in _assumed(said)


def test_a_ground_without_a_device_is_kept_or_as_large_as_the_lines() -> None:
    base = described(HOUSE, places__house={"kind": "service", "building": "house"})
    del base["runs"]["feeder"]["device"]
    drawn = planned(base)
    row = item(drawn, "EGC feeder")
    assert (row.given, row.verdict, str(row.chosen)) == (False, TELL, "6 AWG Cu")
    assert row.remark == "taken as large as the lines of feeder, which is always enough"
    assert ("feeder", "equipment grounding conductor 6 AWG Cu, as the lines") in _assumed(drawn)
    kept = item(planned(base, runs__feeder__egc="12 AWG Cu"), "EGC feeder")
    assert (kept.given, kept.verdict, kept.remark) == (
        True,
        TELL,
        "no size by rule; see the findings",
    )
    cure = finding(drawn, "device-unknown").cure
    assert cure == "Give 'feeder' a 'device', or the place ahead of it a 'main'."


def test_a_size_that_nobody_knows_is_to_be_found_out() -> None:
    found = finding(planned(HOUSE_FOUND, ties__green_screw={"at": "house"}), "main-bonding-jumper")
    assert found.severity is Severity.CANNOT_TELL
    assert found.title == "main bonding jumper not known well enough"
    assert found.cure == "Find out what is there; 4 AWG Cu or larger is asked."
    assert found.text.startswith("Its size is not described; 4 AWG Cu is asked.")
    thin = finding(planned(HOUSE, runs__feeder__egc="12 AWG Cu"), "equipment-ground")
    assert thin.title == "equipment grounding conductor too small"
    assert thin.cure == "Use 10 AWG Cu or larger, with the supply off."


def test_an_electrode_conductor_as_found_that_nobody_described() -> None:
    result = planned(HOUSE_FOUND, electrodes__house_rods={"kind": "rod", "at": "house", "count": 2})
    row = item(result, "GEC house rods")
    assert (row.verdict, row.chosen) == (TELL, None)
    assert str(result.electrodes["house rods"].conductor) == "6 AWG Cu"
    assert ("house rods", "electrode conductor of 6 AWG Cu") in _assumed(result)
    lost = planned(HOUSE, electrodes__lost={"kind": "rod", "at": "house", "conductor": "none"})
    gone = item(lost, "GEC lost")
    assert (gone.form, gone.verdict, gone.remark) == ("none", SHORT, "not joined")
    assert lost.electrodes["lost"].conductor is None
    assert ("lost", LEAD) not in _assumed(lost)


def test_an_auxiliary_electrode_has_no_size_by_rule() -> None:
    """250.54."""
    result = planned(HOUSE, electrodes__extra={"kind": "rod", "at": "pump"},
                     places__pump={"kind": "equipment"})  # fmt: skip
    row = item(result, "GEC extra")
    assert (row.required, row.given, row.verdict) == (None, False, HOLDS)
    assert row.remark == "no size by rule for an electrode here"
    assert ("extra", f"electrode conductor of {row.chosen}") in _assumed(result)
    given = planned(
        HOUSE,
        places__pump={"kind": "equipment"},
        electrodes__extra={"kind": "rod", "at": "pump", "conductor": "8 AWG Cu"},
    )
    assert (str(item(given, "GEC extra").chosen), item(given, "GEC extra").given) == (
        "8 AWG Cu", True,
    )  # fmt: skip


# --- a derived system and the electrodes of its building --------------------------------------


def _two_halls() -> Described:
    return described(
        SHOP,
        places__main={"kind": "service", "main": "400 A", "building": "one"},
        places__LP={"kind": "panel", "main": "200 A", "building": "two"},
        places__saw={"kind": "equipment", "building": "two"},
        places__gate={"kind": "panel", "main": "60 A", "building": "two"},
        transformers__T1__building="two",
        runs__gate={"from": "main", "to": "gate", "length": "90 ft", "lines": "6 AWG Cu",
                    "device": "60 A"},
        electrodes={"one": {"kind": "steel", "at": "main"}, "two": {"kind": "ring", "at": "gate"}},
    )  # fmt: skip


def test_a_derived_system_is_joined_to_the_electrodes_of_its_own_building() -> None:
    assert item(planned(_two_halls()), "GEC T1").to == "gate"
    elsewhere = described(_two_halls(), electrodes={"one": {"kind": "steel", "at": "main"}})
    assert item(planned(elsewhere), "GEC T1").to == "main"
    lightning = described(_two_halls(), electrodes__two__lightning=True)
    assert item(planned(lightning), "GEC T1").to == "main"
    none = planned(SHOP, electrodes={})
    row = item(none, "GEC T1")
    assert row.to == "building electrodes"
    assert row.remark.startswith("no electrode of the building is described; to the electrode")
    assert "portable" not in row.remark


def test_a_tap_of_a_common_conductor_starts_at_the_tie() -> None:
    """250.30(A)(6): 3/0 AWG Cu in common; the tap follows its own supply, 350 kcmil -> 2 AWG."""
    shared = {"steel": {"kind": "steel", "at": "main", "shared by": ["T1"]}}
    result = planned(SHOP, electrodes=shared, ties={"t": {"at": "LP", "by": "strap"}})
    tap = item(result, "GEC T1")
    assert (tap.from_, tap.to, str(tap.chosen), tap.given) == ("LP", "steel", "2 AWG Cu", False)
    assert tap.required is not None
    assert "250.30(A)(6)" in tap.required.clause
    assert str(item(result, "GEC steel").chosen) == "3/0 AWG Cu"
    found = planned(
        SHOP_FOUND, electrodes={"steel": {**shared["steel"], "conductor": "3/0 AWG Cu"}}
    )
    asked = item(found, "GEC T1")
    assert (asked.chosen, asked.given, asked.verdict, asked.from_) == (None, True, TELL, "T1")
    assert asked.remark.endswith("its size is not described, 2 AWG Cu is asked")


def test_as_found_a_derived_system_without_electrode_is_reported_with_its_size() -> None:
    result = planned(SHOP_FOUND, electrodes__steel_at_T1=...)
    found = finding(result, "derived-electrode")
    assert (found.where, found.severity) == ("T1", Severity.FALLS_SHORT)
    assert found.cure.startswith("Run 2 AWG Cu from the place of its tie")
    assert "GEC T1" not in {row.id for row in result.schedule}


def test_supplies_of_different_metals_are_told_with_their_clause() -> None:
    base = described(
        SHOP,
        runs__secondary_2={"from": "T1", "to": "LP2", "length": "10 ft", "lines": "1/0 AWG Al"},
        places__LP2={"kind": "panel", "main": "100 A"},
    )
    result = planned(base)
    for rule, clause in (("system-bonding-jumper", "250.28(D)"), ("electrode-conductor", "250.66")):
        (found,) = findings(result, rule)
        assert "different metals" in found.text
        assert clause in found.clause
    row = item(result, "SBJ T1")
    assert (row.required, row.chosen, row.verdict) == (None, None, TELL)
    assert row.remark == "no size by rule; see the findings"
    pipe = {"kind": "structural steel", "from": "LP", "to": "saw", "length": "9 ft",
            "resistance": "1 mohm"}  # fmt: skip
    bonded = planned(base, metal__frame=pipe)
    told = [f for f in bonded.findings if f.where == "frame"]
    assert [f.rule for f in told] == ["structural-steel-bond"]


# --- ties -------------------------------------------------------------------------------------


def test_a_tie_elsewhere_keeps_what_is_said_of_it() -> None:
    stray = planned(HOUSE_FOUND, ties__extra={"at": "shed", "by": "wire"})
    (tie,) = [tie for tie in stray.ties if tie.id == "extra"]
    assert not tie.belongs
    assert ("extra", f"wire of {tie.size}") in _assumed(stray)
    sized = planned(HOUSE_FOUND, ties__extra={"at": "shed", "by": "wire", "size": "8 AWG Cu"})
    (tie,) = [tie for tie in sized.ties if tie.id == "extra"]
    assert str(tie.size) == "8 AWG Cu"
    # 0.1 mohm for its ends and a foot of 8 AWG.
    assert tie.resistance == pytest.approx(1e-4 + 0.778e-3, rel=1e-3)
    ohms = planned(HOUSE_FOUND, ties__extra={"at": "shed", "by": "screw", "resistance": "2 mohm"})
    (tie,) = [tie for tie in ohms.ties if tie.id == "extra"]
    assert tie.resistance == 0.002
    assert "extra" not in {where for where, _ in _assumed(ohms)}


def test_labels_of_designed_ties_are_free() -> None:
    base = described(HOUSE, ties={"main bonding jumper at house": {"at": "meter", "by": "bus"}})
    made = planned(base)
    assert {tie.id for tie in made.ties} == {
        "main bonding jumper at house", "main bonding jumper at house (2)",
    }  # fmt: skip
    bond = described(HOUSE, ties={"neutral bond at meter": {"at": "house", "by": "screw"}})
    assert {tie.id for tie in planned(bond).ties} == {
        "neutral bond at meter", "neutral bond at meter (2)",
    }  # fmt: skip


def test_a_corner_is_joined_by_its_line() -> None:
    far = planned(described(CORNER, ties={"corner": {"at": "motor", "line": "L2"}}))
    (made,) = [tie for tie in far.ties if not tie.given]
    assert (made.at, made.line, made.form.value, made.belongs) == ("main", "L2", "wire", True)
    row = item(far, "MBJ main")
    assert (row.to, str(row.chosen)) == ("L2", "1/0 AWG Cu")
    assert {tie.id: tie.line for tie in far.ties}["corner"] == "L2"
    assert all(tie.line is None for tie in planned(HOUSE).ties)


def test_the_largest_supply_decides_where_several_share_a_neutral() -> None:
    """An island: a generator and an inverter with one neutral; the tie follows the larger."""
    island: Described = {
        "site": "island",
        "rules": "nec-2020",
        "generators": {"gen": {"system": "120/240 V", "rating": "12 kVA"}},
        "inverters": {"sun": {"system": "120/240 V", "rating": "6 kVA"}},
        "transfers": {"switch": {"normal": "a", "standby": "b", "neutral": "solid"}},
        "places": {"board": {"kind": "disconnect", "main": "100 A", "building": "hut"},
                   "lamp": {"kind": "equipment", "building": "hut"}},
        "runs": {
            "a": {"from": "sun", "to": "switch", "length": "9 ft", "lines": "6 AWG Cu"},
            "b": {"from": "gen", "to": "switch", "length": "9 ft", "lines": "2/0 AWG Cu"},
            "c": {"from": "switch", "to": "board", "length": "9 ft", "lines": "2/0 AWG Cu"},
            "d": {"from": "board", "to": "lamp", "length": "9 ft", "lines": "12 AWG Cu",
                  "device": "20 A"},
        },
        "electrodes": {"ring": {"kind": "ring", "at": "board"}},
    }  # fmt: skip
    result = planned(island)
    (tie,) = result.ties
    row = item(result, f"SBJ {tie.at}")
    # Table 250.102(C)(1): 2/0 AWG Cu -> 4 AWG Cu; 6 AWG alone would ask 8 AWG.
    assert str(row.chosen) == "4 AWG Cu"
    assert not {"state-tie-none", "state-tie-twice"} & rules_of(result)
