"""What is wrong with the ties that stand, and in which order it is to be mended.

Advice to take a tie out never comes where that would take away the only fault path: then the
path that is to replace it comes first.
"""

from __future__ import annotations

from collections.abc import Container, Mapping

from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import is_service_run
from bondwright.rules.editions import clause
from bondwright.rules.old_feeders import old_feeder, old_feeder_stands
from bondwright.rules.paths import MetalPaths, Standing
from bondwright.rules.ties import (
    NEUTRAL,
    TiePlacement,
    leader,
    meter_bonds,
    placement_at,
    reaches,
    tie_terminal,
    ties_lacking,
    ties_that_belong,
    where_ties_belong,
)
from bondwright.site.model import Place, PlaceKind, Transformer
from bondwright.site.topology import Topology


def tie_findings(standing: Standing, rules: str) -> tuple[Finding, ...]:
    """Return every finding on ties: missing, on the load side, twice, or nothing to join.

    Args:
        standing: what stands.
        rules: name of the rule set.
    """
    tree = standing.tree
    placements = where_ties_belong(tree)
    found: list[Finding] = []
    whole, metal = MetalPaths(standing), MetalPaths(standing, neutrals=False)
    for placement in placements.values():
        found += _missing(standing, placement, whole, rules)
        found += _twice(standing, placement, metal, rules)
    keep = ties_that_belong(tree, standing.ties)
    stray = {tie: at for tie, at in standing.ties.items() if tie not in keep}
    without = MetalPaths(standing, without_ties=stray)
    beyond = load_side(standing, placements, keep)
    for tie, at in stray.items():
        own = placement_at(tree, placements, at)
        joins = reaches(tree, at, tie_terminal(tree, tie, at))
        if not joins or (own is not None and not own.allowed):
            found.append(_nothing_to_join(tree, tie, at, rules))
        elif tie in beyond:
            found.append(_load_side(standing, tie, at, without, rules))
    return (*found, *_loops(standing, rules), *_meters(standing, rules))


def load_side(
    standing: Standing, placements: Mapping[str, TiePlacement], keep: Container[str]
) -> frozenset[str]:
    """Return the ties on the load side of the system at their place.

    A tie between a source and the transfer switch that leaves its neutral joined to another's is
    not among them: it is judged by state (:mod:`bondwright.rules.states`).
    """
    tree = standing.tree
    found = set()
    for tie, at in standing.ties.items():
        placement = placement_at(tree, placements, at)
        if tie in keep or placement is None or at in placement.allowed or at not in tree.fed_by:
            continue
        own = tree.systems[at].origin
        if placement.allowed and own in (placement.origin, *_fed_like(tree, placement)):
            found.add(tie)
    return frozenset(found)


def _fed_like(tree: Topology, placement: TiePlacement) -> list[str]:
    """Members of a shared neutral that feed something as the transfer switches stand."""
    return [name for name in placement.members if name in tree.site.transformers]


def excused_runs(standing: Standing, rules: str) -> frozenset[str]:
    """Return old three-wire feeders that may stand, so no missing wire is held against them."""
    keep = ties_that_belong(standing.tree, standing.ties)
    found = set()
    for tie, at in standing.ties.items():
        run = standing.tree.fed_by.get(at)
        if tie not in keep and run and old_feeder(standing, at, rules) == []:
            found.add(run)
    return frozenset(found)


def _missing(
    standing: Standing, placement: TiePlacement, paths: MetalPaths, rules: str
) -> list[Finding]:
    tree, origin = standing.tree, placement.origin
    if not placement.allowed:
        return []
    if not placement.required:
        return [_place_unknown(tree, origin, rules)]
    lacking = ties_lacking(placement, standing.ties.values())
    return [_no_tie(place, placement, paths.returns(place), rules) for place in lacking]


def _place_unknown(tree: Topology, origin: str, rules: str) -> Finding:
    return Finding(
        "tie-place-unknown",
        Severity.CANNOT_TELL,
        origin,
        "no service disconnect described",
        f"The tie of {tree.systems[origin].voltages} from {origin} belongs at the service "
        "disconnect that a neutral reaches, and none is described.",
        "Name it: a place of kind 'service', or one with a 'main'.",
        clause("tie-place-unknown", rules),
    )


def _no_tie(place: str, placement: TiePlacement, has_path: bool, rules: str) -> Finding:
    jumper = "system bonding jumper" if placement.derived else "main bonding jumper"
    rule = "derived-tie-missing" if placement.derived else "tie-missing"
    text = f"No {jumper} joins {_words(placement.terminal)} and metal at {place}"
    if placement.derived:
        text += " or as far as the first disconnect"
    if has_path:
        text += (
            ". A fault comes back only by a join elsewhere, over metal that was not sized for it."
        )
        severity = Severity.FALLS_SHORT
    else:
        text += (
            ". A line that touches metal makes all metal of this system live, and no breaker "
            "opens. A ground rod doesn't replace it."
        )
        severity = Severity.DANGER
    return Finding(
        rule,
        severity,
        place,
        f"{jumper} missing",
        text,
        f"Install the {jumper} at {place}, with the supply off. Do it before any other tie is "
        "taken out.",
        clause(rule, rules),
    )


def _words(terminal: str) -> str:
    return "neutral" if terminal == NEUTRAL else f"the grounded line {terminal}"


def _twice(
    standing: Standing, placement: TiePlacement, metal: MetalPaths, rules: str
) -> list[Finding]:
    tree = standing.tree
    if not placement.one_only or placement.origin in tree.roots:
        return []  # of a source on site the ties are counted by state
    here = [tie for tie, at in standing.ties.items() if at in placement.allowed]
    places = list(dict.fromkeys(standing.ties[tie] for tie in here))
    if len(places) < 2:
        return []
    source = tree.node(placement.origin)
    keep = ties_that_belong(tree, standing.ties)
    drop = next((tie for tie in here if tie not in keep), here[-1])
    loop = metal.joined((places[0], "G"), (places[1], "G"))
    where = " and ".join(places)
    if isinstance(source, Transformer) and source.outdoors and not loop:
        return [
            Finding(
                "derived-tie-twice",
                Severity.CANNOT_TELL,
                drop,
                "two system bonding jumpers on an outdoor transformer",
                f"Neutral and metal are joined at {where}. From an outdoor transformer that may "
                "stand if no metal at all runs beside the neutral between the two; none is "
                "described.",
                "Look for metal raceway, cable shields, pipe and steel between the two. Don't "
                "take either join out before the fault path without it is proven.",
                clause("derived-tie-twice", rules),
            )
        ]
    caution = "" if loop else _ONLY_PATH
    return [
        Finding(
            "derived-tie-twice",
            Severity.FALLS_SHORT,
            drop,
            "two system bonding jumpers on one derived system",
            f"Neutral and metal are joined at {where}. Part of the neutral current then comes "
            "back over the metal between the two, in normal use.",
            f"{caution}Keep one, by preference the one at {placement.origin}. Take {drop!r} out "
            "only with the supply off, after proving that metal joins the two enclosures.",
            clause("derived-tie-twice", rules),
        )
    ]


_ONLY_PATH = (
    "Don't take it out yet: it is part of the only fault path here. First join the enclosures "
    "with a supply-side bonding jumper. "
)


def _nothing_to_join(tree: Topology, tie: str, at: str, rules: str) -> Finding:
    return Finding(
        "tie-without-neutral",
        Severity.CANNOT_TELL,
        tie,
        "a tie where no neutral is",
        f"{tie!r} is to join neutral and metal at {at}, but no neutral reaches {at} "
        f"({tree.systems[at].voltages}).",
        "Say what it joins ('line: L2' for a grounded corner), or bring the neutral into the "
        "description.",
        clause("tie-without-neutral", rules),
    )


def _load_side(standing: Standing, tie: str, at: str, without: MetalPaths, rules: str) -> Finding:
    tree = standing.tree
    run = tree.fed_by[at]
    objections = old_feeder(standing, at, rules)
    if objections == []:
        return old_feeder_stands(standing, tie, at, run, rules)
    terminal = tie_terminal(tree, tie, at)
    what = "the neutral" if terminal == NEUTRAL else terminal
    text = (
        f"{tie!r} joins {_words(terminal)} and metal at {at}, on the load side. Its "
        f"current divides between {what} and every metal path from {at} back to the source: metal "
        f"carries current in normal use, and becomes live when {what} opens."
    )
    if objections:
        text += " The rule for old feeders without an equipment grounding conductor doesn't help: "
        text += "; ".join(objections) + "."
    place = tree.node(at)
    if isinstance(place, Place) and place.kind in {PlaceKind.EQUIPMENT, PlaceKind.OUTLET}:
        text += (
            " An existing range or dryer circuit may fall under an exception (250.140) that this "
            "tool does not judge."
        )
    return Finding(
        "tie-load-side",
        Severity.FALLS_SHORT,
        tie,
        "neutral joined to metal on the load side",
        text,
        _order_of_work(standing, tie, at, run, without),
        clause("tie-load-side", rules),
    )


def _order_of_work(standing: Standing, tie: str, at: str, run: str, without: MetalPaths) -> str:
    tree = standing.tree
    origin = tree.systems[at].origin
    bare = [
        name
        for name in tree.upstream(at)
        if tree.system_of_run(name).origin == origin
        and name not in standing.with_metal
        and name not in tree.supply_side_runs
    ]
    # A pipe or a cable shield may join the metal as well, but no fault path may rest on it.
    if without.returns(at) and not bare:
        return (
            f"With the power off, prove that the equipment grounding conductor of {run!r} is "
            f"whole from {at} back to the source; then take {tie!r} out and keep the neutral "
            f"apart from the metal at {at}. Look for further ties afterwards: one can hide "
            "another."
        )
    first = []
    placement = where_ties_belong(tree)[leader(tree, origin)]
    needed = ties_lacking(placement, standing.ties.values())
    if needed:
        jumper = "system" if placement.derived else "main"
        first.append(f"install the {jumper} bonding jumper at {' and '.join(needed)}")
    if bare:
        names = ", ".join(repr(name) for name in bare)
        first.append(f"run an equipment grounding conductor with {names}")
    only = "the only fault path" if not without.returns(at) else "the only sound fault path"
    return (
        f"Don't take {tie!r} out yet: it is {only} of {at}. First "
        f"{' and '.join(first) or 'make a metal path back to the source'}, then prove that path "
        "with the power off, and only then take the tie out. A ground rod is no substitute."
    )


def _loops(standing: Standing, rules: str) -> list[Finding]:
    """Metal beside the neutral ahead of a service disconnect: normal, but good to know."""
    tree = standing.tree
    found = []
    for run in tree.site.runs:
        if run not in tree.supply_side_runs or run not in standing.with_metal:
            continue
        if not is_service_run(tree, run):
            continue
        described = tree.site.runs[run]
        paths = MetalPaths(standing, without_metal=[run])
        if paths.joined((described.from_, "G"), (described.to, "G")):
            found.append(
                Finding(
                    "supply-side-loop",
                    Severity.NOTE,
                    run,
                    "metal beside the neutral on the supply side",
                    f"Neutral and metal are joined at both ends of {run!r}, so its metal carries "
                    "a share of the neutral current. Ahead of the service disconnect that is "
                    "normal and no violation; past it, it would be one.",
                    clause=clause("supply-side-loop", rules),
                )
            )
    return found


def _meters(standing: Standing, rules: str) -> list[Finding]:
    paths = MetalPaths(standing)
    return [
        Finding(
            "meter-bond",
            Severity.NOTE,
            place,
            "bond of an enclosure ahead of the service disconnect not described",
            f"The description doesn't say how the metal of {place} is joined to the neutral. "
            "Meter enclosures mostly have that join inside.",
            "Ask the utility; don't open a sealed meter.",
            clause("meter-bond", rules),
        )
        for place in meter_bonds(standing.tree)
        if not paths.returns(place)
    ]
