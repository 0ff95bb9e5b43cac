"""The results as CSV tables.

UTF-8, a header row with units, one table each, in the language spoken but for ids. A cell of text
that a spreadsheet would take for a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Collection, Iterable, Sequence
from typing import Final

from bondwright.exchange.sheets import defused
from bondwright.explain.faults import openers, returns_by
from bondwright.explain.language import Language, spoken_or_none
from bondwright.explain.schedule import schedule_rows
from bondwright.explain.stray import NATURE_WORDS
from bondwright.explain.words import carrier_name
from bondwright.papers.earth_data import electrode_table, test_table
from bondwright.papers.results import Results
from bondwright.plan.model import Plan

Row = Sequence[str | float | None]

IDS: Final = frozenset({"id", "rule"})
"""Columns that are the same in every language: rows are known by them."""


def table(header: Sequence[str], rows: Iterable[Row]) -> str:
    """Write a CSV table; texts are defused, numbers written in full, None left empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    language = spoken_or_none()
    if language is not None:
        kept = {k for k, name in enumerate(header) if name in IDS}
        header = [language(name) for name in header]
        rows = [told_row(row, kept, language) for row in rows]
    writer.writerow(header)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return out.getvalue()


def told_row(row: Row, kept: Collection[int], language: Language) -> list[str | float | None]:
    """Return a row in a language, but for some columns and for numbers."""
    return [
        "\n".join(language(line) for line in value.split("\n"))
        if isinstance(value, str) and k not in kept
        else value
        for k, value in enumerate(row)
    ]


def _cell(value: str | float | None) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return defused(value)
    return f"{value:.6g}" if math.isfinite(value) else ""


def schedule_csv(plan: Plan) -> str:
    """Write the jumper and conductor schedule."""
    header = (
        "id",
        "purpose",
        "abbreviation",
        "from",
        "to",
        "required",
        "chosen",
        "given or designed",
        "clause",
        "because",
        "verdict",
        "remark",
    )
    return table(
        header,
        (
            (
                row.id,
                row.purpose,
                row.short,
                row.from_,
                row.to,
                row.required,
                row.chosen,
                row.origin,
                row.clause,
                " ".join(row.why),
                str(row.verdict),
                row.remark,
            )
            for row in schedule_rows(plan)
        ),
    )


def faults_csv(results: Results) -> str:
    """Write every fault; an empty time means that the fault is not cleared on site."""
    header = (
        "place",
        "kind",
        "from terminal",
        "to terminal",
        "current [A]",
        "loop impedance [ohm]",
        "returns by",
        "opens",
        "cleared",
        "fastest [s]",
        "slowest [s]",
        "highest metal",
        "touch voltage [V]",
        "limit [V]",
        "touch verdict",
        "metal stays at [V]",
        "hottest conductor reaches [degC]",
        "verdict",
    )
    plan = results.plan
    return table(
        header,
        (
            (
                f.fault.place,
                str(f.fault.kind),
                f.fault.a,
                f.fault.b,
                f.current,
                f.loop,
                returns_by(f, plan),
                openers(f),
                "yes" if f.cleared else "no",
                f.fastest,
                f.clearing,
                f.worst_place,
                f.touch_verdict.voltage_v,
                f.touch_verdict.limit_v,
                f.touch_verdict.verdict,
                f.live_after,
                None if f.heat is None else f.heat.temperature,
                str(f.verdict),
            )
            for f in results.faults
        ),
    )


def stray_csv(results: Results) -> str:
    """Write the current on every metal path in normal use."""
    header = (
        "carrier",
        "id",
        "conductor",
        "from",
        "to",
        "current [A]",
        "angle [deg]",
        "share of neutral current [%]",
        "what it is",
        "tie to blame",
        "without that tie [A]",
    )
    return table(
        header,
        (
            (
                str(c.flow.carrier),
                c.flow.id,
                carrier_name(results.plan, c.flow.carrier, c.flow.id, c.flow.conductor),
                c.flow.from_,
                c.flow.to,
                c.flow.amperes,
                c.flow.angle,
                100 * c.share,
                NATURE_WORDS[c.nature],
                "; ".join(c.causes),
                c.without,
            )
            for c in results.stray.currents
        ),
    )


def available_csv(results: Results) -> str:
    """Write the available fault current at every place."""
    header = (
        "place",
        "available [A]",
        "between",
        "peak [A]",
        "of motors [A]",
        "state",
        "devices",
        "verdict",
    )
    return table(
        header,
        (
            (
                one.place,
                one.available.current,
                one.available.between,
                one.available.peak,
                one.of_motors,
                one.state or "normal",
                "; ".join(f"{d.device}: {d.rating}" for d in one.duties),
                str(one.verdict),
            )
            for one in results.available
        ),
    )


def electrodes_csv(results: Results) -> str:
    """Write the electrode sheet as a table."""
    return table(*electrode_table(results.ground, results.earth_tests))


def earth_tests_csv(results: Results) -> str:
    """Write every reading of every field test as a table."""
    return table(*test_table(results.earth_tests))


def findings_csv(results: Results) -> str:
    """Write all findings, worst first."""
    header = ("severity", "where", "title", "text", "cure", "clause", "rule")
    return table(
        header,
        (
            (str(f.severity), f.where, f.title, f.text, f.cure, f.clause, f.rule)
            for f in results.findings
        ),
    )
