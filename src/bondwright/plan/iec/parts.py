"""What the makers of a plan by IEC 60364 share: sizes compared in mm2, findings in its words."""

from __future__ import annotations

from functools import partial

from bondwright.catalog.sizes import Conductor
from bondwright.plan.defaults import defaults
from bondwright.plan.model import Purpose, ScheduleItem
from bondwright.plan.parts import short_finding
from bondwright.rules.answer import Answer, Finding, Verdict
from bondwright.rules.iec.family import DIALECT

taken = partial(defaults, "iec_defaults")
"""What is taken where a description by IEC 60364 is silent."""


def word(purpose: Purpose) -> str:
    """Return what this family calls a conductor."""
    return DIALECT[purpose.value]


def compare(given: Conductor, required: Answer) -> tuple[Verdict, str]:
    """Return whether a conductor is as large as asked, and by how much it isn't.

    Args:
        given: what stands or is described.
        required: what is asked, in the same metal; of parallel sets one beside each.
    """
    need = required.size
    need_mm2 = need.size.area_mm2
    have = given.size.area_mm2 * (1 if need.sets > 1 else given.sets)
    if have < need_mm2 * (1 - 1e-9):
        short = f"{100 * (1 - have / need_mm2):.0f} % too small"
        return Verdict.FALLS_SHORT, f"{given} where {need} is asked: {short}"
    if given.sets < need.sets:
        return Verdict.CANNOT_TELL, (
            f"one beside each of {need.sets} parallel sets is asked; if that is meant, write "
            f"'{need.sets} x {given.size} {given.material.value}'"
        )
    return Verdict.HOLDS, f"{need} is asked"


def finding_of(item: ScheduleItem, answer: Answer) -> Finding:
    """Return the finding that goes with a conductor that falls short or can't be judged."""
    return short_finding(item, answer, word(item.purpose))
