"""Where neutral and earth are joined under each earthing arrangement, and what is wrong with joins.

On a TN-S and TT supply the join stands in the network, on a TN-C-S supply at the network
operator's cut-out, under MEN at the main switchboard, in an IT system nowhere. A transformer or
generator of the installation's own has one join of its own, as everywhere.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import entry_run, year_of
from bondwright.rules.iec.arrangements import Arrangement, Earthing, JoinAt, arrangement
from bondwright.rules.iec.ruleset import clause
from bondwright.rules.paths import MetalPaths, Standing
from bondwright.rules.ties import (
    TiePlacement,
    placement_at,
    service_disconnects,
    tie_terminal,
    ties_lacking,
)
from bondwright.rules.ties import where_ties_belong as _general
from bondwright.site.model import Place
from bondwright.site.topology import Topology

MEN_BOARDS_UNTIL = 2003
"""About this year links at further switchboards ended in AS/NZS 3000 (common practice)."""


def where_ties_belong(tree: Topology, earthing: Earthing) -> Mapping[str, TiePlacement]:
    """Return where joins of neutral and earth belong, by the origin that leads.

    Args:
        tree: the supply tree.
        earthing: arrangement of the supply, and of the installation's own systems.
    """
    general = _general(tree)
    found: dict[str, TiePlacement] = {}
    for origin, placement in general.items():
        if not placement.allowed:
            found[origin] = placement  # no neutral, so nothing to join
        elif earthing is Earthing.IT:
            found[origin] = replace(
                placement,
                required=(),
                allowed=frozenset(),
                one_only=False,
                why="an IT system is isolated from earth, or joined to it through an impedance",
            )
        elif origin in tree.site.sources:
            found[origin] = _network(tree, placement, earthing)
    for origin, placement in general.items():
        if origin not in found:
            found[origin] = _own(tree, placement, general, found)
    return {origin: found[origin] for origin in general}


def _network(tree: Topology, placement: TiePlacement, earthing: Earthing) -> TiePlacement:
    origin, facts = placement.origin, arrangement(earthing)
    required: tuple[str, ...]
    allowed: set[str] = {origin}
    match facts.join:
        case JoinAt.ORIGIN:
            required = intakes(tree, origin)
            why = (
                "on a TN-C-S supply neutral and earth are joined once, in the network operator's "
                "cut-out at the origin, and nowhere in the installation"
            )
        case JoinAt.MAIN_SWITCHBOARD:
            required = service_disconnects(tree, origin)
            why = (
                "the MEN link stands in the main switchboard, and in no other board; past it "
                "neutral and earth are apart"
            )
        case JoinAt.EVERYWHERE:
            required = pen_places(tree, origin)
            why = (
                "in a TN-C system metal is joined to the PEN conductor wherever that ends; once "
                "neutral and protective conductor are apart they are not joined again"
            )
        case _:
            required = (origin,)
            why = (
                f"on a {earthing.value} supply neutral and earth are joined in the network, at "
                "the source, and nowhere in the installation"
            )
    return replace(
        placement, required=required, allowed=frozenset(allowed | {*required}), one_only=False,
        why=why,
    )  # fmt: skip


def intakes(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the places where a network ends: the first that its source feeds, one a branch."""
    return tuple(
        tree.site.runs[run].to
        for run in tree.feeds.get(origin, ())
        if tree.site.runs[run].to in tree.site.places and tree.neutral_at(tree.site.runs[run].to)
    )


def pen_places(tree: Topology, origin: str) -> tuple[str, ...]:
    """Return the metal places that a PEN conductor reaches: no run before has its own PE."""
    reached: set[str] = {origin}
    for name in tree.order:
        run = tree.fed_by.get(name)
        if run is None or tree.systems[name].origin != origin:
            continue
        described = tree.site.runs[run]
        if described.from_ in reached and described.egc is None and tree.neutral_at(name):
            reached.add(name)
    return tuple(
        name
        for name in tree.order
        if name in reached and isinstance(place := tree.node(name), Place)
        if place.enclosure == "metal"
    )


def _own(
    tree: Topology,
    placement: TiePlacement,
    general: Mapping[str, TiePlacement],
    network: Mapping[str, TiePlacement],
) -> TiePlacement:
    """A system of the installation's own; one that reaches a network's joins is served by them."""
    own = placement.origin
    for origin, of_network in network.items():
        if not set(placement.required) <= set(general[origin].required):
            continue
        turned = tree.turned_to(own)
        joins = of_network.required
        if joins and all(turned.neutrals_joined(place, own) for place in joins):
            return replace(
                placement,
                required=joins,
                allowed=frozenset(joins),
                why=f"the join at {' and '.join(joins)} serves it as well when it supplies",
            )
        return replace(
            placement,
            required=(own,),
            allowed=frozenset({own}),
            why="as an island it must not rely on the network's earth, so it has a join of its "
            "own at the source",
        )
    return replace(
        placement,
        why="a transformer or generator of the installation's own has one join of neutral and "
        "earth, at its source or at one point up to its first device, and no other",
    )


def ties_that_belong(
    tree: Topology, ties: Mapping[str, str], placements: Mapping[str, TiePlacement]
) -> frozenset[str]:
    """Return the ids of the joins that stand where they may.

    Args:
        tree: the supply tree.
        ties: place of every join, by id.
        placements: from :func:`where_ties_belong`.
    """
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
        if placement.one_only:
            if placement.origin in taken:
                continue
            taken.add(placement.origin)
        kept.add(tie)
    return frozenset(kept)


def network_joins(tree: Topology, earthing: Earthing) -> tuple[str, ...]:
    """Return where the network operator has the join by the arrangement that was declared.

    A description that says nothing of joins may take these as standing; one that says there are
    none ("ties: {}") may not.
    """
    if arrangement(earthing).join not in (JoinAt.NETWORK, JoinAt.ORIGIN):
        return ()
    placements = where_ties_belong(tree, earthing)
    return tuple(
        place
        for origin, placement in placements.items()
        if origin in tree.site.sources
        for place in placement.required
    )


def join_findings(standing: Standing, earthing: Earthing, rules: str) -> tuple[Finding, ...]:
    """Return every finding on joins of neutral and earth: missing, twice, or where none belongs.

    Args:
        standing: what stands.
        earthing: arrangement of the supply.
        rules: name of the rule set.

    Raises:
        UnknownFamilyRulesError: no such rule set.
    """
    tree, facts = standing.tree, arrangement(earthing)
    placements = where_ties_belong(tree, earthing)
    paths = MetalPaths(standing)
    found: list[Finding] = []
    for placement in placements.values():
        lacking = ties_lacking(placement, standing.ties.values()) if placement.required else ()
        for place in lacking:
            mends = "a licensed installer" if placement.derived else facts.mends
            found.append(_missing(place, facts, mends, has_path=paths.returns(place), rules=rules))
    keep = ties_that_belong(tree, standing.ties, placements)
    stray = {tie: at for tie, at in standing.ties.items() if tie not in keep}
    without = MetalPaths(standing, without_ties=stray)
    for tie, at in stray.items():
        if at not in tree.systems or not tree.neutral_at(at):
            continue  # nothing to join there: said by the reader of the description
        of_place = placement_at(tree, placements, at)
        twice = of_place is not None and at in of_place.allowed
        found.append(_stray(standing, tie, at, facts, without, twice=twice, rules=rules))
    return tuple(found)


def _missing(place: str, facts: Arrangement, mends: str, *, has_path: bool, rules: str) -> Finding:
    rule = "iec-join-missing"
    text = f"Neutral and earth are not joined at {place}, where {facts.earthing.value} has it"
    if not facts.earthing.is_tn:
        text += (
            ". The source then is not earthed, and a fault may draw too little to open a "
            "residual-current device."
        )
        severity = Severity.FALLS_SHORT
    elif has_path:
        text += ". A fault comes back only by another way, over metal that was not sized for it."
        severity = Severity.FALLS_SHORT
    else:
        text += (
            ". A line that touches metal makes all metal live, and no overcurrent device opens. "
            "An earth electrode doesn't replace the join."
        )
        severity = Severity.DANGER
    cure = f"Have {mends} mend it. Treat the installation as not earthed until then"
    if mends == "the network operator":
        cure += ", and don't open the cut-out"
    return Finding(
        rule, severity, place, "no join of neutral and earth", text, cure + ".", clause(rule, rules)
    )


def _stray(
    standing: Standing,
    tie: str,
    at: str,
    facts: Arrangement,
    without: MetalPaths,
    *,
    twice: bool,
    rules: str,
) -> Finding:
    tree = standing.tree
    severity = Severity.FALLS_SHORT
    if twice:
        rule, title = "iec-join-twice", "a second join of neutral and earth"
        text = f"{tie!r} joins neutral and earth at {at} a second time. "
    elif not facts.earthing.is_tn:
        rule = "iec-join-not-allowed"
        title = f"neutral and earth joined in a {facts.earthing.value} installation"
        text = f"{tie!r} joins neutral and earth at {at}; {facts.earthing.value} has no such join. "
    else:
        rule, title = "iec-join-downstream", "neutral and protective conductor joined downstream"
        text = f"{tie!r} joins neutral and protective conductor at {at}, past their separation. "
    text += (
        "Neutral current then flows in protective conductors and metal in normal use, "
        "residual-current devices ahead open or go blind, and all metal is live when the neutral "
        "breaks."
    )
    if facts.earthing is Earthing.MEN:
        run = entry_run(tree, at)
        year = year_of(tree, tree.fed_by[at]) if at in tree.fed_by else None
        if year is not None and year <= MEN_BOARDS_UNTIL:
            severity = Severity.CANNOT_TELL
            text += f" Of {year} it may be allowed to stay; ask the authority."
        elif run is not None and run not in standing.with_metal:
            severity, rule = Severity.CANNOT_TELL, "iec-outbuilding"
            title = "an outbuilding as a separate MEN installation"
            text = (
                f"{tie!r} at {at} makes the outbuilding a separate MEN installation, with an "
                "electrode of its own; that is main-earthing work and has to be inspected."
            )
    return Finding(
        rule,
        severity,
        tie,
        title,
        text,
        _care(standing, tie, at, facts, without),
        clause(rule, rules),
    )


def _care(standing: Standing, tie: str, at: str, facts: Arrangement, without: MetalPaths) -> str:
    """What to do, in the order that never takes away the only fault path."""
    tree = standing.tree
    if not facts.earthing.is_tn:
        return (
            f"Don't take {tie!r} out before a residual-current device of suitable rating protects "
            "every circuit and the electrode was measured; then take it out with the supply off."
        )
    bare = [
        name
        for name in tree.upstream(at)
        if name not in standing.with_metal and name not in tree.supply_side_runs
    ]
    if without.returns(at) and not bare:
        return (
            "With the supply off, prove that the protective conductor is whole from "
            f"{at} back to the main earthing terminal; then take {tie!r} out and keep neutral and "
            "protective conductor apart. Look for further joins afterwards: one can hide another."
        )
    first = "bring back the join that belongs and a protective conductor"
    if bare:
        first = f"run a protective conductor with {', '.join(repr(name) for name in bare)}"
    return (
        f"Don't take {tie!r} out yet: it is the only sound fault path of {at}. First {first}, "
        "prove that path with the supply off, and only then take the join out. An earth "
        "electrode is no substitute."
    )
