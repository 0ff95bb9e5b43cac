"""Grounding electrode conductors: table 250.66 and its caps.

Entered with the area of the supply conductors, like the jumpers; see
:mod:`bondwright.rules.inputs` for why never with a breaker.
"""

from __future__ import annotations

from enum import StrEnum

from bondwright.catalog.parameters import Parameter, rule_parameter
from bondwright.catalog.sizes import Conductor, Material, Size
from bondwright.catalog.sources import Status
from bondwright.catalog.tables import electrode_conductor_row
from bondwright.rules.answer import Answer
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.inputs import (
    SupplyConductors,
    area_text,
    need_supply,
    smaller,
    supply_text,
)
from bondwright.site.model import ElectrodeKind

RULE = "electrode-conductor"


class ServedBy(StrEnum):
    """What an electrode conductor leads to, and to nothing else."""

    ANY = "any"
    """Not known, or several kinds: the table without a cap."""
    ROD = "rod"
    """Driven rods or driven pipe, one or several in a row."""
    PLATE = "plate"
    CONCRETE = "concrete"
    RING = "ring"
    PIPE = "pipe"
    """Underground metal water pipe."""
    STEEL = "steel"
    """Structural metal in the ground."""
    OTHER = "other metal"
    """Other metal in the ground: a well casing, a grid, a strip."""

    @classmethod
    def of(cls, kind: ElectrodeKind) -> ServedBy:
        """Return what a described electrode is to these rules."""
        return {
            ElectrodeKind.ROD: cls.ROD,
            ElectrodeKind.PLATE: cls.PLATE,
            ElectrodeKind.CONCRETE: cls.CONCRETE,
            ElectrodeKind.RING: cls.RING,
            ElectrodeKind.WATER_PIPE: cls.PIPE,
            ElectrodeKind.STEEL: cls.STEEL,
            ElectrodeKind.PILE_CAP: cls.STEEL,
            ElectrodeKind.GRID: cls.OTHER,
            ElectrodeKind.STRIP: cls.OTHER,
            ElectrodeKind.WELL: cls.OTHER,
        }[kind]


def electrode_conductor(
    supply: SupplyConductors,
    electrode: ServedBy = ServedBy.ANY,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    ring: Size | None = None,
) -> Answer:
    """Return the least grounding electrode conductor.

    Table 250.66, never above 3/0 AWG copper or 250 kcmil aluminium; a conductor that leads only
    to rods, pipes or plates, only to concrete-encased electrodes, or only to a ground ring need
    not exceed the cap for those (250.66(A), (B), (C)).

    Args:
        supply: largest ungrounded supply conductors of one phase.
        electrode: what the conductor leads to and to nothing else.
        material: metal of the electrode conductor.
        rules: name of the rule set.
        ring: size of the copper ring conductor; None takes the least that a ring may have.

    Raises:
        TypeError: a breaker or anything else in place of the supply conductors.
        UnknownRulesError: no such rule set.
    """
    need_supply(supply)
    electrode = ServedBy(electrode)
    row = electrode_conductor_row(supply.area_cmil, supply.material, material)
    top = rule_parameter("electrode-conductor-cap", edition(rules)).size(material)
    size = smaller(row.value, top) if row.value else top
    because = [
        "A grounding electrode conductor follows the supply conductors; it holds the system to "
        "the earth and is no path to open a breaker.",
        f"Supply conductors of one phase: {supply_text(supply)}.",
        f"Table {row.table}, supply {row.row_label} {supply.material.value}: {size} "
        f"{material.value}.",
    ]
    where, status = clause(RULE, rules), row.status
    cap, limit = _cap(electrode, material, rules, ring, because)
    if cap is not None and limit is not None and limit < size:
        because.append(
            f"It leads only to {_WORDS[electrode]}, so it need not be larger than {limit} "
            f"{material.value}."
        )
        size, where = limit, clause(RULE, rules, cap.clause)
        status = Status.least_sure(status, cap.status)
    bare = rule_parameter("electrode-conductor-unprotected-minimum", edition(rules))
    if material is Material.CU and size < bare.size(Material.CU):
        because.append(
            f"Smaller than {bare.size(Material.CU)}, it has to run in raceway or armour "
            f"({bare.clause})."
        )
    if material is Material.AL:
        because.append(
            "Aluminium may not touch masonry or earth, and its ends outdoors have limits of "
            "their own (250.64(A))."
        )
    inputs = [
        ("supply conductors", str(supply)),
        ("supply area", area_text(supply.area_cmil)),
        ("electrode", electrode.value),
        ("conductor metal", material.value),
    ]
    if ring is not None:
        inputs.append(("ring conductor", str(ring)))
    return Answer(
        RULE, where, rules, Conductor(size, material), tuple(because), tuple(inputs), status.value
    )


_WORDS = {
    ServedBy.ROD: "rods",
    ServedBy.PLATE: "plates",
    ServedBy.CONCRETE: "a concrete-encased electrode",
    ServedBy.RING: "a ground ring",
}


def _cap(
    electrode: ServedBy, material: Material, rules: str, ring: Size | None, because: list[str]
) -> tuple[Parameter | None, Size | None]:
    year = edition(rules)
    match electrode:
        case ServedBy.ROD | ServedBy.PLATE:
            cap = rule_parameter("rod-only-cap", year)
            return cap, cap.size(material)
        case ServedBy.CONCRETE if material is Material.CU:
            cap = rule_parameter("concrete-only-cap", year)
            return cap, cap.size(material)
        case ServedBy.RING if material is Material.CU:
            cap = rule_parameter("ring-only-cap-minimum", year)
            least = cap.size(material)
            if ring is not None and ring < least:
                because.append(
                    f"A ground ring is at least {least} copper; {ring} is too small to count, "
                    f"so {least} is taken."
                )
            return cap, max(ring, least) if ring is not None else least
        case ServedBy.CONCRETE | ServedBy.RING:
            because.append("The cap for this electrode is given for copper only.")
        case ServedBy.PIPE:
            because.append("A water pipe has no cap of its own: the table's size it is.")
        case ServedBy.STEEL:
            because.append("Structural metal has no cap of its own: the table's size it is.")
        case ServedBy.OTHER:
            because.append(
                "Such metal in the ground has no cap of its own: the table's size it is."
            )
        case ServedBy.ANY:
            because.append("No cap, since it may lead to any electrode.")
    return None, None


def common_electrode_conductor(
    material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least common electrode conductor that several derived systems may tap.

    Each tap is an :func:`electrode_conductor` of its own system.

    Args:
        material: metal of the common conductor.
        rules: name of the rule set.
    """
    found = rule_parameter("common-electrode-conductor", edition(rules))
    size = found.size(material)
    because = (
        "Several separately derived systems may share one electrode conductor, whatever their "
        f"sizes, if it is at least {size} {material.value}.",
        "Each tap to it follows the supply conductors of its own system (table 250.66).",
    )
    return Answer(
        "common-electrode-conductor",
        clause("common-electrode-conductor", rules, found.clause),
        rules,
        Conductor(size, material),
        because,
        (("conductor metal", material.value),),
        found.status.value,
    )
