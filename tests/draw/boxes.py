"""Reads rectangles out of a drawing, for tests of overlap."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree import ElementTree

SVG = "{http://www.w3.org/2000/svg}"
Rect = tuple[float, float, float, float]


def parsed(svg: str) -> ElementTree.Element:
    """Return the root element."""
    return ElementTree.fromstring(svg)


def texts(root: ElementTree.Element) -> Iterator[tuple[str, Rect]]:
    """Yield every upright text with the rectangle it fills (ascent 0.75, descent 0.22 em)."""
    for element in root.iter(f"{SVG}text"):
        if "transform" in element.attrib:
            continue
        x, y = float(element.attrib["x"]), float(element.attrib["y"])
        size = float(element.attrib["font-size"])
        wide = float(element.attrib["textLength"])
        anchor = element.attrib.get("text-anchor", "start")
        x -= {"start": 0.0, "middle": wide / 2, "end": wide}[anchor]
        yield element.text or "", (x, y - 0.75 * size, wide, 0.97 * size)


def meet(a: Rect, b: Rect, slack: float = 0.2) -> bool:
    """Whether two rectangles overlap by more than the slack."""
    return (
        a[0] + a[2] > b[0] + slack
        and b[0] + b[2] > a[0] + slack
        and a[1] + a[3] > b[1] + slack
        and b[1] + b[3] > a[1] + slack
    )


def clashes(named: list[tuple[str, Rect]]) -> list[tuple[str, str]]:
    """Return the pairs that overlap."""
    found = []
    ordered = sorted(named, key=lambda pair: pair[1][0])
    for k, (name, rect) in enumerate(ordered):
        for other, second in ordered[k + 1 :]:
            if second[0] > rect[0] + rect[2]:
                break
            if meet(rect, second):
                found.append((name, other))
    return found


def view_box(root: ElementTree.Element) -> Rect:
    """Return the view box."""
    x, y, w, h = (float(part) for part in root.attrib["viewBox"].split())
    return x, y, w, h


def inside(rect: Rect, frame: Rect) -> bool:
    """Whether a rectangle lies in a frame."""
    return (
        rect[0] >= frame[0] - 0.2
        and rect[1] >= frame[1] - 0.2
        and rect[0] + rect[2] <= frame[0] + frame[2] + 0.2
        and rect[1] + rect[3] <= frame[1] + frame[3] + 0.2
    )
