"""What a person wants at the panel without a signal: the catalog's tables, as data for the page."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from functools import cache
from typing import Final

from fastapi import FastAPI

from bondwright import __version__
from bondwright.catalog.iec_tables import iec_number
from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.safety_data import body_data
from bondwright.catalog.shown import Sheet, sheets
from bondwright.catalog.sizes import Material, Size, standard_sizes
from bondwright.catalog.tables import TableRow, egc_rows, supply_rows
from bondwright.earth.rods import rods_in_line_resistance
from bondwright.explain.cautions import CAUTIONS
from bondwright.page.desk import Desk
from bondwright.page.wire_tables import (
    CapInfo,
    ClauseInfo,
    DeviceRow,
    ScrewInfo,
    ScrewsInfo,
    SheetInfo,
    SizeInfo,
    SupplyRow,
    TablesAnswer,
)
from bondwright.rules.bonding_screw import ScrewAnswer, bonding_screw, questions
from bondwright.rules.editions import DEFAULT_RULES, EDITIONS, clause, edition
from bondwright.safety.withstand import withstand_current
from bondwright.studies.hunt.instruments import instruments
from bondwright.units import INCH, Dimension, show

MOST_SETS: Final = 12
"""Parallel sets that can be chosen."""
_METALS: Final = (Material.CU, Material.AL)
_CAPS: Final = {
    "any": "electrode-conductor-cap",
    "rod": "rod-only-cap",
    "concrete": "concrete-only-cap",
    "ring": "ring-only-cap-minimum",
}
_CLAUSES: Final = {
    "main": ("main-bonding-jumper", None),
    "system": ("system-bonding-jumper", None),
    "supply-side": ("supply-side-bonding-jumper", None),
    "electrode": ("electrode-conductor", None),
    "ground": ("equipment-ground", "250.122(A)"),
    "ground-increase": ("equipment-ground", "250.122(B)"),
}
_LETTER: Final = {True: "y", False: "n", None: "u"}
_SOILS: Final = (20.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
_ROD_M, _ROD_WIDE_M = 8 * 12 * INCH, 0.625 * INCH
_TIMES: Final = (0.1, 0.2, 0.5, 1.0, 5.0)


@cache
def tables_answer(usual: str) -> TablesAnswer:
    """Return everything, with the rule set that is taken where none is chosen."""
    return TablesAnswer(
        tool=__version__,
        rules=list(EDITIONS),
        usual=usual if usual in EDITIONS else DEFAULT_RULES,
        sizes=[SizeInfo(name=s.name, cmil=s.area_cmil) for s in standard_sizes()],
        most_sets=MOST_SETS,
        jumper=list(_supply("250.102(C)(1)")),
        electrode=list(_supply("250.66")),
        caps=list(_caps()),
        ground=[
            DeviceRow(metal=str(m), upto=upto, size=str(row.value), status=str(row.status))
            for m in _METALS
            for upto, row in egc_rows(m)
        ],
        clauses=list(_clauses()),
        screws=[_screws(rules) for rules in EDITIONS],
        sheets=[_info(sheet) for sheet in (*sheets(), *_reckoned())],
        cautions=list(CAUTIONS),
    )


def _supply(table: str) -> Iterator[SupplyRow]:
    for supply, metal in itertools.product(_METALS, _METALS):
        for upto, row in supply_rows(table, supply, metal):
            yield _supply_row(supply, metal, upto, row)


def _supply_row(supply: Material, metal: Material, upto: float, row: TableRow) -> SupplyRow:
    return SupplyRow(
        supply=str(supply),
        metal=str(metal),
        upto=upto if math.isfinite(upto) else None,
        label=row.row_label,
        size=str(row.value) if row.value else None,
        part=row.percent,
        status=str(row.status),
    )


def _caps() -> Iterator[CapInfo]:
    for rules, (electrode, parameter) in itertools.product(EDITIONS, _CAPS.items()):
        cap = rule_parameter(parameter, edition(rules))
        for metal, size in cap.sizes:
            yield CapInfo(
                rules=rules,
                electrode=electrode,
                metal=str(metal),
                size=str(size),
                clause=clause("electrode-conductor", rules, cap.clause),
                status=str(cap.status),
            )


def _clauses() -> Iterator[ClauseInfo]:
    for rules, (key, (rule, part)) in itertools.product(EDITIONS, _CLAUSES.items()):
        grows = key == "ground-increase"
        increase = rule_parameter("egc-increase", edition(rules))
        yield ClauseInfo(
            rules=rules,
            key=key,
            clause=clause(rule, rules, part) if part else clause(rule, rules),
            status=str(increase.status) if grows else "",
            choice=increase.choice or "" if grows else "",
        )


def _screws(rules: str) -> ScrewsInfo:
    found: dict[ScrewAnswer, int] = {}
    index = {}
    known = (True, False, None)
    for first, ground, metal, before in itertools.product(known, known, known, known):
        answer = bonding_screw(first, ground, metal, before, rules)
        letters = "".join(_LETTER[one] for one in (first, ground, metal, before))
        index[letters] = found.setdefault(answer, len(found))
    return ScrewsInfo(
        rules=rules,
        questions=[text for _, text in questions(rules)],
        answers=[
            ScrewInfo(
                screw=str(answer.screw),
                clause=answer.clause,
                severity=str(answer.severity),
                because=list(answer.because),
                do=list(answer.do),
                ask=list(answer.ask),
            )
            for answer in found
        ],
        index=index,
    )


def _info(sheet: Sheet) -> SheetInfo:
    return SheetInfo(
        id=sheet.id,
        family=sheet.family,
        title=sheet.title,
        head=list(sheet.head),
        rows=[list(row) for row in sheet.rows],
        source=sheet.source,
        note=sheet.note,
    )


def _reckoned() -> Iterator[Sheet]:
    """Yield the tables that are worked out from formulas and data of the catalog."""
    yield _rods()
    yield _withstand()
    yield _tt()
    yield _touch()
    yield _meters()


def _rods() -> Sheet:
    def row(rho: float) -> Iterator[str]:
        yield f"{rho:g}"
        for count in (1, 2, 3, 4):
            group = rods_in_line_resistance(rho, _ROD_M, _ROD_WIDE_M, count, _ROD_M)
            yield show(group.resistance_ohm, Dimension.RESISTANCE).removesuffix(" ohm")

    return Sheet(
        "rods",
        "",
        "Rods 8 ft x 5/8 in, 8 ft apart, ohm",
        ("soil, ohm m", "1 rod", "2", "3", "4"),
        tuple(tuple(row(rho)) for rho in _SOILS),
        "R = rho / (2 pi L) x (ln(8 L / d) - 1), rods in line (H. B. Dwight, 1936)",
        "Uniform soil. Real soil is layered and changes with the seasons: measure. However low, "
        "the earth is no path that opens a breaker.",
    )


def _withstand() -> Sheet:
    def row(size: Size) -> tuple[str, ...]:
        amps = (withstand_current(size.area_cmil, "Cu", time) for time in _TIMES)
        return (size.name, *(f"{amp / 1000:.3g}" for amp in amps))

    least, most = Size.parse("14 AWG"), Size.parse("500 kcmil")
    return Sheet(
        "withstand",
        "",
        "What copper survives, kA, 75 to 150 degC",
        ("size", *(f"{time:g} s" for time in _TIMES)),
        tuple(row(size) for size in standard_sizes() if least <= size <= most),
        "adiabatic formula, ICEA P-32-382",
        "Below 0.1 s a current-limiting device lets less through; then that energy counts.",
    )


def _tt() -> Sheet:
    touch = iec_number("touch_limit", "ac").value
    stable = iec_number("stable_electrode", "most_ohm").value
    rows = tuple((f"{1000 * amps:g} mA", f"{touch / amps:.0f}") for amps in (0.03, 0.1, 0.3, 0.5))
    loops = ", ".join(
        f"{kind} {iec_number('declared_loop', kind).value:g} ohm" for kind in ("TN-C-S", "TN-S")
    )
    return Sheet(
        "tt",
        "iec",
        "TT: electrode by residual device, ohm",
        ("residual device", "RA at most, ohm"),
        rows,
        f"RA x IdeltaN at most {touch:g} V (IEC 60364-4-41, 411.5.3)",
        f"Above {stable:g} ohm an electrode may not be stable. Usual external loops of "
        f"distributors: {loops} (common practice; ask the network operator).",
    )


def _touch() -> Sheet:
    body = body_data()
    dry, wet = body.long_time_v["dry"], body.long_time_v["wet"]
    by_time = {time: [str(volts), "-"] for volts, time in body.touch_dry}
    for volts, time in body.touch_wet:
        by_time.setdefault(time, ["-", "-"])[1] = f"{volts:g}"
    rows = tuple(
        (f"{time:g}", dry_v.removesuffix(".0"), wet_v)
        for time, (dry_v, wet_v) in sorted(by_time.items(), reverse=True)
    )
    source = body.sources["touch_dry"]
    return Sheet(
        "touch",
        "",
        "Touch voltage by how long it lasts",
        ("at most, s", "dry, V", "wet, V"),
        rows,
        f"{source.title} ({source.edition}; {source.status})",
        f"Without end: {dry:g} V dry, {wet:g} V wet. No voltage read on open circuit is safe: it "
        "says nothing of the current a person would take.",
    )


def _meters() -> Sheet:
    return Sheet(
        "meters",
        "",
        "How far meters can be wrong",
        ("instrument", "of the reading", "and besides", "how it lies"),
        tuple(
            (
                meter.name,
                f"{100 * meter.relative:g} %",
                f"{meter.floor:g}",
                meter.word,
            )
            for meter in instruments().values()
        ),
        "common practice, from memory; the coarser end of what makers state",
        "Besides: in the reading's own unit (A, V, ohm, W).",
    )


def add_tables(app: FastAPI, desk: Desk) -> None:
    """Add the tables' address."""

    @app.get("/api/tables")
    def tables() -> TablesAnswer:
        return tables_answer(desk.site.rules)
