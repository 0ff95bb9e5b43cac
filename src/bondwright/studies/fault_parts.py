"""What the vectorised fault study reads off a network once: elements, outputs, limits."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csr_array

from bondwright.catalog.device_rating import DeviceKind
from bondwright.devices.band import TimeBand
from bondwright.network.build import Network
from bondwright.network.circuit import Complex
from bondwright.network.runs import strands
from bondwright.safety.withstand import allowed_i2t
from bondwright.studies.band_table import Element, band_of
from bondwright.studies.clearing import neutral_weights
from bondwright.studies.condense import Condensed, Integers, times
from bondwright.studies.fault_model import damage_c
from bondwright.studies.heat import wire_of
from bondwright.studies.heating import MATERIALS
from bondwright.studies.watching import is_loose, least_current

_SAME: Final = 1e-7
"""Part by which the voltage of metal may differ from that of other metal and count as the same."""

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class TripPart:
    """What opens together, as :class:`bondwright.studies.clearing.Trip`, before any current.

    Attributes:
        device: index of its device in the network.
        poles: indices of its poles among all poles.
        residual: index of its residual functional, or -1.
        band: index of its band.
        depth: how many runs lie between it and the source.
        loose: whether a missing curve makes its slow edge wide.
    """

    device: int
    poles: tuple[int, ...]
    residual: int
    band: int
    depth: int
    loose: bool


class Rows:
    """Functionals of the unknowns, gathered one by one."""

    def __init__(self, width: int) -> None:
        self._width = width
        self._count = 0
        self._row: list[int] = []
        self._col: list[int] = []
        self._value: list[complex] = []

    def add(self, entries: Iterable[tuple[int, complex]]) -> int:
        """Add a functional; return its number. Entries at earth (-1) are dropped."""
        for col, value in entries:
            if col >= 0:
                self._row.append(self._count)
                self._col.append(col)
                self._value.append(value)
        self._count += 1
        return self._count - 1

    def matrix(self) -> csr_array:
        """Return all of them, shape (n, width)."""
        data = (
            np.array(self._value, complex),
            (np.array(self._row, int), np.array(self._col, int)),
        )
        return csr_array(coo_array(data, shape=(self._count, self._width)))


class Parts:
    """Everything about a network that every fault needs.

    Args:
        network: built without loads.

    Attributes:
        condensed: the network without its ends.
        devices: ids of devices, in order.
        trips: everything that can open.
        bands: the bands of trips.
        least: current below which a band never operates, A.
        pole_row: unknown of every pole's switch.
        pole_name: id of every pole's switch.
        outputs: functionals: poles, residuals, conductors, metal; in that order.
        first: where residuals, conductors and metal begin among them.
        home: block of every output, -1 outside all.
        spare: 1 over what each conductor bears [1/(A2 s)].
        material: of each conductor, index in :data:`MATERIALS`.
        places: places with metal.
        metal_of: index of each.
        bandless: (pole, rating in A) of devices without known limits.
        seen: the outputs as functionals of the unknowns kept.
        told_metal: index of each place whose metal has a voltage of its own. The metal of the
            others stands, while nothing happens at their own end, at that of one of these.
        row_of_metal: of each place, where it is among these, or -1.
        kept_rows: of those outside all blocks the switched ones, the conductors, and the metal
            of these places.
        kept_bases: their undisturbed values.
        kept_outputs: those outside all blocks, metal left out.
        own_switched: by block, its poles and residuals.
        own_conductors: by block, its conductors.
        own_metal: by block, its metal.
        carriers: by output that is a current of conductors: section, conductor and sign of each.
        kept_trips: trips outside all blocks.
        own_trips: by block, its trips.
        depth, is_residual, is_loose, band_of_trip, least_of_trip: facts of every trip; the last
            entry is of none.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self.condensed = Condensed(network)
        self.devices = tuple(network.devices)
        self._rows = Rows(network.solver.size)
        self.bands: list[TimeBand] = []
        self._band_index: dict[Element, int] = {}
        self.carriers: dict[int, list[tuple[str, str, int]]] = {}
        self._add_poles()
        self.trips = self._add_trips()
        starts = [self.first_residual, 0, 0]
        starts[1] = self.first_residual + self._residuals
        self._add_conductors()
        starts[2] = starts[1] + len(self.spare)
        self.places = tuple(n for n, terminals in network.terminals.items() if "G" in terminals)
        self.metal_of = {name: k for k, name in enumerate(self.places)}
        for name in self.places:
            self._rows.add([(network.solver.index[f"{name}:G"], 1)])
        self.first = (starts[0], starts[1], starts[2])
        self.outputs = self._rows.matrix()
        self.least = np.array([least_current(band) for band in self.bands])
        self.home = self._homes()
        self.seen = self.condensed.seen(self.outputs)
        self._sort_outputs()
        self._sort_trips()
        self._keep_rows()

    def _add_poles(self) -> None:
        network = self.network
        self.pole_name: list[str] = []
        rows: list[int] = []
        self._poles_of: dict[str, list[int]] = {}
        for name, device in network.devices.items():
            for pole in device.poles:
                row = network.solver.switch_row[pole.switch]
                number = self._rows.add([(row, 1)])
                self._poles_of.setdefault(name, []).append(number)
                self.pole_name.append(pole.switch)
                rows.append(row)
        switches = network.circuit.switches
        first = len(network.solver.nodes)
        self._closed = [switches[row - first].closed for row in rows]
        self.pole_row: Integers = np.array(rows, dtype=np.int64)
        self.first_residual = len(rows)
        self._residuals = 0

    def _band(self, element: Element) -> int | None:
        found = band_of(self.network, element)
        if found is None:
            return None
        if element not in self._band_index:
            self._band_index[element] = len(self.bands)
            self.bands.append(found)
        return self._band_index[element]

    def _add_trips(self) -> tuple[TripPart, ...]:
        network = self.network
        upstream = network.state.topology.upstream
        found: list[TripPart] = []
        self.bandless: list[tuple[int, float]] = []
        depths: dict[str, int] = {}
        for number, (name, device) in enumerate(network.devices.items()):
            poles = self._poles_of.get(name, [])
            if device.at not in depths:
                depths[device.at] = sum(1 for _ in upstream(device.at))
            depth = depths[device.at]
            band = self._band((device.rating, False))
            if band is None:
                self.bandless += [(pole, device.rating.rating_a) for pole in poles]
            else:
                fuse = device.rating.kind is DeviceKind.FUSE
                groups = [(pole,) for pole in poles] if fuse else [tuple(poles)]
                loose = is_loose(device.rating)
                found += [TripPart(number, g, -1, band, depth, loose) for g in groups if g]
            leak = self._band((device.rating, True))
            if leak is not None and poles:
                residual = self._add_residual(name) - self.first_residual
                found.append(TripPart(number, tuple(poles), residual, leak, depth, False))
        return tuple(found)

    def _add_residual(self, name: str) -> int:
        network, solver = self.network, self.network.solver
        device = network.devices[name]
        entries: list[tuple[int, complex]] = [
            (solver.switch_row[pole.switch], 1) for pole in device.poles
        ]
        carriers: list[tuple[str, str, int]] = []
        for kind, of, conductor, sign in neutral_weights(network, device):
            if kind == "section":
                entries += [(at, sign * y) for at, y in self._current(of, conductor)]
                carriers.append((of, conductor, sign))
            else:
                entries.append((solver.switch_row[of], sign))
        self._residuals += 1
        number = self._rows.add(entries)
        self.carriers[number] = carriers
        return number

    def _current(self, section: str, conductor: str) -> list[tuple[int, complex]]:
        solver = self.network.solver
        k = solver.section_index[section]
        item = solver.circuit.sections[k]
        y = solver.admittances[k][item.names.index(conductor)]
        found = []
        for value, a, b in zip(y, item.starts, item.ends, strict=True):
            found.append((solver.node_row(a), complex(value)))
            found.append((solver.node_row(b), -complex(value)))
        return found

    def _add_conductors(self) -> None:
        network = self.network
        initial = network.plan.temperature
        spare, material = [], []

        def add(section: str, conductor: str, name: str) -> None:
            wire = wire_of(network, name, conductor)
            if wire is None:
                return
            number = self._rows.add(self._current(section, conductor))
            self.carriers[number] = [(section, conductor, 1)]
            final = max(damage_c(network.plan), initial + 1e-6)
            spare.append(1 / allowed_i2t(wire.area_cmil, wire.material, initial, final))
            material.append(MATERIALS.index(str(wire.material)))

        topology = network.state.topology
        for place in topology.order:
            for run_id in topology.feeds.get(place, ()):
                for part in strands(network.plan.runs[run_id]):
                    add(f"run {run_id}", part.name, run_id)
        for electrode in network.plan.electrodes.values():
            if electrode.conductor is not None:
                add(f"electrode conductor {electrode.id}", "metal", electrode.id)
        self.spare = np.array(spare)
        self.material: Integers = np.array(material, dtype=np.int64)

    def _homes(self) -> Integers:
        """Return the block of each output; one in two blocks can't be."""
        flat = self.outputs.tocoo()
        home = np.full(self.outputs.shape[0], -1, dtype=np.int64)
        np.maximum.at(home, flat.row, self.condensed.block[flat.col])
        return home

    def _sort_outputs(self) -> None:
        residuals, conductors, metal = self.first
        self.kept_outputs = np.flatnonzero((self.home < 0) & (np.arange(len(self.home)) < metal))
        self.own_switched: dict[int, list[int]] = {}
        self.own_conductors: dict[int, list[int]] = {}
        self.own_metal: dict[int, int] = {}
        for output in np.flatnonzero(self.home >= 0).tolist():
            block = int(self.home[output])
            if output < conductors:
                self.own_switched.setdefault(block, []).append(output)
            elif output < metal:
                self.own_conductors.setdefault(block, []).append(output)
            else:
                self.own_metal[block] = output
        del residuals

    def _sort_trips(self) -> None:
        self.kept_trips: list[int] = []
        self.own_trips: dict[int, list[int]] = {}
        for number, trip in enumerate(self.trips):
            block = int(self.home[trip.poles[0]])
            if block < 0:
                self.kept_trips.append(number)
            else:
                self.own_trips.setdefault(block, []).append(number)
        self.depth = np.array([*(float(t.depth) for t in self.trips), -1.0])
        self.is_residual: Flags = np.array([*(t.residual >= 0 for t in self.trips), False])
        self.is_loose: Flags = np.array([*(t.loose for t in self.trips), False])
        self.band_of_trip: Integers = np.array([*(t.band for t in self.trips), 0])
        least = [*(float(self.least[t.band]) for t in self.trips), math.inf]
        self.least_of_trip = np.array(least)
        self.first_pole: Integers = np.array([*(t.poles[0] for t in self.trips), -1])
        self.of_device: Integers = np.array([*(t.device for t in self.trips), -1])
        self.of_fuse: Flags = np.array([*(len(t.poles) == 1 for t in self.trips), False])

    def lost(self, trips: Integers, taken: Integers) -> Flags:
        """Return which trips are out once others have opened; the two broadcast.

        A trip has one pole of its device (a fuse, or a device of one pole) or all of them.
        """
        same = (self.of_device[trips] == self.of_device[taken]) & (taken >= 0) & (trips >= 0)
        both = self.first_pole[trips] == self.first_pole[taken]
        out: Flags = same & (both | ~self.of_fuse[trips] | ~self.of_fuse[taken])
        return out

    def _keep_rows(self) -> None:
        kept, (_, conductors, metal) = self.kept_outputs, self.first
        split = int(np.searchsorted(kept, conductors))
        base = self.condensed.base
        self._sort_metal(metal)
        told = self.seen[metal + self.told_metal]
        self.kept_rows = (self.seen[kept[:split]], self.seen[kept[split:]], told)
        self.kept_bases = tuple(times(rows, base) for rows in self.kept_rows)

    def _sort_metal(self, first: int) -> None:
        rows, home = self.seen[first:].tocsr(), self.home[first:]
        alone = np.ones(len(home), dtype=bool)
        where = {
            int(rows.indices[rows.indptr[k]])
            for k in np.flatnonzero(home < 0).tolist()
            if rows.indptr[k + 1] - rows.indptr[k] == 1
        }
        for k in np.flatnonzero(home >= 0).tolist():
            span = slice(int(rows.indptr[k]), int(rows.indptr[k + 1]))
            at, value = rows.indices[span], rows.data[span]
            if not len(at):
                continue
            most = int(np.abs(value).argmax())
            rest = float(np.abs(value).sum() - abs(value[most]) + abs(value[most] - 1))
            alone[k] = rest > _SAME or int(at[most]) not in where
        self.told_metal: Integers = np.flatnonzero(alone)
        self.row_of_metal: Integers = np.full(len(home), -1, dtype=np.int64)
        self.row_of_metal[self.told_metal] = np.arange(len(self.told_metal))

    def likely_poles(self, places: Iterable[str]) -> list[int]:
        """Return the poles of the devices that would be the first to open for faults at places."""
        network = self.network
        found: dict[int, None] = {}
        for place in places:
            names = [f"main {place}"]
            for run in itertools.islice(network.state.topology.upstream(place), 2):
                names += [f"device {run}", f"main {network.plan.runs[run].from_}"]
                if any(name in network.devices for name in names):
                    break
            first = [name for name in names if name in network.devices][:2]
            for name in first:
                found.update(dict.fromkeys(self._poles_of.get(name, ())))
        return [pole for pole in found if self._closed[pole]]

    def inner(self, rows: Integers) -> Complex:
        """Return the part of outputs within their own block, shape (n, s)."""
        s = self.condensed.inverse.shape[1]
        found = np.zeros((len(rows), s), dtype=np.complex128)
        flat = self.outputs[rows].tocoo()
        within = self.condensed.block[flat.col] >= 0
        row, col = flat.row[within], flat.col[within]
        found[row, self.condensed.local[col]] = flat.data[within]
        return found


def padded(groups: Sequence[Sequence[int]], fill: int) -> Integers:
    """Return ragged lists as an array, filled up."""
    width = max((len(group) for group in groups), default=0)
    found = np.full((len(groups), max(width, 1)), fill, dtype=np.int64)
    for k, group in enumerate(groups):
        found[k, : len(group)] = group
    return found
