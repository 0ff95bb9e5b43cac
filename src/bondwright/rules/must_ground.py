"""Which systems must be grounded although they would work without: low voltage, and up to 150 V."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.systems import VoltageSystem
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.grounding import is_grounded
from bondwright.rules.raceway_ends import highest_to_ground
from bondwright.rules.ties import grounded_terminal, origins
from bondwright.site.topology import Topology


def must_be_grounded(system: VoltageSystem, rules: str = DEFAULT_RULES) -> bool:
    """Whether a system without a neutral must be grounded for its low voltage to ground.

    Grounding one corner of a delta puts the other lines at the full voltage between lines, so only
    a delta of at most 150 V must be grounded.

    Args:
        system: nominal system.
        rules: name of the rule set.
    """
    limit = rule_parameter("must-ground-voltage", edition(rules)).number
    low = rule_parameter("low-voltage-limit", edition(rules)).number
    return not system.has_neutral and low <= system.line_to_line <= limit


def low_voltage_must_be_grounded(
    system: VoltageSystem, supply: VoltageSystem, supply_grounded: bool, rules: str = DEFAULT_RULES
) -> bool:
    """Whether a transformer's secondary of less than 50 V must be grounded.

    It must if its supply is above 150 V to ground, or ungrounded: what breaks through the
    insulation would otherwise stand on wires that people take for harmless. Overhead wires
    outdoors ask for it too, and can't be told from the description.

    Args:
        system: of the secondary.
        supply: of the primary.
        supply_grounded: whether that is grounded.
        rules: name of the rule set.
    """
    year = edition(rules)
    low = rule_parameter("low-voltage-limit", year).number
    limit = rule_parameter("low-voltage-supply-to-ground", year).number
    if system.line_to_line >= low:
        return False
    return not supply_grounded or highest_to_ground(supply) > limit


def must_ground_findings(tree: Topology, ties: Mapping[str, str], rules: str) -> Iterator[Finding]:
    """Yield a finding for every system that must be grounded and isn't.

    Args:
        tree: the supply tree.
        ties: place of every join of neutral and metal, by id.
        rules: name of the rule set.
    """
    tied = {tree.systems[at].origin for at in ties.values() if at in tree.systems}
    for origin in origins(tree):
        system = tree.systems[origin].voltages
        if must_be_grounded(system, rules) and not is_grounded(tree, origin):
            yield _finding("must-ground", origin, f"{system} is not above 150 V to ground", rules)
        if origin not in tree.site.transformers or origin in tied:
            continue
        supply = tree.system_of_run(tree.fed_by[origin])
        grounded = grounded_terminal(tree, supply.origin) is not None
        if low_voltage_must_be_grounded(system, supply.voltages, grounded, rules):
            why = "ungrounded" if not grounded else "above 150 V to ground"
            text = f"{system} comes from a transformer whose supply, {supply.voltages}, is {why}"
            yield _finding("low-voltage-ground", origin, text, rules)


def _finding(rule: str, origin: str, text: str, rules: str) -> Finding:
    return Finding(
        rule,
        Severity.FALLS_SHORT,
        origin,
        "a system that must be grounded, and isn't",
        f"{text}, so it has to be grounded. Without it, a fault from a higher voltage stays on its "
        "wires, and the first fault to metal opens nothing.",
        "Join one conductor of it to metal at the source or its first disconnect, with the supply "
        "off, and put no fuse into that conductor.",
        clause(rule, rules),
    )
