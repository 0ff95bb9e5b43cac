"""Stray current told as loops: where every ampere on metal leaves the neutral and comes home.

A current on metal in normal use goes round a loop: from the neutral through a tie onto metal,
along metal (or the earth) to another tie, and along the neutral back. The two ties close the
loop; without either it stops. Where metal closes a loop by itself, as a ground wire and the
raceway around it do, the current is an induced one and no tie is to blame.

The field of a run is that of a straight wire with its net current, ``B = mu0 I / (2 pi r)``,
what is left of the fields of its conductors at distances far larger than those between them
(Ampere's law).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bondwright.network.build import Network
from bondwright.network.solve import Change
from bondwright.studies.flows import Carrier, Flow
from bondwright.studies.stray import NOISE_A, StrayCurrent, StrayStudy, study_stray

MU0_OVER_2PI: Final = 2e-7
"""mu0 / (2 pi), H/m."""

GAUSS: Final = 1e-4
"""One gauss, T."""

EARTH: Final = "earth"

ROUNDED: Final = 1e-3
"""Part by which all of a current may seem to be more than all: wires have capacitance."""


class Via(StrEnum):
    """What a step of a loop runs on."""

    METAL = "metal"
    TIE = "tie"
    NEUTRAL = "neutral"
    EARTH = "earth"


@dataclass(frozen=True, slots=True)
class LoopStep:
    """One step of a loop, in the direction of the current.

    Attributes:
        via: what it runs on.
        id: of the run, metal, electrode or tie.
        conductor: which conductor; "" for a tie and the earth.
        from_: place where it starts.
        to: place where it ends.
        amperes: that the step carries in all, A.
    """

    via: Via
    id: str
    conductor: str
    from_: str
    to: str
    amperes: float


@dataclass(frozen=True, slots=True)
class Loop:
    """One current on metal with the way it goes round.

    Attributes:
        current: the current, with its causes and what stays when they are gone.
        steps: the loop in order, from where the current leaves the neutral; the metal that the
            current is named after is one of them.
        closed_by: the two joins that close it (ids of ties, electrodes, or "earth"); fewer where
            metal closes it by itself.
        share: of all that comes home by neutral and metal from where the current comes back
            together; None where it isn't neutral current, or is more than all of that and so goes
            round instead of home.
    """

    current: StrayCurrent
    steps: tuple[LoopStep, ...]
    closed_by: tuple[str, ...]
    share: float | None


@dataclass(frozen=True, slots=True)
class NetCurrent:
    """What a clamp round a whole run reads.

    Attributes:
        run: the run.
        amperes: sum of all its conductors' currents, its raceway and bonding wire included, A.
        wires: the same of lines and neutral alone, A: what comes home some other way than by
            its own conductors.
    """

    run: str
    amperes: float
    wires: float

    def field(self, metres: float) -> float:
        """Return the magnetic flux density so far from the run, T.

        Raises:
            ValueError: the distance isn't positive.
        """
        return field_of(self.amperes, metres)


@dataclass(frozen=True, slots=True)
class LoopStudy:
    """Normal use of a site, told as loops.

    Attributes:
        stray: the study it tells.
        loops: of every current on metal, the largest first.
        nets: net current of every run above :data:`bondwright.studies.stray.NOISE_A`, the
            largest first.
    """

    stray: StrayStudy
    loops: tuple[Loop, ...]
    nets: tuple[NetCurrent, ...]


def field_of(amperes: float, metres: float) -> float:
    """Return the flux density at a distance from a net current, T; ``mu0 I / (2 pi r)``.

    Raises:
        ValueError: the distance isn't positive.
    """
    if not 0 < metres < math.inf:
        msg = f"a distance of {metres} m is not possible; give a positive number"
        raise ValueError(msg)
    return MU0_OVER_2PI * amperes / metres


def net_of_field(tesla: float, metres: float) -> float:
    """Return the net current that makes a field at a distance, A.

    In the units of a field meter it is milligauss times metres over two (common practice).
    """
    return tesla * metres / MU0_OVER_2PI


def study_loops(
    network: Network, standing: Sequence[Change] = (), added: Sequence[tuple[str, str]] = ()
) -> LoopStudy:
    """Solve normal use and tell every current on metal as a loop.

    Args:
        network: built with loads.
        standing: what is different about the circuit all along.
        added: for each join in ``standing`` that is a tie added for the question, its name and
            place; as for :func:`bondwright.studies.stray.study_stray`.
    """
    stray = study_stray(network, standing, added)
    web = _Web(network, stray.flows, added)
    loops = tuple(web.loop(current) for current in stray.currents)
    return LoopStudy(stray, loops, tuple(nets_of(stray.flows)))


def nets_of(flows: Iterable[Flow]) -> list[NetCurrent]:
    """Return the net current of every run, the largest first."""
    whole: dict[str, complex] = {}
    wires: dict[str, complex] = {}
    for flow in flows:
        if flow.carrier is Carrier.RUN:
            whole[flow.id] = whole.get(flow.id, 0j) + flow.current
            if flow.terminal != "G":
                wires[flow.id] = wires.get(flow.id, 0j) + flow.current
    found = [NetCurrent(run, abs(total), abs(wires.get(run, 0j))) for run, total in whole.items()]
    kept = [net for net in found if max(net.amperes, net.wires) >= NOISE_A]
    return sorted(kept, key=lambda net: -net.amperes)


@dataclass(frozen=True, slots=True)
class _Edge:
    """Metal between two places, with what it carries from one to the other."""

    flow: Flow
    from_: str
    to: str
    current: complex

    @property
    def turned(self) -> _Edge:
        return _Edge(self.flow, self.to, self.from_, -self.current)


class _Web:
    """Metal, ties and neutrals of a site with their currents."""

    def __init__(
        self, network: Network, flows: Sequence[Flow], added: Sequence[tuple[str, str]]
    ) -> None:
        self.network = network
        self._edges: dict[str, list[_Edge]] = {}
        self._neutral: dict[str, list[Flow]] = {}
        self._joins: dict[str, list[str]] = {}
        for flow in flows:
            if flow.carrier is Carrier.TIE:
                self._joins.setdefault(flow.from_, []).append(flow.id)
            elif flow.terminal == "G":
                edge = _Edge(flow, flow.from_, flow.to, flow.current)
                self._edges.setdefault(flow.from_, []).append(edge)
                self._edges.setdefault(flow.to, []).append(edge.turned)
            elif flow.terminal == "N":
                self._neutral.setdefault(flow.id, []).append(flow)
        for name, place in added:
            self._joins.setdefault(place, []).append(name)

    def loop(self, current: StrayCurrent) -> Loop:
        """Follow one current both ways along metal until it is on the neutral or in a ring."""
        flow = current.flow
        start = _Edge(flow, flow.from_, flow.to, flow.current)
        ahead, end, ring = self._walk(start)
        if ring:
            whole = [start, *ahead]
            # Only the ring itself: what leads into it is no part of the loop.
            first = next((k for k, e in enumerate(whole) if e.from_ == end), 0)
            steps = tuple(_step(edge) for edge in whole[first:])
            return Loop(current, steps, (), None)
        behind, begin, ring_behind = self._walk(start.turned)
        if ring_behind:
            behind, begin = [], start.from_
        metal = [*(edge.turned for edge in reversed(behind)), start, *ahead]
        home = tuple(self._home(end, begin))
        joins = tuple(name for name in (self._join(begin), self._join(end)) if name)
        into = self._through(begin, metal[0].from_, abs(metal[0].current))
        out = self._through(end, metal[-1].to, abs(metal[-1].current))
        steps = (*into, *(_step(edge) for edge in metal), *out, *home)
        return Loop(current, steps, joins, self._share(flow))

    def _walk(self, start: _Edge) -> tuple[list[_Edge], str, bool]:
        """Go with the current from the end of an edge.

        Returns:
            The edges, the place where it leaves metal, and whether it ran into a ring instead.
        """
        phase = start.current / abs(start.current) if start.current else 1 + 0j

        def along(value: complex) -> float:
            return (value * phase.conjugate()).real

        here, seen, found = start.to, {start.from_}, list[_Edge]()
        last = start
        while True:
            if here == EARTH:
                return found, EARTH, False
            if here in seen:
                return found, here, True
            seen.add(here)
            leaving = [edge for edge in self._edges.get(here, ()) if not _same(edge, last)]
            onto_neutral = -sum(along(edge.current) for edge in self._edges.get(here, ()))
            best = max(leaving, key=lambda edge: along(edge.current), default=None)
            best_amps = along(best.current) if best is not None else 0.0
            if self._joins.get(here) and onto_neutral >= best_amps:
                return found, here, False
            if best is None or best_amps <= 0:
                return found, here, False
            found.append(best)
            last, here = best, best.to

    def _join(self, place: str) -> str:
        if place == EARTH:
            return EARTH
        return next(iter(self._joins.get(place, ())), "")

    def _through(self, place: str, at: str, amperes: float) -> Iterator[LoopStep]:
        if place == EARTH:
            yield LoopStep(Via.EARTH, EARTH, "", at, at, amperes)
        elif self._joins.get(place):
            yield LoopStep(Via.TIE, self._joins[place][0], "", place, place, amperes)

    def _home(self, end: str, begin: str) -> Iterator[LoopStep]:
        """Yield the neutral from where the current leaves metal to where it got on it.

        None where there is no such way by wire: past a transformer no neutral goes on, and a
        source that stands by has none.
        """
        if EARTH in {end, begin}:
            return
        topology = self.network.state.topology
        up = list(topology.upstream(end))
        down = list(topology.upstream(begin))
        while up and down and up[-1] == down[-1]:
            up.pop()
            down.pop()
        runs = self.network.plan.runs
        apart = (runs[up[-1]].from_ if up else end) != (runs[down[-1]].from_ if down else begin)
        if apart or not all(self._neutral.get(name) for name in (*up, *down)):
            return
        for name in up:
            yield from self._neutral_step(name, runs[name].to, runs[name].from_)
        for name in reversed(down):
            yield from self._neutral_step(name, runs[name].from_, runs[name].to)

    def _neutral_step(self, run: str, from_: str, to: str) -> Iterator[LoopStep]:
        amps = abs(sum(flow.current for flow in self._neutral[run]))
        yield LoopStep(Via.NEUTRAL, run, "N", from_, to, amps)

    def _share(self, flow: Flow) -> float | None:
        """Return the flow's part of all that comes home between the two places it joins."""
        ends = {flow.from_, flow.to}
        beside = [f for there in self._neutral.values() for f in there if {f.from_, f.to} == ends]
        if not beside:
            return None
        total = sum((f.current if f.from_ == flow.from_ else -f.current for f in beside), 0j)
        seen = [e for e in self._edges.get(flow.from_, ()) if {e.from_, e.to} == ends]
        total += sum((edge.current for edge in seen), 0j)
        share = flow.amperes / max(abs(total), 1e-300)
        return min(share, 1.0) if share <= 1 + ROUNDED else None


def _same(one: _Edge, other: _Edge) -> bool:
    a, b = one.flow, other.flow
    return (a.carrier, a.id, a.conductor) == (b.carrier, b.id, b.conductor)


def _step(edge: _Edge) -> LoopStep:
    flow = edge.flow
    return LoopStep(Via.METAL, flow.id, flow.conductor, edge.from_, edge.to, flow.amperes)


def told(loop: Loop, names: Mapping[str, str] | None = None) -> str:
    """Tell a loop in order, "main > (feeder metal, 3.2 A) > sub > ...".

    Args:
        loop: the loop.
        names: what to call joins by id.
    """
    said = []
    for step in loop.steps:
        name = (names or {}).get(step.id, step.id)
        what = (
            f"{step.via.value} {name}" if step.via is not Via.METAL else f"{name} {step.conductor}"
        )
        said.append(f"{step.from_} > ({what}, {step.amperes:.3g} A)")
    if loop.steps:
        said.append(loop.steps[-1].to)
    return " > ".join(said)
