"""Touch voltage: how much for how long, by the published limits.

A voltage within a limit is not safe to touch. The limits say what most people survive; they
serve to judge an installation on paper, never to decide that a part may be handled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Final, Literal

from bondwright.catalog.safety_data import body_data
from bondwright.catalog.sources import CatalogError, Source

TouchWord = Literal["bearable", "dangerous"]
Weight = Literal[50, 70]


class Skin(StrEnum):
    """State of skin and floor, as the conventional limits take it."""

    DRY = "dry"
    WET = "wet"


@dataclass(frozen=True, slots=True)
class Footing:
    """Ground under the feet, with a surface layer (gravel, say) or without.

    Attributes:
        soil_ohm_m: resistivity of the soil, ohm m.
        surface_ohm_m: resistivity of the surface layer, ohm m; None without a layer.
        depth_m: thickness of the layer, m.

    Raises:
        ValueError: a number that is not positive.
    """

    soil_ohm_m: float
    surface_ohm_m: float | None = None
    depth_m: float = 0.1

    def __post_init__(self) -> None:
        for value in (self.soil_ohm_m, self.surface_ohm_m, self.depth_m):
            if value is not None and not 0 < value < math.inf:
                raise ValueError(f"{value} in a footing is not possible; give a positive number")

    @property
    def layer_factor(self) -> float:
        """Surface layer derating factor Cs, IEEE Std 80 (1 without a layer)."""
        if self.surface_ohm_m is None:
            return 1.0
        depth = body_data().cs_depth_m
        contrast = 1 - self.soil_ohm_m / self.surface_ohm_m
        return 1 - depth * contrast / (2 * self.depth_m + depth)

    @property
    def feet_ohm(self) -> float:
        """Resistance of both feet side by side on this ground, ohm."""
        surface = self.soil_ohm_m if self.surface_ohm_m is None else self.surface_ohm_m
        return body_data().foot_factor * self.layer_factor * surface


@dataclass(frozen=True, slots=True)
class TouchVerdict:
    """A touch voltage against its limit.

    Attributes:
        voltage_v: the touch voltage [V].
        time_s: how long it lasts [s]; infinity if nothing opens.
        limit_v: the limit for that time [V].
        verdict: "bearable" up to the limit, "dangerous" above.
        condition: what the limit takes for granted, for people.
        source: where the limit comes from.
    """

    voltage_v: float
    time_s: float
    limit_v: float
    verdict: TouchWord
    condition: str
    source: Source


def touch_limit(time_s: float, condition: Skin | Literal["dry", "wet"] = Skin.DRY) -> float:
    """Return the conventional touch voltage limit for a time [V].

    Rows of the curve are joined straight on log-log scales. Beyond the curve's longest time the
    conventional long-time limit holds; below its shortest time the limit does not grow further.

    Args:
        time_s: how long the voltage lasts, s; infinity if nothing opens.
        condition: "dry" or "wet".

    Returns:
        Limit, V.

    Raises:
        ValueError: a time that is negative or not a number, or another condition.
    """
    data = body_data()
    skin = _skin(condition)
    rows = data.touch_dry if skin is Skin.DRY else data.touch_wet
    if _duration(time_s) >= rows[0][1]:
        return data.long_time_v[skin.value]
    return between(time_s, [(seconds, volts) for volts, seconds in reversed(rows)])


def touch_verdict(
    voltage_v: float, time_s: float, condition: Skin | Literal["dry", "wet"] = Skin.DRY
) -> TouchVerdict:
    """Judge a touch voltage by the conventional limits (hands to feet).

    Args:
        voltage_v: touch voltage, r.m.s., V.
        time_s: how long it lasts, s; infinity if nothing opens.
        condition: "dry" or "wet".

    Returns:
        The verdict.

    Raises:
        ValueError: a voltage or time that is negative or not a number, or another condition.
    """
    limit = touch_limit(time_s, condition)
    skin = _skin(condition)
    rows = body_data().touch_dry if skin is Skin.DRY else body_data().touch_wet
    block = "long_time" if time_s >= rows[0][1] else f"touch_{skin.value}"
    return _verdict(voltage_v, time_s, limit, f"{skin.value}, hands to feet", block)


def body_limit(time_s: float, weight_kg: Weight = 50, footing: Footing | None = None) -> float:
    """Return the touch voltage limit of IEEE Std 80 for a time [V].

    Metal to metal ``1000 k / sqrt(t)``; hand to feet ``(1000 + 1.5 Cs rho_s) k / sqrt(t)``, with
    k 0.116 for 50 kg and 0.157 for 70 kg. The formula serves from 0.03 s to 3 s: for less the
    limit stays that of 0.03 s, for more it is the conventional long-time limit on dry skin.

    Args:
        time_s: how long the voltage lasts, s; infinity if nothing opens.
        weight_kg: weight of the person, kg.
        footing: ground under the feet; None for metal to metal.

    Returns:
        Limit, V.

    Raises:
        ValueError: a time that is negative or not a number, or another weight.
    """
    data = body_data()
    current = body_current_limit(time_s, weight_kg)
    if time_s > data.longest_s:
        return data.long_time_v[Skin.DRY.value]
    return (data.body_ohm + (footing.feet_ohm if footing else 0.0)) * current


def body_current_limit(time_s: float, weight_kg: Weight = 50) -> float:
    """Return the tolerable body current of IEEE Std 80 for a time [A].

    ``k / sqrt(t)`` from 0.03 s to 3 s, level outside.

    Args:
        time_s: how long the current flows, s; infinity if nothing opens.
        weight_kg: weight of the person, kg.

    Returns:
        Current, A.

    Raises:
        ValueError: a time that is negative or not a number, or another weight.
    """
    data = body_data()
    if weight_kg not in data.k_a_s05:
        raise ValueError(f"no limit is held for {weight_kg} kg; give 50 or 70")
    time = min(max(_duration(time_s), data.shortest_s), data.longest_s)
    return data.k_a_s05[weight_kg] / math.sqrt(time)


def body_verdict(
    voltage_v: float, time_s: float, weight_kg: Weight = 50, footing: Footing | None = None
) -> TouchVerdict:
    """Judge a touch voltage by IEEE Std 80 (see :func:`body_limit`).

    Args:
        voltage_v: touch voltage, r.m.s., V.
        time_s: how long it lasts, s; infinity if nothing opens.
        weight_kg: weight of the person, kg.
        footing: ground under the feet; None for metal to metal.

    Returns:
        The verdict.

    Raises:
        ValueError: a voltage or time that is negative or not a number, or another weight.
    """
    limit = body_limit(time_s, weight_kg, footing)
    path = "hand to feet" if footing else "metal to metal"
    block = "long_time" if time_s > body_data().longest_s else "ieee_80"
    return _verdict(voltage_v, time_s, limit, f"{weight_kg} kg, {path}", block)


PERCENTILES: Final = (5, 50, 95)


def body_impedance(
    voltage_v: float,
    percentile: Literal[5, 50, 95] = 5,
    edition: Literal["1994", "2005"] = "2005",
) -> float:
    """Return the total body impedance hand to hand, large dry contacts [ohm].

    Rows are joined straight on log-log scales. Below the first voltage the impedance does not
    grow further and above the last the asymptote holds: both err towards more current.

    Args:
        voltage_v: touch voltage, r.m.s., V.
        percentile: share of people whose impedance does not exceed the value, %.
        edition: which edition of the IEC 479-1 / 60479-1 table. They differ; do not mix them.

    Returns:
        Impedance, ohm.

    Raises:
        ValueError: a voltage that is negative or not a number, or another percentile or edition.
    """
    if not 0 <= voltage_v < math.inf:
        raise ValueError(f"a voltage of {voltage_v} V is not possible; give its magnitude")
    tables = body_data().impedance
    if edition not in tables:
        raise ValueError(f"no edition {edition!r} is held; give {' or '.join(tables)}")
    if percentile not in PERCENTILES:
        raise ValueError(f"no values are held for {percentile} %; give 5, 50 or 95")
    column = PERCENTILES.index(percentile)
    table = tables[edition]
    if voltage_v > table.rows[-1][0]:
        return table.asymptote_ohm[column]
    return between(voltage_v, [(volts, ohms[column]) for volts, ohms in table.rows])


def body_current(
    voltage_v: float,
    percentile: Literal[5, 50, 95] = 5,
    edition: Literal["1994", "2005"] = "2005",
) -> float:
    """Return the current through a body, hand to hand, large dry contacts [A].

    Args:
        voltage_v: touch voltage, r.m.s., V.
        percentile: as for :func:`body_impedance`; 5 gives the greatest current.
        edition: as for :func:`body_impedance`.

    Returns:
        Current, A.

    Raises:
        ValueError: as :func:`body_impedance`.
    """
    return voltage_v / body_impedance(voltage_v, percentile, edition)


def fibrillation_current(time_s: float) -> float:
    """Return the current below which ventricular fibrillation is not expected [A].

    Curve c1 of IEC TS 60479-1, left hand to both feet; points joined straight on log-log scales,
    level before the first and after the last. Allow 10 %.

    Args:
        time_s: how long the current flows, s; infinity if nothing opens.

    Returns:
        Current, A.

    Raises:
        ValueError: a time that is negative or not a number.
    """
    return between(_duration(time_s), body_data().c1)


def heart_equivalent(current_a: float, path: str) -> float:
    """Return the current left hand to feet of the same danger to the heart [A].

    ``I_ref = F I`` with the heart-current factor F of the path, IEC TS 60479-1.

    Args:
        current_a: body current on the path, A.
        path: the path, such as "right hand to feet".

    Returns:
        Equivalent current, A.

    Raises:
        CatalogError: no factor is held for the path.
    """
    factors = body_data().heart_factor
    if path not in factors:
        raise CatalogError(path, "no heart-current factor is held", f"give one of {list(factors)}")
    return current_a * factors[path]


def _verdict(voltage: float, time: float, limit: float, condition: str, block: str) -> TouchVerdict:
    if not voltage >= 0:
        raise ValueError(f"a voltage of {voltage} V is not possible; give its magnitude")
    word: TouchWord = "bearable" if voltage <= limit else "dangerous"
    return TouchVerdict(voltage, time, limit, word, condition, body_data().sources[block])


def _skin(condition: str) -> Skin:
    try:
        return Skin(condition)
    except ValueError:
        raise ValueError(
            f"no touch limits are held for {condition!r}; give 'dry' or 'wet'"
        ) from None


def _duration(time_s: float) -> float:
    if not time_s >= 0:
        raise ValueError(f"a time of {time_s} s is not possible; give zero or more")
    return time_s


def between(x: float, rows: Sequence[tuple[float, float]]) -> float:
    """Interpolate on log-log scales, level outside.

    Args:
        x: where.
        rows: (x, y), both positive, x rising.
    """
    if x <= rows[0][0]:
        return rows[0][1]
    for (x0, y0), (x1, y1) in pairwise(rows):
        if x == x1:
            return y1
        if x < x1:
            return y0 * math.exp(math.log(y1 / y0) * math.log(x / x0) / math.log(x1 / x0))
    return rows[-1][1]
