"""What the sizing rules of IEC 60364 share: factor k, strength, and the next size made."""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Material
from bondwright.catalog.sources import CatalogError, Status
from bondwright.rules.iec.sizing import Insulation, Laid, factor, made, strength
from bondwright.rules.inputs import CannotTellError

RULE, RULES = "iec-protective-adiabatic", "iec-60364-2017"


@pytest.mark.parametrize(
    ("laid", "metal", "insulation", "area", "k"),
    [
        # IEC 60364-5-54 tables A.54.2 to A.54.6 (143, 115, 100, 94 confirmed; rest from memory)
        (Laid.SEPARATE, "Cu", Insulation.PVC_70, 16.0, 143),
        (Laid.SEPARATE, "Cu", Insulation.XLPE_90, 16.0, 176),
        (Laid.IN_CABLE, "Cu", Insulation.PVC_70, 16.0, 115),
        (Laid.IN_CABLE, "Cu", Insulation.PVC_90, 16.0, 100),
        (Laid.IN_CABLE, "Cu", Insulation.XLPE_90, 16.0, 143),
        (Laid.IN_CABLE, "Al", Insulation.XLPE_90, 16.0, 94),
        (Laid.IN_CABLE, "Al", Insulation.PVC_70, 16.0, 76),
        (Laid.BARE_VISIBLE, "Cu", Insulation.XLPE_90, 16.0, 228),
    ],
)
def test_factor_k(laid: Laid, metal: str, insulation: Insulation, area: float, k: float) -> None:
    assert factor(laid, metal, insulation, area).k == k


def test_pvc_of_a_small_area_is_what_is_taken_unless_it_is_said() -> None:
    assert factor(Laid.IN_CABLE, "Cu").k == 115
    assert factor(Laid.IN_CABLE, "Cu", Insulation.PVC_70, 301.0).k == 103
    with pytest.raises(CatalogError):
        factor(Laid.IN_CABLE, "tin")


@pytest.mark.parametrize(
    ("laid", "material", "protected", "area"),
    [
        # 543.1.3: 2.5 mm2 protected, 4 mm2 not, copper; 16 mm2 aluminium (from memory).
        (Laid.SEPARATE, Material.CU, True, 2.5),
        (Laid.SEPARATE, Material.CU, False, 4.0),
        (Laid.BARE, Material.CU, False, 4.0),
        (Laid.SEPARATE, Material.AL, True, 16.0),
        (Laid.IN_CABLE, Material.CU, False, 0.0),
        (Laid.LINE, Material.CU, False, 0.0),
    ],
)
def test_strength(laid: Laid, material: Material, protected: bool, area: float) -> None:
    because: list[str] = []
    found, status = strength(material, laid, protected, because)
    assert found == area
    assert isinstance(status, Status)
    if area:
        word = "with" if protected else "without"
        assert because == [
            f"Outside a cable it is at least {area:g} mm2 {material.value} {word} protection "
            "against mechanical damage."
        ]
    else:
        assert because == []


@pytest.mark.parametrize(
    ("area", "least", "material", "sets", "size"),
    [
        (2.4, 0.0, Material.CU, 1, "2.5 mm2 Cu"),
        (2.5, 0.0, Material.CU, 1, "2.5 mm2 Cu"),
        (2.6, 0.0, Material.CU, 1, "4 mm2 Cu"),
        (2.6, 6.0, Material.CU, 1, "6 mm2 Cu"),
        (2.6, 0.0, Material.AL, 1, "10 mm2 Al"),  # IEC 60228: stranded aluminium from 10 mm2 on
        (2.6, 16.0, Material.AL, 1, "16 mm2 Al"),
        (17.0, 0.0, Material.CU, 3, "3 x 25 mm2 Cu"),
    ],
)
def test_the_next_size_made(
    area: float, least: float, material: Material, sets: int, size: str
) -> None:
    found = made(RULE, RULES, area, least, material, ["So it is."], [("a", "b")],
                 Status.CONFIRMED, sets)  # fmt: skip
    assert str(found.size) == size
    one = size.rpartition("x ")[2].rpartition(" ")[0]
    assert found.because == (
        "So it is.",
        f"The next size made that is not smaller is {one} {material.value}.",
    )
    assert found.inputs == (("a", "b"),)
    assert (found.rule, found.rules, found.status) == (RULE, RULES, "confirmed")
    assert found.clause == "IEC 60364-5-54 543.1.2"


def test_larger_than_any_conductor_cannot_be_told() -> None:
    with pytest.raises(CannotTellError) as found:
        made(RULE, RULES, 5000.0, 0.0, Material.CU, [], [], Status.MEMORY)
    assert found.value.rule == RULE
    assert "5000" in found.value.problem
