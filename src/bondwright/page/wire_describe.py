"""What goes over the wire while a site is described and kept: versioned JSON."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from bondwright.page.wire import FindingInfo, ProblemInfo, ViewRequest

MOST_TEXT = 8_000_000
"""Longest site file that goes over the wire, characters."""
Name = Annotated[str, StringConstraints(max_length=200)]


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class FieldInfo(_Wire):
    """A field of a form: what it is called, how it is written, what may stand there.

    ``kind`` is text, words (one of a few), number, whole, flag, value (text with a grammar),
    name (of an entry of ``of``), names (several), group, list (of groups) or other (as written in
    the file). Of a group or list ``fields`` are those inside.
    """

    key: str
    label: str
    help: str
    kind: str
    words: list[str]
    example: str
    required: bool
    main: bool
    offers: list[str]
    of: list[str]
    fields: list[FieldInfo]


class FormInfo(_Wire):
    """A form: the fields of one kind of thing."""

    table: str
    one: str
    title: str
    about: str
    fields: list[FieldInfo]


class FormsAnswer(_Wire):
    """Every form there is."""

    format: Literal["bondwright/page-forms"] = "bondwright/page-forms"
    version: Literal[1] = 1
    forms: list[FormInfo]
    starters: dict[str, str]


class EntryRow(_Wire):
    """An entry in a list: its name, and what it is in a line."""

    id: str
    about: str


class TableInfo(_Wire):
    """What is described of one kind."""

    table: str
    rows: list[EntryRow]


class DescriptionAnswer(_Wire):
    """What is described, table by table."""

    format: Literal["bondwright/page-description"] = "bondwright/page-description"
    version: Literal[1] = 1
    tables: list[TableInfo]


class TextAnswer(_Wire):
    """The site file as described now."""

    format: Literal["bondwright/page-text"] = "bondwright/page-text"
    version: Literal[1] = 1
    text: str


class EntryAnswer(_Wire):
    """An entry as it is written, and what would go with it."""

    format: Literal["bondwright/page-entry"] = "bondwright/page-entry"
    version: Literal[1] = 1
    table: str
    id: str
    entry: dict[str, Any]
    hanging: list[str]


class EntryChange(_Wire):
    """One entry that is to be written, renamed or taken out.

    Without ``was`` it is new; without ``entry`` it goes, and what hangs on it as well. An empty
    table is the site itself.
    """

    table: Name
    was: Name = ""
    id: Name = ""
    entry: dict[str, Any] | None = None


class DescribeRequest(_Wire):
    """Changes of the description that are made together."""

    changes: list[EntryChange] = Field(min_length=1, max_length=200)
    view: ViewRequest


class TextRequest(_Wire):
    """The whole file, as a person wrote it; or a starter to begin anew from."""

    text: str = Field(default="", max_length=MOST_TEXT)
    starter: Name = ""
    view: ViewRequest


class ScheduleRequest(_Wire):
    """A panel schedule: pasted text, or a file in base 64, and what to take where it is silent."""

    panel: Name
    text: str = Field(default="", max_length=MOST_TEXT)
    file: str = Field(default="", max_length=MOST_TEXT)
    name: Name = ""
    sheet: Name = ""
    length: Name = ""
    wire: Name = ""
    metal: Literal["", "Cu", "Al"] = ""
    add: bool = False
    view: ViewRequest


class LeftRow(_Wire):
    """A row that was left out, or is no circuit."""

    where: str
    text: str
    problem: str


class CircuitRow(_Wire):
    """A circuit as understood."""

    numbers: str
    what: str
    device: str
    poles: str
    load: str
    wire: str
    length: str
    where: str


class ScheduleReadAnswer(_Wire):
    """A panel schedule as understood: every row is in one of the lists."""

    format: Literal["bondwright/page-schedule-read"] = "bondwright/page-schedule-read"
    version: Literal[1] = 1
    sheets: list[str]
    circuits: list[CircuitRow]
    adds: list[str]
    doubts: list[LeftRow]
    remarks: list[LeftRow]


class KeptAnswer(_Wire):
    """Where the working copy is kept, and whether it is."""

    format: Literal["bondwright/page-kept"] = "bondwright/page-kept"
    version: Literal[1] = 1
    kind: Literal["none", "file", "job"]
    where: str
    revision: int
    new: bool
    unsaved: bool
    elsewhere: str
    who: str
    may_save: bool
    why: str
    home: bool


class SaveRequest(_Wire):
    """The working copy is to be kept, with the reason; or theirs is to be taken first."""

    why: str = Field(default="", max_length=2000)
    mine: bool = False
    view: ViewRequest


class RevisionInfo(_Wire):
    """A revision of a job."""

    number: int
    at: str
    who: str
    why: str


class RevisionsAnswer(_Wire):
    """The revisions of a job, the oldest first."""

    format: Literal["bondwright/page-revisions"] = "bondwright/page-revisions"
    version: Literal[1] = 1
    name: str
    revisions: list[RevisionInfo]


class ComparePart(_Wire):
    """One head of a comparison with its lines."""

    head: str
    lines: list[str]


class CompareAnswer(_Wire):
    """What differs between two descriptions, and what that changes."""

    format: Literal["bondwright/page-comparison"] = "bondwright/page-comparison"
    version: Literal[1] = 1
    before: str
    after: str
    parts: list[ComparePart]
    new: list[FindingInfo]
    gone: list[FindingInfo]


class CheckAnswer(_Wire):
    """What is wrong with a text that isn't taken over yet."""

    format: Literal["bondwright/page-check"] = "bondwright/page-check"
    version: Literal[1] = 1
    problems: list[ProblemInfo]


class JobInfo(_Wire):
    """A job with its newest revision."""

    id: str
    name: str
    newest: RevisionInfo
    unsaved: bool


class JobsAnswer(_Wire):
    """The jobs of the store."""

    format: Literal["bondwright/page-jobs"] = "bondwright/page-jobs"
    version: Literal[1] = 1
    who: str
    role: str
    users: bool
    jobs: list[JobInfo]
    notice: str = ""
    wants_factor: bool = False
    starters: dict[str, str]


class NewJobRequest(_Wire):
    """A job to be started: from a starter, or from a site file."""

    name: str = Field(max_length=200)
    why: str = Field(default="", max_length=2000)
    starter: Name = ""
    text: str = Field(default="", max_length=MOST_TEXT)


class RenameRequest(_Wire):
    """A new name for a job."""

    name: str = Field(max_length=200)


class BundleRequest(_Wire):
    """A bundle of jobs, in base 64."""

    file: str


class LoginRequest(_Wire):
    """Who wants to get in."""

    name: str = Field(max_length=80)
    password: str = Field(max_length=256)
    code: str = Field(default="", max_length=40)


class UserInfo(_Wire):
    """Somebody known."""

    name: str
    role: Literal["look", "edit", "keep"]
    factor: bool


class UsersAnswer(_Wire):
    """Everybody known."""

    format: Literal["bondwright/page-users"] = "bondwright/page-users"
    version: Literal[1] = 1
    who: str
    users: list[UserInfo]


class UserRequest(_Wire):
    """Somebody to be let in, or of whom something changes; nothing given stays as it is."""

    name: str = Field(max_length=80)
    role: Literal["look", "edit", "keep"] | None = None
    password: str | None = Field(default=None, max_length=256)
    new: bool = False
    no_factor: bool = False


class PasswordRequest(_Wire):
    """A new password of one's own."""

    before: str = Field(max_length=256)
    after: str = Field(max_length=256)
    code: str = Field(default="", max_length=40)
