"""Reading tables of readings and descriptions of electrodes for the earth commands."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import yaml

from bondwright.earth.shapes import (
    Electrode,
    buried_wire,
    concrete_bar,
    grid,
    pile,
    plate,
    ring,
    rod,
    strip,
)
from bondwright.earth.soil import Soil
from bondwright.site.fields import ground_of
from bondwright.units import Dimension, UnitError, parse

MAX_BYTES: Final = 2_000_000
_HEAD: Final = re.compile(r"^\s*(?P<name>[^(\[]+?)\s*(?:[(\[](?P<unit>[^)\]]+)[)\]])?\s*$")


class EarthFileError(ValueError):
    """Something in a file that can't be understood; says where and what would be right."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table of readings.

    Attributes:
        name: heading in small letters, without its unit.
        dimension: what its cells are.
    """

    name: str
    dimension: Dimension


def read_text(path: Path) -> str:
    """Return the text of a file of reasonable size.

    Raises:
        EarthFileError: too large, or not text.
        OSError: it can't be read.
    """
    if path.stat().st_size > MAX_BYTES:
        raise EarthFileError(f"{path}: more than {MAX_BYTES} bytes; that is no table of readings")
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise EarthFileError(
            f"{path}: is not UTF-8 text; save it as CSV or YAML in UTF-8"
        ) from None


def read_columns(path: Path, known: Sequence[Column]) -> dict[str, tuple[float, ...]]:
    """Read a CSV table; units stand in the cells ("2 m") or in the heading ("spacing (m)").

    Args:
        path: the file; lines that begin with # are remarks.
        known: columns that may be there.

    Returns:
        Numbers in SI by column name; columns that are not there are missing.

    Raises:
        EarthFileError: a heading that is not known, or a cell that is no quantity; with its line.
    """
    lines = [
        (number, line)
        for number, line in enumerate(read_text(path).splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if len(lines) < 2:
        raise EarthFileError(f"{path}: no readings; write a heading and a line for each reading")
    rows = list(csv.reader(io.StringIO("\n".join(line for _, line in lines))))
    if len(rows) != len(lines):
        raise EarthFileError(f"{path}: a quoted cell runs over several lines; close its quote")
    heads = [_heading(path, lines[0][0], cell, known) for cell in rows[0]]
    found: dict[str, list[float]] = {column.name: [] for column, _ in heads}
    if len(found) < len(heads):
        raise EarthFileError(f"{path}:{lines[0][0]}: a column stands twice")
    for (number, _), cells in zip(lines[1:], rows[1:], strict=True):
        if len(cells) != len(heads):
            raise EarthFileError(f"{path}:{number}: {len(cells)} cells under {len(heads)} headings")
        for (column, unit), cell in zip(heads, cells, strict=True):
            text = f"{cell.strip()} {unit}" if unit and _bare(cell) else cell.strip()
            try:
                found[column.name].append(parse(text, column.dimension))
            except UnitError as error:
                raise EarthFileError(f"{path}:{number}: {column.name}: {error}") from None
    return {name: tuple(values) for name, values in found.items()}


def _bare(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _heading(
    path: Path, line: int, cell: str, known: Sequence[Column]
) -> tuple[Column, str | None]:
    match = _HEAD.match(cell)
    name = " ".join(match["name"].lower().split()) if match else ""
    for column in known:
        if column.name == name and match is not None:
            return column, match["unit"]
    names = ", ".join(column.name for column in known)
    raise EarthFileError(f"{path}:{line}: no column {cell.strip()!r}; there may be: {names}")


def parse_soil(text: str) -> Soil:
    """Read a soil: "100 ohm m", or layers from the top "300 ohm m / 3 m / 50 ohm m".

    Raises:
        ValueError: it is neither.
    """
    try:
        return ground_of(text)
    except UnitError as error:
        raise EarthFileError(str(error)) from None


def read_electrodes(path: Path) -> tuple[Soil | None, tuple[Electrode, ...]]:
    """Read a description of electrodes.

    Args:
        path: a YAML file with ``soil`` (text, see :func:`parse_soil`) and ``electrodes`` by name,
            each with ``kind`` and its measures, lengths with units, places as ``[x, y]``.

    Returns:
        The soil, if the file names it, and the electrodes.

    Raises:
        EarthFileError: anything that can't be understood, with where it stands.
    """
    try:
        data = yaml.safe_load(read_text(path))
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        where = f":{mark.line + 1}:{mark.column + 1}" if mark else ""
        problem = getattr(error, "problem", None) or "can't be read"
        raise EarthFileError(f"{path}{where}: not YAML: {problem}") from None
    if not isinstance(data, dict) or not isinstance(data.get("electrodes"), dict):
        raise EarthFileError(f"{path}: write 'electrodes:' and under it each electrode by name")
    extra = set(data) - {"soil", "electrodes"}
    if extra:
        raise EarthFileError(
            f"{path}: no key {min(map(str, extra))!r}; there are soil and electrodes"
        )
    soil = data.get("soil")
    made = tuple(
        _electrode(f"{path}: electrodes.{name}", str(name), one)
        for name, one in data["electrodes"].items()
    )
    return (parse_soil(str(soil)) if soil is not None else None), made


@dataclass(frozen=True, slots=True)
class _Fields:
    """The keys of one electrode, taken one by one so that what is left over is a mistake."""

    where: str
    given: dict[str, Any]

    def length(self, key: str, default: float | None = None) -> float:
        if key not in self.given:
            if default is not None:
                return default
            raise EarthFileError(f"{self.where}: {key} is missing; write it like '8 ft'")
        return self._length(key, self.given.pop(key))

    def _length(self, key: str, value: object) -> float:
        try:
            return parse(str(value), Dimension.LENGTH)
        except UnitError as error:
            raise EarthFileError(f"{self.where}.{key}: {error}") from None

    def rho(self, key: str) -> float:
        if key not in self.given:
            raise EarthFileError(f"{self.where}: {key} is missing; write it like '60 ohm m'")
        try:
            return parse(str(self.given.pop(key)), Dimension.RESISTIVITY)
        except UnitError as error:
            raise EarthFileError(f"{self.where}.{key}: {error}") from None

    def place(self, key: str) -> tuple[float, float]:
        return self._place(key, self.given.pop(key, None))

    def _place(self, key: str, value: object) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise EarthFileError(f"{self.where}: {key} is a pair like [0 m, 3 m]")
        return self._length(key, value[0]), self._length(key, value[1])

    def places(self, key: str) -> list[tuple[float, float]]:
        value = self.given.pop(key, None)
        if not isinstance(value, list):
            raise EarthFileError(f"{self.where}: {key} is a list of pairs like [0 m, 3 m]")
        return [self._place(key, one) for one in value]

    def flag(self, key: str) -> bool:
        value = self.given.pop(key, False)
        if not isinstance(value, bool):
            raise EarthFileError(f"{self.where}: {key} is true or false")
        return value

    def counts(self, key: str) -> tuple[int, int]:
        value = self.given.pop(key, None)
        if not (
            isinstance(value, list)
            and len(value) == 2
            and all(isinstance(n, int) and not isinstance(n, bool) and n <= 100 for n in value)
        ):
            raise EarthFileError(f"{self.where}: {key} is a pair of whole numbers like [4, 3]")
        return value[0], value[1]


def _electrode(where: str, name: str, given: object) -> Electrode:
    if not isinstance(given, Mapping):
        raise EarthFileError(f"{where}: write the electrode as keys, 'kind: rod' first")
    fields = _Fields(where, {str(key): value for key, value in given.items()})
    kind = str(fields.given.pop("kind", ""))
    if kind not in _MAKERS:
        raise EarthFileError(f"{where}: no kind {kind!r}; there are {', '.join(_MAKERS)}")
    try:
        made: Electrode = _MAKERS[kind](name, fields)
    except EarthFileError:
        raise
    except ValueError as error:
        raise EarthFileError(f"{where}: {error}") from None
    if fields.given:
        raise EarthFileError(f"{where}: a {kind} has no {min(fields.given)!r}")
    return made


def _rod(name: str, f: _Fields) -> Electrode:
    return rod(name, f.place("at"), f.length("length"), f.length("diameter"), f.length("top", 0.0))


def _wire(name: str, f: _Fields) -> Electrode:
    return buried_wire(
        name, f.places("along"), f.length("depth"), f.length("diameter"), closed=f.flag("closed")
    )


def _strip(name: str, f: _Fields) -> Electrode:
    return strip(
        name, f.places("along"), f.length("depth"), f.length("width"), closed=f.flag("closed")
    )


def _ring(name: str, f: _Fields) -> Electrode:
    return ring(
        name, f.place("centre"), f.length("across"), f.length("depth"), f.length("diameter")
    )


def _grid(name: str, f: _Fields) -> Electrode:
    return grid(
        name,
        f.place("corner"),
        f.place("size"),
        f.counts("meshes"),
        f.length("depth"),
        f.length("diameter"),
    )


def _plate(name: str, f: _Fields) -> Electrode:
    x, y = f.place("centre")
    return plate(
        name,
        (x, y, f.length("depth")),
        f.place("size"),
        upright=f.flag("upright"),
        round_plate=f.flag("round"),
    )


def _footing(name: str, f: _Fields) -> Electrode:
    return concrete_bar(
        name,
        f.places("along"),
        f.length("depth"),
        f.length("diameter"),
        f.length("concrete"),
        f.rho("resistivity"),
    )


def _pile(name: str, f: _Fields) -> Electrode:
    return pile(
        name,
        f.place("at"),
        f.length("length"),
        f.length("diameter"),
        f.length("concrete"),
        f.rho("resistivity"),
        f.length("top", 0.0),
    )


_MAKERS: Final = {
    "rod": _rod,
    "wire": _wire,
    "pipe": _wire,
    "strip": _strip,
    "ring": _ring,
    "grid": _grid,
    "plate": _plate,
    "footing": _footing,
    "pile": _pile,
}
