"""The earth in plain words: what a survey says, what electrodes do, what to put in the ground."""

from __future__ import annotations

import math
from collections.abc import Sequence

from bondwright.earth.design import Goal, Proposal
from bondwright.earth.fit import Estimate, SoilFit
from bondwright.earth.judged import Judged
from bondwright.earth.judged import Verdict as EarthVerdict
from bondwright.earth.soil import Soil
from bondwright.earth.system import ElectrodeSystem
from bondwright.explain.story import Story
from bondwright.explain.words import counted, listed, percent
from bondwright.rules.answer import Verdict
from bondwright.units import Dimension, UnitSystem, show

MEASURE: str = (
    "The installed electrode's measured resistance decides, not this number: soil differs from "
    "place to place and from season to season."
)
"""Ends every computed resistance."""

NO_PATH: str = (
    "However low, earth is no path that opens a breaker, and no electrode replaces a bonding "
    "conductor."
)
"""Ends every resistance."""


MISFIT: float = 0.15
"""A curve that misses its readings by more than this (root mean square) explains nothing."""


def verdict_of(verdict: EarthVerdict) -> Verdict:
    """Return a field test's verdict as every other layer has it."""
    return Verdict(verdict.value)


def soil_words(soil: Soil, system: UnitSystem | None = "metric") -> str:
    """Write a soil in one clause: "300 ohm m down to 3 m, then 50 ohm m"."""
    parts = []
    for index, rho in enumerate(soil.rho_ohm_m):
        text = show(rho, Dimension.RESISTIVITY)
        if index < len(soil.thickness_m):
            text += f" down to {show(soil.tops_m[index + 1], Dimension.LENGTH, system)}"
        parts.append(text)
    return ", then ".join(parts)


def estimate_words(one: Estimate, system: UnitSystem | None = "metric") -> str:
    """Write an estimate with its interval: "2.9 m (2.7 m to 3.2 m)"."""
    dimension = Dimension.RESISTIVITY if one.name.startswith("rho") else Dimension.LENGTH

    def said(value: float) -> str:
        return show(value, dimension, system)

    if one.low <= 0 and math.isinf(one.high):
        return f"{said(one.value)} (the readings don't bound it)"
    if one.low <= 0:
        return f"{said(one.value)} (no more than {said(one.high)})"
    if math.isinf(one.high):
        return f"{said(one.value)} (no less than {said(one.low)})"
    return f"{said(one.value)} ({said(one.low)} to {said(one.high)})"


def tell_fit(fit: SoilFit, system: UnitSystem | None = "metric") -> Story:
    """Tell what a survey says about the ground."""
    count = len(fit.soil.rho_ohm_m)
    title = "Uniform ground" if count == 1 else f"Ground in {count} layers"
    rho = [one for one in fit.estimates if one.name.startswith("rho")]
    thick = [one for one in fit.estimates if not one.name.startswith("rho")]
    sentences = []
    if count == 1:
        sentences.append(
            f"The readings ask for one layer only: {estimate_words(rho[0], system)}, with 95 % "
            "confidence."
        )
    else:
        for index, one in enumerate(rho):
            where = f"Layer {index + 1}"
            tail = f", {estimate_words(thick[index], system)} thick" if index < len(thick) else ""
            sentences.append(f"{where} has {estimate_words(one, system)}{tail}.")
        sentences.append("Brackets are 95 % intervals.")
    sentences.append(f"The curve meets the readings within {percent(fit.rms)} (root mean square).")
    poor = fit.rms > MISFIT
    if poor:
        layers = "one layer" if count == 1 else f"{count} layers"
        sentences.append(
            f"No ground of {layers} reads like that: take more readings, so that more layers can "
            "be told apart, and look for buried metal. Don't build on these numbers."
        )
    sentences += [f"Look again at reading {odd.index + 1}: {odd.reason}." for odd in fit.suspicious]
    open_ones = [e.name for e in fit.estimates if not e.resolved]
    if open_ones:
        sentences.append(
            f"The readings don't settle {listed(open_ones)}: take more readings at wider "
            "spacings (for what lies deep) or closer ones (for the top), or count with the whole "
            "interval."
        )
    sentences.append(
        "Buried pipes and fences beside the pins spoil a survey without showing in the fit; "
        "repeat it at a right angle."
    )
    good = not open_ones and not fit.suspicious and not poor
    return Story(title, tuple(sentences), Verdict.HOLDS if good else Verdict.CANNOT_TELL)


def tell_electrodes(
    system: ElectrodeSystem, names: Sequence[str] | None = None, goal_ohm: float | None = None
) -> Story:
    """Tell what electrodes make together, and what they take from each other.

    Args:
        system: the electrodes.
        names: those joined; None for all.
        goal_ohm: what was asked for.
    """
    joined = system.joined(names)
    value = joined.resistance_ohm
    chosen = list(joined.shares)
    sentences = [
        f"In {soil_words(system.soil)}: {show(value, Dimension.RESISTANCE)} to remote earth."
    ]
    if len(chosen) > 1:
        ideal = 1 / sum(1 / system.alone(name) for name in chosen)
        sentences.append(
            f"{counted(len(chosen), 'electrode')} that did not disturb each other would make "
            f"{show(ideal, Dimension.RESISTANCE)}; standing this near costs "
            f"{percent(value / ideal - 1)}."
        )
        most = max(chosen, key=lambda name: joined.shares[name])
        sentences.append(f"{most} takes the most, {percent(joined.shares[most])} of the current.")
    for name, part in joined.floating.items():
        sentences.append(
            f"{name}, joined to none of them, rises with them to {percent(part)} of their voltage."
        )
    verdict = Verdict.CANNOT_TELL
    if goal_ohm is not None:
        verdict = Verdict.HOLDS if value <= goal_ohm else Verdict.FALLS_SHORT
        how = "not more" if verdict is Verdict.HOLDS else "more"
        sentences.append(f"Computed, that is {how} than {show(goal_ohm, Dimension.RESISTANCE)}.")
    sentences += [MEASURE, NO_PATH]
    return Story(f"Electrode of {show(value, Dimension.RESISTANCE)}", tuple(sentences), verdict)


def tell_judged(judged: Judged) -> Story:
    """Tell a field test, its caution last."""
    title = judged.test[0].upper() + judged.test[1:]
    return Story(title, (*judged.words, judged.caution), verdict_of(judged.verdict))


def tell_proposals(found: Sequence[Proposal], goal: Goal, system: UnitSystem = "metric") -> Story:
    """Tell what to put in the ground."""
    if goal.resistance_ohm is not None:
        wanted = show(goal.resistance_ohm, Dimension.RESISTANCE)
        dimension = Dimension.RESISTANCE
    else:
        wanted = f"{show(goal.touch_v or 0.0, Dimension.VOLTAGE)} of touch voltage"
        dimension = Dimension.VOLTAGE
    if not found:
        return Story("No arrangement", ("The plot is too small for any.",), Verdict.FALLS_SHORT)
    best = found[0]
    reached = f"{show(best.value, dimension)} at the worst"
    if best.verdict is EarthVerdict.FALLS_SHORT:
        return Story(
            "Nothing on this plot is enough",
            (
                f"The best found, {best.words}, makes {reached}, more than {wanted}.",
                "Deeper rods, a larger ring, or another plot are left; or protection that needs "
                "no low resistance.",
                MEASURE,
                NO_PATH,
            ),
            Verdict.FALLS_SHORT,
        )
    takes = [f"{best.rod_metres:.3g} m of rod"] if best.rods else []
    if best.trench_m:
        takes.append(f"{show(best.trench_m, Dimension.LENGTH, system)} of trench")
    first = "The cheapest found" if best.cost is not None else "One with the least trench"
    sentences = [f"{first}: {best.words}. It makes {reached} and takes {listed(takes)}."]
    if best.cost is None and len(found) > 1:
        sentences.append(
            "Without prices none is the cheapest; the table has those that no other beats in "
            "rods, metres of rod and metres of trench at once."
        )
    sentences += [MEASURE, NO_PATH]
    return Story(f"{best.words}", tuple(sentences), Verdict.HOLDS)
