"""Lines, circles and texts of a drawing as DXF, written as such a file has them.

ezdxf makes an object with some forty possible attributes of each entity, and asks for every one
of them when it writes: most of the time that the picture of a large site takes. These are the
same lines, byte for byte; tags as in the DXF reference for AC1024. Tables, header and the rest of
the file are ezdxf's, which also reads all of it back in the tests.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

_BEGIN: Final = "  0\nSECTION\n  2\nENTITIES\n"
_FIT: Final = 5
"""Text is stretched from one point to another."""
_CLOSED: Final = 1

Point = tuple[float, float]


class Entities:
    """Entities of a drawing's modelspace, in the order they are added.

    Args:
        doc: the drawing; handles are taken from it.
        app: application whose extended data says what an entity stands for.
    """

    def __init__(self, doc: Document, app: str) -> None:
        self._handles = doc.entitydb.handles
        self._owner = doc.modelspace().layout_key
        self._app = app
        self._written: list[str] = []

    def into(self, written: str) -> str:
        """Return a file of the drawing, as ezdxf writes it, with these entities in it.

        Raises:
            ValueError: the file has no section for them.
        """
        head, begin, rest = written.partition(_BEGIN)
        if not begin:
            raise ValueError("the drawing has no section for entities")
        return "".join((head, begin, *self._written, rest))

    def polyline(
        self,
        points: Sequence[Point],
        *,
        layer: str,
        colour: str = "",
        closed: bool = False,
        wide: float = 0.0,
        owner: tuple[str, str] = ("", ""),
    ) -> None:
        """Add a line through points.

        Args:
            points: x and y of each.
            layer: name of its layer.
            colour: from :func:`colour_tag`; empty for the layer's own.
            closed: whether it returns to its first point.
            wide: width; 0 for a thin line.
            owner: kind and label of what it stands for; nothing without a label.
        """
        self._add(
            "LWPOLYLINE", layer, colour,
            f"100\nAcDbPolyline\n 90\n{len(points)}\n 70\n{_CLOSED if closed else 0}\n",
            f" 43\n{wide}\n" if wide else "",
            "".join(f" 10\n{float(x)}\n 20\n{float(y)}\n" for x, y in points),
            self._stands_for(*owner),
        )  # fmt: skip

    def circle(
        self, at: Point, radius: float, *, layer: str, owner: tuple[str, str] = ("", "")
    ) -> None:
        """Add a circle around a point."""
        self._add(
            "CIRCLE", layer, "",
            f"100\nAcDbCircle\n 10\n{float(at[0])}\n 20\n{float(at[1])}\n 30\n0.0\n 40\n{radius}\n",
            self._stands_for(*owner),
        )  # fmt: skip

    def text(
        self, said: str, start: Point, end: Point, *, high: float, layer: str, colour: str = ""
    ) -> None:
        """Add a text that reaches from one point to another."""
        self._add(
            "TEXT", layer, colour,
            f"100\nAcDbText\n 10\n{float(start[0])}\n 20\n{float(start[1])}\n 30\n0.0\n",
            f" 40\n{high}\n  1\n{said}\n 72\n{_FIT}\n",
            f" 11\n{float(end[0])}\n 21\n{float(end[1])}\n 31\n0.0\n100\nAcDbText\n",
        )  # fmt: skip

    def _add(self, kind: str, layer: str, colour: str, *tags: str) -> None:
        handle = self._handles.next()
        self._written.append(
            f"  0\n{kind}\n  5\n{handle}\n330\n{self._owner}\n100\nAcDbEntity\n  8\n{layer}\n"
            + colour
        )
        self._written.extend(tags)

    def _stands_for(self, kind: str, name: str) -> str:
        return f"1001\n{self._app}\n1000\n{kind}\n1000\n{name}\n" if name else ""


def colour_tag(triple: Iterable[int] | None) -> str:
    """Return the tag of a true colour, or that of black on white and white on black for None."""
    if triple is None:
        return " 62\n7\n"
    red, green, blue = triple
    return f"420\n{red << 16 | green << 8 | blue}\n"
