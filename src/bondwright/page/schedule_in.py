"""A panel schedule brought into the description: read, told row by row, added."""

from __future__ import annotations

import base64
from collections.abc import MutableMapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from bondwright.exchange.circuits import Left, Schedule, read_schedule
from bondwright.exchange.panel import Added, Assumed, add_circuits, in_words
from bondwright.exchange.sheets import Sheet, SheetError, read_sheets, read_text
from bondwright.page.desk import Desk
from bondwright.page.looked import look_at_pasted, look_at_table
from bondwright.page.wire_describe import (
    CircuitRow,
    LeftRow,
    ScheduleReadAnswer,
    ScheduleRequest,
)
from bondwright.site.site_error import SiteError
from bondwright.units import UnitError


class ScheduleError(ValueError):
    """A schedule that can't be used; its text says why."""


def read_request(desk: Desk, request: ScheduleRequest) -> tuple[ScheduleReadAnswer, Added | None]:
    """Read a schedule and try what it would add.

    Returns:
        What was understood, and the new text where there is anything to add.

    Raises:
        ScheduleError: it is no table, or names no columns; or there is no such panel.
    """
    try:
        sheets = _sheets(request)
    except SheetError as error:
        raise ScheduleError(str(error)) from error
    titles = [sheet.title for sheet in sheets]
    if not sheets:
        raise ScheduleError("there is nothing in it; paste the rows with the one that names them")
    wanted = request.sheet or titles[0]
    chosen = next((sheet for sheet in sheets if sheet.title == wanted), sheets[0])
    try:
        schedule = read_schedule(chosen)
    except SheetError as error:
        raise ScheduleError(str(error)) from error
    assumed = Assumed(request.length or None, request.wire or None, request.metal or None)
    try:
        added = add_circuits(desk.text, request.panel, schedule, assumed)
    except (SiteError, UnitError) as error:
        raise ScheduleError(f"what comes out would be no sound site: {error}") from error
    except ValueError as error:
        raise ScheduleError(str(error)) from error
    return _answer(titles, schedule, added), added if added.places else None


def add_request(desk: Desk, request: ScheduleRequest) -> ScheduleReadAnswer:
    """Add the circuits of a schedule to the description.

    Raises:
        ScheduleError: as for :func:`read_request`, or nothing of it can be added.
    """
    with desk.lock:
        answer, added = read_request(desk, request)
        if added is None:
            raise ScheduleError("none of its circuits can be added; see why beside each")
        number = len(added.places)
        circuits = "one circuit" if number == 1 else f"{number} circuits"
        desk.describe(desk.read(added.text), added.text, f"{circuits} added to {request.panel}")
    return answer


def _sheets(request: ScheduleRequest) -> tuple[Sheet, ...]:
    if not request.file:
        return (read_text(request.text),) if request.text.strip() else ()
    data = _bytes(request)
    with TemporaryDirectory(prefix="bondwright-") as folder:
        path = Path(folder, "schedule")
        path.write_bytes(data)
        return read_sheets(path)


def _bytes(request: ScheduleRequest) -> bytes:
    try:
        return base64.b64decode(request.file, validate=True)
    except ValueError as error:
        raise ScheduleError("the file did not arrive whole; choose it again") from error


def look_at_schedule(scope: MutableMapping[str, Any], request: ScheduleRequest) -> None:
    """Look through a schedule before it is read.

    Args:
        scope: of the request.
        request: with the schedule.

    Raises:
        ScheduleError: it did not arrive whole.
        bondwright.exchange.harmless.HarmError: it is something else, or holds it.
        bondwright.page.icap.ObjectsError: the scanner objects.
        bondwright.page.icap.ScanError: the scanner can't be asked.
    """
    if request.file:
        look_at_table(scope, request.name, _bytes(request))
    elif request.text:
        look_at_pasted(scope, request.text)


def _answer(sheets: list[str], schedule: Schedule, added: Added) -> ScheduleReadAnswer:
    return ScheduleReadAnswer(
        sheets=sheets,
        circuits=[
            CircuitRow(**dict(zip(_COLUMNS, in_words(circuit), strict=True)))
            for circuit in schedule.circuits
        ],
        adds=list(added.places),
        doubts=[_left(each) for each in (*schedule.doubts, *added.doubts)],
        remarks=[_left(each) for each in schedule.remarks],
    )


_COLUMNS = ("numbers", "what", "device", "poles", "load", "wire", "length", "where")


def _left(each: Left) -> LeftRow:
    return LeftRow(where=each.where, text=each.text, problem=each.problem)
