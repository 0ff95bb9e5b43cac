"""What a fault does to the conductors that carry it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.safety_data import heating_constants
from bondwright.catalog.sizes import Conductor
from bondwright.devices.let_through import let_through
from bondwright.network.build import Network
from bondwright.rules.answer import Verdict
from bondwright.rules.iec.ruleset import is_iec
from bondwright.safety.withstand import melting_c, temperature_after, withstand
from bondwright.studies.clearing import Course
from bondwright.studies.fault_model import DAMAGE_C, Heat, damage_c, heated_s

_WORST_FIRST = (Verdict.FALLS_SHORT, Verdict.CANNOT_TELL, Verdict.HOLDS)


def worst_heat(network: Network, course: Course) -> Heat | None:
    """Return the conductor that a fault treats worst, or None where none is heated.

    A current that never stops is judged by the verdict on clearing, not by adiabatic heat.
    """
    return max(
        heats(network, course),
        key=lambda heat: (-_WORST_FIRST.index(heat.verdict), heat.temperature - heat.limit),
        default=None,
    )


def heats(network: Network, course: Course) -> Iterator[Heat]:
    """Yield what a fault does to every conductor, one after the other."""
    limited = _limited(network, course)
    loose = any(opening.loose for opening in course.openings)
    for (name, conductor), i2t in course.energy.items():
        wire = wire_of(network, name, conductor)
        if wire is None or math.isinf(i2t):
            continue
        energy = None
        if limited is not None:
            # The device is an equal limit for all that carries its current, in proportion.
            share = min(1.0, course.first.get((name, conductor), 0.0) / limited[0])
            energy = limited[1] * share**2
            if is_iec(network.plan.site.rules):
                # What flows for less than 0.1 s is never more than that, however it is limited.
                energy = min(energy, i2t * heating_constants().most_asymmetry)
        time, limit = heated_s(network.plan, course.time), damage_c(network.plan)
        initial = network.plan.temperature
        heat = judge(wire, i2t, time, initial, energy, name, conductor, limit)
        if heat.verdict is Verdict.FALLS_SHORT and loose:
            early = course.early.get((name, conductor), math.inf)
            quick = judge(wire, early, course.fastest, initial, None, limit=limit)
            if quick.verdict is not Verdict.FALLS_SHORT:
                heat = replace(
                    heat,
                    verdict=Verdict.CANNOT_TELL,
                    because="only by the slow edge of a breaker whose curve is not known",
                    basis="adiabatic",
                )
        yield heat


def judge(
    wire: Conductor,
    i2t: float,
    seconds: float,
    initial: float,
    energy: float | None,
    name: str = "",
    conductor: str = "",
    limit: float = DAMAGE_C,
) -> Heat:
    """Judge one conductor.

    Args:
        wire: the conductor; each of its parallel sets takes its own current.
        i2t: what it takes by the devices' bands, A2s.
        seconds: in how long, s.
        initial: temperature before, degC.
        energy: what the device lets through to it below 0.1 s, A2s, where that is known.
        name: of the run or electrode.
        conductor: of the run's conductors.
        limit: temperature that must not be exceeded, degC.
    """
    found = withstand(
        wire.area_cmil,
        wire.material,
        math.sqrt(i2t / seconds) if seconds > 0 else 0.0,
        max(seconds, 1e-6),
        let_through_i2t=energy,
        t_initial_c=initial,
        t_final_c=max(limit, initial + 1e-6),
    )
    taken = found.i2t if found.basis == "let-through" else i2t
    reached = temperature_after(wire.area_cmil, wire.material, taken, initial)
    if reached >= melting_c(wire.material):
        reached = math.inf
    return Heat(
        name,
        conductor,
        f"{wire.size} {wire.material}",
        taken,
        reached,
        limit,
        Verdict(found.verdict),
        found.because,
        found.basis,
        found.allowed_i2t,
    )


def wire_of(network: Network, name: str, conductor: str) -> Conductor | None:
    """Return the wire of a run or electrode by its name; None for a raceway and other metal."""
    run = network.plan.runs.get(name)
    base = conductor.partition(".")[0]
    if run is not None:
        return {"N": run.neutral, "metal": run.metal, "raceway": None}.get(base, run.lines)
    electrode = network.plan.electrodes.get(name)
    return electrode.conductor if electrode is not None else None


def _limited(network: Network, course: Course) -> tuple[float, float] | None:
    """Return current [A] and energy [A2s] of a current-limiting device that ends the fault alone.

    Only where it is the one device that opens: what a second one adds isn't known.
    """
    if len({opening.device for opening in course.openings}) != 1 or not course.cleared:
        return None
    opening = course.openings[0]
    rating: DeviceRating = network.devices[opening.device].rating
    found = None if opening.residual else let_through(rating, opening.current)
    return None if found is None else (opening.current, found.i2t)
