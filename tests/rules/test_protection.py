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
