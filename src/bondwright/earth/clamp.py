"""The stakeless clamp: what it reads around an electrode conductor, and when that isn't earth.

It drives a voltage round the loop that the conductor closes: this electrode in series with all the
others in parallel. So it always reads high; with no other electrode it reads nothing, with metal
closing the loop it reads metal.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from bondwright.catalog.earth_data import Accuracy, earth_data
from bondwright.earth.judged import Judged, Verdict, against, check_reading, goal_words, said
from bondwright.earth.soil import check_positive
from bondwright.units import Dimension, show


def clamp_reading(electrode_ohm: float, others_ohm: Sequence[float]) -> float:
    """Return what a clamp reads at one electrode [ohm]; infinity if there is no other.

    Args:
        electrode_ohm: resistance of the electrode clamped, ohm.
        others_ohm: resistances of the others on the same system, far enough not to disturb, ohm.
    """
    check_positive(electrode_ohm, "electrode resistance")
    conductance = sum(1 / check_positive(other, "electrode resistance") for other in others_ohm)
    return electrode_ohm + (1 / conductance if conductance else math.inf)


def clamp_accuracy(reading_ohm: float) -> Accuracy:
    """Return the usual accuracy of a stakeless clamp at a reading.

    Raises:
        ValueError: a reading beyond the published table.
    """
    check_reading(reading_ohm, "clamp reading")
    for top, accuracy in earth_data().clamp:
        if reading_ohm <= top:
            return accuracy
    raise ValueError(
        f"a reading of {reading_ohm:g} ohm is beyond the accuracy table of clamps; report it as "
        "over range"
    )


def judge_clamp(
    reading_ohm: float,
    goal_ohm: float | None = None,
    electrodes: int | None = None,
    accuracy: Accuracy | None = None,
) -> Judged:
    """Judge a stakeless clamp reading.

    Args:
        reading_ohm: what it showed, ohm; infinity for over range.
        goal_ohm: the most the electrode may have, ohm.
        electrodes: how many electrodes, thought alike, the system has, if that is known.
        accuracy: of the instrument used; None for a usual one.

    Returns:
        The result. The reading itself is the value: the upper bound of the electrode's
        resistance. With ``electrodes`` known, the words give the estimate for one.

    Raises:
        ValueError: an impossible reading or number of electrodes.
    """
    test = "stakeless clamp"
    data = earth_data()
    if electrodes is not None and electrodes < 1:
        raise ValueError(f"{electrodes} electrodes is not possible; give one or more")
    over = math.isinf(reading_ohm) or (accuracy is None and reading_ohm > data.clamp[-1][0])
    if over and reading_ohm > 0:
        words = (
            "Over range: no closed loop. An electrode by itself can't be read this way, nor one "
            "whose conductor is open.",
            "Use a fall-of-potential test.",
        )
        return Judged(test, None, None, goal_ohm, Verdict.CANNOT_TELL, words)
    check_reading(reading_ohm, "clamp reading")
    error = (accuracy or clamp_accuracy(reading_ohm)).of(reading_ohm)
    if reading_ohm < data.metal_loop_ohm:
        words = (
            f"{said(reading_ohm, error)}: a loop of metal, not earth. The clamp sits where metal "
            "closes the loop on both sides.",
            "It says nothing about the electrode. Clamp between the electrode and the first "
            "metal it is joined to, or use a fall-of-potential test.",
        )
        return Judged(test, None, None, goal_ohm, Verdict.CANNOT_TELL, words)
    if electrodes == 1:
        words = (
            f"{said(reading_ohm, error)}, but a single electrode closes no loop through the "
            "earth: another path exists that nobody listed.",
            "Find it before any number is used.",
        )
        return Judged(test, None, None, goal_ohm, Verdict.CANNOT_TELL, words)
    verdict = against(reading_ohm, error, goal_ohm)
    if verdict is Verdict.FALLS_SHORT:
        # the reading is only an upper bound: a high one doesn't prove a high electrode
        one = reading_ohm * (electrodes - 1) / electrodes if electrodes else 0.0
        low = (reading_ohm - error) * (electrodes - 1) / electrodes if electrodes else 0.0
        if goal_ohm is not None and low <= goal_ohm:
            verdict = Verdict.CANNOT_TELL
            estimate = f" (about {show(one, Dimension.RESISTANCE)} if all are alike)" if one else ""
            tail = (
                "The clamp reads this electrode plus all others in parallel, so the electrode "
                f"itself is less{estimate}. Not proven under or over "
                f"{show(goal_ohm, Dimension.RESISTANCE)}: use a fall-of-potential test."
            )
            words = (f"{said(reading_ohm, error)} by stakeless clamp.", tail)
            return Judged(test, reading_ohm, error, goal_ohm, verdict, words)
    parts = [f"{said(reading_ohm, error)} by stakeless clamp.", goal_words(verdict, goal_ohm)]
    if electrodes:
        one = reading_ohm * (electrodes - 1) / electrodes
        parts.append(
            f"It is this electrode plus {electrodes - 1} others in parallel; one of "
            f"{electrodes} alike has about {show(one, Dimension.RESISTANCE)}."
        )
    else:
        parts.append("It is this electrode plus all others in parallel, so the electrode is less.")
    return Judged(test, reading_ohm, error, goal_ohm, verdict, tuple(parts))
