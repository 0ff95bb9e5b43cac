"""What a person who bridges two things takes: body, shoes and ground in the fault circuit.

The voltage between two things before anybody touches them is not yet what a body takes: the
source behind it has an impedance, and shoes and ground lie in series. All of that is counted
here, and the body itself conducts better the more voltage it bears. A small answer is no leave to
touch anything: shoes get wet, and the impedance of the source may be less than was thought.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Literal

from bondwright.catalog.person_data import person_data
from bondwright.catalog.safety_data import body_data
from bondwright.catalog.sources import Source
from bondwright.safety.touch import (
    PERCENTILES,
    Footing,
    TouchWord,
    body_impedance,
    fibrillation_current,
)
from bondwright.safety.zones import Zone, zone
from bondwright.units import Dimension, show

_STEPS: Final = 200


class BodyPath(StrEnum):
    """A way through the body."""

    HAND_TO_HAND = "hand to hand"
    HAND_TO_FEET = "hand to feet"
    BOTH_HANDS_TO_FEET = "both hands to feet"


class SkinState(StrEnum):
    """What the skin at the contacts is wetted with."""

    DRY = "dry"
    WET = "wet"
    SALT = "salt"
    """Salt water, sweat, milk: anything that conducts well."""


@dataclass(frozen=True, slots=True)
class Person:
    """A person and what lies in series with the body.

    Attributes:
        path: way through the body; the hand is taken to be the left one.
        percentile: share of people whose impedance is not more, %; 5 gives the most current.
        skin: state of the skin at the contacts.
        shoes_ohm: resistance of both shoes side by side, or of gloves, ohm; nothing is taken
            for granted.
        footing: ground under the feet; None on metal or where no feet are in the path.

    Raises:
        ValueError: another percentile, a negative resistance, or a footing without feet.
    """

    path: BodyPath = BodyPath.HAND_TO_FEET
    percentile: Literal[5, 50, 95] = 5
    skin: SkinState = SkinState.DRY
    shoes_ohm: float = 0.0
    footing: Footing | None = None

    def __post_init__(self) -> None:
        if self.percentile not in PERCENTILES:
            raise ValueError(f"no values are held for {self.percentile} %; give 5, 50 or 95")
        if not 0 <= self.shoes_ohm < math.inf:
            raise ValueError(f"shoes of {self.shoes_ohm} ohm are not possible; give zero or more")
        if self.path is BodyPath.HAND_TO_HAND and self.footing is not None:
            raise ValueError("no feet are in the path from hand to hand; leave the footing out")

    @property
    def series_ohm(self) -> float:
        """Resistance in series with the body, ohm."""
        return self.shoes_ohm + (self.footing.feet_ohm if self.footing else 0.0)

    def impedance(self, body_v: float) -> float:
        """Return the impedance of the body alone on its path [ohm].

        Args:
            body_v: voltage across the body, r.m.s., V.

        Raises:
            ValueError: a voltage that is negative or not finite.
        """
        data = person_data()
        column = PERCENTILES.index(self.percentile)
        bare = body_data().impedance["2005"].asymptote_ohm[column]
        skin = data.skin_factor[self.skin.value] * body_impedance(body_v, self.percentile)
        return data.paths[self.path.value].share * max(skin, bare)


@dataclass(frozen=True, slots=True)
class TouchAssessment:
    """What a person takes who bridges a voltage.

    Attributes:
        open_v: voltage before the touch [V].
        touch_v: voltage while touching, shoes and ground included [V].
        body_v: voltage across the body alone [V].
        current_a: current through the body [A].
        heart_a: current from left hand to feet of the same danger to the heart [A].
        limit_a: heart current below which fibrillation is not expected for that time [A].
        time_s: how long it lasts [s]; infinity if nothing opens.
        zone: zone of current and time.
        can_let_go: whether a hand can open.
        verdict: "bearable" up to the limit, "dangerous" above it, and where a hand cannot let go
            for longer than the published zones reach.
        because: why, in words.
        sources: where the numbers come from.
    """

    open_v: float
    touch_v: float
    body_v: float
    current_a: float
    heart_a: float
    limit_a: float
    time_s: float
    zone: Zone
    can_let_go: bool
    verdict: TouchWord
    because: str
    sources: tuple[Source, ...]


def touch_assessment(
    open_circuit_v: float, source_ohm: complex, time_s: float, person: Person | None = None
) -> TouchAssessment:
    """Judge what a person takes through the source behind a touch voltage.

    ``I = U0 / |Zs + R + Zb(Ub)|`` with the body impedance Zb at its own voltage Ub (Thevenin).

    Args:
        open_circuit_v: voltage between the two things before the touch, r.m.s., V.
        source_ohm: impedance of the circuit seen between them, ohm.
        time_s: how long the voltage lasts, s; infinity if nothing opens.
        person: the person; None for one with dry skin, bare feet on metal, the 5 % impedance.

    Returns:
        Currents, voltages, zone and verdict.

    Raises:
        ValueError: an impossible voltage, impedance or time.
    """
    who = person or Person()
    if not 0 <= open_circuit_v < math.inf:
        raise ValueError(f"a voltage of {open_circuit_v} V is not possible; give its magnitude")
    source = complex(source_ohm)
    if not (math.isfinite(abs(source)) and source.real >= 0):
        raise ValueError(
            f"a source of {source_ohm} ohm is not possible; its resistance is negative"
        )
    series = source + who.series_ohm

    def needed(body_v: float) -> float:
        ohm = who.impedance(body_v)
        return body_v / ohm * abs(series + ohm)

    body_v = _rising(needed, open_circuit_v)
    current = body_v / who.impedance(body_v)
    data = person_data()
    path = data.paths[who.path.value]
    found = zone(current, time_s, path.heart)
    limit = fibrillation_current(time_s)
    held = time_s > data.figure_ends_s and not found.can_let_go
    word: TouchWord = "dangerous" if found.zone is Zone.AC_4 or held else "bearable"
    amount = show(current, Dimension.CURRENT)
    if math.isinf(time_s):
        amount += " for as long as it is held: nothing opens"
    else:
        amount += f" for {show(time_s, Dimension.TIME)}"
    return TouchAssessment(
        open_v=open_circuit_v,
        touch_v=current * (who.impedance(body_v) + who.series_ohm),
        body_v=body_v,
        current_a=current,
        heart_a=found.heart_a,
        limit_a=limit,
        time_s=time_s,
        zone=found.zone,
        can_let_go=found.can_let_go,
        verdict=word,
        because=f"{amount}, {who.path.value}, {who.skin.value} skin: {found.zone.words}",
        sources=(
            *found.sources,
            body_data().impedance["2005"].source,
            data.sources["paths"],
            data.sources["wet_skin"],
        ),
    )


def _rising(value: Callable[[float], float], target: float) -> float:
    """Return where a rising function reaches a target, between zero and the target itself."""
    low, high = 0.0, target
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if value(middle) < target else (low, middle)
    return high
