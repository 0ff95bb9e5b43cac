"""What goes over the wire between the page and the server: versioned JSON, like the other papers.

Every answer names its ``format`` and ``version``. Numbers meant for a person come as text with
their unit, each with the reason behind it; numbers meant for drawing come as they are.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from bondwright.draw.live import Form

VERSION = 1
Show = Literal["nothing", "normal", "fault"]
Box = tuple[float, float, float, float]


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class ViewRequest(_Wire):
    """What a page wants to show, and the name of what it shows now."""

    form: Form = "page"
    state: str = Field(default="", max_length=200)
    show: Show = "normal"
    fault: str = Field(default="", max_length=600)
    have: str = Field(default="", max_length=60)


class EditRequest(_Wire):
    """A change of the working copy, and what is to be shown afterwards."""

    action: Literal["take off", "put on", "undo", "redo", "start over", "keep ties"]
    name: str = Field(default="", max_length=200)
    view: ViewRequest


class JobRequest(_Wire):
    """Long work to be done in the background."""

    kind: Literal["defects", "whole study", "ground"]
    state: str = Field(default="", max_length=200)


class StateInfo(_Wire):
    """A way the site is run, and what is on in it."""

    id: str
    on: list[str]


class ThingInfo(_Wire):
    """A thing to be searched for: what it is, and where it is seen."""

    kind: str
    id: str
    about: str
    near: str = ""


class EditsInfo(_Wire):
    """What is different from the file: ties that are tried out, and what was described anew."""

    done: list[str]
    described: list[str]
    can_undo: bool
    can_redo: bool
    undoes: str
    unsaved: bool


class SiteAnswer(_Wire):
    """The site: what the page needs to begin."""

    format: Literal["bondwright/page-site"] = "bondwright/page-site"
    version: Literal[1] = 1
    tool: str
    site: str
    file: str
    rules: str
    describes: str
    note: str
    states: list[StateInfo]
    things: list[ThingInfo]
    edits: EditsInfo
    caution: str
    cautions: list[str]


class PieceInfo(_Wire):
    """A part of the picture; without ``svg`` it is to be fetched when it comes in sight."""

    layer: str
    box: Box
    svg: str | None


class Fold(_Wire):
    """Something that can be folded away: a building, or what a place feeds."""

    id: str
    kind: Literal["building", "branch"]
    count: int
    places: list[str]
    boxes: list[Box]


class PictureAnswer(_Wire):
    """The picture: painted once, changed later by element id."""

    format: Literal["bondwright/page-picture"] = "bondwright/page-picture"
    version: Literal[1] = 1
    drawing: int
    form: Form
    width: float
    height: float
    alt: str
    layers: list[str]
    pieces: list[PieceInfo]
    overview: str
    boxes: dict[str, Box]
    folds: list[Fold]
    key: str


class Figure(_Wire):
    """A figure for a person, and why it is so."""

    label: str
    value: str
    why: list[str]
    loud: bool = False


class StoryInfo(_Wire):
    """A result in words, with how it stands."""

    title: str
    sentences: list[str]
    verdict: str
    mark: str


class FindingInfo(_Wire):
    """Something to be known or mended."""

    severity: str
    mark: str
    where: str
    title: str
    text: str
    cure: str
    clause: str


class Target(_Wire):
    """A thing to be pointed at."""

    kind: str
    id: str


class StepInfo(_Wire):
    """One step of a fault that is played."""

    sight: str
    title: str
    sentences: list[str]
    things: list[Target]
    clock: str


class Light(_Wire):
    """The light of a fault's way, as SVG: under the ribbons and over them, out and home."""

    under_out: str
    under_home: str
    over_out: str
    over_home: str
    flash: str


class FaultTold(_Wire):
    """A fault that was followed."""

    key: str
    name: str
    verdict: str
    mark: str
    numbers: list[Figure]
    steps: list[StepInfo]
    light: Light


class ViewAnswer(_Wire):
    """What is different in the picture, and what is said about it."""

    format: Literal["bondwright/page-view"] = "bondwright/page-view"
    version: Literal[1] = 1
    name: str
    drawing: int
    state: str
    show: Show
    changes: list[tuple[str, dict[str, str | float]]]
    headline: str
    verdict: str
    mark: str
    live: list[str]
    fault: FaultTold | None
    edits: EditsInfo


class FlowRow(_Wire):
    """A current in normal use and in the chosen fault."""

    what: str
    normal: str
    fault: str
    why: list[str]
    loud: bool


class Link(_Wire):
    """A way to another thing."""

    label: str
    kind: str
    id: str


class Action(_Wire):
    """What can be done with a thing, and what to mind before it is done in earnest."""

    label: str
    action: Literal["take off", "put on"]
    name: str
    caution: str


class FaultChoice(_Wire):
    """A fault that can be played."""

    key: str
    name: str


class ThingAnswer(_Wire):
    """A thing: what it is, its size and why, what flows, what falls short."""

    format: Literal["bondwright/page-thing"] = "bondwright/page-thing"
    version: Literal[1] = 1
    kind: str
    id: str
    title: str
    about: str
    facts: list[Figure]
    sizes: list[StoryInfo]
    flows: list[FlowRow]
    findings: list[FindingInfo]
    links: list[Link]
    actions: list[Action]
    faults: list[FaultChoice]
    story: bool


class StoryAnswer(_Wire):
    """Why a tie matters, told with numbers."""

    format: Literal["bondwright/page-story"] = "bondwright/page-story"
    version: Literal[1] = 1
    story: StoryInfo


class FaultsAnswer(_Wire):
    """Where faults can be played, and of which kinds."""

    format: Literal["bondwright/page-faults"] = "bondwright/page-faults"
    version: Literal[1] = 1
    places: list[str]
    at: str
    choices: list[FaultChoice]


class StrayRow(_Wire):
    """A current on metal in normal use, with its loop."""

    on: str
    current: str
    share: str
    nature: str
    loud: bool
    causes: list[str]
    told: str
    loop: list[str]
    things: list[Target]


class StrayAnswer(_Wire):
    """Normal use: every current on metal with its cause, its loop and its cure."""

    format: Literal["bondwright/page-stray"] = "bondwright/page-stray"
    version: Literal[1] = 1
    story: StoryInfo
    rows: list[StrayRow]


class OpenNeutralAnswer(_Wire):
    """A supply's neutral open: what metal stands at, as a plot; none where none could open."""

    format: Literal["bondwright/page-open-neutral"] = "bondwright/page-open-neutral"
    version: Literal[1] = 1
    runs: list[str]
    run: str
    told: list[str]
    svg: str


class CurveAnswer(_Wire):
    """Devices in series with the fault current on them."""

    format: Literal["bondwright/page-curve"] = "bondwright/page-curve"
    version: Literal[1] = 1
    svg: str
    alt: str
    rows: list[Figure]


class ScheduleRowInfo(_Wire):
    """A row of the schedule of jumpers and conductors."""

    id: str
    short: str
    purpose: str
    start: str
    end: str
    required: str
    chosen: str
    origin: str
    clause: str
    verdict: str
    mark: str
    remark: str
    why: list[str]
    thing: Target | None


class ScheduleAnswer(_Wire):
    """The schedule of jumpers and conductors, with what was assumed."""

    format: Literal["bondwright/page-schedule"] = "bondwright/page-schedule"
    version: Literal[1] = 1
    rows: list[ScheduleRowInfo]
    assumed: list[str]


class FindingsAnswer(_Wire):
    """What is known to fall short."""

    format: Literal["bondwright/page-findings"] = "bondwright/page-findings"
    version: Literal[1] = 1
    whole: bool
    note: str
    findings: list[FindingInfo]


class DefectInfo(_Wire):
    """A mistake that could be made, with what it would do."""

    name: str
    at: str
    rank: str
    mark: str
    fault: str
    day: str
    found_by: str
    told: list[str]


class DefectsResult(_Wire):
    """Every mistake tried, the silent and deadly ones first."""

    kind: Literal["defects"] = "defects"
    tried: int
    faults: int
    cases: int
    rows: list[DefectInfo]


class StudyResult(_Wire):
    """The whole study: how the site stands."""

    kind: Literal["whole study"] = "whole study"
    headline: str
    verdict: str
    mark: str
    sentences: list[str]


class GroundResult(_Wire):
    """The ground in the faults that lift metal highest: how it stands."""

    kind: Literal["ground"] = "ground"
    faults: int
    verdict: str
    mark: str


Result = DefectsResult | StudyResult | GroundResult


class JobAnswer(_Wire):
    """Work in the background: how far it is, or what came of it."""

    format: Literal["bondwright/page-job"] = "bondwright/page-job"
    version: Literal[1] = 1
    id: str
    kind: str
    status: Literal["running", "done", "failed", "cancelled"]
    what: str
    done: int
    of: int
    seconds: float
    problem: str
    result: Result | None


class ProblemInfo(_Wire):
    """What is wrong with a request, and what would be right."""

    text: str = ""
    problem: str
    hint: str | None = None
    path: list[str | int] = Field(default_factory=list)
    line: int = 0
    column: int = 0


class Problems(_Wire):
    """An answer that is none."""

    format: Literal["bondwright/problems"] = "bondwright/problems"
    version: Literal[1] = 1
    problems: list[ProblemInfo]
