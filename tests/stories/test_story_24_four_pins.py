"""A four-pin survey typed into the site file: layers within 20 %, rod and ring with a band.

Two layers, 300 ohm m over 50 ohm m, are made up; what a survey over them reads is worked out by the
classical series of images (E. D. Sunde, *Earth Conduction Effects*, 1949), with 3 % of scatter.
Uniform readings don't make layers.
"""

from __future__ import annotations

import numpy as np
import pytest

from bondwright.earth.shapes import ring, rod
from bondwright.earth.soil import Soil
from bondwright.earth.sounding import wenner_two_layer
from bondwright.earth.system import solve
from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.reader import read
from bondwright.studies.earth_tests import judge_tests
from bondwright.studies.ground import study_ground

SPACINGS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0)
TRUE = Soil.two_layer(300, 50, 3)
SITE = """\
site: Cold store, Harrow Creek Cidery
describes: as found
sources:
  utility:
    system: 120/240 V
    transformer: {{rating: 25 kVA, impedance: 2 %}}
    electrode: 5 ohm
places:
  panel: {{kind: service, main: 100 A breaker}}
runs:
  drop:
    {{from: utility, to: panel, length: 80 ft, lines: 2 AWG Cu, neutral: 2 AWG Cu, wiring: cable}}
ties:
  main: {{at: panel, by: screw}}
electrodes:
  rod:
    {{kind: rod, at: panel, position: [0 m, 0 m], length: 8 ft, diameter: 5/8 in,
     conductor: 6 AWG Cu}}
  loop:
    {{kind: ring, at: panel, position: [60 m, 0 m], across: 12 m, depth: 30 in, ring: 2 AWG Cu,
     conductor: 2 AWG Cu}}
earth tests:
  four pins:
    kind: survey
    readings:
{readings}
"""


def made(rho_a: np.ndarray[tuple[int], np.dtype[np.float64]], seed: int) -> Plan:
    noise = np.exp(0.03 * np.random.default_rng(seed).standard_normal(len(SPACINGS)))
    lines = [
        f"      - {{spacing: {a:g} m, resistance: {rho / (2 * np.pi * a):.6g} ohm}}"
        for a, rho in zip(SPACINGS, rho_a * noise, strict=True)
    ]
    return plan(read(SITE.format(readings="\n".join(lines))))


@pytest.mark.parametrize("seed", range(4))
def test_layers_within_20_percent_and_a_band_round_rod_and_ring(seed: int) -> None:
    clean = wenner_two_layer(300, 50, 3, SPACINGS)
    found = made(clean, seed)
    ground = found.ground
    assert ground.soil.rho_ohm_m == pytest.approx((300, 50), rel=0.2)
    assert ground.soil.thickness_m == pytest.approx((3,), rel=0.2)
    assert any("from the survey 'four pins'" in a.text for a in found.assumptions)
    # in the true soil, by the segment method on its own
    truth = solve(
        TRUE,
        [
            rod("rod", (0, 0), 8 * 0.3048, 0.625 * 0.0254),
            ring("loop", (60, 0), 12, 30 * 0.0254, 0.2576 * 0.0254),
        ],
    )
    study = study_ground(build(found, loads=False), [])
    for row in study.rows:
        assert row.least < row.own < row.most
        assert row.own == pytest.approx(truth.alone(row.id), rel=0.1)
        assert row.least <= truth.alone(row.id) <= row.most
    assert set(ground.seasons) == {"low end of the survey", "high end of the survey"}


def test_uniform_readings_make_no_layers() -> None:
    found = made(np.full(len(SPACINGS), 120.0), 1)
    assert len(found.ground.soil.rho_ohm_m) == 1
    assert found.ground.soil.rho_ohm_m == pytest.approx((120,), rel=0.05)
    (tested,) = judge_tests(found)
    assert tested.fit is not None
    assert tested.fit.resolved


def test_too_few_readings_for_what_they_show_are_no_uniform_ground() -> None:
    text = SITE.format(
        readings="\n".join(
            f"      - {{spacing: {a} m, resistivity: {rho} ohm m}}"
            for a, rho in ((1, 300), (4, 180), (16, 60))
        )
    )
    (tested,) = judge_tests(plan(read(text)))
    from bondwright.explain.earth_tests import tell_test

    told = tell_test(tested)
    assert told.verdict.value == "cannot tell"
    assert any("take more readings" in s for s in told.sentences)
