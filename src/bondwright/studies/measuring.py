"""What has to be measured before anybody relies on a plan, and what it should read.

Each point has the value that our own circuit gives and, where there is one, a limit with its
source. The two do different work: a reading over the limit falls short; a reading within it that
the conductor can't explain is a joint to look at.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from bondwright.catalog.conductors import resistance_dc
from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.devices.bands import band
from bondwright.devices.curves import UserCurve, curves_of
from bondwright.network.build import Network, build
from bondwright.plan.model import Plan, Purpose, ScheduleItem
from bondwright.rules.iec.ruleset import is_iec
from bondwright.studies.fault_model import FaultKind, FaultResult
from bondwright.studies.flows import Carrier
from bondwright.studies.hunt.ports import across, is_there
from bondwright.studies.measuring_iec import loop_is_read, loop_reading_limit
from bondwright.studies.stray import StrayStudy
from bondwright.units import UnitError

BOND_OHM: Final = 0.5
"""Most that a grounding path may read from end to end, ohm (acceptance testing in North America,
common practice, from memory)."""
TIE_OHM: Final = 0.1
"""Most that a tie may read from bar to bar, ohm (common practice, from memory)."""
INSULATION_OHM: Final = 1e6
"""Least insulation at 500 V dc (IEC 60364-6:2016, table 6.1, from memory)."""
INSULATION_V: Final = 500
ELECTRODE_OHM: Final = 25.0
"""Most for a single rod, pipe or plate that stands alone (NEC 250.53(A)(2), exception)."""
CLEARING_S: Final = 5.0
"""Time in which the device has to open for the limit of a loop, s. The code of North America gives
no time; 5 s is that of IEC 60364-4-41, 411.3.2.3, for distribution circuits."""
TEST_TEMPERATURE: Final = 20.0
"""Of conductors that carry nothing, degC."""
TEST_FREQUENCY: Final = 1e-3
"""Testers of bonds work with direct current; the circuit is one of alternating current, Hz."""
_AT_ONCE: Final = 64
QUIET_A: Final = 1e-3
"""Computed currents below this are none, A."""
GFCI_A: Final = 0.006
"""At which a class A device has opened (UL 943, from memory)."""


class Measured(StrEnum):
    """What is measured."""

    CONTINUITY = "continuity"
    TIE = "tie"
    NO_TIE = "neutral apart from metal"
    NET_CURRENT = "net current"
    ELECTRODE = "resistance to earth"
    LOOP = "fault loop"
    RESIDUAL = "residual device"


class Sense(StrEnum):
    """Which side of the limit is the good one."""

    AT_MOST = "at most"
    AT_LEAST = "at least"


class Unit(StrEnum):
    """Unit of a reading."""

    OHM = "ohm"
    AMPERE = "A"


@dataclass(frozen=True, slots=True)
class MeasuringPoint:
    """One thing to measure.

    Attributes:
        id: the same for the same thing of the same plan: ``"continuity: EGC pump feeder"``.
        what: what is measured.
        about: id of the schedule row, tie, electrode or place.
        place: where the person stands.
        between: the two points, or what goes into the jaw of a clamp.
        state: how the installation stands meanwhile.
        instrument: a class of instrument, as the hunt knows them, or the name of a tester.
        unit: of the reading.
        expected: by our circuit or tables, in that unit; None where nothing tells.
        why: where the expected value comes from.
        limit: in that unit; None where there is none.
        sense: which side of it is good.
        source: of the limit.
    """

    id: str
    what: Measured
    about: str
    place: str
    between: str
    state: str
    instrument: str
    unit: Unit
    expected: float | None
    why: str
    limit: float | None
    sense: Sense
    source: str


OFF: Final = "power off, proved dead, locked"
LIVE: Final = "normal load"


def measuring_points(
    plan: Plan, faults: tuple[FaultResult, ...], stray: StrayStudy
) -> tuple[MeasuringPoint, ...]:
    """Return everything to measure, by place in walking order.

    Args:
        plan: the plan.
        faults: those from line to metal at every place, of the normal state.
        stray: normal use.
    """
    dead = _dead(plan)
    points = [
        *_bonds(plan, dead),
        *_ties(plan),
        *_no_ties(plan, stray),
        *_electrodes(plan),
        *_loops(plan, faults),
        *_residual(plan),
    ]
    order = {name: k for k, name in enumerate(plan.topology.order)}
    return tuple(sorted(points, key=lambda p: order.get(p.place, len(order))))


def _dead(plan: Plan) -> Network:
    """Return the circuit with every source off and every conductor cold."""
    state = replace(plan.states[0], on=frozenset())
    cold = replace(plan, temperature=TEST_TEMPERATURE, frequency=TEST_FREQUENCY)
    return build(cold, loads=False, state=state)


_RUNS: Final = {Purpose.EQUIPMENT_GROUND, Purpose.SUPPLY_SIDE_JUMPER}
_CONTINUITY: Final = _RUNS | {
    Purpose.ELECTRODE_CONDUCTOR,
    Purpose.METAL_BOND,
    Purpose.BUSHING_JUMPER,
    Purpose.EQUIPOTENTIAL,
}


def _bonds(plan: Plan, dead: Network) -> Iterator[MeasuringPoint]:
    ties = {tie.id for tie in plan.ties}
    rows = [
        r
        for r in plan.schedule
        if r.purpose in _CONTINUITY
        and r.form != "none"
        and r.about not in ties
        and r.from_ not in plan.site.sources  # the utility's own
    ]
    american = _american(plan)
    ends = {row.id: (f"{row.from_}:G", f"{row.to}:G") for row in rows if row.purpose in _RUNS}
    ports = {id: pair for id, pair in ends.items() if is_there(dead, across(*pair))}
    read = dict(zip(ports, _resistances(dead, list(ports.values())), strict=True))
    for row in rows:
        expected, why = _alone(plan, row)
        if row.id in read:
            expected = read[row.id]
            why = "by the circuit, cold, with every other path in place"
        yield MeasuringPoint(
            id=f"continuity: {row.id}",
            what=Measured.CONTINUITY,
            about=row.id,
            place=row.from_,
            between=f"metal of {row.from_} and {row.to}"
            if row.purpose in _RUNS
            else f"{row.from_} and {row.to}",
            state=OFF,
            instrument="low-ohm meter",
            unit=Unit.OHM,
            expected=expected,
            why=why,
            limit=BOND_OHM if american else None,
            sense=Sense.AT_MOST,
            source="acceptance testing, common practice (from memory)" if american else "",
        )


def _resistances(network: Network, pairs: list[tuple[str, str]]) -> Iterator[float]:
    """Yield the resistance between each pair of nodes, a block of them at a time, ohm."""
    for start in range(0, len(pairs), _AT_ONCE):
        block = network.solver.transfer(pairs[start : start + _AT_ONCE])
        yield from (float(value.real) for value in block.diagonal())


def _american(plan: Plan) -> bool:
    return plan.site.rules.startswith("nec")


def _alone(plan: Plan, row: ScheduleItem) -> tuple[float | None, str]:
    electrode = plan.electrodes.get(row.about)
    if row.purpose is Purpose.ELECTRODE_CONDUCTOR and electrode is not None and row.chosen:
        ohms = _ohms(row.chosen, electrode.lead)
        return ohms, "the conductor alone, cold" if ohms is not None else ""
    return None, ""


def _ohms(conductor: Conductor, length: float) -> float | None:
    try:
        each = resistance_dc(conductor.size, conductor.material, TEST_TEMPERATURE)
    except UnitError:
        return None
    return each * length / conductor.sets


def _ties(plan: Plan) -> Iterator[MeasuringPoint]:
    for tie in plan.ties:
        if tie.belongs and tie.line is None:
            solid = tie.resistance <= TIE_OHM  # else a grounding impedance, with ohms of its own
            yield MeasuringPoint(
                id=f"tie: {tie.id}",
                what=Measured.TIE,
                about=tie.id,
                place=tie.at,
                between=f"neutral and metal of {tie.at}, from bar to bar",
                state=OFF,
                instrument="low-ohm meter",
                unit=Unit.OHM,
                expected=tie.resistance,
                why="the tie itself; look at it as well, for other paths read alike"
                if solid
                else "its grounding impedance, as described",
                limit=TIE_OHM if solid else None,
                sense=Sense.AT_MOST,
                source="common practice (from memory)" if solid else "",
            )


def _no_ties(plan: Plan, stray: StrayStudy) -> Iterator[MeasuringPoint]:
    """Places with a neutral where none may be tied: by their feeder, live and dead."""
    tied = {tie.at for tie in plan.ties if tie.belongs}
    net: dict[str, complex] = {}
    for flow in stray.flows:
        if flow.carrier is Carrier.RUN and flow.terminal != "G":
            net[flow.id] = net.get(flow.id, 0) + flow.current
    quiet = {run: abs(sum_) for run, sum_ in net.items() if abs(sum_) >= QUIET_A}
    for name, run in plan.runs.items():
        place = plan.site.places.get(run.to)
        if place is None or run.neutral is None or run.supply_side or run.to in tied:
            continue
        if place.kind.value not in ("panel", "disconnect"):
            continue
        yield MeasuringPoint(
            id=f"net current: {name}",
            what=Measured.NET_CURRENT,
            about=name,
            place=run.to,
            between=f"all lines and the neutral of {name} in one jaw, the ground wire outside",
            state=LIVE,
            instrument="leakage clamp",
            unit=Unit.AMPERE,
            expected=quiet.get(name, 0.0),
            why="by the circuit, in normal load",
            limit=None,
            sense=Sense.AT_MOST,
            source="",
        )
        yield MeasuringPoint(
            id=f"neutral apart: {run.to}",
            what=Measured.NO_TIE,
            about=run.to,
            place=run.to,
            between=f"neutral bar and ground bar of {run.to}, its neutrals off the bar",
            state=f"{OFF}; the feeder's neutral taken off by a qualified person; electronics out",
            instrument="insulation tester",
            unit=Unit.OHM,
            expected=None,
            why="",
            limit=INSULATION_OHM,
            sense=Sense.AT_LEAST,
            source=f"IEC 60364-6, table 6.1, {INSULATION_V} V dc (from memory)",
        )


_SINGLE: Final = {"rod", "pipe", "plate"}


def _electrodes(plan: Plan) -> Iterator[MeasuringPoint]:
    joined = [e for e in plan.electrodes.values() if e.conductor is not None]
    for electrode in joined:
        described = plan.site.electrodes.get(electrode.id)
        count = getattr(described, "count", None) or 1
        alone = (
            _american(plan) and len(joined) == 1 and count == 1 and electrode.kind.value in _SINGLE
        )
        yield MeasuringPoint(
            id=f"electrode: {electrode.id}",
            what=Measured.ELECTRODE,
            about=electrode.id,
            place=electrode.at,
            between=f"{electrode.id} and remote earth, by fall of potential",
            state=f"{OFF}; the electrode's conductor taken off by a qualified person",
            instrument="fall of potential",
            unit=Unit.OHM,
            expected=electrode.resistance,
            why="by the soil and the shape in the description; soil changes with the season",
            limit=ELECTRODE_OHM if alone else None,
            sense=Sense.AT_MOST,
            source="NEC 250.53(A)(2), exception: or add a second one" if alone else "",
        )


def _loops(plan: Plan, faults: tuple[FaultResult, ...]) -> Iterator[MeasuringPoint]:
    iec = is_iec(plan.site.rules)
    if iec and not loop_is_read(plan):
        return
    curves = curves_of(plan.curves)
    worst: dict[str, FaultResult] = {}
    for result in faults:
        fault = result.fault
        if fault.kind is not FaultKind.LINE_TO_METAL or result.supply_side:
            continue
        if fault.place not in plan.site.places or result.loop <= 0:
            continue
        if fault.place not in worst or result.loop > worst[fault.place].loop:
            worst[fault.place] = result
    for name, result in worst.items():
        limit, source = (
            loop_reading_limit(plan, name) if iec else _loop_limit(plan, name, result, curves)
        )
        yield MeasuringPoint(
            id=f"loop: {name}",
            what=Measured.LOOP,
            about=name,
            place=name,
            between=f"{result.fault.a} and metal at {name}",
            state="live, by a loop tester, at an outlet or a point made safe for it",
            instrument="loop tester",
            unit=Unit.OHM,
            expected=result.loop,
            why="by the circuit, conductors warm",
            limit=limit,
            sense=Sense.AT_MOST,
            source=source,
        )


def _loop_limit(
    plan: Plan, place: str, result: FaultResult, curves: Mapping[str, UserCurve]
) -> tuple[float | None, str]:
    run = next((name for name, each in plan.runs.items() if each.to == place), None)
    if run is None:
        return None, ""
    spot = plan.topology.protecting(run)
    rating = _rating(plan, spot)
    if rating is None:
        return None, ""
    current = band(rating, curves).sure_current(CLEARING_S)
    if not 0 < current < 1e6:
        return None, ""
    volts = result.current * result.loop
    return volts / current, f"{rating} opens for sure within {CLEARING_S:g} s at {current:.0f} A"


def _rating(plan: Plan, spot: tuple[str, str] | None) -> DeviceRating | None:
    if spot is None:
        return None
    kind, name = spot
    return plan.site.runs[name].device if kind == "run" else plan.site.places[name].main


def _residual(plan: Plan) -> Iterator[MeasuringPoint]:
    devices = [(f"run {n}", run.from_, run.device) for n, run in plan.site.runs.items()]
    devices += [(f"main of {n}", n, place.main) for n, place in plan.site.places.items()]
    for name, place, rating in devices:
        if rating is None or rating.residual_a is None:
            continue
        yield MeasuringPoint(
            id=f"residual: {name}",
            what=Measured.RESIDUAL,
            about=name,
            place=place,
            between=f"device of {name}: its own button first, then a tester on its load side",
            state="live, by a tester made for it",
            instrument="residual device tester",
            unit=Unit.AMPERE,
            expected=None,
            why="",
            limit=rating.residual_a,
            sense=Sense.AT_MOST,
            source="its rated residual current has opened it",
        )
