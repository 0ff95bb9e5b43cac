"""Stray current: what flows on metal in normal use, and which tie makes it flow.

A neutral that is joined to metal once leaves that metal quiet. Joined a second time on the
load side it shares its current with every metal path between the two joins, in proportion to
their impedances. The cause of a current is found by taking ties off one at a time in the same
circuit and seeing which one takes the current away. Where several ties don't belong, taking off
one may only move the current to the next, so they are also taken off all together.

Loads take what they take at their voltage, steel raceways are at the current they carry, and
every harmonic that a load makes is followed by itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final

from bondwright.network.build import Network
from bondwright.network.normal import harmonics, normal_use
from bondwright.network.solve import Change, Residuals, Solution, Solver
from bondwright.studies.flows import Carrier, Flow, Key, amperes, flows, metal_voltages
from bondwright.studies.supplies import Supply, supplies

NOISE_A: Final = 0.01
"""Below this a current on metal is not reported: leakage and induction, A."""

CAUSED: Final = 0.5
"""A tie that takes away more than this share of a current when it is lifted is its cause."""


class Nature(StrEnum):
    """Why a current flows on metal."""

    OBJECTIONABLE = "neutral current on metal"
    SUPPLY_SIDE = "normal on the supply side"
    EARTH_SHARE = "share of the neutral current through earth"
    INDUCED = "small loop current"


@dataclass(frozen=True, slots=True)
class StrayCurrent:
    """One current on metal in normal use.

    Attributes:
        flow: what carries it, with its phasor.
        share: of the largest neutral current on site.
        nature: what sort of current it is.
        causes: ids of the ties that take it away when lifted, the strongest first. Where only
            several together do, all of them.
        without: amperes that stay when the strongest cause is lifted (all of them, where only
            several together take it away); None without a cause.
        together: whether only all the causes together take it away.
        harmonics: (order, amperes) of what flows besides at harmonics.
    """

    flow: Flow
    share: float
    nature: Nature
    causes: tuple[str, ...]
    without: float | None
    together: bool = False
    harmonics: tuple[tuple[int, float], ...] = ()

    @property
    def rms(self) -> float:
        """All orders together, A rms."""
        return math.hypot(self.flow.amperes, *(amperes for _, amperes in self.harmonics))


@dataclass(frozen=True, slots=True)
class StrayStudy:
    """Normal use of a site.

    Attributes:
        currents: every current on metal above :data:`NOISE_A`, largest first.
        neutral: the largest neutral current on site, A.
        metal: voltage of each place's metal to remote earth, V.
        neutral_to_metal: voltage between neutral and metal at each place that has both, V.
        flows: every current on site.
        objectionable: whether neutral current runs on metal where it should not.
        residuals: of the solution.
        settled: whether loads and steel agreed with the circuit.
        neutral_harmonics: (order, amperes) in the neutral with the most, largest order last.
        supplies: what every source gives.
    """

    currents: tuple[StrayCurrent, ...]
    neutral: float
    metal: dict[str, float]
    neutral_to_metal: dict[str, float]
    flows: tuple[Flow, ...]
    objectionable: bool
    residuals: Residuals
    settled: bool = True
    neutral_harmonics: tuple[tuple[int, float], ...] = ()
    supplies: tuple[Supply, ...] = ()


def study_stray(
    network: Network, standing: Sequence[Change] = (), added: Sequence[tuple[str, str]] = ()
) -> StrayStudy:
    """Solve normal use and explain every current on metal.

    Args:
        network: built with loads.
        standing: what is different about the circuit all along.
        added: for each join in ``standing`` that is a tie added for the question, its name and
            place, in the order the joins appear.

    Returns:
        The currents with their causes.
    """
    use = normal_use(network, standing)
    solution = use.solution
    harmonic = _harmonic(network, solution, standing)
    at_orders = {order: amperes(other, there) for order, (other, there) in harmonic.items()}
    now = flows(network, solution)
    neutral = max((f.amperes for f in now if f.terminal == "N"), default=0.0)
    on_metal = [f for f in now if f.on_metal and _rms(f, at_orders) >= NOISE_A]
    lifted = _lifted(network, standing, added) if on_metal else {}
    wrong = tuple(
        name
        for name in lifted
        if name in {tie.id for tie in network.plan.ties if not tie.belongs} | {n for n, _ in added}
    )
    quiet = _without_all(network, standing, added, wrong) if len(wrong) > 1 else {}
    currents = [
        replace(
            _explain(network, flow, neutral, lifted, wrong, quiet),
            harmonics=_orders_of(flow, at_orders),
        )
        for flow in on_metal
    ]
    currents.sort(key=lambda c: -c.rms)
    return StrayStudy(
        currents=tuple(currents),
        neutral=neutral,
        metal=metal_voltages(network, solution),
        neutral_to_metal={
            name: abs(solution.between(f"{name}:N", f"{name}:G"))
            for name, terminals in network.terminals.items()
            if {"N", "G"} <= set(terminals)
        },
        flows=now,
        objectionable=any(c.nature is Nature.OBJECTIONABLE for c in currents),
        residuals=solution.residuals,
        settled=use.converged,
        neutral_harmonics=tuple(
            (order, max((a for key, a in there.items() if key[2].startswith("N")), default=0.0))
            for order, there in at_orders.items()
        ),
        supplies=supplies(network, solution, {n: there for n, (_, there) in harmonic.items()}),
    )


def _harmonic(
    network: Network, fundamental: Solution, standing: Sequence[Change]
) -> dict[int, tuple[Network, Solution]]:
    """Return circuit and solution at every harmonic order."""
    found = harmonics(network)
    changes = {
        order: [_same(change, other.solver) for change in standing]
        for order, other in found.networks.items()
    }
    return {
        order: (found.networks[order], solution)
        for order, solution in found.solve(fundamental, changes).items()
    }


def _same(change: Change, solver: Solver) -> Change:
    """Return a change of the fundamental circuit for the circuit at a harmonic.

    Raises:
        ValueError: a change that is neither a join nor an opened switch.
    """
    if change.joins is not None:
        return solver.join(*change.joins, change.d)
    if change.opens is not None:
        return solver.open_switch(change.opens)
    msg = f"{change.label!r} can't be followed at harmonics"
    raise ValueError(msg)


def _orders_of(
    flow: Flow, at_orders: Mapping[int, Mapping[Key, float]]
) -> tuple[tuple[int, float], ...]:
    key = (flow.carrier, flow.id, flow.conductor)
    return tuple((order, there[key]) for order, there in at_orders.items())


def _rms(flow: Flow, at_orders: Mapping[int, Mapping[Key, float]]) -> float:
    return math.hypot(flow.amperes, *(a for _, a in _orders_of(flow, at_orders)))


def _lifted(
    network: Network, standing: Sequence[Change], added: Sequence[tuple[str, str]]
) -> dict[str, dict[Key, float]]:
    """Return the amperes of every flow with each tie lifted in turn."""
    found: dict[str, dict[Key, float]] = {}
    opened = {change.opens for change in standing}
    for tie in network.plan.ties:
        if f"tie {tie.id}" not in opened:
            change = network.solver.open_switch(f"tie {tie.id}")
            found[tie.id] = _amperes(network, [*standing, change])
    for name, join in _added_joins(standing, added).items():
        found[name] = _amperes(network, [change for change in standing if change is not join])
    return found


def _added_joins(standing: Sequence[Change], added: Sequence[tuple[str, str]]) -> dict[str, Change]:
    joins = [change for change in standing if change.joins is not None]
    return {name: join for (name, _), join in zip(added, joins, strict=False)}


def _without_all(
    network: Network,
    standing: Sequence[Change],
    added: Sequence[tuple[str, str]],
    wrong: Sequence[str],
) -> dict[Key, float]:
    """Return the amperes of every flow with all ties off that don't belong."""
    joins = _added_joins(standing, added)
    changes = [change for change in standing if change not in joins.values()]
    changes += [network.solver.open_switch(f"tie {name}") for name in wrong if name not in joins]
    return _amperes(network, changes)


def _amperes(network: Network, changes: Sequence[Change]) -> dict[Key, float]:
    return amperes(network, normal_use(network, changes).solution)


def _explain(
    network: Network,
    flow: Flow,
    neutral: float,
    lifted: dict[str, dict[Key, float]],
    wrong: Sequence[str],
    quiet: dict[Key, float],
) -> StrayCurrent:
    key = (flow.carrier, flow.id, flow.conductor)
    gone = {name: 1 - after[key] / max(flow.amperes, 1e-12) for name, after in lifted.items()}
    causes = tuple(
        sorted((name for name, share in gone.items() if share > CAUSED), key=lambda n: -gone[n])
    )
    misplaced = tuple(name for name in causes if name in wrong)
    without = lifted[misplaced[0]][key] if misplaced else None
    together = not misplaced and bool(quiet) and quiet[key] < (1 - CAUSED) * flow.amperes
    if together:
        misplaced = tuple(sorted(wrong, key=lambda n: -gone[n]))
        without = quiet[key]
    if flow.carrier is Carrier.RUN and flow.id in network.plan.topology.supply_side_runs:
        nature = Nature.SUPPLY_SIDE
    elif misplaced:
        nature = Nature.OBJECTIONABLE
    elif flow.carrier is Carrier.ELECTRODE:
        nature = Nature.EARTH_SHARE
    else:
        nature = Nature.INDUCED
    # The tie to blame is the one that doesn't belong; lifting the right one would also stop
    # the current, and take away the fault path with it.
    return StrayCurrent(
        flow=flow,
        share=flow.amperes / neutral if neutral else 0.0,
        nature=nature,
        causes=misplaced,
        without=without,
        together=together,
    )
