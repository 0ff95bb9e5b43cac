"""Zones of body current and time, IEC TS 60479-1, in our own words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from bondwright.catalog.person_data import person_data
from bondwright.catalog.safety_data import body_data
from bondwright.catalog.sources import Source
from bondwright.safety.touch import between, fibrillation_current, heart_equivalent


class Zone(StrEnum):
    """What a current of 15 Hz to 100 Hz does in a time.

    The parts of AC-4 (how likely the heart fibrillates) are not told apart: the curves that part
    them are not held.
    """

    AC_1 = "AC-1"
    AC_2 = "AC-2"
    AC_3 = "AC-3"
    AC_4 = "AC-4"

    @property
    def words(self) -> str:
        """What happens in the zone."""
        return _WORDS[self]


_WORDS: Final = MappingProxyType(
    {
        Zone.AC_1: "may just be felt; a startle at most",
        Zone.AC_2: "is felt, muscles may jerk, a hand can let go; a startled person may fall",
        Zone.AC_3: "muscles cramp, a hand may not let go, breathing is hard; harm from it passes",
        Zone.AC_4: "the heart may fibrillate, breathing may stop, flesh burns: this kills",
    }
)


@dataclass(frozen=True, slots=True)
class ZoneFinding:
    """A body current and its time in their zone.

    Attributes:
        zone: the zone.
        current_a: current through the body [A].
        heart_a: current from left hand to feet of the same danger to the heart [A].
        time_s: how long it flows [s].
        can_let_go: whether a hand can open; False from zone AC-3 on.
        sources: where the curves come from.
    """

    zone: Zone
    current_a: float
    heart_a: float
    time_s: float
    can_let_go: bool
    sources: tuple[Source, ...]


def let_go_current(time_s: float) -> float:
    """Return the current up to which a hand can let go [A], curve b.

    Args:
        time_s: how long it flows, s; infinity if nothing opens.

    Raises:
        ValueError: a time that is negative or not a number.
    """
    if not time_s >= 0:
        raise ValueError(f"a time of {time_s} s is not possible; give zero or more")
    return between(time_s, person_data().let_go)


def zone(current_a: float, time_s: float, path: str = "left hand to feet") -> ZoneFinding:
    """Put a body current and its time into their zone.

    Feeling and cramp go by the current itself, the heart by its equivalent on the path.

    Args:
        current_a: current through the body, r.m.s., A.
        time_s: how long it flows, s; infinity if nothing opens.
        path: path with a heart-current factor, such as "left hand to right hand".

    Returns:
        The zone. A current on the curve between two zones is in the milder one.

    Raises:
        ValueError: a current or a time that is negative or not a number.
        bondwright.catalog.sources.CatalogError: no heart-current factor is held for the path.
    """
    if not 0 <= current_a < math.inf:
        raise ValueError(f"a body current of {current_a} A is not possible; give its magnitude")
    data, heart = person_data(), heart_equivalent(current_a, path)
    lets_go = current_a <= let_go_current(time_s)
    if heart > fibrillation_current(time_s):
        found = Zone.AC_4
    elif not lets_go:
        found = Zone.AC_3
    else:
        found = Zone.AC_2 if current_a > data.perception_a else Zone.AC_1
    sources = (data.sources["zones"], body_data().sources["fibrillation_c1"])
    return ZoneFinding(found, current_a, heart, time_s, lets_go, sources)
