"""TT systems: earth brings the fault back, so that a residual-current device has to open."""

from __future__ import annotations

import math

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.device_settings import GFCI
from bondwright.catalog.iec_tables import iec_number
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.loops import LoopVerdict, by_residual_device, worst_first
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set
from bondwright.rules.iec.times import disconnection_time, loop_limit
from bondwright.rules.inputs import CannotTellError

_EQUAL = 1e-9


def judge_tt(
    where: str,
    electrode_ohm: float,
    device: DeviceRating,
    rules: str = DEFAULT_RULES,
    *,
    source_ohm: float = 0.0,
    u0_v: float = 230.0,
    special: bool = False,
    final: bool = True,
    sockets: bool = True,
) -> LoopVerdict:
    """Judge a circuit of a TT system: ``RA IdeltaN <= 50 V`` (411.5.3), and its time.

    Args:
        where: id of the circuit or electrode.
        electrode_ohm: RA, electrode and protective conductor together, ohm.
        device: the device with a residual element.
        rules: name of the rule set.
        source_ohm: earth of the source and line conductor, ohm.
        u0_v: nominal voltage of a line to earth, V.
        special: whether the limit of special locations (25 V) holds.
        final: whether it is a final circuit.
        sockets: whether it has sockets.

    Raises:
        CannotTellError: no disconnection time is asked at that voltage.
        UnknownFamilyRulesError: no such rule set.
        ValueError: a resistance below zero.
    """
    rule_set(rules)
    if not 0 < electrode_ohm < math.inf or not 0 <= source_ohm < math.inf:
        raise ValueError(
            f"an electrode of {electrode_ohm:g} ohm with {source_ohm:g} ohm is not possible"
        )
    time = disconnection_time(
        u0_v, Earthing.TT, device.rating_a, rules, final=final, sockets=sockets
    )
    touch = iec_number("touch_limit", "special_ac" if special else "ac").value
    current = u0_v / (electrode_ohm + source_ohm)
    because = [*time.because]
    found: list[Finding] = []
    verdict = None
    if device.residual_a is None or device.residual_type == GFCI:
        found.append(_tt_without(where, current, rules))
        overcurrent = _tt_overcurrent(device, time.time_s, u0_v, electrode_ohm, rules, because)
        disconnection = overcurrent
    else:
        overcurrent = None
        volts = electrode_ohm * device.residual_a
        ms = 1000 * device.residual_a
        because.append(
            f"RA x IdeltaN = {electrode_ohm:g} ohm x {ms:g} mA = {volts:.3g} V; at most "
            f"{touch:g} V."
        )
        in_time = by_residual_device(device, current, time.time_s, because)
        held = volts <= touch * (1 + _EQUAL)
        verdict = Verdict.HOLDS if held and in_time is Verdict.HOLDS else Verdict.FALLS_SHORT
        disconnection = verdict
        if not held:
            found.append(_tt_short(where, electrode_ohm, device, volts, touch, rules))
        elif verdict is not Verdict.HOLDS:
            found.append(_tt_slow(where, current, device, time.time_s, rules))
    found += electrode_stability(where, electrode_ohm, rules)
    return LoopVerdict(
        disconnection,
        overcurrent,
        verdict,
        current,
        time.time_s,
        None,
        worst_first(found),
        tuple(because),
    )


def electrode_stability(where: str, electrode_ohm: float, rules: str) -> tuple[Finding, ...]:
    """Return the note that an electrode is too high to be relied on, or nothing.

    Args:
        where: id of the electrode.
        electrode_ohm: RA, ohm.
        rules: name of the rule set.
    """
    most = iec_number("stable_electrode", "most_ohm").value
    if electrode_ohm <= most:
        return ()
    return (
        Finding(
            "iec-electrode-unstable",
            Severity.NOTE,
            where,
            "electrode too high to be relied on",
            f"{electrode_ohm:g} ohm is above {most:g} ohm: in dry or frozen soil it may rise "
            "beyond what the residual-current device can work with.",
            "Add electrodes or use a deeper one, or ask the network operator for a TN supply. "
            "Read it again in the dry season.",
            clause("iec-electrode-unstable", rules),
        ),
    )


def _tt_overcurrent(
    device: DeviceRating,
    time_s: float,
    u0_v: float,
    electrode_ohm: float,
    rules: str,
    because: list[str],
) -> Verdict:
    try:
        limit = loop_limit(device, time_s, u0_v, rules)
    except CannotTellError as error:
        because.append(f"{error.problem[:1].upper()}{error.problem[1:]}.")
        return Verdict.CANNOT_TELL
    because += limit.because
    return Verdict.HOLDS if electrode_ohm <= limit.ohm else Verdict.FALLS_SHORT


def _tt_without(where: str, current: float, rules: str) -> Finding:
    return Finding(
        "iec-tt-residual-device",
        Severity.DANGER,
        where,
        "TT system without a residual-current device",
        f"Earth brings back {current:.3g} A at most, which an overcurrent device doesn't open in "
        "time: earth is no path to clear a fault by.",
        "Install a residual-current device at the origin, with the supply off.",
        clause("iec-tt-residual-device", rules),
    )


def _tt_short(
    where: str, ohm: float, device: DeviceRating, volts: float, touch: float, rules: str
) -> Finding:
    rated = device.residual_a or math.nan
    return Finding(
        "iec-tt-residual-device",
        Severity.DANGER,
        where,
        "electrode too high for the residual-current device",
        f"{ohm:g} ohm x {1000 * rated:g} mA = {volts:.3g} V may stand on all metal for good; "
        f"{touch:g} V is the limit.",
        f"Use a residual-current device of at most {1000 * touch / ohm:.3g} mA, or bring the "
        f"electrode to {touch / rated:.4g} ohm or less.",
        clause("iec-tt-residual-device", rules),
    )


def _tt_slow(
    where: str, current: float, device: DeviceRating, time_s: float, rules: str
) -> Finding:
    return Finding(
        "iec-tt-residual-device",
        Severity.FALLS_SHORT,
        where,
        "residual-current device not quick enough",
        f"At {current:.3g} A {device} doesn't open within {time_s:g} s for sure.",
        "Use one without delay, or a lower rated residual current, or a better electrode.",
        clause("iec-tt-residual-device", rules),
    )
