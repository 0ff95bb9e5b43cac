"""Arrays and a person's own curves, from the site file to what a person reads."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import jsonschema
import pytest

from bondwright.network.build import build
from bondwright.network.pv import array_network, solve_array
from bondwright.papers.content import content
from bondwright.papers.data import results_data, schema
from bondwright.papers.package import write_papers
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site import read
from bondwright.studies.faults import FaultKind, possible_faults, study_fault
from bondwright.studies.pv import possible_array_faults, study_array_fault
from tests.cli.running import run, said
from tests.network.test_pv import assert_ngspice_agrees
from tests.outside import outside
from tests.site.test_arrays_and_curves import FILE

PLANNED = plan(read(FILE)).arrays["roof array"]


@pytest.fixture
def site(tmp_path: Path) -> str:
    path = tmp_path / "pump-house.yaml"
    path.write_text(FILE, encoding="utf-8")
    return str(path)


def test_faults_lists_those_of_the_array_after_the_others(site: str) -> None:
    text = said("faults", site, code=1)
    assert text.index("metal at") < text.index("Nothing on the direct-current side is dead")
    assert text.count("roof array") >= 7


def test_faults_of_one_array_and_of_its_inverter(site: str) -> None:
    alone = json.loads(run("faults", site, "--at", "roof array", "--json").stdout)
    assert alone["faults"] == []
    assert len(alone["array_faults"]) == 7
    beside = json.loads(run("faults", site, "--at", "roof inverter", "--json").stdout)
    assert beside["array_faults"] == alone["array_faults"]
    elsewhere = json.loads(run("faults", site, "--at", "panel", "--json").stdout)
    assert elsewhere["array_faults"] == []


def test_the_story_of_an_array(site: str) -> None:
    text = said("faults", site, "--at", "roof array", "--story", code=1)
    assert "roof array, negative to metal at the array" in text
    assert "frames stand at" in text


def test_the_schedule_has_its_ground_wire(site: str) -> None:
    assert "EGC roof array" in said("size", site, code=1)


def test_papers_and_data_have_the_array() -> None:
    results = study(plan(read(FILE)))
    assert "array-frame-live" in {finding.rule for finding in results.findings}
    told = content(results, date(2026, 1, 1))
    assert len(told["arrays"]) == 7
    data = results_data(results)
    jsonschema.validate(data, schema())
    assert len(data["array_faults"]) == 7


def test_a_curve_decides_when_its_device_opens() -> None:
    """A current of some 3 kA: between 20 ms and 50 ms by the curve, not by the standard's band."""
    text = FILE.replace("branch: {", "branch: {needed: 8 AWG Cu, ").replace(
        "device: 40 A breaker", "device: '40 A breaker, curve my relay'"
    )
    network = build(plan(read(text)), loads=False)
    (fault,) = (
        f
        for f in possible_faults(network, [FaultKind.LINE_TO_METAL])
        if (f.place, f.a) == ("roof inverter", "L1")
    )
    result = study_fault(network, fault)
    (first, *_) = result.openings
    curve = network.plan.curves["my relay"]
    assert curve[0][0][0] <= result.current
    assert curve[0][-1][1] <= first.fastest <= curve[0][0][1]
    assert curve[1][-1][1] <= first.slowest <= curve[1][0][1]


@pytest.mark.parametrize("fault", [None, *map(str, possible_array_faults(PLANNED))])
@outside("ngspice, arrays", "computed", unit="V")
def test_its_netlist_is_the_circuit_that_is_solved(
    site: str, ngspice: Path, tmp_path: Path, fault: str | None
) -> None:
    """What the command writes, solved by ngspice: every node to 1e-6 of the largest voltage."""
    asked = ["--array", "roof array", *(["--array-fault", fault] if fault else [])]
    text = run("netlist", site, *asked).stdout
    array = plan(read(FILE)).arrays["roof array"]
    if fault is None:
        network = array_network(array, 75.0)
        state = solve_array(network)
    else:
        (chosen,) = (f for f in possible_array_faults(array) if str(f) == fault)
        found = study_array_fault(array, chosen, 75.0)
        network, state = found.network, found.state
    assert_ngspice_agrees(ngspice, tmp_path, network, state, text)


def test_its_netlist_asks_for_what_can_be(site: str) -> None:
    assert "there are: roof array" in run("netlist", site, "--array", "barn").stderr
    both = run("netlist", site, "--array", "roof array", "--fault", "panel")
    assert both.exit_code == 2
    assert "circuit of its own" in both.stderr
    assert run("netlist", site, "--array-fault", "both to metal").exit_code == 2


def test_papers_have_the_netlist_of_every_array(tmp_path: Path) -> None:
    written = write_papers(study(plan(read(FILE))), tmp_path, formats=["netlist"])
    assert [path.name for path in written] == ["netlist.cir", "netlist-array-1.cir"]
    assert "direct-current side of roof array" in written[1].read_text(encoding="utf-8")
