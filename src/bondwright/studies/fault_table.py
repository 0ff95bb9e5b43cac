"""Every fault at every place of a large building, in seconds.

The numbers are those of :func:`bondwright.studies.faults.study_fault`, steel raceways at their own
currents; the way of the current, the other currents and the pair of places farthest apart are
left to it.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
import numpy.typing as npt

from bondwright.catalog.safety_data import heating_constants
from bondwright.devices.let_through import let_through
from bondwright.network.build import Network
from bondwright.network.circuit import EARTH
from bondwright.rules.answer import Verdict
from bondwright.rules.iec.ruleset import is_iec
from bondwright.safety.touch import touch_limit
from bondwright.studies.condense import Integers
from bondwright.studies.fault_changes import Wanted
from bondwright.studies.fault_chunk import Chunk, Outcome
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import (
    CLEARED_A,
    LONGEST_S,
    Fault,
    FaultKind,
    FaultResult,
    damage_c,
    heated_s,
)
from bondwright.studies.fault_parts import Flags, Floats, Parts
from bondwright.studies.faults import (
    ahead_of_all,
    is_first_of_two,
    stands_unseen,
    study_fault,
    verdict_of,
)
from bondwright.studies.heating import Heating
from bondwright.studies.scene import joins_of
from bondwright.studies.wall_settling import DROPPED
from bondwright.studies.walls import Walls

VERDICTS: Final = (Verdict.HOLDS, Verdict.CANNOT_TELL, Verdict.FALLS_SHORT)
"""What the codes in :attr:`FaultTable.verdict` mean, the best first."""

NOT_HEATED: Final = -1
"""Code in :attr:`FaultTable.heat` where no conductor is heated, or the current never stops."""

_MOST_A: Final = 1e6
_CHUNK: Final = 320
_COLUMNS: Final = 48


@dataclass(frozen=True, slots=True, eq=False)
class FaultTable:
    """Outcomes of many faults, one entry each, in the order of the faults.

    Attributes:
        faults: the faults.
        places: what :attr:`touch_place` points at.
        devices: what :attr:`opener` and :attr:`last_opener` point at.
        current: at the start, A.
        loop: impedance of the loop, ohm, complex.
        touch: highest voltage of any metal to remote earth at the start, V.
        touch_place: where, an index.
        touch_limit: limit for the clearing time, V (dry).
        opener: device that opens first, an index; -1 for none.
        last_opener: device that opens last.
        openings: how many times something opens.
        opening_current: what the first to open sees then, A.
        clearing: latest time at which the current stops, s; infinite if never.
        fastest: earliest, s.
        live_after: voltage that stays on the metal at the fault when all is over, V.
        temperature: of the conductor that is worst off, degC; NaN where none is heated.
        heat: verdict on it, an index into :data:`VERDICTS`, or :data:`NOT_HEATED`.
        supply_side: whether the fault lies ahead of every device on site.
        missing: whether a breaker's curve or setting is missing to tell.
        verdict: an index into :data:`VERDICTS`.
    """

    faults: tuple[Fault, ...]
    places: tuple[str, ...]
    devices: tuple[str, ...]
    current: Floats
    loop: npt.NDArray[np.complex128]
    touch: Floats
    touch_place: Integers
    touch_limit: Floats
    opener: Integers
    last_opener: Integers
    openings: Integers
    opening_current: Floats
    clearing: Floats
    fastest: Floats
    live_after: Floats
    temperature: Floats
    heat: Integers
    supply_side: Flags
    missing: Flags
    verdict: Integers

    def __len__(self) -> int:
        return len(self.faults)

    def worst_first(self) -> Integers:
        """Return indices of the faults, those that fall short first and the slowest among them."""
        return np.lexsort((-self.touch, -self.clearing, -self.verdict))


Progress = Callable[[int, int], None]
"""Told (faults done, faults in all). It may raise; the work stops there."""


def study_many(
    network: Network,
    faults: Iterable[Fault] | None = None,
    *,
    settle: bool = True,
    within: float = DROPPED,
    progress: Progress | None = None,
) -> FaultTable:
    """Follow many faults at once.

    What can't be followed side by side is followed by itself, by
    :func:`bondwright.studies.faults.study_fault`: every fault where an inverter is on, arcs,
    faults at two places, walls that don't settle, and where a motor may make a device open
    sooner.

    Args:
        network: built without loads.
        faults: None means every usual one.
        settle: whether every steel raceway is taken at its own current; False leaves them as they
            are without current, which is quicker.
        within: part of a fault's current that steel walls which are left as they are may change
            together at most (first order); see :mod:`bondwright.studies.wall_settling`.
        progress: told how far the work is.

    Returns:
        The outcomes.

    Raises:
        ValueError: loads are connected, or a fault names a terminal that isn't there.
    """
    if network.loaded:
        msg = "faults are followed with the loads off; build the network without them"
        raise ValueError(msg)
    chosen = tuple(possible_faults(network) if faults is None else faults)
    tell = progress or _silent
    beside = [k for k, fault in enumerate(chosen) if not (network.inverters or _by_itself(fault))]
    parts = Parts(network)
    wanted = [_wanted(parts, chosen[k]) for k in beside]
    together = [chosen[k] for k in beside]
    judge = _Judge(network, parts)
    walls = Walls(parts) if settle and network.steel else None
    pieces, again, done = [], [], 0
    for start, stop in _chunks(parts, together, wanted):
        chunk = Chunk(parts, wanted[start:stop], walls, within)
        out = chunk.follow()
        pieces.append(judge(together[start:stop], out))
        sooner = np.zeros(stop - start, dtype=bool)
        if network.motors and not network.running:
            sooner = _may_be_sooner(parts, out)
        again += [beside[start + k] for k in np.flatnonzero(~out.settled | sooner).tolist()]
        done = stop
        tell(done, len(chosen))
    columns = [np.zeros(len(chosen), dtype=kind) for kind in _KINDS]
    for column, found in zip(columns, zip(*pieces, strict=True), strict=False):
        column[beside] = np.concatenate(found)
    single = sorted(({*range(len(chosen))} - {*beside}) | {*again})
    for k in single:
        row = _row(parts, study_fault(network, chosen[k], settle=settle))
        for column, value in zip(columns, row, strict=True):
            column[k] = value
        done += k not in again
        tell(min(done, len(chosen)), len(chosen))
    return FaultTable(chosen, parts.places, parts.devices, *columns)


_KINDS: Final = (
    float, complex, float, int, float, int, int, int, float, float, float, float, float, int, bool,
    bool, int,
)  # fmt: skip
"""Of the columns of a table, in order."""


def _silent(done: int, of: int) -> None:
    del done, of


def _by_itself(fault: Fault) -> bool:
    """Whether a fault can't be followed beside others."""
    star = fault.kind is FaultKind.THREE_LINES and bool(fault.impedance)
    return bool(fault.arc) or star or fault.kind is FaultKind.SECOND_TO_METAL


def _may_be_sooner(parts: Parts, out: Outcome) -> Flags:
    """Return which faults could be over sooner if the first device saw more current."""
    found = np.zeros(len(out.first), dtype=bool)
    for k, trip in enumerate(out.first.tolist()):
        if trip >= 0:
            band = parts.bands[parts.trips[trip].band]
            found[k] = out.fastest[k] > band.fastest(_MOST_A) * (1 + 1e-9)
    return found


def _row(parts: Parts, result: FaultResult) -> tuple[object, ...]:
    """Return a fault that was followed by itself as a row of the table."""
    openings = result.openings
    touch = result.touch_verdict
    return (
        result.current,
        cmath.rect(result.loop, math.radians(result.angle)) if result.current > 0 else math.inf,
        touch.voltage_v,
        parts.metal_of.get(result.worst_place, 0),
        touch.limit_v,
        parts.devices.index(openings[0].device) if openings else -1,
        parts.devices.index(openings[-1].device) if openings else -1,
        len(openings),
        openings[0].current if openings else 0.0,
        result.clearing,
        result.fastest,
        result.live_after,
        math.nan if result.heat is None else result.heat.temperature,
        NOT_HEATED if result.heat is None else VERDICTS.index(result.heat.verdict),
        result.supply_side,
        bool(result.missing),
        VERDICTS.index(result.verdict),
    )


def _wanted(parts: Parts, fault: Fault) -> Wanted:
    solver = parts.network.solver
    joins = []
    for a, b in joins_of(fault):
        if any(node != EARTH and node not in solver.index for node in (a, b)):
            msg = f"{fault}: there is no terminal {a!r} or {b!r}"
            raise ValueError(msg)
        joins.append((solver.node_row(a), solver.node_row(b), complex(fault.impedance)))
    metal = parts.metal_of.get(fault.place, -1)
    block = int(parts.condensed.block[joins[0][0]])
    return Wanted(tuple(joins), fault.kind is FaultKind.THREE_LINES, fault.place, metal, block)


def _chunks(
    parts: Parts, faults: Sequence[Fault], wanted: Sequence[Wanted]
) -> Iterator[tuple[int, int]]:
    """Yield stretches of faults that hang from few terminals."""
    start, columns = 0, set[int]()
    condensed = parts.condensed
    for k, one in enumerate(wanted):
        if one.block >= 0:
            mine = set(condensed.touches[one.block].tolist())
        else:
            rows = (row for a, b, _ in one.joins for row in (a, b) if row >= 0)
            mine = {int(condensed.local[row]) for row in rows}
        moved = k > 0 and faults[k].place != faults[k - 1].place
        full = k - start >= _CHUNK or len(columns | mine) > _COLUMNS
        if moved and full:
            yield start, k
            start, columns = k, set()
        columns |= mine
    if wanted:
        yield start, len(wanted)


class _Judge:
    """Turns what came of faults into verdicts."""

    def __init__(self, network: Network, parts: Parts) -> None:
        self.network = network
        self.parts = parts
        self.heating = Heating.at(network.plan.temperature, damage_c(network.plan))
        self.data = heating_constants()
        self._ahead: dict[str, bool] = {}
        self._ratings = [device.rating for device in network.devices.values()]

    def __call__(
        self, faults: Sequence[Fault], out: Outcome
    ) -> tuple[npt.NDArray[np.generic], ...]:
        parts = self.parts
        stopped = out.drawn <= CLEARED_A
        quiet = (out.current <= CLEARED_A) & (out.opened == 0)
        stands = np.zeros(len(faults), dtype=bool)
        for k in np.flatnonzero(quiet).tolist():
            first = is_first_of_two(self.network, faults[k])
            stands[k] = stands_unseen(faults[k], first, float(out.touch[k]))
        cleared = stopped & ~stands
        clearing = np.where(cleared, out.time, np.inf)
        fastest = np.where(cleared, out.fastest, np.inf)
        heat, temperature, wide = self._heat(out, stopped)
        ahead = np.array([self._is_ahead(fault.place) for fault in faults], dtype=bool)
        slow = (clearing > LONGEST_S) & (out.fastest <= LONGEST_S)
        missing = cleared & (slow | wide) & out.loose
        verdict = np.array(
            [
                VERDICTS.index(
                    verdict_of(
                        cleared=bool(c),
                        clearing=float(t),
                        heat=None if h == NOT_HEATED else VERDICTS[h],
                        excused=bool(e),
                        loose=bool(m),
                    )
                )
                for c, t, h, e, m in zip(
                    cleared, clearing, heat, ahead | out.unknown, missing, strict=True
                )
            ],
            dtype=np.int64,
        )
        times, which = np.unique(clearing, return_inverse=True)
        limit = np.array([_limit(float(t)) for t in times])[which]
        return (
            out.current,
            np.asarray(out.loop),
            out.touch,
            out.touch_place,
            limit,
            parts.of_device[out.first],
            parts.of_device[out.last],
            out.opened,
            out.opening,
            clearing,
            fastest,
            out.live,
            temperature,
            heat,
            ahead,
            missing,
            verdict,
        )

    def _is_ahead(self, place: str) -> bool:
        if place not in self._ahead:
            self._ahead[place] = ahead_of_all(self.network, place)
        return self._ahead[place]

    def _heat(self, out: Outcome, stopped: Flags) -> tuple[Integers, Floats, Flags]:
        """Return verdict and temperature of the conductor that is worst off in each fault."""
        parts, time = self.parts, np.maximum(out.time, 1e-6)
        time = np.array([heated_s(self.network.plan, t) for t in time.tolist()])
        base = parts.first[1]
        at = np.maximum(out.conductors - base, 0)
        there = out.conductors >= 0
        spare = np.where(there, parts.spare[at] if len(parts.spare) else 0.0, 0.0)
        material = parts.material[at] if len(parts.spare) else at
        heated = (out.late > 0) & np.isfinite(out.late) & there
        part = np.where(heated, out.late * spare, 0.0)
        short = time < self.data.let_through_below_s
        limited = self._limited(out, stopped) if short.any() else {}
        for k, (amps, energy) in limited.items():
            if short[k]:
                share = np.minimum(1.0, out.start[:, k] / amps)
                limit = energy * share**2 * spare[:, k]
                if is_iec(self.network.plan.site.rules):
                    limit = np.minimum(limit, part[:, k] * self.data.most_asymmetry)
                part[:, k] = np.where(heated[:, k], limit, 0.0)
        known = np.zeros(len(time), dtype=bool)
        known[list(limited)] = True
        codes = self._codes(part, time, short, known)
        wide = np.zeros(part.shape, dtype=bool)
        for k in np.flatnonzero(out.loose & (codes == 2).any(axis=0)).tolist():
            quick = np.where(np.isfinite(out.early[:, k]), out.early[:, k] * spare[:, k], np.inf)
            span = np.array([max(out.fastest[k], 1e-6)])
            early = self._codes(
                quick[:, None], span, span < self.data.let_through_below_s, np.zeros(1, bool)
            )[:, 0]
            wide[:, k] = (codes[:, k] == 2) & (early != 2)
            codes[wide[:, k], k] = 1
        temperature = self.heating.temperature(part, material)
        temperature = np.where(heated, temperature, -np.inf)
        codes = np.where(heated, codes, NOT_HEATED)
        worst = codes.max(axis=0, initial=NOT_HEATED)
        among = np.where(codes == worst, temperature, -np.inf)
        column = np.arange(len(time))
        if not len(among):
            none = np.full(len(time), np.nan)
            return worst, none, np.zeros(len(time), dtype=bool)
        row = among.argmax(axis=0)
        found = np.where(worst == NOT_HEATED, np.nan, among[row, column])
        return worst.astype(np.int64), found, wide[row, column] & (worst == 1)

    def _codes(self, part: Floats, time: Floats, short: Flags, known: Flags) -> Integers:
        """Return the verdict of :func:`bondwright.safety.withstand.withstand` as codes."""
        over = part > 1
        unsure = short & ~known
        lopsided = part * self.data.most_asymmetry > 1
        long = time > self.data.longest_s
        with np.errstate(invalid="ignore"):
            within = part * (self.data.longest_s / time) <= 1
        code = np.where(over, 2, 0)
        code = np.where(unsure & lopsided, 1, code)
        code = np.where(unsure & ~lopsided, 0, code)
        return np.where(long & over & within, 1, code)

    def _limited(self, out: Outcome, stopped: Flags) -> dict[int, tuple[float, float]]:
        """Return current and energy where one current-limiting device ends a fault alone."""
        parts = self.parts
        found = {}
        for k in np.flatnonzero(stopped & (out.devices == 1)).tolist():
            trip = parts.trips[out.first[k]]
            if trip.residual >= 0:
                continue
            energy = let_through(self._ratings[trip.device], float(out.opening[k]))
            if energy is not None:
                found[int(k)] = (float(out.opening[k]), energy.i2t)
        return found


@cache
def _limit(seconds: float) -> float:
    return touch_limit(seconds)
