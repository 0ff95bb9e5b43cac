"""The papers of the examples for IEC 60364, read through."""

from __future__ import annotations

import io
import json
import re
from functools import cache
from pathlib import Path

import jsonschema
import pypdf
import pytest

from bondwright.papers.data import results_data, schema
from bondwright.papers.package import write_papers
from bondwright.papers.results import Results, study
from bondwright.rules.answer import Severity, Verdict
from tests.explain.test_dialect import FOREIGN
from tests.iec_sites import ARRANGED, COTTAGE, FLAT, NAMES, plan_of


@cache
def _results(name: str) -> Results:
    return study(plan_of(name))


@pytest.mark.parametrize("name", NAMES)
def test_results_keep_their_schema(name: str) -> None:
    data = results_data(_results(name))
    jsonschema.validate(data, schema())
    assert data["rules"] == "iec-60364-2017"
    assert {one["earthing"] for one in data["disconnections"]} == {ARRANGED[name]}
    assert not FOREIGN.search(json.dumps(data, ensure_ascii=False))


@pytest.mark.parametrize("name", NAMES)
def test_examples_hold(name: str) -> None:
    results = _results(name)
    assert results.summary.verdict is Verdict.HOLDS
    assert not [f for f in results.findings if f.severity is not Severity.NOTE]
    assert all(row.verdict is Verdict.HOLDS for row in results.plan.schedule)


def test_the_package_speaks_the_dialect(tmp_path: Path) -> None:
    files = {path.name: path for path in write_papers(_results(COTTAGE), tmp_path, paper="a4")}
    pages = pypdf.PdfReader(io.BytesIO(files["report.pdf"].read_bytes())).pages
    pdf = "\n".join(page.extract_text() for page in pages)
    for text in (
        "Earthing and bonding",
        "IEC 60364-4-41",
        "Conductors and joins",
        "Disconnection",
        "1667 ohm",
        "On a TT system only the residual-current",
    ):
        assert text in pdf.replace("\n", " ")
    assert not FOREIGN.search(pdf)
    for name in ("report.html", "schedule.csv", "faults.csv", "findings.csv", "picture.svg"):
        text = files[name].read_text("utf-8")
        body = text.partition("</style>")[2] or text
        read = re.sub(r"<[^>]*>", " ", body)  # ids and classes are not read by anybody
        assert FOREIGN.findall(read) == [], name


def test_the_disconnection_table() -> None:
    from bondwright.papers.tables_more import more_tables

    tables = {table["id"]: table for table in more_tables(_results(FLAT))}
    rows = tables["disconnection"]["rows"]
    assert len(rows) == 7
    assert all(len(one["cells"]) + 1 == len(tables["disconnection"]["head"]) for one in rows)
