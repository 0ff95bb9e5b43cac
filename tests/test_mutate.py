"""The script that spoils the code: what counts as wording, what is drawn, what the page says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from scripts import mutate

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
    codes = dict(zip(NAMES, [0, 0, 1, 0, 36], strict=True))
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
    text = mutate.page([found], "python scripts/mutate.py", 5)
    assert "1 of 3 were killed: 33.3 %" in text
    lived, _, stopped = text.partition("Of these, tests ran on until they were stopped:")
    assert "- `rules.f.x_f__mutmut_4`" in lived
    assert "- `rules.f.x_f__mutmut_5`" in lived
    assert "mutmut_4" not in stopped
    assert "- `rules.f.x_f__mutmut_5`" in stopped


@pytest.mark.parametrize(("seed", "words"), [(mutate.SEEN[0], "is one of"), (9, "is not one of")])
def test_the_page_says_whether_tests_were_written_for_its_seed(seed: int, words: str) -> None:
    assert f"the seed of this run, {seed}, {words} them" in mutate.page([], "x", seed)


def test_small_and_large_modules_count_by_their_size() -> None:
    small = mutate.Score("rules/s.py", 12, 2, 5, 5, ())
    large = mutate.Score("rules/l.py", 90, 0, 5, 4, ("x",))
    none = mutate.Score("rules/n.py", 0, 0, 0, 0, ())
    # (10 x 100 % + 90 x 80 %) / 100
    assert mutate.by_size([small, large, none]) == pytest.approx(82.0)
    assert mutate.by_size([none]) == 0.0


def test_every_module_of_rules_and_plan_is_meant() -> None:
    found = mutate.modules_of(mutate.FOLDERS)
    assert "rules/ties.py" in found
    assert "plan/build.py" in found
    assert not any(name.endswith("__init__.py") for name in found)
