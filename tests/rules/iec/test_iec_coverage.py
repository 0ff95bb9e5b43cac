"""No clause of the two parts is left out, and no line names a rule that isn't there.

The clauses below are from memory. They are kept apart from the data, so that a line dropped there
is noticed.
"""

from __future__ import annotations

import pytest

from bondwright.rules.coverage import Handling
from bondwright.rules.iec.coverage import IecClause, clauses
from bondwright.rules.iec.ruleset import catalogue
from scripts.make_docs import IEC_DOES

THERE = {
    "4-41": (
        "410.3", "411.2", "411.3.1.1", "411.3.1.2", "411.3.2", "411.3.3", "411.3.4",
        "411.4.1", "411.4.2", "411.4.3", "411.4.4", "411.4.5",
        "411.5.1", "411.5.2", "411.5.3", "411.5.4",
        "411.6.1", "411.6.2", "411.6.3", "411.6.4", "411.7", "412", "413", "414", "415.1", "415.2",
    ),
    "5-54": (
        "541", "542.1", "542.2", "542.3", "542.4", "543.1.1", "543.1.2", "543.1.3", "543.1.4",
        "543.2", "543.3", "543.4.1", "543.4.3", "543.5", "543.6", "543.7", "544.1", "544.2",
    ),
}  # fmt: skip
ALL = pytest.mark.parametrize("line", clauses().values(), ids=clauses().keys())


@pytest.mark.parametrize(("part", "wanted"), [(p, c) for p, cs in THERE.items() for c in cs])
def test_no_clause_is_left_out(part: str, wanted: str) -> None:
    whole = f"{part} {wanted}"
    assert any(number == whole or number.startswith(f"{whole}.") for number in clauses())


@ALL
def test_a_line_names_rules_that_are_there(line: IecClause) -> None:
    assert set(line.rules) <= set(catalogue())
    by_rule = {Handling.COMPUTED, Handling.CHECKED, Handling.ASKED}
    assert bool(line.rules) is (line.handling in by_rule)


@ALL
def test_a_line_claims_no_more_than_its_rules_do(line: IecClause) -> None:
    does = " ".join(IEC_DOES[rule] for rule in line.rules)
    if line.handling is Handling.COMPUTED:
        assert "computed" in does or "function" in line.note
    if line.handling is Handling.CHECKED:
        assert "checked" in does or "computed" in does
    if line.handling is Handling.ASKED:
        assert "asked" in does


def test_every_rule_has_a_line() -> None:
    named = {rule for line in clauses().values() for rule in line.rules}
    assert set(catalogue()) - named == set()


def test_every_rule_says_what_is_done_about_it() -> None:
    assert set(IEC_DOES) == set(catalogue())
