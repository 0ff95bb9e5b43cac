"""Small circuits of one run with a metal raceway, for tests."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import numpy.typing as npt

from bondwright.catalog.raceways import RacewayKind, dimensions
from bondwright.catalog.sizes import Conductor, Material, Size
from bondwright.network.converge import RacewayCurrents, RacewayReport, converge_raceways
from bondwright.network.runs import raceway_currents, run_impedance, steel_tube, strands
from bondwright.network.steel import TubeSurfaces
from bondwright.plan.model import PlannedRun

Currents = npt.NDArray[np.complex128]


def copper(size: str | None) -> Conductor | None:
    """Return a copper conductor by size."""
    return None if size is None else Conductor(Size.parse(size), Material.CU)


def raceway_run(
    line: str,
    bonding: str | None,
    kind: RacewayKind,
    size: str,
    length: float,
    *,
    on: tuple[str, ...] = ("L1",),
    bonded: bool = True,
) -> PlannedRun:
    """Return a run of single copper conductors in a raceway."""
    wire = Conductor(Size.parse(line), Material.CU)
    return PlannedRun(
        "r", "a", "b", length, on, wire, None, copper(bonding),
        dimensions(kind, size), bonded, "pulled", supply_side=False,
    )  # fmt: skip


def ground_fault(
    run: PlannedRun, volts: float, frequency: float = 60, temperature: float = 25
) -> tuple[Currents, RacewayReport[int]]:
    """Return the currents of every conductor with line and metal joined at the far end.

    Line 1 is fed from the near end; everything else starts at the source's return.
    """
    parts = strands(run)
    tube = steel_tube(run, temperature)

    def solve(
        state: Mapping[int, TubeSurfaces],
    ) -> tuple[Currents, Mapping[int, RacewayCurrents]]:
        known = {number: one.triple for number, one in state.items()}
        _, z = run_impedance(run, frequency, 100, temperature, known)
        n = len(parts)
        # z i = (voltage at the start) - u for every conductor, and the currents sum to zero.
        system = np.zeros((n + 1, n + 1), dtype=np.complex128)
        system[:n, :n], system[:n, n], system[n, :n] = z, 1, 1
        right = np.zeros(n + 1, dtype=np.complex128)
        right[0] = volts
        currents: Currents = np.linalg.solve(system, right)[:n].astype(np.complex128)
        return currents, raceway_currents(parts, list(currents))

    return converge_raceways({} if tube is None else {0: tube}, frequency, solve)
