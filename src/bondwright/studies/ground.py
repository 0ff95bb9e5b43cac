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
from typing import Final

import numpy as np
from numpy.typing import NDArray

from bondwright.earth.shapes import Place
from bondwright.earth.soil import Array
from bondwright.earth.surface import MAX_POINTS, REACH_M
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
from bondwright.studies.ground_surface import Window, ground_maps, windows
from bondwright.studies.scene import Scene

MOST_FAULTS: Final = 3
"""Faults whose surface is worked out; those that lift metal highest, one a place."""
_ROUND: Final = 24
_PATH_M: Final = 0.5


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
    parts = windows(plan, system) if system is not None and chosen else ()
    return GroundStudy(
        ground=plan.ground,
        rows=electrode_rows(plan),
        joined=joined,
        resistance_ohm=joined_resistance(plan.ground, joined),
        apart_ohm=1 / sum(1 / ohms for ohms in own) if own else None,
        brings=what_each_brings(plan),
        faults=tuple(_fault(quiet, result, system, parts) for result in chosen),
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
    quiet: Network, result: FaultResult, system: ElectrodeSystem | None, parts: Sequence[Window]
) -> GroundFault:
    plan = quiet.plan
    solution = Scene(quiet, result.fault).solve()
    currents = electrode_currents(plan, solution)
    rises = electrode_rises(quiet, solution)
    time = result.clearing
    touch: list[TouchAt] = []
    transfer: list[TouchAt] = []
    maps: tuple[GroundMap, ...] = ()
    if system is not None and parts:
        into, footing = _scaled(plan.ground, currents), footing_of(plan)
        limit = touch_bound(time, footing)
        touch = [
            _touch(system, into, name, solution.voltage(f"{name}:G"), _reach(place.position), limit)
            for name, place in plan.site.places.items()
            if place.position is not None and f"{name}:G" in quiet.solver.index
        ]
        transfer = list(_transfers(quiet, solution, system, into, limit))
        maps = ground_maps(parts, _in_order(system, into), rises, step_limit(time, footing))
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
        maps=maps,
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


def footing_of(plan: Plan) -> Footing:
    """Return what people stand on: the uppermost soil, with the layer on it if there is one."""
    soil, layer = plan.ground.soil.rho_ohm_m[0], plan.site.surface_layer
    if layer is None:
        return Footing(soil)
    return Footing(soil, layer.resistivity, layer.thickness)


def touch_bound(time_s: float, footing: Footing) -> float:
    """Return the touch voltage that is borne for a time: the lower of two limits [V].

    That of IEEE Std 80 (50 kg, feet on this ground) and the conventional one for wet skin.
    """
    standard = body_limit(time_s, 50, footing)
    return min(standard, touch_limit(time_s, Skin.WET))


def _touch(
    system: ElectrodeSystem,
    currents: Mapping[str, complex],
    what: str,
    metal: complex,
    points: Array,
    limit: float,
) -> TouchAt:
    ground = ground_phasors(system, currents, points)
    volts = np.abs(metal - ground)
    k = int(np.argmax(volts))
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
    limit: float,
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
        found.append(_touch(system, currents, name, metal[k], points[k : k + 1], limit))
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
