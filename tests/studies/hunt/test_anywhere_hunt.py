"""What must hold for a hunt on any site with any one defect, whatever was read."""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pytest

from bondwright.network.changes import SolveError
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.hunt.candidates import Candidate, candidates
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.next_reading import outlook, ports_of, propose
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.readings import Reading
from scripts.made_up import Truth, random_site, random_wrong, size_of, true_plan
from tests.studies.anywhere import seeds

SAME = 2e-3
"""By which probabilities may differ that were found two ways: fits stop when near enough."""


@dataclass(frozen=True, eq=False)
class Hunted:
    plan: Plan
    truth: Truth
    those: tuple[Candidate, ...]
    readings: tuple[Reading, ...]
    ranking: Ranking


@lru_cache(maxsize=4)
def hunted(seed: int) -> Hunted:
    dice = random.Random(f"anywhere hunt {seed}")
    while True:
        described = random_site(dice)
        made = plan(Site.model_validate(described))
        network = network_at(made, Moment())
        wrong = random_wrong(network, 1, dice)
        sizes = tuple(size_of(one, dice) for one in wrong)
        truth = Truth(true_plan(described, dice), wrong, sizes, dice.gauss(1, 0.02), dice)
        try:
            truth.state(Moment())
        except SolveError:
            continue
        those = candidates(network)
        chosen = dice.sample(those, 5)
        readings = tuple(truth.read(c.reading, k) for k, c in enumerate(chosen, 1))
        ranking = hunt(made, readings, more=ports_of(those))
        return Hunted(made, truth, those, readings, ranking)


def chances(ranking: Ranking) -> dict[str, float]:
    return {cause.id: cause.probability for cause in ranking.causes}


def differ(one: Ranking, other: Ranking) -> float:
    """Return the largest difference of any cause's probability."""
    a, b = chances(one), chances(other)
    return max(abs(a.get(k, 0.0) - b.get(k, 0.0)) for k in {*a, *b})


def again(case: Hunted, readings: Sequence[Reading]) -> Ranking:
    return hunt(case.plan, readings, more=ports_of(case.those))


@pytest.mark.parametrize("seed", seeds(2))
def test_probabilities_sum_to_one(seed: int) -> None:
    for ranking in (hunted(seed).ranking, again(hunted(seed), ())):
        each = [cause.probability for cause in ranking.causes]
        assert sum(each) == pytest.approx(1.0, abs=1e-9)
        assert min(each) >= 0
        assert each == sorted(each, reverse=True)


@pytest.mark.parametrize("seed", [1009, *seeds(2)])
def test_the_order_of_readings_is_nothing(seed: int) -> None:
    """At seed 1009 two voltages near nothing may each have either sign."""
    case = hunted(seed)
    mixed = list(case.readings)
    random.Random(seed).shuffle(mixed)
    assert differ(case.ranking, again(case, mixed)) < 1e-6


@pytest.mark.parametrize("seed", seeds(2))
def test_a_reading_that_may_be_anything_says_nothing(seed: int) -> None:
    case, dice = hunted(seed), random.Random(seed)
    taken = {r.terms for r in case.readings}
    free = [c.reading for c in case.those if c.reading.terms not in taken]
    vague = replace(dice.choice(free), number=9, value=dice.uniform(0, 50), sigma=1e7)
    assert differ(case.ranking, again(case, [*case.readings, vague])) < SAME


@pytest.mark.parametrize("seed", seeds(2))
def test_what_is_expected_of_a_cause_speaks_for_it_on_average(seed: int) -> None:
    """Over the spread of what it expects, the log of its chance rises (Gibbs' inequality)."""
    case = hunted(seed)
    cause = next(c for c in case.ranking.causes if c.id != "not-in-the-list")
    field = case.ranking.field
    best = max(
        (k for k, h in enumerate(field.hypotheses) if h.id == cause.id),
        key=lambda k: field.log_posterior[k],
    )
    asked = [p.candidate for p in propose(case.ranking, case.those, 1)]
    if not asked:
        return
    told = outlook(field, asked, [best], np.array([1.0]))
    before = cause.probability
    for c, mean, sigma in zip(asked, told.mean[0], told.sigma[0], strict=True):
        rises = []
        for z in (-1.2, 0.0, 1.2):
            value = abs(mean + z * sigma)
            reading = replace(
                c.reading, number=9, value=value, sigma=c.reading.instrument.uncertainty(value)
            )
            after = chances(again(case, [*case.readings, reading])).get(cause.id, 1e-12)
            rises.append(math.log(max(after, 1e-12) / before))
        assert sum(rises) / len(rises) > -0.05, (cause.id, c.how, rises)


@pytest.mark.parametrize("seed", seeds(2))
def test_what_is_true_is_not_lost_by_reading_it(seed: int) -> None:
    """Six more readings of the truth: what is wrong, or its like, stays as likely as it was."""
    case = hunted(seed)
    wanted = case.truth.wrong[0].id
    dice = random.Random(seed)
    more = [case.truth.read(c.reading, 20 + k) for k, c in enumerate(dice.sample(case.those, 6))]
    ranking = again(case, [*case.readings, *more])
    group = {wanted} | {a for c in ranking.causes if c.id == wanted for a in c.alike}
    alike = {c.id for c in ranking.causes if wanted in c.id or c.id in group}
    before = sum(p for k, p in chances(again(case, ())).items() if k in alike)
    after = sum(p for k, p in chances(ranking).items() if k in alike)
    assert after >= 0.5 * before, (wanted, before, after)
