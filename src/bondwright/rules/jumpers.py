"""Main, system and supply-side bonding jumpers, and the neutral they join.

All are entered with the area of the supply conductors (table 250.102(C)(1)); see
:mod:`bondwright.rules.inputs` for why never with a breaker.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material, Size, next_size_up
from bondwright.catalog.sources import Status
from bondwright.catalog.tables import TableRow, jumper_row
from bondwright.rules.answer import Answer
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.inputs import (
    CannotTellError,
    SupplyConductors,
    area_text,
    need_supply,
    supply_text,
)
from bondwright.units import UnitError


class JumperRole(StrEnum):
    """Which jumper of table 250.102(C)(1)."""

    MAIN = "main"
    SYSTEM = "system"
    SUPPLY_SIDE = "supply-side"

    @property
    def rule(self) -> str:
        """Id of the rule that sizes it."""
        return f"{self.value}-bonding-jumper"

    @property
    def joins(self) -> str:
        """What it does, for a person."""
        return {
            JumperRole.MAIN: "joins the neutral to the metal at the service disconnect",
            JumperRole.SYSTEM: "joins the neutral of a derived system to its metal",
            JumperRole.SUPPLY_SIDE: "joins metal parts ahead of the first disconnect",
        }[self]


@dataclass(frozen=True, slots=True)
class ParallelJumpers:
    """The two lawful ways to bond raceways that carry parallel sets.

    Attributes:
        single: one jumper for all raceways, from the area of all sets.
        per_raceway: one jumper for each raceway, from the conductors inside it.
        raceways: how many raceways.
    """

    single: Answer
    per_raceway: Answer
    raceways: int


def bonding_jumper(
    supply: SupplyConductors,
    role: JumperRole = JumperRole.MAIN,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer:
    """Return the least bonding jumper, from table 250.102(C)(1).

    Above 1100 kcmil copper or 1750 kcmil aluminium it is 12.5 % of the supply area, rounded up
    to the next standard size. It need not be larger than the supply conductors themselves.

    Args:
        supply: largest ungrounded supply conductors of one phase.
        role: main, system or supply-side.
        material: metal of the jumper.
        rules: name of the rule set.

    Raises:
        TypeError: a breaker or anything else in place of the supply conductors.
        CannotTellError: jumper of another metal than the supply, above the end of the table, or
            larger than any single conductor.
        UnknownRulesError: no such rule set.
    """
    need_supply(supply)
    role = JumperRole(role)
    start = f"A {role.value} bonding jumper {role.joins}; it follows the supply conductors."
    return _from_table(supply, role.rule, material, rules, start)


def grounded_conductor(
    supply: SupplyConductors, material: Material | None = None, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least neutral ahead of the first disconnect, as a fault path.

    The load may ask for more. In several parallel raceways each neutral is at least 1/0 AWG.

    Args:
        supply: largest ungrounded supply conductors of one phase.
        material: metal of the neutral; None for that of the supply.
        rules: name of the rule set.

    Raises:
        TypeError: a breaker or anything else in place of the supply conductors.
        CannotTellError: see :func:`bonding_jumper`.
    """
    need_supply(supply)
    start = (
        "Ahead of the first disconnect the neutral is the fault path as well, so it is sized "
        "like a bonding jumper; the load may ask for more."
    )
    metal = material or supply.material
    whole = _from_table(supply, "grounded-conductor", metal, rules, start)
    sets = supply.in_parallel
    if sets == 1:
        return whole
    one = SupplyConductors.of(Conductor(max(line.size for line in supply.lines), supply.material))
    each = _from_table(one, "grounded-conductor", metal, rules, start)
    floor = rule_parameter("parallel-grounded-conductor-minimum", edition(rules))
    least = max(each.size.size, floor.size(metal))
    reason = (
        f"In {sets} parallel sets each neutral is sized from its own set ({each.size}) and is "
        f"not less than {floor.size(metal)}: {sets} x {least}."
    )
    return Answer(
        "grounded-conductor",
        clause("grounded-conductor", rules, floor.clause),
        rules,
        Conductor(least, metal, sets),
        (*each.because, reason),
        whole.inputs,
        Status.least_sure(Status(each.status), floor.status).value,
    )


def parallel_jumpers(
    supply: SupplyConductors,
    role: JumperRole = JumperRole.SUPPLY_SIDE,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> ParallelJumpers:
    """Return both lawful ways to bond raceways with parallel sets, one set in each raceway.

    Args:
        supply: one entry with at least two sets.
        role: which jumper.
        material: metal of the jumpers.
        rules: name of the rule set.

    Raises:
        TypeError: a breaker or anything else in place of the supply conductors.
        ValueError: not one run of at least two equal sets.
        CannotTellError: see :func:`bonding_jumper`.
    """
    each = jumper_per_raceway(supply, role, material, rules)
    single = bonding_jumper(supply, role, material, rules)
    return ParallelJumpers(single, each, supply.in_parallel)


def jumper_per_raceway(
    supply: SupplyConductors,
    role: JumperRole = JumperRole.SUPPLY_SIDE,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer:
    """Return the least jumper of each raceway, where each holds one of several parallel sets.

    It has an answer where one jumper for all would be larger than any conductor.

    Args:
        supply: one entry with at least two sets.
        role: which jumper.
        material: metal of the jumpers.
        rules: name of the rule set.

    Raises:
        TypeError: a breaker or anything else in place of the supply conductors.
        ValueError: not one run of at least two equal sets.
        CannotTellError: see :func:`bonding_jumper`.
    """
    need_supply(supply)
    if len(supply.lines) != 1 or supply.in_parallel < 2:
        raise ValueError(f"{supply}: not parallel sets; give them like '2 x 500 kcmil Cu'")
    line = supply.lines[0]
    one = SupplyConductors.of(Conductor(line.size, line.material))
    each = bonding_jumper(one, role, material, rules)
    reason = (
        f"One jumper for each of the {line.sets} raceways: each follows only the conductors in "
        f"its own raceway ({one})."
    )
    return Answer(
        each.rule,
        clause(each.rule, rules, "250.102(C)(2)"),
        rules,
        each.size,
        (*each.because, reason),
        (("supply conductors", str(supply)), ("raceways", str(line.sets)), *each.inputs[1:]),
        each.status,
    )


def _from_table(
    supply: SupplyConductors, rule: str, material: Material, rules: str, start: str
) -> Answer:
    where = clause(rule, rules)
    row = jumper_row(supply.area_cmil, supply.material, material)
    because = [start, f"Supply conductors of one phase: {supply_text(supply)}."]
    size = row.value
    if size is None:
        size = _part_of(supply, row, rule, material, where, because)
    else:
        because.append(
            f"Table {row.table}, supply {row.row_label} {supply.material.value}: "
            f"{size} {material.value}."
        )
    conductor = _capped(Conductor(size, material), supply, because)
    inputs = (
        ("supply conductors", str(supply)),
        ("supply area", area_text(supply.area_cmil)),
        ("jumper metal", material.value),
    )
    return Answer(rule, where, rules, conductor, tuple(because), inputs, row.status.value)


def _part_of(
    supply: SupplyConductors,
    row: TableRow,
    rule: str,
    material: Material,
    where: str,
    because: list[str],
) -> Size:
    if material is not supply.material:
        raise CannotTellError(
            rule,
            where,
            f"{supply} is above the end of table {row.table}, where the jumper is a part of the "
            f"supply area; with a jumper of {material.value} that part is taken of a set of "
            f"{material.value} with the same ampacity, and ampacities depend on how the "
            "conductors are laid",
            f"use a jumper of {supply.material.value}, or give the {material.value} set of equal "
            "ampacity as the supply",
        )
    part = row.percent or 0.0
    area = part * supply.area_cmil
    try:
        size = next_size_up(area)
    except UnitError as error:
        raise CannotTellError(
            rule,
            where,
            f"{100 * part:g} % of {area_text(supply.area_cmil)} is {area_text(area)}, more than "
            f"the largest conductor ({error.hint})",
            "size one jumper per raceway instead",
        ) from error
    because.append(
        f"Above the end of table {row.table} ({row.row_label} {supply.material.value}): "
        f"{100 * part:g} % of the supply area, {part:g} x {area_text(supply.area_cmil)} = "
        f"{area_text(area)}; the next standard size that is not smaller is {size}."
    )
    return size


def _capped(jumper: Conductor, supply: SupplyConductors, because: list[str]) -> Conductor:
    # An aluminium jumper on copper lines of its area would carry less, so the cap is left out.
    if jumper.material is Material.AL and supply.material is Material.CU:
        return jumper
    # Conductors in parallel are so large (1/0 AWG and up) that the cap never meets them.
    if supply.in_parallel > 1 or jumper.area_cmil <= supply.area_cmil * (1 + 1e-9):
        return jumper
    size = supply.lines[0].size
    because.append(f"It need not be larger than the supply conductors: {size} will do.")
    return Conductor(size, jumper.material)
