"""`bondwright earth SITE`, as a person would use it."""

from __future__ import annotations

import json
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from bondwright.cli import main

BARN = str(Path(__file__).parents[1] / "cases" / "earth-press-barn.yaml")


def run(*arguments: str) -> Result:
    result = CliRunner(env={"COLUMNS": "120"}).invoke(main, ["earth", *arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def test_it_prints_electrodes_matrix_and_the_ground_in_a_fault() -> None:
    result = run(BARN)
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    for word in (
        "cottage rod",
        "Matrix: volts on each for an ampere into another",
        "Rod 2 of rods takes it from",
        "L1 to metal at yard light: holds",
        "Carried away along water line",
        "The worst pace of 3.28 ft has",
        "dry summer:",
        "4.2 ± 0.26 ohm",
        "Not proven under 25 ohm",
        "not a test",
    ):
        assert word in text
    assert text.count("don't open an electrode conductor") == 1


def test_the_command_has_a_name_too() -> None:
    assert run("site", BARN).stdout == run(BARN).stdout


def test_the_structure() -> None:
    data = json.loads(run(BARN, "--json", "--place", "yard light").stdout)
    assert (data["format"], data["version"]) == ("bondwright/earth", 1)
    assert [fault["place"] for fault in data["faults"]] == ["yard light"]
    assert data["verdict"] == "cannot tell"


@pytest.mark.parametrize(("goal", "code"), [("25 ohm", 0), ("1 ohm", 1)])
def test_a_goal(goal: str, code: int) -> None:
    result = run(BARN, "--goal", goal)
    assert result.exit_code == code
    assert "the measured electrode decides" in " ".join(result.stdout.split())


@pytest.mark.parametrize("shade", ["touch", "step", "ground", "none"])
def test_the_picture(tmp_path: Path, shade: str) -> None:
    picture = tmp_path / "ground.svg"
    result = run(BARN, "--picture", str(picture), "--shade", shade, "--place", "yard light")
    assert result.exit_code == 0, result.output
    root = ElementTree.parse(picture).getroot()
    assert root.tag.endswith("svg")
    assert (shade == "none") == ("voltage" not in picture.read_text(encoding="utf-8"))


def test_what_cannot_be_done_is_said(tmp_path: Path) -> None:
    assert run(BARN, "--place", "nowhere").exit_code == 2
    assert run(str(tmp_path / "missing.yaml")).exit_code == 2
    assert run(BARN, "--picture", str(tmp_path / "no" / "x.svg")).exit_code == 2
    plain = tmp_path / "plain.yaml"
    text = Path(BARN).read_text(encoding="utf-8")
    start, end = text.index("electrodes:"), text.index("metal:")
    text = text[:start] + "electrodes:\n  rod: {kind: rod, at: barn panel}\n" + text[end:]
    plain.write_text(text[: text.index("earth tests:")], encoding="utf-8")
    refused = run(str(plain), "--picture", str(tmp_path / "x.svg"))
    assert refused.exit_code == 2
    assert "no electrode has a place" in refused.output


def test_the_demo_s_electrodes_lie_on_a_plan_and_lift_each_other() -> None:
    demo = str(Path(__file__).parents[2] / "examples" / "harrow-creek.yaml")
    data = json.loads(run(demo, "--json").stdout)
    assert all(row["placed"] for row in data["electrodes"])
    at = {name: k for k, name in enumerate(data["matrix"]["names"])}
    ohms = data["matrix"]["resistance_ohm"]
    # rho / 2 pi r of the lower layer: elementary, two small electrodes far apart
    rods = ohms[at["house rods"]][at["pump house rods"]]
    assert rods == pytest.approx(120 / (2 * 3.14159 * 68), rel=0.03)
    worst = data["faults"][0]
    assert worst["place"] == "barn transformer"
    assert worst["earth_a"] < 0.01 * worst["fault_a"]
    assert {one["what"] for one in worst["touch"]} >= {"press", "well pump"}
    (survey,) = (test for test in data["tests"] if test["kind"] == "survey")
    # the survey was drawn from 190 over 120 ohm m at 2.4 m, with 2 % scatter
    assert survey["soil"]["resistivity_ohm_m"] == pytest.approx([190, 120], rel=0.05)
