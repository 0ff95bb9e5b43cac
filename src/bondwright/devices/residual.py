"""Time bands for the residual current: what does not come back by line and neutral.

The residual current is the vector sum of the currents in all live conductors of the device.
These elements see a fault to metal; they do not see one from line to line or line to neutral.
"""

from __future__ import annotations

from functools import cache
from typing import Final

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.device_settings import GFCI, amps
from bondwright.catalog.device_tables import RcdLimits, electronic_limits, residual_limits
from bondwright.catalog.sources import Source
from bondwright.devices.band import Edge, Point, TimeBand, earliest, step
from bondwright.devices.electronic import delayed

_TESTED: Final = (
    "The residual-current device is in working order; it is to be tested as its maker and the "
    "local code ask."
)


@cache
def residual_band(rating: DeviceRating) -> TimeBand | None:
    """Return the band of a device for the residual current, or None where it has no such element.

    GFCI: longest time (20 mA / I)^1.43 from 6 mA to 264 mA, UL 943. RCD: longest times at 1, 2
    and 5 times the rated residual current, IEC 61008-1, each kept up to the next. Ground-fault
    element: pickup and flat delay with their tolerances. Where a device has two elements,
    whichever is first opens it.

    Args:
        rating: the device.

    Returns:
        The band in residual amperes.
    """
    quick: list[Edge] = []
    slow: list[Edge] = []
    assumptions: list[str] = []
    sources: list[Source] = []
    if rating.residual_a is not None:
        limits = residual_limits()
        assumptions.append(_TESTED)
        if rating.residual_type == GFCI:
            gfci = limits.gfci
            quick.append(step(gfci.hold_a, limits.fastest_s))
            slow.append(Edge(tuple(_gfci(a) for a in (gfci.trip_a, gfci.ends_a))))
            sources += [gfci.source, limits.fastest_source]
        else:
            table = limits.selective if rating.is_selective else limits.general
            quick.append(_rcd_quick(rating.residual_a, table))
            slow.append(_rcd_slow(rating.residual_a, table, rating.is_selective))
            sources += [table.source, limits.fastest_source]
            assumptions.append(_waveform(rating))
    if rating.ground_pickup_a is not None:
        element = electronic_limits().ground
        fast, late = delayed(rating.ground_pickup_a, rating.ground_delay_s, element)
        quick.append(fast)
        slow.append(late)
        sources.append(element.source)
        assumptions.append(
            f"The ground-fault element set to {amps(rating.ground_pickup_a)} acts between "
            f"{fast.points[0][0]:g} A and {late.points[0][0]:g} A, by {late.points[0][1]:g} s at "
            "the latest, breaker opening included."
        )
    if not quick:
        return None
    return TimeBand(earliest(quick), earliest(slow), tuple(assumptions), tuple(sources))


def _gfci(residual_a: float) -> Point:
    gfci = residual_limits().gfci
    return residual_a, float((gfci.unit_a / residual_a) ** gfci.power)


def _rcd_slow(rated_a: float, table: RcdLimits, selective: bool) -> Edge:
    limits = residual_limits()
    points: list[Point] = []
    for index, (multiple, seconds) in enumerate(table.slowest):
        current = multiple * rated_a
        last = index == len(table.slowest) - 1
        if last and not selective and rated_a <= limits.small_up_to_a:
            current = max(current, limits.small_last_a)
        if points:
            points.append((current, points[-1][1]))
        points.append((current, seconds))
    return Edge(tuple(points))


def _rcd_quick(rated_a: float, table: RcdLimits) -> Edge:
    start = table.hold_x * rated_a
    if not table.fastest:
        return step(start, table.fastest_beyond_s)
    points: list[Point] = [(start, table.fastest[0][1])]
    beyond = [seconds for _, seconds in table.fastest[1:]] + [table.fastest_beyond_s]
    for (multiple, seconds), after in zip(table.fastest, beyond, strict=True):
        points += [(multiple * rated_a, seconds), (multiple * rated_a, after)]
    return Edge(tuple(points))


def _waveform(rating: DeviceRating) -> str:
    kind = (rating.residual_type or "").replace("S", "").strip()
    if kind == "AC":
        return (
            "Type AC trips for sure on alternating residual current only; a residual current "
            "with direct current in it may leave it closed."
        )
    if kind:
        return (
            f"The times are those for alternating residual current; what type {kind} does with "
            "pulsating or smooth direct current is not followed."
        )
    return (
        "The waveform type of the RCD was not given: the residual current is taken to be "
        "alternating."
    )
