"""Ground-fault protection of equipment, and detectors on ungrounded systems."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.grounding import is_grounded
from bondwright.rules.inputs import ProtectiveDevice, need_device
from bondwright.rules.ties import origins
from bondwright.site.model import Place
from bondwright.site.topology import Topology


@dataclass(frozen=True, slots=True)
class EquipmentProtection:
    """Whether a disconnect needs ground-fault protection of equipment.

    Attributes:
        required: whether it does.
        pickup_a: highest setting, A.
        time_s: longest opening time at ``test_current_a`` and above, s.
        test_current_a: A.
        clause: where the code says so.
        because: the reason.
    """

    required: bool
    pickup_a: float
    time_s: float
    test_current_a: float
    clause: str
    because: str


def equipment_protection(
    system: VoltageSystem, device: ProtectiveDevice, rules: str = DEFAULT_RULES
) -> EquipmentProtection:
    """Return whether a service disconnect needs ground-fault protection of equipment.

    Args:
        system: nominal system, solidly grounded.
        device: the disconnect's rating.
        rules: name of the rule set.

    Raises:
        TypeError: conductors in place of the device.
    """
    need_device(device)
    year = edition(rules)

    def number(name: str) -> float:
        return rule_parameter(f"ground-fault-protection-{name}", year).number

    least, above = number("rating"), number("voltage-to-ground")
    to_ground = system.line_to_neutral or 0.0
    required = (
        system.winding is Winding.WYE
        and to_ground > above
        and system.line_to_line <= number("voltage-limit")
        and device.rating_a >= least
    )
    because = (
        f"solidly grounded wye with {to_ground:g} V to ground (limit {above:g} V) and a "
        f"disconnect of {device.rating_a:g} A (limit {least:g} A)"
    )
    return EquipmentProtection(
        required,
        number("pickup"),
        number("time"),
        number("test-current"),
        clause("ground-fault-protection", rules),
        because,
    )


def protection_findings(tree: Topology, rules: str) -> tuple[Finding, ...]:
    """Return what has to be looked at: large disconnects, and systems without a neutral."""
    found = []
    for origin, names in tree.first_disconnects.items():
        for name in names:
            place = tree.site.places[name]
            finding = _large(tree, origin, name, place, rules)
            if finding:
                found.append(finding)
    year = edition(rules)
    low = rule_parameter("ground-detector-voltage-from", year).number
    high = rule_parameter("ground-detector-voltage-to", year).number
    for origin in origins(tree):
        system = tree.systems[origin]
        if is_grounded(tree, origin):
            continue
        if low <= system.voltages.line_to_line <= high:
            found.append(_detector(origin, str(system.voltages), rules))
    return tuple(found)


def _large(tree: Topology, origin: str, name: str, place: Place, rules: str) -> Finding | None:
    if place.main is None:
        return None
    answer = equipment_protection(
        tree.systems[origin].voltages, ProtectiveDevice(place.main), rules
    )
    if not answer.required:
        return None
    return Finding(
        "ground-fault-protection",
        Severity.CANNOT_TELL,
        name,
        "ground-fault protection of equipment needed",
        f"A {answer.because}. The description doesn't say whether it has it.",
        f"See that it has: set to at most {answer.pickup_a:g} A, opening within "
        f"{answer.time_s:g} s at {answer.test_current_a:g} A, tested when installed.",
        answer.clause,
    )


def _detector(origin: str, system: str, rules: str) -> Finding:
    return Finding(
        "ground-detector",
        Severity.NOTE,
        origin,
        "ungrounded system",
        f"{system} has no neutral to ground. The first line-to-metal fault opens nothing; the "
        "second one, on another line, does, if the metal is bonded all the way.",
        "Ground detectors belong on it, and somebody who looks at them.",
        clause("ground-detector", rules),
    )
