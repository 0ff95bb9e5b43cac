"""What goes over the wire for the panel without a signal: tables, and the data of quick answers."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict


class _Wire(BaseModel):
    model_config = ConfigDict(extra="forbid")


class SizeInfo(_Wire):
    """A conductor size and its area, circular mils."""

    name: str
    cmil: float


class SupplyRow(_Wire):
    """A row that is entered with the supply's area; ``upto`` is None in the last."""

    supply: str
    metal: str
    upto: float | None
    label: str
    size: str | None
    part: float | None
    status: str


class DeviceRow(_Wire):
    """A row that is entered with the rating of the device ahead."""

    metal: str
    upto: float
    size: str
    status: str


class CapInfo(_Wire):
    """What an electrode conductor need not exceed."""

    rules: str
    electrode: str
    metal: str
    size: str
    clause: str
    status: str


class ClauseInfo(_Wire):
    """Where an edition says something."""

    rules: str
    key: str
    clause: str
    status: str
    choice: str


class ScrewInfo(_Wire):
    """What to do with a bonding screw."""

    screw: str
    clause: str
    severity: str
    because: list[str]
    do: list[str]
    ask: list[str]


class ScrewsInfo(_Wire):
    """Every answer about a bonding screw by an edition.

    ``index`` has a letter for each question, y, n or u for unknown, and the number of the answer.
    """

    rules: str
    questions: list[str]
    answers: list[ScrewInfo]
    index: dict[str, int]


class SheetInfo(_Wire):
    """A table to look at."""

    id: str
    family: str
    title: str
    head: list[str]
    rows: list[list[str]]
    source: str
    note: str


class TablesAnswer(_Wire):
    """All that is wanted at a panel without a signal, out of the catalog."""

    format: Literal["bondwright/page-tables"] = "bondwright/page-tables"
    version: Literal[1] = 1
    tool: str
    rules: list[str]
    usual: str
    sizes: list[SizeInfo]
    most_sets: int
    jumper: list[SupplyRow]
    electrode: list[SupplyRow]
    caps: list[CapInfo]
    ground: list[DeviceRow]
    clauses: list[ClauseInfo]
    screws: list[ScrewsInfo]
    sheets: list[SheetInfo]
    cautions: list[str]
