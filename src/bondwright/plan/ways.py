"""The choices that a description leaves open, each way as a description of its own.

What they lead to is planned in :mod:`bondwright.plan.alternatives`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from bondwright.catalog.parameters import in_force, rule_parameter
from bondwright.catalog.raceways import RacewayKind
from bondwright.catalog.sizes import Conductor, Material, Size
from bondwright.plan.build import plan as make_plan
from bondwright.plan.model import Plan, Purpose, ScheduleItem
from bondwright.rules.editions import clause, edition
from bondwright.rules.iec.ruleset import is_iec
from bondwright.rules.inputs import CannotTellError, SupplyConductors
from bondwright.rules.jumpers import grounded_conductor
from bondwright.rules.ties import where_ties_belong
from bondwright.site.amendments import overrides
from bondwright.site.fields import NoWire
from bondwright.site.model import Electrode, ElectrodeKind, Site, Tie
from bondwright.units import Dimension, show

_RIGID = frozenset({RacewayKind.EMT, RacewayKind.IMC, RacewayKind.RMC, RacewayKind.RMC_AL})
"""Raceways that may serve as equipment grounding conductor whatever their length."""


class ChoiceKind(StrEnum):
    """What there is to choose."""

    GROUND = "wire or raceway as equipment grounding conductor"
    JUMPER = "wire or raceway as supply-side bonding jumper"
    PARALLEL = "one supply-side bonding jumper for each raceway, or one for all"
    TIE = "place of the system bonding jumper"
    METAL = "copper or aluminium"
    ROD = "a second rod, or proof that one is enough"


@dataclass(frozen=True, slots=True)
class Way:
    """A way that is still to be planned; no site means as the plan has it."""

    what: str
    site: Site | None
    remark: str = ""
    open: bool = False


Open = tuple[ChoiceKind, str, str, Sequence[Way], str]


def open_choices(plan: Plan) -> Iterator[Open]:
    """Yield every choice: what, about what, where the code says so, the ways, and how it is fixed.

    Args:
        plan: the plan.
    """
    if is_iec(plan.site.rules):
        return  # what IEC 60364 leaves open is not laid out here yet
    for run in plan.runs:
        yield from _ground(plan, run)
        yield from _supply_jumper(plan, run)
    yield from _tie_places(plan)
    for item in plan.schedule:
        yield from _metals(plan, item)
    for name, electrode in plan.site.electrodes.items():
        yield from _rods(plan, name, electrode)


def _with(site: Site, table: str, name: str, entry: Any) -> Site:
    entries = {**(getattr(site, table) or {}), name: entry}
    return site.model_copy(update={table: entries})


def _changed(site: Site, table: str, name: str, **values: Any) -> Site:
    entry = (getattr(site, table) or {})[name].model_copy(update=values)
    return _with(site, table, name, entry)


# --- wire or raceway --------------------------------------------------------------------------


def _ground(plan: Plan, name: str) -> Iterator[Open]:
    run, planned = plan.site.runs[name], plan.runs[name]
    raceway = planned.raceway
    if raceway is None or raceway.kind not in _RIGID or planned.supply_side:
        return
    where = clause("raceway-as-ground", plan.site.rules)
    tube = f"{raceway.trade_size} {raceway.kind.value}"
    if run.egc is not None:
        yield ChoiceKind.GROUND, name, where, [Way(_as(run.egc), None)], f"egc: {run.egc}"
        return
    ways = [
        Way(
            f"wire {planned.metal}",
            None,
            "the metal raceway is bonded as well and helps",
        ),
        Way(
            f"the {tube} raceway alone",
            _changed(plan.site, "runs", name, egc=NoWire.RACEWAY),
            "every fitting and locknut is part of the fault path; one loose coupling opens it",
        ),
    ]
    yield ChoiceKind.GROUND, name, where, ways, ""


def _as(given: Conductor | NoWire) -> str:
    return f"wire {given}" if isinstance(given, Conductor) else f"'{given}'"


def _supply_jumper(plan: Plan, name: str) -> Iterator[Open]:
    run, planned = plan.site.runs[name], plan.runs[name]
    row = next((item for item in plan.schedule if item.id == f"SSBJ {name}"), None)
    if row is None or not planned.supply_side:
        return
    said = run.ssbj if run.ssbj is not None else run.egc
    raceway, sets = planned.raceway, planned.lines.sets
    where = clause("supply-side-jumper-missing", plan.site.rules)
    if said is not None:
        if raceway is not None or sets > 1:
            kind = ChoiceKind.JUMPER if raceway is not None else ChoiceKind.PARALLEL
            yield kind, name, where, [Way(_as(said), None)], f"ssbj: {said}"
        return
    if raceway is not None and raceway.kind in _RIGID:
        ways = [
            Way(f"wire {planned.metal}", None, "the metal raceway is bonded as well and helps"),
            Way(
                f"the {raceway.trade_size} {raceway.kind.value} raceway alone",
                _changed(plan.site, "runs", name, ssbj=NoWire.RACEWAY),
                "bonding bushings at both ends; every fitting is part of the fault path",
            ),
        ]
        yield ChoiceKind.JUMPER, name, where, ways, ""
    if sets > 1 and planned.metal is not None:
        single = _sized(plan.site, "runs", name, "ssbj", Conductor(_SMALLEST, Material.CU), row.id)
        if single is not None:
            site, size = single
            ways = [
                Way(f"one for each of the {sets} raceways: {planned.metal}", None,
                     "each follows the conductors in its own raceway"),
                Way(f"one for all raceways: {size}", site,
                     "it follows all sets together; it lies outside the raceways, where it may be "
                     "at most 6 ft long (250.102(E)), or in one that is bonded to the others"),
            ]  # fmt: skip
            clause_of = clause("supply-side-bonding-jumper", plan.site.rules, "250.102(C)(2)")
            yield ChoiceKind.PARALLEL, name, clause_of, ways, ""


_SMALLEST = Size.parse("14 AWG")


def _sized(
    site: Site, table: str, name: str, key: str, probe: Conductor, row: str, **more: Any
) -> tuple[Site, Conductor] | None:
    """Return a site with the least conductor that a row asks in a probe's metal and sets.

    The rules size a given conductor in its own metal, so a probe of any size asks them.
    """
    asked = make_plan(_changed(site, table, name, **{key: probe}, **more))
    item = next((item for item in asked.schedule if item.id == row), None)
    if item is None or item.required is None:
        return None
    size: Conductor = item.required.size
    if size.material is not probe.material:
        return None
    return _changed(site, table, name, **{key: size}, **more), size


# --- place of the tie -------------------------------------------------------------------------


def _tie_places(plan: Plan) -> Iterator[Open]:
    tree, site = plan.topology, plan.site
    where = clause("system-bonding-jumper", site.rules, "250.30(A)(1)")
    for origin, placement in where_ties_belong(tree).items():
        places = [name for name in tree.order if name in placement.allowed]
        if not placement.derived or len(places) < 2 or origin not in site.transformers:
            continue
        here = [tie for tie in plan.ties if tie.at in placement.allowed and tie.belongs]
        if len(here) != 1:
            continue
        (tie,) = here
        if tie.given:
            yield ChoiceKind.TIE, origin, where, [Way(f"at {tie.at}", None)], f"tie {tie.id!r}"
            continue
        ways = [Way(f"at {tie.at}", None, _neutral_note(plan, tie.at, origin))]
        for place in places:
            if place == tie.at:
                continue
            label = f"system bonding jumper at {place}"
            moved = _with(site, "ties", label, Tie.model_validate({"at": place, "line": tie.line}))
            ways.append(Way(f"at {place}", moved, _neutral_note(plan, place, origin)))
        yield ChoiceKind.TIE, origin, where, ways, ""


def _neutral_note(plan: Plan, place: str, origin: str) -> str:
    """Say what the place of the tie means for the neutral and the jumper between."""
    tree = plan.topology
    if place == origin:
        return (
            "the neutral to the first disconnect carries load only; the supply-side bonding "
            "jumper is the fault path; the electrode conductor starts at the transformer"
        )
    run = tree.fed_by[place]
    lines = plan.runs[run].lines
    try:
        least = grounded_conductor(SupplyConductors.of(lines), None, plan.site.rules).size
    except CannotTellError:
        least = lines
    return (
        f"the neutral of {run!r} is the fault path as well, at least {least}; the supply-side "
        f"bonding jumper still joins the enclosures; the electrode conductor starts at {place}"
    )


# --- metal of the conductor -------------------------------------------------------------------

_TABLE = {
    Purpose.EQUIPMENT_GROUND: ("runs", "egc"),
    Purpose.SUPPLY_SIDE_JUMPER: ("runs", "ssbj"),
    Purpose.ELECTRODE_CONDUCTOR: ("electrodes", "conductor"),
}


def _metals(plan: Plan, item: ScheduleItem) -> Iterator[Open]:
    if item.form != "wire" or item.required is None or item.chosen is None:
        return
    if item.given:
        if item.purpose not in _FOLLOW_PARTS:
            ways = [Way(str(item.chosen), None)]
            yield ChoiceKind.METAL, item.id, item.required.clause, ways, str(item.chosen)
        return
    other = Material.AL if item.chosen.material is Material.CU else Material.CU
    probe = Conductor(_PROBE[other], other, item.chosen.sets)
    made = _in_other_metal(plan, item, probe)
    if made is None:
        return
    site, size = made
    ways = [Way(str(item.chosen), None), Way(str(size), site, _metal_note(item, other))]
    yield ChoiceKind.METAL, item.id, item.required.clause, ways, ""


_FOLLOW_PARTS = frozenset({Purpose.METAL_BOND, Purpose.BUSHING_JUMPER, Purpose.EQUIPOTENTIAL})
"""Conductors whose metal follows what they are clamped to, or which have to be copper."""

_PROBE = {Material.CU: _SMALLEST, Material.AL: Size.parse("12 AWG")}


def _in_other_metal(
    plan: Plan, item: ScheduleItem, probe: Conductor
) -> tuple[Site, Conductor] | None:
    site = plan.site
    if item.purpose in _TABLE:
        table, key = _TABLE[item.purpose]
        if item.about not in getattr(site, table):
            return None  # a conductor that no entry of the description stands for
        return _sized(site, table, item.about, key, probe, item.id)
    tie = next((tie for tie in plan.ties if tie.id == item.about), None)
    if tie is None:
        return None
    described = _with(site, "ties", tie.id, Tie.model_validate({"at": tie.at, "line": tie.line}))
    row = f"{item.purpose.short} {tie.id}"
    return _sized(described, "ties", tie.id, "size", probe, row)


def _metal_note(item: ScheduleItem, other: Material) -> str:
    if other is not Material.AL:
        return ""
    note = "terminals marked for aluminium, prepared as their maker says"
    if item.purpose is Purpose.ELECTRODE_CONDUCTOR:
        note += (
            "; not against masonry or earth, and outdoors not within 18 in of it (250.64(A)): at "
            "a rod or plate in the ground that mostly rules it out"
        )
    return note


# --- one rod or two ---------------------------------------------------------------------------


def _rods(plan: Plan, name: str, electrode: Electrode) -> Iterator[Open]:
    alone = any(f.rule == "single-rod" and f.where == name for f in plan.findings)
    small = electrode.kind in {ElectrodeKind.ROD, ElectrodeKind.PLATE}
    if not alone or not small:
        return
    year = edition(plan.site.rules)
    with in_force(overrides(plan.site)):
        limit, spacing = rule_parameter("rod-resistance", year), rule_parameter("rod-spacing", year)
    ohms = show(limit.number, Dimension.RESISTANCE)
    where = clause("single-rod", plan.site.rules)
    computed = plan.electrodes[name].resistance
    if electrode.resistance is not None:
        known = f"{show(electrode.resistance, Dimension.RESISTANCE)} is given"
        if electrode.resistance > limit.number:
            known += ", so this way is closed unless a better one is driven"
    else:
        known = (
            f"the computed circuit takes {show(computed, Dimension.RESISTANCE)}, worked out or "
            "assumed, which proves nothing"
        )
    apart = spacing.number
    second = _changed(plan.site, "electrodes", name, count=2, spacing=apart, resistance=None)
    what = electrode.kind.value
    ways = [
        Way(
            f"one {what}, proven to have {ohms} or less",
            None,
            f"{known}; measure before anything is joined to it, never by opening the electrode "
            "conductor of a live system, and keep the record",
            open=True,
        ),
        Way(
            f"a second {what}, {show(apart, Dimension.LENGTH)} away",
            second,
            f"the two together need not reach {ohms}, and nothing has to be measured",
        ),
    ]
    yield ChoiceKind.ROD, name, where, ways, ""
