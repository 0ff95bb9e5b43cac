"""The faults of arrays as rows and as data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from bondwright.explain.pv import (
    array_fault_name,
    array_stops,
    array_time,
    tell_array_fault,
)
from bondwright.explain.words import amps, volts
from bondwright.studies.pv import ArrayFaultResult

HEAD: Final = ("fault", "current", "stops it", "in", "frames at", "stays live at", "verdict")
"""Heads of the columns of :func:`array_row`, but for the mark."""


def array_row(result: ArrayFaultResult) -> tuple[str, ...]:
    """Return a fault as the texts of a row, one for each of :data:`HEAD` but the verdict."""
    whole = result.network.array.open_circuit
    goes_on = "" if result.stopped else f", then {amps(result.after)}"
    return (
        array_fault_name(result),
        f"{amps(result.current)}{goes_on}",
        array_stops(result),
        array_time(result),
        volts(max(result.frame, result.frame_after)),
        volts(result.live_after) if result.stopped else f"{volts(whole)} where it breaks",
    )


def array_fault_data(result: ArrayFaultResult) -> dict[str, Any]:
    """Return one fault as plain data."""
    fault = result.fault
    never = math.isinf(result.stop_s)
    return {
        "array": fault.array,
        "kind": str(fault.kind),
        "at": fault.at,
        "first": None if fault.first is None else str(fault.first),
        "current_a": result.current,
        "by_join_a": result.by_join,
        "by_ground_a": result.by_ground,
        "at_short_circuit_current": result.limited,
        "seen": str(result.seen),
        "seen_up_to_ohm": result.sees_up_to,
        "stop_s": None if never else result.stop_s,
        "stop_never": never,
        "after_a": result.after,
        "stopped": result.stopped,
        "frame_v": result.frame,
        "frame_after_v": result.frame_after,
        "limit_v": result.limit_v,
        "live_after_v": result.live_after,
        "verdict": str(result.verdict),
        "story": list(tell_array_fault(result).sentences),
    }


def arrays_data(results: Sequence[ArrayFaultResult]) -> list[dict[str, Any]]:
    """Return faults as plain data."""
    return [array_fault_data(result) for result in results]
