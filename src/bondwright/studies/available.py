"""Available fault current: the greatest bolted one between any terminals of a place."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import Final

import numpy as np

from bondwright.network.build import Network
from bondwright.network.circuit import Complex

_AT_ONCE: Final = 32
"""Places in one block of right-hand sides."""
_ALIKE: Final = 1e-7
"""Currents that differ by no more than this share are the same."""


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
    saturation. An inverter beside the supply counts with the most its lines can carry.

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
    most = Available(current, between, math.sqrt(2) * peak_factor(z) * current)
    return _with_inverters(network, place, most)


def _terminal(node: str) -> str:
    return node.rpartition(":")[2]


@lru_cache(maxsize=4)
def available_everywhere(network: Network) -> Mapping[str, Available]:
    """Return what is available at every place of a network and ahead of every main.

    Args:
        network: built without loads.

    Returns:
        By what the lines' nodes begin with: a place, or ``place/in`` ahead of its main.
    """
    index = network.solver.index
    heads = {name: name for name in network.plan.topology.order}
    for name in tuple(heads):
        if any(f"{name}/in:{line}" in index for line in ("L1", "L2", "L3")):
            heads[f"{name}/in"] = name
    return MappingProxyType(availables(network, heads))


def availables(network: Network, heads: Mapping[str, str]) -> dict[str, Available]:
    """Return what :func:`available_current` does for many places, from blocks of solutions.

    Args:
        network: built without loads.
        heads: what the lines' nodes begin with, and the place whose neutral and metal they are.
    """
    base = network.solver.solve()
    found: dict[str, Available] = {}
    every = {head: _terminals(network, head, place) for head, place in heads.items()}
    some = [head for head, nodes in every.items() if nodes[0] and sum(map(len, nodes)) > 1]
    for start in range(0, len(some), _AT_ONCE):
        block = some[start : start + _AT_ONCE]
        pairs: list[tuple[str, str]] = []
        places: dict[str, slice] = {}
        for head in block:
            first, *rest = (*every[head][0], *every[head][1])
            places[head] = slice(len(pairs), len(pairs) + len(rest))
            pairs += [(first, other) for other in rest]
        z = network.solver.transfer(pairs)
        for head in block:
            here = places[head]
            volts = np.array([base.between(a, b) for a, b in pairs[here]])
            most = _greatest(every[head], z[here, here], volts)
            found[head] = _with_inverters(network, heads[head], most)
    return {head: found.get(head, Available()) for head in heads}


def _with_inverters(network: Network, place: str, found: Available) -> Available:
    """Add what inverters that follow the same supply can give at most, whatever its phase.

    Past a delta-wye transformer the current of two lines can come out of one, by conservation of
    ampere-turns: sqrt 3 of what the ratio of the voltages gives.
    """
    topology = network.plan.topology
    system = topology.systems.get(place)
    if system is None or not found.current or not network.inverters:
        return found
    beside = (topology.site.runs[name] for name in topology.beside)
    joined = [{topology.root(run.from_), topology.root(run.to)} for run in beside]
    here = {topology.root(place)}
    while more := [one for one in joined if here & one and not one <= here]:
        here = here.union(*more)
    amps = 0.0
    for inverter in network.inverters:
        if inverter.forming or topology.root(inverter.name) not in here:
            continue
        ratio = inverter.system.line_to_line / system.voltages.line_to_line
        wound = topology.systems[inverter.name].origin != system.origin
        phases = math.sqrt(3) if wound and inverter.system.three_phase else 1.0
        amps += inverter.largest_current * ratio * phases
    return Available(found.current + amps, found.between, found.peak + math.sqrt(2) * amps)


def _terminals(network: Network, head: str, place: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    index = network.solver.index
    lines = tuple(n for t in ("L1", "L2", "L3") if (n := f"{head}:{t}") in index)
    return lines, tuple(n for t in ("N", "G") if (n := f"{place}:{t}") in index)


def _greatest(
    nodes: tuple[tuple[str, ...], tuple[str, ...]], z: Complex, volts: Complex
) -> Available:
    """Return the greatest current of a place.

    Args:
        nodes: its n lines, and its neutral and metal; m altogether.
        z: transfer impedances of the ports from the first to each other one, shape (m-1, m-1),
            ohm.
        volts: voltages of those ports, shape (m-1,), V.
    """
    lines, others = nodes
    count = len(lines) + len(others)
    # A port between two of the others is the difference of two ports from the first.
    from_first = np.vstack([np.zeros((1, count - 1)), np.eye(count - 1)])
    names = (*lines, *others)
    found: list[tuple[float, str, complex]] = []
    for a, b in _pairs(len(lines), count):
        port = from_first[b] - from_first[a]
        own = complex(port @ z @ port)
        if own != 0:
            drawn = complex(port @ volts) / own
            between = f"{_terminal(names[a])} and {_terminal(names[b])}"
            found.append((abs(drawn), between, own))
    if len(lines) == 3:
        found += _of_three(z[:2, :2], volts[:2])
    if not found:
        return Available()
    # Lines alike give the same but for rounding; the first of them is named.
    enough = max(one[0] for one in found) * (1 - _ALIKE)
    current, between, loop = next(one for one in found if one[0] >= enough)
    return Available(current, between, math.sqrt(2) * peak_factor(loop) * current)


def _pairs(lines: int, count: int) -> Iterator[tuple[int, int]]:
    yield from itertools.combinations(range(lines), 2)
    yield from itertools.product(range(lines), range(lines, count))


def _of_three(z: Complex, volts: Complex) -> Iterator[tuple[float, str, complex]]:
    try:
        second, third = np.linalg.solve(z, volts)
    except np.linalg.LinAlgError:
        return
    # Line 1 gives what the two others take; voltages are from line 1 to each.
    drawn = np.array([second + third, -second, -third])
    to_middle = np.array([0.0, -volts[0], -volts[1]])
    to_middle = to_middle - to_middle.mean()
    worst = int(np.argmax(np.abs(drawn)))
    loop = complex(to_middle[worst] / drawn[worst]) if drawn[worst] else 0j
    yield abs(drawn[worst]), "three lines", loop
