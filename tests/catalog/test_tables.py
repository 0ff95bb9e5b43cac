"""Rule tables of NEC article 250, every row at both edges.

Expected numbers: NFPA 70 tables 250.66, 250.102(C)(1) and 250.122 (2017, 2020, 2023) as
transcribed in tests/reference, with the status words there.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import Status
from bondwright.catalog.tables import TableRow, egc_row, electrode_conductor_row, jumper_row
from bondwright.units import UnitError
from tests.catalog.reference import limit_cmil, rows, size_name, worst
from tests.outside import outside, published

CU, AL = Material.CU, Material.AL
METALS = [(supply, other) for supply in Material for other in Material]
Lookup = Callable[[float, Material, Material], TableRow]

SUPPLY_TABLES = [
    ("250.66", "nec_table_250_66_gec.csv", "gec", electrode_conductor_row),
    ("250.102(C)(1)", "nec_table_250_102_c_1.csv", "jumper", jumper_row),
]
SUPPLY_ROWS = [
    pytest.param(table, prefix, lookup, all_rows, index, id=f"{table} row {index + 1}")
    for table, file, prefix, lookup in SUPPLY_TABLES
    for all_rows in [rows(file)]
    for index in range(len(all_rows))
]


@pytest.mark.parametrize(("supply", "other"), METALS)
@pytest.mark.parametrize(("table", "prefix", "lookup", "all_rows", "index"), SUPPLY_ROWS)
@outside("NEC tables 250.66 and 250.102(C)(1)")
def test_supply_table_row(
    table: str,
    prefix: str,
    lookup: Lookup,
    all_rows: list[dict[str, str]],
    index: int,
    supply: Material,
    other: Material,
) -> None:
    row, key = all_rows[index], supply.value.lower()
    upper = limit_cmil(row[f"supply_{key}_max"])
    lower = limit_cmil(all_rows[index - 1][f"supply_{key}_max"]) if index else 0.0
    cell = row[f"{prefix}_{other.value.lower()}"]
    # One circular mil above the row before, and exactly the row's own limit.
    for area in (lower + 1, min(upper, 1e8), upper * (1 - 1e-6) if upper < math.inf else 1e7):
        found = lookup(area, supply, other)
        assert found.table == table
        if cell == "12.5% of area":
            assert found.value is None
            assert found.percent == published(0.125, status=found.status.value)
        else:
            assert found.value is not None
            assert found.value.name == published(size_name(cell), status=found.status.value)
            assert found.percent is None
        status = worst(row["status"], supply.value, other.value)
        assert found.status.value == found.source.status.value == status
        assert "2017, 2020, 2023" in found.source.edition
        assert table in found.source.title
        said = row[f"supply_{key}_label"].replace(" thru ", " to ").replace("k", "")
        assert found.row_label.replace(" AWG", "").replace(" kcmil", "") == said
    if upper < math.inf:
        above = lookup(upper + 1, supply, other)
        following = all_rows[index + 1][f"{prefix}_{other.value.lower()}"]
        expected = None if following == "12.5% of area" else size_name(following)
        assert (above.value.name if above.value else None) == expected


EGC_ROWS = rows("nec_table_250_122_egc.csv")


@pytest.mark.parametrize("material", Material)
@pytest.mark.parametrize("index", range(len(EGC_ROWS)), ids=lambda i: EGC_ROWS[i]["ocpd_a_max"])
@outside("NEC table 250.122")
def test_egc_row(index: int, material: Material) -> None:
    row = EGC_ROWS[index]
    limit = float(row["ocpd_a_max"])
    lower = float(EGC_ROWS[index - 1]["ocpd_a_max"]) if index else 0.0
    cell = row["cu"] if material is CU else row["al_or_ccal"]
    for rating in (lower + 1, limit):
        found = egc_row(rating, material)
        assert found.value is not None
        assert found.value.name == published(size_name(cell), status=found.status.value)
        assert found.row_label == f"{row['ocpd_a_max']} A"
        assert found.status.value == worst(row["status"], material.value)
        assert (found.table, found.percent) == ("250.122", None)


def test_doubtful_row_says_so_and_others_do_not() -> None:
    assert "1200 kcmil" in egc_row(6000, AL).source.note
    assert egc_row(60, CU).source.note == ""
    assert "1 AWG" in electrode_conductor_row(50_000, AL, CU).source.note


# Examples of the trade, worked from the tables (from memory unless the tables' own headers say).
@pytest.mark.parametrize(
    ("supply", "jumper"),
    [
        ("3/0 AWG Cu", "4 AWG"),
        ("2 x 500 kcmil Cu", "2/0 AWG"),
        ("3 x 250 kcmil Cu", "2/0 AWG"),
        ("2 x 3/0 AWG Cu", "2 AWG"),
        ("4/0 AWG Al", "4 AWG"),
        ("500 kcmil Cu", "1/0 AWG"),
    ],
)
@outside("NEC table 250.102(C)(1), worked examples", "memory")
def test_jumper_examples(supply: str, jumper: str) -> None:
    conductor = Conductor.parse(supply)
    found = jumper_row(conductor.total_area_cmil, conductor.material, CU)
    assert str(found.value) == published(jumper)


def test_electrode_conductor_example() -> None:
    assert str(electrode_conductor_row(350_000, CU, CU).value) == "2 AWG"


@pytest.mark.parametrize(("rating", "size"), [(60, "10 AWG"), (400, "3 AWG"), (45, "10 AWG")])
def test_egc_examples(rating: float, size: str) -> None:
    assert str(egc_row(rating, CU).value) == size


@pytest.mark.parametrize("rating", [6000.5, 1e9])
def test_egc_table_ends(rating: float) -> None:
    with pytest.raises(UnitError, match=r"beyond table 250\.122; the table ends at 6000 A"):
        egc_row(rating, CU)


@pytest.mark.parametrize("number", [0.0, -1.0, math.nan, math.inf])
def test_not_a_number_to_enter_with(number: float) -> None:
    with pytest.raises(UnitError, match="is not a device rating"):
        egc_row(number, CU)
    for lookup in (electrode_conductor_row, jumper_row):
        with pytest.raises(UnitError, match="is not a conductor area"):
            lookup(number, CU, CU)


def test_least_sure_status() -> None:
    assert Status.least_sure(Status.CONFIRMED) is Status.CONFIRMED
    assert Status.least_sure(Status.CONFIRMED, Status.MEMORY, Status.ONE_SOURCE) is Status.MEMORY
