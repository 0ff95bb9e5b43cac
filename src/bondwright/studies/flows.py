"""What flows where: the currents of one solution, told by the things a person can point at."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from bondwright.network.build import Network
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
    return tuple(_flows(network, solution))


def _flows(network: Network, solution: Solution) -> Iterator[Flow]:
    plan = network.plan
    beside: set[str] = set()
    for place in plan.topology.order:
        for run_id in plan.topology.feeds.get(place, ()):
            run = plan.runs[run_id]
            section = network.circuit.sections[network.solver.section_index[f"run {run_id}"]]
            currents = solution.section_currents(section.id)
            terminals = {part.name: part.terminal for part in strands(run)}
            for name, current in zip(section.names, currents, strict=True):
                if name in terminals:
                    yield Flow(
                        Carrier.RUN,
                        run_id,
                        name,
                        terminals[name],
                        run.from_,
                        run.to,
                        complex(current),
                    )
                else:
                    metal = name.removeprefix("metal ")
                    beside.add(metal)
                    yield Flow(
                        Carrier.METAL, metal, "metal", "G", run.from_, run.to, complex(current)
                    )
    for tie in plan.ties:
        current = solution.switch_current(f"tie {tie.id}")
        yield Flow(Carrier.TIE, tie.id, "tie", "G", tie.at, tie.at, current)
    for electrode in plan.electrodes.values():
        if electrode.conductor is not None:
            current = solution.conductor_current(f"electrode conductor {electrode.id}", "metal")
            yield Flow(
                Carrier.ELECTRODE,
                electrode.id,
                "electrode conductor",
                "G",
                electrode.at,
                "earth",
                current,
            )
    for name, item in plan.site.metal.items():
        if name not in beside:
            current = solution.conductor_current(f"metal {name}", "metal")
            yield Flow(Carrier.METAL, name, "metal", "G", item.from_, item.to, current)


def metal_voltages(network: Network, solution: Solution) -> dict[str, float]:
    """Return the voltage of every place's metal to remote earth, V rms."""
    return {
        name: abs(solution.voltage(f"{name}:G"))
        for name, terminals in network.terminals.items()
        if "G" in terminals
    }
