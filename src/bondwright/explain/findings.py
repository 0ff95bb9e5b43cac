"""Findings of the studies, and all findings together, worst first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from bondwright.explain.faults import QUIET_V, heated_name, returns_by
from bondwright.explain.stray import CIRCULATING, cure, tell_current, tell_shared
from bondwright.explain.words import (
    amps,
    capital,
    counted,
    device_name,
    listed,
    seconds,
    volts,
)
from bondwright.network.solve import Residuals
from bondwright.plan.model import Plan
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.site.states import states
from bondwright.site.topology import Topology
from bondwright.studies.faults import CLEARED_A, LONGEST_S, FaultKind, FaultResult
from bondwright.studies.protection import Duty
from bondwright.studies.stray import Nature, StrayStudy

_TOLD = 6
"""Devices that one finding names."""

_ORDER = {severity: rank for rank, severity in enumerate(Severity)}


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Return findings by severity, those of one severity in the order they came, none twice."""
    return tuple(sorted(dict.fromkeys(findings), key=lambda f: _ORDER[f.severity]))


def fault_findings(
    results: Sequence[FaultResult], plan: Plan, tree: Topology | None = None
) -> tuple[Finding, ...]:
    """Return what the fault study found, at most one finding for each place and each trouble.

    Args:
        results: faults on the plan as it stands.
        plan: the plan.
        tree: who feeds whom in the state that the faults are of; None is the normal one.
    """
    return worst_first(_fault_findings(results, plan, tree or plan.topology))


def _fault_findings(
    results: Sequence[FaultResult], plan: Plan, tree: Topology
) -> Iterator[Finding]:
    by_place: dict[str, list[FaultResult]] = {}
    for result in results:
        by_place.setdefault(result.fault.place, []).append(result)
    for place, there in by_place.items():
        bad = [r for r in there if r.verdict is Verdict.FALLS_SHORT]
        live = [r for r in bad if not r.cleared and r.fault.kind is FaultKind.LINE_TO_METAL]
        stay = [r for r in bad if not r.cleared and r.fault.kind is not FaultKind.LINE_TO_METAL]
        slow = [r for r in bad if r.cleared and not _too_hot(r)]
        hot = [r for r in bad if r.cleared and _too_hot(r)]
        if live:
            yield _live(place, live, plan)
        if stay:
            yield _stays(place, stay)
        if slow:
            yield _slow(place, slow, inverter=tree.root(place) in plan.site.inverters)
        if hot:
            yield _hot(place, hot, plan)
    yield from _open_questions(by_place)


def _open_questions(by_place: dict[str, list[FaultResult]]) -> Iterator[Finding]:
    """Yield what can't be told, one finding for each reason."""
    unsure = {p: [r for r in there if _unknown(r)] for p, there in by_place.items()}
    open_ = {p: [r for r in there if not r.cleared] for p, there in unsure.items()}
    own = {p: there for p, there in open_.items() if there and not any(r.utility for r in there)}
    ahead = [p for p, there in open_.items() if there and p not in own]
    if own:
        who = listed(list(dict.fromkeys(n for there in own.values() for n in there[0].ahead)))
        yield Finding(
            "fault-ahead-of-devices",
            Severity.NOTE,
            next(iter(own)),
            "faults that only a generator's own protection ends",
            f"At {listed(list(own))} no device of the site stands between the fault and {who}. How "
            "long it lasts depends on the protection of that source, which is not described here.",
            f"Ask the maker of {who} what stops it on a fault, and how fast. A breaker at its "
            "terminals, described as the device of the run, brings the rest of the circuit "
            "behind one.",
        )
    if ahead:
        yield Finding(
            "fault-ahead-of-devices",
            Severity.NOTE,
            ahead[0],
            "faults that only the utility's protection ends",
            f"At {listed(ahead)} no device of the site stands ahead of the fault. How long it "
            "lasts depends on the utility's protection, which is not described here.",
            "Ask the utility what protects the supply and how fast. Their parts are their work.",
        )
    wanted = [m for there in unsure.values() for r in there if r.cleared for m in r.missing]
    if wanted:
        places = [p for p, there in unsure.items() if any(r.missing for r in there)]
        yield Finding(
            "breaker-curve-missing",
            Severity.CANNOT_TELL,
            places[0],
            "a breaker may be fast enough or too slow",
            f"For faults at {listed(places)} the limits of the breaker's standard leave open "
            f"whether it opens at once or after more than {seconds(LONGEST_S)}.",
            f"Give {listed(list(dict.fromkeys(wanted)))}.",
        )
    hot = {
        p: [r for r in there if r.cleared and not r.missing and r.heat is not None]
        for p, there in unsure.items()
    }
    if any(hot.values()):
        places = [p for p, there in hot.items() if there]
        yield Finding(
            "let-through-missing",
            Severity.CANNOT_TELL,
            places[0],
            "whether conductors bear a fault depends on the device's let-through energy",
            f"For faults at {listed(places)} the device opens within the first cycles. A conductor "
            "then takes what the device lets through, which is not known.",
            f"Compare with the maker's figure (I2t): {_bearable(hot)}. Below that the conductor "
            "bears the fault; where the maker gives none, ask for device and conductor tested "
            "together, or take a larger conductor or a current-limiting fuse.",
        )


def _bearable(hot: dict[str, list[FaultResult]]) -> str:
    """Say what each device may let through, at which current, for the weakest conductor."""
    least: dict[str, tuple[float, str]] = {}
    for result in (r for there in hot.values() for r in there if r.heat is not None):
        opening, heat = result.openings[0], result.heat
        if heat is None:
            continue
        name = device_name(opening.device, opening.at, opening.rating.split(",")[0])
        bears = heat.allowed_i2t
        told = (
            f"{name} at {amps(opening.current)} may let through {bears:.2g} A2s for the "
            f"{heat.size} of {heat.id}"
        )
        if name not in least or bears < least[name][0]:
            least[name] = (bears, told)
    first = [told for _, told in least.values()]
    more = f" and {counted(len(first) - _TOLD, 'other device')}" if len(first) > _TOLD else ""
    return "; ".join(first[:_TOLD]) + more


def _unknown(result: FaultResult) -> bool:
    return result.verdict is Verdict.CANNOT_TELL


def _too_hot(result: FaultResult) -> bool:
    return result.heat is not None and result.heat.verdict is Verdict.FALLS_SHORT


def _live(place: str, live: Sequence[FaultResult], plan: Plan) -> Finding:
    worst = max(live, key=lambda r: r.live_after)
    way = returns_by(worst, plan)
    if worst.current > CLEARED_A and worst.live_after < QUIET_V:
        return _weak(place, worst, way)
    home = way if way == "no way back" else f"home by {way}"
    return Finding(
        "fault-not-cleared",
        Severity.DANGER,
        place,
        f"a line on the metal of {place} trips nothing",
        f"If a line touches metal at {place}, {amps(worst.current)} flows "
        f"({home}), nothing opens, and the metal stays at "
        f"{volts(worst.live_after)}.",
        "Keep it off until the metal path back to the source is mended: see the findings on ties "
        "and equipment grounding conductors. A ground rod is no substitute.",
    )


def _weak(place: str, worst: FaultResult, way: str) -> Finding:
    """The metal path is sound, and the source gives too little to open anything."""
    return Finding(
        "fault-not-cleared",
        Severity.FALLS_SHORT,
        place,
        f"a line on the metal of {place} opens no device",
        f"If a line touches metal at {place}, {amps(worst.current)} flows home by {way}, and the "
        "metal stays near earth: the way back is sound. But no device on the way opens on so "
        "little, so the fault goes on until the source stops by itself.",
        f"{_SOURCE} Leave the metal path as it is; a ground rod changes nothing.",
    )


_SOURCE: Final = (
    "Ask the maker of the source how it stops on a short circuit to metal and within what time, "
    "and have that on record; a device on its way has to open on what it can give."
)


def _stays(place: str, stay: Sequence[FaultResult]) -> Finding:
    worst = min(stay, key=lambda r: r.current)
    return Finding(
        "fault-not-cleared",
        Severity.DANGER,
        place,
        f"a fault at {place} trips nothing",
        f"{capital(str(worst.fault))}: {amps(worst.current)} flows and nothing opens. Conductors "
        "can burn.",
        "Shorter or larger conductors, or a smaller device; have it designed.",
    )


def _slow(place: str, slow: Sequence[FaultResult], *, inverter: bool) -> Finding:
    worst = max(slow, key=lambda r: r.clearing)
    return Finding(
        "fault-cleared-late",
        Severity.FALLS_SHORT,
        place,
        f"a fault at {place} is cleared too late",
        f"{capital(str(worst.fault))}: {amps(worst.current)} flows, and it can take "
        f"{seconds(worst.clearing)} until it stops.",
        f"An inverter feeds it: larger conductors don't help. {_SOURCE}"
        if inverter
        else "A lower instantaneous or short-time setting of the device ahead, where it has one, a "
        "smaller device, larger conductors or a shorter run; have it designed.",
    )


def _hot(place: str, hot: Sequence[FaultResult], plan: Plan) -> Finding:
    worst = max(hot, key=lambda r: r.heat.temperature - r.heat.limit if r.heat else 0.0)
    heat = worst.heat
    what = f"{heated_name(heat, plan)} ({heat.size})" if heat is not None else "a conductor"
    return Finding(
        "conductor-overheats",
        Severity.FALLS_SHORT,
        place,
        f"a fault at {place} overheats a conductor",
        f"{capital(str(worst.fault))}: {amps(worst.current)} for up to "
        f"{seconds(worst.clearing)} heats {what} beyond its limit.",
        "A larger conductor or a faster device; have it designed.",
    )


def stray_findings(study: StrayStudy, plan: Plan) -> tuple[Finding, ...]:
    """Return one finding for each tie that puts neutral current on metal."""
    by_tie: dict[str, list[str]] = {}
    for current in study.currents:
        if current.nature is Nature.OBJECTIONABLE and current.causes:
            by_tie.setdefault(current.causes[0], []).append(tell_current(current, plan))
    return (
        *_stray_by_tie(by_tie, plan),
        *(
            Finding(
                "sources-circulate",
                Severity.NOTE,
                supply.name,
                "harmonic current circulates between sources in parallel",
                tell_shared(supply),
                "Size its neutral, and what protects it, for that current. Machines with windings "
                "of one pitch (two thirds best), a reactor in the neutral, or only one of the "
                "machines with its neutral on the bus keep it down; its maker and a designer of "
                "such plants decide. Never lift a neutral or a bond of a plant that can run.",
            )
            for supply in study.supplies
            if supply.beside
            and supply.rated is not None
            and supply.circulating >= CIRCULATING * supply.rated
        ),
    )


def _stray_by_tie(by_tie: dict[str, list[str]], plan: Plan) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            "stray-current",
            Severity.FALLS_SHORT,
            tie,
            "neutral current runs on metal in normal use",
            " ".join(told[:2])
            + (f" {counted(len(told) - 2, 'more path')} in the table." if len(told) > 2 else ""),
            capital(cure(plan, tie).removeprefix("Cure: ")),
        )
        for tie, told in by_tie.items()
    )


def backfeed_findings(plan: Plan) -> tuple[Finding, ...]:
    """Return a finding for every state in which a source on site feeds a utility that is off."""
    site = plan.site
    found: dict[str, list[str]] = {}
    for state in states(site):
        for name in site.sources:
            if name in state.energised and name not in state.on:
                found.setdefault(name, []).append(state.id)
    return tuple(
        Finding(
            "source-feeds-utility",
            Severity.DANGER,
            name,
            "a source on site puts voltage on the utility's line",
            f"{capital(name)} is off in state {listed(those)}, and nothing is open between it and "
            "a source on site that is on: its line is live, at high voltage behind its "
            "transformer, and can kill whoever works on it.",
            "Never run it so. A transfer switch, or a disconnect that opens before the source "
            "starts and can't be closed while it runs, has to part the two; if there is one, "
            "say that it is open ('open') or how the switch stands ('transfers').",
        )
        for name, those in found.items()
    )


ROUGH: Final = 1e-3
"""Sum of currents at a node, over the largest current, above which an answer is no longer one."""


def residual_findings(residuals: Residuals) -> tuple[Finding, ...]:
    """Return a finding where the circuit was not solved as well as numbers allow elsewhere.

    Args:
        residuals: the worst of all solutions.
    """
    if residuals.kirchhoff <= ROUGH and residuals.power <= ROUGH:
        return ()
    worst = max(residuals.kirchhoff, residuals.power)
    return (
        Finding(
            "solution-rough",
            Severity.CANNOT_TELL,
            "circuit",
            "the circuit could not be solved exactly",
            f"Currents and power agree to {worst:.1g} of the largest only. Impedances that are "
            "many decades apart do that: a run of a millimetre, or a source of a thousand MVA, "
            "beside the rest. Numbers of this site may be wrong by more than that.",
            "Leave out or lengthen what has next to no impedance, and check the ratings.",
        ),
    )


def duty_findings(duties: Sequence[Duty]) -> tuple[Finding, ...]:
    """Return a finding for every device that may have to interrupt more than it can."""
    return tuple(
        Finding(
            "interrupting-rating",
            Severity.DANGER,
            duty.at,
            "a device that may not be able to interrupt",
            f"{device_name(duty.device, duty.at, duty.rating)}: "
            f"{duty.judgement.because}. A device that has to interrupt more than it is made for "
            "can burst.",
            "A device with a higher interrupting rating, or one ahead that is tested with it in "
            "series.",
        )
        for duty in duties
        if duty.judgement.verdict == "falls short"
    )
