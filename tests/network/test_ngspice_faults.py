"""Faults of every kind with steel raceways at their own current, against ngspice.

The walls are settled by us; the netlist holds the settled circuit, and ngspice solves that.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from bondwright.network.build import Network, build
from bondwright.network.circuit import EARTH
from bondwright.network.raceways import settled
from bondwright.network.solve import Change
from bondwright.network.spice import netlist, node_numbers
from bondwright.plan.build import plan
from bondwright.site.model import Site
from tests.network.ngspice import node_voltages
from tests.outside import outside, same_circuit

AGREE = 1e-6


def works(kind: str, *, egc: str, system: str, sets: int = 1) -> Network:
    """Return a service, a feeder and a branch in steel raceway, with or without ground wires."""
    lines = f"{sets} x 3/0 AWG Cu" if sets > 1 else "1 AWG Cu"
    run: dict[str, Any] = {"egc": egc}
    return build(
        plan(
            Site.model_validate(
                {
                    "site": "works",
                    "sources": {
                        "utility": {"system": system, "available": {"current": "22 kA", "x/r": 4}}
                    },
                    "places": {
                        "service": {"kind": "service", "main": "400 A breaker"},
                        "panel": {"kind": "panel"},
                        "motor": {"kind": "equipment"},
                    },
                    "runs": {
                        "drop": {"from": "utility", "to": "service", "length": "40 ft",
                                 "lines": "500 kcmil Cu"},
                        "feeder": {"from": "service", "to": "panel", "device": "100 A breaker",
                                   "length": "160 ft", "lines": lines,
                                   "raceway": {"kind": kind, "size": "2 in"}, **run},
                        "branch": {"from": "panel", "to": "motor", "device": "30 A breaker",
                                   "length": "80 ft", "lines": "10 AWG Cu",
                                   "raceway": {"kind": "emt", "size": "3/4 in"}, **run},
                    },
                    "electrodes": {
                        "rod": {"kind": "rod", "at": "service", "resistance": "20 ohm"},
                    },
                }
            )
        ),
        loads=False,
    )  # fmt: skip


def faults(network: Network) -> dict[str, list[Change]]:
    """Return one fault of every kind at the far end."""
    join = network.solver.join
    found = {
        "line to line": [join("motor:L1", "motor:L2")],
        "line to neutral": [join("motor:L1", "motor:N")],
        "line to metal": [join("motor:L1", "motor:G")],
        "line to metal through an arc": [join("motor:L1", "motor:G", 0.08)],
        "neutral to metal": [join("motor:N", "motor:G")],
        "line to earth": [join("motor:L1", EARTH, 25.0)],
        "two faults on two lines": [join("motor:L1", "motor:G"), join("panel:L2", "panel:G")],
    }
    if "L3" in network.terminals["motor"]:
        found["three lines"] = [join("motor:L1", "motor:L2"), join("motor:L2", "motor:L3")]
    return found


SITES = {
    "emt alone": {"kind": "emt", "egc": "raceway", "system": "480Y/277 V"},
    "emt with a wire": {"kind": "emt", "egc": "8 AWG Cu", "system": "480Y/277 V"},
    "rigid alone": {"kind": "rmc", "egc": "raceway", "system": "208Y/120 V"},
    "imc with a wire": {"kind": "imc", "egc": "8 AWG Cu", "system": "120/240 V"},
    "two rigid sets": {"kind": "rmc", "egc": "raceway", "system": "480Y/277 V", "sets": 2},
}


@pytest.mark.parametrize("name", SITES)
@outside("ngspice, faults in steel raceways", "computed", unit="V")
def test_settled_steel_agrees(ngspice: Path, tmp_path: Path, name: str) -> None:
    """Every node voltage of every fault to 1e-6 of the largest; the walls have settled."""
    network = works(**SITES[name])  # type: ignore[arg-type]
    walls = 0
    for kind, changes in faults(network).items():
        solution, report = settled(network, changes)
        assert report is None or report.converged, kind
        walls += 0 if report is None else len(report.currents)
        text = netlist(network.circuit, f"{name}, {kind}", solution.changes)
        theirs = node_voltages(ngspice, text, tmp_path)
        same_circuit(theirs, solution.voltage, node_numbers(network.circuit), AGREE)
        assert solution.residuals.kirchhoff < 1e-6
    assert walls > 4
