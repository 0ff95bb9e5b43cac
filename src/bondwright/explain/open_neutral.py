"""An open supply neutral told: what the metal stands at, and that nothing opens."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Final

from bondwright.explain.story import Story
from bondwright.explain.words import amps, percent, volts
from bondwright.rules.answer import Verdict
from bondwright.studies.open_neutral import OpenNeutral
from bondwright.units import Dimension, show

NOTHING: Final = 0.01
"""A load that gets less than this part of its voltage gets nothing."""
TOO_MUCH: Final = 1.15
"""Part of its voltage beyond which a load is in danger (common practice)."""


def ohms(value: float) -> str:
    """Write a resistance in three figures."""
    return show(value, Dimension.RESISTANCE)


def power(value: float) -> str:
    """Write the power of a load."""
    return show(value, Dimension.REAL_POWER)


def tell_open_neutral(study: OpenNeutral) -> Story:
    """Tell what an open supply neutral does to metal, loads and residual-current devices."""
    verdict = Verdict.HOLDS
    worst = float(study.metal.max(initial=0.0))
    here = study.now.metal if study.now else worst
    if here > study.limit:
        verdict = Verdict.FALLS_SHORT
    elif worst > study.limit:
        verdict = Verdict.CANNOT_TELL
    title = f"The neutral of {study.run} open"
    return Story(title, tuple(_sentences(study)), verdict)


def _sentences(study: OpenNeutral) -> Iterator[str]:
    if not study.tied:
        yield (
            "Neutral and metal are not joined behind the break: the metal stays where its own "
            f"electrode holds it, {volts(study.now.metal if study.now else 0.0)} to remote earth."
        )
    elif study.now is not None and math.isfinite(study.resistance):
        yield (
            f"With all that is in the ground as described, {ohms(study.resistance)} together, the "
            f"metal at {study.at} stands at {volts(study.now.metal)} to remote earth and "
            f"{amps(study.now.earth)} flow into the ground."
        )
    if study.tied:
        for k, watts in enumerate(study.powers):
            at = study.crosses(k)
            most = float(study.metal[k].max())
            if math.isinf(at):
                yield (
                    f"With {power(watts)} on, the metal stays under {volts(study.limit)} up to "
                    f"{ohms(float(study.resistances[-1]))}: {volts(most)} at most."
                )
            else:
                yield (
                    f"With {power(watts)} on, the metal passes {volts(study.limit)} from "
                    f"{ohms(at)} to earth and reaches {volts(most)}."
                )
    low = min(p.low for row in study.points for p in row)
    high = max(p.high for row in study.points for p in row)
    least = "nothing" if low < NOTHING else percent(low)
    yield f"Loads then get from {least} to {percent(high)} of their voltage." + (
        " What gets too much burns out, and can set fire to what is round it."
        if high > TOO_MUCH
        else ""
    )
    yield residual_words(study)
    if study.tied:
        yield (
            "A better electrode lowers the voltage and is no cure; no electrode of a building is "
            "good enough to be one. The cure is a sound neutral. If metal tingles, switch off at "
            "the main, keep people away from all metal, and call the utility: with the main off "
            "the metal is still joined to the supply's neutral."
        )


def residual_words(study: OpenNeutral) -> str:
    """Say what residual-current devices see."""
    if not study.devices or math.isnan(study.residual):
        return "There is no device behind the break."
    seen = "nothing" if study.residual < 1e-3 else f"at most {amps(study.residual)}"
    if study.residual_devices:
        opens = study.residual >= study.trips
        so = "one opens" if opens else "none opens"
        return (
            f"Residual-current devices see {seen} of it, where they open at {amps(study.trips)}: "
            f"what goes out by a line comes back by its neutral, so {so}."
        )
    return (
        f"A residual-current device on any of its circuits would see {seen} of it: what goes out "
        "by a line comes back by its neutral."
    )
