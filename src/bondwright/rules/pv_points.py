"""Where an array is joined to metal: at one point, and only by what protects it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.rules.answer import Finding, Severity
from bondwright.rules.editions import clause
from bondwright.site.model import Array, ArrayGrounded, Site

RULE: Final = "pv-grounding-point"
_JOINS: Final = frozenset({ArrayGrounded.FUSE, ArrayGrounded.SOLID})


def grounding_point_findings(site: Site) -> Iterator[Finding]:
    """Yield a finding for every inverter whose arrays are joined to metal more than once.

    Arrays that feed one inverter mostly have a conductor in common in it. A second join, or a
    plain one beside that of a ground-fault fuse, leads current around the fuse.

    Args:
        site: the description.
    """
    at: dict[str, dict[str, Array]] = {}
    for name, array in site.arrays.items():
        if array.grounded in _JOINS:
            at.setdefault(array.at, {})[name] = array
    for inverter, joined in at.items():
        if len(joined) > 1:
            yield _finding(inverter, joined, site.rules)


def _finding(inverter: str, joined: dict[str, Array], rules: str) -> Finding:
    plain = any(array.grounded is ArrayGrounded.SOLID for array in joined.values())
    names = " and ".join(repr(name) for name in joined)
    return Finding(
        RULE,
        Severity.FALLS_SHORT if plain else Severity.CANNOT_TELL,
        inverter,
        "arrays of one inverter joined to metal more than once",
        f"{names} feed {inverter!r}, and each is joined to metal. Such a system is grounded at one "
        "point; where it has ground-fault protection, by that alone. "
        + (
            "A plain join leads a fault around it, and the protection sees nothing."
            if plain
            else "If the arrays share a conductor in the inverter, a fault divides between the two "
            "fuses, and neither may open."
        ),
        "Cover the arrays or wait for the dark, prove them dead, and have the maker's drawing of "
        f"{inverter!r} decide which join stays. Qualified persons only.",
        clause(RULE, rules),
    )
