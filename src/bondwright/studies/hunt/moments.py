"""The state of a site at a reading: what is switched off, lifted, or plugged in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from rapidfuzz.process import extractOne

from bondwright.network.build import Network
from bondwright.network.runs import strands
from bondwright.studies.hunt.ports import Port, across, through, within
from bondwright.units import Dimension, UnitError, parse

TEST_LOAD: Final = "test load "
"""How a part of a state begins that names a load plugged in for the reading."""

Wrong = Callable[[str, str], None]
"""Notes what is wrong with a state, and a hint."""


@dataclass(frozen=True, slots=True)
class Heater:
    """A heater of known power, plugged in for a reading.

    Attributes:
        port: where.
        siemens: what it draws for each volt.
    """

    port: Port
    siemens: float


@dataclass(frozen=True, slots=True)
class Moment:
    """The state of the site at a reading.

    Attributes:
        state: id of a written or implied state; "" for normal running.
        off: places whose main, and runs whose device, is open.
        lifted: ports of conductors that were lifted or pulled.
        loads: whether loads are connected; without, each is off at its own switch or unplugged.
        power: whether any source is on.
        time: readings with the same word were taken with the same loads on.
        test: a load plugged in for the reading.
    """

    state: str = ""
    off: frozenset[str] = frozenset()
    lifted: frozenset[Port] = frozenset()
    loads: bool = True
    power: bool = True
    time: str = ""
    test: Heater | None = None


def read_moment(text: str, network: Network, wrong: Wrong) -> Moment:
    """Return the moment that a cell tells, its parts joined by ``;``.

    Args:
        text: the cell.
        network: the site in normal running.
        wrong: is told what can't be understood.
    """
    return _Teller(network, wrong).moment(text)


def plugged_in(network: Network, place: str, watts: float) -> Heater | None:
    """Return a heater from the first line of a place to its neutral; None where it has none.

    Args:
        network: the site in normal running.
        place: where it is plugged in.
        watts: what it draws at the voltage between those terminals.
    """
    terminals = network.terminals.get(place, ())
    lines = [name for name in terminals if name.startswith("L")]
    if not lines or "N" not in terminals:
        return None
    port = across(f"{place}:{lines[0]}", f"{place}:N")
    volts = abs(network.solver.solve().between(port.a, port.b))
    return Heater(port, watts / volts**2) if volts > 1 else None


class _Teller:
    def __init__(self, network: Network, wrong: Wrong) -> None:
        self.network = network
        self.plan = network.plan
        self.wrong = wrong

    def moment(self, text: str) -> Moment:
        state, time = "", ""
        off: set[str] = set()
        lifted: set[Port] = set()
        loads = power = True
        test: Heater | None = None
        for token in (part.strip() for part in text.split(";")):
            if token in ("", "loads on", "normal"):
                continue
            if token == "no load":
                loads = False
            elif token == "power off":
                power = False
            elif token.startswith("@"):
                time = token[1:].strip()
            elif token in {known.id for known in self.plan.states}:
                state = token
            elif token.startswith(TEST_LOAD):
                test = self._plugged_in(token.removeprefix(TEST_LOAD))
            elif token.endswith(" off"):
                off |= self._switched(token.removesuffix(" off"))
            elif token.endswith(" out"):
                lifted |= self._pulled(token.removesuffix(" out"))
            elif token.endswith(" lifted"):
                lifted |= self._lifted(token.removesuffix(" lifted"))
            else:
                known_states = ["no load", "power off", *(s.id for s in self.plan.states)]
                self.wrong(
                    f"has a part that is not known: {token!r}",
                    f"one of {', '.join(known_states)}, or '<place> off', '<place> out', "
                    "'<run> neutral lifted', 'test load 1.5 kW at <place>', '@<time>'",
                )
        return Moment(state, frozenset(off), frozenset(lifted), loads, power, time, test)

    def _plugged_in(self, text: str) -> Heater | None:
        power, _, place = text.partition(" at ")
        try:
            watts = parse(power.strip(), Dimension.REAL_POWER)
        except UnitError as error:
            self.wrong(f"names no test load: {error.problem}", "'test load 1.5 kW at <place>'")
            return None
        if place.strip() not in self.network.terminals:
            hint = nearest(place.strip(), self.network.terminals)
            self.wrong(f"has a test load at {place.strip()!r}, which is no place", hint)
            return None
        found = plugged_in(self.network, place.strip(), watts)
        if found is None or watts <= 0:
            self.wrong(f"can have no test load at {place.strip()!r}", "it needs a line, a neutral")
        return found

    def _switched(self, name: str) -> set[str]:
        if f"main {name}" in self.network.devices or f"device {name}" in self.network.devices:
            return {name}
        known = [device.partition(" ")[2] for device in self.network.devices]
        self.wrong(f"{name!r} has no main or device", nearest(name, known))
        return set()

    def _pulled(self, name: str) -> set[Port]:
        runs = [run for run in self.plan.runs.values() if run.from_ == name]
        if not runs:
            self.wrong(f"nothing leaves {name!r}", "")
        return {
            within(f"run {run.id}", part.name)
            for run in runs
            for part in strands(run)
            if part.terminal not in ("N", "G")
        }

    def _lifted(self, name: str) -> set[Port]:
        run = name.removesuffix(" neutral")
        if name != run and run in self.plan.runs:
            names = [p.name for p in strands(self.plan.runs[run]) if p.terminal == "N"]
            return {within(f"run {run}", part) for part in names}
        if name in self.plan.electrodes:
            return {within(f"electrode conductor {name}", "metal")}
        if any(tie.id == name for tie in self.plan.ties):
            return {through(f"tie {name}")}
        self.wrong(f"{name!r} is no electrode, tie, or '<run> neutral'", "")
        return set()


def nearest(text: str, known: Mapping[str, object] | list[str]) -> str:
    """Return a hint at the name that was probably meant; "" without one."""
    best = extractOne(text, list(known), score_cutoff=50)
    return f"did you mean {best[0]!r}?" if best else ""
