"""Finer points of electrodes: lightning protection, spacing, sleeves, and one system for all."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Finding, Severity
from bondwright.rules.buildings import building_of
from bondwright.rules.editions import clause, edition
from bondwright.rules.electrodes_present import counts, electrode_supply, joined
from bondwright.rules.paths import MetalPaths, Standing
from bondwright.site.model import Electrode, Sleeve, TransformerForm
from bondwright.site.topology import Topology
from bondwright.units import Dimension, show


def electrode_detail_findings(
    standing: Standing, conductors: Mapping[str, Conductor | None], rules: str
) -> Iterator[Finding]:
    """Yield what is wrong with the finer points of electrodes.

    Args:
        standing: what stands.
        conductors: the electrode conductor of every electrode, by id.
        rules: name of the rule set.
    """
    tree = standing.tree
    for name, electrode in tree.site.electrodes.items():
        yield from _lightning(name, electrode, rules)
        yield from _spacing(name, electrode, rules)
        yield from _sleeve(name, electrode, conductors.get(name), rules)
        yield from _pipe(name, electrode, rules)
    yield from _outdoor_sources(tree, rules)
    yield from _systems_apart(standing, rules)


def _lightning(name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    if not electrode.lightning or joined(electrode):
        return
    yield Finding(
        "lightning-electrode-bond",
        Severity.FALLS_SHORT,
        name,
        "lightning protection not joined to the electrodes",
        f"{name!r} belongs to lightning protection, and no conductor joins it to the electrode "
        "system of the building. A stroke lifts one of them by thousands of volts above the "
        "other, and it jumps across inside. It does not count in place of the building's own "
        "electrodes.",
        "Join the two sets outdoors, short and straight, in dry weather; the standard of the "
        "lightning protection gives the size.",
        clause("lightning-electrode-bond", rules),
    )


def _spacing(name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    least = rule_parameter("electrode-system-spacing", edition(rules)).number
    if electrode.apart is None or electrode.apart >= least * (1 - 1e-6):
        return
    yield Finding(
        "electrode-system-spacing",
        Severity.FALLS_SHORT,
        name,
        "too near an electrode of another system",
        f"{name!r} stands {show(electrode.apart, Dimension.LENGTH)} from an electrode of another "
        f"kind of system; the least is {show(least, Dimension.LENGTH)}. Close electrodes use the "
        "same soil, and the surge of one is the surge of the other.",
        "Drive another further away; leave this one joined.",
        clause("electrode-system-spacing", rules),
    )


def _sleeve(
    name: str, electrode: Electrode, conductor: Conductor | None, rules: str
) -> Iterator[Finding]:
    if electrode.sleeve is Sleeve.STEEL_OPEN:
        size = f"as large as the conductor, {conductor}," if conductor else "as large as it"
        yield Finding(
            "electrode-sleeve-bond",
            Severity.FALLS_SHORT,
            name,
            "steel around an electrode conductor not joined at both ends",
            f"The electrode conductor of {name!r} runs in steel that is not joined to it at both "
            "ends. Steel around a single conductor chokes the fast current of a surge; joined at "
            "both ends it carries most of it.",
            f"Join the steel to the conductor at both ends by a jumper {size} or by listed "
            "clamps, without cutting or lifting the conductor; or use plastic.",
            clause("electrode-sleeve-bond", rules),
        )
    if electrode.sleeve is not Sleeve.NONE or conductor is None:
        return
    least = rule_parameter("electrode-conductor-unprotected-minimum", edition(rules))
    if conductor.size < least.size(Material.CU):
        yield Finding(
            "electrode-conductor-protection",
            Severity.FALLS_SHORT,
            name,
            "small electrode conductor without protection",
            f"The electrode conductor of {name!r} is {conductor}, smaller than "
            f"{least.size(Material.CU)}, and runs in the open.",
            "Put it in raceway or armour (steel is joined at both ends), or run a larger one, "
            "before the old one is taken off.",
            clause("electrode-conductor-protection", rules),
        )


def _pipe(name: str, electrode: Electrode, rules: str) -> Iterator[Finding]:
    most = rule_parameter("interior-pipe-connection-length", edition(rules)).number
    if electrode.from_entry is None or electrode.from_entry <= most * (1 + 1e-6):
        return
    yield Finding(
        "pipe-connection-distance",
        Severity.FALLS_SHORT,
        name,
        "joined too far along the water pipe",
        f"The electrode conductor of {name!r} is joined {show(electrode.from_entry, Dimension.LENGTH)} "  # noqa: E501
        f"from where the pipe enters; the most is {show(most, Dimension.LENGTH)}. Further in, a "
        "repair in plastic cuts the electrode off unseen.",
        "Join a conductor near the entry before the old joint is taken off; the pipe may carry "
        "current, so don't open it. Supervised industrial pipe may fall under an exception that "
        "this tool does not take.",
        clause("pipe-connection-distance", rules),
    )


def _outdoor_sources(tree: Topology, rules: str) -> Iterator[Finding]:
    there = {e.at for e in tree.site.electrodes.values() if counts(e)}
    for name, unit in tree.site.transformers.items():
        derived = tree.systems[name].origin == name and unit.form is not TransformerForm.ZIGZAG
        if not unit.outdoors or not derived or name in there:
            continue
        yield Finding(
            "outdoor-source-electrode",
            Severity.FALLS_SHORT,
            name,
            "no electrode at a source outdoors",
            f"{name!r} stands outside the building it supplies, and no electrode is joined there. "
            "Lightning and contact with high voltage reach it before the building.",
            f"Join an electrode at {name!r}, beside the metal path to the building and not in "
            "place of it.",
            clause("outdoor-source-electrode", rules),
        )


def _systems_apart(standing: Standing, rules: str) -> Iterator[Finding]:
    """Electrodes of one building whose places no metal joins."""
    tree = standing.tree
    buildings: dict[str | None, dict[str, str]] = {}
    for name, electrode in tree.site.electrodes.items():
        if joined(electrode) and _of_a_system(tree, electrode.at):
            buildings.setdefault(building_of(tree, electrode.at), {})[name] = electrode.at
    paths = MetalPaths(standing)
    for building, found in buildings.items():
        first, *others = found
        for other in others:
            if paths.joined((found[first], "G"), (found[other], "G")):
                continue
            yield _apart(building, first, other, rules)
            break


def _of_a_system(tree: Topology, at: str) -> bool:
    try:
        return electrode_supply(tree, at) is not None
    except ValueError:  # supply conductors of different metals
        return True


def _apart(building: str | None, one: str, other: str, rules: str) -> Finding:
    if building is None:
        severity = Severity.CANNOT_TELL
        start = f"If {one!r} and {other!r} are at the same building, they"
    else:
        severity = Severity.FALLS_SHORT
        start = f"{one!r} and {other!r} are at {building}, and"
    return Finding(
        "electrode-systems-apart",
        severity,
        other,
        "electrodes of one building not joined to each other",
        f"{start} belong to one electrode system; as described no conductor or metal joins them. "
        "Two earths in one building stand at different voltages in a fault or a storm, and people "
        "touch both.",
        "Join them with a bonding jumper sized like an electrode conductor, outdoors or at the "
        "service; open none of the conductors that are there.",
        clause("electrode-systems-apart", rules),
    )
