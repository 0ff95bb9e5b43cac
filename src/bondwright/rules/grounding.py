"""Systems that are grounded otherwise than by a neutral joined straight to metal.

A grounded corner of a delta, a delta with a high leg, a neutral joined through a resistor, a
neutral made by a zigzag transformer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.ties import grounded_terminal, origins
from bondwright.site.model import Tie, TransformerForm
from bondwright.site.topology import Topology

IMPEDANCE_A: Final = 25.0
"""A join that lets less than this through at full voltage to ground counts as an impedance, A.

Common practice: grounding resistors on low voltage let a few amperes through, joins of metal
hundreds or thousands.
"""


def is_impedance(system: VoltageSystem, tie: Tie) -> bool:
    """Whether a tie is an impedance (or a join so bad that it acts as one)."""
    volts = system.line_to_neutral or system.line_to_line
    return tie.resistance is not None and tie.resistance > volts / IMPEDANCE_A


def suits_impedance(system: VoltageSystem, rules: str) -> bool:
    """Whether the code knows grounding through an impedance on such a system."""
    low, high = _impedance_range(rules)
    return system.three_phase and system.has_neutral and low <= system.line_to_line <= high


def _impedance_range(rules: str) -> tuple[float, float]:
    year = edition(rules)
    low, high = (
        rule_parameter(f"impedance-grounding-voltage-{end}", year).number for end in ("from", "to")
    )
    return low, high


def impedance_ties(tree: Topology) -> Mapping[str, str]:
    """Return the origin of the system of every tie that is an impedance, by the tie's id."""
    found = {}
    for name, tie in (tree.site.ties or {}).items():
        system = tree.systems.get(tie.at)
        if system is not None and is_impedance(system.voltages, tie):
            found[name] = system.origin
    return found


def impedance_conductor(material: Material = Material.CU, rules: str = DEFAULT_RULES) -> Answer:
    """Return the least conductor from a neutral to its grounding impedance.

    Args:
        material: metal of the conductor.
        rules: name of the rule set.
    """
    least = rule_parameter("impedance-grounding-conductor-minimum", edition(rules))
    size = least.size(material)
    because = (
        f"The impedance lets only a few amperes through, so the conductor to it is at least "
        f"{size} {material.value}, whatever the supply conductors are.",
    )
    return Answer(
        "impedance-grounding-conductor",
        clause("impedance-grounding-conductor", rules),
        rules,
        Conductor(size, material),
        because,
        (("conductor metal", material.value),),
        least.status.value,
    )


def grounding_findings(tree: Topology, rules: str) -> tuple[Finding, ...]:
    """Return every finding on how systems are grounded, the place of their ties apart.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    found = list(_impedances(tree, rules))
    for origin in origins(tree):
        found += _corner(tree, origin, rules)
        if tree.systems[origin].voltages.winding is Winding.HIGH_LEG:
            found += _high_leg(tree, origin, rules)
    for name, unit in tree.site.transformers.items():
        if unit.form is TransformerForm.ZIGZAG:
            found.append(_zigzag(name, rules))
    return tuple(found)


def _impedances(tree: Topology, rules: str) -> Iterator[Finding]:
    low, high = _impedance_range(rules)
    for name, origin in impedance_ties(tree).items():
        system = tree.systems[origin].voltages
        tie = (tree.site.ties or {})[name]
        volts = system.line_to_neutral or system.line_to_line
        start = (
            f"{name!r} joins {system} to metal at {tie.at} through {tie.resistance:g} ohm, so a "
            f"fault from a line to metal drives {volts / (tie.resistance or 1):.2g} A at most and "
            "opens nothing."
        )
        if not suits_impedance(system, rules):
            yield Finding(
                "impedance-grounding",
                Severity.DANGER,
                name,
                "neutral joined to metal through a high resistance",
                f"{start} That is for three-phase systems of {low:g} V to {high:g} V only. Here "
                "it is a bad join: metal may stay live.",
                "Keep it off until a solid jumper of the size asked joins neutral and metal.",
                clause("impedance-grounding", rules),
            )
            continue
        loaded = [
            place
            for place, node in tree.site.places.items()
            if tree.systems[place].origin == origin
            and any(load.on.value.endswith("-N") for load in node.loads)
        ]
        if loaded:
            yield Finding(
                "impedance-grounding",
                Severity.FALLS_SHORT,
                name,
                "loads on the neutral of an impedance-grounded system",
                f"{start} Its neutral rises to {volts:.0f} V in a fault, so nothing may be fed "
                f"from line to neutral; {', '.join(loaded[:6])} is.",
                "Feed these from a transformer of their own.",
                clause("impedance-grounding", rules),
            )
        yield Finding(
            "impedance-grounding",
            Severity.NOTE,
            name,
            "impedance-grounded system",
            f"{start} The second fault, on another line, does, if the metal is bonded all the way.",
            "It needs ground detectors, qualified people who act on them, and no loads from line "
            "to neutral. See that all three are there.",
            clause("impedance-grounding", rules),
        )


def _corner(tree: Topology, origin: str, rules: str) -> Iterator[Finding]:
    ties = {
        name: tie
        for name, tie in (tree.site.ties or {}).items()
        if tie.line is not None and tree.systems[tie.at].origin == origin
    }
    if not ties:
        return
    system = tree.systems[origin].voltages
    lines = sorted({str(tie.line) for tie in ties.values()})
    first = next(iter(ties))
    if system.has_neutral:
        yield Finding(
            "grounded-line",
            Severity.DANGER,
            first,
            "a line joined to metal although there is a neutral",
            f"{first!r} joins {lines[0]} of {system} to metal. The neutral is what is grounded "
            "here: with its tie in place that is a short circuit, without it every other line "
            "stands at the full voltage between lines to metal.",
            "Keep it off. Take that join out, and join the neutral instead.",
            clause("grounded-line", rules),
        )
        return
    if len(lines) > 1:
        yield Finding(
            "grounded-line",
            Severity.DANGER,
            first,
            "two corners of one delta joined to metal",
            f"{' and '.join(lines)} of {system} are both joined to metal: a short circuit over "
            "the metal.",
            "Keep it off until only one corner is joined.",
            clause("grounded-line", rules),
        )
        return
    yield Finding(
        "grounded-line",
        Severity.NOTE,
        first,
        "corner-grounded delta",
        f"{lines[0]} of {system} is the grounded conductor; the other lines stand at "
        f"{system.line_to_line:g} V to metal. What is said of a neutral holds for {lines[0]}: one "
        "join, none on the load side, no fuse and no lone switch in it.",
        "Mark it as the grounded conductor along its whole way, and check that devices are rated "
        f"for {system.line_to_line:g} V to ground (a slash rating will not do).",
        clause("grounded-line", rules),
    )


def _high_leg(tree: Topology, origin: str, rules: str) -> Iterator[Finding]:
    system = tree.systems[origin].voltages
    volts = abs(system.phase_voltages()[1])
    loaded = [
        place
        for place, node in tree.site.places.items()
        if tree.systems[place].origin == origin
        and any(load.on.value == "L2-N" for load in node.loads)
    ]
    if loaded:
        yield Finding(
            "high-leg",
            Severity.FALLS_SHORT,
            loaded[0],
            "load between the high leg and the neutral",
            f"L2 of {system} stands {volts:.0f} V above the neutral, not "
            f"{system.line_to_neutral:g} V; a load on L2-N is described at {', '.join(loaded)}.",
            "Move it to L1-N or L3-N.",
            clause("high-leg", rules),
        )
    yield Finding(
        "high-leg",
        Severity.NOTE,
        origin,
        "delta with a high leg",
        f"L2 of {system} is taken as the high leg: {volts:.0f} V to the neutral and to metal. "
        "The mid-tap is the neutral, and the only point that is joined to metal.",
        "Mark the high leg wherever the neutral is present too, and use devices rated for "
        f"{system.line_to_line:g} V to ground on it.",
        clause("high-leg", rules),
    )


def _zigzag(name: str, rules: str) -> Finding:
    return Finding(
        "zigzag-ground",
        Severity.CANNOT_TELL,
        name,
        "neutral made by a zigzag transformer",
        f"{name} makes the neutral of the system that feeds it. Whether its rating, its own "
        "overcurrent protection and the size of its neutral are enough for a fault is not decided "
        "here; the jumper in the schedule is without a size by rule.",
        "Have its maker's data checked against the fault current, and see that it can't be "
        "switched off by itself.",
        clause("zigzag-ground", rules),
    )


def is_grounded(tree: Topology, origin: str) -> bool:
    """Whether anything of a system is joined to metal by design: neutral, corner or zigzag."""
    if grounded_terminal(tree, origin) is not None:
        return True
    return any(
        unit.form is TransformerForm.ZIGZAG
        and tree.system_of_run(tree.fed_by[name]).origin == origin
        for name, unit in tree.site.transformers.items()
    )
