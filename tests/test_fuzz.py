"""The fuzzer's own parts: its targets read their seeds, its mutator is led by the seed."""

from __future__ import annotations

import random

import pytest

from scripts import fuzz


@pytest.mark.parametrize("name", fuzz.TARGETS)
def test_seeds_are_read_and_broken_ones_refused_properly(name: str) -> None:
    target = fuzz.TARGETS[name]()
    assert target.seeds
    luck = random.Random(name)
    for seed in target.seeds:
        target.try_(seed)
        for _ in range(8):
            target.try_(fuzz.changed(seed, luck, target.seeds))


def test_the_same_seed_changes_alike() -> None:
    text = b"a: 1\nb: 20 A\nc: {d: 3/0 AWG}\n"
    made = [fuzz.changed(text, random.Random(k), (text,)) for k in range(60)]
    assert made == [fuzz.changed(text, random.Random(k), (text,)) for k in range(60)]
    assert len(set(made)) > 40
