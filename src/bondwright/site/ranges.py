"""Quantities that are only known to lie between two values.

In a site file one is written ``80..120 ft``, or with what is most likely, ``5..40 ohm about
12 ohm``. In the model it is a float, its nominal value, so that everything computes with it as
with any other; studies that ask for the range of their answers find it by its type.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final

from pydantic import BaseModel

from bondwright.earth.soil import Soil
from bondwright.site.quantities import written
from bondwright.units import Dimension, UnitError

_ABOUT: Final = re.compile(r",?\s+about\s", re.IGNORECASE)
_BARE: Final = re.compile(r"\s*[+-]?[\d.,/\s-]*\d\.?(?:[eE][+-]?\d+)?\s*")
_LOOKS: Final = re.compile(
    r"^\s*[\d.,]+(?:\s*[^\d\s.,/+-]+)?\s*(?:to|till|-|–|—|\.\.\.|…)\s*[\d.,]+\s*[^\d\s.,/+-]"
)

Path = tuple[str | int, ...]


class Range(float):
    """A quantity between two values; as a number it is its nominal value.

    Without ``about`` every value between is as likely as any other, and the nominal value is the
    middle. With it likelihood falls in straight lines from there to both ends (a triangle).

    Args:
        low: least.
        high: greatest.
        about: most likely, or None.
    """

    __slots__ = ("about", "high", "low")

    low: float
    high: float
    about: float | None

    def __new__(cls, low: float, high: float, about: float | None = None) -> Range:
        """Make one; see the class."""
        if not (math.isfinite(low) and math.isfinite(high) and low < high):
            raise ValueError(f"no range from {low} to {high}")
        if about is not None and not low <= about <= high:
            raise ValueError(f"{about} does not lie between {low} and {high}")
        new = super().__new__(cls, (low + high) / 2 if about is None else about)
        new.low, new.high, new.about = float(low), float(high), about
        return new

    def __reduce__(self) -> tuple[type[Range], tuple[float, float, float | None]]:
        return Range, (self.low, self.high, self.about)

    def _key(self) -> tuple[float, float, float | None]:
        return self.low, self.high, self.about

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Range) and self._key() == other._key()

    def __ne__(self, other: object) -> bool:
        return not self == other

    def __hash__(self) -> int:
        return hash(self._key())

    def __repr__(self) -> str:
        return f"Range({self.low!r}, {self.high!r}, {self.about!r})"

    def at(self, share: float) -> float:
        """Return the value that so much of the likelihood lies below (0 to 1)."""
        width = self.high - self.low
        if self.about is None:
            return self.low + share * width
        peak = (self.about - self.low) / width
        if share < peak:
            return self.low + width * math.sqrt(share * peak)
        return self.high - width * math.sqrt((1 - share) * (1 - peak))


def looks_like_range(text: str) -> bool:
    """Whether a text that is no quantity was probably meant as a range."""
    return ".." in text or _LOOKS.match(text) is not None


def read_range(text: str, read: Callable[[str], float]) -> Range:
    """Read a range.

    Args:
        text: as a person wrote it, with ``..`` in it.
        read: reads one value with its unit.

    Raises:
        UnitError: it isn't one; the problem says what is wrong.
    """
    cut = _ABOUT.search(text)
    ends = text[: cut.start()] if cut else text
    first, dots, second = ends.partition("..")
    if not dots or second.startswith(".") or ".." in second:
        raise UnitError(text, "is no range", "write it like '80..120 ft', with two points")
    number = _BARE.match(second)
    shared = second[number.end() :].strip() if number else ""
    if any(char.isdigit() for char in shared):  # "6 ft 3 in" lends nobody its unit
        shared = ""

    def one(part: str) -> float:
        return read(f"{part.strip()} {shared}".strip() if _BARE.fullmatch(part) else part.strip())

    high = read(second.strip())
    low = one(first)
    about = one(text[cut.end() :]) if cut else None
    if low == high:
        raise UnitError(text, "is a range without width", f"write {second.strip()!r} alone")
    if low > high:
        hint = "write the smaller value first"
        raise UnitError(text, "is a range whose first value is the greater", hint)
    if about is not None and not low <= about <= high:
        raise UnitError(text, "has an 'about' that lies outside its range", "give one within it")
    return Range(low, high, about)


def write_range(value: Range, write: Callable[[float], str]) -> str:
    """Write a range so that it reads back the same."""
    low, high = write(value.low), write(value.high)
    number, space, unit = low.partition(" ")
    text = f"{number if space and high.endswith(f' {unit}') else low}..{high}"
    return text if value.about is None else f"{text} about {write(value.about)}"


@dataclass(frozen=True, slots=True)
class Unknown:
    """A quantity of a site that is a range.

    Attributes:
        path: keys and list positions from the top, as written in the file.
        value: the range.
        text: the range as it would be written.
        nominal: its nominal value, written.
    """

    path: Path
    value: Range
    text: str
    nominal: str

    @property
    def name(self) -> str:
        """What it is called: "length of pump house feeder", "power of load 1 of farm panel"."""
        said: list[str] = []
        if self.path[0] == "soil" and len(self.path) == 2:
            layer, thickness = divmod(int(self.path[1]), 2)
            return f"{'thickness' if thickness else 'resistivity'} of soil layer {layer + 1}"
        for step in self.path[1:] if len(self.path) > 1 else self.path:
            if isinstance(step, int) and said[-1] == "harmonics":
                said[-1] = f"harmonic {step}"
            elif isinstance(step, int):
                said[-1] = f"{said[-1].removesuffix('s')} {step + 1}"
            else:
                said.append(step)
        return " of ".join(reversed(said))


def unknowns(site: BaseModel) -> tuple[Unknown, ...]:
    """Return every quantity of a site that is a range, in the order of the file."""
    found: list[Unknown] = []
    _collect(site, (), found)
    return tuple(found)


_DEEP: Final = (BaseModel, dict, list)


def _collect(item: Any, path: Path, found: list[Unknown]) -> None:
    # Every plan passes here, so that a site without ranges costs next to nothing.
    if isinstance(item, BaseModel):
        for name, value in item.__dict__.items():
            if type(value) is Range:
                found.append(_unknown(item, name, value, path))
            elif type(value) is Soil:
                _collect_soil(value, (*path, name), found)
            elif value and isinstance(value, _DEEP):
                key = type(item).model_fields[name].alias or name
                _collect(value, (*path, key), found)
        return
    inside: Iterable[tuple[str | int, Any]]
    inside = item.items() if isinstance(item, dict) else enumerate(item)
    for step, value in inside:
        if type(value) is Range:  # of a table of shares, harmonics by their order
            text = f"{value.low * 100:g}..{value.high * 100:g} %"
            found.append(Unknown((*path, step), value, text, f"{float(value) * 100:g} %"))
        elif value and isinstance(value, _DEEP):
            _collect(value, (*path, step), found)


def _collect_soil(soil: Soil, path: Path, found: list[Unknown]) -> None:
    layered = len(soil.rho_ohm_m) > 1
    for k, value in enumerate(parts_of(soil)):
        if type(value) is Range:
            dimension = Dimension.LENGTH if k % 2 else Dimension.RESISTIVITY
            text = write_range(value, partial(written, dimension=dimension))
            nominal = written(float(f"{float(value):.9g}"), dimension)
            found.append(Unknown((*path, k) if layered else path, value, text, nominal))


def parts_of(soil: Soil) -> list[float]:
    """Return resistivity [ohm m] and thickness [m] of the layers in turn, from the top."""
    parts = [soil.rho_ohm_m[0]]
    for thick, rho in zip(soil.thickness_m, soil.rho_ohm_m[1:], strict=True):
        parts += [thick, rho]
    return parts


def soil_of(parts: Sequence[float]) -> Soil:
    """Return the soil with these :func:`parts_of`."""
    return Soil(tuple(parts[::2]), tuple(parts[1::2]))


def _unknown(item: BaseModel, name: str, value: Range, path: Path) -> Unknown:
    key = type(item).model_fields[name].alias or name

    def dumped(model: BaseModel) -> str:
        return str(model.model_dump(mode="json", by_alias=True, include={name})[key])

    plain = item.model_copy(update={name: float(f"{float(value):.9g}")})
    return Unknown((*path, key), value, dumped(item), dumped(plain))


def with_values(item: Any, values: Mapping[Path, float]) -> Any:
    """Return a site, or a part of it, with some quantities set; nothing is checked anew.

    Args:
        item: the site.
        values: by the paths of :class:`Unknown`.
    """
    here: dict[str | int, dict[Path, float] | float] = {}
    for path, value in values.items():
        if len(path) == 1:
            here[path[0]] = value
        else:
            inner = here.setdefault(path[0], {})
            if isinstance(inner, dict):
                inner[path[1:]] = value

    def new(old: Any, change: dict[Path, float] | float) -> Any:
        if type(old) is Soil:
            parts = parts_of(old)
            whole = {(0,): change} if not isinstance(change, dict) else change
            return soil_of([whole.get((k,), part) for k, part in enumerate(parts)])
        return with_values(old, change) if isinstance(change, dict) else change

    if isinstance(item, BaseModel):
        names = {info.alias or name: name for name, info in type(item).model_fields.items()}
        update = {
            names[str(key)]: new(getattr(item, names[str(key)]), c) for key, c in here.items()
        }
        return item.model_copy(update=update)
    if isinstance(item, Mapping):
        return {**item, **{key: new(item[key], change) for key, change in here.items()}}
    found = list(item)
    for key, change in here.items():
        found[int(key)] = new(found[int(key)], change)
    return found
