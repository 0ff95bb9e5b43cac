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
    assert (found.mutants, found.wording, found.tried, found.killed) == (5, 2, 3, 2)
    assert found.alive == (NAMES[3],)
    text = mutate.page([found], "python scripts/mutate.py")
    assert "2 of 3 were killed: 66.7 %" in text
    assert "- `rules.f.x_f__mutmut_4`" in text


def test_every_module_of_rules_and_plan_is_meant() -> None:
    found = mutate.modules_of(mutate.FOLDERS)
    assert "rules/ties.py" in found
    assert "plan/build.py" in found
    assert not any(name.endswith("__init__.py") for name in found)
