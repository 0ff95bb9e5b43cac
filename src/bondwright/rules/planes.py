"""Planes of one voltage beside water, and tubs: where one is needed, and by which conductor.

A plane under the feet at a disconnect beside water, or the metal of a tub, is joined by copper so
that nobody who stands there finds a difference of voltage. That is not a fault path, and a rod
does nothing for it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.raceway_ends import highest_to_ground
from bondwright.site.fields import NoWire
from bondwright.site.model import Area, AreaKind
from bondwright.site.topology import Topology
from bondwright.units import Dimension, show

RULE: Final = "shore-plane-bond"
TUB_RULE: Final = "tub-bond"

_PARAMETER: Final = {
    AreaKind.POND: (RULE, "shore-plane-conductor"),
    AreaKind.MARINA: (RULE, "dock-plane-conductor"),
    AreaKind.TUB: (TUB_RULE, "tub-bond-conductor"),
}
_BECAUSE: Final = {
    RULE: "Under the feet at a disconnect beside water a plane of metal is joined to the metal "
    "that a hand touches there, so that the two stand at one voltage.",
    TUB_RULE: "The metal in touch with the tub's water, its pipes and its pump are joined, so that "
    "a wet person finds no difference of voltage between any two of them. The conductor "
    "need not go on to a panel or an electrode.",
}


def plane_bond(
    kind: AreaKind, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer | None:
    """Return the least bonding conductor of a plane beside water, or of a tub.

    Args:
        kind: what the area is.
        material: metal of the conductor.
        rules: name of the rule set.

    Returns:
        None where the edition has no such rule for the kind.

    Raises:
        CannotTellError: a conductor of another metal than copper, which these rules don't know.
        UnknownRulesError: no such rule set.
    """
    if kind not in _PARAMETER:
        return None
    rule, parameter = _PARAMETER[kind]
    found = rule_parameter(parameter, edition(rules))
    if found.absent:
        return None
    where = clause(rule, rules, found.clause)
    if material is not Material.CU:
        problem = f"a bonding conductor of {material.value} at a {kind.value}: copper is asked"
        raise CannotTellError(rule, where, problem, "use copper")
    size = found.size(material)
    return Answer(
        rule,
        where,
        rules,
        Conductor(size, material),
        (_BECAUSE[rule], f"Least conductor: {size} {material.value}, solid ({found.clause})."),
        (("area", kind.value), ("conductor metal", material.value)),
        found.status.value,
    )


def dock_plane_due(tree: Topology, at: str, rules: str) -> bool:
    """Whether equipment of a dock at a place is of a voltage that asks for a plane beside it.

    Since 2023, above a voltage to ground; how far from the water it stands can't be told.
    """
    limit = rule_parameter("dock-plane-voltage", edition(rules))
    return not limit.absent and highest_to_ground(tree.systems[at].voltages) > limit.number


def plane_findings(tree: Topology, rules: str) -> Iterator[Finding]:
    """Yield a finding for every plane or tub that is not bonded, and every dock that may need one.

    A conductor that is too small is reported where it is planned.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    for name, area in tree.site.areas.items():
        answer = plane_bond(area.kind, rules=rules)
        if answer is None:
            continue
        if area.kind is AreaKind.MARINA:
            yield from _dock(tree, name, area, answer, rules)
        elif area.bond is NoWire.NONE:
            yield _no_bond(name, area.kind, answer)


def _no_bond(name: str, kind: AreaKind, answer: Answer) -> Finding:
    return Finding(
        answer.rule,
        Severity.DANGER,
        name,
        f"no bonding of a {kind.value}",
        f"The metal of {name!r} is not bonded. {_BECAUSE[answer.rule]} A ground rod neither does "
        "this nor counts for it.",
        f"Keep everybody away from it, and out of the water, until it is joined with {answer.size} "
        "or larger by listed clamps, with the power off and proved dead.",
        answer.clause,
    )


def _dock(tree: Topology, name: str, area: Area, answer: Answer, rules: str) -> Iterator[Finding]:
    year = edition(rules)
    if area.bond is None and dock_plane_due(tree, area.at, rules):
        near, wide = (
            show(rule_parameter(f"dock-plane-{what}", year).number, Dimension.LENGTH)
            for what in ("distance", "width")
        )
        yield Finding(
            RULE,
            Severity.CANNOT_TELL,
            name,
            "plane beside the equipment of a dock not described",
            f"{area.at!r} has {highest_to_ground(tree.systems[area.at].voltages):.0f} V to ground. "
            f"Where it or its disconnect stands within {near} of the water, a plane of one voltage "
            f"reaches {wide} out from under it.",
            "Keep people off the shore beside it until that is known. Join the plane with "
            f"{answer.size} or larger and give it as 'bond'.",
            clause(RULE, rules),
        )
