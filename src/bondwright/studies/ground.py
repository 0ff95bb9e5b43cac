"""What faults do to the ground: rise of the electrodes, touch, step and transferred voltages.

The currents into the electrodes are those of the solved circuit, so what the neutral, pipes and a
utility's grounding take is off already. Rises are at the start of the fault, before anything opens.
The surface is computed from the shapes of the electrodes; where a resistance was measured, the
field of that electrode is scaled with it.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Container, Mapping, Sequence
from typing import Final, cast

import numpy as np
from numpy.typing import NDArray

from bondwright.earth.shapes import Place
from bondwright.earth.soil import Array
from bondwright.earth.surface import MAX_POINTS, PACE_M, REACH_M, SurfaceMap
from bondwright.earth.system import ElectrodeSystem
from bondwright.network.build import Network, build
from bondwright.network.electrodes import electrode_node
from bondwright.network.solve import Solution
from bondwright.plan.ground import system_of
from bondwright.plan.model import Plan, PlannedGround
from bondwright.rules.answer import Verdict
from bondwright.safety.outdoor import step_limit
from bondwright.safety.touch import Footing, Skin, body_limit, touch_limit
from bondwright.studies.fault_model import Fault, FaultKind, FaultResult
from bondwright.studies.ground_model import (
    GroundFault,
    GroundMap,
    GroundStudy,
    SeasonRise,
    TouchAt,
)
from bondwright.studies.ground_parts import (
    electrode_rows,
    in_season,
    joined_names,
    joined_resistance,
    what_each_brings,
)
from bondwright.studies.scene import Scene

Grid = NDArray[np.complex128]

MOST_FAULTS: Final = 3
"""Faults whose surface is worked out; those that lift metal highest, one a place."""
MARGIN_M: Final = 4.0
SPACING_M: Final = 0.25
MOST_POINTS: Final = 12_000
_ROUND: Final = 24
_PATH_M: Final = 0.5
_QUIET_V: Final = 1e-3


def study_ground(
    quiet: Network, results: Sequence[FaultResult], most: int = MOST_FAULTS
) -> GroundStudy:
    """Work out what faults do to the ground.

    Args:
        quiet: the network without loads that the faults were followed in.
        results: faults that were followed; those of a line to metal count.
        most: how many are worked out, those that lift metal highest first.
    """
    plan = quiet.plan
    joined = joined_names(plan)
    own = [plan.ground.between(name, name) for name in joined]
    chosen = _worst(results, most, plan.site.sources) if joined else []
    system = _system(plan.ground)
    surface = _surface(plan, system) if system is not None and chosen else None
    return GroundStudy(
        ground=plan.ground,
        rows=electrode_rows(plan),
        joined=joined,
        resistance_ohm=joined_resistance(plan.ground, joined),
        apart_ohm=1 / sum(1 / ohms for ohms in own) if own else None,
        brings=what_each_brings(plan),
        faults=tuple(_fault(quiet, result, system, surface) for result in chosen),
    )


def _worst(results: Sequence[FaultResult], most: int, sources: Container[str]) -> list[FaultResult]:
    """Return the faults that lift metal on site highest, one for each place."""

    def height(result: FaultResult) -> float:
        own = [volts for name, volts in result.touch.items() if name not in sources]
        return max(own, default=0.0)

    found: dict[str, FaultResult] = {}
    for result in results:
        if result.fault.kind is not FaultKind.LINE_TO_METAL or not result.touch:
            continue
        place = result.fault.place
        if place not in found or height(result) > height(found[place]) * (1 + 1e-6):
            found[place] = result
    return sorted(found.values(), key=height, reverse=True)[:most]


def _fault(
    quiet: Network, result: FaultResult, system: ElectrodeSystem | None, surface: Surface | None
) -> GroundFault:
    plan = quiet.plan
    solution = Scene(quiet, result.fault).solve()
    currents = electrode_currents(plan, solution)
    rises = electrode_rises(quiet, solution)
    time = result.clearing
    touch: list[TouchAt] = []
    transfer: list[TouchAt] = []
    drawn = None
    if system is not None and surface is not None:
        into = _scaled(plan.ground, currents)
        touch = [
            _touch(system, into, name, solution.voltage(f"{name}:G"), _reach(place.position), time)
            for name, place in plan.site.places.items()
            if place.position is not None and f"{name}:G" in quiet.solver.index
        ]
        transfer = list(_transfers(quiet, solution, system, into, time))
        drawn = _map(system, surface, into, rises, time)
    return GroundFault(
        fault=result.fault,
        clearing_s=time,
        fault_a=result.current,
        total_a=abs(sum(currents.values())),
        currents_a={name: abs(amps) for name, amps in currents.items()},
        rise_v={name: abs(volts) for name, volts in rises.items()},
        touch=tuple(sorted(touch, key=lambda one: -one.touch_v)),
        transfer=tuple(sorted(transfer, key=lambda one: -one.touch_v)),
        seasons=tuple(_in_season(quiet, season, result.fault) for season in plan.ground.seasons),
        drawn=drawn,
    )


def electrode_currents(plan: Plan, solution: Solution) -> dict[str, complex]:
    """Return the current into the earth through each electrode that is joined [A]."""
    return {
        name: solution.conductor_current(f"electrode conductor {name}", "metal")
        for name in joined_names(plan)
    }


def electrode_rises(network: Network, solution: Solution) -> dict[str, complex]:
    """Return the voltage of every electrode's metal to remote earth [V].

    One that shares no ground with any other, and is joined to nothing, stands at zero.
    """
    nodes = {name: electrode_node(name) for name in network.plan.ground.names}
    return {
        name: solution.voltage(node) if node in network.solver.index else 0j
        for name, node in nodes.items()
    }


def _system(ground: PlannedGround) -> ElectrodeSystem | None:
    if not ground.shapes:
        return None
    return system_of(ground.soil, tuple(ground.shapes.values()))


def _scaled(ground: PlannedGround, currents: Mapping[str, complex]) -> dict[str, complex]:
    return {
        name: amps * ground.factors.get(name, 1.0)
        for name, amps in currents.items()
        if name in ground.shapes
    }


def ground_phasors(
    system: ElectrodeSystem, currents: Mapping[str, complex], points: Array
) -> NDArray[np.complex128]:
    """Return phasors of the potential of points on the ground, shape (n,) [V]."""
    return system.lift(points) @ _in_order(system, currents)


def _in_order(system: ElectrodeSystem, currents: Mapping[str, complex]) -> NDArray[np.complex128]:
    return np.array([currents.get(name, 0j) for name in system.names], dtype=np.complex128)


def touch_bound(time_s: float, soil_ohm_m: float) -> float:
    """Return the touch voltage that is borne for a time: the lower of two limits [V].

    That of IEEE Std 80 (50 kg, feet on this ground) and the conventional one for wet skin.
    """
    standard = body_limit(time_s, 50, Footing(soil_ohm_m))
    return min(standard, touch_limit(time_s, Skin.WET))


def _touch(
    system: ElectrodeSystem,
    currents: Mapping[str, complex],
    what: str,
    metal: complex,
    points: Array,
    time: float,
) -> TouchAt:
    ground = ground_phasors(system, currents, points)
    volts = np.abs(metal - ground)
    k = int(np.argmax(volts))
    limit = touch_bound(time, system.soil.rho_ohm_m[0])
    return TouchAt(
        what,
        float(points[k, 0]),
        float(points[k, 1]),
        abs(metal),
        float(abs(ground[k])),
        float(volts[k]),
        limit,
        Verdict.HOLDS if volts[k] <= limit else Verdict.FALLS_SHORT,
    )


def _reach(spot: Sequence[float] | None) -> Array:
    """Return places within reach of metal: itself, and a circle round it."""
    x, y = spot or (0.0, 0.0)
    turn = 2 * math.pi * np.arange(_ROUND) / _ROUND
    circle = np.column_stack([x + REACH_M * np.cos(turn), y + REACH_M * np.sin(turn)])
    value: Array = np.vstack([[[x, y]], circle])
    return value


def _transfers(
    quiet: Network,
    solution: Solution,
    system: ElectrodeSystem,
    currents: Mapping[str, complex],
    time: float,
) -> list[TouchAt]:
    """Return what metal that leads away carries, where it is worst along its way."""
    found = []
    for name, item in quiet.plan.site.metal.items():
        if not item.along:
            continue
        start, end = (solution.voltage(f"{end}:G") for end in (item.from_, item.to))
        points, part = _way([(x, y) for x, y in item.along])
        metal = start + part * (end - start)
        ground = ground_phasors(system, currents, points)
        k = int(np.argmax(np.abs(metal - ground)))
        found.append(_touch(system, currents, name, metal[k], points[k : k + 1], time))
    return found


def _way(corners: Sequence[Place]) -> tuple[Array, Array]:
    """Return points along a way, and how far along each is, 0 to 1."""
    if len(corners) == 1:
        return np.array(corners, dtype=float), np.zeros(1)
    lengths = [math.dist(a, b) for a, b in itertools.pairwise(corners)]
    total = max(sum(lengths), 1e-9)
    at = np.concatenate([[0.0], np.cumsum(lengths)]) / total
    count = min(max(2, math.ceil(total / _PATH_M) + 1), MAX_POINTS // 8)
    part = np.union1d(np.linspace(0.0, 1.0, count), at)
    xy = np.array(corners, dtype=float)
    points = np.column_stack([np.interp(part, at, xy[:, 0]), np.interp(part, at, xy[:, 1])])
    return points, part


Surface = tuple[Array, Array, Array]
"""x (nx,), y (ny,), and what an ampere into each electrode does there (ny, nx, e)."""


def _surface(plan: Plan, system: ElectrodeSystem) -> Surface:
    """Return the ground to be drawn: around all metal and places, with a margin."""
    site, pieces = plan.site, system.pieces
    half = np.abs(pieces.along[:, :2]) * pieces.length[:, None] / 2
    spots = [pieces.middle[:, :2] - half, pieces.middle[:, :2] + half]
    spots += [np.array([p.position]) for p in site.places.values() if p.position is not None]
    spots += [np.array(m.along, dtype=float) for m in site.metal.values() if m.along]
    every = np.vstack(spots)
    low, top = every.min(axis=0) - MARGIN_M, every.max(axis=0) + MARGIN_M
    spacing = max(SPACING_M, math.sqrt(float(np.prod(top - low)) / MOST_POINTS))
    xs, ys = (
        np.linspace(low[k], top[k], math.ceil((top[k] - low[k]) / spacing) + 1) for k in (0, 1)
    )
    yy, xx = np.meshgrid(ys, xs, indexing="ij")
    lift = system.lift(np.column_stack([xx.ravel(), yy.ravel()]))
    return xs, ys, lift.reshape(ys.size, xs.size, -1)


def _map(
    system: ElectrodeSystem,
    surface: Surface,
    currents: Mapping[str, complex],
    rises: Mapping[str, complex],
    time: float,
) -> GroundMap | None:
    highest = max(rises, key=lambda name: abs(rises[name]))
    if abs(rises[highest]) < _QUIET_V or not currents:
        return None
    xs, ys, lift = surface
    volts: Grid = lift @ _in_order(system, currents)
    # No ground is higher than the metal that lifts it; near the end of a piece, whose current is
    # taken as even along it, the sum can come out a little above.
    volts = volts * np.minimum(1.0, abs(rises[highest]) / np.maximum(np.abs(volts), 1e-30))
    # The map's own methods take magnitudes of differences, which phasors have as well.
    step = SurfaceMap(xs, ys, cast(Array, volts)).step_v(PACE_M)
    step = np.abs(step)
    row, column = np.unravel_index(int(np.nanargmax(step)), step.shape)
    limit = step_limit(time, Footing(system.soil.rho_ohm_m[0]))
    worst = float(step[row, column])
    return GroundMap(
        x_m=xs,
        y_m=ys,
        ground_v=np.abs(volts),
        touch_v=np.abs(rises[highest] - volts),
        step_v=step,
        metal=highest,
        metal_v=abs(rises[highest]),
        step_worst_v=worst,
        step_at_m=(float(xs[column]), float(ys[row])),
        step_limit_v=limit,
        step_verdict=Verdict.HOLDS if worst <= limit else Verdict.FALLS_SHORT,
    )


def _in_season(quiet: Network, season: str, fault: Fault) -> SeasonRise:
    plan = in_season(quiet.plan, season)
    network = build(plan, loads=quiet.loaded, state=quiet.state)
    solution = Scene(network, fault).solve()
    currents = electrode_currents(plan, solution)
    rises = electrode_rises(network, solution)
    together = joined_resistance(plan.ground, joined_names(plan))
    return SeasonRise(
        season,
        abs(sum(currents.values())),
        max(abs(volts) for volts in rises.values()),
        together if together is not None else math.inf,
    )
