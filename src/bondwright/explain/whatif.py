"""Why a tie matters, told with numbers: once without it, and once with one too many."""

from __future__ import annotations

from bondwright.explain.faults import MOSTLY, earth_share, fault_name, openers, returns_by
from bondwright.explain.remaining import path_without
from bondwright.explain.story import Story
from bondwright.explain.words import (
    amps,
    capital,
    flow_name,
    listed,
    percent,
    seconds,
    tie_name,
    volts,
)
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.studies.flows import Carrier
from bondwright.studies.stray import Nature, StrayCurrent
from bondwright.studies.whatif import TieAdded, TieRemoved

DRY_LIMIT_V = 50.0
"""Conventional long-time touch voltage limit in dry conditions, V (IEC 60364-4-41)."""


def tell_removed(story: TieRemoved, plan: Plan) -> Story:
    """Tell a fault with a tie and without it.

    Args:
        story: the two results.
        plan: the plan.

    Returns:
        The story. It holds when the fault is cleared with the tie.
    """
    on, off, tie = story.with_tie, story.without_tie, story.tie
    where = fault_name(on)
    sentences = [f"{where}, with {tie_name(tie)} and without it."]
    if on.cleared:
        sentences.append(
            f"With the tie {amps(on.current)} flows home on the {returns_by(on, plan)}, and the "
            f"{openers(on)} opens within {seconds(on.clearing)}."
        )
    else:
        sentences.append(
            f"With the tie {amps(on.current)} flows, and even so nothing on the site ends it."
        )
    if off.cleared:
        sentences.append(
            f"Without it {amps(off.current)} flows, and the {openers(off)} opens within "
            f"{seconds(off.clearing)}: other metal carries the fault, which may be gone tomorrow."
        )
    else:
        by_earth = earth_share(off.flows) > MOSTLY * off.current
        only = " through the rods and the earth" if by_earth else ""
        sentences.append(
            f"Without it only {amps(off.current)} flows{only}. Nothing trips, and the metal at "
            f"{off.fault.place} stays at {volts(off.live_after)} until it is switched off."
        )
    highest = max(off.touch.values(), default=0.0)
    live = [
        name
        for name, v in off.touch.items()
        if v > 0.9 * highest and v > DRY_LIMIT_V and name != off.fault.place
    ]
    if not off.cleared and live:
        named = (
            listed(live) if len(live) <= 4 else f"{', '.join(live[:4])} and {len(live) - 4} more"
        )
        sentences.append(f"It is not that place alone: the metal of {named} is live as well.")
    return Story(f"Why the tie at {tie.at} matters", tuple(sentences), on.verdict)


def tell_added(story: TieAdded, plan: Plan) -> Story:
    """Tell normal use with a tie too many.

    Args:
        story: normal use before and after.
        plan: the plan.

    Returns:
        The story. It falls short when the added tie puts neutral current on metal.
    """
    before = {_key(c): c.flow.amperes for c in story.before.currents}
    caused = [
        c
        for c in story.after.currents
        if c.nature is Nature.OBJECTIONABLE and story.name in c.causes
    ]
    if not caused:
        text = (
            f"A second tie at {story.at} puts less than 0.01 A on metal with the loads described. "
            "Other loads may do otherwise; a tie doesn't belong there."
        )
        return Story(f"A second tie at {story.at}", (text,), Verdict.CANNOT_TELL)
    sentences = [f"Put a second tie at {story.at}, and metal becomes a neutral."]
    sentences += [
        f"{capital(flow_name(plan, c.flow))} then carries {amps(c.flow.amperes)} in normal use "
        f"(before: {amps(before.get(_key(c), 0.0))}){_of_neutral(c, story)}."
        for c in caused[:2]
    ]
    if len(caused) > 2:
        sentences.append(f"So do {len(caused) - 2} more metal paths, with less.")
    sentences.append(
        "If the neutral opens, that metal carries the whole of it, and all metal behind the break "
        "becomes live."
    )
    path = path_without(plan, story.name, story.at)
    if path:
        sentences.append(
            f"The cure is to keep neutral and metal apart at {story.at}. The fault path that "
            f"remains is the bonding metal of {listed(path)}; prove it whole, with the power off, "
            "before a tie found there is taken out."
        )
    else:
        sentences.append(
            f"Don't simply take out a tie found there: no bonding metal of its own leads home from "
            f"{story.at}, so it would be the only fault path. The new path comes first."
        )
    return Story(f"A second tie at {story.at}", tuple(sentences), Verdict.FALLS_SHORT)


def _of_neutral(current: StrayCurrent, story: TieAdded) -> str:
    """Say which part of its own run's neutral current a metal path took, if that can be said."""
    flow = current.flow
    if flow.carrier is not Carrier.RUN:
        return ""
    alone, shared = (
        sum(f.amperes for f in study.flows if f.id == flow.id and f.terminal == "N")
        for study in (story.before, story.after)
    )
    if not alone:
        return ""
    return (
        f". The neutral of {flow.id} carried {amps(alone)} before and carries {amps(shared)} now; "
        f"{percent(flow.amperes / alone)} of what was its own runs on that metal"
    )


def _key(current: StrayCurrent) -> tuple[str, str, str]:
    return (str(current.flow.carrier), current.flow.id, current.flow.conductor)
