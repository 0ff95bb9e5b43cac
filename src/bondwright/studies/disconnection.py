"""Whether every fault to exposed metal is disconnected in the time that IEC 60364 allows.

The network says what flows, what opens and when; the rules say how long it may last and how high
the loop may be. Both have to agree before a place holds: the loop by its limit, and the fault as
it was followed by its time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.device_settings import GFCI
from bondwright.catalog.iec_tables import iec_number
from bondwright.catalog.systems import VoltageSystem
from bondwright.network.build import Network
from bondwright.rules.answer import Finding, Severity, Verdict
from bondwright.rules.families import earthing_of
from bondwright.rules.iec.arrangements import Earthing
from bondwright.rules.iec.electrode_loops import judge_tt
from bondwright.rules.iec.installation import devices_ahead
from bondwright.rules.iec.intake import main_terminals
from bondwright.rules.iec.isolated import it_second_limit, judge_it_second
from bondwright.rules.iec.loops import Loop, judge_loop, worst_first
from bondwright.rules.iec.ruleset import clause, is_iec
from bondwright.rules.iec.times import disconnection_time
from bondwright.rules.inputs import CannotTellError
from bondwright.rules.paths import MetalPaths
from bondwright.site.model import PlaceKind
from bondwright.studies.bare import faults_to_metal, standing_metal, without_metal
from bondwright.studies.faults import (
    CLEARED_A,
    Fault,
    FaultKind,
    FaultResult,
    study_fault,
)

_EQUAL = 1e-9
_NOMINAL = (120.0, 230.0, 400.0)
_NEAR = 0.01
FINAL_KINDS = frozenset({PlaceKind.OUTLET, PlaceKind.EQUIPMENT, PlaceKind.BOX})
"""Kinds of place that end a final circuit."""
_UNSTABLE = "iec-electrode-unstable"


@dataclass(frozen=True, slots=True)
class Disconnection:
    """Whether a fault to exposed metal at a place is disconnected in time.

    Attributes:
        place: where the fault is.
        earthing: arrangement of the system there.
        device: the overcurrent device of the circuit, as written; "" where there is none.
        residual_device: the residual-current device ahead, as written; "" where there is none.
        final: whether it is a final circuit.
        u0_v: nominal voltage of a line to earth, V.
        current_a: fault current by the network, A; in an IT system the least that the second
            fault draws, ``U / (2 Zs)`` or ``U0 / (2 Zs)``.
        loop_ohm: loop impedance by the network, ohm; in an IT system that of the second fault.
        limit_ohm: greatest loop, or in a TT system greatest electrode, with which it
            disconnects in time, ohm; None where it can't be told.
        earth_ohm: resistance of the installation's earth, ohm; None where the loop is metal.
        allowed_s: longest time, s.
        takes_s: latest time by the network, s; infinite if never.
        opens: the device that ends it by the network; "" for none.
        verdict: whether it is disconnected in time.
        because: the sums, for a person.
        clause: where the rules say so.
        findings: what has to be known, worst first.
    """

    place: str
    earthing: Earthing
    device: str
    residual_device: str
    final: bool
    u0_v: float
    current_a: float
    loop_ohm: float
    limit_ohm: float | None
    earth_ohm: float | None
    allowed_s: float | None
    takes_s: float
    opens: str
    verdict: Verdict
    because: tuple[str, ...]
    clause: str
    findings: tuple[Finding, ...]


def study_disconnection(
    network: Network, faults: Iterable[FaultResult] | None = None
) -> tuple[Disconnection, ...]:
    """Judge the disconnection of every place that has exposed metal.

    Pipes and frames are left out of the loop: they may be cut, or replaced by plastic, at any time.

    Args:
        network: built without loads, of a site that is judged by IEC 60364; any other has none.
        faults: followed already on a network without pipes and frames; None follows them.

    Returns:
        One for each place behind a device, in walking order; of several lines the worst.
    """
    if not is_iec(network.plan.site.rules):
        return ()
    network = without_metal(network)
    plan = network.plan
    if faults is None:
        faults = faults_to_metal(network)
    by_place: dict[str, FaultResult] = {}
    for result in faults:
        fault = result.fault
        if fault.kind is not FaultKind.LINE_TO_METAL or fault.arc or fault.impedance:
            continue
        if not fault.a.startswith("L") or fault.place not in plan.site.places:
            continue
        known = by_place.get(fault.place)
        if known is None or (result.clearing, result.loop) > (known.clearing, known.loop):
            by_place[fault.place] = result
    judge = Judge(network)
    return tuple(
        judge(place, result) for place, result in by_place.items() if not result.supply_side
    )


def to_earth(system: VoltageSystem) -> float:
    """Return the nominal voltage of a line to earth, V: 230 for 400 V without a neutral.

    Table 41.1 has its edges at nominal voltages, which a quotient by the root of 3 just misses.
    """
    if system.line_to_neutral is not None:
        return system.line_to_neutral
    volts = system.line_to_line / math.sqrt(3)
    return next((one for one in _NOMINAL if abs(volts / one - 1) < _NEAR), volts)


@dataclass(frozen=True, slots=True)
class _Circuit:
    place: str
    overcurrent: DeviceRating | None
    residual: DeviceRating | None
    final: bool
    sockets: bool
    u0: float


class Judge:
    """Judges one place after the other.

    Args:
        network: without loads, pipes and frames.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self.plan = network.plan
        self.tree = network.plan.topology
        self.rules = network.plan.site.rules
        self._metal = MetalPaths(standing_metal(self.plan), neutrals=False)

    def __call__(self, place: str, result: FaultResult) -> Disconnection:
        """Return what a fault from a line to the metal of a place comes to."""
        circuit = self._circuit(place)
        origin = self.tree.systems[place].origin
        earthing = earthing_of(self.plan.site)
        if origin not in self.plan.site.sources and earthing is not Earthing.IT:
            earthing = Earthing.TN_S  # a system of the installation's own has a join of its own
        found = Disconnection(
            place=place,
            earthing=earthing,
            device=str(circuit.overcurrent or ""),
            residual_device=str(circuit.residual or ""),
            final=circuit.final,
            u0_v=circuit.u0,
            current_a=result.current,
            loop_ohm=result.loop,
            limit_ohm=None,
            earth_ohm=None,
            allowed_s=None,
            takes_s=result.clearing,
            opens=result.openings[-1].rating if result.openings and result.cleared else "",
            verdict=Verdict.CANNOT_TELL,
            because=(),
            clause=clause("iec-disconnection-time", self.rules),
            findings=(),
        )
        if circuit.overcurrent is None and circuit.residual is None:
            return replace(found, because=("No device is described ahead of it.",))
        try:
            if earthing is Earthing.TT:
                return self._tt(found, circuit)
            if earthing is Earthing.IT:
                return self._it(found, circuit, result, origin)
            return self._tn(found, circuit, result)
        except CannotTellError as error:
            said = f"{error.problem[:1].upper()}{error.problem[1:]}."
            return replace(found, because=(said,))

    def _circuit(self, place: str) -> _Circuit:
        overcurrent = residual = None
        for _, device in devices_ahead(self.tree, place):
            if overcurrent is None and device.kind is not DeviceKind.RCD:
                overcurrent = device
            if residual is None and device.residual_a is not None and device.residual_type != GFCI:
                residual = device
        node = self.plan.site.places[place]
        final = node.kind in FINAL_KINDS and not self.tree.feeds.get(place)
        sockets = node.kind is PlaceKind.OUTLET
        u0 = to_earth(self.tree.systems[place].voltages)
        return _Circuit(place, overcurrent, residual, final, sockets, u0)

    # --- TN -----------------------------------------------------------------------------------

    def _tn(self, found: Disconnection, c: _Circuit, result: FaultResult) -> Disconnection:
        device = c.overcurrent or c.residual
        if device is None:
            return found
        time = disconnection_time(
            c.u0, found.earthing, device.rating_a, self.rules, final=c.final, sockets=c.sockets
        )
        found = replace(found, allowed_s=time.time_s)
        if result.current <= CLEARED_A:
            found = replace(found, loop_ohm=math.inf)
            return self._short(found, result, (*time.because, "There is no metal way back."))
        judged = judge_loop(
            c.place,
            Loop(result.loop),
            device,
            found.earthing,
            self.rules,
            u0_v=c.u0,
            final=c.final,
            sockets=c.sockets,
            ahead=c.residual,
        )
        found = replace(
            found,
            limit_ohm=judged.limit.ohm if judged.limit else None,
            because=judged.because,
            # What a high reading would point to is no matter of a loop that was worked out.
            findings=tuple(one for one in judged.findings if one.rule != "iec-loop-high"),
        )
        return self._both(found, judged.disconnection, result)

    def _both(self, found: Disconnection, by_rule: Verdict, result: FaultResult) -> Disconnection:
        """Hold the rule's verdict against the fault as it was followed."""
        allowed = found.allowed_s or 0.0
        in_time = result.clearing <= allowed * (1 + _EQUAL)
        if by_rule is Verdict.FALLS_SHORT:
            return replace(found, verdict=by_rule)
        if in_time:
            return replace(found, verdict=Verdict.HOLDS)
        if result.unknown or result.missing:
            return replace(found, verdict=Verdict.CANNOT_TELL)
        return self._short(found, result, found.because)

    def _short(
        self, found: Disconnection, result: FaultResult, because: tuple[str, ...]
    ) -> Disconnection:
        takes = f"up to {result.clearing:.3g} s" if math.isfinite(result.clearing) else "for good"
        flows = f"{result.current:.3g} A flows as the installation is described"
        if math.isinf(found.loop_ohm):
            flows = "there is no metal way back to the source"
        rule = "iec-disconnection-time"
        told = Finding(
            rule,
            Severity.DANGER,
            found.place,
            "a fault is not disconnected in time",
            f"A line on the metal of {found.place} lasts {takes}, {found.allowed_s:g} s is "
            f"allowed: {flows}. Metal stays live meanwhile. An earth electrode doesn't mend it.",
            "Mend the metal path first where a finding says it is missing; else use larger "
            "conductors, another device or a residual-current device. Keep it off until then.",
            clause(rule, self.rules),
        )
        findings = worst_first([told, *found.findings])
        return replace(found, verdict=Verdict.FALLS_SHORT, because=because, findings=findings)

    # --- TT -----------------------------------------------------------------------------------

    def _tt(self, found: Disconnection, c: _Circuit) -> Disconnection:
        earth = self.earth_ohm(c.place)
        device = c.overcurrent or c.residual
        if device is None:
            return found
        time = disconnection_time(
            c.u0, Earthing.TT, device.rating_a, self.rules, final=c.final, sockets=c.sockets
        )
        found = replace(found, allowed_s=time.time_s, earth_ohm=earth)
        if earth is None:
            said = (*time.because, "No electrode is joined to its metal.")
            return replace(found, verdict=Verdict.FALLS_SHORT, because=said)
        if c.residual is not None:
            # The circuit's own rating decides the time, the residual element what opens.
            device = replace(c.residual, rating_a=device.rating_a)
        rest = max(0.0, found.loop_ohm - earth) if math.isfinite(found.loop_ohm) else 0.0
        judged = judge_tt(
            c.place,
            earth,
            device,
            self.rules,
            source_ohm=rest,
            u0_v=c.u0,
            final=c.final,
            sockets=c.sockets,
        )
        limit = None
        if c.residual is not None and c.residual.residual_a is not None:
            limit = iec_number("touch_limit", "ac").value / c.residual.residual_a
        verdict, findings = judged.disconnection, judged.findings
        because = judged.because
        if verdict is Verdict.HOLDS and found.takes_s > time.time_s * (1 + _EQUAL):
            verdict = Verdict.FALLS_SHORT
            because = (*because, f"As followed it takes {found.takes_s:.3g} s.")
        found = replace(found, limit_ohm=limit, verdict=verdict, because=because)
        kept = tuple(f for f in findings if f.rule != _UNSTABLE)
        return replace(found, findings=kept)

    def earth_ohm(self, place: str) -> float | None:
        """Return the resistance of the electrodes that metal joins to a place, or None."""
        ohms = [
            one.resistance
            for one in self.plan.electrodes.values()
            if one.conductor is not None and self._metal.joined((place, "G"), (one.at, "G"))
        ]
        if not ohms:
            return None
        return float(f"{1 / sum(1 / max(one, 1e-6) for one in ohms):.4g}")

    # --- IT -----------------------------------------------------------------------------------

    def _it(
        self, found: Disconnection, c: _Circuit, result: FaultResult, origin: str
    ) -> Disconnection:
        """Judge the second fault: the loop from the line to where the exposed parts meet."""
        device = c.overcurrent
        if device is None:
            return found
        time = disconnection_time(
            c.u0, Earthing.IT, device.rating_a, self.rules, final=c.final, sockets=c.sockets
        )
        neutral = any(
            self.tree.neutral_at(p) for p in self.plan.site.places if self._same(p, origin)
        )
        limit = it_second_limit(device, time.time_s, c.u0, neutral=neutral, rules=self.rules)
        loop = self._second_loop(result.fault, origin)
        found = replace(
            found, allowed_s=time.time_s, limit_ohm=limit, earth_ohm=self.earth_ohm(c.place)
        )
        if not math.isfinite(loop):
            said = (*time.because, "There is no metal way to the other exposed parts.")
            return self._short(replace(found, loop_ohm=loop), result, said)
        volts = "U0" if neutral else "U"
        second = (c.u0 if neutral else c.u0 * math.sqrt(3)) / (2 * loop)
        verdict, findings = judge_it_second(
            c.place,
            Loop(loop),
            device,
            self.rules,
            u0_v=c.u0,
            neutral=neutral,
            final=c.final,
            sockets=c.sockets,
        )
        because = (
            *time.because,
            f"The neutral is {'' if neutral else 'not '}distributed: the loop is at most {volts} "
            f"/ (2 Ia) = {limit:.4g} ohm; it is {loop:.4g} ohm, and {second:.4g} A flow.",
            *self._first(found.earth_ohm),
        )
        return replace(
            found,
            current_a=second,
            loop_ohm=loop,
            verdict=verdict,
            because=because,
            findings=findings,
        )

    def _first(self, earth: float | None) -> tuple[str, ...]:
        """What the first fault comes to, where its current is given."""
        current, most = self.plan.site.first_fault, iec_number("touch_limit", "ac").value
        if earth is None or current is None:
            return ()
        return (
            f"First fault: RA x Id = {earth:g} ohm x {current:g} A = {earth * current:.3g} V; at "
            f"most {most:g} V.",
        )

    def _same(self, place: str, origin: str) -> bool:
        system = self.tree.systems.get(place)
        return system is not None and system.origin == origin

    def _second_loop(self, fault: Fault, origin: str) -> float:
        """Return the loop of line and protective conductor, ohm, as if the source were joined.

        The common point of the source is joined for the question to the metal where the
        installation's protective conductors meet.
        """
        solver = self.network.solver
        common = f"{origin}:N" if f"{origin}:N" in solver.index else f"{origin}/star"
        meets = main_terminals(self.tree, origin)
        metal = next((f"{p}:G" for p in meets if f"{p}:G" in solver.index), None)
        if metal is None or common not in solver.index:
            return math.inf
        joined = solver.join(common, metal)
        return study_fault(self.network, fault, [joined]).loop
