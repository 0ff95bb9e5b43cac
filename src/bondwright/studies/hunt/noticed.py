"""What somebody noticed: a reading that isn't what it used to be.

Most hunts begin so. Loads and electrodes that nobody knows make a single reading say little, but
they were there before as well: whoever knows the site says that something *moved* it. A defect
that hardly moves that reading is then unlikely to be what was noticed, and so is "nothing wrong".
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import ndtr

from bondwright.studies.hunt.hypotheses import NOTHING, Hypothesis
from bondwright.studies.hunt.instruments import Quantity
from bondwright.studies.hunt.likelihood import Model
from bondwright.studies.hunt.nuisance import Floats
from bondwright.studies.hunt.readings import Reading
from bondwright.studies.hunt.settings import settings

MISTAKEN: Final = 0.05
"""How often something is taken for unusual that isn't (common practice, from memory)."""

PART: Final = 0.3
"""Part of a reading by which it has to move before it is noticed as often as not."""

LINE_PART: Final = 0.04
"""The same of a voltage that feeds something: lamps show it."""

LINE_V: Final = 50.0
"""Voltages from here on feed something, V."""

SIGMAS: Final = 3.0
"""Standard uncertainties of its instrument that it has to move besides."""

WIDTH: Final = 0.7
"""Standard deviation of what is noticed, in the logarithm: people differ, and so do loads."""


@dataclass(frozen=True, slots=True)
class Priors:
    """How likely each defect is before anything was measured.

    Attributes:
        own: log prior of each variant, by the id of its cause.
        seen: for each id how likely each reading that was noticed would have been, (noticed,);
            empty where nothing was.
    """

    own: Mapping[str, float]
    seen: Mapping[str, Floats]

    def of(self, item: Hypothesis) -> float:
        """Return the log prior of one variant; each defect beside the first counts once more."""
        members = item.members or (item.id,)
        further = math.log(settings().second / sum(settings().weights.values()))
        worth = (len(members) - 1) * further + sum(self.own[m] for m in members)
        if not self.seen:
            return worth
        return worth + float(np.log(1 - self._missed(members)).sum())

    def beside(self, parent: Hypothesis, others: Sequence[Hypothesis]) -> Floats:
        """Return the log priors of a hypothesis together with each of others."""
        further = math.log(settings().second / sum(settings().weights.values()))
        members = parent.members or (parent.id,)
        worth = len(members) * further + sum(self.own[m] for m in members)
        own = np.array([self.own[h.id] for h in others]) + worth
        if not self.seen:
            return own
        missed = self._missed(members)
        joint = 1 - missed * (1 - np.array([self.seen[h.id] for h in others]))
        return np.asarray(own + np.log(joint).sum(axis=1))

    def _missed(self, members: Sequence[str]) -> Floats:
        """Return how likely each reading would have gone unnoticed with all of some defects."""
        return np.asarray(np.prod([1 - self.seen[m] for m in members], axis=0))


def priors_of(
    own: Mapping[str, float],
    model: Model,
    variants: Sequence[Hypothesis],
    used: Sequence[Reading],
) -> Priors:
    """Return the priors of variants once what was noticed is taken into account.

    Args:
        own: log prior of each variant by the id of its cause.
        model: of the readings.
        variants: every single defect in its sizes, and "nothing wrong".
        used: the readings, in the model's order.
    """
    which = [k for k, reading in enumerate(used) if reading.noticed]
    if not which:
        return Priors(own, {})
    size = model.tell(variants, slopes=False).size[:, which]
    before = size[list(variants).index(NOTHING)]
    usual = np.array([_usual(used[k], float(v)) for k, v in zip(which, before, strict=True)])
    with np.errstate(divide="ignore"):
        far = np.log(np.abs(size - before) / usual) / WIDTH
    likely = MISTAKEN + (1 - MISTAKEN) * ndtr(far)
    by_id: dict[str, list[Floats]] = {}
    for item, row in zip(variants, likely, strict=True):
        by_id.setdefault(item.id, []).append(row)
    return Priors(own, {id: np.mean(rows, axis=0) for id, rows in by_id.items()})


def _usual(reading: Reading, before: float) -> float:
    """Return how far a reading has to move before it is noticed as often as not, SI."""
    feeds = reading.quantity is Quantity.VOLTAGE and before >= LINE_V
    part = LINE_PART if feeds else PART
    return part * before + SIGMAS * reading.instrument.uncertainty(before)
