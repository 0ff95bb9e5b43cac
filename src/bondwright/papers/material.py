"""The material list: what the bonds take, with waste and connectors, and priced by a list."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, Final

from bondwright.explain.words import listed
from bondwright.papers.permit import Cover, cover_facts
from bondwright.papers.tables import table
from bondwright.plan.cost import EACH, METRE, MaterialLine, Price, cost, material, totals
from bondwright.plan.model import Plan
from bondwright.rules.families import title
from bondwright.site.model import Describes
from bondwright.units import Dimension, show, wanted_units

WASTE: Final = 0.10
"""Allowance on lengths of wire for cutting and making up, in part of them (common practice)."""
MOST_BLANKS: Final = 40
"""Connectors that get lines for the maker's data."""


@dataclass(frozen=True, slots=True)
class Ordered:
    """One item of the list.

    Attributes:
        item: what it is, as a price list would call it.
        unit: "m" or "each".
        net: by the plan.
        order: with the waste allowance.
        price: what that costs; None without a price.
        rows: ids of the rows of the schedule it is for.
    """

    item: str
    unit: str
    net: float
    order: float
    price: Decimal | None
    rows: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MaterialList:
    """The list.

    Attributes:
        ordered: items, by name.
        total: of what has a price; None without a price list.
        missing: items without a price.
        unmeasured: lines whose length isn't described.
        assumed: lines whose length is an assumption.
        waste: allowance on lengths.
    """

    ordered: tuple[Ordered, ...]
    total: Decimal | None
    missing: tuple[str, ...]
    unmeasured: tuple[MaterialLine, ...]
    assumed: tuple[MaterialLine, ...]
    waste: float


def material_list(
    plan: Plan, prices: Mapping[str, Price] | None = None, waste: float = WASTE
) -> MaterialList:
    """Return what the bonds of a plan take.

    Args:
        plan: the plan; as found, what is there already is left out.
        prices: from :func:`bondwright.plan.cost.read_prices`.
        waste: allowance on lengths, in part of them.

    Raises:
        ValueError: an allowance below nothing, or of more than all.
    """
    if not 0 <= waste <= 1:
        raise ValueError(f"a waste allowance of {waste:.0%} makes no sense; give 0 % to 100 %")
    lines = material(plan)
    order = [
        replace(one, quantity=one.quantity * (1 + waste))
        if one.unit == METRE and one.quantity is not None
        else one
        for one in lines
    ]
    bought = {(item, unit): quantity for item, unit, quantity, _ in totals(order)}
    whole = cost(order, prices or {})
    return MaterialList(
        ordered=tuple(
            Ordered(
                item,
                unit,
                quantity,
                bought[item, unit],
                _price((prices or {}).get(item), unit, bought[item, unit]),
                rows,
            )
            for item, unit, quantity, rows in totals(lines)
        ),
        total=whole.total if prices is not None else None,
        missing=whole.missing if prices is not None else (),
        unmeasured=tuple(one for one in lines if one.quantity is None),
        assumed=tuple(one for one in lines if one.quantity is not None and one.remark),
        waste=waste,
    )


def _price(price: Price | None, unit: str, quantity: float) -> Decimal | None:
    if price is None or price.unit != unit:
        return None
    return (price.price * Decimal(repr(quantity / price.per))).quantize(Decimal("0.01"))


def quantity_words(quantity: float, unit: str) -> str:
    """Write a quantity: "12 ft", "4"."""
    return f"{quantity:g}" if unit == EACH else show(quantity, Dimension.LENGTH)


def material_csv(found: MaterialList) -> str:
    """Write the list as CSV, lengths in the units asked for."""
    per = 0.3048 if wanted_units() == "us" else 1.0
    name = "ft" if wanted_units() == "us" else "m"

    def number(quantity: float, unit: str) -> float:
        return quantity if unit == EACH else quantity / per

    return table(
        ("item", "unit", "by the plan", "to order", "price", "for", "remark"),
        [
            *(
                (
                    one.item,
                    one.unit if one.unit == EACH else name,
                    number(one.net, one.unit),
                    number(one.order, one.unit),
                    "" if one.price is None else str(one.price),
                    "; ".join(one.rows),
                    "",
                )
                for one in found.ordered
            ),
            *((one.item, name, None, None, "", one.row, one.remark) for one in found.unmeasured),
        ],
    )


def material_content(plan: Plan, found: MaterialList, on: date, cover: Cover) -> dict[str, Any]:
    """Return the list as plain data for its paper."""
    priced = found.total is not None
    head = ["Item", "By the plan", "To order", *(["Price"] if priced else []), "For"]
    pieces = [one for one in found.ordered if one.unit == EACH]
    as_found = plan.site.describes is Describes.AS_FOUND
    return {
        "title": plan.site.site,
        "subtitle": "Material for grounding and bonding",
        "edition": title(plan.site.rules),
        "facts": cover_facts(plan, cover, on),
        "note": f"Lengths of wire with {found.waste:.0%} for cutting and making up; pieces are "
        "counted. A list to start a count from, not a count made on site."
        + (" What stands already is left out." if as_found else ""),
        "list_title": "To order",
        "head": head,
        "rows": [
            [
                one.item,
                quantity_words(one.net, one.unit),
                quantity_words(one.order, one.unit),
                *([str(one.price) if one.price is not None else "–"] if priced else []),
                _rows(one.rows),
            ]
            for one in found.ordered
        ],
        "total": f"Total of what has a price: {found.total}." if priced else "",
        "missing": f"Without a price: {listed(found.missing)}." if found.missing else "",
        "open_title": "Measure on site",
        "open": [[one.item, one.row, one.remark] for one in (*found.unmeasured, *found.assumed)],
        "open_head": ["Item", "For", "Why"],
        "blank_title": "Connectors and torque",
        "blank_note": "From the maker's own sheet, for the very part that is bought: which "
        "wires it takes, of which metal, and how tight. Nothing here is a default. Clean to "
        "bright metal, nothing under paint, one wire to a hole unless the part is listed for more.",
        "blank_head": ["Connector", "Maker and part", "Takes wires", "Torque", "Tool", "Seen by"],
        "blanks": [one.item for one in pieces[:MOST_BLANKS]],
    }


def _rows(rows: tuple[str, ...]) -> str:
    shown = rows[:6]
    return "; ".join(shown) + (f" and {len(rows) - 6} more" if len(rows) > 6 else "")
