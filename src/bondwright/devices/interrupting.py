"""Interrupting rating against the fault current that is available."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from bondwright.catalog.device_fuses import class_fuse_limits
from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import Source
from bondwright.units import Dimension, show

Verdict = Literal["holds", "falls short", "cannot tell"]


@dataclass(frozen=True, slots=True)
class Interrupting:
    """An interrupting rating against the available fault current.

    Attributes:
        verdict: "holds" where the rating is the available current or more.
        rating_a: the interrupting rating [A]; None where it is not known.
        available_a: the available fault current [A].
        because: why, in words.
        source: where a rating that was not given comes from.
    """

    verdict: Verdict
    rating_a: float | None
    available_a: float
    because: str
    source: Source | None = None


def interrupting_verdict(rating: DeviceRating, available_a: float) -> Interrupting:
    """Judge whether a device can interrupt the fault current at its line terminals (NEC 110.9).

    The rating is the one given with the device or, for a fuse of a UL 248 class, that of the
    class. None is taken for granted: what is usual is a question to ask, not an answer.

    Args:
        rating: the device.
        available_a: greatest symmetrical r.m.s. fault current at its line terminals, A.

    Returns:
        The judgement.

    Raises:
        ValueError: a current that is negative or not finite.
    """
    if not 0 <= available_a < math.inf:
        raise ValueError(f"a fault current of {available_a} A is not possible; give its magnitude")
    limits, source = class_fuse_limits(), None
    held = rating.interrupting_a
    origin = "its interrupting rating"
    if held is None and rating.fuse_class in limits.interrupting_a:
        held = limits.interrupting_a[str(rating.fuse_class)]
        source = limits.sources["ul_interrupting"]
        origin = f"the interrupting rating of class {rating.fuse_class}"
    there = f"{show(available_a, Dimension.CURRENT)} is available"
    if held is None:
        return Interrupting("cannot tell", None, available_a, f"{there}; {_ask(rating)}")
    enough = available_a <= held
    word = "and" if enough else "but"
    because = f"{there} {word} {origin} is {show(held, Dimension.CURRENT)}"
    verdict: Verdict = "holds" if enough else "falls short"
    return Interrupting(verdict, held, available_a, because, source)


def _ask(rating: DeviceRating) -> str:
    given = "no interrupting rating was given; "
    match rating.kind:
        case DeviceKind.BREAKER | DeviceKind.ELECTRONIC:
            return (
                f"{given}read it off the breaker: is it the 10 kA usual for branch breakers, or "
                "22, 42 or 65 kA?"
            )
        case DeviceKind.MCB:
            return f"{given}read it off the breaker, in the box: is it 6000 or 10000?"
        case DeviceKind.FUSE:
            return f"{given}read it off the fuse, or give its class"
        case _:
            return (
                f"{given}an RCD without overcurrent protection interrupts little; ask what its "
                "maker says it stands behind the device ahead"
            )
