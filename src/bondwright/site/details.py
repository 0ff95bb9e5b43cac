"""What can't stand among the finer points of runs, electrodes and metal.

How a raceway ends, what shares an equipment grounding conductor, who taps an electrode conductor:
each only means something beside something else.
"""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from typing import Final

from bondwright.site.fields import NoWire
from bondwright.site.model import Electrode, ElectrodeKind, Fitting, Metal, MetalKind, Run
from bondwright.site.shape import did_you_mean, nearest
from bondwright.site.topology import Problem, Topology
from bondwright.units import Dimension, UnitError, parse, show

NAMED_IN: Final[Mapping[str, tuple[tuple[str, str], ...]]] = {
    "runs": (("runs", "with"), ("metal", "circuit")),
    "nodes": (("electrodes", "shared by"),),
}
"""Keys (table, key) beside those of the structure that name a run, or something with terminals."""


def run_details(loc: tuple[str, str], run: Run) -> Iterator[Problem]:
    """Yield what contradicts itself within one run."""
    metal = run.raceway is not None and run.raceway.kind.is_metal
    raceway = {
        "flexible": run.flexible is not None,
        "fittings": run.fittings is not None,
        "knockouts": run.knockouts is not None,
        "bushing jumper": run.bushing_jumper is not None,
    }
    for key, given in raceway.items():
        if given and not metal:
            hint = "add a line like 'raceway: {kind: emt, size: 1 in}', or remove it"
            yield Problem((*loc, key), "needs a metal raceway", hint, on_key=True)
    if run.bushing_jumper is not None and run.fittings is not Fitting.BONDING_BUSHING:
        hint = "write 'fittings: bonding bushing'"
        yield Problem((*loc, "bushing jumper"), "needs a bonding bushing", hint, on_key=True)
    if run.sets is not None and run.lines.sets == 1:
        hint = "write parallel sets as '2 x 500 kcmil Cu', or remove it"
        yield Problem((*loc, "sets"), f"is given, but the lines are one set ({run.lines})", hint)
    if run.tap and run.device is not None:
        hint = "a tap has its device at its end; give the place there a 'main'"
        yield Problem((*loc, "tap"), "is given, but a device stands at its start", hint)
    if run.flexible is not None:
        yield from _flexible((*loc, "flexible"), run)


def _flexible(loc: tuple[str, str, str], run: Run) -> Iterator[Problem]:
    piece = run.flexible
    if piece is None:
        return
    if piece.length > run.length * (1 + 1e-9):
        hint = f"the whole run is {show(run.length, Dimension.LENGTH)} long"
        yield Problem((*loc, "length"), "is longer than its run", hint)
    try:
        trade_size(piece.size)
    except UnitError as error:
        yield Problem((*loc, "size"), error.problem, "write it like '1/2 in' or '1-1/4 in'")


def trade_size(text: str) -> float:
    """Return a trade size as a length, m.

    Raises:
        UnitError: unreadable, or without a unit.
    """
    size = parse(text, Dimension.LENGTH)
    if size <= 0:
        raise UnitError(text, "must be more than zero", "write it like '1/2 in'")
    return size


def electrode_details(loc: tuple[str, str], electrode: Electrode) -> Iterator[Problem]:
    """Yield what contradicts itself within one electrode."""
    pipe = electrode.kind is ElectrodeKind.WATER_PIPE
    if electrode.from_entry is not None and not pipe:
        kind = electrode.kind.value
        hint = "it belongs to a water pipe; remove it"
        problem = f"does not belong to an electrode of kind {kind!r}"
        yield Problem((*loc, "from entry"), problem, hint, on_key=True)
    apart = electrode.conductor is NoWire.NONE
    for key, given in (
        ("sleeve", electrode.sleeve is not None),
        ("from entry", electrode.from_entry is not None),
        ("shared by", bool(electrode.shared_by)),
    ):
        if given and apart:
            hint = "give the conductor's size, or remove it"
            yield Problem((*loc, key), "is given, but there is no conductor", hint, on_key=True)


def details_in_place(tree: Topology) -> Iterator[Problem]:
    """Yield names that lead nowhere, and details on the wrong side of the first disconnect."""
    site = tree.site
    for name, run in site.runs.items():
        yield from _run_in_place(tree, name, run)
    for name, electrode in site.electrodes.items():
        known = [origin for origin in tree.systems if tree.systems[origin].origin == origin]
        own = [origin for origin in known if origin not in site.sources]
        for index, other in enumerate(electrode.shared_by):
            if other not in own:
                what = "is not the id of a transformer, generator or inverter with its own system"
                yield Problem(("electrodes", name, "shared by", index), what, _meant(other, own))
    for name, metal in site.metal.items():
        yield from _metal_in_place(tree, name, metal)


def _run_in_place(tree: Topology, name: str, run: Run) -> Iterator[Problem]:
    for index, other in enumerate(run.with_):
        loc = ("runs", name, "with", index)
        if other not in tree.site.runs:
            yield Problem(loc, "is not the id of a run", _meant(other, tree.site.runs))
        elif other == name:
            yield Problem(loc, "is this run itself", "name the other runs in the raceway")
        elif other in tree.supply_side_runs:
            hint = "equipment grounding conductors begin past the first disconnect"
            yield Problem(loc, "lies ahead of the first disconnect", hint)
    if name not in tree.supply_side_runs:
        return
    for key, given in (
        ("with", bool(run.with_)),
        ("tap", run.tap),
        ("motor current", run.motor_current is not None),
    ):
        if given:
            hint = "it is about equipment grounding conductors, past the first disconnect"
            yield Problem(("runs", name, key), "is given on a supply-side run", hint, on_key=True)


_BY_CIRCUIT = frozenset({MetalKind.GAS_PIPE, MetalKind.DUCT, MetalKind.TRAY, MetalKind.OTHER})
"""Metal whose bond follows the circuit that may energise it."""


def _metal_in_place(tree: Topology, name: str, metal: Metal) -> Iterator[Problem]:
    loc = ("metal", name)
    if metal.isolated and metal.kind is not MetalKind.WATER_PIPE:
        problem = f"does not belong to metal of kind {metal.kind.value!r}"
        yield Problem((*loc, "isolated"), problem, "it belongs to a water pipe", on_key=True)
    if metal.circuit is None:
        return
    if metal.circuit not in tree.site.runs:
        hint = _meant(metal.circuit, tree.site.runs)
        yield Problem((*loc, "circuit"), "is not the id of a run", hint)
    elif metal.kind not in _BY_CIRCUIT:
        hint = "its bond does not follow a circuit; remove it"
        problem = f"does not belong to metal of kind {metal.kind.value!r}"
        yield Problem((*loc, "circuit"), problem, hint, on_key=True)


def _meant(word: str, known: Container[str]) -> str:
    close = nearest(word, list(known)) if isinstance(known, list | dict) else ()
    return did_you_mean(close) if close else ""
