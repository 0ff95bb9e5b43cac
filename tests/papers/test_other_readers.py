"""The papers as programs read them that had no part in writing them: qpdf, and calamine."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pikepdf
import pytest
from python_calamine import CalamineWorkbook

from bondwright.papers.formats import FORMATS
from bondwright.papers.package import write_papers
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site.reader import load

FARMHOUSE = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"
FONT_FILES = {"/FontFile", "/FontFile2", "/FontFile3"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("papers")
    light = [name for name in FORMATS if name not in {"parquet", "ifc"}]
    write_papers(study(plan(load(FARMHOUSE))), made, formats=light, on=date(2026, 3, 2))
    return made


def embedded(font: Any) -> bool:
    inside = font.DescendantFonts[0] if "/DescendantFonts" in font else font
    return bool(FONT_FILES & set(inside.FontDescriptor.keys()))


def test_qpdf_finds_nothing_wrong_and_everything_is_tagged(folder: Path) -> None:
    papers = sorted(folder.glob("*.pdf"))
    assert len(papers) >= 5
    for path in papers:
        with pikepdf.open(path) as pdf:
            assert pdf.check_pdf_syntax() == [], path.name
            assert bool(pdf.Root.MarkInfo.Marked), path.name
            assert str(pdf.Root.Lang).startswith("en"), path.name
            fonts = {
                str(font.BaseFont): font
                for page in pdf.pages
                for font in page.Resources.get("/Font", {}).values()
            }
            assert fonts, path.name
            assert [name for name, font in fonts.items() if not embedded(font)] == [], path.name


def test_qpdf_finds_what_is_wrong(folder: Path, tmp_path: Path) -> None:
    whole = (folder / "report.pdf").read_bytes()
    cut = tmp_path / "cut.pdf"
    cut.write_bytes(whole[: len(whole) // 2])
    try:
        with pikepdf.open(cut) as pdf:
            assert pdf.check_pdf_syntax() != []
    except pikepdf.PdfError:
        pass


def test_calamine_reads_the_workbooks_as_openpyxl_does(folder: Path) -> None:
    books = sorted(folder.glob("*.xlsx"))
    assert books
    for path in books:
        theirs = CalamineWorkbook.from_path(path)
        ours = openpyxl.load_workbook(path, data_only=True)
        assert theirs.sheet_names == ours.sheetnames
        for name in ours.sheetnames:
            rows = [[_plain(v) for v in row] for row in ours[name].iter_rows(values_only=True)]
            seen = theirs.get_sheet_by_name(name).to_python(skip_empty_area=False)
            assert [[_plain(v) for v in row] for row in seen] == rows, (path.name, name)
            assert len(rows) > 3


def _plain(value: object) -> object:
    return "" if value is None else float(value) if isinstance(value, int | float) else value
