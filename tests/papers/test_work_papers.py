"""The papers for those who build, test and pay, read back with pypdf and by our own readers."""

from __future__ import annotations

import csv
import io
import re
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest
import yaml

import bondwright
from bondwright.exchange.sheets import read_sheets, read_text
from bondwright.explain.test_sheet import read_filled
from bondwright.papers.glyphs import printable
from bondwright.papers.labels import Label, labels, stocks
from bondwright.papers.material import material_list
from bondwright.papers.onsite import stops
from bondwright.papers.results import Results, study
from bondwright.papers.test_sheets import points
from bondwright.papers.work_papers import Wishes, WorkPapers
from bondwright.plan.build import plan
from bondwright.plan.cost import read_prices
from bondwright.plan.model import Purpose
from bondwright.rules.editions import catalogue
from bondwright.rules.iec.ruleset import catalogue as iec_catalogue
from bondwright.site.reader import load
from tests.explain.sites import BARN_WITH_PIPE_ONLY, NASTY, studied

DAY = date(2026, 3, 2)
PACKAGE = Path(bondwright.__file__).parent
EXAMPLES = Path(__file__).parents[2] / "examples"
ALL = ("checklist", "labels", "material", "tests", "owner")


@cache
def results(name: str) -> Results:
    if name == "nasty":
        return studied(NASTY)
    if name == "barn":
        return studied(BARN_WITH_PIPE_ONLY)
    return study(plan(load(EXAMPLES / f"{name}.yaml")))


@cache
def made(name: str, paper: str = "us-letter", stock: str = "letter-10") -> dict[str, bytes]:
    makers = WorkPapers(results(name), paper, DAY, Wishes(stock=stock)).makers(ALL)
    ready = {file: make() for file, make in makers}
    return {file: one if isinstance(one, bytes) else one() for file, one in ready.items()}


def text_of(data: bytes) -> str:
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    return re.sub(r"\s", "", " ".join(page.extract_text() for page in pages))


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", printable(text))


SITES = ["harrow-creek", "nasty", "barn", "cider-makers-cottage"]


@pytest.mark.parametrize("name", SITES)
def test_every_pdf_is_tagged_embedded_and_within_its_sheet(name: str) -> None:
    for file, data in made(name).items():
        if not file.endswith(".pdf"):
            continue
        pdf = pypdf.PdfReader(io.BytesIO(data))
        root: Any = pdf.root_object
        assert root["/MarkInfo"]["/Marked"], file
        assert b"pdfuaid:part" in data, file
        for page in pdf.pages:
            resources: Any = page["/Resources"]
            for font in resources.get("/Font", {}).values():
                below = font.get_object()["/DescendantFonts"][0].get_object()
                there = below["/FontDescriptor"]
                assert "/FontFile2" in there or "/FontFile3" in there, file
        with pypdfium2.PdfDocument(data) as opened:
            for page in opened:
                wide, high = page.get_size()
                letters = page.get_textpage()
                for n in range(letters.count_chars()):
                    left, bottom, right, top = letters.get_charbox(n)
                    if top - bottom > 0.05:
                        assert 3 <= left <= right <= wide - 3, file
                        assert 3 <= bottom <= top <= high - 3, file


@pytest.mark.parametrize("name", SITES)
def test_the_checklist_has_every_conductor_and_line_in_walking_order(name: str) -> None:
    found = stops(results(name).plan)
    said = text_of(made(name)["checklist.pdf"])
    for row in results(name).plan.schedule:
        assert squeezed(f"{row.from_} → {row.to}") in said
    order = [n for n in results(name).plan.topology.order if n in {s.place for s in found}]
    assert [s.place for s in found if s.place in order] == order
    for stop in found:
        for caution in stop.cautions:
            assert squeezed(caution) in said
    rows = list(csv.DictReader(io.StringIO(made(name)["checklist.csv"].decode())))
    assert len(rows) == sum(len(s.install) + len(s.look) for s in found)
    assert [r["place"] for r in rows if r["do"] == "install"] == [
        row.from_ if row.from_[:1] not in "=+-@" else f"'{row.from_}"
        for s in found
        for row in s.install
    ]


def by_kind(name: str) -> dict[str, list[Label]]:
    found: dict[str, list[Label]] = {}
    for one in labels(results(name), DAY):
        found.setdefault(one.kind, []).append(one)
    return found


def test_the_labels_of_the_whole_farm() -> None:
    found = by_kind("harrow-creek")
    current = {one.at: one for one in found["available fault current"]}
    assert "2026-03-02" in " ".join(current["hall switchboard"].lines)
    assert current["hall switchboard"].basis == "NEC 110.24"
    derived = {one.at: " ".join(one.lines) for one in found["separately derived system"]}
    assert set(derived) == {"hall transformer", "barn transformer"}
    assert "Fed from hall switchboard." in derived["hall transformer"]
    # A system that isn't derived (its transfer switch leaves the neutral alone) has no tie at
    # the generator: common practice, and NEC 250.30 informational note.
    (generator,) = found["generator"]
    assert "NOT joined" in generator.lines[0]
    assert {one.at for one in found["tie location"]} == {
        tie.at
        for tie in results("harrow-creek").plan.ties
        if any(
            item.about == tie.id
            and item.purpose in {Purpose.MAIN_BONDING_JUMPER, Purpose.SYSTEM_BONDING_JUMPER}
            for item in results("harrow-creek").plan.schedule
        )
    }
    assert {one.at for one in found["sources"]} == {"farmhouse disconnect", "hall switchboard"}
    assert len(found["electrode conductor"]) == 5


@pytest.mark.parametrize("stock", list(stocks()))
def test_labels_lie_on_their_stock(stock: str) -> None:
    data = made("harrow-creek", stock=stock)["labels.pdf"]
    one = stocks()[stock]
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    count = len(labels(results("harrow-creek"), DAY))
    assert len(pages) == -(-count // (one["across"] * one["down"]))
    assert float(pages[0].mediabox.width) == pytest.approx(one["sheet"][0], abs=0.1)
    assert one["left"] + (one["across"] - 1) * one["right_by"] + one["wide"] <= one["sheet"][0] + 1
    assert one["top"] + (one["down"] - 1) * one["down_by"] + one["high"] <= one["sheet"][1] + 1
    said = text_of(data)
    for label in labels(results("harrow-creek"), DAY):
        for line in label.lines:
            assert squeezed(line) in said


def test_material_by_hand() -> None:
    """Two rods give two clamps; 110 % of a length is ordered; 100 ft for 92.50 are 0.925 a foot."""
    prices = read_prices("item,unit,price\n6 AWG Cu wire,100 ft,92.50\nground rod 8 ft,each,21\n")
    found = material_list(results("harrow-creek").plan, prices)
    items = {one.item: one for one in found.ordered}
    assert items["ground rod 8 ft"].order == items["ground rod clamp"].order == 4
    wire = items["6 AWG Cu wire"]
    assert wire.order == pytest.approx(1.1 * wire.net)
    assert float(wire.price or 0) == pytest.approx(0.925 * wire.order / 0.3048, abs=0.006)
    assert found.total is not None
    assert float(found.total) == pytest.approx(84 + float(wire.price or 0), abs=0.011)
    assert "ground rod clamp" in found.missing
    assert material_list(results("harrow-creek").plan).total is None
    with pytest.raises(ValueError, match="waste allowance"):
        material_list(results("harrow-creek").plan, waste=-0.1)


def test_the_test_sheets_have_every_point_and_are_read_back(tmp_path: Path) -> None:
    files = made("harrow-creek")
    found = points(results("harrow-creek"))
    said = text_of(files["tests.pdf"])
    for p in found:
        assert squeezed(p.between) in said
    sheet = read_text(files["tests.csv"].decode())
    assert read_filled(sheet, found).empty == tuple(p.id for p in found)
    (tmp_path / "t.xlsx").write_bytes(files["tests.xlsx"])
    assert read_filled(read_sheets(tmp_path / "t.xlsx")[0], found).problems == ()


@pytest.mark.parametrize("name", SITES)
def test_the_owner_gets_one_page_without_jargon(name: str) -> None:
    data = made(name)["owner.pdf"]
    pages = pypdf.PdfReader(io.BytesIO(data)).pages
    assert len(pages) == 1
    labels_of = results(name).plan.site
    said = " ".join(pages[0].extract_text().split())
    for word in ("jumper", "EGC", "GEC", "MBJ", "impedance", "equipment grounding", "clause"):
        assert word not in said.replace(labels_of.site, "")
    assert "call an electrician or the utility at once" in said


def test_the_owner_s_words_name_rules_that_there_are() -> None:
    text = (PACKAGE / "papers" / "data" / "owner.yaml").read_text(encoding="utf-8")
    named = [rule for one in yaml.safe_load(text)["groups"].values() for rule in one["rules"]]
    assert len(named) == len(set(named))
    catalogued = set(catalogue()) | set(iec_catalogue())
    code = "".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    for rule in named:
        assert rule in catalogued or f'"{rule}"' in code, rule


def test_the_owner_of_a_dangerous_barn_is_told() -> None:
    said = text_of(made("barn")["owner.pdf"])
    assert squeezed("Somebody can be hurt") in said
    assert squeezed("nothing would switch it off") in said
