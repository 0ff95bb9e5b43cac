"""Running a command as a person would, and reading what it says."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import yaml
from click.testing import CliRunner, Result

from bondwright.cli import main
from tests.plan.sites import Described

EXAMPLE = str(Path(__file__).parents[2] / "examples" / "harrow-creek-farmhouse.yaml")


def run(*arguments: str) -> Result:
    """Run ``bondwright`` with arguments; an exception that isn't an exit is raised."""
    result = CliRunner(env={"COLUMNS": "120"}).invoke(main, list(arguments))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def said(*arguments: str, code: int = 0) -> str:
    """Return what a command prints, on one line, once it ended with this exit code."""
    result = run(*arguments)
    assert result.exit_code == code, result.output
    return " ".join(result.stdout.split())


def structure(*arguments: str, code: int = 0) -> Any:
    """Return what a command prints with ``--json``; nothing else may stand on stdout."""
    result = run(*arguments, "--json")
    assert result.exit_code == code, result.output
    return json.loads(result.stdout, parse_constant=_no_constant)


def _no_constant(name: str) -> None:
    raise ValueError(f"{name} is not JSON")


def refused(*arguments: str, code: int = 2) -> str:
    """Return the words on stderr of a command that must not succeed; stdout stays empty."""
    result = run(*arguments)
    assert result.exit_code == code, result.output
    assert result.stdout == ""
    assert "Traceback" not in result.stderr
    return " ".join(result.stderr.split())


def written(folder: Path, description: Described, name: str = "site.yaml") -> str:
    """Write a description to a file and return its path."""
    path = folder / name
    path.write_text(yaml.safe_dump(description, sort_keys=False, allow_unicode=True))
    return str(path)
