"""Pairs of a defect and a fault followed to their end: who opens, when, what metal does.

The steps are those of :mod:`bondwright.studies.clearing`, each made for some thousand pairs.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np

from bondwright.network.circuit import Complex
from bondwright.safety.touch import touch_limit
from bondwright.studies.band_table import times_of
from bondwright.studies.clearing import ALIKE
from bondwright.studies.condense import Integers
from bondwright.studies.defects.near import Near, squares, values
from bondwright.studies.fault_model import CLEARED_A, LONGEST_S
from bondwright.studies.fault_parts import Flags, Floats, padded
from bondwright.studies.faults import stands_unseen

_ORDER: Final = 1e-7
_SEEN: Final = 0.5
"""Devices whose elements see less than this part of what moves them are left out: no opening of
others can make so much more of it."""
_LOOKED_AT: Final = 0.05
"""Conductors that would take less than this part of what they bear in :data:`LONGEST_S` are left
out."""


@dataclass(slots=True)
class Followed:
    """What came of pairs of a defect and a fault, an entry each.

    Attributes:
        current: of the fault at its start, A.
        touch: highest voltage of metal to remote earth at the start, V.
        touch_place: where, an index of the places with metal.
        at_fault: voltage of the metal at the fault at the start, V.
        clearing: latest time at which the current stops, s; infinite if never.
        limit: touch voltage limit for that time, V (dry).
        opener: device that opens first, an index; -1 for none.
        openings: how many times something opens.
        live_after: voltage that stays on the metal at the fault, V.
        burn: energy over what it bears of the conductor that is worst off, by slow edges;
            0 where none is heated or the current never stops.
        burns: that conductor, an index of outputs; -1 for none.
        loose: whether a breaker of unknown curve makes it slow.
        excused: whether nobody here can say what is ahead, or when a device opens.
        first_of_two: whether it is the first fault of an ungrounded system.
    """

    current: Floats
    touch: Floats
    touch_place: Integers
    at_fault: Floats
    clearing: Floats
    limit: Floats
    opener: Integers
    openings: Integers
    live_after: Floats
    burn: Floats
    burns: Integers
    loose: Flags
    excused: Flags
    first_of_two: Flags

    def __len__(self) -> int:
        return len(self.current)

    def at(self, which: Integers) -> Followed:
        """Return some of the entries."""
        return Followed(*(getattr(self, field.name)[which] for field in fields(self)))


def together(pieces: list[Followed]) -> Followed:
    """Return several results as one."""
    return Followed(
        *(np.concatenate([getattr(p, field.name) for p in pieces]) for field in fields(Followed))
    )


class Course:
    """One lot of pairs on its way.

    Args:
        near: the pairs.
    """

    def __init__(self, near: Near) -> None:
        self.near = near
        self.parts = near.ports.parts
        self.count = len(near.fault)
        self.chosen = near.chosen
        y = near.solve(near.chosen)
        homes = near.homes().tolist()
        self._pick_trips(homes, y)
        self._pick_metal(homes)
        self._pick_conductors(homes, y)

    # --- what is looked at -----------------------------------------------------------------

    def _sees(self, trip: int) -> tuple[int, ...]:
        part = self.parts.trips[trip]
        return part.poles if part.residual < 0 else (self.parts.first[0] + part.residual,)

    def _pick_trips(self, homes: list[int], y: Complex) -> None:
        parts, near = self.parts, self.near
        kept = np.array(parts.kept_trips, dtype=np.int64)
        there = np.isin(near.ports.output_region[parts.first_pole[kept]], near.regions)
        trips = [*kept[there].tolist(), *(t for h in homes for t in parts.own_trips.get(h, ()))]
        outputs = np.unique(np.array([o for t in trips for o in self._sees(t)], dtype=np.int64))
        bound = near.highest(*near.outputs(outputs), y)
        at = dict(zip(outputs.tolist(), bound.tolist(), strict=True))
        chosen = [
            trip
            for trip in trips
            if max(at[o] for o in self._sees(trip)) >= _SEEN * parts.least_of_trip[trip]
        ]
        self.trips: Integers = np.array(chosen, dtype=np.int64)
        closed = {s.id for s in near.ports.network.circuit.switches if s.closed}
        poles = {p for t in chosen for p in parts.trips[t].poles if parts.pole_name[p] in closed}
        near.add_poles(sorted(poles))
        sees = [self._sees(trip) for trip in chosen]
        extra = [(p, rating) for p, rating in parts.bandless if at.get(p, np.inf) > rating]
        every = [o for group in sees for o in group] + [pole for pole, _ in extra]
        self.seen: Integers = np.unique(np.array(every, dtype=np.int64))
        where = {int(o): k for k, o in enumerate(self.seen)}
        self.sees = padded([[where[o] for o in group] for group in sees], len(self.seen))
        self.bandless = [(where[pole], rating) for pole, rating in extra]
        self.trip_base, self.trip_effect = near.outputs(self.seen)
        self.poles = padded([parts.trips[t].poles for t in chosen], -1)

    def _pick_metal(self, homes: list[int]) -> None:
        parts = self.parts
        first = parts.first[2]
        kept = self.near.here(first + np.flatnonzero(parts.home[first:] < 0))
        own = [parts.own_metal[h] for h in homes if h in parts.own_metal]
        self.metal = np.unique(np.concatenate([kept, np.array(own, dtype=np.int64)]))
        self.metal_base, self.metal_effect = self.near.outputs(self.metal)
        place = self.near.faults.metal[self.near.fault]
        spot = np.searchsorted(self.metal, np.maximum(place, 0) + first)
        self.metal_at = np.where(place >= 0, spot, -1)

    def _pick_conductors(self, homes: list[int], y: Complex) -> None:
        parts = self.parts
        _, low, high = parts.first
        kept = [int(o) for o in parts.kept_outputs if low <= o < high]
        own = [o for h in homes for o in parts.own_conductors.get(h, ())]
        outputs = np.unique(np.array([*kept, *own], dtype=np.int64))
        outputs = self.near.here(outputs)
        if len(outputs):
            base, effect = self.near.outputs(outputs)
            bound = self.near.highest(base, effect, y)
            hot = bound**2 * parts.spare[outputs - low] * LONGEST_S > _LOOKED_AT
            outputs, base = outputs[hot], base[hot]
            effect = np.ascontiguousarray(effect[:, hot])
        else:
            base, effect = np.zeros(0, complex), np.zeros((len(self.near.couple) + 1, 0), complex)
        self.conductors, self.wire_base, self.wire_effect = outputs, base, effect
        self.spare = parts.spare[outputs - low] if len(outputs) else np.zeros(0)

    # --- the way to the end ----------------------------------------------------------------

    def follow(self) -> Followed:
        """Follow all pairs to their end."""
        near, count = self.near, self.count
        chosen, y = self.chosen, near.solve(self.chosen)
        volts = squares(values(self.metal_base, self.metal_effect, chosen, y))
        place = volts.argmax(axis=1)
        every = np.arange(count)
        self.current = np.abs(y[:, 0])
        self.drawn = self.current.copy()
        self.time = np.zeros(count)
        self.fastest = np.zeros(count)
        self.openings = np.zeros(count, dtype=np.int64)
        self.opener = np.full(count, -1)
        self.loose = np.zeros(count, dtype=bool)
        self.unknown = np.zeros(count, dtype=bool)
        self.live = np.zeros(count)
        self.energy = np.zeros((count, len(self.conductors)))
        self._gone = np.zeros((len(self.trips), count), dtype=bool)
        self._spent = np.zeros((len(self.trips), count))
        self._warmed = np.zeros((len(self.trips), count))
        at_fault = np.zeros(count)
        metal = self.metal_at >= 0
        at_fault[metal] = np.sqrt(volts[every[metal], self.metal_at[metal]])
        which = every
        while len(which):
            which, chosen = self._step(which, chosen, y)
            if len(which):
                y = near.solve(chosen)
                self.drawn[which] = np.abs(y[:, 0])
        first = self.parts.first[2]
        return self._judged(np.sqrt(volts[every, place]), self.metal[place] - first, at_fault)

    def _step(self, which: Integers, chosen: Integers, y: Complex) -> tuple[Integers, Integers]:
        """Take one step of every pair that goes on; return those that still do."""
        parts = self.parts
        amps = np.sqrt(squares(values(self.trip_base, self.trip_effect, chosen, y)))
        amps = np.concatenate([amps.T, np.zeros((1, len(which)))])
        self._note_end(which, chosen, y, amps)
        seen = amps[self.sees[: len(self.trips), 0]]
        for more in self.sees[: len(self.trips), 1:].T:
            np.maximum(seen, amps[more], out=seen)
        slow, fast = self._times(which, seen)
        spent, warmed = self._spent[:, which], self._warmed[:, which]
        with np.errstate(invalid="ignore"):
            left = np.where(np.isfinite(slow), np.maximum(0.0, 1 - spent) * slow, np.inf)
        least = left.min(axis=0, initial=np.inf)
        able = np.isfinite(least)
        depth = parts.depth[self.trips] - self.trips * _ORDER
        near = (left <= least * (1 + ALIKE)) & np.isfinite(slow)
        column = np.arange(len(which))
        if len(self.trips):
            best = np.where(near, depth[:, None], -np.inf).argmax(axis=0)
            picked = np.where(able, self.trips[best], -1)
        else:
            best, picked = np.zeros(len(which), dtype=np.int64), np.full(len(which), -1)
        residual = parts.is_residual[picked] & able
        going = ~((self.drawn[which] <= CLEARED_A) & ~residual)
        late = np.full(len(which), np.inf)
        early = np.full(len(which), np.inf)
        if able.any():
            late[able] = left[best, column][able]
            with np.errstate(invalid="ignore"):
                quick = np.maximum(0.0, 1 - warmed[best, column]) * fast[best, column]
            early[able] = quick[able]
        # What never stops isn't judged by adiabatic heat.
        warms = going & np.isfinite(late)
        self._warm(which[warms], chosen[warms], y[warms], late[warms])
        on = going & able
        here = which[on]
        if not len(here):
            return here, chosen[on]
        for book, passed, edge in ((self._spent, late, slow), (self._warmed, early, fast)):
            with np.errstate(invalid="ignore", divide="ignore"):
                share = np.where(np.isfinite(edge[:, on]), passed[on] / edge[:, on], 0.0)
            book[:, here] = np.minimum(1.0, book[:, here] + share)
        self.time[here] += late[on]
        self.fastest[here] = np.minimum(self.fastest[here] + early[on], self.time[here])
        taken = picked[on]
        fresh = self.openings[here] == 0
        self.opener[here[fresh]] = parts.of_device[taken[fresh]]
        self.openings[here] += 1
        s, f = slow[best, column][on], fast[best, column][on]
        self.loose[here] |= parts.is_loose[taken] & (s > LONGEST_S) & (f <= LONGEST_S)
        self._gone[:, here] |= parts.lost(self.trips[:, None], taken[None, :])
        opened = self.near.pole_change(self.poles)[best[on]]
        return here, np.concatenate([chosen[on], self._fresh(chosen[on], opened)], axis=1)

    @staticmethod
    def _fresh(chosen: Integers, opened: Integers) -> Integers:
        """Return changes that aren't made yet; those that are become -1."""
        already = (opened[:, :, None] == chosen[:, None, :]).any(axis=2)
        return np.where(already, -1, opened)

    def _times(self, which: Integers, seen: Floats) -> tuple[Floats, Floats]:
        parts = self.parts
        slow, fast = np.full(seen.shape, np.inf), np.full(seen.shape, np.inf)
        act = ~self._gone[:, which] & (seen >= parts.least_of_trip[self.trips][:, None])
        band = np.broadcast_to(parts.band_of_trip[self.trips][:, None], seen.shape)
        slow[act], fast[act] = times_of(parts.bands, band[act], seen[act])
        return slow, fast

    def _warm(self, here: Integers, chosen: Integers, y: Complex, late: Floats) -> None:
        if not len(here) or not len(self.conductors):
            return
        squared = squares(values(self.wire_base, self.wire_effect, chosen, y))
        squared[squared <= CLEARED_A**2] = 0.0
        squared *= late[:, None]
        self.energy[here] += squared

    def _note_end(self, which: Integers, chosen: Integers, y: Complex, amps: Floats) -> None:
        """Keep what the last solution says of metal at the fault and of unknown devices."""
        at = self.metal_at[which]
        there = at >= 0
        value = np.zeros(len(which), dtype=np.complex128)
        value[there] = self.metal_base[at[there]]
        for k in range(chosen.shape[1]):
            value[there] -= self.metal_effect[chosen[there, k], at[there]] * y[there, k]
        self.live[which] = np.abs(value)
        over = np.zeros(len(which), dtype=bool)
        for row, rating in self.bandless:
            over |= amps[row] > rating
        self.unknown[which] = over

    def _weaken(self, part: Floats) -> None:
        """Let conductors that a defect makes smaller bear less, in place."""
        near = self.near
        of: dict[str, list[int]] = {}
        for k, output in enumerate(self.conductors.tolist()):
            section, conductor = near.ports.conductors[output - self.parts.first[1]]
            if conductor.partition(".")[0] == "metal":
                of.setdefault(section.removeprefix("run "), []).append(k)
        for d in np.unique(near.defect[near.defect >= 0]).tolist():
            for weak in near.faulty.altered.defects[d].weak:
                if weak.id in of:
                    rows = np.flatnonzero(near.defect == d)
                    part[rows[:, None], np.array(of[weak.id])] /= weak.part**2

    def _judged(self, touch: Floats, place: Integers, at_fault: Floats) -> Followed:
        near = self.near
        stopped = self.drawn <= CLEARED_A
        quiet = (self.current <= CLEARED_A) & (self.openings == 0)
        ids, back = np.unique(near.fault, return_inverse=True)
        faults = [near.faults.faults[k] for k in ids]
        doubtful = np.zeros(len(ids), dtype=bool)
        doubtful[back[quiet]] = True
        first = np.array(
            [d and near.faults.is_first(f) for d, f in zip(doubtful, faults, strict=True)],
            dtype=bool,
        )[back]
        ahead = np.array([near.faults.is_ahead(fault.place) for fault in faults], bool)[back]
        metal = np.array([stands_unseen(fault, False, 0.0) for fault in faults], dtype=bool)[back]
        danger = touch > touch_limit(np.inf)
        stands = quiet & metal & (~first | danger)
        clearing = np.where(stopped & ~stands, self.time, np.inf)
        times, which = np.unique(clearing, return_inverse=True)
        limit = np.array([touch_limit(float(t)) for t in times])[which]
        burn, burns = np.zeros(self.count), np.full(self.count, -1)
        if len(self.conductors):
            part = self.energy * self.spare
            self._weaken(part)
            worst = part.argmax(axis=1)
            burn = part[np.arange(self.count), worst]
            burns = np.where(burn > 0, self.conductors[worst], -1)
        return Followed(
            current=self.current,
            touch=touch,
            touch_place=place,
            at_fault=at_fault,
            clearing=clearing,
            limit=limit,
            opener=self.opener,
            openings=self.openings,
            live_after=self.live,
            burn=burn,
            burns=burns,
            loose=self.loose,
            excused=ahead | self.unknown,
            first_of_two=quiet & first,
        )
