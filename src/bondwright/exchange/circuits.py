"""The circuits of a panel schedule, whoever laid it out; every row is accounted for."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright.exchange.cells import (
    CellError,
    DeviceCell,
    WireCell,
    circuit_numbers,
    device,
    is_ditto,
    length,
    lines_named,
    power,
    wire,
)
from bondwright.exchange.headings import Column, Heading, Side, find_heading
from bondwright.exchange.sheets import Sheet, SheetError, column_name


class Use(StrEnum):
    """What a position of a panel is used for."""

    CIRCUIT = "circuit"
    SPARE = "spare"
    SPACE = "space"


@dataclass(frozen=True, slots=True)
class Circuit:
    """What a schedule says of one circuit; None or "" where it says nothing.

    Attributes:
        numbers: the positions it takes, in order; none where the schedule has no numbers.
        use: circuit, spare breaker, or empty space.
        description: as written.
        device: its device.
        poles: of the device, as said or as counted.
        lines: the lines it is on, where the schedule names them.
        power: connected load, VA.
        wire: its conductors.
        length: one way, m.
        note: as written.
        where: the cell it begins in, e.g. ``"A7"``.
    """

    numbers: tuple[int, ...]
    use: Use
    description: str
    device: DeviceCell | None
    poles: int | None
    lines: tuple[str, ...]
    power: float | None
    wire: WireCell
    length: float | None
    note: str
    where: str


@dataclass(frozen=True, slots=True)
class Left:
    """Something in the table that is no circuit, or isn't understood.

    Attributes:
        where: the cell it begins in.
        text: its cells, as written.
        problem: why it was left out, as a clause; "" for a title or a total, which need nothing.
    """

    where: str
    text: str
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Schedule:
    """A panel schedule as read.

    Attributes:
        name: of the file or sheet.
        circuits: by number.
        doubts: rows left out, and why.
        remarks: rows and columns that are no circuits: titles, totals.
    """

    name: str
    circuits: tuple[Circuit, ...]
    doubts: tuple[Left, ...]
    remarks: tuple[Left, ...]


def read_schedule(sheet: Sheet) -> Schedule:
    """Read the circuits out of a table.

    Raises:
        SheetError: no row names the columns.
    """
    heading = find_heading(sheet.rows)
    if heading is None:
        raise SheetError(
            sheet.name,
            "no row names the columns",
            "a schedule has a row with words like 'circuit', 'description', 'breaker', 'poles'",
        )
    width = len(sheet.rows[0])
    remarks = [_left(sheet, row, range(width)) for row in range(heading.first)]
    remarks += [
        Left(f"{column_name(k)}{heading.first + 1}", text, "a column that means nothing here")
        for k, text in heading.unknown
    ]
    remarks += _unheaded(sheet, heading)
    rows: list[_Row] = []
    doubts: list[Left] = []
    for side, span in _spans(heading, width):
        for number in range(heading.last + 1, len(sheet.rows)):
            said = _left(sheet, number, span)
            if not said.text:
                continue
            try:
                row = _row(sheet, number, side, said)
            except CellError as error:
                doubts.append(Left(said.where, said.text, str(error)))
                continue
            if row is None:
                remarks.append(said)
            else:
                rows.append(row)
    circuits, more = _circuits(rows)
    return Schedule(
        sheet.name,
        tuple(sorted(circuits, key=lambda c: c.numbers or (10**6,))),
        tuple(doubts + more),
        tuple(each for each in remarks if each.text),
    )


@dataclass(frozen=True, slots=True)
class _Row:
    """One side of one row, with its cells understood one by one."""

    numbers: tuple[int, ...]
    description: str
    device_text: str
    device: DeviceCell | None
    poles: int | None
    lines: tuple[str, ...]
    power: float | None
    wire: WireCell
    length: float | None
    note: str
    said: Left

    @property
    def goes_on(self) -> bool:
        """Whether nothing in it speaks for a circuit of its own."""
        return (
            len(self.numbers) == 1
            and is_ditto(self.description)
            and is_ditto(self.device_text)
            and not self.wire.size
            and self.length is None
            and not self.lines
        )

    @property
    def says_so(self) -> bool:
        """Whether it says that it goes on, rather than nothing at all."""
        return self.goes_on and bool(self.description or self.device_text)


def _spans(heading: Heading, width: int) -> Iterator[tuple[Side, range]]:
    starts = [min(side.at.values()) for side in heading.sides]
    for k, side in enumerate(heading.sides):
        last = starts[k + 1] if k + 1 < len(starts) else width
        yield side, range(0 if k == 0 else starts[k], last)


def _unheaded(sheet: Sheet, heading: Heading) -> Iterator[Left]:
    """Yield what stands in columns that nobody named."""
    headed = {k for side in heading.sides for k in side.at.values()}
    headed.update(k for k, _ in heading.unknown)
    for k in range(len(sheet.rows[0])):
        below = range(heading.last + 1, len(sheet.rows))
        cells = [(row, sheet.rows[row][k]) for row in below if sheet.rows[row][k]]
        if k not in headed and cells:
            where = f"{column_name(k)}{cells[0][0] + 1}"
            text = " | ".join(text for _, text in cells)
            yield Left(where, text, "a column without a heading")


def _left(sheet: Sheet, row: int, span: range) -> Left:
    cells = [(c, sheet.rows[row][c]) for c in span if sheet.rows[row][c]]
    where = f"{column_name(cells[0][0])}{row + 1}" if cells else ""
    return Left(where, " | ".join(text for _, text in cells))


_SPARE: Final = re.compile(r"spare( breaker| cb)?|unused|not used|future", re.I)
_SPACE: Final = re.compile(r"(bussed |prepared )?spaces?( only)?|blank|empty|provision|psb", re.I)


def _row(sheet: Sheet, number: int, side: Side, said: Left) -> _Row | None:
    """Understand the cells of a row; None for one that is no circuit: a total, a signature.

    Raises:
        CellError: it looks like a circuit, but something in it isn't understood.
    """

    def cell(column: Column) -> str:
        at = side.at.get(column)
        return "" if at is None else sheet.rows[number][at]

    number_text = cell(Column.CIRCUIT)
    numbers = circuit_numbers(number_text)
    rated = device(cell(Column.DEVICE))
    if numbers is None:
        if rated is None or not cell(Column.DESCRIPTION):
            return None
        if number_text:
            raise CellError(f"'{number_text}' is no circuit number")
        if Column.CIRCUIT in side.at and not lines_named(cell(Column.LINES)):
            raise CellError("it has a device but no circuit number")
        numbers = ()
    text = cell(Column.DEVICE)
    if rated is None and not is_ditto(text) and not _SPACE.fullmatch(text):
        raise CellError(f"'{text}' is no device with its amperes")
    poles_text = cell(Column.POLES).lower().rstrip("poles ")
    if poles_text not in ("", "1", "2", "3", "4") and not is_ditto(poles_text):
        raise CellError(f"'{cell(Column.POLES)}' is no number of poles")
    poles = int(poles_text) if poles_text.isdigit() else None
    if poles and rated and rated.poles not in (None, poles):
        raise CellError(f"its device has {rated.poles} poles in one cell and {poles} in another")
    loads = [power(cell(c), side.units.get(c, "")) for c in _LOADS if c in side.at]
    made = wire(cell(Column.WIRE))
    ground, raceway = cell(Column.GROUND), cell(Column.RACEWAY)
    return _Row(
        numbers,
        cell(Column.DESCRIPTION),
        text,
        rated,
        poles or (rated.poles if rated else None),
        lines_named(cell(Column.LINES)),
        sum(each for each in loads if each) or None,
        WireCell(
            made.size,
            made.count,
            made.ground if is_ditto(ground) else wire(ground).size or wire(ground).ground,
            raceway or made.raceway,
        ),
        length(cell(Column.LENGTH), side.units.get(Column.LENGTH, "")),
        cell(Column.NOTE),
        said,
    )


_LOADS: Final = (Column.POWER, Column.PHASE_A, Column.PHASE_B, Column.PHASE_C)


def _circuits(rows: Sequence[_Row]) -> tuple[list[Circuit], list[Left]]:
    """Put the rows of a panel together: a device of several poles takes several positions."""
    doubts: list[Left] = []
    at: dict[int, _Row] = {}
    kept = []
    for row in rows:
        twice = next((n for n in row.numbers if n in at), None)
        if twice is not None:
            problem = f"circuit {twice} stands in {at[twice].said.where} already"
            doubts.append(Left(row.said.where, row.said.text, problem))
            continue
        at.update((n, row) for n in row.numbers)
        kept.append(row)
    taken: set[int] = set()
    found = []
    for row in sorted(kept, key=lambda r: r.numbers or (10**6,)):
        if taken & set(row.numbers):
            continue
        try:
            numbers, others = _positions(row, at, taken)
        except CellError as error:
            doubts.append(Left(row.said.where, row.said.text, str(error)))
            continue
        taken.update(numbers)
        circuit = _made(row, numbers, others)
        if isinstance(circuit, Circuit):
            found.append(circuit)
        else:
            doubts.append(circuit)
    return found, doubts


def _positions(
    row: _Row, at: dict[int, _Row], taken: set[int]
) -> tuple[tuple[int, ...], list[_Row]]:
    """Return the positions of the circuit that begins in a row, and its further rows.

    Poles lie on every second number, one below the other on a side of the panel; in a panel of one
    row, on the next ones (common practice).

    Raises:
        CellError: it has more poles than there is room for.
    """
    numbers = row.numbers
    if len(numbers) != 1:
        if numbers and row.poles is not None and row.poles != len(numbers):
            raise CellError(
                f"it takes {len(numbers)} positions, but its device has {row.poles} poles"
            )
        return numbers, []
    first = numbers[0]
    if row.device is None:
        return numbers, []
    for step in (2, 1):
        line = [first + step * k for k in range(1, row.poles or 4)]
        others = []
        for number in line:
            other = at.get(number)
            if number in taken or (other is not None and not other.goes_on):
                break
            if other is None and (step == 1 or row.poles is None):
                break
            if row.poles is None and other is not None and not other.says_so:
                break
            others.append(number)
        if row.poles is None and others:
            break
        if row.poles is not None and len(others) == row.poles - 1:
            break
    else:
        if row.poles not in (None, 1):
            raise CellError(
                f"its device has {row.poles} poles, but position {first + 2} is another circuit's"
            )
        others = []
    return (first, *others), [at[n] for n in others if n in at]


def _made(row: _Row, numbers: tuple[int, ...], others: Sequence[_Row]) -> Circuit | Left:
    words = row.description
    spare = _SPARE.fullmatch(words) is not None
    space = _SPACE.fullmatch(words) is not None or _SPACE.fullmatch(row.device_text) is not None
    if row.device is None and is_ditto(words):
        space = True
    if not (spare or space):
        problem = ""
        if row.device is None:
            problem = "it has no device"
        elif is_ditto(words):
            problem = "it says nothing of what it feeds"
        if problem:
            return Left(row.said.where, row.said.text, problem)
    loads = [each.power for each in (row, *others) if each.power]
    return Circuit(
        numbers,
        Use.SPACE if space else Use.SPARE if spare else Use.CIRCUIT,
        words,
        row.device,
        row.poles or len(row.lines) or len(numbers) or None,
        row.lines,
        sum(loads) or None,
        row.wire,
        row.length,
        "; ".join(each.note for each in (row, *others) if each.note),
        row.said.where,
    )
