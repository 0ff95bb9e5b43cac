"""Whether devices can interrupt what they may have to, and whether the right one opens."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from bondwright.devices.interrupting import Interrupting, interrupting_verdict
from bondwright.devices.selectivity import Selectivity, selectivity
from bondwright.network.build import Network, PlacedDevice, first_cycles
from bondwright.studies.available import Available, available_everywhere
from bondwright.studies.watching import known_band


@dataclass(frozen=True, slots=True)
class Duty:
    """A device and the most it may have to interrupt.

    Attributes:
        device: id in the network.
        at: the place where it stands.
        rating: what it is.
        available: greatest bolted fault current at its line terminals in the first cycles, A.
        between: the terminals between which that flows.
        judgement: its interrupting rating against it.
        of_motors: what of it running motors give, A.
        peak: highest instantaneous value it can have, A (see :func:`peak_factor`).
    """

    device: str
    at: str
    rating: str
    available: float
    between: str
    judgement: Interrupting
    of_motors: float = 0.0
    peak: float = 0.0


@dataclass(frozen=True, slots=True)
class Series:
    """Two devices in a row.

    Attributes:
        upstream: id of the one nearer the source.
        downstream: id of the one nearer the fault.
        available: greatest bolted fault current at the downstream one, A.
        judgement: whether only the downstream one opens; None where a band isn't known.
    """

    upstream: str
    downstream: str
    available: float
    judgement: Selectivity | None


def duties(network: Network) -> tuple[Duty, ...]:
    """Return for every device the most it may have to interrupt, in the network's order."""
    return tuple(_duties(network))


def in_series(network: Network) -> tuple[Series, ...]:
    """Return every two devices that follow each other in one system, with their selectivity."""
    return tuple(_in_series(network))


def _head(device: PlacedDevice) -> str:
    return f"{device.at}/in" if device.id.startswith("main ") else device.at


def _at_devices(network: Network) -> Mapping[str, Available]:
    return available_everywhere(network)


def _duties(network: Network) -> Iterator[Duty]:
    at = _at_devices(first_cycles(network))
    alone = _at_devices(network) if network.motors and not network.running else at
    for name, device in network.devices.items():
        most, without = at[_head(device)], alone[_head(device)]
        judgement = interrupting_verdict(device.rating, most.current)
        yield Duty(
            name,
            device.at,
            str(device.rating),
            most.current,
            most.between,
            judgement,
            max(0.0, most.current - without.current),
            most.peak,
        )


def _in_series(network: Network) -> Iterator[Series]:
    at = _at_devices(first_cycles(network))
    for name, device in network.devices.items():
        above = _next_upstream(network, device)
        if above is None:
            continue
        available = at[_head(device)].current
        bands = [known_band(network, network.devices[one].rating) for one in (above, name)]
        judgement = None
        if bands[0] is not None and bands[1] is not None and available > 0:
            judgement = selectivity(bands[0], bands[1], available)
        yield Series(above, name, available, judgement)


def _next_upstream(network: Network, device: PlacedDevice) -> str | None:
    """Return the device ahead of another in the same system, or None."""
    site, topology = network.plan.site, network.state.topology
    here = device.at
    if device.id.startswith("device ") and f"main {here}" in network.devices:
        return f"main {here}"
    while here in topology.fed_by and here not in site.transformers:
        run = topology.fed_by[here]
        if f"device {run}" in network.devices:
            return f"device {run}"
        here = site.runs[run].from_
        if f"main {here}" in network.devices:
            return f"main {here}"
    return None
