"""Numbers, names and lists as they are said in the trade."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Final

from bondwright.catalog.sources import Source
from bondwright.plan.model import Plan, PlannedTie
from bondwright.rules.answer import Severity, Verdict
from bondwright.studies.faults import PathStep
from bondwright.studies.flows import Carrier, Flow
from bondwright.units import Dimension, show

MARKS: Final = {
    Verdict.HOLDS: "✓",
    Verdict.FALLS_SHORT: "×",
    Verdict.CANNOT_TELL: "?",
}
"""A mark beside each verdict word, so that it never hangs on colour alone."""

SEVERITY_MARKS: Final = {
    Severity.DANGER: "!",
    Severity.FALLS_SHORT: "×",
    Severity.CANNOT_TELL: "?",
    Severity.NOTE: "i",
}
"""A mark beside each severity word."""

_PUBLICATION: Final = re.compile(r"\b(?:IEC|IEEE)(?: T[RS]| Std)? [0-9][0-9-]*")
_POLES: Final = re.compile(r"/(\d)p\b")


NOISE_A: Final = 1e-5
"""Currents below this are written as none: they are what node capacitance leaks, A."""

NOISE_V: Final = 1e-3
"""Voltages below this are written as none, V."""


def amps(value: float) -> str:
    """Write a current for reading aloud; whole amperes from 100 A, and kA from 10 kA."""
    if 1e3 <= value < 1e4 and math.isfinite(value):
        return f"{value:,.0f} A"
    return show(0.0 if abs(value) < NOISE_A else value, Dimension.CURRENT)


def volts(value: float) -> str:
    """Write a voltage."""
    return show(0.0 if abs(value) < NOISE_V else value, Dimension.VOLTAGE)


def seconds(value: float) -> str:
    """Write a time in two figures; "never" for infinity."""
    if math.isinf(value):
        return "never"
    return show(value, Dimension.TIME, digits=2)


def between(fastest: float, slowest: float) -> str:
    """Write a span of time."""
    low, high = seconds(fastest), seconds(slowest)
    return f"within {high}" if fastest <= 0 or low == high else f"between {low} and {high}"


def percent(share: float) -> str:
    """Write a share in two figures."""
    return show(share, Dimension.RATIO, digits=2)


def listed(items: Sequence[str], last: str = "and") -> str:
    """Join words: "a", "a and b", "a, b and c"."""
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} {last} {items[-1]}"


def counted(number: int, one: str, many: str = "") -> str:
    """Write a count with its noun: "1 place", "3 places"."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def capital(text: str) -> str:
    """Give a sentence its capital letter, leaving the rest alone."""
    return text[:1].upper() + text[1:]


def publication(source: Source) -> str:
    """Name a publication shortly: "IEC 60364-4-41"."""
    found = _PUBLICATION.search(source.title)
    return found.group() if found else source.title.partition(",")[0]


def device_rating(text: str) -> str:
    """Write a rating as it is said: "20 A/2p breaker" becomes "20 A 2-pole breaker".

    Its settings, behind the first comma, are left to the schedule.
    """
    return _POLES.sub(r" \1-pole", text.partition(",")[0])


def device_name(device: str, at: str, rating: str) -> str:
    """Name a device by what it is, what it protects and where it stands.

    Args:
        device: its id in the network, "main <place>" or "device <run>".
        at: place where it stands.
        rating: what it is.
    """
    said = device_rating(rating)
    kind, _, name = device.partition(" ")
    if kind == "main":
        return f"the main {said} of {name}"
    return f"the {said} of {name} (in {at})"


def conductor_name(plan: Plan, run: str, conductor: str) -> str:
    """Name one conductor of a run: "the neutral of pump house feeder"."""
    base, _, number = conductor.partition(".")
    planned = plan.runs.get(run)
    on_supply = planned is not None and planned.supply_side
    word = {
        "N": "the neutral",
        "metal": "the supply-side bonding jumper"
        if on_supply
        else "the equipment grounding conductor",
        "raceway": "the metal raceway",
    }.get(base, f"line {base}")
    return f"{word} of {run}" + (f" (set {number})" if number else "")


def carrier_name(plan: Plan, carrier: Carrier, name: str, conductor: str) -> str:
    """Name what carries a current."""
    match carrier:
        case Carrier.RUN:
            return conductor_name(plan, name, conductor)
        case Carrier.TIE:
            tie = next((tie for tie in plan.ties if tie.id == name), None)
            return tie_name(tie) if tie is not None else f"the {name}"
        case Carrier.ELECTRODE:
            return f"the earth through {name}"
        case Carrier.METAL:
            metal = plan.site.metal.get(name)
            kind = str(metal.kind) if metal is not None else "metal"
            return f"the {kind}" if name == kind else f"the {kind} {name}"


def tie_name(tie: PlannedTie) -> str:
    """Name a tie with its place, once."""
    return f"the {tie.id}" + ("" if tie.at in tie.id else f" (a tie at {tie.at})")


def step_name(plan: Plan, step: PathStep) -> str:
    """Name what carries one step of a fault current."""
    return carrier_name(plan, step.carrier, step.id, step.conductor)


def flow_name(plan: Plan, flow: Flow) -> str:
    """Name what carries a current, with where a run goes."""
    name = carrier_name(plan, flow.carrier, flow.id, flow.conductor)
    if flow.carrier is Carrier.RUN:
        return f"{name} ({flow.from_} to {flow.to})"
    if flow.carrier is Carrier.METAL:
        return f"{name} ({flow.from_} to {flow.to})"
    return name
