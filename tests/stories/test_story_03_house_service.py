"""A contractor sizes a 200 A house service of 2/0 copper.

Expected (NEC tables 250.66 and 250.102(C)(1), 250.66(A); the published rows stand in
tests/reference): 4 AWG to the water pipe, 6 AWG to the rods, main bonding jumper 4 AWG. The same
from single questions, from the site file and from the printed tables.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from tests.cli.running import run, said, structure

HOUSE = """
site: House service
rules: nec-2023
sources:
  utility: {system: 120/240 V, transformer: {rating: 25 kVA, impedance: 2 %}}
places:
  panel: {kind: service, building: house, main: 200 A breaker}
runs:
  service: {from: utility, to: panel, length: 60 ft, lines: 2/0 AWG Cu}
electrodes:
  water: {kind: water pipe, at: panel}
  rods: {kind: rod, at: panel, count: 2}
"""
EXPECTED = {
    "MBJ panel": ("4 AWG Cu", "250.28(D)"),
    "GEC water": ("4 AWG Cu", "250.66"),
    "GEC rods": ("6 AWG Cu", "250.66(A)"),
}


@pytest.fixture
def house(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE)
    return path


@pytest.mark.parametrize(
    ("words", "row"),
    [
        (("jumper",), "MBJ panel"),
        (("gec", "--electrode", "pipe"), "GEC water"),
        (("gec", "--electrode", "rod"), "GEC rods"),
    ],
)
def test_single_questions(words: tuple[str, ...], row: str) -> None:
    size, clause = EXPECTED[row]
    found = structure("quick", *words, "--supply", "2/0 AWG Cu")["answer"]
    assert found["size"] == size
    assert found["clause"] == f"NEC 2023 {clause}"
    assert found["inputs"]["supply conductors"] == "2/0 AWG Cu"


def test_the_site_file_says_the_same(house: Path) -> None:
    rows = {row["id"]: row for row in structure("size", str(house))["schedule"]}
    for row, (size, clause) in EXPECTED.items():
        assert rows[row]["required"] == rows[row]["chosen"] == size
        assert rows[row]["clause"] == f"NEC 2023 {clause}"
        assert rows[row]["inputs"]["supply conductors"] == "2/0 AWG Cu"
        assert rows[row]["inputs"]["supply area"] == "133,100 cmil"


def test_the_reasons_stand_on_one_page_with_the_sizes(house: Path) -> None:
    told = said("size", str(house), "--why")
    for size, clause in EXPECTED.values():
        assert size in told
        assert clause in told
    assert len(run("size", str(house), "--why").stdout.splitlines()) < 60


def test_the_printed_tables_say_the_same(house: Path, tmp_path: Path) -> None:
    assert run("papers", str(house), "--out", str(tmp_path / "out")).exit_code in (0, 1)
    (table,) = (tmp_path / "out").glob("*schedule*.csv")
    with table.open(encoding="utf-8-sig", newline="") as file:
        text = [row for row in csv.reader(file) if row]
    for size, clause in EXPECTED.values():
        assert any(size in row and any(clause in cell for cell in row) for row in text)
