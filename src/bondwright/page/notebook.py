"""The readings of a hunt as they were written down, each kept once however often it is sent."""

from __future__ import annotations

import csv
import io
import uuid
from collections.abc import Collection, Iterable, Sequence
from threading import Lock
from typing import Final

from bondwright.exchange.sheets import defused
from bondwright.network.build import Network
from bondwright.page.wire_field import Note, NoteProblem
from bondwright.studies.hunt.readings import readings_of
from bondwright.studies.hunt.table import COLUMNS, Problems, Row

MOST: Final = 500
"""Readings that are kept; nobody takes more at a site, and ranking them takes its time."""
_FIELD: Final = {"with": "meter"}
"""Columns that have another name on the wire."""


class FullError(ValueError):
    """No more readings are kept."""


class Notebook:
    """Readings in the order in which they came.

    Attributes:
        born: names this memory; another after every start.
    """

    def __init__(self) -> None:
        self.born = uuid.uuid4().hex
        self._notes: dict[str, Note] = {}
        self._gone: dict[str, None] = {}
        self._lock = Lock()

    @property
    def notes(self) -> tuple[Note, ...]:
        """What is kept."""
        return tuple(self._notes.values())

    def take(self, notes: Iterable[Note], forget: Iterable[str] = ()) -> bool:
        """Keep readings and forget others.

        What was forgotten doesn't come back, though somebody who was out of reach sends it again.

        Returns:
            Whether anything changed.

        Raises:
            FullError: there would be too many; then nothing is changed.
        """
        with self._lock:
            new = {n.key: n for n in notes if n.key not in self._notes and n.key not in self._gone}
            gone = dict.fromkeys(forget)
            kept = {k: n for k, n in {**self._notes, **new}.items() if k not in gone}
            if len(kept) > max(MOST, len(self._notes)):
                raise FullError(f"{MOST} readings are kept at most; remove some that say nothing")
            changed = kept.keys() != self._notes.keys()
            self._notes = kept
            self._gone |= gone
        return changed


def cells_of(note: Note) -> dict[str, str]:
    """Return a reading as cells of the hunt's table."""
    whole = note.model_dump()
    cells = {column: str(whole.get(_FIELD.get(column, column), "")).strip() for column in COLUMNS}
    return cells | {"note": " ".join(cells["note"].split())}


def sifted(
    notes: Sequence[Note], network: Network
) -> tuple[tuple[dict[str, str], ...], tuple[NoteProblem, ...]]:
    """Return the cells of readings that can be used, and what is wrong with the others.

    Args:
        notes: the readings.
        network: the site in normal running.
    """
    good, bad = [], []
    for note in notes:
        cells = cells_of(note)
        problems = Problems("")
        row = Row(cells, {column: (1, k) for k, column in enumerate(COLUMNS)})
        readings_of([row], network, problems)
        if not problems.found:
            good.append(cells)
        for found in problems.found:
            column = COLUMNS[found.column]
            bad.append(
                NoteProblem(
                    key=note.key,
                    field=_FIELD.get(column, column),
                    text=found.text,
                    problem=found.problem,
                    hint=found.hint,
                )
            )
    return tuple(good), tuple(bad)


def as_csv(notes: Sequence[Note], unused: Collection[str] = ()) -> str:
    """Return readings as the table that ``bondwright hunt`` reads.

    Args:
        notes: the readings.
        unused: keys of those that can't be used; they stand there as remarks.
    """
    lines = []
    for note in (None, *notes):
        text = io.StringIO()
        row = COLUMNS if note is None else cells_of(note).values()
        csv.writer(text, lineterminator="").writerow([defused(cell) for cell in row])
        lines.append(f"# {text.getvalue()}" if note and note.key in unused else text.getvalue())
    return "\n".join(lines) + "\n"
