"""Faults on the direct-current side of an array, in full sun with the inverter at work.

Nothing on this side is dead while the sun shines. A ground-fault fuse or the inverter's monitor
can stop the current that goes by way of the metal; it can't take the voltage off the array, and
the array's own fuses never open on its own current. So a fault here is followed to what is left:
current, voltage on the frames, and what stays live to metal.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Literal

from bondwright.catalog.pv import pv_data
from bondwright.network.pv import (
    SIGNS,
    ArrayNetwork,
    ArrayState,
    array_network,
    other,
    solve_array,
)
from bondwright.network.solve import Change, Residuals
from bondwright.plan.model import Plan, PlannedArray
from bondwright.rules.answer import Verdict
from bondwright.site.model import ArrayGrounded, Pole

STOPPED_A: Final = 0.03
"""Current in a fault below which it counts as stopped, A: what insulation lets through."""

MOST_OHM: Final = 1e6
"""Largest fault resistance that is looked at, ohm."""

Spot = Literal["array", "inverter"]


class ArrayFaultKind(StrEnum):
    """What touches what."""

    POSITIVE = "positive to metal"
    NEGATIVE = "negative to metal"
    BETWEEN = "positive to negative"
    SECOND = "both to metal"


class Seen(StrEnum):
    """Whether what watches for ground faults finds one."""

    YES = "seen"
    PERHAPS = "perhaps"
    NO = "not seen"
    NOBODY = "nothing watches"


@dataclass(frozen=True, slots=True)
class ArrayFault:
    """A bolted fault on an array's circuit.

    Attributes:
        array: id of the array.
        kind: what touches what. ``SECOND``: ``first`` touches metal at the array already, and
            now the other conductor does at the inverter.
        at: which end of the circuit.
        first: the conductor of the first fault, of a second one.
    """

    array: str
    kind: ArrayFaultKind
    at: Spot
    first: Pole | None = None

    def __str__(self) -> str:
        if self.kind is ArrayFaultKind.SECOND:
            return f"{self.kind}"
        return f"{self.kind} at {self.at}"

    @property
    def pole(self) -> Pole | None:
        """The conductor that touches metal, of a single fault."""
        return {
            ArrayFaultKind.POSITIVE: Pole.POSITIVE,
            ArrayFaultKind.NEGATIVE: Pole.NEGATIVE,
        }.get(self.kind)


@dataclass(frozen=True, slots=True, eq=False)
class ArrayFaultResult:
    """What a fault does.

    Attributes:
        fault: the fault.
        current: in it, A.
        by_join: through the ground-fault fuse, plain join or inverter, A.
        by_ground: in the array's equipment grounding conductor, A.
        limited: whether the array gives its short-circuit current.
        frame: voltage from the array's frames to the metal of the inverter, V; where nothing
            joins the two, with a person between them.
        seen: whether what watches finds it.
        sees_up_to: largest resistance of such a fault that is found for sure, ohm; None where
            none is, or nothing watches currents.
        stop_s: time by which the current by the join has stopped, s; infinity if it doesn't.
        after: current in the fault once it has, A.
        frame_after: voltage of the frames then, V.
        live_after: the higher voltage of the two conductors to the inverter's metal then, V.
        stopped: whether the current in the fault has stopped.
        limit_v: touch voltage that is endured for long, V.
        verdict: whether it is found and its current stopped, the frames bearable.
        residuals: of the first moment's answer.
        network: the circuit it was computed on.
        state: the first moment's answer.
    """

    fault: ArrayFault
    current: float
    by_join: float
    by_ground: float
    limited: bool
    frame: float
    seen: Seen
    sees_up_to: float | None
    stop_s: float
    after: float
    frame_after: float
    live_after: float
    stopped: bool
    limit_v: float
    verdict: Verdict
    residuals: Residuals
    network: ArrayNetwork
    state: ArrayState


def possible_array_faults(array: PlannedArray) -> tuple[ArrayFault, ...]:
    """Return the faults of an array: each conductor and both, at each end, and a second one."""
    spots: tuple[Spot, ...] = ("array", "inverter")
    kinds = (ArrayFaultKind.POSITIVE, ArrayFaultKind.NEGATIVE, ArrayFaultKind.BETWEEN)
    single = [ArrayFault(array.id, kind, at) for kind in kinds for at in spots]
    first = array.pole or Pole.NEGATIVE
    second = ArrayFault(array.id, ArrayFaultKind.SECOND, "inverter", first)
    return (*single, second)


def study_arrays(plan: Plan) -> tuple[ArrayFaultResult, ...]:
    """Follow every fault of every array of a plan, in the order of the description."""
    return tuple(
        study_array_fault(array, fault, plan.temperature)
        for array in plan.arrays.values()
        for fault in possible_array_faults(array)
    )


def study_array_fault(
    array: PlannedArray, fault: ArrayFault, temperature: float
) -> ArrayFaultResult:
    """Follow one fault.

    Args:
        array: the array.
        fault: the fault, one of this array.
        temperature: of the conductors, degC.

    Raises:
        ValueError: the fault is of another array.
        bondwright.network.solve.SolveError: the circuit has no answer.
    """
    if fault.array != array.id:
        raise ValueError(f"the fault is of {fault.array!r}, the array is {array.id!r}")
    # An inverter without a transformer joins both conductors in turn; the other one counts.
    touching = fault.pole or (fault.first and other(fault.first))
    through = other(touching) if touching else None
    network = array_network(array, temperature, through)
    joins = _joins(network, fault)
    state = solve_array(network, joins)
    current = abs(state.solution.change_current(len(joins) - 1))
    by_join = _by_join(network, state)
    seen = _seen(array, fault, by_join)
    stop = _stop_time(array, seen, by_join)
    opened = list(_stopping(network, seen))
    end = solve_array(network, [*joins, *opened])
    after = abs(end.solution.change_current(len(joins) - 1))
    stopped = after < STOPPED_A
    frame, frame_after = (_frame(network, [*joins, *more]) for more in ([], opened))
    limit = pv_data().touch_v
    return ArrayFaultResult(
        fault=fault,
        current=current,
        by_join=by_join,
        by_ground=_by_ground(network, state),
        limited=state.limited,
        frame=frame,
        seen=seen,
        sees_up_to=_sees_up_to(network, fault),
        stop_s=stop,
        after=after,
        frame_after=frame_after,
        live_after=_live(network, end),
        stopped=stopped,
        limit_v=limit,
        verdict=_verdict(array, fault, seen, stopped, max(frame, frame_after) > limit),
        residuals=state.solution.residuals,
        network=network,
        state=state,
    )


def _joins(network: ArrayNetwork, fault: ArrayFault, ohms: float = 0.0) -> list[Change]:
    """Return the joins that make a fault; the fault's own current is in the last of them."""
    solver = network.solver

    def to_metal(place: Spot, pole: Pole, resistance: float) -> Change:
        a, b = network.node(place, SIGNS[pole]), network.node(place, "G")
        return solver.join(a, b, resistance)

    if fault.kind is ArrayFaultKind.BETWEEN:
        a, b = network.node(fault.at, "+"), network.node(fault.at, "-")
        return [solver.join(a, b, ohms)]
    if fault.first is not None:
        return [
            to_metal("array", fault.first, 0.0),
            to_metal(fault.at, other(fault.first), ohms),
        ]
    return [to_metal(fault.at, fault.pole or Pole.POSITIVE, ohms)]


def _by_join(network: ArrayNetwork, state: ArrayState) -> float:
    if network.join is None:
        return 0.0
    return abs(state.solution.switch_current(network.join))


def _by_ground(network: ArrayNetwork, state: ArrayState) -> float:
    if network.ground is None:
        return 0.0
    return abs(state.solution.conductor_current(f"egc {network.array.id}", "z"))


def _frame(network: ArrayNetwork, changes: Sequence[Change]) -> float:
    frame, metal = (network.node(place, "G") for place in ("array", "inverter"))
    if network.ground is None:  # what only insulation feeds breaks down under a hand
        changes = [*changes, network.solver.join(frame, metal, pv_data().body_ohm)]
    return abs(solve_array(network, changes).solution.between(frame, metal))


def _live(network: ArrayNetwork, state: ArrayState) -> float:
    metal = network.node("inverter", "G")
    return max(
        abs(state.solution.between(network.node(place, sign), metal))
        for place in ("array", "inverter")
        for sign in SIGNS.values()
    )


def _seen(array: PlannedArray, fault: ArrayFault, by_join: float) -> Seen:
    if fault.kind is ArrayFaultKind.BETWEEN:
        return Seen.NO if array.grounded is not ArrayGrounded.SOLID else Seen.NOBODY
    if array.ground_fuse is not None:
        if by_join >= array.ground_fuse * pv_data().fuse_sure_x:
            return Seen.YES
        return Seen.PERHAPS if by_join > array.ground_fuse else Seen.NO
    if array.monitor is not None:
        return Seen.YES if by_join >= array.monitor else Seen.NO
    if array.insulation_alarm is not None:
        return Seen.YES
    return Seen.NOBODY


def _stop_time(array: PlannedArray, seen: Seen, by_join: float) -> float:
    data = pv_data()
    if seen is not Seen.YES:
        return math.inf
    if array.ground_fuse is not None:
        return data.fuse_time(array.ground_fuse, by_join)
    return data.monitor_s if array.monitor is not None else math.inf


def _stopping(network: ArrayNetwork, seen: Seen) -> Iterator[Change]:
    """Yield what opens: the join, and the inverter, which stops."""
    array = network.array
    if seen is not Seen.YES or network.join is None:
        return
    if array.ground_fuse is not None or array.monitor is not None:
        yield network.solver.open_switch(network.join)
        yield network.solver.open_switch(network.load_switch)


def _sees_up_to(network: ArrayNetwork, fault: ArrayFault) -> float | None:
    """Return the largest fault resistance that is found for sure; the current falls with it."""
    array = network.array
    if array.ground_fuse is not None:
        least = array.ground_fuse * pv_data().fuse_sure_x
    elif array.monitor is not None:
        least = array.monitor
    else:
        return None
    if fault.pole is None:
        return None

    def found(ohms: float) -> bool:
        return _by_join(network, solve_array(network, _joins(network, fault, ohms))) >= least

    if not found(0.0):
        return None
    low, high = 1e-3, MOST_OHM
    if not found(low):
        return 0.0
    if found(high):
        return high
    for _ in range(48):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if found(middle) else (low, middle)
    return low


def _verdict(
    array: PlannedArray, fault: ArrayFault, seen: Seen, stopped: bool, frames_live: bool
) -> Verdict:
    if frames_live:
        return Verdict.FALLS_SHORT
    if fault.kind is ArrayFaultKind.BETWEEN:
        return Verdict.CANNOT_TELL  # no metal has a part in it; whether arcs are found isn't said
    if fault.kind is ArrayFaultKind.SECOND:
        # It comes only where nobody mended the first one.
        blind = array.grounded in (ArrayGrounded.FUSE, ArrayGrounded.SOLID)
        return Verdict.FALLS_SHORT if blind else Verdict.CANNOT_TELL
    if seen is Seen.YES and stopped:
        return Verdict.HOLDS
    if array.grounded is not ArrayGrounded.SOLID and seen is not Seen.NO and stopped:
        return Verdict.CANNOT_TELL
    return Verdict.FALLS_SHORT
