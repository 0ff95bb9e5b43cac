"""What a reading at a test point says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from bondwright.earth.judged import Verdict, against
from bondwright.studies.hunt.instruments import instruments
from bondwright.studies.measuring import Measured, MeasuringPoint, Sense

JOINT_OHM: Final = 0.02
"""What clamps and lugs of a path may add to its conductors, ohm (common practice, from memory)."""
EXPLAINED: Final = 1.25
"""A reading over this many times what the circuit gives is not explained by it: lengths and
temperatures of a description are good to about a quarter (our own choice)."""
QUIET_A: Final = 0.1
"""A net current that much over the computed one asks for a look, A (our own choice)."""


@dataclass(frozen=True, slots=True)
class JudgedReading:
    """A reading beside what was expected.

    Attributes:
        point: where it was taken.
        value: in the unit of the point; inf for over range.
        uncertainty: half width, by the class of instrument or as the sheet says.
        verdict: against the limit; "cannot tell" without one or with too coarse an instrument.
        unexplained: whether it is far from what the circuit gives, though it may be in its limit.
        words: what to know, in plain words.
    """

    point: MeasuringPoint
    value: float
    uncertainty: float
    verdict: Verdict
    unexplained: bool
    words: tuple[str, ...]


def usual_uncertainty(point: MeasuringPoint, value: float) -> float:
    """Return the limit of error of the class of instrument that a point names, 0 if it has none."""
    known = instruments().get(point.instrument)
    return known.relative * abs(value) + known.floor if known is not None else 0.0


def judge(point: MeasuringPoint, value: float, uncertainty: float | None = None) -> JudgedReading:
    """Judge a reading.

    Args:
        point: where it was taken.
        value: what was read, in the point's unit; inf for over range.
        uncertainty: half width; None takes that of the point's class of instrument.

    Raises:
        ValueError: the value is no number or is negative.
    """
    if not value >= 0:
        raise ValueError("a reading is a number of 0 or more")
    if value == float("inf"):
        half = 0.0
    else:
        half = usual_uncertainty(point, value) if uncertainty is None else uncertainty
    return JudgedReading(
        point, value, half, _verdict(point, value, half), *_compared(point, value, half)
    )


def _verdict(point: MeasuringPoint, value: float, half: float) -> Verdict:
    if point.limit is None:
        return Verdict.CANNOT_TELL
    if point.sense is Sense.AT_MOST:
        return Verdict.FALLS_SHORT if value == float("inf") else against(value, half, point.limit)
    # "At least" is "at most" seen from the other side.
    return Verdict.HOLDS if value == float("inf") else against(-value, half, -point.limit)


def _compared(point: MeasuringPoint, value: float, half: float) -> tuple[bool, tuple[str, ...]]:
    words = []
    short = _verdict(point, value, half) is Verdict.FALLS_SHORT
    if short:
        words.append(_SHORT[point.what])
    if point.limit is None:
        words.append(
            "no limit is known here; it is the difference from what was computed that counts"
        )
    elif _verdict(point, value, half) is Verdict.CANNOT_TELL:
        words.append("too near the limit for this instrument: read again with a finer one")
    unexplained = False
    if point.expected is not None and not short:
        most = {
            Measured.NET_CURRENT: point.expected + QUIET_A,
        }.get(point.what, EXPLAINED * point.expected + JOINT_OHM)
        if value - half > most:
            unexplained = True
            words.append(_MORE[point.what])
        elif point.what in _LESS and value + half < point.expected / 2:
            unexplained = True
            words.append(_LESS[point.what])
    return unexplained, tuple(words)


_SHORT: Final = {
    Measured.CONTINUITY: "the path is open or has a bad joint: find it before the power comes back",
    Measured.TIE: "the tie is missing, loose or painted under: without it no breaker opens",
    Measured.NO_TIE: "something joins the neutral to metal at or beyond this place; with the hunt "
    "it can be narrowed down. Never take it away where it is the only fault path",
    Measured.NET_CURRENT: "",
    Measured.ELECTRODE: "a single electrode like this needs a second one beside it; it is no fault "
    "path either way",
    Measured.LOOP: "the device may not open in time: look for a bad joint, a smaller conductor or "
    "a longer way than described",
    Measured.RESIDUAL: "it does not open at its rated current: replace it",
}
_MORE: Final = {
    Measured.CONTINUITY: "more than the conductors explain: look at the joints, clamps and "
    "locknuts of this path",
    Measured.TIE: "more than a sound tie has: look at its screw or strap, and the paint there",
    Measured.NO_TIE: "",
    Measured.NET_CURRENT: "more comes home outside these wires than computed: neutral and metal "
    "are joined somewhere beyond, or two circuits share a neutral. The hunt takes this reading",
    Measured.ELECTRODE: "more than the soil in the description gives: dry or frozen soil, a loose "
    "clamp, or another soil",
    Measured.LOOP: "more than the circuit gives: look at the joints of this way",
    Measured.RESIDUAL: "",
}
_LESS: Final = {
    Measured.ELECTRODE: "less than half of what was computed: was it still joined to another one?",
    Measured.LOOP: "less than half of what was computed: current has another way home, or the "
    "description is longer than the wire",
}
