"""Soils, seasons, concrete and earth-test instruments, read from ``data/earth/``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any, Literal

from bondwright.catalog._data import load_yaml, read_table, read_text
from bondwright.catalog.device_data import source_of
from bondwright.catalog.sources import CatalogError, Source


@dataclass(frozen=True, slots=True)
class TypicalSoil:
    """A kind of soil: where to start before anything is measured, never a result.

    Attributes:
        name: in words.
        average: [ohm m]; None where the source gives a range only.
        least: [ohm m].
        most: [ohm m].
        source: where the numbers come from.
    """

    name: str
    average: float | None
    least: float
    most: float
    source: Source


@dataclass(frozen=True, slots=True)
class Season:
    """What a season does to the uppermost ground.

    Attributes:
        factor: on its resistivity.
        depth_m: how deep it reaches [m].
    """

    factor: float
    depth_m: float


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Accuracy of an instrument: part of the reading, and so many ohms more.

    Attributes:
        part: of the reading.
        ohm: [ohm].
    """

    part: float
    ohm: float

    def of(self, reading_ohm: float) -> float:
        """Return the uncertainty of a reading [ohm]."""
        return self.part * abs(reading_ohm) + self.ohm


@dataclass(frozen=True, slots=True)
class EarthData:
    """Everything in ``earth.yaml``.

    Attributes:
        moisture: (part of the dry weight, top soil [ohm m], sandy loam [ohm m]), rising.
        temperature: (temperature [degC], state, sandy loam [ohm m]), falling.
        seasons: by name ("wet", "dry", "frozen").
        concrete: resistivity by word ("least", "usual", "most") [ohm m].
        rod_factors: number of rods -> factor.
        clamp: (reading up to [ohm], accuracy), rising.
        metal_loop_ohm: readings of a stakeless clamp below this are a loop of metal [ohm].
        instruments: accuracy by name.
        plateau_at: places of the potential pin that are compared, as parts of the distance.
        plateau_within: how closely they must agree.
        sources: where the numbers come from, by block.
    """

    moisture: tuple[tuple[float, float, float], ...]
    temperature: tuple[tuple[float, str, float], ...]
    seasons: Mapping[str, Season]
    concrete: Mapping[str, float]
    rod_factors: Mapping[int, float]
    clamp: tuple[tuple[float, Accuracy], ...]
    metal_loop_ohm: float
    instruments: Mapping[str, Accuracy]
    plateau_at: tuple[float, ...]
    plateau_within: float
    sources: Mapping[str, Source]


@cache
def typical_soils() -> tuple[TypicalSoil, ...]:
    """Return kinds of soil (``soils.csv``)."""
    table = read_table("earth/soils.csv")
    return tuple(
        TypicalSoil(
            row["soil"],
            float(row["average"]) if row["average"] else None,
            float(row["least"]),
            float(row["most"]),
            table.source(row["status"]),
        )
        for row in table.rows
    )


def typical_soil(name: str) -> TypicalSoil:
    """Return a kind of soil by its name.

    Raises:
        CatalogError: no such soil.
    """
    for soil in typical_soils():
        if soil.name == name.strip().lower():
            return soil
    names = "; ".join(soil.name for soil in typical_soils())
    raise CatalogError(name, "is no soil held here", f"there are: {names}")


@cache
def earth_data() -> EarthData:
    """Return the numbers of ``earth.yaml``."""
    data: dict[str, Any] = load_yaml(read_text("earth/earth.yaml"))
    concrete = data["concrete"]
    return EarthData(
        moisture=tuple((float(a), float(b), float(c)) for a, b, c in data["moisture"]["rows"]),
        temperature=tuple(
            (float(t), str(state), float(rho)) for t, state, rho in data["temperature"]["rows"]
        ),
        seasons=MappingProxyType(
            {
                name: Season(float(row["factor"]), float(row["depth_m"]))
                for name, row in data["seasons"]["rows"].items()
            }
        ),
        concrete=MappingProxyType(
            {word: float(concrete[word]) for word in ("least", "usual", "most")}
        ),
        rod_factors=MappingProxyType(
            {int(n): float(f) for n, f in data["several_rods"]["factors"].items()}
        ),
        clamp=tuple(
            (float(top), Accuracy(float(part), float(ohm)))
            for top, part, ohm in data["clamp"]["rows"]
        ),
        metal_loop_ohm=float(data["clamp"]["metal_loop_ohm"]),
        instruments=MappingProxyType(
            {
                name: Accuracy(float(row["part"]), float(row["ohm"]))
                for name, row in data["instruments"]["rows"].items()
            }
        ),
        plateau_at=tuple(float(x) for x in data["plateau"]["at"]),
        plateau_within=float(data["plateau"]["agree_within"]),
        sources=MappingProxyType({name: source_of(block) for name, block in data.items()}),
    )


def instrument(name: str) -> Accuracy:
    """Return the usual accuracy of a kind of instrument.

    Raises:
        CatalogError: no such instrument.
    """
    rows = earth_data().instruments
    if name not in rows:
        raise CatalogError(name, "is no instrument held here", f"there are: {', '.join(rows)}")
    return rows[name]


def resistivity_at(
    moisture: float, kind: Literal["top soil", "sandy loam"] = "sandy loam"
) -> float:
    """Return the resistivity of a soil by its moisture [ohm m], log-log between the rows.

    Args:
        moisture: part of the dry weight, 0.025 to 0.30.
        kind: which soil.

    Raises:
        ValueError: a moisture outside the table.
    """
    import numpy as np

    rows = earth_data().moisture
    if not rows[0][0] <= moisture <= rows[-1][0]:
        raise ValueError(
            f"a moisture of {moisture:g} is outside the table; give {rows[0][0]} to {rows[-1][0]}"
        )
    column = 1 if kind == "top soil" else 2
    wet, rho = np.log([row[0] for row in rows]), np.log([row[column] for row in rows])
    return float(np.exp(np.interp(np.log(moisture), wet, rho)))
