"""The command: what it prints, its structure, its exit codes."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from bondwright.cli.hunt import hunt

SITE = Path(__file__).parents[2] / "cases" / "T01-waterpipe-2p6A.yaml"
ROWS = (
    "what,where,of,value,state\n"
    "current,water pipe,,2.6 A,\n"
    "current,water pipe,,0 A,house panel off\n"
)


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "readings.csv"
    path.write_text(ROWS, encoding="utf-8")
    return path


def test_cautions_come_first_and_the_next_readings_last(table: Path) -> None:
    done = CliRunner().invoke(hunt, [str(SITE), str(table), "--next"])
    assert done.exit_code == 1
    assert done.output.startswith("! Danger: do not open")
    told = " ".join(done.output.split())
    assert told.index("do not open") < told.index("neutral loose") < told.index("Next, the one")
    assert "3. " in told.partition("Next, the one")[2]
    assert "Only the utility may do this" in told


def test_structure(table: Path) -> None:
    done = CliRunner().invoke(hunt, [str(SITE), str(table), "--next", "--json"])
    said = json.loads(done.output)
    assert (said["format"], said["version"]) == ("bondwright/hunt", 1)
    assert said["causes"][0]["id"].startswith("neutral-")
    assert sum(c["probability"] for c in said["causes"]) == pytest.approx(1, abs=0.01)
    assert {r["reading"] for r in said["causes"][0]["readings"]} == {1, 2}
    assert len(said["next"]) == 3
    assert said["cautions"]


def test_state_for_rows_that_name_none(table: Path) -> None:
    """With everything read with the main off, what stays is a neighbour's."""
    rows = "what,where,of,value\ncurrent,water pipe,,2.6 A\n"
    table.write_text(rows, encoding="utf-8")
    done = CliRunner().invoke(hunt, [str(SITE), str(table), "--state", "house panel off", "--json"])
    assert json.loads(done.output)["causes"][0]["id"] == "neighbour-current/water pipe"


def test_bad_table(table: Path) -> None:
    table.write_text(ROWS.replace("2.6 A", "2.6"), encoding="utf-8")
    done = CliRunner().invoke(hunt, [str(SITE), str(table)])
    assert done.exit_code == 2
    assert "readings.csv:2:21" in done.output
    assert "has no unit" in done.output


def test_nothing_more_is_asked_where_one_cause_stands_out(tmp_path: Path) -> None:
    """Readings as `stray --with-tie-at` works them out, and an instrument's errors."""
    table = tmp_path / "readings.csv"
    table.write_text(
        "what,where,of,value,with\n"
        "current,well water pipe,,4.5 A,load clamp\n"
        "voltage,pump house panel,N-G,0.01 V,multimeter\n"
        "current,pump house feeder,EGC,4.1 A,load clamp\n"
        "net current,pump house feeder,all,5.3 A,leakage clamp\n",
        encoding="utf-8",
    )
    site = Path(__file__).parents[3] / "examples" / "harrow-creek.yaml"
    told = " ".join(CliRunner().invoke(hunt, [str(site), str(table), "--next"]).output.split())
    assert "neutral tied to metal at pump house panel as well" in told.partition("1. 9")[0]
    assert "No further reading that this tool can ask for would tell much." in told


EXAMPLES = Path(__file__).parents[3] / "examples"


def test_nine_voltages_are_drawn(tmp_path: Path) -> None:
    """The example: no system bonding jumper and L2 on metal; the ground is told to lie on L2."""
    picture = tmp_path / "nine.svg"
    site, table = EXAMPLES / "workshop-transformer.yaml", EXAMPLES / "nine-voltages.csv"
    asked = [str(site), str(table), "--phasors", str(picture)]
    done = CliRunner().invoke(hunt, asked)
    assert "G lies 120 V from where it is described, on L2." in done.output
    assert f"wrote {picture}" in " ".join(done.output.split())
    assert "L2, G" in picture.read_text(encoding="utf-8")
    said = json.loads(CliRunner().invoke(hunt, [str(site), str(table), "--json"]).output)
    (plane,) = said["phasors"]
    assert plane["closes"]
    ground, line = (plane["read_v"][f"shop panel:{t}"] for t in ("G", "L2"))
    assert ground == pytest.approx(line, abs=1)
    assert said["causes"][0]["id"].startswith("line-leaks/bench outlet/L2 + tie-missing/")


def test_too_few_voltages_are_not_drawn(table: Path, tmp_path: Path) -> None:
    picture = tmp_path / "none.svg"
    done = CliRunner().invoke(hunt, [str(SITE), str(table), "--phasors", str(picture)])
    assert done.exit_code == 2
    assert "needs three voltages at one place" in done.output
    assert not picture.exists()
