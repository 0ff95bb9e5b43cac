"""Quantities as text in a site file: written so that they read back the same, and their pattern."""

from __future__ import annotations

import re
from functools import cache
from types import MappingProxyType
from typing import Final

from bondwright.units import Dimension, UnitError, parse, unit_names

# The units a person would choose from, the commonest first. Each list ends with one whose
# factor is 1, in which every float can be written exactly.
_WRITTEN: Final = MappingProxyType(
    {
        Dimension.LENGTH: ("ft", "in", "mm", "m"),
        Dimension.AREA: ("cm2", "in2", "mm2", "m2"),
        Dimension.RESISTANCE: ("ohm", "mohm"),
        Dimension.RESISTANCE_PER_LENGTH: ("ohm/kft", "ohm/km", "ohm/m"),
        Dimension.CURRENT: ("A", "kA"),
        Dimension.REAL_POWER: ("kW", "W", "hp"),
        Dimension.APPARENT_POWER: ("kVA", "VA"),
        Dimension.RATIO: ("%", "pu"),
        Dimension.RESISTIVITY: ("ohm m",),
        Dimension.TEMPERATURE: ("degC",),
        Dimension.FREQUENCY: ("Hz",),
        Dimension.TIME: ("s", "ms"),
        Dimension.VOLTAGE: ("V", "kV"),
    }
)
_NUMBER: Final = (
    r"[+-]?(\d+[\s-]+\d+/\d+|\d+/\d+"
    r"|(\d{1,3}(,\d{3})+|\d+)(\.\d*)?([eE][+-]?\d+)?|\.\d+([eE][+-]?\d+)?)"
)


def written(value: float, dimension: Dimension) -> str:
    """Write a quantity in the unit in which it is shortest and reads back as the same float.

    Args:
        value: in the canonical unit of the dimension.
        dimension: what it is; one of those that stand in a site file.

    Returns:
        Text such as "90 ft", "0.625 in", "2.1 %".
    """
    scales = [(unit, parse(f"1 {unit}", dimension)) for unit in _WRITTEN[dimension]]
    same: list[tuple[bool, str]] = []
    for digits in range(1, 18):
        last = bool(same)  # one figure more may still be shorter: 75 ft, not 900 in
        for unit, factor in scales:
            number = f"{value / factor:.{digits}g}"
            if "e" in number and abs(value / factor) < 1e15 and abs(value / factor) >= 1:
                number = f"{float(number):.0f}"  # 200 A, not 2e+02 A
            text = f"{number} {unit}"
            if parse(text, dimension) == value:
                same.append((not 1 <= abs(value / factor) < 1e4, text))
        if last:
            break
    if same:
        return min(same, key=lambda choice: (choice[0], len(choice[1])))[1]
    return f"{value!r} {scales[-1][0]}"


@cache
def quantity_pattern(dimension: Dimension) -> str:
    """Return a regular expression for JSON Schema: a quantity of a dimension, or a range of it.

    A unit may be written in any case in which :func:`bondwright.units.parse` knows it.
    """
    units = {_spellings(name, dimension) for name in unit_names(dimension)}
    choice = "|".join(sorted(units, key=lambda text: (-len(text), text)))
    one = rf"{_NUMBER}\s*({choice})"
    if dimension is Dimension.LENGTH:
        one = rf"({one}|\d+(\.\d+)?\s*(ft|foot|feet|')\s*-?\s*{_NUMBER}\s*(in|inch|inches|\"))"
    # Of a range only its end is looked at closely: this is for editors, the reader says the rest.
    return rf"^\s*(.*\d.*\.\.\s*)?{one}(\s*,?\s+about\s+.*\d.*)?\s*$"


def _spellings(name: str, dimension: Dimension) -> str:
    """Return a pattern for the ways to write a unit: as it stands, or in any case.

    Case may matter for the first letter (milli or mega) or for the whole; the parser decides.
    """
    head, tail = name[0], name[1:]
    heads = {
        first
        for first in _cases(head)
        if _is_unit(first + tail.swapcase(), dimension) and _is_unit(first + tail, dimension)
    }
    if head not in heads:
        return re.escape(name)
    return (re.escape(head) if len(heads) == 1 else _class(heads)) + _any_case(tail)


def _is_unit(unit: str, dimension: Dimension) -> bool:
    try:
        parse(f"1 {unit}", dimension)
    except UnitError:
        return False
    return True


def any_case_of(*words: str) -> str:
    """Return a regular expression for one of some words in any case."""
    return f"({'|'.join(_any_case(word) for word in words)})"


def _any_case(name: str) -> str:
    parts = []
    for char in name:
        forms = _cases(char)
        if char == " ":
            parts.append(r"\s+")
        else:
            parts.append(_class(forms) if len(forms) > 1 else re.escape(char))
    return "".join(parts)


def _cases(char: str) -> set[str]:
    """Return the ways to write a character that mean the same when case is ignored."""
    forms = {char, char.lower(), char.upper()}
    if char.lower() == "ω":
        forms.add("\u2126")  # the ohm sign, which some keyboards give for the letter
    return {form for form in forms if len(form) == 1 and form.lower() == char.lower()}


def _class(forms: set[str]) -> str:
    return f"[{''.join(sorted(forms))}]"
