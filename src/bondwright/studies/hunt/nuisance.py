"""What nobody measured: loads, electrodes, joints, the supply's voltage, each within a range.

Every unknown is a standard normal number. A load is ``low + (high - low) Phi(theta)^2`` of what
is described: anything in its range, small loads and none at all more often than large ones. An
electrode's resistance is uniform in its logarithm. Loads and electrodes are taken at the values
that fit best, the others act in first order only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import ndtr, ndtri

from bondwright.network.build import Network, build
from bondwright.network.circuit import Complex
from bondwright.network.runs import strands
from bondwright.plan.model import Plan
from bondwright.site.states import OperatingState
from bondwright.studies.hunt.hypotheses import MOST_AT_ONCE
from bondwright.studies.hunt.moments import Moment
from bondwright.studies.hunt.ports import Indices, Port, Ports, across, is_there, through, within
from bondwright.studies.hunt.settings import settings

Floats = npt.NDArray[np.float64]

_FURTHEST: Final = 2.6
"""A fitted unknown goes no further than this, in standard deviations."""


@dataclass(frozen=True, slots=True)
class KnownLoad:
    """A load that was known at one time.

    Attributes:
        port: where it is connected.
        admittance: what it draws, S.
        sigma: standard uncertainty of that, in part of it.
    """

    port: Port
    admittance: complex
    sigma: float


class Unknowns:
    """The unknowns of a site, numbered.

    ``start`` are the values of the fitted ones at which the circuit is as described.

    Order: electrodes, loads of each time, resistance (or voltage) of the first defect, the second
    and so on; these are fitted. Then joints, the supply's voltage, and angles of loads of each
    time.

    Args:
        network: the site in normal running, with loads.
        times: words of the times at which readings were taken.
        known: for each time the loads that were known.
    """

    def __init__(
        self,
        network: Network,
        times: Sequence[str],
        known: Mapping[str, Sequence[KnownLoad]],
    ) -> None:
        data = settings().nuisance
        plan = network.plan
        self.times = tuple(times)
        self.electrodes = [
            (within(f"electrode conductor {e.id}", "metal"), e.resistance)
            for e in plan.electrodes.values()
            if e.conductor is not None
        ]
        for name in plan.site.sources:
            section = network.circuit.sections[network.solver.section_index[f"electrode of {name}"]]
            self.electrodes.append((within(section.id, "z"), float(section.impedance[0, 0].real)))
        branches = sorted(network.loads, key=lambda b: -(b.volts**2) / abs(b.impedance))
        drawn: dict[Port, complex] = {}
        for branch in branches:
            port = across(branch.a, branch.b)
            drawn[port] = drawn.get(port, 0j) + 1 / branch.impedance
        self.loads = list(drawn.items())
        self.known = {time: {k.port: k for k in known.get(time, ())} for time in times}
        self.joints = _joints(network)
        count, loads = len(self.electrodes), len(self.loads)
        self.load_at = {time: count + k * loads for k, time in enumerate(self.times)}
        self.defect_at = count + loads * len(self.times)
        self.fitted = self.defect_at + MOST_AT_ONCE
        self.joint_at = self.fitted
        self.supply_at = self.joint_at + len(self.joints)
        self.angle_at = {time: self.supply_at + 1 + k * loads for k, time in enumerate(self.times)}
        self.count = self.supply_at + 1 + loads * len(self.times)
        self.start = np.zeros(self.fitted)
        as_described = float(ndtri(math.sqrt((1 - data.load[0]) / (data.load[1] - data.load[0]))))
        for time, start in self.load_at.items():
            for k, (port, _) in enumerate(self.loads):
                if port not in self.known[time]:
                    self.start[start + k] = as_described
        self._electrode = data.electrode
        self._load = data.load
        self.angle = math.radians(data.load_angle)
        self.supply = data.supply

    def electrode_elements(self, theta: Floats) -> tuple[Complex, Complex]:
        """Return (c, dc/dtheta) of every electrode, shapes (H, E), for theta (H, fitted)."""
        own = theta[:, : len(self.electrodes)]
        ohms = np.array([r for _, r in self.electrodes])
        low, high = (math.log(f) for f in self._electrode)
        now = ohms * np.exp(low + (high - low) * ndtr(own))
        return _complex(ohms - now), _complex(-now * (high - low) * _bell(own))

    def load_elements(self, theta: Floats, time: str) -> tuple[Complex, Complex, Complex]:
        """Return (c, dc/dtheta, dc/dangle) of every load at a time, shapes (H, K)."""
        start = self.load_at[time]
        own = theta[:, start : start + len(self.loads)]
        y = np.array([y for _, y in self.loads], dtype=np.complex128)
        low, high = self._load
        part = low + (high - low) * ndtr(own) ** 2
        slope = 2 * (high - low) * ndtr(own) * _bell(own)
        sigma = np.full(len(y), self.angle)
        for k, (port, drawn) in enumerate(self.loads):
            fact = self.known[time].get(port)
            if fact is not None:
                ratio = abs(fact.admittance / drawn)
                part[:, k] = ratio * (1 + fact.sigma * own[:, k])
                slope[:, k] = ratio * fact.sigma
                sigma[k] = 0.05
        return (part - 1) * y, slope * y, 1j * part * y * sigma

    def known_at(self, time: str) -> Indices:
        """Return the numbers of the loads that were known at a time."""
        known = self.known[time]
        return np.array(
            [k for k, (port, _) in enumerate(self.loads) if port in known], dtype=np.int64
        )

    def extra(self, time: str) -> list[tuple[Port, complex]]:
        """Return known loads at places where the site describes none."""
        there = {port for port, _ in self.loads}
        return [(k.port, k.admittance) for k in self.known[time].values() if k.port not in there]

    def ports(self) -> list[Port]:
        """Return every port at which an unknown acts."""
        found = [port for port, _ in (*self.electrodes, *self.joints)]
        return [*found, *(port for port, _ in self.loads)]


def clipped(theta: Floats) -> Floats:
    """Return fitted unknowns within reason."""
    return np.clip(theta, -_FURTHEST, _FURTHEST)


def _complex(values: Floats) -> Complex:
    return np.asarray(values, dtype=np.complex128)


def _bell(x: Floats) -> Floats:
    return np.asarray(np.exp(-(x**2) / 2) / math.sqrt(2 * math.pi))


def _joints(network: Network) -> list[tuple[Port, float]]:
    """Return how uncertain every conductor is, ohm: its joints, length and temperature."""
    data = settings().nuisance
    spread = (data.joint[1] - data.joint[0]) / math.sqrt(12)
    found = []
    for run in network.plan.runs.values():
        section = network.circuit.sections[network.solver.section_index[f"run {run.id}"]]
        own = {part.name: part for part in strands(run)}
        for k, name in enumerate(section.names):
            part = own.get(name)
            tube = part is not None and part.conductor is None
            share = data.steel if tube and run.id in network.steel else data.conductor
            sigma = math.hypot(spread, share * abs(complex(section.impedance[k, k]).real))
            found.append((within(section.id, name), sigma))
    for section in network.circuit.sections:
        if section.id.startswith("metal "):
            sigma = math.hypot(spread, data.steel * abs(complex(section.impedance[0, 0]).real))
            found.append((within(section.id, "metal"), sigma))
    found += [(through(f"tie {tie.id}"), 3 * data.joint[0]) for tie in network.plan.ties]
    return found


class View:
    """The circuit in one state, reduced to its ports.

    Args:
        network: the circuit.
        ports: every port that is of interest; those that aren't there are left out.
        unknowns: of the site.
    """

    def __init__(self, network: Network, ports: Sequence[Port], unknowns: Unknowns) -> None:
        self.network = network
        wanted = dict.fromkeys((*unknowns.ports(), *ports))
        self.ports = Ports(network, [port for port in wanted if is_there(network, port)])
        at = self.ports.at
        self.electrode_at = _at(at, [port for port, _ in unknowns.electrodes])
        self.load_at = _at(at, [port for port, _ in unknowns.loads])
        self.joint_at = _at(at, [port for port, _ in unknowns.joints])
        self.joint = np.array([sigma for _, sigma in unknowns.joints])
        self.drives_load = network.loaded
        self.powered = bool(network.state.on)

    def has(self, port: Port) -> bool:
        """Say whether a port is among those reduced to."""
        return port in self.ports.at


def _at(at: Mapping[Port, int], ports: Sequence[Port]) -> Indices:
    return np.array([at[port] for port in ports], dtype=np.int64)


def network_at(plan: Plan, moment: Moment) -> Network:
    """Build the circuit of a moment, without what was lifted by hand.

    Args:
        plan: the plan.
        moment: the moment.
    """
    chosen = next((s for s in plan.states if s.id == moment.state), plan.states[0])
    state: OperatingState = replace(
        chosen,
        open=chosen.open | moment.off,
        on=chosen.on if moment.power else frozenset(),
    )
    return build(plan, loads=moment.loads and moment.power, state=state)
