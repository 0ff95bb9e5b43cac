"""Overcurrent devices as the trade writes them: "60 A", "100 A class RK5 fuse", "C32, RCD 30 mA".

Only the name of a device lives here; what it does with a current is in
:mod:`bondwright.devices`.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from typing import Any, Final

from bondwright import units
from bondwright.catalog.device_checks import (
    FUSE_CLASSES,
    LARGEST_A,
    LARGEST_MCB_A,
    MAX_POLES,
    MCB_CURVES,
    SMALLEST_A,
    DeviceKind,
    problem_of,
)
from bondwright.catalog.device_settings import (
    EXAMPLES,
    GFCI,
    number,
    read_setting,
    residual_words,
    split,
    write_settings,
)
from bondwright.units import Dimension, UnitError

__all__ = [
    "EXAMPLES",
    "FUSE_CLASSES",
    "LARGEST_A",
    "LARGEST_MCB_A",
    "MAX_DEVICE_TEXT",
    "MAX_POLES",
    "SMALLEST_A",
    "DeviceKind",
    "DeviceRating",
]

MAX_DEVICE_TEXT: Final = 400
"""Longest text taken as a device; anything longer is refused unread."""

_HINT: Final = "write it like '60 A breaker', '100 A fuse' or 'C32'"
_ELECTRONIC_HINT: Final = "call it an 'electronic breaker' if its trip unit is electronic"
_CURVED: Final = re.compile(
    r"^(?P<curve>[A-Za-z])\s*(?P<amps>\d+(?:\.\d+)?)(?:\s*(?:A|a|amp|amps))?(?P<rest>(?![\w.]).*)$"
)
_PLAIN: Final = re.compile(
    r"^(?P<number>[+-]?\s*(?:\d[\d,]*(?:\.\d*)?|\.\d+))\s*(?P<unit>[^\s\d/,]*)(?P<rest>.*)$"
)
_POLES: Final = re.compile(r"(?:^|[\s/,])\s*(?P<poles>\d+)[\s-]*(?:p|poles?)(?=$|[\s,])", re.I)
_RESIDUAL: Final = re.compile(r"(?<!\w)(?P<word>rcd|rccb|rcbo)(?!\w)(?P<rest>.*)$", re.I)
_WORDS: Final = {
    "breaker": DeviceKind.BREAKER,
    "circuit breaker": DeviceKind.BREAKER,
    "electronic breaker": DeviceKind.ELECTRONIC,
    "mcb": DeviceKind.MCB,
    "fuse": DeviceKind.FUSE,
}
_FLAGS: Final = ("gfci", "afci", "time delay")
_CLASSES: Final = {name.lower().replace("-", " "): name for name in FUSE_CLASSES}
_BARE: Final = "|".join(sorted(_CLASSES, key=len, reverse=True))
_CLASS: Final = re.compile(rf"(?<!\w)(?:class (?P<only>\w+)|(?P<bare>{_BARE}))(?!\w)")


@dataclass(frozen=True, slots=True)
class DeviceRating:
    """An overcurrent device by kind and rated current, with its settings.

    Attributes:
        kind: what sort of device.
        rating_a: rated current, A.
        curve: "B", "C" or "D" for an :attr:`DeviceKind.MCB`; "gG" for a fuse written as such;
            otherwise None.
        poles: number of poles, or None where it was not said.
        instantaneous_a: setting of the instantaneous trip, A.
        long_pickup: long-time pickup of an electronic breaker, fraction of the rating.
        long_delay_s: its delay at 6 times the pickup, s.
        short_pickup_a: short-time pickup of an electronic breaker, A.
        short_delay_s: its delay, s.
        ground_pickup_a: pickup of the ground-fault element, A.
        ground_delay_s: its delay, s.
        residual_a: residual current that trips a GFCI or RCD for sure, A.
        residual_type: "GFCI", or the waveform types "AC", "A", "F", "B" with or without " S"
            (delayed), or "S" alone.
        interrupting_a: interrupting rating, symmetrical r.m.s., A.
        fuse_class: class or standard of a fuse (:data:`FUSE_CLASSES`).
        curve_name: name of a person's own curve, which goes before the standard's band.
        arc_fault: whether it also detects arcs.
        time_delay: whether a fuse is marked time-delay.
        energy_class: energy limiting class of an MCB, 1 to 3.

    Raises:
        ValueError: the parts do not make a device.
    """

    kind: DeviceKind
    rating_a: float
    curve: str | None = None
    poles: int | None = None
    instantaneous_a: float | None = None
    long_pickup: float | None = None
    long_delay_s: float | None = None
    short_pickup_a: float | None = None
    short_delay_s: float | None = None
    ground_pickup_a: float | None = None
    ground_delay_s: float | None = None
    residual_a: float | None = None
    residual_type: str | None = None
    interrupting_a: float | None = None
    fuse_class: str | None = None
    curve_name: str | None = None
    arc_fault: bool = False
    time_delay: bool = False
    energy_class: int | None = None

    def __post_init__(self) -> None:
        problem = problem_of(self)
        if problem:
            raise _ImpossibleDeviceError(self.kind, self.rating_a, problem)

    @property
    def is_selective(self) -> bool:
        """Whether its residual element has the delay of type S."""
        return "S" in (self.residual_type or "").split()

    @classmethod
    def parse(cls, text: str) -> DeviceRating:
        """Read a device as a person writes it.

        A bare current is a breaker: "60 A" means "60 A breaker". A curve letter makes it a
        miniature circuit breaker: "B16", "C32 breaker". Poles may follow the rating:
        "40 A/2p breaker", "40 A 2-pole breaker", "C32/1p". Settings follow after commas; see
        :data:`EXAMPLES`.

        Args:
            text: the device, at most :data:`MAX_DEVICE_TEXT` characters.

        Returns:
            The rating; ``str()`` of it reads back as the same rating.

        Raises:
            UnitError: the text is no device that is understood.
        """
        if len(text) > MAX_DEVICE_TEXT:
            raise UnitError(text, "is too long for an overcurrent device", _HINT)
        head, *parts = split(" ".join(text.split()))
        fields = _head(text, head)
        for part in parts:
            _add(text, part, fields, read_setting(text, part, fields["rating_a"]))
        try:
            return cls(**fields)
        except _ImpossibleDeviceError as error:
            hint = _ELECTRONIC_HINT if "electronic breaker" in error.problem else _HINT
            raise UnitError(text, error.problem, hint) from error

    def __str__(self) -> str:
        poles = f"/{self.poles}p" if self.poles else ""
        amps = number(self.rating_a)
        marks = [
            word
            for word, there in (
                ("AFCI", self.arc_fault),
                ("GFCI", self.residual_type == GFCI),
            )
            if there
        ]
        rcd = self.residual_a is not None and self.residual_type != GFCI
        parts = write_settings(self)
        match self.kind:
            case DeviceKind.MCB:
                head = " ".join([f"{self.curve}{amps}{poles}", *marks])
            case DeviceKind.RCD:
                return ", ".join([f"{amps} A{poles} {residual_words(self)}", *parts])
            case DeviceKind.FUSE:
                if self.fuse_class:
                    bs = self.fuse_class.startswith("BS")
                    marks.append(self.fuse_class if bs else f"class {self.fuse_class}")
                if self.time_delay:
                    marks.append("time-delay")
                kind = "gG fuse" if self.curve else "fuse"
                head = " ".join([f"{amps} A{poles}", *marks, kind])
            case _:
                head = " ".join([f"{amps} A{poles}", *marks, self.kind.value])
        if rcd:
            parts.insert(0, residual_words(self))
        return ", ".join([head, *parts])


class _ImpossibleDeviceError(ValueError):
    """Parts that make no device; ``problem`` is what is wrong, as a clause."""

    def __init__(self, kind: DeviceKind, amps: float, problem: str) -> None:
        self.problem = problem
        super().__init__(f"a {kind.value} of {amps!r} A {problem}")


def _head(text: str, head: str) -> dict[str, Any]:
    """Read what stands before the first comma."""
    if match := _CURVED.match(head):
        return _curved(text, match["curve"], float(match["amps"]), match["rest"])
    match = _PLAIN.match(head)
    if match is None:
        if _RESIDUAL.match(head):
            hint = f"write the current its contacts carry first: '63 A {head}'"
            raise UnitError(text, "does not say its rated current", hint)
        raise UnitError(text, "is not an overcurrent device", _HINT)
    amps = _amps(text, match["number"], match["unit"], match["rest"])
    fields, name, rcd = _words(text, match["rest"], amps)
    if rcd == "rcbo":
        raise UnitError(
            text,
            "does not say which curve",
            f"write 'B{amps:g}, RCD 30 mA', 'C{amps:g}, RCD 30 mA' or 'D{amps:g}, RCD 30 mA'",
        )
    kind = DeviceKind.RCD if rcd and not name else _kind(text, name)
    if kind is DeviceKind.MCB:
        raise UnitError(
            text, "does not say which curve", f"write 'B{amps:g}', 'C{amps:g}' or 'D{amps:g}'"
        )
    return {"kind": kind, "rating_a": amps, **fields}


def _curved(text: str, letter: str, amps: float, rest: str) -> dict[str, Any]:
    curve = letter.upper()
    if curve not in MCB_CURVES:
        raise UnitError(
            text,
            f"has the curve {letter!r}, which is not known here",
            f"write 'B{amps:g}', 'C{amps:g}' or 'D{amps:g}'",
        )
    fields, name, _ = _words(text, rest, amps)
    if _kind(text, name) in (DeviceKind.FUSE, DeviceKind.ELECTRONIC):
        raise UnitError(
            text,
            "gives a fuse the curve of a breaker"
            if _kind(text, name) is DeviceKind.FUSE
            else "gives an electronic breaker the curve of a miniature one",
            f"write '{amps:g} A {name}' or '{curve}{amps:g}'",
        )
    return {"kind": DeviceKind.MCB, "rating_a": amps, "curve": curve, **fields}


def _words(text: str, rest: str, amps: float) -> tuple[dict[str, Any], str, str | None]:
    """Take poles, marks and class out of the words; return (fields, what is left, RCD word)."""
    fields: dict[str, Any] = {}
    rcd = None
    if match := _POLES.search(rest):
        fields["poles"] = int(match["poles"])
        rest = rest[: match.start()] + " " + rest[match.end() :]
    if match := _RESIDUAL.search(rest):
        rcd = match["word"].lower()
        _add(text, rcd, fields, read_setting(text, f"rcd {match['rest'].strip()}", amps))
        rest = rest[: match.start()]
    name = " ".join(rest.replace("-", " ").strip(" ,").lower().split())
    if match := _CLASS.search(name):
        fields["fuse_class"] = _fuse_class(text, match["only"] or match["bare"])
        name = f"{name[: match.start()]} {name[match.end() :]}"
    for flag in _FLAGS:
        if found := re.search(rf"(?<!\w){flag}(?!\w)", name):
            name = f"{name[: found.start()]} {name[found.end() :]}"
            _add(text, flag, fields, read_setting(text, flag, amps))
    if found := re.search(r"(?<!\w)gg(?!\w)", name):
        fields["curve"] = "gG"
        name = f"{name[: found.start()]} {name[found.end() :]}"
    return fields, " ".join(name.split()), rcd


def _fuse_class(text: str, word: str) -> str:
    if word in _CLASSES:
        return _CLASSES[word]
    known = ", ".join(FUSE_CLASSES)
    raise UnitError(text, f"has the fuse class {word!r}, which is not known here", f"give {known}")


def _add(text: str, part: str, fields: dict[str, Any], more: dict[str, Any]) -> None:
    given = {name: value for name, value in more.items() if value is not None}
    if any(name in fields for name in given):
        raise UnitError(text, f"says {part!r} twice or against another part", "say it once")
    fields.update(given)


def _amps(text: str, number_text: str, unit: str, rest: str) -> float:
    if not unit or unit.lower() in _WORDS:
        written = f"{number_text.strip()} A {(unit + rest).strip()}".strip()
        raise UnitError(text, "has no unit", f"write {written!r}")
    try:
        return units.parse(f"{number_text} {unit}", Dimension.CURRENT)
    except UnitError as error:
        raise UnitError(text, error.problem, _HINT) from error


def _kind(text: str, name: str) -> DeviceKind:
    if not name:
        return DeviceKind.BREAKER
    if name in _WORDS:
        return _WORDS[name]
    near = difflib.get_close_matches(name, list(_WORDS), n=1, cutoff=0.6)
    hint = f"did you mean {near[0]!r}?" if near else _HINT
    raise UnitError(text, f"has the word {name!r}, which is no device known here", hint)
