"""Terminals for other systems, and where the available fault current has to be marked."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sizes import Conductor, Material
from bondwright.rules.answer import Answer, Finding, Severity
from bondwright.rules.buildings import building_of, entry_run
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.ties import service_disconnects
from bondwright.site.fields import NoWire
from bondwright.site.model import AreaKind
from bondwright.site.topology import Topology

RULE: Final = "intersystem-conductor"


def intersystem_conductor(rules: str = DEFAULT_RULES) -> Answer:
    """Return the least conductor from the terminal for other systems to the electrode system.

    Args:
        rules: name of the rule set.
    """
    found = rule_parameter("intersystem-conductor-minimum", edition(rules))
    terminals = rule_parameter("intersystem-terminations", edition(rules))
    size = found.size(Material.CU)
    return Answer(
        RULE,
        clause(RULE, rules),
        rules,
        Conductor(size, Material.CU),
        (
            "Telephone, cable and antennas are joined to the electrode system at one terminal, "
            "so that no two of them stand at different voltages in a storm.",
            f"Least conductor to it: {size} {Material.CU.value}, whatever the service; it has "
            f"room for at least {terminals.number:g} conductors.",
        ),
        (("conductor metal", Material.CU.value),),
        found.status.value,
    )


def building_disconnects(tree: Topology) -> frozenset[str]:
    """Return every service disconnect, and every disconnect where a feeder enters a building."""
    services = {name for origin in tree.site.sources for name in service_disconnects(tree, origin)}
    entries = {
        name
        for name in tree.site.places
        if (run := entry_run(tree, name)) is not None and tree.site.runs[run].to == name
    }
    return frozenset(services | entries)


def intersystem_findings(tree: Topology, rules: str) -> Iterator[Finding]:
    """Yield a finding for every terminal for other systems that is missing or joined too thinly.

    Where nothing is said of one, the inspection checklist asks.
    """
    answer = intersystem_conductor(rules)
    if all(place.intersystem is None for place in tree.site.places.values()):
        return
    disconnects = building_disconnects(tree)
    for name, place in tree.site.places.items():
        given = place.intersystem
        if given is None:
            continue
        if given is NoWire.NONE:
            if name in disconnects:
                yield _finding(name, f"{name} has no terminal for other systems.", answer)
        elif isinstance(given, Conductor) and not _enough(given, answer):
            text = f"The terminal for other systems at {name} is joined by {given}."
            yield _finding(name, text, answer)


def _enough(given: Conductor, answer: Answer) -> bool:
    return given.material is Material.CU and given.size >= answer.size.size


def _finding(name: str, text: str, answer: Answer) -> Finding:
    return Finding(
        RULE,
        Severity.FALLS_SHORT,
        name,
        "terminal for other systems missing or joined too thinly",
        f"{text} {' '.join(answer.because)}",
        f"Join one with {answer.size} or larger to the electrode conductor or the enclosure, "
        "outside, where it can be reached with everything shut.",
        answer.clause,
    )


def fault_current_marks(tree: Topology) -> tuple[str, ...]:
    """Return the service disconnects that carry a mark with the available fault current.

    All but those of dwellings, as far as the description names dwellings (``areas``); a supervised
    industrial site may do without. The fault study has the number.
    """
    dwellings = [area.at for area in tree.site.areas.values() if area.kind is AreaKind.DWELLING]
    homes = {building_of(tree, at) for at in dwellings} - {None}
    return tuple(
        name
        for origin in tree.site.sources
        for name in service_disconnects(tree, origin)
        if name not in dwellings and building_of(tree, name) not in homes
    )
