"""Time bands of breakers, miniature breakers and fuses by rating."""

from __future__ import annotations

import math
from functools import cache
from typing import Final

from bondwright.catalog import device_data
from bondwright.catalog.device_data import FuseGate
from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import Edge, Point, TimeBand, falling, stepped

_FAR_X: Final = 1e4
"""A multiple of rating beyond any fault a building can have."""


@cache
def band(rating: DeviceRating, instantaneous_a: float | None = None) -> TimeBand:
    """Return the time band of a device.

    The band is that of any device made to its standard; the maker's own curve, where it is at
    hand, is narrower and goes before it.

    Args:
        rating: the device.
        instantaneous_a: instantaneous setting of a breaker, A; None if it is not known or not
            adjustable.

    Returns:
        The band, with its assumptions and sources.

    Raises:
        CatalogError: no limits are held for a device of this rating.
        ValueError: the setting is not a positive current, or the device takes none.
    """
    if instantaneous_a is not None:
        if rating.kind is not DeviceKind.BREAKER:
            raise ValueError(f"a {rating} takes no instantaneous setting; leave it out")
        if not 0 < instantaneous_a < math.inf:
            raise ValueError(
                f"an instantaneous setting of {instantaneous_a} A is not possible; "
                "give a positive current"
            )
    try:
        match rating.kind:
            case DeviceKind.BREAKER:
                return _breaker(rating, instantaneous_a)
            case DeviceKind.MCB:
                return _mcb(rating)
            case DeviceKind.FUSE:
                return _fuse(rating)
    except CatalogError as error:
        problem = f"no time band is held for it: {error.text} {error.problem}"
        raise CatalogError(str(rating), problem, error.hint) from error


def _breaker(rating: DeviceRating, setting_a: float | None) -> TimeBand:
    limits = device_data.breaker_limits()
    amps = rating.rating_a
    assumptions = [
        "The breaker is thermal-magnetic, in working order, and keeps the limits of UL 489; "
        "its maker's time-current curve, where at hand, goes before this band.",
        f"Between {limits.trip_300_x:g} times rating and the instantaneous trip the slowest "
        "time follows constant current squared times time.",
    ]
    if setting_a is None:
        row = next((row for row in limits.fixed if amps <= row.up_to_a), None)
        if row is None:
            raise device_data.above_table(amps, limits.fixed[-1].up_to_a)
        hold_a, trip_a = amps * row.hold_x, amps * row.trip_x
        assumptions.append(
            "No instantaneous setting was given: the breaker is taken to trip at once from "
            f"{trip_a:g} A ({row.trip_text}) for sure, and from {hold_a:g} A perhaps. "
            "Some breakers trip at once only at more; read the maker's curve."
        )
    else:
        hold_a = setting_a * (1 - limits.set_below)
        trip_a = setting_a * (1 + limits.set_above)
        assumptions.append(
            f"The instantaneous trip set to {setting_a:g} A acts between {hold_a:g} A and "
            f"{trip_a:g} A."
        )
    third = (amps * limits.trip_300_x, limits.trip_300_s.at(amps))
    slow: list[Point] = [
        (amps * limits.trip_135_x, limits.trip_135_s.at(amps)),
        (amps * limits.trip_200_x, limits.trip_200_s.at(amps)),
        third,
        _same_energy(third, amps * _FAR_X),
    ]
    fastest = (amps * limits.fastest_x, limits.fastest_s)
    quick: list[Point] = [
        _same_energy(fastest, amps * limits.never_opens_below_x),
        _same_energy(fastest, amps * _FAR_X),
    ]
    return TimeBand(
        quick=stepped(quick, hold_a, limits.instantaneous_fastest_s),
        slow=stepped(slow, trip_a, limits.instantaneous_slowest_s),
        assumptions=tuple(assumptions),
        sources=limits.sources,
    )


def _mcb(rating: DeviceRating) -> TimeBand:
    limits = device_data.mcb_limits()
    amps = rating.rating_a
    curve = limits.curves[str(rating.curve)]
    hold_a, trip_a = amps * curve.hold_x, amps * curve.trip_x
    conventional_s = limits.conventional_s.at(amps)
    at_hold_s = curve.slowest_at_hold_s.at(amps)
    slow: list[Point] = [
        (amps * limits.trip_x, conventional_s),
        (amps * limits.test_x, limits.test_slowest_s.at(amps)),
        (hold_a, at_hold_s),
        (trip_a, at_hold_s),
    ]
    quick: list[Point] = [
        (amps * limits.non_trip_x, conventional_s),
        (amps * limits.test_x, limits.test_fastest_s),
        (hold_a, limits.gate_s),
    ]
    return TimeBand(
        quick=stepped(quick, hold_a, limits.fastest_s),
        slow=stepped(slow, trip_a, limits.gate_s),
        assumptions=(
            "The breaker is in working order and keeps the limits of IEC 60898-1 at 30 degC.",
            f"Between {curve.hold_x:g} and {curve.trip_x:g} times rating the slowest time is that "
            f"at {curve.hold_x:g} times rating; from {curve.trip_x:g} times on it is "
            f"{limits.gate_s:g} s.",
        ),
        sources=limits.sources,
    )


def _fuse(rating: DeviceRating) -> TimeBand:
    limits = device_data.fuse_limits()
    amps = rating.rating_a
    gate, between = _gate(amps, limits.gates)
    conventional_s = limits.conventional_s.at(amps)
    quick_end, slow_end = (gate.least_0_1_s_a, 0.1), (gate.most_0_1_s_a, 0.1)
    quick: list[Point] = [
        (amps * limits.non_fusing_x, conventional_s),
        (gate.least_10_s_a, 10.0),
        quick_end,
        _same_energy(quick_end, amps * _FAR_X),
    ]
    slow: list[Point] = [
        (amps * limits.fusing_x, conventional_s),
        (gate.most_5_s_a, 5.0),
        slow_end,
        _same_energy(slow_end, amps * _FAR_X),
    ]
    assumptions = [
        "Below 0.1 s the energy (current squared times time) of the 0.1 s gate is kept, down to "
        f"{limits.fastest_s:g} s (quick edge) and {limits.slowest_s:g} s (slow edge).",
    ]
    if rating.curve is None:
        assumptions.append(
            "The class of the fuse was not given: the gG gates of IEC 60269-1 stand for it. "
            "Other classes differ; read the maker's curve."
        )
    if between is not None:
        assumptions.append(
            f"{amps:g} A is not in the table of gates; its currents are interpolated between "
            f"{between[0]:g} A and {between[1]:g} A on log-log scales."
        )
    return TimeBand(
        quick=Edge(tuple(falling(quick, limits.fastest_s))),
        slow=Edge(tuple(falling(slow, limits.slowest_s))),
        assumptions=tuple(assumptions),
        sources=limits.sources,
    )


def _gate(amps: float, gates: tuple[FuseGate, ...]) -> tuple[FuseGate, tuple[float, float] | None]:
    if not gates[0].rating_a <= amps <= gates[-1].rating_a:
        raise CatalogError(
            f"{amps:g} A",
            "is outside the table of gates",
            f"gates are held from {gates[0].rating_a:g} A to {gates[-1].rating_a:g} A",
        )
    above = next(gate for gate in gates if gate.rating_a >= amps)
    if above.rating_a == amps:
        return above, None
    below = gates[gates.index(above) - 1]
    share = math.log(amps / below.rating_a) / math.log(above.rating_a / below.rating_a)

    def between(low: float, high: float) -> float:
        return low * math.exp(share * math.log(high / low))

    gate = FuseGate(
        rating_a=amps,
        least_10_s_a=between(below.least_10_s_a, above.least_10_s_a),
        most_5_s_a=between(below.most_5_s_a, above.most_5_s_a),
        least_0_1_s_a=between(below.least_0_1_s_a, above.least_0_1_s_a),
        most_0_1_s_a=between(below.most_0_1_s_a, above.most_0_1_s_a),
    )
    return gate, (below.rating_a, above.rating_a)


def _same_energy(point: Point, current_a: float) -> Point:
    """Move along constant current squared times time to another current [A]."""
    current, time = point
    return current_a, time * (current / current_a) ** 2
