"""The script that spoils the code: what counts as wording, what is drawn, what the page says."""

from __future__ import annotations

import ast
import json
from pathlib import Path

import pytest
from click import ClickException

from scripts import mutate, spoiled

SOURCE = """
def x_f__mutmut_orig(a):
    return say("a sentence", f"of {a} words", "rule-id") if a > 1 else 2

def x_f__mutmut_1(a):
    return say("XXa sentenceXX", f"of {a} words", "rule-id") if a > 1 else 2

def x_f__mutmut_2(a):
    return say("a sentence", f"OF {a} WORDS", "rule-id") if a > 1 else 2

def x_f__mutmut_3(a):
    return say("a sentence", f"of {a} words", "XXrule-idXX") if a > 1 else 2

def x_f__mutmut_4(a):
    return say("a sentence", f"of {a} words", "rule-id") if a >= 1 else 2

def x_f__mutmut_5(a):
    return say("a sentence", f"of {None} words", "rule-id") if a > 1 else 2
"""
NAMES = [f"bondwright.rules.f.x_f__mutmut_{k}" for k in range(1, 6)]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    place = tmp_path / "mutants" / "src" / "bondwright" / "rules"
    place.mkdir(parents=True)
    (place / "f.py").write_text(SOURCE)
    codes = dict(zip(NAMES, [0, 0, 1, 0, spoiled.STOPPED], strict=True))
    (place / "f.py.meta").write_text(json.dumps({"exit_code_by_key": codes}))
    return tmp_path


@pytest.fixture(autouse=True)
def _no_source(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(mutate, "read_once", lambda module: frozenset[str]())  # noqa: ARG005


def test_what_runs_only_while_a_file_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    found = mutate.read_once("rules/editions.py")
    assert "_rule" in found
    assert not {"clause", "edition", "catalogue"} & found
    assert mutate.read_once("rules/ties.py") == frozenset()


def test_only_sentences_count_as_wording(folder: Path) -> None:
    found = mutate.only_wording(folder, "rules/f.py")
    assert found == {"x_f__mutmut_1", "x_f__mutmut_2"}


def test_what_is_drawn_can_be_drawn_again(folder: Path) -> None:
    assert set(mutate.drawn(folder, ["rules/f.py"], 9, 1)) == set(NAMES[2:])
    once = list(mutate.drawn(folder, ["rules/f.py"], 2, 5))
    assert once == list(mutate.drawn(folder, ["rules/f.py"], 2, 5))
    assert len(once) == 2


def test_a_survivor_counts_against_it(folder: Path) -> None:
    found = mutate.score(folder, "rules/f.py", frozenset(NAMES[2:]))
    assert (found.mutants, found.left_out, found.tried, found.killed) == (5, 2, 3, 1)
    assert found.alive == tuple(NAMES[3:])
    assert found.stopped == (NAMES[4],)
    text = mutate.page({"safety": mutate.Run("2030-01-02", 5, 3, (), (found,))})
    assert "1 of 3 were killed: 33.3 %" in text
    assert "| safety | 2030-01-02 | 5 | 5 | 3 | 1 | 33.3 % | 33.3 % |" in text
    assert 'python scripts/mutate.py --part "safety" --number 3 --seed 5' in text
    lived, _, stopped = text.partition("Of these, tests ran on until they were stopped:")
    assert "- `rules.f.x_f__mutmut_4`" in lived
    assert "- `rules.f.x_f__mutmut_5`" in lived
    assert "mutmut_4" not in stopped
    assert "- `rules.f.x_f__mutmut_5`" in stopped


@pytest.mark.parametrize(
    ("seen", "words"),
    [
        ((), "No tests had been written for what lived with any seed.\nThe seed of this run is 7."),
        ((1, 2), "with seeds 1, 2.\nThe seed of this run is 7."),
        ((7,), "with seed 7.\nThe seed of this run is 7, one of them."),
    ],
)
def test_the_page_says_whether_tests_were_written_for_its_seed(
    seen: tuple[int, ...], words: str
) -> None:
    text = mutate.page({"safety": mutate.Run("2030-01-02", 7, 3, seen, ())})
    assert words in text
    assert "none tried" in text


def test_the_page_says_what_is_kept_and_nothing_was_measured_with_a_seed_it_was_made_for() -> None:
    kept = mutate.read_kept(mutate.KEPT.read_text(encoding="utf-8"))
    assert mutate.page(kept) == mutate.PAGE.read_text(encoding="utf-8")
    assert mutate.read_kept(mutate.written(kept)) == kept
    for name, run in kept.items():
        assert run.seed not in run.seen
        assert set(run.seen) <= set(mutate.PARTS[name].seen)
        there = mutate.modules_of(mutate.PARTS[name].folders)
        measured = [one.module for one in run.scores]
        assert measured == [module for module in there if module in measured]
        for later in set(there) - set(measured):
            assert f"`{later}`" in mutate.page(kept).partition("not measured yet")[2]
        for one in run.scores:
            assert one.tried == one.killed + len(one.alive) <= one.able


def test_small_and_large_modules_count_by_their_size() -> None:
    small = mutate.Score("rules/s.py", 12, 2, 5, 5, ())
    large = mutate.Score("rules/l.py", 90, 0, 5, 4, ("x",))
    none = mutate.Score("rules/n.py", 0, 0, 0, 0, ())
    # (10 x 100 % + 90 x 80 %) / 100
    assert mutate.by_size([small, large, none]) == pytest.approx(82.0)
    assert mutate.by_size([none]) == 0.0


def test_every_module_of_the_parts_is_meant() -> None:
    found = [name for part in mutate.PARTS.values() for name in mutate.modules_of(part.folders)]
    assert {"rules/ties.py", "plan/build.py", "network/solve.py", "studies/hunt/rank.py"} <= set(
        found
    )
    assert not any(name.endswith("__init__.py") for name in found)
    assert len(found) == len(set(found))
    base = mutate.ROOT / "src" / "bondwright"
    every = {path.relative_to(base).as_posix() for path in base.glob("studies/**/*.py")}
    assert {name for name in every if not name.endswith("__init__.py")} <= set(found)


@pytest.mark.parametrize("name", list(mutate.PARTS))
def test_the_tests_of_a_part_are_there(name: str) -> None:
    part = mutate.PARTS[name]
    found = mutate.files_of(part)
    assert all((mutate.ROOT / each).exists() for each in found)
    assert all(list(mutate.ROOT.glob(each)) for each in part.tests)
    for each in part.not_run:
        file, _, test = each.partition("::")
        text = (mutate.ROOT / file).read_text(encoding="utf-8")
        assert not test or f"def {test}(" in text


@pytest.mark.parametrize(
    ("spoilt", "lines"),
    [
        ("def g(a, b=2):\n    c = a + b\n    if c:\n        return f(c,\n  1)\n    return c", [1]),
        ("def g(a, b=1):\n    c = a - b\n    if c:\n        return f(c,\n  1)\n    return c", [2]),
        ("def g(a, b=1):\n    c = a + b\n    if c:\n        return f(c,\n  2)\n    return c", [4]),
        ("def g(a, b=1):\n    c = a + b\n    if 1:\n        return f(c,\n  1)\n    return c", [3]),
        (
            "def g(a, b=1):\n    c = None\n    if c:\n        return f(c,\n  1)\n    return a",
            [2, 6],
        ),
        ("def g(a, b=1):\n    c = a + b\n    return c", [1]),
        ("def g(a, b=1):\n    c = a + b\n    if c:\n        pass\n    return c", [4]),
    ],
)
def test_the_smallest_statement_that_is_spoilt(spoilt: str, lines: list[int]) -> None:
    text = "def h(a, b=1):\n    c = a + b\n    if c:\n        return f(c,\n  1)\n    return c"
    (before,), (after,) = ast.parse(text).body, ast.parse(spoilt).body
    assert [place.lineno for place in mutate.changed(before, after)] == lines
    assert mutate.changed(before, before) == []


ONE = """
def x_f__mutmut_{}(a):
    if a > 1:
        return {}
    if a < -1:
        return {}
    if a == 1:
        return {}
    return {}

"""
PICKED = (
    "import os\n\n"
    + ONE.format("orig", 5, 6, 3, 7)
    + ONE.format(1, 4, 6, 3, 7)
    + ONE.format(2, 5, 8, 3, 7)
    + ONE.format(3, 5, 6, 3, 9)
    + ONE.format(4, 5, 6, 2, 7)
    + """
def f(a):
    last = os.environ.get("MUTANT_UNDER_TEST", "").rpartition(".")[2]
    return globals().get(last, x_f__mutmut_orig)(a)
"""
)
TRIED = """
from bondwright.safety.f import f


def test_large():
    assert f(3) == 5


def test_middle():
    print("said", f(0))
"""
KEPT = """
from functools import cache

from bondwright.safety.f import f


@cache
def answer():
    return f(-3)


def test_asks():
    print("said", answer())


def test_looks():
    assert answer() == 6
"""
DOTTED = [f"bondwright.safety.f.x_f__mutmut_{k}" for k in (1, 2, 3, 4)]


@pytest.fixture
def small(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy with one spoiled module, and tests of which one looks at the answer."""
    pytest.importorskip("coverage")
    base = tmp_path / mutate.COPY
    for path, text in {
        "src/bondwright/__init__.py": "",
        "src/bondwright/safety/__init__.py": "",
        "src/bondwright/safety/f.py": PICKED,
        "src/bondwright/safety/f.py.meta": json.dumps({"exit_code_by_key": dict.fromkeys(DOTTED)}),
        "tests/safety/test_f.py": TRIED,
        "tests/safety/test_kept.py": KEPT,
        "scripts/spoiled.py": Path(spoiled.__file__).read_text(encoding="utf-8"),
        "pyproject.toml": "[tool.pytest.ini_options]\n",
    }.items():
        (base / path).parent.mkdir(parents=True, exist_ok=True)
        (base / path).write_text(text, encoding="utf-8")
    monkeypatch.setattr(mutate, "files_of", lambda part: ["tests/safety"])  # noqa: ARG005
    return tmp_path


def test_what_a_test_looks_at_is_killed_and_what_none_reaches_lives(small: Path) -> None:
    """A test that only looks at what another one asked for is run beside it."""
    part = mutate.PARTS["safety"]
    reached = mutate.learn(small, ["safety/f.py"], part)
    large, middle = (f"tests/safety/test_f.py::test_{name}" for name in ("large", "middle"))
    asks, looks = (f"tests/safety/test_kept.py::test_{name}" for name in ("asks", "looks"))
    assert set(reached.took) == {large, middle, asks, looks}
    due = [{large}, {asks, looks}, {middle}, set[str]()]
    found = mutate.reaching(small, DOTTED, reached)
    assert found == dict(zip(DOTTED, map(frozenset, due), strict=True))
    mutate.attempt(small, part, DOTTED, reached, 1)
    codes = mutate.results(small, "safety/f.py")
    assert codes == dict(zip(DOTTED, [1, 1, 0, spoiled.NO_TESTS], strict=True))
    # Nothing has changed: nothing is run again, and the same is known.
    (small / mutate.COPY / "scripts/spoiled.py").unlink()
    assert mutate.learn(small, ["safety/f.py"], part) == reached


def test_a_test_that_fails_by_itself_kills_nothing(small: Path) -> None:
    part = mutate.PARTS["safety"]
    (small / mutate.COPY / "tests/safety/test_kept.py").unlink()
    with (small / mutate.COPY / "tests/safety/test_f.py").open("a", encoding="utf-8") as file:
        file.write("    global many\n    many = 1\n\n\ndef test_next():\n    assert many\n")
        file.write("    assert f(-3) == 6\n")
    reached = mutate.learn(small, ["safety/f.py"], part)
    with pytest.raises(ClickException, match=r"test_next fails by itself, with nothing spoiled"):
        mutate.attempt(small, part, DOTTED[1:2], reached, 1)


def test_a_module_belongs_to_one_part() -> None:
    assert mutate.part_of("studies/hunt/rank.py") == "studies/hunt"
    assert mutate.part_of("rules/iec/joins.py") == "rules and plan"
    with pytest.raises(ClickException, match="belongs to no part"):
        mutate.part_of("draw/plot.py")
