"""Ground-fault protection of equipment: 230.95 (confirmed), 215.10, 210.13, 240.13 (one-source)."""

from __future__ import annotations

import dataclasses
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.systems import VoltageSystem
from bondwright.rules.answer import Severity, Verdict
from bondwright.rules.inputs import ProtectiveDevice
from bondwright.rules.protection import equipment_protection, settings_verdict
from tests.plan.sites import SHOP, finding, planned, rules_of

WYE = VoltageSystem.parse("480Y/277 V")
NEEDED = equipment_protection(WYE, ProtectiveDevice.parse("1000 A"))
SERVICE, FEEDER = "ground-fault-protection", "feeder-ground-fault-protection"


@pytest.mark.parametrize(
    ("system", "device", "required"),
    [
        ("480Y/277 V", "1000 A", True),
        ("480Y/277 V", "999 A", False),
        ("208Y/120 V", "2000 A", False),
        ("480 V delta", "2000 A", False),
        ("600Y/347 V", "1200 A", True),
        ("120/240 V delta", "2000 A", False),
    ],
)
def test_where_it_is_required(system: str, device: str, required: bool) -> None:
    for service in (True, False):
        answer = equipment_protection(
            VoltageSystem.parse(system), ProtectiveDevice.parse(device), service=service
        )
        assert answer.required is required
        assert (answer.pickup_a, answer.time_s, answer.test_current_a) == (1200, 1, 3000)


@pytest.mark.parametrize(
    ("device", "verdict"),
    [
        ("1200 A breaker", Verdict.CANNOT_TELL),
        ("1200 A breaker, ground fault 600 A", Verdict.CANNOT_TELL),
        ("1200 A breaker, ground fault 1300 A", Verdict.FALLS_SHORT),
        ("1200 A fuse", Verdict.CANNOT_TELL),
        ("1200 A electronic breaker", Verdict.FALLS_SHORT),
        ("1200 A electronic breaker, ground fault 1200 A 1 s", Verdict.HOLDS),
        ("1200 A electronic breaker, ground fault 1200 A 0.1 s", Verdict.HOLDS),
        ("1200 A electronic breaker, ground fault 1200 A 1.1 s", Verdict.FALLS_SHORT),
        ("3000 A electronic breaker, ground fault 1201 A 0.1 s", Verdict.FALLS_SHORT),
    ],
)
def test_settings(device: str, verdict: Verdict) -> None:
    found, reasons = settings_verdict(DeviceRating.parse(device), NEEDED)
    assert found is verdict
    assert all(reason.endswith(".") for reason in reasons)


@given(st.integers(100, 1200), st.floats(0.0, 1.0))
def test_any_setting_within_both_limits_holds(pickup: int, delay: float) -> None:
    device = DeviceRating.parse("4000 A electronic breaker")

    device = dataclasses.replace(device, ground_pickup_a=float(pickup), ground_delay_s=delay)
    assert settings_verdict(device, NEEDED)[0] is Verdict.HOLDS
    slow = dataclasses.replace(device, ground_delay_s=delay + 1.01)
    assert settings_verdict(slow, NEEDED)[0] is Verdict.FALLS_SHORT
    high = dataclasses.replace(device, ground_pickup_a=pickup + 1200.0)
    assert settings_verdict(high, NEEDED)[0] is Verdict.FALLS_SHORT


def _shop(main: str, feeder: str = "125 A", **changes: Any) -> Any:
    return planned(SHOP, places__main__main=main, runs__primary__device=feeder, **changes)


GF = "ground fault 1200 A 0.4 s"


def test_ground_fault_protection_of_a_service() -> None:
    unsaid = finding(_shop("1200 A"), SERVICE)
    assert (unsaid.severity, unsaid.clause) == (Severity.CANNOT_TELL, "NEC 2020 230.95")
    lacking = finding(_shop("1200 A electronic breaker"), SERVICE)
    assert lacking.severity is Severity.FALLS_SHORT
    assert "without a ground-fault element" in lacking.text
    assert SERVICE not in rules_of(_shop(f"1200 A electronic breaker, {GF}"))
    assert SERVICE not in rules_of(_shop("800 A"))


def test_feeder_ground_fault_protection_where_nothing_ahead_watches() -> None:
    found = finding(_shop("800 A", "1000 A"), FEEDER)
    assert (found.where, found.clause) == ("primary", "NEC 2020 215.10, 210.13, 240.13")
    assert found.severity is Severity.CANNOT_TELL
    assert FEEDER not in rules_of(_shop("800 A", f"1000 A electronic breaker, {GF}"))


@pytest.mark.parametrize("main", ["1200 A", f"1200 A electronic breaker, {GF}"])
def test_a_service_that_watches_covers_its_feeders(main: str) -> None:
    """And one that must watch, and isn't known to, is reported once, itself."""
    assert FEEDER not in rules_of(_shop(main, "1000 A"))


def test_a_small_main_with_an_element_covers_its_feeders() -> None:
    assert FEEDER not in rules_of(_shop(f"900 A electronic breaker, {GF}", "1000 A"))


def test_a_transformer_begins_anew() -> None:
    """Protection ahead of a transformer does not see a ground fault behind it."""
    found = finding(
        _shop(
            f"1200 A electronic breaker, {GF}",
            transformers__T1__secondary="480Y/277 V",
            places__LP__main="1000 A",
        ),
        FEEDER,
    )
    assert found.where == "LP"


def test_a_device_behind_one_that_must_watch_is_reported_once() -> None:
    result = _shop(
        "800 A",
        transformers__T1__secondary="480Y/277 V",
        places__LP__main="1200 A",
        runs__branch__device="1000 A",
    )
    assert finding(result, FEEDER).where == "LP"


def test_an_impedance_grounded_system_needs_none() -> None:
    """230.95 and 215.10 speak of solidly grounded systems."""
    result = _shop("1200 A", ties={"resistor": {"at": "main", "resistance": "55 ohm"},
                                   "t": {"at": "T1"}})  # fmt: skip
    assert not {SERVICE, FEEDER} & rules_of(result)


# --- in words --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("device", "reasons"),
    [
        ("1200 A breaker", ("The description doesn't say whether it has it.",)),
        (
            "1200 A electronic breaker",
            ("The electronic trip unit is described without a ground-fault element.",),
        ),
        ("1200 A breaker, ground fault 600 A", ("The description doesn't say its delay.",)),
        (
            "3000 A electronic breaker, ground fault 1300 A 1.5 s",
            ("It picks up at 1300 A, above 1200 A.", "It waits 1.5 s, longer than 1 s."),
        ),
        (
            "3000 A electronic breaker, ground fault 1300 A",
            ("It picks up at 1300 A, above 1200 A.",),
        ),
        (
            "1200 A electronic breaker, ground fault 600 A 0.4 s",
            ("It picks up at 600 A and waits 0.4 s.",),
        ),
    ],
)
def test_reasons_of_settings(device: str, reasons: tuple[str, ...]) -> None:
    assert settings_verdict(DeviceRating.parse(device), NEEDED)[1] == reasons


def test_what_is_asked_in_words() -> None:
    """NEC 230.95: more than 150 V to ground, 1000 A or more; 1200 A, 1 s at 3000 A (confirmed)."""
    assert NEEDED.clause == "NEC 2023 230.95"
    assert NEEDED.because == (
        "solidly grounded wye with 277 V to ground (limit 150 V) and a disconnect of 1000 A "
        "(limit 1000 A)"
    )
    found = finding(_shop("1200 A"), SERVICE)
    assert (found.where, found.title) == ("main", "ground-fault protection of equipment needed")
    assert found.text.endswith("The description doesn't say whether it has it.")
    assert found.cure == (
        "See that it has: set to at most 1200 A, opening within 1 s at 3000 A, tested when "
        "installed."
    )
    lacking = finding(_shop("1200 A electronic breaker"), SERVICE)
    assert lacking.cure.startswith("Fit or set it, with the supply off: to at most 1200 A")


@pytest.mark.parametrize(
    ("system", "told"),
    [
        ("480 V delta", True),
        ("240 V delta", True),
        ("120/240 V delta", False),
        ("600 V delta", True),
    ],
)
def test_detectors_of_an_ungrounded_system(system: str, told: bool) -> None:
    """NEC 250.21(B): not less than 120 V and not more than 1000 V (from memory)."""
    site = {
        "site": "mill",
        "sources": {"utility": {"system": system, "available": {"current": "10 kA"}}},
        "places": {"main": {"kind": "service", "main": "100 A breaker"}},
        "runs": {
            "service": {"from": "utility", "to": "main", "length": "9 ft", "lines": "1 AWG Cu"}
        },
    }
    result = planned(site)
    assert ("ground-detector" in rules_of(result)) is told
    if told:
        found = finding(result, "ground-detector")
        assert (found.severity, found.where) == (Severity.NOTE, "utility")
        assert (found.title, found.clause) == ("ungrounded system", "NEC 2023 250.21(B)")
        assert found.text.startswith(f"{system} has no neutral to ground.")


@pytest.mark.parametrize(
    ("system", "main", "against"),
    [
        ("480Y/277 V", "1000 A breaker", True),
        ("480Y/277 V", "900 A breaker", False),
        ("208Y/120 V", "1200 A breaker", False),
    ],
)
def test_an_old_feeder_behind_ground_fault_protection_is_none(
    system: str, main: str, against: bool
) -> None:
    """NEC 250.32(B)(1) exception 1 (from memory): no ground-fault protection ahead of it."""
    site = {
        "site": "two buildings",
        "describes": "as found",
        "sources": {"utility": {"system": system, "available": {"current": "20 kA"}}},
        "places": {
            "house": {"kind": "service", "main": main, "building": "one"},
            "shed": {"kind": "panel", "main": "60 A breaker", "building": "two"},
        },
        "runs": {
            "service": {"from": "utility", "to": "house", "length": "9 ft",
                        "lines": "4 x 500 kcmil Cu"},
            "feeder": {"from": "house", "to": "shed", "length": "90 ft", "lines": "6 AWG Cu",
                       "device": "60 A breaker", "egc": "none", "installed": 1990,
                       "raceway": {"kind": "pvc", "size": "1-1/4 in"}},
        },
        "ties": {"main": {"at": "house", "by": "bus"}, "old": {"at": "shed", "by": "strap"}},
        "electrodes": {
            "rod": {"kind": "rod", "at": "house", "conductor": "6 AWG Cu"},
            "shed rod": {"kind": "rod", "at": "shed", "conductor": "6 AWG Cu"},
        },
    }  # fmt: skip
    found = planned(site)
    if against:
        text = finding(found, "tie-load-side").text
        assert "ground-fault protection of equipment is ahead of it" in text
    else:
        assert "old-three-wire-feeder" in rules_of(found)
