"""Time bands at many currents at once; the same numbers as :mod:`bondwright.devices.band`."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from bondwright.catalog.device_rating import DeviceRating
from bondwright.devices.band import Edge, TimeBand
from bondwright.devices.residual import residual_band
from bondwright.network.build import Network
from bondwright.studies.watching import known_band

Floats = npt.NDArray[np.float64]
Element = tuple[DeviceRating, bool]
"""A device and whether its residual element is meant."""

_NEVER: Final = np.inf


def edge_times(edge: Edge, amps: Floats, *, before: bool) -> Floats:
    """Return the time of an edge at each current.

    Args:
        edge: the edge.
        amps: A, any shape.
        before: the head of a step where there is one, else its foot.

    Returns:
        s, the same shape; infinity where the edge never operates.
    """
    if not edge.points:
        return np.full(amps.shape, _NEVER)
    currents, times, x, y, last = _arrays(edge)
    right = np.searchsorted(currents, amps, side="left" if before else "right")
    # Between two points; the formula of Edge.at, its ends kept.
    high = np.clip(right, 1, last)
    low = high - 1
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (y[high] - y[low]) * (np.log(amps) - x[low]) / (x[high] - x[low])
        found = np.exp(y[low] + slope)
    found = np.minimum(np.maximum(found, times[high]), times[low])
    beyond = right > last
    at_point = currents[np.clip(right - 1, 0, last)] == amps
    found = np.where(beyond | at_point, times[np.clip(right - 1, 0, last)], found)
    found = np.where(right == 0, _NEVER, found)
    if before:
        here = np.clip(right, 0, last)
        head = (right <= last) & (currents[here] == amps)
        found = np.where(head, times[here], found)
    return found


@cache
def _arrays(edge: Edge) -> tuple[Floats, Floats, Floats, Floats, int]:
    currents = np.array([i for i, _ in edge.points])
    times = np.array([t for _, t in edge.points])
    return currents, times, np.log(currents), np.log(times), len(currents) - 1


def band_of(network: Network, element: Element) -> TimeBand | None:
    """Return the band of an element, or None where none is known."""
    rating, residual = element
    return residual_band(rating) if residual else known_band(network, rating)


def band_times(band: TimeBand, amps: Floats) -> tuple[Floats, Floats]:
    """Return (slowest, fastest) times of a band at each current, s."""
    slow = edge_times(band.slow, amps, before=False)
    return slow, np.minimum(edge_times(band.quick, amps, before=True), slow)


def times_of(
    bands: Sequence[TimeBand], which: npt.NDArray[np.int64], amps: Floats
) -> tuple[Floats, Floats]:
    """Return slowest and fastest times where every current has a band of its own.

    Args:
        bands: the bands.
        which: index of the band of each current; the shape of ``amps``.
        amps: A.
    """
    slow, fast = np.full(amps.shape, _NEVER), np.full(amps.shape, _NEVER)
    for number in np.unique(which):
        here = which == number
        slow[here], fast[here] = band_times(bands[number], amps[here])
    return slow, fast
