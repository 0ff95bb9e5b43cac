"""Sizes by name, the ladder of sizes, and conductors.

Areas: NEC chapter 9 table 8; mm2: IEC 60228.
"""

from __future__ import annotations

import subprocess
import sys
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.catalog.sizes import (
    Conductor,
    Material,
    Size,
    limit_size,
    metric_sizes,
    next_size_up,
    standard_sizes,
)
from bondwright.units import UnitError
from tests.catalog.reference import CMIL, rows
from tests.outside import outside, published

CU, AL = Material.CU, Material.AL


@pytest.mark.parametrize(("name", "cmil"), CMIL.items())
def test_table_8_area(name: str, cmil: float) -> None:
    size = Size.parse(name)
    assert (size.name, str(size), size.area_cmil, size.is_metric) == (name, name, cmil, False)


def test_standard_sizes_are_the_ladder_of_table_8() -> None:
    sizes = standard_sizes()
    assert {size.name for size in sizes} == set(CMIL)
    assert list(sizes) == sorted(sizes)
    assert (sizes[0].name, sizes[-1].name) == ("18 AWG", "2000 kcmil")


# Table 8 prints these areas in mm2 beside the circular mils.
@pytest.mark.parametrize("row", rows("chapter9_table8_dc.csv"), ids=lambda row: row["size"])
@outside("NEC chapter 9, table 8", "one-source", unit="mm2")
def test_table_8_area_in_mm2(row: dict[str, str]) -> None:
    cmil, printed = float(row["circular_mils"]), row["area_mm2"]
    size = next(size for size in standard_sizes() if size.area_cmil == cmil)
    assert size.area_mm2 == published(float(printed), rel=5e-3)
    assert size.area_m2 == pytest.approx(size.area_mm2 * 1e-6)


@pytest.mark.parametrize("row", rows("iec60228_resistance.csv"), ids=lambda row: row["mm2"])
def test_metric_size(row: dict[str, str]) -> None:
    size = Size.parse(f"{row['mm2']} mm2")
    assert size in metric_sizes()
    assert size.is_metric
    assert size.area_mm2 == pytest.approx(float(row["mm2"]))


@pytest.mark.parametrize("size", [*standard_sizes(), *metric_sizes()], ids=str)
def test_every_name_reads_back(size: Size) -> None:
    assert Size.parse(str(size)) == size
    assert Size.parse(str(size).lower().replace(" ", "")) == size


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("3/0", "3/0 AWG"),
        ("000", "3/0 AWG"),
        ("0000", "4/0 AWG"),
        ("0 AWG", "1/0 AWG"),
        ("#0", "1/0 AWG"),
        ("#4", "4 AWG"),
        ("No. 4 AWG", "4 AWG"),
        ("no 14", "14 AWG"),
        ("3 / 0 awg", "3/0 AWG"),
        ("500 MCM", "500 kcmil"),
        ("500kcmil", "500 kcmil"),
        ("1,000 kcmil", "1000 kcmil"),
        ("70mm²", "70 mm2"),
        ("2.5 mm2", "2.5 mm2"),
        ("70 sq mm", "70 mm2"),
    ],
)
def test_spellings(text: str, name: str) -> None:
    assert Size.parse(text).name == name


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("5/0 AWG", "no such size; nearest are 4/0 AWG and 250 kcmil"),
        ("99999/0", "no such size; nearest are 4/0 AWG and 250 kcmil"),
        ("4.5 AWG", "no such size; nearest are 6 AWG and 4 AWG"),
        ("5 AWG", "no such size; nearest are 6 AWG and 4 AWG"),
        ("20 AWG", "no such size; nearest is 18 AWG"),
        ("450 kcmil", "no such size; nearest are 400 kcmil and 500 kcmil"),
        ("1100 kcmil", "no such size; nearest are 1000 kcmil and 1250 kcmil"),
        ("3000 kcmil", "no such size; nearest is 2000 kcmil"),
        ("65 mm2", "no such size; nearest are 50 mm2 and 70 mm2"),
        ("211.6 kcmil", "is not how that size is named; write '4/0 AWG'"),
        ("3/O AWG", "has a letter where a digit belongs; did you mean '3/0 AWG'"),
        ("l/0", "has a letter where a digit belongs; did you mean '1/0 AWG'"),
        ("4", "has no unit; write '4 AWG' or '4 mm2'"),
        ("500", "has no unit; write '500 kcmil' or '500 mm2'"),
        ("0", "has no unit; write '1/0 AWG'"),
        ("12/2", "reads like a cable, not a conductor size; for one wire of it write '12 AWG'"),
        ("4 AGW", "is not a conductor size; did you mean '4 AWG'"),
        ("70 mm", "is not a conductor size; did you mean '70 mm2'"),
        ("4 AWG Cu", "names a metal where only a size belongs; write '4 AWG'"),
        ("", "is no conductor size"),
        ("banana", "is not a conductor size; write it like '3/0 AWG'"),
        ("9" * 200, "is too long for a conductor size"),
    ],
)
def test_no_such_size(text: str, message: str) -> None:
    with pytest.raises(UnitError) as caught:
        Size.parse(text)
    assert message in str(caught.value)


@given(st.text(max_size=90))
def test_any_text_is_a_known_size_or_a_unit_error(text: str) -> None:
    try:
        size = Size.parse(text)
    except UnitError:
        return
    assert size in {*standard_sizes(), *metric_sizes()}


def test_sizes_order_by_area_across_systems() -> None:
    mixed = ["250 kcmil", "25 mm2", "3 AWG", "4/0 AWG", "120 mm2", "4 AWG"]
    sizes = sorted(Size.parse(name) for name in mixed)
    ascending = ["4 AWG", "25 mm2", "3 AWG", "4/0 AWG", "120 mm2", "250 kcmil"]
    assert [size.name for size in sizes] == ascending
    assert sizes[0] < sizes[1] <= sizes[1] > sizes[0] >= sizes[0]


class TestNextSizeUp:
    @pytest.mark.parametrize("size", standard_sizes(), ids=str)
    def test_exactly_a_size_is_that_size(self, size: Size) -> None:
        assert next_size_up(size.area_cmil) == size
        assert next_size_up(size.area_cmil * (1 + 1e-12)) == size

    @pytest.mark.parametrize("pair", list(pairwise(standard_sizes())))
    def test_one_circular_mil_more_is_the_next(self, pair: tuple[Size, Size]) -> None:
        assert next_size_up(pair[0].area_cmil + 1) == pair[1]

    def test_razor_edge(self) -> None:
        # Lines grown from 2 AWG to 1/0 AWG, EGC 6 AWG: 41,756 cmil against 41,740 of 4 AWG.
        needed = 26_240 * 105_600 / 66_360
        assert needed == pytest.approx(41_756, abs=0.5)
        assert next_size_up(needed).name == "3 AWG"

    @outside("NEC table 250.102(C)(1), worked example", "confirmed")
    def test_twelve_and_a_half_percent_of_four_sets_of_500_kcmil(self) -> None:
        # Common trade example of table 250.102(C)(1): 4 x 500 kcmil Cu asks a 250 kcmil jumper.
        assert next_size_up(0.125 * 4 * 500_000).name == published("250 kcmil")

    def test_minimum(self) -> None:
        assert next_size_up(100.0).name == "18 AWG"
        assert next_size_up(100.0, Size.parse("8 AWG")).name == "8 AWG"
        assert next_size_up(100.0, Size.parse("10 mm2")).name == "6 AWG"
        assert next_size_up(30_000.0, Size.parse("8 AWG")).name == "4 AWG"

    @pytest.mark.parametrize("area", [0.0, -1.0, float("nan"), float("inf")])
    def test_not_an_area(self, area: float) -> None:
        with pytest.raises(UnitError, match="is not a conductor area"):
            next_size_up(area)

    def test_beyond_the_ladder(self) -> None:
        with pytest.raises(UnitError, match="more than the largest standard size, 2000 kcmil"):
            next_size_up(2_000_001.0)

    @given(st.floats(1.0, 2_000_000.0))
    def test_smallest_that_is_large_enough(self, area: float) -> None:
        size = next_size_up(area)
        assert size.area_cmil >= area * (1 - 1e-9)
        smaller = [one for one in standard_sizes() if one < size]
        assert all(one.area_cmil < area for one in smaller)


def test_limit_size_need_not_be_made() -> None:
    assert limit_size("1100 kcmil").area_cmil == 1_100_000
    assert limit_size("3/0 AWG") == Size.parse("3/0 AWG")
    with pytest.raises(UnitError):
        limit_size("1100 kcml")


class TestConductor:
    @pytest.mark.parametrize(
        ("text", "written"),
        [
            ("2 x 500 kcmil Cu", "2 x 500 kcmil Cu"),
            ("2x500 kcmil Cu", "2 x 500 kcmil Cu"),
            ("2×500 MCM copper", "2 x 500 kcmil Cu"),
            ("2 sets of 500 kcmil copper", "2 x 500 kcmil Cu"),
            ("3 parallel sets of 4/0 aluminum", "3 x 4/0 AWG Al"),
            ("(3) 4/0 ALUMINIUM", "3 x 4/0 AWG Al"),
            ("4 AWG Al", "4 AWG Al"),
            ("3/0Cu", "3/0 AWG Cu"),
            ("70mm²Cu", "70 mm2 Cu"),
            ("1 x #4 Cu", "4 AWG Cu"),
        ],
    )
    def test_spellings(self, text: str, written: str) -> None:
        conductor = Conductor.parse(text)
        assert str(conductor) == written
        assert Conductor.parse(written) == conductor

    def test_areas(self) -> None:
        conductor = Conductor.parse("2 x 500 kcmil Cu")
        assert (conductor.area_cmil, conductor.total_area_cmil) == (500_000, 1_000_000)

    def test_default_material_fills_in_and_does_not_overrule(self) -> None:
        assert Conductor.parse("4 AWG", AL) == Conductor(Size.parse("4 AWG"), AL)
        assert Conductor.parse("4 AWG Cu", AL).material is CU

    @pytest.mark.parametrize(
        ("text", "message"),
        [
            ("4 AWG", "does not say which metal; write '4 AWG Cu' or '4 AWG Al'"),
            ("4 AWG coper", "'coper' is not a conductor metal known here; did you mean 'Cu'?"),
            ("4 AWG steel", "'steel' is not a conductor metal known here; write 'Cu' or 'Al'"),
            ("0 x 4 AWG Cu", "0 parallel sets is not possible; give 1 to 99 sets"),
            ("100 x 4 AWG Cu", "100 parallel sets is not possible"),
            ("2 x 5/0 Cu", "no such size; nearest are 4/0 AWG and 250 kcmil"),
            ("2 x 4 Cu", "has no unit; write '4 AWG' or '4 mm2'"),
            ("500 kcml Cu", "did you mean '500 kcmil'"),
            ("4 AWG copper-clad aluminum", "copper-clad aluminium has no resistance data here"),
            ("Cu", "is not a conductor size"),
            ("x" * 100, "is too long for a conductor"),
        ],
    )
    def test_refused(self, text: str, message: str) -> None:
        with pytest.raises(UnitError) as caught:
            Conductor.parse(text)
        assert message in str(caught.value)
        assert caught.value.text[:50] == text[:50]

    def test_no_sets_when_built(self) -> None:
        with pytest.raises(UnitError, match="0 parallel sets"):
            Conductor(Size.parse("4 AWG"), CU, 0)

    @given(
        st.sampled_from([*standard_sizes(), *metric_sizes()]),
        st.sampled_from(Material),
        st.integers(1, 99),
    )
    def test_text_reads_back(self, size: Size, material: Material, sets: int) -> None:
        conductor = Conductor(size, material, sets)
        assert Conductor.parse(str(conductor)) == conductor


@pytest.mark.parametrize("text", ["Cu", "copper", "COPPER", " cu "])
def test_copper(text: str) -> None:
    assert Material.parse(text) is CU


@pytest.mark.parametrize("text", ["Al", "AL", "aluminum", "Aluminium"])
def test_aluminium(text: str) -> None:
    assert Material.parse(text) is AL


def test_import_is_light() -> None:
    modules = "sizes, conductors, raceways, tables, parameters, sources"
    code = (
        f"import sys; from bondwright.catalog import {modules};"
        "print(sorted({'numpy', 'scipy', 'yaml', 'rapidfuzz'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True, text=True, check=True, env={"PYTHONPATH": ":".join(sys.path)},
    )  # fmt: skip
    assert done.stdout.strip() == "[]"
