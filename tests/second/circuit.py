"""A plan as a plain circuit: one resistance and one handbook reactance for every conductor.

Conductors are not coupled, parallel sets share alike, electrodes don't lift each other, there are
no loads and no motors. A steel raceway has the resistance of its wall, or that of the saturated
skin where that is thinner (P. D. Agarwal, "Eddy-current losses in solid and laminated iron", 1959).
"""

from __future__ import annotations

import cmath
import itertools
import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from scipy.sparse import coo_array, csc_array
from scipy.sparse.linalg import splu

from tests.second.tables import FOOT, REACTANCE, TOUCHING, resistance

Complex = npt.NDArray[np.complex128]
Rows = tuple[Mapping[str, complex], ...]
EARTH: Final = "earth"
LEAK: Final = 1e-7
"""Siemens of every node to earth, so that what floats has a voltage."""
TURN: Final = cmath.rect(1, -2 * math.pi / 3)
STEEL: Final = (13.8e-8, 0.0045, 1.4)
"""Resistivity at 20 degC, its temperature coefficient, and the flux density of a saturated skin, T
(three quarters of saturation)."""
FAR: Final = 0.35e-3
"""Reactance of pipes and frames, which lie far from the lines, ohm/m at 60 Hz."""


@dataclass(frozen=True)
class Element:
    """A conductor or a join between two nodes.

    ``run`` is the run or other thing it is of and ``terminal`` what it carries on (L1, N, G);
    ``wire`` is (size, metal, how many), None for what isn't wire; ``wall`` is (inside radius,
    outside radius, length, how many) of a steel raceway, m.
    """

    key: str
    a: str
    b: str
    z: complex
    run: str = ""
    terminal: str = "G"
    wire: tuple[str, str, int] | None = None
    wall: tuple[float, float, float, int] | None = None
    device: str = ""


@dataclass(frozen=True)
class Winding:
    """Voltages behind a matrix: rows of weights of nodes, admittance, and what drives it."""

    rows: Rows
    admittance: Complex
    drive: tuple[complex, ...]


@dataclass(frozen=True)
class Device:
    """A device: in which run's lines it stands, and whether at their end (a main)."""

    key: str
    text: str
    run: str
    main_of: str = ""


@dataclass
class Circuit:
    """Everything of a plan in one of its states."""

    elements: list[Element] = field(default_factory=list)
    windings: list[Winding] = field(default_factory=list)
    devices: list[Device] = field(default_factory=list)
    omega: float = 377.0
    temperature: float = 75.0

    def solve(
        self,
        fault: tuple[str, str] | None,
        opened: Collection[tuple[str, str]] = (),
        walls: Mapping[str, float] | None = None,
    ) -> tuple[dict[str, complex], dict[str, complex]]:
        """Return voltages by node and currents by element key, without the lines that are open.

        ``fault`` joins two nodes; ``walls`` are currents in steel raceways, A.
        """
        live = [e for e in self.elements if (e.run, e.terminal) not in opened]
        if fault is not None:
            live.append(Element("fault", *fault, 1e-6, terminal="fault"))
        names = {n for e in live for n in (e.a, e.b)}
        names |= {n for w in self.windings for row in w.rows for n in row}
        index = {name: k for k, name in enumerate(sorted(names - {EARTH}))}
        size = len(index)
        at: list[tuple[int, int]] = [(k, k) for k in range(size)]
        values: list[complex] = [LEAK] * size
        drawn = np.zeros(size, complex)
        z = {e.key: self.impedance(e, (walls or {}).get(e.key, 100.0)) for e in live}
        for e in live:
            _stamp(index, at, values, ({e.a: 1, e.b: -1},), np.array([[1 / z[e.key]]]))
        for w in self.windings:
            _stamp(index, at, values, w.rows, w.admittance)
            currents = w.admittance @ np.array(w.drive)
            for row, current in zip(w.rows, currents, strict=True):
                for node, weight in row.items():
                    if node != EARTH:
                        drawn[index[node]] -= weight * current
        where = tuple(np.array(at).T)
        matrix = csc_array(coo_array((np.array(values), where), shape=(size, size)))
        x = splu(matrix).solve(drawn)
        volts = {name: complex(x[k]) for name, k in index.items()} | {EARTH: 0j}
        return volts, {e.key: (volts[e.a] - volts[e.b]) / z[e.key] for e in live}

    def impedance(self, e: Element, amps: float) -> complex:
        """Return the impedance of an element; that of a steel raceway depends on its current."""
        if e.wall is None:
            return e.z
        inside, outside, length, count = e.wall
        rho, alpha, flux = STEEL
        rho *= 1 + alpha * (min(self.temperature, 75) - 20)
        dc = rho / (math.pi * (outside**2 - inside**2))
        around = 2 * math.pi * inside
        field_ = math.sqrt(2) * max(amps / count, 1.0) / around
        skin = math.sqrt(2 * rho * field_ / (self.omega * flux))
        skinned = 16 * rho / (3 * math.pi * skin * around)
        if skinned <= dc:
            return complex(dc * length / count, 0.2 * dc * length / count)
        return complex(skinned, skinned / 2) * length / count


def _stamp(
    index: Mapping[str, int],
    at: list[tuple[int, int]],
    values: list[complex],
    rows: Rows,
    admittance: Complex,
) -> None:
    for i, one in enumerate(rows):
        for j, other in enumerate(rows):
            for a, weight in one.items():
                for b, share in other.items():
                    if EARTH not in (a, b):
                        at.append((index[a], index[b]))
                        values.append(weight * share * admittance[i, j])


# --- from a plan -------------------------------------------------------------------------------


def circuit(plan: Any, state: Any, *, pipes: bool = True) -> Circuit:
    """Read a plan in one of its states; ``pipes`` False leaves metal that isn't wiring out."""
    site = plan.site
    made = Circuit(omega=2 * math.pi * plan.frequency, temperature=plan.temperature)
    share = plan.frequency / 60
    for name, source in site.sources.items():
        if name in state.on:
            made.windings += _source(name, source)
        common = f"{name}:N" if str(source.system.winding) != "three-phase delta" else ""
        if common and site.earthing != "IT":
            made.elements.append(Element(f"ground of {name}", common, f"{name}:G", 1e-6))
        ohms = 10.0 if source.electrode is None else max(source.electrode, 1e-3)
        made.elements.append(Element(f"electrode of {name}", f"{name}:G", EARTH, ohms))
    for name, generator in site.generators.items():
        if name in state.on:
            made.windings += _generator(name, generator)
    for name, inverter in site.inverters.items():
        if name in state.on and name not in plan.topology.fed_by:
            made.windings += _inverter(name, inverter)
    for name, unit in site.transformers.items():
        made.windings += _transformer(name, unit)
    for run in plan.runs.values():
        made.elements += _run(plan, state, run, share)
        device = site.runs[run.id].device
        if device is not None:
            made.devices.append(Device(f"device {run.id}", str(device), run.id))
    for name, place in site.places.items():
        if place.main is not None and name in plan.topology.fed_by:
            run = plan.topology.fed_by[name]
            made.devices.append(Device(f"main {name}", str(place.main), run, name))
    for tie in plan.ties:
        a, b = f"{tie.at}:{tie.line or 'N'}", f"{tie.at}:G"
        ohms = max(tie.resistance, 1e-6)
        made.elements.append(Element(f"tie {tie.id}", a, b, ohms, f"tie {tie.id}"))
    for name, electrode in plan.electrodes.items():
        if electrode.conductor is not None:
            made.elements += _electrode(plan, name, electrode)
    if pipes:
        for name, metal in site.metal.items():
            made.elements += _pipe(name, metal, share)
    gone = {
        (device.run, line)
        for device in made.devices
        if (device.main_of or device.run) in state.open
        for line in ("L1", "L2", "L3")
    }
    made.elements = [e for e in made.elements if (e.run, e.terminal) not in gone]
    return made


def _run(plan: Any, state: Any, run: Any, share: float) -> Iterator[Element]:
    kind = "" if run.raceway is None else str(run.raceway.kind)
    steel = kind in {"emt", "imc", "rmc"}
    lies = "touching" if run.raceway is None and run.lie not in {"open wire", "pulled"} else kind
    x = (TOUCHING if lies == "touching" else REACTANCE[steel]) / (1000 * FOOT) * share

    def wire(key: str, terminal: str, conductor: Any) -> Element:
        size, metal = str(conductor.size), str(conductor.material.value)
        each = complex(resistance(size, metal, plan.temperature), x) * run.length
        a, b = f"{run.from_}:{terminal}", _end(plan, state, run, terminal)
        z = each / conductor.sets or 1e-9
        return Element(key, a, b, z, run.id, terminal, (size, metal, conductor.sets))

    for line in run.on:
        yield wire(f"{run.id} {line}", line, run.lines)
    if run.neutral is not None:
        yield wire(f"{run.id} N", "N", run.neutral)
    if run.metal is not None:
        yield wire(f"{run.id} G", "G", run.metal)
    if run.raceway_bonded and kind and not kind.startswith("pvc"):
        a, b = f"{run.from_}:G", f"{run.to}:G"
        inside, outside = run.raceway.inside_m / 2, run.raceway.outside_m / 2
        key = f"{run.id} raceway"
        if steel:
            wall = (inside, outside, run.length, run.lines.sets)
            yield Element(key, a, b, 1.0, run.id, wall=wall)
        else:
            ohms = 3.4e-8 / (math.pi * (outside**2 - inside**2)) * run.length / run.lines.sets
            yield Element(key, a, b, ohms, run.id)


def _end(plan: Any, state: Any, run: Any, terminal: str) -> str:
    site, to = plan.site, run.to
    if terminal == "G":
        return f"{to}:G"
    if to in site.transformers:
        return f"{to}:{_lands(site.transformers[to], run, terminal)}"
    if to in site.transfers:
        switch = site.transfers[to]
        side = "normal" if run.id == switch.normal else "standby"
        stands = str(state.transfers[to])
        solid = terminal == "N" and str(switch.neutral) == "solid"
        return (
            f"{to}:{terminal}" if solid or stands in {side, "both"} else f"{to}/{side}:{terminal}"
        )
    if (to in site.inverters or to in site.generators) and terminal != "N":
        beside = site.inverters.get(to) or site.generators[to]
        words = ("L1", "N") if "two-wire" in str(beside.system.winding) else ("L1", "L2", "L3")
        at = run.on.index(terminal)
        return f"{to}:{words[at]}" if at < len(words) else f"{to}/spare:{terminal}"
    return f"{to}:{terminal}"


def _lands(unit: Any, run: Any, terminal: str) -> str:
    """Return on which primary terminal a conductor lands."""
    winding = str(unit.primary.winding)
    single = str(unit.secondary.winding).startswith("single")
    zigzag, wye = str(unit.form) == "zigzag", "wye" in winding
    if winding.startswith("single"):
        taken = ["H1", "H0"]
    else:
        taken = ["H1", "H2", "H3"]
        if str(unit.form) == "open delta" and wye:
            taken = taken[:2]
        elif single and not zigzag:
            taken = taken[: 1 if wye else 2]
    if terminal == "N":
        if zigzag:
            return "N"
        there = len(run.on) > 1 and winding.startswith("single")
        return "H0" if (wye or winding.startswith("single")) and not there else "spare:N"
    at = run.on.index(terminal)
    return taken[at] if at < len(taken) else f"spare:{terminal}"


def _electrode(plan: Any, name: str, electrode: Any) -> Iterator[Element]:
    size, metal = str(electrode.conductor.size), str(electrode.conductor.material.value)
    z = complex(resistance(size, metal, plan.temperature), 1e-3) * max(electrode.lead, 0.1)
    middle = f"electrode {name}"
    wire = (size, metal, 1)
    yield Element(f"lead of {name}", f"{electrode.at}:G", middle, z, f"lead of {name}", wire=wire)
    yield Element(f"electrode {name}", middle, EARTH, max(electrode.resistance, 1e-3))


def _pipe(name: str, metal: Any, share: float) -> Iterator[Element]:
    whole = metal.resistance
    if whole is None:
        whole = metal.per_length * metal.length
    cuts = sorted(enumerate(metal.taps), key=lambda pair: pair[1].at)
    points = [(0.0, f"{metal.from_}:G")]
    points += [(tap.at, f"{name} tap {k}") for k, tap in cuts]
    points.append((metal.length, f"{metal.to}:G"))
    for k, ((start, a), (stop, b)) in enumerate(itertools.pairwise(points)):
        length = max(stop - start, 1e-3)
        z = complex(max(whole * length / metal.length, 1e-9), FAR * share * length)
        yield Element(f"{name} {k}", a, b, z, f"metal {name}")
    for k, tap in enumerate(metal.taps):
        ohms = 1e-3 if tap.resistance is None else max(tap.resistance, 1e-6)
        yield Element(f"{name} contact {k}", f"{name} tap {k}", f"{tap.to}:G", ohms)
    if metal.earth is not None:
        for end in (metal.from_, metal.to):
            ohms = max(2 * metal.earth, 1e-3)
            yield Element(f"earth of {name} at {end}", f"{end}:G", EARTH, ohms)


# --- sources and transformers -------------------------------------------------------------------


def _angle(size: float, x_over_r: float) -> complex:
    r = size / math.hypot(1, x_over_r)
    return complex(r, r * x_over_r)


def _halves(full: complex) -> Complex:
    """Two half windings: one alone draws half as much again as both in series (a rule of thumb)."""
    own = full / 3
    return np.array([[own, own - full / 2], [own - full / 2, own]])


def _inverse(z: Complex) -> Complex:
    return np.asarray(np.linalg.inv(z), dtype=np.complex128)


def _sequence(z1: complex, z0: complex, count: int) -> Complex:
    own, mutual = (2 * z1 + z0) / 3, (z0 - z1) / 3
    return np.asarray(np.full((count, count), mutual) + np.eye(count) * (own - mutual))


def _behind(name: str, system: Any, z: Complex) -> Iterator[Winding]:
    """Nominal voltages of lines to their common point, behind a matrix."""
    winding, volts = str(system.winding), system.line_to_line
    rows: Rows
    if winding.endswith("mid-tap"):
        leg = complex(z[0, 0])
        half, side = volts / 2, volts * math.sqrt(3) / 2
        v = {"L1": complex(half), "L2": complex(0, -side), "L3": complex(-half)}
        for a, b in (("L1", "L2"), ("L2", "L3")):
            rows = ({f"{name}:{a}": -1, f"{name}:{b}": 1},)
            yield Winding(rows, np.array([[1 / leg]]), (v[a] - v[b],))
        rows = tuple({f"{name}:{li}": -1, f"{name}:N": 1} for li in ("L1", "L3"))
        yield Winding(rows, _inverse(_halves(leg)), (v["L1"], v["L3"]))
        return
    common = f"{name}/star" if winding == "three-phase delta" else f"{name}:N"
    if winding.startswith("single"):
        three = "three-wire" in winding
        drive = (complex(volts / 2), complex(-volts / 2)) if three else (complex(volts),)
    else:
        drive = tuple(volts / math.sqrt(3) * TURN**k for k in range(3))
    rows = tuple({f"{name}:L{k + 1}": -1, common: 1} for k in range(len(drive)))
    yield Winding(rows, _inverse(z), drive)


def _source(name: str, source: Any) -> Iterator[Winding]:
    system, volts = source.system, source.system.line_to_line
    winding = str(system.winding)
    known, neutral = source.available, None
    if source.transformer is not None:
        plate = source.transformer
        full = _angle(plate.impedance * volts**2 / plate.rating, plate.x_over_r)
    else:
        root = 1 if winding.startswith("single") else math.sqrt(3)
        full = _angle(volts / root / known.current, known.x_over_r)
        neutral = known.line_to_neutral
    if winding.endswith("mid-tap"):
        z = np.array([[3 * full]])
    elif "three-wire" in winding:
        z = _halves(full)
        if neutral is not None:
            own = _angle(volts / 2 / neutral, known.x_over_r)
            z = np.array([[own, own - full / 2], [own - full / 2, own]])
    elif winding.startswith("single"):
        z = np.array([[full]])
    else:
        zero = full
        if neutral is not None and "wye" in winding:
            zero = _angle(math.sqrt(3) * volts / neutral - 2 * abs(full), known.x_over_r)
        z = _sequence(full, zero, 3)
    return _behind(name, system, z)


def _generator(name: str, g: Any) -> Iterator[Winding]:
    base, winding = g.system.line_to_line**2 / g.rating, str(g.system.winding)
    first = 0.15 if g.subtransient is None else g.subtransient
    r = first / g.x_over_r
    back = first if g.negative is None else g.negative
    z1 = complex(r, (first + back) / 2) * base
    z0 = complex(r, 0.05 if g.zero is None else g.zero) * base
    if winding.endswith("mid-tap"):
        z = np.array([[3 * z1]])
    elif "three-wire" in winding:
        z = np.array([[z1 + z0, z0 - z1], [z0 - z1, z1 + z0]]) / 4
    elif winding.startswith("single"):
        z = np.array([[z1]])
    else:
        z = _sequence(z1, z0, 3)
    return _behind(name, g.system, z)


def _inverter(name: str, inverter: Any) -> Iterator[Winding]:
    """An inverter as what it gives into a short circuit: its limit, and no more."""
    volts, winding = inverter.system.line_to_line, str(inverter.system.winding)
    single = winding.startswith("single")
    amps = inverter.rating / volts / (1 if single else math.sqrt(3))
    amps *= 1.2 if inverter.limit is None else inverter.limit
    count = 1 if "two-wire" in winding else 2 if single else 3
    phase = volts / (1 if count == 1 else 2 if count == 2 else math.sqrt(3))
    z = np.array([[3 * phase / amps]]) if winding.endswith("mid-tap") else None
    return _behind(name, inverter.system, np.eye(count) * phase / amps if z is None else z)


def _transformer(name: str, unit: Any) -> Iterator[Winding]:
    rows: Rows
    p, s, form = str(unit.primary.winding), str(unit.secondary.winding), str(unit.form)
    vp, vs = unit.primary.line_to_line, unit.secondary.line_to_line
    high, low = [f"{name}:H{k}" for k in (1, 2, 3)], [f"{name}:L{k}" for k in (1, 2, 3)]
    h0, n = f"{name}:H0", f"{name}:N"
    if form == "zigzag":
        # Each line's winding in series with another leg's: only its zero sequence is of use here.
        z = _angle(unit.impedance * vp**2 / 3 / unit.rating, unit.x_over_r)
        rows = (dict.fromkeys(high, 1 / 3) | {n: -1},)
        yield Winding(rows, np.array([[3 / z]]), (0j,))
        return
    wye_p, wye_s = "wye" in p, "wye" in s
    count = 1 if s.startswith("single") else 2 if form == "open delta" else 3
    leg_p = vp / math.sqrt(3) if wye_p else vp
    leg_s = vs / math.sqrt(3) if wye_s else vs
    z = _angle(unit.impedance * leg_s**2 / (unit.rating / count), unit.x_over_r)
    if form == "auto":
        common = n if wye_s or s.startswith("single") else f"{name}/common"
        lines = 1 if s.startswith("single") else 3
        a, b = leg_p, leg_s
        if lines == 3 and not (wye_p and wye_s):
            a, b = vp / math.sqrt(3), vs / math.sqrt(3)
            z = _angle(unit.impedance * b**2 / (unit.rating / 3), unit.x_over_r)
        for k in range(lines):
            yield _unit((high[k], common), (low[k], common), a / b, z)
        yield Winding(({h0: 1, common: -1},), np.array([[1e6]]), (0j,))
        return
    delta_first = (high[0], high[1]) if "delta" in p else (high[0], h0)
    if count == 1:
        if "three-wire" in s:
            half = vp / vs * 2 if not wye_p else leg_p / vs * 2
            rows = tuple(
                {delta_first[0]: sign / half, delta_first[1]: -sign / half, low[k]: -1, n: 1}
                for k, sign in ((0, 1), (1, -1))
            )
            yield Winding(rows, _inverse(_halves(z)), (0j, 0j))
        else:
            yield _unit(delta_first, (low[0], n), leg_p / leg_s, z)
        return
    for k in range(count):
        after, before = (k + 1) % 3, (k + 2) % 3
        down = vp >= vs
        pair_p = (high[k], h0) if wye_p else (high[k], high[before if wye_s and down else after])
        pair_s = (low[k], n) if wye_s else (low[k], low[before if wye_p and not down else after])
        if form == "open delta":
            pair_p = (high[k], h0) if wye_p else ((high[2], high[0]), (high[0], high[1]))[k]
            pair_s = ((low[2], low[0]), (low[0], low[1]))[k]
        if s.endswith("mid-tap") and set(pair_s) == {low[0], low[2]}:
            half = 2 * leg_p / leg_s
            rows = tuple(
                {pair_p[0]: sign / half, pair_p[1]: -sign / half, at: -1, n: 1}
                for at, sign in ((pair_s[0], 1), (pair_s[1], -1))
            )
            yield Winding(rows, _inverse(_halves(z)), (0j, 0j))
        else:
            yield _unit(pair_p, pair_s, leg_p / leg_s, z)
        if wye_p:
            # Magnetising of a core whose primary stands on a point that may float.
            rows = ({pair_p[0]: 1, pair_p[1]: -1},)
            share = 0.02 * unit.rating / count / leg_p**2
            yield Winding(rows, np.array([[-1j * share]]), (0j,))


def _unit(
    primary: tuple[str, str], secondary: tuple[str, str], ratio: float, z: complex
) -> Winding:
    row = {primary[0]: 1 / ratio, primary[1]: -1 / ratio}
    for node, weight in ((secondary[0], -1), (secondary[1], 1)):
        row[node] = row.get(node, 0) + weight
    return Winding((row,), np.array([[1 / z]]), (0j,))
