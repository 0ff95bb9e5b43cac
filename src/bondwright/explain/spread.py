"""Ranges of answers told in plain words: from where to where, and which unknown matters most."""

from __future__ import annotations

import math
from collections.abc import Callable

from bondwright.explain.words import amps, capital, listed, percent, seconds, volts
from bondwright.rules.answer import Verdict
from bondwright.studies.spread.matters import FEWEST, Spread
from bondwright.studies.spread.study import FaultSpread, Sampled, StraySpread

_WAYS = {1: ", rises with it", -1: ", falls with it", 0: ""}


def ranged(found: Spread, say: Callable[[float], str]) -> str:
    """Write the range of an answer: "1.2 kA .. 1.4 kA"."""
    low, high = _say(found.least, say), _say(found.greatest, say)
    return low if low == high else f"{low} .. {high}"


def _say(value: float, say: Callable[[float], str]) -> str:
    return "never" if math.isinf(value) else say(value)


def matters_cell(found: Spread, sampled: Sampled) -> str:
    """Say in a few words what an answer depends on most."""
    if found.least == found.greatest:
        return "nothing: it stays"
    if not found.shares:
        return "can't tell: more samples" if sampled.samples < FEWEST else "nothing stands out"
    one = found.shares[0]
    return f"{sampled.unknown[one.quantity].name} ({percent(one.share)})"


def tell_shares(found: Spread, sampled: Sampled, what: str) -> str:
    """Tell what an answer depends on, in a sentence; "" where it doesn't move."""
    if found.least == found.greatest:
        return ""
    if not found.shares:
        return f"No unknown stands out in {what} from {sampled.samples} samples."
    parts = [
        f"{sampled.unknown[one.quantity].name} ({percent(one.share)}{_WAYS[one.way]})"
        for one in found.shares[:4]
    ]
    more = len(found.shares) - 4
    if more > 0:
        parts.append(f"{more} more")
    by = ", by rank" if found.by_rank else ""
    alone = f"{percent(found.rest)} is in no unknown alone"
    return f"{capital(what)} hangs{by} on {listed(parts)}; {alone}."


def tell_fault_spread(found: FaultSpread, sampled: Sampled) -> tuple[str, ...]:
    """Tell one fault over all samples."""
    said = [
        f"{capital(str(found.fault))}: draws "
        f"{ranged(found.current, amps)} (nominal {amps(found.current.nominal)}), is over in "
        f"{ranged(found.clearing, seconds)}, metal at {ranged(found.touch, volts)}. "
        + capital(verdict_cell(found))
        + ".",
        tell_shares(found.current, sampled, "its current"),
        tell_shares(found.clearing, sampled, "the time it takes"),
        tell_shares(found.touch, sampled, "the voltage on metal"),
    ]
    return tuple(sentence for sentence in said if sentence)


def verdict_cell(found: FaultSpread) -> str:
    """Say in how many of the samples a fault falls short."""
    short = found.verdicts[Verdict.FALLS_SHORT]
    unclear = found.verdicts[Verdict.CANNOT_TELL]
    if short == 0 and unclear == 0:
        return "holds in every sample"
    parts = [f"falls short in {percent(short)} of the samples"] if short else []
    if unclear:
        parts.append(f"can't be told in {percent(unclear)}")
    return ", ".join(parts)


def tell_stray_spread(found: StraySpread, sampled: Sampled, name: str) -> tuple[str, ...]:
    """Tell one current on metal over all samples."""
    said = [
        f"{name}: {ranged(found.amperes, amps)} (nominal {amps(found.amperes.nominal)}); neutral "
        f"current where it should not be in {percent(found.objectionable)} of the samples.",
        tell_shares(found.amperes, sampled, "it"),
    ]
    return tuple(sentence for sentence in said if sentence)


def tell_samples(sampled: Sampled) -> tuple[str, ...]:
    """Tell what was sampled and how far the answers go."""
    names = [f"{one.name} {one.text}" for one in sampled.unknown[:6]]
    more = len(sampled.unknown) - len(names)
    if more > 0:
        names.append(f"{more} more")
    said = [
        f"{sampled.samples} samples, spread evenly over {len(sampled.unknown)} unknown "
        f"{'quantities' if len(sampled.unknown) > 1 else 'quantity'} taken as independent "
        f"(Latin hypercube, seed {sampled.seed}): {listed(names)}.",
        "Least and greatest are of these samples; a corner that none came near may lie outside. "
        "A share is the part of an answer's variance that would go if that quantity were known "
        "(Sobol's first-order index); what is not told from chance is left out.",
    ]
    if sampled.resized:
        said.append(
            f"In {percent(sampled.resized)} of the samples the plan itself would be another "
            "(other sizes, other ties, other electrodes); each was studied by its own plan. Give "
            "the sizes that stand to hold them."
        )
    if sampled.as_table:
        said.append("Steel raceways are as they are without current.")
    return tuple(said)


def tell_nominal(plan_unknown: tuple[tuple[str, str, str], ...]) -> str:
    """Say which values were taken where ranges are given and no samples were asked for.

    Args:
        plan_unknown: (name, range, nominal value) of each.
    """
    names = [f"{name} {nominal} (of {text})" for name, text, nominal in plan_unknown[:6]]
    if len(plan_unknown) > 6:
        names.append(f"{len(plan_unknown) - 6} more")
    return (
        f"Taken at nominal values: {listed(names)}. --samples 256 gives the range of the answers."
    )
