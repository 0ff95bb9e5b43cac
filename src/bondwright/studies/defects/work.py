"""The sweep in pieces, for one process, several, or a cluster: the same call and the same answers.

Single defects are swept in stretches of faults, doubles in stretches of doubles. A piece depends
on nothing but the site and its number. Every process plans the site and factors its circuit
once, so what is sent to it is the description and what comes back is a few arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

import numpy as np

from bondwright.network.build import Network, build
from bondwright.plan.build import plan
from bondwright.plan.model import Plan
from bondwright.site.states import states
from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import DefectPorts
from bondwright.studies.defects.catalogue import Defect
from bondwright.studies.defects.course import together
from bondwright.studies.defects.doubles import Choice, Doubles, Pairs, choose
from bondwright.studies.defects.everyday import Everyday, Readings, everyday
from bondwright.studies.defects.model import Ports, altered
from bondwright.studies.defects.packing import (
    block_of,
    day_of,
    followed_of,
    pack_block,
    pack_day,
    pack_followed,
)
from bondwright.studies.defects.sweep import Sweep, Sweeper
from bondwright.studies.fault_list import possible_faults
from bondwright.studies.fault_model import USUAL
from bondwright.studies.many.run import HERE, How, run
from bondwright.studies.many.work import (
    Arrays,
    fingerprint_of,
    site_bytes,
    site_of,
    unpacked,
)

CASES_OF_PIECE: Final = 16_000_000
"""Pairs of a double and a fault in one piece: some seconds of work."""

_LARGEST: Final = 4096
_LEAST: Final = 256
_PIECES: Final = 16
_DAY: Final = 4096


@dataclass(frozen=True, slots=True)
class Asked:
    """What every piece of a sweep is about.

    Attributes:
        site: the site, packed.
        state: id of its operating state.
        every_fault: faults between any two terminals, not only from a line to metal.
        daily: whether to look at normal use.
        fingerprint: of all that.
    """

    site: bytes
    state: str
    every_fault: bool
    daily: bool
    fingerprint: str

    @staticmethod
    def of(made: Plan, state: str | None, *, every_fault: bool, daily: bool) -> Asked:
        """Return the question for a plan that was made of its site alone."""
        name = state or made.states[0].id
        mark = fingerprint_of(made.site, name, every_fault, daily)
        return Asked(site_bytes(made.site), name, every_fault, daily, mark)


class Scene:
    """A site ready in this process.

    Args:
        asked: what it is about.

    Attributes:
        network: without loads.
        sweeper: of its single defects.
    """

    def __init__(self, asked: Asked) -> None:
        made = plan(site_of(asked.site))
        self._state = next(s for s in states(made.site) if s.id == asked.state)
        self.network: Network = build(made, loads=False, state=self._state)
        faults = possible_faults(self.network, USUAL) if asked.every_fault else None
        self.sweeper = Sweeper(self.network, None, faults)

    @cached_property
    def loaded(self) -> Ports:
        """The site in normal use."""
        return Ports(build(self.network.plan, state=self._state))

    @cached_property
    def readings(self) -> Readings:
        """What can be read then."""
        return Readings(self.loaded)

    def day(self, chosen: Sequence[Defect]) -> Everyday:
        """Look at normal use with every one of some defects."""
        faulty = DefectPorts(self.loaded, altered(self.loaded, chosen))
        return everyday(self.loaded, faulty, self.readings)


@lru_cache(maxsize=2)
def _scene(asked: Asked) -> Scene:
    return Scene(asked)


def scene(asked: Asked) -> Scene:
    """Return a site ready in this process, the same one for the same question."""
    return _scene(asked)


@dataclass(frozen=True, slots=True)
class Singles:
    """Every single defect, a stretch of faults or of normal use a piece."""

    asked: Asked
    blocks: tuple[tuple[int, int], ...]
    days: tuple[tuple[int, int], ...]

    @staticmethod
    def of(asked: Asked) -> Singles:
        """Return the work for a question."""
        here = scene(asked).sweeper
        days = range(0, len(here.defects), _DAY) if asked.daily else ()
        spans = tuple((at, min(at + _DAY, len(here.defects))) for at in days)
        return Singles(asked, tuple(here.blocks()), spans)

    @property
    def title(self) -> str:
        """What is studied."""
        return "every single mistake"

    @property
    def fingerprint(self) -> str:
        """Of the question."""
        return f"singles-{self.asked.fingerprint}"

    @property
    def count(self) -> int:
        """How many pieces."""
        return len(self.blocks) + len(self.days)

    def open(self) -> Callable[[int], Arrays]:
        """Return what does one piece."""
        here = scene(self.asked)

        def do(number: int) -> Arrays:
            if number < len(self.blocks):
                return pack_block(here.sweeper.block(*self.blocks[number]))
            start, stop = self.days[number - len(self.blocks)]
            return pack_day(here.day(here.sweeper.defects[start:stop]))

        return do

    def gather(self, pieces: dict[int, bytes]) -> tuple[Sweep, tuple[Integers, Integers]]:
        """Put the pieces together.

        Returns:
            The sweep, and (defect, fault) of every pair that matters.
        """
        here, found = scene(self.asked), [unpacked(data) for data in pieces.values()]
        blocks = [block_of(arrays) for arrays in found[: len(self.blocks)]]
        days = found[len(self.blocks) :]
        day = day_of(list(days), tuple(here.readings.spots)) if days else None
        moved = (
            np.concatenate([block.moved_defect for block in blocks]),
            np.concatenate([block.moved_fault for block in blocks]),
        )
        return here.sweeper.gather(blocks, day), moved


@dataclass(frozen=True, slots=True, eq=False)
class DoublesWork:
    """Doubles, a stretch of them against every fault and in normal use a piece.

    Attributes:
        asked: the question.
        pairs: the two single defects of each.
        size: doubles in a piece.
        fingerprint: of the question and the pairs.
    """

    asked: Asked
    pairs: Pairs
    size: int
    fingerprint: str

    @staticmethod
    def of(asked: Asked, pairs: Pairs) -> DoublesWork:
        """Return the work for some doubles."""
        faults = max(1, len(scene(asked).sweeper.faults.faults))
        size = min(_LARGEST, max(1, CASES_OF_PIECE // faults))
        size = max(1, min(size, max(_LEAST, -(-len(pairs) // _PIECES))))
        mark = fingerprint_of(site_of(asked.site), asked.fingerprint, pairs, size)
        return DoublesWork(asked, pairs, size, f"doubles-{mark}")

    @property
    def title(self) -> str:
        """What is studied."""
        return f"{len(self.pairs)} pairs of mistakes"

    @property
    def count(self) -> int:
        """How many pieces."""
        return -(-len(self.pairs) // self.size)

    def stretch(self, number: int) -> Pairs:
        """Return the pairs of one piece."""
        return self.pairs[number * self.size : (number + 1) * self.size]

    def open(self) -> Callable[[int], Arrays]:
        """Return what does one piece."""
        here = scene(self.asked)

        def do(number: int) -> Arrays:
            chosen = tuple(Doubles(here.sweeper.defects, self.stretch(number)))
            sweeper = here.sweeper.other(chosen)
            blocks = [sweeper.block(*span) for span in sweeper.blocks()]
            day = here.day(chosen) if self.asked.daily else None
            swept = sweeper.gather(blocks, day)
            found = {name: getattr(swept, name) for name in _BY_DEFECT}
            return {
                **found,
                **pack_followed(swept.outcome, "outcome"),
                **({} if day is None else pack_day(day)),
                "lost": np.array(swept.lost, dtype=np.int64),
                "place_defect": swept.place_defect,
                "place_harm": swept.place_harm,
                "counts": np.array([swept.scenarios, swept.followed], dtype=np.int64),
            }

        return do

    def gather(self, pieces: dict[int, bytes], singles: Sweep) -> Sweep:
        """Put the pieces together.

        Args:
            pieces: their results.
            singles: the sweep of the single defects.
        """
        found = [unpacked(data) for data in pieces.values()]
        here = scene(self.asked)
        whole = {name: np.concatenate([p[name] for p in found]) for name in _BY_DEFECT}
        lost: list[int] = []
        place_defect = np.full(len(singles.faults), -1, dtype=np.int64)
        place_harm = np.zeros(len(singles.faults), dtype=np.int64)
        for number, arrays in enumerate(found):
            lost += (arrays["lost"] + number * self.size).tolist()
            better = (arrays["place_defect"] >= 0) & (
                (arrays["place_harm"] > place_harm) | (place_defect < 0)
            )
            place_defect[better] = arrays["place_defect"][better] + number * self.size
            place_harm[better] = arrays["place_harm"][better]
        day = day_of(list(found), tuple(here.readings.spots)) if self.asked.daily else None
        return Sweep(
            network=here.network,
            defects=Doubles(here.sweeper.defects, self.pairs),
            faults=singles.faults,
            places=singles.places,
            devices=singles.devices,
            scenarios=int(sum(arrays["counts"][0] for arrays in found)),
            followed=int(sum(arrays["counts"][1] for arrays in found)),
            lost=tuple(lost),
            plain=singles.plain,
            harm=whole["harm"],
            worst=whole["worst"],
            outcome=together([followed_of(arrays, "outcome") for arrays in found]),
            worsened=whole["worsened"],
            live=whole["live"],
            place_defect=place_defect,
            place_harm=place_harm,
            everyday=day,
            wires=singles.wires,
            first_wire=singles.first_wire,
        )


_BY_DEFECT: Final = ("harm", "worst", "worsened", "live")


def sweep_singles(
    made: Plan, state: str | None = None, how: How = HERE, *, every_fault: bool = False,
    daily: bool = True,
) -> Sweep:  # fmt: skip
    """Sweep every single defect of a plan, wherever ``how`` says.

    Args:
        made: a plan made of its site alone.
        state: id of the operating state; None for the first.
        how: where pieces are done and kept.
        every_fault: faults between any two terminals.
        daily: whether to look at normal use.

    Returns:
        What :func:`bondwright.studies.defects.sweep.sweep` returns.
    """
    work = Singles.of(Asked.of(made, state, every_fault=every_fault, daily=daily))
    return work.gather(run(work, how))[0]


@dataclass(frozen=True, slots=True, eq=False)
class DoubleSweep:
    """Two mistakes at once.

    Attributes:
        singles: the sweep of each by itself.
        choice: which doubles were tried, and what is left out.
        swept: the sweep of these; None where there are none.
    """

    singles: Sweep
    choice: Choice
    swept: Sweep | None


def sweep_doubles(
    made: Plan, state: str | None = None, how: How = HERE, *, every_fault: bool = False,
    daily: bool = True, most: int | None = None,
) -> DoubleSweep:  # fmt: skip
    """Sweep the doubles of a plan that can do more than each of their mistakes alone.

    The single defects are swept first, in this process: they decide what is tried.

    Args:
        made: a plan made of its site alone.
        state: id of the operating state; None for the first.
        how: where pieces of the doubles are done and kept.
        every_fault: faults between any two terminals.
        daily: whether to look at normal use.
        most: how many doubles to try; those first whose mistakes change each other the most.
    """
    asked = Asked.of(made, state, every_fault=every_fault, daily=daily)
    work = Singles.of(asked)
    singles, moved = work.gather(run(work))
    here = scene(asked)
    ports = [here.sweeper.faulty]
    if daily:
        ports.append(DefectPorts(here.loaded, altered(here.loaded, here.sweeper.defects)))
    choice = choose(here.sweeper.defects, ports, moved, most)
    if not len(choice.pairs):
        return DoubleSweep(singles, choice, None)
    double = DoublesWork.of(asked, choice.pairs)
    return DoubleSweep(singles, choice, double.gather(run(double, how), singles))
