"""Weights, ranges and costs of the hunt, read from its data file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Nuisance:
    """What nobody measured, and how far it may lie off.

    Attributes:
        load: least and largest part of a described load that may be on.
        load_angle: standard deviation of a load's angle, degrees.
        electrode: least and largest factor on an electrode's resistance.
        joint: least and largest resistance of a sound conductor's joints, ohm.
        conductor: standard deviation of a conductor's impedance, in part of it.
        steel: the same for a steel raceway, whose impedance follows its current.
        supply: standard deviation of a supply's voltage, in part of it.
        model: error of the computation itself, in part of a reading.
        standby: what a load still draws that is off, in part of what is described.
        test_load: standard deviation of a test load's power, in part of it.
    """

    load: Range
    load_angle: float
    electrode: Range
    joint: Range
    conductor: float
    steel: float
    supply: float
    model: float
    standby: float
    test_load: float


@dataclass(frozen=True, slots=True)
class Settings:
    """All data of the hunt.

    Attributes:
        nothing: weight of "nothing wrong".
        unlisted: weight of a cause that isn't in the list.
        second: weight of a second defect beside a first, against none.
        weights: by kind of defect.
        ohms: least and largest resistance by kind, where it has one.
        volts: least and largest voltage by kind, where it drives one.
        nuisance: ranges of what isn't known.
        costs: of readings by sort, and of bringing a site into a state.
        stands_out: probability at which a cause stands out.
    """

    nothing: float
    unlisted: float
    second: float
    weights: Mapping[str, float]
    ohms: Mapping[str, Range]
    volts: Mapping[str, Range]
    nuisance: Nuisance
    costs: Mapping[str, float]
    stands_out: float


@cache
def settings() -> Settings:
    """Return the data of the hunt."""
    text = files("bondwright.studies.hunt").joinpath("data", "hunt.yaml")
    table: dict[str, Any] = yaml.safe_load(text.read_text(encoding="utf-8"))
    kinds: dict[str, dict[str, Any]] = table["kinds"]
    known = table["nuisance"]
    return Settings(
        nothing=float(table["nothing-wrong"]["weight"]),
        unlisted=float(table["not-in-the-list"]["weight"]),
        second=float(table["second-defect"]["weight"]),
        weights={name: float(facts["weight"]) for name, facts in kinds.items()},
        ohms={name: _range(facts["ohms"]) for name, facts in kinds.items() if "ohms" in facts},
        volts={name: _range(facts["volts"]) for name, facts in kinds.items() if "volts" in facts},
        nuisance=Nuisance(
            load=_range(known["load"]),
            load_angle=float(known["load power factor deg"]),
            electrode=_range(known["electrode factor"]),
            joint=_range(known["joint ohms"]),
            conductor=float(known["conductor factor"]),
            steel=float(known["steel factor"]),
            supply=float(known["supply voltage"]),
            model=float(known["model"]),
            standby=float(known["standby"]),
            test_load=float(known["test load"]),
        ),
        costs={name: float(cost) for name, cost in table["costs"].items()},
        stands_out=float(table["stands out"]),
    )


def _range(pair: list[float]) -> Range:
    low, high = pair
    return float(low), float(high)
