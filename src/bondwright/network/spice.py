"""The circuit that was solved, written as a SPICE netlist.

Anyone can check an answer with a solver that we didn't write: the netlist holds every element
of the circuit (or of the circuit with changes made to it) and one line of ac analysis.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from bondwright.network.circuit import EARTH, Circuit, Complex, Section
from bondwright.network.solve import Change, Injection


def node_numbers(circuit: Circuit) -> Mapping[str, str]:
    """Return the SPICE name of every node; earth is ``0``."""
    names = {name: f"n{k}" for k, name in enumerate(circuit.nodes(), start=1)}
    return {EARTH: "0", **names}


def netlist(
    circuit: Circuit,
    title: str,
    changes: Sequence[Change] = (),
    injections: Sequence[Injection] = (),
    *,
    dead: bool = False,
    notes: Sequence[str] = (),
) -> str:
    """Write a circuit, with changes made to it, as a netlist.

    Mutual reactance is written as coupled inductors, mutual resistance (the earth's share) as
    current-controlled voltages.

    Args:
        circuit: the circuit.
        title: first line; line breaks become spaces.
        changes: what is different, made by the circuit's solver.
        injections: currents drawn from outside.
        dead: write every voltage source with no voltage.
        notes: lines of comment behind the title.

    Returns:
        The netlist, ready for ``ngspice -b``.
    """
    node = node_numbers(circuit)
    opened = {change.opens for change in changes}
    broken = {(change.section, change.broken) for change in changes if change.broken >= 0}
    reshaped = _reshaped(circuit, changes)
    lines = [f"* {' '.join(line.split())}" for line in (title, *notes)]
    lines += [f"* {number} = {_plain(name)}" for name, number in node.items()]
    for k, section in enumerate(circuit.sections):
        kept = [i for i in range(len(section.names)) if (k, i) not in broken]
        lines.append(f"* section {_plain(section.id)}: {_plain(', '.join(section.names))}")
        lines += _section(
            k, section, reshaped.get(k, section.impedance), kept, node, circuit.frequency
        )
    for k, source in enumerate(circuit.sources):
        magnitude, angle = abs(source.emf) * (not dead), math.degrees(np.angle(source.emf))
        ends = f"{node[source.plus]} {node[source.minus]}"
        lines.append(f"* source {_plain(source.id)}")
        lines.append(f"Vs{k} {ends} dc 0 ac {_num(magnitude)} {_num(angle)}")
    for k, switch in enumerate(circuit.switches):
        lines.append(f"* switch {_plain(switch.id)}")
        if switch.closed and switch.id not in opened:
            lines.append(f"Vw{k} {node[switch.a]} {node[switch.b]} dc 0 ac 0")
    for k, unit in enumerate(circuit.transformers):
        lines.append(f"* ideal transformer {_plain(unit.id)}")
        lines.append(
            f"Et{k} {node[unit.p1]} t{k} {node[unit.s1]} {node[unit.s2]} {_num(unit.ratio)}"
        )
        lines.append(f"Vt{k} t{k} {node[unit.p2]} dc 0 ac 0")
        lines.append(f"Ft{k} {node[unit.s2]} {node[unit.s1]} Vt{k} {_num(unit.ratio)}")
    for k, change in enumerate(changes):
        if change.joins is not None:
            a, b = (node[name] for name in change.joins)
            lines.append(f"* {_plain(change.label)}")
            lines += _joined(k, a, b, change.d, circuit.frequency)
    for k, item in enumerate(injections):
        lines.append("* current drawn from outside")
        lines.append(
            f"Id{k} {node[item.a]} {node[item.b]} dc 0 ac {_num(abs(item.current))} "
            f"{_num(math.degrees(np.angle(item.current)))}"
        )
    capacitance = circuit.leakage.imag / (2 * math.pi * circuit.frequency)
    if capacitance > 0:
        lines.append("* capacitance of every node to earth")
        lines += [
            f"Cn{k} {number} 0 {_num(capacitance)}"
            for k, number in enumerate(node.values())
            if number != "0"
        ]
    lines.append(".options noopac")
    lines.append(f".ac lin 1 {_num(circuit.frequency)} {_num(circuit.frequency)}")
    lines.append(".end")
    return "\n".join(lines) + "\n"


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)


def _num(value: float) -> str:
    return repr(float(value))


def _joined(k: int, a: str, b: str, z: complex, frequency: float) -> Iterator[str]:
    if z == 0:
        yield f"Vj{k} {a} {b} dc 0 ac 0"
        return
    middle = f"j{k}" if z.real and z.imag else b
    if z.real:
        yield f"Rj{k} {a} {middle} {_num(z.real)}"
    if z.imag:
        start = middle if z.real else a
        yield f"Lj{k} {start} {b} {_num(z.imag / (2 * math.pi * frequency))}"


def _reshaped(circuit: Circuit, changes: Sequence[Change]) -> dict[int, Complex]:
    """Return the impedance matrices of sections that gaps add impedance to."""
    found: dict[int, Complex] = {}
    for section in {c.section for c in changes if c.section >= 0 and c.broken < 0}:
        gaps = [c for c in changes if c.section == section and c.broken < 0]
        place = {change.label: i for i, change in enumerate(gaps)}
        minus = np.diag([change.d for change in gaps]).astype(np.complex128)
        for i, change in enumerate(gaps):
            for label, value in change.partners:
                minus[i, place[label]] += value
        patterns = np.array([change.pattern for change in gaps]).T
        added = patterns @ np.linalg.inv(-minus) @ patterns.T
        found[section] = circuit.sections[section].impedance + added
    return found


def _section(
    k: int,
    section: Section,
    z: Complex,
    kept: Sequence[int],
    node: Mapping[str, str],
    frequency: float,
) -> Iterator[str]:
    if _is_ground(section, z):
        yield from _ground(k, section, z, kept, node)
        return
    w = 2 * math.pi * frequency
    for i in kept:
        at, stop = node[section.starts[i]], node[section.ends[i]]
        parts: list[tuple[str, str]] = []
        if len(kept) > 1:
            parts.append((f"Vm{k}_{i}", "dc 0 ac 0"))
        if z[i, i].real:
            parts.append((f"R{k}_{i}", _num(z[i, i].real)))
        parts += [
            (f"H{k}_{i}_{j}", f"Vm{k}_{j} {_num(z[i, j].real)}")
            for j in kept
            if j != i and z[i, j].real
        ]
        if z[i, i].imag > 0:
            parts.append((f"L{k}_{i}", _num(z[i, i].imag / w)))
        elif z[i, i].imag < 0:
            parts.append((f"C{k}_{i}", _num(-1 / (w * z[i, i].imag))))
        for number, (name, value) in enumerate(parts):
            end = stop if number == len(parts) - 1 else f"s{k}_{i}_{number}"
            yield f"{name} {at} {end} {value}"
            at = end
    for place, i in enumerate(kept):
        for j in kept[place + 1 :]:
            if z[i, j].imag:
                coupling = z[i, j].imag / math.sqrt(z[i, i].imag * z[j, j].imag)
                yield f"K{k}_{i}_{j} L{k}_{i} L{k}_{j} {_num(coupling)}"


def _is_ground(section: Section, z: Complex) -> bool:
    """Whether a section is electrodes that share the ground: resistances to remote earth only."""
    return len(z) > 1 and set(section.ends) == {EARTH} and not z.imag.any()


def _ground(
    k: int, section: Section, z: Complex, kept: Sequence[int], node: Mapping[str, str]
) -> Iterator[str]:
    """Write electrodes as resistors between all pairs and to remote earth.

    With ``G = R^-1`` a pair has ``-1 / G_ij`` and earth one over the sum of a row. A pair may
    come out negative (a third electrode between them does that); together they are passive.
    """
    conductance = np.linalg.inv(z.real[np.ix_(kept, kept)])
    least = 1e-12 * float(np.abs(conductance).max(initial=0.0))
    for row, i in enumerate(kept):
        own = float(conductance[row].sum())
        if abs(own) > least:
            yield f"Rg{k}_{i} {node[section.starts[i]]} 0 {_num(1 / own)}"
        for column in range(row + 1, len(kept)):
            j, shared = kept[column], float(conductance[row, column])
            if abs(shared) > least:
                ends = f"{node[section.starts[i]]} {node[section.starts[j]]}"
                yield f"Rg{k}_{i}_{j} {ends} {_num(-1 / shared)}"
