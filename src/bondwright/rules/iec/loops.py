"""Whether a metal fault loop lets a device disconnect in time: TN systems.

A loop can be too high for the overcurrent device and still be disconnected by a residual-current
device. Both are said, apart: that the supply goes off, and that the conductors are suspect.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.device_settings import GFCI
from bondwright.catalog.iec_tables import iec_number
from bondwright.devices.residual import residual_band
from bondwright.rules.answer import Finding, Severity, Verdict, need_words
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause
from bondwright.rules.iec.times import LoopLimit, disconnection_time, loop_limit
from bondwright.rules.inputs import CannotTellError

_EQUAL = 1e-9
_SUSPECT_X = 1.5
"""A loop so many times what its conductors can have is called suspect; our own line."""


@dataclass(frozen=True, slots=True)
class Loop:
    """A fault loop as measured or worked out.

    Attributes:
        ohm: impedance, ohm.
        measured_cold: measured with cold conductors, so that the site-test part of the limit
            holds; False for one worked out at full load.
        uncertainty: of the reading, as a part of it.
        expected_ohm: what length and size of the conductors let expect; None if not worked out.
        ring: whether it is a ring final circuit.
    """

    ohm: float
    measured_cold: bool = False
    uncertainty: float = 0.0
    expected_ohm: float | None = None
    ring: bool = False

    def __post_init__(self) -> None:
        if not 0 < self.ohm < math.inf:
            raise ValueError(f"a loop of {self.ohm:g} ohm is not possible; give its impedance")
        if not 0 <= self.uncertainty < 1:
            raise ValueError(f"an uncertainty of {self.uncertainty:g} is not possible; 0.05 is 5 %")
        if self.expected_ohm is not None and not 0 < self.expected_ohm < math.inf:
            raise ValueError(f"an expected loop of {self.expected_ohm:g} ohm is not possible")


@dataclass(frozen=True, slots=True)
class LoopVerdict:
    """What a fault loop comes to.

    Attributes:
        disconnection: whether something disconnects in time.
        overcurrent: whether the overcurrent device does; None where none was judged.
        residual: whether the residual-current device does; None where there is none.
        current_a: fault current, A.
        time_s: time allowed, s.
        limit: loop limit of the overcurrent device; None where it can't be told.
        findings: what a person has to know, worst first.
        because: the sums, for a person.
    """

    disconnection: Verdict
    overcurrent: Verdict | None
    residual: Verdict | None
    current_a: float
    time_s: float
    limit: LoopLimit | None
    findings: tuple[Finding, ...]
    because: tuple[str, ...]

    def __post_init__(self) -> None:
        need_words(*self.because)


def judge_loop(
    where: str,
    loop: Loop,
    device: DeviceRating,
    earthing: Earthing = Earthing.TN_S,
    rules: str = DEFAULT_RULES,
    *,
    u0_v: float = 230.0,
    final: bool = True,
    sockets: bool = True,
    ahead: DeviceRating | None = None,
) -> LoopVerdict:
    """Judge whether a fault is disconnected in time in a TN system.

    Args:
        where: id of the circuit.
        loop: its fault loop.
        device: its device, with a residual element where it has one.
        earthing: of the supply, one of the TN kinds or MEN.
        rules: name of the rule set.
        u0_v: nominal voltage of a line to earth, V.
        final: whether it is a final circuit.
        sockets: whether it has sockets.
        ahead: a residual-current device ahead of the circuit, where its own has no such element.

    Raises:
        CannotTellError: no disconnection time is asked at that voltage.
        UnknownFamilyRulesError: no such rule set.
        ValueError: a TT or IT system.
    """
    if not earthing.is_tn:
        other = "judge_tt" if earthing is Earthing.TT else "judge_it"
        raise ValueError(f"{earthing.value} has no metal loop to judge; use {other}")
    time = disconnection_time(u0_v, earthing, device.rating_a, rules, final=final, sockets=sockets)
    current = u0_v / loop.ohm
    because = [*time.because, f"{u0_v:g} V / {loop.ohm:.4g} ohm = {current:.4g} A."]
    found: list[Finding] = []
    limit = None
    try:
        limit = loop_limit(device, time.time_s, u0_v, rules)
        overcurrent = _against(loop, limit, because, where, found, rules)
    except CannotTellError as error:
        overcurrent = Verdict.CANNOT_TELL
        because.append(f"{error.problem[:1].upper()}{error.problem[1:]}; {error.missing}.")
    residual = by_residual_device(device, current, time.time_s, because)
    if residual is None and ahead is not None:
        residual = by_residual_device(ahead, current, time.time_s, because)
    if overcurrent is Verdict.HOLDS or residual is Verdict.HOLDS:
        disconnection = Verdict.HOLDS
    elif overcurrent is Verdict.FALLS_SHORT and residual in (None, Verdict.FALLS_SHORT):
        disconnection = Verdict.FALLS_SHORT
    else:
        disconnection = Verdict.CANNOT_TELL
    if earthing is Earthing.TN_C and residual is not None:
        found.append(pen_residual_finding(where, rules))
        if overcurrent is not Verdict.HOLDS:
            disconnection = overcurrent
    if overcurrent is Verdict.FALLS_SHORT and limit is not None:
        found += _too_high(where, loop, limit, current, disconnection, device, rules)
    elif _suspect(loop):
        found.append(_high(where, loop, rules))
    return LoopVerdict(
        disconnection,
        overcurrent,
        residual,
        current,
        time.time_s,
        limit,
        worst_first(found),
        tuple(because),
    )


def _against(
    loop: Loop,
    limit: LoopLimit,
    because: list[str],
    where: str,
    found: list[Finding],
    rules: str,
) -> Verdict:
    because += limit.because
    most, least = loop.ohm * (1 + loop.uncertainty), loop.ohm * (1 - loop.uncertainty)
    if least > limit.ohm * (1 + _EQUAL):
        because.append(f"{loop.ohm:.4g} ohm is above {limit.ohm:.4g} ohm.")
        return Verdict.FALLS_SHORT
    allowed = limit.ohm
    if loop.measured_cold:
        part = iec_number("site_test", "part").value
        allowed = limit.ohm * part
        because.append(
            f"Measured cold it is to be at most {100 * part:g} % of the limit: {allowed:.4g} ohm."
        )
    if most <= allowed * (1 + _EQUAL):
        because.append(f"{loop.ohm:.4g} ohm is within {allowed:.4g} ohm.")
        return Verdict.HOLDS
    found.append(
        Finding(
            "iec-site-test",
            Severity.CANNOT_TELL,
            where,
            "loop close to its limit",
            f"{loop.ohm:.4g} ohm was read, the limit with hot conductors is {limit.ohm:.4g} ohm. "
            "Between the two the temperature of the conductors and the accuracy of the instrument "
            "decide.",
            "Work the loop out from the lengths at full-load temperature, or read it again with "
            "a more accurate instrument.",
            clause("iec-site-test", rules),
        )
    )
    return Verdict.CANNOT_TELL


def by_residual_device(
    device: DeviceRating, current_a: float, time_s: float, because: list[str]
) -> Verdict | None:
    """Return whether a residual element opens in time; None where there is none for it.

    Args:
        device: the device.
        current_a: residual current, A.
        time_s: time allowed, s.
        because: the reasons, to which one is added.
    """
    if device.residual_a is None or device.residual_type == GFCI:
        return None
    found = residual_band(device)
    if found is None:
        return None
    slowest = found.slowest(current_a)
    ms = 1000 * device.residual_a
    if slowest <= time_s:
        because.append(
            f"The residual-current device of {ms:g} mA opens within {slowest:g} s at "
            f"{current_a:.4g} A."
        )
        return Verdict.HOLDS
    because.append(
        f"The residual-current device of {ms:g} mA needs {slowest:g} s at {current_a:.4g} A, "
        f"{time_s:g} s is allowed."
        if math.isfinite(slowest)
        else f"{current_a:.4g} A does not open the residual-current device of {ms:g} mA for sure."
    )
    return Verdict.FALLS_SHORT


def _too_high(
    where: str,
    loop: Loop,
    limit: LoopLimit,
    current: float,
    disconnection: Verdict,
    device: DeviceRating,
    rules: str,
) -> list[Finding]:
    short = (
        f"{loop.ohm:.4g} ohm is above the limit of {limit.ohm:.4g} ohm of {device}: "
        f"{current:.3g} A does not open it within {limit.time_s:g} s for sure."
    )
    if disconnection is Verdict.HOLDS:
        return [
            Finding(
                "iec-loop-by-residual-device",
                Severity.NOTE,
                where,
                "only the residual-current device disconnects in time",
                f"{short} Automatic disconnection by its residual-current device is possible; "
                "that device then is the only protection against electric shock here.",
                "Test the residual-current device, and find out why the loop is so high.",
                clause("iec-loop-by-residual-device", rules),
            ),
            _high(where, loop, rules),
        ]
    return [
        Finding(
            "iec-loop",
            Severity.DANGER,
            where,
            "a fault is not disconnected in time",
            f"{short} Metal stays live meanwhile. An earth electrode doesn't mend it.",
            "Find the poor joint or broken conductor; else use larger conductors, another device "
            "or a residual-current device. Keep the circuit off until then.",
            clause("iec-loop", rules),
        ),
        _high(where, loop, rules),
    ]


def _suspect(loop: Loop) -> bool:
    if loop.expected_ohm is None:
        return False
    return loop.ohm * (1 - loop.uncertainty) > _SUSPECT_X * loop.expected_ohm


def _high(where: str, loop: Loop, rules: str) -> Finding:
    text = f"A loop of {loop.ohm:.4g} ohm on a metal path points to "
    text += "a broken ring or a poor joint" if loop.ring else "a poor joint or too long a circuit"
    if loop.expected_ohm is not None:
        text += f"; its conductors let expect {loop.expected_ohm:.3g} ohm"
    cure = (
        "With the supply off, test both legs of the ring end to end: line (r1), neutral (rn) and "
        "protective conductor (r2)."
        if loop.ring
        else "With the supply off, test the continuity of the protective conductor from joint to "
        "joint, and compare it with its length."
    )
    return Finding(
        "iec-loop-high",
        Severity.FALLS_SHORT,
        where,
        "a broken ring or poor joint is probable" if loop.ring else "the loop is suspect",
        text + ". A residual-current device is no reason to leave it.",
        cure,
        clause("iec-loop-high", rules),
    )


def pen_residual_finding(where: str, rules: str) -> Finding:
    """Return the finding for a residual-current device in a TN-C system.

    Args:
        where: id of the circuit.
        rules: name of the rule set.
    """
    return Finding(
        "iec-pen-residual-device",
        Severity.FALLS_SHORT,
        where,
        "residual-current device with a PEN conductor",
        "The fault current comes back by the PEN conductor through the device, so that it sees "
        "no difference and doesn't open.",
        "Separate neutral and protective conductor upstream of the device, and don't join them "
        "again.",
        clause("iec-pen-residual-device", rules),
    )


_ORDER = {severity: index for index, severity in enumerate(Severity)}


def worst_first(found: list[Finding]) -> tuple[Finding, ...]:
    """Return findings by severity, worst first."""
    return tuple(sorted(found, key=lambda finding: _ORDER[finding.severity]))
