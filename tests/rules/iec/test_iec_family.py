"""The family in the shape that a plan asks for."""

from __future__ import annotations

import pytest

from bondwright.catalog.sizes import Conductor, Material
from bondwright.plan.model import Purpose
from bondwright.rules.iec import family
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.family import (
    DIALECT,
    Supply,
    bonding_conductor,
    electrode_conductor,
    protective_conductor,
    supply_neutral,
    supply_protective_conductor,
    tie_findings,
)
from bondwright.rules.iec.heat import Fault
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.rules.paths import Standing
from tests.rules.iec.test_iec_joins import ALL_METAL, tree_of

CU = Material.CU
IEC, BS, AS = "iec-60364-2017", "bs-7671-2018", "as-nzs-3000-2018"
B32 = ProtectiveDevice.parse("B32")
TAILS = SupplyConductors.parse("25 mm2 Cu")


def line(text: str) -> Conductor:
    return Conductor.parse(text)


def test_protective_conductor_of_a_run() -> None:
    # Table 54.2, confirmed; with a fault by its heat: 1000 x sqrt 0.1 / 115 = 2.75, by hand.
    by_table = protective_conductor(B32, CU, IEC, line("6 mm2 Cu"))
    assert str(by_table.size) == "6 mm2 Cu"
    assert ("overcurrent device", "B32") in by_table.inputs
    by_heat = protective_conductor(B32, CU, IEC, line("6 mm2 Cu"), fault=Fault(1000, 0.1))
    assert str(by_heat.size) == "4 mm2 Cu"
    unknown = protective_conductor(None, CU, IEC, line("6 mm2 Cu"))
    assert str(unknown.size) == "6 mm2 Cu"
    assert "overcurrent device" not in dict(unknown.inputs)
    with pytest.raises(TypeError, match="overcurrent device"):
        protective_conductor(TAILS, CU, IEC, line("6 mm2 Cu"))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("earthing", "protective", "neutral"),
    [
        (Earthing.TN_S, "16 mm2 Cu", None),
        (Earthing.TN_C_S, None, "16 mm2 Cu"),
        (Earthing.TN_C, None, "16 mm2 Cu"),
        (Earthing.MEN, None, "16 mm2 Cu"),
        (Earthing.TT, None, None),
        (Earthing.IT, None, None),
    ],
)
def test_supply_side(earthing: Earthing, protective: str | None, neutral: str | None) -> None:
    of = Supply(earthing)
    pe = supply_protective_conductor(TAILS, of, CU, IEC)
    assert (str(pe.size) if pe else None) == protective
    pen = supply_neutral(TAILS, of, CU, IEC)
    assert (str(pen.size) if pen else None) == neutral
    with pytest.raises(TypeError, match="follow the supply conductors"):
        supply_neutral(B32, of)  # type: ignore[arg-type]


def test_bonding_of_pipe_and_steel() -> None:
    # Half of 16 mm2 -> 10 mm2 (544.1.1); table 54.8 with a 35 mm2 neutral: 10 mm2; AS/NZS: 4 mm2.
    tn_s = Supply(Earthing.TN_S)
    assert str(bonding_conductor(TAILS, tn_s, CU, IEC).size) == "10 mm2 Cu"
    assert str(bonding_conductor(TAILS, tn_s, CU, BS).size) == "10 mm2 Cu"
    pme = Supply(Earthing.TN_C_S, line("50 mm2 Cu"))
    assert str(bonding_conductor(TAILS, pme, CU, BS).size) == "16 mm2 Cu"
    assert str(bonding_conductor(TAILS, Supply(Earthing.MEN), CU, AS).size) == "4 mm2 Cu"
    with pytest.raises(CannotTellError, match="supply neutral"):
        bonding_conductor(TAILS, Supply(Earthing.TN_C_S), CU, BS)


def test_conductor_to_electrodes() -> None:
    of = Supply(Earthing.TT)
    assert str(electrode_conductor(TAILS, of, CU, IEC).size) == "16 mm2 Cu"
    # Several disconnects' conductors add up: 50 mm2 -> 25 mm2.
    both = SupplyConductors.of(line("25 mm2 Cu"), line("25 mm2 Cu"))
    assert str(electrode_conductor(both, of, CU, IEC).size) == "25 mm2 Cu"
    with pytest.raises(TypeError, match="follow the supply conductors"):
        electrode_conductor(B32, of)  # type: ignore[arg-type]


def test_ties_in_the_shape_of_the_other_family() -> None:
    standing = Standing(tree_of(), {"link": "cut-out"}, ALL_METAL)
    assert tie_findings(standing, Earthing.TN_C_S, BS) == ()
    placements = family.where_ties_belong(standing.tree, Earthing.TN_C_S)
    assert family.ties_that_belong(standing.tree, standing.ties, placements) == {"link"}


def test_dialect_names_every_purpose() -> None:
    assert set(DIALECT) >= {purpose.value for purpose in Purpose} - {""}
    assert not any("ground" in words or "jumper" in words for words in DIALECT.values())


def test_exports() -> None:
    assert all(hasattr(family, name) for name in family.__all__)
