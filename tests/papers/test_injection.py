"""Nothing that a person named or wrote is taken for markup, code, a formula or a path.

Every paper, and every table of every command, of sites in which all of it is hostile.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree as Xml

import openpyxl
import pytest
from click.testing import CliRunner
from ezdxf.filemanagement import read as read_dxf
from pypdf import PdfReader

from bondwright.cli import main
from bondwright.exchange.sheets import csv_text, workbook
from bondwright.network.build import build
from bondwright.page.notebook import as_csv
from bondwright.page.wire_field import Note
from bondwright.papers.package import write_papers
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site.reader import read
from bondwright.studies.hunt.readings import read_readings
from tests.hostile import FORMULAS, PATHS, SCRIPTS, hostile

WORDS = {"scripts": SCRIPTS, "formulas": FORMULAS, "paths": PATHS}
NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)(e[+-]?\d+)?", re.IGNORECASE)
STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@pytest.fixture(scope="module")
def papers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, bytes]]:
    """Every paper of every hostile site, and of the farmhouse itself, by name."""
    made = {}
    for name, words in (*WORDS.items(), ("plain", ("word",))):
        text = hostile(words)
        folder = tmp_path_factory.mktemp(name)
        files = write_papers(study(plan(read(text))), folder / "out")
        assert sorted(p.name for p in folder.rglob("*")) == sorted(
            ["out", *(f.name for f in files)]
        ), "something was written beside the papers"
        made[name] = {f.name: f.read_bytes() for f in files}
    return made


class Seen(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: Counter[str] = Counter()
        self.attributes: set[str] = set()
        self.links: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes |= {name for name, _ in attrs}
        self.links |= {str(value) for name, value in attrs if name in {"href", "src", "xlink:href"}}


def seen(data: bytes) -> Seen:
    found = Seen()
    found.feed(data.decode())
    return found


@pytest.mark.parametrize("name", WORDS)
def test_the_report_has_no_element_that_a_name_made(
    papers: dict[str, dict[str, bytes]], name: str
) -> None:
    plain, found = (seen(papers[which]["report.html"]) for which in ("plain", name))
    for tag in ("script", "iframe", "object", "embed", "base", "form", "img", "link", "meta"):
        assert found.tags[tag] == plain.tags[tag], tag
    assert set(found.tags) - set(plain.tags) <= {"li", "ul", "p", "td", "tr", "th", "dd", "dt"}
    assert not {one for one in found.attributes if one.startswith("on")}
    assert not {one for one in found.links if not one.startswith(("#", "data:image/"))}


@pytest.mark.parametrize("name", WORDS)
def test_the_picture_has_no_element_that_a_name_made(
    papers: dict[str, dict[str, bytes]], name: str
) -> None:
    root = Xml.fromstring(papers[name]["picture.svg"])
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    plain = {
        e.tag.rpartition("}")[2] for e in Xml.fromstring(papers["plain"]["picture.svg"]).iter()
    }
    assert not tags & {"script", "foreignObject", "image", "a", "iframe", "animate", "set"}
    assert tags <= plain | {"path", "rect", "circle", "line", "g", "text", "tspan", "title"}
    for element in root.iter():
        assert not [key for key in element.attrib if key.lower().startswith("on")]
        assert "javascript:" not in " ".join(
            value for key, value in element.attrib.items() if "href" in key
        )


@pytest.mark.parametrize("name", WORDS)
def test_the_drawing_is_read_and_says_the_names_as_they_are(
    papers: dict[str, dict[str, bytes]], name: str
) -> None:
    document = read_dxf(io.StringIO(papers[name]["picture.dxf"].decode()))
    assert not document.audit().errors
    usual = read_dxf(io.StringIO(papers["plain"]["picture.dxf"].decode()))
    kinds, plain = (
        Counter((e.dxftype(), e.dxf.layer) for e in one.modelspace()) for one in (document, usual)
    )
    assert set(kinds) == set(plain)  # no entity and no layer that a name made
    texts = [e.dxf.text for e in document.modelspace().query("TEXT")]
    assert texts
    assert all("\n" not in text and "\r" not in text for text in texts)


def _squeezed(data: bytes) -> str:
    reader = PdfReader(io.BytesIO(data))
    root = str(reader.root_object)
    assert "/OpenAction" not in root, "something runs when it is opened"
    assert "/JavaScript" not in root
    return re.sub(r"\s", "", "".join(page.extract_text() for page in reader.pages))


@pytest.mark.parametrize("name", ["scripts", "formulas"])
def test_the_pdf_says_names_as_they_are(papers: dict[str, dict[str, bytes]], name: str) -> None:
    said = _squeezed(papers[name]["report.pdf"])
    for place in read(hostile(WORDS[name])).places:
        if place.isascii():  # the others are in no font of ours, and stand there as a mark
            assert re.sub(r"\s", "", place)[:20] in said
    assert "49" not in said or "7*7" in said


def _cells(text: str) -> list[str]:
    return [cell for row in csv.reader(io.StringIO(text)) for cell in row]


def dangerous(cell: str) -> bool:
    """Whether a spreadsheet would reckon with a cell."""
    return cell.lstrip(" ").startswith(STARTS) and not NUMBER.fullmatch(cell)


def test_what_is_dangerous() -> None:
    assert all(dangerous(text) for text in FORMULAS)
    assert not any(dangerous(text) for text in ("-3.2", "+1e-3", "5", "a=b", "'=1+1", ""))


@pytest.mark.parametrize("name", WORDS)
def test_no_table_has_a_formula_and_numbers_stay_numbers(
    papers: dict[str, dict[str, bytes]], name: str
) -> None:
    tables = {file: data.decode() for file, data in papers[name].items() if file.endswith(".csv")}
    assert len(tables) >= 10
    for file, text in tables.items():
        assert [cell for cell in _cells(text) if dangerous(cell)] == [], file
        assert not re.search(r"'[+-]?\d+(\.\d+)?$", "\n".join(_cells(text)), re.MULTILINE), file
    assert any(NUMBER.fullmatch(cell) for cell in _cells(tables["faults.csv"]))


@pytest.mark.parametrize("name", WORDS)
def test_no_workbook_has_a_formula(papers: dict[str, dict[str, bytes]], name: str) -> None:
    books = [data for file, data in papers[name].items() if file.endswith(".xlsx")]
    assert books
    for data in books:
        for sheet in openpyxl.load_workbook(io.BytesIO(data)).worksheets:
            for row in sheet.iter_rows():
                assert not [cell for cell in row if cell.data_type == "f"]


@pytest.mark.parametrize("text", [*FORMULAS, "\t=1+1", "\r=1+1", "\n=1", *SCRIPTS])
def test_no_writer_of_tables_makes_a_formula(text: str) -> None:
    assert not [cell for cell in _cells(csv_text([[text, "20 A", "3"]])) if dangerous(cell)]
    book = openpyxl.load_workbook(io.BytesIO(workbook([(text, [[text, "3"]])])))
    (sheet,) = book.worksheets
    assert [cell.data_type for cell in next(sheet.iter_rows())] == ["s", "n"]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_panel_schedule_and_a_test_sheet_have_no_formula(tmp_path: Path, kind: str) -> None:
    site = tmp_path / "site.yaml"
    site.write_text(hostile(FORMULAS), encoding="utf-8")
    panel = next(name for name, p in read(hostile(FORMULAS)).places.items() if p.kind == "panel")
    for command in (["circuits", "table", str(site), panel], ["testing", "sheet", str(site)]):
        out = tmp_path / f"{command[0]}.{kind}"
        done = CliRunner().invoke(main, [*command, "--out", str(out)])
        assert done.exit_code == 0, done.output
        if kind == "csv":
            assert not [c for c in _cells(out.read_text("utf-8")) if dangerous(c)]
        else:
            sheets = openpyxl.load_workbook(out).worksheets
            assert not [c for s in sheets for r in s.iter_rows() for c in r if c.data_type == "f"]


def test_readings_taken_along_have_no_formula_and_are_read_again() -> None:
    site = read(hostile(FORMULAS))
    network = build(plan(site))
    wheres = [*site.metal, next(iter(site.places))]
    notes = [
        Note(key=f"note-{k:04}", what="current" if where in site.metal else "voltage",
             where=where, of="" if where in site.metal else "N-G",
             value="0.7 A" if where in site.metal else "0.8 V", note=FORMULAS[k])
        for k, where in enumerate(wheres)
    ]  # fmt: skip
    text = as_csv(notes)
    assert not [cell for cell in _cells(text) if dangerous(cell)]
    assert as_csv(notes, unused={notes[0].key}).count("\n") == text.count("\n")
    found = read_readings(text, network, "taken.csv", yaml=False)
    assert len(found) == len(notes)


def test_what_is_told_in_json_is_json_whatever_the_names(tmp_path: Path) -> None:
    for name, words in WORDS.items():
        site = tmp_path / f"{name}.yaml"
        site.write_text(hostile(words), encoding="utf-8")
        done = CliRunner().invoke(main, ["size", str(site), "--json"])
        assert json.loads(done.stdout)["site"] == read(hostile(words)).site
