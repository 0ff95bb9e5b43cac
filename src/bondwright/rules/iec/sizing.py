"""What the sizing rules of the family share: insulation, laying, factor k and the made size."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum

from bondwright.catalog.iec_tables import KFactor, iec_number, k_factor, next_metric_size
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import CatalogError, Status
from bondwright.rules.answer import Answer
from bondwright.rules.iec.ruleset import clause
from bondwright.rules.inputs import CannotTellError

LEAST_AL_MM2 = 10.0
"""IEC 60228 makes stranded aluminium from here on."""


class Insulation(StrEnum):
    """Insulation of a conductor, by its highest working temperature in degC."""

    PVC_70 = "PVC 70"
    PVC_90 = "PVC 90"
    XLPE_90 = "XLPE 90"


class Laid(StrEnum):
    """How a protective conductor lies; each has a table of factors k."""

    LINE = "line"
    """A line conductor, at its working temperature."""
    SEPARATE = "separate"
    """Insulated, not in a cable and not bunched with others."""
    IN_CABLE = "in cable"
    """A core of a cable, or bunched with others."""
    SHEATH = "sheath"
    """Sheath or armour of a cable."""
    STEEL_CONDUIT = "steel conduit"
    BARE_VISIBLE = "bare visible"
    """Bare, visible and in a restricted area."""
    BARE = "bare"
    BARE_FIRE_RISK = "bare fire risk"

    @property
    def is_bare(self) -> bool:
        """Whether no insulation limits its temperature."""
        return self in (Laid.BARE, Laid.BARE_VISIBLE, Laid.BARE_FIRE_RISK)

    @property
    def is_own(self) -> bool:
        """Whether it runs outside a cable, so that the least sizes for strength hold."""
        return self is Laid.SEPARATE or self.is_bare


def factor(
    laid: Laid, metal: str, insulation: Insulation = Insulation.PVC_70, area_mm2: float = 0.0
) -> KFactor:
    """Return factor k of a conductor as printed.

    Args:
        laid: how it lies.
        metal: "Cu", "Al", "steel" or "lead".
        insulation: its own, or that of the cable it belongs to; without meaning for a bare one.
        area_mm2: of the conductor, mm2.

    Raises:
        CatalogError: the tables have no such factor.
    """
    laid = Laid(laid)
    return k_factor(laid.value, metal, "none" if laid.is_bare else insulation.value, area_mm2)


def strength(
    material: Material, laid: Laid, protected: bool, because: list[str]
) -> tuple[float, Status]:
    """Return the least area for mechanical strength, mm2, and how surely it is known.

    Args:
        material: metal of the conductor.
        laid: how it lies; within a cable nothing is asked.
        protected: whether it is protected against mechanical damage.
        because: the reasons, to which one is added.
    """
    if not laid.is_own:
        return 0.0, Status.CONFIRMED
    entry = iec_number(
        "separate_conductor", "protected" if protected else "unprotected", material.value
    )
    how = "with" if protected else "without"
    because.append(
        f"Outside a cable it is at least {mm2(entry.value)} {material.value} {how} protection "
        "against mechanical damage."
    )
    return entry.value, entry.status


def made(
    rule: str,
    rules: str,
    area: float,
    least: float,
    material: Material,
    because: Sequence[str],
    inputs: Sequence[tuple[str, str]],
    status: Status,
    sets: int = 1,
) -> Answer:
    """Return the answer with the smallest size made that is not below an area.

    Args:
        rule: id of the rule.
        rules: name of the rule set.
        area: area needed, mm2.
        least: a lower limit, mm2.
        material: metal of the conductor.
        because: the reasons so far.
        inputs: what went in.
        status: how surely it is known.
        sets: how many in parallel.

    Raises:
        CannotTellError: larger than any single conductor made.
    """
    if material is Material.AL:
        least = max(least, LEAST_AL_MM2)
    where = clause(rule, rules)
    try:
        size = next_metric_size(max(area, least), least)
    except CatalogError as error:
        problem = f"{error.text} {error.problem}"
        raise CannotTellError(rule, where, problem, error.hint or "") from error
    because = (*because, f"The next size made that is not smaller is {size} {material.value}.")
    return Answer(
        rule,
        where,
        rules,
        Conductor(size, material, sets),
        because,
        tuple(inputs),
        status.value,
    )


def mm2(area: float) -> str:
    """Write an area for a person, given in mm2."""
    return f"{area:.4g} mm2"
