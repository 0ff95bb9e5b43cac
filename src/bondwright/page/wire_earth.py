"""What goes over the wire about the earth: soil, electrodes, the surface, field tests."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bondwright.draw.live import Form
from bondwright.page.wire import Figure, StoryInfo, Target

Shading = Literal["touch", "step", "ground"]


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Drawn(_Wire):
    """A drawing, and what it shows in words."""

    svg: str
    alt: str
    caption: str


class ElectrodeInfo(_Wire):
    """An electrode, or a neighbour's metal."""

    id: str
    kind: str
    about: str
    resistance: str
    facts: list[Figure]
    mutual: list[Figure]
    brings: list[str]
    place: Target | None


class EarthTestInfo(_Wire):
    """A field test, judged."""

    id: str
    story: StoryInfo
    facts: list[Figure]
    head: list[str]
    rows: list[list[str]]
    plot: Drawn | None


class MapInfo(_Wire):
    """A part of the ground that can be looked at."""

    name: str
    metal: str


class GroundFaultInfo(_Wire):
    """What a fault does to the ground."""

    name: str
    story: StoryInfo
    figures: list[Figure]
    maps: list[MapInfo]


class EarthAnswer(_Wire):
    """The earth of the site."""

    format: Literal["bondwright/page-earth"] = "bondwright/page-earth"
    version: Literal[1] = 1
    soil: str
    assumed: bool
    seasons: list[str]
    story: StoryInfo | None
    plan: Drawn | None
    electrodes: list[ElectrodeInfo]
    faults: list[GroundFaultInfo] | None
    note: str
    tests: list[EarthTestInfo]
    caution: str


class MapAnswer(_Wire):
    """The ground from above with a voltage."""

    format: Literal["bondwright/page-earth-map"] = "bondwright/page-earth-map"
    version: Literal[1] = 1
    drawn: Drawn
    figures: list[Figure]


class JudgeRequest(_Wire):
    """A field test as it was typed in: keys and texts as they stand in a site file."""

    kind: str = Field(max_length=40)
    values: dict[str, str | bool] = Field(default_factory=dict, max_length=30)
    of: list[str] = Field(default_factory=list, max_length=100)
    readings: list[dict[str, str]] = Field(default_factory=list, max_length=500)
    form: Form = "page"


class JudgeAnswer(_Wire):
    """What a field test says, and its lines for the site file."""

    format: Literal["bondwright/page-earth-test"] = "bondwright/page-earth-test"
    version: Literal[1] = 1
    test: EarthTestInfo
    lines: str
