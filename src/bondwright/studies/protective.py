"""Protective conductors that the table calls too small, settled by the heat of the fault.

IEC 60364-5-54 543.1 leaves the choice: the table by the line conductor, or ``S = sqrt(I2 t) / k``
by the fault. A plan knows the first only. Here the second is worked out with the currents of the
network, at both ends of the circuit: far away the fault lasts longest, near by it is largest.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.sizes import Conductor
from bondwright.catalog.sources import CatalogError
from bondwright.network.build import Network, build
from bondwright.plan.iec.runs import BY_HEAT
from bondwright.plan.model import Plan, ScheduleItem
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.iec.heat import Fault, bears, by_heat
from bondwright.rules.iec.installation import devices_ahead
from bondwright.rules.iec.ruleset import clause, is_iec
from bondwright.rules.inputs import CannotTellError
from bondwright.studies.bare import faults_to_metal, without_metal
from bondwright.studies.faults import FaultKind, FaultResult
from bondwright.studies.watching import known_band

_WORST = (Verdict.FALLS_SHORT, Verdict.CANNOT_TELL, Verdict.HOLDS)
_RULE = "iec-protective-adiabatic"


@dataclass(frozen=True, slots=True)
class Withstood:
    """Whether the protective conductor of a circuit bears a fault at either end.

    Attributes:
        run: the circuit.
        conductor: its protective conductor.
        verdict: the worse of both ends.
        because: the sums, for a person.
        asked: the least size by the heat of the fault, where the formula has an answer.
    """

    run: str
    conductor: Conductor
    verdict: Verdict
    because: tuple[str, ...]
    asked: Conductor | None


def open_rows(plan: Plan) -> tuple[ScheduleItem, ...]:
    """Return the rows of a plan that only the heat of the fault can settle."""
    return tuple(
        item
        for item in plan.schedule
        if item.verdict is Verdict.CANNOT_TELL and BY_HEAT in item.remark and item.chosen
    )


def study_withstand(
    network: Network, faults: Iterable[FaultResult] | None = None
) -> tuple[Withstood, ...]:
    """Judge every protective conductor that the table calls too small.

    Args:
        network: built without loads.
        faults: followed already on a network without pipes and frames; None follows them.
    """
    plan = network.plan
    rows = open_rows(plan)
    if not rows:
        return ()
    network = without_metal(network)
    if faults is None:
        faults = faults_to_metal(network)
    worst: dict[str, FaultResult] = {}
    for result in faults:
        fault = result.fault
        if fault.kind is FaultKind.LINE_TO_METAL and not fault.arc and not fault.impedance:
            known = worst.get(fault.place)
            if known is None or result.current > known.current:
                worst[fault.place] = result
    return tuple(
        _judge(network, item.about, item.chosen, worst) for item in rows if item.chosen is not None
    )


def _judge(
    network: Network, run: str, conductor: Conductor, worst: Mapping[str, FaultResult]
) -> Withstood:
    plan = network.plan
    planned, rules = plan.runs[run], plan.site.rules
    device = _device(plan, run)
    verdicts: list[Verdict] = []
    because: list[str] = []
    asked: Conductor | None = None
    for end, place in (("far", planned.to), ("near", planned.from_)):
        result = worst.get(place)
        if result is None:
            continue
        time = result.clearing if end == "far" else _time(network, device, result)
        if not math.isfinite(time) or time <= 0 or result.current <= 0:
            verdicts.append(Verdict.CANNOT_TELL)
            because.append(f"How long a fault at its {end} end lasts is not known.")
            continue
        fault = Fault(result.current, time)
        try:
            found = bears(conductor, fault, device, rules)
        except CatalogError as error:
            verdicts.append(Verdict.CANNOT_TELL)
            because.append(f"{error.text} {error.problem}.")
            continue
        verdicts.append(found.verdict)
        said = " ".join(found.because)
        because.append(f"Fault at its {end} end: {result.current:.4g} A for {time:.3g} s. {said}")
        if found.verdict is Verdict.FALLS_SHORT:
            asked = _larger(asked, _least(fault, conductor, rules))
    verdict = min(verdicts, key=_WORST.index, default=Verdict.CANNOT_TELL)
    return Withstood(run, conductor, verdict, tuple(because), asked)


def _device(plan: Plan, run: str) -> DeviceRating | None:
    described = plan.site.runs[run]
    if described.device is not None and described.device.kind is not DeviceKind.RCD:
        return described.device
    ahead = devices_ahead(plan.topology, described.from_)
    return next((d for _, d in ahead if d.kind is not DeviceKind.RCD), None)


def _time(network: Network, device: DeviceRating | None, result: FaultResult) -> float:
    """How long a fault just behind the circuit's device lasts, by the device's slow edge, s."""
    band = None if device is None else known_band(network, device)
    return math.inf if band is None else band.slowest(result.current)


def _least(fault: Fault, conductor: Conductor, rules: str) -> Conductor | None:
    try:
        return by_heat(fault, conductor.material, rules).size
    except CannotTellError:
        return None


def _larger(one: Conductor | None, other: Conductor | None) -> Conductor | None:
    known = [size for size in (one, other) if size is not None]
    return max(known, key=lambda size: size.size.area_mm2, default=None)


def settled(plan: Plan, found: Iterable[Withstood]) -> Plan:
    """Return a plan whose open rows are settled by the heat of the fault.

    Args:
        plan: the plan.
        found: from :func:`study_withstand`.
    """
    by_run = {one.run: one for one in found}
    rows = {item.id for item in open_rows(plan)}
    schedule = tuple(
        _row(item, by_run[item.about]) if item.id in rows and item.about in by_run else item
        for item in plan.schedule
    )
    return replace(plan, schedule=schedule)


def _row(item: ScheduleItem, one: Withstood) -> ScheduleItem:
    by_table = item.remark.partition("; ")[0]
    required = item.required
    if required is not None:
        rules = required.rules
        required = replace(
            required,
            clause=clause(_RULE, rules) if one.verdict is Verdict.HOLDS else required.clause,
            because=(*required.because, *one.because),
        )
    match one.verdict:
        case Verdict.HOLDS:
            remark = f"{by_table}; it bears the heat of the fault, and that is enough"
            if required is not None:
                required = replace(required, size=one.conductor, rule=_RULE)
        case Verdict.FALLS_SHORT:
            remark = f"{by_table}; it doesn't bear the heat of the fault either"
        case _:
            remark = f"{by_table}; whether it bears the heat of the fault can't be told"
    return replace(item, verdict=one.verdict, remark=remark, required=required)


def settled_plan(plan: Plan) -> Plan:
    """Return a plan whose open rows are settled; one that has none is returned as it is.

    Args:
        plan: the plan, by whatever rules.
    """
    if not is_iec(plan.site.rules) or not open_rows(plan):
        return plan
    return settled(plan, study_withstand(build(plan, loads=False)))


def withstand_findings(found: Iterable[Withstood], plan: Plan) -> tuple[Finding, ...]:
    """Return a finding for every protective conductor that doesn't bear the fault, or may not.

    Args:
        found: from :func:`study_withstand`.
        plan: the plan.
    """
    rules = plan.site.rules
    told = []
    for one in found:
        if one.verdict is Verdict.HOLDS:
            continue
        falls = one.verdict is Verdict.FALLS_SHORT
        larger = str(one.asked) if one.asked is not None else "the size by the table"
        told.append(
            Finding(
                _RULE,
                Severity.FALLS_SHORT if falls else Severity.CANNOT_TELL,
                one.run,
                "protective conductor too small for the heat of a fault"
                if falls
                else "whether the protective conductor bears a fault",
                f"{one.conductor} is smaller than the table asks. {' '.join(one.because)}",
                f"Use {larger} or larger, with the supply off."
                if falls
                else "Give the maker's figure for the energy the device lets through, or use the "
                "size by the table.",
                clause(_RULE, rules),
            )
        )
    return tuple(told)
