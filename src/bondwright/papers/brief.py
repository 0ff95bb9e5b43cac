"""What a report of a large site says of many things alike; the tables beside it have each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

from bondwright.draw.part import LARGE
from bondwright.explain.schedule import ScheduleRow
from bondwright.explain.words import capital
from bondwright.papers.results import Results
from bondwright.papers.wording import badge
from bondwright.rules.answer import Verdict
from bondwright.studies.faults import FaultResult

MOST_SHOWN: Final = 600
"""Faults in the report of a large site."""
TOGETHER: Final = 12
"""Conductors alike in one row of the schedule of a large site."""


def shown_faults(results: Results) -> tuple[FaultResult, ...]:
    """Return the faults that the report lists.

    All of them, or on a large site those that don't hold, the weakest first where they are too
    many, and of each kind the weakest that holds.
    """
    if len(results.plan.site.places) <= LARGE:
        return results.faults
    bad = [f for f in results.faults if f.verdict is not Verdict.HOLDS]
    if len(bad) > MOST_SHOWN:
        order = {Verdict.FALLS_SHORT: 0, Verdict.CANNOT_TELL: 1}
        bad = sorted(bad, key=lambda f: (order[f.verdict], f.current))[:MOST_SHOWN]
    weakest: dict[str, FaultResult] = {}
    for f in results.faults:
        kind = str(f.fault.kind)
        if f.verdict is Verdict.HOLDS and (
            kind not in weakest or f.current < weakest[kind].current
        ):
            weakest[kind] = f
    wanted = {id(f) for f in (*bad, *weakest.values())}
    return tuple(f for f in results.faults if id(f) in wanted)


def schedule_content(rows: Sequence[ScheduleRow], *, brief: bool) -> list[dict[str, Any]]:
    """Return the schedule as plain data.

    Args:
        rows: in walking order.
        brief: put conductors that are alike in all but their ends together.
    """
    if not brief:
        return [_row(row, [row]) for row in rows]
    alike: dict[tuple[Any, ...], list[ScheduleRow]] = {}
    for row in rows:
        key = (
            row.short, row.purpose, row.required, row.chosen, row.origin, row.clause, row.why,
            row.status, row.verdict, row.remark,
        )  # fmt: skip
        alike.setdefault(key, []).append(row)
    return [
        _row(those[0], those[start : start + TOGETHER])
        for those in alike.values()
        for start in range(0, len(those), TOGETHER)
    ]


def _row(row: ScheduleRow, those: Sequence[ScheduleRow]) -> dict[str, Any]:
    return {
        "short": row.short,
        "purpose": capital(row.purpose),
        "from": row.from_,
        "to": row.to if len(those) == 1 else _ends(those),
        "required": row.required,
        "chosen": row.chosen,
        "origin": row.origin,
        "clause": row.clause or "–",
        "why": " ".join(row.why),
        "status": row.status,
        "badge": badge(row.verdict),
        "remark": capital(row.remark),
    }


def _ends(those: Sequence[ScheduleRow]) -> str:
    first, *rest = those
    return "; ".join(
        [first.to, *(r.to if r.from_ == first.from_ else f"{r.from_} → {r.to}" for r in rest)]
    )
