"""The permit package: sheet sizes, cover, contents, available current, a sheet for each state."""

from __future__ import annotations

import io
import re
from datetime import date
from functools import cache
from pathlib import Path

import pypdf
import pytest

from bondwright.draw.part import part_of
from bondwright.explain.words import amps
from bondwright.papers.pdf import report_pdf
from bondwright.papers.permit import Cover
from bondwright.papers.pictures import draw_pictures
from bondwright.papers.results import Results, study
from bondwright.papers.sizes import LEAST_SCALE, PAPERS, Paper, desk_size, size, spot
from bondwright.plan.build import plan
from bondwright.site.reader import load
from bondwright.units import Dimension, show, units

DAY = date(2026, 3, 2)
SITE = Path(__file__).parents[2] / "examples" / "harrow-creek.yaml"
# Width and height in inches: Letter, Tabloid by ANSI/ASME Y14.1, Arch D by common practice; the
# A series by ISO 216 in mm. From memory.
KNOWN = {
    "us-letter": (8.5, 11),
    "a4": (210 / 25.4, 297 / 25.4),
    "tabloid": (17, 11),
    "a3": (420 / 25.4, 297 / 25.4),
    "arch-d": (36, 24),
}


@cache
def results() -> Results:
    return study(plan(load(SITE)))


@cache
def pages(paper: Paper) -> tuple[str, ...]:
    made = results()
    cover = Cover.of(SITE.name, SITE.read_bytes(), job="Job 7", revision="C")
    data = report_pdf(made, draw_pictures(made), DAY, paper=paper, cover=cover)
    reader = pypdf.PdfReader(io.BytesIO(data))
    wide, high = KNOWN[paper]
    assert float(reader.pages[0].mediabox.width) == pytest.approx(72 * wide, abs=0.2)
    assert float(reader.pages[0].mediabox.height) == pytest.approx(72 * high, abs=0.2)
    return tuple(" ".join(page.extract_text().split()) for page in reader.pages)


@pytest.mark.parametrize("paper", ["us-letter", "arch-d"])
def test_the_cover_says_what_it_is_about(paper: Paper) -> None:
    first = pages(paper)[0]
    for word in ("Job 7", "Revision C", "NEC (NFPA 70), 2023 edition", "none described"):
        assert word in first
    assert f"{len(results().assumptions)} things are taken" in first
    assert re.search(r"SHA-256 [0-9a-f ]{12,}", first)
    assert "Electricity kills." in first


@pytest.mark.parametrize("paper", ["us-letter", "arch-d"])
def test_the_contents_name_the_page_where_a_section_is(paper: Paper) -> None:
    said = pages(paper)
    for section in ("Jumpers and conductors", "Available fault current", "Taken for granted"):
        found = re.search(rf"(\d+) {section} (\d+)", said[0])
        assert found is not None, section
        assert f"{found[1]} {section}" in said[int(found[2]) - 1]
    cross = re.search(r"section (\d+), page (\d+)", said[0])
    assert cross is not None
    assert f"{cross[1]} Taken for granted" in said[int(cross[2]) - 1]


def test_every_place_has_its_available_current() -> None:
    said = re.sub(r"\s", "", " ".join(pages("us-letter")))
    for one in results().available:
        assert re.sub(r"\s", "", f"{amps(one.available.current)}") in said
    alone = {one.place: one.state for one in results().available if one.state}
    assert alone.get("standby generator") == "on standby generator"


def test_every_state_has_its_sheet() -> None:
    text = " ".join(pages("us-letter"))
    for state in results().states:
        assert f"State: {state.id}" in text


@pytest.mark.parametrize("paper", PAPERS)
def test_a_picture_goes_where_it_can_be_read(paper: Paper) -> None:
    sheet = size(paper)
    for wide, high in ((300, 200), (640, 420), (1900, 1300), (6000, 4000)):
        put = spot(wide, high, sheet)
        assert put.scale >= LEAST_SCALE
        if put.where == "column":
            assert wide * put.scale <= sheet.column + 0.01
        if put.where == "sheet":
            assert wide * put.scale <= put.wide
            assert high * put.scale <= put.high
    assert desk_size(paper).high > desk_size(paper).wide


def test_a_huge_picture_stays_within_what_a_page_can_be() -> None:
    """A side of a page is 14,400 units at most (ISO 32000-1, annex C, from memory)."""
    put = spot(60_000, 40_000, size("us-letter"))
    assert max(put.wide, put.high) <= 14_400


def test_lengths_come_in_the_units_asked_for() -> None:
    with units("metric"):
        made = study(plan(load(SITE)))
        drawn = draw_pictures(made)
        said = " ".join(a.text for a in made.assumptions) + drawn.site[0].page.svg
        assert show(10.0, Dimension.LENGTH) == "10 m"
    assert show(3.048, Dimension.LENGTH) == "10 ft"
    assert " m " in said
    assert not re.search(r"\d ft\b", said)


def test_a_part_keeps_the_way_to_the_source() -> None:
    whole = plan(load(SITE))
    part = part_of(whole, ["press", "well pump"])
    assert {"press", "barn transformer", "hall switchboard", "hall utility"} <= set(
        part.topology.order
    )
    assert "transfer switch" in part.site.transfers
    assert "standby generator" in part.site.generators
    assert "filler" not in part.site.places
    assert part.runs["press branch"] is whole.runs["press branch"]
