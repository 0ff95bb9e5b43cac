"""Quantities at the boundary: text with a unit in, SI floats out, and back again for people.

Inside the tool every number is a float in one canonical unit per dimension: metre, ohm,
ampere, volt, watt, volt-ampere, second, ohm metre, degree Celsius, hertz, square metre and a
plain fraction. Text appears only where a person writes or reads it.

Conductor sizes ("3/0 AWG") are not quantities but names in a table; they live in
:mod:`bondwright.catalog.sizes`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from enum import Enum
from types import MappingProxyType
from typing import Final, Literal

FOOT: Final = 0.3048
INCH: Final = 0.0254
ABSOLUTE_ZERO: Final = -273.15
"""degC."""
CIRCULAR_MIL: Final = math.pi / 4 * (INCH / 1000) ** 2
"""Area of a circle one mil (0.001 in) across, m2."""

_FAHRENHEIT: Final = frozenset({"degF", "°F", "F"})
_MILLI_OR_MEGA: Final = frozenset(
    {"mohm", "Mohm", "mΩ", "MΩ", "mohm/m", "mohm/ft", "mS", "mA", "mV", "MW", "MVA", "ms"}
)

UnitSystem = Literal["us", "metric"]
_WANTED: ContextVar[UnitSystem | None] = ContextVar("wanted units", default=None)


@contextmanager
def units(system: UnitSystem | None) -> Iterator[None]:
    """Write lengths in one system where nobody says which; None leaves it to the rules."""
    token = _WANTED.set(system)
    try:
        yield
    finally:
        _WANTED.reset(token)


def wanted_units(usual: UnitSystem = "us") -> UnitSystem:
    """Return the system that lengths are to be written in."""
    return _WANTED.get() or usual


class Dimension(Enum):
    """A kind of quantity. The value is the word used for it in messages."""

    LENGTH = "length"
    AREA = "area"
    RESISTANCE = "resistance"
    RESISTANCE_PER_LENGTH = "resistance per length"
    CONDUCTANCE = "conductance"
    CURRENT = "current"
    VOLTAGE = "voltage"
    REAL_POWER = "power"
    APPARENT_POWER = "apparent power"
    TIME = "time"
    RESISTIVITY = "soil resistivity"
    TEMPERATURE = "temperature"
    FREQUENCY = "frequency"
    RATIO = "ratio"


# Factor to the canonical unit; the first spelling of each dimension is the one suggested.
_UNITS: Final = MappingProxyType(
    {
        Dimension.LENGTH: {
            "ft": FOOT,
            "m": 1.0,
            "in": INCH,
            "mm": 1e-3,
            "cm": 1e-2,
            "km": 1e3,
            "yd": 3 * FOOT,
            "mi": 5280 * FOOT,
            "foot": FOOT,
            "feet": FOOT,
            "inch": INCH,
            "inches": INCH,
            "metre": 1.0,
            "metres": 1.0,
            "meter": 1.0,
            "meters": 1.0,
            "'": FOOT,
            '"': INCH,
        },
        Dimension.AREA: {
            "mm2": 1e-6,
            "mm²": 1e-6,
            "kcmil": 1000 * CIRCULAR_MIL,
            "cmil": CIRCULAR_MIL,
            "MCM": 1000 * CIRCULAR_MIL,
            "m2": 1.0,
            "m²": 1.0,
            "ft2": FOOT**2,
            "ft²": FOOT**2,
            "in2": INCH**2,
            "in²": INCH**2,
            "cm2": 1e-4,
            "cm²": 1e-4,
        },
        Dimension.RESISTANCE: {
            "ohm": 1.0,
            "mohm": 1e-3,
            "milliohm": 1e-3,
            "uohm": 1e-6,
            "microohm": 1e-6,
            "kohm": 1e3,
            "Mohm": 1e6,
            "ohms": 1.0,
            "milliohms": 1e-3,
            "Ω": 1.0,
            "mΩ": 1e-3,
            "µohm": 1e-6,
            "µΩ": 1e-6,
            "kΩ": 1e3,
            "MΩ": 1e6,
        },
        Dimension.RESISTANCE_PER_LENGTH: {
            "ohm/kft": 1 / (1000 * FOOT),
            "ohm/km": 1e-3,
            "ohm/m": 1.0,
            "mohm/m": 1e-3,
            "ohm/ft": 1 / FOOT,
            "mohm/ft": 1e-3 / FOOT,
            "ohm/mi": 1 / (5280 * FOOT),
        },
        Dimension.CONDUCTANCE: {"S": 1.0, "mS": 1e-3, "uS": 1e-6, "µS": 1e-6},
        Dimension.CURRENT: {
            "A": 1.0,
            "kA": 1e3,
            "mA": 1e-3,
            "uA": 1e-6,
            "µA": 1e-6,
            "amp": 1.0,
            "amps": 1.0,
        },
        Dimension.VOLTAGE: {"V": 1.0, "kV": 1e3, "mV": 1e-3, "volt": 1.0, "volts": 1.0},
        Dimension.REAL_POWER: {"kW": 1e3, "W": 1.0, "MW": 1e6, "hp": 745.69987},
        Dimension.APPARENT_POWER: {"kVA": 1e3, "VA": 1.0, "MVA": 1e6},
        Dimension.TIME: {
            "s": 1.0,
            "ms": 1e-3,
            "us": 1e-6,
            "µs": 1e-6,
            "min": 60.0,
            "h": 3600.0,
            "sec": 1.0,
        },
        Dimension.RESISTIVITY: {
            "ohm m": 1.0,
            "ohm.m": 1.0,
            "ohm-m": 1.0,
            "ohm cm": 0.01,
            "ohm·m": 1.0,
            "Ωm": 1.0,
            "Ω m": 1.0,
            "Ω·m": 1.0,
        },
        Dimension.TEMPERATURE: {
            "degC": 1.0,
            "°C": 1.0,
            "C": 1.0,
            "degF": math.nan,
            "°F": math.nan,
            "F": math.nan,
        },
        Dimension.FREQUENCY: {"Hz": 1.0, "kHz": 1e3},
        Dimension.RATIO: {"%": 0.01, "percent": 0.01, "pu": 1.0},
    }
)

_NUMBER: Final = re.compile(
    r"""\s*(?P<sign>[+-]?)(?:
        (?P<whole>[0-9]+)[\s-]+(?P<num>[0-9]+)/(?P<den>[0-9]+)      # 1-1/4, 2 1/2
      | (?P<n>[0-9]+)/(?P<d>[0-9]+)                              # 5/8
      | (?P<dec>(?:(?:[0-9]{1,3}(?:,[0-9]{3})+|[0-9]+)(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?)
    )""",
    re.VERBOSE,
)
_LOOK_ALIKES: Final = str.maketrans({"\N{GREEK SMALL LETTER MU}": "µ", "\N{OHM SIGN}": "Ω"})
_FEET_INCHES: Final = re.compile(
    r"^\s*(?P<ft>[0-9]+(?:\.[0-9]+)?)\s*(?:ft|foot|feet|')\s*-?\s*"
    r"(?P<inches>[0-9.].*?)\s*(?:in|inch|inches|\")\s*$"
)
MAX_TEXT: Final = 80
"""Longest text taken as a quantity; anything longer is refused unread."""


class UnitError(ValueError):
    """A quantity that can't be read.

    Attributes:
        text: what was written.
        problem: what is wrong with it, as a clause.
        hint: what would be right, or None.
    """

    def __init__(self, text: str, problem: str, hint: str | None = None) -> None:
        self.text = text if len(text) <= MAX_TEXT else text[: MAX_TEXT - 1] + "…"
        self.problem = problem
        self.hint = hint
        message = f"{self.text!r}: {problem}"
        super().__init__(f"{message}; {hint}" if hint else message)


def parse(text: str, dimension: Dimension) -> float:
    """Read one quantity with its unit.

    Accepts decimals, thousands separators, fractions ("5/8 in", "1-1/4 in") and, for lengths,
    feet and inches ("6 ft 3 in").

    Args:
        text: the quantity as a person writes it.
        dimension: what it must be.

    Returns:
        The value in the canonical unit of the dimension (see the module docstring).

    Raises:
        UnitError: no number, no unit, a unit of another dimension, or not finite.
    """
    example = f"write it like {_example(dimension)!r}"
    if len(text) > MAX_TEXT:
        raise UnitError(text, f"is too long for a {dimension.value}", example)
    if dimension is Dimension.LENGTH and (both := _FEET_INCHES.match(text)):
        number, rest = _number(both["inches"])
        if number is not None and not rest.strip():
            return float(both["ft"]) * FOOT + number * INCH
    number, rest = _number(text)
    if number is None:
        if text.strip().lower().lstrip("+-.") in {"nan", "inf", "infinity"}:
            raise UnitError(text, "is not a number a building can have", example)
        raise UnitError(text, f"is not a {dimension.value}", example)
    # The micro sign and the ohm sign have look-alikes among the Greek letters.
    unit = " ".join(rest.split()).translate(_LOOK_ALIKES)
    if unit[:1] == "," and unit[1:2].isdigit():
        problem = "has a comma that parts no thousands"
        raise UnitError(text, problem, "write decimals with a point, thousands like 1,000")
    if not unit:
        raise UnitError(text, "has no unit", _add_unit(text.strip(), dimension))
    value = _convert(number, unit, dimension, text)
    if not math.isfinite(value):
        raise UnitError(text, "is too large to be real", example)
    if dimension is Dimension.TEMPERATURE and value < ABSOLUTE_ZERO:
        raise UnitError(text, "is below absolute zero", example)
    return value


def _number(text: str) -> tuple[float | None, str]:
    match = _NUMBER.match(text)
    if match is None:
        return None, text
    sign = -1.0 if match["sign"] == "-" else 1.0
    rest = text[match.end() :]
    try:
        if match["dec"]:
            return sign * float(match["dec"].replace(",", "")), rest
        if match["n"]:
            return sign * int(match["n"]) / int(match["d"]), rest
        return sign * (int(match["whole"]) + int(match["num"]) / int(match["den"])), rest
    except (ZeroDivisionError, OverflowError):
        return None, text


def _convert(number: float, unit: str, dimension: Dimension, text: str) -> float:
    table = _UNITS[dimension]
    if (name := _unit_name(unit, dimension)) is not None:
        if name not in _FAHRENHEIT:
            return number * table[name]
        return (number - 32) * 5 / 9
    for other, units in _UNITS.items():
        if other is not dimension and unit in units:
            raise UnitError(
                text,
                f"is a {other.value}, but a {dimension.value} belongs here",
                f"use {_choices(dimension)}",
            )
    raise UnitError(
        text, f"has the unit {unit!r}, which is not known here", f"use {_choices(dimension)}"
    )


def _unit_name(unit: str, dimension: Dimension) -> str | None:
    """Return the table's spelling of a unit, or None if it is not one.

    "75 FT" and "60 a" are plain enough, so case folds; but never where it would turn milli into
    mega ("5 mw", "5 MA"), nor where two units differ by case only ("5 MOHM").
    """
    table = _UNITS[dimension]
    if unit in table:
        return unit
    folded = [name for name in table if name.lower() == unit.lower()]
    if len(folded) != 1 or (folded[0] in _MILLI_OR_MEGA and folded[0][0] != unit[0]):
        return None
    return folded[0]


def _choices(dimension: Dimension) -> str:
    names = list(_UNITS[dimension])[:3]
    return " or ".join(names) if len(names) < 3 else f"{names[0]}, {names[1]} or {names[2]}"


def _add_unit(text: str, dimension: Dimension) -> str:
    names = list(_UNITS[dimension])[:2]
    return "write " + " or ".join(repr(f"{text} {name}") for name in names)


_EXAMPLES: Final = MappingProxyType(
    {
        Dimension.LENGTH: "75 ft",
        Dimension.AREA: "70 mm2",
        Dimension.RESISTANCE: "25 ohm",
        Dimension.RESISTANCE_PER_LENGTH: "0.5 ohm/kft",
        Dimension.CONDUCTANCE: "1 mS",
        Dimension.CURRENT: "60 A",
        Dimension.VOLTAGE: "120 V",
        Dimension.REAL_POWER: "4.5 kW",
        Dimension.APPARENT_POWER: "25 kVA",
        Dimension.TIME: "0.1 s",
        Dimension.RESISTIVITY: "100 ohm m",
        Dimension.TEMPERATURE: "75 degC",
        Dimension.FREQUENCY: "60 Hz",
        Dimension.RATIO: "2.1 %",
    }
)


def _example(dimension: Dimension) -> str:
    return _EXAMPLES[dimension]


def example(dimension: Dimension) -> str:
    """Return a quantity written well, for messages and schemas ("75 ft")."""
    return _EXAMPLES[dimension]


def unit_names(dimension: Dimension) -> tuple[str, ...]:
    """Return every unit spelling understood for a dimension, the suggested one first."""
    return tuple(_UNITS[dimension])


_PREFIXED: Final = MappingProxyType(
    {
        Dimension.RESISTANCE: (("Mohm", 1e6), ("ohm", 1.0), ("mohm", 1e-3), ("µohm", 1e-6)),
        Dimension.CURRENT: (("kA", 1e3), ("A", 1.0), ("mA", 1e-3), ("µA", 1e-6)),
        Dimension.VOLTAGE: (("kV", 1e4), ("V", 1.0), ("mV", 1e-3)),
        Dimension.REAL_POWER: (("kW", 1e3), ("W", 1.0)),
        Dimension.APPARENT_POWER: (("kVA", 1e3), ("VA", 1.0)),
        Dimension.TIME: (("h", 3600.0), ("min", 60.0), ("s", 0.1), ("ms", 1e-3)),
    }
)
_PLAIN: Final = MappingProxyType(
    {
        Dimension.RESISTIVITY: "ohm m",
        Dimension.TEMPERATURE: "degC",
        Dimension.FREQUENCY: "Hz",
        Dimension.CONDUCTANCE: "S",
    }
)


def show(
    value: float, dimension: Dimension, system: UnitSystem | None = None, digits: int = 3
) -> str:
    """Write a quantity for a person, to ``digits`` significant figures.

    Figures before the decimal point are never dropped: 1234 V stays 1234 V.

    Args:
        value: in the canonical unit of the dimension.
        dimension: what it is.
        system: ``"us"`` writes feet, ``"metric"`` metres; None takes :func:`wanted_units`.
        digits: significant figures.

    Returns:
        Text such as ``"12.3 kA"``, ``"75 ft"``, ``"2.1 %"``; ``"no limit"`` for infinity and
        ``"not known"`` for NaN.
    """
    if math.isnan(value):
        return "not known"
    if math.isinf(value):
        return "no limit"
    system = system or wanted_units()
    match dimension:
        case Dimension.LENGTH:
            return (
                _figures(value / FOOT, digits) + " ft"
                if system == "us"
                else _figures(value, digits) + " m"
            )
        case Dimension.AREA:
            return _figures(value / 1e-6, digits) + " mm2"
        case Dimension.RATIO:
            return _figures(value * 100, digits) + " %"
        case Dimension.RESISTANCE_PER_LENGTH:
            if system == "us":
                return _figures(value * 1000 * FOOT, digits) + " ohm/kft"
            return _figures(value * 1000, digits) + " ohm/km"
        case _ if dimension in _PLAIN:
            return f"{_figures(value, digits)} {_PLAIN[dimension]}"
        case _:
            return _prefixed(value, _PREFIXED[dimension], digits)


def _prefixed(value: float, scales: tuple[tuple[str, float], ...], digits: int) -> str:
    base = next(name for name, _ in scales if name in {"ohm", "A", "V", "W", "VA", "s"})
    if value == 0:
        return f"0 {base}"
    factors = {"kV": 1e3, "s": 1.0}
    for name, least in scales:
        # Round first: 999.7 A to three figures is 1 kA, not 1000 A.
        if _rounded(abs(value), digits) >= least * (1 - 1e-12):
            return f"{_figures(value / factors.get(name, least), digits)} {name}"
    name, least = scales[-1]
    return f"{_figures(value / factors.get(name, least), digits)} {name}"


def _rounded(value: float, digits: int) -> float:
    return float(f"{value:.{max(0, digits - 1)}e}")


def _figures(value: float, digits: int) -> str:
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{min(places, 12)}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text
