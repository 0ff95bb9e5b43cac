"""Faults: what flows, which way it goes home, who opens and when, what the metal does meanwhile.

A fault is followed until it is over. The slowest edge of every device's band is used (safety,
not selectivity): the device that would open first by that edge opens, the circuit is solved
again, and so on until the current has stopped or nobody is left to open. Time that a device
has already spent on its way to opening counts, in proportion.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import Final

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import TimeBand
from bondwright.devices.bands import band
from bondwright.network.build import Network, PlacedDevice
from bondwright.network.solve import Change, Residuals, Solution
from bondwright.rules.answer import Verdict
from bondwright.safety.touch import TouchVerdict, touch_verdict
from bondwright.safety.withstand import melting_c, temperature_after
from bondwright.studies.flows import Carrier, Flow, flows, metal_voltages

CLEARED_A: Final = 0.5
"""Below this the fault current counts as stopped: it is charging and leakage current, A."""

LONGEST_S: Final = 5.0
"""Longest clearing time called good, s: IEC 60364-4-41 for distribution circuits. The NEC
asks for operation of the device without naming a time."""

DAMAGE_C: Final = 150.0
"""Final temperature taken as the limit, degC: thermoplastic insulation (ICEA P-32-382)."""


class FaultKind(StrEnum):
    """Between what the fault is."""

    LINE_TO_LINE = "line to line"
    LINE_TO_NEUTRAL = "line to neutral"
    LINE_TO_METAL = "line to metal"


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault at a place between two of its terminals, through an impedance (0: bolted)."""

    place: str
    kind: FaultKind
    a: str
    b: str
    impedance: float = 0.0

    def __str__(self) -> str:
        b = "metal" if self.b == "G" else self.b
        return f"{self.a} to {b} at {self.place}"


@dataclass(frozen=True, slots=True)
class Opening:
    """A device that opens during a fault.

    Attributes:
        device: id in the network.
        at: place where it stands.
        rating: what it is.
        lines: the poles that open.
        current: through it just before, A.
        fastest: earliest it could open after the start of the fault, s.
        slowest: latest, s; this is when it opens in the study.
    """

    device: str
    at: str
    rating: str
    lines: tuple[str, ...]
    current: float
    fastest: float
    slowest: float


@dataclass(frozen=True, slots=True)
class Heat:
    """What the fault does to the conductor it heats most.

    Attributes:
        id: run or electrode.
        conductor: which conductor.
        size: its size.
        i2t: what it takes until the fault is over, A2s; infinite if that is never.
        temperature: adiabatic end temperature, degC; infinite if it melts.
        limit: degC.
        verdict: whether it survives.
    """

    id: str
    conductor: str
    size: str
    i2t: float
    temperature: float
    limit: float
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class PathStep:
    """One step of the fault current's way, in order.

    Attributes:
        way: "out" to the fault, "back" home.
        carrier: what carries it.
        id: of the run, tie, electrode or metal.
        conductor: which conductor.
        amperes: A.
        share: of the fault current.
    """

    way: str
    carrier: Carrier
    id: str
    conductor: str
    amperes: float
    share: float


@dataclass(frozen=True, slots=True)
class FaultResult:
    """The answer about one fault.

    Attributes:
        fault: what and where.
        current: at the start, A.
        angle: of the loop impedance, degrees.
        loop: impedance of the loop as seen from the fault, ohm.
        path: the way of the current in order, at the start.
        flows: every current at the start.
        openings: who opens, in order.
        cleared: whether the current stops. False for a fault that draws too little for anything
            to see and so stands, except the first fault of an ungrounded system.
        clearing: latest time at which it stops, s; infinite if never.
        fastest: earliest, s.
        touch: metal of each place to remote earth at the start, V.
        worst_place: place whose metal is highest.
        touch_verdict: of the highest voltage over the clearing time.
        live_after: voltage that stays on the metal at the fault when all is over, V.
        heat: the conductor that gets hottest, or None.
        supply_side: whether the fault lies ahead of every device on site.
        unknown: devices that carry the fault and whose limits are not known; they may open.
        verdict: whether it clears, in time, and conductors survive.
        residuals: of the first solution.
    """

    fault: Fault
    current: float
    angle: float
    loop: float
    path: tuple[PathStep, ...]
    flows: tuple[Flow, ...]
    openings: tuple[Opening, ...]
    cleared: bool
    clearing: float
    fastest: float
    touch: dict[str, float]
    worst_place: str
    touch_verdict: TouchVerdict
    live_after: float
    heat: Heat | None
    supply_side: bool
    unknown: tuple[str, ...]
    verdict: Verdict
    residuals: Residuals


def possible_faults(network: Network, kinds: Iterable[FaultKind] = FaultKind) -> list[Fault]:
    """Return every bolted fault of the given kinds at every place, in walking order."""
    return list(_faults(network, tuple(kinds)))


def _faults(network: Network, kinds: Sequence[FaultKind]) -> Iterator[Fault]:
    sources = network.plan.site.sources
    for place, terminals in network.terminals.items():
        if place in sources:
            continue
        lines = [t for t in terminals if t.startswith("L")]
        if FaultKind.LINE_TO_LINE in kinds:
            for a, b in itertools.combinations(lines, 2):
                yield Fault(place, FaultKind.LINE_TO_LINE, a, b)
        for kind, other in (
            (FaultKind.LINE_TO_NEUTRAL, "N"),
            (FaultKind.LINE_TO_METAL, "G"),
        ):
            if kind in kinds and other in terminals:
                for line in lines:
                    yield Fault(place, kind, line, other)


@cache
def _band(rating: DeviceRating) -> TimeBand | None:
    """Return the band of a device, or None where no limits are known for it."""
    try:
        return band(rating)
    except CatalogError:
        return None


@dataclass(slots=True)
class _Course:
    """A fault as it goes on: time, what has opened, what each device and conductor took.

    ``spent`` is the share of its time to opening that each tripping part has behind it by the
    slow edge, ``warmed`` the same by the quick edge.
    """

    time: float = 0.0
    fastest: float = 0.0
    opened: dict[str, tuple[str, ...]] = field(default_factory=dict)
    spent: dict[str, float] = field(default_factory=dict)
    warmed: dict[str, float] = field(default_factory=dict)
    energy: dict[tuple[str, str], float] = field(default_factory=dict)


def study_fault(network: Network, fault: Fault, standing: Sequence[Change] = ()) -> FaultResult:
    """Follow one fault until it is over.

    Args:
        network: built without loads.
        fault: what happens.
        standing: what is different about the circuit all along (a tie off, a tie added).

    Returns:
        Currents, path, openings, touch voltages and verdict.

    Raises:
        bondwright.network.solve.SolveError: the circuit with the fault has no answer.
    """
    solver = network.solver
    a, b = f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}"
    before = solver.solve(standing)
    at_fault = solver.join(a, b, fault.impedance)
    changes: list[Change] = [at_fault, *standing]
    first = solution = solver.solve(changes)
    current = abs(first.change_current(0))
    open_volts = before.between(a, b)
    loop = open_volts / first.change_current(0) if current > 0 else complex(math.inf)
    course = _Course()
    openings: list[Opening] = []
    while abs(solution.change_current(0)) > CLEARED_A:
        following = _next_opening(network, solution, course)
        _spend(network, solution, course, following)
        if following is None:
            break
        device, lines = following.device, following.lines
        openings.append(
            Opening(
                device=device.id,
                at=device.at,
                rating=str(device.rating),
                lines=lines,
                current=following.current,
                fastest=course.fastest,
                slowest=course.time,
            )
        )
        course.opened[device.id] = (*course.opened.get(device.id, ()), *lines)
        changes += [solver.open_switch(pole.switch) for pole in device.poles if pole.line in lines]
        solution = solver.solve(changes)
    touch = metal_voltages(network, first)
    worst = max(touch, key=lambda name: touch[name]) if touch else fault.place
    cleared = abs(solution.change_current(0)) <= CLEARED_A and not (
        current <= CLEARED_A and _stands(network, fault.place, touch.get(worst, 0.0))
    )
    clearing = course.time if cleared else math.inf
    now = flows(network, first)
    heat = _hottest(network, course)
    supply_side = _ahead_of_all(network, fault.place)
    unknown = tuple(_unknown(network, solution, course))
    cannot_tell = not cleared and (supply_side or bool(unknown))
    return FaultResult(
        fault=fault,
        current=current,
        angle=math.degrees(math.atan2(loop.imag, loop.real)) if current > 0 else 0.0,
        loop=abs(loop),
        path=tuple(_path(network, fault, now, current)),
        flows=now,
        openings=tuple(openings),
        cleared=cleared,
        clearing=clearing,
        fastest=course.fastest if cleared else math.inf,
        touch=touch,
        worst_place=worst,
        touch_verdict=touch_verdict(touch.get(worst, 0.0), clearing),
        live_after=abs(solution.voltage(f"{fault.place}:G")),
        heat=heat,
        supply_side=supply_side,
        unknown=unknown,
        verdict=Verdict.CANNOT_TELL if cannot_tell else _verdict(cleared, clearing, heat),
        residuals=first.residuals,
    )


def _stands(network: Network, place: str, touch: float) -> bool:
    """Whether a fault that draws next to no current is a standing one, which nobody sees.

    On a grounded system it always is: a join or a path is missing. On an ungrounded one the
    first fault draws nothing by intention; it matters here if it makes metal live.
    """
    if network.plan.topology.systems[place].voltages.has_neutral:
        return True
    return touch_verdict(touch, math.inf).verdict == "dangerous"


def _verdict(cleared: bool, clearing: float, heat: Heat | None) -> Verdict:
    if not cleared or clearing > LONGEST_S:
        return Verdict.FALLS_SHORT
    return Verdict.HOLDS if heat is None else heat.verdict


def _unknown(network: Network, solution: Solution, course: _Course) -> Iterator[str]:
    for device in network.devices.values():
        poles = _pole_currents(device, solution, course.opened.get(device.id, ()))
        over = max(poles.values(), default=0.0) > device.rating.rating_a
        if over and _band(device.rating) is None:
            yield device.id


def _ahead_of_all(network: Network, place: str) -> bool:
    """Whether no device on site stands between the source and the bus of a place."""
    site = network.plan.site
    node = site.places.get(place)
    if node is not None and node.main is not None:
        return False
    for name in network.plan.topology.upstream(place):
        run = site.runs[name]
        above = site.places.get(run.from_)
        if run.device is not None or (above is not None and above.main is not None):
            return False
    return True


def _pole_currents(
    device: PlacedDevice, solution: Solution, gone: Sequence[str]
) -> dict[str, float]:
    return {
        pole.line: abs(solution.switch_current(pole.switch))
        for pole in device.poles
        if pole.line not in gone
    }


@dataclass(frozen=True, slots=True)
class _Trip:
    """What opens together: all poles of a breaker, or the one fuse that melts.

    Attributes:
        key: unique among trips.
        device: which device it is of.
        lines: the poles that open.
        current: the largest through it, A.
        slowest: its slow edge at that current, s.
        fastest: its quick edge, s.
    """

    key: str
    device: PlacedDevice
    lines: tuple[str, ...]
    current: float
    slowest: float
    fastest: float


def _trips(network: Network, solution: Solution, course: _Course) -> Iterator[_Trip]:
    for device in network.devices.values():
        poles = _pole_currents(device, solution, course.opened.get(device.id, ()))
        curve = _band(device.rating)
        if not poles or curve is None:
            continue
        groups: dict[str, tuple[str, ...]] = {device.id: tuple(poles)}
        if device.rating.kind is DeviceKind.FUSE:
            groups = {f"{device.id} {line}": (line,) for line in poles}
        for key, lines in groups.items():
            current = max(poles[line] for line in lines)
            slowest, fastest = curve.slowest(current), curve.fastest(current)
            yield _Trip(key, device, lines, current, slowest, fastest)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A device that would open if nothing else did first.

    Attributes:
        device: which.
        seconds: from now, by its slow edge.
        lines: the poles that open.
        current: the largest through it, A.
        fastest: from now, by its quick edge, s.
        depth: how many runs lie between it and the source.
    """

    device: PlacedDevice
    seconds: float
    lines: tuple[str, ...]
    current: float
    fastest: float
    depth: int


def _next_opening(network: Network, solution: Solution, course: _Course) -> _Candidate | None:
    """Return the device that opens next; of equals the one nearest the fault's end."""
    found = list(_candidates(network, solution, course))
    if not found:
        return None
    least = min(one.seconds for one in found)
    return max((o for o in found if o.seconds <= least * (1 + 1e-6)), key=lambda o: o.depth)


def _candidates(network: Network, solution: Solution, course: _Course) -> Iterator[_Candidate]:
    for trip in _trips(network, solution, course):
        if math.isfinite(trip.slowest):
            yield _Candidate(
                device=trip.device,
                seconds=max(0.0, 1 - course.spent.get(trip.key, 0.0)) * trip.slowest,
                lines=trip.lines,
                current=trip.current,
                fastest=max(0.0, 1 - course.warmed.get(trip.key, 0.0)) * trip.fastest,
                depth=sum(1 for _ in network.plan.topology.upstream(trip.device.at)),
            )


def _spend(
    network: Network, solution: Solution, course: _Course, following: _Candidate | None
) -> None:
    """Let time pass until the next opening: devices warm towards it, conductors take energy."""
    seconds = following.seconds if following is not None else math.inf
    if following is not None:
        for trip in _trips(network, solution, course):
            for book, passed, edge in (
                (course.spent, following.seconds, trip.slowest),
                (course.warmed, following.fastest, trip.fastest),
            ):
                book[trip.key] = min(1.0, book.get(trip.key, 0.0) + passed / edge)
    for flow in flows(network, solution):
        if flow.carrier in {Carrier.RUN, Carrier.ELECTRODE} and flow.amperes > CLEARED_A:
            key = (flow.id, flow.conductor)
            course.energy[key] = course.energy.get(key, 0.0) + flow.amperes**2 * seconds
    if following is not None:
        course.time += following.seconds
        course.fastest = min(course.fastest + following.fastest, course.time)


def _hottest(network: Network, course: _Course) -> Heat | None:
    found = [
        heat
        for (name, conductor), i2t in course.energy.items()
        if (heat := _heat(network, name, conductor, i2t)) is not None
    ]
    return max(found, key=lambda h: h.temperature - h.limit, default=None)


def _heat(network: Network, name: str, conductor: str, i2t: float) -> Heat | None:
    run = network.plan.runs.get(name)
    base = conductor.partition(".")[0]
    if run is not None:
        wire = {"N": run.neutral, "metal": run.metal, "raceway": None}.get(base, run.lines)
    else:
        electrode = network.plan.electrodes.get(name)
        wire = electrode.conductor if electrode is not None else None
    if wire is None or math.isinf(i2t):
        # A current that never stops is judged by the verdict on clearing, not by adiabatic heat.
        return None
    initial = network.plan.temperature
    reached = temperature_after(wire.area_cmil, wire.material, i2t, initial)
    if reached >= melting_c(wire.material):
        reached = math.inf
    verdict = Verdict.HOLDS if reached <= DAMAGE_C else Verdict.FALLS_SHORT
    return Heat(name, conductor, f"{wire.size} {wire.material}", i2t, reached, DAMAGE_C, verdict)


def _path(
    network: Network, fault: Fault, now: Sequence[Flow], current: float
) -> Iterator[PathStep]:
    topology = network.plan.topology
    if current <= 0:
        return
    upstream = list(topology.upstream(fault.place))
    by_owner: dict[tuple[Carrier, str], list[Flow]] = {}
    for flow in now:
        by_owner.setdefault((flow.carrier, flow.id), []).append(flow)

    def step(way: str, flow: Flow) -> PathStep:
        return PathStep(
            way, flow.carrier, flow.id, flow.conductor, flow.amperes, flow.amperes / current
        )

    for run in reversed(upstream):
        for flow in by_owner.get((Carrier.RUN, run), ()):
            if flow.terminal == fault.a and flow.amperes > 0.001 * current:
                yield step("out", flow)
    if fault.kind is FaultKind.LINE_TO_LINE:
        for run in upstream:
            for flow in by_owner.get((Carrier.RUN, run), ()):
                if flow.terminal == fault.b and flow.amperes > 0.001 * current:
                    yield step("back", flow)
        return
    told: set[tuple[Carrier, str]] = set()
    here = fault.place
    for run in [*upstream, ""]:
        for owner, group in by_owner.items():
            carrier = owner[0]
            touches = any(here in (flow.from_, flow.to) for flow in group)
            if carrier is Carrier.RUN or owner in told or not touches:
                continue
            told.add(owner)
            yield from (step("back", f) for f in group if f.amperes > 0.001 * current)
        if not run:
            break
        for flow in by_owner.get((Carrier.RUN, run), ()):
            if flow.terminal in {"N", "G"} and flow.amperes > 0.001 * current:
                yield step("back", flow)
        here = network.plan.runs[run].from_


def study_faults(
    network: Network,
    faults: Iterable[Fault] | None = None,
    standing: Sequence[Change] = (),
) -> list[FaultResult]:
    """Follow many faults; see :func:`study_fault`. None means every possible one."""
    chosen = possible_faults(network) if faults is None else faults
    return [study_fault(network, fault, standing) for fault in chosen]
