"""What follows from a description: who feeds whom, which system is where, which side is which.

A site's supply is a tree: every place is fed by one run, up to a source. A transformer ends one
system and begins another. The part of a system ahead of its first overcurrent device (the
service disconnect, or the first disconnect after a transformer) is its *supply side*; nothing
on site protects it, and its metal is bonded by the rules for that side.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.site.fields import NoWire
from bondwright.site.model import Place, PlaceKind, Run, Site, Source, Transformer


@dataclass(frozen=True, slots=True)
class Problem:
    """Something in a description that can't stand.

    Attributes:
        loc: keys from the top of the description to the offending value.
        problem: what is wrong, as a clause about the value.
        hint: what would be right.
        on_key: whether the last key itself is at fault rather than its value.
    """

    loc: tuple[str | int, ...]
    problem: str
    hint: str = ""
    on_key: bool = False


@dataclass(frozen=True, slots=True)
class SupplySystem:
    """One grounded or ungrounded system: a source or a transformer secondary and what it feeds.

    Attributes:
        origin: id of the source or transformer.
        voltages: its nominal system.
        derived: True for a transformer secondary (a separately derived system).
    """

    origin: str
    voltages: VoltageSystem
    derived: bool


class Topology:
    """The supply tree of a valid site. Build it with :func:`topology`."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.fed_by: dict[str, str] = {run.to: name for name, run in site.runs.items()}
        self.feeds: dict[str, list[str]] = {}
        for name, run in site.runs.items():
            self.feeds.setdefault(run.from_, []).append(name)

    def node(self, name: str) -> Source | Transformer | Place:
        """Return the source, transformer or place with this id."""
        for table in (self.site.sources, self.site.transformers, self.site.places):
            if name in table:
                return table[name]
        raise KeyError(name)

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Ids of all sources, transformers and places, every feeder before what it feeds."""
        return tuple(self._walk())

    def _walk(self) -> Iterator[str]:
        stack = list(reversed(self.site.sources))
        while stack:
            here = stack.pop()
            yield here
            stack.extend(self.site.runs[run].to for run in reversed(self.feeds.get(here, [])))

    def upstream(self, place: str) -> Iterator[str]:
        """Yield the runs from a place back to its source, nearest first."""
        here = place
        while here in self.fed_by:
            run = self.fed_by[here]
            yield run
            here = self.site.runs[run].from_

    @cached_property
    def systems(self) -> dict[str, SupplySystem]:
        """The system that each source, place and transformer *secondary* belongs to."""
        found: dict[str, SupplySystem] = {}
        for name in self.order:
            node = self.node(name)
            if isinstance(node, Source):
                found[name] = SupplySystem(name, node.system, derived=False)
            elif isinstance(node, Transformer):
                found[name] = SupplySystem(name, node.secondary, derived=True)
            else:
                found[name] = found[self.site.runs[self.fed_by[name]].from_]
        return found

    def system_of_run(self, run: str) -> SupplySystem:
        """Return the system whose current a run carries."""
        return self.systems[self.site.runs[run].from_]

    @cached_property
    def first_disconnects(self) -> dict[str, tuple[str, ...]]:
        """For each system origin, the places that hold its first disconnects, in order."""
        found: dict[str, list[str]] = {}
        for name in self.order:
            node = self.node(name)
            if isinstance(node, Place) and self._is_first(name, node):
                found.setdefault(self.systems[name].origin, []).append(name)
        return {origin: tuple(names) for origin, names in found.items()}

    def _is_first(self, name: str, place: Place) -> bool:
        return _disconnects(place) and not self._protected_above(name)

    def _protected_above(self, place: str) -> bool:
        """Whether a device of the same system stands between the origin and a place."""
        here = place
        while here in self.fed_by:
            run = self.site.runs[self.fed_by[here]]
            if run.device is not None:
                return True
            above = self.node(run.from_)
            if not isinstance(above, Place):
                return False
            if _disconnects(above):
                return True
            here = run.from_
        return False

    @cached_property
    def supply_side_runs(self) -> frozenset[str]:
        """Runs ahead of the first overcurrent device of their system."""
        return frozenset(name for name in self.site.runs if self._on_supply_side(name))

    def _on_supply_side(self, name: str) -> bool:
        run = self.site.runs[name]
        if run.device is not None:
            return False
        above = self.node(run.from_)
        if not isinstance(above, Place):
            return True
        return not _disconnects(above) and not self._protected_above(run.from_)

    @cached_property
    def supply_side_places(self) -> frozenset[str]:
        """Places reached from their origin by supply-side runs only, first disconnects included."""
        return frozenset(
            name for name in self.site.places if self.fed_by.get(name) in self.supply_side_runs
        )

    def supply_run(self, origin: str) -> str | None:
        """Return the supply-side run nearest a system's first disconnect, or None.

        Its line conductors are the ones that bonding jumpers and electrode conductors of the
        system are sized from (the largest, where there are several).
        """
        runs = [name for name in self.supply_side_runs if self.system_of_run(name).origin == origin]
        on_site = [name for name in runs if self._reaches_disconnect(name)] or runs
        if not on_site:
            return None
        return max(on_site, key=lambda name: self.site.runs[name].lines.total_area_cmil)

    def _reaches_disconnect(self, run: str) -> bool:
        to = self.node(self.site.runs[run].to)
        return isinstance(to, Place) and _disconnects(to)

    def lines_of(self, run: str) -> tuple[str, ...]:
        """Return the line terminals that a run carries."""
        return self._carried[run][0]

    def lines_at(self, place: str) -> tuple[str, ...]:
        """Return the line terminals that reach a place (a transformer's: its secondary's)."""
        if place not in self.site.places:
            return self.systems[place].voltages.lines
        return self.lines_of(self.fed_by[place])

    def has_neutral(self, run: str) -> bool:
        """Whether a run carries a neutral: as written, else if one reaches its start.

        A transformer whose primary lies between lines takes none unless it is written.
        """
        return self._carried[run][1]

    def neutral_at(self, place: str) -> bool:
        """Whether a neutral reaches a place (a transformer's: its secondary's)."""
        if place not in self.site.places:
            return self.systems[place].voltages.has_neutral
        return place in self.fed_by and self.has_neutral(self.fed_by[place])

    @cached_property
    def _carried(self) -> dict[str, tuple[tuple[str, ...], bool]]:
        """Line terminals and neutral of each run; from the sources outward, so no recursion."""
        found: dict[str, tuple[tuple[str, ...], bool]] = {}
        for name in self.order:
            if name in self.site.places:
                lines, neutral = found[self.fed_by[name]]
            else:
                system = self.systems[name].voltages
                lines, neutral = system.lines, system.has_neutral
            for out in self.feeds.get(name, []):
                run = self.site.runs[out]
                carried = tuple(run.on) if run.on is not None else lines
                found[out] = (carried, self._brings_neutral(run, carried, neutral))
        return found

    def _brings_neutral(self, run: Run, lines: tuple[str, ...], there: bool) -> bool:
        if run.neutral is not None:
            return run.neutral is not NoWire.NONE
        fed = self.site.transformers.get(run.to)
        if fed is None:
            return there
        single = fed.primary.winding is Winding.SINGLE_TWO_WIRE
        return there and fed.primary.has_neutral and not (single and len(lines) > 1)

    def protecting(self, run: str) -> tuple[str, str] | None:
        """Return where the device is that protects a run: ``("run", id)`` or ``("place", id)``.

        The device at the start of the run, else the nearest one upstream in the same system;
        None on the supply side.
        """
        here = run
        while True:
            description = self.site.runs[here]
            if description.device is not None:
                return ("run", here)
            above = self.node(description.from_)
            if not isinstance(above, Place):
                return None
            if above.main is not None:
                return ("place", description.from_)
            if description.from_ not in self.fed_by:
                return None
            here = self.fed_by[description.from_]


def _disconnects(place: Place) -> bool:
    return place.main is not None or place.kind in {PlaceKind.SERVICE, PlaceKind.DISCONNECT}


def topology(site: Site) -> Topology:
    """Return the supply tree of a site that passed :func:`bondwright.site.check.problems`."""
    return Topology(site)
