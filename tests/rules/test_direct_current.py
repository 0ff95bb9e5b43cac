"""Direct-current systems: dc-electrode-conductor, dc-bonding-jumper, dc-must-ground and the rest.

Numbers of NFPA 70 part VIII of article 250. From public pages (three trade-journal articles on
grounding direct-current systems, one code-trainer page on 250.166, one forum thread that quotes
250.162): two wires above 60 V and up to 300 V, the neutral of three wires, the floor of 8 AWG Cu
or 6 AWG Al, the cap of 3/0 AWG Cu or 250 kcmil Al since 2014, where the join is made, detectors,
the jumper as large as the electrode conductor. From memory: the caps for rods (6 AWG Cu, 4 AWG
Al), concrete (4 AWG Cu) and rings (2 AWG Cu).
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.sizes import Conductor, Material, standard_sizes
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.direct_current import (
    array_electrode_conductor,
    conductor_of,
    dc_bonding_jumper,
    dc_electrode_conductor,
    jumper_of,
    needs_electrode,
)
from bondwright.rules.editions import UnknownRulesError
from bondwright.rules.electrodes import ServedBy
from bondwright.site.model import DirectCurrent
from tests.outside import outside, published
from tests.plan.sites import HOUSE, HOUSE_FOUND, Described, described, findings, planned

CU, AL = Material.CU, Material.AL


@pytest.mark.parametrize(
    ("supplied", "electrode", "material", "size", "clause"),
    [
        # As large as the largest conductor...
        ("2 AWG Cu", ServedBy.ANY, CU, "2 AWG Cu", "250.166, 250.169"),
        ("2 AWG Cu", ServedBy.ANY, AL, "2 AWG Al", "250.166, 250.169"),
        ("3/0 AWG Cu", ServedBy.ANY, CU, "3/0 AWG Cu", "250.166, 250.169"),
        ("2 x 1/0 AWG Cu", ServedBy.ANY, CU, "3/0 AWG Cu", "250.166, 250.169"),
        ("2 x 4 AWG Cu", ServedBy.ANY, CU, "1 AWG Cu", "250.166, 250.169"),
        # ... at least 8 AWG Cu or 6 AWG Al, at most 3/0 AWG Cu or 250 kcmil Al.
        ("14 AWG Cu", ServedBy.ANY, CU, "8 AWG Cu", "250.166, 250.169"),
        ("14 AWG Cu", ServedBy.ANY, AL, "6 AWG Al", "250.166, 250.169"),
        ("500 kcmil Cu", ServedBy.ANY, CU, "3/0 AWG Cu", "250.166, 250.169"),
        ("500 kcmil Cu", ServedBy.ANY, AL, "250 kcmil Al", "250.166, 250.169"),
        ("4/0 AWG Cu", ServedBy.ANY, AL, "4/0 AWG Al", "250.166, 250.169"),
        # Only to rods, plates, concrete, a ring.
        ("500 kcmil Cu", ServedBy.ROD, CU, "6 AWG Cu", "250.166(C)"),
        ("500 kcmil Cu", ServedBy.PLATE, AL, "4 AWG Al", "250.166(C)"),
        ("500 kcmil Cu", ServedBy.CONCRETE, CU, "4 AWG Cu", "250.166(D)"),
        ("500 kcmil Cu", ServedBy.RING, CU, "2 AWG Cu", "250.166(E)"),
        ("500 kcmil Cu", ServedBy.PIPE, CU, "3/0 AWG Cu", "250.166, 250.169"),
        ("500 kcmil Cu", ServedBy.CONCRETE, AL, "250 kcmil Al", "250.166, 250.169"),
        # Relief never makes it larger.
        ("8 AWG Cu", ServedBy.ROD, CU, "8 AWG Cu", "250.166, 250.169"),
        ("6 AWG Cu", ServedBy.ROD, CU, "6 AWG Cu", "250.166, 250.169"),
        ("4 AWG Cu", ServedBy.RING, CU, "4 AWG Cu", "250.166, 250.169"),
    ],
)
@outside("NEC 250.166")
def test_dc_electrode_conductor(
    supplied: str, electrode: ServedBy, material: Material, size: str, clause: str
) -> None:
    answer = dc_electrode_conductor(Conductor.parse(supplied), electrode, material, "nec-2020")
    assert answer.rule == "dc-electrode-conductor"
    assert str(answer.size) == published(size, status=answer.status)
    assert answer.clause == f"NEC 2020 {clause}"
    assert answer.because[0].startswith("It holds the system to the earth and is no path")
    assert dict(answer.inputs) == {
        "largest conductor of the system": supplied,
        "conductor metal": material.value,
        "electrode": electrode.value,
    }


def test_dc_electrode_conductor_says_why() -> None:
    plain = dc_electrode_conductor(Conductor.parse("2 AWG Cu"))
    assert plain.status == "one-source"
    assert len(plain.because) == 3
    assert "2 AWG Cu (66,360 cmil)" in plain.because[1]
    assert "at least 8 AWG and never more than 3/0 AWG Cu (250.166)" in plain.because[2]
    rods = dc_electrode_conductor(Conductor.parse("2 AWG Cu"), ServedBy.ROD)
    assert rods.because[-1] == "It leads only to rods, so it need not be larger than 6 AWG Cu."
    assert rods.status == "memory"
    concrete = dc_electrode_conductor(Conductor.parse("2 AWG Cu"), ServedBy.CONCRETE, AL)
    assert concrete.because[-1] == "The relief for this electrode is given for copper only."
    assert concrete.status == "one-source"
    small = dc_electrode_conductor(Conductor.parse("8 AWG Cu"), ServedBy.ROD)
    assert len(small.because) == 3


def test_dc_electrode_conductor_of_a_balancer_set_follows_the_neutral() -> None:
    """250.166(A), one trade-journal article: not smaller than the neutral, 8 AWG Cu or 6 AWG Al."""
    neutral = Conductor.parse("1 AWG Cu")
    answer = dc_electrode_conductor(neutral, balancer=True)
    assert str(answer.size) == "1 AWG Cu"
    assert answer.inputs[0] == ("neutral of the balancer set", "1 AWG Cu")
    assert "neutral of the balancer set" in answer.because[1]
    jumper = dc_bonding_jumper(neutral, balancer=True)
    assert jumper.inputs[0] == ("neutral of the balancer set", "1 AWG Cu")


@pytest.mark.parametrize(
    ("supplied", "material", "size"),
    [
        ("2 AWG Cu", CU, "2 AWG Cu"),
        ("14 AWG Cu", CU, "8 AWG Cu"),
        ("14 AWG Cu", AL, "6 AWG Al"),
        ("500 kcmil Cu", CU, "3/0 AWG Cu"),
        ("500 kcmil Cu", AL, "250 kcmil Al"),
    ],
)
@outside("NEC 250.168", "one-source")
def test_dc_bonding_jumper(supplied: str, material: Material, size: str) -> None:
    """250.168: not smaller than the electrode conductor."""
    answer = dc_bonding_jumper(Conductor.parse(supplied), material, "nec-2017")
    assert answer.rule == "dc-bonding-jumper"
    assert str(answer.size) == published(size)
    assert answer.clause == "NEC 2017 250.168"
    assert answer.status == "one-source"
    assert dict(answer.inputs) == {
        "largest conductor of the system": supplied,
        "conductor metal": material.value,
    }
    assert answer.because[-1].startswith("Relief for rods, concrete or a ring is not taken")


@given(
    st.sampled_from(standard_sizes()), st.sampled_from(list(ServedBy)), st.sampled_from([CU, AL])
)
def test_relief_only_makes_it_smaller_and_the_jumper_never_is(
    size: Any, electrode: ServedBy, material: Material
) -> None:
    supplied = Conductor(size, CU)
    anywhere = dc_electrode_conductor(supplied, material=material)
    somewhere = dc_electrode_conductor(supplied, electrode, material)
    jumper = dc_bonding_jumper(supplied, material)
    assert somewhere.size.area_cmil <= anywhere.size.area_cmil == jumper.size.area_cmil
    assert anywhere.size.area_cmil <= Conductor.parse("250 kcmil Al").area_cmil


def test_other_rules_are_refused() -> None:
    with pytest.raises(UnknownRulesError):
        dc_electrode_conductor(Conductor.parse("2 AWG Cu"), rules="nec-2011")
    with pytest.raises(UnknownRulesError):
        dc_bonding_jumper(Conductor.parse("2 AWG Cu"), rules="nec-2011")


@outside("NEC 690.47 and 250.166", "one-source")
def test_electrode_conductor_of_a_solid_array() -> None:
    """690.47 leads to 250.166 (one public page on the 2017 edition)."""
    answer = array_electrode_conductor(Conductor.parse("6 AWG Cu"), "nec-2020")
    assert str(answer.size) == published("6 AWG Cu")
    assert answer.clause == "NEC 2020 690.47(A), 250.166"


# --- described systems --------------------------------------------------------------------------


def system(**given: Any) -> DirectCurrent:
    return DirectCurrent.model_validate(
        {"at": "shed", "source": "battery", "voltage": "48 V", "lines": "2 AWG Cu",
         "grounded": "none", **given}
    )  # fmt: skip


def test_what_a_described_system_follows() -> None:
    assert str(conductor_of(system()).size) == "2 AWG Cu"
    assert str(conductor_of(system(electrode="rod")).size) == "6 AWG Cu"
    assert str(conductor_of(system(electrode="concrete"), AL).size) == "2 AWG Al"
    assert conductor_of(system(), rules="nec-2017").clause == "NEC 2017 250.166, 250.169"
    three = system(wires=3, balancer=True, neutral="1/0 AWG Cu")
    assert str(conductor_of(three).size) == "1/0 AWG Cu"
    assert str(jumper_of(three).size) == "1/0 AWG Cu"
    assert str(jumper_of(three, AL, "nec-2017").size) == "1/0 AWG Al"
    assert jumper_of(three, AL, "nec-2017").clause == "NEC 2017 250.168"
    assert jumper_of(three).inputs[0] == ("neutral of the balancer set", "1/0 AWG Cu")
    # Without a balancer the largest conductor counts, whatever the neutral is.
    assert str(conductor_of(system(wires=3, neutral="1/0 AWG Cu")).size) == "2 AWG Cu"
    # A balancer's neutral that is not described is as large as the lines.
    assert str(jumper_of(system(wires=3, balancer=True)).size) == "2 AWG Cu"


@pytest.mark.parametrize(
    ("source", "grounded", "needed"),
    [
        ("battery", "solid", True),
        ("rectifier", "solid", True),
        ("generator", "solid", True),
        ("utility", "solid", False),
        ("generator", "none", True),
        ("battery", "none", False),
        ("rectifier", "none", False),
        ("utility", "none", False),
        ("generator", "device", False),
        ("battery", "device", False),
    ],
)
def test_which_systems_need_an_electrode_conductor(
    source: str, grounded: str, needed: bool
) -> None:
    """250.162, 250.164, 250.169."""
    assert needs_electrode(system(source=source, grounded=grounded)) is needed


def found(base: Described = HOUSE, rules: str = "nec-2023", **given: Any) -> list[Finding]:
    entry = {"at": "shed", "source": "battery", "voltage": "200 V", "lines": "2 AWG Cu",
             "grounded": "none", "detector": True, **given}  # fmt: skip
    changed = described(base, rules=rules, **{"direct current": {"bank": entry}})
    result = planned(changed)
    return [f for f in result.findings if f.rule.startswith("dc-")]


def rules_found(**given: Any) -> dict[str, Severity]:
    return {f.rule: f.severity for f in found(**given)}


FALLS, OPEN = Severity.FALLS_SHORT, Severity.CANNOT_TELL


@pytest.mark.parametrize(
    ("given", "severity"),
    [
        # Above 60 V and up to 300 V, two wires.
        ({"voltage": "60 V"}, None),
        ({"voltage": "61 V"}, OPEN),
        ({"voltage": "300 V"}, OPEN),
        ({"voltage": "301 V"}, None),
        ({"voltage": "200 V", "detector": False}, FALLS),
        ({"voltage": "200 V", "grounded": "solid"}, None),
        ({"voltage": "200 V", "grounded": "device"}, None),
        # Three wires: the neutral, whatever the voltage and whatever watches it.
        ({"voltage": "48 V", "wires": 3}, FALLS),
        ({"voltage": "400 V", "wires": 3}, FALLS),
        ({"voltage": "400 V", "wires": 3, "grounded": "solid"}, None),
        # Rectified from a grounded system: exempt.
        ({"voltage": "200 V", "source": "rectifier"}, None),
        ({"voltage": "200 V", "source": "rectifier", "wires": 3}, FALLS),
        ({"voltage": "200 V", "source": "generator"}, OPEN),
    ],
)
def test_dc_must_ground(given: dict[str, Any], severity: Severity | None) -> None:
    assert rules_found(**given).get("dc-must-ground") is severity


def test_every_finding_says_where_what_why_and_what_to_do() -> None:
    seen = [
        *found(detector=None),
        *found(source="utility", grounded="solid", jumper="none"),
        *found(grounded="solid", jumper="none"),
        *found(source="generator", conductor="none", detector=False),
        *found(grounded="solid", conductor="none"),
    ]
    assert {f.rule for f in seen} == {
        "dc-must-ground", "dc-ground-place", "dc-ground-detector", "dc-bonding-jumper",
        "dc-electrode-conductor",
    }  # fmt: skip
    for one in seen:
        assert one.where == "bank"
        assert "'bank'" in one.text or one.text.startswith("None; ")
        assert one.title == one.title.strip(".")
        assert len(one.cure) > 40
        assert one.clause.startswith("NEC 2023 250.16")


def test_dc_must_ground_says_why_and_never_to_work_live() -> None:
    (two,) = [f for f in found(detector=False) if f.rule == "dc-must-ground"]
    assert two.where == "bank"
    assert two.clause == "NEC 2023 250.162(A), 250.162(B)"
    assert "two wires, 200 V between them" in two.text
    assert "Above 60 V and up to 300 V" in two.text
    assert "industrial equipment" not in two.text
    assert "proved dead" in two.cure
    (told,) = [f for f in found() if f.rule == "dc-must-ground"]
    assert "only industrial equipment close by" in told.text
    (three,) = [f for f in found(wires=3) if f.rule == "dc-must-ground"]
    assert "its neutral is joined to no metal" in three.text


def test_a_rectifier_of_an_ungrounded_system_is_not_exempt() -> None:
    delta = described(
        HOUSE,
        sources__utility={"system": "480 V delta", "available": {"current": "20 kA"}},
        places__house__loads=[],
        runs__circuit__neutral=...,
    )
    result = planned(
        described(delta, **{"direct current": {"bank": {
            "at": "shed", "source": "rectifier", "voltage": "200 V", "lines": "2 AWG Cu",
            "grounded": "none", "detector": True}}})
    )  # fmt: skip
    assert [f.severity for f in findings(result, "dc-must-ground")] == [OPEN]


def test_dc_ground_place_is_the_suppliers() -> None:
    """250.164(A): no join at the premises of a system from outside."""
    (place,) = [f for f in found(source="utility", grounded="solid") if f.rule == "dc-ground-place"]
    assert (place.severity, place.clause) == (FALLS, "NEC 2023 250.164(A)")
    assert place.cure.startswith("Take nothing out before the supplier has said")
    assert "dc-ground-place" not in rules_found(source="utility")
    assert "dc-ground-place" not in rules_found(source="battery", grounded="solid")
    assert "dc-ground-place" not in rules_found(source="utility", grounded="device")


@pytest.mark.parametrize(
    ("given", "severity"),
    [
        ({"detector": True}, None),
        ({"detector": False}, FALLS),
        ({"detector": None}, OPEN),
        ({"detector": False, "grounded": "solid"}, None),
        ({"detector": False, "grounded": "device"}, None),
        ({"detector": None, "voltage": "24 V"}, OPEN),
    ],
)
def test_dc_ground_detector(given: dict[str, Any], severity: Severity | None) -> None:
    """250.167(A) asks it of every ungrounded system, (B) allows it on grounded ones."""
    assert rules_found(**given).get("dc-ground-detector") is severity


def test_dc_ground_detector_says_what_to_write() -> None:
    (told,) = [f for f in found(detector=None) if f.rule == "dc-ground-detector"]
    assert told.title == "ground detector of a direct-current system not described"
    assert "Write 'detector: true' or 'false'" in told.cure
    assert told.clause == "NEC 2023 250.167(A)"
    (none,) = [f for f in found(detector=False) if f.rule == "dc-ground-detector"]
    assert none.title == "no ground detector on a direct-current system"
    assert "Have a detector put in" in none.cure


def test_a_grounded_system_without_its_jumper_is_danger() -> None:
    (missing,) = [
        f for f in found(grounded="solid", jumper="none") if f.rule == "dc-bonding-jumper"
    ]
    assert (missing.severity, missing.where) == (Severity.DANGER, "bank")
    assert missing.clause == "NEC 2023 250.168"
    assert missing.cure.startswith("Keep it off until a jumper of 2 AWG Cu or larger")
    assert "dc-bonding-jumper" not in rules_found(grounded="solid")
    from_outside = rules_found(source="utility", grounded="solid", jumper="none")
    assert set(from_outside) == {"dc-ground-place"}


def test_an_electrode_conductor_that_is_missing() -> None:
    (missing,) = [
        f for f in found(grounded="solid", conductor="none") if f.rule == "dc-electrode-conductor"
    ]
    assert (missing.severity, missing.clause) == (FALLS, "NEC 2023 250.166, 250.169")
    assert missing.cure.startswith("Run 2 AWG Cu or larger")
    assert "no fault path" in missing.text
    assert "dc-electrode-conductor" in rules_found(source="generator", conductor="none")
    assert "dc-electrode-conductor" not in rules_found(source="battery", conductor="none")
    assert "dc-electrode-conductor" not in rules_found(
        source="utility", grounded="solid", conductor="none"
    )


# --- the schedule -------------------------------------------------------------------------------


def rows(base: Described = HOUSE, **given: Any) -> dict[str, tuple[str, str, str]]:
    entry = {"at": "shed", "source": "battery", "voltage": "48 V", "lines": "2 AWG Cu",
             "grounded": "solid", **given}  # fmt: skip
    result = planned(described(base, **{"direct current": {"bank": entry}}))
    return {
        row.id: (str(row.chosen), row.verdict.value, row.remark)
        for row in result.schedule
        if row.about == "bank"
    }


def test_a_grounded_system_gets_its_two_conductors() -> None:
    remark = "as designed; in this schedule only, not in the computed circuit"
    assert rows() == {
        "DC jumper bank": ("2 AWG Cu", "holds", remark),
        "DC GEC bank": ("2 AWG Cu", "holds", remark),
    }
    assert rows(electrode="rod")["DC GEC bank"][0] == "6 AWG Cu"
    # Its supplier grounds it; a wire that is given all the same is judged.
    assert rows(source="utility") == {}
    assert rows(source="utility", jumper="none") == {}
    assert rows(source="utility", jumper="4 AWG Cu")["DC jumper bank"][1] == "falls short"
    assert set(rows(grounded="none", source="generator")) == {"DC GEC bank"}
    assert rows(grounded="none") == {}
    assert rows(grounded="device") == {}


def test_given_conductors_are_checked() -> None:
    given = rows(jumper="4 AWG Cu", conductor="6 AWG Al")
    assert given["DC jumper bank"][:2] == ("4 AWG Cu", "falls short")
    assert "replace it with 2 AWG Cu" in given["DC jumper bank"][2]
    assert given["DC GEC bank"][:2] == ("6 AWG Al", "falls short")
    enough = rows(jumper="2 AWG Cu", conductor="1/0 AWG Cu")
    assert {row[1] for row in enough.values()} == {"holds"}
    # Where none has to be, one that is given is judged all the same.
    assert rows(grounded="none", conductor="10 AWG Cu")["DC GEC bank"][1] == "falls short"
    none = rows(jumper="none", conductor="none")
    assert none["DC jumper bank"] == ("None", "falls short", "none; 2 AWG Cu is asked")
    assert none["DC GEC bank"] == ("None", "falls short", "none; 2 AWG Cu is asked")


def test_as_found_a_size_that_is_not_given_is_not_made_up() -> None:
    assert rows(HOUSE_FOUND) == {
        "DC jumper bank": ("None", "cannot tell", "its size is not described; 2 AWG Cu is asked"),
        "DC GEC bank": ("None", "cannot tell", "its size is not described; 2 AWG Cu is asked"),
    }


def test_how_the_rows_stand_in_the_schedule() -> None:
    entry = {"at": "shed", "source": "battery", "voltage": "48 V", "lines": "2 AWG Cu",
             "grounded": "solid", "jumper": "4 AWG Cu", "electrode": "concrete"}  # fmt: skip
    result = planned(described(HOUSE, **{"direct current": {"bank": entry}}))
    jumper, conductor = [row for row in result.schedule if row.about == "bank"]
    assert (jumper.purpose, jumper.from_, jumper.to) == (
        "direct-current bonding jumper", "shed", "grounded conductor"
    )  # fmt: skip
    assert (conductor.purpose, conductor.from_, conductor.to) == (
        "grounding electrode conductor", "shed", "concrete"
    )  # fmt: skip
    assert (jumper.given, conductor.given) == (True, False)
    assert (jumper.form, conductor.form) == ("wire", "wire")
    for row, rule in ((jumper, "dc-bonding-jumper"), (conductor, "dc-electrode-conductor")):
        assert row.required is not None
        assert (row.required.rule, row.required.rules) == (rule, "nec-2020")
    (short,) = findings(result, "dc-bonding-jumper")
    assert (short.severity, short.where) == (FALLS, "bank")
    assert result.schedule[-1] == conductor or result.schedule.index(jumper) > [
        row.id for row in result.schedule
    ].index("EGC feeder")
    none = planned(described(HOUSE, **{"direct current": {"bank": {
        **entry, "jumper": "none", "conductor": "none"}}}))  # fmt: skip
    for row in (row for row in none.schedule if row.about == "bank"):
        assert (row.form, row.given, row.chosen) == ("none", True, None)
        assert row.required is not None
    wire = planned(described(HOUSE, **{"direct current": {"bank": {
        **entry, "jumper": "1/0 AWG Al"}}}))  # fmt: skip
    (row,) = [row for row in wire.schedule if row.id == "DC jumper bank"]
    assert row.required is not None
    assert str(row.required.size) == "2 AWG Al"
    assert not [one for one in wire.assumptions if one.where == "bank"]
    three = planned(described(HOUSE, **{"direct current": {"bank": {
        **entry, "wires": 3, "balancer": True, "neutral": "4 AWG Cu"}}}))  # fmt: skip
    assert not [one for one in three.assumptions if one.where == "bank"]
    unsaid = planned(described(HOUSE, **{"direct current": {"bank": {
        **entry, "wires": 3, "balancer": True, "electrode": None}}}))  # fmt: skip
    assert "neutral of the same size as the lines, 2 AWG Cu" in {
        one.text for one in unsaid.assumptions if one.where == "bank"
    }
    assert [row.to for row in unsaid.schedule if row.about == "bank"][1] == "electrodes"
