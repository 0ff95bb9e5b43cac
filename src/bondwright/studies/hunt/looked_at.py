"""Which hypotheses a proposal looks at, and how likely each of them is taken to be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from bondwright.studies.hunt.causes import Field
from bondwright.studies.hunt.nuisance import Floats

KEPT: Final = 240
"""Causes that a proposal looks at."""

LEAST: Final = 2e-4
"""A cause less likely than this is not looked at."""

SIZED: Final = 0.01
"""A cause likelier than this is looked at in two of its sizes, any other in the middle one."""

RIVALS: Final = 24
"""Hypotheses among which those are sought that nothing tells apart."""

FEWEST: Final = 12
"""Causes that a proposal looks at in any case."""

DOUBT: Final = 0.03
"""Share of chance that a proposal spreads over all hypotheses: readings can mislead."""


def looked_at(field: Field) -> tuple[list[int], Floats]:
    """Return the hypotheses that a proposal looks at, and the chance of each, summing to 1.

    The likeliest causes, each by its chance over all its sizes: a cause of many sizes, each of
    them unlikely, is as much to be looked for as one of a single size.
    """
    sizes: dict[str, list[int]] = {}
    for k, hypothesis in enumerate(field.hypotheses):
        sizes.setdefault(hypothesis.id, []).append(k)
    weight = np.exp(np.minimum(field.log_posterior, 0.0))
    whole = {id: float(weight[own].sum()) for id, own in sizes.items()}
    order = sorted(whole, key=lambda id: -whole[id])
    least = LEAST * min(1.0, whole[order[0]])
    kept, chance = list[int](), list[float]()
    for number, id in enumerate(order[:KEPT]):
        if number >= FEWEST and whole[id] <= least:
            break
        some = _middle(weight[sizes[id]], (0.25, 0.75) if whole[id] > SIZED else (0.5,))
        kept += [sizes[id][k] for k in some]
        chance += [whole[id] / len(some)] * len(some)
    share = np.array(chance)
    return kept, share / share.sum() * (1 - DOUBT) + DOUBT / len(share)


def _middle(weight: Floats, parts: Sequence[float]) -> list[int]:
    """Return the places at which parts of a weight lie below."""
    below = np.cumsum(weight)
    found = np.searchsorted(below, np.array(parts) * below[-1])
    return sorted({int(min(k, len(weight) - 1)) for k in found})


def rivals(field: Field) -> tuple[list[int], Floats]:
    """Return the likeliest hypotheses, sizes apart, and the chance of each."""
    order = np.argsort(-field.log_posterior)[:RIVALS]
    least = math.log(LEAST) + min(0.0, float(field.log_posterior[order[0]]))
    kept = [int(k) for j, k in enumerate(order) if j < FEWEST or field.log_posterior[k] > least]
    weight = np.exp(field.log_posterior[kept] - field.log_posterior[kept].max())
    return kept, np.asarray(weight / weight.sum())
