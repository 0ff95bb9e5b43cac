"""The glossary: enough words, every region served, every word found again."""

from __future__ import annotations

import pytest

from bondwright.explain.glossary import Dialect, Term, UnknownTermError, glossary, look_up, terms
from bondwright.plan.model import Purpose


def test_it_has_enough_words() -> None:
    assert len(terms()) >= 60


@pytest.mark.parametrize("term", terms().values(), ids=terms().keys())
def test_every_term_is_told(term: Term) -> None:
    assert term.meaning.endswith(".")
    assert 40 <= len(term.meaning) <= 300
    assert any(term.words.values())
    assert set(term.words) == set(Dialect)


@pytest.mark.parametrize("term", terms().values(), ids=terms().keys())
def test_every_word_of_every_region_leads_back(term: Term) -> None:
    for word in (*term.words.values(), *term.also):
        if word is not None:
            assert term in look_up(word.upper())


@pytest.mark.parametrize(
    ("us", "iec", "au"),
    [
        # Common practice: the same things in three dialects.
        ("grounding", "earthing", "earthing"),
        ("equipment grounding conductor", "protective conductor", "protective earthing conductor"),
        ("grounding electrode conductor", "earthing conductor", "main earthing conductor"),
        ("feeder", "distribution circuit", "submain"),
        ("branch circuit", "final circuit", "final subcircuit"),
        ("ground rod", "earth rod", "earth stake"),
        ("ungrounded conductor", "line conductor", "active conductor"),
        ("wye", "star", "star"),
    ],
)
def test_the_same_thing_in_three_dialects(us: str, iec: str, au: str) -> None:
    (term,) = look_up(us)
    assert term.words == {Dialect.US: us, Dialect.IEC: iec, Dialect.AU: au}


@pytest.mark.parametrize("dialect", Dialect)
def test_listed_in_order_under_the_readers_words(dialect: Dialect) -> None:
    listed = glossary(dialect)
    assert len(listed) == len(terms())
    assert [w for w, _ in listed] == sorted((w for w, _ in listed), key=str.casefold)
    assert all(word == term.word(dialect) for word, term in listed)


def test_a_region_without_the_thing_takes_anothers_word() -> None:
    (rcd,) = look_up("safety switch")
    assert rcd.words[Dialect.US] is None
    assert rcd.word(Dialect.US) == "RCD"


@pytest.mark.parametrize("purpose", [p for p in Purpose if p.short.isupper() and p.short != "BJ"])
def test_what_stands_in_the_schedule_is_explained(purpose: Purpose) -> None:
    assert look_up(purpose.value) == look_up(purpose.short)


def test_an_unknown_word_has_its_neighbours() -> None:
    with pytest.raises(UnknownTermError, match="'grond' is not in the glossary") as error:
        look_up("grond")
    assert "ground" in error.value.near
    with pytest.raises(UnknownTermError) as error:
        look_up("qqqqqqq")
    assert error.value.near == ()
