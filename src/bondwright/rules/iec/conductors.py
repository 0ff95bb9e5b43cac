"""Protective and PEN conductors by the line conductor (table 54.2)."""

from __future__ import annotations

from bondwright.catalog.iec_tables import LARGE_MM2, as_nzs_earth, iec_number, protective_area
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import CatalogError, Status
from bondwright.rules.answer import Answer
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set
from bondwright.rules.iec.sizing import Insulation, Laid, factor, made, mm2, strength
from bondwright.rules.inputs import CannotTellError

RULE = "iec-protective-conductor"


def area_needed(
    line: Conductor,
    metal: str,
    *,
    laid: Laid = Laid.IN_CABLE,
    line_insulation: Insulation = Insulation.PVC_70,
    insulation: Insulation = Insulation.PVC_70,
) -> tuple[float, Status, tuple[str, ...]]:
    """Return the area that table 54.2 asks of a protective conductor of any metal.

    ``Sp`` of the table, times ``k1 / k2`` where the metals differ: k1 of the line conductor, k2
    of the protective conductor (IEC 60364-5-54 table 54.2).

    Args:
        line: line conductor; of parallel sets each by itself.
        metal: of the protective conductor: "Cu", "Al", "steel" or "lead".
        laid: how the protective conductor lies.
        line_insulation: of the line conductor.
        insulation: of the protective conductor.

    Returns:
        Area in mm2, how surely it is known, and the sum in words.

    Raises:
        CatalogError: the tables have no factor k for it.
    """
    entry = protective_area(line.size.area_mm2)
    said = [f"The table, {entry.row}: {mm2(entry.value)} of the metal of the line conductor."]
    if metal == line.material.value:
        return entry.value, entry.status, tuple(said)
    k1 = factor(Laid.LINE, line.material.value, line_insulation, line.size.area_mm2)
    k2 = factor(laid, metal, insulation)
    area = entry.value * k1.k / k2.k
    if area > LARGE_MM2:
        k2 = factor(laid, metal, insulation, area)
        area = entry.value * k1.k / k2.k
    said.append(
        f"In {metal} that is {mm2(entry.value)} x {k1.k:g} / {k2.k:g} = {mm2(area)} (factors k "
        f"of tables {k1.table} and {k2.table})."
    )
    return area, Status.least_sure(entry.status, k1.source.status, k2.source.status), tuple(said)


def protective_conductor(
    line: Conductor,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    laid: Laid = Laid.IN_CABLE,
    line_insulation: Insulation = Insulation.PVC_70,
    insulation: Insulation = Insulation.PVC_70,
    protected: bool = True,
) -> Answer:
    """Return the least protective conductor by the line conductor.

    Table 54.2 of IEC 60364-5-54 (54.7 of BS 7671), or table 5.1 of AS/NZS 3000. Where the line
    conductors run in parallel sets, there is one beside each set.

    Args:
        line: line conductor of the circuit.
        material: metal of the protective conductor.
        rules: name of the rule set.
        laid: how the protective conductor lies.
        line_insulation: of the line conductor.
        insulation: of the protective conductor.
        protected: whether one outside a cable is protected against mechanical damage.

    Raises:
        TypeError: a breaker in place of the line conductor.
        CannotTellError: the tables have no answer.
        UnknownFamilyRulesError: no such rule set.
    """
    if not isinstance(line, Conductor):
        raise TypeError(
            f"{line!s}: a protective conductor follows the line conductor of its circuit (table), "
            "or the fault (adiabatic), not the rating of the device; give a Conductor"
        )
    where = clause(RULE, rules)
    because = [
        "The protective conductor carries a fault back until the device opens; the table sizes "
        f"it by the line conductor, {line}."
    ]
    if rule_set(rules).key == "as":
        area, status = _as_nzs(line, material, where, because)
    else:
        try:
            area, status, said = area_needed(
                line,
                material.value,
                laid=laid,
                line_insulation=line_insulation,
                insulation=insulation,
            )
        except CatalogError as error:
            problem = f"{error.text} {error.problem}"
            raise CannotTellError(RULE, where, problem, error.hint or "") from error
        because += said
    least, least_status = strength(material, laid, protected, because)
    if least > area:
        status = Status.least_sure(status, least_status)
    because.append(
        "By the heat of the fault a smaller one may do, where fault current and disconnection "
        "time are known."
    )
    inputs = [
        ("line conductor", str(line)),
        ("conductor metal", material.value),
        ("laid", laid.value),
    ]
    return made(RULE, rules, area, least, material, because, inputs, status, line.sets)


def _as_nzs(
    line: Conductor, material: Material, where: str, because: list[str]
) -> tuple[float, Status]:
    if material is not Material.CU:
        missing = "give copper, or size it by the heat of the fault"
        raise CannotTellError(RULE, where, "table 5.1 gives copper only", missing)
    area, metal = line.size.area_mm2, line.material.value
    entry = as_nzs_earth(area, metal)
    if entry is not None:
        because.append(f"Table 5.1, {entry.row}: {mm2(entry.value)} copper.")
        if entry.source.note == "b":
            because.append("A larger one may be needed; check the fault loop.")
        return entry.value, entry.status
    missing = "size it by the heat of the fault"
    raise CannotTellError(RULE, where, f"table 5.1 has no row for {line}", missing)


def pen_conductor(
    line: Conductor,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    insulation: Insulation = Insulation.PVC_70,
) -> Answer:
    """Return the least PEN conductor, for fixed installations only.

    As a protective conductor, and at least 10 mm2 copper or 16 mm2 aluminium (543.4.1): when it
    breaks, all metal joined to it becomes live.

    Args:
        line: line conductor.
        material: metal of the PEN conductor.
        rules: name of the rule set.
        insulation: of both.

    Raises:
        TypeError: a breaker in place of the line conductor.
        CannotTellError: the tables have no answer.
        UnknownFamilyRulesError: no such rule set.
    """
    own = protective_conductor(
        line, material, rules, line_insulation=insulation, insulation=insulation
    )
    least = iec_number("pen", "least", material.value)
    because = [
        *own.because[:-2],
        f"A PEN conductor is at least {mm2(least.value)} {material.value}: when it breaks, all "
        "metal joined to it becomes live.",
        "It also has to carry the neutral current; that is a matter of load and not judged here.",
    ]
    return made(
        "iec-pen",
        rules,
        own.size.size.area_mm2,
        least.value,
        material,
        because,
        [("line conductor", str(line)), ("conductor metal", material.value)],
        Status.least_sure(Status(own.status), least.status),
        line.sets,
    )
