"""What can't stand in the description of an array."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.site.model import Array, ArrayGrounded
from bondwright.site.topology import Problem

_BELONGS: Final[Mapping[str, frozenset[ArrayGrounded]]] = {
    "pole": frozenset({ArrayGrounded.FUSE, ArrayGrounded.SOLID}),
    "ground fuse": frozenset({ArrayGrounded.FUSE}),
    "monitor": frozenset({ArrayGrounded.INVERTER}),
    "insulation alarm": frozenset({ArrayGrounded.INVERTER, ArrayGrounded.NONE}),
}
"""Keys that say something only of some ways of grounding."""


def array_problems(arrays: Mapping[str, Array]) -> Iterator[Problem]:
    """Yield contradictions within single arrays."""
    for name, array in arrays.items():
        given = {
            "pole": array.pole is not None,
            "ground fuse": array.ground_fuse is not None,
            "monitor": array.monitor is not None,
            "insulation alarm": array.insulation_alarm is not None,
        }
        for key, present in given.items():
            if present and array.grounded not in _BELONGS[key]:
                ways = " or ".join(repr(way.value) for way in ArrayGrounded if way in _BELONGS[key])
                yield Problem(
                    ("arrays", name, key),
                    f"does not belong to an array with 'grounded: {array.grounded.value}'",
                    f"remove it, or write 'grounded: ' with {ways}",
                    on_key=True,
                )
