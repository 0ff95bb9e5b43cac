"""Limits of earthing systems outdoors: step voltage of IEEE Std 80, touch voltage of EN 50522."""

from __future__ import annotations

import math

from bondwright.catalog.person_data import person_data
from bondwright.catalog.safety_data import body_data
from bondwright.safety.touch import Footing, TouchVerdict, Weight, between, body_current_limit


def step_limit(time_s: float, footing: Footing, weight_kg: Weight = 50) -> float:
    """Return the step voltage limit of IEEE Std 80 [V].

    ``(1000 + 6 Cs rho_s) k / sqrt(t)``, from 0.03 s to 3 s as :func:`body_limit`.

    Args:
        time_s: how long the voltage lasts, s.
        footing: ground under the feet.
        weight_kg: weight of the person, kg.

    Returns:
        Limit, V. Above 3 s the current of 3 s is kept.

    Raises:
        ValueError: a time that is negative or not a number, or another weight.
    """
    data = body_data()
    # both feet in series instead of side by side
    feet = footing.feet_ohm * person_data().step_feet_factor / data.foot_factor
    return (data.body_ohm + feet) * body_current_limit(time_s, weight_kg)


def permissible_touch(time_s: float) -> float:
    """Return the permissible touch voltage of EN 50522 [V].

    For faults in high-voltage installations, bare hands and feet; points joined straight on
    log-log scales, level outside.

    Args:
        time_s: how long the fault lasts, s; infinity if nothing opens.

    Returns:
        Limit, V.

    Raises:
        ValueError: a time that is negative or not a number.
    """
    if not time_s >= 0:
        raise ValueError(f"a time of {time_s} s is not possible; give zero or more")
    return between(time_s, person_data().touch_50522)


def permissible_touch_verdict(voltage_v: float, time_s: float) -> TouchVerdict:
    """Judge a touch voltage by EN 50522.

    Args:
        voltage_v: touch voltage, r.m.s., V.
        time_s: how long the fault lasts, s; infinity if nothing opens.

    Returns:
        The verdict.

    Raises:
        ValueError: a voltage or time that is negative or not a number.
    """
    if not 0 <= voltage_v < math.inf:
        raise ValueError(f"a voltage of {voltage_v} V is not possible; give its magnitude")
    limit = permissible_touch(time_s)
    return TouchVerdict(
        voltage_v,
        time_s,
        limit,
        "bearable" if voltage_v <= limit else "dangerous",
        "high-voltage installation, bare hand to bare feet",
        person_data().sources["en_50522"],
    )
