"""Voltages at one place, put together: where each terminal lies, in plain words."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.explain.words import listed, volts
from bondwright.network.circuit import EARTH
from bondwright.studies.hunt.phasors import BESIDE, PhasorPlane

FAR: Final = 0.05
"""A terminal that lies off by less than this part of the largest voltage lies where it should."""


def heading(plane: PhasorPlane) -> str:
    """Name a plane by its place and, where one was written, its state."""
    return f"{plane.place}, {plane.state}" if plane.state else plane.place


def terminal(node: str, place: str) -> str:
    """Name a terminal short: of another place with that place."""
    if node == EARTH:
        return "earth"
    where, _, what = node.rpartition(":")
    return what if where == place else f"{what} of {where}"


def tell_plane(plane: PhasorPlane) -> tuple[str, ...]:
    """Say where the voltages read put each terminal, against the description."""
    return tuple(_sentences(plane))


def _sentences(plane: PhasorPlane) -> Iterator[str]:
    where = heading(plane)
    if not plane.closes:
        yield (
            f"At {where} the voltages don't belong to one plane: the reading that fits worst is "
            f"{volts(plane.left_over)} off. No terminal is placed by them."
        )
        return
    level = max(d.volts for d in plane.distances)
    moved = []
    for node, point in plane.points.items():
        due = plane.described.get(node)
        if due is None:
            continue
        off = abs(point - due)
        if off <= FAR * level:
            continue
        on = [
            terminal(other, plane.place)
            for other, there in plane.points.items()
            if other != node and abs(there - point) <= BESIDE * level
        ]
        name = terminal(node, plane.place)
        lies = f"{name} lies {volts(off)} from where it is described"
        moved.append(f"{lies}, on {listed(on)}" if on else lies)
    if moved:
        yield f"At {where}: {'; '.join(moved)}."
    else:
        yield f"At {where} every terminal that was read lies where it is described."
    if plane.loose:
        names = listed([terminal(node, plane.place) for node in plane.loose])
        yield f"Too few voltages reach {names} to say where it lies."
