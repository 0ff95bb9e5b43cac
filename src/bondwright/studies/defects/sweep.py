"""Every defect against every fault and in normal use; the worst of each is kept."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from enum import IntEnum
from typing import Final

import numpy as np

from bondwright.network.build import Network, build
from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import DefectPorts, FaultPorts, fault_blocks, screen
from bondwright.studies.defects.catalogue import Defect, defects
from bondwright.studies.defects.course import Followed, together
from bondwright.studies.defects.everyday import Everyday, everyday
from bondwright.studies.defects.model import Ports, altered
from bondwright.studies.defects.pairs import follow_pairs
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import LONGEST_S, Fault, FaultKind
from bondwright.studies.fault_parts import Flags, Floats

WORSE: Final = 1.1
"""A fault that is as dangerous as before counts as made worse where metal rises by this factor."""


class Harm(IntEnum):
    """What a fault does."""

    NONE = 0
    """It is over in time, and nobody would be hurt by the limits for that time."""
    DAMAGE = 1
    """It lasts too long, stays unseen at a low voltage, or burns a conductor."""
    DANGER = 2
    """Metal is above the limit for as long as it lasts, until something opens."""
    LIVE = 3
    """Metal stays live at a dangerous voltage and nothing opens."""


def harm(found: Followed) -> Integers:
    """Return the :class:`Harm` of every entry."""
    danger = found.touch > found.limit
    never = np.isinf(found.clearing)
    damage = never | (found.clearing > LONGEST_S) | (found.burn > 1)
    code = np.where(damage, int(Harm.DAMAGE), int(Harm.NONE))
    code = np.where(danger, int(Harm.DANGER), code)
    return np.where(danger & never, int(Harm.LIVE), code).astype(np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """One stretch of faults against all defects: a piece of a sweep that can be done by itself.

    Attributes:
        start: first fault.
        stop: one past the last.
        pairs: how many scenarios were solved.
        plain: every fault of it without a defect.
        defect: defects that make some fault of it worse.
        worst: the worst of these faults, by defect.
        outcome: what came of it.
        worsened: how many faults each makes worse.
        live: how many of these stay live.
        place_defect: for each fault the defect that is worst for it, -1 for none.
        place_harm: the harm then.
        followed: how many pairs mattered.
        moved_defect: the defect of each pair that mattered.
        moved_fault: the fault of each.
    """

    start: int
    stop: int
    pairs: int
    plain: Followed
    defect: Integers
    worst: Integers
    outcome: Followed
    worsened: Integers
    live: Integers
    place_defect: Integers
    place_harm: Integers
    followed: int
    moved_defect: Integers
    moved_fault: Integers


@dataclass(frozen=True, slots=True, eq=False)
class Sweep:
    """All defects of a site.

    Attributes:
        network: the network that the faults were followed in.
        defects: the defects.
        faults: the faults.
        places: what touch places point at.
        devices: what openers point at.
        scenarios: how many pairs of a defect and a fault were solved.
        followed: how many of them mattered and were followed to their end.
        lost: defects without an answer: their changes contradict each other.
        plain: every fault without a defect.
        harm: the worst that each defect makes of a fault that is less bad without it.
        worst: that fault, an index; -1 where it makes none worse.
        outcome: what came of it; meaningless where ``worst`` is -1.
        worsened: how many faults each makes worse.
        live: how many of these stay live.
        place_defect: for each fault the defect that makes it worst, -1 for none.
        place_harm: the harm then.
        everyday: normal use; None where it wasn't asked for.
        wires: (section, conductor) of what ``burns`` of an outcome point at.
        first_wire: what the first of them is called there.
    """

    network: Network
    defects: Sequence[Defect]
    faults: tuple[Fault, ...]
    places: tuple[str, ...]
    devices: tuple[str, ...]
    scenarios: int
    followed: int
    lost: tuple[int, ...]
    plain: Followed
    harm: Integers
    worst: Integers
    outcome: Followed
    worsened: Integers
    live: Integers
    place_defect: Integers
    place_harm: Integers
    everyday: Everyday | None
    wires: tuple[tuple[str, str], ...]
    first_wire: int

    def wire(self, output: int) -> str:
        """Return the conductor that an entry of ``burns`` points at."""
        section, conductor = self.wires[output - self.first_wire]
        return f"{section}: {conductor}"

    def worst_by_place(self) -> Mapping[str, tuple[int, int]]:
        """Return for each place (defect, fault) of the worst that any defect does there."""
        found: dict[str, tuple[int, int, int]] = {}
        for k, fault in enumerate(self.faults):
            d, code = int(self.place_defect[k]), int(self.place_harm[k])
            if d >= 0 and (fault.place not in found or code > found[fault.place][0]):
                found[fault.place] = (code, d, k)
        return {place: (d, k) for place, (_, d, k) in found.items()}


class Sweeper:
    """A site ready to be swept, block by block.

    Args:
        network: built without loads, in the state that is asked about.
        chosen: the defects; None for every single one.
        faults: bolted or through a resistance, each between two terminals; None for every
            line to metal.

    Raises:
        ValueError: loads are connected, or a fault isn't between two terminals.
    """

    def __init__(
        self,
        network: Network,
        chosen: Iterable[Defect] | None = None,
        faults: Iterable[Fault] | None = None,
    ) -> None:
        if network.loaded:
            msg = "faults are followed with the loads off; build the network without them"
            raise ValueError(msg)
        self.network = network
        usual = possible_faults(network, [FaultKind.LINE_TO_METAL]) if faults is None else faults
        self.ports = Ports(network)
        self.faults = FaultPorts(self.ports, tuple(usual))
        self._plain: dict[tuple[int, int], Followed] = {}
        self._choose(defects(network) if chosen is None else chosen)

    def _choose(self, chosen: Iterable[Defect]) -> None:
        self.defects = tuple(chosen)
        self.faulty = DefectPorts(self.ports, altered(self.ports, self.defects))

    def other(self, chosen: Iterable[Defect]) -> Sweeper:
        """Return the same site and faults ready to be swept with other defects."""
        new = copy(self)
        new._choose(chosen)
        return new

    def blocks(self) -> list[tuple[int, int]]:
        """Return the stretches of faults that a sweep is made of."""
        return list(fault_blocks(len(self.faults.faults)))

    def block(self, start: int, stop: int) -> Block:
        """Do one stretch of faults; the same stretch always gives the same."""
        kept = screen(self.faults, self.faulty, start, stop)
        faults = np.arange(start, stop)
        none = np.full(len(faults), -1, dtype=np.int64)
        if (start, stop) not in self._plain:
            self._plain[start, stop] = follow_pairs(self.faults, self.faulty, none, faults)
        plain = self._plain[start, stop]
        found = follow_pairs(self.faults, self.faulty, kept.defect, kept.fault + start)
        code, before = harm(found), harm(plain)[kept.fault]
        rise = found.touch > WORSE * plain.touch[kept.fault]
        margin = found.touch / found.limit
        deeper = margin > WORSE * (plain.touch / plain.limit)[kept.fault]
        worse = (code > before) | ((code == before) & (code >= Harm.DANGER) & rise & deeper)
        key = np.where(worse, code + np.minimum(margin, 1e6) / 1e7, -1.0)
        ids, first, counts, lives = _worst(kept.defect, key, worse, code)
        at_place, place_harm = none.copy(), np.zeros(len(faults), dtype=np.int64)
        spots, top, _, _ = _worst(kept.fault, key, worse, code)
        at_place[spots] = kept.defect[top]
        place_harm[spots] = code[top]
        return Block(
            start=start,
            stop=stop,
            pairs=kept.pairs,
            plain=plain,
            defect=ids,
            worst=kept.fault[first] + start,
            outcome=found.at(first),
            worsened=counts,
            live=lives,
            place_defect=at_place,
            place_harm=place_harm,
            followed=len(found),
            moved_defect=kept.defect,
            moved_fault=kept.fault + start,
        )

    def gather(self, blocks: Sequence[Block], daily: Everyday | None = None) -> Sweep:
        """Put the blocks of a sweep together; their order doesn't matter."""
        blocks = sorted(blocks, key=lambda block: block.start)
        count = len(self.defects)
        code, worst = np.zeros(count, dtype=np.int64), np.full(count, -1, dtype=np.int64)
        worsened, live = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
        rows = np.zeros(count, dtype=np.int64)
        best, offset = np.full(count, -1.0), 0
        for block in blocks:
            d = block.defect
            now = harm(block.outcome)
            key = now + np.minimum(block.outcome.touch / block.outcome.limit, 1e6) / 1e7
            better = key > best[d]
            at = d[better]
            best[at], code[at], worst[at] = key[better], now[better], block.worst[better]
            rows[at] = offset + np.flatnonzero(better)
            worsened[d] += block.worsened
            live[d] += block.live
            offset += len(d)
        whole = together([block.outcome for block in blocks])
        if not len(whole):
            whole = together([block.plain for block in blocks])
        return Sweep(
            network=self.network,
            defects=self.defects,
            faults=self.faults.faults,
            places=self.ports.parts.places,
            devices=self.ports.parts.devices,
            scenarios=sum(block.pairs for block in blocks),
            followed=sum(block.followed for block in blocks),
            lost=tuple(sorted(self.faulty.lost)),
            plain=together([block.plain for block in blocks]),
            harm=code,
            worst=worst,
            outcome=whole.at(rows),
            worsened=worsened,
            live=live,
            place_defect=np.concatenate([block.place_defect for block in blocks]),
            place_harm=np.concatenate([block.place_harm for block in blocks]),
            everyday=daily,
            wires=self.ports.conductors,
            first_wire=self.ports.parts.first[1],
        )


def _worst(
    owner: Integers, key: Floats, worse: Flags, code: Integers
) -> tuple[Integers, Integers, Integers, Integers]:
    """Return owners with something worse, its place, how many are worse, how many stay live."""
    at = np.flatnonzero(worse)
    order = at[np.lexsort((at, -key[at], owner[at]))]
    ids, first, counts = np.unique(owner[order], return_index=True, return_counts=True)
    lives = np.zeros(len(ids), dtype=np.int64)
    np.add.at(lives, np.searchsorted(ids, owner[order]), code[order] == Harm.LIVE)
    return ids, order[first], counts.astype(np.int64), lives


def sweep(
    network: Network,
    chosen: Iterable[Defect] | None = None,
    faults: Iterable[Fault] | None = None,
    *,
    daily: bool = True,
    progress: Callable[[int, int], None] | None = None,
) -> Sweep:
    """Try every defect against every fault, and in normal use.

    Every pair is solved; those that the defect changes by
    :data:`bondwright.studies.defects.blocks.MATTERS` or more are followed to their end, with the
    numbers of :func:`bondwright.studies.faults.study_fault` (its steel raceways as they are
    without current). The others are as they are without the defect.

    Args:
        network: built without loads, in the state that is asked about.
        chosen: the defects, single or :func:`bondwright.studies.defects.pairs.both` of two;
            None for every single one.
        faults: None for every line to metal.
        daily: whether to look at normal use as well.
        progress: told (blocks done, blocks in all).

    Raises:
        ValueError: loads are connected, or a fault isn't between two terminals.
    """
    sweeper = Sweeper(network, chosen, faults)
    spans = sweeper.blocks()
    total = len(spans) + daily
    blocks = []
    for done, (start, stop) in enumerate(spans, start=1):
        blocks.append(sweeper.block(start, stop))
        if progress is not None:
            progress(done, total)
    found = normal_use_of(network, sweeper.defects) if daily else None
    if progress is not None and daily:
        progress(total, total)
    return sweeper.gather(blocks, found)


def normal_use_of(network: Network, chosen: Sequence[Defect]) -> Everyday:
    """Look at normal use with every defect; see :mod:`bondwright.studies.defects.everyday`."""
    loaded = network if network.loaded else build(network.plan, state=network.state)
    ports = Ports(loaded)
    return everyday(ports, DefectPorts(ports, altered(ports, chosen)))
