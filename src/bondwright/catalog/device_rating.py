"""Overcurrent devices as the trade writes them: "60 A", "100 A fuse", "C32", "40 A/2p breaker".

Only the name of a device lives here; what it does with a current is in
:mod:`bondwright.devices`.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright import units
from bondwright.units import Dimension, UnitError


class DeviceKind(StrEnum):
    """What sort of overcurrent device it is."""

    BREAKER = "breaker"
    """Thermal-magnetic moulded-case circuit breaker (UL 489)."""
    MCB = "mcb"
    """Miniature circuit breaker with a B, C or D curve (IEC 60898-1)."""
    FUSE = "fuse"
    """General-purpose fuse; the gG gates of IEC 60269-1 stand for it."""


SMALLEST_A: Final = 0.1
"""Below this a device rating is taken for a slip of the pen, A."""
LARGEST_A: Final = 10_000.0
"""Above this a low-voltage device rating is taken for a slip of the pen, A."""
LARGEST_MCB_A: Final = 125.0
"""Largest rated current in the scope of IEC 60898-1, A."""
MAX_POLES: Final = 4

_HINT: Final = "write it like '60 A breaker', '100 A fuse' or 'C32'"
_CURVED: Final = re.compile(
    r"^(?P<curve>[A-Za-z])\s*(?P<amps>\d+(?:\.\d+)?)(?:\s*(?:A|a|amp|amps))?(?P<rest>(?![\w.]).*)$"
)
_PLAIN: Final = re.compile(
    r"^(?P<number>[+-]?\s*(?:\d[\d,]*(?:\.\d*)?|\.\d+))\s*(?P<unit>[^\s\d/,]*)(?P<rest>.*)$"
)
_POLES: Final = re.compile(r"(?:^|[\s/,])\s*(?P<poles>\d+)[\s-]*(?:p|poles?)(?=$|[\s,])", re.I)
_WORDS: Final = {
    "breaker": DeviceKind.BREAKER,
    "circuit breaker": DeviceKind.BREAKER,
    "mcb": DeviceKind.MCB,
    "fuse": DeviceKind.FUSE,
    "gg fuse": DeviceKind.FUSE,
}
_MCB_CURVES: Final = ("B", "C", "D")


@dataclass(frozen=True, slots=True)
class DeviceRating:
    """An overcurrent device by kind and rated current.

    Attributes:
        kind: what sort of device.
        rating_a: rated current, A.
        curve: "B", "C" or "D" for an :attr:`DeviceKind.MCB`; "gG" for a fuse written as such;
            otherwise None.
        poles: number of poles, or None where it was not said.

    Raises:
        ValueError: the parts do not make a device.
    """

    kind: DeviceKind
    rating_a: float
    curve: str | None = None
    poles: int | None = None

    def __post_init__(self) -> None:
        problem = _problem(self.kind, self.rating_a, self.curve, self.poles)
        if problem:
            raise ValueError(f"a {self.kind.value} of {self.rating_a!r} A {problem}")

    @classmethod
    def parse(cls, text: str) -> DeviceRating:
        """Read a device as a person writes it.

        A bare current is a breaker: "60 A" means "60 A breaker". A curve letter makes it a
        miniature circuit breaker: "B16", "C32 breaker". Poles may follow the rating:
        "40 A/2p breaker", "40 A 2-pole breaker", "C32/1p".

        Args:
            text: the device, at most :data:`bondwright.units.MAX_TEXT` characters.

        Returns:
            The rating; ``str()`` of it reads back as the same rating.

        Raises:
            UnitError: the text is no device that is understood.
        """
        if len(text) > units.MAX_TEXT:
            raise UnitError(text, "is too long for an overcurrent device", _HINT)
        line = " ".join(text.split())
        if match := _CURVED.match(line):
            return cls._curved(text, match["curve"], float(match["amps"]), match["rest"])
        match = _PLAIN.match(line)
        if match is None:
            raise UnitError(text, "is not an overcurrent device", _HINT)
        amps = _amps(text, match["number"], match["unit"], match["rest"])
        words, poles = _take_poles(match["rest"])
        kind = _kind(text, words)
        if kind is DeviceKind.MCB:
            raise UnitError(
                text, "does not say which curve", f"write 'B{amps:g}', 'C{amps:g}' or 'D{amps:g}'"
            )
        return cls._checked(text, kind, amps, "gG" if "gg" in words.lower() else None, poles)

    @classmethod
    def _curved(cls, text: str, letter: str, amps: float, rest: str) -> DeviceRating:
        curve = letter.upper()
        if curve not in _MCB_CURVES:
            raise UnitError(
                text,
                f"has the curve {letter!r}, which is not known here",
                f"write 'B{amps:g}', 'C{amps:g}' or 'D{amps:g}'",
            )
        words, poles = _take_poles(rest)
        if _kind(text, words) is DeviceKind.FUSE:
            raise UnitError(
                text,
                "gives a fuse the curve of a breaker",
                f"write '{amps:g} A fuse' or '{curve}{amps:g}'",
            )
        return cls._checked(text, DeviceKind.MCB, amps, curve, poles)

    @classmethod
    def _checked(
        cls, text: str, kind: DeviceKind, amps: float, curve: str | None, poles: int | None
    ) -> DeviceRating:
        problem = _problem(kind, amps, curve, poles)
        if problem:
            raise UnitError(text, problem, _HINT)
        return cls(kind, amps, curve, poles)

    def __str__(self) -> str:
        poles = f"/{self.poles}p" if self.poles else ""
        if self.kind is DeviceKind.MCB:
            return f"{self.curve}{_plain(self.rating_a)}{poles}"
        word = f"{self.curve} {self.kind.value}" if self.curve else self.kind.value
        return f"{_plain(self.rating_a)} A{poles} {word}"


def _problem(kind: DeviceKind, amps: float, curve: str | None, poles: int | None) -> str | None:
    if not math.isfinite(amps) or amps <= 0:
        return "has a rating that is not above zero"
    if amps < SMALLEST_A:
        return f"is smaller than any device of a building ({SMALLEST_A:g} A)"
    if amps > LARGEST_A:
        return f"is larger than any low-voltage device ({LARGEST_A:g} A)"
    if kind is DeviceKind.MCB and curve not in _MCB_CURVES:
        return "needs the curve B, C or D"
    if kind is DeviceKind.MCB and amps > LARGEST_MCB_A:
        return f"is larger than miniature circuit breakers are made ({LARGEST_MCB_A:g} A)"
    if kind is DeviceKind.BREAKER and curve is not None:
        return "takes no curve letter"
    if kind is DeviceKind.FUSE and curve not in (None, "gG"):
        return "has a curve other than gG"
    if poles is not None and not 1 <= poles <= MAX_POLES:
        return f"has {poles} poles (1 to {MAX_POLES} are made)"
    return None


def _amps(text: str, number: str, unit: str, rest: str) -> float:
    if not unit or unit.lower() in _WORDS:
        written = f"{number.strip()} A {(unit + rest).strip()}".strip()
        raise UnitError(text, "has no unit", f"write {written!r}")
    try:
        return units.parse(f"{number} {unit}", Dimension.CURRENT)
    except UnitError as error:
        raise UnitError(text, error.problem, _HINT) from error


def _take_poles(rest: str) -> tuple[str, int | None]:
    match = _POLES.search(rest)
    if match is None:
        return rest, None
    return rest[: match.start()] + " " + rest[match.end() :], int(match["poles"])


def _kind(text: str, words: str) -> DeviceKind:
    name = " ".join(words.replace("-", " ").strip(" ,").lower().split())
    if not name:
        return DeviceKind.BREAKER
    if name in _WORDS:
        return _WORDS[name]
    near = difflib.get_close_matches(name, list(_WORDS), n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}?" if near else _HINT
    raise UnitError(text, f"has the word {name!r}, which is no device known here", hint)


def _plain(value: float) -> str:
    """Write a rating so that it reads back as exactly the same number."""
    text = f"{value:g}"
    return text if float(text) == value and "e" not in text else repr(value)
