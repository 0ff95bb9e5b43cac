"""All faults of a large site: those that matter told in full, the others by their figures.

A site of thousands of places has tens of thousands of faults. All are followed side by side
(:mod:`bondwright.studies.fault_table`); what doesn't hold, and what tells most, is followed by
itself as well, for the way of the current and the other numbers that a table doesn't have.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

import numpy as np

from bondwright.network.build import Network
from bondwright.network.solve import Residuals
from bondwright.rules.answer import Verdict
from bondwright.safety.touch import touch_verdict
from bondwright.studies.fault_model import Fault, FaultKind, FaultResult, Opening
from bondwright.studies.fault_parts import Flags
from bondwright.studies.fault_table import VERDICTS, FaultTable, study_many
from bondwright.studies.faults import sources_ahead, study_fault
from bondwright.studies.wall_settling import DROPPED

MANY: Final = 600
"""Faults from which on they are followed side by side."""

IN_FULL: Final = 40
"""Of these, the most that are followed by themselves as well."""

Progress = Callable[[int, int], None]


def follow_all(
    network: Network,
    faults: Sequence[Fault],
    progress: Progress | None = None,
    *,
    many: int = MANY,
    in_full: int = IN_FULL,
    within: float = DROPPED,
) -> tuple[FaultResult, ...]:
    """Follow faults, each by itself where there are few, else side by side.

    Args:
        network: built without loads.
        faults: the faults.
        progress: told (done, in all); it may raise.
        many: how many are too many to be followed each by itself.
        in_full: of too many, how many are told in full: the worst of those that don't hold, one
            for each kind at a place, and the fault to metal with the largest loop.
        within: of too many, part of a current that steel raceways may be left out for, as for
            :func:`bondwright.studies.fault_table.study_many`.

    Returns:
        The results in the order of the faults. Those with ``in_full`` False have no path, no
        other currents, and the touch voltage of the worst place only.
    """
    tell = progress or _silent
    if len(faults) < many:
        found = []
        for number, fault in enumerate(faults):
            tell(number, len(faults))
            found.append(study_fault(network, fault))
        tell(len(faults), len(faults))
        return tuple(found)
    table = study_many(network, faults, progress=tell, within=within)
    chosen = list(_worth_telling(table, in_full))
    # A table has the current of the first opening only.
    chosen += [k for k in np.flatnonzero(_several(table)).tolist() if k not in set(chosen)]
    full = {}
    for number, k in enumerate(chosen):
        tell(len(faults) - len(chosen) + number, len(faults))
        full[k] = study_fault(network, faults[k])
    tell(len(faults), len(faults))
    base = network.solver.solve().residuals
    ahead = {p: sources_ahead(network, p) for p in {f.place for f in faults}}
    return tuple(
        full[k] if k in full else _brief(network, table, k, ahead, base) for k in range(len(faults))
    )


def _several(table: FaultTable) -> Flags:
    """Return which faults several openings end, or one that doesn't end them."""
    lasting = ~np.isfinite(table.clearing) & (table.openings > 0)
    found: Flags = (table.openings > 1) | lasting
    return found


def _silent(done: int, of: int) -> None:
    del done, of


def _worth_telling(table: FaultTable, most: int) -> Iterable[int]:
    """Return what is told in full: what tells most, then the worst of each kind at a place."""
    loops = np.array([
        abs(table.loop[k])
        if f.kind is FaultKind.LINE_TO_METAL
        and f.a.startswith("L")
        and not table.supply_side[k]
        and cmath.isfinite(complex(table.loop[k]))
        else -1.0
        for k, f in enumerate(table.faults)
    ])  # fmt: skip
    found: dict[int, None] = {}
    if len(loops) and loops.max() > 0:
        found[int(loops.argmax())] = None
    seen: set[tuple[str, FaultKind]] = set()
    holds = VERDICTS.index(Verdict.HOLDS)
    for k in table.worst_first().tolist():
        if table.verdict[k] == holds or len(found) >= most:
            break
        key = (table.faults[k].place, table.faults[k].kind)
        if key not in seen:
            seen.add(key)
            found[k] = None
    return found


def _brief(
    network: Network,
    table: FaultTable,
    k: int,
    reached: Mapping[str, tuple[str, ...]],
    residuals: Residuals,
) -> FaultResult:
    """Return a fault by the figures that a table has of it."""
    fault = table.faults[k]
    loop = complex(table.loop[k])
    current, clearing = float(table.current[k]), float(table.clearing[k])
    place = table.places[table.touch_place[k]] if table.places else fault.place
    volts = float(table.touch[k])
    ahead = reached[fault.place]
    cleared = math.isfinite(clearing)
    return FaultResult(
        fault=fault,
        current=current,
        angle=math.degrees(cmath.phase(loop)) if cmath.isfinite(loop) else 0.0,
        loop=abs(loop),
        path=(),
        flows=(),
        openings=tuple(_openings(network, table, k)),
        cleared=cleared,
        clearing=clearing,
        fastest=float(table.fastest[k]),
        touch={place: volts},
        worst_place=place,
        touch_verdict=touch_verdict(volts, clearing),
        pair=None,
        live_after=float(table.live_after[k]),
        heat=None,
        supply_side=bool(table.supply_side[k]),
        unknown=(),
        missing=(),
        first_of_two=False,
        resistance=fault.impedance,
        settled=True,
        verdict=VERDICTS[table.verdict[k]],
        residuals=residuals,
        ahead=ahead,
        utility=not ahead or any(name in network.plan.site.sources for name in ahead),
        in_full=False,
    )


def _openings(network: Network, table: FaultTable, k: int) -> Iterable[Opening]:
    """Return the one device that opens, if any."""
    first = int(table.opener[k])
    if first < 0:
        return
    device = network.devices[table.devices[first]]
    yield Opening(
        device=device.id,
        at=device.at,
        rating=str(device.rating),
        lines=tuple(pole.line for pole in device.poles),
        current=float(table.opening_current[k]),
        fastest=float(table.fastest[k]),
        slowest=float(table.clearing[k]),
    )
