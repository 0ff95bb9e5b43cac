"""An open supply neutral where neutral and metal are joined: what all metal then stands at.

The load's return has only the earth left. With V the voltage of a line, Z the load and R all
that the installation has in the ground, its metal rises to about ``V R / (R + Z)`` (voltage
divider), and no residual-current device notices: what goes out by its line comes back by its
neutral. Here the whole network is solved for every R and load, pipes and neighbours with it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from bondwright.network.build import Network, PlacedDevice, build
from bondwright.network.circuit import EARTH
from bondwright.network.loads import settle
from bondwright.network.runs import strands
from bondwright.network.solve import Change, Solution
from bondwright.plan.model import Plan
from bondwright.safety.touch import touch_limit
from bondwright.studies.clearing import residual_current

Floats = npt.NDArray[np.float64]

LEAST_OHM: Final = 1.0
MOST_OHM: Final = 1000.0
POINTS: Final = 31
"""Electrode resistances from the least to the most, equally spaced on a logarithmic scale."""
PARTS: Final = (0.25, 0.5, 1.0, 2.0)
"""Of the described load, where no powers are asked for."""


@dataclass(frozen=True, slots=True)
class Point:
    """One state of an open supply neutral.

    Attributes:
        metal: voltage of the metal to remote earth, V.
        earth: current into the ground by the installation's electrodes, A.
        residual: the largest current that goes out through a device behind the break and doesn't
            come back by it, A; nan without a device.
        low: least voltage of a load in part of what it is made for.
        high: greatest.
    """

    metal: float
    earth: float
    residual: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, eq=False)
class OpenNeutral:
    """An open supply neutral, over the resistance of the electrodes and the load.

    Attributes:
        run: the supply run whose neutral is open.
        at: the place behind it whose metal is told of: the first that is tied, if one is.
        powers: total load of each curve, W, (L,).
        described: index of the curve of the described load; -1 if it isn't among them.
        resistances: of all the installation has in the ground, ohm, (R,).
        points: one for each load and resistance, (L, R).
        now: with the electrodes as described; None where the place has none.
        resistance: of those electrodes together, ohm; inf where there is none.
        tied: whether neutral and metal are joined behind the break.
        limit: voltage that may stand for as long as it likes, V.
        devices: devices whose residual current was looked at.
        residual_devices: whether they have a residual element; else every device of the site was
            looked at as if it had one.
        trips: least residual current at which one of them trips for sure, A; inf without one.
    """

    run: str
    at: str
    powers: tuple[float, ...]
    described: int
    resistances: Floats
    points: tuple[tuple[Point, ...], ...]
    now: Point | None
    resistance: float
    tied: bool
    limit: float
    devices: tuple[str, ...]
    residual_devices: bool
    trips: float

    @property
    def metal(self) -> Floats:
        """Voltages of the metal, V, (L, R)."""
        return np.array([[p.metal for p in row] for row in self.points])

    @property
    def residual(self) -> float:
        """The largest residual current of all states, A; nan without a device."""
        every = [p.residual for row in self.points for p in row]
        return max(every, default=math.nan)

    def crosses(self, load: int) -> float:
        """Return the resistance at which the metal passes the limit, ohm; inf if it doesn't."""
        volts = self.metal[load]
        above = np.nonzero(volts > self.limit)[0]
        if not len(above):
            return math.inf
        k = int(above[0])
        if k == 0:
            return float(self.resistances[0])
        x = np.log(self.resistances[k - 1 : k + 1])
        return float(np.exp(np.interp(self.limit, volts[k - 1 : k + 1], x)))


def supply_runs(plan: Plan) -> tuple[str, ...]:
    """Return the runs from a utility's supply that have a neutral."""
    return tuple(
        run.id
        for run in plan.runs.values()
        if run.from_ in plan.site.sources and run.neutral is not None
    )


def study_open_neutral(
    plan: Plan,
    run: str | None = None,
    powers: Sequence[float] = (),
    resistances: Sequence[float] = (),
) -> OpenNeutral:
    """Open the neutral of a supply and look at the metal, over electrodes and loads.

    Args:
        plan: the plan.
        run: the supply run; the first one that has a neutral if left out.
        powers: total loads, W; the described one in several parts if left out.
        resistances: of all electrodes behind the break together, ohm, ascending; 1 to 1000 ohm
            if left out.

    Raises:
        ValueError: there is no such run, it has no neutral, no load or metal is behind it, or
            a power or resistance isn't positive.
    """
    there = supply_runs(plan)
    if run is None and not there:
        msg = "no supply of this site has a neutral that could open"
        raise ValueError(msg)
    run = there[0] if run is None else run
    if run not in there:
        msg = f"{run!r} is no supply run with a neutral; there is {', '.join(there) or 'none'}"
        raise ValueError(msg)
    behind = _behind(plan, run)
    total = sum(
        load.power
        for name, place in plan.site.places.items()
        if name in behind
        for load in place.loads
    )
    if total <= 0:
        msg = f"nothing is connected behind {run!r}: give its places 'loads'"
        raise ValueError(msg)
    chosen = tuple(powers) or tuple(part * total for part in PARTS)
    ohms = np.array(resistances or np.geomspace(LEAST_OHM, MOST_OHM, POINTS), dtype=np.float64)
    if not min((*chosen, *ohms.tolist())) > 0 or bool(np.any(np.diff(ohms) <= 0)):
        msg = "powers and resistances must be positive, and resistances ascend"
        raise ValueError(msg)
    asker = _Asker(plan, run, behind)
    rows = tuple(asker.row(power / total, ohms) for power in chosen)
    now, resistance = asker.as_described()
    same = [k for k, power in enumerate(chosen) if math.isclose(power, total, rel_tol=1e-9)]
    return OpenNeutral(
        run=run,
        at=asker.at,
        powers=chosen,
        described=same[0] if same else -1,
        resistances=ohms,
        points=rows,
        now=now,
        resistance=resistance,
        tied=any(tie.at in behind and tie.line is None for tie in plan.ties),
        limit=touch_limit(math.inf),
        devices=tuple(device.id for device in asker.devices),
        residual_devices=asker.residual_devices,
        trips=min((d.rating.residual_a or math.inf for d in asker.devices), default=math.inf),
    )


def _behind(plan: Plan, run: str) -> frozenset[str]:
    return frozenset(name for name in plan.topology.order if run in plan.topology.upstream(name))


class _Asker:
    """A site with one supply neutral open, asked again and again."""

    def __init__(self, plan: Plan, run: str, behind: frozenset[str]) -> None:
        self._plan = plan
        self._run = run
        self._behind = behind
        self._whole = self._scaled(1.0)
        self.at = self._first_metal()
        self._metal = f"{self.at}:G"
        every = tuple(d for d in self._whole.devices.values() if d.at in behind)
        residual = tuple(d for d in every if d.rating.residual_a is not None)
        # The main's own lines go out through it and its neutral doesn't: it is no such device.
        branches = tuple(d for d in every if d.id.startswith("device "))
        self.residual_devices = bool(residual)
        self.devices: tuple[PlacedDevice, ...] = residual or branches

    def _first_metal(self) -> str:
        """Return the first place behind the break that has metal, where it is tied if it is."""
        tied = [tie.at for tie in self._plan.ties if tie.line is None]
        order = [name for name in self._plan.topology.order if name in self._behind]
        metal = [name for name in order if f"{name}:G" in self._whole.solver.index]
        if not metal:
            msg = f"nothing behind {self._run!r} has metal that could rise"
            raise ValueError(msg)
        return next((name for name in metal if name in tied), metal[0])

    def _scaled(self, part: float) -> Network:
        """Build the site with every load behind the break at a part of what is described."""
        site = self._plan.site
        places = {
            name: place
            if name not in self._behind
            else place.model_copy(
                update={
                    "loads": [
                        load.model_copy(update={"power": load.power * part}) for load in place.loads
                    ]
                }
            )
            for name, place in site.places.items()
        }
        return build(replace(self._plan, site=site.model_copy(update={"places": places})))

    def _open(self, network: Network) -> list[Change]:
        return [
            network.solver.open_conductor(f"run {self._run}", strand.name)
            for strand in strands(self._plan.runs[self._run])
            if strand.terminal == "N"
        ]

    def _cut(self, network: Network) -> list[Change]:
        return [
            network.solver.open_conductor(f"electrode conductor {e.id}", "metal")
            for e in self._plan.electrodes.values()
            if e.conductor is not None and e.at in self._behind
        ]

    def row(self, part: float, ohms: Floats) -> tuple[Point, ...]:
        network = self._scaled(part)
        changes = [*self._open(network), *self._cut(network)]
        found = []
        for resistance in ohms.tolist():
            join = network.solver.join(self._metal, EARTH, resistance)
            solution = _settled(network, [*changes, join])
            into = abs(solution.voltage(self._metal)) / resistance
            found.append(self._point(network, solution, into))
        return tuple(found)

    def as_described(self) -> tuple[Point | None, float]:
        network = self._whole
        solution = _settled(network, self._open(network))
        into = sum(
            (
                solution.conductor_current(f"electrode conductor {e.id}", "metal")
                for e in self._plan.electrodes.values()
                if e.conductor is not None and e.at in self._behind
            ),
            0j,
        )
        if not abs(into) > 0:
            return None, math.inf
        volts = abs(solution.voltage(self._metal))
        return self._point(network, solution, abs(into)), volts / abs(into)

    def _point(self, network: Network, solution: Solution, earth: float) -> Point:
        parts = [
            abs(solution.between(b.a, b.b)) / b.volts
            for b in network.loads
            if b.a.rpartition(":")[0] in self._behind
        ]
        seen = [
            abs(residual_current(network, network.devices[device.id], solution))
            for device in self.devices
        ]
        return Point(
            metal=abs(solution.voltage(self._metal)),
            earth=earth,
            residual=max(seen, default=math.nan),
            low=min(parts),
            high=max(parts),
        )


def _settled(network: Network, changes: Sequence[Change]) -> Solution:
    return settle(
        network.loads, lambda drawn: network.solver.solve(changes, injections=drawn)
    ).solution
