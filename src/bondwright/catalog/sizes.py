"""Conductor sizes by name: AWG, kcmil and mm2.

A size is a name in a table, not a quantity: "3/0 AWG" has exactly 167,800 circular mils because
NEC chapter 9 table 8 says so. Areas are therefore never recomputed from a formula, and all
comparisons of the rule tables use those figures.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, lru_cache
from typing import Final

from bondwright.catalog._data import read_table
from bondwright.units import CIRCULAR_MIL, MAX_TEXT, UnitError

MAX_SETS: Final = 99
"""Most parallel sets taken as meant; more is read as a slip of the pen."""
_EQUAL: Final = 1e-9
_MANY: Final = 999


class Material(StrEnum):
    """The metal of a conductor."""

    CU = "Cu"
    AL = "Al"

    @classmethod
    def parse(cls, text: str) -> Material:
        """Read a metal as people write it: Cu, copper, Al, aluminum, aluminium, in any case.

        Raises:
            UnitError: another metal, or no metal.
        """
        word = text.strip().casefold()
        if (found := _MATERIALS.get(word)) is not None:
            return found
        if word in {"cca", "cu-clad al", "copper-clad aluminum", "copper-clad aluminium"}:
            problem = "copper-clad aluminium has no resistance data here"
            raise UnitError(text, problem, "write 'Cu' or 'Al'")
        close = _closest(word, tuple(_MATERIALS), count=1)
        hint = f"did you mean {_MATERIALS[close[0]].value!r}?" if close else "write 'Cu' or 'Al'"
        raise UnitError(text, "is not a conductor metal known here", hint)


_MATERIALS: Final = {
    "cu": Material.CU,
    "copper": Material.CU,
    "al": Material.AL,
    "alu": Material.AL,
    "aluminum": Material.AL,
    "aluminium": Material.AL,
}


@dataclass(frozen=True, slots=True)
class Size:
    """A conductor size. Sizes order by area.

    Attributes:
        name: canonical spelling: "14 AWG", "1/0 AWG", "250 kcmil", "70 mm2".
        area_cmil: cross-section in circular mils (nominal area for mm2 sizes).
    """

    name: str
    area_cmil: float

    @property
    def area_m2(self) -> float:
        """Cross-section, m2."""
        return self.area_cmil * CIRCULAR_MIL

    @property
    def area_mm2(self) -> float:
        """Cross-section, mm2."""
        return self.area_cmil * CIRCULAR_MIL * 1e6

    @property
    def is_metric(self) -> bool:
        """True for a mm2 size."""
        return self.name.endswith("mm2")

    def __str__(self) -> str:
        return self.name

    def __lt__(self, other: Size) -> bool:
        return (self.area_cmil, self.name) < (other.area_cmil, other.name)

    def __le__(self, other: Size) -> bool:
        return (self.area_cmil, self.name) <= (other.area_cmil, other.name)

    def __gt__(self, other: Size) -> bool:
        return (self.area_cmil, self.name) > (other.area_cmil, other.name)

    def __ge__(self, other: Size) -> bool:
        return (self.area_cmil, self.name) >= (other.area_cmil, other.name)

    @classmethod
    def parse(cls, text: str) -> Size:
        """Read a size as people write it.

        "3/0 AWG", "3/0", "0000", "#4", "No. 4 AWG", "500 kcmil", "500 MCM", "70 mm2", "70mm²".
        A bare number ("4") is refused: it may be a gauge or square millimetres.

        Raises:
            UnitError: not a size, or not one that is made; the hint names the nearest.
        """
        return _parse_size(text)


@dataclass(frozen=True, slots=True)
class Conductor:
    """One conductor, or a number of equal ones in parallel.

    Attributes:
        size: size of each.
        material: metal of each.
        sets: how many in parallel.
    """

    size: Size
    material: Material
    sets: int = 1

    def __post_init__(self) -> None:
        if not 1 <= self.sets <= MAX_SETS:
            problem = f"{self.sets} parallel sets is not possible"
            raise UnitError(str(self.size), problem, f"give 1 to {MAX_SETS} sets")

    @property
    def area_cmil(self) -> float:
        """Area of one conductor, circular mils."""
        return self.size.area_cmil

    @property
    def total_area_cmil(self) -> float:
        """Area of all sets together, circular mils."""
        return self.size.area_cmil * self.sets

    def __str__(self) -> str:
        one = f"{self.size} {self.material.value}"
        return one if self.sets == 1 else f"{self.sets} x {one}"

    @classmethod
    def parse(cls, text: str, default_material: Material | None = None) -> Conductor:
        """Read a conductor: "4 AWG Al", "2 x 500 kcmil Cu", "2 sets of 500 kcmil copper".

        Args:
            text: sets (optional), size, metal.
            default_material: taken when the text names no metal; None refuses such a text.

        Raises:
            UnitError: unreadable, no such size, or no metal.
        """
        if len(text) > MAX_TEXT:
            raise UnitError(text, "is too long for a conductor", "write it like '4 AWG Cu'")
        rest, sets = text.strip(), 1
        if match := _SETS.match(rest):
            sets, rest = int(match["plain"] or match["round"]), rest[match.end() :].strip()
            if not 1 <= sets <= MAX_SETS:
                problem = f"{sets} parallel sets is not possible"
                raise UnitError(text, problem, f"give 1 to {MAX_SETS} sets")
        material = default_material
        if match := _METAL.search(rest):
            before, word = rest[: match.start()].strip(), match["metal"]
            if word.casefold() in _MATERIALS or _is_size(before):
                try:
                    material, rest = Material.parse(word), before
                except UnitError as error:
                    raise UnitError(text, f"{word!r} {error.problem}", error.hint) from None
        try:
            size = Size.parse(rest)
        except UnitError as error:
            raise UnitError(text, error.problem, error.hint) from None
        if material is None:
            hint = f"write '{text.strip()} Cu' or '{text.strip()} Al'"
            raise UnitError(text, "does not say which metal", hint)
        return cls(size, material, sets)


_SETS: Final = re.compile(
    r"(?:(?P<plain>[0-9]{1,6})\s*(?:[x×*]|sets?\s+of|parallel\s+sets?\s+of|parallel)"
    r"|\((?P<round>[0-9]{1,6})\))\s*(?=\S)",
    re.IGNORECASE,
)
# A last word that is not part of a size spelling is the metal, rightly spelt or not.
_METAL: Final = re.compile(
    r"(?<=[0-9\s²])(?!(?:awg|kcmil|mcm|mm2|mm²|mm\^2|sqmm|mm|ga|gauge)\b)"
    r"(?P<metal>(?:copper-clad\s+)?[a-z]{2,}(?:-clad\s+[a-z]+)?)$",
    re.IGNORECASE,
)


@cache
def standard_sizes() -> tuple[Size, ...]:
    """Return the AWG and kcmil sizes of NEC chapter 9 table 8, 18 AWG to 2000 kcmil, ascending."""
    found: dict[str, Size] = {}
    for row in read_table("chapter9_table8.csv").rows:
        found.setdefault(row["size"], Size(row["size"], float(row["circular_mils"])))
    return tuple(sorted(found.values()))


@cache
def metric_sizes() -> tuple[Size, ...]:
    """Return the nominal sizes of IEC 60228, 0.5 mm2 to 1200 mm2, ascending."""
    rows = read_table("iec60228.csv").rows
    return tuple(sorted(_metric(row["size"]) for row in rows))


def _metric(name: str) -> Size:
    return Size(name, float(name.removesuffix(" mm2")) * 1e-6 / CIRCULAR_MIL)


@cache
def _by_name() -> dict[str, Size]:
    return {size.name: size for size in (*standard_sizes(), *metric_sizes())}


def limit_size(name: str) -> Size:
    """Return a size that stands as a limit in a table and need not be one that is made.

    Args:
        name: a canonical size name, or any number of kcmil ("1100 kcmil").

    Raises:
        UnitError: neither of the two.
    """
    if (known := _by_name().get(name)) is not None:
        return known
    if match := re.fullmatch(r"([0-9]+) kcmil", name):
        return Size(name, 1000.0 * int(match[1]))
    return Size.parse(name)


def next_size_up(area_cmil: float, minimum: Size | None = None) -> Size:
    """Return the smallest AWG or kcmil size of at least an area.

    Rounds up, never to the nearest. The table's areas decide, and they can be very close: lines
    enlarged from 2 AWG to 1/0 AWG ask a 6 AWG equipment grounding conductor to grow to
    26,240 x 105,600 / 66,360 = 41,756 cmil; 4 AWG has 41,740 cmil, 16 too few, so the answer is
    3 AWG. Only a difference within 1e-9 of the area, which is rounding, counts as equal.

    Args:
        area_cmil: least area, circular mils.
        minimum: least size, or None.

    Raises:
        UnitError: not a positive number, or more than the largest size (2000 kcmil).
    """
    if not math.isfinite(area_cmil) or area_cmil <= 0:
        raise UnitError(f"{area_cmil} cmil", "is not a conductor area", "give a positive area")
    least = max(area_cmil, minimum.area_cmil if minimum else 0.0)
    for size in standard_sizes():
        if size.area_cmil >= least * (1 - _EQUAL):
            return size
    largest = standard_sizes()[-1]
    raise UnitError(
        f"{least / 1000:.6g} kcmil",
        f"is more than the largest standard size, {largest}",
        "use conductors in parallel",
    )


# --- reading -------------------------------------------------------------------------------

_GAUGE: Final = re.compile(
    r"(?P<hash>#|no\.?|number)?\s*"
    r"(?:(?P<aught>[0-9]+)\s*/\s*0|(?P<zeros>0{1,4})|(?P<number>[0-9]+(?:\.[0-9]+)?))"
    r"\s*-?\s*(?P<awg>awg|ga\.?|gauge)?"
)
_KCMIL: Final = re.compile(r"(?P<number>[0-9][0-9,]*(?:\.[0-9]+)?)\s*-?\s*(?:kcmil|mcm)")
_MM2: Final = re.compile(r"(?P<number>[0-9]+(?:\.[0-9]+)?)\s*(?:mm\s?\^?2|sq\.?\s?mm|mm\s?sq\.?)")


@lru_cache(maxsize=4096)
def _parse_size(text: str) -> Size:
    if len(text) > MAX_TEXT:
        raise UnitError(text, "is too long for a conductor size", "write it like '3/0 AWG'")
    plain = " ".join(text.replace("²", "2").split()).casefold()
    if not plain:
        raise UnitError(text, "is no conductor size", "write it like '3/0 AWG' or '500 kcmil'")
    if (size := _read(plain, text)) is not None:
        return size
    # O for 0 and l or I for 1 look the same in many typefaces; say so instead of guessing.
    digits = re.sub(r"(?<=[0-9/])o|(?<![a-z])o(?=[o0/ ])", "0", plain)
    digits = re.sub(r"(?<![a-z])[li](?=[0-9/])", "1", digits)
    if digits != plain:
        try:
            meant = _read(digits, text)
        except UnitError:
            meant = None
        if meant is not None:
            hint = f"did you mean {meant.name!r} (digits, not letters)?"
            raise UnitError(text, "has a letter where a digit belongs", hint)
    if re.fullmatch(r"[0-9]+\s*[/-]\s*[1-9]", plain):
        hint = f"for one wire of it write '{re.split('[/-]', plain)[0].strip()} AWG'"
        raise UnitError(text, "reads like a cable, not a conductor size", hint)
    words = plain.rpartition(" ")
    if words[2] in _MATERIALS and _is_size(words[0]):
        hint = f"write {_parse_size(words[0]).name!r}"
        raise UnitError(text, "names a metal where only a size belongs", hint)
    close = _closest(plain, tuple(_by_name()), count=2)
    hint = "write it like '3/0 AWG', '500 kcmil' or '70 mm2'"
    if close:
        hint = f"did you mean {' or '.join(repr(name) for name in close)}?"
    raise UnitError(text, "is not a conductor size", hint)


def _is_size(text: str) -> bool:
    try:
        _parse_size(text)
    except UnitError:
        return False
    return True


def _read(plain: str, text: str) -> Size | None:
    """Read a normalised spelling; None if it has not the form of a size."""
    if match := _KCMIL.fullmatch(plain):
        number = float(match["number"].replace(",", ""))
        return _made(text, f"{number:.10g} kcmil", 1000 * number, standard_sizes())
    if match := _MM2.fullmatch(plain):
        number = float(match["number"])
        return _made(text, f"{number:.10g} mm2", number * 1e-6 / CIRCULAR_MIL, metric_sizes())
    if (match := _GAUGE.fullmatch(plain)) is None:
        return None
    if match["aught"]:
        aughts = min(int(match["aught"]), _MANY)
        return _made_gauge(text, f"{aughts}/0 AWG", 1.0 - aughts)
    if match["zeros"]:
        aughts = len(match["zeros"])
        if aughts == 1 and not (match["awg"] or match["hash"]):
            raise UnitError(text, "has no unit", "write '1/0 AWG'")
        return _made_gauge(text, f"{aughts}/0 AWG", 1.0 - aughts)
    number = float(match["number"])
    if not (match["awg"] or match["hash"]):
        raise _bare(text, number)
    return _made_gauge(text, f"{number:.10g} AWG", number)


def _bare(text: str, number: float) -> UnitError:
    awg, kcmil, metric = f"{number:.10g} AWG", f"{number:.10g} kcmil", f"{number:.10g} mm2"
    choices = [repr(name) for name in (awg, kcmil, metric) if name in _by_name()]
    hint = " or ".join(choices) if choices else "'3/0 AWG', '500 kcmil' or '70 mm2'"
    return UnitError(text, "has no unit", f"write {hint}")


def _made(text: str, name: str, area_cmil: float, among: tuple[Size, ...]) -> Size:
    if (size := _by_name().get(name)) is not None:
        return size
    return _refuse(text, [size.area_cmil for size in among], area_cmil, among)


def _made_gauge(text: str, name: str, gauge: float) -> Size:
    if (size := _by_name().get(name)) is not None:
        return size
    sizes = standard_sizes()
    return _refuse(text, [-_gauge_number(size.name) for size in sizes], -gauge, sizes)


def _gauge_number(name: str) -> float:
    if name.endswith("kcmil"):
        return -math.inf  # kcmil begins where the gauge numbers end
    number = name.removesuffix(" AWG")
    return 1.0 - int(number.removesuffix("/0")) if number.endswith("/0") else float(number)


def _refuse(text: str, keys: list[float], key: float, among: tuple[Size, ...]) -> Size:
    """Raise naming the neighbours of ``key`` in the ascending ``keys``."""
    above = next((i for i, own in enumerate(keys) if own >= key), len(keys))
    names = [among[i].name for i in (above - 1, above) if 0 <= i < len(among)]
    exact = above < len(keys) and math.isclose(keys[above], key, rel_tol=_EQUAL)
    if exact:
        raise UnitError(text, "is not how that size is named", f"write {among[above].name!r}")
    which = "nearest are" if len(names) == 2 else "nearest is"
    raise UnitError(text, "no such size", f"{which} {' and '.join(names)}")


def _closest(word: str, choices: tuple[str, ...], count: int) -> tuple[str, ...]:
    from rapidfuzz import fuzz, process, utils  # only a wrong spelling needs it

    found = process.extract(
        word, choices, scorer=fuzz.ratio, processor=utils.default_process, limit=count,
        score_cutoff=60,
    )  # fmt: skip
    return tuple(name for name, _, _ in found)
