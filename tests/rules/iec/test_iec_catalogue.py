"""Every rule of the family has an id, clauses, a use and a test that names it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bondwright.rules.editions import UnknownRulesError
from bondwright.rules.editions import catalogue as nec_catalogue
from bondwright.rules.iec.ruleset import RULE_SETS, IecRule, catalogue, clause, is_iec, rule_set

ROOT = Path(__file__).parents[3]
USED = re.compile(r'"(iec(?:-[a-z]+)+)"')


def _named(folder: Path) -> set[str]:
    texts = [
        path.read_text(encoding="utf-8") for path in folder.glob("*.py") if path != Path(__file__)
    ]
    return {name for text in texts for name in USED.findall(text)}


def test_every_rule_is_named_by_a_test() -> None:
    assert set(catalogue()) - _named(ROOT / "tests" / "rules" / "iec") == set()


def test_every_rule_is_used_and_listed() -> None:
    assert _named(ROOT / "src" / "bondwright" / "rules" / "iec") == set(catalogue())


def test_ids_are_apart_from_the_other_family() -> None:
    assert not set(catalogue()) & set(nec_catalogue())


@pytest.mark.parametrize("found", catalogue().values(), ids=catalogue().keys())
def test_every_rule_has_its_clauses(found: IecRule) -> None:
    assert found.title
    assert set(found.clauses) <= {"iec", "bs", "as"}
    said = found.clauses.get("iec", "4-41 411")
    assert re.match(r"^[45]-\d\d \d{3}", said)
    assert all(re.match(r"^\d", text) for text in found.clauses.values())


def test_clauses_follow_the_rule_set() -> None:
    assert clause("iec-protective-adiabatic", "iec-60364-2017") == "IEC 60364-5-54 543.1.2"
    assert clause("iec-protective-adiabatic", "bs-7671-2018") == "BS 7671 543.1.3"
    assert clause("iec-outbuilding", "as-nzs-3000-2018") == "AS/NZS 3000 5.5.3"
    # What a national set doesn't have here is said by IEC 60364; a fact of physics by nobody.
    assert clause("iec-it-monitor", "as-nzs-3000-2018") == "IEC 60364-4-41 411.6.3"
    assert clause("iec-pen-open", "bs-7671-2018") == ""
    assert clause("iec-pme-bonding", "iec-60364-2017") == ""


def test_rule_sets() -> None:
    assert [rule_set(name).cmin.value for name in RULE_SETS] == [1.0, 0.95, 1.0]
    assert is_iec("bs-7671-2018")
    assert not is_iec("nec-2023")
    with pytest.raises(UnknownRulesError, match="did you mean 'bs-7671-2018'"):
        rule_set("bs-7671-2008")
    with pytest.raises(UnknownRulesError, match="known are"):
        rule_set("x")
