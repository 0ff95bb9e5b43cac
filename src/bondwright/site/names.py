"""Names that a circuit can't tell from what lies inside of something else.

The circuit has points of its own: ``shop/in`` is the line side of the main of ``shop``, ``pipe 2``
the second length of a ``pipe`` that is tapped. A place called ``shop/in`` would be joined to it
without anybody seeing. So such a name is refused, only where there is something to be taken for.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.site.model import Site
from bondwright.site.structure import NODE_TABLES
from bondwright.site.topology import Problem

_TERMINALS: Final = ("L1", "L2", "L3", "N", "G", "H0", "H1", "H2", "H3")
_BEHIND: Final = {
    "sources": ("emf", "out", "star"),
    "generators": ("emf", "out", "star", "spare"),
    "inverters": ("emf", "out", "star", "spare"),
    "transformers": ("winding", "middle", "star", "spare"),
    "transfers": ("normal", "standby"),
}


def name_problems(site: Site) -> Iterator[Problem]:
    """Yield the names that are taken for a point of the circuit."""
    inside = dict(_inside(site))
    for table in NODE_TABLES:
        for name in getattr(site, table):
            if name in inside:
                yield _taken((table, name), inside[name])
    points = {
        f"{n}:{t}": n for table in NODE_TABLES for n in getattr(site, table) for t in _TERMINALS
    }
    for table, word in (("ties", "tie"), ("electrodes", "electrode"), ("neighbours", "electrode")):
        for name in getattr(site, table) or ():
            if f"{word} {name}" in points:
                yield _taken((table, name), f"a terminal of {points[f'{word} {name}']!r}")
    pieces = {
        f"{name} {k}": name
        for name, metal in site.metal.items()
        if metal.taps
        for k in range(1, len(metal.taps) + 2)
    }
    for name in site.metal:
        if name in pieces:
            yield _taken(("metal", name), f"a length of {pieces[name]!r}, which has taps")


def _inside(site: Site) -> Iterator[tuple[str, str]]:
    for table, ends in _BEHIND.items():
        for name in getattr(site, table):
            for end in ends:
                yield f"{name}/{end}", f"what lies inside of {name!r}"
    for name, run in site.runs.items():
        if run.device is not None:
            yield f"run {name}/out", f"the load side of the device of {name!r}"
    for name, place in site.places.items():
        if place.main is not None:
            yield f"{name}/in", f"the line side of the main of {name!r}"


def _taken(loc: tuple[str, str], what: str) -> Problem:
    return Problem(
        loc, f"is the circuit's own name for {what}", "call it something else", on_key=True
    )
