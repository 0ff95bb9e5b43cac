"""What an inspector asks of an installation as a whole. Common practice where nothing is named."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.catalog.iec_tables import iec_number
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.iec.installation import devices_ahead
from bondwright.rules.iec.intake import intakes, main_terminals, supply_lines, tails
from tests.iec_sites import COOPERAGE, COTTAGE, FLAT, HALL, NAMES, plan_of
from tests.plan.sites import findings, item

DANGER, SHORT = Severity.DANGER, Severity.FALLS_SHORT
CANNOT, NOTE = Severity.CANNOT_TELL, Severity.NOTE

RULES: dict[str, list[tuple[str, dict[str, Any], str, Severity]]] = {
    "iec-exposed-part": [
        (FLAT, {"runs__lighting circuit__pe": "none"}, "lighting circuit", DANGER),
        # Other metal joins it: the pipe is no protective conductor, and yet some way.
        (FLAT, {"runs__cooker circuit__pe": "none"}, "cooker circuit", SHORT),
        (COTTAGE, {"runs__lighting circuit__pe": "none"}, "lighting circuit", DANGER),
        (HALL, {"runs__pump circuit__pe": "none"}, "pump circuit", DANGER),
    ],
    "iec-earth-missing": [
        (COTTAGE, {"electrodes": {}}, "consumer unit", DANGER),
        (COTTAGE, {"electrodes__cottage rods__conductor": "none"}, "consumer unit", DANGER),
        (HALL, {"electrodes": {}}, "hall board", DANGER),
        (FLAT, {"runs__tails__pe": "none"}, "consumer unit", DANGER),
        (COOPERAGE, {"runs__tails__pe": "none"}, "main board", DANGER),
        (COOPERAGE, {"runs__service cable__pe": "none"}, "main board", DANGER),
    ],
    "iec-additional-protection": [
        # IEC 60364-4-41 411.3.3: sockets up to 32 A, 30 mA (from memory).
        (FLAT, {"runs__kitchen circuit__device": "B16"}, "kitchen sockets", SHORT),
        (FLAT, {"runs__kitchen circuit__device": "B32, RCD 100 mA"}, "kitchen sockets", SHORT),
        (COTTAGE, {"runs__socket circuit__device": "B16"}, "sockets", SHORT),
    ],
    "iec-special-location": [
        (FLAT, {"areas": {"bath": {"kind": "pool", "at": "consumer unit"}}}, "bath", CANNOT),
    ],
    "iec-line-small": [
        (FLAT, {"runs__heater circuit__needed": "4 mm2 Cu"}, "heater circuit", SHORT),
    ],
    "iec-ahead-of-residual-device": [
        (COTTAGE, {"places__consumer unit__enclosure": "metal"}, "consumer unit", NOTE),
    ],
}  # fmt: skip
CASES = [(rule, *case) for rule, cases in RULES.items() for case in cases]


@pytest.mark.parametrize(("rule", "name", "changes", "where", "severity"), CASES)
def test_found(
    rule: str, name: str, changes: dict[str, Any], where: str, severity: Severity
) -> None:
    (found,) = [f for f in findings(plan_of(name, **changes), rule) if f.where == where]
    assert found.severity is severity
    assert found.text
    assert found.cure


@pytest.mark.parametrize("rule", [*RULES, "iec-own-source"])
@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_found_in_a_sound_installation(name: str, rule: str) -> None:
    assert findings(plan_of(name), rule) == []


def _texts(found: list[Finding]) -> str:
    return " ".join(f"{one.text} {one.cure}" for one in found)


def test_no_rod_is_offered_for_a_missing_path() -> None:
    found = findings(plan_of(FLAT, **{"runs__tails__pe": "none"}), "iec-earth-missing")
    assert "electrode is no substitute" in _texts(found)
    assert "electrode" in _texts(findings(plan_of(COTTAGE, electrodes={}), "iec-earth-missing"))


# --- limits of additional protection -------------------------------------------------------


@pytest.mark.parametrize(
    ("device", "asked"),
    [
        ("B32, RCD 30 mA", False),
        ("B32, RCD 10 mA", False),
        ("B32, RCD 100 mA", True),
        ("B32", True),
        ("B40", False),  # above 32 A the clause doesn't ask
    ],
)
def test_additional_protection_up_to_its_limits(device: str, asked: bool) -> None:
    assert iec_number("additional_protection", "sockets_a").value == 32  # from memory
    assert iec_number("additional_protection", "residual_a").value == 0.03  # from memory
    made = plan_of(FLAT, **{"runs__kitchen circuit__device": device})
    assert bool(findings(made, "iec-additional-protection")) is asked


def test_a_device_ahead_protects_as_well() -> None:
    changes = {
        "runs__kitchen circuit__device": "B16",
        "places__consumer unit__main": "63 A RCD 30 mA",
    }
    assert findings(plan_of(FLAT, **changes), "iec-additional-protection") == []
    # Fixed equipment isn't asked.
    assert (
        findings(
            plan_of(FLAT, **{"places__kitchen sockets__kind": "equipment"}),
            "iec-additional-protection",
        )
        == []
    )


def test_devices_ahead_of_a_place_nearest_first() -> None:
    tree = plan_of(COTTAGE).topology
    assert [(name, str(device)) for name, device in devices_ahead(tree, "cider press")] == [
        ("device press circuit", "C16, RCD 30 mA type A, class 3, interrupts 6 kA"),
        ("device press house cable", "32 A gG fuse"),
        ("main consumer unit", "63 A RCD 100 mA type A S"),
        ("main cut-out", "63 A gG fuse"),
    ]


# --- an own electrode at an outbuilding ----------------------------------------------------


def test_a_place_with_an_electrode_of_its_own_needs_no_protective_conductor() -> None:
    own = {"kind": "rod", "at": "press house", "resistance": "60 ohm"}
    changes: dict[str, Any] = {"runs__press house cable__pe": "none"}
    assert findings(plan_of(COTTAGE, **changes), "iec-exposed-part")
    made = plan_of(COTTAGE, **changes, electrodes__own=own)
    assert findings(made, "iec-exposed-part") == []


# --- the intake ----------------------------------------------------------------------------


def test_where_the_network_ends() -> None:
    tree = plan_of(FLAT).topology
    assert intakes(tree, "network") == ("cut-out",)
    assert tails(tree, "network") == ("tails",)
    assert main_terminals(tree, "network") == ("consumer unit",)
    assert str(supply_lines(tree, "network")) == "25 mm2 Cu"
    # A board that the network feeds has no tails, and is the terminal itself.
    tree = plan_of(HALL).topology
    assert tails(tree, "hall transformer") == ()
    assert main_terminals(tree, "hall transformer") == ("hall board",)
    assert str(supply_lines(tree, "hall transformer")) == "35 mm2 Cu"


def test_one_circuit_with_a_device_makes_no_tails() -> None:
    changes: dict[str, Any] = {"runs__tails__device": "63 A gG fuse"}
    tree = plan_of(FLAT, **changes).topology
    assert tails(tree, "network") == ()
    assert main_terminals(tree, "network") == ("cut-out",)


# --- iec-own-source ------------------------------------------------------------------------


def _with_generator(neutral: str, ties: dict[str, Any] | None = None) -> Plan:
    changes: dict[str, Any] = {
        "generators": {"genset": {"system": "230 V", "rating": "8 kVA"}},
        "transfers": {
            "changeover": {"normal": "tails", "standby": "genset side", "neutral": neutral}
        },
        "runs__tails__to": "changeover",
        "runs__board feed": {
            "from": "changeover", "to": "consumer unit", "length": "2 m", "lines": "16 mm2 Cu",
            "device": "63 A gG fuse",
        },
        "runs__genset side": {
            "from": "genset", "to": "changeover", "length": "5 m", "lines": "6 mm2 Cu",
        },
    }  # fmt: skip
    if ties is not None:
        changes["ties"] = ties
        changes["describes"] = "as found"
    return plan_of(FLAT, **changes)


def test_a_generator_gets_one_join_of_its_own() -> None:
    made = _with_generator("switched")
    assert findings(made, "iec-own-source") == []
    row = item(made, "N-E join at genset")
    assert (row.verdict, str(row.chosen)) == (Verdict.HOLDS, "6 mm2 Cu")
    assert {tie.at for tie in made.ties} == {"cut-out", "genset"}
    assert {count.count for count in made.tie_counts} == {1}


def test_a_join_is_missing_or_double_in_some_state() -> None:
    both = {"a": {"at": "cut-out"}, "b": {"at": "genset"}}
    twice = findings(_with_generator("solid", both), "iec-own-source")
    assert [f.severity for f in twice] == [SHORT] * len(twice)
    assert twice
    assert "changeover switch" in twice[0].cure
    none = _with_generator("switched", {"a": {"at": "cut-out"}})
    # A join that is missing at the generator is found as such, and not said again.
    assert [f.where for f in findings(none, "iec-join-missing")] == ["genset"]
    assert findings(none, "iec-own-source") == []
