"""Equipment grounding conductors: table 250.122, proportional increase, parallel runs.

Entered with the rating of the overcurrent device ahead; see :mod:`bondwright.rules.inputs` for
why never with the service conductors.
"""

from __future__ import annotations

from enum import StrEnum

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material, Size, next_size_up
from bondwright.catalog.sources import Status
from bondwright.catalog.tables import egc_row
from bondwright.rules.answer import Answer, Verdict
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice, area_text, need_device
from bondwright.site.model import Enlarged
from bondwright.units import INCH, Dimension, UnitError, show

RULE = "equipment-ground"
RACEWAY_RULE = "raceway-as-ground"


def equipment_ground(
    device: ProtectiveDevice,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    line: Conductor | None = None,
    needed: Conductor | None = None,
    enlarged: Enlarged = Enlarged.VOLTAGE_DROP,
    *,
    together: bool = False,
) -> Answer:
    """Return the least wire-type equipment grounding conductor.

    Table 250.122 by the device; grown in proportion where the lines were enlarged
    (250.122(B)); not larger than the line conductors; full size in each of several parallel
    raceways or cables (250.122(F)), which the answer shows as so many sets.

    Args:
        device: the overcurrent device ahead.
        material: metal of the equipment grounding conductor.
        rules: name of the rule set.
        line: line conductors that are installed, or None where they don't matter. Each set is
            taken to lie in a raceway or cable of its own, unless ``together``.
        needed: line conductors that ampacity alone would need; None means not enlarged.
        enlarged: why the lines were enlarged.
        together: whether parallel sets lie in one raceway or tray, where one conductor serves
            them all.

    Raises:
        TypeError: conductors or anything else in place of the device.
        ValueError: ``needed`` without ``line``, or of another metal than ``line``.
        CannotTellError: a device beyond the table, or larger than any single conductor.
        UnknownRulesError: no such rule set.
    """
    need_device(device)
    _check_lines(line, needed)
    where = clause(RULE, rules, "250.122(A)")
    try:
        row = egc_row(device.rating_a, material)
    except UnitError as error:
        raise CannotTellError(RULE, where, f"{device} {error.problem}", error.hint or "") from error
    size, status = row.value, row.status
    if size is None:  # the table has a size in every row
        raise CannotTellError(RULE, where, f"{device} has no size in the table", "")
    because = [
        "An equipment grounding conductor follows the overcurrent device ahead of it: it has to "
        "carry fault current until that device opens.",
        f"Table {row.table}: {_amperes(device.rating_a)} falls in the row up to "
        f"{row.row_label}: {size} {material.value}.",
    ]
    if line is not None and needed is not None:
        grown = _grown(size, line, needed, enlarged, rules, because)
        if grown is not None:
            size, where = grown, clause(RULE, rules, "250.122(B)")
            status = Status.least_sure(status, _increase(rules)[1])
    sets = 1
    if line is not None:
        size = _capped(size, material, line, because)
        sets = 1 if together else line.sets
        if line.sets > 1:
            status = Status.least_sure(
                status, rule_parameter("egc-parallel", edition(rules)).status
            )
            because.append(
                f"{line.sets} parallel sets in one raceway or tray: one of full size serves them "
                "all (250.122(F))."
                if together
                else f"{sets} parallel sets in raceways or cables of their own: one of full size "
                "in each, not divided (250.122(F))."
            )
    inputs = [("overcurrent device", str(device)), ("conductor metal", material.value)]
    if line is not None:
        inputs.append(("line conductors", str(line)))
    if needed is not None:
        inputs += [("line conductors needed", str(needed)), ("enlarged for", enlarged.value)]
    return Answer(
        RULE,
        where,
        rules,
        Conductor(size, material, sets),
        tuple(because),
        tuple(inputs),
        status.value,
    )


def _amperes(amperes: float) -> str:
    return f"{amperes:g} A"


def _check_lines(line: Conductor | None, needed: Conductor | None) -> None:
    if needed is None:
        return
    if line is None:
        raise ValueError(f"needed {needed}: say as well which line conductors are installed")
    if needed.material is not line.material:
        raise ValueError(
            f"line {line} and needed {needed}: of different metals, so their areas can't be "
            f"compared; give the {line.material.value} size that ampacity would need"
        )


def _increase(rules: str) -> tuple[bool, Status]:
    """Whether an increase for correction counts, and how surely that is known."""
    found = rule_parameter("egc-increase", edition(rules))
    return found.choice == "any-increase", found.status


def _grown(
    size: Size,
    line: Conductor,
    needed: Conductor,
    enlarged: Enlarged,
    rules: str,
    because: list[str],
) -> Size | None:
    """Return the size grown with the lines, or None where it doesn't grow."""
    have, need = line.total_area_cmil, needed.total_area_cmil
    if have < need:
        because.append(
            f"The lines ({line}) are smaller than what is needed ({needed}); that must be "
            "mended first, and the equipment grounding conductor is never made smaller for it."
        )
        return None
    if have == need:
        return None
    if enlarged is Enlarged.CORRECTION and not _increase(rules)[0]:
        because.append(
            f"The lines were enlarged from {needed} to {line} only to make up for ambient "
            "temperature or bundling; since the 2020 edition that does not count."
        )
        return None
    area = size.area_cmil * have / need
    try:
        grown = next_size_up(area)
    except UnitError:
        # Only lines of more than 2000 kcmil could ask this, and those cap it.
        grown = line.size
    because.append(
        f"The lines were enlarged from {needed} to {line}: {area_text(size.area_cmil)} x "
        f"{area_text(have)} / {area_text(need)} = {area_text(area)}; the next standard size "
        f"that is not smaller is {grown}."
    )
    if not _increase(rules)[0]:
        because.append(
            "A qualified person may choose a smaller one that is proven to be an effective "
            "fault path (exception to 250.122(B)); this tool does not take that exception."
        )
    return grown


def _capped(size: Size, material: Material, line: Conductor, because: list[str]) -> Size:
    # An aluminium conductor beside copper lines of its area would carry less: no cap then.
    if material is Material.AL and line.material is Material.CU:
        return size
    if size.area_cmil <= line.area_cmil * (1 + 1e-9):
        return size
    because.append(f"It need not be larger than the line conductors: {line.size} will do.")
    return line.size


class Flexible(StrEnum):
    """Flexible metal raceways."""

    CONDUIT = "flexible metal conduit"
    LIQUIDTIGHT = "liquidtight flexible metal conduit"
    TUBING = "flexible metallic tubing"


def flexible_as_ground(
    raceway: Flexible,
    trade_size_m: float,
    device: ProtectiveDevice,
    length_m: float,
    rules: str = DEFAULT_RULES,
) -> tuple[Verdict, tuple[str, ...]]:
    """Return whether a flexible metal raceway may serve as the equipment grounding conductor.

    Args:
        raceway: which kind.
        trade_size_m: trade size as a length, m (1/2 in = 0.0127 m).
        device: the overcurrent device ahead.
        length_m: all flexible raceway in the fault path together, m.
        rules: name of the rule set.

    Returns:
        The verdict and its reasons. Where flexibility is needed after installation a wire is
        needed whatever the verdict.

    Raises:
        TypeError: conductors in place of the device.
    """
    need_device(device)
    year = edition(rules)
    name = {
        Flexible.CONDUIT: "flexible-conduit",
        Flexible.LIQUIDTIGHT: "liquidtight",
        Flexible.TUBING: "flexible-tubing",
    }[raceway]
    current = f"{name}-egc-current"
    if raceway is Flexible.LIQUIDTIGHT:
        # Trade sizes up to 1/2 are the small ones, 3/4 and above the large ones.
        which = "small" if trade_size_m < 0.6 * INCH else "large"
        current = f"{name}-egc-{which}-current"
    checks = [(device.rating_a, current, Dimension.CURRENT, "overcurrent device")]
    checks.append((length_m, f"{name}-egc-length", Dimension.LENGTH, "length"))
    reasons = []
    for value, parameter, dimension, what in checks:
        limit = rule_parameter(parameter, year)
        if value > limit.number * (1 + 1e-9):
            reasons.append(
                f"{what} {show(value, dimension)} is above {show(limit.number, dimension)} "
                f"(NEC {year} {limit.clause})"
            )
    if raceway is not Flexible.TUBING:
        limit = rule_parameter(f"{name}-egc-trade-size", year)
        if trade_size_m > limit.number * (1 + 1e-9):
            reasons.append(f"trade size is above 1-1/4 in (NEC {year} {limit.clause})")
    if reasons:
        return Verdict.FALLS_SHORT, tuple(reasons)
    return Verdict.HOLDS, (
        f"{raceway.value} may serve, with listed fittings and where nothing has to move after "
        f"installation ({clause(RACEWAY_RULE, rules)}); otherwise run a wire",
    )
