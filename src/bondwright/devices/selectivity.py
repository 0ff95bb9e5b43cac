"""Selectivity: whether the device next to a fault opens before the one ahead of it may."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bondwright.devices.band import TimeBand
from bondwright.units import Dimension, show

_CLOSE = 1e-9


@dataclass(frozen=True, slots=True)
class Selectivity:
    """Whether two devices in series are selective.

    Attributes:
        total: whether they are up to the available current.
        limit_a: current up to which they are selective [A]; the available one if ``total``.
        because: why, in words.
    """

    total: bool
    limit_a: float
    because: str


def selectivity(upstream: TimeBand, downstream: TimeBand, up_to_a: float) -> Selectivity:
    """Compare the bands of two devices that carry the same fault current.

    They are selective at a current where the downstream slow edge is not above the upstream quick
    edge. Of two gG fuses the energies say more than the gates, which are wider than any make: if
    what the downstream one lets through does not melt the upstream one (a ratio of about 1.6 : 1),
    IEC 60269-2 has them selective over the whole range. Breakers that limit the current may do
    better than their bands say; only a tested table of their maker shows it.

    Args:
        upstream: band of the device nearer the source.
        downstream: band of the device nearer the fault.
        up_to_a: greatest fault current at the downstream device, A.

    Returns:
        The judgement.

    Raises:
        ValueError: a current that is not positive and finite.
    """
    if not 0 < up_to_a < math.inf:
        raise ValueError(f"an available current of {up_to_a} A is not possible; give it positive")
    melts, passes = upstream.melts_i2t, downstream.passes_i2t
    if melts is not None and passes is not None and passes <= melts:
        words = (
            f"the fuse nearer the fault lets at most {passes:g} A2 s through, which does not melt "
            f"the one ahead ({melts:g} A2 s; IEC 60269-2, from memory)"
        )
        return Selectivity(True, up_to_a, words)
    points = (*upstream.quick.points, *downstream.slow.points)
    marks = sorted({current for current, _ in points if current < up_to_a} | {up_to_a})
    for index, current in enumerate(marks):
        # the step of a downstream edge may lie at the very end
        if current == up_to_a and not _late(
            downstream.slow.at(current), upstream.quick.before(current)
        ):
            break
        after = marks[index + 1] if index + 1 < len(marks) else current
        failed = _first_late(upstream, downstream, current, after)
        if failed is not None:
            return Selectivity(False, failed, _why_not(upstream, downstream, failed))
    words = f"the device nearer the fault has opened by then at every current up to {up_to_a:g} A"
    return Selectivity(True, up_to_a, words)


def _first_late(upstream: TimeBand, downstream: TimeBand, low: float, high: float) -> float | None:
    """Return the first current in [low, high) at which the downstream device may be late."""
    if low == high:
        return low
    slow0, quick0 = downstream.slow.at(low), upstream.quick.at(low)
    if _late(slow0, quick0):
        return low
    slow1, quick1 = downstream.slow.left_of(high), upstream.quick.left_of(high)
    if not _late(slow1, quick1) or math.isinf(quick0):
        return None
    start, end = math.log(quick0 / slow0), math.log(quick1 / slow1)
    share = start / (start - end) if start > 0 else 0.0
    return low * math.exp(math.log(high / low) * share)


def _late(slow: float, quick: float) -> bool:
    return math.isfinite(quick) and slow > quick * (1 + _CLOSE)


def _why_not(upstream: TimeBand, downstream: TimeBand, at_a: float) -> str:
    slow, quick = downstream.slow.at(at_a), upstream.quick.at(at_a)
    late = "may not open at all" if math.isinf(slow) else f"may take {show(slow, Dimension.TIME)}"
    return (
        f"from {show(at_a, Dimension.CURRENT)} the device nearer the fault {late}, and the one "
        f"ahead may open within {show(quick, Dimension.TIME)}"
    )
