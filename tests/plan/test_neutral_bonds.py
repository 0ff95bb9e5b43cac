"""The bond of an enclosure ahead of the service disconnect: what it is called, and what it asks.

The neutral bonds it (250.92(B)(1), 250.142(A); trade-journal answer and forum threads). Made by a
part of the enclosure that is no jumper; made by a wire it is a supply-side bonding jumper, sized
by table 250.102(C)(1) on the service conductors.
"""

from __future__ import annotations

from typing import Any

import pytest

from bondwright.explain.schedule import schedule_rows
from bondwright.plan.model import Purpose
from bondwright.rules.answer import Severity, Verdict
from tests.plan.sites import HOUSE, HOUSE_FOUND, described, finding, findings, item, planned


def test_a_designed_bond_is_no_supply_side_jumper() -> None:
    row = item(planned(HOUSE), "neutral bond at meter")
    assert (row.purpose, row.from_, row.to, row.form) == (
        Purpose.NEUTRAL_BOND, "meter", "neutral", "bus"
    )  # fmt: skip
    assert (row.verdict, row.required, row.chosen) == (Verdict.HOLDS, None, None)
    assert "250.92(B)(1), 250.142(A)" in row.remark
    (shown,) = [r for r in schedule_rows(planned(HOUSE)) if r.id == row.id]
    assert (shown.short, shown.required, shown.chosen) == ("neutral bond", "no size asked", "bus")


@pytest.mark.parametrize("form", ["bus", "strap", "screw"])
def test_what_came_with_the_enclosure_asks_no_size(form: str) -> None:
    result = planned(HOUSE_FOUND, ties__meter_bond={"at": "meter", "by": form})
    row = item(result, "meter bond")
    assert (row.purpose, row.form, row.given) == (Purpose.NEUTRAL_BOND, form, True)
    assert row.verdict is Verdict.HOLDS


@pytest.mark.parametrize(
    ("size", "verdict"),
    # The service conductors are 3/0 AWG Cu: 4 AWG Cu or 2 AWG Al.
    [("4 AWG Cu", "holds"), ("2 AWG Al", "holds"), ("6 AWG Cu", "falls short"),
     ("4 AWG Al", "falls short")],
)  # fmt: skip
def test_a_wire_is_a_supply_side_jumper(size: str, verdict: str) -> None:
    result = planned(HOUSE_FOUND, ties__meter_bond={"at": "meter", "by": "wire", "size": size})
    row = item(result, "meter bond")
    assert row.required is not None
    assert (row.purpose, row.required.rule) == (
        Purpose.SUPPLY_SIDE_JUMPER, "supply-side-bonding-jumper"
    )  # fmt: skip
    assert (str(row.chosen), row.verdict.value) == (size, verdict)
    short = findings(result, "supply-side-bonding-jumper")
    assert [(f.where, f.severity) for f in short] == (
        [("meter bond", Severity.FALLS_SHORT)] if verdict == "falls short" else []
    )
    assert {tie.id: str(tie.size) for tie in result.ties}["meter bond"] == size


def test_a_wire_without_a_size() -> None:
    wire = {"at": "meter", "by": "wire"}
    designed = item(planned(HOUSE, ties={"meter bond": wire}), "meter bond")
    assert (str(designed.chosen), designed.verdict) == ("4 AWG Cu", Verdict.HOLDS)
    found = planned(HOUSE_FOUND, ties__meter_bond=wire)
    row = item(found, "meter bond")
    assert row.verdict is Verdict.CANNOT_TELL
    assert "4 AWG Cu is asked" in row.remark
    assert finding(found, "supply-side-bonding-jumper").severity is Severity.CANNOT_TELL


def _two_services(second: str) -> Any:
    return described(
        HOUSE_FOUND,
        places__second={"kind": "service", "main": "100 A", "building": "house"},
        runs__riser_2={"from": "meter", "to": "second", "length": "5 ft", "lines": second},
        ties__second_screw={"at": "second", "by": "screw"},
        ties__meter_bond={"at": "meter", "by": "wire", "size": "4 AWG Cu"},
    )


def test_it_follows_all_conductors_that_leave_the_enclosure() -> None:
    # 3/0 AWG Cu and 3/0 AWG Cu: 335,600 cmil, over 2/0 up to 350 kcmil Cu row: 2 AWG Cu.
    row = item(planned(_two_services("3/0 AWG Cu")), "meter bond")
    assert row.required is not None
    assert (str(row.required.size), row.verdict) == ("2 AWG Cu", Verdict.FALLS_SHORT)


def test_conductors_of_two_metals_leave_it_open() -> None:
    result = planned(_two_services("4/0 AWG Al"))
    row = item(result, "meter bond")
    assert (row.required, row.verdict) == (None, Verdict.CANNOT_TELL)
    assert str(row.chosen) == "4 AWG Cu"
    assert row.remark == "no size by rule; see the findings"
    found = finding(result, "supply-side-bonding-jumper", "meter bond")
    assert (found.severity, found.clause) == (Severity.CANNOT_TELL, "NEC 2020 250.102(C)")


def test_beyond_the_table_it_is_left_open() -> None:
    # Aluminium jumper on copper above 1100 kcmil: 12.5 % goes by areas of one metal.
    result = planned(
        described(
            HOUSE_FOUND,
            runs__riser__lines="4 x 500 kcmil Cu",
            ties__meter_bond={"at": "meter", "by": "wire", "size": "4 AWG Al"},
        )
    )
    row = item(result, "meter bond")
    assert row.verdict is not Verdict.HOLDS
