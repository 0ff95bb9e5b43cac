"""What an inspector asks of an installation as a whole, before any current is worked out.

Is all exposed metal joined to a protective conductor, and that to a means of earthing? Do sockets
have additional protection? Is each system joined once in every way the site is run?
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.iec_tables import iec_number
from bondwright.catalog.sizes import Conductor
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.iec.arrangements import Earthing, arrangement
from bondwright.rules.iec.intake import main_terminals, tails
from bondwright.rules.iec.ruleset import clause
from bondwright.rules.paths import MetalPaths, Standing, behind
from bondwright.rules.states import TieCount
from bondwright.rules.ties import TiePlacement, ties_lacking
from bondwright.site.model import Place, PlaceKind, Site
from bondwright.site.topology import Topology

_NAMED: Final = 6


def exposed_findings(
    standing: Standing, electrodes: Mapping[str, str], rules: str
) -> tuple[Finding, ...]:
    """Return a finding for every circuit that brings no protective conductor to metal.

    Args:
        standing: what stands.
        electrodes: place of every joined electrode, by id; one of its own earths a place by
            itself, which its loop is judged by.
        rules: name of the rule set.
    """
    tree = standing.tree
    metal = MetalPaths(standing, neutrals=False)
    own = set(electrodes.values())
    ahead = {run for origin in tree.site.sources for run in tails(tree, origin)}
    found = []
    for name, run in tree.site.runs.items():
        if name in standing.with_metal or run.to in own:
            continue
        if name in tree.supply_side_runs or name in ahead:
            continue  # those have findings of their own
        if not _nothing_to_touch(tree, run.to):
            other = metal.joined((run.from_, "G"), (run.to, "G"))
            found.append(_exposed(tree, name, rules, by_other_metal=other))
    return tuple(found)


def _nothing_to_touch(tree: Topology, name: str) -> bool:
    node = tree.node(name)
    plastic = isinstance(node, Place) and node.enclosure == "nonmetallic"
    return plastic and not tree.feeds.get(name)


def _exposed(tree: Topology, run: str, rules: str, *, by_other_metal: bool) -> Finding:
    places = behind(tree, run)
    names = ", ".join(places[:_NAMED])
    if len(places) > _NAMED:
        names += f" and {len(places) - _NAMED} more"
    text = f"The circuit {run!r} brings no protective conductor. This concerns: {names}. "
    if by_other_metal:
        text += (
            "A fault comes back over other metal only, which lies too far from the line "
            "conductors to carry enough current and may be cut or replaced by plastic."
        )
    else:
        text += (
            "A line that touches metal there makes it live, and no overcurrent device opens. An "
            "earth electrode is no substitute."
        )
    return Finding(
        "iec-exposed-part",
        Severity.FALLS_SHORT if by_other_metal else Severity.DANGER,
        run,
        "exposed metal without a protective conductor",
        text,
        f"Keep it off until a protective conductor runs with the line conductors of {run!r}.",
        clause("iec-exposed-part", rules),
    )


def means_findings(
    standing: Standing, electrodes: Mapping[str, str], earthing: Earthing, rules: str
) -> tuple[Finding, ...]:
    """Return a finding for every main earthing terminal that is joined to no means of earthing.

    A join of neutral and earth that is missing in the network has a finding of its own.

    Args:
        standing: what stands.
        electrodes: place of every joined electrode, by id.
        earthing: arrangement of the supply.
        rules: name of the rule set.
    """
    tree = standing.tree
    metal = MetalPaths(standing, neutrals=False)
    found = []
    for origin in tree.site.sources:
        for name in main_terminals(tree, origin):
            if earthing.is_tn:
                joined = _by_supply(standing, metal, origin, name, earthing)
            else:
                joined = any(metal.joined((name, "G"), (at, "G")) for at in electrodes.values())
            if not joined:
                found.append(_no_means(name, earthing, rules))
    return tuple(found)


def _by_supply(
    standing: Standing, metal: MetalPaths, origin: str, name: str, earthing: Earthing
) -> bool:
    """Whether metal leads from a first disconnect to where the supply gives its earth."""
    if earthing is Earthing.TN_S:
        return metal.joined((name, "G"), (origin, "G"))
    tree = standing.tree
    intake = name
    for run in tree.upstream(name):
        intake = tree.site.runs[run].to
    return metal.joined((name, "G"), (intake, "G"))


def _no_means(name: str, earthing: Earthing, rules: str) -> Finding:
    if earthing.is_tn:
        text = (
            f"The metal of {name} is not joined to {arrangement(earthing).returns_to}. A fault "
            "then has no way back, and no overcurrent device opens. An earth electrode is no "
            "substitute."
        )
        cure = (
            "Run an earthing conductor from the main earthing terminal to the supply's earth "
            "terminal, with the supply off. The operator's own parts are the operator's work."
        )
    else:
        text = (
            f"The installation is to be earthed by an electrode of its own ({earthing.value}), and "
            f"none is joined to the metal of {name}. "
        )
        text += (
            "The residual-current device then sees a fault only when somebody touches the metal."
            if earthing is Earthing.TT
            else "A first fault then lifts all metal to the voltage of a line."
        )
        cure = (
            "Drive an electrode, join it to the main earthing terminal by an earthing conductor, "
            "and measure it. Keep the installation off until then."
        )
    return Finding(
        "iec-earth-missing",
        Severity.DANGER,
        name,
        "main earthing terminal without its means of earthing",
        text,
        cure,
        clause("iec-earth-missing", rules),
    )


def ahead_findings(tree: Topology, earthing: Earthing, rules: str) -> tuple[Finding, ...]:
    """Return a note for every metal board of a TT supply that its residual-current device is in.

    A fault between the tails and such a board lies ahead of the device, and nothing ends it.

    Args:
        tree: the supply tree.
        earthing: arrangement of the supply.
        rules: name of the rule set.
    """
    if earthing is not Earthing.TT:
        return ()
    found = []
    for origin in tree.site.sources:
        for name in main_terminals(tree, origin):
            node = tree.site.places.get(name)
            if node is None or node.enclosure != "metal":
                continue
            found.append(
                Finding(
                    "iec-ahead-of-residual-device",
                    Severity.NOTE,
                    name,
                    "metal board ahead of the residual-current device",
                    f"The tails enter the metal of {name} ahead of any residual-current device. "
                    "If one of them touches that metal, earth brings back too little for the "
                    "operator's fuse, and all bonded metal stays live.",
                    "See that the tails are sheathed up to the terminals, held where they enter "
                    "and shrouded; or have a residual-current device put ahead of the board, or a "
                    "board of insulating material.",
                    clause("iec-ahead-of-residual-device", rules),
                )
            )
    return tuple(found)


def devices_ahead(tree: Topology, place: str) -> Iterator[tuple[str, DeviceRating]]:
    """Yield every device between a place's terminals and its source, nearest first.

    Args:
        tree: the supply tree.
        place: id of the place.

    Yields:
        Id of the device in the network, ``"main <place>"`` or ``"device <run>"``, and what it is.
    """
    here = place
    while True:
        node = tree.site.places.get(here)
        if node is not None and node.main is not None:
            yield f"main {here}", node.main
        run = tree.fed_by.get(here)
        if run is None:
            return
        described = tree.site.runs[run]
        if described.device is not None:
            yield f"device {run}", described.device
        if described.from_ not in tree.site.places and described.from_ not in tree.site.transfers:
            return
        here = described.from_


def additional_protection_findings(tree: Topology, rules: str) -> tuple[Finding, ...]:
    """Return a finding for every circuit of sockets that lacks additional protection.

    Sockets up to 32 A for use by ordinary persons have a residual-current device of at most
    30 mA (411.3.3). Who uses them is not described, so every place of the kind 'outlet' counts.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    most_a = iec_number("additional_protection", "sockets_a").value
    most_residual = iec_number("additional_protection", "residual_a").value
    found = []
    for name, place in tree.site.places.items():
        if place.kind is not PlaceKind.OUTLET or name not in tree.fed_by:
            continue
        ahead = [device for _, device in devices_ahead(tree, name)]
        if not ahead or ahead[0].rating_a > most_a:
            continue
        if any(d.residual_a is not None and d.residual_a <= most_residual for d in ahead):
            continue
        found.append(
            Finding(
                "iec-additional-protection",
                Severity.FALLS_SHORT,
                name,
                "sockets without additional protection",
                f"{name} is fed by {ahead[0]}, and no residual-current device of at most "
                f"{1000 * most_residual:g} mA stands ahead of it. Disconnection in a fault "
                "doesn't help somebody who touches a live part through a damaged lead.",
                f"Fit a residual-current device of {1000 * most_residual:g} mA, with the supply "
                "off. For sockets that only skilled or instructed persons use, or marked ones "
                "for one piece of equipment, the rules may allow an exception.",
                clause("iec-additional-protection", rules),
            )
        )
    return tuple(found)


def line_finding(
    run: str, lines: Conductor, needed: Conductor | None, rules: str
) -> Finding | None:
    """Return what is wrong with lines that are smaller than the description says is needed.

    Args:
        run: id of the run.
        lines: as installed.
        needed: what the load needs; None where nothing is said.
        rules: name of the rule set.
    """
    if needed is None or needed.material is not lines.material:
        return None
    if lines.sets * lines.size.area_mm2 >= needed.sets * needed.size.area_mm2 * (1 - 1e-9):
        return None
    return Finding(
        "iec-line-small",
        Severity.FALLS_SHORT,
        run,
        "line conductors smaller than needed",
        f"{run!r} has {lines} where the description says {needed} is needed.",
        f"Use {needed} or larger, or mend the description.",
        clause("iec-line-small", rules),
    )


def location_findings(site: Site, rules: str) -> tuple[Finding, ...]:
    """Return a finding for every area whose own part of the rules is not held here.

    Args:
        site: the description.
        rules: name of the rule set.
    """
    return tuple(
        Finding(
            "iec-special-location",
            Severity.CANNOT_TELL,
            name,
            f"rules of their own for this area ({area.kind.value})",
            f"{name} is an area that part 7 of the rules has more to say of: lower touch "
            "voltages, supplementary bonding and residual-current devices, for example. That "
            "part is not held here.",
            "Have it designed and inspected by that part of the rules.",
            clause("iec-special-location", rules),
        )
        for name, area in site.areas.items()
    )


def state_findings(
    standing: Standing, counts: Iterable[TieCount], lacking: Iterable[str], rules: str
) -> tuple[Finding, ...]:
    """Return a finding for every system that some state leaves unjoined, or joined twice.

    Args:
        standing: what stands, the network's own joins among it.
        counts: from :func:`bondwright.rules.states.tie_counts`.
        lacking: places that lack a join, which has a finding of its own.
        rules: name of the rule set.
    """
    tree = standing.tree
    if not (tree.site.transfers or tree.site.generators or tree.site.inverters):
        return ()
    short = bool(tuple(lacking))
    found: dict[tuple[str, bool], list[TieCount]] = {}
    for one in counts:
        if one.terminal is None or one.count == 1 or (one.count == 0 and short):
            continue
        found.setdefault((one.origin, one.count == 0), []).append(one)
    return tuple(_state(origin, none, those, rules) for (origin, none), those in found.items())


def _state(origin: str, none: bool, counts: list[TieCount], rules: str) -> Finding:
    states = ", ".join(dict.fromkeys(repr(one.state) for one in counts))
    if none:
        text = (
            f"In {states} nothing joins the neutral of {origin} to earth. A line that touches "
            "metal makes all metal live, and no overcurrent device opens. An earth electrode "
            "doesn't replace the join."
        )
        cure = f"Don't run it from {origin} until one join serves it in this state."
    else:
        ties = ", ".join(repr(tie) for tie in dict.fromkeys(t for o in counts for t in o.ties))
        text = (
            f"In {states} one neutral is joined to earth more than once: {ties}. Part of the "
            "neutral current then comes back over protective conductors in normal use, and "
            "residual-current devices open or go blind."
        )
        cure = (
            "Use a changeover switch that opens the neutral as well, or have all supplies share "
            "one join. Take none out before the path that remains is proved, with every supply "
            "off."
        )
    return Finding(
        "iec-own-source",
        Severity.DANGER if none else Severity.FALLS_SHORT,
        origin,
        "neutral and earth not joined" if none else "neutral and earth joined more than once",
        text,
        cure,
        clause("iec-own-source", rules),
    )


def lacking_joins(standing: Standing, placements: Mapping[str, TiePlacement]) -> tuple[str, ...]:
    """Return every place that lacks a join that belongs there.

    Args:
        standing: what stands.
        placements: from :func:`bondwright.rules.iec.joins.where_ties_belong`.
    """
    return tuple(
        place
        for placement in placements.values()
        if placement.required
        for place in ties_lacking(placement, standing.ties.values())
    )
