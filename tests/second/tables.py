"""Handbook numbers: resistance, reactance, heat, and least sizes, from ``tests/reference``."""

from __future__ import annotations

import csv
import math
from functools import cache
from pathlib import Path
from typing import Final

REFERENCE: Final = Path(__file__).parent.parent / "reference"
FOOT: Final = 0.3048
MM2_PER_CMIL: Final = 5.067e-4

# Zero of resistance, degC, and conductivity constant of ICEA P-32-382 (A2 s per cmil2).
HEAT: Final = {"Cu": (234.0, 0.0297), "Al": (228.0, 0.0125)}
REACTANCE: Final = {True: 0.051, False: 0.044}
"""Ohm per 1000 ft of a conductor in steel and elsewhere: the middle of NEC chapter 9 table 9."""
TOUCHING: Final = 0.027
"""The same of large single conductors that touch, as cable makers print it (0.08 to 0.1 ohm/km)."""


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of a reference table."""
    text = (REFERENCE / name).read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if line and not line.startswith("#"))
    return tuple(csv.DictReader(lines))


@cache
def area(size: str) -> float:
    """Return the area of "4 AWG", "2/0 AWG", "500 kcmil" or "16 mm2", mm2."""
    number, unit = size.split()
    if unit == "mm2":
        return float(number)
    if unit == "kcmil":
        return float(number) * 1000 * MM2_PER_CMIL
    gauge = 1 - int(number[0]) if "/" in number else int(number)
    return float(math.pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2)


@cache
def resistance(size: str, metal: str, temperature: float) -> float:
    """Return the dc resistance of a conductor, ohm/m."""
    number, unit = size.split()
    zero = HEAT[metal][0]
    if unit == "mm2":
        for row in rows("iec60228_resistance.csv"):
            value = row["cu_plain_cl2" if metal == "Cu" else "al_cl2"]
            if value and float(row["mm2"]) == float(number):
                return float(value) / 1000 * (zero + temperature) / (zero + 20)
    else:
        name = f"{number}k" if unit == "kcmil" else number
        for row in rows("chapter9_table8_dc.csv"):
            if row["size"] == name:
                kft = float(row["cu_uncoated_ohm_kft" if metal == "Cu" else "al_ohm_kft"])
                return kft / (1000 * FOOT) * (zero + temperature) / (zero + 75)
    rho = {"Cu": 1.7241e-8, "Al": 2.8264e-8}[metal]
    return rho / (area(size) * 1e-6) * (zero + temperature) / (zero + 20)


def withstands(size: str, metal: str, before: float, after: float) -> float:
    """Return the energy that a conductor bears without giving off heat, A2 s."""
    zero, constant = HEAT[metal]
    cmil = area(size) / MM2_PER_CMIL
    return float(cmil**2 * constant * math.log10((after + zero) / (before + zero)))


# --- least sizes: NEC tables 250.66, 250.102(C)(1), 250.122 ------------------------------------


def label(name: str) -> str:
    """Return a size as the tables print it ("2/0", "250k") in words that :func:`area` reads."""
    return f"{name[:-1]} kcmil" if name.endswith("k") else f"{name} AWG"


def equipment_ground(rating: float, metal: str) -> float | None:
    """Return the least equipment grounding conductor behind a device, mm2; None past the table."""
    for row in rows("nec_table_250_122_egc.csv"):
        if rating <= float(row["ocpd_a_max"]):
            return area(label(row["cu" if metal == "Cu" else "al_or_ccal"]))
    return None


def by_supply(name: str, supply: float, of: str, metal: str, column: str) -> float:
    """Return the least jumper or electrode conductor for supply conductors of so many mm2."""
    side = "cu" if of == "Cu" else "al"
    for row in rows(name):
        most = row[f"supply_{side}_max"]
        if most == "inf" or supply <= area(label(most)) * 1.001:
            size = row[f"{column}_{'cu' if metal == 'Cu' else 'al'}"]
            return supply * 0.125 if "%" in size else area(label(size))
    raise ValueError(name)


def jumper(supply: float, of: str, metal: str) -> float:
    """Return the least main, system or supply-side bonding jumper by table 250.102(C)(1), mm2."""
    return by_supply("nec_table_250_102_c_1.csv", supply, of, metal, "jumper")


def electrode_conductor(supply: float, of: str, metal: str) -> float:
    """Return the least grounding electrode conductor by table 250.66, mm2."""
    return by_supply("nec_table_250_66_gec.csv", supply, of, metal, "gec")


def protective_conductor(line: float) -> float:
    """Return the least protective conductor by IEC 60364-5-54 table 54.2, mm2 (confirmed)."""
    if line <= 16:
        return line
    return 16 if line <= 35 else line / 2
