"""Results of a sweep as plain arrays, for sending and keeping, and back again."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

import numpy as np
import numpy.typing as npt

from bondwright.studies.defects.course import Followed
from bondwright.studies.defects.everyday import Everyday, Spot
from bondwright.studies.defects.sweep import Block
from bondwright.studies.many.work import Arrays

_Packed = dict[str, npt.NDArray[Any]]


def pack_followed(found: Followed, head: str) -> _Packed:
    """Return what came of pairs as arrays whose names begin with ``head``."""
    return {f"{head}.{f.name}": np.asarray(getattr(found, f.name)) for f in fields(Followed)}


def followed_of(arrays: Arrays, head: str) -> Followed:
    """Return what :func:`pack_followed` was given."""
    return Followed(*(arrays[f"{head}.{f.name}"] for f in fields(Followed)))


def pack_block(block: Block) -> _Packed:
    """Return a block as arrays."""
    found: _Packed = {}
    for f in fields(Block):
        value = getattr(block, f.name)
        if isinstance(value, Followed):
            found |= pack_followed(value, f.name)
        else:
            found[f.name] = np.asarray(value)
    return found


def block_of(arrays: Arrays) -> Block:
    """Return what :func:`pack_block` was given."""
    whole: Mapping[str, Any] = {
        f.name: followed_of(arrays, f.name)
        if f"{f.name}.touch" in arrays
        else arrays[f.name]
        if arrays[f.name].ndim
        else int(arrays[f.name])
        for f in fields(Block)
    }
    return Block(**whole)


def pack_day(day: Everyday) -> _Packed:
    """Return normal use as arrays; what its places are is known from the site."""
    return {f"day.{f.name}": getattr(day, f.name) for f in fields(Everyday) if f.name != "spots"}


def day_of(pieces: list[Arrays], spots: tuple[Spot, ...]) -> Everyday:
    """Return normal use of several stretches of defects, in their order."""
    return Everyday(
        spots,
        *(
            np.concatenate([piece[f"day.{f.name}"] for piece in pieces])
            for f in fields(Everyday)
            if f.name != "spots"
        ),
    )
