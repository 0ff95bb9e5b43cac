"""Path data of our pictures as broken lines, for drawings that aren't SVG."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from typing import Final

Point = tuple[float, float]
_TOKEN: Final = re.compile(r"[A-Za-z]|-?\d*\.?\d+(?:e-?\d+)?")


def strokes(data: str) -> Iterator[tuple[list[Point], bool]]:
    """Yield the corners of each stroke of path data, and whether it is closed.

    Knows what our pictures use: M, L, l, H, h, V, v, Z, z and A.

    Raises:
        ValueError: another command.
    """
    tokens = _TOKEN.findall(data)
    at, command = 0, "M"
    points: list[Point] = []

    def take(count: int) -> list[float]:
        nonlocal at
        values = [float(one) for one in tokens[at : at + count]]
        at += count
        return values

    while at < len(tokens):
        if tokens[at].isalpha():
            command = tokens[at]
            at += 1
        x, y = points[-1] if points else (0.0, 0.0)
        match command:
            case "M":
                if len(points) > 1:
                    yield points, False
                x, y = take(2)
                points = [(x, y)]
                command = "L"
                continue
            case "Z" | "z":
                yield points, True
                points = points[:1]
                continue
            case "L":
                x, y = take(2)
            case "l":
                dx, dy = take(2)
                x, y = x + dx, y + dy
            case "H":
                (x,) = take(1)
            case "h":
                x += take(1)[0]
            case "V":
                (y,) = take(1)
            case "v":
                y += take(1)[0]
            case "A":
                radius, _, _, large, sweep, ex, ey = take(7)
                points += _arc((x, y), (ex, ey), radius, large > 0, sweep > 0)
                continue
            case _:
                raise ValueError(f"path data has a command {command!r} that isn't ours")
        points.append((x, y))
    if len(points) > 1:
        yield points, False


def _arc(start: Point, end: Point, radius: float, large: bool, sweep: bool) -> list[Point]:
    """Return points of an arc of a circle (SVG 1.1, appendix F.6.5), its start left out."""
    (x0, y0), (x1, y1) = start, end
    half = math.hypot(x1 - x0, y1 - y0) / 2
    if half == 0:
        return []
    radius = max(radius, half)
    high = math.sqrt(max(radius**2 - half**2, 0.0)) * (1 if large != sweep else -1)
    ux, uy = (x1 - x0) / (2 * half), (y1 - y0) / (2 * half)
    cx, cy = (x0 + x1) / 2 - uy * high, (y0 + y1) / 2 + ux * high
    a0, a1 = math.atan2(y0 - cy, x0 - cx), math.atan2(y1 - cy, x1 - cx)
    turn = (a1 - a0) % (2 * math.pi) if sweep else -((a0 - a1) % (2 * math.pi))
    steps = max(4, math.ceil(abs(turn) / (math.pi / 12)))
    return [
        (
            cx + radius * math.cos(a0 + turn * k / steps),
            cy + radius * math.sin(a0 + turn * k / steps),
        )
        for k in range(1, steps + 1)
    ]
