"""Every bonding mistake that can be in a site, each as a small change of its circuit."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence

from bondwright.network.build import Network
from bondwright.network.metal import pieces
from bondwright.network.runs import lead_impedance, strands
from bondwright.network.solve import Change
from bondwright.plan.model import PlannedRun
from bondwright.site.model import SwitchedNeutral
from bondwright.studies.defects.alterations import (
    Alteration,
    Break,
    Insert,
    Join,
    Lift,
    Swap,
    changes_for,
)
from bondwright.studies.defects.kinds import (
    ADDED_TIE_OHM,
    CONTACT_OHM,
    JUMPER_M,
    LEAKAGE_OHM,
    LOOSE_OHM,
    SMALL_PART,
    WAYS,
    Defect,
    DefectKind,
    FoundBy,
    Weak,
)

__all__ = [
    "ADDED_TIE_OHM",
    "CONTACT_OHM",
    "JUMPER_M",
    "LEAKAGE_OHM",
    "LOOSE_OHM",
    "SMALL_PART",
    "Alteration",
    "Break",
    "Defect",
    "DefectKind",
    "FoundBy",
    "Insert",
    "Join",
    "Lift",
    "Swap",
    "Weak",
    "changes_for",
    "changes_of",
    "defects",
]


def defects(network: Network) -> tuple[Defect, ...]:
    """Return every single defect there can be at a site, in walking order by kind.

    Args:
        network: of the site in one state; the defects are the same with and without loads.
    """
    made = (_ties, _added, _runs, _electrodes, _metal, _contacts, _leaks, _transfers)
    return tuple(defect for make in made for defect in make(network))


def changes_of(network: Network, defect: Defect) -> tuple[Change, ...]:
    """Return a defect as changes of a network's circuit.

    Args:
        network: any network of the same plan: with loads or without, of any order.
        defect: from :func:`defects`.
    """
    return tuple(c for item in defect.alterations for c in changes_for(network.solver, item))


def _make(
    kind: DefectKind,
    thing: str,
    at: str,
    name: str,
    alterations: Sequence[Alteration],
    *,
    part: str = "",
    weak: tuple[Weak, ...] = (),
) -> Defect:
    label = f"{kind.value}/{thing}" + (f"/{part}" if part else "")
    return Defect(label, kind, thing, at, name, tuple(alterations), WAYS[kind], weak)


def _ties(network: Network) -> Iterator[Defect]:
    plan = network.plan
    for tie in plan.ties:
        what = repr(tie.id) if tie.id.endswith(f" at {tie.at}") else f"{tie.id!r} at {tie.at}"
        yield _make(DefectKind.TIE_MISSING, tie.id, tie.at, f"tie {what} missing", [Lift(tie.id)])
        yield _make(
            DefectKind.TIE_LOOSE,
            tie.id,
            tie.at,
            f"tie {what} loose ({LOOSE_OHM:g} ohm)",
            [Lift(tie.id, LOOSE_OHM)],
        )
        if tie.size is not None:
            added = lead_impedance(tie.size, JUMPER_M, plan.frequency, plan.temperature).real
            yield _make(
                DefectKind.TIE_SMALL,
                tie.id,
                tie.at,
                f"tie {what} much too small (a quarter of the area)",
                [Lift(tie.id, added * (1 / SMALL_PART - 1))],
                weak=(Weak(tie.id, SMALL_PART),),
            )


def _added(network: Network) -> Iterator[Defect]:
    tied = {tie.at for tie in network.plan.ties}
    for name, terminals in network.terminals.items():
        if {"N", "G"} <= set(terminals) and name not in tied | set(network.plan.site.sources):
            join = Join(f"{name}:N", f"{name}:G", ADDED_TIE_OHM)
            yield _make(
                DefectKind.TIE_ADDED, name, name, f"neutral tied to metal at {name} as well", [join]
            )


def _runs(network: Network) -> Iterator[Defect]:
    for run in network.plan.runs.values():
        yield from _run(network, run)


def _run(network: Network, run: PlannedRun) -> Iterator[Defect]:
    section = f"run {run.id}"
    parts = strands(run)
    neutral = [p.name for p in parts if p.terminal == "N"]
    wire = [p.name for p in parts if p.terminal == "G" and p.conductor is not None]
    tube = [p.name for p in parts if p.terminal == "G" and p.conductor is None]
    way = f"{run.from_} to {run.to}"
    if wire:
        kind = DefectKind.SSBJ_OPEN if run.supply_side else DefectKind.EGC_OPEN
        what = "supply-side bonding jumper" if run.supply_side else "equipment grounding conductor"
        yield _make(
            kind, run.id, run.to, f"{what} open, {way}", [Break(section, name) for name in wire]
        )
        yield _small(network, run, wire, what)
    if tube:
        yield _make(
            DefectKind.RACEWAY_OPEN,
            run.id,
            run.to,
            f"raceway joint open, {way}",
            [Break(section, name) for name in tube],
        )
    if neutral:
        what = _neutral_word(network, run)
        yield _make(
            DefectKind.NEUTRAL_OPEN,
            run.id,
            run.to,
            f"{what} neutral open, {way}",
            [Break(section, name) for name in neutral],
        )
        yield _make(
            DefectKind.NEUTRAL_LOOSE,
            run.id,
            run.to,
            f"{what} neutral loose ({LOOSE_OHM:g} ohm), {way}",
            [Insert(section, name, LOOSE_OHM * len(neutral)) for name in neutral],
        )
    place = network.plan.site.places.get(run.to)
    if neutral and wire and place is not None and f"{run.to}:G" in network.solver.index:
        swap = Swap(section, tuple(neutral), tuple(wire), f"{run.to}:N", f"{run.to}:G")
        yield _make(
            DefectKind.SWAPPED,
            run.id,
            run.to,
            f"neutral and equipment grounding conductor swapped at {run.to}",
            [swap],
        )


def _small(network: Network, run: PlannedRun, wire: Sequence[str], what: str) -> Defect:
    solver = network.solver
    item = solver.circuit.sections[solver.section_index[f"run {run.id}"]]
    if run.metal is None:
        msg = f"run {run.id!r} has a bonding wire in the circuit and none in the plan"
        raise ValueError(msg)
    plan = network.plan
    # Each wire by itself: the sets that share the whole are wires of their own here.
    own = lead_impedance(run.metal, run.length, plan.frequency, plan.temperature).real
    added = own * run.metal.sets * (1 / SMALL_PART - 1)
    return _make(
        DefectKind.EGC_SMALL,
        run.id,
        run.to,
        f"{what} much too small (a quarter of the area), {run.from_} to {run.to}",
        [Insert(item.id, name, added) for name in wire],
        weak=(Weak(run.id, SMALL_PART),),
    )


def _neutral_word(network: Network, run: PlannedRun) -> str:
    if run.from_ in network.plan.site.sources:
        return "service"
    feeds = network.plan.topology.feeds.get(run.to, ())
    return "feeder" if feeds else "branch"


def _electrodes(network: Network) -> Iterator[Defect]:
    for item in network.plan.electrodes.values():
        if item.conductor is not None:
            yield _make(
                DefectKind.ELECTRODE_OFF,
                item.id,
                item.at,
                f"electrode {item.id!r} or its conductor at {item.at} missing",
                [Break(f"electrode conductor {item.id}", "metal")],
            )


def _metal(network: Network) -> Iterator[Defect]:
    site, solver = network.plan.site, network.solver
    for name, item in site.metal.items():
        cut = pieces(name, item)
        ends = [(cut[0], item.from_), (cut[-1], item.to)]
        if len(cut) == 1:
            ends = [(cut[0], item.to)]
        for piece, place in ends:
            found = _where(network, piece.id)
            if found is not None:
                yield _make(
                    DefectKind.METAL_UNBONDED,
                    name,
                    place,
                    f"{name} not bonded at {place}",
                    [found],
                    part=place,
                )
        for k, tap in enumerate(item.taps):
            if f"contact {name} {k}" in solver.section_index:
                yield _make(
                    DefectKind.METAL_UNBONDED,
                    name,
                    tap.to,
                    f"{name} not bonded to {tap.to}",
                    [Break(f"contact {name} {k}", "z")],
                    part=f"tap {k} {tap.to}",
                )


def _where(network: Network, piece: str) -> Break | None:
    """Return the break of a piece of metal, by itself or beside a run."""
    if piece in network.solver.section_index:
        return Break(piece, "metal")
    for section in network.circuit.sections:
        if piece in section.names:
            return Break(section.id, piece)
    return None


def _contacts(network: Network) -> Iterator[Defect]:
    """Yield contacts of the metal of neighbours: places fed one after the other from one place."""
    topology, plan = network.plan.topology, network.plan
    joined = {frozenset((run.from_, run.to)) for run in plan.runs.values()}
    joined |= {frozenset((item.from_, item.to)) for item in plan.site.metal.values()}
    for place in topology.order:
        there = [
            plan.runs[run].to
            for run in topology.feeds.get(place, ())
            if f"{plan.runs[run].to}:G" in network.solver.index
        ]
        for a, b in itertools.pairwise(there):
            if a != b and frozenset((a, b)) not in joined:
                yield _make(
                    DefectKind.CONTACT,
                    a,
                    a,
                    f"metal of {a} touches metal of {b}",
                    [Join(f"{a}:G", f"{b}:G", CONTACT_OHM)],
                    part=b,
                )


def _leaks(network: Network) -> Iterator[Defect]:
    sources = network.plan.site.sources
    for name, terminals in network.terminals.items():
        if name in sources or "G" not in terminals or name not in network.state.energised:
            continue
        for line in terminals:
            if line.startswith("L"):
                yield _make(
                    DefectKind.LEAKAGE,
                    name,
                    name,
                    f"{line} leaks to metal at {name} ({LEAKAGE_OHM:g} ohm)",
                    [Join(f"{name}:{line}", f"{name}:G", LEAKAGE_OHM)],
                    part=line,
                )


def _transfers(network: Network) -> Iterator[Defect]:
    plan = network.plan
    for name, switch in plan.site.transfers.items():
        runs = [plan.runs[switch.normal], plan.runs[switch.standby]]
        if any(run.neutral is None for run in runs):
            continue
        if switch.neutral is SwitchedNeutral.SWITCHED:
            yield _make(
                DefectKind.TRANSFER_KIND,
                name,
                name,
                f"transfer switch '{name}' leaves the neutral solid where it should switch it",
                [Join(f"{name}/normal:N", f"{name}/standby:N", ADDED_TIE_OHM)],
            )
            continue
        on = network.state.transfers.get(name)
        idle = runs[0] if on is not None and on.value == "standby" else runs[1]
        broken = [Break(f"run {idle.id}", p.name) for p in strands(idle) if p.terminal == "N"]
        yield _make(
            DefectKind.TRANSFER_KIND,
            name,
            name,
            f"transfer switch '{name}' switches the neutral where it should be solid",
            broken,
        )
