"""Arrays and a person's own curves, from the site file to what a person reads."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import jsonschema
import pytest

from bondwright.network.build import build
from bondwright.papers.content import content
from bondwright.papers.data import results_data, schema
from bondwright.papers.results import study
from bondwright.plan.build import plan
from bondwright.site import read
from bondwright.studies.faults import FaultKind, possible_faults, study_fault
from tests.cli.running import run, said
from tests.site.test_arrays_and_curves import FILE


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
