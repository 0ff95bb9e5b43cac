"""JSON keeps its schema and its numbers; CSV reads back whole and starts no formula.

The list of characters that start a formula is that of the OWASP page on CSV injection.
"""

from __future__ import annotations

import csv
import io
import json
import math
from typing import Any

import jsonschema
import pytest

from bondwright.exchange.sheets import defused
from bondwright.papers.data import FORMAT, VERSION, results_data, results_json, schema
from bondwright.papers.tables import (
    faults_csv,
    findings_csv,
    schedule_csv,
    stray_csv,
    table,
)
from tests.explain.sites import (
    BARN_WITH_EGC,
    FARM,
    NASTY,
    NASTY_IDS,
    SMALL,
    row_of_panels,
    studied,
)

SITES = {
    "farm": FARM,
    "barn": BARN_WITH_EGC,
    "small": SMALL,
    "nasty": NASTY,
    "row": row_of_panels(4),
}


def strict(text: str) -> Any:
    def refuse(word: str) -> None:
        raise ValueError(word)

    return json.loads(text, parse_constant=refuse)


@pytest.mark.parametrize("name", SITES)
def test_json_keeps_its_schema(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema())
    data = strict(results_json(studied(SITES[name])))
    jsonschema.validate(data, schema())
    assert data == results_data(studied(SITES[name]))
    assert data["format"] == FORMAT == "bondwright/results"
    assert data["version"] == VERSION == 1


def test_the_schema_can_refuse() -> None:
    data = results_data(studied(SMALL))
    data["faults"][0]["current_a"] = "12 A"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema())
    data = results_data(studied(SMALL))
    data["surprise"] = 1
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema())


def test_json_holds_the_numbers_of_the_studies() -> None:
    results = studied(FARM)
    data = results_data(results)
    assert len(data["faults"]) == len(results.faults)
    for told, found in zip(data["faults"], results.faults, strict=True):
        assert told["current_a"] == found.current
        assert told["slowest_never"] == math.isinf(found.clearing)
        assert (told["slowest_s"] is None) == told["slowest_never"]
    off = data["tie_removed"][0]["without_tie"]
    assert off["slowest_s"] is None
    assert off["slowest_never"] is True
    assert off["cleared"] is False


def test_a_phasor_is_amps_and_degrees() -> None:
    results = studied(FARM)
    flow, told = results.stray.flows[0], results_data(results)["stray"]["flows"][0]
    back = told["current"]["amps"] * complex(
        math.cos(math.radians(told["current"]["angle_deg"])),
        math.sin(math.radians(told["current"]["angle_deg"])),
    )
    assert back == pytest.approx(flow.current, rel=1e-12)


@pytest.mark.parametrize("name", SITES)
def test_csv_tables_read_back(name: str) -> None:
    results = studied(SITES[name])
    for text, count in (
        (schedule_csv(results.plan), len(results.plan.schedule)),
        (faults_csv(results), len(results.faults)),
        (stray_csv(results), len(results.stray.currents)),
        (findings_csv(results), len(results.findings)),
    ):
        rows = list(csv.reader(io.StringIO(text, newline="")))
        assert len(rows) == count + 1
        assert len({len(row) for row in rows}) == 1
        assert all(rows[0])
        for row in rows[1:]:
            for cell in row:
                assert not cell.startswith(("=", "@", "\t", "+")), cell
                if cell.startswith("-"):
                    float(cell)
    assert "current [A]" in faults_csv(results).splitlines()[0]


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", " =1+1", "\uff1d1+1", NASTY_IDS[2]]
)
def test_a_formula_is_defused(text: str) -> None:
    assert defused(text) == f"'{text}"


@pytest.mark.parametrize("text", ["pump house", "4 AWG Cu", "a=b", "", "2 x 500 kcmil Cu"])
def test_plain_words_are_left_alone(text: str) -> None:
    assert defused(text) == text


def test_cells() -> None:
    text = table(("a", "b"), [('x,"y"', 1 / 3), (None, math.inf)])
    assert list(csv.reader(io.StringIO(text, newline=""))) == [
        ["a", "b"],
        ['x,"y"', "0.333333"],
        ["", ""],
    ]
