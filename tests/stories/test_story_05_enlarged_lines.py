"""A reviewer changes the reason for enlarging the lines, or the edition: three answers, each why.

Expected (compiled reasoning on a public thread, "Size of equipment grounding conductors"; 2020
and later don't count an increase that only restores ampacity): 125 A asks 6 AWG; enlarged from
2 AWG to 1/0 AWG against voltage drop 3 AWG; for derating 6 AWG from 2020, 3 AWG in 2017. A 20 A
circuit enlarged from 12 to 6 AWG asks 6 AWG and no more (a published article).
"""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Answer
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import ProtectiveDevice
from bondwright.site.model import Enlarged

LINE, NEEDED = Conductor.parse("1/0 AWG Cu"), Conductor.parse("2 AWG Cu")


def asked(rules: str, needed: Conductor | None, why: Enlarged) -> Answer:
    device = ProtectiveDevice.parse("125 A")
    return equipment_ground(device, Material.CU, rules, LINE, needed, why)


@pytest.mark.parametrize(
    ("rules", "needed", "enlarged", "size", "why"),
    [
        ("nec-2020", None, Enlarged.VOLTAGE_DROP, "6 AWG Cu", "row up to 200"),
        ("nec-2020", NEEDED, Enlarged.VOLTAGE_DROP, "3 AWG Cu", "41,756 cmil"),
        ("nec-2020", NEEDED, Enlarged.CORRECTION, "6 AWG Cu", "since the 2020 edition"),
        ("nec-2023", NEEDED, Enlarged.CORRECTION, "6 AWG Cu", "since the 2020 edition"),
        ("nec-2017", NEEDED, Enlarged.CORRECTION, "3 AWG Cu", "41,756 cmil"),
    ],
)
def test_the_reason_and_the_edition_decide(
    rules: str, needed: Conductor | None, enlarged: Enlarged, size: str, why: str
) -> None:
    answer = asked(rules, needed, enlarged)
    assert str(answer.size) == size
    assert [text for text in answer.because if why in text], answer.because


def test_never_larger_than_the_line() -> None:
    lines = Conductor.parse("6 AWG Cu"), Conductor.parse("12 AWG Cu")
    answer = equipment_ground(ProtectiveDevice.parse("20 A"), Material.CU, "nec-2023", *lines)
    assert str(answer.size) == "6 AWG Cu"
    # The proportion alone lands on the line's own size: 6530 x 26,240 / 6530 cmil.
    assert any("26,240 cmil" in text for text in answer.because)


def test_the_cap_holds_where_the_proportion_would_pass_it() -> None:
    # 60 A asks 10 AWG; lines of 8 AWG enlarged from 14 AWG would ask far more than 8 AWG.
    answer = equipment_ground(
        ProtectiveDevice.parse("60 A"), Material.CU, "nec-2023",
        Conductor.parse("8 AWG Cu"), Conductor.parse("14 AWG Cu"),
    )  # fmt: skip
    assert str(answer.size) == "8 AWG Cu"
    assert answer.because[-2].startswith("A qualified person") or "8 AWG will do" in " ".join(
        answer.because
    )
