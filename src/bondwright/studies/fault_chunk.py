"""Many faults followed side by side: the sums behind :mod:`bondwright.studies.fault_table`.

The steps are those of :mod:`bondwright.studies.clearing`, each made for some hundred faults.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from bondwright.network.circuit import Complex
from bondwright.studies.band_table import times_of
from bondwright.studies.clearing import ALIKE
from bondwright.studies.condense import Integers
from bondwright.studies.fault_changes import Together
from bondwright.studies.fault_model import CLEARED_A, LONGEST_S
from bondwright.studies.fault_parts import Flags, Floats, padded
from bondwright.studies.wall_settling import Volts

_ORDER: Final = 1e-7


@dataclass(slots=True)
class Outcome:
    """What came of the faults of one chunk, an entry each.

    ``first`` is the trip that opens first, ``last`` that which opens last, -1 for none.
    ``late`` and ``early`` are energies of conductors over what they bear, (conductor, fault),
    ``start`` their currents at the start; ``conductors`` says which outputs they are.
    """

    current: Floats
    loop: Complex
    touch: Floats
    touch_place: Integers
    time: Floats
    fastest: Floats
    drawn: Floats
    first: Integers
    last: Integers
    devices: Integers
    opened: Integers
    opening: Floats
    loose: Flags
    unknown: Flags
    live: Floats
    late: Floats
    early: Floats
    start: Floats
    conductors: Integers
    settled: Flags


class Chunk(Together):
    """Some faults that lie near each other, to be followed to their end."""

    def follow(self) -> Outcome:
        """Follow all faults to their end."""
        count = len(self.wanted)
        every = np.arange(count)
        chosen = self.chosen
        y, coefficient = self._solve(chosen)
        y, coefficient, walls = self.settle(every, chosen, y, coefficient)
        own = self._own(every, chosen, y, coefficient, walls)
        volts = np.abs(self._outputs_of(2, coefficient, walls))
        touch, touch_place = self._highest(volts, own)
        current = self.drawn(every, y)
        n_kept, n_own = len(self.kept_conductors), self.own_conductors.shape[1]
        trips = len(self.kept_trips) + self.own_trips.shape[1]
        zeros = np.zeros(count)
        with np.errstate(divide="ignore", invalid="ignore"):
            loop = np.where(current > 0, self.drive[chosen[:, 0]] / y[:, 0], np.inf)
        out = Outcome(
            current=current,
            loop=loop,
            touch=touch,
            touch_place=touch_place,
            time=zeros.copy(),
            fastest=zeros.copy(),
            drawn=current.copy(),
            first=np.full(count, -1),
            last=np.full(count, -1),
            devices=np.zeros(count, dtype=np.int64),
            opened=np.zeros(count, dtype=np.int64),
            opening=zeros.copy(),
            loose=np.zeros(count, dtype=bool),
            unknown=np.zeros(count, dtype=bool),
            live=zeros.copy(),
            late=np.zeros((n_kept + n_own, count)),
            early=np.zeros((n_kept + n_own, count)),
            start=np.zeros((n_kept + n_own, count)),
            conductors=np.zeros((0, 0), dtype=np.int64),
            settled=np.ones(count, dtype=bool),
        )
        self._gone = np.zeros((trips, count), dtype=bool)
        self._spent = np.zeros((trips, count))
        self._warmed = np.zeros((trips, count))
        self._by: list[set[int]] = [set() for _ in every]
        which = every
        while len(which):
            if walls is not None:
                out.settled[which] &= walls.settled
            which, chosen = self._step(out, which, chosen, coefficient, own, walls)
            if len(which):
                y, coefficient = self._solve(chosen)
                y, coefficient, walls = self.settle(which, chosen, y, coefficient)
                own = self._own(which, chosen, y, coefficient, walls)
                out.drawn[which] = self.drawn(which, y)
        out.devices = np.array([len(by) for by in self._by])
        out.conductors = np.concatenate(
            [
                np.broadcast_to(self.kept_conductors[:, None], (n_kept, count)),
                self.own_conductors[self.row].T,
            ]
        )
        return out

    def _highest(self, volts: Floats, own: Complex) -> tuple[Floats, Integers]:
        """Return the highest voltage on metal of every fault, V, and at which place."""
        parts, every = self.parts, np.arange(volts.shape[1])
        mine = self._metal
        ended = np.flatnonzero((mine >= 0) & (self._block >= 0))
        here = np.abs(own[ended, -1])
        row = parts.row_of_metal[mine[ended]]
        volts[row[row >= 0], ended[row >= 0]] = here[row >= 0]
        best = volts.argmax(axis=0)
        place, most = parts.told_metal[best], volts[best, every]
        above = here > most[ended]
        place[ended[above]], most[ended[above]] = mine[ended[above]], here[above]
        return most, place

    def _outputs_of(
        self, group: int, coefficient: Complex, walls: Volts | None, some: Flags | None = None
    ) -> Complex:
        """Return outputs outside all blocks: 0 what is switched, 1 conductors, 2 metal."""
        base = (self.common_base, self.carried_base, self.metal_base)[group]
        rows = (self.common, self.carried, self.metal)[group]
        if some is not None:
            coefficient = coefficient[some]
        found = base[:, None] - rows @ coefficient.T
        if walls is not None and self.walls is not None:
            kept = walls.kept if some is None else walls.kept[some]
            used = np.flatnonzero(kept.any(axis=0))
            if len(used):
                found -= self.walls.answers[group][:, used] @ kept[:, used].T
        return np.asarray(found)

    def _step(
        self,
        out: Outcome,
        which: Integers,
        chosen: Integers,
        coefficient: Complex,
        own: Complex,
        walls: Volts | None,
    ) -> tuple[Integers, Integers]:
        """Take one step of every fault that goes on; return those that still do."""
        parts = self.parts
        common = np.abs(self._outputs_of(0, coefficient, walls))
        amps = np.abs(own)
        self._note_end(out, which, coefficient, own, common, amps, walls)
        seen = self._seen(which, common, amps)
        trip = np.concatenate(
            [
                np.broadcast_to(self.kept_trips[:, None], (len(self.kept_trips), len(which))),
                self.own_trips[self.row[which]].T,
            ]
        )
        slow, fast = self._times(which, trip, seen)
        spent, warmed = self._spent[:, which], self._warmed[:, which]
        with np.errstate(invalid="ignore"):
            left = np.where(np.isfinite(slow), np.maximum(0.0, 1 - spent) * slow, np.inf)
        least = left.min(axis=0, initial=np.inf)
        able = np.isfinite(least)
        near = (left <= least * (1 + ALIKE)) & np.isfinite(slow)
        key = np.where(near, parts.depth[trip] - trip * _ORDER, -np.inf)
        column = np.arange(len(which))
        best = key.argmax(axis=0) if len(key) else np.zeros(len(which), dtype=np.int64)
        picked = trip[best, column] if len(key) else np.full(len(which), -1)
        residual = parts.is_residual[picked] & able
        cleared = out.drawn[which] <= CLEARED_A
        stop = cleared & ~residual
        late, early = np.full(len(which), np.inf), np.full(len(which), np.inf)
        if able.any():
            late[able] = left[best, column][able]
            with np.errstate(invalid="ignore"):
                quick = np.maximum(0.0, 1 - warmed[best, column]) * fast[best, column]
            early[able] = quick[able]
        going = ~stop
        self._energy(out, which, going, late, early, coefficient, amps, walls)
        on = going & able
        if not on.any():
            return which[on], chosen[on]
        here = which[on]
        for book, passed, edge in ((self._spent, late, slow), (self._warmed, early, fast)):
            with np.errstate(invalid="ignore", divide="ignore"):
                share = np.where(np.isfinite(edge[:, on]), passed[on] / edge[:, on], 0.0)
            book[:, here] = np.minimum(1.0, book[:, here] + share)
        out.time[here] += late[on]
        out.fastest[here] = np.minimum(out.fastest[here] + early[on], out.time[here])
        taken = picked[on]
        fresh = out.opened[here] == 0
        out.first[here[fresh]] = taken[fresh]
        out.opening[here[fresh]] = seen[best, column][on][fresh]
        out.last[here] = taken
        out.opened[here] += 1
        s, f = slow[best, column][on], fast[best, column][on]
        out.loose[here] |= parts.is_loose[taken] & (s > LONGEST_S) & (f <= LONGEST_S)
        return here, self._open(here, chosen[on], taken, trip[:, on])

    def _open(self, here: Integers, chosen: Integers, taken: Integers, trip: Integers) -> Integers:
        parts = self.parts
        known = len(self._u)
        wider = []
        for fault, number, row in zip(here, taken, chosen, strict=True):
            part = parts.trips[number]
            self._by[fault].add(part.device)
            wider.append([*(int(k) for k in row if k >= 0), *(self._pole(p) for p in part.poles)])
        if len(self._u) > known:
            self._refresh()
        # What has lost a pole is out: the whole of a breaker, the one fuse.
        self._gone[:, here] |= parts.lost(trip, taken[None, :])
        return padded(wider, -1)

    def _seen(self, which: Integers, common: Floats, amps: Floats) -> Floats:
        ext = np.concatenate([common, np.zeros((1, common.shape[1]))])
        kept = ext[self.kept_sees].max(axis=1, initial=0.0)
        row = self.row[which]
        own = np.concatenate([amps, np.zeros((len(amps), 1))], axis=1)
        sees = self.own_sees[row]
        mine = np.take_along_axis(own[:, None, :], sees, axis=2).max(axis=2, initial=0.0)
        return np.concatenate([kept, mine.T])

    def _times(self, which: Integers, trip: Integers, seen: Floats) -> tuple[Floats, Floats]:
        parts = self.parts
        slow, fast = np.full(seen.shape, np.inf), np.full(seen.shape, np.inf)
        band = parts.band_of_trip[trip]
        act = (trip >= 0) & ~self._gone[:, which] & (seen >= parts.least_of_trip[trip])
        slow[act], fast[act] = times_of(parts.bands, band[act], seen[act])
        return slow, fast

    def _energy(
        self,
        out: Outcome,
        which: Integers,
        going: Flags,
        late: Floats,
        early: Floats,
        coefficient: Complex,
        amps: Floats,
        walls: Volts | None,
    ) -> None:
        here = which[going]
        if not len(here):
            return
        low, high = self.split
        kept = np.abs(self._outputs_of(1, coefficient, walls, going))
        carried = np.concatenate([kept, amps[going, low:high].T])
        heated = carried > CLEARED_A
        squared = np.where(heated, carried**2, 0.0)
        with np.errstate(invalid="ignore"):
            for book, seconds in ((out.late, late[going]), (out.early, early[going])):
                book[:, here] += np.where(heated, squared * seconds, 0.0)
        start = out.opened[here] == 0
        out.start[:, here[start]] = np.where(heated, carried, 0.0)[:, start]

    def _note_end(
        self,
        out: Outcome,
        which: Integers,
        coefficient: Complex,
        own: Complex,
        common: Floats,
        amps: Floats,
        walls: Volts | None,
    ) -> None:
        """Keep what the last solution says of metal at the fault and of unknown devices."""
        parts = self.parts
        metal, block = self._metal[which], self._block[which]
        there = metal >= 0
        value = np.zeros(len(which), dtype=np.complex128)
        kept = there & (block < 0)
        row = parts.row_of_metal[metal[kept]]
        value[kept] = self.metal_base[row] - np.einsum(
            "fc,fc->f", self.metal[row], coefficient[kept]
        )
        if walls is not None and self.walls is not None:
            answer = self.walls.answers[2][row]
            value[kept] -= np.einsum("fn,fn->f", answer, walls.kept[kept])
        ended = there & (block >= 0)
        value[ended] = own[ended, -1]
        out.live[which] = np.abs(value)
        if not parts.bandless:
            return
        over = np.zeros(len(which), dtype=bool)
        at = {int(o): k for k, o in enumerate(parts.kept_outputs)}
        for pole, rating in parts.bandless:
            if pole in at:
                over |= common[at[pole]] > rating
                continue
            for k, fault in enumerate(which):
                mine = parts.own_switched.get(self.wanted[fault].block, [])
                over[k] |= pole in mine and amps[k, mine.index(pole)] > rating
        out.unknown[which] = over
