"""What a fault is, and what is told about one that was followed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright.network.solve import Residuals
from bondwright.plan.model import Plan
from bondwright.rules.answer import Verdict
from bondwright.rules.iec.ruleset import is_iec
from bondwright.safety.touch import TouchVerdict
from bondwright.studies.flows import Carrier, Flow

CLEARED_A: Final = 0.5
"""Below this the fault current counts as stopped: it is charging and leakage current, A."""

LONGEST_S: Final = 5.0
"""Longest clearing time called good, s: IEC 60364-4-41 for distribution circuits. The NEC
asks for operation of the device without naming a time."""

_EDGE_S: Final = 0.1
_EDGE_TOLERANCE_S: Final = 1e-6

DAMAGE_C: Final = 150.0
"""Final temperature taken as the limit, degC: thermoplastic insulation (ICEA P-32-382)."""

DAMAGE_IEC_C: Final = 160.0
"""The same by IEC 60364-5-54 table A.54.4: thermoplastic (PVC) insulation up to 300 mm2."""

EARTH_FAULT_OHM: Final = 25.0
"""Resistance of what a line lies on in a fault to earth only, ohm: that of one good rod (the
figure of NEC 250.53(A)(2); common practice)."""

ARC_V: Final = 50.0
"""Voltage of an arc to metal for a check of a fault path, V. Studies of raceways as fault paths
take 40 V to 50 V (IEEE Std 142 on arcing ground faults, from memory); the higher leaves less."""


def damage_c(plan: Plan) -> float:
    """Return the final temperature of conductors taken as the limit, degC."""
    return DAMAGE_IEC_C if is_iec(plan.site.rules) else DAMAGE_C


def heated_s(plan: Plan, seconds: float) -> float:
    """Return how long a conductor is heated, s, as its withstand is judged.

    By IEC 60364 up to 0.1 s what the device lets through decides: that is the slow edge of a
    miniature circuit-breaker which opens at once, and no time that it takes.
    """
    if is_iec(plan.site.rules) and abs(seconds - _EDGE_S) < _EDGE_TOLERANCE_S:
        return _EDGE_S - _EDGE_TOLERANCE_S
    return seconds


class FaultKind(StrEnum):
    """Between what the fault is."""

    LINE_TO_LINE = "line to line"
    THREE_LINES = "three lines"
    LINE_TO_NEUTRAL = "line to neutral"
    LINE_TO_METAL = "line to metal"
    NEUTRAL_TO_METAL = "neutral to metal"
    LINE_TO_EARTH = "line to earth"
    SECOND_TO_METAL = "second line to metal"


USUAL: Final = (FaultKind.LINE_TO_LINE, FaultKind.LINE_TO_NEUTRAL, FaultKind.LINE_TO_METAL)
"""The kinds that are asked unless others are: every bolted fault of two terminals at a place.
Three lines at once draw more and open sooner; the other kinds are questions of their own."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault at a place.

    Attributes:
        place: where it is.
        kind: between what.
        a: the terminal that fails: L1 to L3, N, or H1 to H3 for the primary of a transformer.
        b: what it touches: another line, N, G (metal) or "earth"; for three lines the second.
        impedance: of the fault, ohm; 0 for a bolted one.
        arc: voltage that burns across it, V; 0 for none. An arc is a resistance with this
            voltage across it; where the circuit can't give that voltage it goes out.
        also: for three lines the third; for a second fault the line that already touches metal.
        also_at: for a second fault the place of the first.
    """

    place: str
    kind: FaultKind
    a: str
    b: str
    impedance: float = 0.0
    arc: float = 0.0
    also: str = ""
    also_at: str = ""

    def __str__(self) -> str:
        match self.kind:
            case FaultKind.THREE_LINES:
                return f"{self.a}, {self.b} and {self.also} together at {self.place}"
            case FaultKind.SECOND_TO_METAL:
                first = f"with {self.also} on the metal at {self.also_at}"
                return f"{self.a} to metal at {self.place}, {first}"
            case _:
                b = "metal" if self.b == "G" else self.b
                return f"{self.a} to {b} at {self.place}"

    @property
    def metal(self) -> bool:
        """Whether it puts a line on metal."""
        return self.kind in {FaultKind.LINE_TO_METAL, FaultKind.SECOND_TO_METAL}


@dataclass(frozen=True, slots=True)
class Opening:
    """A device that opens during a fault.

    Attributes:
        device: id in the network.
        at: place where it stands.
        rating: what it is.
        lines: the poles that open.
        current: through it just before, A (what doesn't come back through it, if ``residual``).
        fastest: earliest it could open after the start of the fault, s.
        slowest: latest, s; this is when it opens in the study.
        residual: whether its residual or ground-fault element opens it.
        loose: whether its slow edge is slow only because neither the maker's curve nor the
            setting of its instantaneous trip is known.
    """

    device: str
    at: str
    rating: str
    lines: tuple[str, ...]
    current: float
    fastest: float
    slowest: float
    residual: bool = False
    loose: bool = False


@dataclass(frozen=True, slots=True)
class Heat:
    """What the fault does to the conductor that is worst off.

    Attributes:
        id: run or electrode.
        conductor: which conductor.
        size: its size.
        i2t: what it takes until the fault is over, A2s.
        temperature: adiabatic end temperature, degC; infinite if it melts.
        limit: degC.
        verdict: whether it survives.
        because: why, in a sentence for people.
        basis: "adiabatic", or "let-through" where the device's own energy counts.
        allowed_i2t: what it bears, A2s.
    """

    id: str
    conductor: str
    size: str
    i2t: float
    temperature: float
    limit: float
    verdict: Verdict
    because: str = ""
    basis: str = "adiabatic"
    allowed_i2t: float = math.inf


@dataclass(frozen=True, slots=True)
class TouchPair:
    """The highest voltage between two pieces of metal that a person can bridge.

    Attributes:
        a: place of one.
        b: place of the other.
        verdict: against the limit for the clearing time; its voltage is that between the two.
    """

    a: str
    b: str
    verdict: TouchVerdict


@dataclass(frozen=True, slots=True)
class PathStep:
    """One step of the fault current's way, in order.

    Attributes:
        way: "out" to the fault, "back" home.
        carrier: what carries it.
        id: of the run, tie, electrode or metal.
        conductor: which conductor.
        amperes: A.
        share: of the fault current.
    """

    way: str
    carrier: Carrier
    id: str
    conductor: str
    amperes: float
    share: float


@dataclass(frozen=True, slots=True)
class FaultResult:
    """The answer about one fault.

    Attributes:
        fault: what and where.
        current: at the start, A; the largest in any terminal of the fault.
        angle: of the loop impedance, degrees.
        loop: impedance of the loop as seen from the fault, ohm, the fault's own included.
        path: the way of the current in order, at the start.
        flows: every current at the start.
        openings: who opens, in order.
        cleared: whether the current stops. False for a fault that draws too little for anything
            to see and so stands, except the first fault of an ungrounded system.
        clearing: latest time at which it stops, s; infinite if never.
        fastest: when it stops if those that open do so by their quick edges, s; another device
            may be quicker still.
        touch: metal of each place to remote earth at the start, V.
        worst_place: place whose metal is highest.
        touch_verdict: of the highest voltage over the clearing time.
        pair: the two pieces of metal in reach of each other with the most between them, or
            None where no two are.
        live_after: voltage that stays on the metal at the fault when all is over, V.
        heat: the conductor that is worst off, or None.
        supply_side: whether the fault lies ahead of every device on site.
        ahead: the sources that no device on site parts from it.
        utility: whether a utility is among these, or there is none.
        in_full: whether it was followed by itself; else there is no path, no other current, no
            conductor's heat, and the touch voltage of the worst place only.
        unknown: devices that carry the fault and whose limits are not known; they may open.
        missing: what has to be given before it can be told, in words for people.
        first_of_two: whether it is the first fault of an ungrounded system: it draws next to
            nothing, and the next one is a short circuit.
        resistance: of the arc, or of the fault, at the start, ohm.
        settled: whether steel raceways agreed with their currents.
        verdict: whether it clears, in time, and conductors survive.
        residuals: of the first solution.
    """

    fault: Fault
    current: float
    angle: float
    loop: float
    path: tuple[PathStep, ...]
    flows: tuple[Flow, ...]
    openings: tuple[Opening, ...]
    cleared: bool
    clearing: float
    fastest: float
    touch: dict[str, float]
    worst_place: str
    touch_verdict: TouchVerdict
    pair: TouchPair | None
    live_after: float
    heat: Heat | None
    supply_side: bool
    unknown: tuple[str, ...]
    missing: tuple[str, ...]
    first_of_two: bool
    resistance: float
    settled: bool
    verdict: Verdict
    residuals: Residuals
    ahead: tuple[str, ...] = ()
    utility: bool = True
    in_full: bool = True
