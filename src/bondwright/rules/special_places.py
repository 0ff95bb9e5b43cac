"""Mobile homes, the ground of a building for livestock, and systems above 1000 V."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import building_of
from bondwright.rules.editions import clause, edition
from bondwright.rules.ties import origins
from bondwright.site.model import AreaKind, Place, PlaceKind, Wiring
from bondwright.site.topology import Topology

HOME_RULE: Final = "mobile-home-feeder"
LIVESTOCK_RULE: Final = "livestock-buried-ground"
HIGH_RULE: Final = "high-voltage-system"


def special_place_findings(
    tree: Topology, without_wire: frozenset[str], rules: str
) -> Iterator[Finding]:
    """Yield what is wrong at mobile homes and buildings for livestock, and what is above 1000 V.

    Args:
        tree: the supply tree.
        without_wire: load-side runs whose raceway is the ground, with no wire in it.
        rules: name of the rule set.
    """
    for area in tree.site.areas.values():
        if area.kind is AreaKind.MOBILE_HOME:
            yield from _mobile_home(tree, area.at, without_wire, rules)
        elif area.kind is AreaKind.LIVESTOCK:
            yield from _livestock(tree, area.at, rules)
    for origin in origins(tree):
        if is_high(tree, origin, rules):
            yield _high(tree, origin, rules)


# --- mobile homes -----------------------------------------------------------------------------


def _mobile_home(
    tree: Topology, at: str, without_wire: frozenset[str], rules: str
) -> Iterator[Finding]:
    node = tree.node(at)
    if isinstance(node, Place) and node.kind is PlaceKind.SERVICE:
        yield Finding(
            HOME_RULE,
            Severity.CANNOT_TELL,
            at,
            "service equipment at a mobile home",
            f"{at!r} is the service disconnect and the panel of the home in one. Service equipment "
            "stands beside a mobile home, in sight and within 30 ft, and not on it; only a home "
            "built for it may carry its own.",
            "See on its plate what the home is. Else a disconnect beside it becomes the service, "
            "and the join of neutral and metal moves there with the supply off.",
            clause(HOME_RULE, rules),
        )
    run = tree.fed_by.get(at)
    if run is None or run not in without_wire:
        return
    yield Finding(
        HOME_RULE,
        Severity.FALLS_SHORT,
        run,
        "feeder of a mobile home without a wire as its ground",
        f"{run!r} feeds the home with its raceway as the ground. Four insulated conductors are "
        "asked, one of them the equipment grounding conductor: the home stands on wheels or blocks "
        "and moves, and a coupling that opens leaves its whole skin live.",
        "Pull an insulated equipment grounding conductor in, with the power off, and leave the "
        "raceway joined.",
        clause(HOME_RULE, rules),
    )


# --- livestock --------------------------------------------------------------------------------


def _livestock(tree: Topology, at: str, rules: str) -> Iterator[Finding]:
    """Aluminium in the soil as the ground of a building where animals stand."""
    here = building_of(tree, at)
    for name, run in tree.site.runs.items():
        inside = run.to == at or (here is not None and building_of(tree, run.to) == here)
        ground = run.egc if name not in tree.supply_side_runs else run.ssbj
        if not inside or run.wiring is not Wiring.DIRECT_BURIED:
            continue
        if not isinstance(ground, Conductor) or ground.material is Material.CU:
            continue
        yield Finding(
            LIVESTOCK_RULE,
            Severity.CANNOT_TELL,
            name,
            "aluminium in the soil as the ground of a building for livestock",
            f"The equipment grounding conductor of {name!r} is {ground}, buried without a raceway. "
            "In the soil of such a building it has to be insulated, and editions differ in whether "
            "it has to be copper: manure eats aluminium, and then the metal the animals touch is "
            "joined to nothing.",
            "Use insulated copper, with the power off; where the aluminium is to stay, ask the "
            "authority and see its insulation along the whole way.",
            clause(LIVESTOCK_RULE, rules),
        )


# --- above 1000 V -----------------------------------------------------------------------------


def is_high(tree: Topology, origin: str, rules: str) -> bool:
    """Whether a system is above the voltage up to which these rules hold."""
    limit = rule_parameter("high-voltage-limit", edition(rules)).number
    return tree.systems[origin].voltages.line_to_line > limit


def _high(tree: Topology, origin: str, rules: str) -> Finding:
    limit = rule_parameter("high-voltage-limit", edition(rules)).number
    return Finding(
        HIGH_RULE,
        Severity.CANNOT_TELL,
        origin,
        f"a system above {limit:g} V: rules of their own, not judged here",
        f"The system of {origin!r} is {tree.systems[origin].voltages}. Above {limit:g} V there are "
        "rules for the size and the joins of its neutral, for grounding through an impedance, for "
        "equipment that moves, for shields, grids and fences (250.182 to 250.194). What this plan "
        "has of it comes from the rules for lower voltages and stands for nothing.",
        "Have it designed and inspected by an engineer of such systems. To plan the building "
        "alone, describe the low side of its transformer as the source.",
        clause(HIGH_RULE, rules),
    )
