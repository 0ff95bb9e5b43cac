"""Which doubles are tried: what is left out does nothing that one of the two doesn't do alone."""

from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest

from bondwright.network.build import build
from bondwright.plan.build import plan
from bondwright.site.generator import large_site
from bondwright.studies.defects.blocks import DefectPorts
from bondwright.studies.defects.catalogue import defects
from bondwright.studies.defects.course import Followed
from bondwright.studies.defects.doubles import INTERPLAY, Doubles, choose
from bondwright.studies.defects.interplay import interplay, together_possible
from bondwright.studies.defects.model import Ports, altered
from bondwright.studies.defects.pairs import doubles, follow_pairs
from bondwright.studies.defects.sweep import Sweeper, harm
from bondwright.studies.defects.work import sweep_doubles
from tests.studies.defects.rebuilt import ten_sites

TRIED = 150


def everything(sweeper: Sweeper, count: int) -> Followed:
    faults = len(sweeper.faults.faults)
    d, f = np.repeat(np.arange(count), faults), np.tile(np.arange(faults), count)
    return follow_pairs(sweeper.faults, sweeper.faulty, d, f)


@pytest.mark.parametrize("number", [1, 2, 7])
def test_those_left_out_do_what_one_of_the_two_does_alone(number: int) -> None:
    _, site = ten_sites()[number]
    sweeper = Sweeper(site)
    singles, faults = sweeper.defects, len(sweeper.faults.faults)
    block = sweeper.block(0, faults)
    choice = choose(singles, [sweeper.faulty], (block.moved_defect, block.moved_fault))
    tried = {tuple(pair) for pair in choice.pairs.tolist()}
    possible = together_possible(singles)
    every = [(a, b) for a in range(len(singles)) for b in range(a + 1, len(singles))]
    there = possible(*np.array(every).T)
    lost = set(sweeper.faulty.lost)
    left = [
        pair
        for pair, good in zip(every, there, strict=True)
        if good and pair not in tried and not lost & set(pair)
    ]
    assert choice.possible == len(list(doubles(singles))) == there.sum()
    chosen = np.array(random.Random(number).sample(left, min(TRIED, len(left))))
    both = sweeper.other(Doubles(singles, chosen))
    out = everything(both, len(chosen))
    each = np.tile(np.arange(faults), len(chosen))
    apart = [
        follow_pairs(sweeper.faults, sweeper.faulty, np.repeat(chosen[:, side], faults), each)
        for side in (0, 1)
    ]
    code = harm(out)
    worst = np.maximum(harm(apart[0]), harm(apart[1]))
    good = ~np.isin(np.repeat(np.arange(len(chosen)), faults), both.faulty.lost)
    # A fault that is at the edge of its limit may go over it by the part that counts as nothing.
    edge = np.abs(out.touch / out.limit - 1) < 2 * INTERPLAY
    assert (code <= worst)[good & ~edge].all()
    assert (code > worst)[good].mean() < 1e-3


def test_interplay_is_what_two_defects_do_to_each_other() -> None:
    """Against the ports of both together, inverted as one small matrix."""
    site = ten_sites()[1][1]
    ports = Ports(site)
    singles = defects(site)
    faulty = DefectPorts(ports, altered(ports, singles))
    known: dict[tuple[int, int], float] = {}
    for ones, others, kappas in interplay(faulty, 1e-3):
        for i, j, value in zip(ones.tolist(), others.tolist(), kappas.tolist(), strict=True):
            known[i, j] = max(value, known.get((i, j), 0.0))
    assert len(known) > 50
    dice = random.Random(1)
    first = faulty.altered.first
    some = [*dice.sample(sorted(known), 40), *((k, k + 5) for k in range(0, len(singles) - 5, 7))]
    possible = together_possible(singles)
    for a, b in some:
        if {a, b} & set(faulty.lost) or not possible(np.array([a]), np.array([b]))[0]:
            continue
        both = DefectPorts(ports, altered(ports, list(Doubles(singles, np.array([[a, b]])))))
        if both.lost:
            continue
        group = both.groups[0]
        matrix = np.linalg.inv(group.corner[0])
        k = int(first[a + 1] - first[a])
        own, other = matrix[:k, :k], matrix[k:, k:]
        one = np.linalg.solve(own, matrix[:k, k:])
        two = np.linalg.solve(other, matrix[k:, :k])
        kappa = float(np.linalg.norm(one) * np.linalg.norm(two))
        assert kappa == pytest.approx(known.get((a, b), kappa), rel=0.02, abs=2e-3)
        assert ((a, b) in known) == (kappa >= 1e-3) or abs(kappa / 1e-3 - 1) < 0.05
        # What it bounds: how far a's own answer is from that without b.
        exact = np.linalg.norm(np.eye(k) - own @ group.corner[0][:k, :k])
        if kappa < 0.5:
            assert exact <= kappa / (1 - kappa) * (1 + 1e-6) + 1e-9


def test_a_budget_takes_the_closest_first() -> None:
    made = plan(large_site(4, 1))
    whole = sweep_doubles(made, daily=False)
    part = sweep_doubles(made, daily=False, most=25)
    assert len(part.choice.pairs) == 25
    assert part.choice.left_out == len(whole.choice.pairs) - 25
    assert 0 < part.choice.left_kappa <= 1.01
    assert part.choice.possible == whole.choice.possible
    assert part.swept is not None
    assert part.swept.scenarios <= 25 * len(part.swept.faults)


def test_nothing_to_try_on_a_site_of_one_place() -> None:
    site = build(plan(large_site(1, 0)), loads=False)
    singles = defects(site)
    assert together_possible(singles).count() == len(list(doubles(singles)))


def test_no_pairs_come_to_nothing() -> None:
    sweeper = Sweeper(ten_sites()[9][1])
    none = np.zeros(0, dtype=np.int64)
    found = follow_pairs(sweeper.faults, sweeper.faulty, none, none)
    one = follow_pairs(sweeper.faults, sweeper.faulty, np.array([-1]), np.array([0]))
    for field in dataclasses.fields(Followed):
        empty, full = (np.asarray(getattr(x, field.name)) for x in (found, one))
        assert len(empty) == 0
        assert len(full) == 1
        assert empty.dtype == full.dtype, field.name
    assert len(harm(found)) == 0
