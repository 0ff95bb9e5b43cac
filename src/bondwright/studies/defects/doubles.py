"""Which two mistakes at once are tried, and what is said of the others."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, overload

import numpy as np
import numpy.typing as npt

from bondwright.studies.condense import Integers
from bondwright.studies.defects.blocks import MATTERS, DefectPorts
from bondwright.studies.defects.catalogue import Defect
from bondwright.studies.defects.interplay import common, interplay, together_possible
from bondwright.studies.defects.pairs import both

Pairs = npt.NDArray[np.int64]

INTERPLAY: Final = MATTERS
"""Two mistakes of a smaller :mod:`kappa <bondwright.studies.defects.interplay>` are taken to leave
each other as they are."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Which doubles are tried.

    Attributes:
        pairs: the two single defects of each, (n, 2), those first that have most to do with
            each other; a sorted order within what is tried is up to the sweep.
        possible: how many there can be in all.
        near: how many of them have anything to do with each other.
        left_kappa: the largest kappa of a near one that is left out for its number; 0 for none.
    """

    pairs: Pairs
    possible: int
    near: int
    left_kappa: float

    @property
    def left_out(self) -> int:
        """How many have to do with each other and are left out all the same."""
        return self.near - len(self.pairs)


def choose(
    singles: Sequence[Defect],
    ports: Sequence[DefectPorts],
    moved: tuple[Integers, Integers],
    most: int | None = None,
) -> Choice:
    """Choose the doubles that can do more than each of the two by itself.

    A double is near where its two mistakes change each other by :data:`INTERPLAY` or more, or
    move a fault in common. Any other does to every fault what one of the two does alone, by the
    same part by which a sweep takes a fault for unchanged.

    Args:
        singles: the single defects.
        ports: these as ports of the network without loads, and of any other that is looked at.
        moved: (defect, fault) of every pair that matters, from a sweep of the singles.
        most: how many to take; None for every near one.
    """
    count = len(singles)
    possible = together_possible(tuple(singles))
    codes, kappas = [np.zeros(0, dtype=np.int64)], [np.zeros(0, dtype=np.float32)]
    for faulty in ports:
        for a, b, kappa in interplay(faulty, INTERPLAY):
            codes.append(a * count + b)
            kappas.append(kappa)
    for a, b in common(*moved, count):
        codes.append(a * count + b)
        kappas.append(np.zeros(len(a), dtype=np.float32))
    code = np.concatenate(codes)
    near, at = np.unique(code, return_inverse=True)
    kappa = np.zeros(len(near), dtype=np.float32)
    np.maximum.at(kappa, at, np.concatenate(kappas))
    a, b = np.divmod(near, max(count, 1))
    lost = np.zeros(count, dtype=bool)
    for faulty in ports:
        lost[faulty.lost] = True
    good = possible(a, b) & ~lost[a] & ~lost[b]
    a, b, kappa = a[good], b[good], kappa[good]
    left = 0.0
    if most is not None and len(a) > most:
        order = np.lexsort((b, a, -kappa))
        left = float(kappa[order[most]])
        taken = np.sort(order[:most])
        a, b = a[taken], b[taken]
    return Choice(np.stack([a, b], axis=1), possible.count(), int(good.sum()), left)


class Doubles(Sequence[Defect]):
    """Doubles made as they are asked for: there may be a million of them.

    Args:
        singles: the single defects.
        pairs: the two of each, (n, 2).
    """

    def __init__(self, singles: Sequence[Defect], pairs: Pairs) -> None:
        self.singles, self.pairs = singles, pairs

    def __len__(self) -> int:
        return len(self.pairs)

    @overload
    def __getitem__(self, index: int) -> Defect: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Defect]: ...
    def __getitem__(self, index: int | slice) -> Defect | Sequence[Defect]:
        if isinstance(index, slice):
            return Doubles(self.singles, self.pairs[index])
        a, b = self.pairs[index].tolist()
        return both(self.singles[a], self.singles[b])

    def __iter__(self) -> Iterator[Defect]:
        for k in range(len(self)):
            yield self[k]
