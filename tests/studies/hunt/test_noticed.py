"""What somebody noticed, and which hypotheses a proposal looks at."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from bondwright.network.build import Network
from bondwright.site.site_error import SiteError
from bondwright.studies.hunt.hypotheses import both, singles
from bondwright.studies.hunt.looked_at import DOUBT, KEPT, looked_at
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.noticed import MISTAKEN, Priors
from bondwright.studies.hunt.nuisance import network_at
from bondwright.studies.hunt.rank import Ranking, hunt
from bondwright.studies.hunt.readings import read_readings
from bondwright.studies.hunt.settings import settings
from tests.studies.hunt.hunting import hall, planned

HEAD = "what,where,of,value,noticed\n"


@pytest.fixture(scope="module")
def site() -> Any:
    return planned(hall())


def asked(site: Any, *rows: str) -> Ranking:
    return hunt(site, read_readings(HEAD + "\n".join(rows), network_at(site, Moment())))


def network_of(site: Any) -> Network:
    return network_at(site, Moment())


def chance(ranking: Ranking, kind: str, thing: str = "") -> float:
    return sum(
        c.probability
        for c in ranking.causes
        if c.hypothesis.kind == kind and (not thing or c.id == f"{kind}/{thing}")
    )


def test_a_reading_that_could_be_anybodys_load_points_at_its_own_branch_once_noticed(
    site: Any,
) -> None:
    # By the description 0.26 V. Loads that nobody knows, and a coarse meter, may make much of the
    # rest; that it isn't what it was, they don't explain.
    plain = asked(site, "voltage,P2,N-G,1.2 V,")
    told = asked(site, "voltage,P2,N-G,1.2 V,yes")
    assert plain.causes[0].id == "nothing-wrong"
    assert told.causes[0].id != "nothing-wrong"
    before, after = (chance(r, "neutral-loose", "F2") for r in (plain, told))
    assert after > 3 * before
    # Of what can't move that reading the share falls; a neighbour's neutral is no more likely.
    assert chance(told, "neutral-loose", "F3") < before
    assert chance(told, "egc-open") < chance(plain, "egc-open")


def test_no_is_no(site: Any) -> None:
    rows = ("voltage,P2,N-G,1.2 V,", "voltage,P2,N-G,1.2 V,no")
    one, other = (asked(site, row) for row in rows)
    assert [(c.id, c.probability) for c in one.causes] == [
        (c.id, c.probability) for c in other.causes
    ]


def test_anything_else_is_refused_with_its_place(site: Any) -> None:
    with pytest.raises(SiteError) as caught:
        asked(site, "voltage,P2,N-G,1.2 V,perhaps")
    (problem,) = caught.value.problems
    assert (problem.line, problem.text) == (2, "perhaps")
    assert "'yes' nor 'no'" in problem.problem


def test_two_defects_are_noticed_if_either_is(site: Any) -> None:
    a, b, c = (variants[0] for variants in singles(network_of(site))[:3])
    share = {a.id: np.array([0.9, 0.05]), b.id: np.array([0.05, 0.6]), c.id: np.array([0.05, 0.05])}
    priors = Priors(dict.fromkeys(share, math.log(0.1)), share)
    second = math.log(settings().second / sum(settings().weights.values()))
    missed = [0.1 * 0.95, 0.95 * 0.4]
    by_hand = 2 * math.log(0.1) + second + sum(math.log(1 - m) for m in missed)
    assert priors.of(both(a, b)) == pytest.approx(by_hand)
    beside = priors.beside(a, [b, c])
    assert beside == pytest.approx([priors.of(both(a, b)), priors.of(both(a, c))])
    assert priors.of(c) == pytest.approx(math.log(0.1) + 2 * math.log(MISTAKEN))


def test_a_cause_of_many_sizes_is_looked_at_like_one_of_a_single_size() -> None:
    # Twelve panels: some hundred causes, more variants than a proposal looks at.
    ranking = asked(planned(hall(12)), "voltage,P2,N-G,0.2 V,")
    field = ranking.field
    kept, share = looked_at(field)
    whole: dict[str, float] = {}
    for k, hypothesis in enumerate(field.hypotheses):
        whole[hypothesis.id] = whole.get(hypothesis.id, 0.0) + math.exp(field.log_posterior[k])
    seen = {field.hypotheses[k].id for k in kept}
    assert share.sum() == pytest.approx(1)
    likeliest = sorted(whole, key=lambda id: -whole[id])
    assert seen == set(likeliest[: len(seen)])
    assert len(seen) <= KEPT
    loose = [id for id in whole if id.startswith("egc-loose") and whole[id] > 1e-3]
    assert loose
    assert set(loose) <= seen
    # The chance of a cause is that of all its sizes, whichever stand for it.
    total = sum(whole[id] for id in seen)
    for id in ("nothing-wrong", loose[0]):
        own = sum(
            float(c) for k, c in zip(kept, share, strict=True) if field.hypotheses[k].id == id
        )
        assert own == pytest.approx(whole[id] / total, abs=DOUBT)
