"""Areas with rules of their own: pools, livestock, docks; patient care is named and deferred.

Planes beside water and tubs are in :mod:`bondwright.rules.planes`.

What equipotential bonding does there is not to open a breaker: it makes everything that a wet
person or an animal can touch stand at one voltage. A rod does nothing for that.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.inputs import CannotTellError
from bondwright.site.fields import NoWire
from bondwright.site.model import Area, AreaKind
from bondwright.site.topology import Topology


@dataclass(frozen=True, slots=True)
class _Bond:
    """The rule that sizes the bonding conductor of a kind of area."""

    rule: str
    parameter: str
    because: str
    wet: str


_BONDS: Final[Mapping[AreaKind, _Bond]] = MappingProxyType(
    {
        AreaKind.POOL: _Bond(
            "pool-bond",
            "pool-bond-conductor",
            "Shell, deck, metal parts, pump and water of a pool are joined by solid copper, so "
            "that a swimmer finds no difference of voltage between any two of them.",
            "Keep everybody out of the water until it is done. ",
        ),
        AreaKind.LIVESTOCK: _Bond(
            "livestock-bond",
            "livestock-bond-conductor",
            "The plane under the animals, stanchions, drinkers and the panel's equipment bar are "
            "joined, for cattle feel a volt or two between floor and drinker.",
            "",
        ),
        AreaKind.MARINA: _Bond(
            "dock-ground",
            "dock-ground-minimum",
            "The equipment grounding conductors of a dock are insulated copper and never smaller "
            "than this, whatever the breaker: salt eats a thin wire, and the first sign is a "
            "swimmer.",
            "Keep everybody out of the water until it is done. ",
        ),
    }
)


def area_bond(
    kind: AreaKind, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer | None:
    """Return the least bonding conductor of an area.

    Args:
        kind: what the area is.
        material: metal of the conductor.
        rules: name of the rule set.

    Returns:
        None for an area that has none of its own.

    Raises:
        CannotTellError: a conductor of another metal than copper, which these rules don't know.
    """
    bond = _BONDS.get(kind)
    return None if bond is None else _least(bond, kind, material, rules)


def _least(bond: _Bond, kind: AreaKind, material: Material, rules: str) -> Answer:
    found = rule_parameter(bond.parameter, edition(rules))
    where = clause(bond.rule, rules)
    if material is not Material.CU:
        problem = f"a bonding conductor of {material.value} at a {kind.value}: copper is asked"
        raise CannotTellError(bond.rule, where, problem, "use copper")
    size = found.size(material)
    solid = ", solid" if "solid" in found.note else ""
    return Answer(
        bond.rule,
        where,
        rules,
        Conductor(size, material),
        (bond.because, f"Least conductor: {size} {material.value}{solid} ({found.clause})."),
        (("area", kind.value), ("conductor metal", material.value)),
        found.status.value,
    )


def area_findings(tree: Topology, rules: str) -> Iterator[Finding]:
    """Yield what the description shows to be wrong with areas, and what goes to a specialist.

    A conductor that is too small is reported where it is planned.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    for name, area in tree.site.areas.items():
        if area.kind is AreaKind.PATIENT_CARE:
            yield _patient_care(name, area, rules)
        elif area.kind is AreaKind.MARINA:
            yield from _dock_wires(tree, name, area, rules)
        bond = _BONDS.get(area.kind)
        if bond is not None and area.bond is NoWire.NONE:
            yield _no_bond(name, area, bond, rules)


def _no_bond(name: str, area: Area, bond: _Bond, rules: str) -> Finding:
    size = _least(bond, area.kind, Material.CU, rules).size
    return Finding(
        bond.rule,
        Severity.DANGER if bond.wet else Severity.FALLS_SHORT,
        name,
        f"no bonding of a {area.kind.value}",
        f"The metal of {name!r} is not bonded. {bond.because} A ground rod neither does this nor "
        "counts for it.",
        f"{bond.wet}Join it with {size} or larger by listed clamps, with the power off and proved "
        "dead.",
        clause(bond.rule, rules),
    )


def _patient_care(name: str, area: Area, rules: str) -> Finding:
    return Finding(
        "patient-care-grounds",
        Severity.CANNOT_TELL,
        name,
        "patient care: stricter rules, not judged here",
        f"{name!r}, fed from {area.at}, is for patient care. Stricter rules hold there. To each "
        "outlet two grounds: a metal raceway or cable that is one, and an insulated copper wire "
        "(517.13). Panels that serve one patient's place bonded to each other, 10 AWG Cu at least "
        "(517.14). No isolated-ground receptacle beside the patient (517.16). A second level of "
        "ground-fault protection where the service has one (517.17). Feeders of panels bonded at "
        "every joint where care is critical (517.19). Isolated power, or ground-fault protection "
        "of persons, where procedures are wet (517.20, 517.160). A patient with a probe in the "
        "body is hurt by a current that nobody else feels.",
        "Have these rooms reviewed by a specialist in health care wiring; nothing in this plan "
        "stands for that.",
        clause("patient-care-grounds", rules),
    )


def _dock_wires(tree: Topology, name: str, area: Area, rules: str) -> Iterator[Finding]:
    """Aluminium equipment grounding conductors of runs to and from the place of a dock."""
    run_in = [tree.fed_by[area.at]] if area.at in tree.fed_by else []
    for run in (*run_in, *tree.feeds.get(area.at, ())):
        egc = tree.site.runs[run].egc
        if not isinstance(egc, Conductor) or egc.material is Material.CU:
            continue
        yield Finding(
            "dock-ground",
            Severity.FALLS_SHORT,
            run,
            "equipment grounding conductor not fit for a dock",
            f"{run!r} serves {name!r} with {egc}; insulated copper is asked there.",
            "Keep everybody out of the water until it is replaced by insulated copper, with the "
            "power off and proved dead.",
            clause("dock-ground", rules),
        )


def dock_ground(tree: Topology, run: str, answer: Answer) -> Answer:
    """Return the size of an equipment grounding conductor, not below the least of a dock.

    Args:
        tree: the supply tree.
        run: id of the run that it is of.
        answer: its size by its device.
    """
    described = tree.site.runs[run]
    docks = [a.at for a in tree.site.areas.values() if a.kind is AreaKind.MARINA]
    if not {described.from_, described.to} & {*docks}:
        return answer
    least = _least(_BONDS[AreaKind.MARINA], AreaKind.MARINA, Material.CU, answer.rules)
    if answer.size.material is not Material.CU or answer.size.size >= least.size.size:
        return answer
    return replace(
        answer,
        rule=least.rule,
        clause=least.clause,
        size=Conductor(least.size.size, Material.CU, answer.size.sets),
        because=(*answer.because, *least.because),
        status=least.status,
    )
