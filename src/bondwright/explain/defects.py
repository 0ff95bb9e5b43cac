"""Defects told in plain words: what a fault does, what a normal day shows, how it is found."""

from __future__ import annotations

import math
from typing import Final

from bondwright.explain.words import amps, capital, counted, listed, percent, seconds, volts
from bondwright.studies.defects.blocks import MATTERS
from bondwright.studies.defects.catalogue import DefectKind
from bondwright.studies.defects.doubles import INTERPLAY, Choice
from bondwright.studies.defects.everyday import CLAMP_A, VOLTAGE_PART
from bondwright.studies.defects.rank import DayStory, FaultStory, Rank, Ranked
from bondwright.studies.defects.sweep import Harm

RANK_WORDS: Final = {
    Rank.SILENT_AND_DEADLY: "silent and deadly",
    Rank.DEADLY: "deadly",
    Rank.SILENT_DAMAGE: "silent, does damage",
    Rank.SHOWS: "shows in use",
    Rank.QUIET: "no harm found",
}
"""What each rank is called."""

RANK_MARKS: Final = {
    Rank.SILENT_AND_DEADLY: "!!",
    Rank.DEADLY: "!",
    Rank.SILENT_DAMAGE: "×",
    Rank.SHOWS: "~",
    Rank.QUIET: "·",
}
"""A mark beside each, so that it never hangs on colour alone."""

_OPENING: Final = frozenset(
    {
        DefectKind.NEUTRAL_OPEN,
        DefectKind.NEUTRAL_LOOSE,
        DefectKind.ELECTRODE_OFF,
        DefectKind.METAL_UNBONDED,
        DefectKind.TIE_MISSING,
        DefectKind.TIE_LOOSE,
    }
)


def tell_defect(item: Ranked) -> tuple[str, ...]:
    """Tell one defect in a few sentences.

    Args:
        item: from :func:`bondwright.studies.defects.rank.ranked`.
    """
    told = [tell_fault_story(item)]
    if item.more is not None:
        told.append(
            "Together they are worse than each alone."
            if item.more
            else "One of the two is as bad alone."
        )
    if item.day is not None:
        told.append(tell_day(item.day))
    told.append(f"Found {listed([way.value for way in item.defect.found_by], 'or')}.")
    if item.defect.kind in _OPENING:
        told.append(
            "Danger: the ends of an open neutral, bond or electrode conductor can stand at full "
            "voltage. Open nothing to look for it; have the supply off and proved dead first."
        )
    if item.defect.kind is DefectKind.TIE_ADDED:
        told.append(
            "Before it is taken out, the equipment grounding path back to the source must be "
            "proved from end to end with the supply off."
        )
    return tuple(told)


def tell_choice(choice: Choice) -> tuple[str, ...]:
    """Say which pairs of mistakes were tried, and what is known of the others."""
    tried, far = len(choice.pairs), choice.possible - choice.near
    said = [
        f"Of {choice.possible:,} pairs of mistakes {choice.near:,} have to do with each other: one "
        f"changes what the other does by {percent(INTERPLAY)} or more, or both move the same "
        f"fault by {percent(MATTERS)}. The other {far:,} do to every fault what one of the two "
        "does alone, to that same degree; they were not tried one by one."
    ]
    if choice.left_out:
        said.append(
            f"Tried were {tried:,}, those that change each other the most. NOT tried were "
            f"{choice.left_out:,} that also have to do with each other (the closest of them change "
            f"each other by {percent(choice.left_kappa)}): nothing is said of them. --most "
            f"{choice.near} tries them all."
        )
    return tuple(said)


def tell_fault_story(item: Ranked) -> str:
    """Tell the worst that a defect makes of a fault."""
    story = item.fault
    if story is None:
        return "No fault that was tried is made worse by it."
    ending = _ending(story)
    many = ""
    if item.worsened > 1:
        many = f" It makes {counted(item.worsened, 'fault')} worse"
        many += f"; {item.live} of them stay live." if item.live else "."
    return (
        f"{capital(str(story.fault))} then draws {amps(story.current)}; {ending} Metal at "
        f"{story.touch_place} is at {volts(story.touch)} "
        f"(limit for that time {volts(story.limit)}, dry); without the defect "
        f"{_time(story.before_clearing)}, {volts(story.before_touch)}.{many}"
    )


def _ending(story: FaultStory) -> str:
    if math.isinf(story.clearing):
        opened = f"{story.opener} opens, and still it" if story.opener else "nothing opens and it"
        return f"{opened} stays live."
    burns = ""
    if story.burn > 1:
        burns = (
            f" {capital(story.burns)} takes {story.burn:.2g} times what it bears, by slow edges."
        )
    loose = " (a breaker whose curve is not known, by its slow edge)" if story.loose else ""
    who = f"{story.opener} opens and it" if story.opener else "it"
    return f"{who} is over in {seconds(story.clearing)}{loose}.{burns}"


def _time(value: float) -> str:
    return "it never stops" if math.isinf(value) else f"it is over in {seconds(value)}"


def tell_day(day: DayStory) -> str:
    """Tell what a normal day shows."""
    if not day.shows:
        return (
            f"A normal day shows nothing: no change of {amps(CLAMP_A)} on any metal or run, no "
            f"voltage that moves by {percent(VOLTAGE_PART)}."
        )
    parts = []
    if day.opens:
        parts.append("a residual device opens at once")
    if day.stray > CLAMP_A:
        parts.append(f"current at {day.stray_where} changes by {amps(day.stray)}")
    if 1 - day.low > VOLTAGE_PART:
        parts.append(f"voltage at {day.low_where} falls to {percent(day.low)} of what it is")
    if day.high - 1 > VOLTAGE_PART:
        parts.append(f"voltage at {day.high_where} rises to {percent(day.high)} of what it is")
    return f"In normal use {listed(parts)}."


def fault_cell(item: Ranked) -> str:
    """Write the worst fault in a few words, for a table."""
    story = item.fault
    if story is None:
        return "none made worse"
    if story.harm is Harm.LIVE:
        return f"stays live, {volts(story.touch)}"
    if math.isinf(story.clearing):
        return f"{volts(story.touch)}, never ends"
    return f"{volts(story.touch)} for {seconds(story.clearing)}"


def day_cell(item: Ranked) -> str:
    """Write what a normal day shows in a few words, for a table."""
    day = item.day
    if day is None:
        return "not looked at"
    if not day.shows:
        return "nothing"
    if day.opens:
        return "a residual device opens"
    change = max(1 - day.low, day.high - 1)
    if change > VOLTAGE_PART:
        return f"a load at {percent(day.high if day.high - 1 >= 1 - day.low else day.low)}"
    return f"{amps(day.stray)} stray"
