"""Verdicts as the templates colour them: a word, a mark and a kind."""

from __future__ import annotations

from bondwright.explain.words import MARKS, SEVERITY_MARKS
from bondwright.rules.answer import Severity, Verdict

_KINDS = {
    Verdict.HOLDS: "holds",
    Verdict.FALLS_SHORT: "short",
    Verdict.CANNOT_TELL: "open",
    Severity.DANGER: "danger",
    Severity.FALLS_SHORT: "short",
    Severity.CANNOT_TELL: "open",
    Severity.NOTE: "note",
}


def badge(verdict: Verdict | Severity) -> dict[str, str]:
    """Return a verdict as a word, a mark and a kind that the templates colour."""
    mark = SEVERITY_MARKS[verdict] if isinstance(verdict, Severity) else MARKS[verdict]
    return {"word": str(verdict), "mark": mark, "kind": _KINDS[verdict]}
