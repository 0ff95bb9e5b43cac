"""Made-up large sites: sound, the size asked for, the same again."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bondwright.plan.build import plan
from bondwright.rules.answer import Severity
from bondwright.site.check import problems
from bondwright.site.generator import MOST_PLACES, PER_BUILDING, large_site
from bondwright.site.reader import read
from bondwright.site.writer import dump


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 400), st.integers(0, 10_000))
def test_any_size_is_a_sound_site(places: int, seed: int) -> None:
    site = large_site(places, seed)
    assert len(site.places) == places
    assert problems(site) == []
    # Every transformer has something to feed.
    assert all(any(run.from_ == name for run in site.runs.values()) for name in site.transformers)


def test_it_reads_back_from_its_file() -> None:
    site = large_site(90, 3)
    assert read(dump(site)) == site


def test_the_same_seed_makes_the_same_site() -> None:
    assert large_site(50, 7) == large_site(50, 7)
    assert large_site(50, 7) != large_site(50, 8)


def test_a_plan_of_it_is_good() -> None:
    """Sizes are of the kind that stands in such buildings: nothing falls short, nothing is in
    danger."""
    found = plan(large_site(300)).findings
    assert not [f for f in found if f.severity in {Severity.DANGER, Severity.FALLS_SHORT}]


def test_a_larger_one_has_several_services() -> None:
    site = large_site(PER_BUILDING + 10)
    assert len(site.sources) == 2
    assert problems(site) == []


@pytest.mark.parametrize("places", [0, -1, MOST_PLACES + 1])
def test_no_such_size(places: int) -> None:
    with pytest.raises(ValueError, match=f"{places} places can't be made"):
        large_site(places)
