"""What can't stand in the description of a direct-current system."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bondwright.site.model import DirectCurrent, DirectCurrentGrounded
from bondwright.site.topology import Problem


def direct_current_problems(systems: Mapping[str, DirectCurrent]) -> Iterator[Problem]:
    """Yield contradictions within single direct-current systems."""
    for name, system in systems.items():
        loc = ("direct current", name)
        for key, given in (
            ("neutral", system.neutral is not None),
            ("balancer", system.balancer),
        ):
            if given and system.wires != 3:
                hint = "write 'wires: 3', or remove it"
                yield Problem((*loc, key), "is given, but there are two wires", hint, on_key=True)
        if system.jumper is not None and system.grounded is not DirectCurrentGrounded.SOLID:
            yield Problem(
                (*loc, "jumper"),
                f"does not belong to a system with 'grounded: {system.grounded.value}'",
                "write 'grounded: solid', or remove it",
                on_key=True,
            )
