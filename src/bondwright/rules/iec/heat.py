"""Conductors by the heat of the fault: the least size, and whether one bears it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from bondwright.catalog.device_rating import DeviceRating
from bondwright.catalog.iec_tables import LARGE_MM2
from bondwright.catalog.safety_data import heating_constants
from bondwright.catalog.sizes import Conductor, Material
from bondwright.catalog.sources import Source, Status
from bondwright.devices.let_through import let_through
from bondwright.rules.answer import Answer, Verdict, need_words
from bondwright.rules.iec.ruleset import DEFAULT_RULES, clause
from bondwright.rules.iec.sizing import Insulation, Laid, factor, made, mm2, strength
from bondwright.rules.inputs import CannotTellError

_EQUAL = 1e-9


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault that a protective conductor has to bear.

    Attributes:
        current_a: prospective r.m.s. current, A.
        time_s: until the device has opened for sure, s.
        let_through_i2t: energy the device lets through at that current, A2 s, from its maker.
    """

    current_a: float
    time_s: float
    let_through_i2t: float | None = None

    def __post_init__(self) -> None:
        for value, what in ((self.current_a, "current of"), (self.time_s, "time of")):
            if not 0 < value < math.inf:
                raise ValueError(f"a fault {what} {value:g} is not possible; give a magnitude")
        if self.let_through_i2t is not None and not 0 < self.let_through_i2t < math.inf:
            raise ValueError(f"an energy of {self.let_through_i2t:g} A2 s is not possible")


def by_heat(
    fault: Fault,
    material: Material = Material.CU,
    rules: str = DEFAULT_RULES,
    *,
    laid: Laid = Laid.IN_CABLE,
    insulation: Insulation = Insulation.PVC_70,
    protected: bool = True,
) -> Answer:
    """Return the least protective conductor by the heat of the fault, ``S = sqrt(I2 t) / k``.

    IEC 60364-5-54 543.1.2, for disconnection within 5 s. Below 0.1 s the energy that the device
    lets through stands for ``I2 t``.

    Args:
        fault: current, time, and energy let through where known.
        material: metal of the protective conductor.
        rules: name of the rule set.
        laid: how it lies.
        insulation: its own, or that of its cable.
        protected: whether one outside a cable is protected against mechanical damage.

    Raises:
        CannotTellError: above 5 s, or below 0.1 s without the energy let through.
        UnknownFamilyRulesError: no such rule set.
    """
    rule = "iec-protective-adiabatic"
    where = clause(rule, rules)
    limits = heating_constants()
    if fault.time_s > limits.longest_s * (1 + _EQUAL):
        problem = f"{fault.time_s:g} s is longer than the formula serves"
        missing = f"disconnect within {limits.longest_s:g} s"
        raise CannotTellError(rule, where, problem, missing)
    short = fault.time_s < limits.let_through_below_s * (1 - _EQUAL)
    energy = fault.current_a**2 * fault.time_s
    words = f"{fault.current_a:g} A for {fault.time_s:g} s: {energy:,.0f} A2 s"
    if short and fault.let_through_i2t is None:
        problem = f"below {limits.let_through_below_s:g} s the energy let through decides"
        raise CannotTellError(rule, where, problem, "give the device maker's figure for it")
    if short and fault.let_through_i2t is not None:
        energy = fault.let_through_i2t
        words = f"the device lets through {energy:,.0f} A2 s"
    found = factor(laid, material.value, insulation)
    area = math.sqrt(energy) / found.k
    if area > LARGE_MM2:
        found = factor(laid, material.value, insulation, area)
        area = math.sqrt(energy) / found.k
    because = [
        "The protective conductor has to bear the heat of the fault until the device opens.",
        f"{words[:1].upper()}{words[1:]}; with k = {found.k:g} (table {found.table}, "
        f"{found.initial_c:g} to {found.final_c:g} degC) that asks {mm2(area)}.",
    ]
    least, least_status = strength(material, laid, protected, because)
    status = found.source.status
    if least > area:
        status = Status.least_sure(status, least_status)
    inputs = [
        ("fault current", f"{fault.current_a:g} A"),
        ("disconnection time", f"{fault.time_s:g} s"),
        ("conductor metal", material.value),
        ("laid", laid.value),
    ]
    if fault.let_through_i2t is not None:
        inputs.append(("energy let through", f"{fault.let_through_i2t:g} A2 s"))
    return made(rule, rules, area, least, material, because, inputs, status)


@dataclass(frozen=True, slots=True)
class HeatVerdict:
    """Whether a conductor bears a fault.

    Attributes:
        verdict: holds, falls short or cannot tell.
        energy_i2t: energy reckoned with, A2 s.
        allowed_i2t: energy it bears, ``k2 S2``, A2 s.
        basis: "adiabatic" or "let-through".
        because: the reasons, for a person.
        clause: where the rules say so.
        sources: where the factors come from.
        rule: permanent id of the rule.
    """

    verdict: Verdict
    energy_i2t: float
    allowed_i2t: float
    basis: str
    because: tuple[str, ...]
    clause: str
    sources: tuple[Source, ...]
    rule: str = "iec-withstand"

    def __post_init__(self) -> None:
        need_words(*self.because)


def bears(
    conductor: Conductor,
    fault: Fault,
    device: DeviceRating | None = None,
    rules: str = DEFAULT_RULES,
    *,
    laid: Laid = Laid.IN_CABLE,
    insulation: Insulation = Insulation.PVC_70,
) -> HeatVerdict:
    """Judge whether a conductor bears a fault.

    Up to 0.1 s the energy that the device lets through decides. Where nobody has said it, the
    published limit of the device's class may prove that the conductor holds, but never that it
    falls short: a breaker that trips at once lets through far less than 0.1 s of the current.

    Args:
        conductor: one conductor; of parallel sets the fault is taken through each.
        fault: current, time, and energy let through where known.
        device: what clears it, for its class limit.
        rules: name of the rule set.
        laid: how the conductor lies.
        insulation: its own, or that of its cable.

    Raises:
        CatalogError: the tables have no factor k for it.
        UnknownFamilyRulesError: no such rule set.
    """
    limits = heating_constants()
    area = conductor.size.area_mm2
    found = factor(laid, conductor.material.value, insulation, area)
    allowed = (found.k * area) ** 2
    energy = fault.current_a**2 * fault.time_s
    sources = [found.source]
    said = [f"It bears {found.k:g}^2 x {area:g}^2 = {allowed:,.0f} A2 s (table {found.table})."]
    basis = "adiabatic"
    edge = limits.let_through_below_s
    if fault.time_s <= edge * (1 + _EQUAL) and fault.let_through_i2t is not None:
        basis, energy = "let-through", fault.let_through_i2t
        verdict = Verdict.HOLDS if energy <= allowed else Verdict.FALLS_SHORT
        said.append(f"The device lets through {energy:,.0f} A2 s at that current.")
    elif fault.time_s <= edge * (1 + _EQUAL):
        verdict, basis, energy = _quick(fault, device, allowed, energy, said, sources)
    else:
        verdict = Verdict.HOLDS if energy <= allowed else Verdict.FALLS_SHORT
        said.append(f"{fault.current_a:g} A for {fault.time_s:g} s is {energy:,.0f} A2 s.")
        longest = limits.longest_s
        least = fault.current_a**2 * longest
        if fault.time_s > longest and verdict is Verdict.FALLS_SHORT and least <= allowed:
            verdict = Verdict.CANNOT_TELL
            said.append(f"Beyond {longest:g} s heat is lost meanwhile, and the sum asks too much.")
    return HeatVerdict(
        verdict, energy, allowed, basis, tuple(said), clause("iec-withstand", rules), tuple(sources)
    )


def _quick(
    fault: Fault,
    device: DeviceRating | None,
    allowed: float,
    energy: float,
    said: list[str],
    sources: list[Source],
) -> tuple[Verdict, str, float]:
    """Judge a fault cleared within 0.1 s whose energy let through nobody has said."""
    limits = heating_constants()
    known = let_through(device, fault.current_a) if device is not None else None
    if known is not None and known.i2t <= allowed:
        said.append(f"Of its kind it is known that {known.because}.")
        sources.append(known.source)
        return Verdict.HOLDS, "let-through", known.i2t
    at_edge = fault.time_s >= limits.let_through_below_s * (1 - _EQUAL)
    if energy * (1.0 if at_edge else limits.most_asymmetry) <= allowed:
        said.append(f"{fault.current_a:g} A for {fault.time_s:g} s is {energy:,.0f} A2 s.")
        return Verdict.HOLDS, "adiabatic", energy
    said.append(
        f"{fault.current_a:g} A for {fault.time_s:g} s would be {energy:,.0f} A2 s, but the "
        "device opens within that time, as a rule far sooner; what it lets through decides, and "
        "the maker's figure is missing. The formula at 0.1 s is no reason to call the conductor "
        "too small."
    )
    if known is not None:
        said.append(
            f"The limit of its class doesn't settle it: {known.because}, at its rated capacity."
        )
    return Verdict.CANNOT_TELL, "let-through", energy
