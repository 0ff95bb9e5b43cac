"""What a second opinion objects to in what was said of a plan.

Only what was called good is looked at: a fault that "holds", a row of the schedule that "holds", a
place that is disconnected in time, a whole site that "holds". Handbook impedances are not the
impedances of the circuit that was judged, so an objection is made only where the second opinion is
surer than its own margins: the current that opens a device may be 15 % higher than computed here,
the energy in a conductor 30 % higher than what it bears, the area of a size 1.5 % smaller.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from copy import copy
from dataclasses import dataclass, field, replace
from typing import Any, Final

from tests.second.circuit import EARTH, Circuit, Device, Element, circuit
from tests.second.opens import Points, residual, slowest
from tests.second.tables import withstands

LONGEST_S: Final = 5.0
CURRENT: Final = 1.15
"""How much more current may flow than is computed here."""
ENERGY: Final = 1.3
SOON: Final = 1.05
"""How much later a device may open by this reading than by the one that is judged."""
AT_ONCE: Final = 0.1
"""Time, s, up to which a fuse or an energy-limiting breaker lets less through than it seems."""
QUIET: Final = 0.5
ALMOST: Final = 1.3
"""Current said of a fault that holds over the current computed here, at most."""


@dataclass(frozen=True)
class Objection:
    """Something called good that isn't, by the second opinion."""

    kind: str
    where: str
    text: str


@dataclass
class Opinion:
    """What was looked at, how far the two were apart, and what is objected to.

    ``ratios`` are currents that were said over those computed here; ``stranded`` are places without
    a metal way back, where a fault ends all the same by a residual-current device.
    """

    looked: Counter[str] = field(default_factory=Counter)
    objections: list[Objection] = field(default_factory=list)
    ratios: list[float] = field(default_factory=list)
    stranded: list[str] = field(default_factory=list)

    def object(self, kind: str, where: str, text: str) -> None:
        """Take an objection down."""
        self.objections.append(Objection(kind, where, text))

    def add(self, other: Opinion) -> None:
        """Take another opinion in."""
        self.looked += other.looked
        self.objections += other.objections
        self.ratios += other.ratios
        self.stranded += other.stranded


@dataclass(frozen=True)
class Followed:
    """A fault followed to its end by the second opinion.

    ``drawn`` is its current at the start. One that draws next to nothing and opens nothing stands
    for good: nobody sees it.
    """

    drawn: float
    time: float
    energy: Mapping[str, float]
    volts: Mapping[str, complex]
    sees: bool
    limits: bool
    by_residual: bool


class Second:
    """A second opinion on a plan in one of its states."""

    def __init__(self, plan: Any, state: Any, *, pipes: bool = True) -> None:
        self.plan, self.state = plan, state
        self.made: Circuit = circuit(plan, state, pipes=pipes)
        self.curves: dict[str, Points] = {k: slow for k, (_, slow) in plan.curves.items()}
        self._joined = _metal_joined(self.made)

    def follow(self, a: str, b: str, share: float = 1.0) -> Followed:
        """Let every device open by its slow edge, the first of them first, until it is over.

        Devices see ``share`` of the current: of a second fault that is half of what one draws.
        """
        opened: set[tuple[str, str]] = set()
        spent: dict[str, float] = {}
        energy: defaultdict[str, float] = defaultdict(float)
        walls: dict[str, float] = {}
        drawn, time, sees, limits, leaks = 0.0, 0.0, True, False, False
        steel = [e for e in self.made.elements if e.wall is not None]
        while True:
            volts, amps = self.made.solve((a, b), opened, walls)
            for _ in range(2 if steel else 0):
                walls = {e.key: abs(amps[e.key]) for e in steel}
                volts, amps = self.made.solve((a, b), opened, walls)
            current = abs(amps["fault"])
            if not drawn:
                drawn = current
            trips, unsure = self._trips({key: share * value for key, value in amps.items()})
            sees = sees and not unsure
            waits = {
                key: max(0.0, 1 - spent.get(key, 0.0)) * seconds
                for key, (seconds, _) in trips.items()
                if math.isfinite(seconds)
            }
            if current < QUIET and opened:
                return Followed(drawn, time, energy, volts, sees, limits, leaks)
            if not waits:
                return Followed(drawn, math.inf, energy, volts, sees, limits, leaks)
            first = min(waits, key=lambda key: waits[key])
            wait = waits[first]
            for key, (seconds, _) in trips.items():
                spent[key] = min(1.0, spent.get(key, 0.0) + wait / seconds)
            for e in self.made.elements:
                if e.wire is not None and e.key in amps:
                    energy[e.key] += (abs(amps[e.key]) / e.wire[2]) ** 2 * wait
            time += wait
            limits = limits or "fuse" in first or "class" in first
            leaks = leaks or first.endswith(" residual")
            opened |= trips[first][1]

    def _trips(
        self, amps: Mapping[str, complex]
    ) -> tuple[dict[str, tuple[float, set[tuple[str, str]]]], bool]:
        """Return by when what would open, and whether there is a device that nobody can tell of."""
        found: dict[str, tuple[float, set[tuple[str, str]]]] = {}
        unsure = False
        for device in self.made.devices:
            lines = {
                line: amps[f"{device.run} {line}"]
                for line in ("L1", "L2", "L3")
                if f"{device.run} {line}" in amps
            }
            if not lines:
                continue
            poles = {(device.run, line) for line in lines}
            groups = {device.key: poles}
            if "fuse" in device.text:
                groups = {f"{device.key} {pole[1]}": {pole} for pole in poles}
            for key, those in groups.items():
                most = CURRENT * max(abs(lines[line]) for _, line in those)
                time = slowest(device.text, most, self.curves)
                if time is None:
                    unsure = unsure or most > 1
                else:
                    found[f"{key} {device.text}"] = (time, those)
            left = CURRENT * abs(self._left_over(device, lines, amps))
            time = residual(device.text, left)
            if math.isfinite(time):
                found[f"{device.key} residual"] = (time, poles)
        return found, unsure

    def _left_over(
        self, device: Device, lines: Mapping[str, complex], amps: Mapping[str, complex]
    ) -> complex:
        """Return what goes out by a device's lines and doesn't come back by its neutral, A."""
        total = sum(lines.values(), 0j) + amps.get(f"{device.run} N", 0j)
        if f"{device.run} N" in amps and device.main_of:
            for tie in self.plan.ties:
                if tie.at == device.main_of and tie.line is None:
                    total -= amps[f"tie {tie.id}"]
        return total

    def way_back(self, place: str) -> bool:
        """Whether metal alone leads from a place to where its system is joined to metal."""
        origin = self.origin(place)
        mine = self._joined.get(f"{place}:G", place)
        ends = [f"{origin}:N"]
        ends += [
            f"{tie.at}:{tie.line or 'N'}" for tie in self.plan.ties if self.origin(tie.at) == origin
        ]
        joined = {self._joined.get(end) for end in ends}
        if mine in joined:
            return True
        # A grounded corner: the way home goes on by that line.
        return any(
            tie.line is not None and self._joined.get(f"{tie.at}:G") == mine
            for tie in self.plan.ties
            if self.origin(tie.at) == origin
        )

    def origin(self, place: str) -> str:
        """Return the source or the transformer whose lines feed a place."""
        site, seen = self.plan.site, set()
        while place not in seen:
            seen.add(place)
            unit = site.transformers.get(place)
            if unit is not None and len(seen) > 1 and str(unit.form) not in {"auto", "zigzag"}:
                return place
            if unit is not None and len(seen) == 1 and str(unit.form) == "isolating":
                return place
            fed = [
                run.from_
                for name, run in site.runs.items()
                if run.to == place and name not in self.state.topology.idle
            ]
            if not fed or place in site.sources:
                return place
            place = fed[0]
        return place


def _metal_joined(made: Circuit) -> dict[str, str]:
    """Return for each node a name for all that metal and neutrals join, no line and no earth."""
    parent: dict[str, str] = {}

    def top(node: str) -> str:
        while parent.setdefault(node, node) != node:
            node = parent[node]
        return node

    for e in made.elements:
        if EARTH not in (e.a, e.b) and not (e.terminal.startswith("L")) and ":L" not in e.a:
            parent[top(e.a)] = top(e.b)
    return {node: top(node) for node in list(parent)}


def faults(second: Second, results: Iterable[Any]) -> Opinion:
    """Look at every fault that is said to hold.

    Args:
        second: the second opinion.
        results: what was said of faults, of the same plan and state.
    """
    found = Opinion()
    for result in results:
        f = result.fault
        if str(result.verdict) != "holds" or str(f.kind).startswith(("three", "second", "neutral")):
            continue
        if f.arc or f.impedance or result.first_of_two:
            continue
        _fault(second, result, found)
    return found


def _fault(second: Second, result: Any, found: Opinion) -> None:
    f = result.fault
    where = str(f)
    to_metal = str(f.kind) == "line to metal"
    found.looked["fault to metal" if to_metal else "other fault"] += 1
    site = second.plan.site
    told = second.follow(f"{f.place}:{f.a}", f"{f.place}:{f.b}")
    if to_metal and f.a.startswith("L") and site.earthing not in {"TT", "IT"}:
        found.looked["way back"] += 1
        if not second.way_back(f.place):
            found.stranded.append(f.place)
            if not told.by_residual:  # one that acts on what leaks needs no metal to open
                found.object("live metal", where, "no metal leads back to its source")
    if not told.sees:
        found.looked["device of unknown curve"] += 1
        return
    found.ratios.append(result.current / max(told.drawn, 1e-9))
    if result.current > ALMOST * told.drawn:
        said = f"{result.current:.4g} A is said to flow, {told.drawn:.4g} A by handbook impedances"
        found.object("current", where, said)
    if told.time > SOON * LONGEST_S:
        said = (
            f"said to clear in {result.clearing:.3g} s; {told.drawn:.4g} A take {told.time:.3g} s"
        )
        found.object("does not clear", where, said)
        return
    if told.limits and told.time <= AT_ONCE:
        return  # what such a device lets through is less than current squared times time
    after = 160.0 if str(site.rules).startswith("iec") else 150.0
    for e in second.made.elements:
        if e.wire is None or e.key not in told.energy:
            continue
        bears = withstands(e.wire[0], e.wire[1], second.plan.temperature, after)
        if told.energy[e.key] > ENERGY * bears:
            said = f"{told.energy[e.key]:.3g} A2s in {e.key}, a {e.wire[0]} bears {bears:.3g} A2s"
            found.object("conductor too hot", where, said)


# --- IEC 60364-4-41 table 41.1 -----------------------------------------------------------------

# u0 up to, TN ac, TT ac; the values of 230 V confirmed.
_FINAL: Final = ((120.0, 0.8, 0.3), (230.0, 0.4, 0.2), (400.0, 0.2, 0.07), (math.inf, 0.1, 0.04))


def disconnections(second: Second, said: Iterable[Any]) -> Opinion:
    """Look at every place that is said to be disconnected in time (``second`` without pipes)."""
    found = Opinion()
    for one in said:
        if str(one.verdict) != "holds":
            continue
        found.looked["disconnection"] += 1
        place = second.plan.site.places[one.place]
        text = one.device or one.residual_device
        amps = float(text.split()[0].lstrip("BCD").split(",")[0].split("/")[0])
        ends = str(place.kind) in {"outlet", "equipment", "box"} and not any(
            run.from_ == one.place for run in second.plan.site.runs.values()
        )
        small = amps <= (63 if str(place.kind) == "outlet" else 32)
        row = next(row for row in _FINAL if one.u0_v <= row[0] * 1.001)
        tt = str(one.earthing) == "TT"
        allowed = row[2 if tt else 1] if ends and small else (1.0 if tt else 5.0)
        lines = [li for li in ("L1", "L2", "L3") if f"{one.place}:{li}" in _nodes(second.made)]
        asked, share = second, 1.0
        if str(one.earthing) == "IT":
            asked, share = _second_fault(second, one)
        for line in lines:
            told = asked.follow(f"{one.place}:{line}", f"{one.place}:G", share)
            if told.sees and told.time > allowed * SOON:
                text = f"{told.drawn:.4g} A take {told.time:.3g} s, {allowed:g} s is allowed"
                found.object("not disconnected in time", f"{line} at {one.place}", text)
        if str(one.earthing).startswith("TN") and not second.way_back(one.place):
            found.object("live metal", one.place, "no metal leads back to its source")
    return found


def _second_fault(second: Second, one: Any) -> tuple[Second, float]:
    """Join the source's common point to metal, and say how much of that a second fault draws.

    ``U / (2 Zs)``, or ``U0 / (2 Zs)`` where the neutral goes along (IEC 60364-4-41 411.6.4).
    """
    origin = second.origin(one.place)
    star = f"{origin}:N"
    if not any(star in row for w in second.made.windings for row in w.rows):
        star = f"{origin}/star"
    first = next(r.to for r in second.plan.site.runs.values() if r.from_ == origin)
    again = copy(second)
    again.made = replace(second.made, elements=list(second.made.elements))
    again.made.elements.append(Element("join for a second fault", star, f"{first}:G", 1e-6))
    neutral = any(f"{p}:N" in _nodes(second.made) for p in second.plan.site.places)
    return again, 0.5 if neutral else math.sqrt(3) / 2


def _nodes(made: Circuit) -> set[str]:
    return {n for e in made.elements for n in (e.a, e.b)}
