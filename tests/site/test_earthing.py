"""The earthing arrangement in the site file: asked for, known, and refused where it can't stand."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from bondwright.site.check import problems
from bondwright.site.earthing import protective
from bondwright.site.fields import NoWire
from bondwright.site.reader import SiteError, load, read
from bondwright.site.schema import json_schema
from bondwright.site.writer import dump
from tests.iec_sites import ARRANGED, COTTAGE, FLAT, HALL, NAMES, path_of, site_of
from tests.plan.sites import HOUSE, described
from tests.site.marked import unmarked


@pytest.mark.parametrize("name", NAMES)
def test_examples_are_read_written_and_fit_the_schema(name: str) -> None:
    site = load(path_of(name))
    assert site.earthing == ARRANGED[name]
    assert read(dump(site), "again.yaml") == site
    raw = yaml.load(path_of(name).read_text("utf-8"), Loader=yaml.BaseLoader)
    if "insulation monitoring" in raw:
        raw["insulation monitoring"] = True
    raw["electrodes"] = {}  # counts are numbers in a file, and texts for this loader
    for source in raw["sources"].values():
        for strength in ("available", "transformer"):
            if strength in source:
                source[strength]["x/r"] = float(source[strength]["x/r"])
    for place in raw["places"].values():
        for load_ in place.get("loads", ()):
            if "pf" in load_:
                load_["pf"] = float(load_["pf"])
    jsonschema.validate(raw, json_schema())


@pytest.mark.parametrize("name", NAMES)
def test_examples_are_short(name: str) -> None:
    assert len(path_of(name).read_text("utf-8").splitlines()) < 80


@pytest.mark.parametrize(
    ("name", "changes", "loc", "says"),
    [
        (COTTAGE, {"earthing": ...}, ("rules",), "needs the earthing arrangement"),
        (COTTAGE, {"means of earthing": "supply terminal"}, ("means of earthing",),
         "does not go with TT"),
        (COTTAGE, {"means of earthing": "PEN terminal"}, ("means of earthing",), "with TT"),
        (FLAT, {"means of earthing": "own electrode"}, ("means of earthing",), "with TN-C-S"),
        (FLAT, {"insulation monitoring": True}, ("insulation monitoring",), "an IT system"),
        (FLAT, {"first fault current": "1 A"}, ("first fault current",), "an IT system"),
        (FLAT, {"runs__tails__pe": "16 mm2 Cu", "runs__tails__ssbj": "16 mm2 Cu"},
         ("runs", "tails", "ssbj"), "says the same as 'pe'"),
        (FLAT, {"runs__tails__pe": "raceway"}, ("runs", "tails", "pe"), "needs a metal raceway"),
    ],
)  # fmt: skip
def test_what_cannot_stand(
    name: str, changes: dict[str, Any], loc: tuple[str, ...], says: str
) -> None:
    (problem,) = problems(site_of(name, **changes))
    assert problem.loc == loc
    assert says in problem.problem
    assert problem.hint


@pytest.mark.parametrize(
    ("changes", "loc"),
    [
        ({"earthing": "TN-S"}, ("earthing",)),
        ({"means of earthing": "own electrode"}, ("means of earthing",)),
        ({"insulation monitoring": True}, ("insulation monitoring",)),
        ({"first fault current": "1 A"}, ("first fault current",)),
        ({"runs__circuit__pe": "6 mm2 Cu"}, ("runs", "circuit", "pe")),
    ],
)
def test_the_nec_knows_none_of_it(changes: dict[str, Any], loc: tuple[str, ...]) -> None:
    from bondwright.site.model import Site

    (problem,) = problems(Site.model_validate(described(HOUSE, **changes)))
    assert problem.loc == loc
    assert "IEC 60364" in problem.problem
    assert "nec-" in problem.hint or "egc" in problem.hint


def test_arrays_are_refused() -> None:
    array = {
        "at": "inverter",
        "module": {"open circuit": "42 V", "short circuit": "11 A"},
        "in series": 8,
        "length": "20 m",
        "lines": "6 mm2 Cu",
        "grounded": "none",
    }
    found = problems(site_of(COTTAGE, arrays__roof=array))
    assert ("arrays", "roof") in [problem.loc for problem in found]


def test_errors_point_at_the_line() -> None:
    text, line, column = unmarked(
        path_of(COTTAGE).read_text("utf-8").replace("earthing: TT", "earthing: ‸TNS", 1)
    )
    with pytest.raises(SiteError) as caught:
        read(text, "cottage.yaml")
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (line, column)
    assert "TN-S" in (problem.hint or "")
    text, line, column = unmarked(
        path_of(COTTAGE).read_text("utf-8").replace("own electrode", "‸PEN terminal", 1)
    )
    with pytest.raises(SiteError) as caught:
        read(text, "cottage.yaml")
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (line, column)
    assert "does not go with TT" in problem.problem


def test_the_trade_names_of_the_protective_conductor_are_understood() -> None:
    text = path_of(FLAT).read_text("utf-8").replace("pe: 2.5 mm2 Cu", "cpc: 2.5 mm2 Cu")
    with pytest.raises(SiteError, match="did you mean 'pe'"):
        read(text, "flat.yaml")


@pytest.mark.parametrize("key", ["pe", "egc"])
def test_any_key_says_the_protective_conductor(key: str) -> None:
    site = site_of(FLAT, **{f"runs__heater circuit__{key}": "none"})
    assert protective(site.runs["heater circuit"]) is NoWire.NONE
    assert protective(site.runs["lighting circuit"]) is None
    assert str(protective(site.runs["cooker circuit"])) == "2.5 mm2 Cu"


def test_the_hall_says_what_an_it_system_needs() -> None:
    site = load(path_of(HALL))
    assert site.insulation_monitoring is True
    assert site.first_fault == pytest.approx(0.06)
    assert Path(path_of(HALL)).is_file()
