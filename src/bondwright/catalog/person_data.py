"""A person in a fault circuit, read from ``data/safety/person.yaml``."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from bondwright.catalog._data import load_yaml, read_text
from bondwright.catalog.device_data import source_of
from bondwright.catalog.sources import Source

Row = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PathData:
    """A way through the body.

    Attributes:
        share: its share of the impedance hand to hand.
        heart: name of its heart-current factor.
    """

    share: float
    heart: str


@dataclass(frozen=True, slots=True)
class PersonData:
    """Zones, paths and skin.

    Attributes:
        perception_a: current from which it may be felt [A].
        let_go: (time [s], current [A]) of curve b, times rising; level beyond both ends.
        figure_ends_s: longest time of the zones [s].
        paths: by name.
        skin_factor: factor on the impedance of dry contacts, by state of the skin.
        step_feet_factor: resistance of two feet in series over surface resistivity, ohm per ohm m.
        touch_50522: (time [s], voltage [V]) of EN 50522, times rising.
        sources: where the numbers come from, by block.
    """

    perception_a: float
    let_go: tuple[Row, ...]
    figure_ends_s: float
    paths: Mapping[str, PathData]
    skin_factor: Mapping[str, float]
    step_feet_factor: float
    touch_50522: tuple[Row, ...]
    sources: Mapping[str, Source]


def _rows(rows: list[list[float]]) -> tuple[Row, ...]:
    return tuple((float(a), float(b)) for a, b in rows)


@cache
def person_data() -> PersonData:
    """Return the numbers of a person in a fault circuit (``person.yaml``)."""
    data: dict[str, Any] = load_yaml(read_text("safety/person.yaml"))
    paths = {
        name: PathData(float(row["share"]), row["heart"])
        for name, row in data["paths"]["rows"].items()
    }
    return PersonData(
        perception_a=data["zones"]["perception_a"],
        let_go=_rows(data["zones"]["let_go_s_a"]),
        figure_ends_s=float(data["zones"]["figure_ends_s"]),
        paths=MappingProxyType(paths),
        skin_factor=MappingProxyType(
            {name: float(f) for name, f in data["wet_skin"]["factors"].items()}
        ),
        step_feet_factor=data["step"]["feet_factor"],
        touch_50522=_rows(data["en_50522"]["rows_s_v"]),
        sources=MappingProxyType({name: source_of(block) for name, block in data.items()}),
    )
