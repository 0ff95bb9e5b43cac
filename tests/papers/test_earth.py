"""The electrode sheet and the earth test sheets in every paper."""

from __future__ import annotations

import csv
import io
import json
from datetime import date
from pathlib import Path

import jsonschema
import pytest
from pypdf import PdfReader

from bondwright.papers.content import content
from bondwright.papers.data import results_data, schema
from bondwright.papers.package import write_papers
from bondwright.papers.pictures import draw_pictures
from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.site.reader import load, read

BARN = Path(__file__).parents[1] / "cases" / "earth-press-barn.yaml"
ON = date(2026, 5, 4)


@pytest.fixture(scope="module")
def barn() -> Results:
    return study(plan(load(BARN)))


@pytest.fixture(scope="module")
def folder(barn: Results, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("papers")
    write_papers(barn, made, on=ON)
    return made


def rows(folder: Path, name: str) -> list[dict[str, str]]:
    text = (folder / name).read_text(encoding="utf-8")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_sheet_in_the_pdf(folder: Path) -> None:
    pages = [page.extract_text() for page in PdfReader(folder / "report.pdf").pages]
    sheet = next(k for k, text in enumerate(pages) if "Resistance matrix" in text)
    both = " ".join((pages[sheet - 1] + pages[sheet]).split())
    for word in ("rods", "footing", "well", "cottage rod", "Calculated", "Measured"):
        assert word in both
    tests = [text for text in pages[1:] if "Earth test:" in text]  # the first lists them
    assert len(tests) == 3
    assert "4.2 ± 0.26 ohm" in " ".join(tests[0].split())
    assert all("Tested by" in text for text in tests)


def test_the_sheet_on_the_page(folder: Path) -> None:
    page = (folder / "report.html").read_text(encoding="utf-8")
    for word in (
        'id="electrodes"',
        'id="earth-test-3"',
        "Resistance matrix",
        "ground-touch-phone-",
        "earth-test-0-",
        "takes it from",
    ):
        assert word in page


def test_the_tables(folder: Path) -> None:
    electrodes = rows(folder, "electrodes.csv")
    assert [row["electrode"] for row in electrodes] == ["rods", "footing", "well", "cottage rod"]
    well = electrodes[2]
    assert (well["given (ohm)"], well["measured by"]) == ("4.2", "fall at the well")
    assert float(well["calculated (ohm)"]) < 2
    readings = rows(folder, "earth-tests.csv")
    assert len(readings) == 6 + 1 + 1
    assert [float(r["distance (m)"]) for r in readings[:6]] == [12, 24, 31, 37, 43, 54]


def test_the_data(barn: Results, folder: Path) -> None:
    data = json.loads((folder / "results.json").read_text(encoding="utf-8"))
    jsonschema.validate(data, schema())
    assert data == json.loads(json.dumps(results_data(barn)))
    ground = data["earth"]
    assert ground["matrix"]["names"] == ["rods", "footing", "well", "cottage rod"]
    assert ground["resistance_ohm"] > ground["undisturbed_ohm"]
    assert {test["kind"] for test in ground["tests"]} == {
        "fall of potential",
        "clamp",
        "continuity",
    }
    assert ground["faults"][0]["surface"]["step_worst_v"] > 0


def test_pictures_of_the_ground(barn: Results) -> None:
    drawn = draw_pictures(barn)
    assert len(drawn.ground) == 2
    assert len(drawn.tests) == 1
    ids = [key for _, group in drawn.groups() for p in group for key in p.page.ids]
    assert len(ids) == len(set(ids))


def test_a_site_with_nothing_in_the_ground_has_no_sheet(tmp_path: Path) -> None:
    text = BARN.read_text(encoding="utf-8")
    start, end = text.index("electrodes:"), text.index("metal:")
    text = text[:start] + text[end : text.index("earth tests:")]
    results = study(plan(read(text)))
    assert content(results, ON)["earth"] == {}
    written = write_papers(results, tmp_path, on=ON, formats=("html", "csv", "json"))
    assert "electrodes.csv" not in {path.name for path in written}
    assert "Resistance matrix" not in (tmp_path / "report.html").read_text(encoding="utf-8")
