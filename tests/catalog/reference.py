"""The published tables as first transcribed, apart from the package's own data files."""

from __future__ import annotations

import csv
import math
from pathlib import Path

FOLDER = Path(__file__).parents[1] / "reference"


def rows(name: str) -> list[dict[str, str]]:
    """Return the rows of a reference table."""
    with (FOLDER / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def size_name(cell: str) -> str:
    """Turn the transcription's "250k", "1/0", "8-solid" into "250 kcmil", "1/0 AWG", "8 AWG"."""
    cell = cell.removesuffix("-solid")
    return f"{cell[:-1]} kcmil" if cell.endswith("k") else f"{cell} AWG"


CMIL = {
    size_name(row["size"]): float(row["circular_mils"]) for row in rows("chapter9_table8_dc.csv")
}


def limit_cmil(cell: str) -> float:
    """Area of a row's upper limit, circular mils, from table 8's own figures."""
    if cell == "inf":
        return math.inf
    return 1000 * float(cell[:-1]) if cell.endswith("k") else CMIL[size_name(cell)]


def worst(cell: str, *metals: str) -> str:
    """Status of a cell: "confirmed Cu; one-source Al" read for the metals used."""
    if "; " not in cell:
        return cell
    by_metal = {part.split()[1]: part.split()[0] for part in cell.split("; ")}
    return max((by_metal[metal] for metal in metals), key=["confirmed", "one-source"].index)
