"""How the conductors lie side by side in a band: lines, neutral, bonding metal."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

TERMINALS: Final = ("L1", "L2", "L3", "N", "G")


@dataclass(frozen=True)
class Band:
    """The slots of a band.

    A band that lies has the lines on top and the metal at the bottom; one that hangs has the
    metal on the left and the lines on the right, so that a bend crosses nothing.

    Attributes:
        lines: how many line slots.
        scale: of all widths.
    """

    lines: int
    scale: float = 1.0

    @property
    def ribbon(self) -> float:
        """Greatest width of one ribbon, px."""
        return 6.0 * self.scale

    @property
    def edge(self) -> float:
        """Between the band and the edge of a deck, px."""
        return 6.0 * self.scale + 2

    @cached_property
    def _centres(self) -> dict[str, float]:
        pitch, gap = self.ribbon + 1.2 * self.scale, 4.5 * self.scale
        half = self.ribbon / 2
        centres = {f"L{k + 1}": half + k * pitch for k in range(self.lines)}
        end = self.lines * pitch - 1.2 * self.scale
        centres["N"] = end + gap + half
        centres["G"] = end + 2 * gap + 3 * half
        return centres

    @cached_property
    def size(self) -> float:
        """Width of the whole band, px."""
        return self._centres["G"] + self.ribbon / 2

    @property
    def deck(self) -> float:
        """Height of a deck that carries the band, px."""
        return self.size + 2 * self.edge

    def lies(self, terminal: str, top: float) -> float:
        """Return the y of a conductor in a band that lies, px."""
        return top + self._centres[terminal]

    def hangs(self, terminal: str, left: float) -> float:
        """Return the x of a conductor in a band that hangs, px."""
        return left + self.size - self._centres[terminal]
