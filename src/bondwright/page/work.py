"""What the background does: a long study in a process of its own, which tells how far it is."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection
from typing import Literal

from bondwright.page.edits import Edit, changed
from bondwright.page.wire import DefectInfo, DefectsResult, Result, StudyResult
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding
from bondwright.site.model import Site
from bondwright.site.states import states
from bondwright.studies.ground_model import GroundFault

Kind = Literal["defects", "whole study", "ground"]
Tell = Callable[[str, int, int], None]
MOST_ROWS = 60
"""Defects that are told, the worst first."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is to be done.

    Attributes:
        kind: which study.
        site: the site as its file has it.
        edits: what was changed about it.
        state: way the site is run.
    """

    kind: Kind
    site: Site
    edits: tuple[Edit, ...]
    state: str


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the work is."""

    what: str
    done: int
    of: int


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of it: the answer, the findings of a whole study, the ground in its faults."""

    result: Result
    findings: tuple[Finding, ...] = ()
    ground: tuple[GroundFault, ...] = ()


@dataclass(frozen=True, slots=True)
class Failure:
    """Why nothing came of it."""

    problem: str


def work(order: Order, wire: Connection) -> None:
    """Do the work of a process: send progress, then the outcome or the reason of a failure."""
    # Whoever breaks off the server with the keyboard ends this process as well; it says nothing.
    try:
        wire.send(do(order, lambda what, done, of: wire.send(Progress(what, done, of))))
    except KeyboardInterrupt:
        return
    except Exception as error:  # whatever it is has to reach the page, or it waits for ever
        wire.send(Failure(str(error) or type(error).__name__))
    finally:
        wire.close()


def do(order: Order, tell: Tell) -> Outcome:
    """Do the work.

    Args:
        order: what is to be done.
        tell: told what is being done, how much of it is done, and how much there is.
    """
    tell("reading the site", 0, 1)
    made = changed(plan(order.site), order.edits)
    if order.kind == "defects":
        return Outcome(_defects(made, order.state, tell))
    if order.kind == "ground":
        from bondwright.page.ground_work import work_out

        return Outcome(*work_out(made, order.state, tell))
    return _study(made, tell)


def _study(made: Plan, tell: Tell) -> Outcome:
    from bondwright.papers.results import study

    results = study(made, tell)
    summary = results.summary
    told = StudyResult(
        headline=summary.headline,
        verdict=str(summary.verdict),
        mark=summary.mark,
        sentences=list(summary.sentences),
    )
    return Outcome(told, results.findings)


def _defects(made: Plan, state: str, tell: Tell) -> DefectsResult:
    from bondwright.explain.defects import (
        RANK_MARKS,
        RANK_WORDS,
        day_cell,
        fault_cell,
        tell_defect,
    )
    from bondwright.network.build import build
    from bondwright.studies.defects.rank import ranked
    from bondwright.studies.defects.sweep import sweep

    chosen = next((one for one in states(made.site) if one.id == state), None)
    network = build(made, loads=False, state=chosen)
    tell("trying every mistake", 0, 1)
    swept = sweep(network, progress=lambda done, of: tell("trying every mistake", done, of))
    rows = [
        DefectInfo(
            name=item.defect.name,
            at=_place(item.defect.at),
            rank=RANK_WORDS[item.rank],
            mark=RANK_MARKS[item.rank],
            fault=fault_cell(item),
            day=day_cell(item),
            found_by=item.defect.found_by[0].value.partition(",")[0],
            told=list(tell_defect(item)),
        )
        for item in ranked(swept, MOST_ROWS)
    ]
    return DefectsResult(
        tried=len(swept.defects), faults=len(swept.faults), cases=swept.scenarios, rows=rows
    )


def _place(at: str | Sequence[str]) -> str:
    return at if isinstance(at, str) else ", ".join(at)


def share(done: int, of: int) -> float:
    """Return the part of the work that is done, 0 to 1."""
    return min(1.0, done / of) if of > 0 and math.isfinite(of) else 0.0
