"""The earth commands, as a person would use them.

The group is run by itself, so that these tests hold wherever it hangs.
"""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

from bondwright.cli.earth import earth
from bondwright.earth.soil import Soil
from bondwright.earth.sounding import apparent_resistivity

SPACINGS = [0.5, 1, 1.5, 2, 3, 4, 6, 8, 12, 16, 24]
METAL = """\
soil: 300 ohm m / 3 m / 50 ohm m
electrodes:
  rods: {kind: rod, at: [0 m, 0 m], length: 8 ft, diameter: 5/8 in}
  loop: {kind: ring, centre: [8 m, 0 m], across: 6 m, depth: 30 in, diameter: 8 mm}
  footing:
    {kind: footing, along: [[0 m, 5 m], [8 m, 5 m]], depth: 2 ft, diameter: 1/2 in,
     concrete: 12 in, resistivity: 60 ohm m}
  water pipe: {kind: pipe, along: [[0 m, 20 m], [10 m, 20 m]], depth: 1 m, diameter: 2 in}
"""


def run(*arguments: str) -> Result:
    result = CliRunner(env={"COLUMNS": "120"}).invoke(earth, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def structure(*arguments: str, code: int = 0) -> Any:
    result = run(*arguments, "--json")
    assert result.exit_code == code, result.output
    data = json.loads(result.stdout)
    assert data["format"] == "bondwright/earth"
    assert data["version"] == 1
    return data


def said(*arguments: str, code: int = 0) -> str:
    result = run(*arguments)
    assert result.exit_code == code, result.output
    return " ".join(result.stdout.split())


def refused(*arguments: str) -> str:
    result = run(*arguments)
    assert result.exit_code == 2, result.output
    assert result.stdout == ""
    return " ".join(result.stderr.split())


@pytest.fixture
def survey(tmp_path: Path) -> str:
    # synthetic: 300 over 50 ohm m, 3 m, read in ohms with 2 % scatter
    clean = apparent_resistivity(Soil.two_layer(300, 50, 3), SPACINGS)
    noise = np.exp(0.02 * np.random.default_rng(4).standard_normal(len(SPACINGS)))
    ohms = clean * noise / (2 * np.pi * np.array(SPACINGS))
    lines = ["# four pins", "spacing (m),resistance"]
    lines += [f"{a},{r:.5f} ohm" for a, r in zip(SPACINGS, ohms, strict=True)]
    path = tmp_path / "survey.csv"
    path.write_text("\n".join(lines))
    return str(path)


def test_a_survey_typed_in(survey: str) -> None:
    found = structure("layers", survey)
    assert found["verdict"] == "holds"
    assert found["soil"]["resistivity_ohm_m"] == pytest.approx([300, 50], rel=0.2)
    assert found["soil"]["thickness_m"] == pytest.approx([3], rel=0.2)
    assert [one["layers"] for one in found["tried"]] == [1, 2, 3, 4]
    words = said("layers", survey)
    assert "Ground in 2 layers" in words
    assert "95 % intervals" in words
    assert "licensed person decide" in words


def test_a_wild_reading_is_marked(survey: str, tmp_path: Path) -> None:
    text = Path(survey).read_text().splitlines()
    a, r = text[6].split(",")
    text[6] = f"{a},{float(r.split()[0]) * 1.5} ohm"
    path = tmp_path / "wild.csv"
    path.write_text("\n".join(text))
    found = structure("layers", str(path))
    assert found["suspicious"][0]["reading"] == 5
    assert found["verdict"] == "cannot tell"
    assert "look again" in said("layers", str(path))


def test_layers_may_be_asked_for(survey: str) -> None:
    assert len(structure("layers", survey, "--layers", "3")["soil"]["thickness_m"]) == 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("spacing,resistance\n1 m,5 V", ":2: resistance: '5 V'"),
        ("spacing,resistance\n1,5 ohm", ":2: spacing: '1': has no unit"),
        ("spacing,volts\n1 m,5 V", "no column 'volts'"),
        ("spacing,resistance\n1 m", "1 cells under 2 headings"),
        ("spacing,spacing\n1 m,1 m", "stands twice"),
        ("spacing (m)\n1\n2\n3", "one of 'resistance' and 'resistivity'"),
        ("# nothing", "no readings"),
        ("spacing,resistance\n1 m,5 ohm\n2 m,4 ohm", "three or more"),
    ],
)
def test_bad_surveys(text: str, words: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_text(text)
    assert words in refused("layers", str(path))


def test_no_such_file() -> None:
    assert "no such file" in refused("layers", "nowhere.csv")


def test_not_text(tmp_path: Path) -> None:
    path = tmp_path / "bad.csv"
    path.write_bytes(b"\xff\xfe\x00")
    assert "not UTF-8" in refused("layers", str(path))


@pytest.fixture
def metal(tmp_path: Path) -> str:
    path = tmp_path / "metal.yaml"
    path.write_text(METAL)
    return str(path)


def test_electrodes(metal: str) -> None:
    found = structure("ground", metal, "--goal", "25 ohm")
    assert found["verdict"] == "holds"
    matrix = np.array(found["resistance_matrix_ohm"])
    assert matrix == pytest.approx(matrix.T)
    assert sum(found["shares"].values()) == pytest.approx(1)
    assert found["floating"] == {}
    words = said("ground", metal, "--goal", "25 ohm")
    assert "did not disturb each other" in words
    assert "measured resistance decides" in words
    assert "no path that opens a breaker" in words


def test_some_joined_and_a_current(metal: str) -> None:
    found = structure("ground", metal, "--only", "rods", "--only", "loop", "--current", "50 A")
    assert set(found["shares"]) == {"rods", "loop"}
    assert set(found["floating"]) == {"footing", "water pipe"}
    surface = found["surface"]
    assert surface["rise_v"] == pytest.approx(50 * found["resistance_ohm"])
    assert 0 < surface["step_v"] < surface["rise_v"]
    assert np.array(surface["potential_v"]).shape == (len(surface["y_m"]), len(surface["x_m"]))
    assert "worst pace" in said("ground", metal, "--current", "50 A")


def test_goal_missed(metal: str) -> None:
    assert structure("ground", metal, "--goal", "1 ohm", code=1)["verdict"] == "falls short"


def test_soil_may_be_given(metal: str) -> None:
    half = structure("ground", metal, "--soil", "150 ohm m / 3 m / 25 ohm m")
    assert half["resistance_ohm"] < structure("ground", metal)["resistance_ohm"]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (("8 ft", "8 feat"), "electrodes.rods.length: '8 feat'"),
        (("kind: rod", "kind: rud"), "no kind 'rud'; there are rod, wire"),
        (("length: 8 ft, ", ""), "length is missing"),
        (("at: [0 m, 0 m]", "at: 0 m"), "at is a pair like [0 m, 3 m]"),
        (("length: 8 ft", "length: 8 ft, colour: red"), "a rod has no 'colour'"),
        (("soil: 300 ohm m / 3 m / 50 ohm m", "soil: 300 ohm m / 3 m"), "is no soil"),
        (("electrodes:", "electrods:"), "write 'electrodes:'"),
        (("diameter: 8 mm", "diameter: -8 mm"), "electrodes.loop: a conductor radius"),
        (("{kind: rod", "{{kind: rod"), "not YAML"),
        (("soil:", "ground: 5\nsoil:"), "no key 'ground'"),
        (("concrete: 12 in", "concrete: 0.1 in"), "doesn't lie in concrete"),
        (("at: [0 m, 0 m]", "at: [2 m, 5 m]"), "lies in one another"),
    ],
)
def test_bad_electrodes(change: tuple[str, str], words: str, tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    assert change[0] in METAL
    path.write_text(METAL.replace(*change))
    assert words in refused("ground", str(path))


def test_no_soil_and_no_name(tmp_path: Path, metal: str) -> None:
    path = tmp_path / "bare.yaml"
    path.write_text(METAL.partition("\n")[2])
    assert "no soil" in refused("ground", str(path))
    assert "no electrode 'pond'" in refused("ground", metal, "--only", "pond")


def test_judge_fall(tmp_path: Path) -> None:
    path = tmp_path / "fall.csv"
    rows = [(5, 15.2), (10, 17.4), (20, 18.6), (26, 18.9), (31, 19.1), (36, 19.4), (45, 22.0)]
    path.write_text("distance (m),reading (ohm)\n" + "\n".join(f"{a},{r}" for a, r in rows))
    found = structure("judge", "fall", str(path), "--far", "50 m", "--goal", "25 ohm")
    assert found["verdict"] == "holds"
    assert found["value"] == pytest.approx(19.1, abs=0.1)
    assert found["plateau_real"]
    short = structure("judge", "fall", str(path), "--far", "50 m", "--goal", "15 ohm", code=1)
    assert short["verdict"] == "falls short"
    assert "61.8 %" in said("judge", "fall", str(path), "--far", "50 m")
    assert "between the electrode" in refused("judge", "fall", str(path), "--far", "40 m")


def test_judge_clamp() -> None:
    # published calibration table of a stakeless clamp (one-source): 24.6 ohm is no proof of 25
    found = structure("judge", "clamp", "24.6 ohm", "--goal", "25 ohm")
    assert found["verdict"] == "cannot tell"
    assert found["uncertainty"] == pytest.approx(0.669)
    assert "Not proven under 25 ohm" in said("judge", "clamp", "24.6 ohm", "--goal", "25 ohm")
    assert "a loop of metal, not earth" in said("judge", "clamp", "0.3 ohm")
    assert "no closed loop" in said("judge", "clamp", "over range")
    assert "has no unit" in refused("judge", "clamp", "24.6")


def test_judge_others() -> None:
    assert structure("judge", "tt", "1000 ohm", "--residual", "30 mA")["verdict"] == "holds"
    assert structure("judge", "tt", "1000 ohm", "--residual", "100 mA", code=1)
    assert "poor or accidental" in said("judge", "two-point", "3 ohm", "--asked", "joined", code=1)
    bond = structure("judge", "bond", "0.12 ohm", "--limit", "0.5 ohm", "--metal", "75 degC")
    assert bond["value"] == pytest.approx(0.12 / 1.216, rel=1e-3)
    box = structure("judge", "box", "250 ohm", "--area", "40 cm2", "--apart", "10 cm")
    assert box["value"] == pytest.approx(10)
    loop = structure("judge", "loop", "0.9 ohm", "--limit", "1.37 ohm")
    assert loop["goal"] == pytest.approx(1.096)


def test_propose() -> None:
    plot = ("--plot", "20 m", "30 m", "--goal", "25 ohm")
    prices = ("--price-rod", "100", "--price-rod-metre", "20", "--price-trench", "30",
              "--price-wire", "10")  # fmt: skip
    found = structure("propose", "--soil", "200 ohm m", *plot, *prices)
    costs = [one["cost"] for one in found["arrangements"]]
    assert costs == sorted(costs)
    bare = structure("propose", "--soil", "200 ohm m", *plot, "--rod", "10 ft")
    assert all(one["cost"] is None for one in bare["arrangements"])
    words = said("propose", "--soil", "200 ohm m", *plot, "--rod", "10 ft")
    assert "no prices" in words
    assert structure("propose", "--soil", "9000 ohm m", *plot, "--rod", "8 ft", code=1)
    dry = structure("propose", "--soil", "200 ohm m", "--seasons", *plot, *prices)
    assert dry["arrangements"][0]["cost"] >= costs[0]
    assert "all four prices" in refused("propose", "--soil", "200 ohm m", *plot, *prices[:4])
