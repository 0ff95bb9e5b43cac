"""Tables on terminals of any width: nothing is cut off at the edge."""

from __future__ import annotations

import pytest
from click.testing import CliRunner

from bondwright.cli import main

FARM = "examples/three-building-farm.yaml"


def _printed(width: int) -> list[str]:
    done = CliRunner(env={"COLUMNS": str(width)}).invoke(main, ["size", FARM])
    assert done.exit_code == 0, done.output
    return done.stdout.partition("neutral bond at")[0].splitlines()


@pytest.mark.parametrize("width", [30, 45, 60, 76, 80, 90, 100, 140, 300])
def test_every_verdict_is_there_and_no_line_too_long(width: int) -> None:
    lines = _printed(width)
    assert max(map(len, lines)) <= width
    assert " ".join(lines).count("✓ holds") == 14
    said = " ".join(" ".join(lines).split())
    for word in ("verdict", "equipotential", "disconnect", "547.44"):
        assert word in said


def test_a_narrow_terminal_gets_lines_and_a_wide_one_a_table() -> None:
    assert "verdict: ✓ holds" in _printed(45)
    assert any(line.split()[:2] == ["what", "from"] for line in _printed(80))
