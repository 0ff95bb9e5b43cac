"""Resistance, diameter and geometric mean radius of conductors, from the published tables.

Sources: NEC chapter 9 tables 5, 8 and 9; IEC 60228. Nothing here knows about frequency, runs or
raceway currents; that is the network's business.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from bondwright.catalog._data import read_table
from bondwright.catalog.sizes import Material, Size
from bondwright.catalog.sources import Source, Status
from bondwright.units import FOOT, INCH, UnitError

RacewayColumn = Literal["pvc", "aluminum", "steel"]
Insulation = Literal["thhn", "xhhw"]

_KFT: Final = 1000 * FOOT
_SOLID_GMR: Final = math.exp(-0.25)
"""GMR of a solid round wire over its radius: e^(-1/4) = 0.7788."""
_TABLE_9_OMEGA: Final = 2 * math.pi * 60


@dataclass(frozen=True, slots=True)
class ConductorProperties:
    """One bare conductor.

    Attributes:
        size: which.
        material: of what metal.
        diameter_m: overall diameter without insulation, m.
        strands: number of equal wires; 1 is solid.
        gmr_m: geometric mean radius, m.
        r_dc_75: direct-current resistance at 75 degC, ohm/m.
        source: of the resistance.
    """

    size: Size
    material: Material
    diameter_m: float
    strands: int
    gmr_m: float
    r_dc_75: float
    source: Source


@cache
def properties(size: Size, material: Material, *, solid: bool = False) -> ConductorProperties:
    """Return what the tables say of a bare conductor.

    Copper is uncoated. Where table 8 has a size both solid and stranded, the stranded one is
    given, as table 9 has it; its resistance is the higher, which is the careful side for a fault
    path. Metric sizes are class 2 (stranded) of IEC 60228, brought from 20 to 75 degC.

    Args:
        size: conductor size.
        material: conductor metal.
        solid: ask for the solid conductor of table 8 (18 AWG to 8 AWG).

    Raises:
        UnitError: the table has no such conductor in that metal.
    """
    row = _row(size, solid)
    strands = int(row["strands"])
    wire = math.sqrt(4 * size.area_m2 / (math.pi * strands))
    diameter = wire * _wires_across(strands)
    if size.is_metric:
        r_dc = resistance_dc(size, material)
        status = Status(row["status"])
        # The temperature coefficient that brings it to 75 degC is known from memory only.
        source = read_table("iec60228.csv").source(Status.least_sure(status, Status.MEMORY))
    else:
        r_dc = float(row[f"{material.value.lower()}_ohm_kft"]) / _KFT
        source = read_table("chapter9_table8.csv").source(row["status"])
    return ConductorProperties(
        size, material, diameter, strands, gmr_factor(strands) * diameter / 2, r_dc, source
    )


def resistance_dc(conductor_size: Size, material: Material, temperature_c: float = 75.0) -> float:
    """Return the dc resistance of a stranded, uncoated conductor, ohm/m.

    AWG and kcmil: NEC chapter 9 table 8, R = R75 (1 + alpha (T - 75)), alpha 0.00323 /K for
    copper and 0.00330 /K for aluminium. mm2: IEC 60228 class 2, R = R20 (1 + alpha (T - 20)),
    alpha 0.00393 /K and 0.00403 /K.

    Args:
        conductor_size: size of one conductor.
        material: its metal.
        temperature_c: conductor temperature, degC.

    Raises:
        UnitError: the table has no such conductor, or the temperature is not one at which the
            formula gives a resistance.
    """
    reference, alpha = _coefficients()["iec" if conductor_size.is_metric else "nec", material]
    factor = 1 + alpha * (temperature_c - reference)
    if not (math.isfinite(factor) and factor > 0):
        problem = "is not a temperature a conductor can have here"
        raise UnitError(f"{temperature_c} degC", problem, "give one like '75 degC'")
    row = _row(conductor_size, solid=False)
    if not conductor_size.is_metric:
        return float(row[f"{material.value.lower()}_ohm_kft"]) / _KFT * factor
    cell = row[f"{material.value.lower()}_class2_ohm_km"]
    if not cell:
        problem = f"is not in IEC 60228 as a stranded {material.value} conductor"
        raise UnitError(str(conductor_size), problem, _metric_hint(material))
    return float(cell) / 1000 * factor


@cache
def gmr_factor(strands: int) -> float:
    """Return the geometric mean radius of a concentric strand over its outer radius.

    All wires are equal and carry equal current; layer k has 6k of them, evenly round a circle of
    k wire diameters (concentric lay, the stranding of table 8):
    GMR = (product of all N^2 distances)^(1/N^2), a wire's distance from itself being
    0.7788 of its radius. How the layers are turned to each other changes it by less than 1e-5.
    Gives the factors of IEC 60287-1-3 table 1: 7 wires 0.726, 19 wires 0.758, 37 wires 0.768,
    61 wires 0.772, 91 wires 0.774, 127 wires 0.776.

    Args:
        strands: 1, 7, 19, 37, 61, 91 or 127.

    Raises:
        UnitError: not a number of wires that fills whole layers.
    """
    layers = (_wires_across(strands) - 1) // 2
    # Lengths in wire diameters; the outer radius is then layers + 1/2.
    centres = [(0.0, 0.0)]
    for layer in range(1, layers + 1):
        turns = [math.tau * i / (6 * layer) for i in range(6 * layer)]
        centres += [(layer * math.cos(turn), layer * math.sin(turn)) for turn in turns]
    total = strands * math.log(_SOLID_GMR / 2)
    for i, one in enumerate(centres):
        total += 2 * math.fsum(math.log(math.dist(one, other)) for other in centres[:i])
    return math.exp(total / strands**2) / (layers + 0.5)


@cache
def insulated_diameter(size: Size, insulation: Insulation = "thhn") -> float:
    """Return the approximate outside diameter with insulation, m (NEC chapter 9 table 5).

    Sizes between two of the table are interpolated over the bare diameter (square root of the
    area). Beyond its ends the insulation is taken as thick as at that end.

    Args:
        size: any size, mm2 sizes included.
        insulation: "thhn" (also THWN-2) or "xhhw" (also XHHW-2).
    """
    table = {
        Size.parse(row["size"]): float(row[f"{insulation}_in"]) * INCH
        for row in read_table("insulated_diameters.csv").rows
        if row[f"{insulation}_in"]
    }
    if not min(table) <= size <= max(table):
        end = min(table) if size < min(table) else max(table)
        return table[end] + _bare_diameter(size) - _bare_diameter(end)
    widths = [math.sqrt(known.area_m2) for known in table]
    return _interpolate(widths, list(table.values()), math.sqrt(size.area_m2))


@cache
def table9(size: Size, material: Material, raceway: RacewayColumn) -> tuple[float, float]:
    """Return resistance and reactance of NEC chapter 9 table 9, both ohm/m to neutral.

    Three single conductors in one raceway, 60 Hz, 75 degC.

    Args:
        size: 14 AWG to 1000 kcmil (aluminium from 12 AWG), as the table lists.
        material: conductor metal.
        raceway: the table's column.

    Raises:
        UnitError: the table has no such cell.
    """
    row = _table_9().get(size.name)
    metal = {"pvc": "pvc", "aluminum": "al", "steel": "steel"}[raceway]
    r_text = row[f"r{material.value.lower()}_{metal}"] if row else ""
    if row is None or not r_text:
        listed = [name for name, cells in _table_9().items() if cells["ral_pvc"] or _cu(material)]
        nearest = _nearest_name(size, listed)
        problem = f"is not in table 9 for {material.value}"
        raise UnitError(str(size), problem, f"the nearest size there is {nearest}")
    x_text = row["xl_steel"] if raceway == "steel" else row["xl_pvc_al"]
    return float(r_text) / _KFT, float(x_text) / _KFT


@cache
def pulled_spacing(size: Size) -> float:
    """Return how far apart conductors lie, centre to centre, when pulled together, m.

    Conductors in a raceway lie as they fall. Table 9 tells how on average: its PVC reactance is
    that of conductors at an equivalent spacing D, X = 2 pi 60 x 2e-7 ln(D / GMR), so
    D = GMR exp(X / (2 pi 60 x 2e-7)). Sizes that table 9 lacks take a reactance interpolated
    over the logarithm of the area; beyond its ends, that of the end.

    Args:
        size: any size, mm2 sizes included.
    """
    known = [Size.parse(name) for name in _table_9()]
    reactances = [float(row["xl_pvc_al"]) / _KFT for row in _table_9().values()]
    logs = [math.log(one.area_m2) for one in known]
    at = min(max(math.log(size.area_m2), logs[0]), logs[-1])
    reactance = _interpolate(logs, reactances, at)
    strands = int(_row(size, solid=False)["strands"])
    gmr = gmr_factor(strands) * _bare_diameter(size) / 2
    return gmr * math.exp(reactance / (_TABLE_9_OMEGA * 2e-7))


def _cu(material: Material) -> bool:
    return material is Material.CU


def _nearest_name(size: Size, names: Sequence[str]) -> str:
    def apart(name: str) -> float:
        return abs(math.log(Size.parse(name).area_cmil / size.area_cmil))

    return min(names, key=apart)


def _bare_diameter(size: Size) -> float:
    strands = int(_row(size, solid=False)["strands"])
    return math.sqrt(4 * size.area_m2 / (math.pi * strands)) * _wires_across(strands)


def _wires_across(strands: int) -> int:
    for layers in range(7):
        if 1 + 3 * layers * (layers + 1) == strands:
            return 2 * layers + 1
    raise UnitError(str(strands), "wires do not fill whole layers", "use 1, 7, 19, 37, 61, 91, 127")


def _interpolate(xs: Sequence[float], ys: Sequence[float], x: float) -> float:
    right = min(max(bisect_left(xs, x), 1), len(xs) - 1)
    part = (x - xs[right - 1]) / (xs[right] - xs[right - 1])
    return ys[right - 1] + part * (ys[right] - ys[right - 1])


@cache
def _rows() -> Mapping[tuple[str, bool], Mapping[str, str]]:
    """Table 8 and IEC 60228 by size name and whether solid."""
    table_8 = {
        (row["size"], row["form"] == "solid"): row for row in read_table("chapter9_table8.csv").rows
    }
    return table_8 | {(row["size"], False): row for row in read_table("iec60228.csv").rows}


def _row(size: Size, solid: bool) -> Mapping[str, str]:
    if (row := _rows().get((size.name, solid))) is not None:
        return row
    if solid and (size.name, False) in _rows():
        hint = "solid are 18 AWG to 8 AWG; leave out solid for the stranded one"
        raise UnitError(str(size), "is not in chapter 9 table 8 as a solid conductor", hint)
    raise UnitError(str(size), "is in no conductor table", "use a size that is made")


def _metric_hint(material: Material) -> str:
    cell = f"{material.value.lower()}_class2_ohm_km"
    listed = [row["size"] for row in read_table("iec60228.csv").rows if row[cell]]
    return f"listed are {listed[0]} to {listed[-1]}"


@cache
def _table_9() -> Mapping[str, Mapping[str, str]]:
    return {row["size"]: row for row in read_table("chapter9_table9.csv").rows}


@cache
def _coefficients() -> Mapping[tuple[str, Material], tuple[float, float]]:
    """Reference temperature, degC, and alpha, 1/K, by table set and metal."""
    return {
        (row["set"], Material(row["material"])): (
            float(row["reference_c"]),
            float(row["alpha_per_k"]),
        )
        for row in read_table("temperature_coefficients.csv").rows
    }
