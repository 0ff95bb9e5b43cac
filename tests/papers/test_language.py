"""The permit package in Spanish: what the PDF says, read back from it."""

from __future__ import annotations

import io
from datetime import date
from pathlib import Path

import pytest
from click.testing import CliRunner
from pypdf import PdfReader

from bondwright.cli.main import main
from bondwright.explain.language import LANGUAGES, Language, labels_of, speaking
from bondwright.papers.package import write_papers
from bondwright.papers.pdf import report_pdf, words
from bondwright.papers.pictures import draw_pictures
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site.reader import load

FARM = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"
WHOLE = FARM.with_name("harrow-creek.yaml")


def _pdf(path: Path, tag: str) -> tuple[Language, PdfReader]:
    results = study(plan(load(path)))
    labels = labels_of(results.plan.site) | {tie.id for tie in results.plan.ties}
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


@pytest.mark.parametrize("path", [FARM, WHOLE], ids=lambda path: path.stem)
@pytest.mark.parametrize("paper", ["owner", "labels", "material", "tests"])
def test_papers_to_take_along_are_told_in_full(path: Path, paper: str, tmp_path: Path) -> None:
    results = study(plan(load(path)))
    labels = labels_of(results.plan.site) | {tie.id for tie in results.plan.ties}
    with speaking(Language("es", labels)) as language:
        write_papers(results, tmp_path, formats=[paper])
    assert list(language.lacking) == []


def test_a_paper_that_lacks_most_words_is_english_as_a_whole(tmp_path: Path) -> None:
    """The checklist isn't in the table yet: no sheet is half in one language."""
    results = study(plan(load(FARM)))
    with speaking(Language("es", labels_of(results.plan.site))) as language:
        write_papers(results, tmp_path, formats=["checklist"])
    text = PdfReader(tmp_path / "checklist.pdf").pages[0].extract_text()
    assert "Installation checklist, in walking order" in text
    assert "Rules" in text
    assert "Reglas" not in text
    assert len(language.lacking) > 100
