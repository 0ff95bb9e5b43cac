"""How the conductors of a run lie, and what of it needs no rule: for every family of rules."""

from __future__ import annotations

from bondwright.catalog.raceways import RacewayDimensions, dimensions
from bondwright.catalog.sizes import Conductor
from bondwright.plan.model import PlannedRun
from bondwright.plan.parts import Context, Part
from bondwright.site.fields import NoWire
from bondwright.site.model import Run, Wiring

_LIE = {
    Wiring.CABLE: "touching",
    Wiring.FLAT_CABLE: "flat",
    Wiring.RACEWAY: "pulled",
    Wiring.TRAY: "tray",
    Wiring.OVERHEAD: "triplex",
    Wiring.OPEN_WIRE: "open wire",
    Wiring.DIRECT_BURIED: "buried",
}


def metal_raceway(run: Run) -> RacewayDimensions | None:
    """Return the metal raceway around a run, or None."""
    if run.raceway is None or not run.raceway.kind.is_metal:
        return None
    return dimensions(run.raceway.kind, run.raceway.size)


def planned_neutral(ctx: Context, name: str, run: Run, part: Part) -> Conductor | None:
    """Return the neutral of a run: as given, else as the lines where one reaches its start."""
    if isinstance(run.neutral, Conductor):
        return run.neutral
    if not ctx.tree.has_neutral(name):
        return None
    lines: Conductor = run.lines
    part.assume(name, f"neutral of the same size as the lines, {lines}")
    return lines


def lie_of(name: str, run: Run, part: Part) -> str:
    """Return how the conductors of a run lie, a word of the plan."""
    if run.wiring is not None:
        return _LIE[run.wiring]
    if run.raceway is not None:
        return _LIE[Wiring.RACEWAY]
    part.assume(name, "wiring taken as cable, its conductors touching")
    return _LIE[Wiring.CABLE]


def planned_run(
    ctx: Context, name: str, metal: Conductor | None, part: Part, *, bonded: bool
) -> PlannedRun:
    """Return a run once its bonding conductor is decided.

    Args:
        ctx: the context.
        name: id of the run.
        metal: the wire that bonds.
        part: what is assumed goes into it.
        bonded: whether the metal raceway joins the metal at both ends.
    """
    run = ctx.site.runs[name]
    return PlannedRun(
        id=name,
        from_=run.from_,
        to=run.to,
        length=run.length,
        on=ctx.tree.lines_of(name),
        lines=run.lines,
        neutral=planned_neutral(ctx, name, run, part),
        metal=metal,
        raceway=metal_raceway(run),
        raceway_bonded=bonded,
        lie=lie_of(name, run, part),
        supply_side=name in ctx.tree.supply_side_runs,
    )


def raceway_bonded(
    name: str, said: Conductor | NoWire | None, raceway: RacewayDimensions | None, part: Part
) -> bool:
    """Return whether a metal raceway joins the metal at both its ends, by what is said of it."""
    if raceway is None:
        return False
    if said is NoWire.NONE:
        part.assume(name, "the metal raceway doesn't join the metal at both ends, as none is said")
        return False
    if said is not NoWire.RACEWAY:
        part.assume(name, "the metal raceway joins the metal at both ends")
    return True
