"""Why a circuit has no answer: joins and ideal voltages that close a loop with nothing in it."""

from __future__ import annotations

from collections.abc import Iterator

from bondwright.network.circuit import Circuit


def told(circuit: Circuit) -> str:
    """Return what makes a circuit contradict itself, by the names of its elements."""
    loop = ideal_loop(circuit)
    if loop:
        return (
            "the circuit contradicts itself: these ideal joins and voltages stand in a loop with "
            f"nothing between them: {', '.join(loop)}"
        )
    return (
        "the circuit has no single answer: something in it floats beside impedances so small that "
        f"its voltage can't be told; the smallest is that of {_smallest(circuit)}"
    )


def ideal_loop(circuit: Circuit) -> tuple[str, ...]:
    """Return the ids of closed switches and ideal voltages that close a loop; empty for none."""
    joined: dict[str, dict[str, str]] = {}
    for name, a, b in _ideal(circuit):
        way = _way(joined, a, b)
        if way is not None:
            return (*way, name)
        joined.setdefault(a, {})[b] = name
        joined.setdefault(b, {})[a] = name
    return ()


def _ideal(circuit: Circuit) -> Iterator[tuple[str, str, str]]:
    for source in circuit.sources:
        yield source.id, source.plus, source.minus
    for switch in circuit.switches:
        if switch.closed:
            yield switch.id, switch.a, switch.b


def _way(joined: dict[str, dict[str, str]], a: str, b: str) -> tuple[str, ...] | None:
    """Return the joins that lead from one node to another, None where none do."""
    if a == b:
        return ()
    came: dict[str, str] = {a: ""}
    waiting = [a]
    while waiting:
        here = waiting.pop()
        for there in joined.get(here, {}):
            if there in came:
                continue
            came[there] = here
            if there == b:
                return _names(joined, came, b)
            waiting.append(there)
    return None


def _names(joined: dict[str, dict[str, str]], came: dict[str, str], end: str) -> tuple[str, ...]:
    names = []
    while came[end]:
        names.append(joined[came[end]][end])
        end = came[end]
    return tuple(reversed(names))


def _smallest(circuit: Circuit) -> str:
    least = min(circuit.sections, key=lambda s: abs(s.impedance).max(), default=None)
    return "nothing" if least is None else repr(least.id)
