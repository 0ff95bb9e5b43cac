"""Time bands of breakers, miniature breakers and fuses by rating."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import replace
from functools import cache
from typing import Final

from bondwright.catalog import device_data
from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import CatalogError
from bondwright.devices.band import FAR_X, Edge, Point, TimeBand, same_energy, stepped
from bondwright.devices.curves import UserCurve
from bondwright.devices.electronic import electronic_band
from bondwright.devices.fuses import class_fuse_band, gg_fuse_band

_NO_OVERCURRENT: Final = (
    "A residual-current device without overcurrent protection does not open on overcurrent; the "
    "device ahead of it has to."
)
_ARC_FAULT: Final = (
    "Arc-fault detection is not relied on: for a bolted fault only the overcurrent band of the "
    "breaker counts, and a residual element that some listings have is left out."
)


def band(rating: DeviceRating, curves: Mapping[str, UserCurve] | None = None) -> TimeBand:
    """Return the time band of a device for the current in its own conductor.

    The band is that of any device made to its standard; the maker's own curve, where it is at
    hand, is narrower and goes before it. The residual element of a GFCI, RCD or ground-fault
    breaker is not in it; see :func:`bondwright.devices.residual.residual_band`.

    Args:
        rating: the device. One without overcurrent protection has a band that never opens.
        curves: a person's own curves by name; one that the rating names takes the place of the
            standard's band.

    Returns:
        The band, with its assumptions and sources.

    Raises:
        CatalogError: no limits are held for a device of this rating, or the curve it names is
            not among ``curves``.
    """
    if rating.curve_name is not None:
        return _own(rating, curves or {})
    try:
        return _of_standard(rating)
    except CatalogError as error:
        problem = f"no time band is held for it: {error.text} {error.problem}"
        raise CatalogError(str(rating), problem, error.hint) from error


@cache
def _of_standard(rating: DeviceRating) -> TimeBand:
    match rating.kind:
        case DeviceKind.BREAKER:
            found = _breaker(rating, rating.instantaneous_a)
        case DeviceKind.ELECTRONIC:
            found = electronic_band(rating)
        case DeviceKind.MCB:
            found = _mcb(rating)
        case DeviceKind.RCD:
            found = TimeBand(Edge(()), Edge(()), (_NO_OVERCURRENT,))
        case DeviceKind.FUSE if rating.fuse_class is None:
            found = gg_fuse_band(rating)
        case _:
            found = class_fuse_band(rating)
    if rating.arc_fault:
        found = replace(found, assumptions=(*found.assumptions, _ARC_FAULT))
    return found


def _own(rating: DeviceRating, curves: Mapping[str, UserCurve]) -> TimeBand:
    name = str(rating.curve_name)
    if name in curves:
        return curves[name].band
    near = difflib.get_close_matches(name, list(curves), n=1, cutoff=0.6)
    if near:
        hint = f"did you mean {near[0]!r}?"
    else:
        hint = f"give its points, or take one of {list(curves)}" if curves else "give its points"
    raise CatalogError(str(rating), f"no curve {name!r} was given", hint)


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
        same_energy(third, amps * FAR_X),
    ]
    fastest = (amps * limits.fastest_x, limits.fastest_s)
    quick: list[Point] = [
        same_energy(fastest, amps * limits.never_opens_below_x),
        same_energy(fastest, amps * FAR_X),
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
    before_hold_s, before_trip = at_hold_s, (trip_a, at_hold_s)
    words = f"the slowest time is that at {curve.hold_x:g} times rating"
    if rating.curve == limits.falling_curve:
        before_hold_s = max(at_hold_s, limits.least_before_hold_s)
        before_trip = same_energy((hold_a, at_hold_s), trip_a)
        words = "the slowest time follows constant current squared times time"
    slow: list[Point] = [
        (amps * limits.trip_x, conventional_s),
        (amps * limits.test_x, limits.test_slowest_s.at(amps)),
        (hold_a, before_hold_s),
        (hold_a, at_hold_s),
        before_trip,
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
            f"Between {curve.hold_x:g} and {curve.trip_x:g} times rating {words}; from "
            f"{curve.trip_x:g} times on it is {limits.gate_s:g} s.",
        ),
        sources=limits.sources,
    )
