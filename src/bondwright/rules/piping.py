"""Bonds of metal that is not wiring: water and other pipe, structural steel, cable trays, decks.

Water pipe and steel follow the supply conductors, as the jumpers do; other pipe follows the
overcurrent device of the circuit that may energise it, as equipment grounding conductors do.
Numbers are those of NFPA 70 section 250.104; see the parameters for how sure each is.
"""

from __future__ import annotations

from dataclasses import replace

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import Status
from bondwright.rules.answer import Answer
from bondwright.rules.areas import area_bond
from bondwright.rules.buildings import entry_run, system_supply
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.equipment import equipment_ground
from bondwright.rules.inputs import (
    CannotTellError,
    ProtectiveDevice,
    SupplyConductors,
    area_text,
    need_supply,
    supply_text,
)
from bondwright.rules.jumpers import JumperRole, bonding_jumper
from bondwright.rules.raceway_ends import device_of
from bondwright.site.model import AreaKind, Metal, MetalKind
from bondwright.site.topology import Topology

SIZED_ELSEWHERE = frozenset({MetalKind.SHIELD, MetalKind.DOWN})
"""Metal whose bond no rule here sizes: that of communications, and of lightning protection."""

_CAPS = {
    "water-pipe-bond": "water-pipe-bond-cap",
    "structural-steel-bond": "structural-metal-bond-cap",
    "derived-area-bond": "derived-area-bond-cap",
}
_WORDS = {
    "water-pipe-bond": "Metal water pipe is bonded with a jumper that follows the supply "
    "conductors of its building.",
    "structural-steel-bond": "A metal frame is bonded with a jumper that follows the supply "
    "conductors of its building.",
    "derived-area-bond": "Water pipe and steel in the area that a derived system serves are bonded "
    "to its neutral where its electrode conductor lands, with a jumper that follows the "
    "derived conductors.",
}


def large_metal_bond(
    rule: str,
    supply: SupplyConductors,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
) -> Answer:
    """Return the least bonding jumper to water pipe or structural steel.

    Args:
        rule: "water-pipe-bond", "structural-steel-bond" or "derived-area-bond".
        supply: largest ungrounded supply conductors of one phase.
        material: metal of the jumper.
        rules: name of the rule set.

    Raises:
        TypeError: a breaker or anything else in place of the supply conductors.
        KeyError: no such rule.
        CannotTellError: see :func:`bondwright.rules.jumpers.bonding_jumper`.
    """
    need_supply(supply)
    cap = rule_parameter(_CAPS[rule], edition(rules))
    because = [_WORDS[rule]]
    try:
        found = bonding_jumper(supply, JumperRole.SUPPLY_SIDE, material, rules)
    except CannotTellError:
        if cap.absent:
            raise
        # The table has no answer only far above its end, where the cap holds anyway.
        size, status = Conductor(cap.size(material), material), cap.status
        because.append(f"Supply conductors of one phase: {supply_text(supply)}.")
    else:
        size, status = found.size, Status(found.status)
        because += found.because[1:]
        if cap.absent:
            status = Status.least_sure(status, cap.status)
        elif size.size > cap.size(material):
            size = Conductor(cap.size(material), material)
    if not cap.absent and size.size == cap.size(material):
        status = Status.least_sure(status, cap.status)
        because.append(f"It need not be larger than {size}.")
    inputs = (
        ("supply conductors", str(supply)),
        ("supply area", area_text(supply.area_cmil)),
        ("jumper metal", material.value),
    )
    where = clause(rule, rules)
    return Answer(rule, where, rules, size, tuple(because), inputs, status.value)


def other_metal_bond(
    device: ProtectiveDevice, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least bonding conductor to gas pipe, duct or other metal.

    Args:
        device: overcurrent device of the circuit that may energise it.
        material: metal of the conductor.
        rules: name of the rule set.

    Raises:
        TypeError: conductors in place of the device.
    """
    because = (
        "Other metal pipe is bonded with a conductor that follows the overcurrent device of the "
        "circuit that may energise it; the equipment grounding conductor of that circuit may "
        "serve."
    )
    return _like_the_ground("other-pipe-bond", because, Status.ONE_SOURCE, device, material, rules)


def tray_bond(
    device: ProtectiveDevice, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least bonding conductor to a metal cable tray.

    Args:
        device: the largest overcurrent device of the circuits that lie in it.
        material: metal of the conductor.
        rules: name of the rule set.

    Raises:
        TypeError: conductors in place of the device.
    """
    because = (
        "A metal cable tray is bonded as the enclosure of the conductors that lie in it: by the "
        "largest overcurrent device among them. Where the tray itself serves as equipment "
        "grounding conductor, its own cross-section counts; that is the maker's figure."
    )
    return _like_the_ground("cable-tray-bond", because, Status.MEMORY, device, material, rules)


def occupancy_bond(
    device: ProtectiveDevice, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer:
    """Return the least bond of one occupancy's water pipe that plastic keeps apart.

    Args:
        device: overcurrent device of the feeder to that occupancy's panel.
        material: metal of the conductor.
        rules: name of the rule set.

    Raises:
        TypeError: conductors in place of the device.
        CannotTellError: see :func:`bondwright.rules.equipment.equipment_ground`.
    """
    because = (
        "Plastic keeps this pipe apart from the rest, so the bond at the service does not reach "
        "it; it is bonded at the panel of its own occupancy, with a conductor that follows the "
        "device of the feeder to it."
    )
    return _like_the_ground("occupancy-pipe-bond", because, Status.MEMORY, device, material, rules)


def _like_the_ground(
    rule: str,
    because: str,
    status: Status,
    device: ProtectiveDevice,
    material: Material,
    rules: str,
) -> Answer:
    """Return the size of the device's equipment grounding conductor under another rule."""
    found = equipment_ground(device, material, rules)
    return replace(
        found,
        rule=rule,
        clause=clause(rule, rules),
        because=(because, *found.because[1:]),
        status=Status.least_sure(Status(found.status), status).value,
    )


def metal_bond(
    tree: Topology, metal: Metal, material: Material = Material.CU, rules: str = DEFAULT_RULES
) -> Answer | None:
    """Return the least bond of a piece of metal at the place where it starts.

    Args:
        tree: the supply tree.
        metal: as described.
        material: metal of the bond.
        rules: name of the rule set.

    Returns:
        None for a cable shield and a down conductor of lightning protection, whose own standards
        size them, and where no conductor or device is described to size it from.

    Raises:
        CannotTellError: the rule has no answer.
        ValueError: supply conductors of different metals.
    """
    if metal.kind in SIZED_ELSEWHERE:
        return None
    if metal.kind is MetalKind.DECK:
        return area_bond(AreaKind.POOL, material, rules)
    if metal.isolated:
        feeder = _device(tree, metal.from_)
        return occupancy_bond(feeder, material, rules) if feeder is not None else None
    if metal.circuit is not None:
        circuit = device_of(tree, metal.circuit)
        return _by_device(metal, circuit, material, rules) if circuit is not None else None
    if metal.kind in {MetalKind.WATER_PIPE, MetalKind.STEEL}:
        rule, supply = _large(tree, metal)
        return large_metal_bond(rule, supply, material, rules) if supply is not None else None
    devices = [
        rating
        for place in (metal.from_, metal.to, *(tap.to for tap in metal.taps))
        if (rating := _device(tree, place)) is not None
    ]
    if not devices:
        return None
    largest = max(devices, key=lambda one: one.rating_a)
    return _by_device(metal, largest, material, rules)


def _by_device(metal: Metal, device: ProtectiveDevice, material: Material, rules: str) -> Answer:
    rule = tray_bond if metal.kind is MetalKind.TRAY else other_metal_bond
    return rule(device, material, rules)


def _large(tree: Topology, metal: Metal) -> tuple[str, SupplyConductors | None]:
    place = metal.from_
    system = tree.systems[place]
    if system.derived and system.origin in tree.site.transformers:
        return "derived-area-bond", system_supply(tree, system.origin)
    steel = metal.kind is MetalKind.STEEL
    rule = "structural-steel-bond" if steel else "water-pipe-bond"
    run = entry_run(tree, place)
    if run is not None:
        return rule, SupplyConductors.of(tree.site.runs[run].lines)
    return rule, system_supply(tree, system.origin)


def _device(tree: Topology, place: str) -> ProtectiveDevice | None:
    run = tree.fed_by.get(place)
    found = device_of(tree, run) if run is not None else None
    if found is not None:
        return found
    node = tree.site.places.get(place)
    return ProtectiveDevice(node.main) if node is not None and node.main is not None else None
