"""Energy a device lets through when it limits the current: what counts below 0.1 s."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.catalog.device_fuses import class_fuse_limits, energy_limits
from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sources import Source
from bondwright.devices.bands import band
from bondwright.devices.fuses import threshold_a

_ENERGY_CLASS = 3


@dataclass(frozen=True, slots=True)
class LetThrough:
    """The greatest energy a device lets through at a fault current.

    Attributes:
        i2t: current squared times time [A2 s].
        because: what the limit belongs to, for people.
        source: where it comes from and how sure it is.
    """

    i2t: float
    because: str
    source: Source


def let_through(rating: DeviceRating, prospective_a: float) -> LetThrough | None:
    """Return the greatest energy a device lets through, or None where none is known.

    Fuses of UL classes: the limit of the class and body size, from the threshold of the class on.
    gG fuses: the limit of their selectivity test, from where they have opened within 10 ms.
    Miniature breakers marked class 3: the limit at their rated capacity, where that is given.

    Args:
        rating: the device.
        prospective_a: symmetrical r.m.s. current that would flow without the device, A.

    Returns:
        The limit with its source.

    Raises:
        ValueError: a current that is negative or not a number.
    """
    if not prospective_a >= 0:
        raise ValueError(f"a current of {prospective_a} A is not possible; give its magnitude")
    if rating.interrupting_a is not None and prospective_a > rating.interrupting_a:
        return None
    if rating.curve_name is not None:
        return None
    if rating.kind is DeviceKind.MCB:
        return _mcb(rating)
    if rating.kind is not DeviceKind.FUSE:
        return None
    if rating.curve == "gG" or rating.fuse_class == "BS 88-2":
        return _gg(rating, prospective_a)
    return _ul(rating, prospective_a)


def _ul(rating: DeviceRating, prospective_a: float) -> LetThrough | None:
    limits, name = class_fuse_limits(), rating.fuse_class or ""
    least = threshold_a(rating)
    if least is None or prospective_a < least:
        return None
    column = next((n for n, a in enumerate(limits.let_through_at_a) if prospective_a <= a), None)
    if column is None:
        return None
    up_to, row = next(row for row in limits.let_through[name] if rating.rating_a <= row[0])
    energy = row[column]
    if energy is None:
        return None
    because = (
        f"class {name} fuses up to {up_to:g} A let through at most {energy:g} A2 s at up to "
        f"{limits.let_through_at_a[column]:g} A"
    )
    return LetThrough(energy, because, limits.sources["ul_let_through"])


def _gg(rating: DeviceRating, prospective_a: float) -> LetThrough | None:
    found = band(rating)
    if found.passes_i2t is None or found.slowest(prospective_a) > found.passes_below_s:
        return None
    because = f"gG fuses of {rating.rating_a:g} A let through at most {found.passes_i2t:g} A2 s"
    return LetThrough(found.passes_i2t, because, energy_limits().gg_source)


def _mcb(rating: DeviceRating) -> LetThrough | None:
    capacity = rating.interrupting_a
    if rating.energy_class != _ENERGY_CLASS or capacity is None or rating.curve == "D":
        return None
    limits = energy_limits()
    rows = next((rows for up_to, rows in limits.mcb if rating.rating_a <= up_to), ())
    row = next((row for row in rows if capacity <= row[0]), None)
    if row is None:
        return None
    energy = row[1] if rating.curve == "B" else row[2]
    because = (
        f"a {rating.curve}{rating.rating_a:g} of energy limiting class {_ENERGY_CLASS} rated "
        f"{row[0]:g} A lets through at most {energy:g} A2 s"
    )
    return LetThrough(energy, because, limits.mcb_source)
