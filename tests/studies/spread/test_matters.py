"""Sobol's first-order index from given samples, against functions whose indices are known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from bondwright.studies.spread.draw import latin_hypercube
from bondwright.studies.spread.matters import FEWEST, shares_of, spread


def ishigami(shares: np.ndarray, a: float = 7.0, b: float = 0.1) -> np.ndarray:
    x = (2 * shares - 1) * math.pi
    return np.asarray(
        np.sin(x[:, 0]) + a * np.sin(x[:, 1]) ** 2 + b * x[:, 2] ** 4 * np.sin(x[:, 0])
    )


def test_ishigami() -> None:
    """S1 = 0.3139, S2 = 0.4424, S3 = 0: the closed form for a = 7, b = 0.1.

    T. Ishigami, T. Homma, First International Symposium on Uncertainty Modeling and Analysis
    (1990); V = a^2/8 + b pi^4/5 + b^2 pi^8/18 + 1/2, V1 = (1 + b pi^4/5)^2 / 2, V2 = a^2/8.
    """
    a, b = 7.0, 0.1
    whole = a**2 / 8 + b * math.pi**4 / 5 + b**2 * math.pi**8 / 18 + 0.5
    first = 0.5 * (1 + b * math.pi**4 / 5) ** 2 / whole
    second = a**2 / 8 / whole
    assert (first, second) == pytest.approx((0.3139, 0.4424), abs=1e-4)
    for seed in range(4):
        shares = latin_hypercube(4096, 3, seed)
        found = {one.quantity: one for one in shares_of(ishigami(shares), shares)}
        assert set(found) == {0, 1}
        assert found[0].share == pytest.approx(first, abs=0.03)
        assert found[1].share == pytest.approx(second, abs=0.03)
        # The second works both ways: no rank correlation sees it, the index does.
        assert found[1].way == 0


def test_a_linear_sum() -> None:
    """y = 3 x1 - 2 x2 + x3 of equal independent x: shares 9, 4 and 1 of 14."""
    shares = latin_hypercube(1024, 5, 1)
    found = shares_of(shares @ np.array([3.0, -2.0, 1.0, 0.0, 0.0]), shares)
    assert [one.quantity for one in found] == [0, 1, 2]
    assert [one.share for one in found] == pytest.approx([9 / 14, 4 / 14, 1 / 14], abs=0.03)
    assert [one.way for one in found][:2] == [1, -1]


def test_a_divider() -> None:
    """V = R2 / (R1 + R2), R1 and R2 between 5 and 40: by numbers on a grid of the integrals."""
    n = 400
    r = 5 + 35 * (np.arange(n) + 0.5) / n
    v = r[None, :] / (r[:, None] + r[None, :])
    expected = [v.mean(axis=1).var() / v.var(), v.mean(axis=0).var() / v.var()]
    shares = latin_hypercube(2048, 2, 3)
    one, two = (5 + 35 * shares).T
    found = {s.quantity: s for s in shares_of(two / (one + two), shares)}
    assert [found[0].share, found[1].share] == pytest.approx(expected, abs=0.03)
    assert (found[0].way, found[1].way) == (-1, 1)


def test_chance_is_not_taken_for_a_share() -> None:
    """Answers that hang on nothing: at most one in a hundred says something."""
    dice = np.random.default_rng(5)
    said = 0
    for seed in range(300):
        shares = latin_hypercube(64, 10, seed)
        said += bool(shares_of(dice.normal(size=64), shares))
    assert said <= 9


def test_answers_that_may_be_infinite_go_by_rank() -> None:
    shares = latin_hypercube(256, 3, 0)
    time = np.where(shares[:, 1] > 0.7, np.inf, 1 / (1 - shares[:, 1]))
    found = spread(1.0, time, shares)
    assert found.by_rank
    assert math.isinf(found.greatest)
    assert math.isfinite(found.least)
    assert found.shares[0].quantity == 1
    assert found.shares[0].share > 0.9


def test_nothing_is_said_from_few_samples_or_of_what_stays() -> None:
    few = latin_hypercube(FEWEST - 1, 1, 0)
    assert shares_of(few[:, 0], few) == ()
    many = latin_hypercube(64, 1, 0)
    assert shares_of(np.full(64, 3.0), many) == ()
    found = spread(3.0, np.full(64, 3.0), many)
    assert (found.least, found.greatest, found.rest) == (3.0, 3.0, 1.0)


def test_a_latin_hypercube_takes_every_part_once() -> None:
    found = latin_hypercube(50, 4, 9)
    assert (np.sort(np.floor(found * 50), axis=0) == np.arange(50)[:, None]).all()
    assert (found == latin_hypercube(50, 4, 9)).all()
    assert (found != latin_hypercube(50, 4, 10)).any()
