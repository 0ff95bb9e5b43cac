"""Time-current plots of every chain of devices on a site, chains alike drawn once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.devices.band import TimeBand
from bondwright.explain.faults import fault_name
from bondwright.explain.words import amps, capital, counted, device_name
from bondwright.network.build import PlacedDevice
from bondwright.papers.results import Results
from bondwright.studies.faults import CLEARED_A, FaultKind, FaultResult
from bondwright.studies.watching import known_band

MOST_BANDS: Final = 6
"""Bands that can be told apart in one plot."""
MOST_CHAINS: Final = 12
"""Plots in a report."""


@dataclass(frozen=True, slots=True)
class Chain:
    """Devices from a place back to its source.

    Attributes:
        place: the last place of it.
        bands: label and band of each device, the nearest to the place first.
        fault: the weakest fault to metal there; None where there is none.
        alike: how many other places have the same devices in a row.
    """

    place: str
    bands: tuple[tuple[str, TimeBand], ...]
    fault: FaultResult | None
    alike: int

    @property
    def caption(self) -> str:
        """What to look at."""
        text = f"The devices on the way to {self.place}"
        if self.alike:
            text += f" (and to {counted(self.alike, 'other place')} behind the same ratings)"
        if self.fault is not None and self.fault.current > CLEARED_A:
            text += f"; the line is {fault_name(self.fault)}, {amps(self.fault.current)}"
        return text + "."


def chains(results: Results) -> tuple[tuple[Chain, ...], int]:
    """Return the chains to plot, each within one system, longest first, and how many are left.

    A chain that is the beginning of a longer one is drawn with it.
    """
    weakest: dict[str, FaultResult] = {}
    for f in results.faults:
        if f.fault.kind is not FaultKind.LINE_TO_METAL or f.supply_side:
            continue
        if f.fault.place not in weakest or f.current < weakest[f.fault.place].current:
            weakest[f.fault.place] = f
    rows: dict[tuple[str, ...], list[str]] = {}
    devices: dict[str, list[PlacedDevice]] = {}
    for place in results.plan.topology.order:
        found = _devices(results, place)
        if found:
            devices[place] = found
            rows.setdefault(tuple(str(d.rating) for d in reversed(found)), []).append(place)
    whole = [key for key in rows if not any(o != key and o[: len(key)] == key for o in rows)]
    made = [_chain(results, rows[key], devices, weakest) for key in whole]
    made = [one for one in made if one.bands]
    made.sort(key=lambda one: (-len(one.bands), -one.alike))
    return tuple(made[:MOST_CHAINS]), max(0, len(made) - MOST_CHAINS)


def _chain(
    results: Results,
    places: Sequence[str],
    devices: dict[str, list[PlacedDevice]],
    weakest: dict[str, FaultResult],
) -> Chain:
    def current(place: str) -> float:
        return weakest[place].current if place in weakest else float("inf")

    place = min(places, key=current)
    bands = _bands(results, devices[place])
    return Chain(place, bands, weakest.get(place), len(places) - 1)


def chain_bands(results: Results, place: str) -> tuple[tuple[str, TimeBand], ...]:
    """Return label and band of the devices ahead of a place in its system, the nearest first."""
    return _bands(results, _devices(results, place))


def _bands(results: Results, devices: Sequence[PlacedDevice]) -> tuple[tuple[str, TimeBand], ...]:
    bands = []
    for device in devices[:MOST_BANDS]:
        band = known_band(results.quiet, device.rating)
        if band is not None:
            said = device_name(device.id, device.at, str(device.rating)).removeprefix("the ")
            bands.append((capital(said), band))
    return tuple(bands)


def _devices(results: Results, place: str) -> list[PlacedDevice]:
    topology, devices = results.plan.topology, results.quiet.devices
    names = [f"main {place}"]
    for run in topology.upstream(place):
        above = results.plan.runs[run].from_
        names += [f"device {run}", f"main {above}"]
        if above in results.plan.site.transformers:
            break  # beyond it the same fault is another current
    return [devices[name] for name in names if name in devices]
