"""A small SVG writer: escaping, stable ids, texts that keep their measured width."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Final

from bondwright.draw.lettering import FAMILY, said, width

INK: Final = "#16202a"
"""Colour of main texts."""
SOFT: Final = "#46525e"
"""Colour of lesser texts."""
ALARM: Final = "#a30d1c"
"""Colour of texts about danger."""

_UNSAFE: Final = re.compile(r"[^A-Za-z0-9-]")
_FORBIDDEN: Final = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_SPECIAL: Final = re.compile("[&<>\"'\x00-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_ESCAPES: Final = str.maketrans(
    {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}
)


def escape(text: str) -> str:
    """Make a text safe inside an element and inside an attribute."""
    if _SPECIAL.search(text) is None:
        return text
    return _FORBIDDEN.sub("\ufffd", text).translate(_ESCAPES)


def element_id(*parts: str) -> str:
    """Return an id for an element: the parts joined, with unsafe characters coded.

    Different parts give different ids: every character that is neither letter, digit nor
    hyphen becomes its code point between underscores.
    """
    return ".".join([_coded(part) for part in parts])


@lru_cache(maxsize=65536)
def _coded(part: str) -> str:
    return _UNSAFE.sub(lambda found: f"_{ord(found[0]):x}_", part)


def num(value: float) -> str:
    """Write a coordinate, to a tenth of a px."""
    return f"{value:.1f}"


def line_path(points: Sequence[tuple[float, float]]) -> str:
    """Return path data of a broken line."""
    if len(points) == 2:
        (x0, y0), (x1, y1) = points
        return f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}"
    return "M" + "L".join([f"{x:.1f} {y:.1f}" for x, y in points])


class Canvas:
    """Collects elements in drawing order.

    Attributes:
        ids: id of every element that stands for something, with what it stands for.
        prefix: put before every id, so that several pictures can share a page.
    """

    def __init__(self, prefix: str = "") -> None:
        self.prefix = prefix
        self.ids: dict[str, str] = {}
        self._out: list[str] = []

    def begin(self, layer: str, box: tuple[float, float, float, float] | None = None) -> None:
        """Say that what follows belongs to a layer and lies within x, y, w, h (None: anywhere).

        A whole picture keeps one order of painting and needs no such help; a picture in pieces
        sorts by it.
        """

    def key(self, key: str) -> str:
        """Return the ``id`` attribute of a text that is to be changed later, or ""."""
        del key
        return ""

    def part(self, name: str) -> str:
        """Return the ``class`` attribute of a part that is to be changed later, or ""."""
        del name
        return ""

    def add(self, text: str) -> None:
        """Add raw SVG."""
        self._out.append(text)

    def mark(self, kind: str, name: str, *more: str) -> str:
        """Return ``id`` and ``data-id`` attributes for an element that stands for something."""
        made = self.prefix + element_id(kind, name, *more)
        self.ids[made] = " ".join((kind, name, *more))
        extra = f' data-conductor="{escape(more[0])}"' if more else ""
        return f' id="{made}" data-kind="{kind}" data-id="{escape(name)}"{extra}'

    def open(self, attributes: str, title: str = "") -> None:
        """Open a group, with a text that shows on pointing at it."""
        self._out.append(f"<g{attributes}>")
        if title:
            self._out.append(f"<title>{escape(title)}</title>")

    def close(self) -> None:
        """Close the group."""
        self._out.append("</g>")

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float,
        *,
        bold: bool = False,
        fill: str = INK,
        anchor: str = "start",
        extra: str = "",
    ) -> None:
        """Add one line of text with its baseline at ``y``, held to its measured width."""
        if not text:
            return
        text = said(text)
        weight = ' font-weight="600"' if bold else ""
        place = "" if anchor == "start" else f' text-anchor="{anchor}"'
        self._out.append(
            f'<text x="{x:.1f}" y="{y:.1f}" font-size="{size:g}" fill="{fill}"{weight}{place} '
            f'textLength="{width(text, size, bold):.1f}" lengthAdjust="spacingAndGlyphs"{extra}>'
            f"{escape(text)}</text>"
        )

    def rect(
        self, x: float, y: float, w: float, h: float, attributes: str, radius: float = 0
    ) -> None:
        """Add a rectangle."""
        corner = f' rx="{radius:.1f}"' if radius else ""
        self._out.append(
            f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}"{corner} {attributes}/>'
        )

    def path(self, data: str, attributes: str) -> None:
        """Add a path."""
        self._out.append(f'<path d="{data}" {attributes}/>')

    def line(self, points: Sequence[tuple[float, float]], attributes: str) -> None:
        """Add a broken line without filling."""
        self._out.append(f'<path d="{line_path(points)}" fill="none" {attributes}/>')

    def polygon(self, points: Iterable[tuple[float, float]], attributes: str) -> None:
        """Add a closed, filled shape."""
        self._out.append(f'<path d="{line_path(list(points))}Z" {attributes}/>')

    def body(self) -> str:
        """Return what was painted so far, without a frame around it."""
        return "".join(self._out)

    def finish(self, w: float, h: float, title: str, alt: str, kind: str) -> str:
        """Return the whole picture.

        Args:
            w: width, px.
            h: height, px.
            title: short name.
            alt: what it shows.
            kind: class name of the picture.
        """
        name, about = self.prefix + "title", self.prefix + "about"
        head = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="{kind}" role="img" '
            f'aria-labelledby="{name} {about}" viewBox="0 0 {w:.1f} {h:.1f}" '
            f'width="{w:.1f}" height="{h:.1f}" font-family="{FAMILY}">'
            f'<title id="{name}">{escape(title)}</title><desc id="{about}">{escape(alt)}</desc>'
            f'<rect width="{w:.1f}" height="{h:.1f}" fill="#ffffff"/>'
        )
        return head + "".join(self._out) + "</svg>"
