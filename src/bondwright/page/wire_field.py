"""What goes over the wire in the field: readings, what they say, and what to read next."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bondwright.page.wire import Target


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Note(_Wire):
    """One reading as it was written down.

    ``key`` is made where it was written down, so that a reading which is sent twice is kept once.
    """

    key: str = Field(min_length=8, max_length=60)
    what: str = Field(max_length=40)
    where: str = Field(max_length=200)
    of: str = Field(default="", max_length=240)
    value: str = Field(max_length=60)
    state: str = Field(default="", max_length=300)
    meter: str = Field(default="", max_length=60)
    time: str = Field(default="", max_length=40)
    note: str = Field(default="", max_length=500)


class NotesRequest(_Wire):
    """Readings to be kept, and those to be forgotten."""

    notes: list[Note] = Field(default_factory=list, max_length=500)
    forget: list[str] = Field(default_factory=list, max_length=500)


class NoteProblem(_Wire):
    """Why a reading can't be used, and what would be right."""

    key: str
    field: str
    text: str
    problem: str
    hint: str


class AskInfo(_Wire):
    """A reading to take next, in plain words, with all that its row needs but the value."""

    what: str
    where: str
    of: str
    state: str
    meter: str
    meters: list[str]
    title: str
    in_state: str
    instrument: str
    units: list[str]
    over: bool
    expect: list[str]
    cautions: list[str]
    target: Target | None


class CauseInfo(_Wire):
    """Something that may be wrong: how likely, and what speaks for it and against."""

    name: str
    share: float
    percent: str
    told: list[str]
    targets: list[Target]


class PlaneInfo(_Wire):
    """Voltages at one place as points in the plane: the picture, and what it shows in words."""

    name: str
    svg: str
    told: list[str]


class HuntResult(_Wire):
    """What the readings say so far."""

    readings: int
    headline: str
    stands_out: bool
    fits_nothing: bool
    contradictions: list[str]
    planes: list[PlaneInfo]
    causes: list[CauseInfo]
    cure: str
    lessons: list[str]
    asks: list[AskInfo]


class HuntAnswer(_Wire):
    """The hunt: what was written down, and what it says.

    ``born`` names this server's memory: where it is another than before, the server was started
    anew and knows nothing that isn't sent to it again.
    """

    format: Literal["bondwright/page-hunt"] = "bondwright/page-hunt"
    version: Literal[1] = 1
    born: str
    notes: list[Note]
    problems: list[NoteProblem]
    status: Literal["ranking", "ready", "failed", "cancelled"]
    seconds: float
    problem: str
    result: HuntResult | None
    cautions: list[str]


class WhereInfo(_Wire):
    """A place, run or other thing that can be read at, and what of it."""

    id: str
    of: list[str]


class QuantityInfo(_Wire):
    """A sort of reading: where it can be taken, in which units, and with what."""

    what: str
    about: str
    units: list[str]
    over: bool
    meters: list[str]
    wheres: list[WhereInfo]


class Choice(_Wire):
    """Something to choose, with what it says to a person."""

    value: str
    label: str


class HuntForm(_Wire):
    """What a reading of one's own can be of. Nothing in it lifts a conductor."""

    format: Literal["bondwright/page-hunt-form"] = "bondwright/page-hunt-form"
    version: Literal[1] = 1
    quantities: list[QuantityInfo]
    states: list[Choice]
