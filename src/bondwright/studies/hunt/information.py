"""What a reading is expected to tell of the cause, in bits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from scipy.special import ndtr

from bondwright.studies.hunt.nuisance import Floats

CLASSES: Final = 40
"""Classes of a reading's value that are told apart in reckoning what it tells."""

_SPREAD: Final = (-1.2, 0.0, 1.2)


def information(
    ids: Sequence[str],
    chance: Floats,
    mean: Floats,
    sigma: Floats,
    spread: Sequence[float] = _SPREAD,
    classes: int = CLASSES,
) -> Floats:
    """Return what each candidate is expected to tell of the cause, bits, (C,).

    ``I = sum_k p_k sum_b P(b | id of k) log(P(b | id of k) / P(b))`` over classes b of the reading,
    as many from every hypothesis; classes lose little, and never add. Variants of one cause count
    as one.

    Args:
        ids: of K hypotheses.
        chance: of each, (K,).
        mean: what each expects, (K, C).
        sigma: standard uncertainty of that, (K, C).
        spread: standard uncertainties from each mean at which classes may end.
        classes: of a reading.
    """
    names = {name: j for j, name in enumerate(dict.fromkeys(ids))}
    own = np.zeros((len(names), len(ids)))
    own[[names[id] for id in ids], np.arange(len(ids))] = chance
    total = np.maximum(own.sum(axis=1), 1e-300)[:, None]
    points = np.sort((mean + sigma * np.array(spread)[:, None, None]).reshape(-1, mean.shape[1]), 0)
    edges = points[np.linspace(0, len(points) - 1, classes + 1).astype(np.int64)[1:-1]]
    below = ndtr((edges[:, None] - mean) / sigma)  # (B - 1, K, C)
    ends = np.ones((1, *mean.shape))
    share = np.diff(np.concatenate([0 * ends, below, ends]), axis=0)
    joint = np.einsum("nk,bkc->bnc", own, share, optimize=True)
    mixed = np.maximum(joint.sum(axis=1, keepdims=True), 1e-300)
    rise = np.log2(np.maximum(joint / total, 1e-300) / mixed)
    return np.asarray(np.maximum(np.sum(joint * rise, axis=(0, 1)), 0.0))
