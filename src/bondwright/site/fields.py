"""Field types of the site description: text with units in, typed values out.

In a site file every quantity must carry its unit, so a bare number is an error there. From
Python a float is taken as the canonical SI unit (see :mod:`bondwright.units`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from enum import StrEnum
from typing import Annotated, Any, Final, TypeVar

from pydantic import (
    BeforeValidator,
    PlainSerializer,
    PlainValidator,
    ValidationInfo,
    WithJsonSchema,
)
from pydantic_core import PydanticCustomError

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.catalog.systems import VoltageSystem
from bondwright.site.quantities import any_case_of, quantity_pattern, written
from bondwright.units import Dimension, UnitError, example, parse

FROM_FILE: Final = {"from_file": True}
"""Validation context that forbids bare numbers, used by the file reader."""


def _refuse(error: UnitError) -> PydanticCustomError:
    hint = error.hint or ""
    return PydanticCustomError(
        "site_value",
        "{problem}",
        {"problem": error.problem, "hint": hint, "text": error.text},
    )


def _quantity(dimension: Dimension, *, least: float, strict: bool) -> Callable[..., float]:
    def read(value: object, info: ValidationInfo) -> float:
        from_file = bool(info.context and info.context.get("from_file"))
        try:
            if isinstance(value, str):
                number = parse(value, dimension)
            elif isinstance(value, bool) or not isinstance(value, int | float):
                raise UnitError(
                    str(value),
                    f"is not a {dimension.value}",
                    f"write it like {example(dimension)!r}",
                )
            elif from_file:
                number = parse(f"{value}", dimension)
            else:
                number = float(value)
            if not math.isfinite(number):
                raise UnitError(str(value), f"is not a {dimension.value} that can be real")
            if number < least or (strict and number == least):
                word = "more than zero" if strict else "zero or more"
                raise UnitError(str(value), f"must be {word}")
        except UnitError as error:
            raise _refuse(error) from error
        return number

    return read


def _field(dimension: Dimension, *, least: float = 0.0, strict: bool = True) -> Any:
    return Annotated[
        float,
        BeforeValidator(_quantity(dimension, least=least, strict=strict)),
        PlainSerializer(lambda value: written(value, dimension), return_type=str),
        WithJsonSchema(
            {
                "type": "string",
                "description": f"A {dimension.value} with its unit.",
                "pattern": quantity_pattern(dimension),
                "examples": [example(dimension)],
            }
        ),
    ]


Length = _field(Dimension.LENGTH)
Resistance = _field(Dimension.RESISTANCE, strict=False)
ResistancePerLength = _field(Dimension.RESISTANCE_PER_LENGTH)
Current = _field(Dimension.CURRENT)
Power = _field(Dimension.REAL_POWER)
ApparentPower = _field(Dimension.APPARENT_POWER)
Ratio = _field(Dimension.RATIO)
Resistivity = _field(Dimension.RESISTIVITY)
Temperature = _field(Dimension.TEMPERATURE, least=-273.15)
Frequency = _field(Dimension.FREQUENCY)

_T = TypeVar("_T")


def _parsed(kind: type[_T], read: Callable[[str], _T], what: str, sample: str, pattern: str) -> Any:
    def validate(value: object) -> _T:
        if isinstance(value, kind):
            return value
        try:
            if not isinstance(value, str):
                raise UnitError(str(value), f"is not {what}", f"write it like {sample!r}")
            return read(value)
        except UnitError as error:
            raise _refuse(error) from error

    return Annotated[
        kind,
        PlainValidator(validate),
        PlainSerializer(str, return_type=str),
        WithJsonSchema(
            {"type": "string", "description": what, "pattern": pattern, "examples": [sample]}
        ),
    ]


# For editors only: what any spelling of a conductor, a device or a system has at the least.
_METAL: Final = any_case_of("cu", "copper", "al", "alu", "aluminum", "aluminium")

Wire = _parsed(
    Conductor,
    Conductor.parse,
    "a conductor size with its metal",
    "4 AWG Cu",
    rf"^.*\d.*{_METAL}\s*$",
)
Device = _parsed(
    DeviceRating, DeviceRating.parse, "an overcurrent device", "60 A breaker", r"^.*\d.*$"
)
System = _parsed(
    VoltageSystem, VoltageSystem.parse, "a voltage system", "120/240 V", r"^\s*\d.*V.*$"
)


class NoWire(StrEnum):
    """Words that stand where a conductor could: there is none, or the raceway does its job."""

    NONE = "none"
    RACEWAY = "raceway"


def _wire_or_word(*words: NoWire) -> Any:
    allowed = {str(word): word for word in words}

    def validate(value: object) -> Conductor | NoWire:
        if isinstance(value, Conductor):
            return value
        # YAML writes an empty value as null; "no" and "none" mean the same to a person.
        if isinstance(value, str) and value.strip().lower() in allowed:
            return allowed[value.strip().lower()]
        if not isinstance(value, str):
            raise _refuse(
                UnitError(
                    str(value),
                    "is not a conductor",
                    "write a size like '4 AWG Cu'" + "".join(f" or '{w}'" for w in allowed),
                )
            )
        try:
            return Conductor.parse(value)
        except UnitError as error:
            raise _refuse(error) from error

    return Annotated[
        Conductor | NoWire,
        PlainValidator(validate),
        PlainSerializer(str, return_type=str),
        WithJsonSchema(
            {
                "type": "string",
                "description": "A conductor size with its metal"
                + "".join(f", or '{word}'" for word in allowed)
                + ".",
                "pattern": rf"^(.*\d.*{_METAL}|\s*{any_case_of(*allowed)})\s*$",
                "examples": ["4 AWG Cu", *allowed],
            }
        ),
    ]


WireOrNone = _wire_or_word(NoWire.NONE)
WireRacewayOrNone = _wire_or_word(NoWire.RACEWAY, NoWire.NONE)
