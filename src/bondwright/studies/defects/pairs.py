"""Pairs of a defect and a fault, lot by lot; and two defects at once as one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Final

import numpy as np

from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import DefectPorts, FaultPorts
from bondwright.studies.defects.catalogue import Defect, DefectKind
from bondwright.studies.defects.course import Course, Followed, together
from bondwright.studies.defects.near import Near

_PAIRS: Final = 8192
_CHANGES: Final = 700
_HERD: Final = 400
_FEW: Final = 2


def follow_pairs(
    faults: FaultPorts, faulty: DefectPorts, defect: Integers, fault: Integers
) -> Followed:
    """Follow pairs of a defect and a fault to their end.

    Args:
        faults: the faults.
        faulty: the defects.
        defect: defect of each pair, -1 for none.
        fault: fault of each pair; pairs go quickest in its order.

    Returns:
        What came of each, in the order given.

    Raises:
        ValueError: a defect leaves the circuit without an answer.
    """
    lost = set(faulty.lost) & set(defect.tolist())
    if lost:
        one = faulty.altered.defects[min(lost)]
        msg = f"{one.name}: its changes contradict each other and leave no answer"
        raise ValueError(msg)
    counts = np.append(np.diff(faulty.altered.first), 0)
    herd = _herds(counts, defect, len(np.unique(fault)))
    order = np.lexsort((defect, fault, herd))
    pieces = [
        Course(Near(faults, faulty, defect[order[a:b]], fault[order[a:b]])).follow()
        for a, b in _lots(counts, defect[order], fault[order], herd[order])
    ]
    if not pieces:
        none, whole = np.zeros(0), np.zeros(0, dtype=np.int64)
        flags = np.zeros(0, dtype=bool)
        return Followed(none, none, whole, none, none, none, whole, whole, none, none, whole,
                        flags, flags, flags)  # fmt: skip
    found = together(pieces)
    back = np.empty(len(order), dtype=np.int64)
    back[order] = np.arange(len(order))
    return found.at(back)


def _herds(counts: Integers, defect: Integers, faults: int) -> Integers:
    """Return a number for each pair: defects of one are followed in the same lots.

    A lot solves the changes of all its defects against each other. Where every fault meets so many
    defects that they alone fill a lot, they are parted: else a lot would hold a single fault.
    """
    ones, back = np.unique(defect, return_inverse=True)
    own = counts[ones]
    wide = (own > _FEW).astype(np.int64)
    if counts[defect].sum() <= _HERD * faults:
        return np.asarray(wide[back])
    order = np.argsort(wide, kind="stable")
    taken = np.cumsum(own[order])
    herd = np.empty(len(ones), dtype=np.int64)
    herd[order] = (taken - own[order]) // _HERD
    return np.asarray((herd + wide * (int(taken[-1]) // _HERD + 1))[back])


def _lots(
    counts: Integers, defect: Integers, fault: Integers, herd: Integers
) -> Iterator[tuple[int, int]]:
    """Yield stretches of pairs with few changes among them."""
    start, known, changes, last = 0, set[int](), 0, -1
    ones, herds = defect.tolist(), herd.tolist()
    for k, (d, f) in enumerate(zip(ones, fault.tolist(), strict=True)):
        if f != last and (changes >= _CHANGES or k - start >= _PAIRS):
            yield start, k
            start, known, changes = k, set(), 0
        if k > start and (k - start >= 4 * _PAIRS or herds[k] != herds[k - 1]):
            yield start, k
            start, known, changes = k, set(), 0
        if f != last:
            changes += 1
            last = f
        if d not in known:
            known.add(d)
            changes += int(counts[d])
    if len(ones):
        yield start, len(ones)


def doubles(singles: Iterable[Defect]) -> Iterator[Defect]:
    """Yield every two defects at once that can be there together.

    Two of the same thing (a tie that is missing and loose) can't; two that act on the conductors
    of one run of which one swaps them are left out.
    """
    every = list(singles)
    for k, one in enumerate(every):
        for other in every[k + 1 :]:
            if one.thing == other.thing and (
                one.kind is not DefectKind.LEAKAGE or other.kind is not DefectKind.LEAKAGE
            ):
                continue
            yield both(one, other)


def both(one: Defect, other: Defect) -> Defect:
    """Return two defects at once as one."""
    return Defect(
        id=f"{one.id} + {other.id}",
        kind=one.kind,
        thing=one.thing,
        at=one.at,
        name=f"{one.name}; and {other.name}",
        alterations=one.alterations + other.alterations,
        found_by=tuple(dict.fromkeys(one.found_by + other.found_by)),
        weak=one.weak + other.weak,
    )
