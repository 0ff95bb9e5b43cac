"""Ground-fault protection of equipment, and detectors on ungrounded systems."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.grounding import impedance_ties, is_grounded
from bondwright.rules.inputs import ProtectiveDevice, need_device
from bondwright.rules.ties import origins
from bondwright.site.topology import Topology

SERVICE: Final = "ground-fault-protection"
FEEDER: Final = "feeder-ground-fault-protection"


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
    system: VoltageSystem,
    device: ProtectiveDevice,
    rules: str = DEFAULT_RULES,
    *,
    service: bool = True,
) -> EquipmentProtection:
    """Return whether a disconnect needs ground-fault protection of equipment.

    Args:
        system: nominal system, solidly grounded.
        device: the disconnect's rating.
        rules: name of the rule set.
        service: whether it is a service disconnect; else that of a feeder or branch circuit.

    Raises:
        TypeError: conductors in place of the device.
    """
    need_device(device)
    year = edition(rules)

    def number(name: str) -> float:
        return rule_parameter(f"ground-fault-protection-{name}", year).number

    least = number("rating" if service else "feeder-rating")
    above, to_ground = number("voltage-to-ground"), system.line_to_neutral or 0.0
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
        clause(SERVICE if service else FEEDER, rules),
        because,
    )


def settings_verdict(
    device: DeviceRating, needed: EquipmentProtection
) -> tuple[Verdict, tuple[str, ...]]:
    """Return whether a device's ground-fault element does what is asked, and why not.

    Args:
        device: as described, with its settings.
        needed: what is asked of it.

    Returns:
        "cannot tell" where nothing is said of such an element, or only half of its settings.
        An electronic trip unit is described with its elements, so one without lacks it.
    """
    if device.ground_pickup_a is None:
        if device.kind is DeviceKind.ELECTRONIC:
            return Verdict.FALLS_SHORT, (
                "The electronic trip unit is described without a ground-fault element.",
            )
        return Verdict.CANNOT_TELL, ("The description doesn't say whether it has it.",)
    short = []
    if device.ground_pickup_a > needed.pickup_a * (1 + 1e-9):
        short.append(f"It picks up at {device.ground_pickup_a:g} A, above {needed.pickup_a:g} A.")
    delay = device.ground_delay_s
    if delay is not None and delay > needed.time_s * (1 + 1e-9):
        short.append(f"It waits {delay:g} s, longer than {needed.time_s:g} s.")
    if short:
        return Verdict.FALLS_SHORT, tuple(short)
    if delay is None:
        return Verdict.CANNOT_TELL, ("The description doesn't say its delay.",)
    return Verdict.HOLDS, (f"It picks up at {device.ground_pickup_a:g} A and waits {delay:g} s.",)


def protection_findings(tree: Topology, rules: str) -> tuple[Finding, ...]:
    """Return what has to be looked at: large disconnects, and systems without a neutral."""
    found = list(_large(tree, rules))
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


def _large(tree: Topology, rules: str) -> Iterator[Finding]:
    """Large disconnects: each service's own; a feeder's where none upstream watches over it."""
    impedances = set(impedance_ties(tree).values())
    services = {
        name
        for origin, names in tree.first_disconnects.items()
        if origin in tree.site.sources
        for name in names
    }
    watched = _watched(tree)
    for name, (at, device) in _devices(tree).items():
        system = tree.systems[at]
        if system.voltages.winding is not Winding.WYE or system.origin in impedances:
            continue
        service = name in services
        needed = equipment_protection(
            system.voltages, ProtectiveDevice(device), rules, service=service
        )
        if needed.required and (service or not _ahead(tree, name, at, watched)):
            finding = _of_device(name, device, needed, SERVICE if service else FEEDER)
            if finding is not None:
                yield finding


def _devices(tree: Topology) -> Mapping[str, tuple[str, DeviceRating]]:
    """Every device with the place it stands at, by the id of its place or run."""
    found = {
        name: (name, place.main)
        for name, place in tree.site.places.items()
        if place.main is not None and name in tree.systems
    }
    for name, run in tree.site.runs.items():
        if run.device is not None and run.from_ in tree.systems:
            found.setdefault(name, (run.from_, run.device))
    return found


def _ahead(tree: Topology, name: str, at: str, watched: Mapping[str, bool]) -> bool:
    """Whether a device stands behind one that watches: of a run, the main where it starts too."""
    place = tree.site.places.get(at)
    main = place.main if name in tree.site.runs and place is not None else None
    return watched[at] or (main is not None and _watches(tree, at, main))


def _watched(tree: Topology) -> Mapping[str, bool]:
    """Whether a device ahead in the same system has, or must have, a ground-fault element.

    One that must have it and isn't known to is reported itself, so what it feeds needn't be. The
    main of a place watches over its own outgoing devices.
    """
    found: dict[str, bool] = {}
    for name in tree.order:
        run = tree.fed_by.get(name)
        if run is None or name in tree.site.transformers:
            found[name] = False
            continue
        described = tree.site.runs[run]
        ahead = found[described.from_]
        above = tree.site.places.get(described.from_)
        for device in (above.main if above is not None else None, described.device):
            ahead = ahead or (device is not None and _watches(tree, name, device))
        found[name] = ahead
    return found


def _watches(tree: Topology, name: str, device: DeviceRating) -> bool:
    if device.ground_pickup_a is not None:
        return True
    if tree.systems[name].voltages.winding is not Winding.WYE:
        return False
    return equipment_protection(
        tree.systems[name].voltages, ProtectiveDevice(device), tree.site.rules
    ).required


def _of_device(
    name: str, device: DeviceRating, needed: EquipmentProtection, rule: str
) -> Finding | None:
    verdict, reasons = settings_verdict(device, needed)
    if verdict is Verdict.HOLDS:
        return None
    falls = verdict is Verdict.FALLS_SHORT
    start = "See that it has: set" if not falls else "Fit or set it, with the supply off:"
    return Finding(
        rule,
        Severity.FALLS_SHORT if falls else Severity.CANNOT_TELL,
        name,
        "ground-fault protection of equipment needed",
        f"A {needed.because}. {' '.join(reasons)}",
        f"{start} to at most {needed.pickup_a:g} A, opening within {needed.time_s:g} s at "
        f"{needed.test_current_a:g} A, tested when installed.",
        needed.clause,
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
