"""The ground in a description: its layers, what lies in it and where, and what was measured.

Places on the ground are ``[x, y]`` from a point of one's own choice, x to the right and y up on
the plan; depths count downward from the surface.
"""

from __future__ import annotations

import itertools
import math
from enum import StrEnum
from typing import Annotated, Final

from pydantic import Field, StringConstraints

from bondwright.site import fields as f
from bondwright.site.base import Described, Id, Text

Spot = Annotated[list[f.Coordinate], Field(min_length=2, max_length=2)]
Day = Annotated[str, StringConstraints(pattern=r"^(\d{4}-\d{2}-\d{2})?$")]
Spots = Annotated[list[Spot], Field(max_length=400)]
Meshes = Annotated[list[Annotated[int, Field(ge=1, le=100)]], Field(min_length=2, max_length=2)]


class ElectrodeKind(StrEnum):
    """What is in the earth."""

    ROD = "rod"
    WATER_PIPE = "water pipe"
    CONCRETE = "concrete"
    RING = "ring"
    PLATE = "plate"
    STEEL = "steel"
    GRID = "grid"
    STRIP = "strip"
    WELL = "well"
    PILE_CAP = "pile cap"


STANDING: Final = frozenset(
    {ElectrodeKind.ROD, ElectrodeKind.STEEL, ElectrodeKind.WELL, ElectrodeKind.PILE_CAP}
)
"""Kinds of which ``along`` names where each one stands; of the others it is a line of corners."""


class Buried(Described):
    """Metal in the earth by its geometry; what is left out takes a default that is told."""

    kind: ElectrodeKind
    resistance: f.Resistance | None = None
    length: f.Length | None = None
    diameter: f.Length | None = None
    count: int = Field(default=1, ge=1, le=1000)
    spacing: f.Length | None = None
    ring_conductor: f.Wire | None = Field(default=None, alias="ring")
    position: Spot | None = None
    along: Spots = Field(default_factory=list)
    across: f.Length | None = None
    depth: f.Depth | None = None
    width: f.Length | None = None
    wire: f.Wire | None = None
    meshes: Meshes | None = None
    upright: bool = False
    concrete: f.Length | None = None
    concrete_resistivity: f.Resistivity | None = Field(default=None, alias="concrete resistivity")

    @property
    def closest(self) -> float | None:
        """Least distance between several of them, m; None where it isn't said."""
        if self.kind in STANDING and len(self.along) > 1:
            return min(math.dist(a, b) for a, b in itertools.combinations(self.along, 2))
        return self.spacing


class Neighbour(Buried):
    """A neighbour's metal in the same ground, joined to nothing of ours."""

    note: Text = ""


class SeasonalGround(Described):
    """What a season does to the uppermost ground."""

    factor: float = Field(gt=0, le=1000)
    down_to: f.Length = Field(alias="down to")
    note: Text = ""


class SurfaceLayer(Described):
    """What lies on the ground where people stand, such as crushed stone."""

    resistivity: f.Resistivity
    thickness: f.Length
    note: Text = ""


class EarthTestKind(StrEnum):
    """How something in the earth, or a bond, was tested."""

    FALL = "fall of potential"
    CLAMP = "clamp"
    TWO_POINT = "two point"
    CONTINUITY = "continuity"
    SURVEY = "survey"
    SOIL_BOX = "soil box"
    LOOP = "loop impedance"
    TT = "TT electrode"


OF_ELECTRODES: Final = frozenset(
    {EarthTestKind.FALL, EarthTestKind.CLAMP, EarthTestKind.TWO_POINT, EarthTestKind.TT}
)
"""Tests whose result is the resistance of electrodes."""


class PinsStood(StrEnum):
    """How the four pins of a survey stood."""

    WENNER = "wenner"
    SCHLUMBERGER = "schlumberger"


class AskedOf(StrEnum):
    """What a two-point reading was to show."""

    JOINED = "joined"
    EARTH = "earth"


class TesterUsed(StrEnum):
    """How a loop tester measures."""

    HIGH_CURRENT = "high current"
    NO_TRIP = "no trip"


class EarthReading(Described):
    """One reading of a test that takes several."""

    distance: f.Length | None = None
    spacing: f.Length | None = None
    inner: f.Length | None = None
    resistance: f.Resistance | None = None
    resistivity: f.Resistivity | None = None


class EarthTest(Described):
    """A field test as it was taken, reading by reading."""

    kind: EarthTestKind
    of: list[Id] = Field(default_factory=list)
    where: Text = ""
    date: Day = ""
    instrument: Text = ""
    readings: list[EarthReading] = Field(default_factory=list, max_length=500)
    goal: f.Resistance | None = None
    far: f.Length | None = None
    widest: f.Length | None = None
    pins: PinsStood = PinsStood.WENNER
    over_range: bool = Field(default=False, alias="over range")
    others: f.Resistance | None = None
    leads: f.Resistance | None = None
    asked: AskedOf | None = None
    metal: f.Temperature | None = None
    section: f.Area | None = None
    apart: f.Length | None = None
    tester: TesterUsed | None = None
    cold_part: f.Ratio | None = Field(default=None, alias="cold part")
    residual: f.Current | None = None
    note: Text = ""
