"""The test sheet as a table: to fill in, and filled in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

from bondwright.exchange.headings import plain
from bondwright.exchange.sheets import Sheet, column_name
from bondwright.explain.language import LANGUAGES, Language
from bondwright.studies.judging import JudgedReading, judge
from bondwright.studies.measuring import MeasuringPoint, Unit
from bondwright.units import Dimension, UnitError, parse, show

HEAD: Final = (
    "no", "place", "measure", "between", "state", "instrument", "expected", "limit",
    "source of limit", "reading", "accuracy", "serial", "date", "weather", "by", "remark", "id",
)  # fmt: skip
CAUTION: Final = (
    "Dead tests with the power off, locked and proved dead. Live tests by a qualified person, with "
    "an instrument made for them, where nothing has to be opened. Never lift a neutral or a bond "
    "under load."
)
MAX_ACCURACY: Final = 0.5

_DIMENSION: Final = {Unit.OHM: Dimension.RESISTANCE, Unit.AMPERE: Dimension.CURRENT}
_OVER: Final = ("over", "ol", "o.l.", ">", "over range", "open", "infinite", "fuera de rango")


@dataclass(frozen=True, slots=True)
class Record:
    """One filled row.

    Attributes:
        judged: the reading and its verdict.
        serial: of the instrument.
        date: as written.
        weather: as written.
        by: who read it.
        remark: as written.
    """

    judged: JudgedReading
    serial: str
    date: str
    weather: str
    by: str
    remark: str


@dataclass(frozen=True, slots=True)
class Filled:
    """A sheet as it came back.

    Attributes:
        records: rows with a reading.
        empty: ids of points nobody has read.
        problems: (cell, what is wrong) of rows that can't be used; nothing is dropped silently.
    """

    records: tuple[Record, ...]
    empty: tuple[str, ...]
    problems: tuple[tuple[str, str], ...]


def quantity(value: float | None, unit: Unit) -> str:
    """Write a value with its unit, "" for none."""
    if value is None:
        return ""
    return "over range" if math.isinf(value) else show(value, _DIMENSION[unit])


def limit_words(point: MeasuringPoint) -> str:
    """Write a limit with its side: ``at most 0.5 ohm``."""
    return "" if point.limit is None else f"{point.sense} {quantity(point.limit, point.unit)}"


def rows(site: str, points: Sequence[MeasuringPoint]) -> list[list[str]]:
    """Return the sheet to fill in: title, caution, heading, one row for each point."""
    width = len(HEAD)
    table = [[f"Test sheet: {site}"], [CAUTION], list(HEAD)]
    for number, p in enumerate(points, 1):
        table.append(
            [
                str(number), p.place, p.what.value, p.between, p.state, p.instrument,
                quantity(p.expected, p.unit), limit_words(p), p.source,
                "", "", "", "", "", "", "", p.id,
            ]
        )  # fmt: skip
    return [[*row, *[""] * (width - len(row))] for row in table]


def read_filled(sheet: Sheet, points: Sequence[MeasuringPoint]) -> Filled:
    """Read a sheet that came back.

    Rows are known by their id, columns by their heading, so both may stand in another order.

    Raises:
        ValueError: no row names the columns "reading" and "id".
    """
    head, at = _heading(sheet)
    known = {point.id: point for point in points}
    records, problems = [], []
    seen: dict[str, str] = {}
    for row in range(head + 1, len(sheet.rows)):
        cells = {name: sheet.rows[row][k] for name, k in at.items()}
        if not any(cells.values()):
            continue
        where = f"{column_name(at['id'])}{row + 1}"
        point = known.get(cells["id"])
        if point is None:
            if cells["reading"]:
                problems.append((where, f"there is no test '{cells['id']}' on this site"))
            continue
        if point.id in seen:
            problems.append((where, f"this test stands in {seen[point.id]} already"))
            continue
        seen[point.id] = where
        if not cells["reading"]:
            continue
        try:
            value = _reading(cells["reading"], point.unit)
            half = _accuracy(cells.get("accuracy", ""), value, point.unit)
            judged = judge(point, value, half)
        except ValueError as error:
            problems.append((f"{column_name(at['reading'])}{row + 1}", str(error)))
            continue
        said = [cells.get(name, "") for name in ("serial", "date", "weather", "by", "remark")]
        records.append(Record(judged, *said))
    read = {record.judged.point.id for record in records}
    missing = tuple(point.id for point in points if point.id not in read)
    return Filled(tuple(records), missing, tuple(problems))


def _heading(sheet: Sheet) -> tuple[int, dict[str, int]]:
    for k, row in enumerate(sheet.rows):
        names = [_english().get(plain(cell), plain(cell)) for cell in row]
        if "reading" in names and "id" in names:
            return k, {name: names.index(name) for name in HEAD if name in names}
    raise ValueError("no row names the columns 'reading' and 'id'; is this a test sheet of ours?")


@cache
def _english() -> dict[str, str]:
    """Return what the headings are called in each language, with our own name of each."""
    every = [Language(tag) for tag in LANGUAGES]
    return {plain(language(name)): name for language in every for name in HEAD}


def _reading(text: str, unit: Unit) -> float:
    """Read a reading: with its unit or in that of the point; ``over`` for over range."""
    plain_text = text.strip()
    if plain_text.lower() in _OVER:
        return math.inf
    plain_text = plain_text.removeprefix(">").strip()
    try:
        return float(plain_text)
    except ValueError:
        pass
    try:
        return parse(plain_text, _DIMENSION[unit])  # as written: 'M' and 'm' are a billion apart
    except UnitError as error:
        raise ValueError(f"'{text}' is no reading in {unit}") from error


def _accuracy(text: str, value: float, unit: Unit) -> float | None:
    """Read an accuracy, ``2 % + 0.01 ohm`` or one of both parts; None where none is given."""
    if not text.strip():
        return None
    total = 0.0
    for part in text.split("+"):
        try:
            if "%" in part:
                share = parse(part.strip(), Dimension.RATIO)
                if not 0 <= share <= MAX_ACCURACY:
                    raise ValueError(f"no instrument is used that reads to {part.strip()}")
                total += share * (0.0 if math.isinf(value) else value)
            else:
                total += _reading(part, unit)
        except UnitError as error:
            raise ValueError(f"'{text}' is no accuracy: write '2 % + 0.01 ohm'") from error
    return total


def judged_rows(filled: Filled) -> list[tuple[str, ...]]:
    """Return the record as cells: test, expected, limit, reading, verdict, words, who."""
    table: list[tuple[str, ...]] = []
    for record in filled.records:
        judged, point = record.judged, record.judged.point
        reading = quantity(judged.value, point.unit)
        if judged.uncertainty:
            reading += f" \u00b1 {quantity(judged.uncertainty, point.unit)}"
        verdict = judged.verdict.value + (", not explained" if judged.unexplained else "")
        if point.limit is None and not judged.unexplained:
            verdict = "as computed" if point.expected is not None else "noted"
        table.append(
            (
                point.id, quantity(point.expected, point.unit), limit_words(point), reading,
                verdict, "; ".join(judged.words), " ".join(filter(None, (record.by, record.date))),
            )
        )  # fmt: skip
    return table
