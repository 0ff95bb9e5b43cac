"""What must hold for normal use on any site, in every state, and with a supply's neutral open."""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from bondwright.network.build import Network, build
from bondwright.network.circuit import EARTH
from bondwright.network.runs import strands
from bondwright.network.solve import Injection, Solver
from bondwright.plan.model import Plan
from bondwright.site.model import Draws
from bondwright.site.states import states
from bondwright.studies.by_state import study_states
from bondwright.studies.defects.alterations import Alteration, Break, Join
from bondwright.studies.defects.catalogue import Defect
from bondwright.studies.flows import Carrier
from bondwright.studies.loops import Via, study_loops
from bondwright.studies.open_neutral import study_open_neutral, supply_runs
from bondwright.studies.stray import study_stray
from bondwright.studies.whatif import tie_added
from tests.studies.anywhere import plan_of, seeds, used
from tests.studies.defects.rebuilt import rebuilt

CHARGING_A = 2e-3
"""What the capacitance of wires to earth (1 nF a terminal) carries at most on these sites."""


def without_loads(made: Plan) -> Plan:
    site = made.site
    places = {n: p.model_copy(update={"loads": []}) for n, p in site.places.items()}
    return replace(made, site=site.model_copy(update={"places": places}))


@pytest.mark.parametrize("seed", seeds(3))
def test_currents_and_power_balance_in_normal_use(seed: int) -> None:
    """At every place its terminals' flows cancel, and sources give what is taken."""
    network = used(seed)
    study = study_stray(network)
    assert study.settled
    assert study.residuals.kirchhoff < 1e-6
    assert study.residuals.power < 1e-6
    # All that a place's metal takes in it gives: runs, ties, electrodes and pipes, summed here.
    metal: dict[str, complex] = defaultdict(complex)
    for flow in study.flows:
        if flow.carrier is Carrier.TIE:
            metal[flow.from_] += flow.current
        elif flow.terminal == "G":
            metal[flow.from_] -= flow.current
            metal[flow.to] += flow.current
    loaded = {b.a for b in network.loads} | {b.b for b in network.loads}
    ended = {f.from_ for f in study.flows if f.carrier is Carrier.METAL}
    for name in network.plan.site.places:
        plain = name not in ended and f"{name}:G" not in loaded
        if plain and "G" in network.terminals.get(name, ()) and name in metal:
            assert abs(metal[name]) < CHARGING_A * 5, name


@pytest.mark.parametrize("seed", seeds(3))
def test_nothing_flows_where_nothing_is_used(seed: int) -> None:
    made = without_loads(plan_of(seed))
    if made.site.arrays or made.site.inverters:
        return
    study = study_stray(build(made))
    lines = [f.amperes for f in study.flows if f.carrier is Carrier.RUN]
    assert study.neutral < 0.2
    assert not study.objectionable
    # Idle transformers and the capacitance of wires are all there is.
    assert max(lines, default=0.0) < 5


@pytest.mark.parametrize("seed", seeds(3))
def test_a_tie_that_hardly_joins_changes_nothing_and_one_that_does_loads_the_metal(
    seed: int,
) -> None:
    network, dice = used(seed), random.Random(seed)
    before = study_stray(network)
    tied = {tie.at for tie in network.plan.ties}
    free = [p for p, t in network.terminals.items() if {"N", "G"} <= set(t) and p not in tied]
    if not free:
        return
    at = dice.choice(free)
    loose = network.solver.join(f"{at}:N", f"{at}:G", 1e8)
    after = study_stray(network, [loose], [("loose", at)])
    assert after.neutral == pytest.approx(before.neutral, rel=1e-4, abs=1e-4)
    assert after.objectionable is before.objectionable
    added = tie_added(network, at, before)
    joined = {f.id: f.amperes for f in added.after.flows if f.carrier is Carrier.TIE}
    assert added.after.residuals.kirchhoff < 1e-6
    assert all(amps >= 0 for amps in joined.values())


@pytest.mark.parametrize("seed", [40, 106, *seeds(3)])
def test_a_loop_closes_and_its_currents_are_those_of_the_flows(seed: int) -> None:
    """At seed 40 metal joins two sides of a transformer, at 106 a source stands by."""
    network, dice = used(seed), random.Random(seed)
    tied = {tie.at for tie in network.plan.ties}
    free = [p for p, t in network.terminals.items() if {"N", "G"} <= set(t) and p not in tied]
    extra = [dice.choice(free)] if free else []
    joins = [network.solver.join(f"{at}:N", f"{at}:G", 0.002) for at in extra]
    study = study_loops(network, joins, [("one too many", at) for at in extra])
    amps = {(f.id, f.conductor): f.amperes for f in study.stray.flows}
    for loop in study.loops:
        assert loop.share is None or 0 <= loop.share <= 1 + 1e-6
        for one, following in zip(loop.steps, loop.steps[1:], strict=False):
            assert one.to == following.from_ or EARTH in (one.to, following.from_), loop
        for step in loop.steps:
            if step.via is Via.METAL and (step.id, step.conductor) in amps:
                known = amps[step.id, step.conductor]
                assert step.amperes == pytest.approx(known, rel=1e-6, abs=1e-9)
    for net in study.nets:
        mine = [f for f in study.stray.flows if f.carrier is Carrier.RUN and f.id == net.run]
        assert net.amperes == pytest.approx(abs(sum(f.current for f in mine)), abs=1e-9)


@pytest.mark.parametrize("seed", seeds(3))
def test_what_one_pair_does_to_another_is_mutual_under_load(seed: int) -> None:
    """Reciprocity of the circuit with loads, steel and transformers in it."""
    solver, dice = used(seed).solver, random.Random(seed)
    nodes = [n for n in solver.index if ":" in n]
    pairs = [(a, b) for a, b in (dice.sample(nodes, 2) for _ in range(6))]
    z = solver.transfer(pairs)
    own = np.sqrt(np.abs(np.outer(np.diag(z), np.diag(z))))
    assert np.abs(z - z.T).max() <= 1e-7 * own.max()
    # A passive circuit takes power wherever an ampere is driven.
    own_z = np.diag(z)
    assert (own_z.real > -1e-6 * np.abs(own_z) - 1e-9).all()
    a, b = pairs[0]
    twice = solver.solve(injections=[Injection(b, a, 2.0)], dead=True)
    assert twice.between(a, b) == pytest.approx(2 * z[0, 0], rel=1e-6, abs=1e-9)


# --- states ------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", seeds(3))
def test_every_state_balances_and_what_is_off_gives_nothing(seed: int) -> None:
    made = plan_of(seed, ("made up", "shipped sun", "shipped three"))
    every = study_states(made, lambda network: (network, study_stray(network)), loads=True)
    assert list(every) == [state.id for state in states(made.site)]
    for state in states(made.site):
        network, study = every[state.id]
        assert study.residuals.kirchhoff < 1e-6
        assert study.residuals.power < 1e-6
        assert {s.name for s in study.supplies} <= set(state.on)
        solution = network.solver.solve()
        for source in network.circuit.sources:
            owner = source.id.partition(":")[0].partition(" ")[0]
            off = set(made.site.generators) - set(state.on)
            if owner in off:
                assert abs(solution.source_current(source.id)) < CHARGING_A
    last = states(made.site)[-1]
    alone = study_states(made, study_stray, [last], loads=True)[last.id]
    assert alone.neutral == every[last.id][1].neutral


# --- an open neutral ---------------------------------------------------------------------------


def opened(made: Plan, network: Network, run: str, at: str, ohms: float) -> Solver:
    """Return the circuit built anew: the neutral and the electrodes behind it taken out."""
    behind = {n for n in made.topology.order if run in made.topology.upstream(n)}
    parts: list[Alteration] = [
        Break(f"run {run}", s.name) for s in strands(made.runs[run]) if s.terminal == "N"
    ]
    parts += [
        Break(f"electrode conductor {e.id}", "metal")
        for e in made.electrodes.values()
        if e.conductor is not None and e.at in behind
    ]
    parts.append(Join(f"{at}:G", EARTH, ohms))
    return Solver(rebuilt(network, cast(Defect, SimpleNamespace(alterations=parts))))


@pytest.mark.parametrize("seed", seeds(3))
def test_an_open_neutral_lifts_metal_more_the_worse_the_ground(
    seed: int,
) -> None:
    made = plan_of(seed)
    if not supply_runs(made) or not any(p.loads for p in made.site.places.values()):
        return
    ohms = [1.0, 8.0, 60.0, 500.0]
    study = study_open_neutral(made, resistances=ohms)
    for row in study.points:
        for ohm, point in zip(ohms, row, strict=True):
            assert point.earth == pytest.approx(point.metal / ohm, rel=1e-9)
            assert point.low <= point.high
    volts = study.metal
    if study.tied:
        assert (np.diff(volts, axis=1) >= -1e-6 * volts.max() - 1e-6).all()
    if study.described >= 0 and all(b.draws is Draws.IMPEDANCE for b in used(seed).loads):
        for ohm, point in zip(ohms, study.points[study.described], strict=True):
            anew = opened(made, used(seed), study.run, study.at, ohm).solve()
            assert abs(anew.voltage(f"{study.at}:G")) == pytest.approx(
                point.metal, rel=1e-6, abs=1e-5
            )
