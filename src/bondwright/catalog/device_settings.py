"""Settings of an overcurrent device in text: what follows the commas.

"long 0.9 12 s", "short 4 kA 0.2 s", "instantaneous 10 kA", "ground fault 800 A 0.3 s",
"RCD 30 mA type A", "GFCI", "AFCI", "class 3", "time-delay", "interrupts 65 kA", "curve my relay".
"""

from __future__ import annotations

import difflib
import re
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

from bondwright import units
from bondwright.units import Dimension, UnitError

if TYPE_CHECKING:
    from bondwright.catalog.device_rating import DeviceRating

GFCI: Final = "GFCI"
"""Residual type of a ground-fault circuit interrupter, Class A of UL 943."""
GFCI_A: Final = 0.006
"""Residual current at which a Class A device trips for sure, A."""
SELECTIVE: Final = "S"
"""Mark of a residual-current device with the delay of the selective type."""
WAVEFORMS: Final = ("AC", "A", "F", "B")
"""Residual-current types by the waveform they see, IEC 61008-1 and 62423."""
MAX_CURVE_NAME: Final = 40

EXAMPLES: Final = (
    "60 A breaker",
    "20 A/2p GFCI breaker",
    "20 A AFCI breaker",
    "250 A breaker, instantaneous 2 kA",
    "1200 A electronic breaker, long 0.9 12 s, short 4 kA 0.2 s, instantaneous 10 kA, "
    "ground fault 800 A 0.3 s, interrupts 65 kA",
    "100 A fuse",
    "100 A class RK5 time-delay fuse",
    "32 A gG fuse",
    "30 A BS 3036 fuse",
    "C32",
    "B16, RCD 30 mA type A, class 3, interrupts 6 kA",
    "63 A RCD 100 mA type A S",
    "100 A breaker, curve my relay",
)
"""Devices written well, one of each sort: for editors and for messages."""

_NUMBER: Final = r"(?:\d[\d,]*(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
_AMPS: Final = rf"(?P<amps>-?{_NUMBER}\s*[^\W\d]*)"
_TIME: Final = rf"(?:\s+(?P<time>-?{_NUMBER}\s*[^\W\d]*))?"
_CURRENT_AND_TIME: Final = re.compile(rf"^{_AMPS}{_TIME}$")
_LONG: Final = re.compile(
    rf"^(?P<share>{_NUMBER}(?:\s*%)?)?(?:(?:^|\s+)(?P<time>{_NUMBER}\s*[^\W\d]+))?$"
)
_RCD: Final = re.compile(rf"^{_AMPS}(?P<rest>(?:\s.*)?)$")
_POLES: Final = re.compile(r"^(\d+)[\s-]*(?:p|poles?)$", re.I)
_AIC: Final = re.compile(rf"^(?P<amps>{_NUMBER}\s*k?A)\s*IC$", re.I)

_WORDS: Final = MappingProxyType(
    {
        "long": "long 0.9 12 s",
        "short": "short 4 kA 0.2 s",
        "instantaneous": "instantaneous 2 kA",
        "ground fault": "ground fault 800 A 0.3 s",
        "gfpe": "ground fault 30 mA",
        "rcd": "RCD 30 mA type A",
        "rccb": "RCD 30 mA type A",
        "rcbo": "RCD 30 mA type A",
        "interrupts": "interrupts 22 kA",
        "class": "class 3",
        "curve": "curve my relay",
        "gfci": "GFCI",
        "afci": "AFCI",
        "time-delay": "time-delay",
    }
)
"""First words of the settings, each with one written well."""


def split(line: str) -> list[str]:
    """Cut a device at its commas, but not at the commas of thousands ("1,200 A")."""
    return [part.strip() for part in re.split(r",(?!\d{3}(?!\d))", line)]


def read_setting(text: str, part: str, rating_a: float) -> dict[str, Any]:
    """Read one setting.

    Args:
        text: the whole device, for messages.
        part: the setting.
        rating_a: rated current, A; "10 x" is a multiple of it.

    Returns:
        Fields of :class:`bondwright.catalog.device_rating.DeviceRating`.

    Raises:
        UnitError: it is no setting that is understood.
    """
    if match := _POLES.match(part):
        return {"poles": int(match[1])}
    if match := _AIC.match(part):
        return {"interrupting_a": _quantity(text, match["amps"], Dimension.CURRENT, "interrupts")}
    plain = " ".join(part.replace("time delay", "time-delay").split())
    word = next(
        (w for w in _WORDS if plain.lower() == w or plain.lower().startswith(f"{w} ")), None
    )
    if word is None:
        raise _unknown(text, part)
    rest = plain[len(word) :].strip()
    match word:
        case "gfci" | "afci" | "time-delay":
            return _flag(text, word, rest)
        case "long":
            return _long(text, rest)
        case "short" | "instantaneous" | "ground fault" | "gfpe":
            return _element(text, word, rest, rating_a)
        case "rcd" | "rccb" | "rcbo":
            return _residual(text, rest)
        case "interrupts":
            return {"interrupting_a": _quantity(text, rest, Dimension.CURRENT, word)}
        case "class":
            return _energy_class(text, rest)
        case _:
            return _curve(text, rest)


def write_settings(rating: DeviceRating) -> list[str]:
    """Write the settings of a device, in one order, so that they read back the same."""
    found = []
    if rating.long_pickup is not None or rating.long_delay_s is not None:
        share = "" if rating.long_pickup is None else f" {number(rating.long_pickup)}"
        found.append(f"long{share}{_seconds(rating.long_delay_s)}")
    if rating.short_pickup_a is not None:
        found.append(f"short {amps(rating.short_pickup_a)}{_seconds(rating.short_delay_s)}")
    if rating.instantaneous_a is not None:
        found.append(f"instantaneous {amps(rating.instantaneous_a)}")
    if rating.ground_pickup_a is not None:
        found.append(
            f"ground fault {amps(rating.ground_pickup_a)}{_seconds(rating.ground_delay_s)}"
        )
    if rating.energy_class is not None:
        found.append(f"class {rating.energy_class}")
    if rating.interrupting_a is not None:
        found.append(f"interrupts {amps(rating.interrupting_a)}")
    if rating.curve_name is not None:
        found.append(f"curve {rating.curve_name}")
    return found


def residual_words(rating: DeviceRating) -> str:
    """Write the residual part of a device: "RCD 30 mA type A S"."""
    kind = (rating.residual_type or "").split()
    form = "".join(f" {'' if w == SELECTIVE else 'type '}{w}" for w in kind)
    return f"RCD {amps(rating.residual_a or 0.0)}{form}"


def number(value: float) -> str:
    """Write a number so that it reads back as exactly the same one."""
    text = f"{value:g}"
    return text if float(text) == value and "e" not in text else repr(value)


def amps(value: float) -> str:
    """Write a current so that it reads back as exactly the same one: "30 mA", "4 kA"."""
    for text in (
        f"{value / 1e3:g} kA" if value >= 1e3 else "",
        f"{value * 1e3:g} mA" if value < 1 else "",
        f"{value:g} A",
    ):
        if text and "e" not in text and units.parse(text, Dimension.CURRENT) == value:
            return text
    return f"{value!r} A"


def _seconds(value: float | None) -> str:
    return "" if value is None else f" {number(value)} s"


def _flag(text: str, word: str, rest: str) -> dict[str, Any]:
    if rest:
        problem = f"has {rest!r} after {_WORDS[word]!r}"
        raise UnitError(text, problem, f"write {_WORDS[word]!r} alone")
    if word == "gfci":
        return {"residual_a": GFCI_A, "residual_type": GFCI}
    return {"arc_fault": True} if word == "afci" else {"time_delay": True}


def _long(text: str, rest: str) -> dict[str, Any]:
    match = _LONG.match(rest)
    if not rest or match is None:
        problem = "has a long-time setting that is not understood"
        raise UnitError(
            text, problem, "write the share of the rating and the delay: 'long 0.9 12 s'"
        )
    found: dict[str, Any] = {}
    if share := match["share"]:
        found["long_pickup"] = (
            _quantity(text, share, Dimension.RATIO, "long") if "%" in share else float(share)
        )
    if match["time"]:
        found["long_delay_s"] = _quantity(text, match["time"], Dimension.TIME, "long")
    return found


def _element(text: str, word: str, rest: str, rating_a: float) -> dict[str, Any]:
    match = _CURRENT_AND_TIME.match(rest)
    if match is None:
        raise UnitError(text, f"has a setting {word!r} without a current", _write(word))
    current = match["amps"].strip()
    if current.lower().endswith("x"):
        value = float(current[:-1].replace(",", "")) * rating_a
    else:
        value = _quantity(text, current, Dimension.CURRENT, word)
    delay = _quantity(text, match["time"], Dimension.TIME, word) if match["time"] else None
    if word == "instantaneous":
        if delay is not None:
            raise UnitError(text, "gives the instantaneous trip a delay", "leave the time out")
        return {"instantaneous_a": value}
    name = "short" if word == "short" else "ground"
    return {f"{name}_pickup_a": value, f"{name}_delay_s": delay}


def _residual(text: str, rest: str) -> dict[str, Any]:
    match = _RCD.match(rest)
    if match is None:
        raise UnitError(text, "has an RCD without its residual current", _write("rcd"))
    value = _quantity(text, match["amps"], Dimension.CURRENT, "rcd")
    kinds: list[str] = []
    for word in match["rest"].split():
        kind = SELECTIVE if word.lower() in ("s", "selective") else word.upper()
        if word.lower() == "type":
            continue
        if kind not in (*WAVEFORMS, SELECTIVE) or kind in kinds:
            problem = f"has the RCD type {word!r}, which is not known here"
            raise UnitError(text, problem, "types are AC, A, F and B, with S where it is delayed")
        kinds.append(kind)
    kinds.sort(key=lambda kind: kind == SELECTIVE)
    return {"residual_a": value, "residual_type": " ".join(kinds) or None}


def _energy_class(text: str, rest: str) -> dict[str, Any]:
    if not re.fullmatch(r"\d", rest):
        problem = f"has the energy limiting class {rest!r}"
        raise UnitError(text, problem, "write 'class 3' (1 to 3 stand on miniature breakers)")
    return {"energy_class": int(rest)}


def _curve(text: str, rest: str) -> dict[str, Any]:
    if not rest:
        raise UnitError(text, "names no curve", "write 'curve' and the name you gave it")
    return {"curve_name": rest}


def _quantity(text: str, part: str, dimension: Dimension, word: str) -> float:
    try:
        return units.parse(part, dimension)
    except UnitError as error:
        problem = f"in {word!r}: {part!r} {error.problem}"
        raise UnitError(text, problem, _write(word)) from error


def _write(word: str) -> str:
    return f"write it like {_WORDS[word]!r}"


def _unknown(text: str, part: str) -> UnitError:
    first = part.lower().split(" ")[0] if part else ""
    near = difflib.get_close_matches(first, list(_WORDS), n=1, cutoff=0.6)
    near = near or difflib.get_close_matches(part.lower(), list(_WORDS), n=1, cutoff=0.6)
    known = ", ".join(repr(w) for w in _WORDS if w not in ("rccb", "rcbo", "gfpe"))
    hint = f"did you mean {_WORDS[near[0]]!r}?" if near else f"settings begin with {known}"
    return UnitError(text, f"has the setting {part!r}, which is not known here", hint)
