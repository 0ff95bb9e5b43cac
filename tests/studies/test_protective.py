"""Protective conductors below the table, settled by S = sqrt(I2 t) / k with the circuit's currents.

k = 115 for copper with PVC in a cable (IEC 60364-5-54 table A.54.3, confirmed).
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.network.build import build
from bondwright.rules.answer import Severity, Verdict
from bondwright.studies.protective import (
    open_rows,
    settled,
    settled_plan,
    study_withstand,
    withstand_findings,
)
from tests.iec_sites import FLAT, plan_of
from tests.plan.sites import HOUSE, item, planned


def _settled(pe: str, device: str = "B32, class 3, interrupts 6 kA", **more: Any) -> Any:
    changes: dict[str, Any] = {
        "runs__cooker circuit__pe": pe, "runs__cooker circuit__device": device, **more,
    }  # fmt: skip
    made = plan_of(FLAT, **changes)
    found = study_withstand(build(made, loads=False))
    return found, settled(made, found), withstand_findings(found, made)


def test_enough_by_the_limit_of_the_devices_class() -> None:
    """45,000 A2 s of a B32 class 3 at 6 kA (from memory) against (115 x 2.5)^2 = 82,656 A2 s."""
    (one,), made, told = _settled("2.5 mm2 Cu")
    assert one.verdict is Verdict.HOLDS
    row = item(made, "PE cooker circuit")
    assert row.verdict is Verdict.HOLDS
    assert row.required is not None
    assert (row.required.rule, str(row.required.size)) == ("iec-protective-adiabatic", "2.5 mm2 Cu")
    assert "82,656 A2 s" in " ".join(row.required.because)
    assert told == ()


def test_not_known_without_the_makers_figure() -> None:
    (one,), made, (told,) = _settled("1.5 mm2 Cu")
    assert one.verdict is Verdict.CANNOT_TELL
    assert item(made, "PE cooker circuit").verdict is Verdict.CANNOT_TELL
    assert (told.rule, told.severity) == ("iec-protective-adiabatic", Severity.CANNOT_TELL)


def test_too_small_where_the_fault_lasts() -> None:
    """Far away a 63 A fuse lets 460 A last for about a second: far beyond 29,756 A2 s."""
    (one,), made, (told,) = _settled(
        "1.5 mm2 Cu", "63 A gG fuse", **{"runs__cooker circuit__length": "20 m"}
    )
    assert one.verdict is Verdict.FALLS_SHORT
    assert one.asked is not None
    assert one.asked.size.area_mm2 > 1.5
    assert item(made, "PE cooker circuit").verdict is Verdict.FALLS_SHORT
    assert str(one.asked) in told.cure


def test_what_holds_by_the_table_is_left_alone() -> None:
    found, made, told = _settled("6 mm2 Cu")
    assert (found, told) == ((), ())
    assert open_rows(made) == ()
    assert settled_plan(made) is made


@pytest.mark.parametrize("which", ["iec", "nec"])
def test_settled_plans(which: str) -> None:
    made = plan_of(FLAT) if which == "iec" else planned(HOUSE)
    done = settled_plan(made)
    assert (done is made) is (which == "nec")
    assert all(row.verdict is Verdict.HOLDS for row in done.schedule)
