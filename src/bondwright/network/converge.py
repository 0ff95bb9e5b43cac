"""Currents and steel raceways that agree: the circuit is solved until they do.

The impedance of a steel raceway depends on the current in it, and the current on the
impedance. The circuit is solved, the impedances are taken anew at the currents found, and so
on until the impedances no longer change. Steps are shortened where they don't settle.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, replace
from typing import Final, Generic, TypeVar

from bondwright.network.steel import SteelTube, TubeSurfaces

Key = TypeVar("Key", bound=Hashable)
Result = TypeVar("Result")

TOLERANCE: Final = 1e-6
"""Relative change of a raceway's impedance at which the circuit counts as settled."""

LIMIT: Final = 60
"""Most solutions of one circuit."""

_LEAST_STEP: Final = 0.1


@dataclass(frozen=True, slots=True)
class RacewayCurrents:
    """The currents at a raceway.

    Attributes:
        enclosed: net current of all wires inside, A rms.
        tube: current in the wall, A rms, counted in the same direction.
    """

    enclosed: complex
    tube: complex


@dataclass(frozen=True, slots=True)
class RacewayReport(Generic[Key]):
    """How the steel raceways of a circuit settled.

    Attributes:
        surfaces: the impedances that the circuit was solved with.
        currents: the currents that came out.
        rounds: how often the circuit was solved.
        change: largest relative difference between the impedances used and those that belong
            to the currents found.
        converged: whether that is below the tolerance and every wall settled within itself.
        worst: the raceway with the largest difference; None if there is no steel.
    """

    surfaces: Mapping[Key, TubeSurfaces]
    currents: Mapping[Key, RacewayCurrents]
    rounds: int
    change: float
    converged: bool
    worst: Key | None


def converge_raceways(
    tubes: Mapping[Key, SteelTube],
    frequency: float,
    solve: Callable[[Mapping[Key, TubeSurfaces]], tuple[Result, Mapping[Key, RacewayCurrents]]],
    *,
    tolerance: float = TOLERANCE,
    limit: int = LIMIT,
    start: Mapping[Key, TubeSurfaces] | None = None,
) -> tuple[Result, RacewayReport[Key]]:
    """Solve a circuit with steel raceways until impedances and currents agree.

    Args:
        tubes: every steel raceway, by any key (run and number of the set, say).
        frequency: Hz.
        solve: takes the impedances of every tube, solves the circuit, and returns whatever
            the caller wants to keep and the currents at every tube.
        tolerance: relative change of impedance that counts as none.
        limit: most solutions.
        start: impedances to start from, for tubes of which they are known; those of no
            current for the rest. Those of a similar state save rounds.

    Returns:
        The result of the last solution and the report. A circuit that doesn't settle is
        returned as it is, with ``converged`` False: say so, don't hide it.

    Raises:
        ValueError: the limit isn't positive.
        KeyError: ``solve`` left out a tube's currents.
    """
    if limit < 1:
        msg = f"the circuit must be solved at least once, not {limit} times"
        raise ValueError(msg)
    used = {
        key: (start or {}).get(key) or tube.surfaces(0, 0, frequency) for key, tube in tubes.items()
    }
    step, last, rounds = 1.0, float("inf"), 0
    while True:
        rounds += 1
        result, currents = solve(used)
        due = {
            key: tube.surfaces(currents[key].enclosed, currents[key].tube, frequency, used[key])
            for key, tube in tubes.items()
        }
        changes = {key: _change(used[key], due[key]) for key in tubes}
        worst = max(changes, key=changes.__getitem__, default=None)
        change = 0.0 if worst is None else changes[worst]
        settled = change <= tolerance and all(one.converged for one in due.values())
        if change <= tolerance or rounds >= limit:
            report = RacewayReport(used, currents, rounds, change, settled, worst)
            return result, report
        if change > 0.8 * last:
            step = max(step / 2, _LEAST_STEP)
        last = change
        used = {key: _between(used[key], due[key], step) for key in tubes}


def _change(one: TubeSurfaces, other: TubeSurfaces) -> float:
    scale = max(abs(z) for z in other.triple)
    return max(abs(a - b) for a, b in zip(one.triple, other.triple, strict=True)) / scale


def _between(one: TubeSurfaces, other: TubeSurfaces, step: float) -> TubeSurfaces:
    # A mean of passive walls is passive, so every round is a circuit that could be.
    z_aa, z_ab, z_bb = (a + step * (b - a) for a, b in zip(one.triple, other.triple, strict=True))
    return replace(other, z_aa=z_aa, z_ab=z_ab, z_bb=z_bb)
