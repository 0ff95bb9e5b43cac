"""Voltages at one place as points in the plane: where lines, neutral and ground lie."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from bondwright.draw.drawing import Drawing
from bondwright.draw.lettering import width, wrap
from bondwright.draw.svg import ALARM, INK, SOFT, Canvas
from bondwright.explain.phasors import heading, tell_plane, terminal
from bondwright.explain.words import volts
from bondwright.studies.hunt.phasors import BESIDE, PhasorPlane

SIZE: Final = 12.0
SIDE: Final = 380.0
"""Width and height of one plane, px."""
_MARGIN: Final = 46.0
_GAP: Final = 24.0
_FAINT: Final = "#b4bdc8"
_LIKELY: Final = "#5b2a86"
_MOST_LINES: Final = 12
_ROUND: Final = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where volts lie on the paper: the middle, px per V, and the top left corner."""

    middle: complex
    scale: float
    left: float
    top: float

    def at(self, z: complex) -> tuple[float, float]:
        off = (z - self.middle) * self.scale
        return self.left + SIDE / 2 + off.real, self.top + SIDE / 2 - off.imag


def phasor_picture(
    planes: Sequence[PhasorPlane], prefix: str = "", *, told: bool = True
) -> Drawing:
    """Draw what voltages at a place say of where its terminals lie.

    Args:
        planes: one or more; each gets a square of its own, two side by side.
        prefix: put before every id, so that several pictures can share a page.
        told: whether what each shows is written below it.

    Returns:
        The drawing. Described points are hollow, read ones full, those of the likeliest cause
        diamonds. A terminal whose voltages don't close isn't placed: its readings are circles.

    Raises:
        ValueError: there is no plane.
    """
    if not planes:
        msg = "there is nothing to draw; give at least one plane"
        raise ValueError(msg)
    canvas = Canvas(prefix)
    columns = min(2, len(planes))
    wide = columns * (SIDE + _GAP) - _GAP + 2 * 12
    y = 10.0
    for start in range(0, len(planes), columns):
        heights = [
            _plane(canvas, plane, 12 + k * (SIDE + _GAP), y, told=told)
            for k, plane in enumerate(planes[start : start + columns])
        ]
        y += max(heights) + 14
    y = _legend(canvas, planes, 12, y)
    alt = " ".join(sentence for plane in planes for sentence in tell_plane(plane))
    svg = canvas.finish(wide, y + 8, "Voltages as phasors", alt, "bondwright-phasors")
    return Drawing(svg, wide, y + 8, alt, canvas.ids)


def _plane(canvas: Canvas, plane: PhasorPlane, left: float, top: float, *, told: bool) -> float:
    """Draw one plane; return its height, px."""
    canvas.open(canvas.mark("phasors", heading(plane)), heading(plane))
    canvas.text(left, top + 14, heading(plane), 14, bold=True)
    frame = _framed(plane, left, top + 22)
    canvas.rect(left, frame.top, SIDE, SIDE, f'fill="none" stroke="{_FAINT}"', 3)
    _scale_bar(canvas, frame)
    taken: list[tuple[float, float, float, float]] = []
    _star(canvas, frame, plane.described, f'stroke="{_FAINT}" stroke-width="1.2"')
    _star(canvas, frame, plane.points, f'stroke="{INK}" stroke-width="1.8"')
    _leaning(canvas, frame, plane)
    _open_circles(canvas, frame, plane)
    level = max(d.volts for d in plane.distances)
    for z in plane.described.values():
        x, y = frame.at(z)
        canvas.add(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="#ffffff" stroke="{SOFT}" '
            'stroke-width="1.3"/>'
        )
    for node, z in plane.expected.items():
        if node in plane.described:
            _diamond(canvas, *frame.at(z))
    for names, z in _together(plane, plane.points, level):
        x, y = frame.at(z)
        canvas.add(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="{INK}"/>')
        _name(canvas, frame, taken, x, y, names, bold=True, fill=INK)
    unread = {
        n: z
        for n, z in plane.described.items()
        if n not in plane.points or abs(plane.points[n] - z) > BESIDE * level
    }
    for names, z in _together(plane, unread, level):
        x, y = frame.at(z)
        _name(canvas, frame, taken, x, y, names, bold=False, fill=SOFT)
    y = frame.top + SIDE + 18
    for sentence in tell_plane(plane) if told else ():
        for line in wrap(sentence, SIDE, SIZE, _MOST_LINES):
            canvas.text(left, y, line, SIZE)
            y += 16
    canvas.close()
    return y - top


def _framed(plane: PhasorPlane, left: float, top: float) -> _Frame:
    every = [*plane.described.values(), *plane.points.values(), *plane.expected.values()]
    for z, reach in _rounds(plane):
        every += [z + reach * turn for turn in (1, 1j, -1, -1j)]
    low = complex(min(z.real for z in every), min(z.imag for z in every))
    high = complex(max(z.real for z in every), max(z.imag for z in every))
    reach = max(high.real - low.real, high.imag - low.imag, 1e-6)
    return _Frame((low + high) / 2, (SIDE - 2 * _MARGIN) / reach, left, top)


def _scale_bar(canvas: Canvas, frame: _Frame) -> None:
    most = 110 / frame.scale
    power = 10.0 ** math.floor(math.log10(most))
    length = max(step * power for step in _ROUND if step * power <= most)
    x, y = frame.left + 10, frame.top + SIDE - 10
    end = x + length * frame.scale
    canvas.line([(x, y - 4), (x, y), (end, y), (end, y - 4)], f'stroke="{SOFT}"')
    canvas.text(end + 6, y, volts(length), 11, fill=SOFT)


def _star(canvas: Canvas, frame: _Frame, points: Mapping[str, complex], look: str) -> None:
    """Draw a stroke from the neutral to each line, or round the lines where there is no neutral."""
    lines = [z for node, z in points.items() if node.rpartition(":")[2].startswith("L")]
    neutral = [z for node, z in points.items() if node.endswith(":N")]
    if neutral:
        for z in lines:
            canvas.line([frame.at(neutral[0]), frame.at(z)], look)
    elif len(lines) > 1:
        canvas.line([frame.at(z) for z in (*lines, lines[0])], look)


def _leaning(canvas: Canvas, frame: _Frame, plane: PhasorPlane) -> None:
    if ends := _leans(plane):
        look = f'stroke="{ALARM}" stroke-width="1.8" stroke-dasharray="6 4"'
        canvas.line([frame.at(z) for z in ends], look)


def _leans(plane: PhasorPlane) -> tuple[complex, ...]:
    """Return where neutral and ground lie, if that isn't the same."""
    ends = [plane.points[n] for t in "NG" if (n := f"{plane.place}:{t}") in plane.points]
    level = max(d.volts for d in plane.distances)
    apart = len(ends) == 2 and abs(ends[0] - ends[1]) > BESIDE * level
    return tuple(ends) if apart else ()


def _rounds(plane: PhasorPlane) -> Iterator[tuple[complex, float]]:
    """Yield middle and volts of what was read from a point to a terminal that has no place."""
    for d in plane.distances:
        for node, other in ((d.a, d.b), (d.b, d.a)):
            if node in plane.points and other in plane.loose:
                yield plane.points[node], d.volts


def _open_circles(canvas: Canvas, frame: _Frame, plane: PhasorPlane) -> None:
    for z, reach in _rounds(plane):
        x, y = frame.at(z)
        canvas.add(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{reach * frame.scale:.1f}" '
            f'fill="none" stroke="{ALARM}" stroke-dasharray="5 4"/>'
        )


def _together(
    plane: PhasorPlane, points: Mapping[str, complex], level: float
) -> Iterator[tuple[str, complex]]:
    """Yield points that lie on each other once, with the names of all."""
    left = dict(points)
    while left:
        z = next(iter(left.values()))
        those = [n for n, other in left.items() if abs(other - z) <= BESIDE * level]
        left = {n: other for n, other in left.items() if n not in those}
        yield ", ".join(terminal(n, plane.place) for n in those), z


def _name(
    canvas: Canvas,
    frame: _Frame,
    taken: list[tuple[float, float, float, float]],
    x: float,
    y: float,
    text: str,
    *,
    bold: bool,
    fill: str,
) -> None:
    """Write a name beside a point, where no other name stands and inside the frame."""
    w = width(text, SIZE, bold)
    out = frame.top + SIDE / 2
    sides = (9, -9 - w) if x >= frame.left + SIDE / 2 - 1 else (-9 - w, 9)
    levels = (17, -7) if y > out + 1 else (-7, 17)
    spots = [(dx, dy) for dy in levels for dx in sides] + [(-w / 2, -13), (-w / 2, 24)]
    boxes = [(x + dx, y + dy - 10, x + dx + w, y + dy + 3) for dx, dy in spots]

    def trouble(box: tuple[float, float, float, float]) -> float:
        over = sum(
            box[0] < other[2] and other[0] < box[2] and box[1] < other[3] and other[1] < box[3]
            for other in taken
        )
        inside = frame.left <= box[0] and box[2] <= frame.left + SIDE
        return over + (0 if inside else 1)

    box = min(boxes, key=trouble)
    taken.append(box)
    canvas.text(box[0], box[1] + 10, text, SIZE, bold=bold, fill=fill)


def _diamond(canvas: Canvas, x: float, y: float) -> None:
    corners = [(x, y - 9), (x + 9, y), (x, y + 9), (x - 9, y)]
    canvas.polygon(corners, f'fill="none" stroke="{_LIKELY}" stroke-width="1.6"')


def _legend(canvas: Canvas, planes: Sequence[PhasorPlane], left: float, y: float) -> float:
    """Explain the marks; return where it ends, px."""
    y += 4
    canvas.add(f'<circle cx="{left + 8:.1f}" cy="{y - 4:.1f}" r="4" fill="{INK}"/>')
    canvas.text(left + 22, y, "as read", SIZE)
    canvas.add(
        f'<circle cx="{left + 98:.1f}" cy="{y - 4:.1f}" r="6" fill="#ffffff" stroke="{SOFT}" '
        'stroke-width="1.3"/>'
    )
    canvas.text(left + 112, y, "as described", SIZE)
    if any(plane.expected for plane in planes):
        _diamond(canvas, left + 218, y - 4)
        canvas.text(left + 233, y, "as the likeliest cause has it", SIZE)
    if any(True for plane in planes for _ in _rounds(plane)):
        y += 20
        look = f'stroke="{ALARM}" stroke-dasharray="5 4"'
        canvas.line([(left, y - 4), (left + 16, y - 4)], look)
        canvas.text(left + 22, y, "where a terminal could lie by one reading", SIZE)
    if any(_leans(plane) for plane in planes):
        y += 20
        look = f'stroke="{ALARM}" stroke-width="1.8" stroke-dasharray="6 4"'
        canvas.line([(left, y - 4), (left + 16, y - 4)], look)
        canvas.text(left + 22, y, "between neutral and ground", SIZE)
    return y + 6
