"""Following a fault: who opens first, what happens then, until it is over.

The slowest edge of every device's band is used (safety, not selectivity): the device that would
open first by that edge opens, the circuit is solved again, and so on until the current has
stopped or nobody is left to open. Time that a device has already spent on its way to opening
counts, in proportion. A residual or ground-fault element sees the sum of what goes out by the
lines and comes back by the neutral through its device.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np

from bondwright.catalog.device_rating import DeviceKind
from bondwright.devices.residual import residual_band
from bondwright.network.build import Network, PlacedDevice
from bondwright.network.runs import strands
from bondwright.network.solve import Change, Solution
from bondwright.studies.fault_model import CLEARED_A, LONGEST_S, Opening
from bondwright.studies.flows import heating
from bondwright.studies.scene import Scene
from bondwright.studies.watching import is_loose, known_band, watch_of

ALIKE: Final = 1e-6
"""Devices whose times differ by less, in proportion, count as equals."""


@dataclass(frozen=True, slots=True)
class Trip:
    """What opens together: all poles of a breaker, or the one fuse that melts.

    Attributes:
        key: unique among trips, for no name has a line break; a residual element has one of its
            own.
        device: which device it is of.
        lines: the poles that open.
        current: what its element sees, A.
        slowest: its slow edge at that current, s.
        fastest: its quick edge, s.
        residual: whether it is a residual or ground-fault element.
        depth: how many runs lie between the device and the source.
    """

    key: str
    device: PlacedDevice
    lines: tuple[str, ...]
    current: float
    slowest: float
    fastest: float
    residual: bool
    depth: int


@dataclass(slots=True)
class Course:
    """A fault as it goes on: time, what has opened, what each device and conductor took.

    Attributes:
        time: by slow edges, s.
        fastest: by quick edges, s.
        opened: lines open at each device.
        spent: share of its time to opening that each trip has behind it by its slow edge.
        warmed: the same by its quick edge.
        energy: A2s of each conductor by slow edges.
        early: the same by quick edges.
        first: current of each conductor at the start, A.
        openings: who opened.
        drawn: current of the fault now, A.
    """

    time: float = 0.0
    fastest: float = 0.0
    opened: dict[str, tuple[str, ...]] = field(default_factory=dict)
    spent: dict[str, float] = field(default_factory=dict)
    warmed: dict[str, float] = field(default_factory=dict)
    energy: dict[tuple[str, str], float] = field(default_factory=dict)
    early: dict[tuple[str, str], float] = field(default_factory=dict)
    first: dict[tuple[str, str], float] = field(default_factory=dict)
    openings: list[Opening] = field(default_factory=list)
    drawn: float = 0.0

    @property
    def cleared(self) -> bool:
        """Whether next to nothing flows any more."""
        return self.drawn <= CLEARED_A


def follow(
    scene: Scene,
    first: Solution,
    *,
    give_up: Callable[[Course], bool] | None = None,
    only: Collection[str] | None = None,
    sooner: Mapping[str, float] | None = None,
) -> tuple[Course, Solution]:
    """Follow a fault from its start to its end.

    Args:
        scene: the network and the fault.
        first: its solution at the start.
        give_up: told how far it is before every step; True stops there.
        only: ids of the devices to look at; then conductors' heat isn't kept. None for all.
        sooner: by trip, quick edges at the start where motors still feed the fault, s; see
            :func:`quick_edges`.

    Returns:
        The course, and the last solution.
    """
    network, solution = scene.network, first
    solver = network.solver
    course = Course(drawn=scene.current(first))
    opened: list[Change] = []
    while give_up is None or not give_up(course):
        trips = list(trips_of(network, solution, course.opened, only))
        if sooner and not course.openings:
            trips = [
                replace(trip, fastest=min(trip.fastest, sooner.get(trip.key, math.inf)))
                for trip in trips
            ]
        following = _next(trips, course)
        if course.cleared and (following is None or not following.residual):
            break
        late, early = _pass(course, trips, following)
        if only is None:
            _warm(network, solution, course, late, early)
        if following is None:
            break
        device, lines = following.device, following.lines
        course.openings.append(
            Opening(
                device=device.id,
                at=device.at,
                rating=str(device.rating),
                lines=lines,
                current=following.current,
                fastest=course.fastest,
                slowest=course.time,
                residual=following.residual,
                loose=not following.residual
                and is_loose(device.rating)
                and following.slowest > LONGEST_S >= following.fastest,
            )
        )
        course.opened[device.id] = (*course.opened.get(device.id, ()), *lines)
        opened += [solver.open_switch(pole.switch) for pole in device.poles if pole.line in lines]
        solution = scene.solve(opened)
        course.drawn = scene.current(solution)
    return course, solution


def quick_edges(network: Network, solution: Solution, within: float) -> dict[str, float]:
    """Return the quick edge of every trip at the currents of a solution, where it is that soon.

    Args:
        network: as it is in the first cycles, with motors running.
        solution: at the start of a fault.
        within: for how long these currents last, s.
    """
    trips = trips_of(network, solution, {})
    return {trip.key: trip.fastest for trip in trips if trip.fastest <= within}


def trips_of(
    network: Network,
    solution: Solution,
    opened: Mapping[str, tuple[str, ...]],
    only: Collection[str] | None = None,
) -> Iterator[Trip]:
    """Yield everything that could open at the currents of a solution, with its times."""
    watch = watch_of(network)
    amps = np.abs(solution.switch_currents(watch.rows))
    for name in watch.names[watch.may_act(amps)]:
        if only is not None and name not in only:
            continue
        device = network.devices[name]
        poles = pole_currents(device, solution, opened.get(name, ()))
        if not poles:
            continue
        depth = watch.depth[name]
        curve = known_band(network, device.rating)
        if curve is not None:
            groups: dict[str, tuple[str, ...]] = {device.id: tuple(poles)}
            if device.rating.kind is DeviceKind.FUSE:
                groups = {f"{device.id}\n{line}": (line,) for line in poles}
            for key, lines in groups.items():
                current = max(abs(poles[line]) for line in lines)
                slow, fast = curve.slowest(current), curve.fastest(current)
                yield Trip(key, device, lines, current, slow, fast, False, depth)
        leak = residual_band(device.rating)
        if leak is not None:
            current = abs(residual_current(network, device, solution))
            slow, fast = leak.slowest(current), leak.fastest(current)
            key = f"{device.id}\nresidual"
            yield Trip(key, device, tuple(poles), current, slow, fast, True, depth)


def pole_currents(
    device: PlacedDevice, solution: Solution, gone: Sequence[str] = ()
) -> dict[str, complex]:
    """Return the current in every closed pole of a device, A."""
    return {
        pole.line: solution.switch_current(pole.switch)
        for pole in device.poles
        if pole.line not in gone
    }


def neutral_weights(
    network: Network, device: PlacedDevice
) -> tuple[tuple[str, str, str, int], ...]:
    """Return what brings current back through a device beside its lines.

    Of a main, a neutral that is tied to metal ahead of the device's own sensor counts behind
    the tie: that is where the sensor of a service's ground-fault protection is.

    Returns:
        (``"section"`` or ``"switch"``, section or switch, conductor, sign) of each current that
        is added to those of the lines.
    """
    kind, _, name = device.id.partition(" ")
    run = name if kind == "device" else network.state.topology.fed_by.get(name)
    found = []
    if run is not None:
        planned = network.plan.runs[run]
        found += [
            ("section", f"run {run}", part.name, 1)
            for part in strands(planned)
            if part.terminal == "N"
        ]
    if kind == "main" and found:
        found += [
            ("switch", f"tie {tie.id}", "", -1)
            for tie in network.plan.ties
            if tie.at == name and tie.line is None
        ]
    return tuple(found)


def residual_current(network: Network, device: PlacedDevice, solution: Solution) -> complex:
    """Return the current that goes out through a device and doesn't come back by it, A."""
    total = sum((solution.switch_current(pole.switch) for pole in device.poles), 0j)
    for kind, name, conductor, sign in neutral_weights(network, device):
        if kind == "section":
            total += sign * solution.conductor_current(name, conductor)
        else:
            total += sign * solution.switch_current(name)
    return total


def unknown_devices(network: Network, solution: Solution, course: Course) -> Iterator[str]:
    """Yield devices that carry more than their rating and whose limits are not known."""
    for device in network.devices.values():
        if known_band(network, device.rating) is not None:
            continue
        poles = pole_currents(device, solution, course.opened.get(device.id, ()))
        over = max((abs(i) for i in poles.values()), default=0.0) > device.rating.rating_a
        if over:
            yield device.id


def _next(trips: Sequence[Trip], course: Course) -> Trip | None:
    """Return what opens next; of equals that nearest the fault's end."""
    able = [trip for trip in trips if math.isfinite(trip.slowest)]
    if not able:
        return None
    left = {trip.key: _left(trip.slowest, course.spent.get(trip.key, 0.0)) for trip in able}
    least = min(left.values())
    near = [trip for trip in able if left[trip.key] <= least * (1 + ALIKE)]
    return max(near, key=lambda trip: trip.depth)


def _left(seconds: float, spent: float) -> float:
    return max(0.0, 1 - spent) * seconds


def _pass(course: Course, trips: Sequence[Trip], following: Trip | None) -> tuple[float, float]:
    """Let time pass until the next opening; devices warm towards theirs.

    Returns:
        Seconds by slow edges and by quick ones; infinite where nothing opens any more.
    """
    if following is None:
        return math.inf, math.inf
    late = _left(following.slowest, course.spent.get(following.key, 0.0))
    early = _left(following.fastest, course.warmed.get(following.key, 0.0))
    for trip in trips:
        for book, passed, edge in (
            (course.spent, late, trip.slowest),
            (course.warmed, early, trip.fastest),
        ):
            book[trip.key] = min(1.0, book.get(trip.key, 0.0) + passed / edge)
    course.time += late
    course.fastest = min(course.fastest + early, course.time)
    return late, early


def _warm(network: Network, solution: Solution, course: Course, late: float, early: float) -> None:
    """Let conductors take energy meanwhile."""
    start = not course.openings
    for key, amperes in heating(network, solution, CLEARED_A).items():
        course.energy[key] = course.energy.get(key, 0.0) + amperes**2 * late
        course.early[key] = course.early.get(key, 0.0) + amperes**2 * early
        if start:
            course.first[key] = amperes
