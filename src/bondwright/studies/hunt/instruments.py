"""Instruments: how far a reading may be wrong, and how it lies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any, Final

import yaml


class Quantity(StrEnum):
    """What a reading is of."""

    CURRENT = "current"
    NET_CURRENT = "net current"
    VOLTAGE = "voltage"
    RESISTANCE = "resistance"
    LOOP = "loop"
    EARTH_LOOP = "earth loop"
    LOAD = "load"


USUAL: Final = {
    Quantity.CURRENT: "load clamp",
    Quantity.NET_CURRENT: "load clamp",
    Quantity.VOLTAGE: "multimeter",
    Quantity.RESISTANCE: "low-ohm meter",
    Quantity.LOOP: "loop tester",
    Quantity.EARTH_LOOP: "stakeless clamp",
    Quantity.LOAD: "power meter",
}
"""The instrument taken where none is named: the coarser usual one."""

DRIVEN: Final = frozenset({Quantity.RESISTANCE, Quantity.LOOP, Quantity.EARTH_LOOP})
"""Quantities for which the instrument drives the circuit itself."""


@dataclass(frozen=True, slots=True)
class Instrument:
    """A class of instrument.

    Attributes:
        name: as written in a table of readings.
        measures: quantities it can read.
        relative: limit of error in part of the reading.
        floor: limit of error added to it, in the quantity's own unit.
        most: its largest reading, inf where it has none.
        input: its own resistance across the points, ohm; inf for clamps.
        phantom: largest voltage it may show on a conductor that nothing holds, V.
        word: what to know about it.
    """

    name: str
    measures: frozenset[Quantity]
    relative: float
    floor: float
    most: float
    input: float
    phantom: float
    word: str

    def uncertainty(self, value: float) -> float:
        """Return the standard uncertainty of a reading, in its own unit.

        The limit of error ``a = relative |value| + floor`` is taken as the half width of a
        rectangle, ``u = a/sqrt(3)`` (JCGM 100:2008, 4.3.7).
        """
        return (self.relative * abs(value) + self.floor) / math.sqrt(3)


@cache
def instruments() -> Mapping[str, Instrument]:
    """Return every known class of instrument by name."""
    text = files("bondwright.studies.hunt").joinpath("data", "instruments.yaml")
    table: dict[str, dict[str, Any]] = yaml.safe_load(text.read_text(encoding="utf-8"))
    return {name: _instrument(name, facts) for name, facts in table.items()}


def _instrument(name: str, facts: Mapping[str, Any]) -> Instrument:
    return Instrument(
        name=name,
        measures=frozenset(Quantity(word) for word in facts["measures"]),
        relative=float(facts["relative"]),
        floor=float(facts["floor"]),
        most=float(facts.get("most", math.inf)),
        input=float(facts.get("input", math.inf)),
        phantom=float(facts.get("phantom", 0.0)),
        word=str(facts["word"]),
    )
