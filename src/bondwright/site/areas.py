"""What can't stand in the description of an area with rules of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.site.model import Area, AreaKind
from bondwright.site.topology import Problem

BONDED: Final = frozenset(
    {AreaKind.POOL, AreaKind.LIVESTOCK, AreaKind.MARINA, AreaKind.POND, AreaKind.TUB}
)
"""Areas whose metal a conductor of its own makes one."""


def area_problems(areas: Mapping[str, Area]) -> Iterator[Problem]:
    """Yield contradictions within single areas."""
    for name, area in areas.items():
        if area.bond is not None and area.kind not in BONDED:
            words = ", ".join(repr(kind.value) for kind in AreaKind if kind in BONDED)
            yield Problem(
                ("areas", name, "bond"),
                f"does not belong to an area of kind {area.kind.value!r}",
                f"remove it; it belongs to {words}",
                on_key=True,
            )
