"""Rows of a table of readings, from CSV or YAML, each cell with its place in the file."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from bondwright.exchange.sheets import taken
from bondwright.site.site_error import SiteProblem
from bondwright.site.source_text import parse as parse_yaml

COLUMNS: Final = (
    "what", "where", "of", "value", "state", "with", "accuracy", "noticed", "time", "note",
)  # fmt: skip
NEEDED: Final = ("what", "where", "value")


@dataclass(frozen=True, slots=True)
class Row:
    """One row, with where each of its cells stands."""

    cells: Mapping[str, str]
    at: Mapping[str, tuple[int, int]]


@dataclass(slots=True)
class Problems:
    """What is wrong in a table of readings."""

    file: str
    found: list[SiteProblem] = field(default_factory=list)

    def add(self, row: Row, column: str, problem: str, hint: str = "") -> None:
        """Note what is wrong with a cell."""
        line, place = row.at.get(column, row.at["what"])
        text = row.cells.get(column, "")
        self.found.append(SiteProblem(self.file, line, place, text, problem, hint))


def csv_rows(text: str, problems: Problems) -> list[Row]:
    """Return the rows under the heading; lines that start with # are remarks."""
    lines = text.splitlines()
    body = [(k, line) for k, line in enumerate(lines, 1) if line.strip() and line[:1] != "#"]
    if not body:
        return []
    head = [cell.strip() for cell in next(csv.reader([body[0][1]]))]
    where = Row(dict.fromkeys(head, ""), {"what": (body[0][0], 1)})
    for column in head:
        if column not in COLUMNS:
            problems.add(where, "what", f"{column!r} is no column", f"known: {', '.join(COLUMNS)}")
    for column in NEEDED:
        if column not in head:
            problems.add(where, "what", f"there is no column {column!r}")
    if problems.found:
        return []
    rows = []
    for number, line in body[1:]:
        cells = next(csv.reader(io.StringIO(line)))
        values = dict(zip(head, (taken(cell.strip()) for cell in cells), strict=False))
        at, place = {}, 0
        for column, cell in zip(head, cells, strict=False):
            place = max(line.find(cell, place), place) if cell else place
            at[column] = (number, place + 1)
            place += len(cell)
        rows.append(Row(values, {"what": (number, 1), **at}))
        if len(cells) > len(head):
            problems.add(rows[-1], "what", "has more cells than the heading", "quote commas")
    return rows


def yaml_rows(text: str, name: str, problems: Problems) -> list[Row]:
    """Return the groups under ``readings``."""
    source = parse_yaml(text, name)
    if source.problems:
        problems.found += source.problems
        return []
    whole = source.data if isinstance(source.data, dict) else {}
    rows = []
    for key in whole:
        if key != "readings":
            problems.found.append(
                source.problem((key,), "is not known here", "only 'readings'", on_key=True)
            )
    listed = whole.get("readings")
    if not isinstance(listed, list):
        where = ("readings",) if "readings" in whole else ()
        problems.found.append(source.problem(where, "holds no list", "'readings:' and a '-' each"))
        return []
    for k, item in enumerate(listed):
        loc = ("readings", k)
        mark, _ = source.locate(loc)
        if not isinstance(item, dict):
            problems.found.append(source.problem(loc, "is no group of 'what', 'where', ..."))
            continue
        at = {"what": (mark.line, mark.column)}
        for column in item:
            here, _ = source.locate((*loc, column))
            at[str(column)] = (here.line, here.column)
            if column not in COLUMNS:
                hint = f"known: {', '.join(COLUMNS)}"
                problems.found.append(
                    source.problem((*loc, column), "is no column", hint, on_key=True)
                )
        rows.append(Row({str(c): "" if v is None else str(v) for c, v in item.items()}, at))
    return rows
