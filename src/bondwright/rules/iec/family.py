"""The family in the shape a plan asks for, function for function beside the NEC ones.

| A plan asks | NEC | here |
| --- | --- | --- |
| where joins belong | ``rules.ties.where_ties_belong`` | :func:`where_ties_belong` |
| which joins stand rightly | ``rules.ties.ties_that_belong`` | :func:`ties_that_belong` |
| what is wrong with them | ``rules.tie_findings.tie_findings`` | :func:`tie_findings` |
| the conductor of a load-side run | ``rules.equipment.equipment_ground`` | \
:func:`protective_conductor` |
| the metal of a supply-side run | ``rules.jumpers.bonding_jumper`` | \
:func:`supply_protective_conductor` |
| the neutral ahead of the first device | ``rules.jumpers.grounded_conductor`` | \
:func:`supply_neutral` |
| bonds of pipe and steel | ``rules.piping.metal_bond`` | :func:`metal_bond` |
| the conductor to electrodes | ``rules.electrodes.electrode_conductor`` | \
:func:`electrode_conductor` |
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from bondwright.catalog.iec_tables import next_metric_size
from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Answer, Finding
from bondwright.rules.buildings import system_supply
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.bonding import main_bonding
from bondwright.rules.iec.conductors import pen_conductor
from bondwright.rules.iec.conductors import protective_conductor as _by_line
from bondwright.rules.iec.earthing import Burial, earthing_conductor
from bondwright.rules.iec.heat import Fault, by_heat
from bondwright.rules.iec.joins import join_findings, ties_that_belong, where_ties_belong
from bondwright.rules.iec.ruleset import DEFAULT_RULES, rule_set
from bondwright.rules.iec.sizing import Insulation, Laid
from bondwright.rules.inputs import ProtectiveDevice, SupplyConductors, need_device, need_supply
from bondwright.rules.paths import Standing
from bondwright.rules.piping import SIZED_ELSEWHERE
from bondwright.site.model import Metal
from bondwright.site.topology import Topology

__all__ = [
    "DIALECT",
    "Supply",
    "bonding_conductor",
    "electrode_conductor",
    "metal_bond",
    "protective_conductor",
    "supply_neutral",
    "supply_of",
    "supply_protective_conductor",
    "tie_findings",
    "ties_that_belong",
    "where_ties_belong",
]

DIALECT: Final[Mapping[str, str]] = MappingProxyType(
    {
        "main bonding jumper": "join of neutral and earth at the origin",
        "system bonding jumper": "join of neutral and earth",
        "supply-side bonding jumper": "protective conductor of the supply",
        "grounding electrode conductor": "earthing conductor",
        "equipment grounding conductor": "protective conductor",
        "grounding impedance conductor": "conductor to the earthing impedance",
        "bonding jumper to metal": "main protective bonding",
        "bonding bushing jumper": "bonding of a conduit's end",
        "equipotential bonding conductor": "supplementary protective bonding",
        "bond of an enclosure to the neutral": "join of an enclosure to the neutral",
        "direct-current bonding jumper": "join of a direct-current conductor to earth",
    }
)
"""What this family calls the conductors of a schedule, by their NEC names."""


@dataclass(frozen=True, slots=True)
class Supply:
    """What the family asks of a supply beside its conductors.

    Attributes:
        earthing: arrangement of the supply.
        neutral: PEN or neutral of the supply; None if not known.
    """

    earthing: Earthing
    neutral: Conductor | None = None


def supply_of(tree: Topology, origin: str, earthing: Earthing) -> Supply:
    """Return what a description says of a supply: its arrangement and its neutral.

    The neutral is that of the run that ends at the first disconnect; where its size isn't said,
    it isn't known.

    Args:
        tree: the supply tree.
        origin: id of the source, generator, inverter or transformer.
        earthing: arrangement of the supply.
    """
    runs = [
        tree.site.runs[tree.fed_by[place]]
        for place in tree.first_disconnects.get(origin, ())
        if place in tree.fed_by
    ]
    neutrals = [run.neutral for run in runs if isinstance(run.neutral, Conductor)]
    if len(neutrals) < len(runs) or not neutrals:
        return Supply(earthing)
    return Supply(earthing, max(neutrals, key=lambda one: one.total_area_cmil))


def tie_findings(standing: Standing, earthing: Earthing, rules: str) -> tuple[Finding, ...]:
    """Return every finding on joins of neutral and earth.

    Args:
        standing: what stands.
        earthing: arrangement of the supply.
        rules: name of the rule set.

    Raises:
        UnknownFamilyRulesError: no such rule set.
    """
    return join_findings(standing, earthing, rules)


def protective_conductor(
    device: ProtectiveDevice | None,
    material: Material,
    rules: str,
    line: Conductor,
    *,
    laid: Laid = Laid.IN_CABLE,
    insulation: Insulation = Insulation.PVC_70,
    fault: Fault | None = None,
) -> Answer:
    """Return the least protective conductor of a load-side run.

    By the heat of the fault where that is known, else by the line conductor. The device is in
    neither sum; it is listed with the inputs, for it decides how long the fault lasts.

    Args:
        device: overcurrent device ahead of the run; None if not described.
        material: metal of the protective conductor.
        rules: name of the rule set.
        line: line conductor.
        laid: how the protective conductor lies.
        insulation: of both.
        fault: current and time of a fault at the near end.

    Raises:
        TypeError: conductors in place of the device.
        CannotTellError: the rule has no answer.
        UnknownFamilyRulesError: no such rule set.
    """
    if device is not None:
        need_device(device)
    if fault is not None:
        found = by_heat(fault, material, rules, laid=laid, insulation=insulation)
    else:
        found = _by_line(
            line, material, rules, laid=laid, line_insulation=insulation, insulation=insulation
        )
    if device is None:
        return found
    return Answer(
        found.rule,
        found.clause,
        found.rules,
        found.size,
        found.because,
        (*found.inputs, ("overcurrent device", str(device))),
        found.status,
    )


def supply_protective_conductor(
    supply: SupplyConductors,
    of: Supply,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer | None:
    """Return the least protective conductor of a run ahead of the first device.

    Args:
        supply: line conductors of one phase.
        of: earthing of the supply.
        material: metal of the protective conductor.
        rules: name of the rule set.

    Returns:
        Its size; None where the supply has none: a PEN conductor does it, or TT and IT.

    Raises:
        TypeError: a breaker in place of the supply conductors.
        CannotTellError: the rule has no answer.
        UnknownFamilyRulesError: no such rule set.
    """
    need_supply(supply)
    rule_set(rules)
    if of.earthing is not Earthing.TN_S:
        return None
    return _by_line(_line(supply), material, rules)


def supply_neutral(
    supply: SupplyConductors,
    of: Supply,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer | None:
    """Return the least neutral ahead of the first device, where a fault comes back by it.

    Args:
        supply: line conductors of one phase.
        of: earthing of the supply.
        material: metal of the neutral.
        rules: name of the rule set.

    Returns:
        The least PEN conductor; None where the neutral is no fault path (TN-S, TT, IT).

    Raises:
        TypeError: a breaker in place of the supply conductors.
        CannotTellError: the rule has no answer.
        UnknownFamilyRulesError: no such rule set.
    """
    need_supply(supply)
    rule_set(rules)
    return pen_conductor(_line(supply), material, rules) if of.earthing.has_pen else None


def electrode_conductor(
    supply: SupplyConductors,
    of: Supply,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    buried: Burial | None = None,
) -> Answer:
    """Return the least earthing conductor, to the supply's earth or to electrodes.

    Args:
        supply: line conductors of one phase.
        of: earthing and neutral of the supply.
        material: metal of the earthing conductor.
        rules: name of the rule set.
        buried: how it is protected where it lies in soil; None if it doesn't.

    Raises:
        TypeError: a breaker in place of the supply conductors.
        CannotTellError: the rule has no answer.
        UnknownFamilyRulesError: no such rule set.
    """
    need_supply(supply)
    return earthing_conductor(
        _line(supply),
        material,
        rules,
        buried=buried,
        supply_neutral=of.neutral,
        earthing=of.earthing,
    )


def bonding_conductor(
    supply: SupplyConductors,
    of: Supply,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer:
    """Return the least main protective bonding, to pipe, steel and other extraneous metal.

    Args:
        supply: line conductors of one phase.
        of: earthing and neutral of the supply.
        material: metal of the bonding conductor.
        rules: name of the rule set.

    Raises:
        TypeError: a breaker in place of the supply conductors.
        CannotTellError: the rule has no answer, as for a TN-C-S supply whose neutral isn't known.
        UnknownFamilyRulesError: no such rule set.
    """
    need_supply(supply)
    line = _line(supply)
    # IEC 60364 follows the largest protective conductor, BS 7671 the earthing conductor needed.
    follows = (
        earthing_conductor(line, Material.CU, rules, earthing=of.earthing)
        if rule_set(rules).key != "iec"
        else _by_line(line, Material.CU, rules)
    )
    return main_bonding(
        Conductor(follows.size.size, Material.CU, follows.size.sets),
        material,
        rules,
        earthing=of.earthing,
        supply_neutral=of.neutral,
    )


def metal_bond(
    tree: Topology,
    metal: Metal,
    earthing: Earthing,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer | None:
    """Return the least main protective bonding to a piece of metal where it starts.

    Args:
        tree: the supply tree.
        metal: pipe, steel or other extraneous metal.
        earthing: arrangement of the supply.
        material: metal of the bonding conductor.
        rules: name of the rule set.

    Returns:
        Its size; None for a cable shield or down conductor, and where no supply conductor is
        described.

    Raises:
        CannotTellError: the rule has no answer.
        UnknownFamilyRulesError: no such rule set.
        ValueError: supply conductors of different metals.
    """
    rule_set(rules)
    if metal.kind in SIZED_ELSEWHERE:
        return None
    origin = tree.systems[metal.from_].origin
    supply = system_supply(tree, origin)
    if supply is None:
        return None
    return bonding_conductor(supply, supply_of(tree, origin, earthing), material, rules)


def _line(supply: SupplyConductors) -> Conductor:
    """One conductor that stands for the supply; several disconnects' conductors add up."""
    if len(supply.lines) == 1:
        return supply.lines[0]
    area = sum(line.sets * line.size.area_mm2 for line in supply.lines)
    return Conductor(next_metric_size(area), supply.material)
