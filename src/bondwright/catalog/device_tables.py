"""Limits of electronic trip units and residual-current devices (``data/devices/*.yaml``)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from bondwright.catalog.device_data import read_devices, source_of
from bondwright.catalog.sources import Source

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Element:
    """Tolerances of one element of an electronic trip unit with a flat delay.

    Attributes:
        below: tolerance under the pickup, fraction.
        above: tolerance over the pickup, fraction.
        time_below: tolerance under the delay, fraction.
        time_above: tolerance over the delay, fraction.
        opening_s: time the breaker takes to open after it [s].
        fastest_s: least time [s].
        source: where the numbers come from.
    """

    below: float
    above: float
    time_below: float
    time_above: float
    opening_s: float
    fastest_s: float
    source: Source


@dataclass(frozen=True, slots=True)
class LongTime:
    """Long-time element: ``time = delay (at_x pickup / current)^2``.

    Attributes:
        at_x: multiple of the pickup at which the delay is given.
        never_below_x: multiple of the pickup below which it never trips.
        sure_from_x: multiple of the pickup from which it trips for sure.
        time_below: tolerance under the time, fraction.
        time_above: tolerance over the time, fraction.
        pickup: pickup taken where none is given, fraction of the rating.
        shortest_s: shortest delay that is made [s].
        longest_s: longest delay that is made [s].
        lowest_instantaneous_x: lowest instantaneous setting that is made, times rating.
        source: where the tolerances come from.
        unset_source: where the span of settings comes from.
    """

    at_x: float
    never_below_x: float
    sure_from_x: float
    time_below: float
    time_above: float
    pickup: float
    shortest_s: float
    longest_s: float
    lowest_instantaneous_x: float
    source: Source
    unset_source: Source


@dataclass(frozen=True, slots=True)
class ElectronicLimits:
    """Elements of an electronic trip unit.

    Attributes:
        long: long-time element.
        short: short-time element.
        ground: ground-fault element.
        instant_below: tolerance under the instantaneous setting, fraction.
        instant_above: tolerance over it, fraction.
        instant_s: quickest and slowest instantaneous opening [s].
        instant_source: where they come from.
    """

    long: LongTime
    short: Element
    ground: Element
    instant_below: float
    instant_above: float
    instant_s: Pair
    instant_source: Source


@dataclass(frozen=True, slots=True)
class GfciLimits:
    """Class A ground-fault circuit interrupter: longest time ``(unit / I)^power``.

    Attributes:
        hold_a: residual current below which it does not trip [A].
        trip_a: residual current from which it trips for sure [A].
        unit_a: current of the formula [A].
        power: exponent of the formula.
        ends_a: current from which the time falls no further [A].
        source: where the numbers come from.
    """

    hold_a: float
    trip_a: float
    unit_a: float
    power: float
    ends_a: float
    source: Source


@dataclass(frozen=True, slots=True)
class RcdLimits:
    """Break times of one type of residual-current device.

    Attributes:
        hold_x: multiple of the rated residual current that does not trip it.
        slowest: (multiple, longest time [s]), multiples rising.
        fastest: (multiple, least time [s]); empty without delay.
        fastest_beyond_s: least time above the last multiple [s].
        source: where the numbers come from.
    """

    hold_x: float
    slowest: tuple[Pair, ...]
    fastest: tuple[Pair, ...]
    fastest_beyond_s: float
    source: Source


@dataclass(frozen=True, slots=True)
class ResidualLimits:
    """Residual-current devices.

    Attributes:
        gfci: Class A ground-fault circuit interrupter.
        general: residual-current device, general type.
        selective: residual-current device, type S.
        small_up_to_a: rated residual current up to which ``small_last_a`` stands [A].
        small_last_a: residual current of the last test of small ones [A].
        fastest_s: quickest opening without delay [s].
        fastest_source: where it comes from.
    """

    gfci: GfciLimits
    general: RcdLimits
    selective: RcdLimits
    small_up_to_a: float
    small_last_a: float
    fastest_s: float
    fastest_source: Source


def _pairs(rows: Sequence[Sequence[float]]) -> tuple[Pair, ...]:
    return tuple((float(a), float(b)) for a, b in rows)


def _element(block: Mapping[str, Any]) -> Element:
    return Element(
        below=block["below"],
        above=block["above"],
        time_below=block["time_below"],
        time_above=block["time_above"],
        opening_s=block["opening_s"],
        fastest_s=block["fastest_s"],
        source=source_of(block),
    )


@cache
def electronic_limits() -> ElectronicLimits:
    """Return the elements of electronic trip units (``electronic.yaml``)."""
    data = read_devices("electronic.yaml")
    long, unset, instant = data["long_time"], data["long_time_unset"], data["instantaneous"]
    return ElectronicLimits(
        long=LongTime(
            at_x=long["at_x"],
            never_below_x=long["never_below_x"],
            sure_from_x=long["sure_from_x"],
            time_below=long["time_below"],
            time_above=long["time_above"],
            pickup=unset["pickup"],
            shortest_s=unset["shortest_s"],
            longest_s=unset["longest_s"],
            lowest_instantaneous_x=unset["lowest_instantaneous_x"],
            source=source_of(long),
            unset_source=source_of(unset),
        ),
        short=_element(data["short_time"]),
        ground=_element(data["ground_fault"]),
        instant_below=instant["below"],
        instant_above=instant["above"],
        instant_s=(instant["fastest_s"], instant["slowest_s"]),
        instant_source=source_of(instant),
    )


@cache
def residual_limits() -> ResidualLimits:
    """Return the residual-current devices (``residual.yaml``)."""
    data = read_devices("residual.yaml")
    gfci, general, selective = data["gfci"], data["rcd_general"], data["rcd_selective"]
    return ResidualLimits(
        gfci=GfciLimits(
            hold_a=gfci["hold_a"],
            trip_a=gfci["trip_a"],
            unit_a=gfci["unit_a"],
            power=gfci["power"],
            ends_a=gfci["ends_a"],
            source=source_of(gfci),
        ),
        general=RcdLimits(
            hold_x=general["hold_x"],
            slowest=_pairs(general["slowest_x_s"]),
            fastest=(),
            fastest_beyond_s=data["quickest"]["fastest_s"],
            source=source_of(general),
        ),
        selective=RcdLimits(
            hold_x=selective["hold_x"],
            slowest=_pairs(selective["slowest_x_s"]),
            fastest=_pairs(selective["fastest_x_s"]),
            fastest_beyond_s=selective["fastest_beyond_s"],
            source=source_of(selective),
        ),
        small_up_to_a=general["small_up_to_a"],
        small_last_a=general["small_last_a"],
        fastest_s=data["quickest"]["fastest_s"],
        fastest_source=source_of(data["quickest"]),
    )
