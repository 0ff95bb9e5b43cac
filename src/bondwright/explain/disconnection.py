"""Disconnection told: the sums of one place, a table of all, and a sentence for the summary."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from bondwright.explain.dialect import Say, retold
from bondwright.explain.story import Story
from bondwright.explain.summary import Summary
from bondwright.explain.words import amps, counted, device_rating, seconds
from bondwright.rules.answer import Verdict
from bondwright.rules.iec.arrangements import Earthing
from bondwright.studies.disconnection import Disconnection
from bondwright.studies.disconnection_findings import by_verdict
from bondwright.units import Dimension, show

HEAD = (
    "Place", "System", "Device", "Current", "Loop", "At most", "Allowed", "Takes", "Verdict",
)  # fmt: skip
"""Head of the table; the verdict stands last."""

NOTE = (
    "A bolted fault from a line to exposed metal, with conductors at the temperature under "
    "'taken for granted' and without pipes and frames, which may be cut at any time. Loop: in a "
    "TN system that of line and protective conductor, in an IT system that of the second fault, "
    "in a TT system the installation's earth. At most: by the current that opens the device for "
    "sure, or 50 V over the rated residual current. Allowed: IEC 60364-4-41 table 41.1, and 5 s "
    "(TN) or 1 s (TT) for distribution circuits. Takes: the latest time of the fault as it was "
    "followed through the whole circuit."
)
"""What the columns mean."""


def ohms(value: float | None) -> str:
    """Write an impedance; a dash where there is none."""
    if value is None:
        return "–"
    return "no way" if math.isinf(value) else show(value, Dimension.RESISTANCE)


def row(one: Disconnection) -> tuple[str, ...]:
    """Return a place as a row under :data:`HEAD`, but for its verdict."""
    device = one.device
    if one.residual_device and one.earthing is Earthing.TT:
        device = one.residual_device
    elif one.residual_device not in ("", one.device):
        device = f"{one.device}; {one.residual_device}" if one.device else one.residual_device
    loop = one.earth_ohm if one.earthing is Earthing.TT else one.loop_ohm
    return (
        one.place,
        one.earthing.value,
        device_rating(device) if ";" not in device else device,
        amps(one.current_a),
        ohms(loop),
        ohms(one.limit_ohm),
        "–" if one.allowed_s is None else seconds(one.allowed_s),
        _takes(one),
    )


def _takes(one: Disconnection) -> str:
    if one.earthing is Earthing.IT:
        return "second fault"
    return seconds(one.takes_s)


def _article(earthing: Earthing) -> str:
    return f"{'an' if earthing is Earthing.IT else 'a'} {earthing.value}"


def tell_disconnection(one: Disconnection) -> Story:
    """Tell how it comes that a place is disconnected in time, or isn't.

    Args:
        one: the place.
    """
    kind = "final circuit" if one.final else "distribution circuit"
    first = (
        f"{one.place} is fed by a {kind} of {_article(one.earthing)} system, "
        f"{one.u0_v:.0f} V to earth."
    )
    end = f"By the circuit as it was followed it takes {seconds(one.takes_s)}"
    end += f", ended by {device_rating(one.opens)}." if one.opens else "."
    if one.earthing is Earthing.IT:
        end = "The first fault opens nothing and has to be told by insulation monitoring."
    return Story(f"Disconnection at {one.place}", (first, *one.because, end), one.verdict)


def summary_sentence(found: Sequence[Disconnection]) -> str:
    """Sum up how many places are disconnected in time; "" where none was judged."""
    if not found:
        return ""
    counts = by_verdict(found)
    said = (
        f"Of {counted(len(found), 'place')} with exposed metal behind a device, "
        f"{counts[Verdict.HOLDS]} disconnected in the time of IEC 60364-4-41"
    )
    unsure = counts[Verdict.CANNOT_TELL]
    return f"{said}, {unsure} can't be told." if unsure else f"{said}."


def retold_summary(summary: Summary, say: Say) -> Summary:
    """Return a summary in its readers' words."""
    return replace(
        summary,
        headline=say(summary.headline),
        sentences=retold(summary.sentences, say),
    )
