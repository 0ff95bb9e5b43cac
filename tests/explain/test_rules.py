"""Every requirement tells its story: what it is for, the sum, and how it stands."""

from __future__ import annotations

import pytest

from bondwright.explain.rules import WHY, tell_requirement, tell_requirements
from bondwright.plan.build import plan
from bondwright.plan.model import Plan, Purpose
from bondwright.site.model import Site
from tests.plan.sites import HOUSE, SHOP, SHOP_FOUND, Described, described


def made(base: Described, **changes: object) -> Plan:
    return plan(Site.model_validate(described(base, **changes)))


RESISTOR = described(
    SHOP,
    transformers__T1__secondary="480Y/277 V",
    ties={"resistor": {"at": "T1", "resistance": "55 ohm", "size": "8 AWG Cu"}},
)
PIPE = described(
    HOUSE,
    metal={"pipe": {"kind": "gas pipe", "from": "house", "to": "shed", "length": "200 ft",
                    "resistance": "20 mohm"}},
)  # fmt: skip


def test_every_kind_of_conductor_says_what_it_is_for() -> None:
    assert set(WHY) == set(Purpose)
    for text in WHY.values():
        assert 2 <= text.count(". ") + text.endswith(".") <= 3


@pytest.mark.parametrize("base", [HOUSE, SHOP, SHOP_FOUND, RESISTOR, PIPE],
                         ids=["house", "shop", "found", "resistor", "pipe"])  # fmt: skip
def test_every_row_shows_its_sum(base: Described) -> None:
    result = made(base)
    stories = tell_requirements(result)
    assert len(stories) == len(result.schedule)
    for item, story in zip(result.schedule, stories, strict=True):
        assert story.verdict is item.verdict
        assert story.sentences[0] == WHY[item.purpose]
        assert len(story.sentences) >= 3
        if item.required is not None:
            inputs = dict(item.required.inputs)
            first = next(iter(inputs.values()))
            assert str(item.required.size) in story.text
            assert item.required.clause in story.text
            assert first.split(" ")[0] in story.text, (item.id, story.text)
            row = "able" in story.text or "least" in story.text
            assert row


def test_a_jumper_by_hand() -> None:
    # Table 250.102(C)(1): 350 kcmil copper asks 2 AWG copper.
    (item,) = [row for row in made(SHOP).schedule if row.id == "SBJ T1"]
    story = tell_requirement(item)
    assert story.title == "system bonding jumper, T1 to neutral"
    assert story.sentences[-2] == (
        "So at least 2 AWG Cu is asked (NEC 2020 250.28(D), 250.30(A)(1))."
    )
    assert story.sentences[-1] == "Here it is 2 AWG Cu, designed: holds."


def test_what_is_missing_is_said() -> None:
    (item,) = [r for r in made(SHOP_FOUND, runs__branch__egc="none").schedule
               if r.id == "EGC branch"]  # fmt: skip
    story = tell_requirement(item)
    assert story.sentences[-2] == "The code asks for no size of its own here."
    assert story.sentences[-1] == "There is none: falls short."


def test_a_given_one_is_called_given() -> None:
    (item,) = [row for row in made(SHOP_FOUND).schedule if row.id == "EGC branch"]
    assert tell_requirement(item).sentences[-1] == "Here it is 12 AWG Cu, given: holds."
