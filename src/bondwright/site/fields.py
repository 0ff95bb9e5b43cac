"""Field types of the site description: text with units in, typed values out.

In a site file every quantity must carry its unit, so a bare number is an error there. From
Python a float is taken as the canonical SI unit (see :mod:`bondwright.units`).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, Any, Final

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

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


@dataclass(frozen=True, slots=True, eq=False)
class FieldText:
    """How a field is read from and written to text.

    An object of this class stands in an ``Annotated`` type, so that a type checker sees the
    plain type and pydantic sees this.

    Attributes:
        read: turns what was written into the value; told whether it comes from a file.
        write: turns the value back into text.
        schema: for editors.
    """

    read: Callable[[object, bool], object]
    write: Callable[[Any], str]
    schema: dict[str, Any]

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        del source, handler

        def validate(value: object, info: core_schema.ValidationInfo) -> object:
            try:
                return self.read(value, bool(info.context and info.context.get("from_file")))
            except UnitError as error:
                raise _refuse(error) from error

        return core_schema.with_info_plain_validator_function(
            validate,
            serialization=core_schema.plain_serializer_function_ser_schema(
                self.write, return_schema=core_schema.str_schema()
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        del schema, handler
        return dict(self.schema)


def _text_schema(description: str, pattern: str, *examples: str) -> dict[str, Any]:
    return {
        "type": "string",
        "description": description,
        "pattern": pattern,
        "examples": list(examples),
    }


def _quantity(dimension: Dimension, *, least: float = 0.0, strict: bool = True) -> FieldText:
    def read(value: object, from_file: bool) -> float:
        if isinstance(value, str):
            number = parse(value, dimension)
        elif isinstance(value, bool) or not isinstance(value, int | float):
            raise UnitError(
                str(value), f"is not a {dimension.value}", f"write it like {example(dimension)!r}"
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
        return number

    return FieldText(
        read,
        lambda value: written(value, dimension),
        _text_schema(
            f"A {dimension.value} with its unit.", quantity_pattern(dimension), example(dimension)
        ),
    )


Length = Annotated[float, _quantity(Dimension.LENGTH)]
Resistance = Annotated[float, _quantity(Dimension.RESISTANCE, strict=False)]
ResistancePerLength = Annotated[float, _quantity(Dimension.RESISTANCE_PER_LENGTH)]
Current = Annotated[float, _quantity(Dimension.CURRENT)]
Power = Annotated[float, _quantity(Dimension.REAL_POWER)]
ApparentPower = Annotated[float, _quantity(Dimension.APPARENT_POWER)]
Ratio = Annotated[float, _quantity(Dimension.RATIO)]
Resistivity = Annotated[float, _quantity(Dimension.RESISTIVITY)]
Temperature = Annotated[float, _quantity(Dimension.TEMPERATURE, least=-273.15)]
Frequency = Annotated[float, _quantity(Dimension.FREQUENCY)]
Time = Annotated[float, _quantity(Dimension.TIME)]
Voltage = Annotated[float, _quantity(Dimension.VOLTAGE)]


def _parsed(
    kind: type, read_text: Callable[[str], object], what: str, sample: str, pattern: str
) -> FieldText:
    def read(value: object, from_file: bool) -> object:
        del from_file
        if isinstance(value, kind):
            return value
        if not isinstance(value, str):
            raise UnitError(str(value), f"is not {what}", f"write it like {sample!r}")
        return read_text(value)

    return FieldText(read, str, _text_schema(what, pattern, sample))


# For editors only: what any spelling of a conductor, a device or a system has at the least.
_METAL: Final = any_case_of("cu", "copper", "al", "alu", "aluminum", "aluminium")

Wire = Annotated[
    Conductor,
    _parsed(
        Conductor,
        Conductor.parse,
        "a conductor size with its metal",
        "4 AWG Cu",
        rf"^.*\d.*{_METAL}\s*$",
    ),
]
Device = Annotated[
    DeviceRating,
    _parsed(DeviceRating, DeviceRating.parse, "an overcurrent device", "60 A breaker", r"^.*\d.*$"),
]
System = Annotated[
    VoltageSystem,
    _parsed(VoltageSystem, VoltageSystem.parse, "a voltage system", "120/240 V", r"^\s*\d.*V.*$"),
]


class NoWire(StrEnum):
    """Words that stand where a conductor could: there is none, or the raceway does its job."""

    NONE = "none"
    RACEWAY = "raceway"


def _wire_or_word(*words: NoWire) -> FieldText:
    allowed = {str(word): word for word in words}

    def read(value: object, from_file: bool) -> object:
        del from_file
        if isinstance(value, Conductor):
            return value
        if isinstance(value, str) and value.strip().lower() in allowed:
            return allowed[value.strip().lower()]
        if not isinstance(value, str):
            raise UnitError(
                str(value),
                "is not a conductor",
                "write a size like '4 AWG Cu'" + "".join(f" or '{w}'" for w in allowed),
            )
        return Conductor.parse(value)

    words_text = "".join(f", or '{word}'" for word in allowed)
    return FieldText(
        read,
        str,
        _text_schema(
            f"A conductor size with its metal{words_text}.",
            rf"^(.*\d.*{_METAL}|\s*{any_case_of(*allowed)})\s*$",
            "4 AWG Cu",
            *allowed,
        ),
    )


WireOrNone = Annotated[Conductor | NoWire, _wire_or_word(NoWire.NONE)]
WireRacewayOrNone = Annotated[Conductor | NoWire, _wire_or_word(NoWire.RACEWAY, NoWire.NONE)]
