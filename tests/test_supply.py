"""What the tool is made of is locked, licensed, listed and looked after."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from scripts import supply

ROOT = Path(__file__).parents[1]
FOUND = supply.pins((ROOT / "requirements.lock").read_text(encoding="utf-8"))


def test_every_locked_package_has_hashes_and_a_licence_that_may_be_used() -> None:
    assert len(FOUND) > 50
    for one in FOUND:
        assert len(one.hashes) == len(one.versions)
        assert all(one.hashes)
        assert supply.refused(supply.licence(one.name)) == (), one.name


def test_what_the_tool_itself_needs_is_locked_and_told_so() -> None:
    groups = {one.name: one.groups for one in FOUND}
    for name in ("numpy", "scipy", "pydantic", "click", "typst"):
        assert "tool" in groups[name]
    assert "dev" in groups["pytest"]
    assert "tool" not in groups["pytest"]
    assert "postgres" in groups["psycopg"]
    assert "tool" not in groups["psycopg"]


def test_the_page_of_licences_is_fresh() -> None:
    ran = CliRunner().invoke(supply.main, ["licences", "--check"])
    assert ran.exit_code == 0, ran.output


@pytest.mark.parametrize(
    ("expression", "parts"),
    [
        ("MIT", ()),
        ("BSD-3-Clause AND 0BSD AND MIT", ()),
        ("GPL-3.0-only", ("GPL-3.0-only",)),
        ("MIT OR AGPL-3.0-only", ("AGPL-3.0-only",)),
        ("", ("unknown",)),
    ],
)
def test_licences_that_may_not_be_used(expression: str, parts: tuple[str, ...]) -> None:
    assert supply.refused(expression) == parts


def test_a_package_without_a_hash_is_refused() -> None:
    with pytest.raises(ValueError, match=r"left-pad 1\.0 has no hash"):
        supply.pins("left-pad==1.0\nother==2.0 \\\n    --hash=sha256:" + "a" * 64)


def test_the_bill_names_every_package_with_its_hashes() -> None:
    made = json.loads(supply.bill(FOUND, "0.1.0"))
    assert made["bomFormat"] == "CycloneDX"
    assert made["metadata"]["component"]["name"] == "bondwright"
    names = {one["name"] for one in made["components"]}
    assert names == {one.name for one in FOUND}
    assert all(one["hashes"] and one["licenses"] for one in made["components"])
    assert len(made["components"]) == sum(len(one.versions) for one in FOUND)
    click = next(one for one in made["components"] if one["name"] == "click")
    assert click["purl"].startswith("pkg:pypi/click@")
    assert {one["alg"] for one in click["hashes"]} == {"SHA-256"}
    assert supply.bill(FOUND, "0.1.0") == supply.bill(FOUND, "0.1.0")


# --- known vulnerabilities ---------------------------------------------------------------------


def _audited(monkeypatch: pytest.MonkeyPatch, stdout: str, stderr: str = "") -> Any:
    answer = SimpleNamespace(stdout=stdout, stderr=stderr, returncode=0)
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: answer)
    return CliRunner().invoke(supply.main, ["audit"])


def test_a_vulnerable_package_fails_the_audit(monkeypatch: pytest.MonkeyPatch) -> None:
    bad = {"name": "x", "version": "1", "vulns": [{"id": "ADV-1", "fix_versions": ["2"]}]}
    good = {"name": "y", "version": "1", "vulns": []}
    ran = _audited(monkeypatch, json.dumps({"dependencies": [bad, good]}))
    assert ran.exit_code == 1
    assert "x 1: ADV-1 (mended in 2)" in ran.output
    assert "2 of " in ran.output
    assert "SKIPPED" not in ran.output


@pytest.mark.parametrize("stdout", ["", "{}", "no network"])
def test_without_an_answer_the_audit_says_so_loudly(
    monkeypatch: pytest.MonkeyPatch, stdout: str
) -> None:
    ran = _audited(monkeypatch, stdout, "connection refused")
    assert ran.exit_code == 0
    assert "SKIPPED" in ran.output
    assert "connection refused" in ran.output


def test_a_package_that_nobody_knows_is_not_called_sound(monkeypatch: pytest.MonkeyPatch) -> None:
    one = {"name": "x", "version": "1", "skip_reason": "not found"}
    ran = _audited(monkeypatch, json.dumps({"dependencies": [one]}))
    assert ran.exit_code == 0
    assert "SKIPPED" in ran.output
    assert "not found" in ran.output
    assert ran.output.startswith("0 of ")


# --- the wheel ---------------------------------------------------------------------------------


def test_the_wheel_is_the_same_wherever_and_whenever_it_is_built(tmp_path: Path) -> None:
    made = []
    for number, name in enumerate(("one", "a longer name")):
        folder = tmp_path / name
        shutil.copytree(ROOT / "src", folder / "src", ignore=shutil.ignore_patterns("*.pyc"))
        for file in ("pyproject.toml", "README.md", "LICENSE", "NOTICE"):
            (folder / file).write_bytes((ROOT / file).read_bytes())
        for path in folder.rglob("*.py"):
            path.touch() if number else None
        command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel"]
        done = subprocess.run(command, cwd=folder, capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
        (wheel,) = (folder / "dist").glob("*.whl")
        made.append(wheel)
    first, second = made
    assert first.name == second.name
    assert re.fullmatch(r"bondwright-[\w.]+-py3-none-any\.whl", first.name)
    assert first.read_bytes() == second.read_bytes()
