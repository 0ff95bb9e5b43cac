"""Sizes of sheets, and where on them a picture finds room to be read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final, Literal, get_args

from bondwright.catalog._data import load_yaml
from bondwright.units import INCH, Dimension, parse

Paper = Literal["us-letter", "a4", "tabloid", "a3", "arch-d"]
PAPERS: Final[tuple[Paper, ...]] = get_args(Paper)
MARGIN: Final = 54.0
"""At both sides, pt."""
ABOVE: Final = 61.2
"""Above and below the text, with the running head and the foot in it, pt."""
GUTTER: Final = 26.0
"""Between columns, pt."""
CAPTION: Final = 46.0
"""Room for a caption under a picture that has a sheet to itself, pt."""
LEAST_SCALE: Final = 0.53
"""Points of paper for each pixel of a drawing at which its letters of 11 px are just readable."""
SHEET_SCALE: Final = 0.6
"""The least on a sheet of its own."""
MOST_SCALE: Final = 0.78
"""More than this is wasteful in the text."""
MOST_ON_SHEET: Final = 1.0
"""The most on a sheet of its own."""
LARGEST: Final = 14_400.0
"""Largest side of a page (ISO 32000-1, annex C), pt."""


@dataclass(frozen=True, slots=True)
class Size:
    """A sheet.

    Attributes:
        name: what it is asked for by.
        wide: pt.
        high: pt.
        columns: number of columns of text.
        larger: width and height of the landscape sheets of its series, smallest first, pt.
    """

    name: str
    wide: float
    high: float
    columns: int
    larger: tuple[tuple[float, float], ...]

    @property
    def column(self) -> float:
        """Width of a column, pt."""
        return (self.wide - 2 * MARGIN - (self.columns - 1) * GUTTER) / self.columns

    @property
    def room(self) -> float:
        """Height of a column, pt."""
        return self.high - 2 * ABOVE

    @property
    def landscape(self) -> Size:
        """The same sheet with its long side across, in columns at least as wide as it is high."""
        wide, high = max(self.wide, self.high), min(self.wide, self.high)
        columns = max(1, int((wide - 2 * MARGIN + GUTTER) // (640 + GUTTER)))
        return Size(self.name, wide, high, columns, self.larger)

    @property
    def data(self) -> dict[str, float]:
        """The sheet as a template takes it."""
        return {
            "wide": self.wide,
            "high": self.high,
            "columns": self.columns,
            "column": self.column,
            "room": self.room,
        }


@dataclass(frozen=True, slots=True)
class Spot:
    """Where a picture goes.

    Attributes:
        where: "column", "page" (across all columns) or "sheet" (one of its own).
        scale: pt for each px.
        wide: of its own sheet, pt; 0 for another spot.
        high: of its own sheet, pt; 0 for another spot.
    """

    where: Literal["column", "page", "sheet"]
    scale: float
    wide: float = 0.0
    high: float = 0.0


@cache
def _data() -> dict[str, Any]:
    text = files("bondwright.papers").joinpath("data", "sheets.yaml").read_text(encoding="utf-8")
    raw: dict[str, Any] = load_yaml(text)
    return raw


def points(text: str) -> float:
    """Return a length such as "8.5 in" in pt."""
    return parse(text, Dimension.LENGTH) / INCH * 72


def size(paper: str) -> Size:
    """Return a sheet by its name.

    Raises:
        ValueError: no such sheet.
    """
    sheets = _data()["sheets"]
    if paper not in sheets:
        raise ValueError(f"no paper {paper!r} is known; give one of {', '.join(sheets)}")
    one = sheets[paper]
    larger = tuple((points(w), points(h)) for w, h in _data()["larger"][one["series"]])
    return Size(paper, points(one["wide"]), points(one["high"]), one["columns"], larger)


def desk_size(paper: str) -> Size:
    """Return the sheet for what is carried in a hand: Letter or A4, after the series."""
    if size(paper).high <= size(paper).wide:
        series = _data()["sheets"][paper]["series"]
        return size("us-letter" if series == "inch" else "a4")
    return size(paper)


def spot(width: float, height: float, sheet: Size) -> Spot:
    """Return where a picture can be read: in a column, across the page, or on its own sheet.

    Args:
        width: of the picture, px.
        height: of the picture, px.
        sheet: the sheet of the paper.
    """
    scale = min(sheet.column / width, MOST_SCALE)
    if scale >= LEAST_SCALE and height * scale <= sheet.room - CAPTION:
        return Spot("column", scale)
    across = min((sheet.wide - 2 * MARGIN) / width, MOST_SCALE)
    if sheet.columns > 1 and across >= LEAST_SCALE and height * across <= 0.6 * sheet.room:
        return Spot("page", across)
    own = (max(sheet.wide, sheet.high), min(sheet.wide, sheet.high))
    for wide, high in (own, *(one for one in sheet.larger if one[0] > own[0])):
        scale = min((wide - 2 * MARGIN) / width, (high - 2 * ABOVE - CAPTION) / height)
        if scale >= SHEET_SCALE:
            return Spot("sheet", min(scale, MOST_ON_SHEET), wide, high)
    scale = min(
        SHEET_SCALE,
        (LARGEST - 2 * MARGIN) / width,
        (LARGEST - 2 * ABOVE - CAPTION) / height,
    )
    wide = max(width * scale + 2 * MARGIN, 612.0)
    return Spot("sheet", scale, wide, max(height * scale + 2 * ABOVE + CAPTION, 612.0))
