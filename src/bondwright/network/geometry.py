"""How the conductors of a run lie to each other.

Every way of wiring is a rule that gives the distances between conductors' centres, from their
diameters alone. The first-order earth terms of :mod:`bondwright.network.impedance` don't depend
on height, so none is asked for.

All rules are common practice of the trade; where a product standard fixes the make-up, the
rule says so. Diameters over insulation are those of NEC chapter 9 table 5, bare ones those of
table 8.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np

from bondwright.catalog.conductors import insulated_diameter, properties, pulled_spacing
from bondwright.catalog.sizes import Conductor
from bondwright.network.impedance import Floats
from bondwright.units import INCH

SET_DISTANCE: Final = 0.20
"""Assumed distance between the raceways or cables of neighbouring parallel sets, m."""

RACK_SPACING: Final = 8 * INCH
"""Assumed distance between the wires of an overhead rack, m (common practice)."""

TRENCH_SPACING: Final = 7.5 * INCH
"""Assumed distance between single cables spaced in a trench, m (common practice)."""


class Lie(StrEnum):
    """How conductors lie."""

    PULLED = "pulled"
    """Single conductors drawn into a raceway: as they fall."""
    TOUCHING = "touching"
    """Round cable, its cores twisted together."""
    FLAT = "flat"
    """Flat cable: cores side by side, the bare bonding conductor before the last."""
    TRIPLEX = "triplex"
    """Insulated conductors twisted round a bare messenger."""
    SPREAD = "spread"
    """Overhead, not said how: as triplex."""
    OPEN_WIRE = "open wire"
    """Overhead on a rack, one above the other."""
    TRAY = "tray"
    """Single conductors in a tray, side by side and touching."""
    TRAY_SPACED = "tray spaced"
    """Single conductors in a tray, one diameter apart."""
    BURIED = "buried"
    """Single conductors in earth, side by side and touching."""
    BURIED_SPACED = "buried spaced"
    """Single conductors in earth, apart."""

    @classmethod
    def parse(cls, text: str) -> Lie:
        """Read a word.

        Raises:
            ValueError: not one of them; the message lists them.
        """
        try:
            return cls(text)
        except ValueError:
            choices = ", ".join(repr(str(one)) for one in cls)
            msg = f"{text!r} is no way for conductors to lie; it is one of {choices}"
            raise ValueError(msg) from None


@dataclass(frozen=True, slots=True)
class LaidWire:
    """A wire that has to be laid.

    Attributes:
        terminal: L1, L2, L3, N or G.
        conductor: its size and metal.
        set: number of its parallel set, from 0.
    """

    terminal: str
    conductor: Conductor
    set: int = 0

    @property
    def insulated(self) -> float:
        """Diameter over insulation, m."""
        return insulated_diameter(self.conductor.size)

    @property
    def bare(self) -> float:
        """Diameter of the metal, m."""
        return properties(self.conductor.size, self.conductor.material).diameter_m


def distances(
    lie: str | Lie,
    wires: Sequence[LaidWire],
    *,
    rack_spacing: float = RACK_SPACING,
    trench_spacing: float = TRENCH_SPACING,
    set_distance: float = SET_DISTANCE,
) -> Floats:
    """Return the distances between the centres of conductors.

    Parallel sets lie beside each other. In a tray and in a trench, where conductors are single,
    each set takes its place next to the one before, in the same order (L1 L2 L3 N G, L1 L2 L3 N
    G); on a rack each set is on a rack of its own; otherwise each is a cable or raceway of its
    own and all its conductors count as lying at its centre.

    Args:
        lie: one of :class:`Lie`.
        wires: n wires; the terminal tells a wire's place, not the order given.
        rack_spacing: centre to centre on an overhead rack, m.
        trench_spacing: centre to centre of spaced cables in earth, m.
        set_distance: centre to centre of neighbouring cables, raceways and racks, m.

    Returns:
        Shape (n, n), m, symmetric; the diagonal is zero and means nothing.

    Raises:
        ValueError: the word isn't known, or a spacing lets wires overlap.
    """
    kind = Lie.parse(lie)
    flat = _places_in_line(kind, wires, trench_spacing, set_distance)
    if flat is not None:
        return np.abs(flat[:, None] - flat[None, :])
    out = np.zeros((len(wires), len(wires)))
    for i, one in enumerate(wires):
        for j in range(i):
            other = wires[j]
            if one.set == other.set:
                mates = [wire for wire in wires if wire.set == one.set]
                out[i, j] = _within(kind, mates, one, other, rack_spacing)
            else:
                out[i, j] = set_distance * abs(one.set - other.set)
            out[j, i] = out[i, j]
    return out


def _places_in_line(
    kind: Lie, wires: Sequence[LaidWire], trench_spacing: float, set_distance: float
) -> Floats | None:
    """Return the place of each wire on a line, m, for the ways that are a line."""
    step = {
        Lie.TRAY: _touching,
        Lie.BURIED: _touching,
        Lie.TRAY_SPACED: _one_diameter_apart,
        Lie.BURIED_SPACED: _apart(trench_spacing),
        Lie.FLAT: _touching,
    }.get(kind)
    if step is None:
        return None
    places = np.zeros(len(wires))
    at = 0.0
    previous: int | None = None
    for number in sorted({wire.set for wire in wires}):
        order = [k for k, wire in enumerate(wires) if wire.set == number]
        order.sort(key=lambda k: _RANK[wires[k].terminal])
        if kind is Lie.FLAT:
            order = _bare_before_last(order, wires)
            at, previous = set_distance * number, None
        for k in order:
            if previous is not None:
                bare = kind is Lie.FLAT
                at += step(_width(wires[previous], bare), _width(wires[k], bare))
            places[k] = at
            previous = k
    return places


_RANK: Final = {"L1": 0, "L2": 1, "L3": 2, "N": 3, "G": 4}


def _width(wire: LaidWire, bare_bonding: bool) -> float:
    return wire.bare if bare_bonding and wire.terminal == "G" else wire.insulated


def _bare_before_last(order: list[int], wires: Sequence[LaidWire]) -> list[int]:
    bonding = [k for k in order if wires[k].terminal == "G"]
    others = [k for k in order if wires[k].terminal != "G"]
    return [*others[:-1], *bonding, *others[-1:]]


def _touching(one: float, other: float) -> float:
    return (one + other) / 2


def _one_diameter_apart(one: float, other: float) -> float:
    return (one + other) / 2 + max(one, other)


def _apart(spacing: float) -> Callable[[float, float], float]:
    def step(one: float, other: float) -> float:
        if spacing < _touching(one, other):
            msg = f"cables {spacing} m apart would overlap; they are {max(one, other)} m thick"
            raise ValueError(msg)
        return spacing

    return step


def _within(
    kind: Lie, mates: Sequence[LaidWire], one: LaidWire, other: LaidWire, rack_spacing: float
) -> float:
    """Return the distance of two wires of one set, for the ways that aren't a line."""
    match kind:
        case Lie.PULLED:
            return math.sqrt(_pulled(one) * _pulled(other))
        case Lie.TRIPLEX | Lie.SPREAD:
            return _round_messenger(mates, one, other)
        case Lie.OPEN_WIRE:
            steps = abs(_RACK[one.terminal] - _RACK[other.terminal])
            return rack_spacing * steps
        case _:
            return _touching(one.insulated, other.insulated)


_RACK: Final = {"N": 0, "L1": 1, "L2": 2, "L3": 3, "G": 4}
"""Places on a rack from the top: the neutral above the lines."""


def _pulled(wire: LaidWire) -> float:
    # Two wires can't lie closer than touching, whatever the table's average says.
    return max(pulled_spacing(wire.conductor.size), wire.insulated)


def _round_messenger(mates: Sequence[LaidWire], one: LaidWire, other: LaidWire) -> float:
    """Return the distance in a cable twisted round a bare messenger.

    The messenger is the bonding conductor, or else the neutral. Two conductors and it touch
    each other; three or more stand round it at equal angles (ANSI/ICEA S-76-474 make-up; from
    memory). Without a messenger the conductors touch.
    """
    names = {wire.terminal for wire in mates}
    messenger = "G" if "G" in names else "N" if "N" in names else None
    if messenger in (one.terminal, other.terminal):
        thick, around = (one, other) if one.terminal == messenger else (other, one)
        return _touching(thick.bare, around.insulated)
    if messenger is None:
        return _touching(one.insulated, other.insulated)
    bare = next(wire.bare for wire in mates if wire.terminal == messenger)
    ring = [wire for wire in mates if wire.terminal != messenger]
    ring.sort(key=lambda wire: _RANK[wire.terminal])
    steps = abs(ring.index(one) - ring.index(other))
    a, b = (bare + one.insulated) / 2, (bare + other.insulated) / 2
    angle = math.tau * steps / len(ring) if len(ring) > 2 else 0.0
    around_it = math.sqrt(a * a + b * b - 2 * a * b * math.cos(angle))
    return max(around_it, _touching(one.insulated, other.insulated))
