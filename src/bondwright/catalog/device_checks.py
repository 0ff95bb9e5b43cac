"""Which parts make an overcurrent device together, and which do not."""

from __future__ import annotations

import math
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from bondwright.catalog.device_settings import GFCI, GFCI_A, MAX_CURVE_NAME, SELECTIVE, WAVEFORMS

if TYPE_CHECKING:
    from bondwright.catalog.device_rating import DeviceRating


class DeviceKind(StrEnum):
    """What sort of overcurrent device it is."""

    BREAKER = "breaker"
    """Thermal-magnetic moulded-case circuit breaker (UL 489)."""
    ELECTRONIC = "electronic breaker"
    """Circuit breaker with an electronic trip unit."""
    MCB = "mcb"
    """Miniature circuit breaker with a B, C or D curve (IEC 60898-1)."""
    FUSE = "fuse"
    """Fuse; without a class the gG gates of IEC 60269-1 stand for it."""
    RCD = "RCD"
    """Residual-current device without overcurrent protection (IEC 61008-1)."""


SMALLEST_A: Final = 0.1
"""Below this a device rating is taken for a slip of the pen, A."""
LARGEST_A: Final = 10_000.0
"""Above this a low-voltage device rating is taken for a slip of the pen, A."""
LARGEST_MCB_A: Final = 125.0
"""Largest rated current in the scope of IEC 60898-1, A."""
MAX_POLES: Final = 4
MCB_CURVES: Final = ("B", "C", "D")
MOST_FAULT_A: Final = 500_000.0
"""No low-voltage fault current is larger, A."""
LONGEST_DELAY_S: Final = 600.0

FUSE_CLASSES: Final = MappingProxyType(
    {
        "CC": (SMALLEST_A, 30.0),
        "J": (SMALLEST_A, 600.0),
        "RK1": (SMALLEST_A, 600.0),
        "RK5": (SMALLEST_A, 600.0),
        "T": (SMALLEST_A, 1200.0),
        "L": (601.0, 6000.0),
        "G": (SMALLEST_A, 60.0),
        "BS 88-2": (2.0, 200.0),
        "BS 88-3": (5.0, 100.0),
        "BS 3036": (5.0, 100.0),
        "BS 1362": (3.0, 13.0),
    }
)
"""Fuse classes (UL 248) and British standards held, with (least, greatest) rating, A."""

_BREAKERS: Final = (DeviceKind.BREAKER, DeviceKind.ELECTRONIC)


def problem_of(device: DeviceRating) -> str | None:
    """Return what is wrong with a device as a clause, or None."""
    return (
        _rating_problem(device)
        or _curve_problem(device)
        or _setting_problem(device)
        or _number_problem(device)
        or _residual_problem(device)
        or _name_problem(device)
    )


def _rating_problem(device: DeviceRating) -> str | None:
    amps, poles = device.rating_a, device.poles
    if not math.isfinite(amps) or amps <= 0:
        return "has a rating that is not above zero"
    if amps < SMALLEST_A:
        return f"is smaller than any device of a building ({SMALLEST_A:g} A)"
    if amps > LARGEST_A:
        return f"is larger than any low-voltage device ({LARGEST_A:g} A)"
    if device.kind is DeviceKind.MCB and amps > LARGEST_MCB_A:
        return f"is larger than miniature circuit breakers are made ({LARGEST_MCB_A:g} A)"
    if poles is not None and not 1 <= poles <= MAX_POLES:
        return f"has {poles} poles (1 to {MAX_POLES} are made)"
    return None


def _curve_problem(device: DeviceRating) -> str | None:
    kind, curve, fuse_class = device.kind, device.curve, device.fuse_class
    if kind is DeviceKind.MCB:
        if curve not in MCB_CURVES:
            return "needs the curve B, C or D"
    elif kind is not DeviceKind.FUSE:
        if curve is not None:
            return "takes no curve letter" if curve != "gG" else "is no fuse, so takes no 'gG'"
    elif curve not in (None, "gG"):
        return "has a curve other than gG"
    if fuse_class is None:
        return None
    if kind is not DeviceKind.FUSE:
        return f"is no fuse, so takes no class {fuse_class!r}"
    if fuse_class not in FUSE_CLASSES:
        return f"has the fuse class {fuse_class!r} (known: {', '.join(FUSE_CLASSES)})"
    if curve is not None:
        return f"cannot be both gG and {fuse_class}"
    least, most = FUSE_CLASSES[fuse_class]
    if not least <= device.rating_a <= most:
        return f"is not made as {fuse_class} fuse ({least:g} A to {most:g} A)"
    return None


def _setting_problem(device: DeviceRating) -> str | None:
    kind = device.kind
    for name, there, kinds in (
        ("long-time setting", device.long_pickup, (DeviceKind.ELECTRONIC,)),
        ("long-time delay", device.long_delay_s, (DeviceKind.ELECTRONIC,)),
        ("short-time setting", device.short_pickup_a, (DeviceKind.ELECTRONIC,)),
        ("instantaneous setting", device.instantaneous_a, _BREAKERS),
        ("ground-fault element", device.ground_pickup_a, _BREAKERS),
        ("time delay mark", device.time_delay or None, (DeviceKind.FUSE,)),
        ("energy limiting class", device.energy_class, (DeviceKind.MCB,)),
        ("arc-fault detection", device.arc_fault or None, (*_BREAKERS, DeviceKind.MCB)),
        ("RCD", device.residual_a, (*_BREAKERS, DeviceKind.MCB, DeviceKind.RCD)),
    ):
        if there is not None and kind not in kinds:
            only = " or ".join(str(k.value) for k in kinds)
            return f"takes no {name} (only {only} does)"
    if device.time_delay and (device.fuse_class or "BS").startswith("BS"):
        return "is marked time-delay without a class that knows it (CC, J, RK1, RK5, T, L, G)"
    for name, pickup, delay in (
        ("short", device.short_pickup_a, device.short_delay_s),
        ("ground", device.ground_pickup_a, device.ground_delay_s),
    ):
        if delay is not None and pickup is None:
            return f"has a {name}-time delay without its pickup"
    return None


def _number_problem(device: DeviceRating) -> str | None:
    for name, amps in (
        ("instantaneous setting", device.instantaneous_a),
        ("short-time pickup", device.short_pickup_a),
        ("ground-fault pickup", device.ground_pickup_a),
        ("interrupting rating", device.interrupting_a),
    ):
        if amps is not None and not 0 < amps <= MOST_FAULT_A:
            return f"has an {name} of {amps:g} A, which is not possible"
    for name, delay in (
        ("long-time", device.long_delay_s),
        ("short-time", device.short_delay_s),
        ("ground-fault", device.ground_delay_s),
    ):
        if delay is not None and not 0 <= delay <= LONGEST_DELAY_S:
            return f"has a {name} delay of {delay:g} s, which is not possible"
    if device.long_delay_s == 0:
        return "has a long-time delay of 0 s, which is not possible"
    share = device.long_pickup
    if share is not None and not 0.1 <= share <= 1.25:
        return f"has a long-time pickup of {share:g} times rating (0.1 to 1.25 is possible)"
    if device.interrupting_a is not None and device.interrupting_a < device.rating_a:
        return "has an interrupting rating below its rated current"
    long_a = device.rating_a * (share or 1.0)
    if device.short_pickup_a is not None and device.short_pickup_a < long_a:
        return f"has a short-time pickup below its long-time pickup ({long_a:g} A)"
    if device.energy_class is not None and device.energy_class not in (1, 2, 3):
        return f"has the energy limiting class {device.energy_class} (1 to 3 are used)"
    return None


def _residual_problem(device: DeviceRating) -> str | None:
    amps, kind = device.residual_a, device.residual_type
    if amps is None:
        if kind is not None:
            return f"has the residual type {kind!r} without a residual current"
        return "needs its residual current" if device.kind is DeviceKind.RCD else None
    if not 0.001 <= amps <= 30:
        return f"has a residual current of {amps:g} A (1 mA to 30 A is possible)"
    if kind == GFCI:
        if device.kind is DeviceKind.RCD or amps != GFCI_A:
            return f"is a GFCI, which is a breaker that trips at {GFCI_A * 1e3:g} mA"
    elif kind is not None:
        words = kind.split(" ")
        if words[-1] == SELECTIVE:
            words.pop()
        if len(words) > 1 or any(word not in WAVEFORMS for word in words):
            return f"has the RCD type {kind!r} (AC, A, F or B, with S where it is delayed)"
    return None


def _name_problem(device: DeviceRating) -> str | None:
    name = device.curve_name
    if name is None:
        return None
    if not name or "," in name or name != " ".join(name.split()):
        return f"has the curve name {name!r} (one or more words without commas)"
    if len(name) > MAX_CURVE_NAME:
        return f"has a curve name of more than {MAX_CURVE_NAME} letters"
    return None
