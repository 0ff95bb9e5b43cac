"""No clause is left out, and no handled clause names a rule that isn't there.

The list of sections and first subdivisions of NFPA 70 article 250 below is from memory, apart
from those named in the header of clauses.yaml, which were read in public pages. It is kept here,
outside the data, so that a line dropped there is noticed.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

import pytest

from bondwright.catalog.parameters import EDITIONS
from bondwright.rules.checklist import items
from bondwright.rules.coverage import (
    MEANING,
    Clause,
    Handling,
    clauses,
    counts,
    coverage,
    under,
)
from bondwright.rules.editions import UnknownRulesError, catalogue
from scripts import make_coverage
from scripts.make_docs import DOES

SECTIONS_2017: Mapping[str, str] = {
    "1": "", "2": "", "3": "", "4": "AB", "6": "ABCDE", "8": "AB", "10": "", "12": "",
    "20": "ABCD", "21": "ABC", "22": "", "24": "ABCDE", "26": "", "28": "ABCD", "30": "ABC",
    "32": "ABCDE", "34": "ABC", "35": "AB", "36": "ABCDEFG",
    "50": "", "52": "AB", "53": "ABCDEFGH", "54": "", "58": "", "60": "", "62": "",
    "64": "ABCDEF", "66": "ABC", "68": "ABC", "70": "",
    "80": "", "84": "AB", "86": "",
    "90": "", "92": "AB", "94": "AB", "96": "AB", "97": "", "98": "", "100": "",
    "102": "ABCDE", "104": "ABCD", "106": "",
    "110": "", "112": "ABCDEFGHIJKLM", "114": "1234", "116": "", "118": "", "119": "ABC",
    "120": "ABC", "121": "", "122": "ABCDEFG", "124": "AB", "126": "",
    "130": "ABC", "132": "", "134": "", "136": "AB", "138": "AB", "140": "", "142": "AB",
    "144": "", "146": "ABCD", "148": "ABCDE",
    "160": "", "162": "AB", "164": "AB", "166": "ABCDE", "167": "ABC", "168": "", "169": "",
    "170": "", "172": "", "174": "ABC", "176": "", "178": "",
    "180": "", "182": "", "184": "ABC", "186": "AB", "187": "ABCD", "188": "ABCDEF",
    "190": "ABC", "191": "", "194": "AB",
}  # fmt: skip
SECTIONS: Mapping[int, Mapping[str, str]] = {
    2017: SECTIONS_2017,
    2020: {**SECTIONS_2017, "25": "AB", "109": "", "121": "AB", "136": ""},
    2023: {
        **{section: letters for section, letters in SECTIONS_2017.items() if section != "2"},
        "24": "ABCDEF",
        "25": "AB",
        "53": "ABCDEF",
        "64": "ABCDEFG",
        "109": "",
        "118": "AB",
        "121": "AB",
        "136": "",
        "140": "AB",
    },
}


def existing(year: int) -> list[str]:
    """Return every section and first subdivision of article 250 in an edition."""
    found = []
    for section, letters in SECTIONS[year].items():
        found += [f"250.{section}({letter})" for letter in letters] or [f"250.{section}"]
    return found


def numbers(year: int, lines: Iterable[Clause]) -> list[str]:
    return [line.numbers[year] for line in lines if year in line.numbers]


def left_out(year: int, lines: Iterable[Clause]) -> list[str]:
    """Return what exists in an edition and has no line, nor any line below it."""
    have = numbers(year, lines)
    return [want for want in existing(year) if not any(under(number, want) for number in have)]


@pytest.mark.parametrize("year", EDITIONS)
def test_no_clause_is_left_out(year: int) -> None:
    assert left_out(year, clauses()) == []


@pytest.mark.parametrize("year", EDITIONS)
@pytest.mark.parametrize("dropped", ["250.50", "250.66(B)", "250.104(B)", "250.194(A)"])
def test_a_dropped_clause_is_noticed(year: int, dropped: str) -> None:
    kept = [line for line in clauses() if line.numbers.get(year) != dropped]
    assert left_out(year, kept) == [dropped]


@pytest.mark.parametrize("year", EDITIONS)
def test_no_line_names_a_section_that_is_not_there(year: int) -> None:
    there = existing(year)
    article = [number for number in numbers(year, clauses()) if number.startswith("250.")]
    above = {number.partition("(")[0] for number in there}
    assert [n for n in article if not any(under(n, one) for one in there) and n not in above] == []
    assert len(article) > 200


@pytest.mark.parametrize("year", EDITIONS)
def test_no_line_stands_twice(year: int) -> None:
    lines = [(line.numbers[year], line.title) for line in clauses() if year in line.numbers]
    assert len(lines) == len(set(lines))


def test_what_changed_between_editions() -> None:
    """Trade journals, licence-renewal pages and forum threads (250.118: memory)."""
    have = {year: set(numbers(year, clauses())) for year in EDITIONS}
    for number, since in (
        ("250.25(A)", 2020),
        ("250.109", 2020),
        ("250.121(B)", 2020),
        ("250.64(G)", 2023),
        ("250.140(B)", 2023),
        ("250.118(B)", 2023),
    ):
        assert [year for year in EDITIONS if number in have[year]] == [
            year for year in EDITIONS if year >= since
        ]
    (load_side,) = (line for line in clauses() if line.title == "no join on the load side")
    assert dict(load_side.numbers) == {
        2017: "250.24(A)(5)",
        2020: "250.24(A)(5)",
        2023: "250.24(B)",
    }


# --- what handles them ------------------------------------------------------------------------


def meets(number: str, text: str) -> bool:
    return under(number, text) or under(text, number)


def without_line(
    ids: Mapping[str, Mapping[int, str]], lines: Iterable[Clause], look: bool
) -> list[str]:
    """Return rule or checklist ids of which a clause has no line that names them."""
    known = list(lines)
    found = []
    for id, by_year in ids.items():
        for year, texts in by_year.items():
            for text in texts.split(", "):
                named = any(
                    year in line.numbers
                    and meets(line.numbers[year], text)
                    and id in (line.look if look else line.rules)
                    for line in known
                )
                if not named:
                    found.append(f"{id} {year} {text}")
    return found


RULES = {
    id: {year: text for year, text in rule.clauses.items() if year in EDITIONS}
    for id, rule in catalogue().items()
}
LOOK = {id: dict(item.clauses) for id, item in items().items()}


def test_every_rule_has_a_clause_line() -> None:
    assert without_line(RULES, clauses(), look=False) == []


def test_every_checklist_line_has_a_clause_line() -> None:
    assert without_line(LOOK, clauses(), look=True) == []


def test_a_rule_without_a_line_is_noticed() -> None:
    new = {"no-such-rule": dict.fromkeys(EDITIONS, "250.66")}
    assert len(without_line(new, clauses(), look=False)) == len(EDITIONS)
    elsewhere = {"electrode-conductor": dict.fromkeys(EDITIONS, "250.97")}
    assert len(without_line(elsewhere, clauses(), look=False)) == len(EDITIONS)


ALL = pytest.mark.parametrize("line", clauses(), ids=lambda c: f"{[*c.numbers.values()][-1]}")


@ALL
def test_what_a_line_names_is_there(line: Clause) -> None:
    assert set(line.rules) <= set(catalogue())
    assert set(line.look) <= set(items())
    assert len(set(line.rules)) == len(line.rules)
    assert len(set(line.look)) == len(line.look)


@ALL
def test_a_line_is_handled_by_what_it_says(line: Clause) -> None:
    assert set(line.handling) == set(line.numbers)
    for ways in line.handling.values():
        assert ways
        assert len(set(ways)) == len(ways)
        if {Handling.COMPUTED, Handling.CHECKED} & set(ways):
            assert line.rules, "says computed or checked, and names no rule"
        if Handling.ASKED in ways:
            assert line.rules or line.look, "says asked, and names nobody who asks"
        if line.look:
            assert Handling.ASKED in ways, "names checklist lines, and doesn't say asked"
        if not {Handling.COMPUTED, Handling.CHECKED, Handling.ASKED} & set(ways):
            assert not line.rules
            assert len(ways) == 1
        if {Handling.DEFERRED, Handling.NOT_FOR_BUILDINGS} & set(ways):
            assert line.note, "needs its reason"
    assert line.title == line.title.strip(" .")


@ALL
def test_a_line_claims_no_more_than_its_rules_do(line: Clause) -> None:
    """The page of the rules says of each rule whether it computes, checks or asks."""
    does = " ".join(DOES.get(rule, "") for rule in line.rules)
    for ways in line.handling.values():
        if Handling.COMPUTED in ways:
            assert "computed" in does
        if Handling.CHECKED in ways:
            assert "checked" in does or "computed" in does
        if Handling.ASKED in ways and not line.look:
            assert "asked" in does


# --- the rows and the page --------------------------------------------------------------------


@pytest.mark.parametrize("year", EDITIONS)
def test_rows_of_an_edition(year: int) -> None:
    rows = coverage(f"nec-{year}")
    assert [row.number for row in rows] == numbers(year, clauses())
    found = counts(f"nec-{year}")
    assert list(found) == list(Handling)
    assert sum(found.values()) == len(rows)
    for way, number in found.items():
        assert number == len([row for row in rows if row.handling[0] is way])
    assert set(MEANING) == set(Handling)


def test_unknown_rules_are_refused() -> None:
    with pytest.raises(UnknownRulesError, match="nec-2032"):
        coverage("nec-2032")


@pytest.mark.parametrize(
    ("number", "above", "is_under"),
    [
        ("250.24(A)(5)", "250.24(A)", True),
        ("250.24(A)", "250.24", True),
        ("250.24", "250.24", True),
        ("250.24", "250.2", False),
        ("250.24(A)", "250.24(A)(5)", False),
    ],
)
def test_under(number: str, above: str, is_under: bool) -> None:
    assert under(number, above) is is_under


def test_page_is_fresh() -> None:
    assert make_coverage.PAGE.read_text(encoding="utf-8") == make_coverage.page(), (
        "stale: run python scripts/make_coverage.py"
    )


def test_check_names_a_stale_page_and_writes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "coverage.md"
    monkeypatch.setattr(make_coverage, "PAGE", page)
    page.write_text("# Clause by clause\n", encoding="utf-8")
    assert make_coverage.main(["--check"]) == 1
    assert page.read_text(encoding="utf-8") == "# Clause by clause\n"
    assert capsys.readouterr().out == "stale: docs/coverage.md\n"
    assert make_coverage.main([]) == 0
    assert make_coverage.main(["--check"]) == 0
    page.unlink()
    assert make_coverage.main(["--check"]) == 1


def test_page_has_every_clause_and_every_id() -> None:
    text = make_coverage.page()
    for line in clauses():
        assert line.title in text
        assert all(number in text for number in line.numbers.values())
    for id in (*catalogue(), *items()):
        assert text.count(f"\n### {id}\n") == 1
