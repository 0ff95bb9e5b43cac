"""Plainer field tests: two points, continuity of bonds, soil box, loop impedance, TT electrode."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from bondwright.catalog._data import read_table
from bondwright.catalog.earth_data import Accuracy, earth_data, instrument
from bondwright.earth.judged import Judged, Verdict, against, check_reading, goal_words, said
from bondwright.earth.soil import check_positive
from bondwright.units import Dimension, show


class Asked(StrEnum):
    """What a two-point reading is meant to show."""

    JOINED = "joined"
    """That two electrodes or buses are bonded by metal."""
    EARTH = "earth"
    """How much resistance an electrode has."""


def judge_two_point(
    reading_ohm: float,
    asked: Asked,
    *,
    reference_ohm: float | None = None,
    electrode_ohm: float | None = None,
    leads_ohm: float = 0.0,
    goal_ohm: float | None = None,
    accuracy: Accuracy | None = None,
) -> Judged:
    """Judge a reading between two points.

    Args:
        reading_ohm: what the instrument showed, ohm.
        asked: what it is meant to show.
        reference_ohm: resistance to earth of the other end, if known, ohm.
        electrode_ohm: what the electrode has or should have by itself, if known, ohm.
        leads_ohm: resistance of the leads, if not nulled, ohm.
        goal_ohm: the most that is allowed, ohm.
        accuracy: of the instrument; None for a usual one.

    Raises:
        ValueError: impossible readings, or leads that are more than the reading.
    """
    test = "two-point"
    words: tuple[str, ...]
    check_reading(leads_ohm, "lead resistance")
    value = check_reading(reading_ohm, "reading") - leads_ohm
    error = (accuracy or instrument("two-point")).of(reading_ohm)
    if value < -error:
        raise ValueError(
            f"leads of {leads_ohm:g} ohm are more than the reading of {reading_ohm:g} ohm"
        )
    value = max(value, 0.0)
    metal = earth_data().metal_loop_ohm
    if asked is Asked.JOINED:
        return _joined(test, value, error, electrode_ohm, goal_ohm or metal)
    if value < metal:
        words = (
            f"{said(value, error)}: a path of metal, not an earth-resistance value.",
            "It shows that the two are joined. For the electrode use a fall-of-potential test.",
        )
        return Judged(test, None, None, goal_ohm, Verdict.CANNOT_TELL, words)
    if electrode_ohm is not None and value + error < electrode_ohm:
        return Judged(test, None, None, goal_ohm, Verdict.CANNOT_TELL, _poor(value, error))
    own = value - (reference_ohm or 0.0)
    if reference_ohm is None:
        words = (
            f"{said(value, error)} between two points: both electrodes together, so this one has "
            "at most that.",
            goal_words(against(value, error, goal_ohm), goal_ohm)
            if against(value, error, goal_ohm) is Verdict.HOLDS
            else "How much of it is this electrode's can't be told without knowing the other.",
            "Two electrodes near each other read too low; metal between them reads metal.",
        )
        verdict = against(value, error, goal_ohm)
        kept = verdict if verdict is Verdict.HOLDS else Verdict.CANNOT_TELL
        return Judged(test, value, error, goal_ohm, kept, words)
    if own <= 0:
        raise ValueError(
            f"the other end's {reference_ohm:g} ohm is more than the reading of {value:g} ohm; "
            "one of them is wrong, or the two are joined by metal"
        )
    verdict = against(own, error, goal_ohm)
    words = (
        f"{said(own, error)} after taking off {show(reference_ohm, Dimension.RESISTANCE)} of the "
        "other end.",
        goal_words(verdict, goal_ohm),
        "Good for as much as the two don't disturb each other and no metal joins them.",
    )
    return Judged(test, own, error, goal_ohm, verdict, words)


def _poor(value: float, error: float) -> tuple[str, ...]:
    return (
        f"{said(value, error)}: too much for a bond and too little for soil between two healthy "
        "electrodes. A poor or accidental connection.",
        "Ask whether current flowed on the conductor during the test. Bond the electrode (all "
        "electrodes of a building are bonded together), then test continuity with a low-ohm "
        "instrument.",
    )


def _joined(
    test: str, value: float, error: float, electrode_ohm: float | None, goal: float
) -> Judged:
    verdict = against(value, error, goal)
    if verdict is Verdict.HOLDS:
        words: tuple[str, ...] = (
            f"{said(value, error)}: joined by metal.",
            "This is a continuity test, not an earth-resistance value.",
        )
    elif verdict is Verdict.CANNOT_TELL:
        words = (
            f"{said(value, error)}: the instrument is too coarse to prove a bond.",
            "Test continuity with a low-ohm instrument.",
        )
    elif electrode_ohm is not None and value >= electrode_ohm:
        words = (
            f"{said(value, error)}: that is soil. The two are not bonded.",
            "Bond them; all electrodes of a building are bonded together.",
        )
    else:
        words = _poor(value, error)
    return Judged(test, value, error, goal, verdict, words)


@dataclass(frozen=True, slots=True)
class BondReading:
    """A low-resistance reading across a bond.

    Attributes:
        reading_ohm: what was shown; several for both polarities [ohm].
        leads_ohm: of the leads, if not nulled [ohm].
        metal_c: temperature of the metal [degC].
        material: "Cu" or "Al".
    """

    reading_ohm: tuple[float, ...]
    leads_ohm: float = 0.0
    metal_c: float = 20.0
    material: str = "Cu"


def temperature_factor(metal_c: float, material: str) -> float:
    """Return resistance at a temperature over that at 20 degC, ``1 + alpha (t - 20)``.

    Raises:
        ValueError: a metal that is not held, or a temperature that no wire has.
    """
    rows = {
        row["material"]: float(row["alpha_per_k"])
        for row in read_table("temperature_coefficients.csv").rows
        if row["set"] == "iec"
    }
    if material not in rows:
        raise ValueError(f"no coefficient is held for {material!r}; give {' or '.join(rows)}")
    if not -60 <= metal_c <= 200:
        raise ValueError(f"metal at {metal_c} degC is not likely; give -60 to 200")
    return 1 + rows[material] * (metal_c - 20)


def judge_bond(reading: BondReading, limit_ohm: float, accuracy: Accuracy | None = None) -> Judged:
    """Judge the continuity of a bond, brought to 20 degC.

    Args:
        reading: what was shown.
        limit_ohm: the most it may have at 20 degC, ohm.
        accuracy: of the instrument; None for a usual one of 0.2 A.

    Raises:
        ValueError: no reading, impossible numbers, or leads that are more than the reading.
    """
    check_positive(limit_ohm, "limit")
    if not reading.reading_ohm:
        raise ValueError("no reading; give one or two")
    for value in reading.reading_ohm:
        check_reading(value, "reading")
    check_reading(reading.leads_ohm, "lead resistance")
    mean = math.fsum(reading.reading_ohm) / len(reading.reading_ohm)
    half = (max(reading.reading_ohm) - min(reading.reading_ohm)) / 2
    error = math.hypot((accuracy or instrument("low-resistance")).of(mean), half)
    net = mean - reading.leads_ohm
    if net < -error:
        raise ValueError(
            f"leads of {reading.leads_ohm:g} ohm are more than the reading of {mean:g} ohm; null "
            "them again"
        )
    factor = temperature_factor(reading.metal_c, reading.material)
    value, error = max(net, 0.0) / factor, error / factor
    verdict = against(value, error, limit_ohm)
    words = [f"{said(value, error)} at 20 degC.", goal_words(verdict, limit_ohm)]
    if half > 0.1 * mean and half > 0.005:
        words.append(
            "The two polarities differ: a voltage stands across the joint, from current or from "
            "corrosion. Find it before the value is used."
        )
    words.append(
        "Parallel metal can hide an open bond: the reading is that of all paths together. Test "
        "with the power off and proved dead."
    )
    return Judged("continuity", value, error, limit_ohm, verdict, tuple(words))


def judge_soil_box(
    resistance_ohm: Sequence[float],
    area_m2: float,
    apart_m: float,
    accuracy: Accuracy | None = None,
) -> Judged:
    """Return the resistivity of a sample in a soil box, ``R A / d`` [ohm m].

    Args:
        resistance_ohm: readings, ohm.
        area_m2: cross-section of the sample, m2.
        apart_m: distance of the potential pins (or end plates), m.
        accuracy: of the instrument; None for a usual one.

    Raises:
        ValueError: no reading, or impossible numbers.
    """
    check_positive(area_m2, "cross-section")
    check_positive(apart_m, "pin distance")
    if not resistance_ohm:
        raise ValueError("no reading; give one or more")
    for value in resistance_ohm:
        check_positive(value, "reading")
    mean = math.fsum(resistance_ohm) / len(resistance_ohm)
    half = (max(resistance_ohm) - min(resistance_ohm)) / 2
    geometry = area_m2 / apart_m
    error = math.hypot((accuracy or instrument("soil box")).of(mean), half) * geometry
    words = (
        f"{said(mean * geometry, error, Dimension.RESISTIVITY)} in the box.",
        "A sample is not the ground: packing, moisture and temperature differ, and layers don't "
        "show. Use a four-pin survey to design an electrode.",
    )
    return Judged("soil box", mean * geometry, error, None, Verdict.CANNOT_TELL, words)


class LoopTester(StrEnum):
    """Kind of loop tester."""

    HIGH_CURRENT = "loop high current"
    NO_TRIP = "loop no-trip"


def judge_loop(
    reading_ohm: float,
    limit_ohm: float,
    tester: LoopTester = LoopTester.HIGH_CURRENT,
    site_part: float = 0.8,
    accuracy: Accuracy | None = None,
) -> Judged:
    """Judge a loop impedance read with the conductors cold.

    Args:
        reading_ohm: what was shown, ohm.
        limit_ohm: the most at full temperature, ohm.
        tester: kind of instrument.
        site_part: part of the limit that a cold reading is held to (0.8 in BS 7671 practice).
        accuracy: of the instrument; None for a usual one.

    Raises:
        ValueError: impossible numbers.
    """
    check_reading(reading_ohm, "reading")
    check_positive(limit_ohm, "limit")
    if not 0 < site_part <= 1:
        raise ValueError(f"{site_part} is no part of a limit; give 0 to 1")
    error = (accuracy or instrument(tester.value)).of(reading_ohm)
    held = limit_ohm * site_part
    verdict = against(reading_ohm, error, held)
    words = [
        f"{said(reading_ohm, error)} against {show(held, Dimension.RESISTANCE)}, {site_part:.0%} "
        f"of {show(limit_ohm, Dimension.RESISTANCE)} for cold conductors.",
        goal_words(verdict, held),
    ]
    if tester is LoopTester.NO_TRIP:
        words.append(
            "A no-trip tester reads residual-current devices and noise along with the loop; less "
            "than 0.1 ohm too much is not resolved."
        )
    if reading_ohm < 0.1:
        words.append("Near the transformer testers are poor below 0.1 ohm; compute it as well.")
    return Judged("loop impedance", reading_ohm, error, held, verdict, tuple(words))


def judge_tt(
    electrode_ohm: float,
    residual_a: float,
    uncertainty_ohm: float = 0.0,
    touch_v: float = 50.0,
    unsteady_ohm: float = 200.0,
) -> Judged:
    """Judge an electrode behind a residual-current device, ``R_A I_dn <= 50 V`` (IEC 60364-4-41).

    Args:
        electrode_ohm: measured resistance with the protective conductor, ohm.
        residual_a: rated residual current of the device, A.
        uncertainty_ohm: half width, ohm.
        touch_v: conventional limit, V.
        unsteady_ohm: above this an electrode may not be stable (BS 7671 practice), ohm.
    """
    check_positive(electrode_ohm, "electrode resistance")
    check_positive(residual_a, "residual current")
    limit = check_positive(touch_v, "touch voltage limit") / residual_a
    verdict = against(electrode_ohm, uncertainty_ohm, limit)
    volts = electrode_ohm * residual_a
    words = [
        f"{show(electrode_ohm, Dimension.RESISTANCE)} x {show(residual_a, Dimension.CURRENT)} = "
        f"{show(volts, Dimension.VOLTAGE)}, against {show(touch_v, Dimension.VOLTAGE)}.",
        goal_words(verdict, limit),
        "The residual-current device is the protection; the electrode only lets it see the fault.",
    ]
    if electrode_ohm > unsteady_ohm:
        words.append(
            f"Above {show(unsteady_ohm, Dimension.RESISTANCE)} an electrode may not be stable: dry "
            "ground or frost can raise it much further. Use a better one."
        )
    return Judged("TT electrode", electrode_ohm, uncertainty_ohm, limit, verdict, tuple(words))
