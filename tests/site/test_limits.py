"""Files made to hurt, and files of noise: an error in good time, never anything else."""

from __future__ import annotations

import time
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.site import Site, SiteError, load, read
from bondwright.site.text_file import MAX_BYTES, decode
from tests.site.marked import GOOD


def refused(text: str) -> SiteError:
    with pytest.raises(SiteError) as caught:
        read(text, "f")
    return caught.value


def test_a_large_file_is_refused_unread(tmp_path: Path) -> None:
    file = tmp_path / "large.yaml"
    with file.open("wb") as out:
        out.truncate(50 * 2**20)
    tracemalloc.start()
    begin = time.process_time()
    with pytest.raises(SiteError, match=r"large\.yaml:1:1: the file is larger than 8 MiB"):
        load(file)
    assert time.process_time() - begin < 30  # refused at once, not after long work
    assert tracemalloc.get_traced_memory()[1] < 2**20
    tracemalloc.stop()


def test_a_long_text_is_refused_unparsed() -> None:
    begin = time.process_time()
    error = refused("a: b\n" * (MAX_BYTES // 4))
    assert time.process_time() - begin < 30  # refused at once, not after long work
    assert "larger than 8 MiB" in str(error)


def bomb(levels: int, width: int) -> str:
    lines = ["a0: &a0 [x]"]
    for level in range(1, levels):
        inside = ", ".join([f"*a{level - 1}"] * width)
        lines.append(f"a{level}: &a{level} [{inside}]")
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(("levels", "width"), [(9, 9), (30, 10), (2000, 20)])
def test_an_alias_bomb_is_refused_in_no_time(levels: int, width: int) -> None:
    text = bomb(levels, width)
    tracemalloc.start()
    begin = time.process_time()
    error = refused(text)
    took = time.process_time() - begin
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert took < 30  # of the processor, with memory traced; refused at once, not after long work
    assert peak < 100 * 2**20
    assert any("has an anchor" in p.problem for p in error.problems)
    assert any("is an alias" in p.problem for p in error.problems)


def test_the_classic_bomb_takes_less_than_a_second() -> None:
    begin = time.process_time()
    refused(bomb(9, 9))
    assert time.process_time() - begin < 30  # refused at once, not after long work


@pytest.mark.parametrize("opener", ["[", "{a: ", "- "])
def test_deep_nesting_is_refused(opener: str) -> None:
    error = refused("a:\n  " + opener * 100_000)
    assert "nested more than 32 deep" in str(error)


def test_too_many_values_are_refused() -> None:
    begin = time.process_time()
    error = refused("note: [" + "1," * 1_100_000 + "]\n")
    assert time.process_time() - begin < 60  # refused, not hung
    assert "is beyond 1,000,000 values" in str(error)


def test_thousands_of_slips_are_listed_short() -> None:
    text = GOOD + "".join(f"slip {number}: 1\n" for number in range(3000))
    error = refused(text)
    assert len(error.problems) == 3000
    assert len(str(error).splitlines()) == 51
    assert str(error).endswith("... and 2950 more")


def test_a_very_long_chain_of_runs_is_refused_without_a_crash() -> None:
    places = "".join(f"  p{n}: {{kind: box}}\n" for n in range(3000))
    runs = "".join(
        f"  r{n}: {{from: {'u' if n == 0 else f'p{n - 1}'}, to: p{n}, length: 1 ft, "
        "lines: 4 AWG Cu}\n"
        for n in range(3000)
    )
    head = "site: x\nsources: {u: {system: 120/240 V, available: {current: 10 kA}}}\n"
    error = refused(f"{head}places:\n{places}runs:\n{runs}")
    (problem,) = error.problems
    assert "more than 1,000 runs in a row" in problem.problem
    assert problem.text == "p1000"


@pytest.mark.parametrize(
    ("data", "line", "column", "text", "problem"),
    [
        (b"site: caf\xe9\n", 1, 10, "byte 0xe9", "is no UTF-8 text"),
        ("site: é".encode() + b"\n# \xff", 2, 3, "byte 0xff", "is no UTF-8 text"),
        (b"\x80", 1, 1, "byte 0x80", "is no UTF-8 text"),
    ],
)
def test_bytes_that_are_no_utf8(
    data: bytes, line: int, column: int, text: str, problem: str, tmp_path: Path
) -> None:
    file = tmp_path / "f.yaml"
    file.write_bytes(data)
    with pytest.raises(SiteError) as caught:
        load(file)
    (found,) = caught.value.problems
    assert (found.line, found.column, found.text, found.problem) == (line, column, text, problem)
    assert found.hint == "save the file as UTF-8"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_utf16_is_named(encoding: str, tmp_path: Path) -> None:
    file = tmp_path / "f.yaml"
    mark = "" if encoding == "utf-16" else "\ufeff"
    file.write_bytes((mark + GOOD).encode(encoding))
    with pytest.raises(SiteError, match="UTF-16; save it as UTF-8"):
        load(file)


def test_what_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match="can't be opened: no such file"):
        load(tmp_path / "none.yaml")
    with pytest.raises(SiteError, match="can't be opened"):
        load(tmp_path)
    with pytest.raises(SiteError, match="can't be opened"):
        load("a\x00b")


def outcome(text: str) -> Site | SiteError:
    try:
        return read(text, "f")
    except SiteError as error:
        return error


def never_anything_else(text: str) -> None:
    found = outcome(text)
    if isinstance(found, Site):
        return
    assert found.problems
    lines = text.count("\n") + text.count("\r") + 1
    for problem in found.problems:
        assert 1 <= problem.line <= lines
        assert problem.column >= 1
        assert problem.problem
        assert "\n" not in str(problem)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=200))
def test_random_bytes(data: bytes) -> None:
    try:
        text = decode(data, "f")
    except SiteError:
        return
    never_anything_else(text)


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=200))
def test_random_text(text: str) -> None:
    never_anything_else(text)


PIECES = st.sampled_from(
    [
        "site", "sources", "places", "runs", "ties", "electrodes", "metal", "from", "to", "at",
        "kind", "lines", "length", "u", "p", "panel", "4 AWG Cu", "75 ft", "120/240 V", ": ", ":",
        "\n", "\n  ", "\n    ", "- ", "{", "}", "[", "]", ", ", "'", '"', "#", "&a ", "*a", "!t ",
        "<<", "?", "|", ">", "\t", "%", "@", "---\n", "~", "true", "1", "-1", ".nan", "1e400", "é",
    ]
)  # fmt: skip


@settings(max_examples=500, deadline=None)
@given(st.lists(PIECES, max_size=40).map("".join))
def test_random_yaml(text: str) -> None:
    never_anything_else(text)


@settings(max_examples=300, deadline=None)
@given(st.integers(0, len(GOOD)), st.integers(0, 40), st.lists(PIECES, max_size=3).map("".join))
def test_a_good_file_with_a_hole_in_it(start: int, length: int, piece: str) -> None:
    never_anything_else(GOOD[:start] + piece + GOOD[start + length :])
