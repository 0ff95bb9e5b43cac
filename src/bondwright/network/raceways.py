"""Steel raceways at the currents they carry, without factoring the circuit again.

The circuit is built with every steel wall as it is at no current. A wall at another current
adds impedance to its section by two patterns, the wires inside taken together and the wall
itself, which is a pair of gaps in the bordered system (:meth:`Solver.reshape`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from bondwright.network.converge import RacewayCurrents, RacewayReport, converge_raceways
from bondwright.network.inverters import InverterState
from bondwright.network.limits import solve_with_inverters
from bondwright.network.runs import Strand, raceway_currents, strands
from bondwright.network.solve import Change, Injection, Solution, Solver
from bondwright.network.steel import TubeSurfaces

if TYPE_CHECKING:
    from bondwright.network.build import Network

Tube = tuple[str, int]
"""A raceway: the run, and the number of the parallel set."""

QUIET_A: Final = 0.5
"""Net and wall currents below this leave a steel wall as it is at no current, A."""


def settled(
    network: Network,
    changes: Sequence[Change] = (),
    injections: Sequence[Injection] = (),
    start: Mapping[Tube, TubeSurfaces] | None = None,
) -> tuple[Solution, RacewayReport[Tube] | None]:
    """Solve with every steel raceway at its own current and every inverter within its limit.

    Args:
        network: the network.
        changes: what is different about the circuit.
        injections: currents from outside.
        start: walls of a similar state, to start from.

    Returns:
        The solution, and how the raceways settled; None where no steel carries a current.
    """
    first, states = _solve(network, changes, injections, {})
    most = _most(network, first)
    section = network.solver.section_index
    active = {
        (run, number): tube
        for run, tube in network.steel.items()
        if most[section[f"run {run}"]] > QUIET_A
        for number, at in _currents(network, first, run).items()
        if max(abs(at.enclosed), abs(at.tube)) > QUIET_A
    }
    if not active:
        return first, None

    where = _Places(network, list(active))

    def solve(
        walls: Mapping[Tube, TubeSurfaces],
    ) -> tuple[Solution, dict[Tube, RacewayCurrents]]:
        nonlocal states
        reshaped = [c for key in active for c in wall_changes(network, key, walls[key])]
        solution, states = _solve(network, [*changes, *reshaped], injections, states)
        return solution, where.currents(solution)

    return converge_raceways(active, network.circuit.frequency, solve, start=start)


def _solve(
    network: Network,
    changes: Sequence[Change],
    injections: Sequence[Injection],
    start: Mapping[str, InverterState],
) -> tuple[Solution, Mapping[str, InverterState]]:
    if not network.inverters:
        return network.solver.solve(changes, injections), {}
    solution, states, _ = solve_with_inverters(
        network.solver, network.inverters, changes, injections, start=start
    )
    return solution, states


def _most(network: Network, solution: Solution) -> npt.NDArray[np.float64]:
    """Return for every section more than any combination of its currents can be, A."""
    starts = network.solver.conductors[:-1]
    sizes = np.abs(solution.conductor_currents)
    return np.asarray(np.add.reduceat(sizes, starts)) if len(starts) else np.zeros(0)


def _currents(network: Network, solution: Solution, run: str) -> dict[int, RacewayCurrents]:
    parts = strands(network.plan.runs[run])
    # Metal that lies beside a run follows its own conductors in the section.
    currents = solution.section_currents(f"run {run}")[: len(parts)]
    return raceway_currents(parts, [complex(value) for value in currents])


class _Places:
    """Where the currents at some raceways stand among those of all conductors.

    Args:
        network: the network.
        tubes: the raceways.
    """

    def __init__(self, network: Network, tubes: Sequence[Tube]) -> None:
        every: list[int] = []
        self._spans: list[tuple[Tube, int, int, int]] = []
        for run, number in tubes:
            first = int(network.solver.conductors[network.solver.section_index[f"run {run}"]])
            parts = enumerate(strands(network.plan.runs[run]), first)
            here = [(at, part) for at, part in parts if part.set == number]
            inside = [at for at, part in here if part.conductor is not None]
            tube = [at for at, part in here if part.conductor is None]
            begin = len(every)
            every += [*inside, *tube]
            self._spans.append(((run, number), begin, begin + len(inside), len(every)))
        self._at = np.array(every, dtype=np.int64)

    def currents(self, solution: Solution) -> dict[Tube, RacewayCurrents]:
        """Return the currents at each raceway, as :func:`raceway_currents` does for a run."""
        every = solution.conductor_currents[self._at].tolist()
        return {
            tube: RacewayCurrents(sum(every[begin:middle]), sum(every[middle:end]))
            for tube, begin, middle, end in self._spans
        }


def wall_changes(network: Network, key: Tube, wall: TubeSurfaces) -> tuple[Change, ...]:
    """Return the changes that turn one raceway's wall from no current into another state."""
    run, number = key
    planned = network.plan.runs[run]
    base = network.steel[run].surfaces(0, 0, network.circuit.frequency).triple
    delta_aa, delta_ab, delta_bb = (
        (now - then) * planned.length for now, then in zip(wall.triple, base, strict=True)
    )
    parts = strands(planned)
    inside, tube = patterns(network.solver, run, parts, number)
    # The same combinations of surface impedances as in impedance.enclose().
    together = delta_bb - 2 * delta_ab + delta_aa
    added = np.array([[together, delta_bb - delta_ab], [delta_bb - delta_ab, delta_bb]])
    shapes = [inside, tube]
    if not any(tube):
        added, shapes = added[:1, :1], shapes[:1]
    if not np.any(added):
        return ()
    changes = network.solver.reshape(f"run {run}", shapes, added)
    return tuple(_numbered(change, number) for change in changes)


def _numbered(change: Change, number: int) -> Change:
    """Give the changes of each parallel set labels of their own."""
    if number == 0:
        return change
    return replace(
        change,
        label=f"{change.label}.{number}",
        partners=tuple((f"{label}.{number}", value) for label, value in change.partners),
    )


def patterns(
    solver: Solver, run: str, parts: Sequence[Strand], number: int
) -> tuple[list[float], list[float]]:
    """Return which conductors of a run's section are inside a set's wall, and which is the wall."""
    names = solver.circuit.sections[solver.section_index[f"run {run}"]].names
    inside = [0.0] * len(names)
    tube = [0.0] * len(names)
    for k, part in enumerate(parts):
        if part.set == number:
            (tube if part.conductor is None else inside)[k] = 1.0
    return inside, tube
