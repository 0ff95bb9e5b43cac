"""Whether devices can interrupt what they may have to, and whether the right one opens."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass

from bondwright.devices.interrupting import Interrupting, interrupting_verdict
from bondwright.devices.selectivity import Selectivity, selectivity
from bondwright.network.build import Network, PlacedDevice, first_cycles
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
class Available:
    """The greatest bolted fault current at some terminals.

    Attributes:
        current: symmetrical r.m.s., A.
        between: between which it flows, in words.
        peak: highest instantaneous value it can have, A.
    """

    current: float = 0.0
    between: str = ""
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


def peak_factor(z: complex) -> float:
    """Return the highest instantaneous value of a fault current over its crest without offset.

    ``1.02 + 0.98 exp(-3 R/X)`` (IEC 60909-0), for a fault that begins at the worst moment.

    Args:
        z: impedance of the loop, ohm.
    """
    if z.imag <= 0:
        return 1.02
    return 1.02 + 0.98 * math.exp(-3 * max(z.real, 0.0) / z.imag)


def available_current(network: Network, head: str, place: str) -> Available:
    """Return the greatest bolted fault current at some terminals.

    Of three lines together, two lines, a line and the neutral, a line and the metal the one
    with most. Steel raceways count as they are without current, where they hinder least but for
    saturation.

    Args:
        network: built without loads.
        head: what the lines' nodes begin with: a place, or ``place/in`` ahead of its main.
        place: whose neutral and metal they are.
    """
    solver = network.solver
    lines = [f"{head}:{t}" for t in ("L1", "L2", "L3") if f"{head}:{t}" in solver.index]
    others = [f"{place}:{t}" for t in ("N", "G") if f"{place}:{t}" in solver.index]
    before = solver.solve()
    found: list[tuple[float, str, complex]] = []
    for a, b in (*itertools.combinations(lines, 2), *itertools.product(lines, others)):
        solution = solver.solve([solver.join(a, b)])
        drawn = solution.change_current(0)
        z = before.between(a, b) / drawn if drawn else 0j
        found.append((abs(drawn), f"{_terminal(a)} and {_terminal(b)}", z))
    if len(lines) == 3:
        a, b, c = lines
        solution = solver.solve([solver.join(a, b), solver.join(b, c)])
        one, other = solution.change_current(0), solution.change_current(1)
        drawn, line = max(((one, a), (other - one, b), (-other, c)), key=lambda at: abs(at[0]))
        middle = sum(before.voltage(node) for node in lines) / 3
        z = (before.voltage(line) - middle) / drawn if drawn else 0j
        found.append((abs(drawn), "three lines", z))
    if not found:
        return Available()
    current, between, z = max(found, key=lambda one: one[0])
    return Available(current, between, math.sqrt(2) * peak_factor(z) * current)


def duties(network: Network) -> tuple[Duty, ...]:
    """Return for every device the most it may have to interrupt, in the network's order."""
    return tuple(_duties(network))


def in_series(network: Network) -> tuple[Series, ...]:
    """Return every two devices that follow each other in one system, with their selectivity."""
    return tuple(_in_series(network))


def _terminal(node: str) -> str:
    return node.rpartition(":")[2]


def _head(device: PlacedDevice) -> str:
    return f"{device.at}/in" if device.id.startswith("main ") else device.at


def _availables(network: Network) -> dict[str, Available]:
    found: dict[str, Available] = {}
    for device in network.devices.values():
        head = _head(device)
        if head not in found:
            found[head] = available_current(network, head, device.at)
    return found


def _duties(network: Network) -> Iterator[Duty]:
    at = _availables(first_cycles(network))
    alone = _availables(network) if network.motors and not network.running else at
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
    at = _availables(first_cycles(network))
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
