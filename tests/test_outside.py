"""Values from outside: what is compared is written down, and the page of them is whole."""

from __future__ import annotations

import json
import math
from collections import Counter

import numpy as np
import pytest

from scripts import make_validation
from tests.outside import between, outside, published, same_circuit, sureness


def _last(request: pytest.FixtureRequest) -> dict[str, object]:
    name, text = request.node.user_properties[-1]
    assert name == "outside"
    found: dict[str, object] = json.loads(text)
    return found


@pytest.fixture
def marked(request: pytest.FixtureRequest) -> pytest.FixtureRequest:
    """A test that names a source, of which nothing is kept."""
    request.node.add_marker(outside("a book", "memory", unit="V"))
    return request


def test_a_comparison_is_written_down(marked: pytest.FixtureRequest) -> None:
    assert 101.0 == published(100.0, rel=0.02)  # noqa: SIM300
    row = _last(marked)
    assert (row["source"], row["status"], row["unit"]) == ("a book", "memory", "V")
    assert (row["ours"], row["published"], row["within"]) == (101.0, 100.0, "2 %")
    assert row["difference"] == pytest.approx(0.01)
    marked.node.user_properties.clear()


def test_what_differs_is_not_equal(marked: pytest.FixtureRequest) -> None:
    assert not 103.0 == published(100.0, rel=0.02)  # noqa: SIM201, SIM300
    assert not 1.0 == published(1.0 + 1e-12)  # noqa: SIM201, SIM300
    assert not math.nan == published(1.0, rel=10.0)  # noqa: SIM201
    assert not published([1.0, 2.0]) == [1.0]  # noqa: SIM201
    assert not 3.0 <= published(2.0)  # noqa: SIM300
    assert not 1.0 >= published(2.0)  # noqa: SIM300
    assert not 3.0 == between(1.0, 2.0)  # noqa: SIM201, SIM300
    assert not "4 AWG" == published("6 AWG")  # noqa: SIM201, SIM300
    marked.node.user_properties.clear()


def test_several_are_compared_one_by_one(marked: pytest.FixtureRequest) -> None:
    assert np.array([1.0, 2.0]) == published([1.0, 2.0], rel=1e-6)
    assert published({"a": 1}) == {"a": 1}
    assert len(marked.node.user_properties) == 3
    marked.node.user_properties.clear()


def test_a_circuit_that_differs_fails(marked: pytest.FixtureRequest) -> None:
    theirs, nodes = {"1": 100 + 0j, "2": 50 + 0j}, {"a": "1", "b": "2", "earth": "0"}
    ours = {"a": 100 + 0j, "b": 50.00001 + 0j}
    same_circuit(theirs, ours.__getitem__, nodes, 1e-6)
    assert _last(marked)["ours"] == "2 nodes"
    with pytest.raises(AssertionError, match="b: "):
        same_circuit(theirs, {**ours, "b": 51}.__getitem__, nodes, 1e-6)
    with pytest.raises(AssertionError):
        same_circuit(theirs, {**ours, "b": complex(math.nan)}.__getitem__, nodes, 1e-6)
    marked.node.user_properties.clear()


def test_a_value_without_a_source_is_refused() -> None:
    with pytest.raises(LookupError, match="names no source"):
        assert 1.0 == published(1.0)  # noqa: SIM300
    with pytest.raises(ValueError, match="is no status"):
        published(1.0, status="sure")
    with pytest.raises(ValueError, match="is no status"):
        outside("a book", "sure")


def test_the_status_of_a_column() -> None:
    both = "confirmed 0.4 s; one-source 5 s"
    assert (sureness(both, "0.4 s"), sureness(both, "5 s")) == ("confirmed", "one-source")
    assert sureness("memory", "5 s") == "memory"


EMPTY = {
    "tests/catalog/test_conductors.py::test_iec_60228": 8,
    "tests/catalog/test_conductors.py::test_table_9": 3,
    "tests/rules/iec/test_iec_tables.py::test_table_41_1": 2,
}
"""Cases that stand for a cell which the table leaves empty: nothing to compare."""


# --- the page ----------------------------------------------------------------------------------


def test_the_page_and_the_list_hold_every_marked_test() -> None:
    """Otherwise: ``python scripts/make_validation.py``."""
    assert make_validation.stale() == []


def test_every_reason_to_leave_a_file_out_is_used() -> None:
    assert set(make_validation.LEFT_OUT) == set(make_validation.left_out())


def test_a_missing_test_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = make_validation.marked()
    monkeypatch.setattr(
        make_validation, "marked", lambda: {**whole, "tests/test_new.py::test_new": ["a book"]}
    )
    assert "not in outside.csv: tests/test_new.py::test_new" in make_validation.stale()


def test_every_case_that_runs_is_in_the_list(request: pytest.FixtureRequest) -> None:
    """In a run of all tests: as many cases of each test as the list has."""
    chosen = request.config.option
    if chosen.keyword or chosen.markexpr or list(request.config.args) != ["tests"]:
        pytest.skip("some of the tests are run only")
    runs = Counter(
        item.nodeid.partition("[")[0]
        for item in request.session.items
        if item.get_closest_marker("outside")
    )
    listed: dict[str, set[str]] = {}
    for row in make_validation.read_list():
        listed.setdefault(row.test, set()).add(row.case)
    more = {
        name: (len(cases), runs[name]) for name, cases in listed.items() if len(cases) > runs[name]
    }
    fewer = {
        name: (len(cases), runs[name])
        for name, cases in listed.items()
        if len(cases) < runs[name] - EMPTY.get(name, 0)
    }
    assert (more, fewer) == ({}, {})
