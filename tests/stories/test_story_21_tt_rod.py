"""A 1 m rod in granite near 1000 ohm, and a residual-current device behind it.

The basis (replies in a public discussion, "Exporting PME", medium): 1000 ohm times 0.03 A is 30 V,
so the formula passes with 30 mA; above 200 ohm it may be unsteady. With 100 mA it fails (computed:
100 V). A breaker never sees such a fault.
"""

from __future__ import annotations

import pytest

from bondwright.earth.judged import Verdict
from bondwright.earth.readings import judge_tt
from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.reader import read
from bondwright.studies.faults import FaultKind, possible_faults, study_fault

HUT = """\
site: Goose hut, Harrow Creek Cidery
describes: as found
soil: 1200 ohm m
sources:
  utility:
    system: 120/240 V
    transformer: {rating: 25 kVA, impedance: 2 %}
    electrode: 5 ohm
places:
  hut panel: {kind: service, main: 60 A breaker}
  heater: {kind: equipment}
runs:
  drop:
    from: utility
    to: hut panel
    length: 100 ft
    lines: 6 AWG Cu
    neutral: 6 AWG Cu
    wiring: cable
  heater:
    from: hut panel
    to: heater
    on: [L1]
    length: 30 ft
    lines: 12 AWG Cu
    neutral: 12 AWG Cu
    egc: 12 AWG Cu
    device: 20 A breaker
    wiring: cable
ties: {}
electrodes:
  rod:
    kind: rod
    at: hut panel
    position: [0 m, 0 m]
    length: 1 m
    diameter: 16 mm
    conductor: 6 AWG Cu
"""


@pytest.fixture(scope="module")
def hut() -> Plan:
    return plan(read(HUT))


def test_the_rod_is_near_1000_ohm(hut: Plan) -> None:
    assert hut.electrodes["rod"].resistance == pytest.approx(1000, rel=0.03)


def test_30_ma_passes_with_30_volts_and_a_note(hut: Plan) -> None:
    judged = judge_tt(hut.electrodes["rod"].resistance, 0.030)
    assert judged.verdict is Verdict.HOLDS
    text = " ".join(judged.words)
    assert "30" in text
    assert "200 ohm" in text


def test_100_ma_fails(hut: Plan) -> None:
    assert judge_tt(hut.electrodes["rod"].resistance, 0.100).verdict is Verdict.FALLS_SHORT


def test_a_breaker_never_sees_it(hut: Plan) -> None:
    network = build(hut, loads=False)
    (fault,) = [
        f
        for f in possible_faults(network, [FaultKind.LINE_TO_METAL])
        if f.place == "heater" and f.a == "L1"
    ]
    found = study_fault(network, fault)
    # 120 V over the rod and the utility's 5 ohm: more than 100 mA, far below any breaker
    rod = hut.electrodes["rod"].resistance
    assert found.current == pytest.approx(120 / (rod + 5), rel=0.03)
    assert not found.cleared
    assert found.touch["heater"] > 110
