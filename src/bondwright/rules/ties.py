"""Where neutral and metal are joined, and where they must not be.

A service has a tie at each service disconnect; ahead of it further joins are normal (the meter
enclosure is bonded to the neutral). A derived system has exactly one, at its source or as far as
its first disconnect. Nothing is joined on the load side. Sources whose neutrals a transfer
switch leaves joined share one set of ties.

Where a corner of a delta is grounded, what is said of the neutral holds for that line.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from bondwright.site.model import Place, PlaceKind, SwitchedNeutral, Transfer
from bondwright.site.topology import Topology

NEUTRAL = "N"


@dataclass(frozen=True, slots=True)
class TiePlacement:
    """Where the ties of one system, or of several that share a neutral, belong.

    Attributes:
        origin: the source, generator, inverter or transformer; of several the one that leads.
        derived: whether it is a derived system.
        required: where a tie is placed if none stands: at each of these.
        allowed: where one may stand.
        one_only: whether the system may have a single tie only.
        why: in plain words.
        terminal: what is joined to metal: "N", or the line of a grounded corner.
        members: origins of all systems that share it.
    """

    origin: str
    derived: bool
    required: tuple[str, ...]
    allowed: frozenset[str]
    one_only: bool
    why: str
    terminal: str = NEUTRAL
    members: tuple[str, ...] = ()


def grounded_terminal(tree: Topology, origin: str) -> str | None:
    """Return what of a system is joined to metal: "N", a grounded corner's line, or None."""
    if tree.systems[origin].voltages.has_neutral:
        return NEUTRAL
    for tie in (tree.site.ties or {}).values():
        if tie.line is not None and tree.systems[tie.at].origin == origin:
            return tie.line
    return None


def tie_terminal(tree: Topology, tie: str, at: str) -> str:
    """Return what a tie joins to metal: "N" or a line.

    Args:
        tree: the supply tree.
        tie: id of the tie; one that the description hasn't joins what is grounded there.
        at: where it stands.
    """
    given = (tree.site.ties or {}).get(tie)
    if given is not None:
        return given.line or NEUTRAL
    system = tree.systems.get(at)
    return (grounded_terminal(tree, system.origin) if system else None) or NEUTRAL


def reaches(tree: Topology, place: str, terminal: str) -> bool:
    """Whether a neutral, or a line, reaches a place."""
    if terminal == NEUTRAL:
        return tree.neutral_at(place)
    return terminal in tree.lines_at(place)


def leader(tree: Topology, origin: str) -> str:
    """Return the origin whose ties serve a system as well, for their neutrals are one.

    A utility has ties of its own whatever else is joined; a transformer comes before a
    generator or inverter, and those in the order of the description.
    """
    part = None if origin in tree.site.sources else tree.neutral_part(origin)
    if part is None:
        return origin
    for other in (*tree.site.sources, *tree.site.transformers, *tree.roots):
        system = tree.systems.get(other)
        if system is not None and system.origin == other and tree.neutral_part(other) == part:
            return other
    return origin


def origins(tree: Topology) -> tuple[str, ...]:
    """Return everything that begins a system of its own."""
    return tuple(
        name
        for name in (*tree.roots, *tree.site.transformers)
        if name in tree.systems and tree.systems[name].origin == name
    )


def where_ties_belong(tree: Topology) -> Mapping[str, TiePlacement]:
    """Return where ties belong, by the origin that leads (see :func:`leader`)."""
    sharing: dict[str, list[str]] = {}
    for origin in origins(tree):
        sharing.setdefault(leader(tree, origin), []).append(origin)
    found: dict[str, TiePlacement] = {}
    # Utilities come first among the origins, so that others can ask for their places.
    for origin, members in sharing.items():
        system = tree.systems[origin]
        terminal = grounded_terminal(tree, origin)
        if terminal is None:
            why = f"{system.voltages} has no neutral: there is nothing to join"
            found[origin] = TiePlacement(
                origin, system.derived, (), frozenset(), False, why, members=tuple(members)
            )
        elif origin in tree.site.sources:
            found[origin] = _service(tree, origin, terminal, tuple(members))
        elif len(members) > 1 and origin in tree.roots:
            found[origin] = _shared(tree, origin, tuple(members))
        else:
            found[origin] = _derived(tree, origin, terminal, tuple(members), found)
    return found


def placement_at(
    tree: Topology, placements: Mapping[str, TiePlacement], place: str
) -> TiePlacement | None:
    """Return the placement that a tie at a place falls under."""
    system = tree.systems.get(place)
    return placements.get(leader(tree, system.origin)) if system is not None else None


def service_disconnects(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the service disconnects of a source.

    Places with a main or of that kind; else supply-side places whose outgoing runs start with a
    device (a meter with breakers).
    """
    named = tree.first_disconnects.get(origin) or tree.turned_to(origin).first_disconnects.get(
        origin, ()
    )
    if named:
        return named
    return tuple(
        name
        for name in tree.order
        if name in tree.supply_side_places
        and tree.systems[name].origin == origin
        and any(tree.site.runs[run].device is not None for run in tree.feeds.get(name, []))
    )


def _service(tree: Topology, origin: str, terminal: str, members: tuple[str, ...]) -> TiePlacement:
    disconnects = tuple(
        name for name in service_disconnects(tree, origin) if reaches(tree, name, terminal)
    )
    ahead = {
        name
        for name in (*tree.supply_side_places, *_switches_ahead(tree))
        if tree.systems[name].origin == origin and reaches(tree, name, terminal)
    }
    what = "neutral" if terminal == NEUTRAL else f"grounded line {terminal}"
    why = (
        f"the {what} of a service is joined to the metal at each service disconnect; joins ahead "
        "of it, such as in the meter enclosure, are normal"
    )
    allowed = frozenset({origin, *ahead, *disconnects})
    return TiePlacement(
        origin, False, disconnects, allowed, False, why, terminal=terminal, members=members
    )


def _switches_ahead(tree: Topology) -> list[str]:
    """Transfer switches ahead of the service disconnect whose neutral is never opened."""
    return [
        name
        for name, switch in tree.site.transfers.items()
        if switch.neutral is SwitchedNeutral.SOLID
        and tree.fed_by.get(name) in tree.supply_side_runs
    ]


def _derived(
    tree: Topology,
    origin: str,
    terminal: str,
    members: tuple[str, ...],
    others: Mapping[str, TiePlacement],
) -> TiePlacement:
    turned = tree if origin in tree.site.transformers else tree.turned_to(origin)
    ways = [_way(turned, origin, name) for name in turned.first_disconnects.get(origin, ())]
    # With several disconnects one point serves all only if it lies on the way to each.
    common = set.intersection(*ways) if ways else set()
    # A tie that a utility must have anyway may be reached by its neutral: then it serves both.
    serving = tuple(
        name
        for other in others.values()
        if other.origin in tree.site.sources
        for name in other.required
        if turned.neutrals_joined(name, origin) and not turned.neutrals_joined(other.origin, origin)
    )
    if serving:
        why = f"the tie at {' and '.join(serving)} serves it as well when it supplies"
        return TiePlacement(origin, True, serving, frozenset(serving), True, why, members=members)
    allowed = {origin}
    for name in common:
        # Behind a transfer switch a place is another system's as well, which has its own say.
        there = leader(tree, tree.systems[name].origin)
        free = there == origin or (there in others and name in others[there].allowed)
        if free and reaches(turned, name, terminal):
            allowed.add(name)
    # Of generators in parallel any one may have it.
    allowed.update(
        name
        for name in tree.site.generators
        if name in tree.fed_by and tree.systems[name].origin == origin
        if reaches(tree, name, terminal)
    )
    what = "neutral" if terminal == NEUTRAL else f"grounded line {terminal}"
    why = (
        f"a derived system has one join of {what} and metal, at its source or at one point up to "
        "its first disconnect, and no other"
    )
    return TiePlacement(
        origin, True, (origin,), frozenset(allowed), True, why, terminal=terminal, members=members
    )


def _shared(tree: Topology, origin: str, members: tuple[str, ...]) -> TiePlacement:
    """Several sources on site with one neutral and no utility: an island with a generator, say."""
    mine = [name for name in tree.order if tree.systems[name].origin in members]
    common = [
        name
        for name in mine
        if tree.neutral_at(name)
        and _is_disconnect(tree, name)
        and any(tree.site.runs[run].to in tree.site.transfers for run in tree.upstream(name))
    ]
    allowed = {
        name
        for name in (*members, *mine)
        if tree.neutral_at(name)
        and (name in members or name in tree.site.transfers or name in tree.supply_side_places)
    }
    allowed.update(common[:1])
    required = (common or [origin])[0]
    why = (
        f"{', '.join(members)} share one neutral, which no transfer switch opens: one join of "
        "neutral and metal serves all, best at the first disconnect that all of them feed"
    )
    return TiePlacement(origin, True, (required,), frozenset(allowed), True, why, members=members)


def _is_disconnect(tree: Topology, name: str) -> bool:
    place = tree.site.places.get(name)
    return place is not None and (
        place.main is not None or place.kind in {PlaceKind.SERVICE, PlaceKind.DISCONNECT}
    )


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

    Where a derived system has several, the one nearest its source is kept.

    Args:
        tree: the supply tree.
        ties: place of every tie, by id.
    """
    placements = where_ties_belong(tree)
    rank = {name: index for index, name in enumerate(tree.order)}
    kept: set[str] = set()
    taken: set[str] = set()

    def order(tie: str) -> tuple[bool, int]:
        placement = placement_at(tree, placements, ties[tie])
        best = placement is not None and ties[tie] in placement.required
        return (not best, rank.get(ties[tie], len(rank)))

    for tie in sorted(ties, key=order):
        at = ties[tie]
        placement = placement_at(tree, placements, at)
        if placement is None or at not in placement.allowed:
            continue
        if tie_terminal(tree, tie, at) != placement.terminal:
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
        ahead = {*tree.supply_side_places, *_switches_ahead(tree)}
        found += [
            name
            for name in tree.order
            if name in ahead
            and tree.systems[name].origin == origin
            and name not in disconnects
            and _bonds_by_neutral(tree.node(name))
            and tree.neutral_at(name)
        ]
    return tuple(found)


def _bonds_by_neutral(node: object) -> bool:
    if isinstance(node, Place):
        return node.enclosure == "metal" and node.kind is not PlaceKind.OUTLET
    return isinstance(node, Transfer)
