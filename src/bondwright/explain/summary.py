"""The headline: how the site stands, in one line and a few counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bondwright.explain.words import MARKS, capital, counted
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.studies.faults import LONGEST_S, FaultKind, FaultResult


@dataclass(frozen=True, slots=True)
class Summary:
    """How a site stands.

    Attributes:
        verdict: overall.
        mark: beside the verdict's word.
        headline: one line.
        sentences: what it rests on.
        counts: (what, how many) pairs for a row of figures.
        danger: whether a finding is a danger.
    """

    verdict: Verdict
    mark: str
    headline: str
    sentences: tuple[str, ...]
    counts: tuple[tuple[str, int], ...]
    danger: bool


def summarize(
    plan: Plan,
    findings: Sequence[Finding],
    faults: Sequence[FaultResult],
    in_time: str = "",
) -> Summary:
    """Sum up a site.

    Args:
        plan: the plan.
        findings: of rules and studies together.
        faults: every fault on the plan as it stands.
        in_time: what is said of disconnection in place of a count of cleared faults, where the
            rules have times of their own.
    """
    number = dict.fromkeys(Severity, 0)
    for finding in findings:
        number[finding.severity] += 1
    rows = dict.fromkeys(Verdict, 0)
    for item in plan.schedule:
        rows[item.verdict] += 1
    verdict = _overall(number, rows)
    to_metal = [f for f in faults if f.fault.kind is FaultKind.LINE_TO_METAL]
    own = [f for f in to_metal if not f.supply_side]
    cleared = sum(f.clearing <= LONGEST_S for f in own)
    sentences = [
        f"{capital(counted(len(plan.schedule), 'jumper or conductor', 'jumpers and conductors'))} "
        f"in the schedule: {_split(rows)}."
    ]
    if in_time:
        sentences.append(in_time)
    elif own:
        sentences.append(
            f"Of {counted(len(own), 'fault')} from a line to metal past the first disconnect, "
            f"{cleared} cleared in time."
        )
    ahead = len(to_metal) - len(own)
    if ahead:
        whose = "the utility's"
        if any(f.supply_side and not f.utility for f in to_metal):
            outside = any(f.supply_side and f.utility for f in to_metal)
            whose = "its source's own, or the utility's," if outside else "its source's own"
        sentences.append(
            f"{capital(counted(ahead, 'fault'))} to metal ahead of it can only be cleared by "
            f"{whose} protection, which is not described."
        )
    counts = (
        ("dangers", number[Severity.DANGER]),
        ("falling short", number[Severity.FALLS_SHORT]),
        ("cannot tell", number[Severity.CANNOT_TELL]),
        ("notes", number[Severity.NOTE]),
    )
    return Summary(
        verdict,
        MARKS[verdict],
        _headline(verdict, number),
        tuple(sentences),
        counts,
        number[Severity.DANGER] > 0,
    )


def _overall(number: dict[Severity, int], rows: dict[Verdict, int]) -> Verdict:
    if number[Severity.DANGER] or number[Severity.FALLS_SHORT] or rows[Verdict.FALLS_SHORT]:
        return Verdict.FALLS_SHORT
    if number[Severity.CANNOT_TELL] or rows[Verdict.CANNOT_TELL]:
        return Verdict.CANNOT_TELL
    return Verdict.HOLDS


def _split(rows: dict[Verdict, int]) -> str:
    words = {
        Verdict.HOLDS: ("holds", "hold"),
        Verdict.FALLS_SHORT: ("falls short", "fall short"),
        Verdict.CANNOT_TELL: ("can't be judged", "can't be judged"),
    }
    parts = [f"{n} {words[verdict][n != 1]}" for verdict, n in rows.items() if n]
    return ", ".join(parts) or "none"


def _headline(verdict: Verdict, number: dict[Severity, int]) -> str:
    if number[Severity.DANGER]:
        return f"Danger: {counted(number[Severity.DANGER], 'finding')} to mend first"
    match verdict:
        case Verdict.HOLDS:
            return "Holds as described"
        case Verdict.CANNOT_TELL:
            open_points = number[Severity.CANNOT_TELL]
            tail = f": {counted(open_points, 'open point')}" if open_points else ""
            return f"Nothing falls short, but not everything can be told{tail}"
        case _:
            wrong = number[Severity.FALLS_SHORT]
            return f"Falls short: {counted(wrong, 'finding')} to mend" if wrong else "Falls short"
