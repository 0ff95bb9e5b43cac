"""What a plan's bonds are made of, and what that costs by a price list somebody gives.

Every line belongs to one row of the schedule, and through it to one thing on the picture. Prices
are never made up: without a list there are quantities only, and what the list lacks is named.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from functools import cache
from importlib.resources import files
from typing import Final

from bondwright.catalog._data import load_yaml
from bondwright.catalog.sizes import Conductor
from bondwright.plan.defaults import defaults
from bondwright.plan.model import Plan, Purpose, ScheduleItem
from bondwright.site.model import Describes, Electrode, ElectrodeKind
from bondwright.units import Dimension, UnitError, parse, show

EACH: Final = "each"
METRE: Final = "m"
COLUMNS: Final = ("item", "unit", "price")


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """Some material for one row of the schedule.

    Attributes:
        row: id of the row.
        about: id of the run, tie, electrode, metal or system that the row belongs to; the
            picture shows it under this id.
        item: what it is, as a price list would call it.
        quantity: m of wire or pieces; None where a length isn't described.
        unit: "m" or "each".
        remark: what to know; empty if nothing.
    """

    row: str
    about: str
    item: str
    quantity: float | None
    unit: str
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Price:
    """One line of a price list.

    Attributes:
        item: what it is.
        per: m of wire, or pieces, that the price is for.
        unit: "m" or "each".
        price: in the list's money.
    """

    item: str
    per: float
    unit: str
    price: Decimal


@dataclass(frozen=True, slots=True)
class Cost:
    """What material costs.

    Attributes:
        total: of everything that has a price and a quantity, rounded to cents.
        missing: items without a price, or priced in another unit.
        unmeasured: rows whose length isn't described.
    """

    total: Decimal
    missing: tuple[str, ...]
    unmeasured: tuple[str, ...]

    @property
    def whole(self) -> bool:
        """Whether nothing is left out of the total."""
        return not self.missing and not self.unmeasured


class PriceError(ValueError):
    """A price list that can't be read. Says where and what would be right."""


def material(plan: Plan) -> tuple[MaterialLine, ...]:
    """Return what the bonds of a plan are made of, in the order of its schedule.

    As found, what is there already is left out.

    Args:
        plan: the plan.
    """
    found = plan.site.describes is Describes.AS_FOUND
    return tuple(
        line for item in plan.schedule if not (found and item.given) for line in _of_row(plan, item)
    )


@cache
def _pieces() -> Mapping[str, tuple[str, int]]:
    text = files("bondwright.plan").joinpath("data", "material.yaml").read_text(encoding="utf-8")
    raw = load_yaml(text)["pieces"]
    return {name: (entry["item"], entry["each"]) for name, entry in raw.items()}


def _piece(item: ScheduleItem, name: str, count: int = 1, **words: str) -> MaterialLine:
    what, each = _pieces()[name]
    return MaterialLine(item.id, item.about, what.format(**words), each * count, EACH)


def wire_name(conductor: Conductor) -> str:
    """Return what a price list would call a wire of one conductor: "4 AWG Cu wire"."""
    return f"{conductor.size} {conductor.material.value} wire"


def _of_row(plan: Plan, item: ScheduleItem) -> Iterator[MaterialLine]:
    run = plan.runs.get(item.about)
    if item.form == "raceway" and run is not None and run.raceway is not None:
        yield _piece(item, "raceway", run.lines.sets, size=run.raceway.trade_size)
    if item.form == "wire" and item.chosen is not None:
        yield _wire(plan, item, item.chosen)
        if item.about in {tie.id for tie in plan.ties}:
            yield _piece(item, "tie wire", wire=str(Conductor(item.chosen.size,
                                                              item.chosen.material)))  # fmt: skip
    if item.purpose is Purpose.METAL_BOND:
        yield _piece(item, "metal")
    electrode = plan.site.electrodes.get(item.about)
    if electrode is not None and item.chosen is not None:
        yield from _of_electrode(item, electrode, item.chosen)


def _wire(plan: Plan, item: ScheduleItem, wire: Conductor) -> MaterialLine:
    length, remark = _length(plan, item)
    quantity = None if length is None else length * wire.sets
    return MaterialLine(item.id, item.about, wire_name(wire), quantity, METRE, remark)


def _length(plan: Plan, item: ScheduleItem) -> tuple[float | None, str]:
    name = item.about
    if name in plan.runs and item.purpose is not Purpose.BUSHING_JUMPER:
        return plan.runs[name].length, ""
    if name in {tie.id for tie in plan.ties}:
        return defaults().tie_wire_length, "length assumed"
    if name in plan.electrodes:
        given = plan.site.electrodes[name].lead is not None
        return plan.electrodes[name].lead, "" if given else "length assumed"
    if name in plan.site.arrays:
        return plan.site.arrays[name].length, ""
    return None, "its length is not described"


def _of_electrode(
    item: ScheduleItem, electrode: Electrode, wire: Conductor
) -> Iterator[MaterialLine]:
    taken, count = defaults(), electrode.count
    match electrode.kind:
        case ElectrodeKind.ROD:
            length = show(electrode.length or taken.rod_length, Dimension.LENGTH)
            yield _piece(item, "rod", count, length=length)
            yield _piece(item, "rod clamp", count)
        case ElectrodeKind.PLATE:
            yield _piece(item, "plate", count)
            yield _piece(item, "plate clamp", count)
        case ElectrodeKind.WELL:
            yield _piece(item, "well", count)
        case kind:
            yield _piece(item, kind.value)
    if count > 1:
        between = (count - 1) * (electrode.spacing or taken.rod_spacing)
        yield MaterialLine(
            item.id, item.about, wire_name(wire), between, METRE, "from one to the next"
        )


def totals(lines: Iterable[MaterialLine]) -> tuple[tuple[str, str, float, tuple[str, ...]], ...]:
    """Return each item once: its name, unit, quantity and the rows it is for, by name."""
    found: dict[tuple[str, str], list[MaterialLine]] = {}
    for line in lines:
        if line.quantity is not None:
            found.setdefault((line.item, line.unit), []).append(line)
    return tuple(
        (
            item,
            unit,
            sum(line.quantity or 0.0 for line in those),
            tuple(dict.fromkeys(line.row for line in those)),
        )
        for (item, unit), those in sorted(found.items())
    )


def read_prices(text: str, name: str = "price list") -> Mapping[str, Price]:
    """Read a price list: CSV with the columns item, unit and price.

    Args:
        text: the list. A unit is "each", or a length such as "ft", "m" or "100 ft".
        name: what messages call it.

    Raises:
        PriceError: not such a list, with the line.
    """
    lines = enumerate(text.lstrip("\ufeff").split("\n"), start=1)
    body = [(number, line) for number, line in lines if not line.startswith("#")]
    reader = csv.DictReader(io.StringIO("\n".join(line for _, line in body)), strict=True)

    def where(more: int = 0) -> str:
        at = min(max(reader.line_num + more, 1), len(body))
        return f"{name}, line {body[at - 1][0] if body else 1}"

    found: dict[str, Price] = {}
    try:
        if tuple(reader.fieldnames or ()) != COLUMNS:
            raise PriceError(f"{where()}: the first line must be {','.join(COLUMNS)}")
        for row in reader:
            price = _price(row, where())
            if price.item in found:
                raise PriceError(f"{where()}: {price.item!r} has a price already")
            found[price.item] = price
    except csv.Error as error:
        raise PriceError(f"{where(1)}: {error}") from error
    return found


def _price(row: Mapping[str | None, str | None], where: str) -> Price:
    item, unit, raw = ((row.get(column) or "").strip() for column in COLUMNS)
    if not item or None in row:
        raise PriceError(f"{where}: needs an item, a unit and a price, and nothing more")
    try:
        price = Decimal(raw)
    except InvalidOperation:
        raise PriceError(f"{where}: {raw!r} is no price; write it like 1.85") from None
    if not price.is_finite() or price < 0:
        raise PriceError(f"{where}: a price is zero or more, not {raw}")
    if unit == EACH:
        return Price(item, 1.0, EACH, price)
    try:
        per = parse(unit if unit[:1].isdigit() else f"1 {unit}", Dimension.LENGTH)
    except UnitError:
        problem = f"{unit!r} is no unit; write 'each', or a length such as 'ft' or '100 ft'"
        raise PriceError(f"{where}: {problem}") from None
    if per <= 0:
        raise PriceError(f"{where}: {unit!r} is no length to pay for")
    return Price(item, per, METRE, price)


def cost(lines: Sequence[MaterialLine], prices: Mapping[str, Price]) -> Cost:
    """Return what material costs.

    Args:
        lines: the material.
        prices: by item (:func:`read_prices`).
    """
    total = Decimal(0)
    missing: dict[str, None] = {}
    unmeasured: dict[str, None] = {}
    for line in lines:
        price = prices.get(line.item)
        if line.quantity is None:
            unmeasured[line.row] = None
        elif price is None or price.unit != line.unit:
            missing[line.item] = None
        else:
            total += price.price * Decimal(repr(line.quantity / price.per))
    return Cost(total.quantize(Decimal("0.01")), tuple(missing), tuple(unmeasured))
