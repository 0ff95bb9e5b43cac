"""Nominal voltage systems as the trade writes them: "120/240 V", "208Y/120 V", "480 V delta".

A delta with two voltages is one with a mid-tap (high leg): "120/240 V delta".
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright.units import UnitError


class Winding(StrEnum):
    """How the windings or the source make the system."""

    SINGLE_THREE_WIRE = "single-phase, three-wire"
    SINGLE_TWO_WIRE = "single-phase, two-wire"
    WYE = "three-phase wye"
    DELTA = "three-phase delta"
    HIGH_LEG = "three-phase delta with a mid-tap"


_FORM: Final = re.compile(
    r"^\s*(?P<a>\d+(?:\.\d+)?)\s*(?P<y>[YyΥ]?)\s*(?:/\s*(?P<b>\d+(?:\.\d+)?))?\s*V"
    r"(?:olts?)?\s*,?\s*(?P<word>[A-Za-z]*)\s*$"
)
_HINT: Final = (
    "write it like '120/240 V' (single-phase three-wire), '208Y/120 V' (wye), "
    "'480 V delta', '120/240 V delta' (high leg) or '120 V'"
)


@dataclass(frozen=True, slots=True)
class VoltageSystem:
    """A nominal system.

    Attributes:
        winding: how it is made.
        line_to_line: nominal voltage between lines, V (equals ``line_to_neutral`` on two wires).
        line_to_neutral: nominal voltage to the neutral, V; None where there is no neutral.
    """

    winding: Winding
    line_to_line: float
    line_to_neutral: float | None

    @classmethod
    def parse(cls, text: str) -> VoltageSystem:
        """Read a system as it stands on a nameplate.

        Raises:
            UnitError: the text is no system that is understood.
        """
        match = _FORM.match(text) if len(text) <= 60 else None
        if match is None:
            raise UnitError(text, "is not a voltage system", _HINT)
        a = float(match["a"])
        b = float(match["b"]) if match["b"] else None
        word = match["word"].lower()
        if word not in {"", "delta", "wye", "star"} or a <= 0 or (b is not None and b <= 0):
            raise UnitError(text, "is not a voltage system", _HINT)
        if b is None:
            return cls._from_one(text, a, word, wye=bool(match["y"]))
        high, low = max(a, b), min(a, b)
        if word == "delta":
            if abs(high / low - 2) < 0.01 and not match["y"]:
                return cls(Winding.HIGH_LEG, high, low)
            hint = "write '480 V delta', or '120/240 V delta' for one with a mid-tap"
            raise UnitError(text, "gives two voltages that no delta has", hint)
        if abs(high / low - math.sqrt(3)) < 0.02:
            return cls(Winding.WYE, high, low)
        if abs(high / low - 2) < 0.01 and not match["y"] and not word:
            return cls(Winding.SINGLE_THREE_WIRE, high, low)
        raise UnitError(
            text, "has two voltages that belong to no common system (ratio 2 or 1.73)", _HINT
        )

    @classmethod
    def _from_one(cls, text: str, volts: float, word: str, *, wye: bool) -> VoltageSystem:
        if word == "delta":
            return cls(Winding.DELTA, volts, None)
        if wye or word in {"wye", "star"}:
            raise UnitError(text, "gives a wye only one voltage", "write both, like '480Y/277 V'")
        return cls(Winding.SINGLE_TWO_WIRE, volts, volts)

    @property
    def lines(self) -> tuple[str, ...]:
        """Names of the line terminals."""
        return {
            Winding.SINGLE_THREE_WIRE: ("L1", "L2"),
            Winding.SINGLE_TWO_WIRE: ("L1",),
            Winding.WYE: ("L1", "L2", "L3"),
            Winding.DELTA: ("L1", "L2", "L3"),
            Winding.HIGH_LEG: ("L1", "L2", "L3"),
        }[self.winding]

    @property
    def three_phase(self) -> bool:
        """Whether it has three lines."""
        return len(self.lines) == 3

    @property
    def has_neutral(self) -> bool:
        """Whether the system has a neutral terminal."""
        return self.winding is not Winding.DELTA

    def phase_voltages(self) -> tuple[complex, ...]:
        """Return the nominal voltage of each line to the neutral point, V.

        The neutral of a delta is the centre of its triangle; that of a high-leg delta is the
        middle between L1 and L3, so that L2 is the high leg. Single-phase three-wire lines are
        180 degrees apart, three-phase lines 120 degrees with L1, L2, L3 in that order.
        """
        if self.winding is Winding.SINGLE_TWO_WIRE:
            return (complex(self.line_to_line),)
        if self.winding is Winding.SINGLE_THREE_WIRE:
            half = self.line_to_line / 2
            return (complex(half), complex(-half))
        if self.winding is Winding.HIGH_LEG:
            half = self.line_to_line / 2
            return (complex(half), complex(0, -half * math.sqrt(3)), complex(-half))
        phase = self.line_to_line / math.sqrt(3)
        turn = complex(-0.5, -math.sqrt(3) / 2)
        return (complex(phase), phase * turn, phase * turn.conjugate())

    def __str__(self) -> str:
        match self.winding:
            case Winding.SINGLE_TWO_WIRE:
                return f"{self.line_to_line:.10g} V"
            case Winding.SINGLE_THREE_WIRE:
                return f"{self.line_to_neutral:.10g}/{self.line_to_line:.10g} V"
            case Winding.WYE:
                return f"{self.line_to_line:.10g}Y/{self.line_to_neutral:.10g} V"
            case Winding.DELTA:
                return f"{self.line_to_line:.10g} V delta"
            case Winding.HIGH_LEG:
                return f"{self.line_to_neutral:.10g}/{self.line_to_line:.10g} V delta"
