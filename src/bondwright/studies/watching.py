"""What of a network's overcurrent devices never changes: their bands, poles and places."""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cache, lru_cache

import numpy as np
import numpy.typing as npt

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import TimeBand
from bondwright.devices.bands import band
from bondwright.devices.curves import UserCurve, curves_of
from bondwright.devices.residual import residual_band
from bondwright.network.build import Network


def known_band(network: Network, rating: DeviceRating) -> TimeBand | None:
    """Return the band of a device, or None where no limits are known for it.

    A device that names a curve of the site's own has that one.
    """
    if rating.curve_name is None:
        return _known_band(rating)
    try:
        return band(rating, _curves(network))
    except CatalogError:
        return None


@lru_cache(maxsize=8)
def _curves(network: Network) -> Mapping[str, UserCurve]:
    return curves_of(network.plan.curves)


@cache
def _known_band(rating: DeviceRating) -> TimeBand | None:
    try:
        return band(rating)
    except CatalogError:
        return None


def is_loose(rating: DeviceRating) -> bool:
    """Whether a breaker's slow edge is wide for want of its setting or its maker's curve.

    The standard's limits say when a breaker of the kind has opened for sure. Most open much
    sooner, and the maker's curve says so; that isn't so for devices with gates in the standard.
    """
    return (
        rating.kind is DeviceKind.BREAKER
        and rating.instantaneous_a is None
        and rating.curve_name is None
    )


class Watch:
    """What of a network's devices never changes.

    Attributes:
        rows: rows of all poles.
        names: ids of devices with poles.
        depth: how many runs lie between each and the source.
    """

    def __init__(self, network: Network) -> None:
        upstream = network.state.topology.upstream
        rows: list[int] = []
        first: list[int] = []
        least: list[float] = []
        names: list[str] = []
        for name, device in network.devices.items():
            if not device.poles:
                continue
            names.append(name)
            first.append(len(rows))
            rows += [network.solver.switch_row[pole.switch] for pole in device.poles]
            curve = known_band(network, device.rating)
            leak = residual_band(device.rating)
            acts = math.inf if curve is None else least_current(curve)
            least.append(acts if leak is None else 0.0)
        self.rows = np.array(rows, dtype=np.int64)
        self.names = np.array(names, dtype=object)
        self._first = np.array(first, dtype=np.int64)
        self._least = np.array(least)
        at = {device.at for device in network.devices.values()}
        depths = {place: sum(1 for _ in upstream(place)) for place in at}
        self.depth = {name: depths[device.at] for name, device in network.devices.items()}

    def may_act(self, amps: npt.NDArray[np.float64]) -> npt.NDArray[np.bool_]:
        """Return which devices carry enough in any pole to act at all."""
        if not len(self._first):
            return np.zeros(0, dtype=bool)
        most: npt.NDArray[np.bool_] = np.maximum.reduceat(amps, self._first) >= self._least
        return most


@lru_cache(maxsize=8)
def watch_of(network: Network) -> Watch:
    """Return what of a network's devices never changes."""
    return Watch(network)


def least_current(curve: TimeBand) -> float:
    """Return the current below which no edge of a band operates, A."""
    starts = [edge.points[0][0] for edge in (curve.quick, curve.slow) if edge.points]
    return min(starts, default=math.inf)
