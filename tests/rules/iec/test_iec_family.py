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
    metal_bond,
    protective_conductor,
    supply_neutral,
    supply_of,
    supply_protective_conductor,
    tie_findings,
)
from bondwright.rules.iec.heat import Fault
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.rules.paths import Standing
from bondwright.site.model import Metal
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


def test_supply_is_read_from_the_description() -> None:
    tree = tree_of()
    assert supply_of(tree, "network", Earthing.TN_C_S) == Supply(Earthing.TN_C_S)
    tree = tree_of(runs__tails__neutral="50 mm2 Cu")
    found = supply_of(tree, "network", Earthing.TN_C_S)
    assert found == Supply(Earthing.TN_C_S, line("50 mm2 Cu"))


def _pipe(kind: str) -> Metal:
    given = {"kind": kind, "from": "consumer unit", "to": "garage", "length": "9 m"}
    return Metal.model_validate(given | {"resistance": "0.1 ohm"})


def test_metal_bond_of_a_pipe() -> None:
    # TN-C-S under BS 7671: table 54.8 by the neutral; TT: half of the earthing conductor.
    tree = tree_of(runs__tails__neutral="35 mm2 Cu")
    pme = metal_bond(tree, _pipe("water pipe"), Earthing.TN_C_S, CU, BS)
    assert pme is not None
    assert (pme.rule, str(pme.size)) == ("iec-pme-bonding", "10 mm2 Cu")
    tt = metal_bond(tree, _pipe("gas pipe"), Earthing.TT, CU, BS)
    assert tt is not None
    assert (tt.rule, str(tt.size)) == ("iec-main-bonding", "10 mm2 Cu")
    assert metal_bond(tree, _pipe("cable shield"), Earthing.TT, CU, BS) is None
    with pytest.raises(CannotTellError, match="supply neutral"):
        metal_bond(tree_of(), _pipe("water pipe"), Earthing.TN_C_S, CU, BS)


@pytest.mark.parametrize("rules", [IEC, BS])
def test_every_run_of_a_flat_gets_its_protective_conductor(rules: str) -> None:
    # Table 54.2, confirmed: what a plan would put into the schedule of the flat.
    tree = tree_of()
    sizes = {
        name: str(protective_conductor(None, CU, rules, run.lines).size)
        for name, run in tree.site.runs.items()
        if name not in tree.supply_side_runs
    }
    assert sizes == {"submain": "16 mm2 Cu", "circuit": "2.5 mm2 Cu"}


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
