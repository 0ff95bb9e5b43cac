"""Grounded corners, high legs, impedances, zigzags and autotransformers."""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.systems import VoltageSystem
from bondwright.plan.model import Purpose
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.grounding import impedance_conductor, is_impedance, suits_impedance
from bondwright.rules.ties import where_ties_belong
from bondwright.site.model import Tie
from tests.plan.sites import Described, described, finding, findings, item, planned, rules_of

PLANT: Described = {
    "site": "plant",
    "rules": "nec-2020",
    "sources": {"u": {"system": "480 V delta", "available": {"current": "20 kA"}}},
    "places": {
        "main": {"kind": "service", "main": "400 A"},
        "motor": {"kind": "equipment"},
    },
    "runs": {
        "service": {"from": "u", "to": "main", "length": "50 ft", "lines": "500 kcmil Cu"},
        "branch": {"from": "main", "to": "motor", "length": "50 ft", "lines": "6 AWG Cu",
                   "device": "60 A"},
    },
    "electrodes": {"steel": {"kind": "steel", "at": "main"}},
}  # fmt: skip
CORNER = described(PLANT, ties={"corner": {"at": "main", "line": "L2"}})


# --- a grounded corner -----------------------------------------------------------------------


def test_an_ungrounded_delta_has_nothing_to_join_and_wants_a_detector() -> None:
    result = planned(PLANT)
    assert result.ties == ()
    (only,) = result.tie_counts
    assert (only.terminal, only.count, only.verdict) == (None, 0, Verdict.HOLDS)
    assert finding(result, "ground-detector").where == "u"


def test_a_grounded_corner_is_a_system_with_its_tie() -> None:
    result = planned(CORNER)
    (tie,) = result.ties
    assert (tie.at, tie.line, tie.belongs) == ("main", "L2", True)
    # Table 250.102(C)(1): 500 kcmil Cu -> 1/0 AWG Cu (confirmed).
    row = item(result, "MBJ corner")
    assert (str(row.chosen), row.to) == ("1/0 AWG Cu", "L2")
    assert "ground-detector" not in rules_of(result)
    assert {f.severity for f in result.findings} == {Severity.NOTE}
    note = finding(result, "grounded-line")
    assert "480 V to metal" in note.text
    assert note.clause == "NEC 2020 250.26"
    (only,) = result.tie_counts
    assert (only.terminal, only.count) == ("L2", 1)


def test_the_tie_of_a_corner_is_designed_where_it_belongs() -> None:
    base = described(CORNER, ties={"corner": {"at": "motor", "line": "L2"}})
    result = planned(base)
    designed = next(tie for tie in result.ties if not tie.given)
    assert (designed.at, designed.line, designed.belongs) == ("main", "L2", True)
    stray = finding(result, "tie-load-side")
    assert "joins the grounded line L2 and metal at motor" in stray.text
    (only,) = result.tie_counts
    assert (only.count, only.others) == (2, ("corner",))


def test_a_corner_that_is_grounded_nowhere_else_has_no_path() -> None:
    base = described(CORNER, describes="as found", ties={"corner": {"at": "motor", "line": "L2"}})
    result = planned(base, runs__branch__egc="none")
    missing = finding(result, "tie-missing")
    assert (missing.severity, missing.where) == (Severity.DANGER, "main")
    assert "the grounded line L2" in missing.text
    assert "Don't take 'corner' out yet" in finding(result, "tie-load-side").cure
    assert "over the grounded line L2 only" in finding(result, "equipment-ground-missing").text


def test_two_corners_are_a_short_circuit() -> None:
    result = planned(CORNER, ties__other={"at": "main", "line": "L3"})
    assert finding(result, "grounded-line").severity is Severity.DANGER
    (only,) = result.tie_counts
    assert only.count == 2


def test_a_line_beside_a_neutral_is_danger() -> None:
    result = planned(CORNER, sources__u__system="208Y/120 V")
    assert finding(result, "grounded-line").severity is Severity.DANGER
    (only,) = result.tie_counts
    assert (only.count, only.severity) == (0, Severity.DANGER)


def test_a_corner_of_a_derived_system() -> None:
    result = planned(
        PLANT,
        transformers__t={"primary": "480 V delta", "secondary": "240 V delta",
                         "rating": "45 kVA", "impedance": "4 %"},
        places__board={"kind": "panel", "main": "100 A"},
        runs__primary={"from": "main", "to": "t", "length": "9 ft", "lines": "4 AWG Cu",
                       "device": "70 A"},
        runs__secondary={"from": "t", "to": "board", "length": "9 ft", "lines": "1 AWG Cu"},
        ties={"corner": {"at": "t", "line": "L2"}},
    )  # fmt: skip
    placement = where_ties_belong(result.topology)["t"]
    assert placement.terminal == "L2"
    assert placement.allowed == {"t", "board"}
    # Table 250.102(C)(1): 1 AWG Cu -> 6 AWG Cu (confirmed).
    assert str(item(result, "SBJ corner").chosen) == "6 AWG Cu"


# --- other forms -----------------------------------------------------------------------------


def test_a_high_leg_is_named_and_its_loads_are_checked() -> None:
    base = described(PLANT, sources__u__system="120/240 V delta")
    result = planned(base, places__motor__loads=[{"on": "L1-L2-L3", "power": "5 hp"}])
    (note,) = findings(result, "high-leg")
    # 240 V x sqrt(3)/2 = 208 V.
    assert "208 V to the neutral" in note.text
    assert note.severity is Severity.NOTE
    assert [tie.at for tie in result.ties] == ["main"]
    loaded = planned(base, places__motor__loads=[{"on": "L2-N", "power": "1 kW"}])
    wrong = finding(loaded, "high-leg", "motor")
    assert wrong.severity is Severity.FALLS_SHORT
    assert wrong.clause == "NEC 2020 110.15"


def test_a_zigzag_makes_a_neutral_and_is_not_judged() -> None:
    result = planned(
        PLANT,
        transformers__z={"primary": "480 V delta", "secondary": "480Y/277 V", "form": "zigzag",
                         "rating": "30 kVA", "impedance": "4 %"},
        runs__zigzag={"from": "main", "to": "z", "length": "9 ft", "lines": "6 AWG Cu",
                      "device": "60 A"},
    )  # fmt: skip
    assert finding(result, "zigzag-ground").severity is Severity.CANNOT_TELL
    assert "ground-detector" not in rules_of(result)
    assert [tie.at for tie in result.ties] == ["z"]
    row = item(result, "SBJ z")
    assert (row.required, row.verdict) == (None, Verdict.CANNOT_TELL)


def test_an_autotransformer_is_no_derived_system() -> None:
    result = planned(
        PLANT,
        sources__u__system="480Y/277 V",
        transformers__t={"primary": "480Y/277 V", "secondary": "208Y/120 V", "form": "auto",
                         "rating": "45 kVA", "impedance": "4 %"},
        runs__primary={"from": "main", "to": "t", "length": "9 ft", "lines": "4 AWG Cu",
                       "device": "70 A"},
        runs__branch__from="t",
        ties={"strap": {"at": "t", "by": "strap"}},
    )  # fmt: skip
    assert "t" not in where_ties_belong(result.topology)
    assert finding(result, "tie-load-side").where == "strap"
    assert {tie.at for tie in result.ties} == {"main", "t"}


# --- impedance -------------------------------------------------------------------------------

RESISTOR = described(
    PLANT,
    sources__u__system="480Y/277 V",
    ties={"resistor": {"at": "main", "resistance": "55 ohm"}},
)


def test_an_impedance_on_480_v_is_named_with_its_conditions() -> None:
    result = planned(RESISTOR)
    note = finding(result, "impedance-grounding")
    assert note.severity is Severity.NOTE
    assert "drives 5 A at most" in note.text  # 277 V / 55 ohm
    assert "detectors" in note.cure
    assert note.clause == "NEC 2020 250.36"
    row = item(result, "impedance resistor")
    assert row.purpose is Purpose.IMPEDANCE_CONDUCTOR
    assert str(row.chosen) == "8 AWG Cu"  # 250.36, memory
    assert row.required is not None
    assert row.required.rule == "impedance-grounding-conductor"
    (only,) = result.tie_counts
    assert only.verdict is Verdict.HOLDS


def test_a_conductor_to_the_impedance_that_is_too_small() -> None:
    result = planned(RESISTOR, ties__resistor__size="10 AWG Cu")
    assert item(result, "impedance resistor").verdict is Verdict.FALLS_SHORT
    assert finding(result, "impedance-grounding-conductor").where == "resistor"


def test_loads_on_the_neutral_of_an_impedance_grounded_system() -> None:
    result = planned(RESISTOR, places__motor__loads=[{"on": "L1-N", "power": "1 kW"}])
    severities = [f.severity for f in findings(result, "impedance-grounding")]
    assert severities == [Severity.FALLS_SHORT, Severity.NOTE]


@pytest.mark.parametrize("system", ["208Y/120 V", "120/240 V", "240 V"])
def test_below_480_v_it_is_a_bad_join(system: str) -> None:
    result = planned(RESISTOR, sources__u__system=system)
    bad = finding(result, "impedance-grounding")
    assert bad.severity is Severity.DANGER
    assert "metal may stay live" in bad.text
    assert item(result, "MBJ resistor").purpose is Purpose.MAIN_BONDING_JUMPER


@pytest.mark.parametrize(
    ("system", "ohms", "impedance", "suits"),
    [
        ("480Y/277 V", 11.0, False, True),  # 25.2 A
        ("480Y/277 V", 11.2, True, True),  # 24.7 A
        ("208Y/120 V", 4.7, False, False),
        ("208Y/120 V", 4.9, True, False),
        ("600Y/347 V", 55.0, True, True),
        ("480 V delta", 55.0, True, False),
    ],
)
def test_what_counts_as_an_impedance(
    system: str, ohms: float, impedance: bool, suits: bool
) -> None:
    nominal = VoltageSystem.parse(system)
    assert is_impedance(nominal, Tie(at="x", resistance=ohms)) is impedance
    assert suits_impedance(nominal, "nec-2020") is suits
    assert not is_impedance(nominal, Tie(at="x"))


@pytest.mark.parametrize(
    ("material", "size"), [(Material.CU, "8 AWG Cu"), (Material.AL, "6 AWG Al")]
)
def test_the_conductor_to_an_impedance(material: Material, size: str) -> None:
    # 250.36, from memory.
    answer = impedance_conductor(material)
    assert answer.size == Conductor.parse(size)
    assert answer.status == "memory"
