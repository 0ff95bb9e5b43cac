"""A site's ground in plain words: electrodes, what they bring, what a fault does around them."""

from __future__ import annotations

import math

from bondwright.explain.earth import MEASURE, NO_PATH, soil_words
from bondwright.explain.story import Story
from bondwright.explain.words import amps, listed, percent, seconds, volts
from bondwright.rules.answer import Verdict
from bondwright.safety.touch import Footing
from bondwright.studies.ground_model import GroundFault, GroundStudy, TouchAt
from bondwright.studies.ground_parts import Brings, ElectrodeRow
from bondwright.units import Dimension, UnitSystem, show

LITTLE: float = 0.10
"""A piece that lowers the resistance by less than this part brings little."""

SURFACE_NOTE: str = (
    "Voltages are those at the start of the fault, against what a person bears for as long as it "
    "lasts: the lower of IEEE Std 80 (50 kg, feet on this surface) and the conventional limit for "
    "wet skin. The current into the earth is that of the solved circuit: what comes home by the "
    "neutral, pipes and cable shields never enters the earth. Faults of the utility's own high "
    "voltage are not in it."
)


def footing_words(footing: Footing, system: UnitSystem = "us") -> str:
    """Say what people stand on."""
    soil = show(footing.soil_ohm_m, Dimension.RESISTIVITY)
    if footing.surface_ohm_m is None:
        return f"feet on {soil}"
    layer = show(footing.surface_ohm_m, Dimension.RESISTIVITY)
    return f"feet on {show(footing.depth_m, Dimension.LENGTH, system)} of {layer} over {soil}"


def ohms(value: float) -> str:
    """Write a resistance."""
    return show(value, Dimension.RESISTANCE)


def method_words(row: ElectrodeRow) -> str:
    """Say where an electrode's resistance comes from."""
    if row.given is not None:
        if row.shape is None:
            return "given; its place isn't"
        return f"given; its shape makes {ohms(row.computed)}"
    if row.shape is not None:
        return "worked out from its shape and place"
    return "worked out or typical; its place isn't given"


def range_words(row: ElectrodeRow) -> str:
    """Write the range over the seasons, or nothing."""
    if row.most <= row.least * (1 + 1e-9):
        return ""
    return f"{ohms(row.least)} to {ohms(row.most)}"


def state_words(row: ElectrodeRow) -> str:
    """Say what an electrode is joined to."""
    if row.neighbour:
        return f"a neighbour's; rises to {percent(row.lifted)} of ours"
    if not row.joined:
        return f"not joined; rises to {percent(row.lifted)} of the others"
    return f"takes {percent(row.share)}"


def tell_brings(one: Brings) -> str:
    """Say what a further piece really brings."""
    gain = 1 - one.after / one.before
    undisturbed = f"{ohms(one.ideal)} if it did not share the ground with them"
    little = ", which is little" if gain < LITTLE else ""
    if one.count > 1:
        rest = "the first" if one.count == 2 else f"the first {one.count - 1}"
        return (
            f"Rod {one.count} of {one.what} takes it from {ohms(one.before)} ({rest} alone) to "
            f"{ohms(one.after)}{little}; it would be {undisturbed}."
        )
    return (
        f"{one.what} takes the rest from {ohms(one.before)} to {ohms(one.after)}{little}; it "
        f"would be {undisturbed}."
    )


def tell_ground(study: GroundStudy, system: UnitSystem | None = None) -> Story:
    """Tell what the electrodes of a site make together, and what each brings."""
    if study.resistance_ohm is None or study.apart_ohm is None:
        return Story(
            "No electrode is joined",
            ("Nothing holds this installation near the potential of the earth.", NO_PATH),
            Verdict.CANNOT_TELL,
        )
    value = study.resistance_ohm
    sentences = [
        f"In soil of {soil_words(study.ground.soil, system)}: {listed(study.joined)} "
        f"{'make' if len(study.joined) > 1 else 'makes'} {ohms(value)} to remote earth."
    ]
    lost = value / study.apart_ohm - 1
    if len(study.joined) > 1:
        sentences.append(
            f"Far apart they would make {ohms(study.apart_ohm)}; sharing the ground costs "
            f"{percent(lost)}."
        )
    sentences += [tell_brings(one) for one in study.brings]
    for row in study.rows:
        if row.neighbour or not row.joined:
            whose = "a neighbour's" if row.neighbour else "joined to nothing"
            sentences.append(f"{row.id}, {whose}, rises to {percent(row.lifted)} of their voltage.")
    unplaced = [row.id for row in study.rows if row.shape is None]
    if unplaced:
        sentences.append(
            f"The place of {listed(unplaced)} isn't given: what stands near "
            f"{'them' if len(unplaced) > 1 else 'it'} can't be told, and the sum may be too good."
        )
    if study.ground.seasons:
        names = listed(list(study.ground.seasons))
        sentences.append(f"Ranges are over the soil as it is, {names}.")
    measured = all(row.given is not None for row in study.rows if row.joined)
    sentences += ([] if measured else [MEASURE]) + [NO_PATH]
    return Story(f"Electrodes of {ohms(value)} together", tuple(sentences), Verdict.CANNOT_TELL)


def touch_words(one: TouchAt, system: UnitSystem | None = None) -> str:
    """Say what a person bridges who touches metal from the ground."""
    held = one.verdict is Verdict.HOLDS
    return (
        f"{one.what}: {volts(one.touch_v)} from its metal, at {volts(one.metal_v)}, to the "
        f"ground at {spot_words(one.x_m, one.y_m, system)}; "
        f"{'within' if held else 'above'} {volts(one.limit_v)}."
    )


def pace_words(system: UnitSystem | None = None) -> str:
    """Write the length of a pace, over which step voltage is told: 1 m (IEEE 80)."""
    return show(1.0, Dimension.LENGTH, system)


def spot_words(x: float, y: float, system: UnitSystem | None = None) -> str:
    """Write a place on the ground."""
    here, there = (show(round(v, 1) + 0.0, Dimension.LENGTH, system) for v in (x, y))
    return f"x {here}, y {there}"


def tell_ground_fault(one: GroundFault, system: UnitSystem | None = None) -> Story:
    """Tell what one fault does to the ground."""
    lasts = (
        "nothing opens" if math.isinf(one.clearing_s) else f"cleared in {seconds(one.clearing_s)}"
    )
    part = one.total_a / one.fault_a if one.fault_a else 0.0
    highest = max(one.rise_v.values(), default=0.0)
    first = (
        f"{amps(one.total_a)} of {amps(one.fault_a)} goes into the earth ({percent(part)}); "
        f"the electrodes rise to {volts(highest)} ({lasts})."
    )
    sentences = [first]
    bad = [t for t in (*one.touch, *one.transfer) if t.verdict is not Verdict.HOLDS]
    if one.touch:
        sentences.append(touch_words(one.touch[0], system))
    if one.transfer:
        way = one.transfer[0]
        sentences.append(f"Carried away along {touch_words(way, system)}")
    sentences += [
        touch_words(t, system) for t in bad if t not in (one.touch[:1] + one.transfer[:1])
    ]
    verdict = Verdict.FALLS_SHORT if bad else Verdict.HOLDS
    drawn = one.stepped
    if drawn is not None:
        inside = "within" if drawn.step_verdict is Verdict.HOLDS else "above"
        x, y = drawn.step_at_m
        sentences.append(
            f"The worst pace of {pace_words(system)} has {volts(drawn.step_worst_v)} at "
            f"{spot_words(x, y, system)}, {inside} {volts(drawn.step_limit_v)}."
        )
        if drawn.step_verdict is not Verdict.HOLDS:
            verdict = Verdict.FALLS_SHORT
    if drawn is None:
        sentences.append(
            "What stands where on the surface can't be told: no electrode has a place."
        )
        verdict = Verdict.FALLS_SHORT if bad else Verdict.CANNOT_TELL
    for season in one.seasons:
        sentences.append(
            f"{season.season}: {ohms(season.resistance_ohm)} together, {amps(season.total_a)} "
            f"into the earth, {volts(season.rise_v)}."
        )
    return Story(f"{one.fault}", tuple(sentences), verdict)
