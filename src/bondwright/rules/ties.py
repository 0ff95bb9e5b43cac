"""Where neutral and metal are joined, and where they must not be.

A service has a tie at each service disconnect; ahead of it further joins are normal (the meter
enclosure is bonded to the neutral). A derived system has exactly one, at the transformer or as
far as its first disconnect. Nothing is joined on the load side.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bondwright.site.model import Place, PlaceKind
from bondwright.site.topology import Topology


@dataclass(frozen=True, slots=True)
class TiePlacement:
    """Where the ties of one system belong.

    Attributes:
        origin: the source or transformer.
        derived: whether it is a derived system.
        required: where a tie is placed if none stands: at each of these.
        allowed: where one may stand.
        one_only: whether the system may have a single tie only.
        why: in plain words.
    """

    origin: str
    derived: bool
    required: tuple[str, ...]
    allowed: frozenset[str]
    one_only: bool
    why: str


def where_ties_belong(tree: Topology) -> Mapping[str, TiePlacement]:
    """Return where ties belong, by origin of the system."""
    found = {}
    for origin in (*tree.site.sources, *tree.site.transformers):
        if origin not in tree.systems:
            continue
        system = tree.systems[origin]
        if not system.voltages.has_neutral:
            why = f"{system.voltages} has no neutral: there is nothing to join"
            found[origin] = TiePlacement(origin, system.derived, (), frozenset(), False, why)
        elif system.derived:
            found[origin] = _derived(tree, origin)
        else:
            found[origin] = _service(tree, origin)
    return found


def service_disconnects(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the service disconnects of a source.

    Places with a main or of that kind; else supply-side places whose outgoing runs start with a
    device (a meter with breakers).
    """
    named = tree.first_disconnects.get(origin, ())
    if named:
        return named
    return tuple(
        name
        for name in tree.order
        if name in tree.supply_side_places
        and tree.systems[name].origin == origin
        and any(tree.site.runs[run].device is not None for run in tree.feeds.get(name, []))
    )


def _service(tree: Topology, origin: str) -> TiePlacement:
    disconnects = tuple(name for name in service_disconnects(tree, origin) if tree.neutral_at(name))
    ahead = {
        name
        for name in tree.supply_side_places
        if tree.systems[name].origin == origin and tree.neutral_at(name)
    }
    why = (
        "the neutral of a service is joined to the metal at each service disconnect; joins ahead "
        "of it, such as in the meter enclosure, are normal"
    )
    return TiePlacement(
        origin, False, disconnects, frozenset({origin, *ahead, *disconnects}), False, why
    )


def _derived(tree: Topology, origin: str) -> TiePlacement:
    ways = [_way(tree, origin, name) for name in tree.first_disconnects.get(origin, ())]
    # With several disconnects one point serves all only if it lies on the way to each.
    common = set.intersection(*ways) if ways else set()
    allowed = frozenset({origin, *(name for name in common if tree.neutral_at(name))})
    why = (
        "a derived system has one join of neutral and metal, at the transformer or at one point "
        "up to its first disconnect, and no other"
    )
    return TiePlacement(origin, True, (origin,), allowed, True, why)


def _way(tree: Topology, origin: str, disconnect: str) -> set[str]:
    way = {disconnect}
    for run in tree.upstream(disconnect):
        here = tree.site.runs[run].from_
        if here == origin:
            break
        way.add(here)
    return way


def ties_that_belong(tree: Topology, ties: Mapping[str, str]) -> frozenset[str]:
    """Return the ids of the ties that stand where they may.

    Where a derived system has several, the one nearest its transformer is kept.

    Args:
        tree: the supply tree.
        ties: place of every tie, by id.
    """
    placements = where_ties_belong(tree)
    rank = {name: index for index, name in enumerate(tree.order)}
    kept: set[str] = set()
    taken: set[str] = set()
    for tie in sorted(ties, key=lambda tie: rank.get(ties[tie], len(rank))):
        at = ties[tie]
        placement = placements.get(tree.systems[at].origin) if at in tree.systems else None
        if placement is None or at not in placement.allowed:
            continue
        if placement.one_only and placement.origin in taken:
            continue
        taken.add(placement.origin)
        kept.add(tie)
    return frozenset(kept)


def ties_lacking(placement: TiePlacement, places: Iterable[str]) -> tuple[str, ...]:
    """Return where a tie has to be added for a system to be right.

    Args:
        placement: where its ties belong.
        places: where ties stand, of any system.
    """
    standing = set(places)
    if placement.one_only:
        return () if placement.allowed & standing else placement.required
    return tuple(place for place in placement.required if place not in standing)


def meter_bonds(tree: Topology) -> tuple[str, ...]:
    """Return the metal enclosures ahead of the service disconnect that are bonded to the neutral.

    The grounded conductor bonds them; no jumper wire is needed there.
    """
    found = []
    for origin in tree.site.sources:
        if not tree.systems[origin].voltages.has_neutral:
            continue
        disconnects = service_disconnects(tree, origin)
        for name in tree.order:
            place = tree.site.places.get(name)
            if (
                place is not None
                and name in tree.supply_side_places
                and tree.systems[name].origin == origin
                and name not in disconnects
                and _bonds_by_neutral(place)
                and tree.neutral_at(name)
            ):
                found.append(name)
    return tuple(found)


def _bonds_by_neutral(place: Place) -> bool:
    return place.enclosure == "metal" and place.kind is not PlaceKind.OUTLET
