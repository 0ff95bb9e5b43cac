"""Main and supplementary bonding.

Main protective bonding joins what brings the potential of elsewhere into the building (pipes,
steel) to the main earthing terminal. It follows the earthing conductor or, on a TN-C-S supply,
the supply neutral, whose current it takes over when that neutral breaks.
"""

from __future__ import annotations

from bondwright.catalog.iec_tables import iec_number, pme_bonding
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import Status
from bondwright.rules.answer import Answer
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause, rule_set
from bondwright.rules.iec.sizing import Insulation, Laid, factor, made
from bondwright.rules.inputs import CannotTellError

MAIN = "iec-main-bonding"
PME = "iec-pme-bonding"
SUPPLEMENTARY = "iec-supplementary-bonding"


def main_bonding(
    follows: Conductor,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    earthing: Earthing = Earthing.TN_S,
    supply_neutral: Conductor | None = None,
) -> Answer:
    """Return the least main protective bonding conductor.

    Half of what it follows, at least 6 mm2 copper or 16 mm2 aluminium; copper need not exceed
    25 mm2 (544.1.1). On a TN-C-S supply under BS 7671 table 54.8 by the supply neutral instead.

    Args:
        follows: the earthing conductor that is needed (BS 7671), or the largest protective
            conductor of the installation (IEC 60364).
        material: metal of the bonding conductor.
        rules: name of the rule set.
        earthing: of the supply.
        supply_neutral: PEN or neutral of the supply; asked for under BS 7671 with TN-C-S.

    Raises:
        CannotTellError: a TN-C-S supply whose neutral isn't known.
        UnknownFamilyRulesError: no such rule set.
    """
    chosen = rule_set(rules)
    if chosen.key == "as":
        entry = iec_number("as_bonding", "least_cu")
        if material is not Material.CU:
            missing = "give copper, or ask the authority"
            raise CannotTellError(MAIN, clause(MAIN, rules), "the size is for copper", missing)
        said = (f"An equipotential bonding conductor is at least {entry.value:g} mm2 copper.",)
        given = (("conductor metal", material.value),)
        return made(MAIN, rules, entry.value, 0, material, said, given, entry.status)
    if chosen.key == "bs" and earthing.has_pen:
        return pme_main_bonding(supply_neutral, material, rules)
    part = iec_number("main_bonding", "part")
    least = iec_number("main_bonding", "least", material.value)
    most = iec_number("main_bonding", "most_cu")
    # The confirmed half: half with 6 and 25 mm2 copper in BS 7671.
    sure = chosen.key == "bs" and material is follows.material is Material.CU
    status = Status.CONFIRMED if sure else part.status
    what = "the earthing conductor" if chosen.key == "bs" else "the largest protective conductor"
    area = follows.sets * follows.size.area_mm2 * part.value
    because = [
        "Main protective bonding joins pipes, steel and other metal from outside to the main "
        "earthing terminal.",
        f"It is half of {what} ({follows}): {area:.4g} mm2.",
    ]
    area, status = _other_metal(area, follows.material, material, status, because)
    cap = most.value if material is Material.CU else _equal(most.value, material)
    if area > cap:
        because.append(f"It need not exceed {most.value:g} mm2 of copper, or its equal.")
        area = cap
    if area < least.value:
        because.append(f"It is at least {least.value:g} mm2 {material.value}.")
    inputs = (
        (what.removeprefix("the "), str(follows)),
        ("conductor metal", material.value),
        ("earthing", earthing.value),
    )
    return made(MAIN, rules, area, least.value, material, because, inputs, status)


def pme_main_bonding(
    neutral: Conductor | None, material: Material = Material.CU, rules: str = "bs-7671-2018"
) -> Answer:
    """Return the least main protective bonding of a TN-C-S supply, BS 7671 table 54.8.

    Args:
        neutral: PEN or neutral of the supply.
        material: metal of the bonding conductor.
        rules: name of the rule set.

    Raises:
        CannotTellError: the neutral isn't known.
        UnknownFamilyRulesError: no such rule set.
    """
    where = clause(PME, rules)
    if neutral is None:
        raise CannotTellError(
            PME,
            where,
            "main protective bonding of a TN-C-S supply follows the supply neutral",
            "give the supply's neutral, or ask the network operator",
        )
    copper = neutral.sets * neutral.size.area_mm2
    because = [
        "On a TN-C-S supply the bonding takes over neutral current when the PEN conductor of the "
        "network breaks, so it follows the supply neutral."
    ]
    status = Status.CONFIRMED
    if neutral.material is not Material.CU:
        copper = copper * _conductance(neutral.material)
        because.append(f"{neutral} is worth {copper:.4g} mm2 of copper.")
        status = Status.COMPUTED
    entry = pme_bonding(copper)
    because.append(f"The table, {entry.row}: {entry.value:g} mm2 copper.")
    area = entry.value
    if material is not Material.CU:
        area = area / _conductance(material)
        because.append(f"In {material.value} of the same conductance: {area:.4g} mm2.")
        status = Status.COMPUTED
    because.append("The network operator may ask for more; its conditions go before this.")
    inputs = (("supply neutral", str(neutral)), ("conductor metal", material.value))
    status = Status.least_sure(status, entry.status)
    return made(PME, rules, area, 0, material, because, inputs, status)


def _conductance(material: Material) -> float:
    """Conductance of a metal per area, copper 1 (resistivities behind the factors k)."""
    return {Material.CU: 1.0, Material.AL: 17.241 / 28.264}[material]


def _equal(copper_mm2: float, material: Material) -> float:
    return copper_mm2 / _conductance(material)


def _other_metal(
    area: float, from_: Material, to: Material, status: Status, because: list[str]
) -> tuple[float, Status]:
    if from_ is to:
        return area, status
    k1 = factor(Laid.SEPARATE, from_.value, Insulation.PVC_70)
    k2 = factor(Laid.SEPARATE, to.value, Insulation.PVC_70)
    changed = area * k1.k / k2.k
    because.append(f"In {to.value}: {area:.4g} x {k1.k:g} / {k2.k:g} = {changed:.4g} mm2.")
    return changed, Status.least_sure(status, k1.source.status, k2.source.status)


def supplementary_bonding(
    first: Conductor | None,
    second: Conductor | None,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    protected: bool = True,
) -> Answer:
    """Return the least supplementary bonding conductor between two parts.

    Between two exposed parts as the smaller protective conductor, between an exposed and an
    extraneous part as half the protective conductor, between two extraneous parts the least for
    strength alone (544.2).

    Args:
        first: protective conductor of the first part; None if it is an extraneous part.
        second: protective conductor of the second part; None if it is an extraneous part.
        material: metal of the bonding conductor.
        rules: name of the rule set.
        protected: whether it is protected against mechanical damage.

    Raises:
        UnknownFamilyRulesError: no such rule set.
    """
    how = "protected" if protected else "unprotected"
    least = iec_number("supplementary", how, material.value)
    known = [one for one in (first, second) if one is not None]
    because: list[str] = []
    area, status = 0.0, least.status
    if known:
        smaller = min(known, key=lambda one: one.size.area_mm2)
        area = smaller.size.area_mm2
        if len(known) == 2:
            because.append(f"Between two exposed parts: as the smaller of the two, {smaller}.")
        else:
            part = iec_number("supplementary", "part_to_extraneous").value
            area *= part
            because.append(
                "Between an exposed and an extraneous part: half of the protective conductor "
                f"{smaller}, {area:.4g} mm2."
            )
        area, status = _other_metal(area, smaller.material, material, status, because)
    else:
        because.append("Between two extraneous parts no protective conductor is there to follow.")
    if area < least.value:
        because.append(f"At least {least.value:g} mm2 {material.value} where it is {how}.")
    inputs = (
        ("first part", str(first) if first else "extraneous"),
        ("second part", str(second) if second else "extraneous"),
        ("conductor metal", material.value),
    )
    return made(SUPPLEMENTARY, rules, area, least.value, material, because, inputs, status)


def supplementary_resistance(operating_a: float, *, special: bool = False) -> float:
    """Return the greatest resistance between bonded parts, ohm: ``R = 50 V / Ia`` (415.2.2).

    Args:
        operating_a: current at which the device opens within 5 s, A; of a residual-current
            device its rated residual current.
        special: whether the lower limit of special locations (25 V) holds.

    Raises:
        ValueError: not a current.
    """
    if not operating_a > 0:
        raise ValueError(f"a current of {operating_a} A is not possible; give its magnitude")
    return iec_number("touch_limit", "special_ac" if special else "ac").value / operating_a
