"""What electrodes of a plan make by themselves and together, from its resistance matrix alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from bondwright.earth.shapes import Electrode
from bondwright.plan.ground import system_of
from bondwright.plan.model import Plan, PlannedGround
from bondwright.site.ground import ElectrodeKind


@dataclass(frozen=True, slots=True)
class ElectrodeRow:
    """One electrode, or a neighbour's metal.

    Attributes:
        id: its label.
        kind: what it is.
        at: place whose metal it is joined to; "" for a neighbour's.
        own: resistance that counts, all others carrying nothing, ohm.
        computed: what geometry or a typical value gives, ohm.
        given: resistance that the description gives, ohm; None if it gives none.
        joined: whether it is joined to our metal.
        neighbour: whether it is a neighbour's.
        shape: its metal, where its place is known.
        share: part of the current that it takes when all joined ones stand at one voltage; 0 for
            one that isn't joined.
        lifted: its voltage then, as a part of that of the joined ones.
        least: least resistance over the seasons and now, ohm.
        most: most, ohm.
    """

    id: str
    kind: ElectrodeKind
    at: str
    own: float
    computed: float
    given: float | None
    joined: bool
    neighbour: bool
    shape: Electrode | None
    share: float
    lifted: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Brings:
    """What a piece of the electrodes adds to the rest.

    Attributes:
        what: the electrode, or one of its rods.
        count: how many pieces there are with it.
        before: resistance without it, ohm.
        after: with it, ohm.
        ideal: with it, if it didn't disturb the others, ohm.
    """

    what: str
    count: int
    before: float
    after: float
    ideal: float


def joined_resistance(
    ground: PlannedGround, names: Sequence[str], *, computed: bool = False
) -> float | None:
    """Return what some electrodes, joined, have to remote earth, ohm.

    Args:
        ground: what stands in the ground.
        names: the electrodes; None comes back for none.
        computed: leave out what was measured.
    """
    at = [ground.names.index(name) for name in names]
    if not at:
        return None
    matrix = np.array(ground.resistance)
    if computed:
        root = np.array([ground.factors.get(name, 1.0) ** -0.5 for name in ground.names])
        matrix = matrix * np.outer(root, root)
        alone = [k for k, name in enumerate(ground.names) if name not in ground.shapes]
        for k in alone:
            matrix[k, k] = ground.computed[ground.names[k]]
    part = matrix[np.ix_(at, at)]
    return float(1 / np.linalg.solve(part, np.ones(len(at))).sum())


def joined_names(plan: Plan) -> tuple[str, ...]:
    """Return the electrodes that are joined to our metal."""
    return tuple(name for name, one in plan.electrodes.items() if one.conductor is not None)


def electrode_rows(plan: Plan) -> tuple[ElectrodeRow, ...]:
    """Return every electrode of a plan, then the neighbours' metal."""
    ground, joined = plan.ground, joined_names(plan)
    matrix = np.array(ground.resistance)
    at = [ground.names.index(name) for name in joined]
    lifted = np.zeros(len(ground.names))
    shares = dict[str, float]()
    if at:
        currents = np.linalg.solve(matrix[np.ix_(at, at)], np.ones(len(at)))
        lifted = matrix[:, at] @ currents
        shares = {name: float(c / currents.sum()) for name, c in zip(joined, currents, strict=True)}
    rows = []
    for k, name in enumerate(ground.names):
        planned = plan.electrodes.get(name)
        described = plan.site.electrodes.get(name) or plan.site.neighbours[name]
        values = [matrix[k, k], *(m.resistance[k][k] for m in ground.seasons.values())]
        rows.append(
            ElectrodeRow(
                id=name,
                kind=described.kind,
                at="" if planned is None else planned.at,
                own=float(matrix[k, k]),
                computed=ground.computed[name],
                given=described.resistance,
                joined=name in joined,
                neighbour=name in ground.neighbours,
                shape=ground.shapes.get(name),
                share=shares.get(name, 0.0),
                lifted=float(lifted[k]),
                least=float(min(values)),
                most=float(max(values)),
            )
        )
    return tuple(rows)


def what_each_brings(plan: Plan) -> tuple[Brings, ...]:
    """Return what every further rod and every further electrode really adds.

    Rods of one electrode in the order of the description; then each joined electrode against all
    the other joined ones.
    """
    ground, found = plan.ground, list[Brings]()
    for name, shape in ground.shapes.items():
        described = plan.site.electrodes.get(name) or plan.site.neighbours[name]
        if described.kind is not ElectrodeKind.ROD or len(shape.wires) < 2:
            continue
        factor = ground.factors.get(name, 1.0)
        values = []
        for count in range(1, len(shape.wires) + 1):
            some = Electrode(name, shape.wires[:count])
            values.append(factor * system_of(ground.soil, (some,)).alone(name))
        own = [
            factor * system_of(ground.soil, (Electrode(name, (wire,)),)).alone(name)
            for wire in shape.wires
        ]
        for count in range(2, len(values) + 1):
            found.append(
                Brings(
                    name,
                    count,
                    values[count - 2],
                    values[count - 1],
                    1 / sum(1 / r for r in own[:count]),
                )
            )
    joined = joined_names(plan)
    whole = joined_resistance(ground, joined)
    if len(joined) > 1 and whole is not None:
        for name in joined:
            rest = joined_resistance(ground, [other for other in joined if other != name])
            if rest is not None:
                ideal = 1 / (1 / rest + 1 / ground.between(name, name))
                found.append(Brings(name, 1, rest, whole, ideal))
    return tuple(found)


def in_season(plan: Plan, season: str) -> Plan:
    """Return a plan with its ground as it is in a season.

    Raises:
        KeyError: no such season.
    """
    there = plan.ground.seasons[season]
    ground = replace(plan.ground, soil=there.soil, resistance=there.resistance)
    electrodes = {
        name: replace(one, resistance=ground.between(name, name))
        for name, one in plan.electrodes.items()
    }
    return replace(plan, ground=ground, electrodes=MappingProxyType(electrodes))
