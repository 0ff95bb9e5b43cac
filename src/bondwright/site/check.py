"""What can't stand in a description, whatever the code says: loops, loose ends, contradictions.

Only what is certainly a slip is reported here. What is there and should not be, or is too small,
is no slip but a finding of the plan.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from bondwright.catalog.motor_codes import motor_codes
from bondwright.catalog.raceways import dimensions
from bondwright.catalog.sizes import Conductor
from bondwright.catalog.systems import VoltageSystem
from bondwright.site.amendments import amendment_problems
from bondwright.site.areas import area_problems
from bondwright.site.arrays import array_problems
from bondwright.site.curves import curve_problems, named_curves
from bondwright.site.details import details_in_place, electrode_details, run_details
from bondwright.site.direct_current import direct_current_problems
from bondwright.site.earthing import by_iec, earthing_problems
from bondwright.site.fields import NoWire
from bondwright.site.ground import Buried
from bondwright.site.ground_checks import geometry_given, geometry_problems, ground_problems
from bondwright.site.model import (
    Array,
    Curve,
    Electrode,
    ElectrodeKind,
    Metal,
    Position,
    Run,
    Site,
    Transfer,
    TransformerForm,
    Wiring,
)
from bondwright.site.names import name_problems
from bondwright.site.shape import did_you_mean, nearest
from bondwright.site.structure import draft_of, structural
from bondwright.site.topology import Problem, Topology, topology
from bondwright.site.wires import wire_problems
from bondwright.units import UnitError

VOLTAGE_TOLERANCE: Final = 0.10
"""How far a transformer's primary may differ from its supply's nominal voltage."""


def problems(site: Site) -> list[Problem]:
    """Return everything in a description that can't stand; an empty list for a sound one."""
    loose = structural(draft_of(site))
    found = [*loose, *local(site.runs, site.electrodes, site.curves, site.arrays)]
    for name, other in site.neighbours.items():
        found += _electrode_by_itself(("neighbours", name), other)
    found += [*named_curves(site), *amendment_problems(site), *earthing_problems(site)]
    found += [*area_problems(site.areas), *direct_current_problems(site.direct_current)]
    found += [*ground_problems(site), *name_problems(site)]
    found += wire_problems(site.runs, site.ties or {}, site.electrodes, site.arrays)
    if not loose:  # what follows walks the tree, so it must be one
        tree = topology(site)
        turned = list(_turned(tree))
        found += turned or [*_electrical(tree), *details_in_place(tree)]
    return found


# --- one entry by itself -------------------------------------------------------------------


def local(
    runs: Mapping[str, Run],
    electrodes: Mapping[str, Electrode],
    curves: Mapping[str, Curve],
    arrays: Mapping[str, Array],
) -> list[Problem]:
    """Return contradictions within single runs, electrodes, curves and arrays."""
    found: list[Problem] = [*curve_problems(curves), *array_problems(arrays)]
    for name, run in runs.items():
        found += _run_by_itself(("runs", name), run)
        found += run_details(("runs", name), run)
    for name, electrode in electrodes.items():
        found += _electrode_by_itself(("electrodes", name), electrode)
        found += electrode_details(("electrodes", name), electrode)
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
    ElectrodeKind.GRID: frozenset({"length"}),
    ElectrodeKind.STRIP: frozenset({"length"}),
    ElectrodeKind.WELL: frozenset({"length", "diameter", "count", "spacing"}),
    ElectrodeKind.PILE_CAP: frozenset({"length", "diameter", "count", "spacing"}),
}


def _electrode_by_itself(loc: tuple[str, str], electrode: Buried) -> Iterator[Problem]:
    given = {
        "length": electrode.length is not None,
        "diameter": electrode.diameter is not None,
        "count": electrode.count != 1,
        "spacing": electrode.spacing is not None,
        "ring": electrode.ring_conductor is not None,
    }
    belongs = _BELONGS[electrode.kind]
    if electrode.kind is ElectrodeKind.STEEL and geometry_given(electrode):
        belongs = frozenset({"length", "diameter", "count", "spacing"})
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
    yield from geometry_problems(loc, electrode)


# --- electricity ---------------------------------------------------------------------------


def _turned(tree: Topology) -> Iterator[Problem]:
    """Transfer switches that would feed themselves: no walk up from them would ever end."""
    for name, switch in tree.site.transfers.items():
        above = [*_above(tree, tree.site.runs[switch.standby].from_)]
        if name in above:
            loc = ("transfers", name, "standby")
            hint = "its standby supply can't come from what it feeds"
            yield Problem(loc, f"starts at {above[0]!r}, which {name!r} feeds", hint)
    states = {name: state for name, state in tree.site.states.items() if state.transfers}
    for name, state in states.items():
        known = {key: at for key, at in state.transfers.items() if key in tree.site.transfers}
        dead = [key for key in known if key not in topology(tree.site, known).order]
        if dead:
            at = ("states", name, "transfers", dead[0])
            hint = "as these switches stand each is fed from the other"
            yield Problem(at, "feeds itself", hint, on_key=True)


def _above(tree: Topology, name: str) -> Iterator[str]:
    yield name
    for run in tree.upstream(name):
        yield tree.site.runs[run].from_


def _electrical(tree: Topology) -> Iterator[Problem]:
    for name in tree.site.runs:
        yield from _run_in_place(tree, name)
    yield from _origins(tree)
    yield from _states(tree)
    for name, switch in tree.site.transfers.items():
        yield from _transfer(tree, name, switch)
    for name, metal in tree.site.metal.items():
        yield from _taps(tree, name, metal)
    for name, place in tree.site.places.items():
        if set(tree.lines_at(name)) - set(tree.lines_at(tree.site.runs[tree.fed_by[name]].from_)):
            continue  # its run is at fault, and reported
        for index, load in enumerate(place.loads):
            loc = ("places", name, "loads", index, "on")
            yield from _load_terminals(tree, name, loc, load.on.value)
            if load.motor is not None and load.motor.code is not None:
                at = ("places", name, "loads", index, "motor", "code")
                if motor_codes()[load.motor.code].most is None:
                    hint = "give 'locked rotor', the current with its rotor locked"
                    yield Problem(at, "has no upper limit", hint)
    for name in tree.site.transformers:
        yield from _primary(tree, name)
    for name, tie in (tree.site.ties or {}).items():
        if tie.line is not None:
            if tie.line not in tree.lines_at(tie.at):
                hint = f"there are {', '.join(tree.lines_at(tie.at))}"
                yield Problem(("ties", name, "line"), f"does not reach {tie.at!r}", hint)
        elif not tree.neutral_at(tie.at):
            hint = "a tie joins neutral and metal; bring the neutral there, or remove the tie"
            yield Problem(("ties", name, "at"), "is where no neutral arrives", hint)
    for name in tree.site.sources:
        if name not in tree.feeds:
            hint = f"add a run with 'from: {name}', or remove it"
            yield Problem(("sources", name), "feeds nothing", hint, on_key=True)
        elif name not in tree.turned_to(name).first_disconnects:
            hint = "give the first disconnect after the meter 'kind: service'"
            problem = "has no service disconnect anywhere below it"
            yield Problem(("sources", name), problem, hint, on_key=True)


def _origins(tree: Topology) -> Iterator[Problem]:
    site = tree.site
    for name in site.generators:
        if name not in tree.feeds and name not in tree.fed_by:
            hint = f"add a run with 'from: {name}', or remove it"
            yield Problem(("generators", name), "feeds nothing", hint, on_key=True)
        elif name in tree.feeds and name in tree.fed_by:
            hint = (
                "lead the run to the bus that it works on from the generator, or to the generator "
                "from the bus"
            )
            problem = "is fed by a run and feeds one as well"
            yield Problem(("generators", name), problem, hint, on_key=True)
        elif name in tree.fed_by:
            yield from _beside(tree, name)
    for name, inverter in site.inverters.items():
        if name not in tree.feeds and name not in tree.fed_by:
            hint = f"add a run from or to {name!r}, or remove it"
            yield Problem(("inverters", name), "is joined to nothing", hint, on_key=True)
        elif name in tree.feeds and name in tree.fed_by:
            hint = (
                "describe the switch inside it under 'transfers': its 'normal' run comes from the "
                "supply, its 'standby' run from the inverter"
            )
            problem = "is fed by a run and feeds one as well"
            yield Problem(("inverters", name), problem, hint, on_key=True)
        elif name in tree.fed_by:
            supply = tree.system_of_run(tree.fed_by[name]).voltages
            if abs(inverter.system.line_to_line / supply.line_to_line - 1) > VOLTAGE_TOLERANCE:
                yield Problem(
                    ("inverters", name, "system"), "does not match what it works with", f"{supply}"
                )


def _beside(tree: Topology, name: str) -> Iterator[Problem]:
    """A generator that works in parallel has to fit what it works with."""
    system = tree.site.generators[name].system
    supply = tree.system_of_run(tree.fed_by[name]).voltages
    lines = tree.lines_of(tree.fed_by[name])
    if abs(system.line_to_line / supply.line_to_line - 1) > VOLTAGE_TOLERANCE:
        loc = ("generators", name, "system")
        yield Problem(loc, "does not match what it works with", f"{supply}")
    elif system.winding is not supply.winding or len(lines) < len(system.lines):
        hint = f"{supply} with {', '.join(lines)} arrives; a generator in parallel has the same"
        yield Problem(("generators", name, "system"), "is not of the kind it works with", hint)


def _both(tree: Topology, state: str, switch: str) -> Iterator[Problem]:
    """Supplies that a transfer switch is to join have to be of one kind."""
    site = tree.site
    runs = (site.transfers[switch].normal, site.transfers[switch].standby)
    loc = ("states", state, "transfers", switch)
    roots = [tree.root(site.runs[run].from_) for run in runs]
    kinds = [tree.system_of_run(run).voltages.winding for run in runs]
    if roots[0] == roots[1]:
        hint = "both its runs come from one supply; describe the loop as one run"
        yield Problem(loc, f"would join {roots[0]!r} with itself", hint)
    elif any(root in site.inverters for root in roots):
        hint = "an inverter that makes a system of its own takes over with the other one off"
        yield Problem(loc, "would join an inverter's own system with another", hint)
    elif kinds[0] is not kinds[1]:
        yield Problem(loc, "would join systems of two kinds", "give 'normal' or 'standby'")


def _states(tree: Topology) -> Iterator[Problem]:
    site = tree.site
    origins = {*site.sources, *site.generators, *site.inverters}
    switched = {name for name, place in site.places.items() if place.main is not None}
    switched |= {name for name, run in site.runs.items() if run.device is not None}
    for name, state in site.states.items():
        for index, source in enumerate(state.on or ()):
            if source not in origins:
                hint = f"there are: {', '.join(sorted(origins))}"
                loc = ("states", name, "on", index)
                yield Problem(loc, "is no source, generator or inverter", hint)
        for switch in state.transfers:
            if switch not in site.transfers:
                hint = f"there are: {', '.join(site.transfers) or 'none'}"
                key = ("states", name, "transfers", switch)
                yield Problem(key, "is no transfer switch", hint, on_key=True)
            elif state.transfers[switch] is Position.BOTH:
                yield from _both(tree, name, switch)
        for index, opened in enumerate(state.open_):
            if opened not in switched:
                hint = "name a place with a 'main' or a run with a 'device'"
                yield Problem(("states", name, "open", index), "has nothing to open", hint)


def _transfer(tree: Topology, name: str, switch: Transfer) -> Iterator[Problem]:
    sides = [tree.system_of_run(run).voltages for run in (switch.normal, switch.standby)]
    if abs(sides[0].line_to_line / sides[1].line_to_line - 1) > VOLTAGE_TOLERANCE:
        hint = f"{sides[0]} arrives on one side and {sides[1]} on the other"
        yield Problem(("transfers", name), "is fed by two different systems", hint, on_key=True)


def _taps(tree: Topology, name: str, metal: Metal) -> Iterator[Problem]:
    there = set(tree.order)
    for index, tap in enumerate(metal.taps):
        if tap.to not in there:
            near = nearest(tap.to, there)
            hint = did_you_mean(near) if near else ""
            loc: tuple[str | int, ...] = ("metal", name, "taps", index, "to")
            yield Problem(loc, "is not the id of a source, transformer or place", hint)
        if tap.at > metal.length * (1 + 1e-9):
            hint = f"measured from {metal.from_!r}"
            yield Problem(("metal", name, "taps", index, "at"), "lies beyond its end", hint)


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
    if by_iec(tree.site):
        return  # there the protective conductor is one, whichever key says it
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


_THREE: Final = frozenset({TransformerForm.ZIGZAG, TransformerForm.OPEN_DELTA})


def _primary(tree: Topology, name: str) -> Iterator[Problem]:
    run = tree.fed_by[name]
    supply = tree.system_of_run(run).voltages
    lines = tree.lines_of(run)
    primary = tree.site.transformers[name].primary
    three = primary.three_phase
    unit = tree.site.transformers[name]
    secondary = unit.secondary
    if unit.form is TransformerForm.ZIGZAG and name in tree.feeds:
        run_out = tree.feeds[name][0]
        hint = "it makes a neutral and feeds nothing; start the run at what feeds it"
        yield Problem(("runs", run_out, "from"), "is a zigzag transformer", hint)
    if unit.form in _THREE and not three:
        hint = "write 'form: isolating', or give three-phase systems"
        problem = f"is three-phase only, but the primary is {primary}"
        yield Problem(("transformers", name, "form"), problem, hint)
    if three != secondary.three_phase:
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
