"""The same text in the words of those who read it. Words are common practice of each region."""

from __future__ import annotations

import re

import pytest

from bondwright.explain.dialect import (
    listed_words,
    purpose_short,
    purpose_why,
    purpose_word,
    report,
    retold,
    speaker,
)
from bondwright.explain.rules import WHY, tell_requirements
from bondwright.explain.schedule import schedule_rows
from bondwright.explain.story import Story
from bondwright.plan.model import Assumption, Purpose
from bondwright.rules.answer import Finding, Severity, Verdict
from tests.iec_sites import COTTAGE, FLAT, HALL, NAMES, plan_of, site_of
from tests.plan.sites import HOUSE, planned

IEC = "iec-60364-2017"
FOREIGN = re.compile(
    r"\b(ground|grounds|grounding|grounded|ungrounded|jumpers?|EGC|GEC|SSBJ|MBJ|SBJ|NEC|utility"
    r"|utility's|AWG|kcmil|cmil|receptacle|\d ft)\b",
    re.IGNORECASE,
)
"""Words that readers of IEC 60364 don't use."""


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Run an equipment grounding conductor.", "Run a protective conductor."),
        ("An equipment grounding conductor is", "A protective conductor is"),
        ("a grounding electrode conductor", "an earthing conductor"),
        ("A ground rod is no substitute.", "An earth rod is no substitute."),
        ("Equipment grounding conductors follow", "Protective conductors follow"),
        ("The utility's parts are the utility's work.",
         "The network operator's parts are the network operator's work."),
        ("9 jumpers and conductors in the schedule", "9 conductors and joins in the schedule"),
        ("the utility's own grounding", "the network's own earthing"),
        ("nothing here changes, underground or not", "nothing here changes, underground or not"),
        ("the background of ground-fault trips", "the background of earth-fault trips"),
    ],
)  # fmt: skip
def test_phrases(text: str, told: str) -> None:
    assert speaker(site_of(FLAT))(text) == told
    assert speaker(planned(HOUSE).site)(text) == text


def test_what_earth_does_depends_on_the_arrangement() -> None:
    text = "Home there is only the earth. The earth is no fault path."
    assert "residual-current device" in speaker(site_of(COTTAGE))(text)
    assert speaker(site_of(FLAT))(text) == text
    assert speaker(site_of(HALL))("an ungrounded system") == "an IT system"


def test_everything_with_text_is_retold() -> None:
    say = speaker(site_of(FLAT))
    finding = Finding("x", Severity.NOTE, "ground rod", "a ground rod", "a ground rod", "utility's")
    told = retold(finding, say)
    assert (told.where, told.title, told.cure) == (
        "ground rod", "an earth rod", "network operator's",
    )  # fmt: skip
    story = retold(Story("ground rod", ("a ground rod",), Verdict.HOLDS), say)
    assert (story.title, story.sentences) == ("earth rod", ("an earth rod",))
    assert retold(Assumption("a", "ground rod"), say).text == "earth rod"
    data = {"title": "ground rod", "note": "ground rod", "facts": [["ground rod", 3]], "n": None}
    assert report(data, site_of(FLAT)) == {
        "title": "ground rod", "note": "ground rod", "facts": [["earth rod", 3]], "n": None,
    }  # fmt: skip
    assert report(data, planned(HOUSE).site) == data
    assert listed_words(["ground rod"], site_of(FLAT)) == ("earth rod",)
    assert retold(Severity.NOTE, say) is Severity.NOTE  # a word of the code is no text


@pytest.mark.parametrize("purpose", Purpose)
def test_every_purpose_has_words(purpose: Purpose) -> None:
    for text in (purpose_word(purpose, IEC), purpose_short(purpose, IEC), purpose_why(purpose)):
        assert text
        assert not FOREIGN.search(text)
    assert purpose_word(purpose, "nec-2023") == purpose.value
    assert purpose_short(purpose, "nec-2023") == purpose.short
    assert purpose_why(purpose) != WHY[purpose]


@pytest.mark.parametrize("name", NAMES)
def test_schedule_and_stories_speak_the_dialect(name: str) -> None:
    made = plan_of(name)
    for row in schedule_rows(made):
        assert not FOREIGN.search(f"{row.id} {row.purpose} {row.short} {row.remark} {row.why}")
    for story in tell_requirements(made):
        assert not FOREIGN.search(f"{story.title} {story.text}")


def test_the_nec_is_told_as_ever() -> None:
    rows = schedule_rows(planned(HOUSE))
    assert {"MBJ", "GEC"} <= {row.short for row in rows}
