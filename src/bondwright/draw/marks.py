"""Plain geometric marks: stations, devices, clasps, the flash, arrows, things in the earth."""

from __future__ import annotations

import math
from typing import Final

from bondwright.draw.svg import ALARM, INK, Canvas
from bondwright.site.model import ElectrodeKind

CLASP: Final = "#f2a413"
"""Fill of a tie's clasp."""
GLOW: Final = "#ffd23f"
"""Fill of a lit path."""
PATH: Final = "#b0101f"
"""Colour of arrows and flash."""
EARTH: Final = "#7a5c3a"
"""Colour of things in the earth."""

_STROKE: Final = f'fill="none" stroke="{INK}" stroke-width="1.6"'


def station_mark(canvas: Canvas, kind: str, x: float, y: float) -> None:
    """Draw the little shape of a kind of place in a field of 14 px with its corner at x, y."""

    def path(data: str, attributes: str = _STROKE) -> None:
        canvas.add(f'<path transform="translate({x:.1f} {y:.1f})" d="{data}" {attributes}/>')

    filled = f'fill="{INK}"'
    match kind:
        case "source":
            path("M1 13L4 1L7 13L10 1L13 13", f'{_STROKE} stroke-linejoin="round"')
        case "generator":
            path("M7 1A6 6 0 1 1 6.9 1Z")
            path("M7 3.5L10 10H4Z", filled)
        case "inverter":
            path("M1 1H13V13H1ZM1 13L13 1")
        case "transfer":
            path("M1 3H5M1 11H5M9 7H13M5 3L9 7", f'{_STROKE} stroke-linecap="round"')
        case "transformer":
            path("M1 1H6V13H1ZM13 4H8V10H13Z", filled)
        case "meter":
            path("M7 1A6 6 0 1 1 6.9 1ZM7 7L10.5 4")
        case "service":
            path("M1 1H13V13H1Z")
            path("M4 4H10V10H4Z", filled)
        case "panel":
            path("M1.5 1H12.5V13H1.5ZM4 4.5H10M4 7H10M4 9.5H10")
        case "disconnect":
            path("M1 1H13V13H1ZM4 10L10 4")
        case "equipment":
            path("M4 1H10L13 7L10 13H4L1 7Z")
        case "outlet":
            path("M4 1H10A3 3 0 0 1 13 4V10A3 3 0 0 1 10 13H4A3 3 0 0 1 1 10V4A3 3 0 0 1 4 1Z")
            path("M4 5H6V9H4ZM8 5H10V9H8Z", filled)
        case _:
            path("M2 2H12V12H2Z")


def box_outline(kind: str, x: float, y: float, w: float, h: float) -> list[tuple[float, float]]:
    """Return the outline of a station: corners cut on the left, of a transformer all."""
    if kind != "transformer":
        c = 9.0
        return [(x + c, y), (x + w, y), (x + w, y + h), (x + c, y + h), (x, y + h - c), (x, y + c)]
    c = 9.0
    return [
        (x + c, y),
        (x + w - c, y),
        (x + w, y + c),
        (x + w, y + h - c),
        (x + w - c, y + h),
        (x + c, y + h),
        (x, y + h - c),
        (x, y + c),
    ]


def device(canvas: Canvas, x: float, y: float, w: float, h: float, attributes: str) -> None:
    """Draw a device across the line ribbons: a white plate with a stroke through it."""
    canvas.add(f'<g class="device"{attributes}>')
    canvas.rect(x, y, w, h, f'fill="#ffffff" stroke="{INK}" stroke-width="1.4"', 2)
    canvas.line([(x + 2, y + h - 2), (x + w - 2, y + 2)], f'stroke="{INK}" stroke-width="1.4"')
    canvas.close()


def clasp(
    canvas: Canvas, x: float, neutral: float, metal: float, state: str, attributes: str = ""
) -> None:
    """Draw a clasp across neutral and metal at ``x``.

    Args:
        canvas: to draw on.
        x: middle of the clasp, px.
        neutral: y of the neutral, px.
        metal: y of the metal, px.
        state: "stands", "wrong" (with a warning sign) or "missing" (open and dashed).
        attributes: id and the like.
    """
    half, over = 6.5, 6.5
    canvas.add(f'<g class="clasp {state}"{attributes}>')
    top, height = neutral - over, metal - neutral + 2 * over
    if state == "missing":
        canvas.rect(
            x - half,
            top,
            2 * half,
            height,
            f'fill="#ffffff" fill-opacity="0.85" stroke="{ALARM}" stroke-width="2" '
            'stroke-dasharray="3.5 2.5"',
            half,
        )
    else:
        canvas.rect(
            x - half, top, 2 * half, height, f'fill="{CLASP}" stroke="{INK}" stroke-width="2"', half
        )
        for y in (neutral, metal):
            canvas.add(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="2.4" fill="{INK}"/>')
    if state == "wrong":
        warning(canvas, x + half + 9, neutral - 1)
    canvas.close()


def slot(canvas: Canvas, x: float, neutral: float, metal: float, look: str, about: str) -> None:
    """Draw a clasp that can change its look: every part of every state, shown by style rules.

    Args:
        canvas: to draw on.
        x: middle of the clasp, px.
        neutral: y of the neutral, px.
        metal: y of the metal, px.
        look: "stands", "wrong", "missing", "free" or "off".
        about: id and the like.
    """
    half, over = 6.5, 6.5
    canvas.add(f'<g class="clasp" data-look="{look}"{about}>')
    top, height = neutral - over, metal - neutral + 2 * over
    hold = f'class="hold" fill="{CLASP}" stroke="{INK}" stroke-width="2"'
    canvas.rect(x - half, top, 2 * half, height, hold, half)
    for y in (neutral, metal):
        canvas.add(f'<circle class="pin" cx="{x:.1f}" cy="{y:.1f}" r="2.4" fill="{INK}"/>')
    canvas.add('<g class="warn">')
    warning(canvas, x + half + 9, neutral - 1)
    canvas.close()
    canvas.close()


def warning(canvas: Canvas, x: float, y: float) -> None:
    """Draw a triangle with a stroke and a dot in it, its middle at x, y."""
    canvas.polygon(
        [(x, y - 9), (x + 9, y + 7), (x - 9, y + 7)],
        f'fill="#ffffff" stroke="{ALARM}" stroke-width="2" stroke-linejoin="round"',
    )
    canvas.line([(x, y - 4), (x, y + 2)], f'stroke="{ALARM}" stroke-width="2"')
    canvas.add(f'<circle cx="{x:.1f}" cy="{y + 4.6:.1f}" r="1.2" fill="{ALARM}"/>')


def flash(canvas: Canvas, x: float, y: float, size: float, attributes: str = "") -> None:
    """Draw the burst of a fault with its middle at x, y."""
    points = []
    for k in range(16):
        reach = size * (1.0 if k % 2 == 0 else 0.5)
        turn = math.pi * k / 8 + 0.2
        points.append((x + reach * math.sin(turn), y - reach * math.cos(turn)))
    canvas.add(f'<g class="flash"{attributes}>')
    canvas.polygon(points, f'fill="{PATH}" stroke="#ffffff" stroke-width="1.6"')
    canvas.add(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size * 0.22:.1f}" fill="#ffffff"/>')
    canvas.close()


def arrow(canvas: Canvas, x: float, y: float, toward: str, size: float = 6.0) -> None:
    """Draw an arrow head at x, y pointing "up", "down", "left" or "right"."""
    s, half = size, size * 0.8
    shapes = {
        "down": [(x - half, y - s), (x + half, y - s), (x, y + s)],
        "up": [(x - half, y + s), (x + half, y + s), (x, y - s)],
        "right": [(x - s, y - half), (x - s, y + half), (x + s, y)],
        "left": [(x + s, y - half), (x + s, y + half), (x - s, y)],
    }
    canvas.polygon(
        shapes[toward], f'class="arrow" fill="{PATH}" stroke="#ffffff" stroke-width="1.4"'
    )


def in_earth(canvas: Canvas, kind: ElectrodeKind | None, x: float, y: float) -> None:
    """Draw what an electrode is, hanging at x with its top at y, 24 px tall."""
    fill = f'fill="{EARTH}"'
    match kind:
        case ElectrodeKind.PLATE:
            canvas.rect(x - 9, y + 8, 18, 12, fill)
        case ElectrodeKind.RING:
            canvas.rect(x - 9, y + 8, 18, 12, f'fill="none" stroke="{EARTH}" stroke-width="3"', 5)
        case ElectrodeKind.CONCRETE:
            outline = f'fill="#ffffff" stroke="{EARTH}" stroke-width="2"'
            canvas.rect(x - 10, y + 7, 20, 14, outline)
            canvas.line([(x - 7, y + 14), (x + 7, y + 14)], f'stroke="{EARTH}" stroke-width="3"')
        case ElectrodeKind.WATER_PIPE:
            canvas.rect(x - 11, y + 10, 22, 8, fill, 4)
        case ElectrodeKind.STEEL:
            canvas.rect(x - 8, y + 5, 16, 4, fill)
            canvas.rect(x - 2, y + 5, 4, 16, fill)
            canvas.rect(x - 8, y + 18, 16, 4, fill)
        case ElectrodeKind.GRID:
            for k in (-8, 0, 8):
                canvas.line([(x + k, y + 7), (x + k, y + 21)], f'stroke="{EARTH}" stroke-width="2"')
            for k in (7, 14, 21):
                canvas.line([(x - 9, y + k), (x + 9, y + k)], f'stroke="{EARTH}" stroke-width="2"')
        case ElectrodeKind.STRIP:
            canvas.rect(x - 12, y + 12, 24, 4, fill)
        case ElectrodeKind.WELL:
            canvas.rect(x - 5, y + 5, 10, 19, f'fill="#ffffff" stroke="{EARTH}" stroke-width="2"')
        case ElectrodeKind.PILE_CAP:
            canvas.rect(x - 10, y + 6, 20, 6, fill)
            for k in (-7, 4):
                canvas.rect(x + k, y + 12, 3, 12, fill)
        case _:
            canvas.polygon(
                [(x - 3.2, y), (x + 3.2, y), (x + 3.2, y + 18), (x, y + 24), (x - 3.2, y + 18)],
                fill,
            )
            if kind is None:
                canvas.rect(x - 8, y, 16, 4, fill)
    canvas.line([(x, y), (x, y + 9)], f'stroke="{EARTH}" stroke-width="2"')


def tag(canvas: Canvas, x: float, y: float, text: str, w: float) -> None:
    """Draw a small plate with a short name on it, its left top corner at x, y."""
    canvas.rect(x, y, w, 14, f'fill="#f3ece1" stroke="{EARTH}" stroke-width="1"', 4)
    canvas.text(x + w / 2, y + 10.8, text, 10, bold=True, anchor="middle")
