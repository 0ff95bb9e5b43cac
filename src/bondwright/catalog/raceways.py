"""Raceway dimensions: NEC chapter 9 table 4 inside, product standards outside."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from typing import Final

from bondwright.catalog._data import read_table
from bondwright.catalog.sources import Source
from bondwright.units import INCH, Dimension, UnitError, parse


class RacewayKind(StrEnum):
    """Kinds of round raceway."""

    EMT = "emt"
    IMC = "imc"
    RMC = "rmc"
    RMC_AL = "rmc-al"
    PVC = "pvc"
    PVC80 = "pvc-80"

    @property
    def is_metal(self) -> bool:
        """True if the wall conducts."""
        return self not in {RacewayKind.PVC, RacewayKind.PVC80}

    @property
    def is_magnetic(self) -> bool:
        """True if the wall is steel. EMT is taken as steel, by far the commonest."""
        return self in {RacewayKind.EMT, RacewayKind.IMC, RacewayKind.RMC}


@dataclass(frozen=True, slots=True)
class RacewayDimensions:
    """One raceway.

    Attributes:
        kind: which kind.
        trade_size: such as "1-1/4 in"; a name, not a measure.
        inside_m: inside diameter, m.
        outside_m: outside diameter, m.
        metal_area_m2: cross-section of the conducting wall, m2; 0 for plastic.
        source: of the diameters.
    """

    kind: RacewayKind
    trade_size: str
    inside_m: float
    outside_m: float
    metal_area_m2: float
    source: Source


_QUOTES: Final = re.compile(r"\s*(?:\"|”|″|in\.?|inch(?:es)?)\s*$", re.IGNORECASE)


@cache
def dimensions(kind: RacewayKind, trade_size: str) -> RacewayDimensions:
    """Return the dimensions of a raceway.

    Args:
        kind: kind of raceway.
        trade_size: "2 in", "1-1/4 in", "1 1/4 in" or "1.25 in".

    Raises:
        UnitError: no unit, or no such trade size of that kind; the hint names the nearest.
    """
    try:
        inches = parse(_QUOTES.sub(" in", trade_size), Dimension.LENGTH) / INCH
    except UnitError as error:
        hint = "write it like '2 in' or '1-1/4 in'"
        raise UnitError(trade_size, error.problem, hint) from None
    known = _known()[kind]
    for value, found in known.items():
        if math.isclose(value, inches, rel_tol=1e-6):
            return found
    nearest = min(known, key=lambda value: abs(value - inches))
    raise UnitError(
        trade_size,
        f"no such trade size of {kind.value}",
        f"nearest is {known[nearest].trade_size}",
    )


def trade_sizes(kind: RacewayKind) -> tuple[str, ...]:
    """Return the trade sizes of a kind, ascending ("1/2 in", ...)."""
    return tuple(found.trade_size for found in _known()[kind].values())


@cache
def _known() -> Mapping[RacewayKind, Mapping[float, RacewayDimensions]]:
    table = read_table("raceway_dimensions.csv")
    known: dict[RacewayKind, dict[float, RacewayDimensions]] = {kind: {} for kind in RacewayKind}
    for row in table.rows:
        kind, name = RacewayKind(row["kind"]), f"{row['trade_size']} in"
        inside, outside = float(row["inside_in"]) * INCH, float(row["outside_in"]) * INCH
        metal = math.pi / 4 * (outside**2 - inside**2) if kind.is_metal else 0.0
        known[kind][parse(name, Dimension.LENGTH) / INCH] = RacewayDimensions(
            kind, name, inside, outside, metal, table.source(row["status"], row["note"])
        )
    return known
