"""What can't stand in a description, whatever the code says: loops, loose ends, contradictions.

Only what is certainly a slip is reported here. What is there and should not be, or is too small,
is no slip but a finding of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.catalog.raceways import dimensions
from bondwright.catalog.sizes import Conductor
from bondwright.catalog.systems import VoltageSystem, Winding
from bondwright.site.fields import NoWire
from bondwright.site.model import Electrode, ElectrodeKind, Run, Site, Wiring
from bondwright.site.structure import draft_of, structural
from bondwright.site.topology import Problem, Topology, topology
from bondwright.units import UnitError

VOLTAGE_TOLERANCE: Final = 0.10
"""How far a transformer's primary may differ from its supply's nominal voltage."""


def problems(site: Site) -> list[Problem]:
    """Return everything in a description that can't stand; an empty list for a sound one."""
    loose = structural(draft_of(site))
    found = [*loose, *local(site.runs, site.electrodes)]
    if not loose:  # what follows walks the tree, so it must be one
        found += _electrical(topology(site))
    return found


# --- one entry by itself -------------------------------------------------------------------


def local(runs: Mapping[str, Run], electrodes: Mapping[str, Electrode]) -> list[Problem]:
    """Return contradictions within single runs and electrodes."""
    found: list[Problem] = []
    for name, run in runs.items():
        found += _run_by_itself(("runs", name), run)
    for name, electrode in electrodes.items():
        found += _electrode_by_itself(("electrodes", name), electrode)
    return found


def _run_by_itself(loc: tuple[str, str], run: Run) -> Iterator[Problem]:
    if run.raceway is not None:
        if run.wiring not in (None, Wiring.RACEWAY):
            hint = "write 'wiring: raceway', or remove the raceway"
            problem = f"is given, but the wiring is {run.wiring.value!r}"
            yield Problem((*loc, "raceway"), problem, hint, on_key=True)
        try:
            dimensions(run.raceway.kind, run.raceway.size)
        except UnitError as error:
            said = error.problem
            said = f"is {said}" if said.startswith("no ") else said
            yield Problem((*loc, "raceway", "size"), said, error.hint or "")
    elif run.wiring is Wiring.RACEWAY:
        hint = "add a line like 'raceway: {kind: emt, size: 1 in}'"
        yield Problem((*loc, "wiring"), "needs to say which raceway", hint)
    metal = run.raceway is not None and run.raceway.kind.is_metal
    for key, wire in (("egc", run.egc), ("ssbj", run.ssbj)):
        if wire is NoWire.RACEWAY and not metal:
            given = f"a {run.raceway.kind.value} raceway" if run.raceway else "no raceway"
            hint = "write the size of the wire, or the metal raceway that does its job"
            yield Problem((*loc, key), f"needs a metal raceway, but this run has {given}", hint)
    if run.on is not None and len(set(run.on)) < len(run.on):
        yield Problem((*loc, "on"), "names a line twice", "name each line once")
    if run.needed is not None and run.needed.material is not run.lines.material:
        problem = f"is not of the same metal as the lines ({run.lines})"
        hint = "areas compare only within one metal; give the size needed in the metal of the lines"
        yield Problem((*loc, "needed"), problem, hint)


_BELONGS: Final[Mapping[ElectrodeKind, frozenset[str]]] = {
    ElectrodeKind.ROD: frozenset({"length", "diameter", "count", "spacing"}),
    ElectrodeKind.WATER_PIPE: frozenset({"length", "diameter"}),
    ElectrodeKind.CONCRETE: frozenset({"length", "diameter", "count", "spacing"}),
    ElectrodeKind.RING: frozenset({"length", "ring"}),
    ElectrodeKind.PLATE: frozenset({"length", "diameter", "count", "spacing"}),
    ElectrodeKind.STEEL: frozenset(),
}


def _electrode_by_itself(loc: tuple[str, str], electrode: Electrode) -> Iterator[Problem]:
    given = {
        "length": electrode.length is not None,
        "diameter": electrode.diameter is not None,
        "count": electrode.count != 1,
        "spacing": electrode.spacing is not None,
        "ring": electrode.ring_conductor is not None,
    }
    belongs = _BELONGS[electrode.kind]
    kind = electrode.kind.value
    for key, present in given.items():
        if present and key not in belongs:
            known = ", ".join(word for word in given if word in belongs)
            hint = (
                f"for {kind!r} give {known}" if known else f"give {kind!r} a 'resistance' if known"
            )
            yield Problem((*loc, key), f"does not belong to an electrode of kind {kind!r}", hint)
    if "spacing" in belongs and electrode.spacing is not None and electrode.count == 1:
        hint = "add 'count: 2' (or however many there are), or remove the spacing"
        yield Problem((*loc, "spacing"), "is a distance between electrodes, but there is one", hint)


# --- electricity ---------------------------------------------------------------------------


def _electrical(tree: Topology) -> Iterator[Problem]:
    for name in tree.site.runs:
        yield from _run_in_place(tree, name)
    for name, place in tree.site.places.items():
        if set(tree.lines_at(name)) - set(tree.lines_at(tree.site.runs[tree.fed_by[name]].from_)):
            continue  # its run is at fault, and reported
        for index, load in enumerate(place.loads):
            loc = ("places", name, "loads", index, "on")
            yield from _load_terminals(tree, name, loc, load.on.value)
    for name in tree.site.transformers:
        yield from _primary(tree, name)
    for name, tie in (tree.site.ties or {}).items():
        if not tree.neutral_at(tie.at):
            hint = "a tie joins neutral and metal; bring the neutral there, or remove the tie"
            yield Problem(("ties", name, "at"), "is where no neutral arrives", hint)
    for name in tree.site.sources:
        if name not in tree.feeds:
            hint = f"add a run with 'from: {name}', or remove it"
            yield Problem(("sources", name), "feeds nothing", hint, on_key=True)
        elif name not in tree.first_disconnects:
            hint = "give the first disconnect after the meter 'kind: service'"
            problem = "has no service disconnect anywhere below it"
            yield Problem(("sources", name), problem, hint, on_key=True)


def _run_in_place(tree: Topology, name: str) -> Iterator[Problem]:
    run = tree.site.runs[name]
    loc = ("runs", name)
    there = tree.lines_at(run.from_)
    for index, line in enumerate(run.on or ()):
        if line not in there:
            problem = f"does not reach {run.from_!r}"
            yield Problem((*loc, "on", index), problem, f"there are {', '.join(there)}")
    if isinstance(run.neutral, Conductor) and not tree.neutral_at(run.from_):
        hint = "write 'neutral: none', or bring a neutral there first"
        yield Problem((*loc, "neutral"), f"starts at {run.from_!r}, where no neutral arrives", hint)
    supply = name in tree.supply_side_runs
    if supply and run.egc not in (None, NoWire.NONE):
        hint = (
            "ahead of the first disconnect the bonding conductor is a supply-side bonding "
            "jumper; write 'ssbj'"
        )
        yield Problem((*loc, "egc"), "is given on a supply-side run", hint, on_key=True)
    if not supply and run.ssbj not in (None, NoWire.NONE):
        hint = "past an overcurrent device it is an equipment grounding conductor; write 'egc'"
        yield Problem((*loc, "ssbj"), "is given on a load-side run", hint, on_key=True)


def _load_terminals(
    tree: Topology, place: str, loc: tuple[str | int, ...], on: str
) -> Iterator[Problem]:
    lines = tree.lines_at(place)
    there = [*lines, *(["N"] if tree.neutral_at(place) else [])]
    missing = [terminal for terminal in on.split("-") if terminal not in there]
    if missing:
        problem = f"needs {' and '.join(missing)}, which {place!r} has not"
        yield Problem(loc, problem, f"there are {', '.join(there)}")


def _primary(tree: Topology, name: str) -> Iterator[Problem]:
    run = tree.fed_by[name]
    supply = tree.system_of_run(run).voltages
    lines = tree.lines_of(run)
    primary = tree.site.transformers[name].primary
    three = primary.winding in (Winding.WYE, Winding.DELTA)
    secondary = tree.site.transformers[name].secondary
    if three != (secondary.winding in (Winding.WYE, Winding.DELTA)):
        words = ("three-phase", "single-phase") if three else ("single-phase", "three-phase")
        problem = f"is {words[1]}, but the primary is {words[0]}"
        hint = "give both sides with the same number of phases"
        yield Problem(("transformers", name, "secondary"), problem, hint)
    loc = ("transformers", name, "primary")
    if three and len(lines) < 3:
        hint = f"bring three lines with the run {run!r}, or give a single-phase primary"
        yield Problem(loc, f"needs three lines, but {', '.join(lines)} arrive", hint)
        return
    offered = _offered(supply, len(lines), neutral=tree.has_neutral(run), three=three)
    if not any(abs(primary.line_to_line / volts - 1) <= VOLTAGE_TOLERANCE for volts in offered):
        volts_there = " or ".join(f"{volts:g} V" for volts in offered) or "nothing usable"
        hint = f"{supply} arrives ({volts_there}); correct the primary, or the run's 'from'"
        yield Problem(loc, "does not match the system that feeds it", hint)


def _offered(supply: VoltageSystem, lines: int, *, neutral: bool, three: bool) -> list[float]:
    """Voltages that a run offers a primary, V."""
    offered = []
    if lines > 1:
        offered.append(supply.line_to_line)
    if not three and neutral and supply.line_to_neutral is not None:
        offered.append(supply.line_to_neutral)
    return offered
