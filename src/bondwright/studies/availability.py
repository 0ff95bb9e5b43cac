"""Available fault current at every place, with the interrupting ratings of what stands there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bondwright.devices.interrupting import interrupting_verdict
from bondwright.network.build import Network, first_cycles
from bondwright.rules.answer import Verdict
from bondwright.studies.available import Available, available_everywhere
from bondwright.studies.protection import Duty

LEAST_A: Final = 1.0
"""Where less is available nothing is in service, A."""
_ALIKE: Final = 1e-6
"""Currents that differ by no more than this share are the same."""


@dataclass(frozen=True, slots=True)
class AvailableAt:
    """What is available at one place.

    Attributes:
        place: where.
        available: greatest bolted fault current at its line terminals in the first cycles of a
            fault, running motors counted.
        of_motors: what of it they give, A.
        duties: the devices that stand there, with their interrupting ratings judged.
        verdict: the worst of them; "holds" where there is none.
        state: id of the state in which that much is available; empty for the normal one.
    """

    place: str
    available: Available
    of_motors: float
    duties: tuple[Duty, ...]
    verdict: Verdict
    state: str = ""


def available_at_places(
    network: Network, duties: Sequence[Duty], others: Sequence[Network] = ()
) -> tuple[AvailableAt, ...]:
    """Return what is available at every place past the source, in walking order.

    Args:
        network: built without loads, in the normal state.
        duties: of every device there, from :func:`bondwright.studies.protection.duties`.
        others: networks of the other states; where more is available in one, that counts.
    """
    found = {one.place: one for one in _in_one(network, duties)}
    for other in others:
        for one in _in_one(other, duties):
            before = found.get(one.place)
            if before is None or one.available.current > before.available.current * (1 + _ALIKE):
                found[one.place] = replace(one, state=other.state.id)
    return tuple(found[n] for n in network.plan.topology.order if n in found)


def _in_one(network: Network, duties: Sequence[Duty]) -> Iterator[AvailableAt]:
    index = network.solver.index
    heads: dict[str, str] = {}
    for name in network.plan.topology.order:
        if name in network.plan.site.sources:
            continue
        ahead = f"{name}/in"
        heads[ahead if f"{ahead}:L1" in index or f"{ahead}:L2" in index else name] = name
    first = first_cycles(network)
    most = available_everywhere(first)
    alone = available_everywhere(network) if first is not network else most
    here: dict[str, list[Duty]] = {}
    for duty in duties:
        here.setdefault(duty.at, []).append(duty)
    for head, name in heads.items():
        if most[head].current < LEAST_A:
            continue
        current = most[head].current
        there = tuple(_rejudged(network, duty, current) for duty in here.get(name, ()))
        of_motors = max(0.0, current - alone[head].current)
        yield AvailableAt(name, most[head], of_motors, there, _worst(there))


def _rejudged(network: Network, duty: Duty, current: float) -> Duty:
    """Return a duty judged by what is available at its place, if that is more."""
    device = network.devices.get(duty.device)
    if device is None or current <= duty.available * (1 + _ALIKE):
        return duty
    judgement = interrupting_verdict(device.rating, current)
    return replace(duty, available=current, judgement=judgement)


def _worst(duties: Sequence[Duty]) -> Verdict:
    there = {Verdict(duty.judgement.verdict) for duty in duties}
    for verdict in (Verdict.FALLS_SHORT, Verdict.CANNOT_TELL):
        if verdict in there:
            return verdict
    return Verdict.HOLDS
