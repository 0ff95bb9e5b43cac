"""Look-ups in the rule tables of NEC article 250. No decisions: caps and exceptions are rules.

Tables 250.66 and 250.102(C)(1) are entered with the area of the largest ungrounded supply
conductor, or of all conductors of one phase together where they are in parallel; table 250.122
with the rating of the overcurrent device. They answer different questions, and each function
takes only the quantity that its table is entered with.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final

from bondwright.catalog._data import Table, read_table
from bondwright.catalog.sizes import Material, Size, limit_size
from bondwright.catalog.sources import Source, Status
from bondwright.units import UnitError

_EQUAL: Final = 1e-9


@dataclass(frozen=True, slots=True)
class TableRow:
    """The row of a rule table that fits, and what it gives.

    Attributes:
        table: number of the table, such as "250.66".
        row_label: the row's entry, for people: "over 350 kcmil to 600 kcmil", "60 A".
        value: the size given, or None if the row gives a percent.
        percent: the part of the supply area given, as a fraction (0.125), or None.
        status: how surely row and value are known.
        source: publication, edition and notes.
    """

    table: str
    row_label: str
    value: Size | None
    percent: float | None
    status: Status
    source: Source


def electrode_conductor_row(
    area_cmil: float, supply: Material, electrode_conductor: Material
) -> TableRow:
    """Return the row of table 250.66 (grounding electrode conductor).

    Args:
        area_cmil: area of the largest ungrounded supply conductor, or the sum of the parallel
            set of one phase, circular mils.
        supply: metal of the supply conductors.
        electrode_conductor: metal of the electrode conductor.

    Raises:
        UnitError: the area is not a positive number.
    """
    return _supply_row("250.66", "table_250_66.csv", area_cmil, supply, electrode_conductor)


def jumper_row(area_cmil: float, supply: Material, jumper: Material) -> TableRow:
    """Return the row of table 250.102(C)(1) (main, system and supply-side bonding jumpers).

    The last row has no size: ``value`` is None and ``percent`` 0.125. With supply and jumper of
    different metals that percent applies to a supply set of the jumper's own metal with the same
    ampacity (notes to the table); the caller has to see to it.

    Args:
        area_cmil: area of the largest ungrounded supply conductor, or the sum of the parallel
            set of one phase, circular mils.
        supply: metal of the supply conductors.
        jumper: metal of the jumper.

    Raises:
        UnitError: the area is not a positive number.
    """
    return _supply_row("250.102(C)(1)", "table_250_102_c_1.csv", area_cmil, supply, jumper)


def egc_row(rating_a: float, material: Material) -> TableRow:
    """Return the row of table 250.122 (wire-type equipment grounding conductor).

    Args:
        rating_a: rating or setting of the overcurrent device ahead, A.
        material: metal of the equipment grounding conductor.

    Raises:
        UnitError: not a positive number, or above 6000 A, where the table ends.
    """
    if not math.isfinite(rating_a) or rating_a <= 0:
        raise UnitError(f"{rating_a} A", "is not a device rating", "give one like '60 A'")
    table = read_table("table_250_122.csv")
    for row in table.rows:
        if rating_a <= float(row["ocpd_a_max"]) * (1 + _EQUAL):
            key = material.value.lower()
            status = Status(row[f"status_{key}"])
            return TableRow(
                "250.122",
                f"{row['ocpd_a_max']} A",
                Size.parse(row[key]),
                None,
                status,
                table.source(status, row["note"]),
            )
    last = table.rows[-1]["ocpd_a_max"]
    hint = f"the table ends at {last} A; above it the fault path has to be engineered"
    raise UnitError(f"{rating_a:g} A", "is beyond table 250.122", hint)


def _supply_row(
    name: str, file: str, area_cmil: float, supply: Material, conductor: Material
) -> TableRow:
    if not math.isfinite(area_cmil) or area_cmil <= 0:
        raise UnitError(f"{area_cmil} cmil", "is not a conductor area", "give a positive area")
    table = read_table(file)
    limits = _limits(file, supply)
    index = next(i for i, limit in enumerate(limits) if area_cmil <= limit * (1 + _EQUAL))
    return _answer(name, table, table.rows[index], supply, conductor)


def _answer(
    name: str, table: Table, row: Mapping[str, str], supply: Material, conductor: Material
) -> TableRow:
    supply_key, key = supply.value.lower(), conductor.value.lower()
    status = Status.least_sure(Status(row[f"status_{supply_key}"]), Status(row[f"status_{key}"]))
    return TableRow(
        name,
        row[f"supply_{supply_key}_label"],
        Size.parse(row[key]) if row[key] else None,
        float(row["percent"]) / 100 if row["percent"] else None,
        status,
        table.source(status, row["note"]),
    )


@cache
def _limits(file: str, supply: Material) -> tuple[float, ...]:
    """Upper end of each row, circular mils; the last is infinite."""
    texts = [row[f"supply_{supply.value.lower()}_max"] for row in read_table(file).rows]
    return tuple(limit_size(text).area_cmil if text else math.inf for text in texts)


def supply_rows(
    table: str, supply: Material, conductor: Material
) -> tuple[tuple[float, TableRow], ...]:
    """Return every row of a table that is entered with the supply, each with its upper end.

    Args:
        table: "250.66" or "250.102(C)(1)".
        supply: metal of the supply conductors.
        conductor: metal of what is sized.

    Returns:
        (upper end [circular mils], row) in the table's order; the last end is infinite.
    """
    file = {"250.66": "table_250_66.csv", "250.102(C)(1)": "table_250_102_c_1.csv"}[table]
    whole, limits = read_table(file), _limits(file, supply)
    rows = [_answer(table, whole, row, supply, conductor) for row in whole.rows]
    return tuple(zip(limits, rows, strict=True))


def egc_rows(material: Material) -> tuple[tuple[float, TableRow], ...]:
    """Return every row of table 250.122, each with the rating it goes up to [A].

    Args:
        material: metal of the equipment grounding conductor.
    """
    ratings = [float(row["ocpd_a_max"]) for row in read_table("table_250_122.csv").rows]
    return tuple((rating, egc_row(rating, material)) for rating in ratings)
