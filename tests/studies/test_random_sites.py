"""What must hold on any site: Kirchhoff, reciprocity, superposition, monotony, on random ones."""

from __future__ import annotations

import random
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from bondwright.catalog.sizes import Conductor, standard_sizes
from bondwright.network.build import Network, build
from bondwright.network.runs import strands
from bondwright.network.solve import Injection
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.model import Site
from bondwright.studies.faults import Fault, FaultKind, possible_faults, study_fault
from bondwright.studies.stray import study_stray
from scripts.made_up import random_site

SEEDS = range(3)
GOOD = 1e-6
BOTH_WAYS = 1e-6
"""Part by which two ways to one number may differ; nodes that float on 1 nF are known no better."""


@cache
def made(seed: int) -> Plan:
    return plan(Site.model_validate(random_site(random.Random(f"any site {seed}"))))


@cache
def quiet(seed: int) -> Network:
    return build(made(seed), loads=False)


def to_metal(network: Network, count: int) -> list[Fault]:
    every = possible_faults(network, [FaultKind.LINE_TO_METAL])
    return random.Random(len(every)).sample(every, min(count, len(every)))


@pytest.mark.parametrize("seed", SEEDS)
def test_currents_and_power_balance(seed: int) -> None:
    used = study_stray(build(made(seed)))
    results = [study_fault(quiet(seed), f) for f in to_metal(quiet(seed), 4)]
    for residuals in (used.residuals, *(r.residuals for r in results)):
        assert residuals.kirchhoff < GOOD
        assert residuals.power < GOOD


@pytest.mark.parametrize("seed", SEEDS)
def test_what_one_pair_does_to_another_is_mutual(seed: int) -> None:
    """Transfer impedance is the same both ways: nothing on these sites turns."""
    solver = quiet(seed).solver
    dice = random.Random(seed)
    places = [p for p, t in quiet(seed).terminals.items() if {"L1", "G"} <= set(t)]
    pairs = [(f"{p}:L1", f"{p}:G") for p in dice.sample(places, 4)]
    z = solver.transfer(pairs)
    assert np.allclose(z, z.T, rtol=BOTH_WAYS, atol=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_two_currents_at_once_do_what_they_do_one_by_one(seed: int) -> None:
    solver = quiet(seed).solver
    dice = random.Random(seed)
    places = [p for p, t in quiet(seed).terminals.items() if {"L1", "N", "G"} <= set(t)]
    one, other = dice.sample(places, 2)
    first = Injection(f"{one}:L1", f"{one}:N", 7 + 3j)
    second = Injection(f"{other}:L1", f"{other}:G", -2 + 11j)
    both = solver.solve(injections=[first, second])
    without = solver.solve()
    apart = [solver.solve(injections=[one_]) for one_ in (first, second)]
    for name in solver.index:
        added = sum(s.voltage(name) - without.voltage(name) for s in apart)
        assert both.voltage(name) - without.voltage(name) == pytest.approx(added, abs=1e-7)


@pytest.mark.parametrize("seed", SEEDS)
def test_all_in_the_jaw_reads_nothing(seed: int) -> None:
    """Round a run to a place that nothing else reaches, all its conductors together carry none."""
    network = build(made(seed))
    solution = network.solver.solve()
    site = network.plan.site
    elsewhere = {e.at for e in network.plan.electrodes.values()}
    elsewhere |= {end for m in site.metal.values() for end in (m.from_, m.to)}
    elsewhere |= {run.from_ for run in site.runs.values()}
    leaves = [run for run in network.plan.runs.values() if run.to not in elsewhere]
    assert leaves
    for run in leaves:
        each = [solution.conductor_current(f"run {run.id}", s.name) for s in strands(run)]
        assert max(map(abs, each)) > 0.1
        # 1 nF to earth at each terminal is all that is left.
        assert abs(sum(each)) < 1e-3


@pytest.mark.parametrize("seed", SEEDS)
def test_longer_never_draws_more_and_thicker_never_less(seed: int) -> None:
    base = made(seed)
    dice = random.Random(seed)
    for fault in to_metal(quiet(seed), 3):
        was = study_fault(quiet(seed), fault).current
        for name in dice.sample(sorted(base.runs), 3):
            run = base.runs[name]
            longer = replace(base, runs={**base.runs, name: replace(run, length=2 * run.length)})
            far = study_fault(build(longer, loads=False), fault).current
            assert far <= was * (1 + 1e-3)
            if run.metal is not None:
                thicker = replace(base, runs={**base.runs, name: replace(run, metal=up(run.metal))})
                assert study_fault(build(thicker, loads=False), fault).current >= was * (1 - 1e-3)


def up(wire: Conductor) -> Conductor:
    """Return the next conductor but one."""
    sizes = list(standard_sizes())
    at = sizes.index(wire.size)
    return replace(wire, size=sizes[min(at + 2, len(sizes) - 1)])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_tie_lifted_is_a_site_without_it(seed: int) -> None:
    """The change of the factored circuit and the circuit built anew say the same."""
    base = made(seed)
    tie = base.ties[0]
    again = build(replace(base, ties=base.ties[1:]), loads=False)
    lifted = [quiet(seed).solver.open_switch(f"tie {tie.id}")]
    for fault in to_metal(quiet(seed), 3):
        one = study_fault(quiet(seed), fault, lifted)
        other = study_fault(again, fault)
        assert one.current == pytest.approx(other.current, rel=1e-6, abs=1e-6)
        assert one.verdict is other.verdict
        assert [o.device for o in one.openings] == [o.device for o in other.openings]
