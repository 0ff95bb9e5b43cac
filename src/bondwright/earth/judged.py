"""A measured value with its uncertainty against a goal, and the words for the test sheet."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright.units import Dimension, show

CAUTION: Final = (
    "Earth is no path that opens a breaker, and no electrode is a cure for a missing bonding "
    "conductor. Danger: don't open an electrode conductor to test it; it may carry current. The "
    "local code and the authority having jurisdiction decide what is needed."
)
"""Goes with every result."""


class Verdict(StrEnum):
    """Three answers; the third names what is missing."""

    HOLDS = "holds"
    FALLS_SHORT = "falls short"
    CANNOT_TELL = "cannot tell"


@dataclass(frozen=True, slots=True)
class Judged:
    """What a field test says.

    Attributes:
        test: name of the test.
        value_ohm: result [ohm, or ohm m for a soil box]; None if the readings give none.
        uncertainty_ohm: half width, same unit; None with no value.
        goal_ohm: what was asked for; None if nothing was.
        verdict: against the goal; "cannot tell" without a goal or a value.
        words: sentences for the test sheet, the result first.
        caution: goes with it.
    """

    test: str
    value_ohm: float | None
    uncertainty_ohm: float | None
    goal_ohm: float | None
    verdict: Verdict
    words: tuple[str, ...]
    caution: str = CAUTION


def against(value: float, uncertainty: float, goal: float | None) -> Verdict:
    """Judge "no more than" with an uncertainty.

    Args:
        value: measured.
        uncertainty: half width.
        goal: the most allowed; None if nothing was asked.
    """
    if goal is None:
        return Verdict.CANNOT_TELL
    if value + uncertainty <= goal:
        return Verdict.HOLDS
    if value - uncertainty > goal:
        return Verdict.FALLS_SHORT
    return Verdict.CANNOT_TELL


def said(value: float, uncertainty: float, unit: Dimension = Dimension.RESISTANCE) -> str:
    """Write a value with its uncertainty, both in one unit."""
    text = show(value, unit)
    number, _, name = text.partition(" ")
    if value == 0:
        return f"{number} ± {_two_digits(uncertainty)} {name}"
    # the prefix that the value is written with serves its uncertainty too
    scale = 10.0 ** round(math.log10(float(number) / value))
    tail = f" ({_two_digits(100 * uncertainty / value)} %)" if value > 0 else ""
    return f"{number} ± {_two_digits(uncertainty * scale)} {name}{tail}"


def _two_digits(value: float) -> str:
    """Write a number to two digits, and none as a power of ten that is easier read in full."""
    return f"{float(f'{value:.2g}'):g}"


def goal_words(verdict: Verdict, goal: float | None) -> str:
    """Say what a verdict against a goal means."""
    if goal is None:
        return "No goal was given, so nothing is judged."
    text = show(goal, Dimension.RESISTANCE)
    match verdict:
        case Verdict.HOLDS:
            return f"Even at the upper end of the uncertainty it is not more than {text}."
        case Verdict.FALLS_SHORT:
            return f"Even at the lower end of the uncertainty it is more than {text}."
        case Verdict.CANNOT_TELL:
            return (
                f"Not proven under {text}: the uncertainty reaches across it. Use a more accurate "
                "method, or improve the electrode."
            )


def check_reading(value: float, what: str, least: float = 0.0) -> float:
    """Return a reading that can be one.

    Raises:
        ValueError: negative, infinite or not a number.
    """
    if not least <= value < math.inf:
        raise ValueError(f"a {what} of {value} is not possible; give what the instrument showed")
    return value
