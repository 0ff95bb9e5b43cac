"""Whole planned sites against ngspice: whole, faulted, with a tie off, a conductor broken, a tie
too many.

The netlist is the one that the product writes for anyone to check; every node voltage must agree
to 1e-6 of the largest.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.network.build import Network
from bondwright.network.solve import Change
from bondwright.studies.faults import Fault, FaultKind, possible_faults
from tests.network.test_ngspice import assert_agrees
from tests.outside import outside
from tests.studies.sites import WHOLE_SITES, example, network


def farthest_fault(site: Network) -> Fault:
    """Return the line-to-metal fault at the last place of the walk."""
    return possible_faults(site, [FaultKind.LINE_TO_METAL])[-1]


def states(site: Network) -> dict[str, list[Change]]:
    """Return the states in which a site is compared."""
    solver, plan = site.solver, site.plan
    fault = farthest_fault(site)
    join = solver.join(f"{fault.place}:{fault.a}", f"{fault.place}:{fault.b}")
    last = plan.runs[list(plan.runs)[-1]]
    section = site.circuit.sections[solver.section_index[f"run {last.id}"]]
    found = {
        "whole": [],
        "fault": [join],
        "line broken": [solver.open_conductor(section.id, section.names[0])],
        "last conductor broken, fault": [
            solver.open_conductor(section.id, section.names[-1]),
            join,
        ],
    }
    for tie in plan.ties:
        off = solver.open_switch(f"tie {tie.id}")
        found[f"{tie.id} off"] = [off]
        found[f"{tie.id} off, fault"] = [off, join]
    tied = {tie.at for tie in plan.ties}
    for place, terminals in site.terminals.items():
        if {"N", "G"} <= set(terminals) and place not in tied and place in plan.site.places:
            found[f"tie added at {place}"] = [solver.join(f"{place}:N", f"{place}:G", 5e-4)]
    return found


def compare(ngspice: Path, folder: Path, site: Network) -> None:
    """Compare a site in all its states."""
    assert len(states(site)) >= 4
    for changes in states(site).values():
        assert_agrees(ngspice, folder, site.circuit, site.solver, changes)


@pytest.mark.parametrize("loads", [True, False], ids=["loads on", "loads off"])
@pytest.mark.parametrize("name", WHOLE_SITES)
@outside("ngspice, whole sites", "computed", unit="V")
def test_whole_sites(ngspice: Path, tmp_path: Path, name: str, *, loads: bool) -> None:
    compare(ngspice, tmp_path, network(WHOLE_SITES[name], loads=loads))


@pytest.mark.parametrize("loads", [True, False], ids=["loads on", "loads off"])
@outside("ngspice, whole sites", "computed", unit="V")
def test_the_example_that_ships(ngspice: Path, tmp_path: Path, *, loads: bool) -> None:
    compare(ngspice, tmp_path, example(loads=loads))
