"""The walk: everything of a plan that can be looked at, in walking order, with its facts.

A person walks from each source outward: the run that leads to a place, the place, its ties, its
electrodes, the metal that starts there. What is known of each is a set of plain words that the
lines of the inspection checklist ask for.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Material, Size
from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.rules.buildings import (
    building_of,
    enters_building,
    entry_run,
    has_overcurrent_device,
    is_service_run,
    neutral_bonds,
)
from bondwright.rules.editions import edition
from bondwright.rules.electrodes_present import electrode_supply, lone_electrodes
from bondwright.rules.grounding import is_grounded
from bondwright.rules.inputs import CannotTellError, ProtectiveDevice
from bondwright.rules.other_systems import fault_current_marks
from bondwright.rules.plan_view import ItemView, Planned, TieView
from bondwright.rules.protection import equipment_protection
from bondwright.rules.raceway_ends import bushing_jumper
from bondwright.rules.ties import grounded_terminal, service_disconnects, where_ties_belong
from bondwright.site.model import (
    Describes,
    ElectrodeKind,
    Fitting,
    Generator,
    Inverter,
    Place,
    PlaceKind,
    Source,
    Transfer,
    Transformer,
)


@dataclass(frozen=True, slots=True)
class Spot:
    """Something that can be looked at.

    Attributes:
        kind: site, source, place, run, tie, electrode, metal, transformer, generator, inverter,
            transfer, area or direct current.
        id: its label ("site" for the whole).
        place: where a person stands for it.
        facts: what is known of it, in plain words.
        words: what fills the blanks of a text, by name.
    """

    kind: str
    id: str
    place: str
    facts: frozenset[str]
    words: Mapping[str, str] = field(default_factory=dict)


KINDS: Final = (
    "site",
    "source",
    "place",
    "run",
    "tie",
    "electrode",
    "metal",
    "transformer",
    "generator",
    "inverter",
    "transfer",
    "area",
    "direct current",
)
NO_SIZE: Final = "the size that the authority asks"
_BOARDS: Final = frozenset({PlaceKind.PANEL, PlaceKind.DISCONNECT})


def walk(plan: Planned) -> Iterator[Spot]:
    """Yield everything of a plan that can be looked at, the site first, in walking order.

    Args:
        plan: a plan.
    """
    view = _View(plan)
    site, tree = plan.site, plan.topology
    yield view.site()
    for node in tree.order:
        switch = site.transfers.get(node)
        if switch is not None:
            leading = [switch.normal, switch.standby]
        else:
            leading = [tree.fed_by[node]] if node in tree.fed_by else []
        for run in leading:
            yield view.run(run)
        yield view.node(node)
        for tie in plan.ties:
            if tie.at == node:
                yield view.tie(tie)
        for name, electrode in site.electrodes.items():
            if electrode.at == node:
                yield view.electrode(name)
        for name, metal in site.metal.items():
            if metal.from_ == node:
                yield view.metal(name)
        for name, area in site.areas.items():
            if area.at == node:
                yield view.area(name)
        for name, system in site.direct_current.items():
            if system.at == node:
                yield view.direct_current(name)


def _facts(**known: bool) -> set[str]:
    """Return the names of what holds, written with spaces."""
    return {name.replace("_", " ") for name, holds in known.items() if holds}


def _may_be_tied(plan: Planned) -> frozenset[str]:
    """Return where neutral and metal may be joined; where one join is made, nowhere besides."""
    joined = {tie.at for tie in plan.ties if tie.belongs}
    found: set[str] = set()
    for one in where_ties_belong(plan.topology).values():
        made = joined & one.allowed if one.one_only else set()
        found |= made or one.allowed
    return frozenset(found)


class _View:
    """A plan, with what all spots need worked out once."""

    def __init__(self, plan: Planned) -> None:
        self._plan = plan
        self._tree = tree = plan.topology
        self._site = plan.site
        self._year = edition(plan.site.rules)
        self._items: dict[str, ItemView] = {}
        for item in plan.schedule:  # a run's own conductor comes before its bushing's jumper
            self._items.setdefault(item.about, item)
        self._services = {
            name: names
            for origin in plan.site.sources
            if (names := service_disconnects(tree, origin))
            for name in names
        }
        self._marks = frozenset(fault_current_marks(tree))
        self._lone = lone_electrodes(tree)
        self._firsts = {name for names in tree.first_disconnects.values() for name in names}
        self._allowed = _may_be_tied(plan)
        self._derived = {
            system.origin
            for system in tree.systems.values()
            if system.derived and system.origin in plan.site.transformers
        }

    def _spot(self, kind: str, id: str, place: str, facts: set[str], **words: str) -> Spot:
        found = self._site.describes is Describes.AS_FOUND
        facts |= {"as found" if found else "plan"}
        building = building_of(self._tree, place) if place in self._tree.order else None
        item = self._items.get(id)
        required = str(item.required.size) if item is not None and item.required else None
        chosen = str(item.chosen) if item is not None and item.chosen else None
        filled = {
            "where": id,
            "place": place,
            "building": building or "the building",
            "asked": required or NO_SIZE,
            "size": chosen or (f"{required} or larger" if required else NO_SIZE),
        }
        return Spot(kind, id, place, frozenset(facts), filled | words)

    def site(self) -> Spot:
        site = self._site
        supplies = len(site.sources) + len(site.generators) + len(site.inverters)
        return self._spot("site", "site", "site", _facts(several_supplies=supplies > 1))

    def node(self, name: str) -> Spot:
        match self._tree.node(name):
            case Place() as place:
                return self._place(name, place)
            case Source():
                return self._spot("source", name, name, set())
            case Transformer() as unit:
                facts = {unit.form.value} | _facts(
                    derived=name in self._derived,
                    outdoors=unit.outdoors,
                    one_of_several_derived_systems=len(self._derived) > 1,
                )
                return self._spot("transformer", name, name, facts)
            case Generator() as set_:
                derived = self._tree.systems[name].derived
                facts = {"derived" if derived else "not derived"}
                facts |= _facts(fixed=set_.portable is False)
                return self._spot("generator", name, name, facts)
            case Inverter():
                system = self._tree.systems[name]
                two_wires = system.voltages.winding is Winding.SINGLE_TWO_WIRE
                facts = _facts(island_of_two_wires=system.origin == name and two_wires)
                return self._spot("inverter", name, name, facts)
            case Transfer() as switch:
                return self._spot("transfer", name, name, {switch.neutral.value})

    def _place(self, name: str, place: Place) -> Spot:
        tree, origin = self._tree, self._tree.systems[name].origin
        system = tree.systems[name].voltages
        entry, run = entry_run(tree, name), tree.fed_by.get(name)
        service = name in self._services
        here = building_of(tree, name)
        concrete = any(
            e.kind is ElectrodeKind.CONCRETE and building_of(tree, e.at) == here
            for e in self._site.electrodes.values()
        )
        protected = (
            place.main is not None
            and name in self._firsts
            and equipment_protection(
                system, ProtectiveDevice(place.main), self._site.rules
            ).required
        )
        # The first disconnect of a derived system may have its join, or has it at the source.
        ahead = service or (name in tree.supply_side_places and name in self._allowed)
        facts = {place.kind.value, f"{place.enclosure} enclosure"} | _facts(
            service_disconnect=service,
            mark_due=name in self._marks,
            one_of_several=service and len(self._services[name]) > 1,
            first_disconnect=name in self._firsts,
            building_disconnect=entry is not None and self._site.runs[entry].to == name,
            one_branch_circuit=entry is not None and not has_overcurrent_device(tree, entry),
            no_tie_allowed=name not in self._allowed,
            neutral=tree.neutral_at(name),
            no_concrete_electrode=not concrete,
            ungrounded=not is_grounded(tree, origin),
            high_leg=system.winding is Winding.HIGH_LEG,
            grounded_corner=grounded_terminal(tree, origin) not in (None, "N"),
            no_ground_arrives=run is not None and not self._joins(run),
        )
        if place.kind in _BOARDS and not ahead:
            facts.add("load-side panel")
        if protected:
            facts.add("ground-fault protection")
        return self._spot("place", name, name, facts)

    def _joins(self, run: str) -> bool:
        """Whether a run joins the metal of its ends, by metal or, ahead of a service, neutral."""
        planned = self._plan.runs[run]
        by_metal = planned.metal is not None or planned.raceway_bonded
        return by_metal or neutral_bonds(self._tree, run)

    def run(self, name: str) -> Spot:
        tree, planned, described = self._tree, self._plan.runs[name], self._site.runs[name]
        service = is_service_run(tree, name)
        derived = name in tree.supply_side_runs and tree.system_of_run(name).derived
        wire, metal = planned.metal, planned.raceway is not None
        by_raceway = wire is None and planned.raceway_bonded
        end = tree.node(described.to)
        needed = described.needed
        load = not service and not derived
        facts = _facts(
            service_run=service,
            derived_supply=derived,
            metal_raceway=metal,
            nonmetallic_raceway=described.raceway is not None and not metal,
            wire_ground=load and wire is not None,
            raceway_ground=load and by_raceway,
            wire_jumper=derived and wire is not None,
            raceway_jumper=derived and by_raceway,
            aluminium_ground=wire is not None and wire.material is Material.AL,
            small_ground=wire is not None and wire.size < self._bare(),
            parallel=planned.lines.sets > 1,
            enlarged=needed is not None and needed.total_area_cmil < planned.lines.total_area_cmil,
            neutral=tree.has_neutral(name),
            into_building=enters_building(tree, name) and load,
            to_equipment=isinstance(end, Place) and end.kind is PlaceKind.EQUIPMENT,
            cable=planned.lie in {"touching", "flat"},
            tray=planned.lie == "tray",
            direct_buried=planned.lie == "buried",
            no_bushing=described.fittings not in (None, Fitting.BONDING_BUSHING),
        )
        if load:
            facts.add("load side")
        if _to_ground(tree.system_of_run(name).voltages) > self._raceway_limit():
            facts.add("over 250 V to ground")
        words = {"start": described.from_, "end": described.to}
        if service and metal:
            words["jumper"] = self._bushing_jumper(name, planned.lines.material)
        return self._spot("run", name, described.to, facts, **words)

    def _raceway_limit(self) -> float:
        return rule_parameter("raceway-bonding-voltage", self._year).number

    def _bare(self) -> Size:
        """Return the least conductor that may run in the open."""
        return rule_parameter("electrode-conductor-unprotected-minimum", self._year).size(
            Material.CU
        )

    def _bushing_jumper(self, run: str, material: Material) -> str:
        try:
            found = bushing_jumper(self._tree, run, material, self._site.rules)
        except CannotTellError:
            found = None
        return str(found.size) if found is not None else NO_SIZE

    def tie(self, tie: TieView) -> Spot:
        item = self._items.get(tie.id)
        purpose = str(item.purpose) if item is not None else ""
        role = {
            "supply-side bonding jumper": "enclosure bond",
            "bond of an enclosure to the neutral": "enclosure bond",
            "grounding impedance conductor": "impedance",
        }.get(purpose, purpose)
        facts = {str(tie.form), role if tie.belongs else "stray"}
        return self._spot("tie", tie.id, tie.at, facts)

    def electrode(self, name: str) -> Spot:
        tree, electrode = self._tree, self._site.electrodes[name]
        conductor = self._plan.electrodes[name].conductor
        here = building_of(tree, electrode.at)
        together = [e for e in self._site.electrodes.values() if building_of(tree, e.at) == here]
        facts = {electrode.kind.value} | _facts(
            joined=conductor is not None,
            several=electrode.count > 1,
            alone=name in self._lone,
            one_of_several_electrodes=len(together) > 1,
            aluminium_conductor=conductor is not None and conductor.material is Material.AL,
            auxiliary=self._is_auxiliary(electrode.at),
            at_a_transformer=electrode.at in self._site.transformers,
            at_a_service=electrode.at in self._services,
        )
        return self._spot("electrode", name, electrode.at, facts, count=str(electrode.count))

    def _is_auxiliary(self, at: str) -> bool:
        try:
            return electrode_supply(self._tree, at) is None
        except ValueError:  # supply conductors of different metals: a size by rule all the same
            return False

    def metal(self, name: str) -> Spot:
        metal = self._site.metal[name]
        words = {"start": metal.from_, "end": metal.to}
        return self._spot("metal", name, metal.from_, {metal.kind.value}, **words)

    def area(self, name: str) -> Spot:
        area = self._site.areas[name]
        return self._spot("area", name, area.at, {area.kind.value})

    def direct_current(self, name: str) -> Spot:
        system = self._site.direct_current[name]
        facts = {system.source.value, f"{system.grounded.value} grounded"}
        return self._spot("direct current", name, system.at, facts)


def _to_ground(system: VoltageSystem) -> float:
    """Return the highest voltage of a line to ground, V; of a delta that between lines."""
    if system.line_to_neutral is None:
        return system.line_to_line
    return max(abs(volts) for volts in system.phase_voltages())
