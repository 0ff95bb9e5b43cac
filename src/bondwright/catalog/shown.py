"""Tables of the catalog as a person looks them up: heading, rows, source.

The numbers are those of the data files, as they stand there; nothing is typed again.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bondwright.catalog._data import Table, read_table
from bondwright.catalog.iec_tables import iec_number
from bondwright.catalog.sources import Status


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table to be looked at.

    Attributes:
        id: its own, "zs-breakers".
        family: "nec" or "iec"; "" for both.
        title: what is looked up.
        head: headings of the columns, with units.
        rows: text of the cells.
        source: publication and edition.
        note: what to mind; "" for nothing.
    """

    id: str
    family: str
    title: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    source: str
    note: str = ""


def sheets() -> Iterator[Sheet]:
    """Yield every table of the code's and the standard's that is wanted at the panel."""
    yield _supply_sheet("gec", "Electrode conductor by supply", "table_250_66.csv", "250.66")
    yield _supply_sheet(
        "jumper", "Bonding jumper by supply", "table_250_102_c_1.csv", "250.102(C)(1)"
    )
    yield _whole(
        "egc",
        "nec",
        "Ground wire (EGC) by breaker",
        "table_250_122.csv",
        {"ocpd_a_max": "breaker up to, A", "cu": "copper", "al": "aluminium"},
    )
    yield _breakers()
    yield _whole(
        "zs-fuses",
        "iec",
        "Loop limits of fuses, 230 V",
        "iec_loop_fuses.csv",
        {
            "fuse_class": "fuse",
            "rating_a": "A",
            "loop_0_4s_ohm": "0.4 s, ohm",
            "loop_5s_ohm": "5 s, ohm",
        },
        note=_cold(),
    )
    yield _times()
    yield _whole(
        "pme",
        "iec",
        "Main bonding of a PME supply",
        "iec_pme_bonding.csv",
        {"neutral_max_mm2": "supply neutral up to, mm2", "bonding_mm2": "bonding Cu, mm2"},
    )
    yield _protective()
    yield _whole(
        "k",
        "iec",
        "Factor k of conductors",
        "iec_k_factors.csv",
        {
            "laid": "laid",
            "metal": "metal",
            "insulation": "insulation",
            "initial_c": "from, degC",
            "final_c": "to, degC",
            "k": "k",
            "k_over_300": "k over 300 mm2",
        },
        note="S = sqrt(I2 t) / k, in mm2; below 0.1 s the energy let through counts.",
    )
    yield _whole(
        "r1-r2",
        "iec",
        "R1 + R2 of copper at 20 degC",
        "iec_r1_r2.csv",
        {
            "line_mm2": "line, mm2",
            "protective_mm2": "protective, mm2",
            "r1_plus_r2": "R1 + R2, mohm/m",
        },
    )


def _cold() -> str:
    part = iec_number("site_test", "part").value
    return (
        "With hot conductors, at 0.95 of the voltage. A loop measured cold is to be lower: at most "
        f"{part:.0%} of this."
    )


def _source(table: Table) -> str:
    doubt = f"; {table.doubt}" if table.doubt else ""
    return f"{table.title} ({table.edition}){doubt}"


def _sure(row: Mapping[str, str]) -> str:
    words = [row[key] for key in row if key.startswith("status") and row[key]]
    return str(Status.least_sure(*(Status(word) for word in words)))


def _whole(
    id: str, family: str, title: str, file: str, columns: Mapping[str, str], note: str = ""
) -> Sheet:
    table = read_table(file)
    rows = tuple((*(row[key] or "-" for key in columns), _sure(row)) for row in table.rows)
    return Sheet(id, family, title, (*columns.values(), "known"), rows, _source(table), note)


def _supply_sheet(id: str, title: str, file: str, number: str) -> Sheet:
    table = read_table(file)
    part = "12.5 % of the supply"
    rows = tuple(
        (
            row["supply_cu_label"],
            row["supply_al_label"],
            row["cu"] or part,
            row["al"] or part,
            _sure(row),
        )
        for row in table.rows
    )
    head = ("supply, copper", "supply, aluminium", "copper", "aluminium", "known")
    note = "Enter with the area of all conductors of one phase together; never with the breaker."
    return Sheet(id, "nec", f"{title} ({number})", head, rows, _source(table), note)


def _breakers() -> Sheet:
    table, part = read_table("iec_loop_breakers.csv"), iec_number("site_test", "part").value
    columns = ("b_ohm", "c_ohm", "d_0_4s_ohm", "d_5s_ohm")

    def cells(row: Mapping[str, str]) -> Iterator[str]:
        yield row["rating_a"]
        for key in columns:
            yield row[key] or "-"
            if key in ("b_ohm", "c_ohm"):
                yield f"{_down(float(row[key]) * part):.2f}" if row[key] else "-"
        yield _sure(row)

    cold = f"{part:.0%} cold"
    head = ("A", "B", f"B {cold}", "C", f"C {cold}", "D 0.4 s", "D 5 s", "known")
    return Sheet(
        "zs-breakers",
        "iec",
        "Loop limits of breakers, ohm, 230 V",
        head,
        tuple(tuple(cells(row)) for row in table.rows),
        _source(table),
        _cold(),
    )


def _down(value: float) -> float:
    """Round a limit down: a site test is never allowed more for the sake of a round number."""
    return math.floor(value * 100 + 1e-9) / 100


def _times() -> Sheet:
    table = read_table("iec_disconnection_times.csv")
    rows = tuple(
        (
            row["system"],
            row["current"],
            f"over {row['u0_over_v']}" + (f" to {row['u0_max_v']}" if row["u0_max_v"] else ""),
            row["time_s"] or "not asked for",
            _sure(row),
        )
        for row in table.rows
    )
    tn, tt = (iec_number("other_circuits", key).value for key in ("tn_s", "tt_s"))
    sockets, fixed = (
        iec_number("final_circuits", key).value for key in ("with_sockets_a", "fixed_a")
    )
    note = (
        f"Final circuits up to {sockets:g} A with sockets, {fixed:g} A with fixed equipment only. "
        f"Others: {tn:g} s in TN, {tt:g} s in TT."
    )
    head = ("system", "current", "U0, V", "longest, s", "known")
    return Sheet("times", "iec", "Disconnection times", head, rows, _source(table), note)


def _protective() -> Sheet:
    table = read_table("iec_protective_conductor.csv")
    rows = tuple(
        (
            (f"over {row['line_over_mm2']}" if row["line_over_mm2"] != "0" else "")
            + (f" up to {row['line_max_mm2']}" if row["line_max_mm2"] else ""),
            f"{row['fixed_mm2']} mm2" if row["fixed_mm2"] else f"{row['part']} x the line",
            _sure(row),
        )
        for row in table.rows
    )
    head = ("line, mm2", "protective conductor, same metal", "known")
    return Sheet(
        "protective",
        "iec",
        "Protective conductor by line",
        head,
        tuple(tuple(cell.strip() for cell in row) for row in rows),
        _source(table),
    )
