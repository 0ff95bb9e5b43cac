"""How long a run could be and still have its faults cleared in time."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from bondwright.network.build import Network
from bondwright.network.runs import strands
from bondwright.network.solve import Change
from bondwright.studies.clearing import Course, follow
from bondwright.studies.fault_list import places_of
from bondwright.studies.fault_model import LONGEST_S, Fault, FaultKind
from bondwright.studies.scene import Scene

FARTHEST_M: Final = 10_000.0
"""Longest run looked at, m; one that could be longer still is said to be this long."""

SHORTEST_M: Final = 0.1
"""Shortest run looked at, m."""

_CLOSE: Final = 1e-3


@dataclass(frozen=True, slots=True)
class LongestRun:
    """The longest a run could be.

    Attributes:
        run: its id.
        fault: the fault at its end that decides.
        within: time within which it has to clear, s.
        length: of the run as it is, m.
        longest: m, by the slow edges of devices; 0 if even the shortest doesn't clear in time,
            :data:`FARTHEST_M` if any length does.
        at_best: m, by their quick edges: beyond it the fault surely lasts longer.
        current: of that fault as the run is, A.
        current_there: of that fault at the longest length, A.
    """

    run: str
    fault: Fault
    within: float
    length: float
    longest: float
    at_best: float
    current: float
    current_there: float

    @property
    def clears(self) -> bool:
        """Whether the run as it is clears in time."""
        return self.length <= self.longest

    @property
    def margin(self) -> float:
        """The longest length over the length as it is."""
        return self.longest / self.length


def longest_run(
    network: Network,
    run: str,
    *,
    within: float = LONGEST_S,
    kinds: Iterable[FaultKind] = (FaultKind.LINE_TO_METAL, FaultKind.LINE_TO_NEUTRAL),
    settle: bool = True,
) -> LongestRun | None:
    """Return the longest that a run could be and still clear every fault at its end in time.

    The run grows with everything in it; all else stays. Only the devices between the fault and
    the source count.

    Args:
        network: built without loads.
        run: its id.
        within: time allowed, s.
        kinds: faults at its end that have to clear.
        settle: whether steel raceways are taken at their own currents.

    Returns:
        The length, or None where the run's end has no such fault or no device stands ahead.

    Raises:
        KeyError: there is no such run.
    """
    planned = network.plan.runs[run]
    devices = _devices(network, planned.to)
    faults = list(_faults(network, planned.to, frozenset(kinds)))
    if not devices or not faults:
        return None
    trial = _Trial(network, run, within, devices, settle)
    weakest = min(faults, key=lambda fault: trial.current(fault, planned.length))
    # The weakest fault decides where all have the same device; where they don't, each is asked.
    found = [(trial.longest(fault, quick=False), fault) for fault in faults]
    longest, deciding = min(found, key=lambda pair: (pair[0], pair[1] != weakest))
    at_best = min(trial.longest(fault, quick=True) for fault in faults)
    return LongestRun(
        run=run,
        fault=deciding,
        within=within,
        length=planned.length,
        longest=longest,
        at_best=max(at_best, longest),
        current=trial.current(deciding, planned.length),
        current_there=trial.current(deciding, max(longest, SHORTEST_M)),
    )


def longest_runs(
    network: Network, runs: Iterable[str] | None = None, *, within: float = LONGEST_S
) -> dict[str, LongestRun]:
    """Return :func:`longest_run` of many runs; None means all."""
    names = network.plan.runs if runs is None else runs
    found = ((name, longest_run(network, name, within=within)) for name in names)
    return {name: one for name, one in found if one is not None}


def _faults(network: Network, place: str, kinds: frozenset[FaultKind]) -> Iterator[Fault]:
    terminals = dict(places_of(network)).get(place, ())
    primary = place in network.plan.site.transformers
    lines = [t for t in terminals if t.startswith("H" if primary else "L")]
    for kind, other in ((FaultKind.LINE_TO_METAL, "G"), (FaultKind.LINE_TO_NEUTRAL, "N")):
        if kind in kinds and other in terminals and not (primary and other == "N"):
            yield from (Fault(place, kind, line, other) for line in lines if line != "H0")


def _devices(network: Network, place: str) -> frozenset[str]:
    names = {f"main {place}"}
    for run in network.state.topology.upstream(place):
        names |= {f"device {run}", f"main {network.plan.runs[run].from_}"}
    return frozenset(names & network.devices.keys())


class _Trial:
    def __init__(
        self,
        network: Network,
        run: str,
        within: float,
        devices: frozenset[str],
        settle: bool,
    ) -> None:
        self.network = network
        self.run = run
        self.within = within
        self.devices = devices
        self.settle = settle

    def _scene(self, fault: Fault, length: float) -> Scene:
        changes = stretched(self.network, self.run, length)
        network = self.network
        if self.run in network.steel:
            # A wall's change with its current goes by the length that the plan knows.
            runs = dict(network.plan.runs)
            runs[self.run] = replace(runs[self.run], length=length)
            network = replace(network, plan=replace(network.plan, runs=runs))
        return Scene(network, fault, changes, settle=self.settle)

    def current(self, fault: Fault, length: float) -> float:
        scene = self._scene(fault, length)
        return scene.current(scene.solve())

    def _clears(self, fault: Fault, length: float, *, quick: bool) -> bool:
        scene = self._scene(fault, length)

        def late(course: Course) -> bool:
            return (course.fastest if quick else course.time) > self.within

        course, _ = follow(scene, scene.solve(), give_up=late, only=self.devices)
        return bool(course.openings) and course.cleared and not late(course)

    def longest(self, fault: Fault, *, quick: bool) -> float:
        """Find the longest length by halving; a longer run never clears sooner."""
        low = high = self.network.plan.runs[self.run].length
        if self._clears(fault, low, quick=quick):
            while high < FARTHEST_M and self._clears(fault, high, quick=quick):
                low, high = high, 2 * high
            if high >= FARTHEST_M and self._clears(fault, FARTHEST_M, quick=quick):
                return FARTHEST_M
            high = min(high, FARTHEST_M)
        else:
            while low > SHORTEST_M and not self._clears(fault, low, quick=quick):
                low, high = low / 2, low
            if low <= SHORTEST_M and not self._clears(fault, SHORTEST_M, quick=quick):
                return 0.0
            low = max(low, SHORTEST_M)
        while high > low * (1 + _CLOSE):
            middle = math.sqrt(low * high)
            if self._clears(fault, middle, quick=quick):
                low = middle
            else:
                high = middle
        return low


def stretched(network: Network, run: str, length: float) -> Sequence[Change]:
    """Return the changes that give a run another length, m, nothing else being changed."""
    planned = network.plan.runs[run]
    section = f"run {run}"
    item = network.circuit.sections[network.solver.section_index[section]]
    if length == planned.length:
        return ()
    count = len(strands(planned))
    added = item.impedance[:count, :count] * (length / planned.length - 1)
    patterns = np.eye(len(item.names))[:count]
    changes = network.solver.reshape(section, patterns.tolist(), added)
    # Steel walls reshape the same section under the plain labels.
    return [
        replace(
            change,
            label=f"longer: {change.label}",
            partners=tuple((f"longer: {label}", value) for label, value in change.partners),
        )
        for change in changes
    ]
