"""Plan against description: what is designed, what is kept and checked, what is assumed."""

from __future__ import annotations

import time
from typing import Any

import pytest

from bondwright.catalog.sizes import Conductor
from bondwright.plan.build import plan
from bondwright.plan.model import Plan, Purpose
from bondwright.rules.answer import Severity, Verdict
from bondwright.site.model import Site
from bondwright.units import FOOT
from tests.outside import outside, published
from tests.plan.sites import (
    HOUSE,
    HOUSE_FOUND,
    SHOP,
    SHOP_FOUND,
    UTILITY,
    described,
    finding,
    findings,
    item,
    planned,
    rules_of,
)

# --- designed or kept -------------------------------------------------------------------------


@outside("NEC table 250.122, in a plan", "confirmed")
def test_plan_designs_every_ground() -> None:
    result = planned(HOUSE)
    # Table 250.122, confirmed: 60 A -> 10 AWG, 30 A -> 10 AWG (row of 60 A).
    assert str(result.runs["feeder"].metal) == published("10 AWG Cu")
    assert str(result.runs["circuit"].metal) == published("10 AWG Cu")
    assert not item(result, "EGC feeder").given
    assert result.runs["riser"].metal is None
    assert {row.verdict for row in result.schedule} == {Verdict.HOLDS}


def test_as_found_adds_nothing() -> None:
    bare = described(HOUSE, describes="as found", ties={"screw": {"at": "house", "by": "screw"}})
    result = planned(bare)
    assert all(run.metal is None for run in result.runs.values())
    assert [tie.id for tie in result.ties] == ["screw"]
    for name in ("feeder", "circuit"):
        found = finding(result, "fault-path", name)
        assert found.severity is Severity.DANGER
        assert found.clause == "NEC 2020 250.4(A)(5)"
        assert item(result, f"EGC {name}").verdict is Verdict.FALLS_SHORT
    # Worst first.
    ranks = [list(Severity).index(f.severity) for f in result.findings]
    assert ranks == sorted(ranks)
    assert ranks[0] == 0


def test_plan_keeps_what_is_given_and_says_by_how_much_it_falls_short() -> None:
    result = planned(HOUSE, runs__feeder__egc="12 AWG Cu")
    row = item(result, "EGC feeder")
    assert (str(row.chosen), row.given, row.verdict) == ("12 AWG Cu", True, Verdict.FALLS_SHORT)
    # 6530 of 10,380 cmil (chapter 9 table 8).
    assert "6,530 cmil of 10,380 cmil" in row.remark
    assert "10 AWG Cu" in finding(result, "equipment-ground").cure


def test_larger_than_asked_holds() -> None:
    result = planned(HOUSE, runs__feeder__egc="6 AWG Cu")
    assert item(result, "EGC feeder").verdict is Verdict.HOLDS


@outside("NEC table 250.122, in a plan", "confirmed")
def test_given_metal_decides_the_size_asked() -> None:
    # Table 250.122, confirmed: 60 A -> 8 AWG Al.
    result = planned(HOUSE, runs__feeder__egc="10 AWG Al")
    row = item(result, "EGC feeder")
    assert row.required is not None
    assert str(row.required.size) == published("8 AWG Al")
    assert row.verdict is Verdict.FALLS_SHORT


def test_a_ground_that_is_said_to_be_absent_stays_absent_in_a_plan() -> None:
    result = planned(HOUSE, runs__feeder__egc="none")
    assert result.runs["feeder"].metal is None
    assert finding(result, "fault-path").where == "feeder"


def test_enlarged_lines_carry_over() -> None:
    # 10,380 x 26,240 / 16,510 = 16,497 cmil -> 8 AWG Cu.
    result = planned(HOUSE, runs__feeder__needed="8 AWG Cu")
    assert str(item(result, "EGC feeder").chosen) == "8 AWG Cu"
    corrected = planned(
        HOUSE, runs__feeder__needed="8 AWG Cu", runs__feeder__enlarged="ambient or bundling"
    )
    assert str(item(corrected, "EGC feeder").chosen) == "10 AWG Cu"


def test_lines_that_are_too_small() -> None:
    result = planned(HOUSE, runs__feeder__needed="4 AWG Cu")
    assert finding(result, "lines-too-small").severity is Severity.FALLS_SHORT


@outside("NEC 250.122(F), in a plan", "one-source")
def test_parallel_feeder() -> None:
    big = described(
        HOUSE,
        places__shed__main="400 A",
        runs__feeder__lines="2 x 3/0 AWG Cu",
        runs__feeder__device="400 A",
    )
    # 250.122(F), one-source: 3 AWG Cu in each.
    assert str(planned(big).runs["feeder"].metal) == published("2 x 3 AWG Cu")
    one = planned(big, runs__feeder__egc="3 AWG Cu")
    assert item(one, "EGC feeder").verdict is Verdict.CANNOT_TELL
    assert "'2 x 3 AWG Cu'" in item(one, "EGC feeder").remark
    thin = planned(big, runs__feeder__egc="2 x 6 AWG Cu")
    assert item(thin, "EGC feeder").verdict is Verdict.FALLS_SHORT


def test_unknown_device_cannot_be_told_but_is_on_the_safe_side() -> None:
    site = described(HOUSE, places__house={"kind": "service", "building": "house"})
    del site["runs"]["feeder"]["device"]
    result = planned(site)
    assert finding(result, "device-unknown").severity is Severity.CANNOT_TELL
    # Never required larger than the lines (250.122(A), confirmed): the lines' size will do.
    assert str(result.runs["feeder"].metal) == "6 AWG Cu"
    assert item(result, "EGC feeder").verdict is Verdict.CANNOT_TELL
    kept = planned(site, runs__feeder__egc="10 AWG Cu")
    assert str(kept.runs["feeder"].metal) == "10 AWG Cu"


def test_large_disconnect_asks_for_ground_fault_protection() -> None:
    result = planned(SHOP, places__main__main="1200 A")
    assert finding(result, "ground-fault-protection").severity is Severity.CANNOT_TELL


# --- ties and jumpers that are given ----------------------------------------------------------


def test_thin_main_jumper() -> None:
    result = planned(
        HOUSE_FOUND, ties__green_screw={"at": "house", "by": "wire", "size": "8 AWG Cu"}
    )
    row = item(result, "MBJ green screw")
    assert row.verdict is Verdict.FALLS_SHORT
    assert finding(result, "main-bonding-jumper").where == "green screw"


def test_jumper_of_unknown_size() -> None:
    found = planned(HOUSE_FOUND, ties__green_screw={"at": "house"})
    assert item(found, "MBJ green screw").verdict is Verdict.CANNOT_TELL
    drawn = planned(HOUSE, ties={"jumper": {"at": "house"}})
    assert str(item(drawn, "MBJ jumper").chosen) == "4 AWG Cu"


def test_thin_system_jumper_and_supply_side_jumper() -> None:
    result = planned(
        SHOP_FOUND,
        ties__strap={"at": "T1", "by": "wire", "size": "6 AWG Cu"},
        runs__secondary__ssbj="6 AWG Cu",
    )
    assert finding(result, "system-bonding-jumper").where == "strap"
    assert finding(result, "supply-side-bonding-jumper").where == "secondary"


def test_jumper_metal_follows_an_aluminium_supply_beyond_the_table() -> None:
    # 3 x 750 kcmil Al (computed from the 12.5 % rule, confirmed): 300 kcmil Al.
    result = planned(HOUSE, runs__riser__lines="3 x 750 kcmil Al")
    assert str(item(result, "MBJ house").chosen) == "300 kcmil Al"
    copper = planned(
        HOUSE,
        runs__riser__lines="3 x 750 kcmil Al",
        ties={"jumper": {"at": "house", "size": "250 kcmil Cu"}},
    )
    assert item(copper, "MBJ jumper").verdict is Verdict.CANNOT_TELL
    assert finding(copper, "main-bonding-jumper").severity is Severity.CANNOT_TELL


def test_parallel_supply_side_jumpers() -> None:
    # 250.102(C)(2), one-source: one per raceway from its own set.
    result = planned(SHOP, runs__secondary__lines="2 x 3/0 AWG Cu")
    assert str(result.runs["secondary"].metal) == "2 x 4 AWG Cu"
    single = planned(
        SHOP, runs__secondary__lines="2 x 3/0 AWG Cu", runs__secondary__ssbj="2 AWG Cu"
    )
    assert item(single, "SSBJ secondary").verdict is Verdict.HOLDS
    thin = planned(SHOP, runs__secondary__lines="2 x 3/0 AWG Cu", runs__secondary__ssbj="4 AWG Cu")
    assert item(thin, "SSBJ secondary").verdict is Verdict.FALLS_SHORT


def test_supply_neutral_is_large_enough_for_a_fault() -> None:
    # Table 250.102(C)(1), confirmed: 3/0 Cu -> 4 AWG Cu.
    assert "grounded-conductor" not in rules_of(planned(HOUSE, runs__riser__neutral="4 AWG Cu"))
    thin = planned(HOUSE, runs__riser__neutral="8 AWG Cu")
    assert finding(thin, "grounded-conductor").severity is Severity.FALLS_SHORT
    # The utility's own neutral follows other rules.
    assert "grounded-conductor" not in rules_of(planned(HOUSE, runs__drop__neutral="8 AWG Al"))


# --- raceways ---------------------------------------------------------------------------------

EMT = {"kind": "emt", "size": "1-1/4 in"}


def test_raceway_as_ground() -> None:
    for base in (HOUSE, HOUSE_FOUND):
        result = planned(base, runs__feeder__raceway=EMT, runs__feeder__egc="raceway")
        run = result.runs["feeder"]
        assert (run.metal, run.raceway_bonded, run.lie) == (None, True, "pulled")
        assert item(result, "EGC feeder").form == "raceway"
        assert "fault-path" not in rules_of(result)


def test_metal_raceway_as_found_is_a_path() -> None:
    result = planned(HOUSE_FOUND, runs__feeder__raceway=EMT, runs__feeder__egc=...)
    assert result.runs["feeder"].raceway_bonded
    assert any(
        a.text == "the metal raceway joins the metal at both ends" for a in result.assumptions
    )
    assert not rules_of(result) & {"fault-path", "equipment-ground-missing"}


def test_metal_raceway_said_not_to_serve() -> None:
    result = planned(HOUSE_FOUND, runs__feeder__raceway=EMT, runs__feeder__egc="none")
    assert result.runs["feeder"].raceway is not None
    assert not result.runs["feeder"].raceway_bonded
    assert finding(result, "fault-path").where == "feeder"


def test_plastic_raceway_is_none() -> None:
    result = planned(HOUSE, runs__feeder__raceway={"kind": "pvc", "size": "1-1/4 in"})
    run = result.runs["feeder"]
    assert (run.raceway, run.raceway_bonded, run.lie) == (None, False, "pulled")


@pytest.mark.parametrize(
    ("wiring", "lie"),
    [
        ("cable", "touching"),
        ("flat cable", "flat"),
        ("tray", "tray"),
        ("overhead", "triplex"),
        ("open wire", "open wire"),
        ("direct buried", "buried"),
        (None, "touching"),
    ],
)
def test_how_conductors_lie(wiring: str | None, lie: str) -> None:
    changes: dict[str, Any] = {"runs__feeder__wiring": wiring} if wiring else {}
    assert planned(HOUSE, **changes).runs["feeder"].lie == lie


# --- fault paths ------------------------------------------------------------------------------


def test_missing_primary_ground_is_danger() -> None:
    # Public discussion of a 45 kVA transformer: without the primary's EGC its faults don't clear.
    result = planned(SHOP_FOUND, runs__primary__egc="none")
    assert finding(result, "fault-path").where == "primary"


def test_missing_supply_side_jumper_is_danger() -> None:
    result = planned(SHOP_FOUND, runs__secondary__ssbj="none")
    found = finding(result, "fault-path")
    assert found.where == "secondary"
    assert found.title.startswith("no supply-side bonding jumper")
    at_panel = planned(
        SHOP_FOUND, runs__secondary__ssbj="none", ties__strap={"at": "LP", "by": "strap"}
    )
    assert finding(at_panel, "fault-path").where == "secondary"


def test_other_metal_is_no_ground() -> None:
    result = planned(
        HOUSE_FOUND,
        runs__feeder__egc="none",
        metal={
            "pipe": {
                "kind": "water pipe",
                "from": "house",
                "to": "shed",
                "length": "200 ft",
                "resistance": "0.1 ohm",
            }
        },
    )
    found = finding(result, "equipment-ground-missing")
    assert found.severity is Severity.FALLS_SHORT
    assert "other metal" in found.text


def test_plastic_equipment_has_nothing_to_become_live() -> None:
    result = planned(HOUSE_FOUND, runs__circuit__egc="none", places__pump__enclosure="nonmetallic")
    assert "fault-path" not in rules_of(result)


# --- assumptions and order --------------------------------------------------------------------


def test_every_default_is_an_assumption() -> None:
    result = planned(HOUSE)
    texts = {(a.where, a.text) for a in result.assumptions}
    assert ("site", "soil of 100 ohm m") in texts
    assert ("site", "frequency 60 Hz") in texts
    assert ("site", "conductors at 75 degC") in texts
    assert ("feeder", "neutral of the same size as the lines, 6 AWG Cu") in texts
    assert ("feeder", "wiring taken as cable, its conductors touching") in texts
    assert ("house rods", "electrode conductor 20 ft long") in texts
    assert ("neutral bond at meter", "bus join of 50 µohm, common practice") in texts


def test_given_values_are_no_assumptions() -> None:
    result = planned(
        HOUSE,
        soil="50 ohm m",
        frequency="50 Hz",
        conductor_temperature="40 degC",
        runs__feeder__neutral="8 AWG Cu",
        runs__feeder__wiring="cable",
    )
    assert (result.soil, result.frequency, result.temperature) == (50.0, 50.0, 40.0)
    assert str(result.runs["feeder"].neutral) == "8 AWG Cu"
    assert not [a for a in result.assumptions if a.where in {"site", "feeder"}]


def test_tie_resistances() -> None:
    # Common practice: screw 0.5, strap 0.2, bus 0.05 mohm; wire 0.1 mohm and one foot of itself.
    wire = {tie.id: tie for tie in planned(HOUSE).ties}["main bonding jumper at house"]
    # Chapter 9 table 8: 4 AWG Cu, 0.308 ohm/kft at 75 degC.
    assert wire.resistance == pytest.approx(0.0001 + 0.308 / 1000, rel=1e-9)
    found = {tie.id: tie for tie in planned(HOUSE_FOUND).ties}
    assert found["green screw"].resistance == pytest.approx(0.0005)
    assert found["meter bond"].resistance == pytest.approx(0.00005)
    loose = planned(HOUSE_FOUND, ties__green_screw={"at": "house", "resistance": "0.2 ohm"})
    assert {tie.id: tie for tie in loose.ties}["green screw"].resistance == 0.2


def test_schedule_walks_from_the_source() -> None:
    assert [row.id for row in planned(HOUSE).schedule] == [
        "neutral bond at meter",
        "MBJ house",
        "GEC house rods",
        "EGC feeder",
        "GEC shed rods",
        "EGC circuit",
    ]
    assert [row.purpose.short for row in planned(SHOP).schedule] == [
        "MBJ", "GEC", "EGC", "SBJ", "GEC", "SSBJ", "EGC",
    ]  # fmt: skip


def test_every_row_has_its_own_id_and_its_reasons() -> None:
    for base in (HOUSE, HOUSE_FOUND, SHOP, SHOP_FOUND):
        result = planned(base)
        ids = [row.id for row in result.schedule]
        assert len(ids) == len(set(ids))
        for row in result.schedule:
            assert row.required is None or row.required.because
            assert row.required is not None or row.remark


def test_planned_run_in_full() -> None:
    run = planned(HOUSE).runs["feeder"]
    assert run.length == pytest.approx(200 * FOOT)
    assert (run.from_, run.to, run.on) == ("house", "shed", ("L1", "L2"))
    assert run.lines == Conductor.parse("6 AWG Cu")
    assert not run.supply_side
    assert planned(HOUSE).runs["riser"].supply_side


def as_given(result: Plan) -> dict[str, Any]:
    """Write the plan's decisions back into the description of HOUSE."""
    changes: dict[str, Any] = {
        f"runs__{name}__egc": str(run.metal)
        for name, run in result.runs.items()
        if run.metal is not None
    }
    for name, electrode in result.electrodes.items():
        changes[f"electrodes__{name}__conductor"] = str(electrode.conductor)
    changes["ties"] = {
        tie.id: {"at": tie.at, "by": tie.form.value} | ({"size": str(tie.size)} if tie.size else {})
        for tie in result.ties
    }
    return changes


def test_a_plan_carried_out_has_nothing_wrong() -> None:
    first = planned(HOUSE)
    second = planned(HOUSE, **as_given(first))
    found = planned(HOUSE, **as_given(first), describes="as found")
    for again in (second, found):
        assert {name: run.metal for name, run in again.runs.items()} == {
            name: run.metal for name, run in first.runs.items()
        }
        assert [(t.id, t.at, t.form, t.size) for t in again.ties] == [
            (t.id, t.at, t.form, t.size) for t in first.ties
        ]
        assert all(row.verdict is Verdict.HOLDS for row in again.schedule)
        assert findings(again, "fault-path") == []
        assert {f.severity for f in again.findings} <= {Severity.NOTE}


def test_short_names_of_purposes() -> None:
    assert [purpose.short for purpose in Purpose] == [
        "MBJ", "SBJ", "SSBJ", "GEC", "EGC", "impedance", "BJ",
        "bushing",
        "equipotential",
        "neutral bond",
        "DC jumper",
    ]  # fmt: skip


def test_a_large_building_is_planned_in_good_time() -> None:
    places: dict[str, Any] = {"main": {"kind": "service", "main": "2000 A"}}
    runs: dict[str, Any] = {
        "service": {"from": "utility", "to": "main", "length": "50 ft", "lines": "6 x 600 kcmil Cu"}
    }
    for panel in range(50):
        name = f"P{panel}"
        places[name] = {"kind": "panel", "main": "200 A"}
        runs[f"feeder {name}"] = {
            "from": "main",
            "to": name,
            "length": "100 ft",
            "lines": "3/0 AWG Cu",
            "device": "200 A",
        }
        for outlet in range(39):
            end = f"{name}-{outlet}"
            places[end] = {"kind": "outlet"}
            runs[f"circuit {end}"] = {
                "from": name, "to": end, "length": "50 ft", "lines": "12 AWG Cu", "device": "20 A",
            }  # fmt: skip
    site = Site.model_validate(
        {
            "site": "large",
            "sources": {"utility": UTILITY},
            "places": places,
            "runs": runs,
            "electrodes": {"ring": {"kind": "ring", "at": "main"}},
            "ties": {f"wrong {n}": {"at": f"P{n}-0", "by": "screw"} for n in range(50)},
        }
    )
    start = time.process_time()
    result = plan(site)
    # Far above what it takes; a quadratic walk would not pass.
    assert time.process_time() - start < 120  # no hang; speed is measured in benchmarks
    assert len(result.runs) == 2001
    assert len(findings(result, "tie-load-side")) == 50
