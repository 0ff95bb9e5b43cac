"""Direct-current systems other than arrays: which are grounded, where, and by which conductors.

Their electrode conductor follows the largest conductor that the system supplies, by itself and
not by a table; the bonding jumper is as large as it. Arrays have rules of their own
(:mod:`bondwright.rules.pv`), and use these where one is solidly grounded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from bondwright.catalog.parameters import Parameter, rule_parameter
from bondwright.catalog.sizes import Conductor, Material, Size, next_size_up
from bondwright.catalog.sources import Status
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.electrodes import ServedBy
from bondwright.rules.grounding import is_grounded
from bondwright.rules.inputs import area_text, smaller
from bondwright.site.fields import NoWire
from bondwright.site.model import (
    DirectCurrent,
    DirectCurrentGrounded,
    DirectCurrentSource,
)
from bondwright.site.topology import Topology
from bondwright.units import Dimension, show

CONDUCTOR_RULE: Final = "dc-electrode-conductor"
JUMPER_RULE: Final = "dc-bonding-jumper"
GROUND_RULE: Final = "dc-must-ground"
PLACE_RULE: Final = "dc-ground-place"
DETECTOR_RULE: Final = "dc-ground-detector"

_WORDS: Final = {
    ServedBy.ROD: "rods",
    ServedBy.PLATE: "plates",
    ServedBy.CONCRETE: "a concrete-encased electrode",
    ServedBy.RING: "a ground ring",
}


def dc_electrode_conductor(
    supplied: Conductor,
    electrode: ServedBy = ServedBy.ANY,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    balancer: bool = False,
) -> Answer:
    """Return the least electrode conductor of a direct-current system.

    As large as the largest conductor that the system supplies (of a balancer set: as the
    neutral), within a floor and a cap; a conductor that leads only to rods, pipes or plates, only
    to concrete-encased electrodes or only to a ring need not exceed the cap for those (250.166).
    The ring is taken to have the least conductor that a ring may have.

    Args:
        supplied: largest conductor of the system; with ``balancer`` its neutral.
        electrode: what the conductor leads to and to nothing else.
        material: metal of the electrode conductor.
        rules: name of the rule set.
        balancer: whether a balancer set or balancer winding makes the neutral.

    Raises:
        UnknownRulesError: no such rule set.
    """
    size, because, inputs, status = _system_size(supplied, material, rules, balancer=balancer)
    cap = _cap(electrode, rules)
    where = clause(CONDUCTOR_RULE, rules)
    limit = None if cap is None else dict(cap.sizes).get(material)
    if cap is not None and limit is None:
        because.append("The relief for this electrode is given for copper only.")
    if cap is not None and limit is not None and limit < size:
        because.append(
            f"It leads only to {_WORDS[electrode]}, so it need not be larger than {limit} "
            f"{material.value}."
        )
        size, where = limit, clause(CONDUCTOR_RULE, rules, cap.clause)
        status = Status.least_sure(status, cap.status)
    inputs.append(("electrode", electrode.value))
    return Answer(
        CONDUCTOR_RULE,
        where,
        rules,
        Conductor(size, material),
        (
            "It holds the system to the earth and is no path to open a breaker or a fuse.",
            *because,
        ),
        tuple(inputs),
        status.value,
    )


def dc_bonding_jumper(
    supplied: Conductor,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    balancer: bool = False,
) -> Answer:
    """Return the least bonding jumper of a direct-current system that is solidly grounded.

    As large as its electrode conductor (250.168). The relief for rods and the like is not taken:
    a fault goes through the jumper and not through the rod.

    Args:
        supplied: largest conductor of the system; with ``balancer`` its neutral.
        material: metal of the jumper.
        rules: name of the rule set.
        balancer: whether a balancer set or balancer winding makes the neutral.

    Raises:
        UnknownRulesError: no such rule set.
    """
    size, because, inputs, status = _system_size(supplied, material, rules, balancer=balancer)
    return Answer(
        JUMPER_RULE,
        clause(JUMPER_RULE, rules),
        rules,
        Conductor(size, material),
        (
            "It joins the grounded conductor to the metal, so that a fault to metal comes home "
            "and a device opens.",
            "It is as large as the system's electrode conductor.",
            *because,
            "Relief for rods, concrete or a ring is not taken, since a fault goes through the "
            "jumper.",
        ),
        tuple(inputs),
        status.value,
    )


def _system_size(
    supplied: Conductor, material: Material, rules: str, *, balancer: bool
) -> tuple[Size, list[str], list[tuple[str, str]], Status]:
    """Return the size that the system's conductors ask for, with reasons, inputs and status."""
    year = edition(rules)
    floor = rule_parameter("dc-electrode-conductor-minimum", year)
    top = rule_parameter("dc-electrode-conductor-cap", year)
    what = "neutral of the balancer set" if balancer else "largest conductor of the system"
    because = [
        f"The {what}: {supplied} ({area_text(supplied.total_area_cmil)}).",
        f"At least as large as that, at least {floor.size(material)} and never more than "
        f"{top.size(material)} {material.value} ({top.clause}).",
    ]
    largest = top.size(material)
    if supplied.total_area_cmil >= largest.area_cmil:
        size = largest
    else:
        size = smaller(next_size_up(supplied.total_area_cmil, floor.size(material)), largest)
    inputs = [(what, str(supplied)), ("conductor metal", material.value)]
    return size, because, inputs, Status.least_sure(floor.status, top.status)


_CAPS: Final = {
    ServedBy.ROD: "dc-rod-only-cap",
    ServedBy.PLATE: "dc-rod-only-cap",
    ServedBy.CONCRETE: "dc-concrete-only-cap",
    ServedBy.RING: "dc-ring-only-cap-minimum",
}


def _cap(electrode: ServedBy, rules: str) -> Parameter | None:
    name = _CAPS.get(electrode)
    return rule_parameter(name, edition(rules)) if name is not None else None


def conductor_of(
    system: DirectCurrent, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least electrode conductor of a described system."""
    kind = system.electrode
    return dc_electrode_conductor(
        _supplied(system),
        ServedBy.ANY if kind is None else ServedBy.of(kind),
        material,
        rules,
        balancer=system.balancer,
    )


def jumper_of(
    system: DirectCurrent, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least bonding jumper of a described system."""
    return dc_bonding_jumper(_supplied(system), material, rules, balancer=system.balancer)


def _supplied(system: DirectCurrent) -> Conductor:
    if system.balancer and system.neutral is not None:
        return system.neutral
    lines: Conductor = system.lines
    return lines


def array_electrode_conductor(lines: Conductor, rules: str = DEFAULT_RULES) -> Answer:
    """Return the least electrode conductor of a solidly grounded array, of copper.

    Args:
        lines: each of the two conductors of its circuit.
        rules: name of the rule set.
    """
    where = f"{clause('pv-electrode', rules)}, 250.166"
    return replace(dc_electrode_conductor(lines, rules=rules), clause=where)


def needs_electrode(system: DirectCurrent) -> bool:
    """Whether an electrode conductor belongs to a system.

    To one that is solidly grounded by its own source, and to one that a generator makes and
    nothing grounds (250.169): its enclosures are held to the earth. A battery or rectifier that is
    not grounded stands in enclosures that the alternating-current side grounds.
    """
    if system.source is DirectCurrentSource.UTILITY:
        return False
    if system.grounded is DirectCurrentGrounded.SOLID:
        return True
    return (
        system.grounded is DirectCurrentGrounded.NONE
        and system.source is DirectCurrentSource.GENERATOR
    )


def needs_jumper(system: DirectCurrent) -> bool:
    """Whether a bonding jumper belongs to a system here: it is grounded, and not by its supplier.

    A system from off the premises has its jumper where its supplier grounds it.
    """
    solid = system.grounded is DirectCurrentGrounded.SOLID
    return solid and system.source is not DirectCurrentSource.UTILITY


def direct_current_findings(tree: Topology, rules: str) -> Iterator[Finding]:
    """Yield what is wrong with how direct-current systems are grounded.

    Sizes are judged where they are planned.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    for name, system in tree.site.direct_current.items():
        yield from _must_ground(tree, name, system, rules)
        yield from _place(name, system, rules)
        yield from _detector(name, system, rules)
        yield from _missing(name, system, rules)


def _must_ground(tree: Topology, name: str, system: DirectCurrent, rules: str) -> Iterator[Finding]:
    year = edition(rules)
    low, high = (
        rule_parameter(f"dc-must-ground-voltage-{end}", year).number for end in ("above", "to")
    )
    if system.grounded is not DirectCurrentGrounded.NONE:
        return
    volts = show(system.voltage, Dimension.VOLTAGE)
    if system.wires == 3:
        text = f"{name!r} has three wires, and its neutral is joined to no metal."
        severity, reason = Severity.FALLS_SHORT, "The neutral of three wires is grounded."
    elif low < system.voltage <= high:
        if system.source is DirectCurrentSource.RECTIFIER and is_grounded(
            tree, tree.systems[system.at].origin
        ):
            return
        text = f"{name!r} has two wires, {volts} between them, and neither is joined to metal."
        reason = f"Above {low:g} V and up to {high:g} V one of them is grounded."
        severity = Severity.FALLS_SHORT
        if system.detector:
            severity = Severity.CANNOT_TELL
            reason += (
                " A system with a ground detector that feeds only industrial equipment close by "
                "may do without, and so may one whose own article or listing says so; the "
                "description can't say that."
            )
    else:
        return
    yield Finding(
        GROUND_RULE,
        severity,
        name,
        "direct-current system that is not grounded",
        f"{text} {reason} Otherwise the first fault to metal opens nothing, and nobody knows of "
        "it.",
        "Ask the maker of the equipment how it is to be grounded, and have that done with the "
        "source isolated and proved dead. A battery can't be switched off: qualified persons "
        "only.",
        clause(GROUND_RULE, rules),
    )


def _place(name: str, system: DirectCurrent, rules: str) -> Iterator[Finding]:
    joined = system.grounded is DirectCurrentGrounded.SOLID
    if system.source is not DirectCurrentSource.UTILITY or not joined:
        return
    yield Finding(
        PLACE_RULE,
        Severity.FALLS_SHORT,
        name,
        "direct current from outside grounded on the premises",
        f"{name!r} is supplied from off the premises and joined to metal here. Its supplier "
        "grounds it, and a second join sends part of its load through earth and metal, which eats "
        "pipes and footings.",
        "Take nothing out before the supplier has said in writing where the system is grounded; "
        "then have the join here removed with the supply off and proved dead.",
        clause(PLACE_RULE, rules),
    )


def _detector(name: str, system: DirectCurrent, rules: str) -> Iterator[Finding]:
    if system.grounded is not DirectCurrentGrounded.NONE or system.detector:
        return
    told = system.detector is not None
    yield Finding(
        DETECTOR_RULE,
        Severity.FALLS_SHORT if told else Severity.CANNOT_TELL,
        name,
        "no ground detector on a direct-current system"
        if told
        else "ground detector of a direct-current system not described",
        f"{name!r} is joined to no metal, so its first fault opens nothing. Something has to find "
        "it and say so before the second one comes.",
        "Have a detector put in that fits the system, and name who acts on it."
        if told
        else "Look for it; mostly it is in the inverter or the charger, and its sheet says so. "
        "Write 'detector: true' or 'false'.",
        clause(DETECTOR_RULE, rules),
    )


def _missing(name: str, system: DirectCurrent, rules: str) -> Iterator[Finding]:
    if system.jumper is NoWire.NONE and needs_jumper(system):
        yield Finding(
            JUMPER_RULE,
            Severity.DANGER,
            name,
            "no bonding jumper of a grounded direct-current system",
            f"{name!r} is said to be grounded, and no jumper joins its grounded conductor to the "
            "metal. A fault to metal then opens nothing: the metal stays live.",
            f"Keep it off until a jumper of {jumper_of(system, rules=rules).size} or larger joins "
            "them at the source or its first disconnect.",
            clause(JUMPER_RULE, rules),
        )
    if system.conductor is NoWire.NONE and needs_electrode(system):
        size = conductor_of(system, rules=rules).size
        yield Finding(
            CONDUCTOR_RULE,
            Severity.FALLS_SHORT,
            name,
            "no electrode conductor of a direct-current system",
            f"Nothing joins {name!r} to the electrodes. They hold its voltages down in a surge; "
            "they are no fault path.",
            f"Run {size} or larger from where it is grounded to the electrodes of the building.",
            clause(CONDUCTOR_RULE, rules),
        )
