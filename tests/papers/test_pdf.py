"""The PDF holds the numbers, embeds its fonts, sets every glyph, and is the same each time.

Read back with pypdf, which had no part in writing it.
"""

from __future__ import annotations

import io
import re
from datetime import date
from functools import cache
from typing import Any

import pypdf
import pypdfium2
import pytest

from bondwright.explain.cautions import CAUTIONS, NOT_FOR_CONSTRUCTION
from bondwright.explain.words import amps, volts
from bondwright.papers.glyphs import coverage, printable
from bondwright.papers.pdf import Paper, report_pdf
from bondwright.papers.pictures import draw_pictures
from tests.explain.sites import (
    BARN_WITH_PIPE_ONLY,
    FARM,
    NASTY,
    NASTY_IDS,
    SMALL,
    row_of_panels,
    studied,
)

DAY = date(2026, 3, 2)
SITES = {"farm": FARM, "barn": BARN_WITH_PIPE_ONLY, "small": SMALL, "nasty": NASTY}
ROW = row_of_panels(12)


@cache
def made(text: str, paper: Paper = "us-letter") -> bytes:
    results = studied(text)
    return report_pdf(results, draw_pictures(results), DAY, paper=paper)


def reader(data: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(data))


@cache
def words(text: str) -> str:
    """All text, white space squeezed."""
    raw = " ".join(page.extract_text() for page in reader(made(text)).pages)
    return " ".join(raw.split())


def squeezed(text: str) -> str:
    return re.sub(r"\s", "", text)


def fonts(pdf: pypdf.PdfReader) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for page in pdf.pages:
        resources: Any = page["/Resources"]
        for font in resources.get("/Font", {}).values():
            real = font.get_object()
            found[str(real["/BaseFont"])] = real
    return found


def test_key_numbers_are_on_the_pages() -> None:
    results, said = studied(FARM), squeezed(words(FARM))
    removed = results.removed[0]
    for number in (
        amps(removed.with_tie.current),
        amps(removed.without_tie.current),
        volts(removed.without_tie.live_after),
        volts(removed.with_tie.touch_verdict.voltage_v),
        f"{results.residuals.kirchhoff:.1e}",
    ):
        assert squeezed(number) in said, number
    for row in results.plan.schedule:
        if row.required is not None:
            assert squeezed(str(row.required.size)) in said
            assert squeezed(row.required.clause) in said
    assert squeezed(NOT_FOR_CONSTRUCTION) in said
    for caution in CAUTIONS:
        assert squeezed(caution) in said
    assert "March2,2026" in said


@pytest.mark.parametrize("name", SITES)
def test_every_finding_is_on_the_pages(name: str) -> None:
    said = squeezed(words(SITES[name]))
    for finding in studied(SITES[name]).findings:
        assert squeezed(printable(finding.text)) in said
        assert squeezed(printable(finding.cure)) in said


@pytest.mark.parametrize("name", SITES)
def test_fonts_are_embedded_and_no_glyph_is_missing(name: str) -> None:
    found = fonts(reader(made(SITES[name])))
    assert found
    for base, font in found.items():
        assert "SourceSansPro" in base, base
        below = font["/DescendantFonts"][0].get_object()
        descriptor = below["/FontDescriptor"]
        assert "/FontFile2" in descriptor or "/FontFile3" in descriptor
    said = words(SITES[name])
    assert "\ufffd" not in said
    assert "\x00" not in said
    assert "\u200b" not in said  # labels can be searched and copied as they are


def test_labels_are_words_and_never_code() -> None:
    said = squeezed(words(NASTY))
    for label in NASTY_IDS:
        assert squeezed(printable(label)) in said
    assert "[U+1F600]" in said
    assert "[U+202E]" in said
    assert "root:" not in said
    assert "{{7*7}}<b>bold</b>" in said


@pytest.mark.parametrize("name", SITES)
def test_the_file_is_tagged_titled_and_numbered(name: str) -> None:
    pdf = reader(made(SITES[name]))
    root: Any = pdf.root_object
    assert root["/MarkInfo"]["/Marked"]
    assert str(root["/Lang"]).lower().startswith("en")
    assert pdf.metadata is not None
    assert printable(studied(SITES[name]).plan.site.site) in (pdf.metadata.title or "")
    assert b"pdfuaid:part" in made(SITES[name])
    for number, page in enumerate(pdf.pages, start=1):
        assert f"Page {number} of {len(pdf.pages)}" in " ".join(page.extract_text().split())


@pytest.mark.parametrize("text", [FARM, ROW, NASTY], ids=["farm", "row", "nasty"])
def test_no_text_leaves_the_margins(text: str) -> None:
    """Every letter's box as pdfium sees it; the margin is 0.75 in, half a point is rounding."""
    with pypdfium2.PdfDocument(made(text)) as pdf:
        for page in pdf:
            wide, high = page.get_size()
            letters = page.get_textpage()
            boxes = [letters.get_charbox(n) for n in range(letters.count_chars())]
            assert boxes
            for left, bottom, right, top in boxes:
                if top - bottom < 0.05:
                    continue  # a space at the end of a line has no ink
                assert 53.5 <= left <= right <= wide - 53.5 or left == right
                assert 20 <= bottom <= top <= high - 20 or bottom == top


def test_table_heads_are_repeated() -> None:
    heads = sum("Goes home by" in p.extract_text() for p in reader(made(ROW)).pages)
    assert heads >= 2


def test_paper_sizes() -> None:
    """Letter is 8.5 in by 11 in (ANSI), A4 is 210 mm by 297 mm (ISO 216)."""
    letter, a4 = reader(made(SMALL)).pages[0], reader(made(SMALL, "a4")).pages[0]
    assert (float(letter.mediabox.width), float(letter.mediabox.height)) == (612, 792)
    assert float(a4.mediabox.width) == pytest.approx(210 / 25.4 * 72, abs=0.1)
    assert float(a4.mediabox.height) == pytest.approx(297 / 25.4 * 72, abs=0.1)
    with pytest.raises(ValueError, match="no paper 'legal'"):
        report_pdf(studied(SMALL), draw_pictures(studied(SMALL)), DAY, paper="legal")  # type: ignore[arg-type]


def test_same_bytes_each_time() -> None:
    results = studied(FARM)
    assert report_pdf(results, draw_pictures(results), DAY) == made(FARM)
    assert report_pdf(results, draw_pictures(results), date(2026, 3, 3)) != made(FARM)


def test_the_font_sets_what_we_write_and_names_what_it_can_not() -> None:
    assert all(ord(c) in coverage() for c in "aZ09✓×?!→µ°–≥½²Ωé")
    assert printable("pump 😀") == "pump [U+1F600]"
    assert printable("\u202eabc") == "[U+202E]abc"
    assert printable("Größe 4 µΩ") == "Größe 4 µΩ"
