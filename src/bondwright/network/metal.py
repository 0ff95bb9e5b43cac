"""Pipes, steel and other metal in the circuit: conductors with taps along the way.

Metal is cut at its taps. A piece that joins the same two places as a run lies beside that run
and is coupled with it; other pieces return through the earth's term.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from bondwright.network.circuit import EARTH, Circuit
from bondwright.network.runs import metal_section
from bondwright.plan.model import Plan
from bondwright.site.model import Metal

CONTACT_OHM: Final = 1e-3
"""Assumed resistance of a contact or clamp at a tap, ohm (common practice)."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A length of metal between two points.

    Attributes:
        id: of its section where it has one: "metal <name>" or "metal <name> <k>".
        name: of the metal.
        a: node at its start.
        b: node at its end.
        places: the two places where it ends, where both ends are at places.
        length: m.
        resistance: ohm.
    """

    id: str
    name: str
    a: str
    b: str
    places: frozenset[str]
    length: float
    resistance: float


def resistance_of(item: Metal) -> float:
    """Return the resistance of metal from end to end, ohm."""
    if item.resistance is not None:
        return item.resistance
    return (item.per_length or 0.0) * item.length


def pieces(name: str, item: Metal) -> tuple[Piece, ...]:
    """Return a piece of metal cut at its taps, from its start to its end."""
    cuts = sorted(enumerate(item.taps), key=lambda pair: pair[1].at)
    points = [(0.0, f"{item.from_}:G", item.from_)]
    points += [(tap.at, f"metal {name} tap {k}", "") for k, tap in cuts]
    points.append((item.length, f"{item.to}:G", item.to))
    return tuple(_pieces(name, item, points))


def _pieces(name: str, item: Metal, points: list[tuple[float, str, str]]) -> Iterator[Piece]:
    whole = resistance_of(item)
    several = len(points) > 2
    for k, (start, stop) in enumerate(itertools.pairwise(points), start=1):
        # Two taps at one point still need something between them to be two nodes.
        length = max(stop[0] - start[0], 1e-3)
        yield Piece(
            f"metal {name} {k}" if several else f"metal {name}",
            name,
            start[1],
            stop[1],
            frozenset({start[2], stop[2]} - {""}),
            length,
            max(whole * length / item.length, 1e-9),
        )


def beside(plan: Plan) -> dict[str, tuple[Piece, ...]]:
    """Return for each run the pieces of metal that join the same two places."""
    found: dict[str, list[Piece]] = {}
    taken: set[str] = set()
    every = [p for name, item in plan.site.metal.items() for p in pieces(name, item)]
    for run in plan.runs.values():
        ends = frozenset({run.from_, run.to})
        for piece in every:
            if piece.places == ends and piece.id not in taken:
                taken.add(piece.id)
                found.setdefault(run.id, []).append(piece)
    return {run: tuple(those) for run, those in found.items()}


def add_metal(circuit: Circuit, plan: Plan, coupled: frozenset[str]) -> None:
    """Add all metal that no run carries along, the contacts of taps, and metal's own earth.

    Args:
        circuit: to add to.
        plan: the plan.
        coupled: ids of pieces that stand in the section of a run already.
    """
    for name, item in plan.site.metal.items():
        for piece in pieces(name, item):
            if piece.id in coupled:
                continue
            z = metal_section(piece.length, piece.resistance, plan.frequency, plan.soil)
            circuit.add_section(piece.id, ("metal",), (piece.a,), (piece.b,), [[z]])
        for k, tap in enumerate(item.taps):
            ohms = CONTACT_OHM if tap.resistance is None else max(tap.resistance, 1e-6)
            node = f"metal {name} tap {k}"
            circuit.add_impedance(f"contact {name} {k}", node, f"{tap.to}:G", ohms)
        if item.earth is not None:
            # Spread over its length; half of it is put at each end.
            for end in (item.from_, item.to):
                circuit.add_impedance(
                    f"earth of {name} at {end}", f"{end}:G", EARTH, max(2 * item.earth, 1e-3)
                )
