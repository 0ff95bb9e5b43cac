"""What flows where: the currents of one solution, told by the things a person can point at."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np

from bondwright.network.build import Network
from bondwright.network.metal import pieces
from bondwright.network.runs import strands
from bondwright.network.solve import Solution


class Carrier(StrEnum):
    """What carries a current."""

    RUN = "run"
    TIE = "tie"
    ELECTRODE = "electrode"
    METAL = "metal"


@dataclass(frozen=True, slots=True)
class Flow:
    """The current in one conductor.

    Attributes:
        carrier: what sort of thing carries it.
        id: of the run, tie, electrode or metal.
        conductor: name within a run ("L1", "N", "metal", "raceway"), else the carrier's word.
        terminal: L1, L2, L3, N or G; for a tie or electrode G.
        from_: place where it starts.
        to: place where it ends ("earth" for an electrode, the place itself for a tie).
        current: phasor from start to end, A rms; in a tie from neutral to metal.
    """

    carrier: Carrier
    id: str
    conductor: str
    terminal: str
    from_: str
    to: str
    current: complex

    @property
    def amperes(self) -> float:
        """Magnitude, A."""
        return abs(self.current)

    @property
    def angle(self) -> float:
        """Phase angle, degrees."""
        return math.degrees(cmath.phase(self.current))

    @property
    def on_metal(self) -> bool:
        """Whether this is metal that should be quiet in normal use."""
        return self.terminal == "G" and self.carrier is not Carrier.TIE


def flows(network: Network, solution: Solution) -> tuple[Flow, ...]:
    """Return the current of every conductor, tie, electrode and metal in a solution.

    Args:
        network: the network that was solved.
        solution: its solution.

    Returns:
        Runs in walking order with their conductors, then ties, electrodes and metal.
    """
    ways = _ways(network)
    currents = solution.conductor_currents[ways.conductors].tolist()
    currents += solution.switch_currents(ways.ties).tolist()
    return tuple(Flow(*facts, currents[at]) for facts, at in ways.flows)


Key = tuple[Carrier, str, str]
"""What carries a current: carrier, its id, and the conductor, as :class:`Flow` names them."""


def amperes(network: Network, solution: Solution) -> dict[Key, float]:
    """Return the magnitude of every flow, A: what :func:`flows` tells, without the telling.

    Args:
        network: the network that was solved.
        solution: its solution.
    """
    ways = _ways(network)
    currents = solution.conductor_currents[ways.conductors].tolist()
    currents += solution.switch_currents(ways.ties).tolist()
    return {key: abs(currents[at]) for key, at in ways.keys}


def heating(network: Network, solution: Solution, least: float) -> dict[tuple[str, str], float]:
    """Return the currents in wires of runs and electrodes above a least, A.

    Returns:
        Amperes by the id of the run or electrode and the conductor.
    """
    ways = _ways(network)
    amps = np.abs(solution.conductor_currents[ways.conductors])
    found = {}
    for k in np.flatnonzero((amps > least) & ways.wired).tolist():
        facts = ways.facts[k]
        found[facts[1], facts[2]] = float(amps[k])
    return found


_Facts = tuple[Carrier, str, str, str, str, str]


class _Ways:
    """Everything that carries current, read off a network once.

    Attributes:
        facts: of each conductor that is told, as :class:`Flow` has them.
        conductors: where its current stands among all conductors.
        wired: whether it belongs to a run or an electrode.
        ties: rows of the ties' switches.
        flows: what is told in order, and where its current stands: conductors, then ties.
        keys: the same with as much of the facts as tells one from another.
    """

    def __init__(self, network: Network) -> None:
        plan, solver = network.plan, network.solver
        self.facts: list[_Facts] = []
        at: list[int] = []
        self.flows: list[tuple[_Facts, int]] = []

        def add(facts: _Facts, section: str, place: int) -> None:
            self.flows.append((facts, len(self.facts)))
            self.facts.append(facts)
            at.append(int(solver.conductors[solver.section_index[section]]) + place)

        pipes = _pieces(network)
        beside: set[str] = set()
        for place in network.state.topology.order:
            for run_id in network.state.topology.feeds.get(place, ()):
                run, section = plan.runs[run_id], f"run {run_id}"
                names = network.circuit.sections[solver.section_index[section]].names
                terminals = {part.name: part.terminal for part in strands(run)}
                for k, name in enumerate(names):
                    if name in terminals:
                        what = (Carrier.RUN, run_id, name, terminals[name])
                    else:
                        beside.add(name)
                        what = (Carrier.METAL, *pipes[name][:2], "G")
                    add((*what, run.from_, run.to), section, k)
        waiting = []
        for tie in plan.ties:
            facts = (Carrier.TIE, tie.id, "tie", "G", tie.at, tie.at)
            waiting.append(solver.switch_row[f"tie {tie.id}"])
            self.flows.append((facts, -len(waiting)))
        for electrode in plan.electrodes.values():
            if electrode.conductor is not None:
                lead = "electrode conductor"
                facts = (Carrier.ELECTRODE, electrode.id, lead, "G", electrode.at, "earth")
                add(facts, f"{lead} {electrode.id}", 0)
        for piece, (metal, label, start, end) in pipes.items():
            if piece not in beside:
                add((Carrier.METAL, metal, label, "G", start, end), piece, 0)
        self.conductors = np.array(at, dtype=np.int64)
        self.ties = np.array(waiting, dtype=np.int64)
        count = len(at)
        self.flows = [(f, k if k >= 0 else count - k - 1) for f, k in self.flows]
        self.keys = [((f[0], f[1], f[2]), k) for f, k in self.flows]
        self.wired = np.array(
            [facts[0] in {Carrier.RUN, Carrier.ELECTRODE} for facts in self.facts], dtype=bool
        )


@lru_cache(maxsize=8)
def _ways(network: Network) -> _Ways:
    return _Ways(network)


@lru_cache(maxsize=8)
def _pieces(network: Network) -> dict[str, tuple[str, str, str, str]]:
    """Return for each length of metal between taps its metal, a label, and where it ends."""
    found = {}
    for name, item in network.plan.site.metal.items():
        cut = pieces(name, item)
        taps = {f"metal {name} tap {k}": tap.to for k, tap in enumerate(item.taps)}
        for k, piece in enumerate(cut, start=1):
            label = "metal" if len(cut) == 1 else f"metal {k}"
            start, end = (taps.get(node, node.removesuffix(":G")) for node in (piece.a, piece.b))
            found[piece.id] = (name, label, start, end)
    return found


def metal_voltages(network: Network, solution: Solution) -> dict[str, float]:
    """Return the voltage of every place's metal to remote earth, V rms."""
    return {
        name: abs(solution.voltage(f"{name}:G"))
        for name, terminals in network.terminals.items()
        if "G" in terminals
    }
