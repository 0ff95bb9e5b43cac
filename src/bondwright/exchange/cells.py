"""What one cell of a panel schedule says."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from bondwright.catalog.sizes import Conductor
from bondwright.units import Dimension, UnitError, parse

MAX_NUMBER: Final = 200
"""Highest circuit number taken; more is a load or a year."""


class CellError(ValueError):
    """A cell that isn't understood; its text is a clause."""


@dataclass(frozen=True, slots=True)
class DeviceCell:
    """A device: amperes, poles where the cell says them, and whatever else it says."""

    amps: float
    poles: int | None
    words: str


@dataclass(frozen=True, slots=True)
class WireCell:
    """Conductors as a cell gives them.

    Attributes:
        size: of a line, its metal perhaps not said: ``"12 AWG"``, ``"4/0 AWG Al"``; "" for none.
        count: how many besides the ground wire, None where it isn't said.
        ground: size of the ground wire in the same way; "" where none is told.
        raceway: the part about a raceway, as written.
    """

    size: str = ""
    count: int | None = None
    ground: str = ""
    raceway: str = ""


_DITTO: Final = re.compile(
    r"[\s\"'\u201d\u3003|\u2193\u2502.,~*<^-]*|do|ditto|same|cont(inued|\.)?", re.I
)


def is_ditto(text: str) -> bool:
    """Tell whether a cell is empty or only says that it goes on from the one above."""
    return _DITTO.fullmatch(text) is not None


def circuit_numbers(text: str) -> tuple[int, ...] | None:
    """Return the positions that a cell names (``"1"``, ``"1,3"``, ``"2/4/6"``, ``"1-3-5"``).

    ``"1-5"`` and ``"1-3"`` name every second position from one to the other, as they lie in a
    panel; ``"1-2"`` both.

    Returns:
        Them, or None where the cell names none.
    """
    plain = re.sub(r"^(ckt|cct|circuit|no)\b\.?", "", text.strip().lower()).strip(" #.")
    if not re.fullmatch(r"\d{1,3}(\s*[,/&+;-]\s*\d{1,3}|\s+\d{1,3})*", plain):
        return None
    numbers = tuple(int(n) for n in re.findall(r"\d+", plain))
    if len(numbers) == 2 and re.fullmatch(r"\d+\s*-\s*\d+", plain):
        first, last = numbers
        step = 2 if (last - first) % 2 == 0 else 1
        numbers = tuple(range(first, last + 1, step)) if first < last <= first + 4 else numbers
    if any(not 1 <= n <= MAX_NUMBER for n in numbers) or list(numbers) != sorted(set(numbers)):
        return None
    return numbers


_DEVICE: Final = (
    # "20/2", "20A/2P", "20A-2P", "20 2P", "20A 2 pole"
    re.compile(
        r"(?P<amps>\d+(\.\d+)?)\s*(a|amps?)?\s*([/x,-]|\s)\s*(?P<poles>[1-4])\s*(p|poles?)?"
        r"(?P<words>(?![\w.]).*)",
        re.I,
    ),
    # "2P20", "2P-20A", "2 pole 20 A"
    re.compile(
        r"(?P<poles>[1-4])\s*(p|poles?)\s*[/x,-]?\s*(?P<amps>\d+(\.\d+)?)\s*(a|amps?)?"
        r"(?P<words>(?![\w.]).*)",
        re.I,
    ),
    re.compile(r"(?P<amps>\d+(\.\d+)?)\s*(a|amps?)?(?P<words>(?![\w./]).*)", re.I),
)


def device(text: str) -> DeviceCell | None:
    """Return the device that a cell describes, or None where it describes none.

    Raises:
        CellError: its amperes are none that a device has.
    """
    for pattern in _DEVICE:
        if match := pattern.fullmatch(text.strip()):
            amps = float(match["amps"])
            if not 1 <= amps <= 6000:
                raise CellError(f"no device has {match['amps']} A")
            poles = match.groupdict().get("poles")
            return DeviceCell(amps, int(poles) if poles else None, match["words"].strip(" ,/-"))
    return None


_SI: Final = {"kva": 1e3, "kw": 1e3, "va": 1.0, "w": 1.0, "watts": 1.0}


def power(text: str, unit: str = "") -> float | None:
    """Return the volt-amperes that a cell gives; None where it is empty, a dash or zero.

    Args:
        text: of the cell.
        unit: of its column; without one a bare number is volt-amperes (common practice).

    Raises:
        CellError: it is no power.
    """
    plain = text.strip().lower()
    if is_ditto(plain):
        return None
    match = re.fullmatch(r"(\d[\d,]*(?:\.\d+)?|\.\d+)\s*(kva|kw|va|w|watts)?", plain)
    if match is None:
        raise CellError(f"'{text}' is no load in VA")
    value = float(match[1].replace(",", "")) * _SI[match[2] or unit or "va"]
    return value or None


def length(text: str, unit: str = "") -> float | None:
    """Return the metres that a cell gives; None where it is empty or a dash.

    Raises:
        CellError: it is no length, or no unit is said in it or in the heading.
    """
    if is_ditto(text):
        return None
    bare = re.fullmatch(r"\d+(\.\d+)?", text.strip())
    if bare and not unit:
        raise CellError(f"the length '{text}' has no unit: head the column 'length (ft)' or '(m)'")
    try:
        return parse(f"{text} {unit}" if bare else text, Dimension.LENGTH)
    except UnitError as error:
        raise CellError(f"'{text}' is no length") from error


def lines_named(text: str) -> tuple[str, ...]:
    """Return the lines that a cell names (``"L1-L3"``, ``"A,C"``, ``"ab"``), or none."""
    plain = re.sub(r"[\s,/&+-]+", "", text.upper())
    match = re.fullmatch(r"((L[123])+|[ABC]+)N?", plain)
    if match is None:
        return ()
    names = re.findall(r"L[123]|[ABC]", match[1])
    found = {f"L{'ABC'.index(n) + 1}" if n in "ABC" else n for n in names}
    return tuple(sorted(found)) if len(found) == len(names) else ()


_RACEWAY: Final = re.compile(
    r"""\d[\d/\s-]*\s*("|''|\u201d|in\.?|inch|mm)?\s*(c|emt|pvc|rmc|imc|grc|conduit|fmc|lfmc|ent|cnd)\b.*"""
    r"""|\d[\d/\s-]*("|''|\u201d)""",
    re.I,
)
_GROUND: Final = re.compile(r"\b(g|gnd|grd|egc|ground|cpc|pe)\b|(?<=\d)(g|gnd|grd)\b", re.I)
_METAL: Final = re.compile(r"\b(cu|copper|al|aluminum|aluminium)\b", re.I)
_SIZE: Final = re.compile(
    r"(?:\(?(?P<count>[1-9])\)?\s*(?:[#x-]\s*#?|no\.?\s*)|#\s*|no\.?\s*)?"
    r"(?P<size>\d+/0|\d+(?:\.\d+)?)\s*(?P<unit>awg|kcmil|mcm|mm2|mm\u00b2)?",
    re.I,
)
_CABLE: Final = re.compile(r"(?P<size>\d{1,2})\s*[/-]\s*(?P<count>[234])\b(?!/)", re.I)


def wire(text: str) -> WireCell:
    """Return the conductors that a cell gives.

    Such as ``"2#12, 1#12G, 3/4C"``, ``"12/2 NM"`` or ``"#10 Cu"``.

    Raises:
        CellError: a part of it is no conductor that there is.
    """
    size, count, ground, raceway = "", None, "", ""
    for part in re.split(r"[,;+&]|\band\b|\bw/|\bin\b", text):
        plain = part.strip()
        if is_ditto(plain):
            continue
        if _RACEWAY.fullmatch(plain) and size:
            raceway = plain
        elif _GROUND.search(plain):
            if re.search(r"\d", plain):
                ground = _conductor(_GROUND.sub("", plain), text)[0]
        elif not size:
            size, count = _conductor(plain, text)
        else:
            raise CellError(f"'{plain}' in '{text}' is not understood")
    return WireCell(size, count, ground, raceway)


def _conductor(part: str, text: str) -> tuple[str, int | None]:
    metal = _METAL.search(part)
    plain = _METAL.sub("", part).strip()
    bare = re.sub(
        r"\b(nm(-b)?|mc|ac|thhn|thwn(-2)?|xhhw(-2)?|use|ser|uf(-b)?|tc)\b", "", plain, flags=re.I
    )
    bare = bare.strip(" /-")
    match = _CABLE.fullmatch(bare) or _SIZE.fullmatch(bare)
    if match is None:
        raise CellError(
            f"'{part.strip()}' in '{text}' is no conductor"
            if part.strip() != text
            else f"'{text}' is no conductor"
        )
    unit = (match.groupdict().get("unit") or "").lower().replace("mcm", "kcmil")
    if not unit:
        unit = "kcmil" if "/" not in match["size"] and float(match["size"]) >= 250 else "AWG"
    name = f"{match['size']} {unit.upper() if unit == 'awg' else unit}"
    word = {"c": "Cu", "a": "Al"}[metal[0][0].lower()] if metal else ""
    try:
        Conductor.parse(f"{name} {word or 'Cu'}")
    except UnitError as error:
        raise CellError(f"'{text}': {name} {error.problem}") from error
    count = match.groupdict().get("count")
    return f"{name} {word}".strip(), int(count) if count else None
