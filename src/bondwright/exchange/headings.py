"""What the columns of a panel schedule are called by those who make them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final


class Column(StrEnum):
    """What a column holds."""

    CIRCUIT = "circuit"
    DESCRIPTION = "description"
    DEVICE = "device"
    POLES = "poles"
    POWER = "power"
    WIRE = "wire"
    GROUND = "ground"
    RACEWAY = "raceway"
    LENGTH = "length"
    NOTE = "note"
    LINES = "lines"
    PHASE_A = "phase A"
    PHASE_B = "phase B"
    PHASE_C = "phase C"


_PHASE: Final = (
    r"((connected )?load )?(ph(ase)? ?)?({0})( (va|kva|w|kw))?"
    r"|((connected )?load )?(va|kva|w|kw) (ph(ase)? ?)?({0})"
)
_NAMES: Final = {
    Column.CIRCUIT: r"(ckt|cct|cir|circuit|circ|no|nr|number|num|pos|position|space|way)"
    r"( ?(ckt|no|nr|number|num|id))?",
    Column.DESCRIPTION: r"(circuit |load )?(description|desc|descr|name|served|serving|use)"
    r"|load|load served|load name|equipment|room|location|serves|feeds|what|fed",
    Column.DEVICE: r"(breaker|bkr|brkr|cb|c b|ocp|ocpd|fuse|trip|device|protection)"
    r"( (size|amps?|a|rating|trip))*|(size|amp|rated)? ?(a|amps?|rating|amperes?)",
    Column.POLES: r"p|poles?|no of poles|number of poles|breaker poles|ph",
    Column.POWER: r"(connected |conn |demand )?(load )?(va|kva|w|kw|watts|power|volt amps?)"
    r"|connected load|conn load",
    Column.WIRE: r"(wire|conductors?|cable|awg|phase conductor|ph wire)( size)?( awg)?",
    Column.GROUND: r"(egc|ground|gnd|grd|g|cpc|earth|pe)( wire)?( size)?",
    Column.RACEWAY: r"(conduit|raceway|cond|c|pipe)( size)?",
    Column.LENGTH: r"(one way )?(length|len|distance|dist|run)( (ft|feet|m))?|ft|feet",
    Column.NOTE: r"notes?|remarks?|comments?|rem",
    Column.LINES: r"lines?|on lines|phases",
    Column.PHASE_A: _PHASE.format("a|l1"),
    Column.PHASE_B: _PHASE.format("b|l2"),
    Column.PHASE_C: _PHASE.format("c|l3"),
}
_PATTERNS: Final = {column: re.compile(pattern) for column, pattern in _NAMES.items()}
_UNIT: Final = re.compile(r"\b(kva|kw|va|w|watts|ft|feet|m)\b")
_PHASES: Final = (Column.PHASE_A, Column.PHASE_B, Column.PHASE_C)


@dataclass(frozen=True, slots=True)
class Side:
    """The columns of one half of a schedule, or of all of it.

    Attributes:
        at: which cell of a row holds what.
        units: of the columns whose heading says one: "kva", "ft".
    """

    at: dict[Column, int]
    units: dict[Column, str]


@dataclass(frozen=True, slots=True)
class Heading:
    """Where the columns are named, and what they hold.

    Attributes:
        first: index of the row that names them.
        last: index of the last such row.
        sides: one, or two where odd circuits stand left and even ones right.
        unknown: column and text of each heading that means nothing here.
    """

    first: int
    last: int
    sides: tuple[Side, ...]
    unknown: tuple[tuple[int, str], ...]


def plain(text: str) -> str:
    """Return a heading in small letters with its punctuation out of the way."""
    text = text.lower().replace("#", " no ").replace("\u00f8", " ph ")
    return " ".join(re.sub(r"[^a-z0-9 ]+", " ", text).split())


def find_heading(rows: Sequence[Sequence[str]], most: int = 60) -> Heading | None:
    """Return the row, or two rows one below the other, that name the columns.

    Args:
        rows: cells.
        most: how many rows from the top may hold it.

    Returns:
        The best one, or None where no row names a circuit or a description, and a device.
    """
    best: tuple[int, Heading] | None = None
    for first in range(min(len(rows), most)):
        for last in (first, first + 1):
            if last >= len(rows):
                continue
            texts = [
                " ".join(filter(None, (rows[r][c] for r in range(first, last + 1))))
                for c in range(len(rows[first]))
            ]
            names = [_meanings(text) for text in texts]
            sides = _sides(names, texts)
            if not sides:
                continue
            known = sum(len(side.at) for side in sides)
            if last > first and known <= sum(bool(_meanings(cell)) for cell in rows[first]):
                continue  # the second row added nothing: it is the first of the circuits
            used = {k for side in sides for k in side.at.values()}
            unknown = tuple((k, t) for k, t in enumerate(texts) if t and k not in used)
            heading = Heading(first, last, sides, unknown)
            if best is None or known > best[0]:
                best = (known, heading)
    return best[1] if best else None


def _meanings(text: str) -> tuple[Column, ...]:
    word = plain(text)
    return tuple(column for column, pattern in _PATTERNS.items() if pattern.fullmatch(word))


def _sides(names: Sequence[tuple[Column, ...]], texts: Sequence[str]) -> tuple[Side, ...]:
    """Divide the columns into one side or two, each with its own circuits and devices."""
    spots = [k for k, meant in enumerate(names) if Column.CIRCUIT in meant]
    sides: Sequence[Side] = [_side(names, texts, range(len(names)))]
    if len(spots) >= 2:
        # A second column of circuit numbers begins, or (in a mirror image) ends, a second half.
        halves = []
        for cut in range(spots[0] + 1, spots[-1] + 1):
            pair = [
                _side(names, texts, range(cut)),
                _side(names, texts, range(cut, len(names))),
            ]
            if all(_complete(side) for side in pair):
                halves.append(pair)
        if halves:
            sides = max(halves, key=lambda pair: (_even(pair), sum(len(s.at) for s in pair)))
    return tuple(side for side in sides if _complete(side)) if sides else ()


def _even(pair: Sequence[Side]) -> int:
    return -len(set(pair[0].at) ^ set(pair[1].at))


def _complete(side: Side) -> bool:
    return Column.DEVICE in side.at and bool({Column.CIRCUIT, Column.DESCRIPTION} & set(side.at))


def _side(names: Sequence[tuple[Column, ...]], texts: Sequence[str], span: range) -> Side:
    at: dict[Column, int] = {}
    # 'A' heads amperes, but beside 'B' it heads the load on phase A.
    phases = any(Column.PHASE_B in names[k] for k in span)
    for k in span:
        meant = [c for c in names[k] if c not in at]
        if phases:
            meant.sort(key=lambda c: c not in _PHASES)
        else:
            meant = [c for c in meant if c not in _PHASES]
        if Column.RACEWAY in meant and phases and Column.PHASE_C in meant:
            meant = [Column.PHASE_C]
        if meant:
            at[meant[0]] = k
    units = {}
    for column, k in at.items():
        if found := _UNIT.search(plain(texts[k])):
            units[column] = found[0]
    return Side(at, units)
