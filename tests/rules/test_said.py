"""What findings name: places, counts, states, and what to do in which order.

Common practice where no source is named. Numbers are those of NFPA 70.
"""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from bondwright.plan.build import plan
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.areas import area_bond
from bondwright.rules.bonding_screw import Screw, bonding_screw
from bondwright.rules.checklist import checklist, items
from bondwright.rules.editions import UnknownRulesError
from bondwright.site.model import AreaKind
from bondwright.site.reader import read
from tests.plan import whole
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
from tests.rules.checklist_sites import SITES
from tests.rules.test_amendments import SOURCE, TEXT
from tests.rules.test_amendments import planned as amended
from tests.rules.test_checklist import plan_of
from tests.rules.test_grounding import CORNER
from tests.rules.test_states import GENERATOR, count

# --- local amendments -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rods", "said"),
    [
        (0, "nothing here."),
        (1, "something at: r0."),
        (6, "something at: r0, r1, r2, r3, r4, r5."),
        (7, "something at: r0, r1, r2, r3, r4, r5 and 1 more."),
        (9, "something at: r0, r1, r2, r3, r4, r5 and 3 more."),
    ],
)
def test_where_a_local_amendment_bites(rods: int, said: str) -> None:
    each = "".join(
        f"  r{n}: {{kind: rod, at: panel, length: 9 ft, count: 2}}\n" for n in range(rods)
    )
    text = (TEXT % (SOURCE, "rod-length: 10 ft")).replace("  rod: {", f"{each}  rod: {{")
    note = finding(plan(read(text)), "local-amendment", "site")
    assert note.text == (
        "Local amendment rod-length: 10 ft in place of 8 ft (Harrow Creek, ordinance 12, "
        f"2024-03-01). It changes {said}"
    )
    assert (note.severity, note.clause) == (Severity.NOTE, "Harrow Creek, ordinance 12, 2024-03-01")


def test_a_local_amendment_stands_in_the_row_it_made() -> None:
    row = item(amended("rod-only-cap: 4 AWG Cu"), "GEC rod")
    assert row.required is not None
    assert row.required.clause == "NEC 2023 250.66, local amendment rod-only-cap"
    assert row.required.status
    assert (row.required.rule, row.verdict) == ("electrode-conductor", Verdict.HOLDS)


# --- areas ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "words"),
    [("pool", "water"), ("livestock", ""), ("marina", "water")],
)
def test_no_bond_at_an_area_names_size_and_edition(kind: str, words: str) -> None:
    area = {"kind": kind, "at": "shed", "bond": "none"}
    for rules in ("nec-2017", "nec-2023"):
        rule = {"pool": "pool-bond", "livestock": "livestock-bond", "marina": "dock-ground"}[kind]
        found = finding(planned(HOUSE, areas__yard=area, rules=rules), rule, "yard")
        size = "12 AWG Cu" if kind == "marina" else "8 AWG Cu"
        assert f"Join it with {size} or larger" in found.cure
        assert ("out of the water" in found.cure) is bool(words)
        assert found.clause.startswith(f"NEC {rules[-4:]} ")


def test_an_area_bond_says_what_it_was_made_from() -> None:
    answer = area_bond(AreaKind.POOL)
    assert answer is not None
    assert answer.inputs == (("area", "pool"), ("conductor metal", "Cu"))
    dock = area_bond(AreaKind.MARINA)
    assert dock is not None
    assert dock.status == "memory"


def test_rows_of_areas() -> None:
    """A dock is joined by its circuits' grounds: no row, unless a conductor is described."""
    for describes in ("plan", "as found"):
        dock = planned(HOUSE_FOUND, describes=describes,
                       areas__dock={"kind": "marina", "at": "shed"})  # fmt: skip
        assert "equipotential dock" not in {row.id for row in dock.schedule}
    given = planned(HOUSE, areas__dock={"kind": "marina", "at": "shed", "bond": "10 AWG Cu"})
    row = item(given, "equipotential dock")
    assert (str(row.chosen), row.given, row.verdict, row.to) == (
        "10 AWG Cu", True, Verdict.HOLDS, "dock",
    )  # fmt: skip
    thin = planned(HOUSE, areas__dock={"kind": "marina", "at": "shed", "bond": "14 AWG Cu"})
    assert item(thin, "equipotential dock").verdict is Verdict.FALLS_SHORT
    none = item(planned(HOUSE, areas__p={"kind": "pool", "at": "shed", "bond": "none"}),
                "equipotential p")  # fmt: skip
    assert (none.form, none.given, none.remark) == ("none", True, "none; 8 AWG Cu is asked")
    drawn = item(planned(HOUSE, areas__p={"kind": "pool", "at": "shed"}), "equipotential p")
    assert (drawn.form, drawn.given, drawn.from_) == ("wire", False, "shed")
    other = planned(HOUSE, areas__p={"kind": "patient care", "at": "shed"})
    assert "equipotential p" not in {row.id for row in other.schedule}


def test_a_dock_at_a_source_has_only_outgoing_runs() -> None:
    result = planned(
        GENERATOR,
        areas__dock={"kind": "marina", "at": "gen"},
        runs__cable__egc="8 AWG Al",
    )
    assert finding(result, "dock-ground", "cable").severity is Severity.FALLS_SHORT


# --- the bonding screw ------------------------------------------------------------------------

OPEN = list(product((True, False, None), repeat=4))


@pytest.mark.parametrize("answers", OPEN, ids=str)
def test_an_answer_on_the_screw_is_one_that_holds_for_every_case(
    answers: tuple[bool | None, ...],
) -> None:
    whole.well_typed(found := bonding_screw(*answers))  # type: ignore[arg-type]
    every = {
        bonding_screw(*full)  # type: ignore[arg-type]
        for full in product((True, False), repeat=4)
        if all(given in (None, value) for given, value in zip(answers, full, strict=True))
    }
    for sentence in (*found.because, *found.do):
        whole.whole(sentence, set())
    if len(every) == 1:
        assert {found} == every
        return
    assert found.ask
    severities = {one.severity for one in every}
    if len({one.screw for one in every}) > 1:
        assert (found.screw, found.rule) == (Screw.CANNOT_TELL, "fault-path")
        assert found.severity is Severity.CANNOT_TELL
        assert "Leave the screw as it is" in found.do[0]
        return
    # Told with the worst in mind, and no surer than all the cases together are.
    assert {found.screw} == {one.screw for one in every}
    assert found.severity is (severities.pop() if len(severities) == 1 else Severity.CANNOT_TELL)
    assert found.because[0].startswith("Not everything is answered")
    assert found.because[1:] in {one.because for one in every}
    assert found.rule in {one.rule for one in every}


def test_other_metal_is_no_path_and_is_not_told_where_there_is_none() -> None:
    with_pipe = bonding_screw(False, False, True, False)
    without = bonding_screw(False, False, False, False)
    assert with_pipe.because[0].startswith("Other metal leads back")
    assert without.because[0].startswith("No grounding conductor and no other metal")
    assert "needs that no metal runs" in with_pipe.because[1]
    assert "Since the 2008 edition" in without.because[1]


def test_a_ground_that_arrives_at_the_first_disconnect_asks_to_look_again() -> None:
    plain, arrives = bonding_screw(True, False, None, None), bonding_screw(True, True, None, None)
    assert len(arrives.because) == len(plain.because) + 1
    assert "often means that a disconnect stands ahead" in arrives.because[-1]
    assert arrives.do[0].startswith("Look once more for a disconnect ahead")
    assert arrives.do[1:] == plain.do


# --- ties -------------------------------------------------------------------------------------


def test_a_missing_jumper_is_called_by_its_name() -> None:
    main = finding(planned(HOUSE_FOUND, ties={}), "tie-missing")
    assert main.title == "main bonding jumper missing"
    assert main.text.startswith("No main bonding jumper joins neutral and metal at house. A line")
    assert main.cure.startswith("Install the main bonding jumper at house, with the supply off.")
    bare = planned(SHOP_FOUND, ties={"main screw": {"at": "main", "by": "screw"}})
    system = finding(bare, "derived-tie-missing")
    assert system.title == "system bonding jumper missing"
    assert "at T1 or as far as the first disconnect" in system.text
    corner = planned(described(CORNER, describes="as found"),
                     ties={"corner": {"at": "motor", "line": "L2"}})  # fmt: skip
    assert "joins the grounded line L2 and metal at main" in finding(corner, "tie-missing").text


def test_what_is_said_of_a_load_side_tie() -> None:
    found = finding(planned(HOUSE_FOUND, ties__extra={"at": "shed", "by": "screw"}),
                    "tie-load-side")  # fmt: skip
    assert found.text.startswith("'extra' joins neutral and metal at shed, on the load side.")
    assert "divides between the neutral and every metal path" in found.text
    assert "range or dryer" not in found.text
    stove = planned(
        HOUSE_FOUND,
        runs__circuit__neutral="10 AWG Cu",
        ties__extra={"at": "pump", "by": "screw"},
    )
    assert "range or dryer" in finding(stove, "tie-load-side").text
    assert found.clause == "NEC 2020 250.24(A)(5), 250.142(B)"


def test_two_joins_of_a_derived_system_are_named_with_their_places() -> None:
    two = planned(SHOP_FOUND, ties__panel_screw={"at": "LP", "by": "screw"})
    found = finding(two, "derived-tie-twice")
    assert "joined at T1 and LP." in found.text
    assert found.cure.startswith("Keep one, by preference the one at T1. Take 'panel screw' out")
    # Two at one place are one join.
    same = planned(SHOP_FOUND, ties__second={"at": "T1", "by": "screw"})
    assert "derived-tie-twice" not in rules_of(same)


def test_the_order_of_work_names_every_run_without_a_ground() -> None:
    base = described(
        HOUSE_FOUND,
        places__pump={"kind": "panel", "building": "shed"},
        runs__circuit__neutral="10 AWG Cu",
        runs__circuit__egc="none",
        runs__feeder__egc="none",
        runs__feeder__installed=2015,
        ties__extra={"at": "pump", "by": "screw"},
    )
    cure = finding(planned(base), "tie-load-side").cure
    assert cure.startswith("Don't take 'extra' out yet: it is the only fault path of pump.")
    assert "run an equipment grounding conductor with 'circuit', 'feeder'" in cure
    assert "bonding jumper at" not in cure
    both = finding(planned(base, ties={"extra": {"at": "pump", "by": "screw"}}), "tie-load-side")
    assert "install the main bonding jumper at house and run an equipment" in both.cure


def test_meter_bonds_are_notes_with_what_to_do() -> None:
    found = finding(planned(HOUSE_FOUND, ties__meter_bond=...), "meter-bond")
    assert (found.where, found.clause[:9]) == ("meter", "NEC 2020 ")
    assert "don't open a sealed meter" in found.cure


# --- states -----------------------------------------------------------------------------------


def test_states_are_counted_in_words() -> None:
    solid = planned(GENERATOR, transfers__switch__neutral="solid")
    found = finding(solid, "state-tie-twice")
    assert found.text.startswith("In states 'normal', 'on gen' one neutral is joined to metal")
    assert "switch leaves the neutrals joined" in found.text
    assert "with 'meter" not in found.cure
    assert "keep 'meter bond'" in found.cure or "keep 'green screw'" in found.cure
    assert "in place of switch;" in found.cure
    stay = finding(
        planned(GENERATOR, transfers__switch__neutral="solid", runs__cable__egc="none"),
        "state-tie-twice",
    )
    assert "First run a bonding conductor to" in stay.cure


def test_with_a_pole_for_the_neutral_no_other_switch_is_advised() -> None:
    """Two joins at the generator itself: nothing to do with the switch."""
    base = described(
        GENERATOR,
        places__cutoff={"kind": "disconnect", "main": "50 A", "building": "house"},
        runs__cable={"from": "gen", "to": "cutoff", "length": "40 ft", "lines": "6 AWG Cu",
                     "ssbj": "8 AWG Cu"},
        runs__on={"from": "cutoff", "to": "switch", "length": "5 ft", "lines": "6 AWG Cu",
                  "egc": "10 AWG Cu"},
        transfers__switch__standby="on",
        ties__second={"at": "cutoff", "by": "screw"},
    )  # fmt: skip
    result = planned(base)
    found = findings(result, "state-tie-twice") + findings(result, "tie-load-side")
    assert found
    assert not any("transfer switch with a pole" in one.cure for one in found)


def test_a_state_without_a_join_has_its_clause() -> None:
    result = planned(GENERATOR, ties__generator_bond=...)
    assert count(result, "on gen", "gen").ties == ()
    found = finding(result, "derived-tie-missing", "gen")
    assert found.clause.startswith("NEC 2020 250.30(A)")


# --- the rest ---------------------------------------------------------------------------------


def test_wrong_names_of_rules_get_one_hint() -> None:
    assert UnknownRulesError("nec-20").hint in {
        "did you mean 'nec-2017'?", "did you mean 'nec-2020'?", "did you mean 'nec-2023'?",
    }  # fmt: skip


@pytest.mark.parametrize("name", list(SITES))
def test_a_line_of_the_checklist_is_its_item_filled_in(name: str) -> None:
    for line in checklist(plan_of(name)):
        whole.well_typed(line)
        data = items()[line.id]
        assert (line.title, line.cautions, line.stage, line.why, line.decides, line.status) == (
            data.title, data.care, data.stage, data.why, data.decides, data.status.value,
        )  # fmt: skip
        year = int(line.clause.split()[1])
        assert line.clause == f"NEC {year} {data.clauses[year]}"


def test_wrong_paths_name_the_conductor_that_serves() -> None:
    result = planned(
        HOUSE_FOUND,
        ties__extra={"at": "shed", "by": "screw"},
        runs__feeder__egc="none",
        runs__feeder__installed=2015,
    )
    found = finding(result, "equipment-ground-missing")
    assert "A fault comes back over the neutral only." in found.text
    assert "must not be taken out before another path stands" in found.text
    assert found.clause.startswith("NEC 2020 250.")
    bare = planned(
        SHOP_FOUND, ties__panel_screw={"at": "LP", "by": "screw"}, runs__secondary__ssbj="none"
    )
    jumper = finding(bare, "supply-side-jumper-missing")
    assert jumper.title == "enclosures of a derived system not joined"
    assert "has no supply-side bonding jumper of its own" in jumper.text


def test_a_building_behind_boxes_is_a_feeder_when_any_of_them_has_a_device() -> None:
    """250.32(A), exception: one branch circuit with an equipment grounding conductor."""
    base: Any = described(
        HOUSE,
        electrodes__shed_rods=...,
        places__shed={"kind": "box", "building": "shed"},
        places__far={"kind": "box", "building": "shed"},
        runs__on={"from": "shed", "to": "far", "length": "9 ft", "lines": "6 AWG Cu"},
        runs__circuit={"from": "far", "to": "pump", "length": "9 ft", "lines": "6 AWG Cu"},
    )
    assert "building-electrode" not in rules_of(planned(base))
    fused = described(base, runs__circuit__device="30 A")
    assert finding(planned(fused), "building-electrode").where == "shed"
    main = described(base, places__far={"kind": "panel", "main": "30 A", "building": "shed"})
    assert finding(planned(main), "building-electrode").where == "shed"
    plain = described(base, places__far={"kind": "panel", "building": "shed"})
    assert "building-electrode" not in rules_of(planned(plain))
    assert "building-electrode" not in rules_of(planned(SHOP))
