"""Conductor data against NEC chapter 9 tables 5, 8 and 9, IEC 60228 and IEC 60287-1-3."""

from __future__ import annotations

import math
from typing import Final

import pytest

from bondwright.catalog.conductors import (
    Insulation,
    RacewayColumn,
    gmr_factor,
    insulated_diameter,
    properties,
    pulled_spacing,
    resistance_dc,
    table9,
)
from bondwright.catalog.sizes import Material, Size, metric_sizes, standard_sizes
from bondwright.catalog.sources import Status
from bondwright.units import UnitError
from tests.catalog.reference import rows, size_name
from tests.outside import outside, published

CU, AL = Material.CU, Material.AL
KFT: Final = 304.8
INCH: Final = 0.0254
TABLE_8 = rows("chapter9_table8_dc.csv")
TABLE_9 = rows("chapter9_table9_ac.csv")
IEC = rows("iec60228_resistance.csv")


@pytest.mark.parametrize("row", TABLE_8, ids=lambda row: row["size"])
@pytest.mark.parametrize("material", Material)
@outside("NEC chapter 9, table 8", unit="ohm/kft")
def test_table_8(row: dict[str, str], material: Material) -> None:
    size, solid = Size.parse(size_name(row["size"])), row["strands"] == "1"
    found = properties(size, material, solid=solid)
    cell = row["cu_uncoated_ohm_kft" if material is CU else "al_ohm_kft"]
    assert found.r_dc_75 * KFT == published(
        float(cell), rel=1e-12, status=found.source.status.value
    )
    assert found.strands == published(
        int(row["strands"]), status=found.source.status.value, unit="wires"
    )
    assert (found.size, found.material) == (size, material)
    expected = "confirmed" if row["status"].startswith("confirmed") else "one-source"
    assert found.source.status.value == expected
    if not solid:
        assert resistance_dc(size, material) == found.r_dc_75


# Resistivity at 20 degC: copper 1.7241e-8 (IEC 60028), aluminium 2.8264e-8 (IEC 60889) ohm m,
# brought to 75 degC with 0.00393 and 0.00403 per kelvin.
@pytest.mark.parametrize("row", TABLE_8, ids=lambda row: row["size"])
@pytest.mark.parametrize(
    ("material", "resistivity"),
    [(CU, 1.7241e-8 * (1 + 0.00393 * 55)), (AL, 2.8264e-8 * (1 + 0.00403 * 55))],
)
@outside("resistivities of IEC 60028 and IEC 60889", "memory", unit="ohm/m")
def test_table_8_agrees_with_resistivity(
    row: dict[str, str], material: Material, resistivity: float
) -> None:
    solid = row["strands"] == "1"
    found = properties(Size.parse(size_name(row["size"])), material, solid=solid)
    # Stranding makes the wires about 2 % longer than the conductor.
    lay = 1.0 if solid else 1.02
    assert found.r_dc_75 == published(lay * resistivity / found.size.area_m2, rel=0.02)


def test_stranded_unless_asked() -> None:
    size = Size.parse("10 AWG")
    assert (properties(size, CU).strands, properties(size, CU, solid=True).strands) == (7, 1)
    with pytest.raises(UnitError, match="as a solid conductor; solid are 18 AWG to 8 AWG"):
        properties(Size.parse("4 AWG"), CU, solid=True)


# Overall diameters printed in table 8, inches (from memory, NFPA 70 chapter 9).
@pytest.mark.parametrize(
    ("name", "solid", "inches"),
    [
        ("14 AWG", True, 0.064),
        ("14 AWG", False, 0.073),
        ("12 AWG", True, 0.081),
        ("10 AWG", True, 0.102),
        ("8 AWG", False, 0.146),
        ("4 AWG", False, 0.232),
        ("1 AWG", False, 0.332),
        ("1/0 AWG", False, 0.372),
        ("4/0 AWG", False, 0.528),
        ("250 kcmil", False, 0.575),
        ("500 kcmil", False, 0.813),
        ("750 kcmil", False, 0.998),
        ("1000 kcmil", False, 1.152),
        ("2000 kcmil", False, 1.632),
    ],
)
@outside("NEC chapter 9, table 8", "memory", unit="in")
def test_overall_diameter(name: str, solid: bool, inches: float) -> None:
    found = properties(Size.parse(name), CU, solid=solid)
    assert found.diameter_m / INCH == published(inches, abs=0.0011)


# IEC 60287-1-3 table 1, three figures; four figures from handbooks of transmission lines
# (Grainger and Stevenson among them), from memory.
@pytest.mark.parametrize(
    ("strands", "three", "four"),
    [
        (1, 0.779, 0.7788),
        (7, 0.726, 0.7256),
        (19, 0.758, 0.7577),
        (37, 0.768, 0.7678),
        (61, 0.772, 0.7722),
        (91, 0.774, None),
        (127, 0.776, None),
    ],
)
@outside("IEC 60287-1-3, table 1", "memory", unit="of the radius")
def test_gmr_factor(strands: int, three: float, four: float | None) -> None:
    assert gmr_factor(strands) == published(three, abs=0.0005)
    if four is not None:
        assert gmr_factor(strands) == published(
            four, abs=0.00015, source="handbooks of transmission lines"
        )


def test_gmr_factor_of_seven_wires_in_closed_form() -> None:
    # Textbook product for 7 touching wires of radius r: 49th root of
    # (0.7788 r)^7 x (2r)^(6+12+6) x (2 sqrt(3) r)^12 x (4r)^6, over 3r.
    log = 7 * (-0.25) + 24 * math.log(2) + 12 * math.log(2 * math.sqrt(3)) + 6 * math.log(4)
    assert gmr_factor(7) == pytest.approx(math.exp(log / 49) / 3, rel=1e-12)


def test_gmr_needs_full_layers() -> None:
    with pytest.raises(UnitError, match="wires do not fill whole layers"):
        gmr_factor(12)


@pytest.mark.parametrize("size", [*standard_sizes(), *metric_sizes()], ids=str)
def test_gmr_is_inside_the_conductor_and_grows(size: Size) -> None:
    # 1200 mm2 is made in aluminium only; every other size in copper.
    found = properties(size, AL if size.name == "1200 mm2" else CU)
    assert 0.72 * found.diameter_m / 2 < found.gmr_m < found.diameter_m / 2
    metal = math.pi / 4 * found.diameter_m**2
    assert 1.0 <= metal / size.area_m2 < 1.35


class TestTemperature:
    @outside("NEC chapter 9, note to table 8", "memory", unit="of the resistance at 75 degC")
    def test_note_to_table_8(self) -> None:
        # R2 = R1 [1 + alpha (T2 - 75)], alpha 0.00323 Cu and 0.00330 Al (note to table 8,
        # from memory).
        at_75 = resistance_dc(Size.parse("4 AWG"), CU)
        assert resistance_dc(Size.parse("4 AWG"), CU, 25) / at_75 == published(1 - 0.1615, rel=1e-6)
        at_75 = resistance_dc(Size.parse("4 AWG"), AL)
        assert resistance_dc(Size.parse("4 AWG"), AL, 90) / at_75 == published(1.0495, rel=1e-6)

    @outside("IEC 60949 and IEC 60364-5-54, annex A", "memory", unit="1/K")
    def test_table_coefficients_match(self) -> None:
        printed = {row["material"]: row["alpha20_per_K"] for row in rows(
            "temperature_coefficients.csv")}  # fmt: skip
        ratio = {}
        for material in Material:
            size = Size.parse("70 mm2")
            ratio[material] = resistance_dc(size, material, 21) / resistance_dc(size, material, 20)
        assert ratio[CU] - 1 == published(float(printed["copper (IEC)"]), rel=1e-6)
        assert ratio[AL] - 1 == published(float(printed["aluminium (IEC)"]), rel=1e-6)

    @pytest.mark.parametrize("material", Material)
    @pytest.mark.parametrize("temperature", [-20.0, 20.0, 150.0, 250.0])
    def test_both_laws_agree(self, material: Material, temperature: float) -> None:
        # The same metals: 0.00393 /K at 20 degC is 0.00323 /K at 75 degC, to rounding.
        nec, iec = Size.parse("2/0 AWG"), Size.parse("70 mm2")
        by_nec = resistance_dc(nec, material, temperature) / resistance_dc(nec, material)
        by_iec = resistance_dc(iec, material, temperature) / resistance_dc(iec, material)
        assert by_nec == pytest.approx(by_iec, rel=1e-3)

    @pytest.mark.parametrize("temperature", [-400.0, math.nan, math.inf])
    def test_not_a_temperature(self, temperature: float) -> None:
        with pytest.raises(UnitError, match="is not a temperature"):
            resistance_dc(Size.parse("4 AWG"), CU, temperature)


@pytest.mark.parametrize("row", IEC, ids=lambda row: row["mm2"])
@pytest.mark.parametrize(("material", "column"), [(CU, "cu_plain_cl2"), (AL, "al_cl2")])
@outside("IEC 60228, table 2", "confirmed", unit="ohm/m")
def test_iec_60228(row: dict[str, str], material: Material, column: str) -> None:
    size = Size.parse(f"{row['mm2']} mm2")
    if not row[column]:
        with pytest.raises(UnitError, match=f"as a stranded {material.value} conductor"):
            resistance_dc(size, material)
        return
    printed = float(row[column]) / 1000
    alpha = 0.00393 if material is CU else 0.00403
    assert resistance_dc(size, material, 20) == published(printed, rel=1e-6)
    found = properties(size, material)
    assert found.r_dc_75 == pytest.approx(printed * (1 + 55 * alpha))
    # The coefficient is from memory, so the figure at 75 degC is no surer than that.
    assert found.source.status is Status.MEMORY


# IEC 60228 table 2, least number of wires of a circular conductor; above 240 mm2 from memory.
IEC_WIRES = {7: (0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35), 19: (50, 70, 95),
             37: (120, 150, 185, 240), 61: (300, 400, 500), 91: (630, 800, 1000, 1200)}  # fmt: skip


@pytest.mark.parametrize(
    ("mm2", "wires"), [(mm2, wires) for wires, sizes in IEC_WIRES.items() for mm2 in sizes]
)
@outside("IEC 60228, table 2", "memory", unit="wires")
def test_iec_60228_wires(mm2: float, wires: int) -> None:
    material = AL if mm2 == 1200 else CU
    assert properties(Size.parse(f"{mm2} mm2"), material).strands == published(wires)


@pytest.mark.parametrize("row", TABLE_9, ids=lambda row: row["size"])
@pytest.mark.parametrize("raceway", ["pvc", "aluminum", "steel"])
@pytest.mark.parametrize("material", Material)
@outside("NEC chapter 9, table 9", unit="ohm/kft")
def test_table_9(row: dict[str, str], raceway: RacewayColumn, material: Material) -> None:
    size = Size.parse(size_name(row["size"]))
    column = {"pvc": "pvc", "aluminum": "al", "steel": "steel"}[raceway]
    r_cell = row[f"r{material.value.lower()}_{column}"]
    x_cell = row["xl_steel" if raceway == "steel" else "xl_pvc_al"]
    if not r_cell:
        with pytest.raises(UnitError, match="not in table 9 for Al; the nearest size there is 12"):
            table9(size, material, raceway)
        return
    r, x = table9(size, material, raceway)
    assert [r * KFT, x * KFT] == published(
        [float(r_cell), float(x_cell)], rel=1e-6, status=row["status"]
    )
    # Alternating current never meets less resistance than direct current does, rounding apart.
    assert r * KFT >= resistance_dc(size, material) * KFT * 0.96


@pytest.mark.parametrize(
    ("name", "nearest"), [("700 kcmil", "750 kcmil"), ("2000 kcmil", "1000 kcmil"),
                          ("18 AWG", "14 AWG"), ("70 mm2", "2/0 AWG")],
)  # fmt: skip
def test_not_in_table_9(name: str, nearest: str) -> None:
    with pytest.raises(
        UnitError, match=f"not in table 9 for Cu; the nearest size there is {nearest}"
    ):
        table9(Size.parse(name), CU, "pvc")


@pytest.mark.parametrize("row", TABLE_9, ids=lambda row: row["size"])
@outside("NEC chapter 9, table 9", unit="ohm/kft")
def test_pulled_spacing_gives_back_table_9(row: dict[str, str]) -> None:
    # X = 2 pi f (mu0 / 2 pi) ln(D / GMR) with mu0 / 2 pi = 2e-7 H/m.
    size = Size.parse(size_name(row["size"]))
    gmr = properties(size, CU).gmr_m
    x = 2 * math.pi * 60 * 2e-7 * math.log(pulled_spacing(size) / gmr)
    assert x * KFT == published(float(row["xl_pvc_al"]), rel=1e-9, status=row["status"])


@pytest.mark.parametrize("size", [*standard_sizes(), *metric_sizes()], ids=str)
def test_pulled_conductors_do_not_overlap(size: Size) -> None:
    touching = insulated_diameter(size)
    assert touching < pulled_spacing(size) < 4 * touching


def test_pulled_spacing_between_table_sizes() -> None:
    # 700 kcmil lies between 600 (0.039) and 750 kcmil (0.038 ohm/kft) of table 9.
    size = Size.parse("700 kcmil")
    gmr = properties(size, CU).gmr_m
    x = 2 * math.pi * 60 * 2e-7 * math.log(pulled_spacing(size) / gmr) * KFT
    part = math.log(700 / 600) / math.log(750 / 600)
    assert x == pytest.approx(0.039 - 0.001 * part, rel=1e-9)


# Table 5 prints beside each diameter the area of the circle, in2 (one public reproduction of the
# 2008 edition): an independent figure for each row.
TABLE_5_AREAS = {
    "14 AWG": (0.0097, 0.0139), "12 AWG": (0.0133, 0.0181), "10 AWG": (0.0211, 0.0243),
    "8 AWG": (0.0366, 0.0437), "6 AWG": (0.0507, 0.0590), "4 AWG": (0.0824, 0.0814),
    "3 AWG": (0.0973, 0.0962), "2 AWG": (0.1158, 0.1146), "1 AWG": (0.1562, 0.1534),
    "1/0 AWG": (0.1855, 0.1825), "2/0 AWG": (0.2223, 0.2190), "3/0 AWG": (0.2679, 0.2642),
    "4/0 AWG": (0.3237, 0.3197), "250 kcmil": (0.3970, 0.3904), "300 kcmil": (0.4608, 0.4536),
    "350 kcmil": (0.5242, 0.5166), "400 kcmil": (0.5863, 0.5782), "500 kcmil": (0.7073, 0.6984),
    "600 kcmil": (0.8676, 0.8709), "700 kcmil": (0.9887, 0.9923), "750 kcmil": (1.0496, 1.0532),
    "800 kcmil": (1.1085, 1.1122), "900 kcmil": (1.2311, 1.2351), "1000 kcmil": (1.3478, 1.3519),
    "1250 kcmil": (None, 1.7180), "1500 kcmil": (None, 2.0157), "1750 kcmil": (None, 2.3127),
    "2000 kcmil": (None, 2.6073),
}  # fmt: skip


@pytest.mark.parametrize(
    ("name", "insulation", "area"),
    [
        pytest.param(name, kind, area, id=f"{name} {kind}")
        for name, areas in TABLE_5_AREAS.items()
        for kind, area in zip(("thhn", "xhhw"), areas, strict=True)
        if area is not None
    ],
)
@outside("NEC chapter 9, table 5 (2008), areas", "one-source", unit="in2")
def test_table_5(name: str, insulation: Insulation, area: float) -> None:
    diameter = insulated_diameter(Size.parse(name), insulation)
    assert math.pi / 4 * (diameter / INCH) ** 2 == published(area, rel=4e-3, abs=6e-5)


@pytest.mark.parametrize("insulation", ["thhn", "xhhw"])
def test_insulated_diameter_grows_and_exceeds_bare(insulation: Insulation) -> None:
    sizes = sorted([*standard_sizes(), *metric_sizes()])
    sizes.remove(Size.parse("1200 mm2"))
    diameters = [insulated_diameter(size, insulation) for size in sizes]
    assert diameters == sorted(diameters)
    for size, diameter in zip(sizes, diameters, strict=True):
        assert diameter > properties(size, CU).diameter_m


def test_insulated_diameter_between_table_sizes() -> None:
    # 70 mm2 (138.1 kcmil) lies a little above 2/0 AWG (133.1 kcmil, 0.532 in).
    inches = insulated_diameter(Size.parse("70 mm2")) / INCH
    assert 0.532 < inches < 0.584
