"""The command ``defects``: what it prints for a person, and as a structure."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from bondwright.cli.defects import defects

FARM = str(Path(__file__).parents[3] / "examples" / "harrow-creek-farmhouse.yaml")


def run(*arguments: str) -> str:
    done = CliRunner().invoke(defects, [FARM, *arguments])
    assert done.exit_code == 0, done.output
    return done.output


def test_the_worst_come_first_for_a_person() -> None:
    told = run("--top", "3", "--story")
    assert told.index("silent and deadly") < told.index("Found ")
    assert "A normal day shows nothing" in told
    assert "not a test" in told
    assert "rod" not in told.lower() or "cure" not in told.lower()


def test_a_table_by_itself() -> None:
    assert "by looking" in run("--top", "5")


def test_as_a_structure() -> None:
    found = json.loads(run("--json", "--top", "6"))
    assert found["format"] == "bondwright/defects"
    assert found["version"] == 1
    assert found["scenarios"] >= found["followed"] > 0
    assert len(found["defects"]) == 6
    first = found["defects"][0]
    assert first["rank"] == "silent and deadly"
    assert first["worst_fault"]["never_clears"] is True
    assert first["worst_fault"]["clearing_s"] is None
    assert first["normal_day"]["shows"] is False


def test_pairs_of_mistakes() -> None:
    found = json.loads(run("--json", "--pairs", "--top", "4"))
    assert all(" + " in item["id"] for item in found["defects"])
    # The neutral of the service open and a line on metal: alone each leaves some metal quiet.
    first = found["defects"][0]
    assert first["worse_than_each_alone"] is True
    assert first["worst_fault"]["never_clears"] is True
    singles = {item["id"]: item for item in json.loads(run("--json", "--top", "99"))["defects"]}
    one, other = (singles[name] for name in first["id"].split(" + "))
    alone = one["faults_that_stay_live"] + other["faults_that_stay_live"]
    assert first["faults_that_stay_live"] > alone
    pairs = found["pairs"]
    assert pairs["tried"] == pairs["having_to_do_with_each_other"] < pairs["possible"]
    assert pairs["left_out"] == 0


def test_what_is_not_tried_is_said() -> None:
    told = run("--pairs", "--most", "30")
    assert "NOT tried were 107" in " ".join(told.split())
    found = json.loads(run("--json", "--pairs", "--most", "30"))
    assert found["pairs"]["tried"] == 30
    assert 0 <= found["pairs"]["largest_interplay_left_out"] <= 1.01


def test_stopped_and_gone_on_with(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from bondwright.studies.defects import work
    from bondwright.studies.many import run as running
    from bondwright.studies.many.work import piece

    monkeypatch.setattr(work, "_LARGEST", 40)
    monkeypatch.chdir(tmp_path)
    whole, calls, real = run("--pairs", "--json"), [0], piece

    def stopping(what: Any, number: int) -> bytes:
        if isinstance(what, work.DoublesWork):
            calls[0] += 1
            if calls[0] == 3:
                raise KeyboardInterrupt
        return real(what, number)

    monkeypatch.setattr(running, "piece", stopping)
    done = CliRunner().invoke(defects, [FARM, "--pairs"])
    assert done.exit_code == 130
    assert "2 of 4 pieces" in done.output
    kept = next(tmp_path.glob("*.kept"))
    assert f"--keep {kept.name}" in done.output
    assert run("--pairs", "--json", "--keep", kept.name) == whole
    assert calls[0] == 5
    done = CliRunner().invoke(defects, [FARM, "--pairs", "--every-fault", "--keep", kept.name])
    assert done.exit_code == 2
    assert "another question" in done.output


def test_every_fault() -> None:
    few = json.loads(run("--json", "--top", "1"))
    many = json.loads(run("--json", "--top", "1", "--every-fault"))
    assert many["scenarios"] > few["scenarios"]


def test_workers_and_a_scheduler_exclude_each_other() -> None:
    done = CliRunner().invoke(defects, [FARM, "--workers", "2", "--scheduler", "tcp://h:1"])
    assert done.exit_code == 2
    assert "exclude" in done.output
    done = CliRunner().invoke(defects, [FARM, "--most", "20"])
    assert done.exit_code == 2
    assert "goes with --pairs" in done.output
