"""Tables of IEC 60364-4-41 and 60364-5-54 and of the national rules that follow them.

Look-ups only: which table a rule enters, and when an exception holds, is decided in the rules
layer. Areas are in mm2 here, as in the tables; resistances in ohm, times in s.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Final

from bondwright.catalog._data import Table, load_yaml, read_table, read_text
from bondwright.catalog.device_data import source_of
from bondwright.catalog.sizes import Size, metric_sizes
from bondwright.catalog.sources import CatalogError, Source, Status

_EQUAL: Final = 1e-9
LARGE_MM2: Final = 300.0
"""Above this area the lower factor k of PVC holds."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One number out of a table.

    Attributes:
        value: the number, in the unit that the function names.
        row: the row's entry, for people.
        source: publication, edition and how surely it is known.
    """

    value: float
    row: str
    source: Source

    @property
    def status(self) -> Status:
        """How surely it is known."""
        return self.source.status


@dataclass(frozen=True, slots=True)
class KFactor:
    """Factor k of a conductor.

    Attributes:
        table: number of the table, such as "54.3".
        k: A s^0.5/mm2.
        initial_c: temperature before the fault, degC.
        final_c: temperature that must not be exceeded, degC.
        source: publication, edition and how surely it is known.
    """

    table: str
    k: float
    initial_c: float
    final_c: float
    source: Source


@dataclass(frozen=True, slots=True)
class ElectrodeMinimum:
    """Least size of an earth electrode; None where nothing is asked.

    Attributes:
        metal: "steel", "galvanized steel", "copper-clad steel" or "copper".
        shape: "rod", "strip", "round wire", "rope" or "pipe".
        where: "soil" or "concrete".
        diameter_mm: least diameter, mm.
        area_mm2: least cross-section, mm2.
        thickness_mm: least thickness, mm.
        source: publication, edition and how surely it is known.
    """

    metal: str
    shape: str
    where: str
    diameter_mm: float | None
    area_mm2: float | None
    thickness_mm: float | None
    source: Source


def _positive(value: float, what: str) -> None:
    if not math.isfinite(value) or value <= 0:
        raise CatalogError(f"{value:g}", f"is no {what}", "give a positive number")


def _number(cell: str) -> float | None:
    return float(cell) if cell else None


# --- times --------------------------------------------------------------------------------


def disconnection_time(u0_v: float, earthing: str, current: str = "ac") -> Entry | None:
    """Return the longest disconnection time [s] of table 41.1.

    Args:
        u0_v: nominal voltage of a line to earth, V.
        earthing: "TN" or "TT".
        current: "ac" or "dc".

    Returns:
        The time, or None where the table asks for none (up to 50 V, and up to 120 V direct).

    Raises:
        CatalogError: not a voltage, or no such row.
    """
    _positive(u0_v, "voltage")
    table = read_table("iec_disconnection_times.csv")
    rows = [row for row in table.rows if (row["system"], row["current"]) == (earthing, current)]
    if not rows:
        raise CatalogError(f"{earthing} {current}", "is no row of table 41.1", "TN or TT, ac or dc")
    for row in rows:
        least, most = float(row["u0_over_v"]), _number(row["u0_max_v"]) or math.inf
        if least < u0_v <= most and row["time_s"]:
            up_to = f" up to {most:g} V" if math.isfinite(most) else ""
            label = f"{earthing} {current}, above {least:g} V{up_to}"
            return Entry(float(row["time_s"]), label, table.source(row["status"]))
    return None


# --- protective conductors ----------------------------------------------------------------


def protective_area(line_mm2: float) -> Entry:
    """Return the protective conductor [mm2] of table 54.2 (BS 7671: 54.7), not yet a made size.

    Args:
        line_mm2: line conductor of the same metal, mm2.

    Raises:
        CatalogError: not an area.
    """
    _positive(line_mm2, "conductor area")
    table = read_table("iec_protective_conductor.csv")
    for row in table.rows:
        most = _number(row["line_max_mm2"]) or math.inf
        if line_mm2 <= most * (1 + _EQUAL):
            fixed = _number(row["fixed_mm2"])
            value = fixed if fixed is not None else float(row["part"]) * line_mm2
            least = row["line_over_mm2"]
            up_to = f" up to {most:g} mm2" if math.isfinite(most) else ""
            label = f"line conductor above {least} mm2{up_to}" if least != "0" else f"line{up_to}"
            return Entry(value, label, table.source(row["status"]))
    raise CatalogError(f"{line_mm2:g} mm2", "is beyond the table")  # its last row has no end


def as_nzs_earth(active_mm2: float, metal: str) -> Entry | None:
    """Return the copper earthing conductor [mm2] of AS/NZS 3000 table 5.1.

    Args:
        active_mm2: largest active conductor, mm2.
        metal: its metal, "Cu" or "Al".

    Returns:
        The size, above the last row a quarter of the active conductor; None where the table
        leaves it open.

    Raises:
        CatalogError: not an area, or no such metal.
    """
    _positive(active_mm2, "conductor area")
    if metal not in ("Cu", "Al"):
        raise CatalogError(metal, "has no column in AS/NZS 3000 table 5.1", "give 'Cu' or 'Al'")
    table = read_table("iec_as_nzs_3000_5_1.csv")
    for row in table.rows:
        if active_mm2 <= float(row["active_mm2"]) * (1 + _EQUAL):
            value = _number(row[f"earth_with_{metal.lower()}_active_mm2"])
            if value is None:
                return None
            label = f"active conductor up to {row['active_mm2']} mm2 {metal}"
            return Entry(value, label, table.source(row["status"], row["remark"]))
    part = iec_number("as_beyond_table", "part")
    label = f"active conductor above {table.rows[-1]['active_mm2']} mm2: {100 * part.value:g} %"
    return Entry(active_mm2 * part.value, label, part.source)


def csa_bonding(rating_a: float, metal: str) -> tuple[Size, Source]:
    """Return the bonding conductor of CSA C22.1 table 16, which is held from memory only.

    No rule here enters it by itself; who asks for it by this name gets its doubt with it.

    Args:
        rating_a: rating of the overcurrent device, A.
        metal: "Cu" or "Al".

    Raises:
        CatalogError: not a rating, above the table, or no such metal.
    """
    _positive(rating_a, "device rating")
    if metal not in ("Cu", "Al"):
        raise CatalogError(metal, "has no column in CSA C22.1 table 16", "give 'Cu' or 'Al'")
    table = read_table("iec_csa_table_16.csv")
    for row in table.rows:
        if rating_a <= float(row["ocpd_a_max"]) * (1 + _EQUAL):
            return Size.parse(row[metal.lower()]), table.source(row["status"])
    raise CatalogError(f"{rating_a:g} A", "is beyond CSA C22.1 table 16", "it ends at 6000 A")


def pme_bonding(neutral_mm2: float) -> Entry:
    """Return the main protective bonding conductor [mm2 of copper] of BS 7671 table 54.8.

    Args:
        neutral_mm2: copper equivalent of the supply neutral, mm2.

    Raises:
        CatalogError: not an area.
    """
    _positive(neutral_mm2, "conductor area")
    table = read_table("iec_pme_bonding.csv")
    for row in table.rows:
        most = _number(row["neutral_max_mm2"]) or math.inf
        if neutral_mm2 <= most * (1 + _EQUAL):
            label = f"supply neutral up to {most:g} mm2" if most < math.inf else "larger neutral"
            return Entry(float(row["bonding_mm2"]), label, table.source(row["status"]))
    raise CatalogError(f"{neutral_mm2:g} mm2", "is beyond the table")  # its last row has no end


def k_factor(laid: str, metal: str, insulation: str, area_mm2: float = 0.0) -> KFactor:
    """Return factor k as printed.

    Args:
        laid: how the conductor lies, a word of the data file ("line", "separate", "in cable",
            "sheath", "steel conduit", "bare visible", "bare", "bare fire risk").
        metal: "Cu", "Al", "steel" or "lead".
        insulation: "PVC 70", "PVC 90", "XLPE 90", or "none" for a bare conductor.
        area_mm2: of the conductor, mm2; above 300 mm2 PVC has a lower factor.

    Raises:
        CatalogError: no such row; the hint names those for that way of laying.
    """
    table = read_table("iec_k_factors.csv")
    known = [row for row in table.rows if row["laid"] == laid]
    for row in known:
        if (row["metal"], row["insulation"]) == (metal, insulation):
            cell = row["k_over_300"] if area_mm2 > LARGE_MM2 and row["k_over_300"] else row["k"]
            final = float(row["final_c"])
            if cell != row["k"]:
                final = 140.0
            source = table.source(row["status"])
            return KFactor(row["table"], float(cell), float(row["initial_c"]), final, source)
    names = ", ".join(f"{row['metal']} {row['insulation']}" for row in known)
    text = f"{laid}, {metal}, {insulation}"
    raise CatalogError(text, "has no factor k here", f"given are {names}" if names else None)


def next_metric_size(area_mm2: float, least_mm2: float = 0.0) -> Size:
    """Return the smallest size of IEC 60228 of at least an area.

    Args:
        area_mm2: least area, mm2.
        least_mm2: a further lower limit, mm2.

    Raises:
        CatalogError: not an area, or above 1200 mm2.
    """
    _positive(area_mm2, "conductor area")
    need = max(area_mm2, least_mm2)
    for size in metric_sizes():
        if size.area_mm2 >= need * (1 - _EQUAL):
            return size
    raise CatalogError(
        f"{need:.6g} mm2",
        f"is more than the largest size made, {metric_sizes()[-1]}",
        "use conductors in parallel",
    )


# --- loops --------------------------------------------------------------------------------


def breaker_loop(curve: str, rating_a: float, time_s: float) -> Entry | None:
    """Return the printed loop limit [ohm] of a miniature breaker (BS 7671 table 41.3).

    Args:
        curve: "B", "C" or "D".
        rating_a: rated current, A.
        time_s: 0.4 or 5.

    Returns:
        The limit at 230 V and Cmin 0.95, or None where the table has none.
    """
    table = read_table("iec_loop_breakers.csv")
    column = {"B": "b_ohm", "C": "c_ohm", "D": "d_5s_ohm" if time_s == 5 else "d_0_4s_ohm"}
    return _loop(table, table.rows, rating_a, time_s, column.get(curve, ""), "status")


def fuse_loop(fuse_class: str, rating_a: float, time_s: float) -> Entry | None:
    """Return the printed loop limit [ohm] of a fuse (BS 7671 tables 41.2 and 41.4).

    Args:
        fuse_class: "BS 88-2", "BS 88-3", "BS 3036" or "BS 1362".
        rating_a: rated current, A.
        time_s: 0.4 or 5.

    Returns:
        The limit at 230 V and Cmin 0.95, or None where the tables have none.
    """
    table = read_table("iec_loop_fuses.csv")
    rows = [row for row in table.rows if row["fuse_class"] == fuse_class]
    which = "5s" if time_s == 5 else "0_4s"
    return _loop(table, rows, rating_a, time_s, f"loop_{which}_ohm", f"status_{which}")


def _loop(
    table: Table, rows: Any, rating_a: float, time_s: float, column: str, status: str
) -> Entry | None:
    if time_s not in (0.4, 5):
        return None
    for row in rows:
        value = row.get(column)
        if float(row["rating_a"]) == rating_a and value:
            return Entry(float(value), f"{rating_a:g} A, {time_s:g} s", table.source(row[status]))
    return None


def r1_r2(line_mm2: float, protective_mm2: float) -> Entry | None:
    """Return the resistance [ohm/m at 20 degC] of a copper line and protective conductor pair.

    Args:
        line_mm2: line conductor, mm2.
        protective_mm2: protective conductor, mm2.

    Returns:
        R1 + R2, or None for a pair that is not in the table.
    """
    table = read_table("iec_r1_r2.csv")
    for row in table.rows:
        if (float(row["line_mm2"]), float(row["protective_mm2"])) == (line_mm2, protective_mm2):
            label = f"{line_mm2:g} mm2 with {protective_mm2:g} mm2"
            return Entry(float(row["r1_plus_r2"]) / 1000, label, table.source(row["status"]))
    return None


def electrode_minima() -> tuple[ElectrodeMinimum, ...]:
    """Return the least sizes of earth electrodes, held from memory."""
    table = read_table("iec_electrodes.csv")
    return tuple(
        ElectrodeMinimum(
            row["metal"],
            row["shape"],
            row["in"],
            _number(row["diameter_mm"]),
            _number(row["area_mm2"]),
            _number(row["thickness_mm"]),
            table.source(row["status"]),
        )
        for row in table.rows
    )


# --- single numbers -----------------------------------------------------------------------


def iec_number(block: str, *keys: str) -> Entry:
    """Return a single number of ``iec_parameters.yaml``.

    Args:
        block: name of the block, such as "touch_limit".
        keys: the way to the number within it, such as "ac", or "least", "Cu".

    Raises:
        CatalogError: no such block or number.
    """
    found: Any = _blocks().get(block)
    if found is None:
        raise CatalogError(block, "no such block of numbers", f"there are {', '.join(_blocks())}")
    source = source_of(found)
    for key in keys:
        found = found.get(key) if isinstance(found, dict) else None
    if isinstance(found, bool) or not isinstance(found, int | float):
        raise CatalogError(" ".join((block, *keys)), "is no number of the data file")
    return Entry(float(found), " ".join(keys), source)


@cache
def _blocks() -> Mapping[str, dict[str, Any]]:

    return MappingProxyType(load_yaml(read_text("iec_parameters.yaml")))
