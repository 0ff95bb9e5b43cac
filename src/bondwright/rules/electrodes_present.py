"""Which electrodes a building needs, and whether those it has will do."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Material
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import (
    building_of,
    enters_building,
    entry_run,
    has_overcurrent_device,
    is_service_run,
    system_supply,
)
from bondwright.rules.editions import clause, edition
from bondwright.rules.inputs import SupplyConductors
from bondwright.rules.ties import service_disconnects
from bondwright.site.fields import NoWire
from bondwright.site.model import Describes, Electrode, ElectrodeKind
from bondwright.site.topology import Topology
from bondwright.units import Dimension, show

_SMALL: Final = frozenset({ElectrodeKind.ROD, ElectrodeKind.PLATE})
_HELPED: Final = _SMALL | {ElectrodeKind.WATER_PIPE}
"""Electrodes that need another beside them."""
_CLOSE: Final = 0.973
"""A reading this near the limit doesn't prove it: a stakeless clamp is good to 2.7 % at 25 ohm
(1.5 % + 0.3 ohm, one published calibration table)."""


def joined(electrode: Electrode) -> bool:
    """Whether an electrode is joined to its place at all."""
    return electrode.conductor is not NoWire.NONE


def counts(electrode: Electrode) -> bool:
    """Whether an electrode is joined and counts for a building.

    Lightning protection never does, nor does a strip or wire that closes no ring: it is not among
    the electrodes of 250.52(A) (from memory).
    """
    strip = electrode.kind is ElectrodeKind.STRIP
    return joined(electrode) and not electrode.lightning and not strip


def electrode_supply(tree: Topology, at: str) -> SupplyConductors | None:
    """Return the conductors that an electrode conductor at a place follows.

    At a service or on the supply side of a system: the system's. In another building: the
    feeder's. None for a place on the load side in the building of its own service, where an
    electrode is auxiliary and its conductor has no size by rule.

    Raises:
        ValueError: the supply is of conductors of different metals.
    """
    origin = tree.systems[at].origin
    if (
        at in tree.site.transformers
        or (at == origin and tree.systems[at].derived)
        or at in tree.supply_side_places
        or at in service_disconnects(tree, origin)
    ):
        return system_supply(tree, origin)
    run = entry_run(tree, at)
    return SupplyConductors.of(tree.site.runs[run].lines) if run else None


def electrode_findings(tree: Topology, rules: str) -> tuple[Finding, ...]:
    """Return every finding on electrodes: absent, not joined, on their own, too small.

    Args:
        tree: the supply tree.
        rules: name of the rule set.
    """
    electrodes = tree.site.electrodes
    found = [*_services(tree, rules), *_fed_buildings(tree, rules)]
    for name, electrode in electrodes.items():
        found += _one(name, electrode, rules)
        found += _auxiliary(tree, name, electrode, rules)
    for group in _systems(tree):
        found += _together(group, rules)
    return tuple(found)


def lone_electrodes(tree: Topology) -> frozenset[str]:
    """Return every rod or plate that has to be proven or doubled, for nothing else serves.

    A water pipe beside it needs help itself; what isn't joined, or belongs to lightning
    protection, doesn't count.
    """
    return frozenset(name for group in _systems(tree) if (name := _lone(group)) is not None)


def _systems(tree: Topology) -> list[Mapping[str, Electrode]]:
    """The electrodes that count, by building."""
    groups: dict[str | None, dict[str, Electrode]] = {}
    for name, electrode in tree.site.electrodes.items():
        if counts(electrode):
            groups.setdefault(building_of(tree, electrode.at), {})[name] = electrode
    return list(groups.values())


def _lone(group: Mapping[str, Electrode]) -> str | None:
    small = {name: e for name, e in group.items() if e.kind in _SMALL}
    other = any(e.kind not in _HELPED for e in group.values())
    alone = not other and sum(e.count for e in small.values()) == 1
    return next(iter(small)) if alone else None


def _services(tree: Topology, rules: str) -> Iterator[Finding]:
    served = {e.at for e in tree.site.electrodes.values() if counts(e)}
    for origin in tree.site.sources:
        disconnects = service_disconnects(tree, origin)
        if not disconnects:
            continue
        ahead = {p for p in tree.supply_side_places if tree.systems[p].origin == origin}
        homes = {building_of(tree, name) for name in disconnects}
        shared = {
            name
            for other in tree.site.sources
            for name in service_disconnects(tree, other)
            if building_of(tree, name) in homes
        }
        if not served & (ahead | set(disconnects) | shared):
            yield Finding(
                "service-electrode",
                Severity.FALLS_SHORT,
                disconnects[0],
                "no electrode at the service",
                f"No electrode is joined at {' or '.join(disconnects)} or ahead of it. The "
                "electrode holds the neutral near earth potential and takes surges; it is no "
                "fault path and no cure for one that is missing.",
                "Join every electrode that the building has (footing steel, water pipe, ring, "
                "rods) to one system at the service.",
                clause("service-electrode", rules),
            )


def _fed_buildings(tree: Topology, rules: str) -> Iterator[Finding]:
    served = {building_of(tree, e.at) for e in tree.site.electrodes.values() if counts(e)}
    seen: set[str | None] = set(served)
    for run in tree.site.runs:
        home = building_of(tree, tree.site.runs[run].to)
        if not enters_building(tree, run) or is_service_run(tree, run) or home in seen:
            continue
        seen.add(home)
        entries = [
            name
            for name in tree.site.runs
            if enters_building(tree, name) and building_of(tree, tree.site.runs[name].to) == home
        ]
        if len(entries) == 1 and not has_overcurrent_device(tree, run):
            continue
        yield Finding(
            "building-electrode",
            Severity.FALLS_SHORT,
            tree.site.runs[run].to,
            f"no electrode at {home}",
            f"{home} is fed by a feeder and has no electrode of its own. It needs one, joined to "
            "the metal (not to the neutral) at its disconnect, beside the equipment grounding "
            "conductor of the feeder and not in place of it.",
            "Join the electrodes of the building at its disconnect.",
            clause("building-electrode", rules),
        )


def _auxiliary(tree: Topology, name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    at = electrode.at
    origin = tree.systems[at].origin
    if (
        not counts(electrode)
        or at in tree.site.transformers
        or (at == origin and tree.systems[at].derived)
        or at in tree.supply_side_places
        or at in service_disconnects(tree, origin)
        or entry_run(tree, at) is not None
    ):
        return
    yield Finding(
        "auxiliary-electrode",
        Severity.NOTE,
        name,
        "electrode on the load side",
        f"{name!r} is joined at {at}, which is not the disconnect of a building as described. "
        "There it is an auxiliary electrode: allowed, without a size by rule, and never in place "
        "of an equipment grounding conductor.",
        f"If {at} stands in a building of its own, name the building.",
        clause("auxiliary-electrode", rules),
    )


def _together(group: Mapping[str, Electrode], rules: str) -> Iterator[Finding]:
    pipes = [name for name, e in group.items() if e.kind is ElectrodeKind.WATER_PIPE]
    if pipes and len(pipes) == len(group):
        yield Finding(
            "water-pipe-alone",
            Severity.FALLS_SHORT,
            pipes[0],
            "water pipe as the only electrode",
            "A water pipe always needs another electrode beside it: a repair in plastic, or a "
            "new service, takes it away without anyone noticing.",
            "Add another electrode and join it to the same system.",
            clause("water-pipe-alone", rules),
        )
    lone = _lone(group)
    if lone is not None:
        yield from _alone(lone, group[lone], rules)


def _alone(name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    limit = rule_parameter("rod-resistance", edition(rules)).number
    spacing = show(rule_parameter("rod-spacing", edition(rules)).number, Dimension.LENGTH)
    measured, what = electrode.resistance, electrode.kind.value
    if measured is not None and measured <= limit * _CLOSE:
        return
    text = f"{name!r} is a {what} without a second electrode of another kind or another {what}. "
    severity = Severity.CANNOT_TELL
    if measured is None:
        text += f"That is enough only if it is proven to have {limit:g} ohm or less."
    elif measured <= limit:
        text += f"{measured:g} ohm is too near {limit:g} ohm for an instrument to prove it."
    else:
        text += f"It has {measured:g} ohm, more than {limit:g} ohm."
        severity = Severity.FALLS_SHORT
    yield Finding(
        "single-rod",
        severity,
        name,
        f"one {what} on its own",
        text,
        f"Add a second one at least {spacing} away (better two rod lengths); the two together "
        f"need not reach {limit:g} ohm. Or measure and keep the record. Never open the electrode "
        "conductor of a live system to measure.",
        clause("single-rod", rules),
    )


def _one(name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    if not joined(electrode) and not electrode.lightning:
        yield Finding(
            "electrode-not-joined",
            Severity.FALLS_SHORT,
            name,
            "electrode not joined",
            f"{name!r} is there, but no conductor joins it. Every electrode that is present at a "
            "building belongs in one system.",
            "Join it with an electrode conductor.",
            clause("electrode-not-joined", rules),
        )
    if electrode.kind is ElectrodeKind.ROD:
        yield from _rod(name, electrode, rules)
    if electrode.kind is ElectrodeKind.RING and electrode.ring_conductor is not None:
        least = rule_parameter("ring-conductor", edition(rules)).size(Material.CU)
        ring = electrode.ring_conductor
        if ring.material is not Material.CU or ring.size < least:
            yield Finding(
                "ring-size",
                Severity.FALLS_SHORT,
                name,
                "ring conductor too small",
                f"The ring is {ring}; it has to be bare copper of at least {least}.",
                "Don't count it as an electrode, or replace it.",
                clause("ring-size", rules),
            )
    parameter = _LENGTHS.get(electrode.kind)
    if parameter is not None and electrode.length is not None:
        least_length = rule_parameter(parameter, edition(rules))
        if electrode.length < least_length.number * (1 - 1e-6):
            yield Finding(
                "electrode-length",
                Severity.FALLS_SHORT,
                name,
                f"{electrode.kind.value} electrode too short",
                f"{show(electrode.length, Dimension.LENGTH)} in the earth; it counts from "
                f"{show(least_length.number, Dimension.LENGTH)}.",
                "Keep it bonded, but give the building another electrode.",
                clause("electrode-length", rules, least_length.clause),
            )


_LENGTHS: Final = {
    ElectrodeKind.WATER_PIPE: "water-pipe-length",
    ElectrodeKind.CONCRETE: "concrete-electrode-length",
    ElectrodeKind.RING: "ring-length",
    ElectrodeKind.STEEL: "support-structure-length",
}


def _rod(name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    year = edition(rules)
    spacing = rule_parameter("rod-spacing", year).number
    closest = electrode.closest
    if electrode.count > 1 and closest is not None and closest < spacing * (1 - 1e-6):
        yield Finding(
            "rod-spacing",
            Severity.FALLS_SHORT,
            name,
            "rods too close",
            f"The rods stand {show(closest, Dimension.LENGTH)} apart; the least is "
            f"{show(spacing, Dimension.LENGTH)}. Close rods use the same soil and do little more "
            "than one.",
            "Drive a further one, two rod lengths away.",
            clause("rod-spacing", rules),
        )
    length = rule_parameter("rod-length", year).number
    if electrode.length is not None and electrode.length < length * (1 - 1e-6):
        yield _rod_size(
            name,
            Severity.FALLS_SHORT,
            f"It is {show(electrode.length, Dimension.LENGTH)} long; the least is "
            f"{show(length, Dimension.LENGTH)} in contact with soil.",
            rules,
        )
    diameter = electrode.diameter
    plain, listed = (
        rule_parameter(id, year).number for id in ("rod-diameter", "listed-rod-diameter")
    )
    if diameter is None or diameter >= plain * (1 - 1e-6):
        return
    if diameter >= listed * (1 - 1e-6):
        severity, text = Severity.CANNOT_TELL, "A rod of 1/2 in to 5/8 in will do only if listed."
    else:
        severity, text = Severity.FALLS_SHORT, "It is thinner than 1/2 in, the least for any rod."
    yield _rod_size(name, severity, text, rules)


def _rod_size(name: str, severity: Severity, text: str, rules: str) -> Finding:
    return Finding(
        "rod-size",
        severity,
        name,
        "rod too short or too thin",
        text,
        "Drive a rod of full size; leave this one joined.",
        clause("rod-size", rules),
    )


def derived_electrode_finding(
    tree: Topology, transformer: str, size: str, rules: str
) -> Finding | None:
    """Return the finding on a derived system whose electrode conductor isn't described.

    Args:
        tree: the supply tree.
        transformer: id of the transformer, generator or inverter.
        size: the electrode conductor that it needs, as text.
        rules: name of the rule set.

    Returns:
        None for a plan, which has it in its schedule.
    """
    if tree.site.describes is Describes.PLAN:
        return None
    return Finding(
        "derived-electrode",
        Severity.FALLS_SHORT,
        transformer,
        "no electrode conductor at a derived system",
        f"No electrode is joined at {transformer} or as far as its first disconnect.",
        f"Run {size} from the place of its tie (where it is ungrounded, from its enclosure) to the "
        "building's electrode system.",
        clause("derived-electrode", rules),
    )
