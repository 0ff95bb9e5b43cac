"""Time bands of breakers with electronic trip units.

The tolerances are common practice, not those of one maker; where the maker's time-current curve
is at hand it goes before this band.
"""

from __future__ import annotations

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.device_tables import Element, electronic_limits
from bondwright.catalog.sources import Source
from bondwright.devices.band import FAR_X, Edge, TimeBand, earliest, same_energy, step


def electronic_band(rating: DeviceRating) -> TimeBand:
    """Return the band of a breaker with an electronic trip unit.

    Long time by constant current squared times time, the delay given at 6 times the pickup;
    short time with a flat delay; instantaneous. An element that is not given is off, unless no
    setting is given at all: then the band spans the settings that are made.

    Args:
        rating: the breaker with its settings.

    Returns:
        The band of the current in its own conductor, without the ground-fault element.
    """
    limits, amps = electronic_limits(), rating.rating_a
    long = limits.long
    pickup_a = amps * (long.pickup if rating.long_pickup is None else rating.long_pickup)
    delay_s = rating.long_delay_s
    shortest = long.shortest_s if delay_s is None else delay_s
    longest = long.longest_s if delay_s is None else delay_s
    quick = [
        _long(pickup_a, long.at_x, shortest * (1 - long.time_below), long.never_below_x),
    ]
    slow = [_long(pickup_a, long.at_x, longest * (1 + long.time_above), long.sure_from_x)]
    sources: list[Source] = [long.source]
    assumptions = [
        "The electronic trip unit is in working order and keeps usual tolerances: long time "
        f"{long.time_above:.0%} of the time, other pickups {limits.short.above:.0%}; its maker's "
        "time-current curve, where at hand, goes before this band.",
    ]
    if delay_s is None or rating.long_pickup is None:
        sources.append(long.unset_source)
        assumptions.append(_unset_long(rating, longest, shortest, long.at_x))
    if rating.short_pickup_a is not None:
        fast, late = delayed(rating.short_pickup_a, rating.short_delay_s, limits.short)
        quick.append(fast)
        slow.append(late)
        sources.append(limits.short.source)
    if rating.instantaneous_a is not None:
        quick.append(step(rating.instantaneous_a * (1 - limits.instant_below), limits.instant_s[0]))
        slow.append(step(rating.instantaneous_a * (1 + limits.instant_above), limits.instant_s[1]))
        sources.append(limits.instant_source)
    elif not _any_setting(rating):
        lowest = amps * long.lowest_instantaneous_x
        quick.append(step(lowest, limits.instant_s[0]))
        assumptions.append(
            "No settings were given: nothing but the slowest long-time delay is relied on to open "
            f"it, and from {lowest:g} A it may open at once. Read the settings off the trip unit."
        )
    else:
        absent = "instantaneous" if rating.short_pickup_a is not None else "short or instantaneous"
        assumptions.append(f"No {absent} setting was given: it is taken to be off.")
    return TimeBand(earliest(quick), earliest(slow), tuple(assumptions), tuple(sources))


def delayed(pickup_a: float, delay_s: float | None, element: Element) -> tuple[Edge, Edge]:
    """Return the edges of an element with a flat delay.

    Args:
        pickup_a: pickup, A.
        delay_s: delay, s; None for the least there is.
        element: its tolerances.

    Returns:
        (quick, slow).
    """
    delay = delay_s or 0.0
    least = max(delay * (1 - element.time_below), element.fastest_s)
    most = delay * (1 + element.time_above) + element.opening_s
    return step(pickup_a * (1 - element.below), least), step(pickup_a * (1 + element.above), most)


def _long(pickup_a: float, at_x: float, delay_s: float, from_x: float) -> Edge:
    at = (pickup_a * at_x, delay_s)
    return Edge((same_energy(at, pickup_a * from_x), same_energy(at, pickup_a * FAR_X)))


def _any_setting(rating: DeviceRating) -> bool:
    given = (rating.long_pickup, rating.long_delay_s, rating.short_pickup_a)
    return any(value is not None for value in given)


def _unset_long(rating: DeviceRating, longest: float, shortest: float, at_x: float) -> str:
    parts = []
    if rating.long_pickup is None:
        parts.append("the long-time pickup is taken at the whole rating")
    if rating.long_delay_s is None:
        parts.append(
            f"the long-time delay may be anything from {shortest:g} s to {longest:g} s at "
            f"{at_x:g} times the pickup"
        )
    text = ", and ".join(parts)
    return f"{text[0].upper()}{text[1:]}, for it was not given."
