"""The way of a fault current, told in order: out to the fault, and home again."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bondwright.network.build import Network
from bondwright.network.sources import primary_terminals
from bondwright.studies.fault_model import Fault, FaultKind, PathStep
from bondwright.studies.flows import Carrier, Flow

FAINT = 0.001
"""Smaller parts of the fault current are not told."""

BEYOND = 0.05
"""On the primary side a line is told from this part of the largest current of its run on."""


def told_path(
    network: Network, fault: Fault, now: Sequence[Flow], current: float
) -> tuple[PathStep, ...]:
    """Return the steps of a fault current's way.

    Beyond a transformer the current is another one, in other lines: there all lines that carry
    it are told on the way out, and nothing on the way back.

    Args:
        network: the network.
        fault: the fault.
        now: all currents at its start.
        current: of the fault, A.
    """
    if current <= 0:
        return ()
    return tuple(_path(network, fault, now, current))


def _path(
    network: Network, fault: Fault, now: Sequence[Flow], current: float
) -> Iterator[PathStep]:
    upstream = list(network.state.topology.upstream(fault.place))
    near = _same_system(network, fault, upstream)
    runs: dict[str, list[Flow]] = {}
    aside: dict[tuple[Carrier, str], list[Flow]] = {}
    for flow in now:
        if flow.carrier is Carrier.RUN:
            runs.setdefault(flow.id, []).append(flow)
        else:
            aside.setdefault((flow.carrier, flow.id), []).append(flow)

    def step(way: str, flow: Flow) -> PathStep:
        share = flow.amperes / current
        return PathStep(way, flow.carrier, flow.id, flow.conductor, flow.amperes, share)

    def on(run: str, terminals: set[str]) -> Iterator[Flow]:
        for flow in runs.get(run, ()):
            if flow.terminal in terminals and flow.amperes > FAINT * current:
                yield flow

    outward = _landed(network, fault, fault.a, upstream)
    for run in reversed(upstream):
        if run in near:
            yield from (step("out", flow) for flow in on(run, {outward}))
        else:
            lines = [f for f in runs.get(run, ()) if f.terminal.startswith("L")]
            most = max((f.amperes for f in lines), default=0.0)
            yield from (
                step("out", f) for f in lines if f.amperes > max(BEYOND * most, FAINT * current)
            )
    if fault.kind in {FaultKind.LINE_TO_LINE, FaultKind.THREE_LINES}:
        home = {_landed(network, fault, t, upstream) for t in (fault.b, fault.also) if t}
        for run in upstream:
            if run in near:
                yield from (step("back", flow) for flow in on(run, home))
        return
    told: set[tuple[Carrier, str]] = set()
    here = fault.place
    for run in [*upstream, ""]:
        for owner, group in aside.items():
            if owner not in told and any(here in (flow.from_, flow.to) for flow in group):
                told.add(owner)
                yield from (step("back", f) for f in group if f.amperes > FAINT * current)
        if not run:
            break
        yield from (step("back", flow) for flow in on(run, {"N", "G"}))
        here = network.plan.runs[run].from_


def _same_system(network: Network, fault: Fault, upstream: Sequence[str]) -> set[str]:
    """Return the runs upstream of a fault that carry its own current."""
    transformers = network.plan.site.transformers
    found: set[str] = set()
    here = fault.place
    primary = fault.a.startswith("H")
    for run in upstream:
        if here in transformers and not primary:
            break
        primary = False
        found.add(run)
        here = network.plan.runs[run].from_
    return found


def _landed(network: Network, fault: Fault, terminal: str, upstream: Sequence[str]) -> str:
    """Return the line of the feeding run that lands on a terminal of a primary."""
    unit = network.plan.site.transformers.get(fault.place)
    if unit is None or not terminal.startswith("H") or not upstream:
        return terminal
    run = network.plan.runs[upstream[0]]
    land = primary_terminals(unit, run.on, neutral=run.neutral is not None)
    return next((line for line, at in land.items() if at == terminal), terminal)
