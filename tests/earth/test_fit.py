import time
from typing import Any

import numpy as np
import pytest

from bondwright.earth.fit import CONFIDENCE, fit_soil
from bondwright.earth.soil import Soil
from bondwright.earth.sounding import PinArray, Sounding, apparent_resistivity
from tests.earth.reference import soundings
from tests.outside import outside, published

SPACINGS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 6.0, 8.0, 12.0, 16.0, 24.0, 32.0)


def noisy(soil: Soil, noise: float, seed: int, spacings: tuple[float, ...] = SPACINGS) -> Sounding:
    clean = apparent_resistivity(soil, spacings)
    made = clean * np.exp(noise * np.random.default_rng(seed).standard_normal(len(spacings)))
    return Sounding(PinArray.WENNER, spacings, tuple(map(float, made)))


@pytest.mark.parametrize("case", soundings()["synthetic"], ids=lambda case: str(case["true"]))
@outside("synthetic soundings, least squares of another program", "computed", unit="ohm m, m")
def test_known_soils(case: dict[str, Any]) -> None:
    # synthetic soundings with 3 % noise and another program's least squares (computed)
    sounding = Sounding(PinArray.WENNER, tuple(case["a_m"]), tuple(case["rho_a"]))
    found = fit_soil(sounding)
    other, true = case["fit_relative_least_squares"], case["true"]
    assert len(found.soil.rho_ohm_m) == 2
    values = [*found.soil.rho_ohm_m, *found.soil.thickness_m]
    assert values == published([other["rho1"], other["rho2"], other["h"]], rel=0.015)
    assert found.rms == published(other["rms_percent"] / 100, rel=0.02)
    assert values == pytest.approx([true["rho1"], true["rho2"], true["h"]], rel=0.08)
    assert found.resolved
    assert not found.suspicious


@outside("F. Dawalibi, C. J. Blattner, IEEE Trans. PAS-103 (1984)", "memory", unit="ohm m, m")
def test_a_sounding_of_the_literature() -> None:
    # F. Dawalibi, C. J. Blattner, IEEE Trans. PAS-103, 1984 (from memory); another misfit norm
    case = soundings()["literature"][0]
    sounding = Sounding(PinArray.WENNER, tuple(case["a_m"]), tuple(case["rho_a"]))
    found = fit_soil(sounding)
    printed = case["published"]
    assert found.soil.rho_ohm_m == published((printed["rho1"], printed["rho2"]), rel=0.05)
    assert found.soil.thickness_m == published((printed["h"],), rel=0.08)
    own = case["own_fit_relative_ls"]
    assert found.soil.rho_ohm_m == pytest.approx((own["rho1"], own["rho2"]), rel=0.01)


@pytest.mark.parametrize("seed", range(8))
def test_a_four_pin_survey_typed_in(seed: int) -> None:
    # 300 over 50 ohm m, recovered within 20 %
    found = fit_soil(noisy(Soil.two_layer(300, 50, 3), 0.03, seed))
    assert found.soil.rho_ohm_m == pytest.approx((300, 50), rel=0.2)
    assert found.soil.thickness_m == pytest.approx((3,), rel=0.2)


@pytest.mark.parametrize("noise", [0.0, 0.01, 0.03, 0.08])
def test_uniform_ground_gets_no_layers(noise: float) -> None:
    layers = [len(fit_soil(noisy(Soil.uniform(120), noise, s)).soil.rho_ohm_m) for s in range(15)]
    assert layers.count(1) >= 14


def test_three_layers_when_there_are_three() -> None:
    soil = Soil((200, 50, 800), (1.0, 4.0))
    found = fit_soil(noisy(soil, 0.02, 1))
    assert len(found.soil.rho_ohm_m) == 3
    assert found.soil.rho_ohm_m == pytest.approx(soil.rho_ohm_m, rel=0.3)
    assert [c.layers for c in found.candidates] == [1, 2, 3, 4]
    assert found.candidates[2].criterion < found.candidates[1].criterion


@pytest.mark.parametrize("soil", [Soil.two_layer(300, 50, 3), Soil.two_layer(100, 300, 5)])
def test_intervals_hold_what_they_promise(soil: Soil) -> None:
    truth = (*soil.rho_ohm_m, *soil.thickness_m)
    inside = np.zeros(3)
    tries = 60
    for seed in range(100, 100 + tries):
        found = fit_soil(noisy(soil, 0.03, seed), 2)
        inside += [e.low <= t <= e.high for e, t in zip(found.estimates, truth, strict=True)]
        assert found.scatter == pytest.approx(0.03, rel=0.75)
    # three standard errors of a binomial below what is promised, for the worst parameter
    least = CONFIDENCE - 3 * np.sqrt(CONFIDENCE * (1 - CONFIDENCE) / tries)
    assert np.all(inside / tries >= least)
    # and not by being useless: the scatter was 3 % and a thickness is known within a quarter
    assert all(e.high < 1.5 * e.low for e in fit_soil(noisy(soil, 0.03, 0), 2).estimates)


def test_what_the_readings_cannot_say_stays_open() -> None:
    # spacings that hardly see the lower layer
    found = fit_soil(noisy(Soil.two_layer(100, 800, 6), 0.03, 3, (0.5, 1, 2, 3, 4, 6, 8)), 2)
    lower = found.estimates[1]
    assert not lower.resolved
    assert lower.high > 5 * lower.low


@pytest.mark.parametrize("index", [2, 6, 9])
@pytest.mark.parametrize("factor", [1.4, 0.6])
def test_a_wild_reading_is_named(index: int, factor: float) -> None:
    base = noisy(Soil.two_layer(300, 50, 3), 0.02, 5)
    readings = list(base.rho_a_ohm_m)
    readings[index] *= factor
    found = fit_soil(Sounding(PinArray.WENNER, SPACINGS, tuple(readings)))
    assert index in [one.index for one in found.suspicious]
    assert found.soil.rho_ohm_m == pytest.approx((300, 50), rel=0.1)
    assert found.soil.thickness_m == pytest.approx((3,), rel=0.15)


def test_a_rise_no_layers_can_make() -> None:
    readings = [100.0, 100, 100, 100, 400, 400, 400, 400]
    found = fit_soil(Sounding(PinArray.WENNER, (1, 2, 3, 4, 5, 8, 12, 16), tuple(readings)))
    assert any("no level layers" in one.reason for one in found.suspicious)


def test_given_accuracy_widens_the_intervals() -> None:
    base = noisy(Soil.two_layer(300, 50, 3), 0.01, 2)
    loose = Sounding(PinArray.WENNER, SPACINGS, base.rho_a_ohm_m, (), (0.05,) * 12)
    free, told = fit_soil(base, 2), fit_soil(loose, 2)
    for narrow, wide in zip(free.estimates, told.estimates, strict=True):
        assert wide.high / wide.low > narrow.high / narrow.low
    assert told.scatter == pytest.approx(0.05)


def test_schlumberger() -> None:
    soil = Soil.two_layer(200, 40, 4)
    outer = (1.5, 2, 3, 5, 8, 12, 20, 30, 50)
    inner = tuple(0.2 * a for a in outer)
    clean = apparent_resistivity(soil, outer, PinArray.SCHLUMBERGER, inner)
    found = fit_soil(Sounding(PinArray.SCHLUMBERGER, outer, tuple(map(float, clean)), inner))
    assert found.soil.rho_ohm_m == pytest.approx(soil.rho_ohm_m, rel=1e-3)
    assert found.soil.thickness_m == pytest.approx(soil.thickness_m, rel=1e-3)


def test_order_of_readings_does_not_matter() -> None:
    base = noisy(Soil.two_layer(100, 300, 5), 0.03, 4)
    turned = Sounding(PinArray.WENNER, base.spacing_m[::-1], base.rho_a_ohm_m[::-1])
    one, other = fit_soil(base, 2), fit_soil(turned, 2)
    assert one.soil.rho_ohm_m == pytest.approx(other.soil.rho_ohm_m, rel=1e-3)


def test_too_many_layers() -> None:
    base = noisy(Soil.uniform(100), 0.03, 4, (1, 2, 4))
    with pytest.raises(ValueError, match="3 readings can't carry 2 layers"):
        fit_soil(base, 2)
    assert len(fit_soil(base).soil.rho_ohm_m) == 1


def test_quick_enough() -> None:
    sounding = noisy(Soil.two_layer(100, 300, 5), 0.03, 7)
    fit_soil(sounding, 2)
    took = []
    for _ in range(5):
        start = time.thread_time()
        fit_soil(sounding, 2)
        took.append(time.thread_time() - start)
    assert min(took) < 0.2
