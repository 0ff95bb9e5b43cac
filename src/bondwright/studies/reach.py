"""Metal within reach of other metal, and the most voltage between two pieces of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

from bondwright.network.build import Network
from bondwright.network.solve import Solution
from bondwright.safety.touch import touch_verdict
from bondwright.studies.fault_model import TouchPair


def metal_phasors(network: Network, solution: Solution) -> dict[str, complex]:
    """Return the voltage of every place's metal to remote earth, V."""
    return {
        name: solution.voltage(f"{name}:G")
        for name, terminals in network.terminals.items()
        if "G" in terminals
    }


def worst_pair(network: Network, volts: Mapping[str, complex], clearing: float) -> TouchPair | None:
    """Return the two pieces of metal in reach of each other with the most voltage between them.

    In reach are the metal of any two places of the same building, and that of two places which a
    run joins: a cord, a hose or a frame can bring them together. A utility's pole isn't counted.

    Args:
        network: the network.
        volts: of the metal of every place to remote earth, V.
        clearing: how long it lasts, s; infinite if nothing opens.
    """
    best: tuple[float, str, str] | None = None
    for group in groups(network):
        found = farthest([(name, volts[name]) for name in group if name in volts])
        if found is not None and (best is None or found[0] > best[0]):
            best = found
    for a, b in joined(network):
        if a in volts and b in volts:
            apart = abs(volts[a] - volts[b])
            if best is None or apart > best[0]:
                best = (apart, a, b)
    if best is None:
        return None
    return TouchPair(best[1], best[2], touch_verdict(best[0], clearing))


def groups(network: Network) -> tuple[tuple[str, ...], ...]:
    """Return the places of each building; those without one stand together as one."""
    return _groups(network)


@lru_cache(maxsize=8)
def _groups(network: Network) -> tuple[tuple[str, ...], ...]:
    site = network.plan.site
    found: dict[str | None, list[str]] = {}
    for name, terminals in network.terminals.items():
        if name not in site.sources and "G" in terminals:
            building = getattr(network.state.topology.node(name), "building", None)
            found.setdefault(building, []).append(name)
    return tuple(tuple(group) for group in found.values() if len(group) > 1)


def joined(network: Network) -> Iterator[tuple[str, str]]:
    """Yield the two places of every run on site."""
    sources = network.plan.site.sources
    for run in network.plan.runs.values():
        if run.from_ not in sources:
            yield run.from_, run.to


def farthest(points: Sequence[tuple[str, complex]]) -> tuple[float, str, str] | None:
    """Return the two points that lie farthest apart, with their distance; None for fewer.

    Only corners of the convex hull can be farthest apart (A. M. Andrew's monotone chain,
    Inf. Proc. Letters 9 (1979) 216).
    """
    corners = _hull(sorted(points, key=lambda p: (p[1].real, p[1].imag)))
    best = None
    for i, (a, va) in enumerate(corners):
        for b, vb in corners[i + 1 :]:
            apart = abs(va - vb)
            if best is None or apart > best[0]:
                best = (apart, a, b)
    return best


def _hull(points: list[tuple[str, complex]]) -> list[tuple[str, complex]]:
    if len(points) < 4:
        return points
    halves = []
    for ordered in (points, points[::-1]):
        chain: list[tuple[str, complex]] = []
        for point in ordered:
            while len(chain) > 1 and _turns(chain[-2][1], chain[-1][1], point[1]) <= 0:
                chain.pop()
            chain.append(point)
        halves.append(chain[:-1])
    corners = halves[0] + halves[1]
    return corners if len(corners) > 1 else points[:2]


def _turns(a: complex, b: complex, c: complex) -> float:
    return ((b - a).conjugate() * (c - a)).imag
