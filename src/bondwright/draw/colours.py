"""Conductor colours by the code in force."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Final

from bondwright.catalog._data import load_yaml

FALLBACK: Final = "iec"


@dataclass(frozen=True, slots=True)
class Colour:
    """One conductor colour.

    Attributes:
        fill: as ``#rrggbb``.
        word: its name for people.
    """

    fill: str
    word: str

    @property
    def luminance(self) -> float:
        """Relative luminance, 0 to 1 (WCAG 2.2)."""
        return luminance(self.fill)


@dataclass(frozen=True, slots=True)
class Palette:
    """The colours of one system.

    Attributes:
        lines: of L1, L2, L3.
        neutral: of the neutral.
        metal: of the bonding metal.
        hatch: of the marks across the bonding metal.
    """

    lines: tuple[Colour, ...]
    neutral: Colour
    metal: Colour
    hatch: str

    def of(self, terminal: str) -> Colour:
        """Return the colour of a terminal: L1, L2, L3, N or G."""
        if terminal == "N":
            return self.neutral
        return self.metal if terminal == "G" else self.lines[int(terminal[1]) - 1]


@cache
def luminance(colour: str) -> float:
    """Return the relative luminance of a colour, 0 to 1, as WCAG 2.2 defines it.

    Args:
        colour: as ``#rrggbb``.
    """
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


@cache
def _data() -> dict[str, Any]:
    text = files("bondwright.draw").joinpath("data", "colours.yaml").read_text(encoding="utf-8")
    found: dict[str, Any] = load_yaml(text)
    return found


def families() -> tuple[str, ...]:
    """Return the names of the families of codes that have colours here."""
    return tuple(_data()["families"])


def family_of(rules: str) -> str:
    """Return the family of a rule set ("nec-2023" -> "nec"); the international one if unknown."""
    known = [name for name in families() if rules == name or rules.startswith(f"{name}-")]
    return max(known, key=len, default=FALLBACK)


@cache
def palette(rules: str, volts: float) -> Palette:
    """Return the colours of a system.

    Args:
        rules: name of the rule set or of its family.
        volts: between lines, V.
    """
    family = family_of(rules)
    rows = _data()["families"][family]
    row = next((row for row in rows if volts <= row["up_to"]), rows[-1])
    metal = _data()["metal"][family]
    return Palette(
        tuple(Colour(*line) for line in row["lines"]),
        Colour(*row["neutral"]),
        Colour(metal["fill"], metal["word"]),
        metal["mark"],
    )
