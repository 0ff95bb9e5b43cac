"""How metal raceways end: on the service side, and above 250 V to ground.

A locknut holds a raceway to its box, and at 120 V past a breaker that is bond enough. Ahead of
the service disconnect no breaker limits what goes through it; above 250 V to ground a loose ring
arcs on. What is not described is asked by the inspection checklist, never guessed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Material
from bondwright.catalog.sources import Status
from bondwright.catalog.systems import VoltageSystem
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.buildings import is_service_run
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, SupplyConductors
from bondwright.rules.jumpers import JumperRole, bonding_jumper, jumper_per_raceway
from bondwright.site.model import Fitting, Knockouts, Run, Sets
from bondwright.site.topology import Topology

SERVICE_RULE: Final = "service-raceway-bond"
HIGH_RULE: Final = "high-voltage-raceway-bond"
JUMPER_RULE: Final = "load-side-bonding-jumper"
_PLAIN: Final = frozenset({Fitting.LOCKNUTS, Fitting.TWO_LOCKNUTS})
_UNSAID: Final = "The description doesn't say how it ends."
_RINGS: Final = (
    "Rings left in a knock-out hang by two tabs, which fault current melts; a jumper has to go "
    "around them."
)


def highest_to_ground(system: VoltageSystem) -> float:
    """Return the highest voltage of a line to ground, V; of a delta that between lines."""
    if system.line_to_neutral is None:
        return system.line_to_line
    return max(abs(volts) for volts in system.phase_voltages())


def service_end(fitting: Fitting | None, knockouts: Knockouts | None) -> tuple[Verdict, str]:
    """Return whether a raceway ahead of the service disconnect is bonded by how it ends.

    Args:
        fitting: how it ends; None where it isn't said.
        knockouts: the holes it enters by; None where it isn't said.

    Returns:
        The verdict, and its reason as a sentence. What the enclosure's maker lists may widen it.
    """
    if fitting is None:
        return Verdict.CANNOT_TELL, _UNSAID
    if fitting is Fitting.BONDING_BUSHING:
        return Verdict.HOLDS, "A bonding bushing with its jumper does, whatever the knock-out."
    if fitting in _PLAIN:
        return Verdict.FALLS_SHORT, (
            f"Plain {fitting.value} bond nothing ahead of the service disconnect, for nothing on "
            "site limits the current through them."
        )
    # A box listed for bonding with its rings is a matter of 250.97, not of the service side.
    if knockouts in {Knockouts.CONCENTRIC, Knockouts.LISTED}:
        return Verdict.FALLS_SHORT, _RINGS
    if fitting is Fitting.THREADED_HUB:
        return Verdict.HOLDS, "A threaded hub made up wrenchtight does."
    if knockouts is None:
        return Verdict.CANNOT_TELL, _UNSAID
    return Verdict.HOLDS, f"A {fitting.value} in a clean knock-out does."


def end_over_250(fitting: Fitting | None, knockouts: Knockouts | None) -> tuple[Verdict, str]:
    """Return whether a raceway above 250 V to ground, past the service, is bonded by how it ends.

    Args:
        fitting: how it ends; None where it isn't said.
        knockouts: the holes it enters by; None where it isn't said.

    Returns:
        The verdict, and its reason as a sentence.
    """
    if fitting is None:
        return Verdict.CANNOT_TELL, _UNSAID
    if fitting is Fitting.BONDING_BUSHING:
        return Verdict.HOLDS, "A bonding bushing with its jumper does, whatever the knock-out."
    if fitting is Fitting.LOCKNUTS:
        return Verdict.FALLS_SHORT, (
            "One locknut and a plain bushing are not enough at this voltage, whatever the "
            "knock-out."
        )
    if knockouts is Knockouts.CONCENTRIC:
        return Verdict.FALLS_SHORT, _RINGS
    if fitting is Fitting.THREADED_HUB:
        return Verdict.HOLDS, "A threaded hub made up wrenchtight does."
    if knockouts is None:
        return Verdict.CANNOT_TELL, _UNSAID
    hole = "clean knock-outs" if knockouts is Knockouts.CLEAN else "a box listed for it"
    return Verdict.HOLDS, f"{fitting.value[:1].upper()}{fitting.value[1:]} in {hole} will do."


def load_side_jumper(
    device: ProtectiveDevice, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least equipment bonding jumper on the load side of a device.

    Args:
        device: the device ahead of the circuits in the raceway or enclosure; of several the
            largest.
        material: metal of the jumper.
        rules: name of the rule set.

    Raises:
        TypeError: conductors in place of the device.
        CannotTellError: see :func:`bondwright.rules.equipment.equipment_ground`.
    """
    found = equipment_ground(device, material, rules)
    because = (
        "A bonding jumper past a device is sized like an equipment grounding conductor: it carries "
        "fault current until that device opens.",
        *found.because[1:],
    )
    return replace(
        found,
        rule=JUMPER_RULE,
        clause=clause(JUMPER_RULE, rules),
        because=because,
        status=Status.least_sure(Status(found.status), Status.ONE_SOURCE).value,
    )


def bushing_jumper(
    tree: Topology, run: str, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer | None:
    """Return the least jumper on the bonding bushing of a run's raceway.

    Ahead of the first disconnect by the lines in that raceway, past it by the device.

    Args:
        tree: the supply tree.
        run: id of the run.
        material: metal of the jumper.
        rules: name of the rule set.

    Returns:
        None where no device is described to take it from.

    Raises:
        CannotTellError: the rule has no answer.
    """
    described = tree.site.runs[run]
    if run not in tree.supply_side_runs:
        device = device_of(tree, run)
        return load_side_jumper(device, material, rules) if device is not None else None
    supply = SupplyConductors.of(described.lines)
    if described.lines.sets > 1 and described.sets is not Sets.TOGETHER:
        return jumper_per_raceway(supply, JumperRole.SUPPLY_SIDE, material, rules)
    return bonding_jumper(supply, JumperRole.SUPPLY_SIDE, material, rules)


def device_of(tree: Topology, run: str) -> ProtectiveDevice | None:
    """Return the device that protects a run, or None on the supply side."""
    found = tree.protecting(run)
    if found is None:
        return None
    kind, where = found
    rating = tree.site.runs[where].device if kind == "run" else tree.site.places[where].main
    return ProtectiveDevice(rating) if rating is not None else None


def raceway_end_findings(tree: Topology, rules: str) -> Iterator[Finding]:
    """Yield a finding for every metal raceway whose ends don't bond it as they must.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    limit = rule_parameter("raceway-bonding-voltage", edition(rules)).number
    for name, run in tree.site.runs.items():
        if run.raceway is None or not run.raceway.kind.is_metal:
            continue
        volts = highest_to_ground(tree.system_of_run(name).voltages)
        if is_service_run(tree, name):
            verdict, reason = service_end(run.fittings, run.knockouts)
            if verdict is Verdict.FALLS_SHORT:
                yield _short(tree, name, run, SERVICE_RULE, reason, rules)
        elif volts > limit:
            verdict, reason = end_over_250(run.fittings, run.knockouts)
            if verdict is Verdict.FALLS_SHORT:
                reason = f"{volts:.0f} V to ground is above {limit:g} V. {reason}"
                yield _short(tree, name, run, HIGH_RULE, reason, rules)


def _short(tree: Topology, name: str, run: Run, rule: str, reason: str, rules: str) -> Finding:
    service = rule == SERVICE_RULE
    try:
        answer = bushing_jumper(tree, name, Material.CU, rules)
        size = f"of at least {answer.size}" if answer else "sized by the device ahead"
    except CannotTellError:
        size = "of the size that the authority asks"
    fittings = run.fittings.value if run.fittings else "fittings not said"
    holes = f" in {run.knockouts.value} knock-outs" if run.knockouts else ""
    to = "the metal of the enclosure"
    end = ", or bring the raceway into clean holes with fittings that bond it."
    if service:
        to = "the neutral or the metal of the enclosure"
        end = ". Only the utility can take the line side off: arrange it with them."
    return Finding(
        rule,
        Severity.FALLS_SHORT,
        name,
        "raceway not bonded by how it ends",
        f"The metal raceway of {name!r} ends at {run.from_} and {run.to} with {fittings}{holes}. "
        f"{reason}",
        "With the supply off and proved dead, put a bonding bushing on each end, with a jumper "
        f"{size} to {to}{end}",
        clause(rule, rules),
    )
