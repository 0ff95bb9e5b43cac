"""Limits of overcurrent devices, read from ``data/devices/*.yaml``.

Each block of the data files keeps its published source and how sure it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from bondwright.catalog._data import load_yaml, read_text
from bondwright.catalog.sources import CatalogError, Source, Status

COMMON_PRACTICE = "common practice"
"""Status word in the data files of a fact of the trade that is no limit of a standard."""


@dataclass(frozen=True, slots=True)
class Steps:
    """A table by rating: the row used is the first whose upper rating is not exceeded.

    Attributes:
        rows: (greatest rating [A], value), ratings rising.
    """

    rows: tuple[tuple[float, float], ...]

    def at(self, rating_a: float) -> float:
        """Return the value for a rating [A].

        Raises:
            CatalogError: the rating is above the last row.
        """
        for up_to_a, value in self.rows:
            if rating_a <= up_to_a:
                return value
        raise above_table(rating_a, self.rows[-1][0])


def above_table(rating_a: float, last_a: float) -> CatalogError:
    """Return the error for a rating [A] above the last row [A] of a table."""
    return CatalogError(
        f"{rating_a:g} A",
        "is above the last row of the table",
        f"limits are held up to {last_a:g} A",
    )


@dataclass(frozen=True, slots=True)
class FixedInstantaneous:
    """Instantaneous range of a breaker whose setting is not given, by rating.

    Attributes:
        up_to_a: greatest rating of the row [A].
        hold_x: multiple of rating below which it does not trip at once.
        trip_x: multiple of rating from which it trips at once for sure.
        trip_text: how ``trip_x`` is made up, for people.
    """

    up_to_a: float
    hold_x: float
    trip_x: float
    trip_text: str


@dataclass(frozen=True, slots=True)
class BreakerLimits:
    """Band limits of thermal-magnetic moulded-case breakers.

    Attributes:
        never_opens_below_x: multiple of rating that never opens it.
        trip_135_x: multiple of the first calibration point.
        trip_135_s: its longest time [s] by rating.
        trip_200_x: multiple of the second calibration point.
        trip_200_s: its longest time [s] by rating.
        trip_300_x: multiple of the field test.
        trip_300_s: its longest time [s] by rating.
        fastest_x: multiple of the quickest thermal point.
        fastest_s: its time [s].
        fixed: instantaneous range where no setting is given, by rating.
        set_below: tolerance under a given setting, fraction.
        set_above: tolerance over a given setting, fraction.
        instantaneous_fastest_s: quickest instantaneous opening [s].
        instantaneous_slowest_s: slowest instantaneous opening [s].
        sources: where the numbers come from.
    """

    never_opens_below_x: float
    trip_135_x: float
    trip_135_s: Steps
    trip_200_x: float
    trip_200_s: Steps
    trip_300_x: float
    trip_300_s: Steps
    fastest_x: float
    fastest_s: float
    fixed: tuple[FixedInstantaneous, ...]
    set_below: float
    set_above: float
    instantaneous_fastest_s: float
    instantaneous_slowest_s: float
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class McbCurve:
    """Instantaneous gates of one curve letter.

    Attributes:
        hold_x: multiple of rating at which it does not open within ``McbLimits.gate_s``.
        trip_x: multiple of rating at which it opens within ``McbLimits.gate_s``.
        slowest_at_hold_s: longest time [s] at ``hold_x``, by rating.
    """

    hold_x: float
    trip_x: float
    slowest_at_hold_s: Steps


@dataclass(frozen=True, slots=True)
class McbLimits:
    """Band limits of miniature circuit breakers.

    Attributes:
        non_trip_x: conventional non-tripping multiple.
        trip_x: conventional tripping multiple.
        conventional_s: conventional time [s] by rating.
        test_x: multiple of the thermal test.
        test_fastest_s: least time of it [s].
        test_slowest_s: longest time of it [s] by rating.
        gate_s: time of the instantaneous gates [s].
        fastest_s: quickest opening [s].
        curves: gates by curve letter.
        falling_curve: letter of the curve whose slowest time still falls between its multiples.
        least_before_hold_s: its slowest time just below the lower multiple, at least [s].
        sources: where the numbers come from.
    """

    non_trip_x: float
    trip_x: float
    conventional_s: Steps
    test_x: float
    test_fastest_s: float
    test_slowest_s: Steps
    gate_s: float
    fastest_s: float
    curves: Mapping[str, McbCurve]
    falling_curve: str
    least_before_hold_s: float
    sources: tuple[Source, ...]


@dataclass(frozen=True, slots=True)
class FuseGate:
    """Gates of one fuse rating: rating and currents, all in A.

    Attributes:
        rating_a: rated current [A].
        least_10_s_a: current that does not operate it within 10 s [A].
        most_5_s_a: current that operates it within 5 s [A].
        least_0_1_s_a: current that does not operate it within 0.1 s [A].
        most_0_1_s_a: current that operates it within 0.1 s [A].
    """

    rating_a: float
    least_10_s_a: float
    most_5_s_a: float
    least_0_1_s_a: float
    most_0_1_s_a: float


@dataclass(frozen=True, slots=True)
class FuseLimits:
    """Band limits of gG fuses.

    Attributes:
        non_fusing_x: conventional non-fusing multiple by rating.
        fusing_x: conventional fusing multiple by rating.
        conventional_s: conventional time [s] by rating.
        gates: rows of the gate table, ratings rising.
        fastest_s: least time the quick edge is continued to [s].
        slowest_s: least time the slow edge is continued to [s].
        sources: where the numbers come from.
    """

    non_fusing_x: Steps
    fusing_x: Steps
    conventional_s: Steps
    gates: tuple[FuseGate, ...]
    fastest_s: float
    slowest_s: float
    sources: tuple[Source, ...]


def read_devices(name: str) -> dict[str, Any]:
    """Return one data file of devices, by block."""
    data: dict[str, Any] = load_yaml(read_text(f"devices/{name}"))
    return data


def steps(rows: Sequence[Sequence[float]], factor: float = 1.0) -> Steps:
    """Make a table by rating of rows (greatest rating [A], value), values times a factor."""
    return Steps(tuple((float(up_to), float(value) * factor) for up_to, value in rows))


def sources_of(data: Mapping[str, Any]) -> tuple[Source, ...]:
    """Return the source of every block of a data file."""
    return tuple(source_of(block) for block in data.values())


def source_of(block: Mapping[str, Any]) -> Source:
    """Return the source of one block of a data file.

    A block of common practice is no surer than memory; its edition says what it is.
    """
    word, edition = block["status"], str(block["edition"])
    if word == COMMON_PRACTICE:
        word, edition = Status.MEMORY, COMMON_PRACTICE
    return Source(block["source"], edition, Status(word), block.get("note", ""))


@cache
def breaker_limits() -> BreakerLimits:
    """Return the limits of moulded-case breakers (``breaker.yaml``)."""
    data = read_devices("breaker.yaml")
    fixed = tuple(
        FixedInstantaneous(
            up_to_a=float(row["up_to_a"]),
            hold_x=row["lowest_x"] * (1 - row["below"]),
            trip_x=row["highest_x"] * (1 + row["above"]),
            trip_text=f"{row['highest_x']:g} times rating plus {row['above']:.0%}",
        )
        for row in data["instantaneous_fixed"]["rows"]
    )
    return BreakerLimits(
        never_opens_below_x=data["hold"]["never_opens_below_x"],
        trip_135_x=data["trip_135_percent"]["x"],
        trip_135_s=steps(data["trip_135_percent"]["rows_up_to_a_min"], 60.0),
        trip_200_x=data["trip_200_percent"]["x"],
        trip_200_s=steps(data["trip_200_percent"]["rows_up_to_a_min"], 60.0),
        trip_300_x=data["trip_300_percent"]["x"],
        trip_300_s=steps(data["trip_300_percent"]["rows_up_to_a_s"]),
        fastest_x=data["fastest_thermal"]["x"],
        fastest_s=data["fastest_thermal"]["time_s"],
        fixed=fixed,
        set_below=data["instantaneous_set"]["below"],
        set_above=data["instantaneous_set"]["above"],
        instantaneous_fastest_s=data["instantaneous_time"]["fastest_s"],
        instantaneous_slowest_s=data["instantaneous_time"]["slowest_s"],
        sources=sources_of(data),
    )


@cache
def mcb_limits() -> McbLimits:
    """Return the limits of miniature circuit breakers (``mcb.yaml``)."""
    data = read_devices("mcb.yaml")
    curves = {
        row["curve"]: McbCurve(
            hold_x=float(row["hold_x"]),
            trip_x=float(row["trip_x"]),
            slowest_at_hold_s=steps(row["rows_slowest_at_hold_up_to_a_s"]),
        )
        for row in data["gates"]["curves"]
    }
    return McbLimits(
        non_trip_x=data["conventional"]["non_trip_x"],
        trip_x=data["conventional"]["trip_x"],
        conventional_s=steps(data["conventional"]["rows_up_to_a_h"], 3600.0),
        test_x=data["test_2_55"]["x"],
        test_fastest_s=data["test_2_55"]["fastest_s"],
        test_slowest_s=steps(data["test_2_55"]["rows_slowest_up_to_a_s"]),
        gate_s=data["gates"]["within_s"],
        fastest_s=data["instantaneous_time"]["fastest_s"],
        curves=MappingProxyType(curves),
        falling_curve=data["d_curve"]["curve"],
        least_before_hold_s=data["d_curve"]["least_before_hold_s"],
        sources=sources_of(data),
    )


@cache
def fuse_limits() -> FuseLimits:
    """Return the limits of gG fuses (``fuse.yaml``)."""
    data = read_devices("fuse.yaml")
    return FuseLimits(
        non_fusing_x=steps(data["conventional"]["rows_non_fusing_up_to_a_x"]),
        fusing_x=steps(data["conventional"]["rows_fusing_up_to_a_x"]),
        conventional_s=steps(data["conventional"]["rows_up_to_a_h"], 3600.0),
        gates=tuple(FuseGate(*map(float, row)) for row in data["gates"]["rows"]),
        fastest_s=data["least_time"]["fastest_s"],
        slowest_s=data["least_time"]["slowest_s"],
        sources=sources_of(data),
    )
