import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.catalog.sizes import Conductor, Material, Size
from bondwright.catalog.sources import CatalogError
from bondwright.safety.withstand import (
    allowed_i2t,
    k_factor,
    melting_c,
    required_area_cmil,
    required_area_mm2,
    temperature_after,
    withstand,
    withstand_current,
)
from tests.outside import outside, published

AWG4 = Size.parse("4 AWG").area_cmil


@pytest.mark.parametrize(
    ("metal", "ti", "tf", "c", "tolerance"),
    [
        # ICEA P-32-382, I = c A / sqrt(t). Printed on cable makers' sheets (one-source):
        ("Cu", 90, 250, 0.07195, 0.001),
        ("Al", 90, 250, 0.0470, 0.002),
        ("Cu", 105, 250, 0.06773, 0.001),
        ("Al", 105, 250, 0.0443, 0.002),
        # thermoplastic, from memory
        ("Cu", 75, 150, 0.0529, 0.001),
        ("Al", 75, 150, 0.0347, 0.002),
    ],
)
@outside("ICEA P-32-382, makers' sheets", unit="A/cmil at 1 s")
def test_icea_short_forms(metal: str, ti: float, tf: float, c: float, tolerance: float) -> None:
    assert withstand_current(1.0, metal, 1.0, ti, tf) == published(
        c, rel=tolerance, status="memory" if ti == 75 else "one-source"
    )
    assert withstand_current(1000.0, metal, 4.0, ti, tf) == pytest.approx(500 * c, rel=tolerance)


@pytest.mark.parametrize(
    ("final_c", "cmil_per_a"),
    # circular mils per ampere for 5 s, copper from 75 degC (handbook rules, from memory):
    # thermoplastic insulation, bolted joints, melting
    [(150, 42.25), (250, 29.1), (1083, 16.19)],
)
@outside("handbook rules, cmil per ampere for 5 s", "memory", unit="cmil/A")
def test_handbook_five_second_rules(final_c: float, cmil_per_a: float) -> None:
    assert required_area_cmil(1.0, 5.0, "Cu", 75, final_c) == published(cmil_per_a, rel=0.015)


@outside("ICEA P-32-382", "memory", unit="A")
def test_defaults_are_insulated_copper() -> None:
    # 4 AWG (41,740 cmil) for 0.1 s: 0.0529 x 41,740 / sqrt(0.1), ICEA (0.0529 from memory)
    wire = Conductor.parse("4 AWG Cu")
    amps = withstand_current(wire.area_cmil, wire.material, 0.1)
    assert amps == published(0.0529 * 41740 / math.sqrt(0.1), rel=1e-3)
    assert amps == withstand_current(AWG4, Material.CU, 0.1, 75, 150)


@pytest.mark.parametrize(
    ("metal", "ti", "tf", "printed", "status"),
    [
        # IEC 60364-5-54 tables of k, A s^0.5/mm2
        ("Cu", 70, 160, 115, "confirmed"),
        ("Cu", 70, 140, 103, "one-source"),
        ("Cu", 90, 160, 100, "one-source"),
        ("Cu", 90, 140, 86, "one-source"),
        ("Cu", 90, 250, 143, "confirmed"),
        ("Cu", 60, 200, 141, "one-source"),
        ("Cu", 105, 250, 135, "one-source"),
        ("Cu", 30, 160, 143, "confirmed"),
        ("Cu", 30, 250, 176, "confirmed"),
        ("Cu", 30, 140, 133, "one-source"),
        ("Cu", 30, 500, 228, "memory"),
        ("Cu", 30, 200, 159, "memory"),
        ("Cu", 30, 150, 138, "memory"),
        ("Al", 70, 160, 76, "confirmed"),
        ("Al", 70, 140, 68, "memory"),
        ("Al", 90, 250, 94, "confirmed"),
        ("Al", 30, 160, 95, "one-source"),
        ("Al", 30, 250, 116, "one-source"),
        ("Al", 30, 200, 105, "memory"),
        ("steel", 30, 160, 52, "one-source"),
        ("steel", 30, 250, 64, "one-source"),
        ("steel", 30, 200, 58, "memory"),
        ("steel", 30, 500, 82, "memory"),
    ],
)
@outside("IEC 60364-5-54, tables of k", unit="A s^0.5/mm2")
def test_k_factor(metal: str, ti: float, tf: float, printed: float, status: str) -> None:
    # 0.7 % and half a unit of the print
    assert k_factor(metal, ti, tf) == published(printed, rel=0.007, abs=0.5, status=status)


@outside("IEC 60364-5-54, adiabatic formula", "computed", unit="mm2")
def test_required_area_mm2() -> None:
    # 3000 A, 0.1 s, k 143: 6.634 mm2 (IEC 60364-5-54, computed from a confirmed formula)
    assert required_area_mm2(3000, 0.1, 143) == published(6.634, rel=1e-3)


@outside("IEC 60364-5-54 beside ICEA", "computed", unit="A")
def test_both_standards_agree_on_copper() -> None:
    # ICEA and IEC start from different constants; for copper they meet within 1.5 %
    size = Size.parse("50 mm2")
    icea = withstand_current(size.area_cmil, "Cu", 1.0, 90, 250)
    assert icea == published(k_factor("Cu", 90, 250) * size.area_mm2, rel=0.015)


areas = st.floats(100, 5e6)
times = st.floats(0.001, 100)
temps = st.tuples(st.floats(0, 120), st.floats(1, 900)).map(lambda t: (t[0], t[0] + t[1]))
metals = st.sampled_from(["Cu", "Al"])


@settings(deadline=None)
@given(areas, metals, times, temps)
def test_there_and_back(area: float, metal: str, time: float, ends: tuple[float, float]) -> None:
    amps = withstand_current(area, metal, time, *ends)
    assert required_area_cmil(amps, time, metal, *ends) == pytest.approx(area)
    hot = temperature_after(area, metal, amps**2 * time, ends[0])
    assert hot == pytest.approx(ends[1], rel=1e-6, abs=1e-6)


@settings(deadline=None)
@given(areas, metals, temps, st.floats(1.001, 10))
def test_more_metal_bears_more(
    area: float, metal: str, ends: tuple[float, float], more: float
) -> None:
    assert allowed_i2t(area * more, metal, *ends) > allowed_i2t(area, metal, *ends)
    assert allowed_i2t(area, metal, ends[0], ends[1] * more) > allowed_i2t(area, metal, *ends)
    energy = allowed_i2t(area, metal, *ends)
    assert temperature_after(area, metal, energy * more) > temperature_after(area, metal, energy)


def test_temperature_ends() -> None:
    assert temperature_after(AWG4, "Cu", 0.0) == pytest.approx(75)
    assert temperature_after(AWG4, "Cu", math.inf) == math.inf
    # ICEA constants at the melting point of copper
    melt = allowed_i2t(AWG4, "Cu", 75, melting_c("Cu"))
    assert temperature_after(AWG4, "Cu", melt) == pytest.approx(1083)


@pytest.mark.parametrize(
    ("amps", "seconds", "verdict"),
    [
        # 4 AWG Cu bears 4.88e6 A2 s from 75 to 150 degC (ICEA)
        (6900, 0.1, "holds"),
        (7000, 0.1, "falls short"),
        (980, 5.0, "holds"),
        (995, 5.0, "falls short"),
        # longer than 5 s: sure only at the ends
        (300, 50.0, "holds"),
        (500, 50.0, "cannot tell"),
        (50, math.inf, "cannot tell"),
        (1200, 50.0, "falls short"),
        (1200, math.inf, "falls short"),
        # below 0.1 s: sure only where even a wholly lopsided current is borne
        (8000, 0.025, "holds"),
        (9000, 0.025, "cannot tell"),
        (30000, 0.025, "cannot tell"),
        (0, math.inf, "holds"),
    ],
)
def test_judgement(amps: float, seconds: float, verdict: str) -> None:
    found = withstand(AWG4, "Cu", amps, seconds)
    assert found.verdict == verdict, found.because
    assert found.basis == "adiabatic"
    assert found.sources


def test_let_through_decides_below_a_tenth_of_a_second() -> None:
    good = withstand(AWG4, "Cu", 30000, 0.025, let_through_i2t=1e6)
    assert (good.verdict, good.basis, good.i2t) == ("holds", "let-through", 1e6)
    bad = withstand(AWG4, "Cu", 3000, 0.025, let_through_i2t=1e7)
    assert (bad.verdict, bad.temperature_c > 150) == ("falls short", True)
    slow = withstand(AWG4, "Cu", 7000, 0.1, let_through_i2t=1.0)
    assert (slow.verdict, slow.basis) == ("falls short", "adiabatic")


@settings(deadline=None)
@given(areas, metals, st.floats(1, 1e5), times, st.floats(1, 10))
def test_longer_never_turns_good(
    area: float, metal: str, amps: float, time: float, more: float
) -> None:
    # a longer fault never turns a sure failure into a sure hold
    first = withstand(area, metal, amps, time).verdict
    if first == "falls short":
        assert withstand(area, metal, amps, time * more).verdict != "holds"


def test_unknown_metal() -> None:
    for call in (allowed_i2t, lambda a, m: temperature_after(a, m, 1.0)):
        with pytest.raises(CatalogError, match=r"steel.*give 'Cu' or 'Al'"):
            call(1000.0, "steel")
    with pytest.raises(CatalogError, match="'zinc'"):
        k_factor("zinc", 30, 160)
    with pytest.raises(CatalogError, match="'steel'"):
        melting_c("steel")


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_impossible_numbers(bad: float) -> None:
    match = "positive number"
    with pytest.raises(ValueError, match=match):
        allowed_i2t(bad, "Cu")
    with pytest.raises(ValueError, match=match):
        withstand_current(AWG4, "Cu", bad)
    with pytest.raises(ValueError, match=match):
        required_area_cmil(bad, 1.0, "Cu")
    with pytest.raises(ValueError, match=match):
        required_area_mm2(1.0, 1.0, bad)


def test_impossible_heating() -> None:
    with pytest.raises(ValueError, match="cannot heat from 150"):
        allowed_i2t(AWG4, "Cu", 150, 75)
    with pytest.raises(ValueError, match="energy"):
        temperature_after(AWG4, "Cu", -1.0)
    with pytest.raises(ValueError, match="degC"):
        temperature_after(AWG4, "Cu", 1.0, -300)
    with pytest.raises(ValueError, match="give magnitudes"):
        withstand(AWG4, "Cu", -1.0, 1.0)
    with pytest.raises(ValueError, match="energy"):
        withstand(AWG4, "Cu", 1.0, 0.01, let_through_i2t=math.nan)
