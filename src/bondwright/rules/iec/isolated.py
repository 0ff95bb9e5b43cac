"""IT systems: a first fault that disconnects nothing, and a second one that has to."""

from __future__ import annotations

import math

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.iec_tables import iec_number
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.loops import Loop, worst_first
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set
from bondwright.rules.iec.times import disconnection_time, loop_limit

_EQUAL = 1e-9


def judge_it_first(
    where: str,
    electrode_ohm: float,
    first_fault_a: float,
    rules: str = DEFAULT_RULES,
    *,
    monitored: bool | None = None,
    current: str = "ac",
) -> tuple[Verdict, tuple[Finding, ...]]:
    """Judge the first fault of an IT system: ``RA Id <= 50 V`` ac, 120 V dc (411.6.2).

    Args:
        where: id of the system.
        electrode_ohm: RA, ohm.
        first_fault_a: current of the first fault, by leakage and capacitance, A.
        rules: name of the rule set.
        monitored: whether insulation monitoring stands; None if not known.
        current: "ac" or "dc".

    Raises:
        CatalogError: neither "ac" nor "dc".
        UnknownFamilyRulesError: no such rule set.
        ValueError: a magnitude below zero.
    """
    if not 0 <= electrode_ohm < math.inf or not 0 <= first_fault_a < math.inf:
        raise ValueError(f"{electrode_ohm:g} ohm with {first_fault_a:g} A is not possible")
    most = iec_number("touch_limit", current).value
    volts = electrode_ohm * first_fault_a
    found: list[Finding] = []
    verdict = Verdict.HOLDS
    if volts > most * (1 + _EQUAL):
        verdict = Verdict.FALLS_SHORT
        found.append(
            Finding(
                "iec-it-first-fault",
                Severity.DANGER,
                where,
                "touch voltage of the first fault too high",
                f"{electrode_ohm:g} ohm x {first_fault_a:g} A = {volts:.3g} V stands on metal "
                f"until the first fault is found; {most:g} V is the limit.",
                "Bring the electrode down, or the leakage.",
                clause("iec-it-first-fault", rules),
            )
        )
    if monitored is not True:
        found.append(
            Finding(
                "iec-it-monitor",
                Severity.CANNOT_TELL if monitored is None else Severity.FALLS_SHORT,
                where,
                "insulation monitoring not described" if monitored is None else "no monitoring",
                "The first fault of an IT system disconnects nothing, so it has to be told; a "
                "second one on another line is a short circuit.",
                "Fit insulation monitoring that is heard or seen, and find a first fault with "
                "the shortest practicable delay.",
                clause("iec-it-monitor", rules),
            )
        )
    return verdict, worst_first(found)


def it_second_limit(
    device: DeviceRating,
    time_s: float,
    u0_v: float,
    *,
    neutral: bool,
    rules: str = DEFAULT_RULES,
) -> float:
    """Return the greatest loop impedance at the second fault of an IT system, ohm.

    ``Zs <= U / (2 Ia)`` without a distributed neutral, ``Zs' <= U0 / (2 Ia)`` with one (411.6.4),
    each with Cmin of the rule set.

    Args:
        device: device of the circuit.
        time_s: time allowed, s.
        u0_v: nominal voltage of a line to neutral, V.
        neutral: whether the neutral is distributed.
        rules: name of the rule set.

    Raises:
        CannotTellError: no band is held for the device, or it never opens on overcurrent.
        UnknownFamilyRulesError: no such rule set.
        ValueError: not a voltage or time.
    """
    volts = u0_v if neutral else u0_v * math.sqrt(3)
    return (
        volts
        * rule_set(rules).cmin.value
        / (2 * loop_limit(device, time_s, u0_v, rules).operating_a)
    )


def judge_it_second(
    where: str,
    loop: Loop,
    device: DeviceRating,
    rules: str = DEFAULT_RULES,
    *,
    u0_v: float = 230.0,
    neutral: bool = True,
    final: bool = True,
    sockets: bool = True,
) -> tuple[Verdict, tuple[Finding, ...]]:
    """Judge the second fault of an IT system whose exposed parts share one earth.

    Args:
        where: id of the circuit.
        loop: impedance from line to protective conductor of the circuit.
        device: its device.
        rules: name of the rule set.
        u0_v: nominal voltage of a line to neutral, V.
        neutral: whether the neutral is distributed.
        final: whether it is a final circuit.
        sockets: whether it has sockets.

    Raises:
        CannotTellError: no band is held for the device.
        UnknownFamilyRulesError: no such rule set.
    """
    time = disconnection_time(
        u0_v, Earthing.IT, device.rating_a, rules, final=final, sockets=sockets
    )
    limit = it_second_limit(device, time.time_s, u0_v, neutral=neutral, rules=rules)
    if loop.ohm * (1 + loop.uncertainty) <= limit * (1 + _EQUAL):
        return Verdict.HOLDS, ()
    if loop.ohm * (1 - loop.uncertainty) <= limit:
        return Verdict.CANNOT_TELL, ()
    text = f"{loop.ohm:.4g} ohm is above {limit:.4g} ohm: a second fault on another line doesn't"
    return Verdict.FALLS_SHORT, (
        Finding(
            "iec-it-second-fault",
            Severity.DANGER,
            where,
            "a second fault is not disconnected in time",
            f"{text} open {device} within {time.time_s:g} s for sure.",
            "Use larger conductors, another device, or a residual-current device for each circuit.",
            clause("iec-it-second-fault", rules),
        ),
    )
