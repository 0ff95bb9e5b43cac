"""Samples of unknown quantities, spread evenly: a Latin hypercube.

Each quantity's likelihood is cut into as many equal parts as there are samples, and every part
is taken once (M. D. McKay, R. J. Beckman, W. J. Conover, Technometrics 21 (1979) 239-245; from
memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from bondwright.site.ranges import Unknown
from bondwright.studies.fault_parts import Floats


def latin_hypercube(samples: int, quantities: int, seed: int) -> Floats:
    """Return shares of likelihood between 0 and 1, shape (samples, quantities).

    Args:
        samples: how many.
        quantities: how many each has.
        seed: the same gives the same.
    """
    dice = np.random.Generator(np.random.PCG64(seed))
    found = np.empty((samples, quantities))
    for k in range(quantities):
        found[:, k] = (dice.permutation(samples) + dice.random(samples)) / samples
    return found


def values_of(unknown: Sequence[Unknown], shares: Floats) -> Floats:
    """Return the values that lie at shares of likelihood, same shape."""
    found = np.empty_like(shares)
    for k, one in enumerate(unknown):
        found[:, k] = [one.value.at(float(share)) for share in shares[:, k]]
    return found
