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
from pydantic_core import CoreSchema, PydanticCustomError, PydanticKnownError, core_schema

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.catalog.systems import VoltageSystem
from bondwright.earth.soil import Soil
from bondwright.site.quantities import any_case_of, quantity_pattern, written
from bondwright.site.ranges import (
    Range,
    looks_like_range,
    parts_of,
    read_range,
    soil_of,
    write_range,
)
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
    def checked(number: float, value: object) -> float:
        if not math.isfinite(number):
            raise UnitError(str(value), f"is not a {dimension.value} that can be real")
        if number < least or (strict and number == least):
            word = "more than zero" if strict else "zero or more"
            raise UnitError(str(value), f"must be {word}")
        return number

    def read(value: object, from_file: bool) -> float:
        if isinstance(value, Range):
            checked(value.low, value)
            return value
        if isinstance(value, str):
            if ".." in value:
                return read_range(value, lambda text: checked(parse(text, dimension), text))
            try:
                number = parse(value, dimension)
            except UnitError as error:
                if looks_like_range(value):
                    hint = "a range is written with two points, like '80..120 ft'"
                    raise UnitError(value, error.problem, hint) from error
                raise
        elif isinstance(value, bool) or not isinstance(value, int | float):
            raise UnitError(
                str(value), f"is not a {dimension.value}", f"write it like {example(dimension)!r}"
            )
        elif from_file:
            number = parse(f"{value}", dimension)
        else:
            number = float(value)
        return checked(number, value)

    def write(value: float) -> str:
        if isinstance(value, Range):
            return write_range(value, lambda one: written(one, dimension))
        return written(value, dimension)

    return FieldText(
        read,
        write,
        _text_schema(
            f"A {dimension.value} with its unit.", quantity_pattern(dimension), example(dimension)
        ),
    )


def _plain_text(number: float) -> str:
    short = f"{number:g}"
    return short if float(short) == number else repr(number)


@dataclass(frozen=True, slots=True)
class PlainNumber:
    """A number without a unit, or a range of them, within limits.

    Attributes:
        most: greatest that can be; it must be more than zero.
    """

    most: float

    def _checked(self, number: float) -> float:
        if not number > 0:
            raise PydanticKnownError("greater_than", {"gt": 0.0})
        if not number <= self.most:
            raise PydanticKnownError("less_than_equal", {"le": self.most})
        return number

    def _one(self, text: str) -> float:
        try:
            number = float(text)
        except ValueError as error:
            raise UnitError(text, "is not a number") from error
        return self._checked(number)

    def __get_pydantic_core_schema__(
        self, source: object, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        def validate(value: object, inner: core_schema.ValidatorFunctionWrapHandler) -> float:
            if isinstance(value, Range):
                self._checked(value.low)
                self._checked(value.high)
                return value
            if isinstance(value, str) and ".." in value:
                try:
                    return read_range(value, self._one)
                except UnitError as error:
                    raise _refuse(error) from error
            return self._checked(float(inner(value)))

        return core_schema.no_info_wrap_validator_function(
            validate,
            handler(source),
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda value: (
                    write_range(value, _plain_text) if isinstance(value, Range) else float(value)
                )
            ),
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        del schema, handler
        number = r"(\d+(\.\d*)?|\.\d+)"
        return {
            "anyOf": [
                {"type": "number", "exclusiveMinimum": 0, "maximum": self.most},
                {
                    "type": "string",
                    "pattern": rf"^\s*{number}\s*\.\.\s*{number}(\s*,?\s+about\s+{number})?\s*$",
                },
            ]
        }


XOverR = Annotated[float, PlainNumber(100)]
PowerFactor = Annotated[float, PlainNumber(1)]


Length = Annotated[float, _quantity(Dimension.LENGTH)]
Depth = Annotated[float, _quantity(Dimension.LENGTH, strict=False)]
Coordinate = Annotated[float, _quantity(Dimension.LENGTH, least=-math.inf)]
Resistance = Annotated[float, _quantity(Dimension.RESISTANCE, strict=False)]
ResistancePerLength = Annotated[float, _quantity(Dimension.RESISTANCE_PER_LENGTH)]
Current = Annotated[float, _quantity(Dimension.CURRENT)]
Power = Annotated[float, _quantity(Dimension.REAL_POWER)]
ApparentPower = Annotated[float, _quantity(Dimension.APPARENT_POWER)]
Ratio = Annotated[float, _quantity(Dimension.RATIO)]
Area = Annotated[float, _quantity(Dimension.AREA)]
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


def ground_of(text: str) -> Soil:
    """Read a soil: "100 ohm m", or layers from the top "300 ohm m / 3 m / 50 ohm m".

    Raises:
        UnitError: it is neither.
    """
    parts = [part.strip() for part in text.split("/")]
    if len(parts) % 2 == 0:
        raise UnitError(
            text,
            "is no soil",
            "write resistivities and thicknesses in turn, the last layer without one: "
            "'300 ohm m / 3 m / 50 ohm m'",
        )
    try:
        return soil_of(
            [
                _part(part, Dimension.LENGTH if k % 2 else Dimension.RESISTIVITY)
                for k, part in enumerate(parts)
            ]
        )
    except UnitError:
        raise
    except ValueError as error:
        raise UnitError(text, f"is no soil that can be: {error}") from None


def _part(text: str, dimension: Dimension) -> float:
    def one(part: str) -> float:
        value = parse(part, dimension)
        if not (math.isfinite(value) and value > 0):
            raise UnitError(part, "must be more than zero")
        return value

    if ".." in text:
        return read_range(text, one)
    try:
        return parse(text, dimension)
    except UnitError as error:
        if looks_like_range(text):
            hint = f"a range is written with two points, like '50..500 {_unit(dimension)}'"
            raise UnitError(text, error.problem, hint) from error
        raise


def _unit(dimension: Dimension) -> str:
    return "ohm m" if dimension is Dimension.RESISTIVITY else "m"


def ground_text(soil: Soil) -> str:
    """Write a soil so that :func:`ground_of` reads the same."""
    return " / ".join(
        _part_text(part, Dimension.LENGTH if k % 2 else Dimension.RESISTIVITY)
        for k, part in enumerate(parts_of(soil))
    )


def _part_text(value: float, dimension: Dimension) -> str:
    if isinstance(value, Range):
        return write_range(value, lambda one: written(one, dimension))
    return written(value, dimension)


def _ground() -> FieldText:
    def read(value: object, from_file: bool) -> Soil:
        if isinstance(value, Soil):
            return value
        if isinstance(value, str):
            return ground_of(value)
        if isinstance(value, bool) or not isinstance(value, int | float) or from_file:
            raise UnitError(
                str(value),
                "is not a soil",
                f"write it like {example(Dimension.RESISTIVITY)!r}, or in layers from the top "
                "like '300 ohm m / 3 m / 50 ohm m'",
            )
        return ground_of(f"{float(value)!r} ohm m")

    rho = quantity_pattern(Dimension.RESISTIVITY).strip("^$")
    thick = quantity_pattern(Dimension.LENGTH).strip("^$")
    return FieldText(
        read,
        ground_text,
        _text_schema(
            "A resistivity with its unit, or layers from the top: resistivity / thickness / "
            "resistivity below.",
            rf"^{rho}(/{thick}/{rho})*$",
            example(Dimension.RESISTIVITY),
            "300 ohm m / 3 m / 50 ohm m",
        ),
    )


Ground = Annotated[Soil, _ground()]

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
