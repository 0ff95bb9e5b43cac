"""Limits of fuses by class and of let-through energy (``data/devices/*.yaml``)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

from bondwright.catalog.device_data import Steps, read_devices, source_of, sources_of, steps
from bondwright.catalog.sources import Source

Pair = tuple[float, float]


@dataclass(frozen=True, slots=True)
class ClassFuseLimits:
    """Fuses of the classes of UL 248.

    Attributes:
        hold_x: multiple of rating that does not open them.
        trip_x: multiple of the first overload test.
        trip_s: its longest time [s] by rating.
        large_trip: the same above the last rating of ``trip_s``: (multiple, time [s]).
        second_x: multiple of the second overload test.
        second_s: its longest time [s] by rating; none above its last.
        usual_delay: (multiple, least time [s]) of those marked time-delay.
        small_delay: the same for ``small_classes``.
        small_classes: classes with the shorter test.
        quick: (multiple, time [s]), the quick end without time delay.
        fastest_s: quickest opening [s].
        constant_energy_to_x: multiple up to which the slow end keeps its energy.
        half_cycle_s: longest time in the current-limiting range [s].
        threshold_x: greatest threshold over rating, by class and rating.
        let_through_at_a: fault currents of the columns of ``let_through`` [A].
        let_through: (greatest rating [A], energies [A2 s]) by class.
        interrupting_a: interrupting rating by class [A].
        sources: where the numbers come from, by block.
    """

    hold_x: float
    trip_x: float
    trip_s: Steps
    large_trip: Pair
    second_x: float
    second_s: Steps
    usual_delay: Pair
    small_delay: Pair
    small_classes: frozenset[str]
    quick: tuple[Pair, ...]
    fastest_s: float
    constant_energy_to_x: float
    half_cycle_s: float
    threshold_x: Mapping[str, Steps]
    let_through_at_a: tuple[float, ...]
    let_through: Mapping[str, tuple[tuple[float, tuple[float | None, ...]], ...]]
    interrupting_a: Mapping[str, float]
    sources: Mapping[str, Source]


@dataclass(frozen=True, slots=True)
class BsFuseLimits:
    """Fuses of British standards by the currents BS 7671 takes for them.

    Attributes:
        points: by standard and rating [A]: (current [A], time [s]), times falling.
        overload: (fusing multiple, time [s]) by standard.
        hold_x: multiple of rating that does not open them.
        fastest_s: quickest opening [s].
        slowest_s: least time of the slow edge [s].
        sources: where the numbers come from.
    """

    points: Mapping[str, Mapping[float, tuple[Pair, ...]]]
    overload: Mapping[str, Pair]
    hold_x: float
    fastest_s: float
    slowest_s: float
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class EnergyLimits:
    """Energies let through by gG fuses and by miniature breakers of class 3.

    Attributes:
        gg: (rating [A], least energy that melts, greatest energy let through [A2 s]).
        gg_source: where they come from.
        mcb: (greatest rating [A], rows (rated capacity [A], energy of B, of C [A2 s])).
        mcb_source: where they come from.
    """

    gg: tuple[tuple[float, float, float], ...]
    gg_source: Source
    mcb: tuple[tuple[float, tuple[tuple[float, float, float], ...]], ...]
    mcb_source: Source


def _pairs(rows: Sequence[Sequence[float]]) -> tuple[Pair, ...]:
    return tuple((float(a), float(b)) for a, b in rows)


def _pair(row: Sequence[float], factor: float = 1.0) -> Pair:
    first, second = row
    return float(first), float(second) * factor


@cache
def class_fuse_limits() -> ClassFuseLimits:
    """Return the fuses of UL 248 classes (``fuse_classes.yaml``)."""
    data = read_devices("fuse_classes.yaml")
    load, delay, bridge = data["ul_overload"], data["ul_time_delay"], data["ul_bridge"]
    energies = {
        name: tuple(
            (float(up_to), tuple(None if v is None else float(v) for v in values))
            for up_to, *values in rows
        )
        for name, rows in data["ul_let_through"]["rows_up_to_a"].items()
    }
    threshold = {name: steps(rows) for name, rows in data["ul_threshold"]["rows"].items()}
    return ClassFuseLimits(
        hold_x=data["ul_carry"]["hold_x"],
        trip_x=load["trip_x"],
        trip_s=steps(load["rows_trip_up_to_a_min"], 60.0),
        large_trip=(load["large_trip_x"], load["large_trip_min"] * 60.0),
        second_x=load["second_x"],
        second_s=steps(load["rows_second_up_to_a_min"], 60.0),
        usual_delay=_pair(delay["usual"]),
        small_delay=_pair(delay["small"]),
        small_classes=frozenset(delay["small_classes"]),
        quick=_pairs(data["ul_quick"]["points_x_s"]),
        fastest_s=data["ul_quick"]["fastest_s"],
        constant_energy_to_x=bridge["constant_energy_to_x"],
        half_cycle_s=bridge["half_cycle_s"],
        threshold_x=MappingProxyType(threshold),
        let_through_at_a=tuple(float(a) for a in data["ul_let_through"]["at_a"]),
        let_through=MappingProxyType(energies),
        interrupting_a=MappingProxyType(
            {name: float(a) for name, a in data["ul_interrupting"]["rows_a"].items()}
        ),
        sources=MappingProxyType(
            {name: source_of(b) for name, b in data.items() if name.startswith("ul_")}
        ),
    )


@cache
def bs_fuse_limits() -> BsFuseLimits:
    """Return the fuses of British standards (``fuse_classes.yaml``)."""
    data = read_devices("fuse_classes.yaml")
    volts, ends = data["bs_points"]["volts"], data["bs_ends"]
    points = {
        name: MappingProxyType(
            {
                float(amps): tuple(
                    (volts / ohm, time)
                    for ohm, time in ((at_5_s, 5.0), (at_04_s, 0.4))
                    if ohm is not None
                )
                for amps, at_04_s, at_5_s in rows
            }
        )
        for name, rows in data["bs_points"]["rows"].items()
    }
    return BsFuseLimits(
        points=MappingProxyType(points),
        overload=MappingProxyType(
            {name: _pair(row, 3600.0) for name, row in data["bs_overload"]["rows"].items()}
        ),
        hold_x=ends["hold_x"],
        fastest_s=ends["fastest_s"],
        slowest_s=ends["slowest_s"],
        sources=sources_of({n: b for n, b in data.items() if n.startswith("bs_")}),
    )


@cache
def energy_limits() -> EnergyLimits:
    """Return the let-through energies (``fuse_classes.yaml``, ``mcb_energy.yaml``)."""
    fuses, mcb = read_devices("fuse_classes.yaml"), read_devices("mcb_energy.yaml")["class_3"]
    return EnergyLimits(
        gg=tuple((float(a), float(b), float(c)) for a, b, c in fuses["gg_let_through"]["rows"]),
        gg_source=source_of(fuses["gg_let_through"]),
        mcb=tuple(
            (
                float(row["up_to_a"]),
                tuple((float(a), float(b), float(c)) for a, b, c in row["rows"]),
            )
            for row in mcb["rows_up_to_a"]
        ),
        mcb_source=source_of(mcb),
    )
