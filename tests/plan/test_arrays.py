"""Arrays in a plan: their ground wire in the schedule, and what the description leaves out."""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.site import read
from bondwright.site.model import Pole
from tests.plan import whole
from tests.site.test_arrays_and_curves import FILE


def planned(*edits: tuple[str, str]) -> Plan:
    text = FILE
    for old, new in edits:
        assert old in text
        text = text.replace(old, new)
    made = plan(read(text))
    whole.check(made)
    return made


def row(made: Plan) -> Any:
    (item,) = (item for item in made.schedule if item.about == "roof array")
    return item


def test_the_array_is_the_sum_of_its_modules() -> None:
    array = planned().arrays["roof array"]
    assert (array.open_circuit, array.short_circuit) == (420.0, 22.0)
    assert (array.work_voltage, array.work_current) == pytest.approx((350.0, 20.4))
    assert (array.pole, array.egc) == (Pole.POSITIVE, None)


def test_its_ground_wire_is_designed_checked_or_missed() -> None:
    """A 30 A fuse: 10 AWG copper, table 250.122."""
    missing = row(planned())
    assert (missing.form, missing.verdict) == ("none", Verdict.FALLS_SHORT)
    designed = row(planned(("    egc: none\n", "")))
    assert (str(designed.chosen), designed.given) == ("10 AWG Cu", False)
    thin = planned(("egc: none", "egc: 14 AWG Cu"))
    assert row(thin).verdict is Verdict.FALLS_SHORT
    assert "pv-equipment-ground" in {f.rule for f in thin.findings if f.where == "roof array"}
    assert row(planned(("egc: none", "egc: 10 AWG Cu"))).verdict is Verdict.HOLDS


def test_an_array_beyond_any_device_cannot_be_told() -> None:
    """11 A x 1000 strings x 1.25 x 1.25 is more than any low-voltage device has."""
    made = planned(("strings: 2", "strings: 1000"), ("    device: '30 A fuse'\n", ""),
                   ("    egc: none\n", ""))  # fmt: skip
    item = row(made)
    assert (item.verdict, str(item.chosen)) == (Verdict.CANNOT_TELL, "10 AWG Cu")
    (finding,) = (f for f in made.findings if f.rule == "pv-equipment-ground")
    assert "11000 A of short-circuit current" in finding.text


def test_a_tiny_array_has_the_least_ground_wire() -> None:
    """690.45: 14 AWG at least."""
    made = planned(("strings: 2", "strings: 1"), ("short circuit: 11 A", "short circuit: 0.2 A"),
                   ("current: 10.2 A", "current: 0.1 A"), ("    device: '30 A fuse'\n", ""),
                   ("    egc: none\n", ""))  # fmt: skip
    assert str(row(made).chosen) == "14 AWG Cu"


def test_as_found_no_ground_wire_is_added() -> None:
    found = planned(("    egc: none\n", ""), ("site: Pump house", "site: x\ndescribes: as found"))
    assert found.arrays["roof array"].egc is None


def test_what_is_left_out_is_assumed_and_said() -> None:
    made = planned(
        (", voltage: 35 V, current: 10.2 A", ""), ("    pole: positive\n    ground fuse: 1 A\n", "")
    )
    array = made.arrays["roof array"]
    assert array.work_voltage == pytest.approx(0.8 * 420)
    assert array.work_current == pytest.approx(0.93 * 22)
    assert (array.pole, array.ground_fuse) == (Pole.NEGATIVE, 1.0)
    said = " ".join(a.text for a in made.assumptions if a.where == "roof array")
    for words in ("voltage at greatest power 80 %", "negative conductor", "ground-fault fuse of 1"):
        assert words in said


def test_a_monitor_is_assumed_by_the_inverters_power() -> None:
    made = planned(
        ("    grounded: fuse\n    pole: positive\n    ground fuse: 1 A", "    grounded: inverter")
    )
    assert made.arrays["roof array"].monitor == 0.3


def test_a_plan_hands_its_curves_on() -> None:
    quick, slow = planned().curves["my relay"]
    assert quick == ((300.0, 10.0), (3000.0, 0.02))
    assert slow == ((300.0, 60.0), (3000.0, 0.05))
