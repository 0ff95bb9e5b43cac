"""A fault told step by step, at a pace an apprentice can follow: each step with what to look at."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from bondwright.explain.faults import (
    QUIET_V,
    fault_name,
    tell_end,
    tell_fault,
    tell_opening,
    tell_path,
    tell_touch,
)
from bondwright.explain.words import between, seconds, volts
from bondwright.plan.model import Plan
from bondwright.studies.faults import CLEARED_A, FaultResult
from bondwright.studies.flows import Carrier

Sight = Literal["start", "out", "home", "touch", "opens", "over", "stays"]
"""What a step shows: the fault itself, the way out, the way home, live metal, a device that
opens, the end of it, or that it doesn't end."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a fault.

    Attributes:
        sight: what it shows.
        title: a few words.
        sentences: what is said.
        things: what to look at, as (kind, id): runs, ties, electrodes, metal, places, devices.
        clock: when it happens after the start, in words; "" at the start.
    """

    sight: Sight
    title: str
    sentences: tuple[str, ...]
    things: tuple[tuple[str, str], ...] = ()
    clock: str = ""


def fault_steps(result: FaultResult, plan: Plan) -> tuple[Step, ...]:
    """Return the steps of a fault from its start to its end.

    Args:
        result: what the study found.
        plan: the plan it was found on.
    """
    return tuple(_steps(result, plan))


def _steps(result: FaultResult, plan: Plan) -> Iterator[Step]:
    place = ("place", result.fault.place)
    told = tell_fault(result, plan).sentences
    yield Step("start", fault_name(result), told[:1], (place,))
    ways = list(tell_path(result, plan))
    for way, word in (("out", "Out:"), ("back", "")):
        things = tuple(dict.fromkeys((_kind(s.carrier), s.id) for s in result.path if s.way == way))
        said = tuple(text for text in ways if text.startswith("Out:") == bool(word))
        if said:
            title = "The way out" if way == "out" else "The way home"
            yield Step("out" if way == "out" else "home", title, said, things)
    touch = tell_touch(result)
    if touch:
        live = tuple(
            ("place", n) for n, v in result.touch.items() if v >= result.touch_verdict.limit_v
        )
        yield Step("touch", "The metal meanwhile", touch, live or (place,))
    for number, opening in enumerate(result.openings):
        kind, _, name = opening.device.partition(" ")
        thing = ("device" if kind == "device" else "main", name)
        clock = between(opening.fastest, opening.slowest)
        title = f"{opening.rating.partition(',')[0]} opens"
        yield Step("opens", title, (tell_opening(opening, number),), (thing,), clock)
    yield _end(result, told, place)


def _kind(carrier: Carrier) -> str:
    return str(carrier)


def _end(result: FaultResult, told: tuple[str, ...], place: tuple[str, str]) -> Step:
    ending = tell_end(result)[len(result.openings) :]
    rest = told[-1:] if told[-1].startswith(("Hottest", "Conductor")) else ()
    if result.cleared and result.current > CLEARED_A:
        title = f"Over within {seconds(result.clearing)}"
        after: tuple[str, ...] = ()
        if result.live_after >= QUIET_V:
            after = (f"{volts(result.live_after)} still stands on the metal at the fault.",)
        return Step("over", title, (*ending, *rest, *after), (place,), title)
    if result.cleared:
        return Step("over", "Nothing flows", ending, (place,))
    stays: tuple[str, ...] = ()
    if result.live_after >= QUIET_V:
        stays = (f"The metal there stays at {volts(result.live_after)} until it is switched off.",)
    title = "Nobody ends it" if math.isinf(result.clearing) else "It doesn't end"
    return Step("stays", title, (*ending, *stays), (place,))
