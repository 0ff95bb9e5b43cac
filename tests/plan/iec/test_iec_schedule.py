"""Every row of the schedules by IEC 60364, and every branch that decides one, answer by answer.

Rows of the four examples are in schedules.csv. Sizes: IEC 60364-5-54 table 54.2, confirmed; the
rest from memory where nothing is named.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

from bondwright.catalog.sizes import Conductor
from bondwright.plan.iec import earth, runs, ties
from bondwright.plan.iec.earth import plan_direct_current
from bondwright.plan.iec.parts import compare, taken, word
from bondwright.plan.iec.runs import Role, role_of
from bondwright.plan.model import Plan, PlannedElectrode, PlannedTie, Purpose, ScheduleItem
from bondwright.rules.answer import Answer, Severity, Verdict
from bondwright.rules.inputs import CannotTellError
from bondwright.site.model import ElectrodeKind, TieForm
from tests.iec_sites import COOPERAGE, COTTAGE, FLAT, HALL, NAMES, plan_of
from tests.plan.sites import finding, findings, item

HOLDS, SHORT, CANNOT = Verdict.HOLDS, Verdict.FALLS_SHORT, Verdict.CANNOT_TELL


def _rows() -> list[dict[str, str]]:
    text = (Path(__file__).parent / "schedules.csv").read_text(encoding="utf-8")
    return list(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))


def _told(row: ScheduleItem) -> dict[str, str]:
    return {
        "id": row.id,
        "purpose": row.purpose.value,
        "from": row.from_,
        "to": row.to,
        "about": row.about,
        "required": str(row.required.size) if row.required else "",
        "chosen": str(row.chosen) if row.chosen else "",
        "form": row.form,
        "given": "yes" if row.given else "no",
        "verdict": row.verdict.value,
        "remark": row.remark,
    }


@pytest.mark.parametrize("describes", ["plan", "as found"])
@pytest.mark.parametrize("name", NAMES)
def test_every_row(name: str, describes: str) -> None:
    wanted = [
        {key: row[key] for key in row if key not in {"example", "describes"}}
        for row in _rows()
        if (row["example"], row["describes"]) == (name, describes)
    ]
    assert [_told(row) for row in plan_of(name, describes=describes).schedule] == wanted


@pytest.mark.parametrize("describes", ["plan", "as found"])
@pytest.mark.parametrize("name", NAMES)
def test_runs_keep_what_is_described(name: str, describes: str) -> None:
    made = plan_of(name, describes=describes)
    tree = made.topology
    assert set(made.runs) == set(made.site.runs)
    for id_, run in made.site.runs.items():
        planned = made.runs[id_]
        assert (planned.id, planned.from_, planned.to) == (id_, run.from_, run.to)
        assert (planned.length, planned.lines) == (run.length, run.lines)
        assert planned.on == tree.lines_of(id_)
        assert planned.supply_side is (id_ in tree.supply_side_runs)
        assert planned.raceway is None
        assert planned.lie is not None


# --- what was assumed --------------------------------------------------------------------------


def _assumed(made: Plan, where: str) -> list[str]:
    return [one.text for one in made.assumptions if one.where == where]


def test_what_is_assumed_of_electrodes() -> None:
    made = plan_of(COTTAGE)
    assert "earthing conductor 6 m long" in _assumed(made, "cottage rods")
    planned = made.electrodes["cottage rods"]
    assert planned == PlannedElectrode(
        "cottage rods",
        "consumer unit",
        ElectrodeKind.ROD,
        pytest.approx(32.53, abs=0.01),  # type: ignore[arg-type]
        Conductor.parse("16 mm2 Cu"),
        6.0,
    )
    found = plan_of(COTTAGE, describes="as found")
    assert "earthing conductor of 16 mm2 Cu" in _assumed(found, "cottage rods")
    long = plan_of(COTTAGE, **{"electrodes__cottage rods__lead": "2 m"})
    assert long.electrodes["cottage rods"].lead == 2
    assert not any("m long" in text for text in _assumed(long, "cottage rods"))
    # One that isn't joined has no conductor of any length.
    off = plan_of(COTTAGE, **{"electrodes__cottage rods__conductor": "none"})
    assert not any("m long" in text for text in _assumed(off, "cottage rods"))
    assert off.electrodes["cottage rods"].conductor is None
    row = item(off, "earthing conductor cottage rods")
    assert (row.form, row.verdict, row.remark) == ("none", SHORT, "not joined")
    measured = plan_of(COTTAGE, **{"electrodes__cottage rods__resistance": "41 ohm"})
    assert measured.electrodes["cottage rods"].resistance == 41


@pytest.mark.parametrize(
    ("changes", "chosen", "given", "remark"),
    [
        ({"lightning": True}, "16 mm2 Cu", False, "the standard of the lightning protection"),
        (
            {"lightning": True, "conductor": "50 mm2 Cu"},
            "50 mm2 Cu",
            True,
            "the standard of the lightning protection",
        ),
    ],
)
def test_conductors_to_electrodes_that_no_rule_sizes(
    changes: dict[str, Any], chosen: str, given: bool, remark: str
) -> None:
    assert str(taken().auxiliary) == "16 mm2 Cu"  # ours, where nothing is said
    changed = {f"electrodes__cottage rods__{key}": value for key, value in changes.items()}
    made = plan_of(COTTAGE, **changed)
    row = item(made, "earthing conductor cottage rods")
    assert (str(row.chosen), row.given, row.verdict, row.required) == (chosen, given, HOLDS, None)
    assert row.remark.startswith(remark)
    assumed = "earthing conductor of 16 mm2 Cu" in _assumed(made, "cottage rods")
    assert assumed is not given


def test_a_conductor_that_the_rule_does_not_answer_stays() -> None:
    made = plan_of(COTTAGE, **{"electrodes__cottage rods__conductor": "35 mm2 Al"})
    row = item(made, "earthing conductor cottage rods")
    assert (str(row.chosen), row.verdict, row.required) == ("35 mm2 Al", CANNOT, None)
    assert row.remark == "no size by rule; see the findings"
    assert str(made.electrodes["cottage rods"].conductor) == "35 mm2 Al"


def test_conductors_to_electrodes_follow_the_supply_where_they_start() -> None:
    own = {"kind": "rod", "at": "press house", "resistance": "60 ohm", "buried": "not in soil"}
    made = plan_of(COTTAGE, electrodes__own=own)
    row = item(made, "earthing conductor own")
    assert (str(row.chosen), row.remark) == ("10 mm2 Cu", "as designed")
    assert (row.from_, row.to, row.about) == ("press house", "own", "own")
    # At the cut-out, ahead of the first board, it is that of the whole supply.
    ahead = own | {"at": "cut-out"}
    assert str(item(plan_of(COTTAGE, electrodes__own=ahead), "earthing conductor own").chosen) == (
        "16 mm2 Cu"
    )


def test_bonding_without_a_conductor_to_take_it_from() -> None:
    changes: dict[str, Any] = {
        "runs__spare": {
            "from": "cut-out", "to": "spare board", "length": "3 m", "lines": "25 mm2 Al",
        },
        "places__spare board": {"kind": "panel"},
        "runs__tails__device": "63 A gG fuse",
        "runs__spare__device": "63 A gG fuse",
    }  # fmt: skip
    # Two circuits from the cut-out: no tails, and the cable of the network counts.
    made = plan_of(FLAT, **changes)
    assert str(item(made, "bonding gas pipe").chosen) == "10 mm2 Cu"


def test_direct_current_is_not_held() -> None:
    (found,) = plan_direct_current(plan_of(FLAT), "dc link").findings  # type: ignore[arg-type]
    assert (found.rule, found.where) == ("iec-special-location", "dc link")
    assert found.severity is Severity.CANNOT_TELL
    assert found.title == "rules of their own for direct current"
    assert "dc link is a direct-current system" in found.text
    assert "inspected" in found.cure


def test_areas_are_told_by_name() -> None:
    areas = {
        "bath": {"kind": "pool", "at": "consumer unit"},
        "yard": {"kind": "pool", "at": "consumer unit"},
    }
    made = plan_of(FLAT, areas=areas)
    found = findings(made, "iec-special-location")
    assert [one.where for one in found] == ["bath", "yard"]
    assert all(one.severity is Severity.CANNOT_TELL for one in found)


# --- sizes compared ----------------------------------------------------------------------------


def _asked(size: str) -> Answer:
    conductor = Conductor.parse(size)
    return Answer("iec-x", "", "iec-60364-2017", conductor, ("so asked",), (), "confirmed")


@pytest.mark.parametrize(
    ("given", "asked", "verdict", "remark"),
    [
        ("16 mm2 Cu", "16 mm2 Cu", HOLDS, "16 mm2 Cu is asked"),
        ("25 mm2 Cu", "16 mm2 Cu", HOLDS, "16 mm2 Cu is asked"),
        ("10 mm2 Cu", "16 mm2 Cu", SHORT, "10 mm2 Cu where 16 mm2 Cu is asked: 38 % too small"),
        # Two in parallel add up where one is asked,
        ("2 x 10 mm2 Cu", "16 mm2 Cu", HOLDS, "16 mm2 Cu is asked"),
        (
            "2 x 6 mm2 Cu",
            "16 mm2 Cu",
            SHORT,
            "2 x 6 mm2 Cu where 16 mm2 Cu is asked: 25 % too small",
        ),
        # and don't where each of two sets has to have its own (543.1.4; from memory).
        (
            "4 x 25 mm2 Cu",
            "2 x 35 mm2 Cu",
            SHORT,
            "4 x 25 mm2 Cu where 2 x 35 mm2 Cu is asked: 29 % too small",
        ),
        ("2 x 35 mm2 Cu", "2 x 35 mm2 Cu", HOLDS, "2 x 35 mm2 Cu is asked"),
        ("3 x 35 mm2 Cu", "2 x 35 mm2 Cu", HOLDS, "2 x 35 mm2 Cu is asked"),
        (
            "35 mm2 Cu",
            "2 x 35 mm2 Cu",
            CANNOT,
            "one beside each of 2 parallel sets is asked; if that is meant, write '2 x 35 mm2 Cu'",
        ),
    ],
)
def test_as_large_as_asked(given: str, asked: str, verdict: Verdict, remark: str) -> None:
    assert compare(Conductor.parse(given), _asked(asked)) == (verdict, remark)


@pytest.mark.parametrize(
    ("purpose", "said"),
    [
        (Purpose.EQUIPMENT_GROUND, "protective conductor"),
        (Purpose.ELECTRODE_CONDUCTOR, "earthing conductor"),
        (Purpose.MAIN_BONDING_JUMPER, "join of neutral and earth at the origin"),
        (Purpose.METAL_BOND, "main protective bonding"),
    ],
)
def test_words_of_the_family(purpose: Purpose, said: str) -> None:
    assert word(purpose) == said


def test_findings_on_sizes_speak_the_familys_words() -> None:
    made = plan_of(FLAT, **{"runs__tails__pe": "10 mm2 Cu"})
    found = finding(made, "iec-earthing-conductor", "tails")
    assert found.severity is Severity.FALLS_SHORT
    assert found.title == "earthing conductor too small"
    assert "10 mm2 Cu where 16 mm2 Cu is asked: 38 % too small" in found.text
    assert "16 mm2 Cu" in found.cure
    assert found.clause == "IEC 60364-5-54 542.3.1"


# --- tails and circuits ------------------------------------------------------------------------

RACEWAY = {"kind": "rmc", "size": "1 in"}


def test_tails_by_raceway_and_without() -> None:
    changes: dict[str, Any] = {"runs__tails__pe": "raceway", "runs__tails__raceway": RACEWAY}
    made = plan_of(FLAT, **changes)
    row = item(made, "earthing conductor tails")
    assert (row.form, row.chosen, row.verdict) == ("raceway", None, CANNOT)
    assert "network operator" in row.remark
    planned = made.runs["tails"]
    assert (planned.metal, planned.raceway_bonded) == (None, True)
    assert planned.raceway is not None
    none = item(plan_of(FLAT, **{"runs__tails__pe": "none"}), "earthing conductor tails")
    assert (none.form, none.chosen, none.verdict) == ("none", None, SHORT)
    assert "supply's earth" in none.remark
    wire = plan_of(FLAT, **{"runs__tails__raceway": RACEWAY})
    assert str(wire.runs["tails"].metal) == "16 mm2 Cu"
    assert wire.runs["tails"].raceway_bonded


def test_tails_ahead_of_a_residual_device_stay_apart() -> None:
    """TT: nothing to join, and a wire that is there is kept and not judged (common practice)."""
    made = plan_of(COTTAGE, **{"runs__tails__pe": "6 mm2 Cu"})
    assert str(made.runs["tails"].metal) == "6 mm2 Cu"
    assert not any(row.about == "tails" for row in made.schedule)
    steel = plan_of(COTTAGE, **{"runs__tails__raceway": RACEWAY})
    assert (steel.runs["tails"].metal, steel.runs["tails"].raceway is None) == (None, False)


def test_a_conduit_is_told_of_as_such() -> None:
    changes: dict[str, Any] = {"runs__heater circuit__raceway": RACEWAY}
    for describes, pe in (("plan", "raceway"), ("as found", None)):
        given = changes if pe is None else changes | {"runs__heater circuit__pe": pe}
        made = plan_of(FLAT, describes=describes, **given)
        row = item(made, "PE heater circuit")
        assert (row.form, row.chosen, row.verdict, row.given) == ("raceway", None, HOLDS, True)
        assert "every joint has to stay tight" in row.remark
        assert made.runs["heater circuit"].raceway_bonded
    # In a plan that doesn't say, a wire is designed beside it.
    both = plan_of(FLAT, **changes)
    row = item(both, "PE heater circuit")
    assert (row.form, str(row.chosen)) == ("wire", "2.5 mm2 Cu")
    assert both.runs["heater circuit"].raceway_bonded


def test_several_circuits_of_one_protective_conductor_say_so() -> None:
    made = plan_of(FLAT, **{"runs__heater circuit__with": ["cooker circuit"]})
    assert "one protective conductor with cooker circuit, computed with each of them" in _assumed(
        made, "heater circuit"
    )
    row = item(made, "PE heater circuit")
    assert row.required is not None
    assert ("line conductor", "6 mm2 Cu") in row.required.inputs
    assert ("overcurrent device", str(made.site.runs["heater circuit"].device)) in (
        row.required.inputs
    )


def test_the_main_switch_counts_where_a_circuit_has_no_device() -> None:
    made = plan_of(FLAT, **{"runs__heater circuit__device": ...})
    row = item(made, "PE heater circuit")
    assert row.required is not None
    ahead = made.topology.protecting("heater circuit")
    assert ahead is not None
    assert dict(row.required.inputs)["overcurrent device"]
    assert findings(made, "iec-loop") == []
    changes: dict[str, Any] = {
        "runs__heater circuit__device": ..., "places__cut-out__main": ...,
        "places__consumer unit__kind": "service",
    }  # fmt: skip
    found = finding(plan_of(FLAT, **changes), "iec-loop", "heater circuit")
    assert found.title == "no protective device described"
    assert "'device'" in found.cure
    assert "'consumer unit'" in found.cure
    assert found.clause.startswith("IEC 60364-4-41 411.4")


def test_a_circuit_that_the_table_does_not_answer() -> None:
    """Lines beyond the largest size made: taken as large as they are, and said."""
    changes: dict[str, Any] = {"runs__heater circuit__lines": "1000 mm2 Al"}
    made = plan_of(FLAT, **changes)
    row = item(made, "PE heater circuit")
    assert row.chosen is not None
    given = plan_of(FLAT, **changes, **{"runs__heater circuit__pe": "35 mm2 Al"})
    kept = item(given, "PE heater circuit")
    assert str(kept.chosen) == "35 mm2 Al"
    assert kept.verdict is CANNOT
    assert kept.given


def test_lines_smaller_than_needed() -> None:
    made = plan_of(FLAT, **{"runs__heater circuit__needed": "4 mm2 Cu"})
    found = finding(made, "iec-line-small", "heater circuit")
    assert "2.5 mm2 Cu" in found.text
    assert "4 mm2 Cu" in found.cure
    for enough in ("2.5 mm2 Cu", "1.5 mm2 Cu"):
        made = plan_of(FLAT, **{"runs__heater circuit__needed": enough})
        assert findings(made, "iec-line-small") == []


def _refuse(*_: object, **__: object) -> Answer:
    raise CannotTellError("iec-protective-conductor", "x 1", "no row is held", "look it up")


def test_what_no_table_answers_is_as_large_as_the_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    """No description reaches this today: every size made has its row. A larger one would."""
    monkeypatch.setattr(runs, "protective_conductor", _refuse)
    monkeypatch.setattr(runs, "electrode_conductor", _refuse)
    made = plan_of(FLAT, **{"runs__cooker circuit__pe": "1.5 mm2 Cu"})
    for name, lines in (
        ("PE heater circuit", "2.5 mm2 Cu"),
        ("earthing conductor tails", "25 mm2 Cu"),
    ):
        row = item(made, name)
        assert (str(row.chosen), row.given, row.verdict) == (lines, False, CANNOT)
        assert row.remark == "taken as large as the lines, which is always enough"
        assert row.required is None
    kept = item(made, "PE cooker circuit")
    assert (str(kept.chosen), kept.given, kept.verdict) == ("1.5 mm2 Cu", True, CANNOT)
    assert kept.remark == "no size by rule; see the findings"
    assert str(made.runs["tails"].metal) == "25 mm2 Cu"
    assert str(made.runs["cooker circuit"].metal) == "1.5 mm2 Cu"
    found = findings(made, "iec-protective-conductor")
    assert {"heater circuit", "cooker circuit", "tails"} <= {one.where for one in found}
    assert all(one.severity is Severity.CANNOT_TELL for one in found)


def test_joins_and_bonds_that_no_table_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ties, "protective_conductor", _refuse)
    monkeypatch.setattr(earth, "bonding_conductor", _refuse)
    made = plan_of(FLAT, **OWN)
    row = item(made, "N-E join at genset")
    assert (row.chosen, row.required, row.verdict) == (None, None, CANNOT)
    assert row.remark == "no size by rule; see the findings"
    assert finding(made, "iec-protective-conductor", "join at genset")
    pipe = item(made, "bonding gas pipe")
    assert (pipe.chosen, pipe.verdict) == (None, CANNOT)
    assert "no conductor is described" in pipe.remark
    assert {one.where for one in findings(made, "iec-protective-conductor")} >= {
        "gas pipe",
        "water pipe",
    }


def test_lines_of_different_metals_are_not_added() -> None:
    mixed: dict[str, Any] = OWN | {
        "places__shed": {"kind": "service", "main": "C20"},
        "runs__shed line": {
            "from": "genset", "to": "shed", "length": "9 m", "lines": "25 mm2 Al",
        },
    }  # fmt: skip
    made = plan_of(FLAT, **mixed)
    found = [one for one in findings(made, "iec-protective-conductor") if "genset" in one.where]
    assert [one.severity for one in found] == [Severity.CANNOT_TELL]
    assert "different metals" in found[0].text


# --- joins -------------------------------------------------------------------------------------

OWN: dict[str, Any] = {
    "generators": {"genset": {"system": "230 V", "rating": "8 kVA"}},
    "places__hut": {"kind": "service", "main": "C20"},
    "runs__hut line": {
        "from": "genset", "to": "hut", "length": "9 m", "lines": "16 mm2 Cu",
    },
}  # fmt: skip


def _tie(made: Plan, name: str) -> PlannedTie:
    (tie,) = [one for one in made.ties if one.id == name]
    return tie


def test_an_own_source_gets_its_join() -> None:
    made = plan_of(FLAT, **OWN)
    assert role_of(made.topology, "hut line") is Role.OWN
    row = item(made, "N-E join at genset")
    assert _told(row) == {
        "id": "N-E join at genset",
        "purpose": "system bonding jumper",
        "from": "genset",
        "to": "neutral",
        "about": "join at genset",
        "required": "16 mm2 Cu",
        "chosen": "16 mm2 Cu",
        "form": "wire",
        "given": "no",
        "verdict": "holds",
        "remark": "as designed",
    }
    tie = _tie(made, "join at genset")
    assert (tie.at, tie.form, str(tie.size)) == ("genset", TieForm.WIRE, "16 mm2 Cu")
    assert (tie.given, tie.belongs, tie.line) == (False, True, None)
    assert tie.resistance > 0
    # Its supply side is sized as a protective conductor, and called that of the supply.
    supply = item(made, "PE hut line")
    assert (supply.purpose, str(supply.chosen)) == (Purpose.SUPPLY_SIDE_JUMPER, "16 mm2 Cu")


@pytest.mark.parametrize(
    ("tie", "describes", "form", "chosen", "verdict", "remark"),
    [
        ({"by": "screw"}, "plan", "screw", "-", HOLDS, "holds if it is the screw made for it"),
        ({"by": "strap"}, "plan", "strap", "-", HOLDS, "holds if it is the strap made for it"),
        ({"size": "16 mm2 Cu"}, "plan", "wire", "16 mm2 Cu", HOLDS, "16 mm2 Cu is asked"),
        ({"size": "10 mm2 Cu"}, "plan", "wire", "10 mm2 Cu", SHORT, "38 % too small"),
        ({}, "plan", "wire", "16 mm2 Cu", HOLDS, "its size is not described; 16 mm2 Cu is asked"),
        (
            {},
            "as found",
            "wire",
            "16 mm2 Cu",
            CANNOT,
            "its size is not described; 16 mm2 Cu is asked",
        ),
    ],
)
def test_own_joins_that_are_given(
    tie: dict[str, Any], describes: str, form: str, chosen: str, verdict: Verdict, remark: str
) -> None:
    made = plan_of(FLAT, **OWN, ties__own={"at": "genset"} | tie, describes=describes)
    row = item(made, "N-E own")
    assert (row.form, str(row.chosen or "-"), row.verdict) == (form, chosen, verdict)
    assert row.given
    assert remark in row.remark
    assert row.required is not None
    assert bool(findings(made, "iec-protective-conductor")) is (verdict is not HOLDS)
    planned = _tie(made, "own")
    assert (planned.at, planned.form.value, str(planned.size or "-")) == ("genset", form, chosen)
    assert (planned.given, planned.belongs) == (True, True)


def test_resistance_of_joins() -> None:
    """As described; else that of its form, and said (common practice)."""
    made = plan_of(FLAT, **OWN, ties__own={"at": "genset", "resistance": "0.2 ohm"})
    assert _tie(made, "own").resistance == 0.2
    assert not any("common practice" in text for text in _assumed(made, "own"))
    plain = plan_of(FLAT, **OWN, ties__own={"at": "genset", "by": "screw"})
    assert 0 < _tie(plain, "own").resistance < 0.01
    assert any(text.startswith("screw join of") for text in _assumed(plain, "own"))
    thin = plan_of(FLAT, **OWN, ties__own={"at": "genset", "size": "2.5 mm2 Cu"})
    thick = plan_of(FLAT, **OWN, ties__own={"at": "genset", "size": "25 mm2 Cu"})
    assert _tie(thin, "own").resistance > _tie(thick, "own").resistance


def test_a_join_that_does_not_belong_is_kept_as_it_is() -> None:
    bare = plan_of(FLAT, ties={"link": {"at": "cut-out"}, "wrong": {"at": "cooker"}})
    wrong = _tie(bare, "wrong")
    assert (wrong.form, str(wrong.size), wrong.belongs) == (TieForm.WIRE, "16 mm2 Cu", False)
    assert "wire of 16 mm2 Cu" in _assumed(bare, "wrong")
    screw = plan_of(
        FLAT, ties={"link": {"at": "cut-out"}, "wrong": {"at": "cooker", "by": "screw"}}
    )
    assert _tie(screw, "wrong").size is None
    assert not any(text.startswith("wire of") for text in _assumed(screw, "wrong"))
    sized = {"at": "cooker", "size": "4 mm2 Cu"}
    thin = plan_of(FLAT, ties={"link": {"at": "cut-out"}, "wrong": sized})
    assert str(_tie(thin, "wrong").size) == "4 mm2 Cu"
    assert not any(row.about == "wrong" for row in thin.schedule)


def test_the_operators_own_join() -> None:
    made = plan_of(FLAT)
    assert _tie(made, "join at cut-out") == PlannedTie(
        "join at cut-out", "cut-out", TieForm.BUS, None, 5e-5, False, True
    )
    assert "neutral and earth joined in cut-out, as TN-C-S is declared" in _assumed(
        made, "join at cut-out"
    )
    given = plan_of(FLAT, ties={"link": {"at": "cut-out", "by": "bus"}})
    row = item(given, "N-E link")
    assert (row.purpose, row.verdict, row.form) == (Purpose.MAIN_BONDING_JUMPER, HOLDS, "bus")
    assert row.required is None
    assert "network operator" in row.remark
    # A label that is taken already is not taken twice.
    ties = {"join at genset": {"at": "cut-out", "by": "bus"}}
    two = plan_of(FLAT, **OWN, ties=ties)
    assert len({tie.id for tie in two.ties}) == len(two.ties) == 2


def test_joins_are_counted_with_that_in_the_network() -> None:
    supplies = {
        COTTAGE: [("join in the network of network",)],
        FLAT: [("join at cut-out", "join in the network of network")],
        COOPERAGE: [("join in the network of network",)],
        HALL: [],
    }
    for name, supply in supplies.items():
        counts = plan_of(name).tie_counts
        assert [tuple(sorted(one.supply[0])) for one in counts] == supply
        assert all(one.count == 1 for one in counts)
