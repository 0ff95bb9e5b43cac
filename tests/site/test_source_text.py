"""YAML with places in: scalars of the YAML 1.2 core schema, marks, both parsers."""

from __future__ import annotations

import math
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from bondwright.site import SiteError, read
from bondwright.site import source_text as module
from bondwright.site.source_text import parse
from bondwright.site.yaml_syntax import plain_scalar
from bondwright.site.yaml_text import block, flow, scalar
from tests.site.marked import GOOD, edited

# YAML 1.2.2, section 10.3.2 (core schema), tag resolution; the words of YAML 1.1 stay words.
SCALARS = [
    ("", None), ("~", None), ("null", None), ("Null", None), ("NULL", None), ("nUll", "nUll"),
    ("true", True), ("True", True), ("TRUE", True), ("false", False), ("False", False),
    ("FALSE", False), ("yes", "yes"), ("no", "no"), ("on", "on"), ("off", "off"), ("y", "y"),
    ("0", 0), ("12", 12), ("-19", -19), ("+7", 7), ("1_000", "1_000"), ("1:30", "1:30"),
    ("0.", 0.0), ("-0.0", -0.0), (".5", 0.5), ("+12e03", 12000.0), ("-2E+05", -200000.0),
    ("12e3", 12000.0), ("1e", "1e"), (".", "."), ("+", "+"), ("-", "-"), ("e5", "e5"),
    ("2026-01-02", "2026-01-02"), ("=", "="), ("<<", "<<"),
    # Our own: a leading zero and other bases are no way to write a number on a site.
    ("012", "012"), ("-07", "-07"), ("0o14", "0o14"), ("0x1F", "0x1F"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "value"), SCALARS)
def test_plain_scalars(text: str, value: object) -> None:
    found = plain_scalar(text)
    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize(("text", "value"), [pair for pair in SCALARS if pair[0] not in ("", "-")])
def test_plain_scalars_in_a_file(text: str, value: object) -> None:
    if text == "<<":
        return  # as a value it is text; as a key it is refused (see test_reader)
    assert parse(f"a: {text}\nb: '{text}'\n").data == {"a": value, "b": text}


@pytest.mark.parametrize("text", [".nan", ".NaN", ".NAN", ".inf", "-.inf", "+.INF", ".Inf"])
def test_what_is_not_finite_is_refused_with_its_place(text: str) -> None:
    (problem,) = parse(f"a:\n  b: {text}\n").problems
    assert (problem.line, problem.column, problem.text) == (2, 6, text)


def test_marks_are_where_things_stand() -> None:
    text = "a: 1 # one\nb:\n  - {c: 'x y', d: [e, f]}\n  -  g\nh: |\n  two\n  lines\ni: é😀 z\n"
    source = parse(text)
    expected = {
        ("a",): "1",
        ("b", 0): "{c: 'x y', d: [e, f]}",
        ("b", 0, "c"): "'x y'",
        ("b", 0, "d", 1): "f",
        ("b", 1): "g",
        ("h",): "|\n  two\n  lines",
        ("i",): "é😀 z",
    }
    for path, raw in expected.items():
        mark = source.marks[path].value
        assert text[mark.start : mark.end] == raw
        before = text[: mark.start]
        assert (mark.line, mark.column) == (
            before.count("\n") + 1,
            len(before) - before.rfind("\n"),
        )
    key = source.marks["i",].key
    assert key is not None
    assert text[key.start : key.end] == "i"


def reference_load(text: str) -> Any:
    """PyYAML's own loader with every plain scalar left as text."""

    class Texts(yaml.SafeLoader):
        yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012  # PyYAML's own way

    return yaml.load(text, Loader=Texts)


def test_structure_agrees_with_the_yaml_library() -> None:
    def texts(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: texts(item) for key, item in value.items()}
        if isinstance(value, list):
            return [texts(item) for item in value]
        return value if isinstance(value, str) else None

    def blanked(ours: Any, theirs: Any) -> Any:
        if isinstance(theirs, dict):
            return {key: blanked(ours[key], item) for key, item in theirs.items()}
        if isinstance(theirs, list):
            return [blanked(one, other) for one, other in zip(ours, theirs, strict=True)]
        return theirs if isinstance(ours, str) else None

    ours, theirs = parse(GOOD).data, reference_load(GOOD)
    assert texts(ours) == blanked(ours, theirs)


@given(
    st.recursive(
        st.one_of(
            st.booleans(),
            st.integers(-(10**9), 10**9),
            st.floats(allow_nan=False, allow_infinity=False, width=32),
            st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=30),
        ),
        lambda inner: st.one_of(
            st.lists(inner, max_size=4),
            st.dictionaries(
                st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=9),
                inner,
                max_size=4,
            ),
        ),
        max_leaves=12,
    )
)
def test_what_is_written_reads_back(value: Any) -> None:
    for text in (f"key: {flow(value)}\n", block("key", value, 0)):
        source = parse(text)
        assert not source.problems
        assert source.data == {"key": value}


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("4/0 AWG Cu", "4/0 AWG Cu"),
        ("100 ohm m", "100 ohm m"),
        ("1:30", "1:30"),
        ("L1-N", "L1-N"),
        ("true", '"true"'),
        ("12", '"12"'),
        ("", '""'),
        ("a: b", '"a: b"'),
        ("a # b", '"a # b"'),
        ("x, y", '"x, y"'),
        ("- a", '"- a"'),
        ("two\nlines", '"two\\nlines"'),
        ('5/8"', '"5/8\\""'),
        ("cidery's", "cidery's"),
        (1.5, "1.5"),
        (True, "true"),
        (None, "null"),
    ],
)
def test_scalars_are_quoted_only_where_they_must_be(value: object, text: str) -> None:
    assert scalar(value) == text


def test_numbers_too_long_to_be_meant_stay_text() -> None:
    assert isinstance(plain_scalar("1" * 39), float)
    assert isinstance(plain_scalar("1" * 5000), str)
    value = plain_scalar("1e400")
    assert isinstance(value, float)
    assert math.isinf(value)


@pytest.fixture
def _python_parser(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_LOADER", yaml.SafeLoader)


@pytest.mark.usefixtures("_python_parser")
def test_without_the_c_parser_all_is_the_same() -> None:
    pure = parse(GOOD)
    module._LOADER = yaml.CSafeLoader  # type: ignore[misc]
    assert pure == parse(GOOD)


@pytest.mark.usefixtures("_python_parser")
@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("length: 90 ft", "length: 90", "has no unit"),
        ("building: farmhouse", "building: *x", "is an alias"),
        ("    building: farmhouse", "   building: farmhouse", "does not line up"),
        ("meter: {kind: meter}", "meter: {kind: meter", "bracket"),
        ('note: "range: 240 V"', "note: range: 240 V", "second ':'"),
    ],
)
def test_without_the_c_parser_messages_are_as_clear(old: str, new: str, problem: str) -> None:
    with pytest.raises(SiteError) as caught:
        read(edited((old, new)))
    assert problem in caught.value.problems[0].problem
