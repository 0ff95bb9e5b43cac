import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import j0

from bondwright.earth.soil import Soil, resistivity_transform
from bondwright.earth.sounding import (
    PinArray,
    Sounding,
    apparent_resistivity,
    schlumberger_resistivity,
    wenner_resistivity,
    wenner_two_layer,
)
from tests.earth.reference import forward_table
from tests.outside import outside, published

SPACINGS = {"a_0.5m": 0.5, "a_1m": 1, "a_2m": 2, "a_4m": 4, "a_8m": 8, "a_16m": 16, "a_32m": 32}


@pytest.mark.parametrize("row", forward_table(), ids=lambda row: f"{row['rho1']}-{row['rho2']}")
@outside("two-layer table (Tagg; Sunde)", "computed", unit="ohm m")
def test_forward_table(row: dict[str, str]) -> None:
    # two-layer Wenner table (Tagg; Sunde), every cell computed twice elsewhere (computed)
    printed = [float(row[name]) for name in SPACINGS]
    upper, lower, thick = float(row["rho1"]), float(row["rho2"]), float(row["h_m"])
    spacings = list(SPACINGS.values())
    assert wenner_two_layer(upper, lower, thick, spacings) == published(printed, rel=1e-5)
    filtered = apparent_resistivity(Soil.two_layer(upper, lower, thick), spacings)
    assert filtered == published(printed, rel=2e-5)


contrasts = st.floats(math.log(0.01), math.log(100)).map(math.exp)


@settings(deadline=None)
@given(contrasts, st.floats(0.2, 20))
def test_filter_is_the_series(contrast: float, thick: float) -> None:
    spacings = [0.5, 1, 2, 4, 8, 16, 32]
    series = wenner_two_layer(100, 100 * contrast, thick, spacings)
    found = apparent_resistivity(Soil.two_layer(100, 100 * contrast, thick), spacings)
    assert found == pytest.approx(series, rel=1e-4)


def integrated(soil: Soil, apart: float) -> float:
    """Potential at a distance by the Hankel integral, times 2 pi over the first resistivity."""
    rho, thick = np.array(soil.rho_ohm_m), np.array(soil.thickness_m)

    def kernel(wave: float) -> float:
        seen = resistivity_transform(rho, thick, np.array([wave]))[0]
        return float((seen / rho[0] - 1) * j0(wave * apart))

    zeros = [0.0, *(np.arange(1, 400) * math.pi / apart)]
    total, end = 0.0, 20 / thick[0]
    for low, high in itertools.pairwise(zeros):
        total += quad(kernel, low, high, epsabs=1e-11, epsrel=1e-9)[0]
        if high > end:
            break
    return 1 / apart + total


@pytest.mark.parametrize(
    "soil",
    [
        Soil((200, 50, 800), (1.0, 4.0)),
        Soil((100, 1000, 30), (2.0, 5.0)),
        Soil((500, 100, 300, 20), (0.8, 2.0, 6.0)),
    ],
)
def test_more_layers_by_integration(soil: Soil) -> None:
    spacings = [0.5, 2, 8, 32]
    wenner = [2 * a * (integrated(soil, a) - integrated(soil, 2 * a)) for a in spacings]
    found = apparent_resistivity(soil, spacings)
    assert found / soil.rho_ohm_m[0] == pytest.approx(wenner, rel=1e-4)
    outer, inner = [2, 8, 32], [0.4, 1.0, 4.0]
    pairs = [
        (a * a - m * m) / (2 * m) * (integrated(soil, a - m) - integrated(soil, a + m))
        for a, m in zip(outer, inner, strict=True)
    ]
    found = apparent_resistivity(soil, outer, PinArray.SCHLUMBERGER, inner)
    assert found / soil.rho_ohm_m[0] == pytest.approx(pairs, rel=1e-4)
    # pins closer and closer together tend to the ideal array
    ideal = apparent_resistivity(soil, outer, PinArray.SCHLUMBERGER)
    close = apparent_resistivity(soil, outer, PinArray.SCHLUMBERGER, [0.01 * a for a in outer])
    assert close == pytest.approx(ideal, rel=1e-3)


def test_limits() -> None:
    spacings = [1.0, 4.0, 16.0]
    assert apparent_resistivity(Soil.uniform(80), spacings) == pytest.approx([80] * 3)
    same = Soil((80, 80, 80), (2, 3))
    assert apparent_resistivity(same, spacings) == pytest.approx([80] * 3)
    deep = Soil.two_layer(80, 900, 1e4)
    assert apparent_resistivity(deep, spacings) == pytest.approx([80] * 3, rel=5e-5)
    skin = Soil.two_layer(80, 900, 1e-3)
    assert apparent_resistivity(skin, spacings) == pytest.approx([900] * 3, rel=0.02)
    # a layer cut in two is the same layer
    cut = apparent_resistivity(Soil((100, 300, 300), (5, 7)), spacings)
    assert cut == pytest.approx(apparent_resistivity(Soil.two_layer(100, 300, 5), spacings))


@outside("IEEE Std 81, driven pins", "memory", unit="ohm m")
def test_readings_to_resistivity() -> None:
    # 2 pi a R, and IEEE Std 81's form for driven pins (from memory); both elementary
    assert wenner_resistivity(10, 2) == published(2 * math.pi * 20, rel=1e-6)
    assert wenner_resistivity(10, 2, 0.02) == published(2 * math.pi * 20, rel=1e-3)
    # a pin of some depth touches more ground than a point, so the soil is worse than it seems
    assert 2 * math.pi * 20 < wenner_resistivity(10, 2, 0.4) < 4 * math.pi * 20
    assert schlumberger_resistivity(1, 10, 1) == published(math.pi * 99 / 2, rel=1e-6)
    # Wenner is Schlumberger with the inner pins at a third
    assert schlumberger_resistivity(1, 3, 1) == pytest.approx(wenner_resistivity(1, 2))


def test_wenner_is_a_schlumberger() -> None:
    soil = Soil((200, 50, 800), (1.0, 4.0))
    found = apparent_resistivity(soil, [3.0, 9.0], PinArray.SCHLUMBERGER, [1.0, 3.0])
    assert found == pytest.approx(apparent_resistivity(soil, [2.0, 6.0]), rel=1e-5)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"spacing_m": (1, 2), "rho_a_ohm_m": (1, 2)}, "three or more"),
        ({"rho_a_ohm_m": (1, 2)}, "3 spacings but 2 apparent"),
        ({"rho_a_ohm_m": (1, 2, -3)}, "-3"),
        ({"spacing_m": (1, 0, 3)}, "pin spacing of 0"),
        ({"inner_m": (1, 1, 1)}, "not to Wenner"),
        ({"relative_sd": (3, 3, 3)}, "0.03 is 3 %"),
        ({"array": PinArray.SCHLUMBERGER, "inner_m": (2, 1, 1)}, "outside current pins"),
    ],
)
def test_bad_soundings(change: dict[str, object], match: str) -> None:
    good: dict[str, object] = {
        "array": PinArray.WENNER, "spacing_m": (1, 2, 4), "rho_a_ohm_m": (10, 20, 30),
    }  # fmt: skip
    with pytest.raises(ValueError, match=match):
        Sounding(**{**good, **change})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rho", "thick", "match"),
    [
        ((), (), "0 layers"),
        ((1.0,) * 9, (1.0,) * 8, "9 layers"),
        ((1.0, 2.0), (), "1 thicknesses, not 0"),
        ((1.0, -2.0), (1.0,), "resistivity of -2"),
        ((1.0, 2.0), (math.inf,), "thickness of inf"),
    ],
)
def test_bad_soils(rho: tuple[float, ...], thick: tuple[float, ...], match: str) -> None:
    with pytest.raises(ValueError, match=match):
        Soil(rho, thick)


def test_a_season_changes_the_top_only() -> None:
    soil = Soil.two_layer(100, 300, 5)
    assert soil.with_top(1.5, 3) == Soil((300, 100, 300), (1.5, 3.5))
    assert soil.with_top(5, 3) == Soil.uniform(300)
    assert soil.with_top(6, 2) == Soil((200, 600, 300), (5, 1))
    assert Soil.uniform(100).with_top(1, 10) == Soil.two_layer(1000, 100, 1)


@pytest.mark.parametrize(
    ("resistance", "spacing", "depth"), [(0, 1, 0), (1, 0, 0), (1, 1, 0.5), (1, 1, -1)]
)
def test_impossible_pins(resistance: float, spacing: float, depth: float) -> None:
    with pytest.raises(ValueError, match=r"not possible|not points"):
        wenner_resistivity(resistance, spacing, depth)


def test_potential_pins_inside() -> None:
    with pytest.raises(ValueError, match="stand inside"):
        schlumberger_resistivity(1, 1, 2)
