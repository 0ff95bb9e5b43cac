"""Which defects matter most: those that a normal day never shows and a fault makes deadly."""

from __future__ import annotations

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from bondwright.studies.defects.catalogue import Defect
from bondwright.studies.defects.doubles import Doubles
from bondwright.studies.defects.sweep import Harm, Sweep
from bondwright.studies.fault_model import Fault
from bondwright.studies.fault_parts import Flags


class Rank(IntEnum):
    """How much a defect matters, the worst first."""

    SILENT_AND_DEADLY = 0
    DEADLY = 1
    SILENT_DAMAGE = 2
    SHOWS = 3
    QUIET = 4


@dataclass(frozen=True, slots=True)
class FaultStory:
    """The worst that a defect makes of a fault.

    Attributes:
        fault: the fault.
        harm: what it does.
        current: at its start, A.
        clearing: latest time at which it stops, s; infinite if never.
        touch: highest voltage of metal to remote earth, V.
        touch_place: where.
        limit: for that time, V.
        live_after: voltage that stays on the metal at the fault, V.
        opener: device that opens first, or "".
        burn: energy over what it bears of the conductor that is worst off.
        burns: that conductor, "section: conductor", or "".
        loose: whether only a breaker's unknown curve makes it so slow.
        before_clearing: latest time without the defect, s.
        before_touch: touch voltage without it, V.
    """

    fault: Fault
    harm: Harm
    current: float
    clearing: float
    touch: float
    touch_place: str
    limit: float
    live_after: float
    opener: str
    burn: float
    burns: str
    loose: bool
    before_clearing: float
    before_touch: float


@dataclass(frozen=True, slots=True)
class DayStory:
    """What a normal day shows of a defect.

    Attributes:
        shows: whether it shows anything.
        stray: largest change of a current on metal, or of the net current of a run, A.
        stray_where: where.
        low: least voltage of a load, in part of what it is without the defect.
        low_where: which load.
        high: greatest.
        high_where: which load.
        metal: largest rise of metal to remote earth, V.
        metal_where: where.
        opens: whether a residual device opens at once.
    """

    shows: bool
    stray: float
    stray_where: str
    low: float
    low_where: str
    high: float
    high_where: str
    metal: float
    metal_where: str
    opens: bool


@dataclass(frozen=True, slots=True)
class Ranked:
    """One defect with its rank.

    Attributes:
        defect: the defect.
        rank: how much it matters.
        fault: the worst that it makes of a fault; None if it makes none worse.
        day: what a normal day shows; None where it wasn't looked at.
        worsened: how many faults it makes worse.
        live: how many of these stay live.
        more: of two mistakes, whether they are worse together than each alone; else None.
    """

    defect: Defect
    rank: Rank
    fault: FaultStory | None
    day: DayStory | None
    worsened: int
    live: int
    more: bool | None = None


def ranked(
    swept: Sweep, top: int | None = None, singles: Sweep | None = None
) -> tuple[Ranked, ...]:
    """Return the defects of a sweep, those that matter most first.

    Without a look at normal use every defect counts as silent. Of two mistakes those come first
    that are worse together than each alone: what one of them does by itself is no news.

    Args:
        swept: the sweep.
        top: how many; None for all.
        singles: of a sweep of :class:`bondwright.studies.defects.doubles.Doubles`, the sweep of
            the mistakes by themselves.
    """
    lost = set(swept.lost)
    more = _more(swept, singles)
    keys = []
    for k in range(len(swept.defects)):
        if k in lost:
            continue
        rank = _rank(swept, k)
        margin = swept.outcome.touch[k] / swept.outcome.limit[k] if swept.worst[k] >= 0 else 0.0
        stray = 0.0 if swept.everyday is None else float(swept.everyday.stray[k])
        keys.append(
            (more is not None and not more[k], rank, -int(swept.harm[k]), -int(swept.live[k]),
             -int(swept.worsened[k]), -margin, -stray, k)
        )  # fmt: skip
    keys.sort()
    chosen = [key[-1] for key in keys[:top]]
    return tuple(
        Ranked(
            swept.defects[k],
            _rank(swept, k),
            _fault_story(swept, k),
            _day_story(swept, k),
            int(swept.worsened[k]),
            int(swept.live[k]),
            None if more is None else bool(more[k]),
        )
        for k in chosen
    )


def _more(swept: Sweep, singles: Sweep | None) -> Flags | None:
    """Return which doubles are worse than each of their mistakes alone, or None for singles.

    They rank higher, do greater harm, or do it to more faults than the two alone put together.
    """
    if singles is None or not isinstance(swept.defects, Doubles):
        return None
    alone = np.array([_rank(singles, k) for k in range(len(singles.defects))])
    now = np.array([_rank(swept, k) for k in range(len(swept.defects))])
    pairs = swept.defects.pairs
    least = np.minimum(alone[pairs[:, 0]], alone[pairs[:, 1]])
    harm = np.where(swept.worst >= 0, swept.harm, 0)
    one = np.where(singles.worst >= 0, singles.harm, 0)
    worst = np.maximum(one[pairs[:, 0]], one[pairs[:, 1]])
    higher = (now < least) | (harm > worst)
    # More faults than the two have by themselves: some are made worse only by both.
    for count, one in ((swept.live, singles.live), (swept.worsened, singles.worsened)):
        higher |= (count > one[pairs[:, 0]] + one[pairs[:, 1]]) & (harm >= Harm.DANGER)
    return np.asarray(higher)


def _rank(swept: Sweep, k: int) -> Rank:
    shows = swept.everyday is not None and bool(swept.everyday.shows[k])
    harm = int(swept.harm[k]) if swept.worst[k] >= 0 else 0
    if harm >= Harm.DANGER:
        return Rank.DEADLY if shows else Rank.SILENT_AND_DEADLY
    if shows:
        return Rank.SHOWS
    return Rank.SILENT_DAMAGE if harm else Rank.QUIET


def _fault_story(swept: Sweep, k: int) -> FaultStory | None:
    at = int(swept.worst[k])
    if at < 0:
        return None
    found, plain = swept.outcome, swept.plain
    opener = int(found.opener[k])
    burns = int(found.burns[k])
    return FaultStory(
        fault=swept.faults[at],
        harm=Harm(int(swept.harm[k])),
        current=float(found.current[k]),
        clearing=float(found.clearing[k]),
        touch=float(found.touch[k]),
        touch_place=swept.places[int(found.touch_place[k])],
        limit=float(found.limit[k]),
        live_after=float(found.live_after[k]),
        opener="" if opener < 0 else swept.devices[opener],
        burn=float(found.burn[k]),
        burns="" if burns < 0 else swept.wire(burns),
        loose=bool(found.loose[k]),
        before_clearing=float(plain.clearing[at]),
        before_touch=float(plain.touch[at]),
    )


def _day_story(swept: Sweep, k: int) -> DayStory | None:
    day = swept.everyday
    if day is None:
        return None

    def where(at: int) -> str:
        return "" if at < 0 else f"{day.spots[at].id} ({day.spots[at].part})"

    return DayStory(
        shows=bool(day.shows[k]),
        stray=float(day.stray[k]),
        stray_where=where(int(day.stray_at[k])),
        low=float(day.low[k]),
        low_where=where(int(day.low_at[k])),
        high=float(day.high[k]),
        high_where=where(int(day.high_at[k])),
        metal=float(day.metal[k]),
        metal_where=where(int(day.metal_at[k])),
        opens=bool(day.opens[k]),
    )
