"""Field tests of a site in plain words, for the test sheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bondwright.explain.earth import tell_fit, verdict_of
from bondwright.explain.story import Story
from bondwright.explain.words import listed
from bondwright.rules.answer import Verdict
from bondwright.site.ground import EarthTestKind
from bondwright.units import Dimension, UnitSystem, show

if TYPE_CHECKING:
    from bondwright.studies.earth_tests import JudgedTest

APART: float = 2.0
"""Measured and calculated that differ by more than this factor are pointed out."""


def tell_test(one: JudgedTest, system: UnitSystem | None = None) -> Story:
    """Tell a field test, with what was calculated beside it.

    The caution that goes with every such test (:data:`bondwright.earth.judged.CAUTION`) is left
    to be said once for all of them.
    """
    if one.fit is not None:
        told = tell_fit(one.fit, system)
        return Story(f"{one.id}: survey", told.sentences, told.verdict)
    if one.judged is None:
        return Story(one.id, ("No result.",), Verdict.CANNOT_TELL)
    beside = compared(one)
    sentences = (*one.judged.words, beside) if beside else one.judged.words
    return Story(f"{one.id}: {one.test.kind.value}", sentences, verdict_of(one.judged.verdict))


def compared(one: JudgedTest) -> str:
    """Say how a measurement stands to what was calculated; nothing where it can't be compared."""
    if one.calculated is None or one.measured is None:
        return ""
    text = f"Calculated for {listed(one.test.of)}: {show(one.calculated, Dimension.RESISTANCE)}."
    if one.test.kind is EarthTestKind.CLAMP:
        text += " A clamp reads that and the rest of its loop."
        if one.measured < one.calculated:
            text += (
                " This one read less: the ground is better than it was taken for, or metal closes "
                "the loop beside the earth."
            )
        return text
    ratio = one.measured / one.calculated if one.calculated else 1.0
    if not 1 / APART <= ratio <= APART:
        text += (
            " They are far apart: the soil, the shape or the reading isn't what it was taken for. "
            "What was measured counts."
        )
    return text
