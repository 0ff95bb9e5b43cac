"""The earthing conductor, and the least sizes of electrodes."""

from __future__ import annotations

from dataclasses import dataclass

from bondwright.catalog.iec_tables import ElectrodeMinimum, electrode_minima, iec_number
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import Status
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.bonding import pme_main_bonding
from bondwright.rules.iec.conductors import protective_conductor
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set
from bondwright.rules.iec.sizing import Laid, made
from bondwright.rules.inputs import CannotTellError

EARTHING = "iec-earthing-conductor"
ELECTRODE = "iec-electrode-size"


@dataclass(frozen=True, slots=True)
class Burial:
    """How a buried earthing conductor is protected.

    Attributes:
        corrosion: protected against corrosion by a sheath.
        mechanical: protected against mechanical damage.
    """

    corrosion: bool
    mechanical: bool


def earthing_conductor(
    line: Conductor,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    buried: Burial | None = None,
    supply_neutral: Conductor | None = None,
    earthing: Earthing = Earthing.TN_S,
) -> Answer:
    """Return the least earthing conductor, from main earthing terminal to means of earthing.

    As a protective conductor by the line conductor of the supply, and not below the least sizes
    of 542.3; buried ones have further minima. On a TN-C-S supply under BS 7671 not below the main
    bonding that table 54.8 asks.

    Args:
        line: line conductor of the supply.
        material: metal of the earthing conductor.
        rules: name of the rule set.
        buried: how it is protected where it lies in soil; None if it doesn't.
        supply_neutral: PEN or neutral of the supply.
        earthing: of the supply.

    Raises:
        CannotTellError: aluminium in soil, or no answer in the tables.
        UnknownFamilyRulesError: no such rule set.
    """
    chosen, where = rule_set(rules), clause(EARTHING, rules)
    own = protective_conductor(line, material, rules, laid=Laid.SEPARATE)
    area, status = line.sets * own.size.size.area_mm2, Status(own.status)
    because = [
        "The earthing conductor joins the main earthing terminal to the means of earthing.",
        *own.because[1:-2],
    ]
    if line.sets > 1:
        because.append(f"One earthing conductor for {line.sets} parallel sets: {area:.4g} mm2.")
    least = 0.0
    if chosen.key == "as":
        low, high = (iec_number("as_main_earth", key) for key in ("least_cu", "most_cu"))
        because.append(f"At least {low.value:g} mm2, and not above {high.value:g} mm2, of copper.")
        area, least = min(area, high.value), low.value
        status = Status.least_sure(status, low.status)
    elif chosen.key == "iec":
        low = iec_number("earthing_conductor", "least", material.value)
        because.append(f"It is at least {low.value:g} mm2 {material.value}.")
        least, status = low.value, Status.least_sure(status, low.status)
    if chosen.key == "bs" and earthing is Earthing.TN_C_S and supply_neutral is not None:
        bond = pme_main_bonding(supply_neutral, material, rules)
        least = max(least, bond.size.size.area_mm2)
        status = Status.least_sure(status, Status(bond.status), Status.ONE_SOURCE)
        because.append(f"On a TN-C-S supply not below its main bonding, {bond.size}.")
    if buried is not None:
        least, status = _buried(buried, material, least, status, where, because)
    inputs = [
        ("line conductor", str(line)),
        ("conductor metal", material.value),
        ("earthing", earthing.value),
        ("buried", "no" if buried is None else _words(buried)),
    ]
    return made(EARTHING, rules, area, least, material, because, inputs, status)


def _words(buried: Burial) -> str:
    against = [
        word
        for word, there in (("corrosion", buried.corrosion), ("damage", buried.mechanical))
        if there
    ]
    return "protected against " + " and ".join(against) if against else "unprotected"


def _buried(
    buried: Burial,
    material: Material,
    least: float,
    status: Status,
    where: str,
    because: list[str],
) -> tuple[float, Status]:
    if material is not Material.CU:
        problem = f"{material.value} is not laid in soil as an earthing conductor"
        raise CannotTellError(EARTHING, where, problem, "use copper")
    if buried.corrosion and buried.mechanical:
        because.append("Buried, but protected against corrosion and damage: no further minimum.")
        return least, status
    entry = iec_number(
        "buried_earthing", "corrosion_protected" if buried.corrosion else "bare", "Cu"
    )
    because.append(f"Buried, {_words(buried)}: at least {entry.value:g} mm2 copper.")
    return max(least, entry.value), Status.least_sure(status, entry.status)


def electrode_finding(
    where: str,
    metal: str,
    shape: str,
    *,
    in_concrete: bool = False,
    diameter_mm: float | None = None,
    area_mm2: float | None = None,
    thickness_mm: float | None = None,
    rules: str = DEFAULT_RULES,
) -> Finding | None:
    """Return what is wrong with the size of an electrode, or None where nothing is.

    Args:
        where: id of the electrode.
        metal: "steel", "galvanized steel", "copper-clad steel" or "copper".
        shape: "rod", "strip", "round wire", "rope" or "pipe".
        in_concrete: whether it is a foundation electrode, embedded in concrete.
        diameter_mm: its diameter, mm.
        area_mm2: its cross-section, mm2.
        thickness_mm: its thickness, mm.
        rules: name of the rule set.

    Raises:
        UnknownFamilyRulesError: no such rule set.
    """
    said = clause(ELECTRODE, rules)
    least = _minimum(metal, shape, "concrete" if in_concrete else "soil")
    if least is None:
        return Finding(
            ELECTRODE,
            Severity.CANNOT_TELL,
            where,
            "no least size known for this electrode",
            f"No least size is held here for a {shape} of {metal} in "
            f"{'concrete' if in_concrete else 'soil'}.",
            "Look it up in the rules in force.",
            said,
        )
    parts = (
        ("diameter", least.diameter_mm, diameter_mm, "mm"),
        ("cross-section", least.area_mm2, area_mm2, "mm2"),
        ("thickness", least.thickness_mm, thickness_mm, "mm"),
    )
    asked = [(name, need, have, unit) for name, need, have, unit in parts if need is not None]
    unknown = [name for name, _, have, _ in asked if have is None]
    short = [
        f"{name} {have:g} {unit} where {need:g} {unit} is asked"
        for name, need, have, unit in asked
        if have is not None and have < need
    ]
    doubt = "These sizes are from memory; look them up before relying on them."
    if short:
        return Finding(
            ELECTRODE,
            Severity.FALLS_SHORT,
            where,
            "electrode too small",
            f"A {shape} of {metal}: {'; '.join(short)}. {doubt}",
            "Use a larger one.",
            said,
        )
    if unknown:
        return Finding(
            ELECTRODE,
            Severity.CANNOT_TELL,
            where,
            "size of the electrode not known",
            f"{' and '.join(unknown)} of this {shape} of {metal} is not described. {doubt}",
            "Measure it.",
            said,
        )
    return None


def _minimum(metal: str, shape: str, where: str) -> ElectrodeMinimum | None:
    for found in electrode_minima():
        if (found.metal, found.shape, found.where) == (metal, shape, where):
            return found
    return None
