"""Every rule has an id, a clause in each edition, and a test that names it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bondwright.rules.editions import EDITIONS, Rule, UnknownRulesError, catalogue, clause

ROOT = Path(__file__).parents[2]
USED = re.compile(r'"([a-z]+(?:-[a-z]+)+)"')


def test_every_rule_is_named_by_a_test() -> None:
    texts = [
        path.read_text(encoding="utf-8")
        for folder in ("rules", "plan")
        for path in (ROOT / "tests" / folder).glob("test_*.py")
        if path != Path(__file__)
    ]
    named = {id for text in texts for id in USED.findall(text)}
    assert set(catalogue()) - named == set()


def test_every_rule_is_used() -> None:
    texts = [
        path.read_text(encoding="utf-8")
        for folder in ("rules", "plan")
        for path in (ROOT / "src" / "bondwright" / folder).glob("*.py")
    ]
    used = {id for text in texts for id in USED.findall(text)}
    # The jumpers' ids are made from the name of their role.
    made = {f"{role}-bonding-jumper" for role in ("main", "system", "supply-side")}
    assert set(catalogue()) - used - made == set()


@pytest.mark.parametrize("found", catalogue().values(), ids=catalogue().keys())
def test_every_rule_has_its_clauses(found: Rule) -> None:
    assert set(found.clauses) == set(EDITIONS.values())
    assert all(re.match(r"^\d{3}\.\d", text) for text in found.clauses.values())
    assert found.title


def test_clauses_follow_the_edition() -> None:
    # Renumbering of 250.24 in the 2023 edition: memory.
    assert clause("tie-load-side", "nec-2020") == "NEC 2020 250.24(A)(5), 250.142(B)"
    assert clause("tie-load-side", "nec-2023") == "NEC 2023 250.24(B), 250.142(B)"
    assert clause("tie-missing", "nec-2017") == "NEC 2017 250.24(B)"


@pytest.mark.parametrize(
    ("name", "hint"),
    [
        ("nec2023", "did you mean 'nec-2023'?"),
        ("us-2020", "did you mean 'nec-2020'?"),
        ("necc", "did you mean "),  # a far one, but near enough to ask
        ("qqq", "known are nec-2017, nec-2020, nec-2023"),
    ],
)
def test_a_wrong_name_has_a_hint(name: str, hint: str) -> None:
    error = UnknownRulesError(name)
    assert error.name == name
    assert error.hint.startswith(hint)
    assert error.hint in str(error)
