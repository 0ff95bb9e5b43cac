"""Inverters and circuit that agree: the circuit is solved until every limit is kept.

Each inverter's state is taken anew at the voltages that its last state led to, until the
currents no longer change. Steps are shortened where they don't settle.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeVar

from bondwright.network.inverters import InverterModel, InverterState
from bondwright.network.solve import Change, Injection, Solution, Solver
from bondwright.network.sources import source_switch

Result = TypeVar("Result")

CONVERGED: Final = 1e-9
"""Largest change of a current, in parts of rated current, at which iteration stops."""

MOST_STEPS: Final = 100
"""Most solutions of one circuit."""

_LEAST_STEP: Final = 0.05


@dataclass(frozen=True, slots=True)
class Convergence:
    """How inverters and circuit settled.

    Attributes:
        steps: how often the circuit was solved.
        change: largest difference between a line's current in the state used and in the one
            that the law asks for, in parts of its rated current.
        converged: whether that is below the tolerance.
        limited: switches' names (``source name L1``) of the lines at their limit.
        unled: following inverters without a voltage to follow.
    """

    steps: int
    change: float
    converged: bool
    limited: tuple[str, ...]
    unled: tuple[str, ...]


def iterate(
    solve: Callable[[Mapping[str, InverterState]], tuple[Result, Mapping[str, Sequence[complex]]]],
    models: Sequence[InverterModel],
    *,
    tolerance: float = CONVERGED,
    most: int = MOST_STEPS,
    start: Mapping[str, InverterState] | None = None,
) -> tuple[Result, Mapping[str, InverterState], Convergence]:
    """Solve a circuit with inverters until their states are those that their laws ask for.

    Args:
        solve: takes the state of every inverter, solves the circuit, and returns whatever the
            caller wants to keep and the terminal voltages of every inverter.
        models: the inverters.
        tolerance: difference in parts of rated current that counts as none.
        most: most solutions.
        start: states to start from, where known.

    Returns:
        The result of the last solution, the states it was solved with, and how it settled. One
        that doesn't settle is returned as it is, with ``converged`` False: say so.

    Raises:
        ValueError: ``most`` isn't positive.
    """
    if most < 1:
        msg = f"the circuit must be solved at least once, not {most} times"
        raise ValueError(msg)
    used = {model.name: (start or {}).get(model.name) or model.start for model in models}
    step, last, steps = 1.0, math.inf, 0
    while True:
        steps += 1
        result, voltages = solve(used)
        due = {m.name: m.next_state(used[m.name], voltages[m.name]) for m in models}
        change = max(
            (_difference(m, used[m.name], due[m.name], voltages[m.name]) for m in models),
            default=0.0,
        )
        if change <= tolerance or steps >= most:
            told = Convergence(
                steps,
                change,
                change <= tolerance,
                tuple(source_switch(m.name, li) for m in models for li in due[m.name].limited),
                tuple(m.name for m in models if not (m.forming or any(due[m.name].current))),
            )
            return result, used, told
        if change > 0.9 * last:
            step = max(step / 2, _LEAST_STEP)
        last = change
        used = {m.name: _between(used[m.name], due[m.name], step) for m in models}


def _difference(
    model: InverterModel, one: InverterState, other: InverterState, voltages: Sequence[complex]
) -> float:
    pairs = zip(model.currents(one, voltages), model.currents(other, voltages), strict=True)
    return max(abs(a - b) for a, b in pairs) / model.rated_current


def _between(one: InverterState, other: InverterState, step: float) -> InverterState:
    if step == 1:
        return other
    # An impedance is taken between by its logarithm: it ranges over decades.
    raised = one.raised ** (1 - step) * other.raised**step
    current = tuple(a + step * (b - a) for a, b in zip(one.current, other.current, strict=True))
    return replace(other, raised=raised, current=current)


def solve_with_inverters(
    solver: Solver,
    models: Sequence[InverterModel],
    changes: Sequence[Change] = (),
    injections: Sequence[Injection] = (),
    *,
    start: Mapping[str, InverterState] | None = None,
) -> tuple[Solution, Mapping[str, InverterState], Convergence]:
    """Solve a factored circuit with changes and injections, its inverters at their limits.

    Args:
        solver: the circuit, its inverters added by :func:`add_inverter`.
        models: those inverters that are on; one whose switches are open gives nothing.
        changes: what else is different.
        injections: what else is drawn.
        start: states to start from, where known.
    """

    def solve(
        states: Mapping[str, InverterState],
    ) -> tuple[Solution, Mapping[str, Sequence[complex]]]:
        limits = [c for m in models for c in m.changes(solver, states[m.name])]
        given = [i for m in models for i in m.injections(states[m.name])]
        solution = solver.solve([*changes, *limits], [*injections, *given])
        return solution, {m.name: m.voltages(solution) for m in models}

    return iterate(solve, models, start=start)
