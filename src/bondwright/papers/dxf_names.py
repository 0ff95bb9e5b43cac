"""Names on a plan in true size: beside what they name, none on another."""

from __future__ import annotations

import math
from typing import Final

_LETTER_WIDE: Final = 0.95
"""Width over height of a letter in the plainest lettering of drawing programs, generously."""
_STEPS: Final = 12
_CLOSE: Final = 4
"""Steps up or down that a name may go for the sake of a line."""
_MOST_PIECES: Final = 400
"""Of one line, looked at by themselves."""

Point = tuple[float, float]


class Names:
    """Finds a place for each name beside what it names, on no mark and no other name.

    Args:
        high: height of letters.
    """

    def __init__(self, high: float) -> None:
        self._high = high
        self._taken: list[tuple[float, float, float, float]] = []
        self._lines: list[tuple[float, float, float, float]] = []

    def keep_free(self, spot: Point) -> None:
        """Let no name lie on a mark."""
        x, y, half = spot[0], spot[1], 0.6 * self._high
        self._taken.append((x - half, y - half, x + half, y + half))

    def keep_clear(self, start: Point, end: Point) -> None:
        """Let no name lie across a line, where there is room close by."""
        pieces = min(_MOST_PIECES, math.ceil(math.dist(start, end) / (0.6 * self._high)) or 1)
        half = 0.3 * self._high
        for k in range(pieces + 1):
            x, y = (a + (b - a) * k / pieces for a, b in zip(start, end, strict=True))
            self._lines.append((x - half, y - half, x + half, y + half))

    def beside(self, spot: Point, name: str) -> Point:
        """Return where a name begins: to the right if it can, else left, higher and lower."""
        high, wide = self._high, len(name) * self._high * _LETTER_WIDE
        best = free = clear = None
        for step in range(_STEPS):
            for up in (step, -step - 1) if step else (-0.5, 0, -1):
                for start in (spot[0] + high, spot[0] - high - wide):
                    base = spot[1] + (1.6 * up) * high
                    box = (start, base - 0.3 * high, start + wide, base + 1.2 * high)
                    best = best or (start, base, box)
                    if any(_meet(box, other) for other in self._taken):
                        continue
                    free = free or (start, base, box)
                    if step < _CLOSE and not any(_meet(box, line) for line in self._lines):
                        clear = clear or (start, base, box)
            if clear or (free and step >= _CLOSE):
                break
        start, base, box = clear or free or best or (spot[0], spot[1], (0.0, 0.0, 0.0, 0.0))
        self._taken.append(box)
        return start, base


def _meet(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
