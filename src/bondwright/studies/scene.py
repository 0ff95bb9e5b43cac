"""A network in which a fault happens: bolted, through a resistance, or as an arc."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

from bondwright.network.build import Network
from bondwright.network.circuit import EARTH
from bondwright.network.limits import solve_with_inverters
from bondwright.network.raceways import Tube, settled
from bondwright.network.solve import Change, Solution
from bondwright.network.steel import TubeSurfaces
from bondwright.studies.fault_model import Fault, FaultKind

_ARC_STEPS: Final = 60
_ARC_CLOSE: Final = 1e-9


class Scene:
    """A network in which one fault happens.

    Args:
        network: built without loads.
        fault: what happens.
        standing: what is different about the circuit all along.
        settle: whether steel raceways are taken at their own currents.

    Raises:
        ValueError: the fault names a terminal that isn't there.
    """

    def __init__(
        self,
        network: Network,
        fault: Fault,
        standing: Sequence[Change] = (),
        *,
        settle: bool = True,
    ) -> None:
        self.network = network
        self.fault = fault
        self.standing = tuple(standing)
        self.settle = settle and bool(network.steel)
        self._count = 0
        self.settled = True
        self.resistance = fault.impedance
        self._walls: Mapping[Tube, TubeSurfaces] | None = None
        self._ends = joins_of(fault)
        for node in {node for pair in self._ends for node in pair} - {EARTH}:
            if node not in network.solver.index:
                msg = f"{fault}: there is no terminal {node!r}"
                raise ValueError(msg)

    def joins(self, resistance: float) -> list[Change]:
        """Return the changes that make the fault, each through so many ohm."""
        if self.fault.kind is FaultKind.THREE_LINES and resistance:
            # A star of equal branches as the triangle that it equals.
            a, b = self._ends[0]
            c = self._ends[1][1]
            ends = [(a, b), (b, c), (c, a)]
            return [self.network.solver.join(x, y, 3 * resistance) for x, y in ends]
        return [self.network.solver.join(a, b, resistance) for a, b in self._ends]

    def solve(self, opened: Sequence[Change] = ()) -> Solution:
        """Solve with the fault and with what has opened; an arc finds its resistance."""
        if not self.fault.arc:
            self.resistance = self.fault.impedance
            return self._solve(opened, self.resistance)
        a, b = self._ends[0]
        free = self._settle([*opened, *self.standing])
        volts = abs(free.between(a, b))
        if volts <= self.fault.arc:
            self.resistance = math.inf
            return self._solve(opened, 1e12)
        short = self._solve(opened, self.fault.impedance)
        current = short.change_current(0)
        z = free.between(a, b) / current if current else complex(math.inf)
        r = _arc_resistance(free.between(a, b), z, self.fault.arc)
        solution = self._solve(opened, self.fault.impedance + r)
        for _ in range(_ARC_STEPS if self.settle else 0):
            burning = abs(solution.change_current(0)) * r
            if abs(burning - self.fault.arc) <= _ARC_CLOSE * self.fault.arc:
                break
            # Steel changes with the current: take the loop behind the arc as it is now.
            z = free.between(a, b) / solution.change_current(0) - r
            r = _arc_resistance(free.between(a, b), z, self.fault.arc)
            solution = self._solve(opened, self.fault.impedance + r)
        self.resistance = self.fault.impedance + r
        return solution

    def _solve(self, opened: Sequence[Change], resistance: float) -> Solution:
        joins = self.joins(resistance)
        self._count = len(joins)
        return self._settle([*joins, *opened, *self.standing])

    def without(self) -> Solution:
        """Solve without the fault."""
        return self._settle(self.standing)

    def _settle(self, changes: Sequence[Change]) -> Solution:
        network = self.network
        if not self.settle:
            if not network.inverters:
                return network.solver.solve(changes)
            return solve_with_inverters(network.solver, network.inverters, changes)[0]
        solution, report = settled(network, changes, start=self._walls)
        if report is not None:
            self._walls = report.surfaces
            self.settled = self.settled and report.converged
        return solution

    def current(self, solution: Solution) -> float:
        """Return the largest current in any terminal of the fault, A."""
        drawn = [solution.change_current(k) for k in range(self._count)]
        if self.fault.kind is FaultKind.THREE_LINES:
            if len(drawn) == 3:
                a, b, c = drawn
                return max(abs(a - c), abs(b - a), abs(c - b))
            a, b = drawn
            return max(abs(a), abs(b - a), abs(b))
        return max(abs(i) for i in drawn)


def joins_of(fault: Fault) -> tuple[tuple[str, str], ...]:
    """Return the pairs of nodes that a fault joins, the one it is named after first."""
    a = f"{fault.place}:{fault.a}"
    match fault.kind:
        case FaultKind.THREE_LINES:
            b = f"{fault.place}:{fault.b}"
            return (a, b), (b, f"{fault.place}:{fault.also}")
        case FaultKind.LINE_TO_EARTH:
            return ((a, EARTH),)
        case FaultKind.SECOND_TO_METAL:
            first = (f"{fault.also_at}:{fault.also}", f"{fault.also_at}:G")
            return (a, f"{fault.place}:G"), first
        case _:
            return ((a, f"{fault.place}:{fault.b}"),)


def _arc_resistance(volts: complex, z: complex, arc: float) -> float:
    """Solve ``|E| R / |Z + R| = V`` for R, the arc's resistance, ohm."""
    e2, v2 = abs(volts) ** 2, arc**2
    half = v2 * z.real / (e2 - v2)
    return half + math.sqrt(half**2 + v2 * abs(z) ** 2 / (e2 - v2))
