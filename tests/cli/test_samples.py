"""``--samples`` and ``stray --story``: what they print for a person, and as a structure."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from bondwright.cli import main
from tests.site.test_ranges import FARM, text


@pytest.fixture
def ranged(tmp_path: Path) -> str:
    path = tmp_path / "farm.yaml"
    path.write_text(text(), encoding="utf-8")
    return str(path)


def run(*arguments: str, code: int = 0) -> str:
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == code, done.output
    return done.output


def flat(told: str) -> str:
    return " ".join(told.split())


def test_faults_of_a_site_with_ranges(ranged: str) -> None:
    options = ("--kind", "line to metal", "--at", "pump house panel", "--samples", "64")
    told = flat(run("faults", ranged, *options))
    assert "7 unknown quantities" in told
    assert "seed 0" in told
    story = flat(run("faults", ranged, *options, "--story"))
    assert "Holds in every sample" in story
    assert "Its current hangs on length of pump house feeder (9" in story
    found = json.loads(run("faults", ranged, *options, "--json"))
    assert found["format"] == "bondwright/faults-samples"
    assert found["version"] == 1
    fault = found["faults"][0]
    current = fault["current_a"]
    assert current["least"] <= current["low_5_percent"] <= current["nominal"]
    assert current["nominal"] <= current["high_95_percent"] <= current["greatest"]
    # A longer feeder and a weaker transformer both take current away.
    first = current["shares"][0]
    assert first["quantity"] == "length of pump house feeder"
    assert first["way"] == "falls"
    assert 0.5 < first["share"] <= 1
    assert json.loads(run("faults", ranged, *options, "--json", "--seed", "1")) != found


def test_stray_current_of_a_site_with_ranges(ranged: str) -> None:
    options = ("--with-tie-at", "pump house panel", "--samples", "40")
    told = flat(run("stray", ranged, *options, code=1))
    assert "power of load 1 of pump house panel" in told
    found = json.loads(run("stray", ranged, *options, "--json", code=1))
    wire = next(one for one in found["currents"] if one["id"] == "pump house feeder")
    assert wire["objectionable"] == 1
    assert wire["amperes"]["shares"][0]["path"] == [
        "places",
        "pump house panel",
        "loads",
        0,
        "power",
    ]


def test_without_samples_the_nominal_values_are_said(ranged: str) -> None:
    for command in ("faults", "stray"):
        told = flat(run(command, ranged, "--state", "normal", code=0))
        assert "Taken at nominal values: soil 150 ohm m" in told
        found = json.loads(run(command, ranged, "--json"))
        assert found["nominal"][0]["taken"] == "150 ohm m"
    assert json.loads(run("stray", str(FARM), "--json"))["nominal"] == []


def test_options_that_mean_nothing(ranged: str) -> None:
    assert "goes with --samples" in run("faults", ranged, "--workers", "2", code=2)
    assert "nothing to sample" in run("faults", str(FARM), "--samples", "8", code=2)
    assert "exclude" in run("faults", ranged, "--samples", "8", "--lengths", code=2)
    assert "more than nothing" in run("stray", ranged, "--distance", "0 m", code=2)


def test_samples_are_kept_and_gone_on_with(ranged: str, tmp_path: Path) -> None:
    options = ("--at", "well pump", "--samples", "16", "--json", "--keep", str(tmp_path / "s.kept"))
    assert run("faults", ranged, *options) == run("faults", ranged, *options)
    assert "another question" in run("faults", ranged, *options, "--seed", "3", code=2)


def test_stray_current_told_as_loops() -> None:
    options = ("--with-tie-at", "pump house panel")
    told = flat(run("stray", str(FARM), *options, "--story", "--distance", "2 ft", code=1))
    assert (
        "The way round: farmhouse panel > tie main bonding jumper at farmhouse panel 5.28 A > the "
        "equipment grounding conductor of pump house feeder 5.28 A > pump house panel > tie one "
        "too many at pump house panel 5.28 A > neutral of pump house feeder 5.18 A > farmhouse "
        "panel." in told
    )
    assert "without either of the two it would not flow" in told
    found = json.loads(run("stray", str(FARM), *options, "--json", "--distance", "2 ft", code=1))
    loop = found["loops"][0]
    assert loop["closed_by"] == [
        "main bonding jumper at farmhouse panel",
        "one too many at pump house panel",
    ]
    assert [step["via"] for step in loop["steps"]] == ["tie", "metal", "tie", "neutral"]
    for before, after in zip(loop["steps"], loop["steps"][1:], strict=False):
        assert before["to"] == after["from"]
    assert loop["share_of_return"] == pytest.approx(0.5, abs=0.01)
    assert loop["without_cause_a"] < 0.01
    net = next(one for one in found["net_currents"] if one["run"] == "pump house feeder")
    # B = mu0 I / (2 pi r), with r = 2 ft.
    assert net["field_t"] == pytest.approx(2e-7 * net["whole_run_a"] / 0.6096)
