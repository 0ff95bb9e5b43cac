"""The permit package in Spanish: what the PDF says, read back from it."""

from __future__ import annotations

import csv
import html
import io
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from bondwright.cli.main import main
from bondwright.exchange.sheets import read_sheets
from bondwright.explain.language import LANGUAGES, Language, labels_of, speaking
from bondwright.explain.test_sheet import read_filled
from bondwright.papers.package import write_papers
from bondwright.papers.pdf import report_pdf, words
from bondwright.papers.pictures import draw_pictures
from bondwright.papers.results import Results, study
from bondwright.papers.telling import for_this_paper
from bondwright.papers.test_sheets import points
from bondwright.papers.work_papers import Wishes
from bondwright.plan.build import plan
from bondwright.plan.cost import Price
from bondwright.site.reader import load

FARM = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"
WHOLE = FARM.with_name("harrow-creek.yaml")
COTTAGE = FARM.with_name("cider-makers-cottage.yaml")


def _pdf(path: Path, tag: str) -> tuple[Language, PdfReader]:
    results = _results(path)
    labels = labels_of(results.plan.site)
    with speaking(Language(tag, labels)) as language:
        made = report_pdf(results, draw_pictures(results), date(2026, 11, 25))
    return language, PdfReader(io.BytesIO(made))


@pytest.mark.parametrize("path", [FARM, WHOLE], ids=lambda path: path.stem)
def test_the_demo_is_told_in_full(path: Path) -> None:
    language, reader = _pdf(path, "es")
    assert list(language.lacking) == []
    text = " ".join(" ".join(page.extract_text().split()) for page in reader.pages)
    for said in (
        "La electricidad mata.",
        "Puentes y conductores",
        "Corriente de falla disponible",
        "Lo que se da por supuesto",
        "25 de noviembre de 2026",
    ):
        assert said in text
    for left in ("Electricity kills", "Goes home by", "What to do", "Taken for granted"):
        assert left not in text
    assert str(reader.root_object["/Lang"]) == "es-MX"


@pytest.mark.parametrize("tag", LANGUAGES)
def test_every_language_has_every_fixed_word(tag: str) -> None:
    assert words(tag).keys() == words("en").keys()
    for key, said in words("en").items():
        slots = {part.split("}")[0] for part in said.split("{")[1:]}
        assert {part.split("}")[0] for part in words(tag)[key].split("{")[1:]} == slots, key


def test_the_command_says_what_stands_in_english(tmp_path: Path) -> None:
    given = ["papers", str(FARM), "--out", str(tmp_path), "--only", "pdf", "--language", "es"]
    ran = CliRunner().invoke(main, given)
    assert ran.exit_code == 0, ran.output
    assert "texts stand in English" not in ran.output
    assert (tmp_path / "report.pdf").read_bytes().startswith(b"%PDF")


PAPERS = ("html", "csv", "picture", "checklist", "labels", "material", "tests", "owner")
ENGLISH_WORDS = frozenset(
    {"the", "of", "and", "is", "are", "with", "from", "not", "which", "where", "that", "by", "for",
     "on", "its", "at", "here", "has", "was", "be", "or", "if"}
)  # fmt: skip
"""Little words without which no English sentence is made, and which Spanish has none of."""


@cache
def _results(path: Path) -> Results:
    return study(plan(load(path)))


@pytest.mark.parametrize("path", [FARM, WHOLE, COTTAGE], ids=lambda path: path.stem)
def test_no_english_is_left_in_any_paper(path: Path, tmp_path: Path) -> None:
    """But what a person named, and the names that rows are known by."""
    results = _results(path)
    labels = labels_of(results.plan.site)
    with speaking(Language("es", labels)) as language:
        written = write_papers(results, tmp_path, formats=PAPERS)
    assert list(language.lacking) == []
    assert len(written) > 12
    kept = re.compile("|".join(re.escape(one) for one in sorted(labels, key=len, reverse=True)))
    for file in written:
        text = kept.sub("", _words_of(file))
        assert len(text) > 40, file.name
        found = set(re.findall(r"(?<![\w.-])[a-z]+(?![\w.-])", text)) & ENGLISH_WORDS
        assert not found, (file.name, found)


def _words_of(file: Path) -> str:
    if file.suffix == ".pdf":
        pages = " ".join(page.extract_text() for page in PdfReader(file).pages)
        return " ".join(pages.split())
    if file.suffix == ".csv":
        rows = list(csv.reader(io.StringIO(file.read_text(encoding="utf-8"))))
        head = next(row for row in rows if sum(map(bool, row)) > 3)
        last = {k for k, name in enumerate(head) if name in {"id", "regla"}}
        return " ".join(cell for row in rows for k, cell in enumerate(row) if k not in last)
    if file.suffix == ".xlsx":
        rows = [list(row) for row in read_sheets(file)[0].rows]
        return " ".join(cell for row in rows for cell in row[:-1])
    raw = re.sub(r"<style.*?</style>", "", file.read_text(encoding="utf-8"), flags=re.DOTALL)
    shown = re.findall(r">([^<]+)<", raw)
    shown += re.findall(r'(?:data-label|aria-label|title)="([^"]*)"', raw)
    return " ".join(" ".join(html.unescape(one).split()) for one in shown)


def test_a_filled_spanish_test_sheet_is_read_back(tmp_path: Path) -> None:
    results = _results(FARM)
    with speaking(Language("es", labels_of(results.plan.site))):
        write_papers(results, tmp_path, formats=["tests"])
    found = points(results)
    for name in ("tests.csv", "tests.xlsx"):
        sheet = read_sheets(tmp_path / name)[0]
        head = next(k for k, row in enumerate(sheet.rows) if "lectura" in row)
        at, who = sheet.rows[head].index("lectura"), sheet.rows[head].index("por")
        rows = [list(row) for row in sheet.rows]
        rows[head + 1][at], rows[head + 1][who] = "0.01 ohm", "J. R."
        filled = read_filled(replace(sheet, rows=tuple(map(tuple, rows))), found)
        assert [record.judged.value for record in filled.records] == [0.01]
        assert [record.by for record in filled.records] == ["J. R."]
        assert len(filled.empty) == len(found) - 1
        assert not filled.problems


def test_a_price_list_may_be_in_spanish(tmp_path: Path) -> None:
    results = _results(FARM)
    prices = {"abrazadera de varilla": Price("abrazadera de varilla", 1.0, "each", Decimal(3))}
    with speaking(Language("es", labels_of(results.plan.site))):
        write_papers(results, tmp_path, formats=["material"], wishes=Wishes(prices=prices))
    rows = list(csv.DictReader(io.StringIO((tmp_path / "material.csv").read_text("utf-8"))))
    assert [row["artículo"] for row in rows if row["precio"]] == ["abrazadera de varilla"]


def test_a_paper_that_lacks_most_words_is_english_as_a_whole() -> None:
    """No sheet is half in one language and half in another."""
    known, unknown = ["Labels", "Site", "Date", "Rules"], [f"Words {k} squirrels" for k in "abcd"]
    with speaking(Language("es")) as language:
        assert for_this_paper({"texts": known}).tag == "es"
        assert for_this_paper({"texts": [*known, *unknown]}).tag == "en"
    assert list(language.lacking) == unknown
