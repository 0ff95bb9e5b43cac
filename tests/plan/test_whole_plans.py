"""What holds of every plan, asked of every case and example.

The plans that other tests make with :func:`tests.plan.sites.planned` are asked the same.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bondwright.plan.build import plan
from bondwright.site.reader import load
from tests.plan import whole

ROOT = Path(__file__).parents[2]
FRAGMENTS = {"S10-pool-one-side"}
"""Files that a test completes before it reads them."""
FILES = [
    path
    for folder in (ROOT / "tests" / "cases", ROOT / "examples")
    for path in sorted(folder.glob("*.yaml"))
    if path.stem not in FRAGMENTS and "rules: iec-" not in path.read_text(encoding="utf-8")
]
"""Those by IEC 60364 have clauses and words of their own; tests/iec_sites.py has them."""


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_plan_is_whole(path: Path) -> None:
    whole.check(plan(load(path)))
