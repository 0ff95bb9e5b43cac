"""What readings at the origin say of the supply's earth, and what a broken PEN would do."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.iec_tables import iec_number
from bondwright.catalog.sources import CatalogError
from bondwright.devices.bands import band
from bondwright.rules.answer import Finding, Severity, Verdict, need_words
from bondwright.rules.iec.arrangements import Earthing, arrangement
from bondwright.rules.iec.loops import by_residual_device
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set

_LONGEST_S = 5.0


@dataclass(frozen=True, slots=True)
class OriginReadings:
    """Loop impedances read at and near the origin; infinity for over range.

    Attributes:
        loop_ohm: line to the main earthing terminal, ohm.
        elsewhere: the same at sockets, by place, ohm.
        supply_alone_ohm: line to the supply's earth with the installation's earthing taken off
            it, ohm; None if not read.
    """

    loop_ohm: float
    elsewhere: Mapping[str, float] = field(default_factory=dict)
    supply_alone_ohm: float | None = None

    def __post_init__(self) -> None:
        values = [self.loop_ohm, *self.elsewhere.values()]
        if self.supply_alone_ohm is not None:
            values.append(self.supply_alone_ohm)
        if not all(value > 0 for value in values):
            raise ValueError("a loop impedance has to be above zero; infinity is over range")


@dataclass(frozen=True, slots=True)
class OriginVerdict:
    """What readings at the origin come to.

    Attributes:
        earth_joined: whether the supply's earth is joined by metal.
        current_a: current of a fault to metal, A.
        common: whether the cause lies at the origin, for every circuit reads the same; None
            where nothing was read elsewhere.
        opens: devices that open at that current, overcurrent or residual, as written.
        findings: worst first.
        because: the sums, for a person.
    """

    earth_joined: Verdict
    current_a: float
    common: bool | None
    opens: tuple[str, ...]
    findings: tuple[Finding, ...]
    because: tuple[str, ...]

    def __post_init__(self) -> None:
        need_words(*self.because)


def judge_origin(
    where: str,
    earthing: Earthing,
    readings: OriginReadings,
    rules: str = DEFAULT_RULES,
    *,
    u0_v: float = 230.0,
    devices: Sequence[DeviceRating] = (),
) -> OriginVerdict:
    """Judge by loop readings whether a TN supply has the earth it is said to have.

    Args:
        where: id of the origin.
        earthing: what the supply is believed to be, one of the TN kinds or MEN.
        readings: what was read.
        rules: name of the rule set.
        u0_v: nominal voltage of a line to earth, V.
        devices: devices of the installation, with their residual elements.

    Raises:
        UnknownFamilyRulesError: no such rule set.
        ValueError: a TT or IT system, or no voltage.
    """
    rule_set(rules)
    if not earthing.is_tn:
        raise ValueError(f"{earthing.value} has no metal earth from the supply to be judged")
    if not 0 < u0_v < math.inf:
        raise ValueError(f"a voltage of {u0_v:g} is not possible; give a positive number")
    kind = Earthing.TN_C_S if earthing is Earthing.TN_C_S else Earthing.TN_S
    declared = iec_number("declared_loop", kind.value).value
    times = iec_number("open_earth", "times_declared").value
    loop = readings.loop_ohm
    current = u0_v / loop
    because = [
        f"{u0_v:g} V / {loop:g} ohm = {current:.3g} A.",
        f"{kind.value} supplies are commonly declared with at most {declared:g} ohm.",
    ]
    opens = tuple(str(device) for device in devices if _opens(device, current, because))
    common = _common(readings, because)
    if loop <= declared:
        return OriginVerdict(Verdict.HOLDS, current, common, opens, (), tuple(because))
    if loop < times * declared:
        found = _high(where, loop, declared, rules)
        return OriginVerdict(Verdict.CANNOT_TELL, current, common, opens, (found,), tuple(because))
    findings = [_open(where, earthing, loop, current, opens, devices, rules)]
    alone = readings.supply_alone_ohm
    if alone is not None and alone > times * loop:
        findings.append(_pipework(where, loop, alone, rules))
    findings += _as_tt(where, loop, devices, because)
    return OriginVerdict(
        Verdict.FALLS_SHORT, current, common, opens, tuple(findings), tuple(because)
    )


def _opens(device: DeviceRating, current: float, because: list[str]) -> bool:
    if by_residual_device(device, current, _LONGEST_S, because) is Verdict.HOLDS:
        return True
    try:
        opens = band(device).slowest(current) <= _LONGEST_S
    except CatalogError as error:
        because.append(f"{device}: {error.problem}.")
        return False
    because.append(
        f"{device} {'opens' if opens else 'does not open'} within {_LONGEST_S:g} s at "
        f"{current:.3g} A."
    )
    return opens


def _common(readings: OriginReadings, because: list[str]) -> bool | None:
    if not readings.elsewhere:
        return None
    part = iec_number("same_everywhere", "part").value
    low, high = (1 - part) * readings.loop_ohm, (1 + part) * readings.loop_ohm
    same = all(low <= value <= high for value in readings.elsewhere.values())
    because.append(
        "Every circuit reads about the same, so the cause is common to all: it lies at the "
        "origin or ahead of it."
        if same
        else "The circuits read differently, so part of the cause lies within the installation."
    )
    return same


def _high(where: str, loop: float, declared: float, rules: str) -> Finding:
    rule = "iec-supply-earth-high"
    return Finding(
        rule,
        Severity.CANNOT_TELL,
        where,
        "external loop higher than declared",
        f"{loop:g} ohm is above {declared:g} ohm. A poor joint in the supply's earth is possible; "
        "it may get worse.",
        "Ask the network operator what is declared here, and to test its joints. Don't open the "
        "cut-out.",
        clause(rule, rules),
    )


_WHERE_OPEN = {
    Earthing.TN_C_S: "the join of neutral and earth in the network operator's cut-out, or the "
    "earth tail to it",
    Earthing.MEN: "the MEN link or the main earthing conductor",
    Earthing.TN_S: "the sheath or earth conductor of the supply cable, or the earth tail to it",
    Earthing.TN_C: "the PEN conductor or the join to it",
}


def _open(
    where: str,
    earthing: Earthing,
    loop: float,
    current: float,
    opens: tuple[str, ...],
    devices: Sequence[DeviceRating],
    rules: str,
) -> Finding:
    rule = "iec-supply-earth-open"
    text = (
        f"{loop:g} ohm is no metal path: the earth terminal is not joined to the supply's "
        f"neutral, and what was measured is incidental earth. A fault draws {current:.3g} A"
    )
    if not opens:
        text += ", which opens none of the devices described" if devices else ""
    elif len(opens) < len(devices):
        text += f"; of the devices described only {', '.join(opens)} would open"
    text += f". Look at {_WHERE_OPEN[earthing]}."
    mends = arrangement(earthing).mends
    return Finding(
        rule,
        Severity.DANGER,
        where,
        "the supply's earth is not joined",
        text,
        f"Have {mends} mend it, and treat the installation as not earthed until then; or, if no "
        "earth can be had from the supply, make it a TT system with an electrode and a "
        "residual-current device for every circuit. Don't open the cut-out.",
        clause(rule, rules),
    )


def _pipework(where: str, loop: float, alone: float, rules: str) -> Finding:
    rule = "iec-earth-by-pipework"
    read = "over range" if math.isinf(alone) else f"{alone:g} ohm"
    return Finding(
        rule,
        Severity.DANGER,
        where,
        "pipework is the only way to earth",
        f"With the installation taken off, the supply's earth alone reads {read}; the {loop:g} ohm "
        "come from bonded pipework in the soil. A length of plastic pipe would end it.",
        "Don't take the bonding off while the supply is on: metal may be live. A pipe of a "
        "service is never the means of earthing.",
        clause(rule, rules),
    )


def _as_tt(
    where: str, loop: float, devices: Sequence[DeviceRating], because: list[str]
) -> list[Finding]:
    """What residual-current devices make of it meanwhile."""
    rated = [device.residual_a for device in devices if device.residual_a is not None]
    if not rated:
        because.append(
            "No residual-current device is described; with one of 30 mA "
            f"{loop:g} ohm x 30 mA = {loop * 0.03:.3g} V would stand."
        )
        return []
    touch = iec_number("touch_limit", "ac").value
    volts = loop * max(rated)
    because.append(
        f"As a TT system: {loop:g} ohm x {1000 * max(rated):g} mA = {volts:.3g} V; at most "
        f"{touch:g} V."
    )
    if volts <= touch:
        return []
    rule = "iec-tt-residual-device"
    return [
        Finding(
            rule,
            Severity.DANGER,
            where,
            "electrode too high for the residual-current device",
            f"{volts:.3g} V may stand on metal for good before the device of "
            f"{1000 * max(rated):g} mA opens.",
            "Use a residual-current device of a lower rating until the earth is mended.",
        )
    ]


# --- broken PEN ---------------------------------------------------------------------------


def open_pen_voltage(u0_v: float, load_ohm: float, earth_ohm: float) -> float:
    """Return the voltage of all earthed metal to earth when the PEN or service neutral breaks.

    ``U = U0 R / (R + Z)`` for one line with loads Z and the installation's electrode R: the load
    current comes back through the electrode.

    Args:
        u0_v: nominal voltage of a line to earth, V.
        load_ohm: of all loads in parallel, ohm.
        earth_ohm: of the installation's electrode and bonded metal, ohm.

    Returns:
        Voltage, V; the whole of it where there is no electrode.

    Raises:
        ValueError: a voltage or resistance below zero, or no load.
    """
    if not 0 < u0_v < math.inf or not 0 < load_ohm < math.inf or not earth_ohm >= 0:
        raise ValueError(f"{u0_v:g} V, {load_ohm:g} ohm and {earth_ohm:g} ohm are not possible")
    if math.isinf(earth_ohm):
        return u0_v
    return u0_v * earth_ohm / (earth_ohm + load_ohm)


def open_pen_finding(
    where: str,
    earthing: Earthing,
    u0_v: float,
    load_ohm: float,
    earth_ohm: float,
    rules: str = DEFAULT_RULES,
) -> Finding | None:
    """Return what a broken PEN or service neutral would do, or None where there is no PEN.

    Args:
        where: id of the origin.
        earthing: of the supply.
        u0_v: nominal voltage of a line to earth, V.
        load_ohm: of all loads in parallel, ohm.
        earth_ohm: of the installation's electrode and bonded metal, ohm.
        rules: name of the rule set.

    Raises:
        UnknownFamilyRulesError: no such rule set.
        ValueError: a voltage or resistance below zero, or no load.
    """
    if not earthing.has_pen:
        return None
    rule = "iec-pen-open"
    volts = open_pen_voltage(u0_v, load_ohm, earth_ohm)
    limit = iec_number("touch_limit", "ac").value
    return Finding(
        rule,
        Severity.DANGER if volts > limit else Severity.NOTE,
        where,
        "what a broken supply neutral would do",
        f"If the neutral of the supply breaks, the loads lift all earthed metal to about "
        f"{volts:.0f} V. Residual-current devices see no difference and stay closed; a loop test "
        "made while the joint still carries shows nothing.",
        "Treat every tingle from a tap or case as an emergency: keep off, switch off at the "
        "main switch if it can be done safely, and call the network operator. An electrode lowers "
        "the voltage and doesn't cure it.",
        clause(rule, rules),
    )
