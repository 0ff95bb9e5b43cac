"""Rules of photovoltaic arrays: pv-equipment-ground, pv-metal, pv-fault-protection, pv-electrode.

Numbers of NFPA 70 article 690, from memory.
"""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Material
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.pv import array_findings, array_ground
from bondwright.site.model import Site


def found(rules: str = "nec-2023", describes: str = "plan", **array: Any) -> dict[str, Finding]:
    """Return the findings on one array by rule."""
    site = Site.model_validate(
        {
            "site": "bench",
            "rules": rules,
            "describes": describes,
            "sources": {"utility": {"system": "120/240 V", "available": {"current": "10 kA"}}},
            "places": {"panel": {"kind": "service", "main": "200 A breaker"}},
            "inverters": {"inverter": {"system": "120/240 V", "rating": "7.6 kVA"}},
            "arrays": {
                "roof": {
                    "at": "inverter",
                    "module": {"open circuit": "49 V", "short circuit": "11 A"},
                    "in series": 9,
                    "length": "80 ft",
                    "lines": "10 AWG Cu",
                    "grounded": "inverter",
                    **array,
                }
            },
            "runs": {
                "drop": {"from": "utility", "to": "panel", "length": "30 ft",
                         "lines": "2/0 AWG Cu"},
                "branch": {"from": "panel", "to": "inverter", "device": "40 A breaker",
                           "length": "20 ft", "lines": "8 AWG Cu"},
            },
        }
    )  # fmt: skip
    return {finding.rule: finding for finding in array_findings(site)}


def test_pv_equipment_ground_follows_the_device() -> None:
    """20 A fuse: 12 AWG copper (table 250.122)."""
    answer = array_ground(11.0, DeviceRating.parse("20 A fuse"))
    assert (answer.rule, str(answer.size)) == ("pv-equipment-ground", "12 AWG Cu")
    assert answer.clause == "NEC 2023 690.45"


def test_pv_equipment_ground_without_a_device_takes_one_by_the_current() -> None:
    """11 A x 1.25 x 1.25 = 17.2 A: the 20 A row, 12 AWG (690.9(B), from memory)."""
    answer = array_ground(11.0)
    assert str(answer.size) == "12 AWG Cu"
    assert "no overcurrent device" in answer.because[0]


def test_pv_equipment_ground_is_never_under_14_awg() -> None:
    """690.45: at least 14 AWG."""
    assert str(array_ground(2.0).size) == "14 AWG Cu"
    assert array_ground(2.0, material=Material.AL).size.area_cmil >= 6530


@given(st.floats(1.0, 400.0), st.floats(1.0, 400.0))
def test_pv_equipment_ground_grows_with_the_current(one: float, other: float) -> None:
    """Monotonic."""
    small, large = sorted((one, other))
    assert array_ground(small).size.area_cmil <= array_ground(large).size.area_cmil


def test_pv_metal_is_a_danger_where_nothing_joins_the_frames() -> None:
    """An array without a ground wire, written so or as found."""
    assert found(egc="none")["pv-metal"].severity is Severity.DANGER
    assert "pv-metal" in found(describes="as found")
    assert "pv-metal" not in found(egc="10 AWG Cu")
    assert "rod" in found(egc="none")["pv-metal"].text


def test_pv_fault_protection_is_asked_of_solid_and_ungrounded_arrays() -> None:
    """690.41(B): the inverter or a fuse does it; a plain join does not."""
    assert "pv-fault-protection" not in found()
    solid = found(grounded="solid", pole="negative")
    assert solid["pv-fault-protection"].severity is Severity.FALLS_SHORT
    silent = found(grounded="none")
    assert silent["pv-fault-protection"].severity is Severity.CANNOT_TELL
    watched = found(grounded="none", **{"insulation alarm": "100 kohm"})
    assert "pv-fault-protection" not in watched


@pytest.mark.parametrize(("strings", "asked"), [(2, False), (3, True)])
def test_pv_fault_protection_lets_small_field_arrays_off(strings: int, asked: bool) -> None:
    """Solidly grounded, off buildings, at most two source circuits (exception)."""
    ground: dict[str, Any] = {"on building": False}
    one = found(grounded="solid", pole="negative", strings=strings, **ground)
    assert ("pv-fault-protection" in one) is asked


@pytest.mark.parametrize(("rules", "asked"), [("nec-2017", True), ("nec-2020", False)])
def test_pv_fault_protection_lets_low_voltage_off_since_2020(rules: str, asked: bool) -> None:
    """At most 30 V and 8 A (2020 and later)."""
    low: dict[str, Any] = {
        "module": {"open circuit": "20 V", "short circuit": "6 A"},
        "in series": 1,
        "grounded": "none",
    }
    assert ("pv-fault-protection" in found(rules, **low)) is asked


def test_pv_electrode() -> None:
    """690.47: none of its own needed, unless the array is solidly grounded."""
    assert found()["pv-electrode"].severity is Severity.NOTE
    assert found(grounded="solid", pole="negative")["pv-electrode"].severity is (
        Severity.CANNOT_TELL
    )
