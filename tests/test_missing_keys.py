"""What isn't said makes nothing good: keys taken out of descriptions, one at a time."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import pytest

from bondwright.papers.results import Results, study
from bondwright.plan.build import plan
from bondwright.rules.answer import Verdict
from bondwright.site.model import Site
from scripts import missing_keys as script
from scripts.made_up import random_site
from scripts.second_opinion import described, shipped, spoiled_from

SHIPPED = ["starter house", "starter iec-house", "fermentation-hall.yaml"]


def some(site: Site, count: int, seed: int) -> list[script.Path_]:
    every = list(script.keys(described(site)))
    return random.Random(seed).sample(every, min(count, len(every)))


@pytest.mark.parametrize("name", SHIPPED)
def test_no_verdict_on_a_shipped_site_gets_better_for_a_key_less(name: str) -> None:
    site = shipped()[name]
    tried, found = script.try_site(site, some(site, 24, 1))
    assert found == []
    assert tried > 2


@pytest.mark.parametrize("seed", range(2))
def test_no_verdict_on_a_spoiled_site_does(seed: int) -> None:
    dice = random.Random(f"missing {seed}")
    _, worse = next(spoiled_from(Site.model_validate(random_site(dice)), dice, 1))
    tried, found = script.try_site(worse, some(worse, 12, seed))
    assert found == []
    assert tried > 2


def test_it_knows_keys_from_things() -> None:
    data = {"site": "x", "soil": "1 ohm m", "places": {"p": {"kind": "panel", "main": "60 A"}}}
    assert list(script.keys(data)) == [
        ("soil",), ("places", "p", "kind"), ("places", "p", "main"),
    ]  # fmt: skip


# --- it can fail ---------------------------------------------------------------------------------


@cache
def said() -> Results:
    return study(plan(shipped()["starter house"]))


def test_a_verdict_that_gets_better_is_seen() -> None:
    short = replace(said().faults[0], verdict=Verdict.CANNOT_TELL)
    before = replace(said(), faults=(short, *said().faults[1:]), states=())
    after = replace(said(), states=())
    found = script.moved(before, after, ("soil",))
    if said().faults[0].verdict is Verdict.HOLDS:
        assert [one.before for one in found] == ["cannot tell"]
    better = replace(said().faults[0], verdict=Verdict.HOLDS)
    after = replace(after, faults=(better, *said().faults[1:]))
    assert [one.what for one in script.moved(before, after, ("soil",))] == [str(short.fault)]


def test_a_default_that_is_listed_is_no_silent_one() -> None:
    short = replace(said().faults[0], verdict=Verdict.CANNOT_TELL)
    better = replace(said().faults[0], verdict=Verdict.HOLDS)
    before = replace(said(), faults=(short,), states=(), assumptions=said().assumptions[1:])
    after = replace(said(), faults=(better,), states=())
    assert script.moved(before, after, ("soil",)) == []
