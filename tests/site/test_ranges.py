"""Quantities that are ranges: read, written, refused, sampled."""

from __future__ import annotations

import copy
import pickle
from pathlib import Path

import jsonschema
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from bondwright.plan.build import plan
from bondwright.site.ranges import Range, unknowns, with_values
from bondwright.site.reader import SiteError, read
from bondwright.site.schema import json_schema
from bondwright.site.source_text import parse
from bondwright.site.writer import dump, set_value

FARM = Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml"
CHANGES = {
    "soil: 150 ohm m": "soil: 50..500 ohm m about 150 ohm m",
    "impedance: 2.1 %": "impedance: 1.8..2.4 %",
    "x/r: 1.3": "x/r: 1..2",
    "electrode: 8 ohm": "electrode: 5..40 ohm about 8",
    "power: 1.5 kW": "power: 500 W..2 kW",
    "pf: 0.82": "pf: 0.7..0.9",
    "length: 220 ft": "length: 180..260 ft",
}


def text() -> str:
    found = FARM.read_text(encoding="utf-8")
    for old, new in CHANGES.items():
        assert found.count(old) == 1
        found = found.replace(old, new)
    return found


def length(written: str) -> object:
    site = read(text().replace("180..260 ft", f'"{written}"'))
    return site.runs["pump house feeder"].length


def test_what_is_a_range_is_found() -> None:
    found = [(one.name, one.text, one.nominal) for one in unknowns(read(text()))]
    assert found == [
        ("soil", "50..500 ohm m about 150 ohm m", "150 ohm m"),
        ("impedance of transformer of utility", "1.8..2.4 %", "2.1 %"),
        ("x/r of transformer of utility", "1..2", "1.5"),
        ("electrode of utility", "5..40 ohm about 8 ohm", "8 ohm"),
        ("power of load 1 of pump house panel", "500 W..2 kW", "1250 W"),
        ("pf of load 1 of well pump", "0.7..0.9", "0.8"),
        ("length of pump house feeder", "180..260 ft", "220 ft"),
    ]


def test_it_is_written_so_that_it_reads_back_the_same() -> None:
    site = read(text())
    assert read(dump(site)) == site
    assert pickle.loads(pickle.dumps(site)) == site
    assert copy.deepcopy(site) == site
    changed = set_value(text(), ("runs", "pump house feeder", "length"), "100..140 m about 120 m")
    assert "    length: 100..140 m about 120 m\n" in changed
    plain = set_value(changed, ("runs", "pump house feeder", "length"), "180..260 ft")
    assert plain == text()


def test_a_range_that_equals_a_default_in_the_middle_is_not_lost() -> None:
    site = read(text())
    assert float(site.sources["utility"].transformer.x_over_r) == 1.5  # type: ignore[union-attr]
    assert "x/r: 1..2" in dump(site)


def test_editors_accept_what_the_reader_accepts() -> None:
    for written in (text(), dump(read(text()))):
        jsonschema.validate(parse(written, "x").data, json_schema())
    wrong = parse(text().replace("180..260 ft", "180..260 kg"), "x").data
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(wrong, json_schema())


def test_ways_to_write_one() -> None:
    for written, low, high in (
        ("180 .. 260 ft", 180 * 0.3048, 260 * 0.3048),
        ("180 ft..90 m", 180 * 0.3048, 90),
        ("6 ft 3 in..7 ft", 75 * 0.0254, 7 * 0.3048),
        ("1,000..2,000 ft", 304.8, 609.6),
        ("1/2..3/4 in", 0.0127, 0.01905),
        ("1e1..2e1 m", 10, 20),
    ):
        found = length(written)
        assert isinstance(found, Range)
        assert (found.low, found.high) == pytest.approx((low, high))
    found = length("10..20 m about 12")
    assert isinstance(found, Range)
    assert (float(found), found.about) == (12, 12)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("180-260 ft", "a range is written with two points, like '80..120 ft'"),
        ("180 to 260 ft", "a range is written with two points"),
        ("260..180 ft", "write the smaller value first"),
        ("180..180 ft", "write '180 ft' alone"),
        ("180...260 ft", "is no range"),
        ("1..2..3 ft", "is no range"),
        ("180..260", "has no unit"),
        ("0..10 ft", "must be more than zero"),
        ("-5..10 ft", "must be more than zero"),
        ("100..200 kg", "has the unit 'kg'"),
        ("..5 ft", "is not a length"),
        ("5.. ft", "is not a length"),
        ("5..6 ft 3 in", "has no unit"),
        ("180..260 ft about 300 ft", "lies outside its range"),
    ],
)
def test_what_is_no_range_is_refused_at_its_spot(written: str, said: str) -> None:
    lines = text().splitlines()
    line = next(k for k, one in enumerate(lines, start=1) if "180..260 ft" in one)
    with pytest.raises(SiteError) as refused:
        length(written)
    problem = refused.value.problems[0]
    assert said in str(problem)
    assert (problem.line, problem.column) == (line, 13)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("0..2", "more than 0"),
        ("1..200", "100 or less"),
        ("a..b", "not a number"),
        ("2..1", "smaller"),
    ],
)
def test_a_range_of_plain_numbers_keeps_to_its_limits(written: str, said: str) -> None:
    with pytest.raises(SiteError, match=said):
        read(text().replace("x/r: 1..2", f'x/r: "{written}"'))


def test_the_plan_says_what_was_taken() -> None:
    said = {one.where: one.text for one in plan(read(text())).assumptions}
    assert "220 ft is taken, the middle" in said["length of pump house feeder"]
    assert "150 ohm m is taken, what is most likely" in said["soil"]


def test_a_harmonic_may_be_a_range_too() -> None:
    site = read(text().replace("pf: 0.7..0.9}", "harmonics: {3: 10..30 %}}"))
    found = unknowns(site)[-2]
    assert (found.name, found.text, found.nominal) == (
        "harmonic 3 of load 1 of well pump",
        "10..30 %",
        "20 %",
    )
    assert with_values(site, {found.path: 0.25}).places["well pump"].loads[0].harmonics[3] == 0.25
    assert read(dump(site)) == site


def test_values_are_put_in_their_places() -> None:
    site = read(text())
    found = with_values(site, {one.path: one.value.at(0.25) for one in unknowns(site)})
    assert unknowns(found) == ()
    assert found.places["well pump"].loads[0].pf == pytest.approx(0.75)
    assert found.runs["pump house feeder"].length == pytest.approx(200 * 0.3048)
    assert found.runs["pump branch"] == site.runs["pump branch"]


@given(st.floats(0, 1), st.floats(0, 1))
def test_shares_of_a_triangle(peak: float, share: float) -> None:
    """The distribution function of a triangle, (x - a)^2 / ((b - a)(c - a)) up to its peak c."""
    x = Range(0, 1, peak).at(share)
    below = x * x / peak if x < peak else 1 - (1 - x) ** 2 / (1 - peak) if peak < 1 else x * x
    assert below == pytest.approx(share, abs=1e-9)


def test_it_counts_as_its_nominal_value() -> None:
    one = Range(1, 3)
    assert one + 1 == 3
    assert float(np.array([one])[0]) == 2
    assert one != 2  # a range is not its middle
    assert one == Range(1, 3)
    assert one != Range(1, 3, 2)
    with pytest.raises(ValueError, match="no range"):
        Range(3, 1)
