"""Fall of potential: a curve of readings between an electrode and a far current pin, and its worth.

Model: the electrode is a half ball, the current pin a point at distance D, the soil uniform. Then
``R(x) = R + c (1/(D - x) - 1/x - 1/D)``, right where ``x/D = (sqrt 5 - 1)/2 = 0.618``. In layered
soil, with a wide electrode or a near pin the place is another: :func:`expected_curve` computes the
curve for the electrodes and soil at hand, :func:`true_place` where it crosses the truth.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from bondwright.catalog.earth_data import Accuracy, earth_data, instrument
from bondwright.earth.images import point_potential
from bondwright.earth.judged import Judged, Verdict, against, check_reading, goal_words, said
from bondwright.earth.shapes import Place
from bondwright.earth.soil import Array, check_positive
from bondwright.earth.system import ElectrodeSystem
from bondwright.units import Dimension, show, wanted_units

GOLDEN: Final = (math.sqrt(5) - 1) / 2
FAR_ENOUGH: Final = 5.0
"""Least distance of the current pin over the widest reach of the electrode (common practice)."""
_NOISE: Final = 0.02
_MODEL_FITS: Final = 0.03


@dataclass(frozen=True, slots=True)
class FallTest:
    """A curve of readings.

    Attributes:
        distance_m: of the potential pin from the electrode, rising [m].
        reading_ohm: at each [ohm].
        current_pin_m: distance of the current pin [m].
        widest_m: widest reach of the electrode (diagonal of a ring, depth of a rod); None if
            not known [m].

    Raises:
        ValueError: fewer than three readings, or distances that are not between the two.
    """

    distance_m: tuple[float, ...]
    reading_ohm: tuple[float, ...]
    current_pin_m: float
    widest_m: float | None = None

    def __post_init__(self) -> None:
        if len(self.distance_m) != len(self.reading_ohm):
            raise ValueError(
                f"{len(self.distance_m)} distances but {len(self.reading_ohm)} readings"
            )
        if len(self.distance_m) < 3:
            raise ValueError("a fall-of-potential curve takes three readings or more")
        check_positive(self.current_pin_m, "distance of the current pin")
        if any(b <= a for a, b in itertools.pairwise(self.distance_m)):
            raise ValueError("give the distances of the potential pin in rising order, each once")
        if not (self.distance_m[0] > 0 and self.distance_m[-1] < self.current_pin_m):
            raise ValueError(
                f"the potential pin stands between the electrode and the current pin at "
                f"{self.current_pin_m:g} m; {self.distance_m[0]:g} m to {self.distance_m[-1]:g} m "
                "was given"
            )
        for value in self.reading_ohm:
            check_reading(value, "reading")


@dataclass(frozen=True, slots=True)
class FallResult:
    """What a curve says, by three ways of reading it.

    Attributes:
        judged: result, verdict and words.
        at_golden_ohm: curve at 61.8 % [ohm]; None if it doesn't reach there.
        slope_ohm: by the slope method [ohm]; None where it doesn't apply.
        slope_place: where the slope method reads the curve, part of the distance.
        fitted_ohm: by fitting the half-ball curve [ohm].
        fitted_misfit: root mean square of that fit over the result.
        plateau: spread of the curve between 52 % and 72 %, over the reading at 62 %; None if it
            doesn't reach there.
        plateau_real: whether that is within the accepted agreement.
    """

    judged: Judged
    at_golden_ohm: float | None
    slope_ohm: float | None
    slope_place: float | None
    fitted_ohm: float
    fitted_misfit: float
    plateau: float | None
    plateau_real: bool


def slope_factor(readings_ohm: tuple[float, float, float]) -> float:
    """Return G. F. Tagg's slope ``(R3 - R2) / (R2 - R1)`` of readings at 20, 40 and 60 %.

    Raises:
        ValueError: the first two readings are alike.
    """
    first, second, third = readings_ohm
    if second == first:
        raise ValueError("readings at 20 % and 40 % are alike; the slope says nothing")
    return (third - second) / (second - first)


def _slope_of(shift: float) -> float:
    """Return the slope of a half ball whose centre lies ``shift`` distances behind the clamp."""

    def at(x: float) -> float:
        return 1 / (1 - x) - 1 / (x + shift)

    return slope_factor((at(0.2), at(0.4), at(0.6)))


_LEAST_SLOPE: Final = _slope_of(-0.1)
_MOST_SLOPE: Final = _slope_of(0.6)


def slope_place(slope: float) -> float | None:
    """Return where to read the curve for a slope, as a part of the distance.

    The electrode's electrical centre lies somewhere behind (or before) the point that distances
    are counted from; the slope tells where, and the true place follows from 61.8 % of the distance
    from there. Derived here from Tagg's idea (1964), not his printed table.

    Args:
        slope: by :func:`slope_factor`.

    Returns:
        The place; None for slopes that no such centre explains.
    """
    if not _LEAST_SLOPE <= slope <= _MOST_SLOPE:
        return None
    shift = float(brentq(lambda s: _slope_of(s) - slope, -0.1, 0.6))
    return GOLDEN * (1 + shift) - shift


def judge_fall(
    test: FallTest, goal_ohm: float | None = None, accuracy: Accuracy | None = None
) -> FallResult:
    """Judge a fall-of-potential test.

    Args:
        test: the readings.
        goal_ohm: the most the electrode may have, ohm.
        accuracy: of the instrument; None for a usual one.

    Returns:
        The result: a value only where the curve is worth one.
    """
    far = test.current_pin_m
    part = np.array(test.distance_m) / far
    seen = np.array(test.reading_ohm)
    curve = PchipInterpolator(part, seen, extrapolate=False)
    golden = _at(curve, GOLDEN)
    fitted, misfit = _half_ball(part, seen)
    early, middle, late = (_at(curve, x) for x in earth_data().plateau_at)
    plateau = None
    if early is not None and middle is not None and late is not None and middle > 0:
        plateau = (max(early, middle, late) - min(early, middle, late)) / middle
    real = plateau is not None and plateau <= earth_data().plateau_within
    place, by_slope = _by_slope(curve)
    doubts = _doubts(test, part, seen, plateau, real)
    instrument_error = (accuracy or instrument("fall of potential")).of(golden or fitted)
    result: float | None = None
    error: float | None = None
    if golden is not None and real:
        result = golden
        others = [abs(other - golden) for other in (by_slope,) if other is not None]
        if misfit <= _MODEL_FITS:
            others.append(abs(fitted - golden))
        spread = (plateau or 0.0) * golden / 2
        error = math.hypot(instrument_error, max([spread, *others]))
    blocked = any(doubt.startswith("Readings fall") for doubt in doubts)
    if blocked:
        result = error = None
    if result is None or error is None:
        words = ("No value: the curve has no plateau that proves one.", *doubts)
        judged = Judged("fall of potential", None, None, goal_ohm, Verdict.CANNOT_TELL, words)
    else:
        verdict = against(result, error, goal_ohm)
        reach = show(far, Dimension.LENGTH, wanted_units("metric"))
        words = (
            f"{said(result, error)} at 61.8 % of {reach}; readings "
            f"from 52 % to 72 % agree within {100 * (plateau or 0.0):.1f} %.",
            goal_words(verdict, goal_ohm),
            *doubts,
        )
        judged = Judged("fall of potential", result, error, goal_ohm, verdict, words)
    return FallResult(judged, golden, by_slope, place, fitted, misfit, plateau, real)


def _at(curve: PchipInterpolator, part: float) -> float | None:
    value = float(curve(part))
    return None if math.isnan(value) else value


def _half_ball(part: Array, seen: Array) -> tuple[float, float]:
    """Fit the half-ball curve; return the resistance and the relative misfit."""
    shape = 1 / (1 - part) - 1 / part - 1
    table = np.column_stack([np.ones_like(part), shape])
    found, *_ = np.linalg.lstsq(table, seen, rcond=None)
    off = table @ found - seen
    level = max(abs(float(found[0])), 1e-12)
    return float(found[0]), float(np.sqrt(np.mean(off**2))) / level


def _by_slope(curve: PchipInterpolator) -> tuple[float | None, float | None]:
    values = [_at(curve, x) for x in (0.2, 0.4, 0.6)]
    first, second, third = values
    if first is None or second is None or third is None or second == first:
        return None, None
    place = slope_place(slope_factor((first, second, third)))
    return place, None if place is None else _at(curve, place)


def _doubts(
    test: FallTest, part: Array, seen: Array, plateau: float | None, real: bool
) -> list[str]:
    doubts = []
    top = float(seen.max())
    if np.any(np.diff(seen) < -_NOISE * top):
        doubts.append(
            "Readings fall on the way to the current pin: buried metal, crossed leads or a "
            "bonded electrode. Lay the leads out in another direction and measure again."
        )
    if plateau is None:
        doubts.append(
            "There are no readings on both sides of 52 % and 72 % of the distance; take them."
        )
    elif not real:
        doubts.append(
            f"Readings from 52 % to 72 % differ by {100 * plateau:.0f} %, so the current pin "
            "stands within the electrode's own reach. Take it farther out, or read by the slope "
            "method and then confirm with a longer distance."
        )
    if test.widest_m is not None and test.current_pin_m < FAR_ENOUGH * test.widest_m:
        doubts.append(
            f"The current pin is {test.current_pin_m / test.widest_m:.1f} times the electrode's "
            f"widest reach away; {FAR_ENOUGH:g} times or more is usual. The 61.8 % rule is for a "
            "small electrode and uniform soil."
        )
    if top < earth_data().metal_loop_ohm and part.size:
        doubts.append(
            "Such a low value is usual for electrodes still joined to a large metal system; it is "
            "then that system's resistance, not this electrode's."
        )
    return doubts


def expected_curve(
    system: ElectrodeSystem,
    names: Sequence[str],
    start: Place,
    toward: Place,
    current_pin_m: float,
    distance_m: Sequence[float] | Array,
) -> Array:
    """Return the curve that a test would read on joined electrodes in this soil [ohm].

    Args:
        system: the electrodes; those not named are left alone.
        names: the electrodes under test, joined.
        start: place that distances are counted from, (x, y), m.
        toward: a place on the line of the pins, (x, y), m.
        current_pin_m: distance of the current pin, m.
        distance_m: distances of the potential pin, less than that of the current pin, m.

    Returns:
        Shape (distances,). Pins are points on the surface.

    Raises:
        ValueError: no direction, or a pin beyond the current pin.
    """
    length = check_positive(math.dist(start, toward), "length of the line of pins")
    way = ((toward[0] - start[0]) / length, (toward[1] - start[1]) / length)
    apart = np.array(distance_m, dtype=float)
    if np.any(apart <= 0) or np.any(apart >= check_positive(current_pin_m, "current pin")):
        raise ValueError("the potential pin stands between the electrode and the current pin")
    joined = system.joined(names)
    currents = {name: joined.shares[name] for name in names}
    line = np.append(apart, current_pin_m)
    ground = system.ground_potential(
        currents, np.column_stack([start[0] + way[0] * line, start[1] + way[1] * line])
    )
    pin = point_potential(system.soil, 0.0, 0.0, current_pin_m - apart)
    value: Array = joined.resistance_ohm - ground[-1] - ground[:-1] + pin
    return value


def true_place(
    system: ElectrodeSystem,
    names: Sequence[str],
    start: Place,
    toward: Place,
    current_pin_m: float,
) -> float | None:
    """Return where the curve crosses the true resistance, as a part of the distance.

    0.618 for a small electrode in uniform soil; elsewhere otherwise.

    Args:
        system: the electrodes.
        names: those under test, joined.
        start: place that distances are counted from, (x, y), m.
        toward: a place on the line of the pins, (x, y), m.
        current_pin_m: distance of the current pin, m.

    Returns:
        The place between 5 % and 98 %, or None if it isn't there.
    """
    places = np.linspace(0.05, 0.98, 94)
    curve = expected_curve(system, names, start, toward, current_pin_m, places * current_pin_m)
    off = curve - system.joined(names).resistance_ohm
    crossed = np.flatnonzero(np.diff(np.sign(off)) != 0)
    if not crossed.size:
        return None
    k = int(crossed[0])
    return float(places[k] - off[k] * (places[k + 1] - places[k]) / (off[k + 1] - off[k]))
