"""Conductors that nobody makes, so that no resistance is known for them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bondwright.catalog.conductors import resistance_dc
from bondwright.catalog.sizes import Conductor
from bondwright.site.model import Array, Electrode, Run, Tie
from bondwright.site.topology import Problem
from bondwright.units import UnitError

_OF_RUNS = ("lines", "neutral", "egc", "ssbj", "pe")
_OF_ARRAYS = ("lines", "egc")


def wire_problems(
    runs: Mapping[str, Run],
    ties: Mapping[str, Tie],
    electrodes: Mapping[str, Electrode],
    arrays: Mapping[str, Array],
) -> Iterator[Problem]:
    """Yield every conductor of the circuit whose resistance no table gives."""
    for name, run in runs.items():
        for key in _OF_RUNS:
            yield from _unknown(("runs", name, key), getattr(run, key))
    for name, tie in ties.items():
        yield from _unknown(("ties", name, "size"), tie.size)
    for name, electrode in electrodes.items():
        yield from _unknown(("electrodes", name, "conductor"), electrode.conductor)
    for name, array in arrays.items():
        for key in _OF_ARRAYS:
            yield from _unknown(("arrays", name, key), getattr(array, key))


def _unknown(loc: tuple[str, ...], wire: object) -> Iterator[Problem]:
    if not isinstance(wire, Conductor):
        return
    try:
        resistance_dc(wire.size, wire.material)
    except UnitError as error:
        yield Problem(loc, error.problem, error.hint or "")
