"""Equipment grounding conductors that follow something else than their own run's device.

One for several circuits in a raceway follows the largest device; that of a motor whose breaker
trips only at once follows the fuse that the code would allow the motor; that of a feeder tap
follows the device ahead of the feeder. Flexible pieces end what a raceway may serve for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from bondwright.catalog.device_rating import DeviceKind, DeviceRating
from bondwright.catalog.parameters import rule_parameter
from bondwright.catalog.sources import Status
from bondwright.rules.answer import Answer, Finding, Severity, Verdict
from bondwright.rules.editions import DEFAULT_RULES, clause, edition
from bondwright.rules.equipment import RACEWAY_RULE, Flexible, flexible_as_ground
from bondwright.rules.inputs import ProtectiveDevice
from bondwright.rules.raceway_ends import device_of
from bondwright.site.details import trade_size
from bondwright.site.model import FlexibleKind
from bondwright.site.topology import Topology

RULE: Final = "equipment-ground"
_FLEXIBLE: Final = {
    FlexibleKind.FMC: Flexible.CONDUIT,
    FlexibleKind.LFMC: Flexible.LIQUIDTIGHT,
    FlexibleKind.FMT: Flexible.TUBING,
}


@dataclass(frozen=True, slots=True)
class Follows:
    """What an equipment grounding conductor is entered into table 250.122 with.

    Attributes:
        device: the device, or one of the rating that stands for it.
        because: why it is that one; empty for the plain case.
        clause: the narrower clause, or None for the plain case.
    """

    device: ProtectiveDevice
    because: tuple[str, ...] = ()
    clause: str | None = None


def motor_device(full_load_a: float, rules: str = DEFAULT_RULES) -> ProtectiveDevice:
    """Return the fuse that stands for an instantaneous-trip breaker of a motor.

    Args:
        full_load_a: the motor's full-load current by the code's table, A.
        rules: name of the rule set.
    """
    part = rule_parameter("motor-fuse-fraction", edition(rules)).number
    return ProtectiveDevice(DeviceRating(DeviceKind.FUSE, round(part * full_load_a, 6)))


def ground_follows(tree: Topology, run: str, rules: str) -> Follows | None:
    """Return what the equipment grounding conductor of a load-side run follows.

    Args:
        tree: the supply tree.
        run: id of the run.
        rules: name of the rule set.

    Returns:
        None where no device is described for it.
    """
    own = _own(tree, run, rules)
    together = tree.grounds_in_common.get(run)
    if own is None or together is None:
        return own
    each = {name: found for name in together if (found := _own(tree, name, rules)) is not None}
    name, largest = max(each.items(), key=lambda pair: pair[1].device.rating_a)
    others = ", ".join(other for other in together if other != run)
    reason = (
        f"It serves {others} as well, and a fault on any of them goes through it, so it follows "
        f"the largest device of them all: {largest.device} of {name}."
    )
    return Follows(largest.device, (*largest.because, reason), "250.122(C)")


def _own(tree: Topology, run: str, rules: str) -> Follows | None:
    described = tree.site.runs[run]
    device = device_of(tree, run)
    if device is None:
        return None
    if described.motor_current is not None:
        fuse = motor_device(described.motor_current, rules)
        part = rule_parameter("motor-fuse-fraction", edition(rules))
        reason = (
            f"{device} trips only at once, and its rating says nothing of the motor. A "
            f"dual-element fuse for the motor stands for it: {described.motor_current:g} A x "
            f"{100 * part.number:g} % = {fuse.rating_a:g} A ({part.clause})."
        )
        return Follows(fuse, (reason,), "250.122(D)")
    if described.tap:
        reason = (
            f"A feeder tap has no device of its own at its start, so its ground follows the device "
            f"ahead of the feeder, {device}."
        )
        return Follows(device, (reason,), "250.122(G)")
    return Follows(device)


def with_reason(answer: Answer, follows: Follows, rules: str) -> Answer:
    """Return a size with the reason for what it follows, and the clause of that."""
    if not follows.because:
        return answer
    first, *rest = answer.because
    return replace(
        answer,
        clause=clause(RULE, rules, follows.clause) if follows.clause else answer.clause,
        because=(first, *follows.because, *rest),
        status=Status.least_sure(Status(answer.status), Status.MEMORY).value,
    )


# --- flexible pieces ------------------------------------------------------------------------


def _path(tree: Topology, run: str) -> Iterator[str]:
    origin = tree.system_of_run(run).origin
    yield run
    for name in tree.upstream(tree.site.runs[run].from_):
        if tree.system_of_run(name).origin != origin or name in tree.supply_side_runs:
            return
        yield name


def flexible_findings(
    tree: Topology, without_wire: frozenset[str], rules: str
) -> Iterator[Finding]:
    """Yield a finding for every flexible raceway that is a ground and may not be one.

    Args:
        tree: the supply tree.
        without_wire: load-side runs whose raceway is the ground, with no wire in it.
        rules: name of the rule set.
    """
    for name in tree.site.runs:
        if name not in without_wire:
            continue
        pieces = [
            piece.length
            for other in _path(tree, name)
            if other in without_wire and (piece := tree.site.runs[other].flexible) is not None
        ]
        here = tree.site.runs[name].flexible
        device = device_of(tree, name)
        if here is None or device is None:
            continue
        length = sum(pieces)
        verdict, reasons = flexible_as_ground(
            _FLEXIBLE[here.kind], trade_size(here.size), device, length, rules
        )
        problems = list(reasons) if verdict is Verdict.FALLS_SHORT else []
        if here.moves:
            problems.append("it has to bend or shake after it is installed")
        if problems:
            yield _flexible_short(tree, name, problems, rules)


def _flexible_short(tree: Topology, name: str, problems: list[str], rules: str) -> Finding:
    run = tree.site.runs[name]
    piece = run.flexible
    what = _FLEXIBLE[piece.kind].value if piece is not None else "flexible raceway"
    return Finding(
        RACEWAY_RULE,
        Severity.FALLS_SHORT,
        name,
        "flexible raceway as the only ground",
        f"The {what} of {name!r} is the equipment grounding conductor, and may not be: "
        f"{'; '.join(problems)}. It is a long thin spiral: it adds impedance, and opens where it "
        "is bent.",
        f"With the power off, run an equipment grounding conductor with the lines from {run.from_} "
        f"to {run.to}, or a bonding jumper around the flexible piece, joined at both ends.",
        clause(RACEWAY_RULE, rules),
    )
