"""What follows from a description: who feeds whom, which system is where, which side is which.

A site's supply is a tree: every place is fed by one run, up to a source. A transformer ends one
system and begins another. The part of a system ahead of its first overcurrent device (the
service disconnect, or the first disconnect after a transformer) is its *supply side*; nothing
on site protects it, and its metal is bonded by the rules for that side.

A transfer switch is fed by one of its two runs at a time; the other is idle. Where it stands on
both (closed transition), it counts as fed by its normal run, and the other one is beside. A
generator or inverter that a run leads to works in parallel with what that run comes from. A
topology is that of one way in which the transfer switches stand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.site.fields import NoWire
from bondwright.site.model import (
    Generator,
    Inverter,
    Place,
    PlaceKind,
    Position,
    Run,
    Site,
    Source,
    SwitchedNeutral,
    Transfer,
    Transformer,
    TransformerForm,
)

Node = Source | Generator | Inverter | Transformer | Transfer | Place
"""Anything with terminals that runs go between."""


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
        origin: id of the source, generator, inverter or transformer.
        voltages: its nominal system.
        derived: True for a separately derived system: a transformer secondary, or a source on
            site whose neutral no transfer switch leaves joined to that of a utility or transformer.
    """

    origin: str
    voltages: VoltageSystem
    derived: bool


class Topology:
    """The supply tree of a valid site. Build it with :func:`topology`."""

    def __init__(self, site: Site, transfers: Mapping[str, Position] | None = None) -> None:
        self.site = site
        stands = transfers or {}
        self.stands: Mapping[str, Position] = MappingProxyType(
            {name: Position(stands.get(name, Position.NORMAL)) for name in site.transfers}
        )
        """Where every transfer switch stands."""
        self.idle: frozenset[str] = frozenset(
            switch.normal if self.stands[name] is Position.STANDBY else switch.standby
            for name, switch in site.transfers.items()
            if self.stands[name] is not Position.BOTH
        )
        """Runs on the side of a transfer switch that is open."""
        self.beside: frozenset[str] = frozenset(
            switch.standby
            for name, switch in site.transfers.items()
            if self.stands[name] is Position.BOTH
        )
        """Standby runs of transfer switches that stand on both supplies."""
        self.fed_by: dict[str, str] = {
            run.to: name
            for name, run in site.runs.items()
            if name not in self.idle and name not in self.beside
        }
        self.feeds: dict[str, list[str]] = {}
        for name, run in site.runs.items():
            self.feeds.setdefault(run.from_, []).append(name)
        self._turned: dict[str, Topology] = {}

    def node(self, name: str) -> Node:
        """Return the source, generator, inverter, transformer, transfer or place with this id."""
        site = self.site
        tables: tuple[Mapping[str, Node], ...] = (
            site.places,
            site.sources,
            site.transformers,
            site.generators,
            site.inverters,
            site.transfers,
        )
        for table in tables:
            if name in table:
                return table[name]
        raise KeyError(name)

    @cached_property
    def roots(self) -> tuple[str, ...]:
        """Ids of what makes a system of its own without being fed: utilities, then the rest."""
        site = self.site
        own = (name for name in (*site.generators, *site.inverters) if name not in self.fed_by)
        return (*site.sources, *own)

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Ids of everything with terminals, every feeder before what it feeds."""
        return tuple(self._walk())

    def _walk(self) -> Iterator[str]:
        stack = list(reversed(self.roots))
        while stack:
            here = stack.pop()
            yield here
            stack.extend(
                self.site.runs[run].to
                for run in reversed(self.feeds.get(here, []))
                if run not in self.idle and run not in self.beside
            )

    def upstream(self, place: str) -> Iterator[str]:
        """Yield the runs from a place back to its source, nearest first."""
        here = place
        while here in self.fed_by:
            run = self.fed_by[here]
            yield run
            here = self.site.runs[run].from_

    def root(self, name: str) -> str:
        """Return the source, generator or inverter that feeds a place, through transformers."""
        here = name
        while here in self.fed_by:
            here = self.site.runs[self.fed_by[here]].from_
        return here

    def turned_to(self, origin: str) -> Topology:
        """Return the topology in which every transfer switch that a source can feed does so.

        Args:
            origin: id of a source, generator or inverter that nothing feeds.
        """
        if origin not in self._turned:
            self._turned[origin] = self._turn(origin)
        return self._turned[origin]

    def _turn(self, origin: str) -> Topology:
        tree: Topology = self
        for _ in self.site.transfers:
            stands = dict(tree.stands)
            for name, switch in self.site.transfers.items():
                sides = ((Position.NORMAL, switch.normal), (Position.STANDBY, switch.standby))
                reached = [at for at, run in sides if tree.root(self._start(run)) == origin]
                if reached and tree.stands[name] not in reached:
                    stands[name] = reached[0]
                    break
            else:
                break
            turned = Topology(self.site, stands)
            if not set(self.site.transfers) <= set(turned.order):
                break  # it would feed itself
            tree = turned
        return tree

    def _start(self, run: str) -> str:
        return self.site.runs[run].from_

    @cached_property
    def _voltages(self) -> dict[str, tuple[str, VoltageSystem]]:
        """Origin and nominal system of everything with terminals."""
        found: dict[str, tuple[str, VoltageSystem]] = {}
        for name in self.order:
            node = self.node(name)
            if isinstance(node, Transformer) and node.form is TransformerForm.AUTO:
                found[name] = (found[self._start(self.fed_by[name])][0], node.secondary)
            elif isinstance(node, Transformer):
                found[name] = (name, node.secondary)
            elif name in self.fed_by:
                found[name] = found[self._start(self.fed_by[name])]
            elif isinstance(node, Source | Generator | Inverter):
                found[name] = (name, node.system)
        return found

    @cached_property
    def systems(self) -> dict[str, SupplySystem]:
        """The system that each source, place and transformer *secondary* belongs to."""
        found: dict[str, SupplySystem] = {}
        for name, (origin, voltages) in self._voltages.items():
            known = found.get(origin)
            derived = self._is_derived(origin) if known is None else known.derived
            if known is None or known.voltages is not voltages:
                found[name] = SupplySystem(origin, voltages, derived)
            else:
                found[name] = known
        return found

    def _is_derived(self, origin: str) -> bool:
        if origin in self.site.transformers:
            return True
        return origin not in self.site.sources and not any(
            self.neutrals_joined(origin, other)
            for other in (*self.site.sources, *self.site.transformers)
            if other in self._voltages
        )

    def neutrals_joined(self, a: str, b: str) -> bool:
        """Whether the neutrals at two places are one conductor, as the transfer switches stand.

        Terminals count as they are on the load side: of a transformer the secondary. A neutral
        is never opened but by a transfer switch that switches it. False where either has none.
        """
        one, other = self.neutral_part(a), self.neutral_part(b)
        return one is not None and one == other

    def neutral_part(self, name: str) -> str | None:
        """Return a label that all places on the same neutral share; None where there is none."""
        if not self.neutral_at(name):
            return None
        return self._neutral_parts.get(name, name)

    @cached_property
    def _neutral_parts(self) -> dict[str, str]:
        parts = {name: name for name in self.order}

        def top(name: str) -> str:
            while parts[name] != name:
                parts[name] = parts[parts[name]]
                name = parts[name]
            return name

        for name, run in self.site.runs.items():
            # A generator in parallel has the system's lines: its neutral is the system's, whether
            # a conductor joins the two or only the metal that both are tied to.
            beside = run.to in self.site.generators and self.neutral_at(run.from_)
            if beside or (self.has_neutral(name) and self._neutral_goes_on(name, run.to)):
                parts[top(run.from_)] = top(run.to)
        return {name: top(name) for name in parts}

    def _neutral_goes_on(self, run: str, to: str) -> bool:
        switch = self.site.transfers.get(to)
        if switch is not None:
            return run not in self.idle or switch.neutral is SwitchedNeutral.SOLID
        unit = self.site.transformers.get(to)
        return unit is None or unit.form is TransformerForm.AUTO

    @cached_property
    def grounds_in_common(self) -> Mapping[str, tuple[str, ...]]:
        """For each run that shares its equipment grounding conductor, all runs that do, in order.

        A run that names another is named by it.
        """
        beside: dict[str, set[str]] = {}
        for name, run in self.site.runs.items():
            for other in run.with_:
                beside.setdefault(name, set()).add(other)
                beside.setdefault(other, set()).add(name)
        found: dict[str, tuple[str, ...]] = {}
        for name in beside:
            if name in found:
                continue
            group, waiting = {name}, [name]
            while waiting:
                new = beside[waiting.pop()] - group
                group |= new
                waiting += new
            together = tuple(run for run in self.site.runs if run in group)
            found |= dict.fromkeys(together, together)
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
                found.setdefault(self._voltages[name][0], []).append(name)
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
            if not _goes_on(above):
                return False
            if isinstance(above, Place) and _disconnects(above):
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
        if not _goes_on(above):
            return True
        open_here = isinstance(above, Place) and _disconnects(above)
        return not open_here and not self._protected_above(run.from_)

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
        if self._starts_lines(place):
            return self._voltages[place][1].lines
        return self.lines_of(self.fed_by[place])

    def has_neutral(self, run: str) -> bool:
        """Whether a run carries a neutral: as written, else if one reaches its start.

        A transformer whose primary lies between lines takes none unless it is written.
        """
        return self._carried[run][1]

    def neutral_at(self, place: str) -> bool:
        """Whether a neutral reaches a place (a transformer's: its secondary's)."""
        if self._starts_lines(place):
            return self._voltages[place][1].has_neutral
        if place in self.site.generators:
            return self.site.generators[place].system.has_neutral
        return place in self.fed_by and self.has_neutral(self.fed_by[place])

    def _starts_lines(self, name: str) -> bool:
        """Whether lines begin here: at a source or a transformer's secondary."""
        return name in self.site.transformers or name not in self.fed_by

    @cached_property
    def _carried(self) -> dict[str, tuple[tuple[str, ...], bool]]:
        """Line terminals and neutral of each run; from the sources outward, so no recursion."""
        found: dict[str, tuple[tuple[str, ...], bool]] = {}
        for name in self.order:
            if not self._starts_lines(name):
                lines, neutral = found[self.fed_by[name]]
            else:
                system = self._voltages[name][1]
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
            if not _passes(above):
                return None
            if isinstance(above, Place) and above.main is not None:
                return ("place", description.from_)
            if description.from_ not in self.fed_by:
                return None
            here = self.fed_by[description.from_]


def _passes(node: Node) -> bool:
    """Whether a system goes on through a node: a place or a transfer switch."""
    return isinstance(node, Place | Transfer)


def _goes_on(node: Node) -> bool:
    """Whether what leaves a node belongs to the system that feeds it.

    An autotransformer changes the voltage and joins the neutrals: what is behind it lies as far on
    the load side as it does itself.
    """
    auto = isinstance(node, Transformer) and node.form is TransformerForm.AUTO
    return auto or _passes(node)


def _disconnects(place: Place) -> bool:
    return place.main is not None or place.kind in {PlaceKind.SERVICE, PlaceKind.DISCONNECT}


def topology(site: Site, transfers: Mapping[str, Position] | None = None) -> Topology:
    """Return the supply tree of a site that passed :func:`bondwright.site.check.problems`.

    Args:
        site: the description.
        transfers: where its transfer switches stand; those not named stand at normal.
    """
    return Topology(site, transfers)
