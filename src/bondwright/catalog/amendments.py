"""Reading what a local authority puts in place of a rule's number.

An amendment may change a number, a size by metal, or which form of a rule holds; never what kind
of thing it is. The other editions tell what kind that is where an edition has no such rule.
"""

from __future__ import annotations

import math

from bondwright.catalog.parameters import (
    EDITIONS,
    Override,
    Parameter,
    parameter_ids,
    rule_parameter,
)
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import CatalogError
from bondwright.units import UnitError, example, parse, show

NONE = "none"


def read_override(id: str, text: str, edition: int) -> Override:
    """Read one override.

    Args:
        id: the parameter it changes.
        text: what is put in place: "10 ohm", "4 AWG Cu", "4 AWG Cu, 2 AWG Al", a word for the
            form of a rule, or "none" where some edition has no such rule.
        edition: year of the code.

    Raises:
        UnitError: no such parameter, or not the kind of thing it is; the hint says what would be
            right.
    """
    try:
        known = [rule_parameter(id, year, {}) for year in EDITIONS]
        here = rule_parameter(id, edition, {})
    except CatalogError as error:
        hint = error.hint or f"known are {', '.join(parameter_ids()[:4])} and more"
        raise UnitError(id, "is no parameter of the rules", hint) from error
    form = here if not here.absent else next((p for p in known if not p.absent), here)
    if text.strip().casefold() == NONE:
        if any(p.absent for p in known):
            return Override(absent=True)
        raise UnitError(text, "can't be left out by an amendment", f"the code has {told(form)}")
    if form.sizes:
        return _sizes(text, form)
    if form.choice is not None:
        words = list(dict.fromkeys(p.choice for p in known if p.choice is not None))
        if text.strip() not in words:
            raise UnitError(text, "is no form of this rule", f"known are {', '.join(words)}")
        return Override(choice=text.strip())
    return Override(value=_number(text, form))


def _sizes(text: str, form: Parameter) -> Override:
    found: dict[Material, Conductor] = {}
    for part in text.split(","):
        conductor = Conductor.parse(part)
        if conductor.sets > 1 or conductor.material in found:
            raise UnitError(text, "is not one size for each metal", f"the code has {told(form)}")
        found[conductor.material] = conductor
    return Override(sizes=tuple((metal, one.size) for metal, one in found.items()))


def _number(text: str, form: Parameter) -> float:
    if form.dimension is None:
        try:
            number = float(text)
        except ValueError:
            problem, hint = "is not a plain number", f"the code has {told(form)}"
            raise UnitError(text, problem, hint) from None
    else:
        number = parse(text, form.dimension)
    if not math.isfinite(number) or number <= 0:
        hint = f"write it like {example(form.dimension)!r}" if form.dimension else ""
        raise UnitError(text, "must be more than zero", hint)
    return number


def told(parameter: Parameter) -> str:
    """Write what a parameter is, for a person: "25 ohm", "6 AWG Cu, 4 AWG Al"."""
    if parameter.absent:
        return NONE
    if parameter.sizes:
        return ", ".join(f"{size} {metal.value}" for metal, size in parameter.sizes)
    if parameter.choice is not None:
        return parameter.choice
    if parameter.dimension is None:
        return f"{parameter.number:g}"
    return show(parameter.number, parameter.dimension)
