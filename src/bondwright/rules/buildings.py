"""Which building a thing stands in, which runs enter a building, and whose conductors supply it."""

from __future__ import annotations

from bondwright.rules.inputs import SupplyConductors
from bondwright.site.model import Place, Run, Source, SwitchedNeutral
from bondwright.site.topology import Topology


def building_of(tree: Topology, name: str) -> str | None:
    """Return the building of a place or transformer; None where it isn't said."""
    node = tree.node(name)
    return None if isinstance(node, Source) else node.building


def enters_building(tree: Topology, run: str) -> bool:
    """Whether a run comes from elsewhere into a named building."""
    described = tree.site.runs[run]
    inside = building_of(tree, described.to)
    return inside is not None and inside != building_of(tree, described.from_)


def entry_run(tree: Topology, name: str) -> str | None:
    """Return the load-side run that brings supply into the building of a place, or None.

    None in the building of the service itself, and where buildings aren't named.
    """
    home = building_of(tree, name)
    if home is None:
        return None
    for run in tree.upstream(name):
        if enters_building(tree, run) and building_of(tree, tree.site.runs[run].to) == home:
            return None if is_service_run(tree, run) else run
    return None


def is_service_run(tree: Topology, run: str) -> bool:
    """Whether a run is ahead of the service disconnect of a utility source."""
    return run in tree.supply_side_runs and tree.system_of_run(run).origin in tree.site.sources


def neutral_bonds(tree: Topology, run: str) -> bool:
    """Whether the neutral bonds the enclosures at both ends of a run, so that it needs no jumper.

    So it is ahead of a service disconnect, but for a transfer switch that opens the neutral.
    """
    described = tree.site.runs[run]
    ends = (tree.site.transfers.get(name) for name in (described.from_, described.to))
    opened = any(end is not None and end.neutral is SwitchedNeutral.SWITCHED for end in ends)
    return is_service_run(tree, run) and not opened


def system_supply(tree: Topology, origin: str) -> SupplyConductors | None:
    """Return the conductors that the jumpers and the electrode conductor of a system follow.

    Those that end at its first disconnects, added up where there are several; where no first
    disconnect is described, those that leave the source, generator, inverter or transformer.

    Raises:
        ValueError: several, of different metals.
    """
    runs = [
        tree.fed_by[place]
        for place in tree.first_disconnects.get(origin, ())
        if place in tree.fed_by
    ] or tree.feeds.get(origin, [])
    if not runs:
        return None
    return SupplyConductors(tuple(tree.site.runs[run].lines for run in runs))


def place_supply(tree: Topology, place: str) -> SupplyConductors | None:
    """Return the supply conductors that serve one enclosure: those that end there.

    For a transformer, those of its secondary; for a source on site, those that leave it. None
    where nothing feeds the place.
    """
    if place in tree.site.transformers or place in tree.roots:
        return system_supply(tree, place)
    run = tree.fed_by.get(place)
    return SupplyConductors.of(tree.site.runs[run].lines) if run else None


def has_overcurrent_device(tree: Topology, entry: str) -> bool:
    """Whether any overcurrent device stands behind a run, which makes it a feeder."""
    waiting = [tree.site.runs[entry].to]
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in seen:
            continue
        seen.add(name)
        node = tree.node(name)
        if isinstance(node, Place) and node.main is not None:
            return True
        for run in tree.feeds.get(name, []):
            described = tree.site.runs[run]
            if described.device is not None:
                return True
            waiting.append(described.to)
    return False


def year_of(tree: Topology, run: str) -> int | None:
    """Return the year a run was installed: its own, else that of what it feeds."""
    described: Run = tree.site.runs[run]
    if described.installed is not None:
        return described.installed
    node = tree.node(described.to)
    return None if isinstance(node, Source) else node.installed
