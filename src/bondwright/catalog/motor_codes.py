"""What a motor draws with its rotor locked, by the letter on its plate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from bondwright.catalog._data import read_table
from bondwright.catalog.sources import Source

HORSEPOWER = 745.7
"""Watts in a horsepower."""


@dataclass(frozen=True, slots=True)
class MotorCode:
    """One code letter.

    Attributes:
        code: the letter.
        least: apparent power with the rotor locked over power at the shaft, VA/W.
        most: its upper limit, VA/W; None where the letter has none.
        source: where it comes from.
    """

    code: str
    least: float
    most: float | None
    source: Source


@cache
def motor_codes() -> Mapping[str, MotorCode]:
    """Return the code letters."""
    table = read_table("motor_codes.csv")
    per_watt = 1000 / HORSEPOWER
    return MappingProxyType(
        {
            row["code"]: MotorCode(
                row["code"],
                float(row["from_kva_per_hp"]) * per_watt,
                float(row["to_kva_per_hp"]) * per_watt if row["to_kva_per_hp"] else None,
                table.source(row["status"]),
            )
            for row in table.rows
        }
    )
