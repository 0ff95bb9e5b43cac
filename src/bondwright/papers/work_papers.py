"""The papers for those who build, test and pay, as files."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property

from bondwright.exchange.sheets import csv_text, workbook
from bondwright.explain.dialect import retold, speaker
from bondwright.explain.language import spoken_or_none
from bondwright.explain.test_sheet import HEAD
from bondwright.papers.labels import USUAL_STOCK, Label, labels, labels_content, labels_csv, stocks
from bondwright.papers.material import (
    WASTE,
    MaterialList,
    material_content,
    material_csv,
    material_list,
)
from bondwright.papers.onsite import Stop, checklist_content, checklist_csv, stops
from bondwright.papers.owner import owner_content
from bondwright.papers.pdf import Setting, ready
from bondwright.papers.permit import Cover
from bondwright.papers.results import Results
from bondwright.papers.sizes import Size, desk_size, size
from bondwright.papers.tables import IDS, told_row
from bondwright.papers.test_sheets import points, tests_content, tests_table
from bondwright.plan.cost import Price, material
from bondwright.studies.measuring import MeasuringPoint

Maker = tuple[str, Callable[[], bytes | Setting]]
"""Name of a file, and what makes it or makes it ready to be set."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the person who asks for papers may choose.

    Attributes:
        cover: what stands on the cover beside the results.
        prices: price list for the material, by item.
        waste: allowance on lengths of wire.
        stock: label stock, one of :func:`bondwright.papers.labels.stocks`.
    """

    cover: Cover = field(default_factory=Cover)
    prices: Mapping[str, Price] | None = None
    waste: float = WASTE
    stock: str = USUAL_STOCK


class WorkPapers:
    """Makes the papers; what two of them share is worked out once.

    Args:
        results: what was computed.
        paper: name of the sheet.
        on: date on the papers.
        wishes: what was chosen.

    Raises:
        ValueError: no such label stock.
    """

    def __init__(self, results: Results, paper: str, on: date, wishes: Wishes) -> None:
        if wishes.stock not in stocks():
            known = ", ".join(stocks())
            raise ValueError(f"no label stock {wishes.stock!r} is known; give one of {known}")
        self._results, self._on, self._wishes = results, on, wishes
        self._sheet, self._desk = size(paper), desk_size(paper)

    def makers(self, formats: Sequence[str]) -> Iterator[Maker]:
        """Yield name and maker of each file of some formats."""
        if "checklist" in formats:
            yield "checklist.pdf", self._checklist
            yield "checklist.csv", lambda: checklist_csv(self._stops).encode()
        if "labels" in formats:
            yield "labels.pdf", self._labels_pdf
            yield "labels.csv", lambda: labels_csv(self._labels).encode()
        if "material" in formats:
            yield "material.pdf", self._material_pdf
            yield "material.csv", lambda: material_csv(self._material).encode()
        if "tests" in formats:
            yield "tests.pdf", self._tests
            yield "tests.csv", lambda: csv_text(self._table()).encode()
            yield "tests.xlsx", lambda: workbook([("tests", self._table())])
        if "owner" in formats:
            yield "owner.pdf", self._owner

    @cached_property
    def _stops(self) -> tuple[Stop, ...]:
        return stops(self._results.plan)

    @cached_property
    def _labels(self) -> tuple[Label, ...]:
        return labels(self._results, self._on)

    @cached_property
    def _material(self) -> MaterialList:
        prices, language = self._wishes.prices, spoken_or_none()
        if prices is not None and language is not None:
            # A price list may call things as the material list does in this language.
            items = {line.item for line in material(self._results.plan)}
            by_name = {language.where_known(item): item for item in sorted(items)}
            prices = {by_name.get(name, name): price for name, price in prices.items()}
        return material_list(self._results.plan, prices, self._wishes.waste)

    @cached_property
    def _points(self) -> tuple[MeasuringPoint, ...]:
        return points(self._results)

    def _checklist(self) -> Setting:
        plan = self._results.plan
        data = checklist_content(plan, self._stops, self._on, self._wishes.cover)
        return ready("checklist", data, self._sheet, self._on)

    def _labels_pdf(self) -> Setting:
        data = labels_content(self._results, self._labels, self._wishes.stock)
        return ready("labels", data, self._desk, self._on)

    def _material_pdf(self) -> Setting:
        plan, cover = self._results.plan, self._wishes.cover
        data = material_content(plan, self._material, self._on, cover)
        return ready("material", data, self._desk, self._on)

    def _tests(self) -> Setting:
        data = tests_content(self._results, self._points, self._on, self._wishes.cover)
        return ready("tests", data, _across(self._sheet), self._on)

    def _table(self) -> list[list[str]]:
        say = speaker(self._results.plan.site)
        rows = retold(tests_table(self._results, self._points), say)
        language = spoken_or_none()
        if language is None:
            return rows
        kept = {k for k, name in enumerate(HEAD) if name in IDS}
        return [[str(cell) for cell in told_row(row, kept, language)] for row in rows]

    def _owner(self) -> Setting:
        data = owner_content(self._results, self._on, self._wishes.cover)
        return ready("owner", data, self._desk, self._on)


def _across(sheet: Size) -> Size:
    return sheet.landscape
