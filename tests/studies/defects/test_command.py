"""The command ``defects``: what it prints for a person, and as a structure."""

from __future__ import annotations

import json
from pathlib import Path

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
    assert found["defects"][0]["rank"] == "silent and deadly"


def test_every_fault() -> None:
    few = json.loads(run("--json", "--top", "1"))
    many = json.loads(run("--json", "--top", "1", "--every-fault"))
    assert many["scenarios"] > few["scenarios"]


def test_two_mistakes_of_a_large_site_are_refused(tmp_path: Path) -> None:
    from bondwright.site.generator import large_site
    from bondwright.site.writer import dump

    path = tmp_path / "large.yaml"
    path.write_text(dump(large_site(80)), encoding="utf-8")
    done = CliRunner().invoke(defects, [str(path), "--pairs"])
    assert done.exit_code == 2
    assert "at most" in done.output
