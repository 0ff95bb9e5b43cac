"""Every defect in normal use: what stray current runs where, what the voltages do.

Loads are taken as the impedances they are at nominal voltage; the studies of single defects
follow them where they draw otherwise.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from scipy.sparse import coo_array, csr_array

from bondwright.network.circuit import Complex
from bondwright.network.runs import strands
from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import DefectPorts
from bondwright.studies.defects.model import Ports, used
from bondwright.studies.defects.near import squares
from bondwright.studies.fault_parts import Flags, Floats, Rows

CLAMP_A: Final = 0.1
"""Below this a clamp reads noise, A (common practice)."""

VOLTAGE_PART: Final = 0.03
"""A change of voltage below this part isn't noticed (common practice: the drop that is allowed
in a branch circuit)."""


class Seen(StrEnum):
    """What an output of normal use is."""

    STRAY = "current on metal"
    NET = "net current of a run"
    LOAD = "voltage of a load"
    METAL = "metal to earth"
    LEAK = "residual of a device"


@dataclass(frozen=True, slots=True)
class Spot:
    """One thing that can be read in normal use.

    Attributes:
        what: what sort of reading.
        id: of the run, electrode or metal; of the place for voltages; of the device.
        part: conductor, or pair of terminals.
    """

    what: Seen
    id: str
    part: str


@dataclass(frozen=True, slots=True, eq=False)
class Everyday:
    """Normal use with every defect, an entry each.

    Attributes:
        spots: what the indices of places point at.
        stray: largest change of a current on metal or of a run's net current, A.
        stray_at: where, an index of spots; -1 for nowhere.
        stray_now: the current there, A.
        low: least voltage of a load in part of what it is without the defect.
        low_at: where.
        high: greatest.
        high_at: where.
        metal: largest rise of metal's voltage to remote earth, V.
        metal_at: where.
        opens: whether a residual element sees enough to open.
        shows: whether a normal day shows it.
    """

    spots: tuple[Spot, ...]
    stray: Floats
    stray_at: Integers
    stray_now: Floats
    low: Floats
    low_at: Integers
    high: Floats
    high_at: Integers
    metal: Floats
    metal_at: Integers
    opens: Flags
    shows: Flags


class Readings:
    """What can be read in normal use, as functionals of the unknowns.

    Args:
        ports: of the network with loads.
    """

    def __init__(self, ports: Ports) -> None:
        self.ports = ports
        self.spots: list[Spot] = []
        self._rows = Rows(ports.size)
        self._felt: list[tuple[int, int]] = []
        self._least: list[float] = []
        self._currents()
        self._voltages()
        self._residuals()
        self.outputs = self._rows.matrix()
        shape = (len(self.spots), int(ports.conductor_base[-1]))
        at = np.array(self._felt, dtype=np.int64).reshape(-1, 2)
        self.carried = csr_array(
            coo_array((np.ones(len(at), complex), (at[:, 0], at[:, 1])), shape=shape)
        )
        flat = self.outputs.tocoo()
        home = np.full(len(self.spots), -1, dtype=np.int64)
        np.maximum.at(home, flat.row, ports.condensed.block[flat.col])
        self.home = home
        self.least = np.array(self._least)
        self.kind = np.array([list(Seen).index(spot.what) for spot in self.spots])

    def _add(self, spot: Spot, entries: list[tuple[int, complex]], least: float = np.inf) -> int:
        self.spots.append(spot)
        self._least.append(least)
        return self._rows.add(entries)

    def _current(self, section: str, conductors: list[str], spot: Spot) -> None:
        """Add the sum of some conductors' currents."""
        solver = self.ports.network.solver
        k = solver.section_index[section]
        item = solver.circuit.sections[k]
        places = [item.names.index(name) for name in conductors]
        y = solver.admittances[k][places].sum(axis=0)
        entries: list[tuple[int, complex]] = []
        for value, a, b in zip(y, item.starts, item.ends, strict=True):
            entries += [(solver.node_row(a), complex(value)), (solver.node_row(b), -complex(value))]
        number = self._add(spot, entries)
        base = int(self.ports.conductor_base[k])
        self._felt += [(number, base + place) for place in places]

    def _currents(self) -> None:
        network = self.ports.network
        known = set()
        for run in network.plan.runs.values():
            section = f"run {run.id}"
            k = network.solver.section_index[section]
            names = network.circuit.sections[k].names
            parts = {part.name: part.terminal for part in strands(run)}
            for name in names:
                if name not in parts:
                    known.add(name)
                    self._current(section, [name], Spot(Seen.STRAY, name, "metal"))
                elif parts[name] == "G":
                    self._current(section, [name], Spot(Seen.STRAY, run.id, name))
            inside = [name for name in names if parts.get(name, "G") != "G"]
            self._current(section, inside, Spot(Seen.NET, run.id, "lines and neutral"))
        for electrode in network.plan.electrodes.values():
            section = f"electrode conductor {electrode.id}"
            if section in network.solver.section_index:
                spot = Spot(Seen.STRAY, electrode.id, "electrode conductor")
                self._current(section, ["metal"], spot)
        for section_of in network.circuit.sections:
            if section_of.id.startswith("metal ") and section_of.id not in known:
                self._current(section_of.id, ["metal"], Spot(Seen.STRAY, section_of.id, "metal"))

    def _voltages(self) -> None:
        network, block = self.ports.network, self.ports.condensed.block
        index = network.solver.index
        done = set()
        for load in network.loads:
            place, _, a = load.a.rpartition(":")
            b = load.b.rpartition(":")[2]
            if (load.a, load.b) not in done:
                done.add((load.a, load.b))
                spot = Spot(Seen.LOAD, place, f"{a}-{b}")
                self._add(spot, [(index[load.a], 1), (index[load.b], -1)])
        serving = {run.from_ for run in network.plan.runs.values()}
        for place, terminals in network.terminals.items():
            lines = [t for t in terminals if t.startswith("L")]
            if place in serving and "N" in terminals and block[index[f"{place}:N"]] < 0:
                for line in lines:
                    pair = (f"{place}:{line}", f"{place}:N")
                    if pair not in done:
                        spot = Spot(Seen.LOAD, place, f"{line}-N")
                        self._add(spot, [(index[pair[0]], 1), (index[pair[1]], -1)])
            if "G" in terminals:
                self._add(Spot(Seen.METAL, place, "G"), [(index[f"{place}:G"], 1)])

    def _residuals(self) -> None:
        """Add what the residual elements of devices see."""
        parts = self.ports.parts
        residuals = parts.first[0]
        flat = parts.outputs
        for number, trip in enumerate(parts.trips):
            if trip.residual < 0:
                continue
            output = residuals + trip.residual
            low, high = flat.indptr[output], flat.indptr[output + 1]
            entries = [(int(c), complex(v)) for c, v in zip(
                flat.indices[low:high], flat.data[low:high], strict=True)]  # fmt: skip
            spot = Spot(Seen.LEAK, parts.devices[trip.device], "residual")
            at = self._add(spot, entries, float(parts.least_of_trip[number]))
            row = self.ports.carried[[output]].tocoo()
            self._felt += [(at, int(col)) for col in row.col]


def everyday(ports: Ports, faulty: DefectPorts, readings: Readings | None = None) -> Everyday:
    """Look at normal use with every defect.

    A load at the end of a branch sees what its panel sees; each is looked at by itself only for
    defects in its own branch.

    Args:
        ports: of the network with loads.
        faulty: the defects as changes of it.
        readings: what can be read there, if it is at hand.
    """
    readings = readings or Readings(ports)
    count = len(faulty.altered.defects)
    found = _Book(count)
    seen, inner = ports.watches(readings.outputs)
    base = ports.undisturbed(seen)
    answers, first = faulty.answers(), faulty.altered.first
    outside = readings.home < 0
    region = ports.regions(seen)
    by_home: dict[int, list[int]] = {}
    for k, home in enumerate(readings.home.tolist()):
        if home >= 0:
            by_home.setdefault(home, []).append(k)
    for start, stop in faulty.lots():
        changes = np.arange(first[start], first[stop])
        weights, pushes = csr_array(faulty.weights[changes]), csr_array(faulty.pushes[changes])
        homes = np.unique(
            np.concatenate([pushes.indices, faulty.watched[1][changes].indices]) // ports.width
        )
        own = [k for home in homes.tolist() for k in by_home.get(home, ())]
        near = np.isin(region, np.append(faulty.region[start:stop], -1))
        kept = np.flatnonzero(outside & near)
        which = np.unique(np.concatenate([kept, np.array(own, dtype=np.int64)]))
        columns = used(weights)
        inverse = ports.condensed.columns(columns)
        watched = (csr_array(seen[which]), csr_array(inner[which]))
        effect = ports.couple(watched, weights, pushes, columns, inverse)
        felt = csr_array(faulty.altered.felt[changes])
        effect = effect - (readings.carried[which] @ felt.T).toarray()
        owner = np.repeat(np.arange(stop - start), np.diff(first[start : stop + 1]))
        number = np.arange(len(changes))
        moved = csr_array(
            coo_array((answers[changes], (owner, number)), shape=(stop - start, len(changes)))
        )
        now = base[which] - np.asarray(moved @ np.ascontiguousarray(effect.T))
        found.take(readings, which, base[which], now, slice(start, stop))
    return found.close(readings)


class _Book:
    """Worst readings so far, by defect."""

    def __init__(self, count: int) -> None:
        none = np.full(count, -1, dtype=np.int64)
        self.stray, self.stray_at, self.stray_now = np.zeros(count), none.copy(), np.zeros(count)
        self.low, self.low_at = np.ones(count), none.copy()
        self.high, self.high_at = np.ones(count), none.copy()
        self.metal, self.metal_at = np.zeros(count), none.copy()
        self.opens = np.zeros(count, dtype=bool)

    def take(
        self, readings: Readings, which: Integers, base: Complex, now: Complex, here: slice
    ) -> None:
        """Note the readings of some defects, (defects, readings)."""
        kind = readings.kind[which]
        size, before = np.sqrt(squares(now)), np.sqrt(squares(base))
        row = np.arange(len(now))
        kinds = list(Seen)
        current = np.flatnonzero(
            (kind == kinds.index(Seen.STRAY)) | (kind == kinds.index(Seen.NET))
        )
        if len(current):
            apart = np.abs(size[:, current] - before[current])
            at = apart.argmax(axis=1)
            self.stray[here] = apart[row, at]
            self.stray_at[here] = which[current[at]]
            self.stray_now[here] = size[row, current[at]]
        load = np.flatnonzero((kind == kinds.index(Seen.LOAD)) & (before > 1.0))
        if len(load):
            part = size[:, load] / before[load]
            for worst, value, where in (
                (part.argmin(axis=1), self.low, self.low_at),
                (part.argmax(axis=1), self.high, self.high_at),
            ):
                value[here] = part[row, worst]
                where[here] = which[load[worst]]
        metal = np.flatnonzero(kind == kinds.index(Seen.METAL))
        if len(metal):
            rise = size[:, metal] - before[metal]
            at = rise.argmax(axis=1)
            self.metal[here] = rise[row, at]
            self.metal_at[here] = which[metal[at]]
        leak = np.flatnonzero(kind == kinds.index(Seen.LEAK))
        if len(leak):
            self.opens[here] = (size[:, leak] >= readings.least[which[leak]]).any(axis=1)

    def close(self, readings: Readings) -> Everyday:
        """Return what was found."""
        change = np.maximum(1 - self.low, self.high - 1)
        shows = (self.stray > CLAMP_A) | (change > VOLTAGE_PART) | self.opens
        return Everyday(
            tuple(readings.spots), self.stray, self.stray_at, self.stray_now, self.low,
            self.low_at, self.high, self.high_at, self.metal, self.metal_at, self.opens, shows,
        )  # fmt: skip
