"""Faults: what flows, which way it goes home, who opens and when, what the metal does meanwhile."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache

from bondwright.network.build import Network, first_cycles
from bondwright.network.motors import LASTS_S
from bondwright.network.solve import Change, Solution
from bondwright.rules.answer import Verdict
from bondwright.safety.touch import touch_verdict
from bondwright.site.topology import Topology
from bondwright.studies.clearing import Course, follow, quick_edges, unknown_devices
from bondwright.studies.fault_list import arcing, possible_faults, untied
from bondwright.studies.fault_model import (
    ARC_V,
    CLEARED_A,
    DAMAGE_C,
    EARTH_FAULT_OHM,
    LONGEST_S,
    USUAL,
    Fault,
    FaultKind,
    FaultResult,
    Heat,
    Opening,
    PathStep,
    TouchPair,
)
from bondwright.studies.flows import flows
from bondwright.studies.heat import worst_heat
from bondwright.studies.paths import told_path
from bondwright.studies.reach import metal_phasors, worst_pair
from bondwright.studies.scene import Scene, joins_of

__all__ = [
    "ARC_V",
    "CLEARED_A",
    "DAMAGE_C",
    "EARTH_FAULT_OHM",
    "LONGEST_S",
    "USUAL",
    "Fault",
    "FaultKind",
    "FaultResult",
    "Heat",
    "Opening",
    "PathStep",
    "TouchPair",
    "arcing",
    "possible_faults",
    "study_fault",
    "study_faults",
]


def study_fault(
    network: Network, fault: Fault, standing: Sequence[Change] = (), *, settle: bool = True
) -> FaultResult:
    """Follow one fault until it is over.

    Args:
        network: built without loads.
        fault: what happens.
        standing: what is different about the circuit all along (a tie off, a tie added).
        settle: whether steel raceways are solved at their own currents; False leaves them as
            they are without current, which is quicker.

    Returns:
        Currents, path, openings, touch voltages and verdict.

    Raises:
        ValueError: the fault names a terminal that isn't there.
        bondwright.network.solve.SolveError: the circuit with the fault has no answer.
    """
    scene = Scene(network, fault, standing, settle=settle)
    before = scene.without()
    first = scene.solve()
    resistance = scene.resistance
    current = scene.current(first)
    loop = _loop(fault, before, first)
    course, last = follow(scene, first, sooner=_with_motors(network, fault, standing, settle))
    phasors = metal_phasors(network, first)
    touch = {name: abs(volts) for name, volts in phasors.items()}
    worst = max(touch, key=lambda name: touch[name]) if touch else fault.place
    quiet = current <= CLEARED_A and not course.openings
    first_of_two = quiet and is_first_of_two(network, fault)
    stands = quiet and stands_unseen(fault, first_of_two, touch.get(worst, 0.0))
    cleared = course.cleared and not stands
    clearing = course.time if cleared else math.inf
    now = flows(network, first)
    heat = worst_heat(network, course)
    ahead = sources_ahead(network, fault.place)
    unknown = tuple(unknown_devices(network, last, course))
    missing = tuple(_missing(course, cleared, clearing, heat))
    return FaultResult(
        fault=fault,
        current=current,
        angle=math.degrees(math.atan2(loop.imag, loop.real)) if current > 0 else 0.0,
        loop=abs(loop),
        path=told_path(network, fault, now, current),
        flows=now,
        openings=tuple(course.openings),
        cleared=cleared,
        clearing=clearing,
        fastest=course.fastest if cleared else math.inf,
        touch=touch,
        worst_place=worst,
        touch_verdict=touch_verdict(touch.get(worst, 0.0), clearing),
        pair=worst_pair(network, phasors, clearing),
        live_after=_metal_at(network, last, fault.place),
        heat=heat,
        supply_side=bool(ahead),
        ahead=ahead,
        utility=not ahead or any(name in network.plan.site.sources for name in ahead),
        unknown=unknown,
        missing=missing,
        first_of_two=first_of_two,
        resistance=resistance,
        settled=scene.settled,
        verdict=verdict_of(
            cleared=cleared,
            clearing=clearing,
            heat=None if heat is None else heat.verdict,
            excused=bool(ahead) or bool(unknown),
            loose=bool(missing),
        ),
        residuals=first.residuals,
    )


def study_faults(
    network: Network,
    faults: Iterable[Fault] | None = None,
    standing: Sequence[Change] = (),
    *,
    settle: bool = True,
) -> list[FaultResult]:
    """Follow many faults; see :func:`study_fault`. None means every usual one."""
    chosen = possible_faults(network) if faults is None else faults
    return [study_fault(network, fault, standing, settle=settle) for fault in chosen]


def _with_motors(
    network: Network, fault: Fault, standing: Sequence[Change], settle: bool
) -> dict[str, float] | None:
    """Return quick edges of trips with motors running, None where there are none.

    What stands is asked for again in the other circuit; where it can't be, motors aren't counted.
    """
    if not network.motors or network.running:
        return None
    other = running(network)
    try:
        same = [_again(change, other) for change in standing]
    except ValueError:
        return None
    first = Scene(other, fault, same, settle=settle).solve()
    return quick_edges(other, first, LASTS_S)


@lru_cache(maxsize=4)
def running(network: Network) -> Network:
    """Return a network with its motors running; kept, as every fault asks for it."""
    return first_cycles(network)


def _again(change: Change, network: Network) -> Change:
    solver = network.solver
    if change.joins is not None:
        return solver.join(*change.joins, change.d)
    if change.opens is not None:
        return solver.open_switch(change.opens)
    raise ValueError(f"{change.label!r} is of another circuit")


def _loop(fault: Fault, before: Solution, first: Solution) -> complex:
    a, b = joins_of(fault)[0]
    drawn = first.change_current(0)
    return before.between(a, b) / drawn if drawn else complex(math.inf)


def _metal_at(network: Network, solution: Solution, place: str) -> float:
    node = f"{place}:G"
    return abs(solution.voltage(node)) if node in network.solver.index else 0.0


def is_first_of_two(network: Network, fault: Fault) -> bool:
    """Whether a fault that draws next to nothing is the first one of an ungrounded system."""
    place = fault.place
    systems = network.state.topology.systems
    if fault.kind is not FaultKind.LINE_TO_METAL or place not in systems:
        return False
    if fault.a.startswith("H"):
        place = _above(network, place)
    if systems[place].origin not in untied(network):
        return False
    meant = network.plan.site.earthing == "IT"  # there an isolated neutral is no missing tie
    return meant or not systems[place].voltages.has_neutral


def _above(network: Network, place: str) -> str:
    run = next(iter(network.state.topology.upstream(place)), None)
    return place if run is None else network.plan.runs[run].from_


def stands_unseen(fault: Fault, first_of_two: bool, touch: float) -> bool:
    """Whether a fault that draws next to no current is a standing one, which nobody sees.

    On a grounded system it always is: a join or a path is missing. On an ungrounded one the
    first fault draws nothing by intention; it matters here if it makes metal live. Neutral and
    metal are at one potential without load: that they touch is found as stray current.
    """
    if fault.kind is FaultKind.NEUTRAL_TO_METAL:
        return False
    return not first_of_two or touch_verdict(touch, math.inf).verdict == "dangerous"


def _missing(course: Course, cleared: bool, clearing: float, heat: Heat | None) -> list[str]:
    """Return what has to be known before a slow edge may count against the installation."""
    if not cleared:
        return []
    # A device with its own gates that is slow is slow whatever a breaker's curve says.
    slow = clearing > LONGEST_S >= course.fastest
    hot = heat is not None and heat.verdict is Verdict.CANNOT_TELL and "slow edge" in heat.because
    if not (slow or hot):
        return []
    found = [
        "the maker's curve or the instantaneous setting of the "
        f"{opening.rating.split(',')[0]} at {opening.at}"
        for opening in course.openings
        if opening.loose
    ]
    return list(dict.fromkeys(found))


def verdict_of(
    *, cleared: bool, clearing: float, heat: Verdict | None, excused: bool, loose: bool
) -> Verdict:
    """Return the verdict on a fault.

    Args:
        cleared: whether the current stops.
        clearing: when, s.
        heat: on the conductor that is worst off; None where none is heated.
        excused: whether nobody here can say what is ahead of it, or when a device opens.
        loose: whether only the slow edge of a breaker of unknown curve makes it late.
    """
    if not cleared:
        return Verdict.CANNOT_TELL if excused else Verdict.FALLS_SHORT
    if heat is Verdict.FALLS_SHORT:
        return heat
    if clearing > LONGEST_S:
        return Verdict.CANNOT_TELL if loose else Verdict.FALLS_SHORT
    return Verdict.HOLDS if heat is None else heat


def ahead_of_all(network: Network, place: str) -> bool:
    """Whether some source reaches the bus of a place with no device of the site between."""
    return bool(sources_ahead(network, place))


def sources_ahead(network: Network, place: str) -> tuple[str, ...]:
    """Return the sources that nothing on site can part from the bus of a place.

    That are those reached by runs without a device, past places without a main: the utility
    ahead of the service, a generator up to its first breaker. They stay on a fault there
    whatever opens.
    """
    site, tree = network.plan.site, network.state.topology
    own_voltage = {*site.sources, *site.generators, *tree.roots}
    sources = own_voltage & network.state.on
    seen, waiting = {place}, [place]
    found: list[str] = []
    while waiting:
        here = waiting.pop()
        if here in sources:
            found.append(here)
        own = site.places.get(here)
        closed = own is None or own.main is None
        ways = [run for run in tree.feeds.get(here, ()) if run not in tree.idle]
        if closed:
            ways += list(_leading_to(tree, here))
        for run in ways:
            if site.runs[run].device is not None:
                continue
            ends = {site.runs[run].from_, site.runs[run].to} - {here}
            for end in ends - seen:
                beyond = site.places.get(end)
                below = site.runs[run].to == end
                if below and beyond is not None and beyond.main is not None:
                    continue
                seen.add(end)
                waiting.append(end)
    return tuple(found)


def _leading_to(tree: Topology, place: str) -> Iterator[str]:
    if place in tree.fed_by:
        yield tree.fed_by[place]
    yield from (run for run in tree.beside if tree.site.runs[run].to == place)
